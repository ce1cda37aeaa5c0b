//! Solves a market written as JSON and prints the answer as JSON.
//!
//! ```text
//! cargo run --release -p storksbill-exchange --example solve -- market.json --mode rings
//!     --mode rings|chains|meeting|one-for-one   required
//!     --max-ring 2|3           longest ring by post (3)
//!     --max-chain 1..=255      receivers in a chain (4); mode chains
//!     --preset expected|robust|count|wishes|society   order of aims (expected); rings and chains
//!     --seconds 1..            break the search off by the clock (never; it ends by counted work); rings, chains
//!     --leximin                at a meeting, those with least first
//! ```
//!
//! `-` reads the standard input. The market (`read.rs` says what may be left out):
//!
//! ```text
//! { "members": [{"id": 1, "give": 2, "receive": 2}],
//!   "offers":  [{"member": 1, "item": "ruby", "quantity": 2}],
//!   "wants":   [{"member": 1, "need": 1, "items": [{"item": "jade", "rank": 1}, {"item": "opal", "rank": 2}]}],
//!   "givers":  [{"member": 1, "starts": 1}],
//!   "refused": [[1, 2]],
//!   "weights": [{"from": 1, "to": 2, "item": "ruby", "weight": 120}] }
//! ```
//!
//! Exit code 2: something is wrong with the command line or the market, and the message names it.

mod read;
mod tell;
#[cfg(test)]
mod tests;

use std::io::{Read, Write};
use std::process::ExitCode;
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use storksbill_exchange::{
    MaxRing, MeetingRules, Plan, Preset, Rules, Stopped, Tie, Unlock, accounts, check, check_meeting, meet,
    one_for_one, solve_until, unlock_meeting,
};

use read::Named;

#[derive(Clone, Copy, PartialEq, Eq)]
enum Mode {
    Rings,
    Chains,
    Meeting,
    OneForOne,
}

struct Asked {
    file: String,
    mode: Mode,
    max_ring: MaxRing,
    max_chain: u8,
    preset: Preset,
    seconds: Option<u64>,
    leximin: bool,
}

fn main() -> ExitCode {
    match run(std::env::args().skip(1)) {
        Ok(answer) => {
            let told = writeln!(std::io::stdout(), "{answer:#}");
            if told.is_ok() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
        }
        Err(message) => {
            let _ = writeln!(std::io::stderr(), "{message}");
            ExitCode::from(2)
        }
    }
}

fn run(arguments: impl Iterator<Item = String>) -> Result<Value, String> {
    let asked = asked(arguments)?;
    let text = if asked.file == "-" {
        let mut text = String::new();
        std::io::stdin().read_to_string(&mut text).map(|_| text)
    } else {
        std::fs::read_to_string(&asked.file)
    }
    .map_err(|error| format!("{}: {error}", asked.file))?;
    answer(&text, &asked)
}

fn answer(market: &str, asked: &Asked) -> Result<Value, String> {
    let document = serde_json::from_str(market).map_err(|error| format!("{}: {error}", asked.file))?;
    let named = read::read(&document)?;
    match asked.mode {
        Mode::Rings | Mode::Chains => by_post(&named, asked),
        Mode::Meeting => meeting(&named, asked.leximin),
        Mode::OneForOne => one_plant_each(&named),
    }
}

fn asked(mut arguments: impl Iterator<Item = String>) -> Result<Asked, String> {
    let (mut file, mut mode) = (None, None);
    let (mut max_ring, mut max_chain) = (MaxRing::Three, 4);
    let (mut preset, mut seconds, mut leximin) = (Preset::Expected, None, false);
    while let Some(argument) = arguments.next() {
        let (name, mut given) = match argument.split_once('=') {
            Some((name, value)) if name.starts_with("--") => (name.to_owned(), Some(value.to_owned())),
            _ => (argument, None),
        };
        let mut value =
            || given.take().or_else(|| arguments.next()).ok_or_else(|| format!("{name} needs a value"));
        match name.as_str() {
            "--mode" => {
                mode = Some(match value()?.as_str() {
                    "rings" => Mode::Rings,
                    "chains" => Mode::Chains,
                    "meeting" => Mode::Meeting,
                    "one-for-one" => Mode::OneForOne,
                    other => {
                        return Err(format!("--mode {other}: use rings, chains, meeting or one-for-one"));
                    }
                });
            }
            "--max-ring" => {
                max_ring = match value()?.as_str() {
                    "2" => MaxRing::Two,
                    "3" => MaxRing::Three,
                    other => {
                        return Err(format!(
                            "--max-ring {other}: rings by post have 2 or 3 members (a meeting has no limit)"
                        ));
                    }
                };
            }
            "--max-chain" => {
                let text = value()?;
                max_chain = text
                    .parse()
                    .ok()
                    .filter(|&chain| chain > 0)
                    .ok_or_else(|| format!("--max-chain {text}: use a whole number from 1 to 255"))?;
            }
            "--preset" => {
                preset = match value()?.as_str() {
                    "expected" => Preset::Expected,
                    "robust" => Preset::Robust,
                    "count" => Preset::Count,
                    "wishes" => Preset::Wishes,
                    "society" => Preset::Society,
                    other => {
                        return Err(format!(
                            "--preset {other}: use expected, robust, count, wishes or society"
                        ));
                    }
                };
            }
            "--seconds" => {
                let text = value()?;
                let limit = text.parse().map_err(|error| format!("--seconds {text}: {error}"))?;
                seconds = Some(limit);
            }
            "--leximin" => leximin = true,
            other if other.starts_with("--") => return Err(format!("{other} is not an option")),
            _ if file.is_some() => return Err(format!("{name}: only one market at a time")),
            _ => file = Some(name),
        }
    }
    let file = file.ok_or("name the file of the market (or - for the standard input)")?;
    let mode = mode.ok_or("--mode is missing: use rings, chains, meeting or one-for-one")?;
    Ok(Asked { file, mode, max_ring, max_chain, preset, seconds, leximin })
}

