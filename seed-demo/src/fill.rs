//! Fills an empty server through its own API, as the members themselves would have done.
//!
//! The server's clock is set back for it and moved on step by step, so that members joined before they
//! offered cuttings and schedules were out before the shows. The last request gives the administrator their
//! name: a server whose administrator is still called [`UNFINISHED`] was not filled to the end.
#![allow(clippy::indexing_slicing, reason = "every index is one of the lists that the demonstration holds")]

use std::collections::BTreeMap;

use reqwest::Method;
use serde_json::{Value, json};
use storksbill::app::App;
use storksbill::jobs::run_waiting;
use storksbill::members;
use storksbill_domain::words::{ClubRole, CultivarStatus, RingAnswer, SocietyRole};
use storksbill_forecast::calendar;

use crate::api::{Api, at_once, id_of, table, text_of};
use crate::care::LEAVE;
use crate::clock::TurnedClock;
use crate::crosses::Cross;
use crate::demo::Demo;
use crate::hold::{Earlier, SCHEDULE_BEFORE, enter_own, hold};
use crate::people::{Office, PASSWORD};
use crate::places::{CLUBS, GENERATED, REGIONS, STATIONS};
use crate::register::Ended;
use crate::swaps::{Choices, Listed};

/// The administrator's name until everything is there.
pub const UNFINISHED: &str = "Filling the demonstration";

/// Days before today on which the round of the swap that is past was run.
const ROUND_AGO: i32 = 12;

/// Fills the server of this state, which answers at `address` and is empty.
///
/// # Errors
/// One line for the first request that was refused.
pub async fn fill(app: &App, address: &str, demo: &Demo, tell: &(dyn Fn(&str) + Sync)) -> Result<(), String> {
    let today = demo.scale.today;
    let mut clock = TurnedClock::new(app, today);
    let (first, _) = demo.scale.seasons();
    let opened = demo.shows.iter().map(|show| show.held_on - SCHEDULE_BEFORE - 30).min();
    let oldest_show = opened.unwrap_or(today);
    clock.turn_to(calendar::epoch_day(first, 2, 1).unwrap_or(today).min(oldest_show));
    let society = found(app, address, demo, tell).await?;
    clock.turn_to(today);
    let mut earlier = Earlier::default();
    for show in &demo.shows {
        hold(app, &society, demo, show, &mut earlier).await?;
    }
    tell(&format!("{} shows: held, being held, taking entries, to come, called off", demo.shows.len()));

    clock.turn_to(today - ROUND_AGO);
    let desk = Desk::open(app, &society, demo).await?;
    desk.move_house().await?;
    let cultivars = desk.enter_cultivars().await?;
    tell(&format!("{} cultivars with their parents", cultivars.len()));
    let plants = desk.enter_plants(&cultivars).await?;
    tell(&format!("{} plants", plants.len()));
    desk.take_care(&cultivars, &plants, tell).await?;
    desk.run_past_round(&demo.swaps[0], &cultivars, &plants, tell).await?;

    clock.turn_to(today);
    let desk = desk.reopened().await?;
    let readings = desk.send_readings().await?;
    tell(&format!("{readings} daily readings of {} stations, generated", STATIONS.len()));
    desk.write_diaries().await?;
    tell(&format!("{} diary records", demo.diary.records.len()));
    desk.enter_crosses(&cultivars).await?;
    tell(&format!("{} crosses", demo.crosses.len()));
    desk.keep_register(&cultivars, tell).await?;
    desk.run_open_round(&demo.swaps[1], &cultivars, &plants, tell).await?;
    desk.registrar().post("/api/v1/conservation/nudges", &json!({})).await?;
    let entries = enter_own(demo, &desk.logged_in).await?;
    tell(&format!("{entries} entries of members' own plants for the show to come"));
    // Worked on while it is served; the forecasts answer without them.
    for job in ["fits", "backtests"] {
        desk.logged_in[0].post(&format!("/api/v1/forecasts/{job}"), &json!({})).await?;
    }
    tell("a fit and a comparison with past seasons, waiting to be worked on");
    society.ask_to_join().await?;
    desk.logged_in[0].patch("/api/v1/members/me", &json!({"name": demo.people[0].name})).await?;
    Ok(())
}

