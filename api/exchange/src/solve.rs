//! The round: from a market to a plan, level by level.

use std::collections::BTreeMap;

use crate::bound::{Bound, Claim, Cut, Floor, SCALE, certificate};
use crate::chains::decompose;
use crate::explain::unmet;
use crate::linear::Rounded;
use crate::market::Market;
use crate::mend::{Field, Mended, mend};
use crate::packing::{AtLeast, Packing, Pool, Task};
use crate::plan::{Level, Move, Plan, Ring, Rules, Spent, Stopped, Tie};
use crate::presets::LevelName;
use crate::program::{Aim, Kind, Scope, number};
use crate::rings::{Cycle, count_rings, list};
use crate::search::Limits;
use crate::wide::Wide;

/// Runs a round.
///
/// Never fails: a round that runs out of work returns the best plan met so far, with levels that say what is
/// not proved. Cost: going through the rings, then for each level a linear program whose size is the number of
/// members, offers and wants in rings, and a search bounded by `rules.work`; in markets too large for that, local
/// search and circulations within `rules.work`.
pub fn solve(market: &Market, rules: &Rules) -> Plan {
    solve_until(market, rules, &mut || false)
}

/// As [`solve`], broken off when `stop` says so: it is asked between the steps of the search. A plan that was
/// broken off is marked [`Stopped::ByClock`].
pub fn solve_until(market: &Market, rules: &Rules, stop: &mut dyn FnMut() -> bool) -> Plan {
    let mut rung = false;
    let mut clock = || {
        rung |= stop();
        rung
    };
    let mut round = Round::new(Scope::new(market, rules), None, &mut clock);
    round.run();
    let plan = round.plan();
    if rung { Plan { stopped: Stopped::ByClock, ..plan } } else { plan }
}

/// Columns a search takes on at most, the nearest to paying for themselves: more would use up all work at the
/// root.
const OPEN: usize = 4_000;
/// The same where there are chains: their links make every linear program degenerate and slow.
const OPEN_CHAINS: usize = 1_000;
/// Columns up to which a program with chains is solved.
const LARGE_CHAINS: u64 = 5_000;
/// Columns that mending chooses from at most.
const NEAR: usize = 6_000;
/// Columns among which [`Tie::First`] is looked for at most.
const EQUALS: usize = 400;
/// Units of [`crate::Work::search`] for one of columns times rows that bind in a linear program.
const SMALLEST: u64 = 2;
/// So few columns are all kept, whatever work is allowed.
const FEW_COLUMNS: u64 = 1_500;
/// Work of one search among equals, as [`crate::Work::search`].
const TIE_WORK: u64 = 1_000_000;

/// A round under way.
pub(crate) struct Round<'a> {
    pub(crate) scope: Scope<'a>,
    pub(crate) packing: Packing,
    /// All rings of the market are among the columns.
    complete: bool,
    /// What leads a round that does not work with all of them.
    pub(crate) wide: Option<Wide>,
    /// Rows that changed in a plan that was taken up: only there it is improved.
    pub(crate) around: Option<Vec<u32>>,
    /// Columns that may be in a plan that keeps what is settled.
    pub(crate) pool: Pool,
    pub(crate) runs: Vec<u16>,
    pub(crate) floors: Vec<Floor>,
    /// The floors over the columns.
    pub(crate) kept: Vec<AtLeast>,
    pub(crate) cuts: Vec<Cut>,
    pub(crate) levels: Vec<Level>,
    tie: Tie,
    pub(crate) stopped: Stopped,
    pub(crate) spent: Spent,
    reachable: Vec<bool>,
    /// Columns that shaped the prices of the level before.
    active: Vec<usize>,
    /// What [`crate::Work::search`] still allows, and what of it at this level.
    pub(crate) budget: u64,
    left: u64,
    pub(crate) stop: &'a mut dyn FnMut() -> bool,
}

impl std::fmt::Debug for Round<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Round").field("levels", &self.levels).finish_non_exhaustive()
    }
}

