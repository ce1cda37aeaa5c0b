//! Linear mixed models with crossed or nested factors: `y = X b + Z u + e`.
//!
//! Each factor `k` gives every one of its levels a vector of `q` effects, `u ~ N(0, sigma^2 T_k T_k')` with
//! `T_k` lower triangular; the residual of row `i` is `e ~ N(0, sigma^2 / w_i)`. The free elements of all
//! `T_k`, factor by factor and column by column, are `theta`; for a factor with an intercept alone `theta`
//! is the ratio of its standard deviation to the residual one.
//!
//! # Method
//!
//! The profiled deviance of Bates, Maechler, Bolker & Walker 2015, Journal of Statistical Software 67(1),
//! equations 32 to 42: with `Lambda` the block diagonal of the `T_k`
//!
//! ```text
//! | Lambda'Z'WZ Lambda + I   .     |   | L_Z   .  | | L_Z   .  |'
//! | X'WZ Lambda              X'WX  | = | R'    L_X| | R'    L_X|
//! ML    -2 log L = log|L_Z|^2 + n (1 + log(2 pi r / n)) - sum log w
//! REML           = log|L_Z|^2 + log|L_X|^2 + (n-p) (1 + log(2 pi r / (n-p))) - sum log w
//! ```
//!
//! where `r` is the penalised residual sum of squares. The cross-products are formed once. The factor with
//! the most columns is eliminated level by level, its block being block diagonal; what is left, a dense
//! matrix of order `q2 + p` (the columns of the other factors and of `X`), is factored by blocks.
//!
//! | step | time | memory |
//! |---|---|---|
//! | [`Model::new`] | rows x (entries of a row)^2 | the distinct pairs of levels seen together |
//! | [`Model::criterion`] | sum over eliminated levels of (columns met there)^2, plus (q2+p)^3 / 3 | 8 (q2+p)^2 bytes |
//! | [`Model::fit`] | 20 to 40 criteria for 3 variance ratios | the same |
//! | [`Solution::predict`] | (q2+p)^2 / 2 | none kept |
#![allow(clippy::indexing_slicing, reason = "numeric kernel: lengths and levels are checked once, on entry")]
#![allow(
    clippy::cast_possible_truncation,
    reason = "columns are at most MOST_COLUMNS and rows at most u32::MAX, both checked on entry"
)]

use ndarray::{Array2, Axis};
use storksbill_numerics::cholesky::{self, NotPositive};
use storksbill_numerics::minimise::minimise;

/// Columns left after elimination, at most: their matrix then takes 3.2 GB.
const MOST_COLUMNS: usize = 20_000;
/// A ratio beyond this is taken for none found; see [`Estimate::converged`].
const LARGEST_RATIO: f64 = 1e4;
/// Fewer products than this are not worth a second thread.
const WORTH_A_THREAD: usize = 200_000;

/// A grouping of the rows.
#[derive(Debug, Clone, Copy)]
pub struct Factor<'a> {
    /// For each row its level, below `levels`, or [`Factor::NONE`].
    pub level: &'a [u32],
    pub levels: usize,
    /// The columns multiplying the effects of a level, one value a row. Empty is an intercept alone.
    pub covariates: &'a [&'a [f64]],
}

impl Factor<'_> {
    /// The row belongs to no level of the factor.
    pub const NONE: u32 = u32::MAX;
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Criterion {
    /// Restricted maximum likelihood: for reporting standard deviations.
    Reml,
    /// Maximum likelihood: for comparing models with different fixed effects.
    Ml,
}

/// What [`Model::fit`] is to minimise and from where.
#[derive(Debug, Clone, Copy)]
pub struct Options<'a> {
    pub criterion: Criterion,
    /// First `theta`; without one every ratio starts at 1.
    pub start: Option<&'a [f64]>,
    pub penalty: Option<Penalty<'a>>,
}

/// Adds `weight * sum(log(theta / centre)^2)` to the criterion, over the diagonal elements: a normal prior on
/// the logarithm of each ratio, with variance `1 / weight`.
#[derive(Debug, Clone, Copy)]
pub struct Penalty<'a> {
    /// As long as `theta`; the elements for the diagonals are positive, the others not read.
    pub centre: &'a [f64],
    pub weight: f64,
}

/// The criterion at one `theta`, the fixed effects and the residual standard deviation taken out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Profiled {
    /// -2 log likelihood, restricted or full.
    pub criterion: f64,
    /// Residual standard deviation that minimises it at this `theta`.
    pub sigma: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Estimate {
    pub theta: Vec<f64>,
    /// Residual standard deviation.
    pub sigma: f64,
    /// For each factor the standard deviations of its effects, in the unit of `y`.
    pub sds: Vec<Vec<f64>>,
    /// For each factor the correlations of its effects, `(2,1), (3,1), ..., (3,2), ...`; zero where one of the
    /// two does not vary.
    pub correlations: Vec<Vec<f64>>,
    /// -2 log likelihood, without any penalty.
    pub criterion: f64,
    /// Times the criterion was computed.
    pub evaluations: usize,
    /// False if the search ended anywhere but at a minimum.
    pub converged: bool,
}

/// A normal prior on one fixed effect.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    pub mean: f64,
    pub sd: f64,
}

/// One level of one factor, for [`Solution::predict`].
#[derive(Debug, Clone, Copy)]
pub struct Pick<'a> {
    /// Position of the factor as given to [`Model::new`].
    pub factor: usize,
    pub level: usize,
    /// One value for each effect of the level.
    pub covariates: &'a [f64],
}

impl Pick<'_> {
    /// A level of a factor with an intercept alone.
    pub fn intercept(factor: usize, level: usize) -> Pick<'static> {
        Pick { factor, level, covariates: &[1.0] }
    }
}