/// The ids that the server gave, in the order of the demonstration's lists.
pub(crate) struct Society {
    visitor: Api,
    regions: Vec<String>,
    stations: Vec<String>,
    pub(crate) clubs: Vec<String>,
    pub(crate) members: Vec<String>,
}

async fn found(
    app: &App,
    address: &str,
    demo: &Demo,
    tell: &(dyn Fn(&str) + Sync),
) -> Result<Society, String> {
    let visitor = Api::visitor(address)?;
    let keeper = &demo.people[0];
    members::create_administrator(&app.db, &keeper.email, UNFINISHED, PASSWORD.to_owned()).await?;
    let admin = visitor
        .logged_in(&keeper.email, PASSWORD)
        .await?
        .ok_or("the administrator who was just made cannot log in")?;
    let (mut regions, mut stations, mut clubs) = (Vec::new(), Vec::new(), Vec::new());
    for region in &REGIONS {
        let body = json!({
            "name": region.name, "latitude": region.latitude, "longitude": region.longitude,
            "elevation_m": region.elevation_m, "plant_health_zone": region.plant_health_zone,
        });
        regions.push(id_of(&admin.post("/api/v1/regions", &body).await?)?);
    }
    for station in &STATIONS {
        let body = json!({
            "name": station.name, "latitude": station.latitude, "longitude": station.longitude,
            "elevation_m": station.elevation_m, "source": GENERATED,
        });
        let path = format!("/api/v1/regions/{}/stations", regions[station.region]);
        stations.push(id_of(&admin.post(&path, &body).await?)?);
    }
    for club in &CLUBS {
        let body = json!({
            "name": club.name, "region_id": regions[club.region], "meeting_place": club.meeting_place,
        });
        clubs.push(id_of(&admin.post("/api/v1/clubs", &body).await?)?);
    }
    tell(&format!("{} regions, {} stations, {} clubs", regions.len(), stations.len(), clubs.len()));
    let mut members = vec![id_of(&admin.get("/api/v1/members/me").await?)?];
    members.extend(
        at_once(demo.people.iter().skip(1).map(|person| {
            let (admin, visitor, club) = (&admin, &visitor, &clubs[person.club]);
            async move {
                let invited = json!({"email": person.email, "club_id": club});
                let token = text_of(&admin.post("/api/v1/invitations", &invited).await?, "token")?;
                let accepted = json!({"token": token, "name": person.name, "password": PASSWORD});
                id_of(&visitor.post("/api/v1/invitations/acceptance", &accepted).await?)
            }
        }))
        .await?,
    );
    let society = Society { visitor, regions, stations, clubs, members };
    society.give_offices(&admin, demo).await?;
    tell(&format!("{} members", society.members.len()));
    Ok(society)
}

impl Society {
    async fn give_offices(&self, admin: &Api, demo: &Demo) -> Result<(), String> {
        let belong = |person: usize, club: usize, role: ClubRole| async move {
            let path = format!("/api/v1/clubs/{}/members/{}", self.clubs[club], self.members[person]);
            admin.put(&path, &json!({"role": role, "current_password": PASSWORD})).await
        };
        for (at, person) in demo.people.iter().enumerate() {
            match person.office {
                Office::Administrator => {
                    belong(at, person.club, ClubRole::Member).await?;
                }
                Office::Registrar => {
                    let path = format!("/api/v1/members/{}/roles", self.members[at]);
                    admin
                        .put(&path, &json!({"roles": [SocietyRole::Registrar], "current_password": PASSWORD}))
                        .await?;
                }
                Office::Secretary => {
                    belong(at, person.club, ClubRole::Secretary).await?;
                }
                Office::None => {}
            }
            if let Some(club) = person.second_club {
                belong(at, club, ClubRole::Member).await?;
            }
        }
        Ok(())
    }

    pub(crate) async fn log_in(&self, demo: &Demo, person: usize) -> Result<Api, String> {
        let email = &demo.people[person].email;
        let api = self.visitor.logged_in(email, PASSWORD).await?;
        api.ok_or_else(|| format!("{email} cannot log in"))
    }

