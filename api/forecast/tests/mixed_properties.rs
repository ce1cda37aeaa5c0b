//! What must hold of any crossed mixed model, on generated records, and a dense check of the whole
//! computation by the textbook formulas: generalised least squares for the fixed effects and
//! `cov(u, y) V^-1 (y - X b)` for the others (Robinson 1991, Statistical Science 6:15-51).
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]
#![allow(clippy::many_single_char_names, reason = "the letters of the formulas")]

use storksbill_forecast::mixed::{
    Criterion, Factor, MixedError, Model, Options, Penalty, Pick, Prior, Solution,
};

const GROWERS: usize = 9;
const CULTIVARS: usize = 7;
const SEASONS: usize = 5;

#[derive(Clone)]
struct Records {
    y: Vec<f64>,
    warm: Vec<f64>,
    grower: Vec<u32>,
    cultivar: Vec<u32>,
    season: Vec<u32>,
    age: Vec<f64>,
    weight: Vec<f64>,
}

/// Linear congruential generator with the multiplier of Knuth, The Art of Computer Programming 2, 3.3.4.
fn uniforms() -> impl FnMut() -> f64 {
    let mut state = 1_u64;
    move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }
}

fn records(rows: usize) -> Records {
    let mut uniform = uniforms();
    let mut records = Records {
        y: vec![],
        warm: vec![],
        grower: vec![],
        cultivar: vec![],
        season: vec![],
        age: vec![],
        weight: vec![],
    };
    for row in 0..rows {
        // Seven rows in a hundred come from a grower nobody knows.
        let grower = if row % 14 == 13 { Factor::NONE } else { u32::try_from(row * 5 % GROWERS).unwrap() };
        let cultivar = u32::try_from((row * row + row / 3) % CULTIVARS).unwrap();
        let season = u32::try_from(row / 4 % SEASONS).unwrap();
        let warm = if uniform() < 0.4 { 1.0 } else { 0.0 };
        let age = 1.0 + 4.0 * uniform();
        let grower_effect = if grower == Factor::NONE { 0.0 } else { 0.08 * f64::from(grower % 3) };
        records.y.push(
            7.1 - 0.1 * warm
                + grower_effect
                + 0.05 * f64::from(cultivar)
                + 0.04 * f64::from(season % 2)
                + 0.02 * age * (f64::from(cultivar % 4) - 1.5)
                + 0.3 * (uniform() - 0.5),
        );
        records.warm.push(warm);
        records.grower.push(grower);
        records.cultivar.push(cultivar);
        records.season.push(season);
        records.age.push(age);
        records.weight.push(0.5 + uniform());
    }
    records
}

/// Cultivars with intercept and slope on age; growers and seasons with an intercept.
fn with_model<T>(records: &Records, weighted: bool, then: impl FnOnce(&Model) -> T) -> T {
    let ones = vec![1.0; records.y.len()];
    let covariates: &[&[f64]] = &[&ones, &records.age];
    let factors = [
        Factor { level: &records.grower, levels: GROWERS, covariates: &[] },
        Factor { level: &records.cultivar, levels: CULTIVARS, covariates },
        Factor { level: &records.season, levels: SEASONS, covariates: &[] },
    ];
    let weights = weighted.then_some(records.weight.as_slice());
    then(&Model::new(&records.y, weights, &[&ones, &records.warm], &factors).unwrap())
}

/// Growers, cultivar intercept, covariance and slope, seasons.
const THETA: [f64; 5] = [0.7, 0.9, -0.2, 0.3, 0.4];
const SIGMA: f64 = 0.1;

fn close(found: f64, wanted: f64, tolerance: f64) {
    assert!((found - wanted).abs() <= tolerance * wanted.abs().max(1.0), "{found}, wanted {wanted}");
}

fn same(one: &Solution, other: &Solution, tolerance: f64) {
    for (a, b) in one.beta.iter().zip(&other.beta) {
        close(*a, *b, tolerance);
    }
    for (a, b) in one.effects.iter().flatten().zip(other.effects.iter().flatten()) {
        close(*a, *b, tolerance);
    }
    for (a, b) in one.beta_errors().iter().zip(other.beta_errors()) {
        close(*a, b, tolerance);
    }
}