/// Posterior mean and variance of a sum of effects, without the residual.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prediction {
    pub mean: f64,
    pub variance: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum MixedError {
    /// Column, factor, weights, `theta` or priors of another length than the model asks for.
    #[error("{found} values given, {expected} needed")]
    Length { expected: usize, found: usize },
    /// A value, weight or covariate of this row is not finite, or the weight not positive.
    #[error("row {row} holds a number that cannot be used")]
    BadRow { row: usize },
    /// A row's level is not below the factor's number of levels.
    #[error("row {row} names a level that factor {factor} has not")]
    NoSuchLevel { factor: usize, row: usize },
    /// There are not more rows than fixed effects.
    #[error("{rows} rows cannot settle {columns} fixed effects and a residual")]
    TooFewRows { rows: usize, columns: usize },
    /// This column of `X` is a combination of the ones before it, and no prior settles its effect.
    #[error("fixed effect {column} cannot be told from the ones before it")]
    RankDeficient { column: usize },
    /// More columns remain after elimination than the model holds in memory.
    #[error("{columns} columns are left after elimination, at most {MOST_COLUMNS} can be held")]
    TooManyLevels { columns: usize },
    /// An element of `theta`, a start or a penalty is not finite, or the centre of a penalty not positive.
    #[error("a variance ratio is not a usable number")]
    BadTheta,
    /// The residual standard deviation is not finite and positive.
    #[error("the residual standard deviation is not a usable number")]
    BadSigma,
    /// The prior of this fixed effect has a mean that is not finite or a deviation that is not positive.
    #[error("the prior of fixed effect {column} is not usable")]
    BadPrior { column: usize },
    /// The prediction asks for a factor, level or covariate the model has not.
    #[error("the prediction names what the model has not")]
    BadPick,
    /// The ratios are so large that the factor is lost to rounding.
    #[error("the variance ratios are too large to compute with")]
    Rounding,
}

/// Where a factor's effects stand.
#[derive(Debug, Clone, Copy)]
struct Block {
    /// Effects of a level.
    size: usize,
    levels: usize,
    /// First dense column; for the eliminated factor not used.
    start: usize,
    /// First element of `theta`.
    theta: usize,
}

/// What a dense random column is: effect `position` of a level of `factor`.
#[derive(Debug, Clone, Copy)]
struct Place {
    factor: u32,
    position: u32,
}

/// Rows of a sparse matrix, `planes` values for each entry, columns ascending in a row.
#[derive(Debug, Clone, Default)]
struct Sparse {
    start: Vec<usize>,
    column: Vec<u32>,
    planes: Vec<Vec<f64>>,
}

impl Sparse {
    fn with_planes(planes: usize) -> Self {
        Sparse { start: vec![0], column: Vec::new(), planes: vec![Vec::new(); planes] }
    }

    fn row(&self, row: usize) -> std::ops::Range<usize> {
        self.start[row]..self.start[row + 1]
    }
}

/// The cross-products of one data set, from which criteria and solutions are computed for any `theta`.
#[derive(Debug, Clone)]
pub struct Model {
    rows: usize,
    log_weights: f64,
    blocks: Vec<Block>,
    eliminated: Option<usize>,
    /// Dense random columns; the columns of X follow them, then y.
    width: usize,
    fixed: usize,
    places: Vec<Place>,
    /// `Z'WZ` of the eliminated factor: a square for each level.
    own: Vec<f64>,
    /// For each eliminated level its products with all dense columns, a plane for each effect of the level.
    across: Sparse,
    /// Transpose of the pattern of `across`: for each dense column the entries in it.
    holders: Sparse,
    holder_level: Vec<u32>,
    /// Products among the dense random columns: columns of earlier factors and the level's own block.
    among: Sparse,
    /// Products of X and y with all dense columns, row by row.
    tail: Vec<f64>,
    /// Least squares fit of `y` on `X`, taken off `y` so that sums of squares keep their digits.
    shift: Vec<f64>,
    /// Least penalised sum of squares told from rounding.
    floor: f64,
    deficient: Option<usize>,
}

/// The rows as given, with what every pass over them needs.
struct Rows<'a> {
    y: &'a [f64],
    weights: Option<&'a [f64]>,
    x: &'a [&'a [f64]],
    factors: &'a [Factor<'a>],
    blocks: &'a [Block],
    eliminated: Option<usize>,
    width: usize,
}