    /// Two people whom an officer has yet to approve.
    async fn ask_to_join(&self) -> Result<(), String> {
        for (name, email, note) in [
            (
                "Pasco Winterbarrow",
                "pasco@merrow.example",
                "I grow a few on the stairs and met you at the show.",
            ),
            ("Idony Fairweather-Quay", "idony@merrow.example", "My aunt left me forty plants and no labels."),
        ] {
            let body = json!({
                "name": name, "email": email, "password": PASSWORD, "club_id": self.clubs[0], "note": note,
            });
            self.visitor.post("/api/v1/members/requests", &body).await?;
        }
        Ok(())
    }
}

/// Everybody at their own log-in, on one day.
struct Desk<'a> {
    app: &'a App,
    society: &'a Society,
    demo: &'a Demo,
    logged_in: Vec<Api>,
}

impl<'a> Desk<'a> {
    async fn open(app: &'a App, society: &'a Society, demo: &'a Demo) -> Result<Self, String> {
        let logged_in = at_once((0..demo.people.len()).map(|person| society.log_in(demo, person))).await?;
        Ok(Self { app, society, demo, logged_in })
    }

    /// After the clock was moved by less than a log-in lasts.
    async fn reopened(self) -> Result<Self, String> {
        let logged_in = at_once(self.logged_in.iter().map(Api::refreshed)).await?;
        Ok(Self { logged_in, ..self })
    }

    fn registrar(&self) -> &Api {
        &self.logged_in[1]
    }

    /// Those who do not grow where their club meets say so.
    async fn move_house(&self) -> Result<(), String> {
        let elsewhere = self.demo.people.iter().enumerate().filter(|(_, person)| {
            person.office == Office::Administrator || CLUBS[person.club].region != person.region
        });
        let moved = elsewhere.map(|(at, person)| async move {
            let body = json!({"region_id": self.society.regions[person.region]});
            self.logged_in[at].patch("/api/v1/members/me", &body).await
        });
        at_once(moved).await.map(drop)
    }

    /// The registrar enters named cultivars, raisers their seedlings; parents first.
    async fn enter_cultivars(&self) -> Result<Vec<String>, String> {
        let all = &self.demo.cultivars;
        let mut ids = vec![String::new(); all.len()];
        let generations = all.iter().map(|c| c.generation).max().unwrap_or(0);
        for generation in 0..=generations {
            let born: Vec<usize> = (0..all.len()).filter(|&at| all[at].generation == generation).collect();
            let id_of_parent = |parent: Option<usize>| parent.map(|parent| ids[parent].clone());
            let entered = at_once(born.iter().map(|&at| {
                let c = &all[at];
                let body = json!({
                    "name": c.name, "plant_group": c.group, "raiser": c.raiser,
                    "raised_year": c.raised_year, "status": c.status, "protected": c.protected,
                    "seed_parent_id": id_of_parent(c.seed_parent),
                    "pollen_parent_id": id_of_parent(c.pollen_parent),
                    "source_id": id_of_parent(c.sport_of), "notes": c.notes,
                });
                let by = match (c.status, c.raised_by) {
                    (CultivarStatus::Named, _) | (_, None) => self.registrar(),
                    (_, Some(raiser)) => &self.logged_in[raiser],
                };
                async move { id_of(&by.post("/api/v1/cultivars", &body).await?) }
            }))
            .await?;
            for (at, id) in born.into_iter().zip(entered) {
                ids[at] = id;
            }
        }
        Ok(ids)
    }

    /// Where each member's plants stand in the list.
    fn by_owner(&self) -> BTreeMap<usize, Vec<usize>> {
        let mut owners: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (at, plant) in self.demo.plants.iter().enumerate() {
            owners.entry(plant.owner).or_default().push(at);
        }
        owners
    }

    /// Every member imports their own plants; gives the plants' ids.
    async fn enter_plants(&self, cultivars: &[String]) -> Result<Vec<String>, String> {
        let owners = self.by_owner();
        let entered = owners.iter().map(|(owner, plants)| self.enter_plants_of(*owner, plants, cultivars));
        let ids: BTreeMap<usize, String> = at_once(entered).await?.into_iter().flatten().collect();
        if ids.len() != self.demo.plants.len() {
            return Err(format!("{} plants were sent, {} are kept", self.demo.plants.len(), ids.len()));
        }
        Ok(ids.into_values().collect())
    }

