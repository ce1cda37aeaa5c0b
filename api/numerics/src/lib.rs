//! The few numerical kernels that more than one computation rests on.
//!
//! | module | what | accuracy | cost |
//! |---|---|---|---|
//! | [`normal`] | distribution, density and quantile of the normal | full, tails too | constant |
//! | [`bivariate`] | `P(X > h, Y > k)` of two correlated normals | 1e-14 | 20 exponentials |
//! | [`student_t`] | Student's t for any freedom | 1e-12 relative | some tens of steps |
//! | [`gamma`], [`beta`] | gamma and beta, complete and incomplete | 1e-13 | some tens of steps |
//! | [`cholesky`] | factors of symmetric matrices, large and small | backward stable | `n^3 / 3` |
//! | [`minimise`] | least value of a smooth function of a few variables | 1e-6 in the value | see there |
//! | [`split_mix`] | numbers that look random, the same for the same seed | | constant |
//!
//! Each module names its sources. Nothing here allocates but the minimiser and the large factor, reads a clock or
//! keeps a state.

pub mod beta;
pub mod bivariate;
pub mod cholesky;
pub mod gamma;
pub mod minimise;
pub mod normal;
pub mod split_mix;
pub mod student_t;
