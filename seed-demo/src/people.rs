//! The members: invented people with invented, unlikely names.

use std::collections::BTreeSet;

use storksbill_domain::names::search_key;
use storksbill_domain::words::Environment;

use crate::places::{CLUBS, REGIONS};
use crate::random::Random;

/// What every account of the demonstration logs in with.
pub const PASSWORD: &str = "nine small red pots";

const FIRST: [&str; 48] = [
    "Abrelle",
    "Bastuin",
    "Corvane",
    "Delphiro",
    "Ebbeline",
    "Fenwyck",
    "Gristan",
    "Hesperin",
    "Iolanthea",
    "Jocastan",
    "Kestrin",
    "Loveday-Ann",
    "Maëlis",
    "Norrick",
    "Ottoline-May",
    "Perrigan",
    "Quenby",
    "Rosmerta",
    "Sallowyn",
    "Thessaly",
    "Ursuline",
    "Verrick",
    "Wilmota",
    "Xanthis",
    "Yestin",
    "Zéphine",
    "Almerick",
    "Brisenda",
    "Caddoc",
    "Dorrity",
    "Elvanor",
    "Fabrian",
    "Godelina",
    "Hollis-Jane",
    "Ingomar",
    "Jessamy",
    "Kerensia",
    "Lucasta",
    "Merrial",
    "Nestorin",
    "Ozanne",
    "Petronel",
    "Rafferin",
    "Sidonel",
    "Tobyn",
    "Ulvar",
    "Vashtine",
    "Wendrick",
];

const LAST: [&str; 60] = [
    "Quillbeck",
    "Saltwhistle",
    "Thornsedge",
    "Marshlantern",
    "Pottingale",
    "Underquay",
    "Fennowby",
    "Ashlatch",
    "Brindlewick",
    "Cobbleharrow",
    "Dunmackerel",
    "Eelskerry",
    "Flintapple",
    "Gannetsby",
    "Hartsorrel",
    "Inkpenny",
    "Jackdawson-Vale",
    "Kittlewrack",
    "Limpetsole",
    "Moorcandle",
    "Nettlecombe-Ray",
    "Oarlockett",
    "Pebbleworthy",
    "Quincebarrow",
    "Rushmantle",
    "Sandgrouse",
    "Tidewinder",
    "Umberlane",
    "Vetchley-Moor",
    "Whelkham",
    "Yarrowstile",
    "Bellwether-Lowe",
    "Cresslip",
    "Driftwicket",
    "Embergate",
    "Foxhollin",
    "Gorsefield-Tarn",
    "Heronsgait",
    "Ironlark",
    "Kelpstrand",
    "Lichgarth",
    "Mizzleton",
    "Nightjarrow",
    "Ottersholt",
    "Puffinsgate",
    "Rookabbey",
    "Skylockhart",
    "Teaselby",
    "Undertarn",
    "Voewright",
    "Wrackline",
    "Bracklesea",
    "Curlewmere",
    "Duskerton",
    "Fulmarshall",
    "Glimmerstow",
    "Harebellis",
    "Islewright",
    "Merrowdene",
    "Saltpansy",
];

/// What a member is to the society.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Office {
    Administrator,
    Registrar,
    /// Of their own club.
    Secretary,
    None,
}

/// Where a member's plants stand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    pub environment: Environment,
    /// Set where heated, degrees C.
    pub heated_to_c: Option<f64>,
}

/// A member.
#[derive(Debug, Clone)]
pub struct Person {
    pub name: String,
    pub email: String,
    pub office: Office,
    /// Index into [`CLUBS`].
    pub club: usize,
    /// Some belong to a second one.
    pub second_club: Option<usize>,
    /// Index into [`REGIONS`]; mostly that of the club.
    pub region: usize,
    /// One or two.
    pub places: Vec<Place>,
    /// How many plants they keep, in parts of all members' sum.
    pub keenness: f64,
    /// The grower effect of the diary's model: log scale.
    pub effect: f64,
}

/// The member shown first: no office, many plants.
pub const GUIDE: usize = 2 + CLUBS.len();
/// One address for each role, whatever the seed, and whose it is.
pub const GUIDES: [(&str, usize); 4] = [
    ("member@merrow.example", GUIDE),
    ("secretary@merrow.example", 2),
    ("registrar@merrow.example", 1),
    ("administrator@merrow.example", 0),
];

/// Standard deviation of [`Person::effect`].
pub const GROWER_SD: f64 = 0.06;

/// Fewest members: the offices have to be filled.
pub const FEWEST: usize = 2 + CLUBS.len() + 1;
/// Most members that the lists above have names for, with room to spare.
pub const MOST: usize = 1_500;

