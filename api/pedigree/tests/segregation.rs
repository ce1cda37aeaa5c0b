//! Classes by genotype, lethal classes, chimeras and what is refused. The modified ratios of two loci are those
//! of any textbook of genetics, from memory. Golden leaf: J. Plavcová, Acta Pruhoniciana 93, 2009, 19-26 (golden
//! is one dose of *aurea*, two are lethal). Breeding from the second layer: W. Bateson, Journal of Genetics 6,
//! 1916, 75-80.
#![allow(clippy::unwrap_used, reason = "test code")]

use storksbill_pedigree::Ratio;
use storksbill_pedigree::chi_square::Mismatch;
use storksbill_pedigree::multinomial::Outcomes;
use storksbill_pedigree::segregation::{
    BreedsAs, Dose, Family, Genotype, Inheritance, Meiosis, Parent, Refusal, Rule, Scored, SecondLayer,
    Segregation, SegregationError, Stock, predict, test,
};

fn loci(genotypes: &[&str]) -> Vec<Genotype> {
    genotypes.iter().map(|alleles| Genotype::new(alleles).unwrap()).collect()
}

fn diploid(genotypes: &[&str]) -> Parent {
    Parent { stock: Stock::Uniform(loci(genotypes)), meiosis: Meiosis::DIPLOID }
}

fn one(seed: &Parent, pollen: &Parent, rules: &[Rule]) -> Segregation {
    let mut predictions = predict(seed, pollen, rules).unwrap();
    assert_eq!(predictions.len(), 1);
    predictions.pop().unwrap().segregation
}

fn big(allele: char, locus: usize) -> Dose {
    Dose::at_least(1, allele, locus)
}

#[test]
fn two_loci_by_maps() {
    let (a, b) = (big('A', 0), big('B', 1));
    let heterozygote = diploid(&["Aa", "Bb"]);
    let both = vec![a.clone(), b.clone()];
    for (rules, ratio) in [
        (
            vec![
                Rule::class(both.clone(), "both"),
                Rule::class(vec![a.clone()], "first"),
                Rule::class(vec![b.clone()], "second"),
                Rule::class(vec![], "none"),
            ],
            "9:3:3:1",
        ),
        (vec![Rule::class(both.clone(), "coloured"), Rule::class(vec![], "white")], "9:7"),
        (
            vec![
                Rule::class(both, "red"),
                Rule::class(vec![a.clone()], "pink"),
                Rule::class(vec![], "white"),
            ],
            "9:3:4",
        ),
        (
            vec![
                Rule::class(vec![a.clone()], "white"),
                Rule::class(vec![b.clone()], "yellow"),
                Rule::class(vec![], "green"),
            ],
            "12:3:1",
        ),
        (
            vec![
                Rule::class(vec![a.clone()], "white"),
                Rule::class(vec![b.clone()], "coloured"),
                Rule::class(vec![], "white"),
            ],
            "13:3",
        ),
        (
            vec![Rule::class(vec![a], "round"), Rule::class(vec![b], "round"), Rule::class(vec![], "long")],
            "15:1",
        ),
    ] {
        let found = one(&heterozygote, &heterozygote, &rules);
        assert_eq!(found.ratio.to_string(), ratio);
        assert_eq!(found.viability.to_string(), "1:0");
    }
}

fn leaf() -> Vec<Rule> {
    vec![
        Rule::lethal(vec![Dose::exactly(2, 'g', 0)]),
        Rule::class(vec![Dose::exactly(1, 'g', 0)], "golden"),
        Rule::class(vec![], "green"),
    ]
}

#[test]
fn golden_leaf_is_lethal_twice() {
    let (golden, green) = (diploid(&["Gg"]), diploid(&["GG"]));
    let found = one(&golden, &golden, &leaf());
    assert_eq!(found.classes, ["golden", "green"]);
    assert_eq!(found.ratio.to_string(), "2:1");
    assert_eq!(found.viability.to_string(), "3:1");
    assert_eq!(one(&golden, &green, &leaf()).ratio.to_string(), "1:1");
    assert_eq!(predict(&diploid(&["gg"]), &diploid(&["gg"]), &leaf()), Err(SegregationError::AllLethal));
}

