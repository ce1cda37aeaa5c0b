//! A round among more rings than a linear program can take up: prices from circulations, plans by local search.
//!
//! Rings are kept for every want, those nearest to paying for themselves; the bounds are over all rings. All levels
//! are improved at once before their bounds are told.

use crate::bound::{Brackets, Claim, Cut, Floor, SCALE};
use crate::local_search::LocalSearch;
use crate::packing::{AtLeast, Packing, Pool, Task};
use crate::plan::{Level, Plan, Stopped};
use crate::presets::LevelName;
use crate::program::{Aim, Kind, Scope};
use crate::relaxation::Relaxation;
use crate::rings::{Cycle, Listing, list};
use crate::solve::Round;
use crate::subgradient::adjusted;

/// Columns that local search changes at once, about.
const FEW: i128 = 16;
/// So many rings are passed for one unit of [`crate::Work::search`]; a hand-over counts as four.
const PASSED: u64 = 8;
/// A ring counts as so many where ways back are looked up for it.
const LOOKED_UP: u64 = 8;
/// Rounds in which prices are adjusted at most.
const ADJUSTMENTS: u64 = 150;

/// What leads a round that does not work with all rings.
pub(crate) struct Wide {
    /// `None` for a market too large to be summed in 62 bits.
    relaxation: Option<Relaxation>,
    /// At its prices the rings kept are nearest to paying for themselves.
    lead: Claim,
    /// By level: prices told before, of a plan that is taken up.
    known: Vec<Vec<u64>>,
    /// What leads is of the first level alone, adjusted to all rings.
    adjusted: bool,
    pub(crate) work: u64,
}

impl Wide {
    /// With `plan`, its prices lead where they are of as many rows.
    pub(crate) fn new(scope: &Scope, plan: Option<&Plan>) -> Self {
        let rows = scope.capacities().len() + scope.links();
        let fits =
            |plan: &&Plan| (rows..).zip(&plan.levels).all(|(length, level)| level.prices.len() == length);
        if let Some(plan) = plan.filter(fits) {
            let floor = |level: &Level| Floor { aim: Aim::Level(level.name), least: level.value };
            let second = plan.levels.iter().take(2).next_back();
            let lead = second.map(|level| Claim {
                aim: Aim::Level(level.name),
                floors: plan.levels.iter().take_while(|other| other.name != level.name).map(floor).collect(),
                prices: level.prices.clone(),
            });
            let known = plan.levels.iter().map(|level| level.prices.clone()).collect();
            let lead = lead.unwrap_or_else(|| plain(scope));
            return Self { relaxation: None, lead, known, adjusted: false, work: 0 };
        }
        let mut relaxation = Relaxation::new(scope);
        let found = relaxation.as_mut().and_then(|relaxation| relaxation.lead(scope));
        let (lead, work) = found.unwrap_or_else(|| (plain(scope), 0));
        Self { relaxation, lead, known: Vec::new(), adjusted: false, work }
    }

    /// For every want the rings nearest to paying for themselves, within [`crate::Work::rings`].
    pub(crate) fn list(&self, scope: &Scope) -> Listing {
        let brackets = Brackets::new(scope, &self.lead);
        let missing = |cycle: Cycle| -brackets.ring(scope, cycle);
        let share = (scope.rules.work.rings as usize / scope.market.wants.len().max(1)).max(1);
        list(scope.market, scope.rules.max_ring, Some((share, &missing)))
    }

    /// Prices for a level beside these floors, and what they cost.
    fn prices(
        &mut self,
        scope: &Scope,
        level: usize,
        aim: Aim,
        floors: &[Floor],
        work: u64,
    ) -> (Vec<u64>, u64) {
        let length = scope.capacities().len() + scope.links() + floors.len();
        if let Some(known) = self.known.get(level) {
            // What is forced comes first among the floors and has no price.
            let more = length.saturating_sub(known.len());
            let place = (length - floors.len()).min(known.len());
            let mut prices = known.clone();
            prices.splice(place..place, std::iter::repeat_n(0, more));
            return (prices, 0);
        }
        let found =
            self.relaxation.as_mut().and_then(|relaxation| relaxation.prices(scope, aim, floors, work));
        found.unwrap_or_else(|| (vec![0; length], 0))
    }
}

