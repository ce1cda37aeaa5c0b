//! Who may do what: pure functions over who asks and whose thing it is.

use crate::ids::{ClubId, MemberId};
use crate::words::{ClubRole, SocietyRole, Visibility};

/// A member who is logged in, with every role the session carries.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Actor {
    /// Who asks.
    pub member: MemberId,
    /// Roles for the whole society.
    pub society: Vec<SocietyRole>,
    /// Clubs the member belongs to, and as what.
    pub clubs: Vec<(ClubId, ClubRole)>,
}

impl Actor {
    /// Keeps the server.
    pub fn is_administrator(&self) -> bool {
        self.society.contains(&SocietyRole::Administrator)
    }

    /// Keeps the register of names; an administrator may stand in.
    pub fn is_registrar(&self) -> bool {
        self.is_administrator() || self.society.contains(&SocietyRole::Registrar)
    }

    /// Secretary of any club.
    pub fn is_secretary(&self) -> bool {
        self.clubs.iter().any(|(_, role)| *role == ClubRole::Secretary)
    }

    /// Holds any office: may take new members and run a swap round.
    pub fn is_officer(&self) -> bool {
        self.is_registrar() || self.is_secretary()
    }

    /// Acts for this club: its secretary, or an administrator.
    pub fn acts_for(&self, club: ClubId) -> bool {
        self.is_administrator() || self.clubs.contains(&(club, ClubRole::Secretary))
    }

    /// The clubs the member belongs to.
    pub fn club_ids(&self) -> Vec<ClubId> {
        self.clubs.iter().map(|(club, _)| *club).collect()
    }
}

/// May the asker find a protected member of these clubs in a list, by full name? Officers for the society do, those of a
/// club of theirs, and the member.
pub fn may_see_protected(actor: &Actor, member: MemberId, clubs: &[ClubId]) -> bool {
    actor.member == member || actor.is_registrar() || clubs.iter().any(|club| actor.acts_for(*club))
}

/// May the asker end the protection of a member of these clubs? An administrator and the secretary of a club of theirs,
/// and nobody for themselves but an administrator: what shields a child is not undone by whoever holds its telephone.
pub fn may_end_protection(actor: &Actor, member: MemberId, clubs: &[ClubId]) -> bool {
    actor.is_administrator() || (actor.member != member && clubs.iter().any(|club| actor.acts_for(*club)))
}

/// May the asker see a job that `asked_by` asked for?
pub fn may_see_job(actor: &Actor, asked_by: Option<MemberId>) -> bool {
    actor.is_administrator() || asked_by == Some(actor.member)
}

/// May `asker` see a plant or a cross of `owner`, who shares with a club of the asker's, or does not?
pub fn may_see_shared(asker: MemberId, owner: MemberId, shares: bool, visibility: Visibility) -> bool {
    if asker == owner {
        return true;
    }
    match visibility {
        Visibility::Private => false,
        Visibility::Club => shares,
        Visibility::Society => true,
    }
}

/// May the asker change what `owner` keeps? Officers may not: a member's notes are the member's own.
pub fn may_edit_own(actor: &Actor, owner: MemberId) -> bool {
    actor.member == owner
}

/// May the asker hold back plants of `owner` for their health, or ask where their cuttings went? The grower and
/// every officer may, whoever else may see the plants: an outbreak does not wait for leave.
pub fn may_guard_health(actor: &Actor, owner: MemberId) -> bool {
    actor.member == owner || actor.is_officer()
}

/// May the asker lift a hold on plants of `owner` that `placed_by` placed? Growers lift their own alone.
pub fn may_lift_hold(actor: &Actor, owner: MemberId, placed_by: MemberId) -> bool {
    actor.is_officer() || (actor.member == owner && actor.member == placed_by)
}

