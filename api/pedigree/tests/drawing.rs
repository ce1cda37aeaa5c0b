//! Charts of ancestors and descendants, against files kept beside this one, and what every picture must be.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "test code")]

use storksbill_pedigree::drawing::{
    Descent, Drawing, NotDrawn, Plant, ancestor_chart, descendant_chart, dot,
};

fn plant(label: &str, detail: &str, descent: Descent) -> Plant {
    Plant { label: label.to_owned(), detail: detail.to_owned(), inbreeding_per_mille: None, descent }
}

fn cross(seed_parent: impl Into<Option<usize>>, pollen_parent: impl Into<Option<usize>>) -> Descent {
    Descent::Cross { seed_parent: seed_parent.into(), pollen_parent: pollen_parent.into() }
}

fn sport(of: usize) -> Descent {
    Descent::Clone { of, how: "sport of".to_owned() }
}

/// A small invented family: a seedling whose parents share a grandparent, with a sport and an unknown parent.
fn family() -> Vec<Plant> {
    let mut plants = vec![
        plant("Merrow Dawn", "zonal, 2019", cross(1, 2)),
        plant("Sea Fret", "zonal, 2011", cross(3, 4)),
        plant("Harbour Light", "zonal, 2013", cross(4, 5)),
        plant("Saltmarsh", "zonal", cross(6, None)),
        plant("Skerry", "zonal, 1998", cross(7, 8)),
        plant("Skerry Gold", "sport, 2006", sport(9)),
        plant("undisclosed", "", Descent::Unknown),
        plant("Ness <A&B>", "", Descent::Unknown),
        plant("The Lighthouse Keeper's Daughter", "ivy-leaved, before 1950", Descent::Unknown),
        plant("Tide", "zonal, 2001", cross(4, 8)),
    ];
    plants[0].inbreeding_per_mille = Some(219);
    plants[9].inbreeding_per_mille = Some(250);
    plants
}

/// 31 plants: five full generations.
fn full() -> Vec<Plant> {
    (0..31)
        .map(|at| {
            let descent = if at < 15 { cross(2 * at + 1, 2 * at + 2) } else { Descent::Unknown };
            let mut plant = plant(&format!("Merrow Seedling {at}"), "zonal, 1987", descent);
            plant.inbreeding_per_mille = Some(125);
            plant
        })
        .collect()
}

/// Kept files are written anew when `STORE` is set.
fn kept(name: &str, text: &str) {
    let path = format!("{}/tests/charts/{name}", env!("CARGO_MANIFEST_DIR"));
    if std::env::var_os("STORE").is_some() {
        std::fs::write(&path, text).unwrap();
    }
    assert_eq!(std::fs::read_to_string(&path).unwrap(), text, "{path}");
}

/// What holds for every picture.
fn sound(drawing: &Drawing) {
    let svg = &drawing.svg;
    assert!(svg.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\"") && svg.ends_with("</svg>\n"));
    assert!(svg.contains("role=\"img\"") && svg.contains("<title>") && svg.contains("<desc>"));
    for foreign in ["<script", "<style", "href", "url(", "<image", "onload"] {
        assert!(!svg.contains(foreign), "{foreign}");
    }
    // Tags are balanced and every number is whole.
    let mut open: Vec<&str> = Vec::new();
    for tag in svg.split('<').skip(1) {
        let (tag, text) = tag.split_once('>').unwrap();
        assert!(!text.contains('>'));
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name));
        } else if !tag.ends_with('/') {
            open.push(tag.split(' ').next().unwrap());
        }
        for value in tag.split('"').skip(1).step_by(2).filter(|value| !value.contains('/')) {
            assert!(!value.contains('.'), "{value}");
        }
    }
    assert!(open.is_empty());
}

#[test]
fn ancestors_of_a_seedling() {
    let drawing = ancestor_chart(&family(), 0, 5).unwrap();
    sound(&drawing);
    kept("ancestors.svg", &drawing.svg);
    kept("ancestors.txt", &drawing.outline);
    assert!(drawing.svg.contains("inbreeding 21.9 %") && drawing.svg.contains("inbreeding 25 %"));
    assert!(drawing.svg.contains("Ness &lt;A&amp;B&gt;") && !drawing.svg.contains("<A&B>"));
    // Skerry is met as a parent of both parents and once more behind the sport.
    assert_eq!(drawing.svg.matches(">Skerry<").count(), 3);
    assert_eq!(drawing.svg.matches("stroke-dasharray").count(), 1);
    assert!(drawing.outline.contains("seed parent: Skerry [1], as above"));
    assert!(drawing.outline.contains("  pollen parent: not known"));
    assert!(drawing.outline.contains("sport of Tide"));
}

#[test]
fn a_selfing_is_one_plant_twice() {
    let plants = [plant("Seedling 3", "", cross(1, 1)), plant("Skerry", "", Descent::Unknown)];
    let drawing = ancestor_chart(&plants, 0, 5).unwrap();
    sound(&drawing);
    assert_eq!(
        drawing.outline,
        "Seedling 3\n  seed parent: Skerry [1]\n  pollen parent: Skerry [1], as above\n"
    );
}

