//! Answers in the caller's own names. Whatever is done several times is written several times.

use serde_json::{Value, json};
use storksbill_exchange::{Account, Aim, Level, LevelName, MeetingLevel, Move};

use crate::read::Named;

pub(crate) fn level(level: &Level) -> Value {
    let name = match level.name {
        LevelName::Expected => "expected_cuttings_in_ten_thousandths",
        LevelName::MembersServed => "members_served",
        LevelName::WantsServed => "wants_served",
        LevelName::RankWeight => "weight",
        LevelName::Rarity => "rarity",
        LevelName::EffectivePairs => "effective_pairs",
        LevelName::FewestThrees => "fewest_rings_of_three",
        LevelName::BackArcs => "back_arcs",
        LevelName::Credit => "credit",
    };
    // What prices alone prove stands apart: a finished search may prove more.
    json!({
        "name": name, "value": level.value, "bound": level.least_bound(), "proved": level.proved,
        "bound_by_prices": level.bound,
    })
}

pub(crate) fn meeting_level(level: &MeetingLevel) -> Value {
    let name = match level.aim {
        Aim::WantsServed => "wants_served".to_owned(),
        Aim::ReceivedAtLeast(least) => format!("members_who_receive_at_least_{least}"),
        Aim::Weight => "weight".to_owned(),
        Aim::Rarity => "rarity".to_owned(),
        Aim::Credit => "credit".to_owned(),
        Aim::OnAllowance => "given_on_allowance".to_owned(),
    };
    json!({ "name": name, "value": level.value, "bound": level.bound, "proved": level.proved })
}

pub(crate) fn moves<'a>(named: &Named, steps: impl Iterator<Item = (&'a Move, u16)>) -> Value {
    let mut steps: Vec<(&Move, u16)> = steps.collect();
    steps.sort();
    let each = |(of, times): (&Move, u16)| vec![step(named, of.from, of.to, of.item); usize::from(times)];
    Value::Array(steps.into_iter().flat_map(each).collect())
}

pub(crate) fn walks<'a>(named: &Named, walks: impl Iterator<Item = (&'a [Move], u16)>) -> Value {
    let each = |(moves, times): (&'a [Move], u16)| {
        let steps: Vec<Value> = moves.iter().map(|of| step(named, of.from, of.to, of.item)).collect();
        vec![ring(&steps); usize::from(times)]
    };
    Value::Array(walks.flat_map(each).collect())
}

pub(crate) fn ring(steps: &[Value]) -> Value {
    json!({ "moves": steps })
}

pub(crate) fn step(named: &Named, from: u64, to: u64, item: u64) -> Value {
    json!({ "from": named.member(from), "to": named.member(to), "item": named.item(item) })
}

pub(crate) fn accounts(named: &Named, accounts: &[Account]) -> Value {
    let account = |account: &Account| {
        json!({
            "id": named.member(account.member),
            "given": account.given,
            "received": account.received,
            "not_worse_off": account.not_worse_off(),
        })
    };
    Value::Array(accounts.iter().map(account).collect())
}