#[test]
fn a_sport_breeds_from_its_second_layer() {
    let sport = |second_layer| Parent {
        stock: Stock::Sport { source: loci(&["GG"]), changed: loci(&["Gg"]), second_layer },
        meiosis: Meiosis::DIPLOID,
    };
    let green = diploid(&["GG"]);
    let told = |second_layer| -> Vec<(BreedsAs, String)> {
        let predictions = predict(&sport(second_layer), &green, &leaf()).unwrap();
        predictions.iter().map(|p| (p.seed_parent, p.segregation.ratio.to_string())).collect()
    };
    assert_eq!(told(SecondLayer::Changed), [(BreedsAs::Sport, "1:1".to_owned())]);
    assert_eq!(told(SecondLayer::Unchanged), [(BreedsAs::Source, "0:1".to_owned())]);
    assert_eq!(
        told(SecondLayer::Unknown),
        [(BreedsAs::Sport, "1:1".to_owned()), (BreedsAs::Source, "0:1".to_owned())]
    );
    // Two unknown parents leave four readings.
    let unknown = sport(SecondLayer::Unknown);
    assert_eq!(predict(&unknown, &unknown, &leaf()).unwrap().len(), 4);
}

#[test]
fn what_cannot_be_worked_out() {
    let heterozygote = diploid(&["Aa"]);
    assert_eq!(
        predict(&heterozygote, &heterozygote, &[Rule::class(vec![big('A', 0)], "A")]),
        Err(SegregationError::Unclassified { genotype: "aa".to_owned() })
    );
    assert_eq!(predict(&heterozygote, &diploid(&["Aa", "Bb"]), &leaf()), Err(SegregationError::Loci));
    assert!(
        Genotype::new("").is_err() && Genotype::new("A-").is_err() && Genotype::new("AaAaAaAaA").is_err()
    );
    let many = diploid(&["Aa"; 13]);
    assert_eq!(predict(&many, &many, &[Rule::class(vec![], "all")]), Err(SegregationError::TooLarge));
}

#[test]
fn selected_seedlings_and_plastids_get_no_test() {
    let ratio = Ratio::new(&[2, 1]).unwrap();
    let family = |scored| Family { counts: vec![14, 6], scored };
    let refusal = test(&[family(Scored::Germinated), family(Scored::Kept)], &ratio, Inheritance::Nuclear, 1);
    assert_eq!(refusal, Err(Refusal::Selected { family: 1 }));
    assert!(Refusal::Selected { family: 1 }.to_string().contains("all seedlings that germinated"));
    let refusal = test(&[family(Scored::Germinated)], &ratio, Inheritance::Plastid, 1);
    assert_eq!(refusal, Err(Refusal::Plastid));
    let refusal = test(&[], &ratio, Inheritance::Nuclear, 1);
    assert_eq!(refusal, Err(Refusal::Mismatch(Mismatch::NoFamily)));
    let wrong = Family { counts: vec![1, 2, 3], scored: Scored::Germinated };
    let refusal = test(&[wrong], &ratio, Inheritance::Nuclear, 1);
    assert_eq!(refusal, Err(Refusal::Mismatch(Mismatch::Classes { counts: 3, ratio: 2 })));
}

#[test]
fn few_seedlings_are_tested_exactly() {
    let ratio = Ratio::new(&[9, 3, 3, 1]).unwrap();
    let family = Family { counts: vec![12, 1, 3, 0], scored: Scored::Germinated };
    let found = test(&[family], &ratio, Inheritance::Nuclear, 1).unwrap();
    assert!(found.small_expectation && found.families.is_none());
    assert_eq!(found.exact.unwrap().outcomes, Outcomes::All { outcomes: 969 });
}

#[test]
fn one_seedling_of_a_class_that_cannot_come_refutes_the_ratio() {
    let ratio = Ratio::new(&[1, 1, 0]).unwrap();
    let none = Family { counts: vec![10, 11, 0], scored: Scored::Germinated };
    let some = Family { counts: vec![10, 11, 1], scored: Scored::Germinated };
    let fits = test(std::slice::from_ref(&none), &ratio, Inheritance::Nuclear, 1).unwrap();
    assert_eq!(fits.pearson.freedom, 1);
    assert!(fits.pearson.p > 0.8);
    for families in [vec![some.clone()], vec![none, some]] {
        let refuted = test(&families, &ratio, Inheritance::Nuclear, 1).unwrap();
        assert!(refuted.pearson.p <= 0.0 && refuted.exact.unwrap().by_probability <= 0.0);
    }
}
