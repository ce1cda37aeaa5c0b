//! Four members with several cuttings each. The market and its answers are this project's own.

use storksbill_exchange::{Member, Offer, Want};

use super::Draft;

pub(crate) const RUBY: u64 = 1;
pub(crate) const OPAL: u64 = 2;
pub(crate) const JADE: u64 = 3;
pub(crate) const AMBER: u64 = 4;
pub(crate) const PEARL: u64 = 5;
pub(crate) const A: u64 = 1;
pub(crate) const B: u64 = 2;
pub(crate) const C: u64 = 3;
pub(crate) const D: u64 = 4;

/// `A` and `B` swap, `A` and `C` swap; `D` has only something to give.
pub(crate) fn four_members() -> Draft {
    let offer = |id, member, item, quantity| Offer { id, member, item, quantity };
    Draft {
        members: vec![Member::new(A, 2, 2), Member::new(B, 1, 1), Member::new(C, 2, 2), Member::new(D, 1, 0)],
        offers: vec![
            offer(1, A, RUBY, 2),
            offer(2, A, OPAL, 1),
            offer(3, B, JADE, 1),
            offer(4, C, AMBER, 2),
            offer(5, D, PEARL, 1),
        ],
        wants: vec![
            Want::one(1, A, JADE, 1),
            Want::one(2, A, AMBER, 2),
            Want::one(3, B, RUBY, 1),
            Want::one(4, B, PEARL, 2),
            Want::one(5, C, RUBY, 1),
            Want::one(6, C, OPAL, 2),
        ],
        ..Draft::default()
    }
}