#[test]
fn five_generations_fit_sixteen_kilobytes() {
    let drawing = ancestor_chart(&full(), 0, 5).unwrap();
    sound(&drawing);
    kept("five_generations.svg", &drawing.svg);
    assert_eq!(drawing.svg.matches("rx=\"3\"").count(), 31);
    assert!(drawing.svg.len() <= 16 * 1_024, "{}", drawing.svg.len());
    assert_eq!(drawing.outline.lines().count(), 31);
    // Fewer columns, fewer boxes.
    assert_eq!(ancestor_chart(&full(), 0, 3).unwrap().svg.matches("rx=\"3\"").count(), 7);
    assert_eq!(ancestor_chart(&full(), 0, 0).unwrap().svg.matches("rx=\"3\"").count(), 1);
}

#[test]
fn descendants_of_a_family() {
    let drawing = descendant_chart(&family(), "Merrow Dawn and its family").unwrap();
    sound(&drawing);
    kept("descendants.svg", &drawing.svg);
    kept("descendants.txt", &drawing.outline);
    assert_eq!(drawing.svg.matches("rx=\"3\"").count(), 10);
    kept("family.dot", &dot(&family()).unwrap());
}

/// A society in small: every plant from two of those before it.
fn society(count: usize) -> Vec<Plant> {
    let mut state = 1u64;
    let mut below = |most: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from((state >> 33) % most as u64).unwrap()
    };
    (0..count)
        .map(|at| {
            let window = at.min(60);
            let descent = match at {
                0..12 => Descent::Unknown,
                _ if below(20) == 0 => sport(at - 1 - below(window)),
                _ if below(4) == 0 => cross(at - 1 - below(window), None),
                _ => cross(at - 1 - below(window), at - 1 - below(window)),
            };
            plant(&format!("Seedling {at}"), "", descent)
        })
        .collect()
}

#[test]
fn a_society_of_fifty() {
    let drawing = descendant_chart(&society(50), "Fifty plants").unwrap();
    sound(&drawing);
    kept("society.svg", &drawing.svg);
}

#[test]
fn boxes_of_a_large_picture_do_not_overlap() {
    let drawing = descendant_chart(&society(400), "All").unwrap();
    sound(&drawing);
    let mut boxes: Vec<(i64, i64)> = Vec::new();
    for tag in drawing.svg.split("<rect x=\"").skip(1) {
        let mut values = tag.split('"');
        let x = values.next().unwrap().parse().unwrap();
        boxes.push((x, values.nth(1).unwrap().parse().unwrap()));
    }
    assert_eq!(boxes.len(), 400);
    boxes.sort_unstable();
    for pair in boxes.windows(2) {
        assert!(pair[0].0 != pair[1].0 || pair[1].1 - pair[0].1 >= 40, "{pair:?}");
        assert!(pair[0].0 == pair[1].0 || pair[1].0 - pair[0].0 >= 200, "{pair:?}");
    }
    assert_eq!(descendant_chart(&society(400), "All").unwrap(), drawing);
}

#[test]
fn what_is_not_drawn() {
    let lone = plant("Skerry", "", Descent::Unknown);
    assert_eq!(ancestor_chart(&[], 0, 5), Err(NotDrawn::NoSuchPlant { place: 0 }));
    assert_eq!(
        descendant_chart(&[plant("A", "", cross(7, None))], "A"),
        Err(NotDrawn::NoSuchPlant { place: 7 })
    );
    let many = vec![lone; 2_001];
    assert_eq!(descendant_chart(&many, "All"), Err(NotDrawn::TooLarge { most: 2_000 }));
    assert!(dot(&many).unwrap().lines().count() > 2_001);
    // A loop: refused where layers are needed, cut by the columns where they are not, unless too wide.
    let loop_of_two =
        [plant("A", "", cross(1, 1)), plant("B", "", cross(0, 0)), plant("C", "", cross(1, None))];
    assert!(matches!(descendant_chart(&loop_of_two, "A"), Err(NotDrawn::Loop { place: 0 | 1 })));
    assert!(matches!(dot(&loop_of_two), Err(NotDrawn::Loop { place: 0 | 1 })));
    assert!(ancestor_chart(&loop_of_two, 0, 5).is_ok());
    assert_eq!(ancestor_chart(&loop_of_two, 0, 64), Err(NotDrawn::TooLarge { most: 2_000 }));
    // Too many lines side by side: a long line of selfings, the first plant a parent of each.
    let tangled: Vec<Plant> = (0..1_000usize)
        .map(|at| {
            let early = if at % 2 == 0 { at / 2 } else { 0 };
            plant("A", "", if at == 0 { Descent::Unknown } else { cross(at - 1, early) })
        })
        .collect();
    assert_eq!(descendant_chart(&tangled, "All"), Err(NotDrawn::TooLarge { most: 20_000 }));
    assert!(descendant_chart(&[], "None").is_ok());
}
