//! From daily readings to the date a plant will be ready, as a distribution.
//!
//! # The model
//!
//! One day with minimum `n`, maximum `x` (degrees C, inside the house the plant stands in) gives
//! `a = D(L) - D(U)` degree-days, where `D(T)` is the area of the day's temperature curve above `T`,
//! `L` the base and `U` the cap; for the sine curve with mean `M = (n+x)/2` and amplitude
//! `h = (x-n)/2`
//!
//! ```text
//! D(T) = 0                                       x <= T
//!      = M - T                                   n >= T
//!      = [(M-T)(pi/2 - th) + h cos th] / pi      th = asin((T-M)/h), otherwise
//! ```
//!
//! With `C(d)` the running sum of `a`, a plant stopped on day `s` and ready on day `e` took
//! `A = C(e) - C(s-1) - a(e)/2` degree-days. Requirements are taken as log-normal:
//!
//! ```text
//! ln A = group + cultivar + grower + region-season + residual
//! group ~ N(ln handbook, 0.20^2),  cultivar ~ N(0, 0.08^2),  grower ~ N(0, 0.06^2),
//! region-season ~ N(0, 0.06^2),    residual ~ N(0, 0.12^2)
//! ```
//!
//! and a cultivar with `n` records is pulled to its group by the weight `n / (n + (0.12/0.08)^2)`.
//! With `mu`, `tau` the mean and standard deviation so predicted and `A_m(d)` the heat from the
//! stop to the end of day `d` when the days not yet seen are those of past season `m`,
//!
//! ```text
//! F(d) = mean over m of Phi((ln A_m(d) - mu) / tau)
//! P(ready by d | not ready by t) = (F(d) - F(t)) / (1 - F(t))
//! ```
//!
//! # Sources
//!
//! Single sine: Baskerville & Emin 1969, Ecology 50:514-517; Allen 1976, Environmental Entomology
//! 5:388-396. Triangle, double methods and cutoffs: Zalom, Goodell, Wilson, Barnett & Bentley 1983,
//! University of California Leaflet 21373. The two averages: `McMaster` & Wilhelm 1997, Agricultural
//! and Forest Meteorology 87:291-300. Best linear unbiased prediction of random effects: Robinson
//! 1991, Statistical Science 6:15-51. The base of 4 C, the cap of 26 C and every standard deviation
//! above are this project's own starting values, not published ones.
//!
//! # Use
//!
//! ```
//! use storksbill_forecast::{
//!     calendar, degree_days::HeatRule, glass::House, pool::{Pool, Spreads}, predict, series::{HeatTable,
//!     Reading, RegionSeries, Station}, traces::Future,
//! };
//!
//! let day = |y, m, d| calendar::epoch_day(y, m, d).unwrap();
//! let readings: Vec<Reading> = (day(2020, 1, 1)..=day(2026, 4, 30))
//!     .map(|day| Reading { day, min_c: 6.0, max_c: 15.0 })
//!     .collect();
//! let series = RegionSeries::build(40.0, &[Station { height_m: 40.0, readings: &readings }]).unwrap();
//! let table = HeatTable::build(&series, House::FrostFree, HeatRule::default());
//! let pool = Pool::fit(&[1285.0], &[], Spreads::default()).unwrap();
//! let need = pool.requirement(0, None).unwrap();
//! let as_of = day(2026, 5, 1);
//! let future = Future::ahead(&table, day(2026, 3, 10), as_of, as_of + 200).unwrap();
//! let dates = predict::ready_date(&future, need.mean_log, need.sd_log).unwrap();
//! assert!(dates.p10 < dates.p50 && dates.p50 < dates.p90);
//! ```
//!
//! # Conventions and cost
//!
//! A day is a count of days since 1970-01-01 (`i32`), temperatures are degrees C, heights metres.
//! Nothing here reads a clock, a file or a random number: equal input gives equal output.
//!
//! | step | cost |
//! |---|---|
//! | [`series::RegionSeries::build`] | readings x log(stations); memory 16 bytes a reading while it runs, 32 bytes a day kept |
//! | [`series::HeatTable::build`] | one pass over the days; 12 bytes a day |
//! | heat between two days | constant |
//! | [`traces::Future::ahead`] | traces x days of the window (30 x 200 = 6,000 steps) |
//! | [`predict::ready_date`] | the same number of normal distribution functions |
//! | [`season::standing`] | (traces + past years) x 300 days |
//! | [`pool::Pool::fit`] | records x log(records) |
//! | [`pool::Pool::requirement`] | log(cultivars) |

pub mod advice;
pub mod backtest;
pub mod base_methods;
pub mod bivariate;
pub mod blooms;
pub mod calendar;
mod cholesky;
pub mod condition;
pub mod damp;
pub mod degree_days;
pub mod fit;
pub mod frost;
pub mod ghcn;
pub mod glass;
pub mod handbook;
pub mod humidity;
pub mod induction;
mod minimise;
pub mod mixed;
pub mod moisture;
pub mod neighbours;
pub mod normal;
pub mod pool;
pub mod predict;
pub mod records;
pub mod scores;
pub mod season;
pub mod series;
pub mod stages;
pub mod stops;
pub mod student_t;
pub mod sun;
pub mod traces;
