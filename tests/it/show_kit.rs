//! A small show to hold: one club, one section, classes of single pots.

use reqwest::Method;
use serde_json::{Value, json};
use storksbill_domain::ids::ClubId;
use storksbill_tests::{Actor, Answer, TestApp, moment};

/// A published show and its club.
pub struct Held {
    pub society: TestApp,
    pub club: ClubId,
    pub secretary: Actor,
    /// Its address.
    pub show: String,
}

/// The id of the nth class.
pub fn class_id(n: u32) -> String {
    format!("017f22e2-79b0-7cc3-98c4-dc0c0c0700{n:02}")
}

/// Sends with `If-Match: *`.
pub async fn send(actor: &Actor, method: Method, path: &str, body: Value) -> Answer {
    actor.request(method, path).header("if-match", "*").json(&body).send().await
}

impl Held {
    /// A society with a club.
    pub async fn society() -> (TestApp, ClubId, Actor) {
        let society = TestApp::start().await;
        let region = society.region("The Vale").await;
        let club = society.club("Quay Town", region).await;
        let secretary = society.secretary_of("Bram Oake", club).await;
        (society, club, secretary)
    }

    /// A show of this many classes, published; `more` is put into the schedule.
    pub async fn publish(
        (society, club, secretary): (TestApp, ClubId, Actor),
        held_on: &str,
        classes: u32,
        more: Value,
    ) -> Self {
        let day_before = chrono::NaiveDate::parse_from_str(held_on, "%Y-%m-%d").unwrap().pred_opt().unwrap();
        let show = json!({
            "name": "Summer Show", "held_on": held_on, "place": "Quay Town Hall",
            "closes_wall": format!("{day_before}T21:00"), "zone": "Europe/London",
            "hall_opens_at": format!("{held_on}T12:00:00Z")
        });
        let show = secretary.post(&format!("/api/v1/clubs/{club}/shows"), show).await.expect(201);
        let show = show.header("location");
        let mut schedule =
            secretary.get(&format!("{show}/draft")).await.expect(200).json()["schedule"].clone();
        schedule["sections"] = json!([{"key": "A", "title": "Regals"}]);
        schedule["classes"] = (1..=classes)
            .map(|n| {
                json!({
                    "id": class_id(n), "label": n.to_string(), "section": "A", "title": format!("One regal, {n}"),
                    "rules": {
                        "slots": [{"count": 1, "unit": "pot"}], "points": "three", "prizes": [300, 200, 100],
                        "fee": {"member": 20, "other": 30}
                    }
                })
            })
            .collect();
        schedule["schemes"] = json!([{"key": "three", "places": [3, 2, 1]}]);
        schedule["protests"] = json!({"minutes_after_opening": 60});
        for (key, value) in more.as_object().unwrap() {
            schedule[key] = value.clone();
        }
        send(&secretary, Method::PUT, &format!("{show}/draft"), schedule).await.expect(200);
        send(&secretary, Method::POST, &format!("{show}/publication"), json!({})).await.expect(200);
        Self { society, club, secretary, show }
    }

    /// Enters a pot in the nth class: its address and number.
    pub async fn enter(&self, who: &Actor, n: u32) -> (String, i64) {
        let body = json!({"class_id": class_id(n), "items": [{"name": "Quay Lass", "plant_group": "regal"}]});
        let made = who.post(&format!("{}/entries", self.show), body).await.expect(201);
        (made.header("location"), made.json()["number"].as_i64().unwrap())
    }

    /// The secretary stages what stands at these addresses.
    pub async fn stage(&self, entries: &[&String]) {
        for entry in entries {
            let path = format!("{entry}/staging");
            send(&self.secretary, Method::PUT, &path, json!({"staged": true})).await.expect(200);
        }
    }

    /// The secretary keys the nth class: numbers and places.
    pub async fn judge(&self, n: u32, placed: &[(i64, u32)]) {
        let judged: Value = placed
            .iter()
            .map(|(entry, place)| json!({"entry": entry, "verdict": {"placed": place}}))
            .collect();
        let path = format!("{}/judging/{}", self.show, class_id(n));
        let body = json!({"judged": judged, "judge": "Nils Brand", "signed_off": true});
        self.secretary.put(&path, body).await.expect(201);
    }

    /// The clock moves on; tokens of before are stale then.
    pub async fn at(&mut self, when: &str) {
        self.society.clock.advance(moment(when) - self.society.clock.now());
        self.secretary = self.society.again(&self.secretary).await;
    }

    /// Results provisional, then, past the time for protests, final.
    pub async fn finish(&mut self, after_protests: &str) {
        let path = format!("{}/results", self.show);
        send(&self.secretary, Method::POST, &path, json!({"state": "provisional"})).await.expect(201);
        self.at(after_protests).await;
        send(&self.secretary, Method::POST, &path, json!({"state": "final"})).await.expect(201);
    }
}
