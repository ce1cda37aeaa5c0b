//! Parents to kinship and inbreeding.
//!
//! # Model
//!
//! The kinship `phi(i, j)` of two individuals is the probability that a gene drawn at random from each are
//! identical by descent (drawn with replacement for `i = j`). With `g` running over the gametes that made the
//! younger individual `i`, each bringing the share `w_g` of its genes from the parent `p_g`:
//!
//! ```text
//! phi(i, j) = sum_g w_g phi(p_g, j)               j not a descendant of i
//! phi(i, i) = (1 + F_i) / 2                       two sets of chromosomes
//! F_i       = phi(seed parent, pollen parent)     0 when one is not known
//! phi       = T D T'                              T(i, a): share of i's genes expected from a
//! d_i       = phi(i, i) - sum_a d_a z_a^2         z = sum_g w_g T(p_g, .)
//! ```
//!
//! A sport, cutting or other vegetative descendant has the genotype of its source: it shares the source's
//! kinship to everybody, and a cross of the two is a selfing. A parent that is not known counts as an unrelated
//! founder that is not inbred.
//!
//! # Sources
//!
//! S. Wright, "Coefficients of inbreeding and relationship", American Naturalist 56, 1922, 330-338;
//! C. R. Henderson, Biometrics 32, 1976, 69-83 (`A = T D T'`); T. H. E. Meuwissen, Z. Luo, "Computing
//! inbreeding coefficients in large populations", Genetics Selection Evolution 24, 1992, 305-313 (tracing rows
//! of `T`); M. Sargolzaei, H. Iwaisaki, J.-J. Colleau, Journal of Animal Breeding and Genetics 122, 2005,
//! 325-331 (one column for each distinct parent); J.-J. Colleau, Genetics Selection Evolution 34, 2002, 409-421
//! (one pass up and one down).
//!
//! # Cost
//!
//! For `n` individuals with at most `a` ancestors each: building with all inbreeding coefficients `O(n a)` time
//! at worst, one trace for each distinct parent in a generation, and `O(n)` memory; one kinship `O(a log a)`;
//! kinship of one to all, or of all to a group, `O(n)`.

mod build;
mod inbreeding;
mod kinship;

pub use build::{Individual, Origin, Pedigree, Problem};
pub use kinship::{Ancestor, UnknownId};