    async fn enter_plants_of(
        &self,
        owner: usize,
        plants: &[usize],
        cultivars: &[String],
    ) -> Result<Vec<(usize, String)>, String> {
        let api = &self.logged_in[owner];
        let all = &self.demo.plants;
        let columns = [
            "label",
            "cultivar_id",
            "how_many",
            "pot_mm",
            "environment",
            "heated_to_c",
            "form",
            "source_member_id",
            "got_on",
            "visibility",
        ];
        let rows = plants.iter().map(|&at| {
            let plant = &all[at];
            [
                plant.label.clone(),
                cultivars[plant.cultivar].clone(),
                plant.how_many.to_string(),
                plant.pot_mm.to_string(),
                plant.place.environment.to_string(),
                plant.place.heated_to_c.map(|to_c| to_c.to_string()).unwrap_or_default(),
                plant.form.to_string(),
                plant.source_member.map(|giver| self.society.members[giver].clone()).unwrap_or_default(),
                iso(plant.got_on),
                plant.visibility.to_string(),
            ]
        });
        api.send_csv(Method::POST, "/api/v1/plants/import", table(columns, rows)?).await?;
        let kept = ids_by_label(&api.get_text("/api/v1/plants/export.csv").await?)?;
        let id_of = |at: usize| {
            let label = &all[at].label;
            kept.get(label).cloned().ok_or_else(|| format!("plant {label} was not kept"))
        };
        let sources = plants
            .iter()
            .filter_map(|&at| all[at].source_plant.map(|source| (at, source)))
            .map(|(at, source)| Ok([id_of(at)?, id_of(source)?]))
            .collect::<Result<Vec<[String; 2]>, String>>()?;
        if !sources.is_empty() {
            let csv = table(["id", "source_plant_id"], sources)?;
            api.send_csv(Method::POST, "/api/v1/plants/import", csv).await?;
        }
        plants.iter().map(|&at| Ok((at, id_of(at)?))).collect()
    }

    async fn write_diaries(&self) -> Result<(), String> {
        let mut pages: BTreeMap<usize, Vec<[String; 6]>> = BTreeMap::new();
        for record in &self.demo.diary.records {
            let plant = &self.demo.plants[record.plant];
            pages.entry(plant.owner).or_default().push([
                plant.label.clone(),
                iso(record.day),
                record.kind.to_string(),
                record.how_many.map(|count| count.to_string()).unwrap_or_default(),
                record.pot_mm.map(|mm| mm.to_string()).unwrap_or_default(),
                record.note.unwrap_or_default().to_owned(),
            ]);
        }
        let sent = pages.into_iter().map(|(owner, rows)| async move {
            let csv = table(["plant_label", "day", "kind", "how_many", "pot_mm", "note"], rows)?;
            self.logged_in[owner].send_csv(Method::POST, "/api/v1/diary/import", csv).await
        });
        at_once(sent).await.map(drop)
    }

    /// Raisers enter their crosses, and what they counted.
    async fn enter_crosses(&self, cultivars: &[String]) -> Result<(), String> {
        let entered = self.demo.crosses.iter().map(|cross| self.enter_cross(cross, cultivars));
        at_once(entered).await.map(drop)
    }

    async fn enter_cross(&self, cross: &Cross, cultivars: &[String]) -> Result<(), String> {
        let api = &self.logged_in[cross.raiser];
        let pollen = cross.pollen_parent.map(|at| json!({"cultivar_id": cultivars[at]}));
        let body = json!({
            "number": cross.number, "seed_parent": {"cultivar_id": cultivars[cross.seed_parent]},
            "pollen_parents": pollen.into_iter().collect::<Vec<Value>>(), "visibility": cross.visibility,
            "pooled": cross.pooled, "notes": cross.notes,
        });
        let path = format!("/api/v1/crosses/{}", id_of(&api.post("/api/v1/crosses", &body).await?)?);
        for work in &cross.pollinations {
            let body = json!({
                "day": iso(work.day), "florets": work.florets, "petals_removed": work.petals_removed,
                "seed_bloom": work.seed_bloom, "pollen_bloom": work.pollen_bloom,
            });
            api.post(&format!("{path}/pollinations"), &body).await?;
        }
        for count in &cross.counts {
            let body = json!({
                "day": iso(count.day), "kind": count.kind, "how_many": count.how_many, "cause": count.cause,
            });
            api.post(&format!("{path}/counts"), &body).await?;
        }
        for notes in &cross.seedlings {
            api.post(&format!("{path}/seedlings"), &json!({"notes": notes})).await?;
        }
        Ok(())
    }