impl<'a> Round<'a> {
    /// With `plan`, it can be taken up by [`Self::start`].
    pub(crate) fn new(scope: Scope<'a>, plan: Option<&Plan>, stop: &'a mut dyn FnMut() -> bool) -> Self {
        let (market, longest) = (scope.market, scope.rules.max_ring);
        let total = count_rings(market, longest);
        let mut columns = total;
        let capacity = scope.capacities();
        scope.rest(|kind| {
            let mut open = true;
            scope.rows(kind, |row| open &= capacity.get(row).is_some_and(|&room| room > 0));
            columns += u64::from(open);
        });
        // With chains the linear programs are degenerate: large ones take too long whatever is allowed.
        let size = columns.saturating_mul(scope.binding_rows() as u64);
        let solvable =
            size <= scope.rules.work.search / SMALLEST && !(scope.chains() && columns > LARGE_CHAINS);
        let complete = total <= u64::from(scope.rules.work.rings) && (columns <= FEW_COLUMNS || solvable);
        let wide = (!complete).then(|| Wide::new(&scope, plan));
        let mut listing = wide.as_ref().map_or_else(|| list(market, longest, None), |wide| wide.list(&scope));
        if let (Some(_), Some(plan)) = (&wide, plan) {
            listing.add(market, plan.rings.iter().filter_map(|ring| Cycle::of(market, &ring.moves)));
        }
        let mut reachable = listing.reachable;
        let kept = listing.cycles.len() as u64;
        let rings = listing.cycles.into_iter().filter(|&cycle| scope.banned != Some(cycle));
        let mut kinds: Vec<Kind> = rings.map(Kind::Ring).collect();
        scope.rest(|kind| {
            kinds.push(kind);
            if let Kind::Step { arc, .. } = kind {
                let want = scope.market.arcs.get(arc as usize).map(|arc| arc.want as usize);
                if let Some(place) = want.and_then(|want| reachable.get_mut(want)) {
                    *place = true;
                }
            }
        });
        let packing = Packing::new(&scope, kinds);
        let pool = packing.pool((0..packing.len()).filter(|&at| packing.most.get(at) > Some(&0)).collect());
        let work = wide.as_ref().map_or(0, |wide| wide.work);
        let budget = scope.rules.work.search.saturating_sub(work);
        Self {
            runs: vec![0; packing.len()],
            scope,
            packing,
            complete,
            wide,
            around: None,
            pool,
            floors: Vec::new(),
            kept: Vec::new(),
            cuts: Vec::new(),
            levels: Vec::new(),
            tie: Tie::ByRun,
            stopped: Stopped::No,
            spent: Spent { rings: total, rings_kept: kept, search: work, ..Spent::default() },
            reachable,
            active: Vec::new(),
            budget,
            left: 0,
            stop,
        }
    }

    /// Takes up a plan as far as the columns allow; then it is improved only around a ring that may not run.
    pub(crate) fn start(&mut self, plan: &Plan) {
        let rings: BTreeMap<&[Move], u16> =
            plan.rings.iter().map(|ring| (ring.moves.as_slice(), ring.times)).collect();
        let mut steps: BTreeMap<(u8, Move), u16> = BTreeMap::new();
        for chain in &plan.chains {
            for (place, &step) in (1u8..).zip(&chain.moves) {
                *steps.entry((place, step)).or_default() += chain.times;
            }
        }
        let market = self.scope.market;
        for (kind, runs) in self.packing.kinds.iter().zip(&mut self.runs) {
            let times = match *kind {
                Kind::Ring(cycle) => {
                    let moves: Vec<Move> = cycle.arcs().iter().map(|&arc| market.hand_over(arc)).collect();
                    rings.get(moves.as_slice()).copied()
                }
                Kind::Step { arc, place } => steps.get(&(place, market.hand_over(arc))).copied(),
                Kind::Served(_) => Some(1),
            };
            *runs = times.unwrap_or(0);
        }
        self.packing.untangle(&mut self.runs);
        let mut around = Vec::new();
        if let Some(cycle) = self.scope.banned {
            self.scope.rows(Kind::Ring(cycle), |row| around.push(number(row)));
        }
        self.around = Some(around);
    }

