//! Ratios of crosses, counts against them, and seedlings needed.
//!
//! Counts of peas: G. Mendel, Verhandlungen des naturforschenden Vereines in Brünn 4, 1866, 3-47; statistics by
//! `SciPy` 1.17.1. Tetraploids: the classical tables, J. B. S. Haldane, Journal of Genetics 22, 1930, 359-372.
//! Golden leaf: J. Plavcová, Acta Pruhoniciana 93, 2009, 19-26. Chimeras: W. Bateson, Journal of Genetics 6, 1916,
//! 75-80. Seedlings needed: J. R. Sedcole, Crop Science 17, 1977, 667-668.

use serde_json::{Value, json};
use storksbill_tests::{Actor, TestApp};

const PREDICT: &str = "/api/v1/segregation/predict";
const TEST: &str = "/api/v1/segregation/test";

fn dominant() -> Value {
    json!([{"class": "A", "when": [{"locus": 1, "allele": "A", "least": 1}]}, {"class": "a"}])
}

fn cross(seed: &Value, pollen: &Value, classes: &Value) -> Value {
    json!({"seed_parent": seed, "pollen_parent": pollen, "classes": classes})
}

fn uniform(ploidy: i32, genotype: &[&str]) -> Value {
    json!({"ploidy": ploidy, "genotype": genotype})
}

fn close(found: &Value, expected: f64, places: f64) {
    let found = found.as_f64().unwrap_or_else(|| panic!("{found} is no number"));
    assert!((found - expected).abs() < places, "{found} for {expected}");
}

async fn predicted(una: &Actor, body: Value) -> Vec<Value> {
    let told = una.post(PREDICT, body).await.expect(200).json();
    told["predictions"].as_array().unwrap().clone()
}

/// Mendel's second experiment: round and yellow against wrinkled and green.
#[tokio::test]
async fn two_loci_give_nine_three_three_one_and_mendels_counts_fit_it() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let (a, b) =
        (json!({"locus": 1, "allele": "A", "least": 1}), json!({"locus": 2, "allele": "B", "least": 1}));
    let classes = json!([
        {"class": "round yellow", "when": [a, b]}, {"class": "round green", "when": [a]},
        {"class": "wrinkled yellow", "when": [b]}, {"class": "wrinkled green"},
    ]);
    let both = uniform(2, &["Aa", "Bb"]);
    let peas = cross(&both, &both, &classes);
    let told = predicted(&una, peas.clone()).await;
    assert_eq!(told.len(), 1);
    assert_eq!((&told[0]["ratio"], &told[0]["label"]), (&json!("9:3:3:1"), &Value::Null));
    let parts: Vec<_> =
        told[0]["classes"].as_array().unwrap().iter().map(|c| c["part"].as_u64().unwrap()).collect();
    assert_eq!(parts, [9, 3, 3, 1]);
    assert_eq!(told[0]["classes"][0]["share"], 0.5625);
    assert_eq!((&told[0]["living"], &told[0]["living_to_lethal"]), (&json!(1.0), &json!("1:0")));

    let counts = json!([{"counts": [315, 108, 101, 32], "counted": "all_germinated"}]);
    let by_cross = una.post(TEST, json!({"cross": peas, "families": counts})).await.expect(200).json();
    let by_parts =
        una.post(TEST, json!({"parts": [9, 3, 3, 1], "families": counts})).await.expect(200).json();
    for (told, class) in [(&by_cross, json!("round green")), (&by_parts, Value::Null)] {
        let test = &told["tests"][0];
        close(&test["chi_square"]["statistic"], 0.470_024, 6e-7);
        close(&test["chi_square"]["p"], 0.925_426, 6e-7);
        close(&test["g"]["statistic"], 0.475_445, 6e-7);
        close(&test["g"]["p"], 0.924_252, 6e-7);
        assert_eq!(test["chi_square"]["freedom"], 3);
        // 556 seedlings are more than an exact test needs to be asked of.
        assert_eq!(
            (&test["exact"], &test["read"], &test["families"]),
            (&Value::Null, &json!("chi_square"), &Value::Null)
        );
        assert_eq!((&test["classes"][1]["class"], &test["classes"][1]["counted"]), (&class, &json!(108)));
        close(&test["classes"][1]["expected"], 556.0 * 3.0 / 16.0, 1e-12);
    }
}