impl Rows<'_> {
    fn weight(&self, row: usize) -> f64 {
        self.weights.map_or(1.0, |weights| weights[row])
    }

    fn covariate(&self, factor: usize, position: usize, row: usize) -> f64 {
        self.factors[factor].covariates.get(position).map_or(1.0, |column| column[row])
    }

    /// Entries of the row among the random columns of the factors up to `last`, the eliminated one left out.
    fn random_entries(&self, row: usize, last: usize, entries: &mut Vec<(usize, f64)>) {
        for (k, (factor, block)) in self.factors.iter().zip(self.blocks).enumerate().take(last + 1) {
            let level = factor.level[row];
            if self.eliminated == Some(k) || level == Factor::NONE {
                continue;
            }
            let first = block.start + level as usize * block.size;
            for position in 0..block.size {
                entries.push((first + position, self.covariate(k, position, row)));
            }
        }
    }

    fn fixed_entries(&self, row: usize, entries: &mut Vec<(usize, f64)>) {
        for (a, column) in self.x.iter().enumerate() {
            if column[row] != 0.0 {
                entries.push((self.width + a, column[row]));
            }
        }
        entries.push((self.width + self.x.len(), self.y[row]));
    }

    /// Rows sorted by their level of a factor, and where each level starts; rows without a level left out.
    fn sorted(&self, factor: usize) -> (Vec<usize>, Vec<u32>) {
        let (levels, of_row) = (self.factors[factor].levels, self.factors[factor].level);
        let mut start = vec![0; levels + 1];
        for &level in of_row.iter().filter(|&&level| level != Factor::NONE) {
            start[level as usize + 1] += 1;
        }
        for level in 0..levels {
            start[level + 1] += start[level];
        }
        let mut next = start.clone();
        let mut order = vec![0; start[levels]];
        for (row, &level) in of_row.iter().enumerate().filter(|&(_, &level)| level != Factor::NONE) {
            order[next[level as usize]] = row as u32;
            next[level as usize] += 1;
        }
        (start, order)
    }

    /// For each level of a factor its products with the dense columns `entries` lists for a row: one sparse
    /// row a level, a plane for each effect.
    fn products(&self, factor: usize, entries_of: impl Fn(usize, &mut Vec<(usize, f64)>)) -> Sparse {
        let size = self.blocks[factor].size;
        let columns = self.width + self.x.len() + 1;
        let mut sparse = Sparse::with_planes(size);
        let (start, order) = self.sorted(factor);
        let mut sums = vec![0.0; columns * size];
        let mut met = vec![false; columns];
        let mut touched: Vec<u32> = Vec::new();
        let mut entries = Vec::new();
        for bounds in start.windows(2) {
            for &row in &order[bounds[0]..bounds[1]] {
                let row = row as usize;
                entries.clear();
                entries_of(row, &mut entries);
                let weight = self.weight(row);
                for &(column, value) in &entries {
                    if !met[column] {
                        met[column] = true;
                        touched.push(column as u32);
                    }
                    for position in 0..size {
                        sums[column * size + position] +=
                            weight * value * self.covariate(factor, position, row);
                    }
                }
            }
            touched.sort_unstable();
            for column in touched.drain(..) {
                sparse.column.push(column);
                met[column as usize] = false;
                for (position, plane) in sparse.planes.iter_mut().enumerate() {
                    let sum = &mut sums[column as usize * size + position];
                    plane.push(*sum);
                    *sum = 0.0;
                }
            }
            sparse.start.push(sparse.column.len());
        }
        sparse
    }

    /// Products of the columns of X and of y with every dense column.
    fn tail(&self) -> Vec<f64> {
        let columns = self.width + self.x.len() + 1;
        let mut tail = vec![0.0; (self.x.len() + 1) * columns];
        let (mut random, mut fixed) = (Vec::new(), Vec::new());
        for row in 0..self.y.len() {
            random.clear();
            fixed.clear();
            self.random_entries(row, self.factors.len(), &mut random);
            self.fixed_entries(row, &mut fixed);
            let weight = self.weight(row);
            for &(a, left) in &fixed {
                let into = &mut tail[(a - self.width) * columns..][..columns];
                for &(column, value) in random.iter().chain(&fixed) {
                    into[column] += weight * left * value;
                }
            }
        }
        tail
    }
}