    /// Raisers propose names and the registrar decides; growers report on sports.
    async fn keep_register(&self, cultivars: &[String], tell: &(dyn Fn(&str) + Sync)) -> Result<(), String> {
        let register = &self.demo.register;
        for &(cultivar, name) in &register.other_names {
            let path = format!("/api/v1/cultivars/{}/names", cultivars[cultivar]);
            let body =
                json!({"name": name, "kind": "synonym", "note": "In the lists of before the register"});
            self.registrar().post(&path, &body).await?;
        }
        for proposal in &register.proposals {
            let (raiser, registrar) = (&self.logged_in[proposal.by], self.registrar());
            let body = json!({
                "cultivar_id": cultivars[proposal.cultivar], "name": proposal.name, "words": proposal.words,
            });
            let made = id_of(&raiser.post("/api/v1/registrations", &body).await?)?;
            let path = |step: &str| format!("/api/v1/registrations/{made}/{step}");
            let why = |words: &str| json!({"reason": words});
            match proposal.ended {
                Ended::Waiting => {}
                Ended::Questioned { question } => {
                    registrar.decide(&path("question"), &why(question)).await?;
                }
                Ended::Answered { question, answer } => {
                    registrar.decide(&path("question"), &why(question)).await?;
                    raiser.decide(&path("answer"), &json!({"words": answer})).await?;
                }
                Ended::Registered => {
                    registrar.decide(&path("registration"), &why("Described and seen in bloom.")).await?;
                }
                Ended::Refused { reason } => {
                    registrar.decide(&path("refusal"), &why(reason)).await?;
                }
                Ended::Withdrawn { reason } => {
                    raiser.decide(&path("withdrawal"), &why(reason)).await?;
                }
            }
        }
        tell(&format!("{} names before the registrar", register.proposals.len()));
        at_once(register.reversions.iter().map(|report| {
            let path = format!("/api/v1/cultivars/{}/reversions/{}", cultivars[report.cultivar], report.year);
            let body = json!({"plants": report.plants, "reverted": report.reverted});
            async move { self.logged_in[report.by].put(&path, &body).await }
        }))
        .await?;
        tell(&format!("{} reports of sports", register.reversions.len()));
        Ok(())
    }

    async fn send_readings(&self) -> Result<usize, String> {
        let sent = self.demo.weather.stations.iter().zip(&self.society.stations).map(|(days, station)| {
            let rows = days.iter().map(|d| {
                [
                    iso(d.day),
                    d.min_c.to_string(),
                    d.max_c.to_string(),
                    d.rain_mm.to_string(),
                    d.humidity_pct.to_string(),
                ]
            });
            let csv = table(["day", "min_c", "max_c", "rain_mm", "humidity_pct"], rows);
            async move {
                let path = format!("/api/v1/stations/{station}/readings");
                self.logged_in[0].send_csv(Method::PUT, &path, csv?).await
            }
        });
        // One after the other: a server takes two tables of one member at a time.
        for table in sent {
            table.await?;
        }
        Ok(self.demo.weather.stations.iter().map(Vec::len).sum())
    }

    async fn list(&self, listed: &Listed, cultivars: &[String], plants: &[String]) -> Result<(), String> {
        at_once(listed.offers.iter().map(|offer| {
            let body = json!({
                "plant_id": plants[offer.plant], "how_many": offer.how_many, "note": offer.note,
                "healthy": true,
            });
            async move { self.logged_in[offer.member].post("/api/v1/swaps/offers", &body).await }
        }))
        .await?;
        at_once(listed.wants.iter().map(|want| {
            let body = json!({"cultivar_id": cultivars[want.cultivar], "rank": want.rank, "note": want.note});
            async move { self.logged_in[want.member].post("/api/v1/swaps/wants", &body).await }
        }))
        .await?;
        at_once(listed.broad.iter().map(|want| {
            let body = match &want.choices {
                Choices::AnyOf(any) => {
                    let any: Vec<&String> = any.iter().map(|&cultivar| &cultivars[cultivar]).collect();
                    json!({"any_of": any, "rank": want.rank})
                }
                Choices::Group(group) => json!({"plant_group": group, "rank": want.rank}),
            };
            async move { self.logged_in[want.member].post("/api/v1/swaps/wants", &body).await }
        }))
        .await
        .map(drop)
    }