/// Inverse and log determinant by Gauss-Jordan elimination.
fn inverse(matrix: &[Vec<f64>]) -> (Vec<Vec<f64>>, f64) {
    let n = matrix.len();
    let mut work: Vec<Vec<f64>> = matrix
        .iter()
        .enumerate()
        .map(|(i, row)| row.iter().copied().chain((0..n).map(|j| if i == j { 1.0 } else { 0.0 })).collect())
        .collect();
    let mut log_det = 0.0;
    for i in 0..n {
        let pivot = work[i][i];
        log_det += pivot.ln();
        work[i].iter_mut().for_each(|entry| *entry /= pivot);
        let row = work[i].clone();
        for (k, other) in work.iter_mut().enumerate().filter(|(k, _)| *k != i) {
            let times = other[i];
            assert!(k < n);
            other.iter_mut().zip(&row).for_each(|(entry, value)| *entry -= times * value);
        }
    }
    (work.into_iter().map(|row| row[n..].to_vec()).collect(), log_det)
}

/// The 9 + 14 + 5 random columns of each row and their covariance in units of the residual variance.
fn dense_design(records: &Records) -> (Vec<Vec<f64>>, Vec<Vec<f64>>) {
    let columns = GROWERS + 2 * CULTIVARS + SEASONS;
    let z = (0..records.y.len())
        .map(|row| {
            let mut line = vec![0.0; columns];
            if records.grower[row] != Factor::NONE {
                line[records.grower[row] as usize] = 1.0;
            }
            let cultivar = GROWERS + 2 * records.cultivar[row] as usize;
            line[cultivar] = 1.0;
            line[cultivar + 1] = records.age[row];
            line[GROWERS + 2 * CULTIVARS + records.season[row] as usize] = 1.0;
            line
        })
        .collect();
    let mut g = vec![vec![0.0; columns]; columns];
    let [grower, intercept, across, slope, season] = THETA;
    for (i, line) in g.iter_mut().enumerate() {
        line[i] = if i < GROWERS { grower * grower } else { season * season };
    }
    for level in 0..CULTIVARS {
        let i = GROWERS + 2 * level;
        g[i][i] = intercept * intercept;
        g[i][i + 1] = intercept * across;
        g[i + 1][i] = intercept * across;
        g[i + 1][i + 1] = across * across + slope * slope;
    }
    (z, g)
}

