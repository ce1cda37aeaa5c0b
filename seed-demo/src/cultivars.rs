//! What there is to grow: invented cultivars with invented names and pedigrees.
//!
//! A name is a place of the island, which exists nowhere, and a word; a seedling has its raiser's letters,
//! the year and a number. Founders come first; later ones are crosses of two earlier ones of groups that are
//! crossed in practice, or sports of one.
//!
//! What a cultivar needs, beside its group's requirement, is inherited: with `u` its effect on the log scale,
//!
//! ```text
//! founder    u ~ N(0, 0.08^2)
//! cross      u = (u_seed + u_pollen) / 2 + N(0, 0.08^2 / 2)      half the variance is that of sampling genes
//! sport      u = u_source + N(0, 0.01^2)
//! ```
//!
//! so that unrelated parents pass the same spread on (the infinitesimal model: Fisher 1918, Transactions of
//! the Royal Society of Edinburgh 52:399-433).
#![allow(clippy::indexing_slicing, reason = "every index is that of a cultivar or person made before")]

use std::collections::BTreeSet;

use storksbill_domain::names::search_key;
use storksbill_domain::words::{CultivarStatus, PlantGroup};

use crate::people::Person;
use crate::random::Random;

/// Standard deviation of a cultivar's effect.
pub const CULTIVAR_SD: f64 = 0.08;

/// A cultivar.
#[derive(Debug, Clone, PartialEq)]
pub struct Cultivar {
    pub name: String,
    pub group: PlantGroup,
    pub raiser: Option<String>,
    /// The raiser, where a member.
    pub raised_by: Option<usize>,
    pub raised_year: Option<i32>,
    pub status: CultivarStatus,
    pub protected: bool,
    /// Parents and sources are always earlier in the list.
    pub seed_parent: Option<usize>,
    pub pollen_parent: Option<usize>,
    pub sport_of: Option<usize>,
    pub notes: Option<&'static str>,
    /// See the module's first lines.
    pub effect: f64,
    /// 0 for founders, else one more than the latest parent.
    pub generation: usize,
}

/// Fewest: some of every group.
pub const FEWEST: usize = 60;
/// Most that there are names for, with room to spare.
pub const MOST: usize = 1_200;

const PLACES: [&str; 46] = [
    "Pellance",
    "Quillan",
    "Thorrow",
    "Skerravoe",
    "Fennowmere",
    "Ulvaness",
    "Brannoch",
    "Orrisand",
    "Merrow",
    "Ållevik",
    "Béarnwick",
    "Carrowmoy",
    "Dunskell",
    "Élavie",
    "Fjarrow",
    "Gwenmarrow",
    "Hollowick",
    "Ílveth",
    "Jorrisay",
    "Kittering",
    "Lanvöe",
    "Morwenholt",
    "Nærvik",
    "Oldmizzen",
    "Penquill",
    "Querrin",
    "Rossavane",
    "Saltmorrow",
    "Tarnaway",
    "Underskerry",
    "Vellanquay",
    "Wrackhaven",
    "Ynysmerr",
    "Zennorby",
    "Ashvoe",
    "Brimholt",
    "Corriwell",
    "Drumskerry",
    "Eskerlow",
    "Farrowsea",
    "Glimmerholm",
    "Harrowmere",
    "Isleholt",
    "Kelderquay",
    "Lythmoor",
    "Mardlesey",
];

const WORDS: [&str; 56] = [
    "Lantern",
    "Ember",
    "Kestrel",
    "Tide",
    "Ribbon",
    "Bonnet",
    "Foxglove",
    "Lamplight",
    "Whisper",
    "Marmalade",
    "Curfew",
    "Plover",
    "Velvet",
    "Thimble",
    "Regatta",
    "Sixpence",
    "Dusk",
    "Cockle",
    "Rowan",
    "Bellringer",
    "Petticoat",
    "Mackerel Sky",
    "Ferryman",
    "Gooseberry",
    "Harvest Moon",
    "Inkwell",
    "Jigsaw",
    "Kingfisher",
    "Ladybird",
    "Milkmaid",
    "Nutmeg",
    "Oyster",
    "Paintbox",
    "Quartz",
    "Raspberry",
    "Saffron",
    "Tinker",
    "Umbrella",
    "Vespers",
    "Wren",
    "Yarrow",
    "Zephyr",
    "Brocade",
    "Candlewick",
    "Damson",
    "Fiddler",
    "Garnet",
    "Hayloft",
    "Limpet",
    "Mirabelle",
    "Nightcap",
    "Porcelain",
    "Rosehip",
    "Snowdrift",
    "Toffee",
    "Fée",
];

