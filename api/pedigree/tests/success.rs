//! Pooling of success rates. The fit in three levels, its posterior means and intervals, and the pooled reversion
//! rate by `SciPy` 1.17.1 (`integrate.quad` over the logit, `optimize.minimize`, `beta.cdf` of the mixture).
#![allow(clippy::unwrap_used, reason = "test code")]

use storksbill_pedigree::beta_binomial::{BetaBinomial, Trials};
use storksbill_pedigree::intervals::{Confidence, Proportion};
use storksbill_pedigree::nested::{Nested, Told};
use storksbill_pedigree::stability::{GrowerYear, reversion};
use storksbill_pedigree::success::{
    Basis, CrossRecord, Estimate, Exceeds, GroupPair, Pools, Stage, StageCounts,
};

const LEVEL: Confidence = Confidence::NINETY_FIVE;
const ZONAL_IVY: GroupPair = GroupPair { seed_group: 1, pollen_group: 2 };
const IVY_ZONAL: GroupPair = GroupPair { seed_group: 2, pollen_group: 1 };

/// Florets that took, of those worked: crosses by seed parent.
const TOOK: [&[(u64, u64)]; 6] = [
    &[(12, 40), (9, 38), (15, 42)],
    &[(2, 36), (0, 20), (4, 44)],
    &[(20, 40), (31, 48)],
    &[(6, 30)],
    &[(3, 25), (8, 33), (5, 28), (1, 12)],
    &[(18, 35), (10, 40)],
];

fn seed_parents() -> Vec<Vec<Trials>> {
    TOOK.iter().map(|crosses| crosses.iter().map(|&(y, n)| Trials::new(y, n).unwrap()).collect()).collect()
}

fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() < within, "{found} for {expected}");
}

fn fit() -> Nested {
    Nested::fit(&seed_parents(), BetaBinomial { alpha: 1.0, beta: 2.0 })
}

#[test]
fn the_greatest_likelihood_of_three_levels() {
    let found = fit();
    near(found.log_likelihood, -41.646_717_285_86, 1e-8);
    near(found.between.alpha, 2.056_823, 2e-4);
    near(found.between.beta, 5.278_795, 5e-4);
    near(found.within_total, 68.795_78, 2e-2);
    // From elsewhere it climbs the same hill.
    let other = Nested::fit(&seed_parents(), BetaBinomial { alpha: 40.0, beta: 10.0 });
    near(other.log_likelihood, found.log_likelihood, 1e-9);
}

#[test]
fn seed_parents_and_crosses_between_their_own_counts_and_the_group() {
    let (nested, parents) = (fit(), seed_parents());
    let close = |told: Told, mean: f64, low: f64, high: f64| {
        near(told.mean, mean, 2e-5);
        near(told.interval.low, low, 2e-4);
        near(told.interval.high, high, 2e-4);
    };
    let of = |parent: usize| parents.get(parent).unwrap();
    close(nested.seed_parent(of(1), LEVEL), 0.079_800_42, 0.030_238_19, 0.147_963_54);
    close(nested.seed_parent(of(3), LEVEL), 0.221_927_77, 0.090_979_52, 0.386_542_47);
    close(nested.seed_parent(of(2), LEVEL), 0.541_368_34, 0.416_471_66, 0.663_466_04);
    let cross = |parent: usize, y, n| nested.cross(of(parent), Trials::new(y, n).unwrap(), LEVEL);
    close(cross(1, 0, 20), 0.061_826_50, 0.010_731_30, 0.142_838_30);
    close(cross(1, 0, 0), 0.079_800_42, 0.013_920_62, 0.183_265_45);
    close(cross(3, 6, 30), 0.215_269_26, 0.099_899_65, 0.359_647_84);
    close(cross(2, 31, 48), 0.584_300_71, 0.467_798_49, 0.696_846_33);
}

fn record(groups: GroupPair, seed_parent: u64, pollen_parent: u64, took: u64, florets: u64) -> CrossRecord {
    let counts = StageCounts { florets: Some(florets), took: Some(took), ..StageCounts::default() };
    CrossRecord { groups, seed_parent, pollen_parent, counts }
}

fn records() -> Vec<CrossRecord> {
    let mut records = Vec::new();
    for (seed_parent, crosses) in (100..).zip(TOOK) {
        for (pollen_parent, &(took, florets)) in (200..).zip(crosses) {
            // In two records, which are one cross.
            let first = took / 2;
            records.push(record(ZONAL_IVY, seed_parent, pollen_parent, first, florets / 2));
            records.push(record(ZONAL_IVY, seed_parent, pollen_parent, took - first, florets - florets / 2));
        }
    }
    records
}

