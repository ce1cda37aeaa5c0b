//! A lethal homozygote: 800 yellow and 435 other mice of yellow parents (W. E. Castle, C. C. Little, Science 32,
//! 1910, 868-870; the counts from memory). Statistics by `SciPy` 1.17.1.
#![allow(clippy::unwrap_used, reason = "test code")]

use storksbill_pedigree::Ratio;
use storksbill_pedigree::chi_square::pearson;
use storksbill_pedigree::multinomial::{MOST_OUTCOMES, exact};

#[test]
fn yellow_mice_fit_two_to_one_and_not_three_to_one() {
    let counts = [800, 435];
    let lethal = Ratio::new(&[2, 1]).unwrap();
    let found = pearson(&counts, &lethal).unwrap();
    assert!((found.statistic - 1.983_806).abs() < 6e-7);
    assert!((found.p - 0.158_990).abs() < 6e-7);
    assert!((exact(&counts, &lethal, MOST_OUTCOMES, 0).unwrap().by_probability - 0.164_992).abs() < 6e-7);
    let viable = pearson(&counts, &Ratio::new(&[3, 1]).unwrap()).unwrap();
    assert!((viable.statistic - 68.832_659).abs() < 6e-7);
}