    /// Members set their terms, plants are held, the registrar lists what is to be conserved.
    async fn take_care(
        &self,
        cultivars: &[String],
        plants: &[String],
        tell: &(dyn Fn(&str) + Sync),
    ) -> Result<(), String> {
        let care = &self.demo.care;
        at_once(care.terms.iter().map(|terms| {
            let body = json!({
                "give_most": terms.give_most, "receive_most": terms.receive_most, "by_post": terms.by_post,
                "within_km": terms.within_km,
            });
            async move { self.logged_in[terms.member].put("/api/v1/swaps/terms", &body).await }
        }))
        .await?;
        for hold in &care.holds {
            let grower = &self.logged_in[self.demo.plants[hold.plant].owner];
            let by = if hold.by_officer { self.registrar() } else { grower };
            let body = json!({"plant_id": plants[hold.plant], "reason": hold.reason});
            by.post("/api/v1/health/holds", &body).await?;
        }
        for endangered in &care.endangered {
            let path = format!("/api/v1/conservation/{}", cultivars[endangered.cultivar]);
            let body = json!({"reason": endangered.reason, "wanted_holders": endangered.wanted_holders});
            self.registrar().put(&path, &body).await?;
        }
        if let Some(permitted) = care.permitted {
            let path = format!("/api/v1/cultivars/{}/permission", cultivars[permitted]);
            self.registrar().put(&path, &json!({"words": LEAVE})).await?;
        }
        tell(&format!(
            "{} members' terms, {} plants held for their health, {} cultivars to conserve",
            care.terms.len(),
            care.holds.len(),
            care.endangered.len()
        ));
        Ok(())
    }

    /// The rings of a fresh round: each one's id and the places of its members in the list.
    async fn rings_of_round(&self) -> Result<Vec<(String, Vec<usize>)>, String> {
        let round = id_of(&self.registrar().post("/api/v1/swaps/rounds", &json!({})).await?)?;
        self.registrar().act(&format!("/api/v1/swaps/rounds/{round}/freeze")).await?;
        run_waiting(self.app).await.map_err(|problem| problem.to_string())?;
        let round = self.registrar().get(&format!("/api/v1/swaps/rounds/{round}")).await?;
        let known: BTreeMap<&str, usize> =
            self.society.members.iter().enumerate().map(|(at, id)| (id.as_str(), at)).collect();
        let rings = round.get("rings").and_then(Value::as_array).map(Vec::as_slice).unwrap_or_default();
        rings
            .iter()
            .map(|ring| {
                let partners = ring.get("partners").and_then(Value::as_array);
                let partners = partners.map(Vec::as_slice).unwrap_or_default().iter();
                let places = partners
                    .map(|partner| {
                        let id = text_of(partner, "member_id")?;
                        known.get(id.as_str()).copied().ok_or_else(|| format!("nobody has the id {id}"))
                    })
                    .collect::<Result<Vec<usize>, String>>()?;
                Ok((id_of(ring)?, places))
            })
            .collect()
    }

    async fn answer(&self, ring: &str, member: usize, answer: RingAnswer) -> Result<(), String> {
        let path = format!("/api/v1/swaps/rings/{ring}/answer");
        self.logged_in[member].post(&path, &json!({"answer": answer})).await.map(drop)
    }