fn by_post(named: &Named, asked: &Asked) -> Result<Value, String> {
    let market = named.market()?;
    let max_chain = if asked.mode == Mode::Chains { asked.max_chain } else { 0 };
    let rules = Rules { preset: asked.preset, max_ring: asked.max_ring, max_chain, ..Rules::default() };
    let start = Instant::now();
    let late = |limit| start.elapsed() >= Duration::from_secs(limit);
    let plan = solve_until(&market, &rules, &mut || asked.seconds.is_some_and(late));
    let seconds = start.elapsed().as_secs_f64();
    check(&market, &plan).map_err(|fault| format!("the plan does not pass its check: {fault}"))?;
    let Plan { rings, chains, levels, .. } = &plan;
    let walks = || {
        let rings = rings.iter().map(|ring| (&ring.moves, ring.times));
        rings.chain(chains.iter().map(|chain| (&chain.moves, chain.times)))
    };
    let steps: Vec<_> =
        walks().flat_map(|(moves, times)| moves.iter().map(move |step| (step, times))).collect();
    Ok(json!({
        "mode": if asked.mode == Mode::Chains { "chains" } else { "rings" },
        "levels": levels.iter().map(tell::level).collect::<Vec<_>>(),
        "moves": tell::moves(named, steps.iter().copied()),
        "rings": tell::walks(named, rings.iter().map(|ring| (ring.moves.as_slice(), ring.times))),
        "chains": tell::walks(named, chains.iter().map(|chain| (chain.moves.as_slice(), chain.times))),
        "accounts": tell::accounts(named, &accounts(&market, steps)),
        "tie": match plan.tie {
            Tie::First => "first of all best plans",
            Tie::ByRun => "first best plan met",
        },
        "stopped": match plan.stopped {
            Stopped::No => "no",
            Stopped::ByWork => "by work",
            Stopped::ByClock => "by clock",
        },
        "warnings": named.warnings,
        "seconds": seconds,
    }))
}

fn meeting(named: &Named, leximin: bool) -> Result<Value, String> {
    let market = named.market()?;
    let start = Instant::now();
    let meeting = meet(&market, MeetingRules { leximin }).map_err(|error| error.to_string())?;
    let seconds = start.elapsed().as_secs_f64();
    check_meeting(&market, &meeting)
        .map_err(|fault| format!("the meeting does not pass its check: {fault}"))?;
    let unlocked = unlock_meeting(&market).map_err(|error| error.to_string())?;
    let unlock = |unlock: &Unlock| json!({ "item": named.item(unlock.item), "more": unlock.more });
    let (rings, chains) = (&meeting.rings, &meeting.chains);
    Ok(json!({
        "mode": "meeting",
        "levels": meeting.levels.iter().map(tell::meeting_level).collect::<Vec<_>>(),
        "moves": tell::moves(named, meeting.hand_overs.iter().map(|h| (&h.step, h.times))),
        "rings": tell::walks(named, rings.iter().map(|ring| (ring.moves.as_slice(), ring.times))),
        "chains": tell::walks(named, chains.iter().map(|chain| (chain.moves.as_slice(), chain.times))),
        "accounts": tell::accounts(named, &meeting.accounts),
        "one_more_would_serve": unlocked.iter().map(unlock).collect::<Vec<_>>(),
        "warnings": named.warnings,
        "seconds": seconds,
    }))
}

/// Everybody who brings a plant is an agent; who brings none takes no part.
fn one_plant_each(named: &Named) -> Result<Value, String> {
    let (agents, lists) = named.strict_lists()?;
    let start = Instant::now();
    let cycles = one_for_one(&lists).map_err(|bad| bad.to_string())?;
    let seconds = start.elapsed().as_secs_f64();
    let mut rings = Vec::new();
    let mut moves = Vec::new();
    for cycle in cycles.iter().filter(|cycle| cycle.len() > 1) {
        // Each gets the plant of the next; told in the order of giving, the smallest first.
        let mut steps = Vec::new();
        for (at, &to) in cycle.iter().enumerate() {
            let from = cycle.get(at + 1).or(cycle.first()).copied().unwrap_or(to);
            if let (Some(&(from, item)), Some(&(to, _))) = (agents.get(from), agents.get(to)) {
                steps.push(tell::step(named, from, to, item));
            }
        }
        steps.reverse();
        moves.extend(steps.iter().cloned());
        rings.push(tell::ring(&steps));
    }
    Ok(json!({
        "mode": "one-for-one",
        "rule": "top trading cycles: the only outcome in the strict core",
        "levels": [],
        "moves": moves,
        "rings": rings,
        "chains": [],
        "warnings": named.warnings,
        "seconds": seconds,
    }))
}
