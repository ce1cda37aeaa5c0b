//! What the members hold.
#![allow(clippy::indexing_slicing, reason = "every index is that of a cultivar, person or plant made before")]

use storksbill_domain::words::{CultivarStatus, Environment, GrowthForm, PlantGroup, Visibility};
use storksbill_forecast::calendar;

use crate::cultivars::Cultivar;
use crate::people::{Person, Place};
use crate::random::Random;

/// A plant, or several of one batch.
#[derive(Debug, Clone, PartialEq)]
pub struct Plant {
    pub owner: usize,
    pub cultivar: usize,
    /// The owner's region.
    pub region: usize,
    /// Unlike that of the owner's other plants.
    pub label: String,
    pub how_many: i32,
    /// Inner diameter at the rim; the pots are sold by the inch of 25.4 mm.
    pub pot_mm: f64,
    pub place: Place,
    pub form: GrowthForm,
    /// An older plant of the same owner and cultivar that this one is a cutting of.
    pub source_plant: Option<usize>,
    /// The member it came from.
    pub source_member: Option<usize>,
    /// Days since 1970-01-01.
    pub got_on: i32,
    pub visibility: Visibility,
}

/// `count` plants, shared out by how keen the members are; each holds at least two.
///
/// The first were got before the first of `seasons`, the last in the autumn before the last.
pub fn generate(
    seed: u64,
    count: usize,
    (first_season, last_season): (i32, i32),
    people: &[Person],
    cultivars: &[Cultivar],
) -> Vec<Plant> {
    let mut random = Random::stream(seed, "plants", &[]);
    let wishes = popularity(&mut random, cultivars);
    let owners = owners(&mut random, count, people);
    let mut all: Vec<Plant> = Vec::with_capacity(count);
    let mut numbers = vec![0; people.len()];
    for owner in owners {
        numbers[owner] += 1;
        let number = numbers[owner];
        let plant =
            one(&mut random, &all, owner, number, (first_season, last_season), &wishes, people, cultivars);
        all.push(plant);
    }
    all
}

/// A few cultivars are in every greenhouse, most in one or two; seedlings with their raisers alone.
fn popularity(random: &mut Random, cultivars: &[Cultivar]) -> Vec<(usize, f64)> {
    let mut wishes: Vec<(usize, f64)> = cultivars
        .iter()
        .map(|c| match c.status {
            CultivarStatus::Named => (random.normal(0.0, 0.9)).exp(),
            CultivarStatus::OnTrial => 0.25,
            CultivarStatus::Seedling => 0.0,
        })
        .enumerate()
        .collect();
    for (at, weight) in &mut wishes {
        if cultivars[*at].group == PlantGroup::Species {
            *weight *= 0.5;
        }
    }
    wishes
}

/// The owner of each plant, in order of members.
fn owners(random: &mut Random, count: usize, people: &[Person]) -> Vec<usize> {
    let weights: Vec<(usize, f64)> = people.iter().map(|p| p.keenness).enumerate().collect();
    let mut owners: Vec<usize> = (0..people.len()).flat_map(|owner| [owner; 2]).take(count).collect();
    while owners.len() < count {
        owners.push(*random.weighted(&weights));
    }
    owners.sort_unstable();
    owners
}

#[allow(clippy::too_many_arguments, reason = "one draw of the loop above, apart for its length alone")]
fn one(
    random: &mut Random,
    before: &[Plant],
    owner: usize,
    number: i32,
    (first_season, last_season): (i32, i32),
    wishes: &[(usize, f64)],
    people: &[Person],
    cultivars: &[Cultivar],
) -> Plant {
    let person = &people[owner];
    // Owners come in order, so that the owner's earlier plants stand at the end of the list.
    let own: Vec<usize> = (0..before.len()).rev().take_while(|&at| before[at].owner == owner).collect();
    // A batch is kept up by cuttings of one's own older plants, or begun from outside.
    let source_plant = random
        .chance(0.22)
        .then(|| own.iter().copied().filter(|&at| calendar::date(before[at].got_on).year < last_season - 1))
        .and_then(|mut older| older.next());
    let raised: Vec<usize> = (0..cultivars.len())
        .filter(|&c| cultivars[c].raised_by == Some(owner) && cultivars[c].status == CultivarStatus::Seedling)
        .collect();
    let cultivar = match source_plant {
        Some(source) => before[source].cultivar,
        None if !raised.is_empty() && random.chance(0.3) => *random.pick(&raised),
        None => *random.weighted(wishes),
    };
    let group = cultivars[cultivar].group;
    // Struck or bought from August to October, for the season of the year after.
    let earliest = match source_plant {
        Some(source) => calendar::date(before[source].got_on).year + 1,
        None => first_season - 1,
    }
    .max(cultivars[cultivar].raised_year.unwrap_or(i32::MIN).saturating_add(1))
    .min(last_season - 1);
    let year = random.between(earliest, last_season - 1);
    let got_on = calendar::epoch_day(year, 8, 5).unwrap_or(0) + random.between(0, 80);
    let source_member = (source_plant.is_none() && random.chance(0.35))
        .then(|| random.below(people.len()))
        .filter(|&giver| giver != owner);
    let place = place_for(random, group, &person.places);
    let age = last_season - year;
    Plant {
        owner,
        cultivar,
        region: person.region,
        label: format!("{}-{number:02}", char::from(b'A' + u8::try_from(owner % 26).unwrap_or(0))),
        how_many: *random.weighted(&[(1, 0.5), (2, 0.22), (3, 0.16), (4, 0.06), (6, 0.06)]),
        pot_mm: pot(random, group, age),
        place,
        form: form(random, group, age),
        source_plant,
        source_member,
        got_on,
        visibility: *random.weighted(&[
            (Visibility::Society, 0.68),
            (Visibility::Club, 0.20),
            (Visibility::Private, 0.12),
        ]),
    }
}

