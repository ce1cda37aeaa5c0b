//! What growers report of their blooms, this fortnight against the same weeks of past years.
//!
//! A plant is in flower from its first open floret until it is past its best, or for six weeks where nobody
//! wrote that down (common practice), and on every day one of its blooms is reported. Shares are of plants in
//! flower, with the interval of Wilson 1927, Journal of the American Statistical Association 22:209-212.

use std::collections::HashMap;

use crate::calendar;
use crate::traces::MOST_TRACES;

/// Days looked at, the last included.
pub const FORTNIGHT: i32 = 14;
/// Days a plant is held to be in flower where its end is not written down.
pub const IN_FLOWER_DAYS: i32 = 42;

/// What goes wrong with a bloom.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Trouble {
    DampedOff,
    Deformed,
    /// Leaves growing in the middle of a bloom.
    LeafyGrowth,
}

impl Trouble {
    pub const ALL: [Trouble; 3] = [Trouble::DampedOff, Trouble::Deformed, Trouble::LeafyGrowth];
}

/// One plant's flowering. Days are epoch days; the index of the grower is the caller's own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Flowering {
    pub grower: u32,
    /// First open floret; `None` where only troubles are known.
    pub from: Option<i32>,
    /// Past its best.
    pub until: Option<i32>,
    pub troubles: Vec<(i32, Trouble)>,
}

impl Flowering {
    fn in_flower(&self, first: i32, last: i32) -> bool {
        let between = |day: i32| (first..=last).contains(&day);
        let open = self.from.is_some_and(|from| {
            let until = self.until.unwrap_or(from.saturating_add(IN_FLOWER_DAYS));
            from <= last && until >= first
        });
        open || self.troubles.iter().any(|(day, _)| between(*day))
    }

    fn has(&self, trouble: Trouble, first: i32, last: i32) -> bool {
        self.troubles.iter().any(|(day, of)| *of == trouble && (first..=last).contains(day))
    }
}

/// With less behind it a share is not told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Least {
    pub growers: usize,
    pub records: usize,
    /// Most that one grower may hold of the records, 0 to 1.
    pub largest_share: f64,
}

impl Default for Least {
    /// Five growers, eight records, none with more than 40 % of them.
    fn default() -> Self {
        Least { growers: 5, records: 8, largest_share: 0.4 }
    }
}

/// A share of plants in flower, with a 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// Plants in flower.
    pub records: usize,
    pub growers: usize,
    pub troubled: usize,
    /// 0 to 1.
    pub share: f64,
    pub low: f64,
    pub high: f64,
}

/// The standard normal's 97.5 % point.
const Z95: f64 = 1.959_963_984_540_054;

/// Wilson's interval of the share `k / n` at `z` standard deviations: (low, high). `None` when `n` is nought,
/// `k` exceeds it or `z` is not positive.
pub fn wilson(k: usize, n: usize, z: f64) -> Option<(f64, f64)> {
    if n == 0 || k > n || !(z > 0.0 && z.is_finite()) {
        return None;
    }
    let (k, n, square) = (k as f64, n as f64, z * z);
    let share = k / n;
    let middle = share + square / (2.0 * n);
    let half = z * (share * (1.0 - share) / n + square / (4.0 * n * n)).sqrt();
    let whole = 1.0 + square / n;
    Some((((middle - half) / whole).max(0.0), ((middle + half) / whole).min(1.0)))
}

/// One trouble now and usually.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Report {
    pub trouble: Trouble,
    /// The fortnight to the end of the day asked for; `None` with too little behind it.
    pub now: Option<Share>,
    /// The same calendar days of the past thirty years together; `None` likewise.
    pub usual: Option<Share>,
}

/// Every trouble in the fortnight to the end of `as_of`, and in the same weeks of past years.
///
/// A plant counts once a year. Cost: flowerings x 31 years x 3 troubles.
pub fn reports(flowerings: &[Flowering], as_of: i32, least: Least) -> [Report; 3] {
    let window = |back: i32| {
        let last = calendar::years_back(as_of, back)?;
        Some((last.checked_sub(FORTNIGHT - 1)?, last))
    };
    let past: Vec<(i32, i32)> = (1..=MOST_TRACES).filter_map(window).collect();
    let now: Vec<(i32, i32)> = window(0).into_iter().collect();
    Trouble::ALL.map(|trouble| Report {
        trouble,
        now: share(flowerings, trouble, &now, least),
        usual: share(flowerings, trouble, &past, least),
    })
}

fn share(flowerings: &[Flowering], trouble: Trouble, windows: &[(i32, i32)], least: Least) -> Option<Share> {
    let (mut records, mut troubled) = (0, 0);
    let mut growers: HashMap<u32, usize> = HashMap::new();
    for flowering in flowerings {
        for &(first, last) in windows {
            if flowering.in_flower(first, last) {
                records += 1;
                troubled += usize::from(flowering.has(trouble, first, last));
                *growers.entry(flowering.grower).or_default() += 1;
            }
        }
    }
    let largest = growers.values().max().copied()?;
    let told = growers.len() >= least.growers
        && records >= least.records
        && largest as f64 <= least.largest_share * records as f64;
    let (low, high) = wilson(troubled, records, Z95).filter(|_| told)?;
    Some(Share {
        records,
        growers: growers.len(),
        troubled,
        share: troubled as f64 / records as f64,
        low,
        high,
    })
}
