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
//! `A = C(e) - C(s-1) - a(e)/2` degree-days. Requirements are taken as log-normal ([`fit`], [`mixed`]):
//!
//! ```text
//! ln A = group + environment                                    fixed
//!      + cultivar + grower + region:season (+ region:season:group) + residual     random
//! ```
//!
//! estimated by restricted maximum likelihood, each group's base `L` by profile likelihood with the
//! Jacobian of date to heat. Fewer than 30 records leave the [`handbook`]; fewer than 301 leave the
//! standard deviations as they start (0.08, 0.06, 0.06, 0.03, residual 0.12). A cultivar of `n` records is
//! pulled to its group by about `n / (n + residual^2 / cultivar^2)`. The season under way is one effect a
//! region, whose posterior takes the plants not yet ready as censored. The log heats of bud, first colour,
//! first open floret, show-ready and past best are jointly normal ([`stages`]), so a stage seen moves the
//! others. With `mu_k`, `tau_k` the mean and standard deviation of stage `k` so predicted and `A_m(d)` the
//! heat from the stop to the end of day `d` when the days not yet seen are those of past season `m`,
//!
//! ```text
//! F_k(d) = mean over m of Phi((ln A_m(d) - mu_k) / tau_k)
//! P(stage k by d | not by t) = (F_k(d) - F_k(t)) / (1 - F_k(t))
//! P(in show condition on d) = P(ready by d) - P(past best by d)
//! ```
//!
//! # Sources
//!
//! Single sine: Baskerville & Emin 1969, Ecology 50:514-517; Allen 1976, Environmental Entomology
//! 5:388-396. Triangle, double methods and cutoffs: Zalom, Goodell, Wilson, Barnett & Bentley 1983,
//! University of California Leaflet 21373. The two averages: `McMaster` & Wilhelm 1997, Agricultural
//! and Forest Meteorology 87:291-300. Mixed model: Bates, Maechler, Bolker & Walker 2015, Journal of
//! Statistical Software 67(1); best linear unbiased prediction: Robinson 1991, Statistical Science
//! 6:15-51. Every other module names its own. The base of 4 C, the cap of 26 C and every standard
//! deviation above are this project's own starting values, not published ones: no set of pelargonium
//! records with stops and weather was found.
//!
//! # Use
//!
//! ```
//! use storksbill_forecast::{
//!     calendar, degree_days::HeatRule, fit::{self, Ask, Settings}, glass::{Gain, House}, predict,
//!     records::Place, series::{HeatTable, Reading, RegionSeries, Station}, traces::Future,
//! };
//!
//! let day = |y, m, d| calendar::epoch_day(y, m, d).unwrap();
//! let readings: Vec<Reading> = (day(2020, 1, 1)..=day(2026, 4, 30))
//!     .map(|day| Reading { day, min_c: 6.0, max_c: 15.0 })
//!     .collect();
//! let series = RegionSeries::build(40.0, &[Station { height_m: 40.0, readings: &readings }]).unwrap();
//! let table = HeatTable::build(&series, House::FrostFree, HeatRule::default());
//! let as_of = day(2026, 5, 1);
//! // No record yet: the handbook's 1285 degree-days stand.
//! let places = [Place { series: &series, house: House::FrostFree, gain: Gain::default() }];
//! let settings = Settings::new(vec![Some(1285.0)], as_of, 2026);
//! let parameters = fit::estimate(&places, &[], &settings, None).unwrap();
//! let fit = fit::refresh(&places, &[], &settings, &parameters).unwrap();
//! let ask = Ask { group: 0, environment: 0, cultivar: None, grower: None, region: None };
//! let need = fit.requirement(&ask).unwrap();
//! let future = Future::ahead(&table, day(2026, 3, 10), as_of, as_of + 200).unwrap();
//! let dates = predict::ready_date(&future, need.mean_log, need.sd_log()).unwrap();
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
//! | [`stops::window`] | stop days x traces; 3 ms for 166 x 30 |
//! | [`stops::spread`] | plants x stop days x traces x nodes; 50 ms for 12 plants |
//! | [`fit::estimate`] | tens of evaluations, each `sum nnz^2 + (q + p)^3 / 3` with `q` the columns that are left when the largest factor is eliminated; 25 evaluations and 47 s at a million records of 10,000 growers and 5,000 cultivars, in 0.4 GB |
//! | [`fit::refresh`] | one pass over the records and one evaluation |
//! | [`fit::Fit::requirement`] | `q^2`: 33 us at 460 columns |
//! | [`backtest::run`] | parts x (one estimate + plants x leads x traces x days) |

pub mod advice;
pub mod backtest;
pub mod base_methods;
pub mod blooms;
pub mod calendar;
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
pub mod mixed;
pub mod moisture;
pub mod neighbours;
pub mod predict;
pub mod records;
pub mod scores;
pub mod season;
pub mod series;
pub mod several_plants;
pub mod stages;
pub mod stops;
pub mod sun;
pub mod traces;