/// No prices at all: what adds most is nearest.
fn plain(scope: &Scope) -> Claim {
    let first = scope.rules.preset.levels().first().copied().unwrap_or(LevelName::WantsServed);
    let prices = vec![0; scope.capacities().len() + scope.links()];
    Claim { aim: Aim::Level(first), floors: Vec::new(), prices }
}

/// Plans filled in the order in which columns pay for themselves.
struct Filling<'a> {
    packing: &'a Packing,
    pool: &'a Pool,
    task: Task<'a>,
    values: &'a [i64],
    best: Vec<u16>,
}

impl Filling<'_> {
    fn fill(&mut self, prices: &[f64]) {
        let excess = |&column: &usize| (self.packing.float_excess(column, self.task, prices), column);
        let mut order: Vec<(f64, usize)> = self.pool.columns.iter().map(excess).collect();
        order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let order: Vec<usize> = order.into_iter().map(|(_, column)| column).collect();
        let mut runs = vec![0; self.packing.len()];
        self.packing.fill(&mut runs, &order);
        if Packing::total(&runs, self.values) > Packing::total(&self.best, self.values) {
            self.best = runs;
        }
    }
}

impl Round<'_> {
    /// Local search for all levels at once, with half of the work; where a plan was taken up, only around what was
    /// changed in it.
    pub(crate) fn improve(&mut self) {
        let values = self.weighed();
        if self.around.is_none() {
            self.fill_at_prices(&values);
        }
        let Some(wide) = &self.wide else { return };
        let rows = self.packing.capacity.len();
        let columns = self.nearest_first();
        let mut search = LocalSearch::new(&self.packing, &columns, &values, &self.runs);
        let work = self.budget / 2;
        if let Some(around) = &self.around {
            search.wander(around, work, self.stop);
        } else {
            let priced = (0u32..).zip(&wide.lead.prices).take(rows).filter(|&(_, &price)| price > 0);
            let priced: Vec<u32> = priced.map(|(row, _)| row).collect();
            search.settle(work);
            search.wander(&priced, work.saturating_sub(search.work()), self.stop);
        }
        let work = search.work();
        self.runs = search.runs();
        self.count_served();
        self.budget = self.budget.saturating_sub(work);
        self.spent.search += work;
    }

    /// Whoever receives anything is counted.
    fn count_served(&mut self) {
        let served = |&column: &usize| matches!(self.packing.kinds.get(column), Some(Kind::Served(_)));
        let served: Vec<usize> = self.pool.columns.iter().copied().filter(served).collect();
        self.packing.fill(&mut self.runs, &served);
    }

    /// Adjusts the prices of the first level and, at all prices met, fills a plan in the order in which columns pay
    /// for themselves; takes up the best (A. Caprara, M. Fischetti, P. Toth, "A heuristic method for the set
    /// covering problem", Operations Research 47(5), 1999, 730-743). What leads is replaced by the best prices.
    fn fill_at_prices(&mut self, values: &[i64]) {
        let Some(&name) = self.scope.rules.preset.levels().first() else { return };
        let Some(mut wide) = self.wide.take() else { return };
        let aim = Aim::Level(name);
        let gains = self.gains(aim);
        let allowed = self.budget / 4;
        let (prices, mut work) = wide.prices(&self.scope, 0, aim, &[], allowed);
        let even = Claim { aim, floors: Vec::new(), prices };
        let mut filling = Filling {
            packing: &self.packing,
            pool: &self.pool,
            task: Task { gains: &gains, floors: &[] },
            values,
            best: self.runs.clone(),
        };
        let float = |claim: &Claim| -> Vec<f64> {
            claim.prices.iter().map(|&price| price as f64 / SCALE as f64).collect()
        };
        filling.fill(&float(&even));
        let target = Packing::total(&filling.best, &gains);
        let pass = self.pass() + self.pool.columns.len() as u64 / 2;
        let uneven = wide.relaxation.as_mut().and_then(|it| it.uneven(&self.scope, &even));
        let (start, more) = uneven.unwrap_or_else(|| (even.clone(), 0));
        work += more;
        let rounds = (allowed.saturating_sub(work) / pass).min(ADJUSTMENTS);
        let (closer, passes) = adjusted(&self.scope, &start, target, rounds, &mut |prices| {
            filling.fill(prices);
        });
        work += passes * pass;
        self.runs = filling.best;
        wide.lead = if self.bound(&closer).scaled < self.bound(&even).scaled { closer } else { even };
        wide.adjusted = true;
        self.wide = Some(wide);
        self.spent.search += work;
        self.budget = self.budget.saturating_sub(work);
    }

    /// Work of one pass over all rings.
    fn pass(&self) -> u64 {
        let looked_up = self.scope.rules.preset.levels().iter().any(|level| level.counts_back_arcs());
        let rings = self.spent.rings * if looked_up { LOOKED_UP } else { 1 };
        (rings + 4 * self.scope.market.arcs.len() as u64) / PASSED + 1
    }

    /// The columns of the pool, nearest to paying for themselves first.
    fn nearest_first(&self) -> Vec<usize> {
        let Some(wide) = &self.wide else { return self.pool.columns.clone() };
        let rows = self.packing.capacity.len();
        let missing = |&column: &usize| {
            let kind = self.packing.kinds.get(column);
            (kind.map_or(0, |&kind| -wide.lead.excess(&self.scope, rows, kind)), column)
        };
        let mut order: Vec<(i128, usize)> = self.pool.columns.iter().map(missing).collect();
        order.sort_unstable();
        order.into_iter().map(|(_, column)| column).collect()
    }

    /// Runs the column that serves an aim at least cost to the levels; nothing where none can.
    pub(crate) fn run_one_of(&mut self, aim: &[i64]) {
        let (columns, values) = (self.nearest_first(), self.weighed());
        let mut search = LocalSearch::new(&self.packing, &columns, &values, &self.runs);
        let serving = search.numbered(|column| aim.get(column).is_some_and(|&gain| gain > 0));
        if let Some((_, best)) = search.best_of(&serving) {
            search.run(best);
            let (before, now) = (self.packing.used(&self.runs), self.packing.used(&search.runs()));
            let less = (0u32..).zip(before.iter().zip(&now)).filter(|(_, (before, now))| before > now);
            self.around = Some(less.map(|(row, _)| row).collect());
            self.runs = search.runs();
        }
    }

    /// By how much each of these offers, by id, would raise the first level if it started one chain, as far as
    /// changes around it show.
    pub(crate) fn raised_by(&self, offers: &[u64]) -> Vec<i64> {
        let market = self.scope.market;
        let columns = self.nearest_first();
        let first = self.scope.rules.preset.levels().first();
        let values = first.map_or_else(Vec::new, |&name| self.gains(Aim::Level(name)));
        let mut search = LocalSearch::new(&self.packing, &columns, &values, &self.runs);
        let before = search.value();
        let offer_of = |column: usize| match self.packing.kinds.get(column) {
            Some(&Kind::Step { arc, place: 1 }) => {
                let arc = market.arcs.get(arc as usize)?;
                market.offers.get(arc.offer as usize).map(|offer| offer.id)
            }
            _ => None,
        };
        let raised = offers.iter().map(|&offer| {
            let using = search.numbered(|column| offer_of(column) == Some(offer));
            search.best_of(&using).map_or(0, |(value, _)| (value - before).max(0))
        });
        raised.collect()
    }

    /// Gains of all floors and levels at once: a unit of one outweighs what a few columns add of those after it.
    /// Levels that would not fit are left out, the last first.
    fn weighed(&self) -> Vec<i64> {
        let mut parts: Vec<Vec<i64>> = self.kept.iter().map(|floor| floor.coefficients.clone()).collect();
        let levels = self.scope.rules.preset.levels();
        parts.extend(levels.iter().map(|&name| self.gains(Aim::Level(name))));
        while parts.len() > 1 {
            let (mut unit, mut most) = (1, 0);
            let mut sums = vec![0i128; self.packing.len()];
            for part in parts.iter().rev() {
                for (sum, &gain) in sums.iter_mut().zip(part) {
                    *sum += unit * i128::from(gain);
                }
                most = sums.iter().map(|sum| sum.abs()).max().unwrap_or(0);
                unit = FEW * most + 1;
            }
            // A plan of a million runs still adds up.
            if most < 1 << 42 {
                return sums.into_iter().map(|sum| i64::try_from(sum).unwrap_or(0)).collect();
            }
            parts.pop();
        }
        parts.pop().unwrap_or_default()
    }

    /// Prices of the level before, in the measure of this one: where those were adjusted to all rings, these are
    /// nearer than prices of a circulation.
    fn carried_over(&self, claim: &Claim, bound: i64) -> Option<Claim> {
        let (before, cut) = (self.levels.last()?, self.cuts.last()?);
        if before.bound <= 0 || bound <= 0 {
            return None;
        }
        let measure = |&price: &u64| {
            let price = i128::from(price) * i128::from(bound) / i128::from(before.bound);
            u64::try_from(price).unwrap_or(u64::MAX)
        };
        let mut prices: Vec<u64> = cut.claim.prices.iter().map(measure).collect();
        prices.push(0);
        Some(Claim { prices, ..claim.clone() })
    }

    /// The bound of a level, from a circulation and, where that leaves a gap, from prices adjusted to all rings.
    pub(crate) fn wide_level(&mut self, name: LevelName) {
        let aim = Aim::Level(name);
        let gains = self.gains(aim);
        let value = self.value(&gains);
        let place = self.levels.len();
        let allowed = self.budget / 4;
        let Some(mut wide) = self.wide.take() else { return };
        let known = !wide.known.is_empty();
        let led = place == 0 && self.floors.is_empty() && wide.adjusted;
        let (prices, mut work) = if led {
            (wide.lead.prices.clone(), 0)
        } else {
            wide.prices(&self.scope, place, aim, &self.floors, allowed)
        };
        let mut claim = Claim { aim, floors: self.floors.clone(), prices };
        let mut bound = self.bound(&claim);
        let pass = self.pass();
        let mut starts = Vec::new();
        if value < bound.value && !known && !led {
            starts.extend(self.carried_over(&claim, bound.value));
            starts.push(claim.clone());
            if let Some((uneven, more)) =
                wide.relaxation.as_mut().and_then(|it| it.uneven(&self.scope, &claim))
            {
                work += more;
                starts.push(uneven);
            }
        }
        for start in starts {
            let rounds = (allowed.saturating_sub(work) / pass).min(ADJUSTMENTS);
            if rounds == 0 || (self.stop)() {
                break;
            }
            let (closer, passes) = adjusted(&self.scope, &start, value, rounds, &mut |_| {});
            work += passes * pass;
            let told = self.bound(&closer);
            if told.scaled < bound.scaled {
                (claim, bound) = (closer, told);
                break;
            }
        }
        self.wide = Some(wide);
        self.spent.search += work;
        self.budget = self.budget.saturating_sub(work);
        let proved = value >= bound.value;
        if !proved {
            self.stopped = Stopped::ByWork;
        }
        self.levels.push(Level { name, value, bound: bound.value, proved, prices: claim.prices.clone() });
        self.cuts.push(Cut::new(&self.scope, claim, bound, value));
        self.floors.push(Floor { aim, least: value });
        self.kept.push(AtLeast { coefficients: gains, least: value });
    }
}
