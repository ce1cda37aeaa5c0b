//! Parents to kinship, inbreeding and founders.
//!
//! # Model
//!
//! The kinship `phi(i, j)` of two individuals is the probability that a gene drawn at random from each are
//! identical by descent (drawn with replacement for `i = j`). An individual with `k` sets of chromosomes is made
//! of one or two gametes `g`; a gamete brings `tau_g` sets from its parent `p_g` (or, with probability `pi_m`,
//! from one of several), and `lambda_g` is the probability that two homologues in it are copies of one because
//! of its own meiosis. With `w_g = tau_g / k`:
//!
//! ```text
//! phi(i, j) = sum_g w_g sum_m pi_m phi(m, j)                                      j not a descendant of i
//! phi(i, i) = (1 + (k - 1) F_i) / k
//! k (k - 1) F_i = sum_g tau_g (tau_g - 1) (lambda_g + (1 - lambda_g) F_p(g)) + 2 tau_1 tau_2 phi(p_1, p_2)
//! phi       = T D T'                              T(i, a): share of i's genes expected from a
//! d_i       = phi(i, i) - sum_a d_a z_a^2         z = sum_g w_g T(p_g, .)
//! ```
//!
//! For a diploid, `F` is the kinship of its parents. A sport, cutting or other vegetative descendant has the
//! genotype of its source: it shares the source's kinship to everybody, and a cross of the two is a selfing. A
//! doubled plant has every gene twice. A parent that is not known counts as an unrelated founder that is not
//! inbred, but for what its double reduction gives it in equilibrium.
//!
//! # Sources
//!
//! S. Wright, "Coefficients of inbreeding and relationship", American Naturalist 56, 1922, 330-338;
//! C. R. Henderson, Biometrics 32, 1976, 69-83 (`A = T D T'`), and Journal of Animal Science 66, 1988, 1614-1621
//! (uncertain parents); T. H. E. Meuwissen, Z. Luo, "Computing inbreeding coefficients in large populations",
//! Genetics Selection Evolution 24, 1992, 305-313 (tracing rows of `T`); M. Sargolzaei, H. Iwaisaki, J.-J. Colleau,
//! Journal of Animal Breeding and Genetics 122, 2005, 325-331 (one column for each distinct parent);
//! J.-J. Colleau, Genetics Selection Evolution 34, 2002, 409-421 (one pass up and one down); R. J. Kerr and
//! others, Theoretical and Applied Genetics 124, 2012, 1271-1282, and M. G. Hamilton, R. J. Kerr, ibidem 131,
//! 2018, 851-860 (several sets of chromosomes).
//!
//! # Cost
//!
//! For `n` individuals with at most `a` ancestors each: building with all inbreeding coefficients `O(n a)` time
//! at worst, one trace for each distinct parent in a generation, and `O(n)` memory; where those still to become
//! parents are `m << a` at any time, `O(n m)` time and `O(m^2)` memory. One kinship `O(a)`; kinship of one to
//! all, or of all to a group, `O(n)`. One added individual costs one kinship; an edited one, its descendants and
//! a renumbering in `O(n log n)`. Nothing recurses: depth is free.
//!
//! # What crosses give
//!
//! [`segregation`]: classes of seedlings by the parents' genotypes, and counts against them ([`chi_square`],
//! [`multinomial`]). [`success`]: how often crosses take, set seed and come up, pooled ([`beta_binomial`],
//! [`nested`]). [`stability`]: how often a sport goes back. [`intervals`]: bounds of a proportion.

pub mod beta_binomial;
mod build;
pub mod chi_square;
mod cycles;
pub mod drawing;
mod founders;
mod gametes;
mod gene_drop;
mod genotypes;
mod inbreeding;
pub mod intervals;
mod kinship;
mod live;
mod mates;
pub mod multinomial;
pub mod nested;
mod origin;
mod problem;
mod ratio;
pub mod segregation;
pub mod stability;
pub mod success;
mod trace;

pub use build::Pedigree;
pub use founders::{Contribution, Founder, MarginalContribution, effective_ancestors, effective_founders};
pub use gene_drop::{Retention, founder_genomes};
pub use kinship::{Ancestor, UnknownId};
pub use mates::{CommonAncestor, Explanation, Mate, NoProspect, Prospect, SEEDLING};
pub use origin::{
    Candidate, CloneKind, Gamete, Individual, Layers, Origin, Parent, Ploidy, Restitution, Who,
};
pub use problem::{Problem, Warning};
pub use ratio::{Fraction, Ratio};