const EPITHETS: [&str; 12] = [
    "merrowense",
    "skerravoense",
    "thorrowii",
    "quillanense",
    "pellancianum",
    "ulvanense",
    "brannochii",
    "orrisandicum",
    "fennowmerense",
    "insulae-ventosae",
    "carrowmoyense",
    "lythmoorense",
];

const PAST_RAISERS: [&str; 8] = [
    "Canon Theodric Eelskerry",
    "the Misses Pebbleworthy",
    "Capt. Lorrimer Voewright",
    "Orrisand Estate",
    "Dr Hepzibah Nightjarrow",
    "Ambrose Limpetsole",
    "Old Thorrow Gardens",
    "Mrs Euphrasia Inkpenny",
];

const NOTES: [&str; 8] = [
    "Slow to branch; stop early.",
    "Holds its blooms well in heat.",
    "Damps off in a wet July.",
    "Compact; seldom needs more than two stops.",
    "Leaves scorch in full sun under glass.",
    "Best in its second year.",
    "Pollen plentiful in May.",
    "Shy of flowering after a warm winter.",
];

/// Shares of the groups among the cultivars.
const GROUPS: [(PlantGroup, f64); 12] = [
    (PlantGroup::Zonal, 0.17),
    (PlantGroup::Regal, 0.15),
    (PlantGroup::Dwarf, 0.11),
    (PlantGroup::Miniature, 0.09),
    (PlantGroup::IvyLeaved, 0.09),
    (PlantGroup::Stellar, 0.08),
    (PlantGroup::FancyLeaf, 0.08),
    (PlantGroup::Angel, 0.08),
    (PlantGroup::ScentedLeaf, 0.06),
    (PlantGroup::Rosebud, 0.03),
    (PlantGroup::Unique, 0.03),
    (PlantGroup::Species, 0.03),
];

/// Groups whose plants are crossed to raise one of this group.
fn crossed_from(group: PlantGroup) -> &'static [PlantGroup] {
    match group {
        PlantGroup::Zonal => &[PlantGroup::Zonal],
        PlantGroup::FancyLeaf => &[PlantGroup::FancyLeaf, PlantGroup::Zonal],
        PlantGroup::Stellar => &[PlantGroup::Stellar, PlantGroup::Zonal],
        PlantGroup::Rosebud => &[PlantGroup::Rosebud, PlantGroup::Zonal],
        PlantGroup::Dwarf => &[PlantGroup::Dwarf, PlantGroup::Zonal, PlantGroup::Stellar],
        PlantGroup::Miniature => &[PlantGroup::Miniature, PlantGroup::Dwarf],
        PlantGroup::IvyLeaved => &[PlantGroup::IvyLeaved],
        PlantGroup::Regal => &[PlantGroup::Regal],
        PlantGroup::Angel => &[PlantGroup::Angel, PlantGroup::Regal, PlantGroup::Species],
        PlantGroup::Unique => &[PlantGroup::Unique, PlantGroup::Regal],
        PlantGroup::ScentedLeaf => &[PlantGroup::ScentedLeaf, PlantGroup::Species],
        // Wild; never raised.
        PlantGroup::Species => &[],
    }
}

/// `count` cultivars, the last of them raised in the year before `season`.
pub fn generate(seed: u64, count: usize, season: i32, people: &[Person]) -> Vec<Cultivar> {
    let mut random = Random::stream(seed, "cultivars", &[]);
    let mut names = Names::default();
    let mut all: Vec<Cultivar> = Vec::with_capacity(count);
    let founders = count * 3 / 10;
    let mut years: Vec<i32> = (0..count)
        .map(|at| {
            if at < founders {
                random.between(season - 78, season - 40)
            } else {
                random.between(season - 39, season - 1)
            }
        })
        .collect();
    years.sort_unstable();
    for (at, year) in years.into_iter().enumerate() {
        // The groups in turn for the first few, so that each has a founder.
        let group = match GROUPS.get(at) {
            Some((group, _)) => *group,
            None => *random.weighted(&GROUPS),
        };
        let founder = at < founders || group == PlantGroup::Species;
        all.push(one(&mut random, &mut names, &all, people, At { year, season, group, founder }));
    }
    all
}

#[derive(Clone, Copy)]
struct At {
    year: i32,
    season: i32,
    group: PlantGroup,
    founder: bool,
}