    /// Makes it a floor that the want at this place gets `least` cuttings, and moves to a plan that does so;
    /// false when none is met with a tenth of the work.
    pub(crate) fn force(&mut self, want: u32, least: i64) -> bool {
        let aim = Aim::Serve(want);
        let gains = self.gains(aim);
        if self.wide.is_some() {
            self.run_one_of(&gains);
            self.floors.push(Floor { aim, least });
            self.kept.push(AtLeast { coefficients: gains, least });
            return self.packing.fits(&self.runs, &self.kept);
        }
        let first = self.scope.rules.preset.levels().first();
        let rest = first.map_or_else(|| gains.clone(), |&name| self.gains(Aim::Level(name)));
        let objective = first_then(&gains, &rest);
        let open = self.with_runs(self.pool.columns.clone());
        let task = Task { gains: &objective, floors: &[] };
        let limits = Limits { work: self.budget / 10, step: 1, bound: i64::MAX / 2 };
        let packing = &self.packing;
        let most = |column: usize| (0, packing.most.get(column).copied().unwrap_or(0));
        let found = packing.search(&self.pool, &open, most, task, &self.runs, limits, self.stop);
        self.spent.pivots += found.pivots;
        self.runs = found.runs;
        self.floors.push(Floor { aim, least });
        self.kept.push(AtLeast { coefficients: gains, least });
        self.packing.fits(&self.runs, &self.kept)
    }

    /// Solves the levels, whatever is kept already.
    pub(crate) fn levels(&mut self) {
        self.improve();
        for &name in self.scope.rules.preset.levels() {
            self.level(name);
        }
        self.settle();
    }

    /// Solves the levels, whatever is kept already, as far as the first that comes to something else than in
    /// `plan`.
    pub(crate) fn levels_beside(&mut self, plan: &Plan) {
        self.improve();
        for (&name, told) in self.scope.rules.preset.levels().iter().zip(&plan.levels) {
            self.level(name);
            if self.levels.last().is_some_and(|level| level.value != told.value) {
                break;
            }
        }
        self.settle();
    }

    /// The levels solved so far.
    pub(crate) fn reached(&self) -> &[Level] {
        &self.levels
    }

    pub(crate) fn run(&mut self) {
        self.levels();
        if self.complete && self.levels.iter().all(|level| level.proved) {
            self.tie = self.first_among_equals();
        }
    }

    pub(crate) fn gains(&self, aim: Aim) -> Vec<i64> {
        self.packing.kinds.iter().map(|&kind| self.scope.gain(kind, aim)).collect()
    }

    /// Improves `self.runs` for one level and keeps what it reaches.
    fn level(&mut self, name: LevelName) {
        if self.wide.is_some() {
            self.wide_level(name);
            return;
        }
        let rest = self.budget;
        self.left = rest / 2;
        let aim = Aim::Level(name);
        let gains = self.gains(aim);
        let keep = self.with_runs(self.active.clone());
        let (mixed, unit) = self.with_next(&gains);
        let led = Task { gains: &mixed, floors: &self.kept };
        let mut prices = self.packing.prices(&self.pool, led, unit, &keep, self.stop);
        prices.scaled.resize(self.packing.capacity.len() + self.packing.links + self.kept.len(), 0);
        // The bound is wanted in any case and must not leave nothing for the plan.
        let work = prices.work.min(self.left / 2);
        self.spend(Mended { work, pivots: prices.pivots, nodes: 0 });
        let claim = Claim { aim, floors: self.floors.clone(), prices: prices.scaled };
        let bound = self.bound(&claim);
        let mut finished = self.value(&gains) >= bound.value;
        if !finished {
            self.guess(&prices.active, &mixed, &gains, &claim.prices);
            self.mend(&gains, &claim.prices, bound);
            let mut open = self.open(&gains, &claim.prices, bound, bound.step);
            let most = if self.scope.chains() { OPEN_CHAINS } else { OPEN };
            let searched = open.len() <= most && self.complete;
            open.truncate(most);
            let all = self.left;
            finished = self.search(&self.with_runs(open), &gains, bound, all) && searched;
        }
        self.budget = rest - (rest / 2 - self.left);
        let value = self.value(&gains);
        let proved = value >= bound.value || finished;
        self.levels.push(Level { name, value, bound: bound.value, proved, prices: claim.prices.clone() });
        let cut = Cut::new(&self.scope, claim, bound, value);
        self.active = prices.active;
        self.shrink(&cut, &gains);
        self.cuts.push(cut);
        self.floors.push(Floor { aim, least: value });
        self.kept.push(AtLeast { coefficients: gains, least: value });
    }