/// Regals and angels need the shelter, the others take what there is.
fn place_for(random: &mut Random, group: PlantGroup, places: &[Place]) -> Place {
    let hardy = matches!(group, PlantGroup::Zonal | PlantGroup::IvyLeaved | PlantGroup::ScentedLeaf);
    let fit: Vec<Place> =
        places.iter().copied().filter(|p| hardy || p.environment != Environment::Outdoors).collect();
    *random.pick(if fit.is_empty() { places } else { &fit })
}

fn pot(random: &mut Random, group: PlantGroup, age: i32) -> f64 {
    match group {
        PlantGroup::Miniature => *random.pick(&[76.2, 88.9]),
        PlantGroup::Dwarf => *random.pick(&[88.9, 101.6, 114.3]),
        _ if age <= 1 => *random.pick(&[88.9, 101.6, 114.3, 127.0]),
        _ => *random.pick(&[114.3, 127.0, 139.7, 152.4, 165.1, 203.2]),
    }
}

fn form(random: &mut Random, group: PlantGroup, age: i32) -> GrowthForm {
    if age <= 1 && random.chance(0.25) {
        return GrowthForm::Young;
    }
    let shapes: &[(GrowthForm, f64)] = match group {
        PlantGroup::IvyLeaved => &[
            (GrowthForm::Basket, 0.4),
            (GrowthForm::HangingPot, 0.3),
            (GrowthForm::Climber, 0.15),
            (GrowthForm::Bush, 0.15),
        ],
        PlantGroup::Miniature | PlantGroup::Dwarf | PlantGroup::Species => &[(GrowthForm::Bush, 1.0)],
        PlantGroup::Unique | PlantGroup::ScentedLeaf => {
            &[(GrowthForm::Bush, 0.8), (GrowthForm::Pillar, 0.1), (GrowthForm::Pyramid, 0.1)]
        }
        _ => &[(GrowthForm::Bush, 0.85), (GrowthForm::Standard, 0.09), (GrowthForm::Fan, 0.06)],
    };
    *random.weighted(shapes)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::{cultivars, people};

    #[test]
    fn every_member_has_plants_and_every_plant_a_likely_history() {
        let people = people::generate(11, 150);
        let cultivars = cultivars::generate(11, 400, 2026, &people);
        let plants = generate(11, 1_500, (2021, 2026), &people, &cultivars);
        assert_eq!(plants.len(), 1_500);
        let mut labels = BTreeSet::new();
        for plant in &plants {
            assert!(labels.insert((plant.owner, &plant.label)), "{plant:?}");
            let got = calendar::date(plant.got_on);
            assert!((2020..=2025).contains(&got.year) && (8..=10).contains(&got.month), "{plant:?}");
            assert_ne!(plant.source_member, Some(plant.owner));
            if let Some(source) = plant.source_plant {
                let source = &plants[source];
                assert_eq!((source.owner, source.cultivar), (plant.owner, plant.cultivar));
                assert!(source.got_on + 200 < plant.got_on, "{plant:?}");
            }
            if cultivars[plant.cultivar].status == CultivarStatus::Seedling {
                assert_eq!(cultivars[plant.cultivar].raised_by, Some(plant.owner));
            }
        }
        for owner in 0..people.len() {
            assert!(plants.iter().filter(|p| p.owner == owner).count() >= 2);
        }
        let environments: BTreeSet<&str> = plants.iter().map(|p| p.place.environment.as_str()).collect();
        assert_eq!(environments.len(), 4);
        assert!(plants.iter().filter(|p| p.source_plant.is_some()).count() > 100);
        assert!(plants.iter().filter(|p| p.source_member.is_some()).count() > 300);
    }
}