/// Mendel's seven single traits as families of one ratio.
#[tokio::test]
async fn families_are_told_for_fit_and_for_differences_between_them() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let families = [[5474, 1850], [6022, 2001], [705, 224], [882, 299], [428, 152], [651, 207], [787, 277]];
    let families: Vec<_> =
        families.iter().map(|counts| json!({"counts": counts, "counted": "all_germinated"})).collect();
    let told = una.post(TEST, json!({"parts": [3, 1], "families": families})).await.expect(200).json();
    let split = &told["tests"][0]["families"];
    for (n, statistic) in
        [0.262_880, 0.014_999, 0.390_743, 0.063_506, 0.450_575, 0.349_650, 0.606_516].into_iter().enumerate()
    {
        close(&split["each"][n]["statistic"], statistic, 6e-7);
    }
    close(&split["sum"]["statistic"], 2.138_868, 6e-7);
    close(&split["sum"]["p"], 0.951_756, 6e-7);
    close(&split["pooled"]["statistic"], 0.109_575, 6e-7);
    close(&split["heterogeneity"]["statistic"], 2.029_294, 6e-7);
    close(&split["heterogeneity"]["p"], 0.916_985, 6e-7);
    assert_eq!((&split["sum"]["freedom"], &split["heterogeneity"]["freedom"]), (&json!(7), &json!(6)));
}

/// Small counts, by full enumeration in exact fractions; the binomial one as `SciPy` has it.
#[tokio::test]
async fn small_counts_are_tested_exactly_and_many_outcomes_are_drawn() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let tested = async |parts: Value, counts: Value| {
        let body = json!({"parts": parts, "families": [{"counts": counts, "counted": "all_germinated"}]});
        una.post(TEST, body).await.expect(200).json()["tests"][0].clone()
    };
    for (parts, counts, probability, chi_square, likelihood) in [
        (json!([9, 3, 3, 1]), json!([12, 1, 3, 0]), 0.473_877_626_115, 0.326_960_037_678, 0.246_233_317_725),
        (json!([1, 2, 1]), json!([2, 5, 9]), 0.034_317_642_450, 0.018_183_559_179, 0.038_721_948_862),
    ] {
        let test = tested(parts, counts).await;
        close(&test["exact"]["p_by_probability"], probability, 1e-11);
        close(&test["exact"]["p_by_chi_square"], chi_square, 1e-11);
        close(&test["exact"]["p_by_likelihood_ratio"], likelihood, 1e-11);
        assert_eq!((&test["read"], &test["exact"]["drawn"]), (&json!("exact"), &Value::Null));
    }
    let test = tested(json!([1, 1]), json!([7, 2])).await;
    close(&test["exact"]["p_by_probability"], 0.179_687_5, 1e-12);
    assert_eq!(test["exact"]["outcomes"], 10);
    // Sixteen classes of thirty seedlings have more outcomes than are gone through, and draw the same twice.
    let wide = tested(json!(vec![1; 16]), json!([2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 1, 1])).await;
    assert_eq!((&wide["exact"]["outcomes"], &wide["exact"]["drawn"]), (&Value::Null, &json!(100_000)));
    let again = tested(json!(vec![1; 16]), json!([2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 1, 1])).await;
    assert_eq!(wide, again);
    // A class that the ratio excludes refutes it.
    let excluded = tested(json!([1, 0]), json!([300, 1])).await;
    assert_eq!(
        (&excluded["chi_square"]["statistic"], &excluded["chi_square"]["p"]),
        (&Value::Null, &json!(0.0))
    );
}