    /// Gains in which the next level decides among equals of this one, and the weight of this one in them: so
    /// large that all the next level can add is a twentieth of a unit at most, which no certificate is loosened
    /// by. A level alone has many best prices and roundings; those that suit the next are worth most.
    fn with_next(&self, gains: &[i64]) -> (Vec<i64>, i64) {
        let next = self.scope.rules.preset.levels().get(self.levels.len() + 1);
        let Some(next) = next.map(|&next| self.gains(Aim::Level(next))) else { return (gains.to_vec(), 1) };
        let (least, most) =
            next.iter().fold((0, 0), |(least, most), &gain| (gain.min(least), gain.max(most)));
        let units: i64 = self.scope.market.members.iter().map(|member| i64::from(member.receive)).sum();
        let unit = units.saturating_mul(most).saturating_mul(10).max(1);
        let largest = gains.iter().map(|gain| gain.abs()).max().unwrap_or(0);
        // Beyond 2^40 the linear program would lose the second level in its tolerance.
        if least < 0 || largest.saturating_mul(unit) >= 1 << 40 {
            return (gains.to_vec(), 1);
        }
        (gains.iter().zip(next).map(|(gain, next)| gain * unit + next).collect(), unit)
    }

    /// A bound of the largest number claims nothing; the number of prices is right by construction.
    pub(crate) fn bound(&self, claim: &Claim) -> Bound {
        let nothing = Bound { value: i64::MAX, scaled: i128::MAX, step: 1 };
        certificate(&self.scope, claim, &self.cuts).unwrap_or(nothing)
    }

    pub(crate) fn value(&self, gains: &[i64]) -> i64 {
        Packing::total(&self.runs, gains)
    }

    fn running(&self) -> Vec<usize> {
        self.runs.iter().enumerate().filter(|&(_, &runs)| runs > 0).map(|(column, _)| column).collect()
    }

    /// Leaves in the pool what is in some plan that keeps the level.
    fn shrink(&mut self, cut: &Cut, gains: &[i64]) {
        let prices = &cut.claim.prices;
        let task = Task { gains, floors: &self.kept };
        let stays = |&column: &usize| self.packing.excess(column, task, prices) >= -cut.spare;
        self.pool = self.packing.pool(self.pool.columns.iter().copied().filter(stays).collect());
    }

    /// A search for a later level may do better at one before that was not proved: it then takes the larger
    /// value, and all bounds are told anew.
    fn settle(&mut self) {
        let mut cuts: Vec<Cut> = Vec::new();
        let before = self.floors.len() - self.levels.len();
        for at in 0..self.levels.len() {
            let Some(kept) = self.kept.get_mut(before + at) else { return };
            let value = Packing::total(&self.runs, &kept.coefficients);
            kept.least = value;
            let (Some(floor), Some(cut)) = (self.floors.get_mut(before + at), self.cuts.get(at)) else {
                return;
            };
            floor.least = value;
            let mut claim = cut.claim.clone();
            claim.floors = self.floors.iter().take(before + at).copied().collect();
            let bound = certificate(&self.scope, &claim, &cuts);
            if let (Some(level), Some(bound)) = (self.levels.get_mut(at), bound) {
                level.value = value;
                level.bound = bound.value;
                level.proved |= value == bound.value;
                cuts.push(Cut::new(&self.scope, claim, bound, value));
            }
        }
        self.cuts = cuts;
    }

    /// Takes up a plan rounded from the linear program when it is better than the one in hand.
    fn guess(&mut self, active: &[usize], mixed: &[i64], gains: &[i64], prices: &[u64]) {
        if self.left == 0 || (self.stop)() {
            return;
        }
        let led = Task { gains: mixed, floors: &self.kept };
        let Rounded { runs: mut guess, pivots, work } = self.packing.dive(&self.pool, active, led, self.stop);
        self.spend(Mended { work, pivots, nodes: 0 });
        self.complete_with(&mut guess, gains, prices);
        self.repair(&mut guess, gains, prices);
        if self.packing.fits(&guess, &self.kept)
            && Packing::total(&guess, gains) > Packing::total(&self.runs, gains)
        {
            self.runs = guess;
        }
    }

