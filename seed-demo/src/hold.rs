//! Holds the shows through the API, as their secretaries, exhibitors and judges did.
#![allow(clippy::indexing_slicing, reason = "every index is one of the lists that the demonstration holds")]

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use reqwest::Method;
use serde_json::{Value, json};
use storksbill::app::App;
use storksbill_domain::ids::ClassId;

use crate::api::{Api, at_once, id_of, table, text_of};
use crate::clock::TurnedClock;
use crate::demo::Demo;
use crate::exhibits::{self, Exhibit, Said};
use crate::fill::{Society, iso};
use crate::people::GUIDE;
use crate::places::CLUBS;
use crate::shows::{SECTIONS, Show, Stage, ZONE};

/// Days before a show on which its schedule came out.
pub(crate) const SCHEDULE_BEFORE: i32 = 60;
/// Days before a show on which its entries were made.
const ENTERED_BEFORE: i32 = 10;
/// Days after which a trophy is due back.
const TROPHY_FOR: i32 = 330;
/// Members who have entered a show that takes entries.
const OWN_EXHIBITORS: usize = 12;
/// Entries that each of them made.
const OWN_ENTRIES: usize = 4;

/// The shows that were entered so far: by club and title, the class that a class of next year follows.
#[derive(Default)]
pub(crate) struct Earlier(BTreeMap<(usize, &'static str), String>);

/// One show at its secretary's log-in.
struct Office<'a> {
    society: &'a Society,
    demo: &'a Demo,
    show: &'a Show,
    secretary: Api,
    /// `/api/v1/shows/{id}`
    path: String,
    /// The ids of its classes, in their order.
    classes: Vec<String>,
}

/// Brings a show as far as it is, the clock turned to its days; ends with the clock on some day of it.
pub(crate) async fn hold(
    app: &App,
    society: &Society,
    demo: &Demo,
    show: &Show,
    earlier: &mut Earlier,
) -> Result<(), String> {
    let mut clock = TurnedClock::new(app, demo.scale.today);
    let ended = held(&mut clock, society, demo, show, earlier).await;
    clock.turn_to(demo.scale.today);
    ended.map_err(|why| format!("{} of {}: {why}", show.name, iso(show.held_on)))
}

async fn held(
    clock: &mut TurnedClock<'_>,
    society: &Society,
    demo: &Demo,
    show: &Show,
    earlier: &mut Earlier,
) -> Result<(), String> {
    clock.turn_to((show.held_on - SCHEDULE_BEFORE).min(demo.scale.today));
    let mut office = Office::open(society, demo, show, earlier).await?;
    if show.stage == Stage::Draft {
        return Ok(());
    }
    office.publish().await?;
    match show.stage {
        Stage::Draft | Stage::NotOpen => return Ok(()),
        Stage::CalledOff => {
            clock.turn_to(demo.scale.today);
            office.log_in().await?;
            let reason = json!({"reason": "The hall has no heating until the autumn."});
            office.secretary.decide(&office.at("/cancellation"), &reason).await?;
            return Ok(());
        }
        Stage::Entries => {
            clock.turn_to(demo.scale.today);
            office.log_in().await?;
            return office.amend().await;
        }
        Stage::Staging | Stage::Provisional | Stage::Final => {}
    }
    clock.turn_to_hour(show.held_on - ENTERED_BEFORE, 19);
    office.log_in().await?;
    let exhibits = exhibits::generate(demo.scale.seed, show, &demo.people, &demo.cultivars);
    let numbers = office.enter(&exhibits).await?;
    office.take_money().await?;
    if show.stage == Stage::Staging {
        clock.turn_to(demo.scale.today);
    } else {
        clock.turn_to_hour(show.held_on, 11);
    }
    office.log_in().await?;
    office.write_down(&exhibits, &numbers).await?;
    if show.stage == Stage::Staging {
        return Ok(());
    }
    clock.turn_to_hour(show.held_on, 13);
    office.log_in().await?;
    office.give_out("provisional").await?;
    if show.stage == Stage::Provisional {
        return office.protest(&exhibits).await;
    }
    clock.turn_to_hour(show.held_on + 1, 10);
    office.log_in().await?;
    office.give_out("final").await?;
    office.hand_trophies_over().await
}

impl<'a> Office<'a> {
    /// Writes the schedule, as a draft.
    async fn open(
        society: &'a Society,
        demo: &'a Demo,
        show: &'a Show,
        earlier: &mut Earlier,
    ) -> Result<Self, String> {
        let secretary = society.log_in(demo, 2 + show.club).await?;
        let day = iso(show.held_on);
        let body = json!({
            "name": show.name, "held_on": day, "place": CLUBS[show.club].hall,
            "closes_wall": format!("{}T21:00", iso(show.closes_on)), "zone": ZONE, "notes": show.notes,
            "hall_opens_at": format!("{day}T12:00:00Z"),
            "opens_at": (show.stage == Stage::NotOpen).then(|| format!("{}T08:00:00Z", iso(show.held_on - 40))),
        });
        let made =
            secretary.post(&format!("/api/v1/clubs/{}/shows", society.clubs[show.club]), &body).await?;
        let path = format!("/api/v1/shows/{}", id_of(&made)?);
        let classes: Vec<String> = show.classes.iter().map(|_| ClassId::fresh().to_string()).collect();
        let mut draft = secretary.get(&format!("{path}/draft")).await?["schedule"].take();
        if let (Some(draft), Value::Object(more)) =
            (draft.as_object_mut(), show.schedule(classes.first().map_or("", String::as_str)))
        {
            draft.extend(more);
        }
        draft["classes"] = show
            .classes
            .iter()
            .zip(&classes)
            .map(|(class, id)| {
                let follows = earlier.0.insert((show.club, class.title), id.clone());
                json!({
                    "id": id, "label": class.label, "section": SECTIONS[class.section].0, "title": class.title,
                    "rules": class.rules(), "follows": follows,
                })
            })
            .collect();
        secretary.replace(&format!("{path}/draft"), &draft).await?;
        Ok(Self { society, demo, show, secretary, path, classes })
    }

    fn at(&self, end: &str) -> String {
        format!("{}{end}", self.path)
    }

    /// Anew, after the clock was turned.
    async fn log_in(&mut self) -> Result<(), String> {
        self.secretary = self.society.log_in(self.demo, 2 + self.show.club).await?;
        Ok(())
    }

    async fn publish(&self) -> Result<(), String> {
        let everything = json!({"all": true});
        let judge = json!({"role": "judge", "name": self.show.judge, "classes": everything});
        self.secretary.post(&self.at("/officials"), &judge).await?;
        // The registrar, who grows elsewhere and shows nothing, is the steward.
        let steward = json!({"role": "steward", "member_id": self.society.members[1], "classes": everything});
        self.secretary.post(&self.at("/officials"), &steward).await?;
        self.secretary.decide(&self.at("/publication"), &json!({})).await?;
        Ok(())
    }

    /// A second version, with its reason.
    async fn amend(&self) -> Result<(), String> {
        let path = self.at("/draft");
        let mut draft = self.secretary.get(&path).await?["schedule"].take();
        draft["classes"][0]["rules"]["prizes"] = json!([500, 300, 200]);
        self.secretary.replace(&path, &draft).await?;
        let reason = json!({"reason": "A member has given a pound or two more for each place of class 1."});
        self.secretary.decide(&self.at("/publication"), &reason).await?;
        Ok(())
    }

    /// Enters on behalf of those who sent paper forms; the numbers of their entries.
    async fn enter(&self, exhibits: &[Exhibit]) -> Result<Vec<i64>, String> {
        let mut exhibitors: BTreeMap<usize, String> = BTreeMap::new();
        for exhibit in exhibits {
            let Entry::Vacant(unknown) = exhibitors.entry(exhibit.exhibitor) else { continue };
            // Some would rather not be read of by name.
            let publish_as = if exhibit.exhibitor % 7 == 3 { "initials" } else { "name" };
            let body = json!({
                "member_id": self.society.members[exhibit.exhibitor],
                "exhibitor": {"publish_as": publish_as, "outside_results": []},
            });
            unknown.insert(id_of(&self.secretary.post(&self.at("/exhibitors"), &body).await?)?);
        }
        at_once(exhibits.iter().map(|exhibit| {
            let body = json!({
                "class_id": self.classes[exhibit.class], "exhibitor_id": exhibitors[&exhibit.exhibitor],
                "items": exhibit.items,
            });
            async move {
                let class = &self.show.classes[exhibit.class].label;
                let entry = enter(&self.secretary, &self.path, body).await?;
                let entry =
                    entry.ok_or_else(|| format!("class {class} does not take {:?}", exhibit.items))?;
                entry["number"].as_i64().ok_or_else(|| format!("an entry without a number: {entry}"))
            }
        }))
        .await
    }

    /// What most of them owe, with receipts.
    async fn take_money(&self) -> Result<(), String> {
        let exhibitors = self.secretary.list(&self.at("/exhibitors?limit=200")).await?;
        for (nth, exhibitor) in exhibitors.iter().enumerate() {
            let due = exhibitor["due_pence"].as_i64().unwrap_or(0);
            if due > 0 && nth % 5 != 4 {
                let how = if nth % 2 == 0 { "cash" } else { "transfer" };
                let body = json!({"exhibitor_id": id_of(exhibitor)?, "pence": due, "how": how});
                self.secretary.post(&self.at("/receipts"), &body).await?;
            }
        }
        Ok(())
    }

    /// Sends the table in which the stewards wrote what was staged and what the judge said: of the first classes
    /// where judging is under way, else of all.
    async fn write_down(&self, exhibits: &[Exhibit], numbers: &[i64]) -> Result<(), String> {
        let under_way = self.show.stage == Stage::Staging;
        let judged = |class: usize| !under_way || class * 2 < self.show.classes.len();
        let label = |class: usize| self.show.classes[class].label.clone();
        let mut rows = Vec::new();
        let mut best = None;
        for (exhibit, number) in exhibits.iter().zip(numbers) {
            let (result, words) = match exhibit.said {
                _ if !judged(exhibit.class) => (String::new(), String::new()),
                Said::Nothing => (String::new(), String::new()),
                Said::Place(place, shared) => {
                    let mark = if shared { "=" } else { "" };
                    (format!("{place}{mark}"), String::new())
                }
                Said::Commended => ("HC".to_owned(), String::new()),
                Said::NotAsSchedule(why) => ("NAS".to_owned(), why.to_owned()),
            };
            if result == "1" && best.is_none() {
                best = Some(*number);
            }
            let staged = if exhibit.staged { "yes" } else { "" };
            rows.push([label(exhibit.class), number.to_string(), staged.to_owned(), result, words]);
        }
        let shown: std::collections::BTreeSet<usize> =
            exhibits.iter().filter(|exhibit| exhibit.staged).map(|exhibit| exhibit.class).collect();
        for class in shown.into_iter().filter(|&class| judged(class)) {
            let judge = self.show.judge.to_owned();
            rows.push([label(class), String::new(), String::new(), "judge".to_owned(), judge]);
        }
        let csv = table(["class", "entry", "staged", "result", "words"], rows)?;
        self.secretary.send_csv(Method::POST, &self.at("/results-sheet"), csv).await?;
        if let Some(number) = best.filter(|_| !under_way) {
            let choice = json!({"choice": {"exhibit": number}, "judge": self.show.judge});
            self.secretary.put(&self.at("/choices/best"), &choice).await?;
        }
        Ok(())
    }

    async fn give_out(&self, state: &str) -> Result<(), String> {
        self.secretary.decide(&self.at("/results"), &json!({"state": state})).await?;
        Ok(())
    }

    /// The member shown first has a doubt about a class they were not first in.
    async fn protest(&self, exhibits: &[Exhibit]) -> Result<(), String> {
        let mut own = exhibits.iter().filter(|exhibit| exhibit.exhibitor == GUIDE);
        let class = own.find(|exhibit| exhibit.staged && exhibit.said != Said::Place(1, false));
        let member = self.society.log_in(self.demo, GUIDE).await?;
        let body = json!({
            "class_id": class.map(|exhibit| self.classes[exhibit.class].clone()),
            "words": "The pot of the first is wider at the rim than the class allows.",
            "deposit_pence": 200,
        });
        member.post(&self.at("/protests"), &body).await?;
        Ok(())
    }

    /// Those of this show, against a signature; those of the years before have come back.
    async fn hand_trophies_over(&self) -> Result<(), String> {
        let path = format!("/api/v1/clubs/{}/trophies", self.society.clubs[self.show.club]);
        for trophy in self.secretary.list(&path).await? {
            for award in trophy["out"].as_array().into_iter().flatten() {
                let back = json!({"returned_on": iso(self.show.held_on)});
                self.secretary.patch(&award_path(award)?, &back).await?;
            }
            for award in trophy["last_won"].as_array().into_iter().flatten() {
                let given = json!({
                    "handed_over_on": iso(self.show.held_on),
                    "due_back_on": iso(self.show.held_on + TROPHY_FOR),
                });
                self.secretary.patch(&award_path(award)?, &given).await?;
            }
        }
        Ok(())
    }
}

fn award_path(award: &Value) -> Result<String, String> {
    Ok(format!("/api/v1/trophies/{}/awards/{}", text_of(award, "trophy_id")?, id_of(award)?))
}

/// Enters with every doubt read; none where the server says no.
async fn enter(api: &Api, show: &str, mut body: Value) -> Result<Option<Value>, String> {
    let judged = api.post(&format!("{show}/entries?dry_run=true"), &body).await?;
    if judged["answer"] == "no" {
        return Ok(None);
    }
    body["acknowledged"] =
        judged["reasons"].as_array().into_iter().flatten().map(|reason| reason["code"].clone()).collect();
    api.post(&format!("{show}/entries"), &body).await.map(Some)
}

/// Members enter plants of their own in a show that takes entries, where they fit.
pub(crate) async fn enter_own(demo: &Demo, logged_in: &[Api]) -> Result<usize, String> {
    let Some(show) = demo.shows.iter().find(|show| show.stage == Stage::Entries) else { return Ok(0) };
    let single: Vec<String> =
        show.classes.iter().filter(|class| class.count() == 1).map(|class| class.label.clone()).collect();
    let found = logged_in[GUIDE].list(&format!("/api/v1/shows?from={}", iso(show.held_on))).await?;
    let known = found.iter().find(|row| row["name"] == show.name.as_str());
    let path = format!("/api/v1/shows/{}", id_of(known.ok_or("the show that takes entries is not listed")?)?);
    let entered = at_once(logged_in.iter().skip(GUIDE).take(OWN_EXHIBITORS).map(|member| {
        let (path, single) = (&path, &single);
        async move {
            let mut entered = 0;
            // The first stays at home, to be tried with the classes.
            for plant in member.list(&format!("{path}/my-classes?limit=200")).await?.into_iter().skip(1) {
                let mut classes = plant["classes"].as_array().into_iter().flatten();
                let class = classes.find(|row| {
                    row["class"]["label"].as_str().is_some_and(|label| single.iter().any(|one| one == label))
                });
                let (Some(class), true) = (class, entered < OWN_ENTRIES) else { continue };
                let body =
                    json!({"class_id": class["class"]["id"], "items": [{"plant_id": plant["plant_id"]}]});
                entered += usize::from(enter(member, path, body).await?.is_some());
            }
            Ok(entered)
        }
    }))
    .await?;
    Ok(entered.into_iter().sum())
}