#[test]
fn agrees_with_dense_formulas() {
    let records = records(60);
    let n = records.y.len();
    let (z, g) = dense_design(&records);
    let zg: Vec<Vec<f64>> = z
        .iter()
        .map(|row| (0..g.len()).map(|j| row.iter().zip(&g).map(|(a, g)| a * g[j]).sum()).collect())
        .collect();
    let v: Vec<Vec<f64>> = (0..n)
        .map(|i| {
            (0..n)
                .map(|j| {
                    let residual = if i == j { 1.0 / records.weight[i] } else { 0.0 };
                    zg[i].iter().zip(&z[j]).map(|(a, b)| a * b).sum::<f64>() + residual
                })
                .collect()
        })
        .collect();
    let (v_inverse, log_det_v) = inverse(&v);
    let x: Vec<[f64; 2]> = records.warm.iter().map(|warm| [1.0, *warm]).collect();
    let times = |row: &[f64], column: &dyn Fn(usize) -> f64| -> f64 {
        row.iter().enumerate().map(|(i, a)| a * column(i)).sum()
    };
    let vx: Vec<[f64; 2]> =
        v_inverse.iter().map(|row| [times(row, &|i| x[i][0]), times(row, &|i| x[i][1])]).collect();
    let xvx: Vec<Vec<f64>> =
        (0..2).map(|a| (0..2).map(|b| (0..n).map(|i| x[i][a] * vx[i][b]).sum()).collect()).collect();
    let (xvx_inverse, log_det_x) = inverse(&xvx);
    let xvy: Vec<f64> = (0..2).map(|a| (0..n).map(|i| vx[i][a] * records.y[i]).sum()).collect();
    let beta: Vec<f64> = xvx_inverse.iter().map(|row| times(row, &|a| xvy[a])).collect();
    let residual: Vec<f64> = (0..n).map(|i| records.y[i] - x[i][0] * beta[0] - x[i][1] * beta[1]).collect();
    let vr: Vec<f64> = v_inverse.iter().map(|row| times(row, &|i| residual[i])).collect();
    let squares: f64 = residual.iter().zip(&vr).map(|(a, b)| a * b).sum();
    let effects: Vec<f64> = (0..g.len()).map(|j| (0..n).map(|i| zg[i][j] * vr[i]).sum()).collect();

    with_model(&records, true, |model| {
        let ml = model.criterion(&THETA, Criterion::Ml).unwrap();
        let n = n as f64;
        close(ml.criterion, log_det_v + n * (1.0 + (std::f64::consts::TAU * squares / n).ln()), 1e-10);
        close(ml.sigma, (squares / n).sqrt(), 1e-10);
        let reml = model.criterion(&THETA, Criterion::Reml).unwrap();
        let left = n - 2.0;
        close(
            reml.criterion,
            log_det_v + log_det_x + left * (1.0 + (std::f64::consts::TAU * squares / left).ln()),
            1e-10,
        );
        let solution = model.solve(&THETA, SIGMA, &[]).unwrap();
        let found: Vec<f64> = solution.effects.iter().flatten().copied().collect();
        assert_eq!(found.len(), effects.len());
        for (found, wanted) in found.iter().zip(&effects) {
            close(*found, *wanted, 1e-10);
        }
        for (found, wanted) in solution.beta.iter().zip(&beta) {
            close(*found, *wanted, 1e-10);
        }
        let covariance = solution.beta_covariance();
        for (found, wanted) in covariance.iter().flatten().zip(xvx_inverse.iter().flatten()) {
            close(found / (SIGMA * SIGMA), *wanted, 1e-10);
        }
        // Error variance of x'b + z'u for a warm plant of grower 4, cultivar 2 at age 3, season 1:
        // z'Gz - c'V^-1c + (x - X'V^-1c)' (X'V^-1X)^-1 (x - X'V^-1c) with c = ZGz.
        let mut own = vec![0.0; g.len()];
        own[4] = 1.0;
        own[GROWERS + 4] = 1.0;
        own[GROWERS + 5] = 3.0;
        own[GROWERS + 2 * CULTIVARS + 1] = 1.0;
        let c: Vec<f64> = zg.iter().map(|row| times(row, &|j| own[j])).collect();
        let vc: Vec<f64> = v_inverse.iter().map(|row| times(row, &|i| c[i])).collect();
        let left: Vec<f64> =
            (0..2).map(|a| 1.0 - (0..vc.len()).map(|i| x[i][a] * vc[i]).sum::<f64>()).collect();
        let prior: f64 = g.iter().zip(&own).map(|(row, value)| value * times(row, &|j| own[j])).sum();
        let explained: f64 = c.iter().zip(&vc).map(|(a, b)| a * b).sum();
        let fixed: f64 =
            xvx_inverse.iter().zip(&left).map(|(row, value)| value * times(row, &|a| left[a])).sum();
        let picks = [
            Pick::intercept(0, 4),
            Pick { factor: 1, level: 2, covariates: &[1.0, 3.0] },
            Pick::intercept(2, 1),
        ];
        let predicted = solution.predict(&[1.0, 1.0], &picks).unwrap();
        close(predicted.variance / (SIGMA * SIGMA), prior - explained + fixed, 1e-9);
        let mean: f64 = beta[0] + beta[1] + effects.iter().zip(&own).map(|(a, b)| a * b).sum::<f64>();
        close(predicted.mean, mean, 1e-10);
    });
}

#[test]
fn order_of_rows_does_not_matter() {
    let forth = records(200);
    let mut back = forth.clone();
    back.y.reverse();
    back.warm.reverse();
    back.grower.reverse();
    back.cultivar.reverse();
    back.season.reverse();
    back.age.reverse();
    back.weight.reverse();
    let solve = |records: &Records| {
        with_model(records, true, |model| {
            (model.criterion(&THETA, Criterion::Reml).unwrap(), model.solve(&THETA, SIGMA, &[]).unwrap())
        })
    };
    let (one, other) = (solve(&forth), solve(&back));
    close(one.0.criterion, other.0.criterion, 1e-9);
    same(&one.1, &other.1, 1e-9);
}

#[test]
fn names_of_levels_do_not_matter() {
    let plain = records(200);
    let mut renamed = plain.clone();
    let new_name = |level: u32| (level * 5 + 3) % u32::try_from(CULTIVARS).unwrap();
    renamed.cultivar.iter_mut().for_each(|level| *level = new_name(*level));
    let solve =
        |records: &Records| with_model(records, false, |model| model.solve(&THETA, SIGMA, &[]).unwrap());
    let (one, mut other) = (solve(&plain), solve(&renamed));
    let by_new_name = other.effects[1].clone();
    for level in 0..CULTIVARS {
        let named = new_name(u32::try_from(level).unwrap()) as usize;
        other.effects[1][2 * level..2 * level + 2].copy_from_slice(&by_new_name[2 * named..2 * named + 2]);
    }
    same(&one, &other, 1e-9);
}