#[tokio::test]
async fn tetraploids_segregate_by_their_double_reduction() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let parent = |genotype: &str, reduction: Option<&str>| json!({"ploidy": 4, "genotype": [genotype], "double_reduction": reduction});
    for (seed, pollen, reduction, ratio) in [
        ("AAaa", "AAaa", None, "35:1"),
        ("AAaa", "aaaa", Some("0"), "5:1"),
        ("Aaaa", "Aaaa", None, "3:1"),
        ("AAaa", "AAaa", Some("1/7"), "187:9"),
        ("AAAa", "AAAa", Some("1/7"), "783:1"),
        ("AAaa", "aaaa", Some("1/6"), "7:2"),
    ] {
        let body = cross(&parent(seed, reduction), &parent(pollen, reduction), &dominant());
        assert_eq!(predicted(&una, body).await[0]["ratio"], ratio, "{seed} x {pollen} {reduction:?}");
    }
    // A diploid with a tetraploid, and with an unreduced gamete of a diploid.
    let body = cross(&uniform(2, &["Aa"]), &parent("AAaa", None), &dominant());
    assert_eq!(predicted(&una, body).await[0]["ratio"], "11:1");
    let unreduced = json!({"ploidy": 2, "genotype": ["Aa"], "gamete": "unreduced", "double_reduction": "0"});
    assert_eq!(
        predicted(&una, cross(&unreduced, &uniform(2, &["aa"]), &dominant())).await[0]["ratio"],
        "1:0"
    );
}

fn leaf() -> Value {
    json!([
        {"lethal": true, "when": [{"locus": 1, "allele": "g", "least": 2}]},
        {"class": "golden", "when": [{"locus": 1, "allele": "g", "least": 1, "most": 1}]},
        {"class": "green"},
    ])
}

#[tokio::test]
async fn a_lethal_class_is_dropped_and_its_share_told() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let golden = uniform(2, &["Gg"]);
    let told = predicted(&una, cross(&golden, &golden, &leaf())).await;
    assert_eq!((&told[0]["ratio"], &told[0]["living_to_lethal"]), (&json!("2:1"), &json!("3:1")));
    assert_eq!(told[0]["living"], 0.75);
    let dead = uniform(2, &["gg"]);
    let refused = una.post(PREDICT, cross(&dead, &dead, &leaf())).await;
    assert_eq!(refused.fields(), ["/classes all-lethal"]);
}

#[tokio::test]
async fn a_chimera_breeds_from_its_second_layer_and_both_ways_are_told_where_it_is_not_known() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let green = uniform(2, &["GG"]);
    let layers = json!({"ploidy": 2, "layers": {"l1": ["Gg"], "l2": ["GG"], "l3": ["Gg"]}});
    let told = predicted(&una, cross(&layers, &green, &leaf())).await;
    assert_eq!(
        (&told[0]["ratio"], &told[0]["seed_parent_breeds_as"]),
        (&json!("0:1"), &json!("second_layer"))
    );
    let sport = |second: &str| json!({"ploidy": 2, "sport": {"source": ["GG"], "changed": ["Gg"], "second_layer": second}});
    let told = predicted(&una, cross(&green, &sport("unknown"), &leaf())).await;
    let found: Vec<_> = told
        .iter()
        .map(|p| (p["ratio"].as_str().unwrap(), p["pollen_parent_breeds_as"].as_str().unwrap()))
        .collect();
    assert_eq!(found, [("1:1", "sport"), ("0:1", "source")]);
    assert!(told.iter().all(|p| p["label"].as_str().unwrap().starts_with("The pollen parent breeds as ")));
    assert_eq!(predicted(&una, cross(&sport("changed"), &green, &leaf())).await.len(), 1);
    // Counts are held against both.
    let body = json!({
        "cross": cross(&sport("unknown"), &green, &leaf()),
        "families": [{"counts": [21, 19], "counted": "all_germinated"}],
    });
    let tests = una.post(TEST, body).await.expect(200).json()["tests"].as_array().unwrap().clone();
    assert_eq!(tests.len(), 2);
    close(&tests[0]["chi_square"]["statistic"], 0.1, 1e-12);
    assert_eq!((&tests[1]["chi_square"]["p"], &tests[1]["ratio"]), (&json!(0.0), &json!("0:1")));
}