    /// Lifts a plan that misses floors to them, one after the other, at the least cost to the level.
    fn repair(&mut self, runs: &mut Vec<u16>, gains: &[i64], prices: &[u64]) {
        let order = self.by_excess(gains, prices, i128::MAX);
        let near: Vec<usize> = order.into_iter().take(NEAR).map(|(_, column)| column).collect();
        let priced = Task { gains, floors: &self.kept };
        let field = Field { packing: &self.packing, pool: &self.pool, priced, prices, near: &near };
        let mut spent = Mended::default();
        for (at, floor) in self.kept.iter().enumerate() {
            let reached = |runs: &[u16]| Packing::total(runs, &floor.coefficients) >= floor.least;
            if reached(runs) {
                continue;
            }
            let objective = first_then(&floor.coefficients, gains);
            let limits = Limits { work: self.left / 8, step: 1, bound: i64::MAX / 2 };
            let task = Task { gains: &objective, floors: self.kept.get(..at).unwrap_or(&[]) };
            spent += mend(field, task, limits, runs, reached, self.stop);
            if !reached(runs) {
                break;
            }
        }
        self.spend(spent);
    }

    fn spend(&mut self, done: Mended) {
        self.spent.nodes += done.nodes;
        self.spent.pivots += done.pivots;
        self.spent.search += done.work;
        self.left = self.left.saturating_sub(done.work);
    }

    /// Adds what still fits, the nearest to paying for itself first.
    fn complete_with(&self, runs: &mut [u16], gains: &[i64], prices: &[u64]) {
        let order: Vec<usize> =
            self.by_excess(gains, prices, i128::MAX).into_iter().map(|(_, column)| column).collect();
        self.packing.untangle(runs);
        // Members are served, and chains reach further places, only by what runs already.
        for _ in 0..=self.scope.rules.max_chain.max(1) {
            self.packing.fill(runs, &order);
        }
    }

    /// Columns of the pool that miss paying for themselves by no more than `slack`, and by how much, nearest
    /// first.
    fn by_excess(&self, gains: &[i64], prices: &[u64], slack: i128) -> Vec<(i128, usize)> {
        let task = Task { gains, floors: &self.kept };
        let missing = |&column: &usize| (-self.packing.excess(column, task, prices), column);
        let mut order: Vec<(i128, usize)> =
            self.pool.columns.iter().map(missing).filter(|&(missing, _)| missing <= slack).collect();
        order.sort_unstable();
        order
    }

    /// Searches around the largest losses, with half of the work of the level. Among equals the next level
    /// leads, which also keeps the small programs from idling on plateaus.
    fn mend(&mut self, gains: &[i64], prices: &[u64], bound: Bound) {
        let near: Vec<usize> = self.open(gains, prices, bound, bound.step).into_iter().take(NEAR).collect();
        let limits = Limits { work: self.left / 2, step: 1, bound: i64::MAX / 2 };
        let next = self.scope.rules.preset.levels().get(self.levels.len() + 1);
        let objective = match next {
            Some(&next) => first_then(gains, &self.gains(Aim::Level(next))),
            None => gains.to_vec(),
        };
        let task = Task { gains: &objective, floors: &self.kept };
        let enough = |runs: &[u16]| Packing::total(runs, gains) >= bound.value;
        let priced = Task { gains, floors: &self.kept };
        let field = Field { packing: &self.packing, pool: &self.pool, priced, prices, near: &near };
        let done = mend(field, task, limits, &mut self.runs, enough, self.stop);
        self.spend(done);
    }

    /// Searches these columns with so much work; true when the search was finished or not needed.
    fn search(&mut self, open: &[usize], gains: &[i64], bound: Bound, work: u64) -> bool {
        if self.value(gains) >= bound.value {
            return true;
        }
        if work == 0 || (self.stop)() {
            self.stopped = Stopped::ByWork;
            return false;
        }
        let limits = Limits { work, step: bound.step, bound: bound.value };
        let packing = &self.packing;
        let task = Task { gains, floors: &self.kept };
        let most = |column: usize| (0, packing.most.get(column).copied().unwrap_or(0));
        let found = packing.search(&self.pool, open, most, task, &self.runs, limits, self.stop);
        self.spent.nodes += found.nodes;
        self.spent.pivots += found.pivots;
        self.spent.search += found.work;
        self.left = self.left.saturating_sub(found.work);
        self.runs = found.runs;
        if !found.finished {
            self.stopped = Stopped::ByWork;
        }
        found.finished
    }