#[test]
fn a_pool_by_group_and_direction() {
    let mut records = records();
    records.push(record(IVY_ZONAL, 300, 100, 0, 60));
    let pools = Pools::new(&records, Stage::Took, 5);
    let behind = |estimate: &Estimate| (estimate.records, estimate.crosses, estimate.seed_parents);

    let cross = pools.cross(ZONAL_IVY, 102, 201, LEVEL);
    near(cross.mean, 0.584_300_71, 2e-4);
    assert_eq!(cross.basis, Basis::ThreeLevels);
    assert_eq!(behind(&cross), (30, 15, 6));
    assert_eq!((cross.own, cross.own_records), (Trials::new(31, 48).unwrap(), 2));

    // Not yet tried: its seed parent's rate, less surely.
    let planned = pools.cross(ZONAL_IVY, 102, 999, LEVEL);
    let parent = pools.seed_parent(ZONAL_IVY, 102, LEVEL);
    near(planned.mean, parent.mean, 1e-12);
    assert!(planned.interval.low < parent.interval.low && planned.interval.high > parent.interval.high);
    // A new seed parent: the group's.
    near(pools.seed_parent(ZONAL_IVY, 999, LEVEL).mean, pools.group(ZONAL_IVY, LEVEL).mean, 1e-6);
    let group = pools.group(ZONAL_IVY, LEVEL);
    let unknown = pools.seed_parent(ZONAL_IVY, 999, LEVEL);
    near(unknown.interval.low, group.interval.low, 2e-3);
    near(unknown.interval.high, group.interval.high, 2e-3);

    // The other direction learned nothing from this one.
    let reciprocal = pools.cross(IVY_ZONAL, 300, 100, LEVEL);
    assert_eq!((reciprocal.basis, behind(&reciprocal)), (Basis::WeakPrior, (1, 1, 1)));
    near(reciprocal.mean, 1.0 / 62.0, 1e-12);
    // A pair without any record: the prior alone.
    let nothing = pools.group(GroupPair { seed_group: 9, pollen_group: 9 }, LEVEL);
    assert_eq!((nothing.basis, behind(&nothing)), (Basis::WeakPrior, (0, 0, 0)));
    near(nothing.mean, 0.5, 1e-12);
    near(nothing.interval.low, 0.025, 1e-12);
}

#[test]
fn fewer_records_take_fewer_levels() {
    let basis =
        |records: &[CrossRecord]| Pools::new(records, Stage::Took, 5).cross(ZONAL_IVY, 1, 1, LEVEL).basis;
    let mut few = vec![record(ZONAL_IVY, 1, 1, 1, 30), record(ZONAL_IVY, 1, 2, 14, 30)];
    assert_eq!(basis(&few), Basis::WeakPrior);
    few.push(record(ZONAL_IVY, 2, 1, 28, 30));
    assert_eq!(basis(&few), Basis::TwoLevels);
    let alike: Vec<CrossRecord> = (1..6).map(|parent| record(ZONAL_IVY, parent, 1, 10, 20)).collect();
    assert_eq!(basis(&alike), Basis::OneRate);
    let never: Vec<CrossRecord> = (1..6).map(|parent| record(ZONAL_IVY, parent, 1, 0, 20)).collect();
    let found = Pools::new(&never, Stage::Took, 5).cross(ZONAL_IVY, 1, 1, LEVEL);
    assert_eq!(found.basis, Basis::OneRate);
    // Jeffreys's interval of 0 of 100.
    near(found.interval.high, Proportion::new(0, 100).unwrap().jeffreys(Confidence::NINETY_FIVE).high, 1e-12);
}

#[test]
fn the_stages_of_a_cross() {
    let counts = StageCounts {
        florets: Some(12),
        took: Some(7),
        seeds: Some(24),
        sown: Some(20),
        germinated: Some(13),
        kept: Some(2),
    };
    let trials = |stage| counts.trials(stage, 5).map(|trials| (trials.count(), trials.of()));
    assert_eq!(trials(Stage::Took), Some((7, 12)));
    assert_eq!(trials(Stage::Seeded), Some((24, 35)));
    assert_eq!(trials(Stage::Germinated), Some((13, 20)));
    assert_eq!(trials(Stage::Kept), Some((2, 13)));
    assert_eq!(counts.check(), Ok(()));
    // More seeds than ovules are left out of the pool, as are missing counts.
    let odd = StageCounts { seeds: Some(36), ..counts };
    assert_eq!(odd.trials(Stage::Seeded, 5), None);
    assert_eq!(StageCounts { sown: None, ..counts }.trials(Stage::Germinated, 5), None);
    let groups = ZONAL_IVY;
    let records = [CrossRecord { groups, seed_parent: 1, pollen_parent: 2, counts: odd }];
    assert_eq!(Pools::new(&records, Stage::Seeded, 5).left_out, 1);
}

#[test]
fn a_count_is_held_against_the_one_before_it() {
    let counts = StageCounts { seeds: Some(9), germinated: Some(11), ..StageCounts::default() };
    let refusal = Exceeds { count: "germinated", given: 11, before: "seeds", most: 9 };
    assert_eq!(counts.check(), Err(refusal));
    assert_eq!(refusal.to_string(), "germinated (11) cannot be more than seeds (9)");
    let counts = StageCounts { florets: Some(3), took: Some(4), ..StageCounts::default() };
    assert_eq!(counts.check().unwrap_err().before, "florets");
}

#[test]
fn reversion_pooled_over_growers_and_years() {
    let reports = [(20, 1), (12, 0), (30, 5), (8, 0), (25, 2)]
        .map(|(plants, reverted)| GrowerYear { plants, reverted });
    let found = reversion(&reports, LEVEL).unwrap();
    near(found.rate, 0.082_242_434, 1e-6);
    near(found.effective_plants, 85.790_95, 1e-3);
    near(found.interval.low, 0.040_519_331, 1e-6);
    near(found.interval.high, 0.159_773_978, 1e-6);
    assert_eq!((found.reports, found.plants), (5, 95));
    // Growers who disagree tell less.
    let disagree = [(20, 20), (20, 0), (20, 1)].map(|(plants, reverted)| GrowerYear { plants, reverted });
    assert!(reversion(&disagree, LEVEL).unwrap().effective_plants < 10.0);
    // Two reports: plants count in full, as in Wilson's interval.
    let two = [(20, 1), (12, 0)].map(|(plants, reverted)| GrowerYear { plants, reverted });
    assert_eq!(reversion(&two, LEVEL).unwrap().interval, Proportion::new(1, 32).unwrap().wilson(LEVEL));
    assert_eq!(reversion(&[GrowerYear { plants: 0, reverted: 0 }], LEVEL), None);
}
