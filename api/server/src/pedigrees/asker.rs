//! Who asks, and what of the pedigree may be shown to them.

use std::collections::BTreeSet;

use storksbill_db::Conn;
use storksbill_db::rows::lines::{self, Line};
use storksbill_domain::ids::MemberId;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::Visibility;

use crate::http::problem::Problem;

/// A member who asks after pedigrees.
#[derive(Debug)]
pub(crate) struct Asker {
    member: MemberId,
    /// Members of the asker's clubs, whose records for their clubs the asker may see.
    clubmates: BTreeSet<MemberId>,
}

impl Asker {
    pub(crate) fn load(conn: &mut Conn, actor: &Actor) -> Result<Self, Problem> {
        let clubmates = lines::clubmates(conn, &actor.club_ids())?;
        Ok(Self { member: actor.member, clubmates })
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

    /// The same rule as `policy::may_see_shared`; what nobody entered is the register's.
    fn sees_of(&self, owner: Option<MemberId>, visibility: Visibility) -> bool {
        let Some(owner) = owner else { return true };
        owner == self.member
            || match visibility {
                Visibility::Private => false,
                Visibility::Club => self.clubmates.contains(&owner),
                Visibility::Society => true,
            }
    }
}
