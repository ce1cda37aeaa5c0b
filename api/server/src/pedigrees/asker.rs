//! Who asks, and what of the pedigree may be shown to them.

use std::collections::BTreeSet;

use storksbill_db::Conn;
use storksbill_db::rows::lines::Line;
use storksbill_db::rows::shares;
use storksbill_domain::ids::MemberId;
use storksbill_domain::policy::{Actor, may_see_shared};
use storksbill_domain::words::Visibility;

use crate::http::problem::Problem;

/// A member who asks after pedigrees.
#[derive(Debug)]
pub(crate) struct Asker {
    member: MemberId,
    /// Members who share with a club of the asker's.
    sharing: BTreeSet<MemberId>,
}

impl Asker {
    pub(crate) fn load(conn: &mut Conn, actor: &Actor) -> Result<Self, Problem> {
        Ok(Self { member: actor.member, sharing: shares::sharing_with(conn, actor)? })
    }

    /// Whether the asker may know that there is such an individual, and its name.
    pub(crate) fn sees(&self, line: &Line) -> bool {
        self.sees_of(line.owner, line.visibility)
    }

    /// Whether the asker may know where an individual comes from.
    pub(crate) fn sees_origin(&self, line: &Line) -> bool {
        let told = line.parents_told_by;
        self.sees(line) && told.is_none_or(|(raiser, visibility)| self.sees_of(Some(raiser), visibility))
    }

    /// What nobody entered is the register's.
    fn sees_of(&self, owner: Option<MemberId>, visibility: Visibility) -> bool {
        owner
            .is_none_or(|owner| may_see_shared(self.member, owner, self.sharing.contains(&owner), visibility))
    }
}