impl Model {
    /// Checks the rows and forms every cross-product.
    ///
    /// `x` holds the columns of the fixed effects, each as long as `y`; `weights` are inverse residual
    /// variances in units of `sigma^-2`. No rows at all are allowed: such a model can be solved under priors.
    pub fn new(
        y: &[f64],
        weights: Option<&[f64]>,
        x: &[&[f64]],
        factors: &[Factor<'_>],
    ) -> Result<Model, MixedError> {
        check_rows(y, weights, x, factors)?;
        let eliminated =
            (0..factors.len()).rev().max_by_key(|&k| factors[k].levels * factors[k].covariates.len().max(1));
        let (mut blocks, mut places) = (Vec::with_capacity(factors.len()), Vec::new());
        let (mut width, mut theta) = (0, 0);
        for (k, factor) in factors.iter().enumerate() {
            let size = factor.covariates.len().max(1);
            blocks.push(Block { size, levels: factor.levels, start: width, theta });
            theta += size * (size + 1) / 2;
            if eliminated != Some(k) {
                width += factor.levels * size;
                if width + x.len() > MOST_COLUMNS {
                    return Err(MixedError::TooManyLevels { columns: width + x.len() });
                }
                places.extend(
                    (0..factor.levels * size)
                        .map(|i| Place { factor: k as u32, position: (i % size) as u32 }),
                );
            }
        }
        let (shift, deficient) = least_squares(y, weights, x);
        let mut left = y.to_vec();
        for (column, effect) in x.iter().zip(&shift).filter(|&(_, &effect)| effect != 0.0) {
            for (left, value) in left.iter_mut().zip(*column) {
                *left -= effect * value;
            }
        }
        let rows = Rows { y: &left, weights, x, factors, blocks: &blocks, eliminated, width };
        let (mut own, mut across) = (Vec::new(), Sparse::with_planes(1));
        if let Some(k) = eliminated {
            own = own_squares(&rows, k);
            across = rows.products(k, |row, entries| {
                rows.random_entries(row, factors.len(), entries);
                rows.fixed_entries(row, entries);
            });
        }
        let mut among = Sparse::with_planes(1);
        for k in (0..factors.len()).filter(|&k| eliminated != Some(k)) {
            let products = rows.products(k, |row, entries| rows.random_entries(row, k, entries));
            for level in 0..factors[k].levels {
                for plane in &products.planes {
                    among.column.extend(&products.column[products.row(level)]);
                    among.planes[0].extend(&plane[products.row(level)]);
                    among.start.push(among.column.len());
                }
            }
        }
        let (holders, holder_level) = transpose(&across, width + x.len() + 1);
        let tail = rows.tail();
        let largest = y.iter().fold(0.0, |most: f64, value| most.max(value.abs()));
        let rounding = 1e-10 * if largest > 0.0 { largest } else { 1.0 };
        let total: f64 = (0..y.len()).map(|row| rows.weight(row)).sum();
        let log_weights = weights.map_or(0.0, |weights| weights.iter().map(|w| w.ln()).sum());
        let floor = rounding * rounding * total;
        Ok(Model {
            rows: y.len(),
            log_weights,
            blocks,
            eliminated,
            width,
            fixed: x.len(),
            places,
            own,
            across,
            holders,
            holder_level,
            among,
            tail,
            shift,
            floor,
            deficient,
        })
    }

    pub fn rows(&self) -> usize {
        self.rows
    }

    /// Number of elements of `theta`: `q (q+1) / 2` for each factor.
    pub fn theta_len(&self) -> usize {
        self.blocks.last().map_or(0, |block| block.theta + block.size * (block.size + 1) / 2)
    }

    /// The criterion and the residual standard deviation at `theta`.
    pub fn criterion(&self, theta: &[f64], criterion: Criterion) -> Result<Profiled, MixedError> {
        self.check_fit(theta)?;
        self.profiled(&mut System::new(self), theta, criterion)
    }

    /// The `theta` with the least criterion.
    ///
    /// The criterion does not change when a column of a `T_k` changes sign, so the search is free and a
    /// minimum at a ratio of zero (no variance) is an ordinary one; the diagonals returned are not negative.
    pub fn fit(&self, options: &Options<'_>) -> Result<Estimate, MixedError> {
        let diagonals = self.diagonals();
        let mut start = vec![0.0; self.theta_len()];
        for &i in &diagonals {
            start[i] = 1.0;
        }
        if let Some(moments) = self.moments() {
            start = moments;
        }
        if let Some(given) = options.start {
            self.check_fit(given)?;
            start.copy_from_slice(given);
            // Zero is a stationary point by symmetry, whether or not it is a minimum.
            for &i in diagonals.iter().filter(|&&i| given[i].abs() < 0.02) {
                start[i] = 0.02;
            }
        }
        self.check_fit(&start)?;
        if let Some(penalty) = options.penalty {
            self.check_fit(penalty.centre)?;
            let positive = diagonals.iter().all(|&i| penalty.centre[i] > 0.0);
            if !(positive && penalty.weight.is_finite() && penalty.weight >= 0.0) {
                return Err(MixedError::BadTheta);
            }
        }
        let mut system = System::new(self);
        let mut objective = |theta: &[f64]| {
            if theta.iter().any(|ratio| ratio.abs() > LARGEST_RATIO) {
                return f64::INFINITY;
            }
            let penalty = options.penalty.map_or(0.0, |penalty| {
                let logs = diagonals.iter().map(|&i| (theta[i] / penalty.centre[i]).abs().ln().powi(2));
                penalty.weight * logs.sum::<f64>()
            });
            self.profiled(&mut system, theta, options.criterion)
                .map_or(f64::INFINITY, |profiled| profiled.criterion + penalty)
        };
        let mut found = minimise(&start, &mut objective);
        for block in &self.blocks {
            for column in 0..block.size {
                let range = column_of(block, column);
                if found.at[range.start] < 0.0 {
                    for ratio in &mut found.at[range.clone()] {
                        *ratio = -*ratio;
                    }
                }
                // A minimum at zero is only approached; take zero itself where nothing is lost by it.
                if found.at[range.start] < 0.1 && range.len() == 1 {
                    let mut without = found.at.clone();
                    without[range.start] = 0.0;
                    let value = objective(&without);
                    found.evaluations += 1;
                    if value <= found.value + 1e-7 {
                        (found.at, found.value) = (without, value);
                    }
                }
            }
        }
        let profiled = self.profiled(&mut system, &found.at, options.criterion)?;
        let (mut sds, mut correlations) = (Vec::new(), Vec::new());
        for template in self.templates(&found.at) {
            let (sd, correlation) = template.spreads(profiled.sigma);
            sds.push(sd);
            correlations.push(correlation);
        }
        Ok(Estimate {
            theta: found.at,
            sigma: profiled.sigma,
            sds,
            correlations,
            criterion: profiled.criterion,
            evaluations: found.evaluations + 1,
            converged: found.converged,
        })
    }

    /// The effects given `theta` and `sigma`: best linear unbiased predictions, or posterior means where
    /// `priors` gives some fixed effects a prior. `priors` is empty or has one entry a column of X.
    pub fn solve(&self, theta: &[f64], sigma: f64, priors: &[Option<Prior>]) -> Result<Solution, MixedError> {
        self.check_theta(theta)?;
        if !(sigma.is_finite() && sigma > 0.0) {
            return Err(MixedError::BadSigma);
        }
        let mut prior_terms = vec![(0.0, 0.0); self.fixed];
        if !priors.is_empty() {
            check_length(self.fixed, priors.len())?;
            for (column, prior) in priors.iter().enumerate() {
                if let Some(Prior { mean, sd }) = *prior {
                    if !(mean.is_finite() && sd.is_finite() && sd > 0.0) {
                        return Err(MixedError::BadPrior { column });
                    }
                    prior_terms[column] = ((sigma / sd).powi(2), mean - self.shift[column]);
                }
            }
        }
        let mut system = System::new(self);
        system.assemble(self, theta, &prior_terms)?;
        Ok(Solution::new(self, system, theta, sigma))
    }

    /// Ratios from sums of squares between the levels of each factor, equated to what they are expected to be:
    /// method 1 of Henderson 1953, Biometrics 9:226-252. Rough, but near the optimum where rows are many.
    /// `None` for factors with covariates of their own or sums that settle nothing.
    fn moments(&self) -> Option<Vec<f64>> {
        let count = self.blocks.len();
        if self.blocks.iter().any(|block| block.size != 1) {
            return None;
        }
        let order = self.width + self.fixed + 1;
        let y_products = &self.tail[self.fixed * order..];
        // Weight of each dense column: its product with itself.
        let mut weight = vec![0.0; self.width];
        for (column, weight) in weight.iter_mut().enumerate() {
            *weight = self.among.row(column).next_back().map_or(0.0, |entry| self.among.planes[0][entry]);
        }
        let (mut expected, mut found) = (vec![0.0; (count + 1) * (count + 1)], vec![0.0; count + 1]);
        let mut meet = |one: usize, own: f64, other: usize, others: f64, together: f64| {
            expected[one * (count + 1) + other] += together * together / own;
            if one != other {
                expected[other * (count + 1) + one] += together * together / others;
            }
        };
        for (column, place) in self.places.iter().enumerate().filter(|&(column, _)| weight[column] > 0.0) {
            let k = place.factor as usize;
            found[k] += y_products[column].powi(2) / weight[column];
            for entry in self.among.row(column) {
                let other = self.among.column[entry] as usize;
                let met = self.places[other].factor as usize;
                meet(k, weight[column], met, weight[other], self.among.planes[0][entry]);
            }
        }
        let mut levels: Vec<f64> = self
            .blocks
            .iter()
            .map(|block| {
                weight.iter().skip(block.start).take(block.levels).filter(|&&w| w > 0.0).count() as f64
            })
            .collect();
        if let Some(k) = self.eliminated {
            levels[k] = 0.0;
            for (level, &own) in self.own.iter().enumerate().filter(|&(_, &own)| own > 0.0) {
                levels[k] += 1.0;
                meet(k, own, k, own, own);
                for entry in self.across.row(level) {
                    let (column, together) =
                        (self.across.column[entry] as usize, self.across.planes[0][entry]);
                    if let Some(place) = self.places.get(column) {
                        meet(k, own, place.factor as usize, weight[column], together);
                    } else if column + 1 == order {
                        found[k] += together * together / own;
                    }
                }
            }
        }
        found[count] = y_products[order - 1];
        for k in 0..count {
            expected[k * (count + 1) + count] = levels[k];
            // Every row with a level adds its weight to the total.
            expected[count * (count + 1) + k] = expected[k * (count + 1) + k];
        }
        expected[count * (count + 1) + count] = (self.rows.saturating_sub(self.fixed)) as f64;
        let variances = solve_square(&expected, &found)?;
        let residual = variances[count];
        (residual > 0.0).then(|| {
            variances[..count]
                .iter()
                .map(|variance| (variance / residual).max(0.0).sqrt().clamp(0.1, 3.0))
                .collect()
        })
    }

    fn templates(&self, theta: &[f64]) -> Vec<Template> {
        self.blocks.iter().map(|block| Template::new(block, theta)).collect()
    }

    fn diagonals(&self) -> Vec<usize> {
        self.blocks
            .iter()
            .flat_map(|block| (0..block.size).map(|column| column_of(block, column).start))
            .collect()
    }

    fn check_theta(&self, theta: &[f64]) -> Result<(), MixedError> {
        check_length(self.theta_len(), theta.len())?;
        if theta.iter().all(|ratio| ratio.is_finite()) { Ok(()) } else { Err(MixedError::BadTheta) }
    }

    fn check_fit(&self, theta: &[f64]) -> Result<(), MixedError> {
        self.check_theta(theta)?;
        if self.rows <= self.fixed {
            return Err(MixedError::TooFewRows { rows: self.rows, columns: self.fixed });
        }
        self.deficient.map_or(Ok(()), |column| Err(MixedError::RankDeficient { column }))
    }

    fn profiled(
        &self,
        system: &mut System,
        theta: &[f64],
        criterion: Criterion,
    ) -> Result<Profiled, MixedError> {
        system.assemble(self, theta, &vec![(0.0, 0.0); self.fixed])?;
        let (log_det, degrees) = match criterion {
            Criterion::Ml => (system.log_det_random, self.rows as f64),
            Criterion::Reml => {
                (system.log_det_random + system.log_det_fixed, (self.rows - self.fixed) as f64)
            }
        };
        let variance = system.squares.max(self.floor) / degrees;
        Ok(Profiled {
            criterion: log_det + degrees * (1.0 + (std::f64::consts::TAU * variance).ln()) - self.log_weights,
            sigma: variance.sqrt(),
        })
    }
}

fn check_length(expected: usize, found: usize) -> Result<(), MixedError> {
    if expected == found { Ok(()) } else { Err(MixedError::Length { expected, found }) }
}

fn check_rows(
    y: &[f64],
    weights: Option<&[f64]>,
    x: &[&[f64]],
    factors: &[Factor<'_>],
) -> Result<(), MixedError> {
    let rows = y.len();
    if rows > u32::MAX as usize {
        return Err(MixedError::Length { expected: u32::MAX as usize, found: rows });
    }
    let columns = || {
        std::iter::once(y)
            .chain(x.iter().copied())
            .chain(factors.iter().flat_map(|factor| factor.covariates.iter().copied()))
    };
    for column in columns().chain(weights) {
        check_length(rows, column.len())?;
    }
    for column in columns() {
        if let Some(row) = column.iter().position(|value| !value.is_finite()) {
            return Err(MixedError::BadRow { row });
        }
    }
    if let Some(row) = weights.and_then(|weights| weights.iter().position(|w| !(w.is_finite() && *w > 0.0))) {
        return Err(MixedError::BadRow { row });
    }
    for (k, factor) in factors.iter().enumerate() {
        check_length(rows, factor.level.len())?;
        let outside = |&level: &u32| level != Factor::NONE && level as usize >= factor.levels;
        if let Some(row) = factor.level.iter().position(outside) {
            return Err(MixedError::NoSuchLevel { factor: k, row });
        }
    }
    Ok(())
}

/// Least squares effects, zero for a column that depends on the ones before it, and the first such column.
fn least_squares(y: &[f64], weights: Option<&[f64]>, x: &[&[f64]]) -> (Vec<f64>, Option<usize>) {
    /// Share of a column's length that must be new for it to count as one.
    const NEW_SHARE: f64 = 1e-10;
    let count = x.len();
    let weight = |row: usize| weights.map_or(1.0, |weights| weights[row]);
    let (mut l, mut effects) = (vec![0.0; count * count], vec![0.0; count]);
    let mut present: Vec<(usize, f64)> = Vec::new();
    for (row, &value) in y.iter().enumerate() {
        present.clear();
        present.extend(x.iter().map(|column| column[row]).enumerate().filter(|&(_, entry)| entry != 0.0));
        for (seen, &(a, left)) in present.iter().enumerate() {
            effects[a] += weight(row) * left * value;
            for &(b, right) in &present[..=seen] {
                l[a * count + b] += weight(row) * left * right;
            }
        }
    }
    let mut deficient = None;
    for i in 0..count {
        let length = l[i * count + i];
        for j in 0..=i {
            let known: f64 = (0..j).map(|k| l[i * count + k] * l[j * count + k]).sum();
            let left = l[i * count + j] - known;
            l[i * count + j] = if i == j {
                if left > NEW_SHARE * length { left.sqrt() } else { f64::INFINITY }
            } else {
                left / l[j * count + j]
            };
        }
        if l[i * count + i].is_infinite() {
            // An infinite pivot makes the effect zero; the rest of the row must not touch other columns.
            l[i * count..i * count + i].fill(0.0);
            deficient = deficient.or(Some(i));
        }
    }
    cholesky::forward_small(&l, &mut effects);
    cholesky::backward_small(&l, &mut effects);
    (effects, deficient)
}

/// Solves a small square system by its normal equations, the rows brought to one size first.
fn solve_square(matrix: &[f64], right: &[f64]) -> Option<Vec<f64>> {
    let count = right.len();
    let (mut square, mut solution) = (vec![0.0; count * count], vec![0.0; count]);
    for (row, value) in matrix.chunks(count).zip(right) {
        let size = row.iter().fold(0.0, |most: f64, entry| most.max(entry.abs()));
        if size == 0.0 {
            return None;
        }
        for i in 0..count {
            solution[i] += row[i] / size * value / size;
            for j in 0..count {
                square[i * count + j] += row[i] / size * row[j] / size;
            }
        }
    }
    cholesky::factor_small(&mut square, count).ok()?;
    cholesky::forward_small(&square, &mut solution);
    cholesky::backward_small(&square, &mut solution);
    Some(solution)
}

/// `Z'WZ` of one factor, a square for each level.
fn own_squares(rows: &Rows<'_>, factor: usize) -> Vec<f64> {
    let size = rows.blocks[factor].size;
    let mut squares = vec![0.0; rows.factors[factor].levels * size * size];
    for (row, &level) in rows.factors[factor].level.iter().enumerate() {
        if level == Factor::NONE {
            continue;
        }
        let square = &mut squares[level as usize * size * size..][..size * size];
        for i in 0..size {
            for j in 0..size {
                square[i * size + j] +=
                    rows.weight(row) * rows.covariate(factor, i, row) * rows.covariate(factor, j, row);
            }
        }
    }
    squares
}

/// For each column the entries of `sparse` in it and the rows they stand in.
fn transpose(sparse: &Sparse, columns: usize) -> (Sparse, Vec<u32>) {
    let mut start = vec![0; columns + 1];
    for &column in &sparse.column {
        start[column as usize + 1] += 1;
    }
    for column in 0..columns {
        start[column + 1] += start[column];
    }
    let mut next = start.clone();
    let (mut entry_of, mut row_of) = (vec![0; sparse.column.len()], vec![0; sparse.column.len()]);
    for row in 0..sparse.start.len() - 1 {
        for entry in sparse.row(row) {
            let slot = &mut next[sparse.column[entry] as usize];
            entry_of[*slot] = entry as u32;
            row_of[*slot] = row as u32;
            *slot += 1;
        }
    }
    (Sparse { start, column: entry_of, planes: Vec::new() }, row_of)
}

/// Elements of `theta` for one column of a factor's `T`, the diagonal first.
fn column_of(block: &Block, column: usize) -> std::ops::Range<usize> {
    let before: usize = (0..column).map(|earlier| block.size - earlier).sum();
    let first = block.theta + before;
    first..first + block.size - column
}

/// `T` of one factor: lower triangular, row by row.
#[derive(Debug, Clone)]
struct Template {
    size: usize,
    entries: Vec<f64>,
}

impl Template {
    fn new(block: &Block, theta: &[f64]) -> Self {
        let size = block.size;
        let mut entries = vec![0.0; size * size];
        for column in 0..size {
            for (row, &ratio) in (column..size).zip(&theta[column_of(block, column)]) {
                entries[row * size + column] = ratio;
            }
        }
        Template { size, entries }
    }

    fn at(&self, row: usize, column: usize) -> f64 {
        self.entries[row * self.size + column]
    }

    /// Replaces `x` by `T' x`.
    fn apply_transposed(&self, x: &mut [f64]) {
        for j in 0..self.size {
            x[j] = (j..self.size).map(|i| self.at(i, j) * x[i]).sum();
        }
    }

    /// Replaces `x` by `T x`.
    fn apply(&self, x: &mut [f64]) {
        for i in (0..self.size).rev() {
            x[i] = (0..=i).map(|j| self.at(i, j) * x[j]).sum();
        }
    }

    fn spreads(&self, sigma: f64) -> (Vec<f64>, Vec<f64>) {
        let product = |a: usize, b: usize| (0..self.size).map(|k| self.at(a, k) * self.at(b, k)).sum::<f64>();
        let sds = (0..self.size).map(|i| sigma * product(i, i).sqrt()).collect();
        let mut correlations = Vec::new();
        for j in 0..self.size {
            for i in j + 1..self.size {
                let scale = (product(i, i) * product(j, j)).sqrt();
                correlations.push(if scale > 0.0 { product(i, j) / scale } else { 0.0 });
            }
        }
        (sds, correlations)
    }
}

/// The factored system at one `theta`; its memory serves the next one again.
#[derive(Debug, Clone)]
struct System {
    /// Factor of each eliminated level's square.
    own: Vec<f64>,
    /// What the elimination leaves of `across`: `L^-1 T' Z'W [Z Lambda, X, y]`.
    across: Vec<Vec<f64>>,
    /// Factor of the dense part in the lower triangle; the last row is y's.
    dense: Array2<f64>,
    log_det_random: f64,
    log_det_fixed: f64,
    /// Penalised residual sum of squares.
    squares: f64,
}

impl System {
    fn new(model: &Model) -> Self {
        let order = model.width + model.fixed + 1;
        System {
            own: model.own.clone(),
            across: model.across.planes.clone(),
            dense: Array2::zeros((order, order)),
            log_det_random: 0.0,
            log_det_fixed: 0.0,
            squares: 0.0,
        }
    }

    /// Forms and factors the system; `priors` holds for each fixed effect the precision in units of
    /// `sigma^-2` and the mean.
    fn assemble(&mut self, model: &Model, theta: &[f64], priors: &[(f64, f64)]) -> Result<(), MixedError> {
        let templates = model.templates(theta);
        let log_det_own = self.eliminate(model, &templates)?;
        self.fill(model, &templates);
        let order = model.width + model.fixed;
        for (a, &(precision, mean)) in priors.iter().enumerate() {
            let column = model.width + a;
            self.dense[[column, column]] += precision;
            self.dense[[order, column]] += precision * mean;
            self.dense[[order, order]] += precision * mean * mean;
        }
        let (mut top, mut last) = self.dense.view_mut().split_at(Axis(0), order);
        let (mut square, _) = top.view_mut().split_at(Axis(1), order);
        cholesky::factor(square.view_mut()).map_err(|NotPositive(row)| {
            row.checked_sub(model.width)
                .map_or(MixedError::Rounding, |column| MixedError::RankDeficient { column })
        })?;
        let (mut explained, left) = last.view_mut().split_at(Axis(1), order);
        cholesky::solve_transposed(&square.view(), explained.view_mut());
        let log = |range: std::ops::Range<usize>| range.map(|i| 2.0 * square[[i, i]].ln()).sum::<f64>();
        self.log_det_random = log_det_own + log(0..model.width);
        self.log_det_fixed = log(model.width..order);
        self.squares = left[[0, 0]] - explained.iter().map(|entry| entry * entry).sum::<f64>();
        Ok(())
    }

    /// Factors the eliminated levels and passes their factors over their products with the dense columns;
    /// returns the log determinant of the eliminated block.
    fn eliminate(&mut self, model: &Model, templates: &[Template]) -> Result<f64, MixedError> {
        let Some(k) = model.eliminated else { return Ok(0.0) };
        let (block, template) = (&model.blocks[k], &templates[k]);
        let size = block.size;
        self.own.copy_from_slice(&model.own);
        for (to, from) in self.across.iter_mut().zip(&model.across.planes) {
            to.copy_from_slice(from);
            // Lambda on the dense side: the effects of one level stand side by side.
            let mut entry = 0;
            while let Some(place) = model.across.column.get(entry) {
                let Some(place) = model.places.get(*place as usize) else {
                    entry += 1;
                    continue;
                };
                let template = &templates[place.factor as usize];
                template.apply_transposed(&mut to[entry..entry + template.size]);
                entry += template.size;
            }
        }
        let mut log_det = 0.0;
        let (mut line, mut transformed) = (vec![0.0; size], vec![0.0; size * size]);
        for level in 0..block.levels {
            let square = &mut self.own[level * size * size..][..size * size];
            // T' A T + I.
            for i in 0..size {
                line.copy_from_slice(&square[i * size..][..size]);
                template.apply_transposed(&mut line);
                square[i * size..][..size].copy_from_slice(&line);
            }
            for i in 0..size {
                for j in 0..size {
                    transformed[i * size + j] =
                        (i..size).map(|k| template.at(k, i) * square[k * size + j]).sum::<f64>();
                }
                transformed[i * size + i] += 1.0;
            }
            square.copy_from_slice(&transformed);
            cholesky::factor_small(square, size).map_err(|NotPositive(_)| MixedError::Rounding)?;
            log_det += (0..size).map(|i| 2.0 * square[i * size + i].ln()).sum::<f64>();
            for entry in model.across.row(level) {
                for (value, plane) in line.iter_mut().zip(&self.across) {
                    *value = plane[entry];
                }
                template.apply_transposed(&mut line);
                cholesky::forward_small(square, &mut line);
                for (value, plane) in line.iter().zip(&mut self.across) {
                    plane[entry] = *value;
                }
            }
        }
        Ok(log_det)
    }

    /// Fills the lower triangle of the dense part: `Lambda' Z'WZ Lambda + I` and its fixed rows, less what
    /// the eliminated levels explain. Rows are independent of each other.
    fn fill(&mut self, model: &Model, templates: &[Template]) {
        let across = &self.across;
        let row_work = |(row, into): (usize, &mut [f64])| fill_row(model, templates, across, row, into);
        let order = self.dense.nrows();
        let Some(dense) = self.dense.as_slice_mut() else { return };
        let work: usize =
            (0..model.across.start.len() - 1).map(|level| model.across.row(level).len().pow(2)).sum();
        let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        if work < WORTH_A_THREAD || threads == 1 {
            dense.chunks_mut(order).enumerate().for_each(row_work);
            return;
        }
        let mut shares: Vec<Vec<(usize, &mut [f64])>> = (0..threads).map(|_| Vec::new()).collect();
        for (row, into) in dense.chunks_mut(order).enumerate() {
            shares[row % threads].push((row, into));
        }
        std::thread::scope(|scope| {
            for share in shares {
                scope.spawn(|| share.into_iter().for_each(row_work));
            }
        });
    }
}

fn fill_row(model: &Model, templates: &[Template], across: &[Vec<f64>], row: usize, into: &mut [f64]) {
    into.fill(0.0);
    // One product with dense column `column` reaches the columns of its level's transformed effects.
    let spread = |column: usize, value: f64, into: &mut [f64]| match model.places.get(column) {
        None => into[column] += value,
        Some(place) => {
            let (template, position) = (&templates[place.factor as usize], place.position as usize);
            for j in 0..=position {
                into[column - position + j] += value * template.at(position, j);
            }
        }
    };
    if let Some(place) = model.places.get(row) {
        let (template, position) = (&templates[place.factor as usize], place.position as usize);
        for other in position..template.size {
            let factor = template.at(other, position);
            for entry in model.among.row(row - position + other) {
                spread(model.among.column[entry] as usize, factor * model.among.planes[0][entry], into);
            }
        }
        into[row] += 1.0;
    } else {
        let order = into.len();
        let products = &model.tail[(row - model.width) * order..][..order];
        for (column, &value) in products.iter().enumerate().filter(|&(_, &value)| value != 0.0) {
            spread(column, value, into);
        }
    }
    for holder in model.holders.row(row) {
        let entry = model.holders.column[holder] as usize;
        let first = model.across.start[model.holder_level[holder] as usize];
        let columns = &model.across.column[first..=entry];
        for plane in across {
            let value = plane[entry];
            for (&column, other) in columns.iter().zip(&plane[first..=entry]) {
                into[column as usize] -= value * other;
            }
        }
    }
}

/// Effects and their joint covariance at one `theta` and `sigma`.
#[derive(Debug, Clone)]
pub struct Solution {
    /// Fixed effects, in the order of the columns of X.
    pub beta: Vec<f64>,
    /// For each factor its effects level by level, `q` numbers a level; zero for a level without rows.
    pub effects: Vec<Vec<f64>>,
    pub sigma: f64,
    blocks: Vec<Block>,
    templates: Vec<Template>,
    eliminated: Option<usize>,
    width: usize,
    system: System,
    across_start: Vec<usize>,
    across_column: Vec<u32>,
}

impl Solution {
    fn new(model: &Model, system: System, theta: &[f64], sigma: f64) -> Self {
        let templates = model.templates(theta);
        let order = model.width + model.fixed;
        let mut dense: Vec<f64> = system.dense.row(order).iter().take(order).copied().collect();
        cholesky::backward(&system.dense.view(), &mut dense);
        let mut effects = Vec::with_capacity(model.blocks.len());
        for (k, (block, template)) in model.blocks.iter().zip(&templates).enumerate() {
            let mut own = vec![0.0; block.levels * block.size];
            if model.eliminated == Some(k) {
                for (level, effect) in own.chunks_mut(block.size).enumerate() {
                    for entry in model.across.row(level) {
                        let column = model.across.column[entry] as usize;
                        let times = dense.get(column).map_or(1.0, |value| -value);
                        for (effect, plane) in effect.iter_mut().zip(&system.across) {
                            *effect += times * plane[entry];
                        }
                    }
                    let square = block.size * block.size;
                    cholesky::backward_small(&system.own[level * square..][..square], effect);
                }
            } else {
                own.copy_from_slice(&dense[block.start..][..block.levels * block.size]);
            }
            own.chunks_mut(block.size).for_each(|effect| template.apply(effect));
            effects.push(own);
        }
        Solution {
            beta: dense[model.width..]
                .iter()
                .zip(&model.shift)
                .map(|(effect, shift)| effect + shift)
                .collect(),
            effects,
            sigma,
            blocks: model.blocks.clone(),
            templates,
            eliminated: model.eliminated,
            width: model.width,
            system,
            across_start: model.across.start.clone(),
            across_column: model.across.column.clone(),
        }
    }

    /// Covariance matrix of the fixed effects, row by row.
    pub fn beta_covariance(&self) -> Vec<Vec<f64>> {
        let (_, last_rows) = self.system.dense.view().split_at(Axis(0), self.width);
        let (_, l) = last_rows.split_at(Axis(1), self.width);
        (0..self.beta.len())
            .map(|column| {
                let mut unit = vec![0.0; self.beta.len()];
                unit[column] = self.sigma * self.sigma;
                cholesky::forward(&l, &mut unit, column);
                cholesky::backward(&l, &mut unit);
                unit
            })
            .collect()
    }

    /// Standard errors of the fixed effects.
    pub fn beta_errors(&self) -> Vec<f64> {
        self.beta_covariance().iter().enumerate().map(|(column, row)| row[column].sqrt()).collect()
    }

    /// Posterior of `x'b` plus the effects of the `picks`. A factor not picked adds nothing: the variance of
    /// a level never seen is the caller's to add.
    pub fn predict(&self, x: &[f64], picks: &[Pick<'_>]) -> Result<Prediction, MixedError> {
        check_length(self.beta.len(), x.len())?;
        if x.iter().any(|value| !value.is_finite()) {
            return Err(MixedError::BadPick);
        }
        let mut mean = cholesky::dot(x, &self.beta);
        let mut dense = vec![0.0; self.width + x.len()];
        dense[self.width..].copy_from_slice(x);
        let mut eliminated: Vec<(usize, Vec<f64>)> = Vec::new();
        for pick in picks {
            let block = self.blocks.get(pick.factor).ok_or(MixedError::BadPick)?;
            let usable = pick.level < block.levels
                && pick.covariates.len() == block.size
                && pick.covariates.iter().all(|value| value.is_finite());
            if !usable {
                return Err(MixedError::BadPick);
            }
            let first = pick.level * block.size;
            mean += cholesky::dot(pick.covariates, &self.effects[pick.factor][first..][..block.size]);
            let mut loading = pick.covariates.to_vec();
            self.templates[pick.factor].apply_transposed(&mut loading);
            let into = if self.eliminated != Some(pick.factor) {
                &mut dense[block.start + first..][..block.size]
            } else if let Some(at) = eliminated.iter().position(|(level, _)| *level == pick.level) {
                &mut eliminated[at].1
            } else {
                eliminated.push((pick.level, loading));
                continue;
            };
            for (sum, value) in into.iter_mut().zip(loading) {
                *sum += value;
            }
        }
        let mut variance = 0.0;
        for (level, mut loading) in eliminated {
            let square = loading.len() * loading.len();
            cholesky::forward_small(&self.system.own[level * square..][..square], &mut loading);
            variance += cholesky::dot(&loading, &loading);
            for entry in self.across_start[level]..self.across_start[level + 1] {
                if let Some(into) = dense.get_mut(self.across_column[entry] as usize) {
                    for (value, plane) in loading.iter().zip(&self.system.across) {
                        *into -= value * plane[entry];
                    }
                }
            }
        }
        if let Some(from) = dense.iter().position(|value| *value != 0.0) {
            cholesky::forward(&self.system.dense.view(), &mut dense, from);
            variance += cholesky::dot(&dense, &dense);
        }
        Ok(Prediction { mean, variance: self.sigma * self.sigma * variance })
    }
}