fn one(random: &mut Random, names: &mut Names, before: &[Cultivar], people: &[Person], at: At) -> Cultivar {
    let age = at.season - at.year;
    let wild = at.group == PlantGroup::Species;
    let origin = if at.founder { Origin::Founder } else { origin(random, before, at) };
    let status = match age {
        _ if wild || origin == Origin::Founder => CultivarStatus::Named,
        ..=3 if random.chance(0.6) => CultivarStatus::Seedling,
        ..=7 if random.chance(0.5) => CultivarStatus::OnTrial,
        _ => CultivarStatus::Named,
    };
    let raised_by =
        (!wild && (age <= 30 || status != CultivarStatus::Named)).then(|| random.below(people.len()));
    let raiser = match raised_by {
        Some(person) => Some(people[person].name.clone()),
        None if !wild && random.chance(0.75) => Some((*random.pick(&PAST_RAISERS)).to_owned()),
        None => None,
    };
    let name = match status {
        CultivarStatus::Seedling => names.number(random, raiser.as_deref().unwrap_or_default(), at.year),
        _ if wild => names.species(random),
        _ => names.fresh(random),
    };
    let effect_of = |index: Option<usize>| index.map_or(0.0, |index| before[index].effect);
    let generation_of = |index: usize| before[index].generation;
    let (seed_parent, pollen_parent, sport_of) = match origin {
        Origin::Founder => (None, None, None),
        Origin::Cross(seed, pollen) => (Some(seed), pollen, None),
        Origin::Sport(source) => (None, None, Some(source)),
    };
    let effect = match origin {
        Origin::Founder => random.normal(0.0, CULTIVAR_SD),
        // An unknown pollen parent is drawn like a founder, so half its spread comes in.
        Origin::Cross(_, None) => {
            effect_of(seed_parent) / 2.0 + random.normal(0.0, CULTIVAR_SD * 0.75_f64.sqrt())
        }
        Origin::Cross(_, Some(_)) => {
            f64::midpoint(effect_of(seed_parent), effect_of(pollen_parent))
                + random.normal(0.0, CULTIVAR_SD * 0.5_f64.sqrt())
        }
        Origin::Sport(_) => effect_of(sport_of) + random.normal(0.0, 0.01),
    };
    let parents = [seed_parent, pollen_parent, sport_of];
    Cultivar {
        name,
        group: at.group,
        raiser,
        raised_by,
        raised_year: (!wild && random.chance(0.95)).then_some(at.year),
        status,
        protected: status == CultivarStatus::Named && age <= 20 && random.chance(0.2),
        seed_parent,
        pollen_parent,
        sport_of,
        notes: random.chance(0.2).then(|| *random.pick(&NOTES)),
        effect,
        generation: parents.into_iter().flatten().map(|parent| generation_of(parent) + 1).max().unwrap_or(0),
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Origin {
    Founder,
    /// Now and then the pollen parent is not known: an insect's cross.
    Cross(usize, Option<usize>),
    Sport(usize),
}

fn origin(random: &mut Random, before: &[Cultivar], at: At) -> Origin {
    // A parent flowered a year or more before.
    let old_enough = |c: &Cultivar| {
        c.raised_year.is_none_or(|year| year + 2 <= at.year) && c.status == CultivarStatus::Named
    };
    let of = |groups: &[PlantGroup]| -> Vec<usize> {
        before
            .iter()
            .enumerate()
            .filter(|(_, c)| groups.contains(&c.group) && old_enough(c))
            .map(|(index, _)| index)
            .collect()
    };
    let own = of(&[at.group]);
    let any = of(crossed_from(at.group));
    if own.is_empty() {
        return Origin::Founder;
    }
    if random.chance(0.08) {
        return Origin::Sport(*random.pick(&own));
    }
    // Raisers go back to what won lately: of two drawn, the later is taken.
    let late = |random: &mut Random, from: &[usize]| (*random.pick(from)).max(*random.pick(from));
    let seed = late(random, &own);
    let pollen = late(random, &any);
    let (seed, pollen) = if random.chance(0.5) { (seed, pollen) } else { (pollen, seed) };
    Origin::Cross(seed, random.chance(0.88).then_some(pollen))
}

/// Names given so far, by their search key.
#[derive(Debug, Default)]
struct Names {
    taken: BTreeSet<String>,
}

impl Names {
    fn first_free(&mut self, mut draw: impl FnMut() -> String) -> String {
        loop {
            let name = draw();
            if self.taken.insert(search_key(&name)) {
                return name;
            }
        }
    }

    fn fresh(&mut self, random: &mut Random) -> String {
        self.first_free(|| format!("{} {}", random.pick(&PLACES), random.pick(&WORDS)))
    }

    fn species(&mut self, random: &mut Random) -> String {
        self.first_free(|| {
            let epithet = random.pick(&EPITHETS);
            let place = random.pick(&PLACES);
            if random.chance(0.5) { format!("P. {epithet}") } else { format!("P. {epithet} ({place} form)") }
        })
    }

    /// The raiser's letters, the year's last two figures, a number.
    fn number(&mut self, random: &mut Random, raiser: &str, year: i32) -> String {
        let letters: String = raiser.split_whitespace().filter_map(|part| part.chars().next()).collect();
        self.first_free(|| format!("{letters} {:02}/{:03}", year.rem_euclid(100), random.between(1, 240)))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use super::*;
    use crate::people;

    fn made(count: usize) -> Vec<Cultivar> {
        generate(11, count, 2026, &people::generate(11, 150))
    }

    #[test]
    fn names_are_unique_even_to_a_search_and_some_have_accents() {
        for count in [FEWEST, 400, MOST] {
            let all = made(count);
            let keys: BTreeSet<String> = all.iter().map(|c| search_key(&c.name)).collect();
            assert_eq!((all.len(), keys.len()), (count, count));
        }
        let all = made(400);
        assert!(all.iter().filter(|c| !c.name.is_ascii()).count() >= 20);
        assert!(all.iter().all(|c| (3..=60).contains(&c.name.chars().count())));
    }

    #[test]
    fn all_twelve_groups_are_there_even_in_the_smallest_society() {
        for count in [FEWEST, 400] {
            let all = made(count);
            for group in PlantGroup::ALL {
                assert!(all.iter().any(|c| c.group == *group), "{group}");
            }
        }
    }

    #[test]
    fn parents_come_first_are_older_and_of_groups_that_cross() {
        let all = made(400);
        for (at, c) in all.iter().enumerate() {
            for parent in [c.seed_parent, c.pollen_parent, c.sport_of].into_iter().flatten() {
                assert!(parent < at, "{}", c.name);
                let parent = &all[parent];
                assert_eq!(parent.status, CultivarStatus::Named);
                assert!(parent.generation < c.generation);
                assert!(crossed_from(c.group).contains(&parent.group) || parent.group == c.group);
                if let (Some(older), Some(younger)) = (parent.raised_year, c.raised_year) {
                    assert!(older + 2 <= younger, "{}", c.name);
                }
            }
            if let Some(source) = c.sport_of {
                assert_eq!((c.seed_parent, c.pollen_parent), (None, None));
                assert_eq!(all[source].group, c.group);
            }
        }
        let crosses = all.iter().filter(|c| c.seed_parent.is_some()).count();
        let sports = all.iter().filter(|c| c.sport_of.is_some()).count();
        assert!((200..280).contains(&crosses), "{crosses}");
        assert!((10..50).contains(&sports), "{sports}");
        assert!(all.iter().map(|c| c.generation).max().unwrap() >= 4);
    }

    #[test]
    fn some_are_protected_some_on_trial_some_still_numbers() {
        let all = made(400);
        let count = |status| all.iter().filter(|c| c.status == status).count();
        assert!(count(CultivarStatus::Seedling) >= 10);
        assert!(count(CultivarStatus::OnTrial) >= 10);
        assert!(count(CultivarStatus::Named) >= 300);
        assert!(all.iter().filter(|c| c.protected).count() >= 10);
        assert!(all.iter().filter(|c| c.status != CultivarStatus::Named).all(|c| c.raised_by.is_some()));
    }

    #[test]
    fn effects_keep_their_spread_through_the_generations() {
        // Relatives are not independent draws, so the spread of many seeds together is looked at.
        let people = people::generate(11, 150);
        let late: Vec<f64> = (0..40)
            .flat_map(|seed| generate(seed, 400, 2026, &people))
            .filter(|c| c.generation >= 3)
            .map(|c| c.effect)
            .collect();
        let n = late.len() as f64;
        let sd = (late.iter().map(|u| u * u).sum::<f64>() / n).sqrt();
        assert!((sd - CULTIVAR_SD).abs() < 0.1 * CULTIVAR_SD, "{sd} over {n}");
    }
}