    /// Every cutting of a ring is given, and comes; one in three is entered as a plant.
    async fn hand_over(&self, ring: &str, member: usize) -> Result<(), String> {
        let ring = self.logged_in[member].get(&format!("/api/v1/swaps/rings/{ring}")).await?;
        let hand_overs =
            ring.get("hand_overs").and_then(Value::as_array).map(Vec::as_slice).unwrap_or_default();
        for (at, hand_over) in hand_overs.iter().enumerate() {
            let path = format!("/api/v1/swaps/hand-overs/{}", id_of(hand_over)?);
            self.who(&text_of(hand_over, "giver_id")?)?.act(&format!("{path}/sent")).await?;
            let receipt = match at % 3 {
                0 => json!({"condition": "good", "kept_under": "cold_glass"}),
                1 => json!({"condition": "good"}),
                _ => json!({"condition": "limp", "note": "Wrapped too dry; stood up again overnight"}),
            };
            self.who(&text_of(hand_over, "receiver_id")?)?
                .post(&format!("{path}/received"), &receipt)
                .await?;
        }
        Ok(())
    }

    fn who(&self, id: &str) -> Result<&Api, String> {
        let at = self.society.members.iter().position(|member| member == id);
        at.and_then(|at| self.logged_in.get(at)).ok_or_else(|| format!("nobody has the id {id}"))
    }

    /// A round for the meeting in a fortnight, open still: one member in four says that they come.
    async fn open_meeting(&self) -> Result<(), String> {
        let asked = json!({"mode": "meeting", "meets_on": iso(self.demo.scale.today + 14)});
        let round = id_of(&self.registrar().post("/api/v1/swaps/rounds", &asked).await?)?;
        for (at, member) in self.logged_in.iter().enumerate().step_by(4) {
            let table = json!({"table": (at / 4 % 6 + 1).to_string()});
            member.put(&format!("/api/v1/swaps/rounds/{round}/attendance/me"), &table).await?;
        }
        Ok(())
    }

    /// Everybody accepts, but in every fifth ring somebody declines.
    async fn run_past_round(
        &self,
        listed: &Listed,
        cultivars: &[String],
        plants: &[String],
        tell: &(dyn Fn(&str) + Sync),
    ) -> Result<(), String> {
        self.list(listed, cultivars, plants).await?;
        let rings = self.rings_of_round().await?;
        for (at, (ring, members)) in rings.iter().enumerate() {
            if at % 5 == 4 {
                self.answer(ring, members[0], RingAnswer::Declined).await?;
                continue;
            }
            for member in members {
                self.answer(ring, *member, RingAnswer::Accepted).await?;
            }
            // The last few are still on their way.
            if at % 5 != 3 {
                self.hand_over(ring, members[0]).await?;
            }
        }
        tell(&format!(
            "{} offers, {} wants; a round of {} rings, answered and mostly handed over",
            listed.offers.len(),
            listed.wants.len(),
            rings.len()
        ));
        Ok(())
    }

    /// Some have accepted already, nobody has declined.
    async fn run_open_round(
        &self,
        listed: &Listed,
        cultivars: &[String],
        plants: &[String],
        tell: &(dyn Fn(&str) + Sync),
    ) -> Result<(), String> {
        self.list(listed, cultivars, plants).await?;
        let rings = self.rings_of_round().await?;
        for (ring, members) in rings.iter().step_by(3) {
            let early = members.iter().find(|member| self.demo.people[**member].office == Office::None);
            if let Some(member) = early.filter(|member| **member != crate::people::GUIDE) {
                self.answer(ring, *member, RingAnswer::Accepted).await?;
            }
        }
        self.open_meeting().await?;
        tell(&format!(
            "{} offers, {} wants more; a round of {} rings, waiting for answers, and one open for a meeting",
            listed.offers.len(),
            listed.wants.len(),
            rings.len()
        ));
        Ok(())
    }
}

/// The ids of an export, by label.
fn ids_by_label(csv: &str) -> Result<BTreeMap<String, String>, String> {
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let headers = reader.headers().map_err(|error| error.to_string())?;
    let column = |name: &str| {
        headers.iter().position(|header| header == name).ok_or_else(|| format!("the export has no {name}"))
    };
    let (id, label) = (column("id")?, column("label")?);
    reader
        .into_records()
        .map(|row| {
            let row = row.map_err(|error| error.to_string())?;
            let cell = |at: usize| row.get(at).unwrap_or_default().to_owned();
            Ok((cell(label), cell(id)))
        })
        .collect()
}

/// A day as `2026-05-10`.
pub(crate) fn iso(day: i32) -> String {
    let date = calendar::date(day);
    format!("{:04}-{:02}-{:02}", date.year, date.month, date.day)
}