/// `count` members: the administrator, the registrar, the secretaries in the order of [`CLUBS`], then the
/// others.
pub fn generate(seed: u64, count: usize) -> Vec<Person> {
    let mut random = Random::stream(seed, "people", &[]);
    let mut taken = BTreeSet::new();
    (0..count).map(|at| person(&mut random, &mut taken, at)).collect()
}

fn person(random: &mut Random, taken: &mut BTreeSet<String>, at: usize) -> Person {
    let (name, own_address) = loop {
        let name = format!("{} {}", random.pick(&FIRST), random.pick(&LAST));
        let email = format!("{}@merrow.example", search_key(&name).replace(' ', "."));
        if taken.insert(email.clone()) {
            break (name, email);
        }
    };
    let guide = GUIDES.iter().find(|(_, whose)| *whose == at);
    let email = guide.map_or(own_address, |(address, _)| (*address).to_owned());
    let office = match at {
        0 => Office::Administrator,
        1 => Office::Registrar,
        _ if at < 2 + CLUBS.len() => Office::Secretary,
        _ => Office::None,
    };
    let weights: Vec<(usize, f64)> = CLUBS.iter().map(|club| club.weight).enumerate().collect();
    let drawn = *random.weighted(&weights);
    let club = if office == Office::Secretary { at - 2 } else { drawn };
    let second = *random.weighted(&weights);
    let second_club = (random.chance(0.12) && second != club).then_some(second);
    let home = CLUBS.get(club).map_or(0, |club| club.region);
    let region = if random.chance(0.08) { random.below(REGIONS.len()) } else { home };
    Person {
        name,
        email,
        office,
        club,
        second_club,
        region,
        places: places(random, REGIONS.get(region).is_some_and(|r| r.outdoors)),
        keenness: if at == GUIDE { 3.0 } else { random.exponential(1.0) + 0.25 },
        effect: random.normal(0.0, GROWER_SD),
    }
}

fn places(random: &mut Random, outdoors: bool) -> Vec<Place> {
    let heated = |to_c: f64| Place { environment: Environment::Heated, heated_to_c: Some(to_c) };
    let plain = |environment| Place { environment, heated_to_c: None };
    let first = *random.weighted(&[
        (heated(5.0), 0.24),
        (heated(7.0), 0.16),
        (heated(10.0), 0.06),
        (plain(Environment::FrostFree), 0.38),
        (plain(Environment::ColdGlass), 0.16),
    ]);
    let mut all = vec![first];
    if random.chance(0.3) {
        let second = match first.environment {
            Environment::Heated if outdoors => plain(Environment::Outdoors),
            Environment::Heated | Environment::FrostFree => plain(Environment::ColdGlass),
            Environment::ColdGlass | Environment::Outdoors => plain(Environment::FrostFree),
        };
        all.push(second);
    }
    all
}

#[cfg(test)]
mod tests {
    #![allow(clippy::indexing_slicing, reason = "a test may fail")]

    use storksbill_domain::names;

    use super::*;

    #[test]
    fn nobody_shares_a_name_or_an_address_and_every_office_is_filled() {
        for count in [FEWEST, 150, MOST] {
            let people = generate(11, count);
            assert_eq!(people.len(), count);
            let names: BTreeSet<&str> = people.iter().map(|p| p.name.as_str()).collect();
            let addresses: BTreeSet<&str> = people.iter().map(|p| p.email.as_str()).collect();
            assert_eq!((names.len(), addresses.len()), (count, count));
            assert!(addresses.iter().all(|a| names::is_email(a) && a.is_ascii()), "{addresses:?}");
            assert_eq!(people[0].office, Office::Administrator);
            assert_eq!(people[1].office, Office::Registrar);
            let secretaries: Vec<usize> =
                people.iter().filter(|p| p.office == Office::Secretary).map(|p| p.club).collect();
            assert_eq!(secretaries, [0, 1, 2, 3, 4]);
        }
    }

    #[test]
    fn the_grower_effects_have_the_stated_spread() {
        let people = generate(11, MOST);
        let n = people.len() as f64;
        let mean = people.iter().map(|p| p.effect).sum::<f64>() / n;
        let sd = (people.iter().map(|p| (p.effect - mean).powi(2)).sum::<f64>() / n).sqrt();
        // Four standard errors of mean and spread over 1,500.
        assert!(mean.abs() < 4.0 * GROWER_SD / n.sqrt(), "{mean}");
        assert!((sd - GROWER_SD).abs() < 4.0 * GROWER_SD / (2.0 * n).sqrt(), "{sd}");
    }

    #[test]
    fn only_heated_places_have_a_temperature_and_only_mild_regions_grow_in_the_open() {
        for person in generate(11, 400) {
            for place in &person.places {
                assert_eq!(place.environment == Environment::Heated, place.heated_to_c.is_some());
                assert!(place.environment != Environment::Outdoors || REGIONS[person.region].outdoors);
            }
        }
    }
}