#[test]
fn a_weight_of_two_is_a_row_twice() {
    let mut weighted = records(60);
    weighted.weight.fill(1.0);
    weighted.weight[17] = 2.0;
    let mut doubled = weighted.clone();
    doubled.y.push(weighted.y[17]);
    doubled.warm.push(weighted.warm[17]);
    doubled.grower.push(weighted.grower[17]);
    doubled.cultivar.push(weighted.cultivar[17]);
    doubled.season.push(weighted.season[17]);
    doubled.age.push(weighted.age[17]);
    let one = with_model(&weighted, true, |model| model.solve(&THETA, SIGMA, &[]).unwrap());
    let other = with_model(&doubled, false, |model| model.solve(&THETA, SIGMA, &[]).unwrap());
    same(&one, &other, 1e-9);
    let plain = with_model(&weighted, false, |model| model.solve(&THETA, SIGMA, &[]).unwrap());
    assert!((one.beta[0] - plain.beta[0]).abs() > 1e-6, "the weight changed nothing");
}

/// Which factor is eliminated is a matter of cost: an empty factor with more levels takes that place.
#[test]
fn elimination_does_not_show() {
    let records = records(120);
    let ones = vec![1.0; 120];
    let nobody = vec![Factor::NONE; 120];
    let factor = |level, levels| Factor { level, levels, covariates: &[] };
    let growers = factor(&records.grower, GROWERS);
    let cultivars = factor(&records.cultivar, CULTIVARS);
    let x: &[&[f64]] = &[&ones, &records.warm];
    let one = Model::new(&records.y, None, x, &[growers, cultivars]).unwrap();
    let other = Model::new(&records.y, None, x, &[growers, cultivars, factor(&nobody, 50)]).unwrap();
    let (one_value, other_value) = (
        one.criterion(&[0.7, 0.9], Criterion::Ml).unwrap(),
        other.criterion(&[0.7, 0.9, 0.5], Criterion::Ml).unwrap(),
    );
    close(one_value.criterion, other_value.criterion, 1e-10);
    let (one, other) =
        (one.solve(&[0.7, 0.9], SIGMA, &[]).unwrap(), other.solve(&[0.7, 0.9, 0.5], SIGMA, &[]).unwrap());
    same(&one, &other, 1e-10);
    let picks = [Pick::intercept(0, 2), Pick::intercept(1, 3)];
    let (a, b) = (one.predict(&[1.0, 0.0], &picks).unwrap(), other.predict(&[1.0, 0.0], &picks).unwrap());
    close(a.mean, b.mean, 1e-10);
    close(a.variance / b.variance, 1.0, 1e-9);
    // A level without rows has its prior: mean zero, the factor's variance.
    let unseen = other.predict(&[0.0, 0.0], &[Pick::intercept(2, 7)]).unwrap();
    close(unseen.mean, 0.0, 1e-12);
    close(unseen.variance / (0.5 * SIGMA).powi(2), 1.0, 1e-10);
}

#[test]
fn a_prior_holds_where_there_are_no_data() {
    let given = [Some(Prior { mean: 7.2, sd: 0.2 }), Some(Prior { mean: 6.9, sd: 0.3 })];
    let factor = Factor { level: &[], levels: 3, covariates: &[] };
    let empty = Model::new(&[], None, &[&[], &[]], &[factor]).unwrap();
    let solution = empty.solve(&[0.5], SIGMA, &given).unwrap();
    let predicted = solution.predict(&[0.0, 1.0], &[Pick::intercept(0, 1)]).unwrap();
    close(predicted.mean, 6.9, 1e-12);
    close(predicted.variance, 0.09 + (0.5 * SIGMA).powi(2), 1e-12);
    assert_eq!(
        empty.fit(&Options { criterion: Criterion::Reml, start: None, penalty: None }).unwrap_err(),
        MixedError::TooFewRows { rows: 0, columns: 2 }
    );

    // Rows of the first group alone: its mean is pulled from prior to data, the other keeps its prior.
    let y = [7.5, 7.6, 7.4, 7.5];
    let level = [0, 0, 1, 1];
    let (one, none) = ([1.0; 4], [0.0; 4]);
    let model = Model::new(&y, None, &[&one, &none], &[Factor { level: &level, levels: 2, covariates: &[] }])
        .unwrap();
    assert_eq!(model.solve(&[0.0], SIGMA, &[]).unwrap_err(), MixedError::RankDeficient { column: 1 });
    let solution = model.solve(&[0.0], SIGMA, &given).unwrap();
    let (prior, data) = (1.0 / 0.04, 4.0 / (SIGMA * SIGMA));
    close(solution.beta[0], (prior * 7.2 + data * 7.5) / (prior + data), 1e-12);
    close(solution.beta[1], 6.9, 1e-12);
    close(solution.beta_covariance()[0][0], 1.0 / (prior + data), 1e-12);
    close(solution.beta_covariance()[1][1], 0.09, 1e-12);
}