#[tokio::test]
async fn kept_seedlings_and_plastids_are_refused_with_the_reason() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let families = json!([
        {"counts": [30, 10], "counted": "all_germinated"}, {"counts": [9, 1], "counted": "kept"},
    ]);
    let refused = una.post(TEST, json!({"parts": [3, 1], "families": families})).await;
    assert_eq!(refused.fields(), ["/families/1/counted selected"]);
    assert!(refused.text().contains("taste"), "{}", refused.text());
    let plain = uniform(2, &["Aa"]);
    let mut plastid = cross(&plain, &plain, &dominant());
    plastid["inheritance"] = json!("plastid");
    let refused = una.post(PREDICT, plastid.clone()).await;
    assert_eq!(refused.fields(), ["/inheritance plastid"]);
    assert!(refused.text().contains("sort out at random"), "{}", refused.text());
    let families = json!([{"counts": [30, 10], "counted": "all_germinated"}]);
    let refused = una.post(TEST, json!({"cross": plastid, "families": families})).await;
    assert_eq!(refused.fields(), ["/cross/inheritance plastid"]);
}

#[tokio::test]
async fn everything_wrong_with_a_cross_is_told_at_once() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let body = json!({
        "seed_parent": {"ploidy": 3, "genotype": ["Aaa"]},
        "pollen_parent": {"ploidy": 4, "genotype": ["AAaa", "BBbb"], "double_reduction": "1/4"},
        "classes": [{"class": "A", "lethal": true, "when": [{"locus": 2, "allele": "AA", "most": 9}]}],
    });
    let mut fields = una.post(PREDICT, body).await.fields();
    fields.sort();
    assert_eq!(
        fields,
        [
            "/classes/0 one-of",
            "/classes/0/when/0/allele alleles",
            "/classes/0/when/0/locus out-of-range",
            "/classes/0/when/0/most out-of-range",
            "/pollen_parent/double_reduction out-of-range",
            "/pollen_parent/genotype other-loci",
            "/seed_parent/ploidy out-of-range",
        ]
    );
    let plain = uniform(2, &["Aa"]);
    let unmapped = json!([{"class": "A", "when": [{"locus": 1, "allele": "A", "least": 1}]}]);
    let refused = una.post(PREDICT, cross(&plain, &plain, &unmapped)).await;
    assert_eq!(refused.fields(), ["/classes unclassified"]);
    let both = json!({"ploidy": 2, "genotype": ["Aa"], "sport": {"source": ["AA"], "changed": ["Aa"], "second_layer": "changed"}});
    let refused = una.post(PREDICT, cross(&both, &plain, &dominant())).await;
    assert_eq!(refused.fields(), ["/seed_parent one-of"]);
    let body = json!({"parts": [3, 1], "families": [
        {"counts": [1, 2, 3], "counted": "all_germinated"}, {"counts": [0, 0], "counted": "all_germinated"},
    ]});
    assert_eq!(
        una.post(TEST, body).await.fields(),
        ["/families/0/counts other-classes", "/families/1/counts nothing-counted"]
    );
}

#[tokio::test]
async fn seedlings_needed_are_those_of_the_published_table() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    for (share, wanted, confidence, seedlings) in [
        ("1/4", 1, 0.95, 11),
        ("1/4", 1, 0.99, 17),
        ("1/16", 3, 0.95, 99),
        ("1/36", 1, 0.95, 107),
        ("0.5", 5, 0.95, 16),
    ] {
        let path =
            format!("/api/v1/segregation/needed?share={share}&wanted={wanted}&confidence={confidence}");
        assert_eq!(una.get(&path).await.expect(200).json()["seedlings"], seedlings, "{path}");
    }
    let told = una.get("/api/v1/segregation/needed?share=2/8").await.expect(200).json();
    assert_eq!(told, json!({"share": "1/4", "wanted": 1, "confidence": 0.95, "seedlings": 11}));
    let never = una.get("/api/v1/segregation/needed?share=0").await.expect(200).json();
    assert_eq!(never["seedlings"], Value::Null);
    for query in ["share=5/4", "share=1/4&wanted=0", "share=1/4&confidence=1", ""] {
        let refused = una.get(&format!("/api/v1/segregation/needed?{query}")).await;
        assert_eq!(refused.problem(422), "invalid-query", "{query}");
    }
}