    /// The columns that can be part of a plan better by `better` or more, nearest to paying for themselves
    /// first.
    fn open(&self, gains: &[i64], prices: &[u64], bound: Bound, better: i64) -> Vec<usize> {
        let aim = i128::from(self.value(gains) + better) * i128::from(SCALE);
        let slack = bound.scaled.saturating_sub(aim);
        self.by_excess(gains, prices, slack).into_iter().map(|(_, column)| column).collect()
    }

    /// These columns and those of the plan in hand, ascending.
    fn with_runs(&self, mut columns: Vec<usize>) -> Vec<usize> {
        columns.extend(self.running());
        columns.sort_unstable();
        columns.dedup();
        columns
    }

    /// Moves from the best plan in hand to the first of all best plans, column by column.
    fn first_among_equals(&mut self) -> Tie {
        let equals = self.with_runs(self.pool.columns.clone());
        if equals.len() > EQUALS {
            return Tie::ByRun;
        }
        let mut settled = vec![None; self.runs.len()];
        let mut used = vec![0; self.packing.capacity.len()];
        for &column in &equals {
            if matches!(self.packing.kinds.get(column), Some(Kind::Served(_))) {
                continue;
            }
            let room = self.packing.room(&used, column);
            let now = self.runs.get(column).copied().unwrap_or(0);
            if now < room {
                if self.spent.tie_searches >= self.scope.rules.work.tie_searches || (self.stop)() {
                    return Tie::ByRun;
                }
                self.spent.tie_searches += 1;
                let within = |at: usize| match settled.get(at).copied().flatten() {
                    Some(runs) => (runs, runs),
                    None => (0, self.packing.most.get(at).copied().unwrap_or(0)),
                };
                let mut only = vec![0; self.runs.len()];
                if let Some(gain) = only.get_mut(column) {
                    *gain = 1;
                }
                let task = Task { gains: &only, floors: &self.kept };
                let limits = Limits { work: TIE_WORK, step: 1, bound: i64::from(room) };
                let found =
                    self.packing.search(&self.pool, &equals, within, task, &self.runs, limits, self.stop);
                self.spent.pivots += found.pivots;
                if !found.finished {
                    return Tie::ByRun;
                }
                self.runs = found.runs;
            }
            let runs = self.runs.get(column).copied().unwrap_or(0);
            if let Some(place) = settled.get_mut(column) {
                *place = Some(runs);
            }
            self.packing.take(&mut used, column, runs);
        }
        Tie::First
    }

    pub(crate) fn plan(self) -> Plan {
        let market = self.scope.market;
        let mut rings: Vec<Ring> = Vec::new();
        let mut steps = BTreeMap::new();
        for (kind, &times) in self.packing.kinds.iter().zip(&self.runs).filter(|&(_, &times)| times > 0) {
            match *kind {
                Kind::Ring(cycle) => rings.push(ring(market, cycle, times)),
                Kind::Step { arc, place } => {
                    steps.insert((place, arc), times);
                }
                Kind::Served(_) => {}
            }
        }
        let mut chains = decompose(market, steps);
        chains.sort_by(|a, b| a.moves.cmp(&b.moves));
        let unmet = unmet(market, &rings, &chains, &self.reachable);
        Plan {
            rules: self.scope.rules,
            rings,
            chains,
            levels: self.levels,
            tie: self.tie,
            stopped: self.stopped,
            unmet,
            spent: self.spent,
        }
    }
}

/// Gains in which one unit of the first outweighs what a few columns add of the second.
fn first_then(first: &[i64], second: &[i64]) -> Vec<i64> {
    let most = second.iter().map(|gain| gain.abs()).max().unwrap_or(0).max(1);
    first
        .iter()
        .zip(second)
        .map(|(first, second)| first.saturating_mul(16 * most).saturating_add(*second))
        .collect()
}

fn ring(market: &Market, cycle: Cycle, times: u16) -> Ring {
    Ring { moves: cycle.arcs().iter().map(|&arc| market.hand_over(arc)).collect(), times }
}