#[test]
fn alike_rows_stay_finite() {
    let level: Vec<u32> = (0..30).map(|row| row % 5).collect();
    let ones = [1.0; 30];
    for value in [0.0, 7.25, -3e5] {
        let y = [value; 30];
        let factors = [Factor { level: &level, levels: 5, covariates: &[] }];
        let model = Model::new(&y, None, &[&ones], &factors).unwrap();
        let estimate =
            model.fit(&Options { criterion: Criterion::Reml, start: None, penalty: None }).unwrap();
        assert!(estimate.criterion.is_finite() && estimate.sigma > 0.0, "{estimate:?}");
        assert!(estimate.theta[0] == 0.0, "{estimate:?}");
        let solution = model.solve(&estimate.theta, estimate.sigma, &[]).unwrap();
        close(solution.beta[0], value, 1e-12);
        assert!(solution.predict(&[1.0], &[Pick::intercept(0, 0)]).unwrap().variance.is_finite());
    }
    // Levels that explain everything: the ratio has no maximum, the search must still end.
    let y: Vec<f64> = level.iter().map(|&level| f64::from(level)).collect();
    let factors = [Factor { level: &level, levels: 5, covariates: &[] }];
    let model = Model::new(&y, None, &[&ones], &factors).unwrap();
    let estimate = model.fit(&Options { criterion: Criterion::Reml, start: None, penalty: None }).unwrap();
    assert!(estimate.criterion.is_finite() && estimate.theta[0].is_finite(), "{estimate:?}");
}

/// Residuals that differ more within levels than between them: the likelihood is greatest at no variance.
#[test]
fn a_variance_of_zero_is_found() {
    let level: Vec<u32> = (0..24).map(|row| row / 4).collect();
    let y: Vec<f64> = (0..24).map(|row| [-1.5, 0.5, 1.25, -0.25][row % 4] + 0.01 * row as f64).collect();
    let ones = [1.0; 24];
    let factors = [Factor { level: &level, levels: 6, covariates: &[] }];
    let model = Model::new(&y, None, &[&ones], &factors).unwrap();
    for start in [None, Some(&[0.0][..]), Some(&[4.0][..])] {
        let estimate = model.fit(&Options { criterion: Criterion::Reml, start, penalty: None }).unwrap();
        assert!(estimate.converged && estimate.theta[0] == 0.0, "{estimate:?}");
        let mean = y.iter().sum::<f64>() / 24.0;
        let sd = (y.iter().map(|y| (y - mean).powi(2)).sum::<f64>() / 23.0).sqrt();
        close(estimate.sigma, sd, 1e-9);
    }
    // Under a penalty the ratio stays positive.
    let penalty = Some(Penalty { centre: &[0.5], weight: 1.0 });
    let held = model.fit(&Options { criterion: Criterion::Reml, start: None, penalty }).unwrap();
    assert!(held.converged && held.theta[0] > 0.01 && held.theta[0] < 0.5, "{held:?}");
}

/// The start changes the way, not the end; no other ratios near it have a lower criterion.
#[test]
fn starts_agree_on_a_minimum() {
    let records = records(300);
    with_model(&records, true, |model| {
        let fit = |start| model.fit(&Options { criterion: Criterion::Reml, start, penalty: None }).unwrap();
        let found = fit(None);
        assert!(found.converged, "{found:?}");
        let starts: [&[f64]; 2] = [&[0.1, 0.1, 0.0, 0.1, 0.1], &[3.0, 2.0, 1.0, 0.5, 3.0]];
        for start in starts {
            let other = fit(Some(start));
            assert!((other.criterion - found.criterion).abs() < 1e-4, "{other:?} {found:?}");
        }
        for i in 0..found.theta.len() {
            for step in [-0.02, 0.02] {
                let mut moved = found.theta.clone();
                moved[i] += step;
                let there = model.criterion(&moved, Criterion::Reml).unwrap().criterion;
                assert!(there > found.criterion - 1e-6, "{i} {step}: {there} {}", found.criterion);
            }
        }
    });
}