/// May the asker change a cultivar's record, entered by `entered_by`? Named cultivars belong to the register.
pub fn may_edit_cultivar(actor: &Actor, entered_by: Option<MemberId>, named: bool) -> bool {
    actor.is_registrar() || (!named && entered_by == Some(actor.member))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_protected_are_found_by_those_who_look_after_them_and_unshielded_by_fewer() {
        let (here, there, child) = (ClubId::fresh(), ClubId::fresh(), MemberId::fresh());
        let own = Actor { member: child, society: Vec::new(), clubs: vec![(here, ClubRole::Secretary)] };
        // (who, finds the child, ends the protection)
        for (who, expected) in [
            (actor(&[], &[(here, ClubRole::Member)]), [false, false]),
            (actor(&[], &[(there, ClubRole::Secretary)]), [false, false]),
            (actor(&[], &[(here, ClubRole::Secretary)]), [true, true]),
            (actor(&[SocietyRole::Registrar], &[]), [true, false]),
            (actor(&[SocietyRole::Administrator], &[]), [true, true]),
            (own, [true, false]),
        ] {
            let found = [may_see_protected(&who, child, &[here]), may_end_protection(&who, child, &[here])];
            assert_eq!(found, expected, "{who:?}");
        }
    }

    fn actor(society: &[SocietyRole], clubs: &[(ClubId, ClubRole)]) -> Actor {
        Actor { member: MemberId::fresh(), society: society.to_vec(), clubs: clubs.to_vec() }
    }

    #[test]
    fn roles_order_as_the_society_means_them() {
        let (here, there) = (ClubId::fresh(), ClubId::fresh());
        let member = actor(&[], &[(here, ClubRole::Member)]);
        let secretary = actor(&[], &[(here, ClubRole::Secretary)]);
        let registrar = actor(&[SocietyRole::Registrar], &[]);
        let administrator = actor(&[SocietyRole::Administrator], &[]);
        // (who, officer, registrar, administrator, acts for `here`, acts for `there`)
        for (who, expected) in [
            (&member, [false, false, false, false, false]),
            (&secretary, [true, false, false, true, false]),
            (&registrar, [true, true, false, false, false]),
            (&administrator, [true, true, true, true, true]),
        ] {
            let found = [
                who.is_officer(),
                who.is_registrar(),
                who.is_administrator(),
                who.acts_for(here),
                who.acts_for(there),
            ];
            assert_eq!(found, expected, "{who:?}");
        }
    }

    #[test]
    fn a_plant_is_seen_as_widely_as_its_grower_chose() {
        let owner = actor(&[], &[]);
        let stranger = actor(&[SocietyRole::Administrator], &[]);
        for (visibility, expected) in [
            (Visibility::Private, [true, false, false]),
            (Visibility::Club, [true, true, false]),
            (Visibility::Society, [true, true, true]),
        ] {
            let found = [(&owner, false), (&stranger, true), (&stranger, false)]
                .map(|(who, shares)| may_see_shared(who.member, owner.member, shares, visibility));
            assert_eq!(found, expected, "{visibility}");
        }
        assert!(may_edit_own(&owner, owner.member));
        assert!(!may_edit_own(&stranger, owner.member));
    }

    #[test]
    fn growers_hold_their_own_plants_and_officers_anybodys() {
        let (here, grower) = (ClubId::fresh(), actor(&[], &[]));
        let secretary = actor(&[], &[(here, ClubRole::Secretary)]);
        let stranger = actor(&[], &[(here, ClubRole::Member)]);
        let guards = [&grower, &secretary, &stranger].map(|who| may_guard_health(who, grower.member));
        assert_eq!(guards, [true, true, false]);
        // (placed by, who may lift it: grower, secretary, stranger)
        for (placed_by, expected) in
            [(grower.member, [true, true, false]), (secretary.member, [false, true, false])]
        {
            let lifts =
                [&grower, &secretary, &stranger].map(|who| may_lift_hold(who, grower.member, placed_by));
            assert_eq!(lifts, expected);
        }
        assert!(!may_lift_hold(&stranger, grower.member, stranger.member));
    }

    #[test]
    fn a_named_cultivar_is_the_registers_a_seedling_its_raisers() {
        let raiser = actor(&[], &[]);
        let registrar = actor(&[SocietyRole::Registrar], &[]);
        assert!(may_edit_cultivar(&raiser, Some(raiser.member), false));
        assert!(!may_edit_cultivar(&raiser, Some(raiser.member), true));
        assert!(!may_edit_cultivar(&raiser, None, false));
        assert!(may_edit_cultivar(&registrar, None, true));
    }
}