#[test]
fn a_heavy_penalty_keeps_its_centre() {
    let records = records(200);
    with_model(&records, false, |model| {
        let centre = [0.5, 0.67, 0.0, 0.3, 0.5];
        let penalty = Some(Penalty { centre: &centre, weight: 1e7 });
        let held = model.fit(&Options { criterion: Criterion::Reml, start: Some(&centre), penalty }).unwrap();
        for i in [0, 1, 3, 4] {
            close(held.theta[i], centre[i], 1e-3);
        }
        let free = model.fit(&Options { criterion: Criterion::Reml, start: None, penalty: None }).unwrap();
        assert!(held.criterion > free.criterion + 0.1, "{held:?} {free:?}");
    });
}

#[test]
fn what_cannot_be_used_is_named() {
    fn factor(level: &[u32]) -> [Factor<'_>; 1] {
        [Factor { level, levels: 2, covariates: &[] }]
    }
    let ones = [1.0; 4];
    let y = [1.0, 2.0, 3.0, 4.5];
    let level = [0, 1, 0, 1];
    let refused = |y: &[f64], weights: Option<&[f64]>, x: &[&[f64]], level: &[u32]| {
        Model::new(y, weights, x, &factor(level)).unwrap_err()
    };
    assert_eq!(refused(&y, None, &[&ones[..3]], &level), MixedError::Length { expected: 4, found: 3 });
    assert_eq!(refused(&y, Some(&[1.0]), &[&ones], &level), MixedError::Length { expected: 4, found: 1 });
    assert_eq!(refused(&y, None, &[&ones], &level[..2]), MixedError::Length { expected: 4, found: 2 });
    assert_eq!(refused(&[1.0, f64::NAN, 1.0, 1.0], None, &[&ones], &level), MixedError::BadRow { row: 1 });
    assert_eq!(refused(&y, Some(&[1.0, 1.0, 0.0, 1.0]), &[&ones], &level), MixedError::BadRow { row: 2 });
    assert_eq!(refused(&y, None, &[&ones], &[0, 0, 0, 2]), MixedError::NoSuchLevel { factor: 0, row: 3 });
    let wide = Factor { level: &level, levels: 30_000, covariates: &[] };
    assert!(matches!(
        Model::new(&y, None, &[&ones], &[wide, wide]),
        Err(MixedError::TooManyLevels { columns: 30_001 })
    ));

    let double = Model::new(&y, None, &[&ones, &[2.0; 4]], &factor(&level)).unwrap();
    let deficient = MixedError::RankDeficient { column: 1 };
    assert_eq!(double.criterion(&[1.0], Criterion::Ml).unwrap_err(), deficient);
    assert_eq!(double.solve(&[1.0], 1.0, &[]).unwrap_err(), deficient);
    let model = Model::new(&y, None, &[&ones], &factor(&level)).unwrap();
    let options = Options { criterion: Criterion::Ml, start: None, penalty: None };
    assert_eq!(model.criterion(&[f64::NAN], Criterion::Ml).unwrap_err(), MixedError::BadTheta);
    assert_eq!(
        model.criterion(&[], Criterion::Ml).unwrap_err(),
        MixedError::Length { expected: 1, found: 0 }
    );
    let penalty = Some(Penalty { centre: &[0.0], weight: 1.0 });
    assert_eq!(model.fit(&Options { penalty, ..options }).unwrap_err(), MixedError::BadTheta);
    assert_eq!(model.solve(&[1.0], 0.0, &[]).unwrap_err(), MixedError::BadSigma);
    let prior = [Some(Prior { mean: 1.0, sd: 0.0 })];
    assert_eq!(model.solve(&[1.0], 1.0, &prior).unwrap_err(), MixedError::BadPrior { column: 0 });
    let solution = model.solve(&[1.0], 1.0, &[]).unwrap();
    for pick in [Pick::intercept(1, 0), Pick::intercept(0, 2), Pick { factor: 0, level: 0, covariates: &[] }]
    {
        assert_eq!(solution.predict(&[1.0], &[pick]).unwrap_err(), MixedError::BadPick);
    }
    assert_eq!(solution.predict(&[], &[]).unwrap_err(), MixedError::Length { expected: 1, found: 0 });
}
