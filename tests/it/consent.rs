//! What only the person concerned decides: to belong to a club, who sees what is for their clubs, and that nobody is
//! told of a no.

use reqwest::Method;
use serde_json::{Value, json};
use storksbill_domain::ids::ClubId;
use storksbill_tests::{Actor, Answer, TestApp};

use crate::members::proved;

use crate::swaps::{answers, cultivar, offers, round_of, swapper, wants};

const OWN: &str = "/api/v1/members/me/club-invitations";

/// A grower of Quay Town with a plant, a cross and a cultivar's record for her clubs, and officers of everything.
struct Society {
    // Serves as long as it is held.
    _app: TestApp,
    quay: ClubId,
    moor: ClubId,
    grower: Actor,
    clubmate: Actor,
    /// Secretary of High Moor.
    bram: Actor,
    /// Secretary of Quay Town.
    otto: Actor,
    admin: Actor,
    plant: String,
    cross: String,
    record: String,
}

impl Society {
    async fn start() -> Self {
        let app = TestApp::start().await;
        let region = app.region("The Vale").await;
        let (quay, moor) = (app.club("Quay Town", region).await, app.club("High Moor", region).await);
        let grower = app.member_of("Edda Wick", quay).await;
        app.grows_in(&grower, region).await;
        let clubmate = app.member_of("Lise Marsh", quay).await;
        let bram = app.secretary_of("Bram Oake", moor).await;
        let otto = app.secretary_of("Otto Reed", quay).await;
        let admin = app.administrator("Una Marsh").await;
        let (light, tide) = (cultivar(&app, "Harbour Light").await, cultivar(&app, "Spring Tide").await);
        let body = json!({
            "cultivar_id": light, "how_many": 1, "environment": "frost_free", "form": "bush", "visibility": "club",
        });
        let plant = grower.post("/api/v1/plants", body).await.expect(201).id();
        let body = json!({
            "number": "E-1", "visibility": "club",
            "seed_parent": {"cultivar_id": light}, "pollen_parents": [{"cultivar_id": tide}],
        });
        let cross = grower.post("/api/v1/crosses", body).await.expect(201).id();
        let body =
            json!({"name": "Wick 7", "plant_group": "regal", "status": "seedling", "visibility": "club"});
        let record = grower.post("/api/v1/cultivars", body).await.expect(201).id();
        Self { _app: app, quay, moor, grower, clubmate, bram, otto, admin, plant, cross, record }
    }

    /// What an asker is shown of what is for the grower's clubs, by every road to it.
    async fn shown(&self, asker: &Actor) -> Vec<String> {
        let Self { plant, cross, record, .. } = self;
        let grower = self.grower.id();
        let mut seen = Vec::new();
        for path in [
            format!("/api/v1/plants/{plant}"),
            format!("/api/v1/plants/{plant}/diary"),
            format!("/api/v1/forecasts/plants/{plant}"),
            format!("/api/v1/crosses/{cross}"),
            format!("/api/v1/crosses/{cross}/counts"),
            format!("/api/v1/crosses/{cross}/pollinations"),
            format!("/api/v1/crosses/{cross}/seedlings"),
            format!("/api/v1/cultivars/{record}"),
            format!("/api/v1/pedigrees/{record}"),
            format!("/brapi/v2/germplasm/{record}"),
        ] {
            // A forecast of a plant without a diary is refused in its own way where the plant is shown.
            if asker.get(&path).await.status != 404 {
                seen.push(path);
            }
        }
        for (list, id) in [
            (format!("/api/v1/plants?owner_id={grower}"), plant),
            (format!("/api/v1/crosses?raiser_id={grower}"), cross),
            ("/api/v1/cultivars".to_owned(), record),
        ] {
            if asker.walk(&list).await.iter().any(|row| row["id"] == json!(id)) {
                seen.push(list);
            }
        }
        for table in ["/api/v1/pedigrees/export.csv", "/api/v1/pedigrees/export.jsonl"] {
            if asker.get(table).await.expect(200).text().contains("Wick 7") {
                seen.push(table.to_owned());
            }
        }
        seen
    }

    fn place(club: ClubId, member: &Actor) -> String {
        format!("/api/v1/clubs/{club}/members/{}", member.id())
    }
}

async fn answered(member: &Actor, club: ClubId, what: &str) -> Answer {
    member.request(Method::POST, &format!("{OWN}/{club}/{what}")).send().await
}

#[tokio::test]
async fn nobody_but_the_owner_widens_who_sees_what_is_for_their_clubs() {
    let s = Society::start().await;
    let everything = s.shown(&s.grower).await;
    assert_eq!(everything.len(), 15, "{everything:#?}");
    assert_eq!(s.shown(&s.clubmate).await, everything);
    let strangers = [&s.bram, &s.admin];
    let (member, secretary) = (json!({"role": "member"}), proved(json!({"role": "secretary"})));
    let (quay, moor) = (s.quay, s.moor);
    let standing = format!("/api/v1/members/{}/standing", s.grower.id());
    let roles = format!("/api/v1/members/{}/roles", s.grower.id());
    let invitation = json!({"email": "somebody@merrow.example", "club_id": moor});
    // Whatever officers can do to the grower, to those who ask, and to clubs.
    let acts: Vec<(&Actor, Method, String, Value)> = vec![
        (&s.bram, Method::PUT, Society::place(moor, &s.grower), member.clone()),
        (&s.bram, Method::PUT, Society::place(moor, &s.grower), secretary.clone()),
        (&s.admin, Method::PUT, Society::place(moor, &s.grower), secretary.clone()),
        (&s.otto, Method::PUT, Society::place(quay, &s.bram), member.clone()),
        (&s.admin, Method::PUT, Society::place(quay, &s.bram), secretary.clone()),
        (&s.bram, Method::POST, "/api/v1/invitations".to_owned(), invitation),
        (&s.otto, Method::PUT, Society::place(quay, &s.grower), secretary.clone()),
        (&s.otto, Method::DELETE, Society::place(quay, &s.grower), Value::Null),
        (&s.otto, Method::PUT, Society::place(quay, &s.grower), member.clone()),
        (&s.bram, Method::DELETE, Society::place(moor, &s.grower), Value::Null),
        (&s.bram, Method::PUT, Society::place(moor, &s.grower), member.clone()),
        (&s.admin, Method::PUT, roles, json!({"roles": ["registrar"]})),
        (&s.admin, Method::PUT, standing.clone(), json!({"standing": "suspended"})),
        (&s.admin, Method::PUT, standing, json!({"standing": "active"})),
    ];
    for (officer, method, path, body) in acts {
        let answer = officer.request(method.clone(), &path).json(&body).send().await;
        assert!(answer.status < 500, "{method} {path}: {}", answer.text());
        for asker in strangers {
            assert_eq!(s.shown(asker).await, [""; 0], "after {method} {path} {body}");
        }
    }
    // She was put out of Quay Town, so that nobody sees it now; nor was she told into any club.
    assert_eq!(s.shown(&s.clubmate).await, [""; 0]);
}

#[tokio::test]
async fn an_owner_says_with_which_clubs_they_share_and_it_stands_when_they_come_back() {
    let s = Society::start().await;
    let everything = s.shown(&s.grower).await;
    s.bram.put(&Society::place(s.moor, &s.grower), json!({"role": "member"})).await.expect(202);
    answered(&s.grower, s.moor, "acceptance").await.expect(200);
    assert_eq!(s.shown(&s.bram).await, everything, "she joined, so she shares");
    let share = format!("/api/v1/members/me/shares/{}", s.moor);
    let off = s.grower.put(&share, json!({"shares": false})).await.expect(200).json();
    assert_eq!(off, json!({"club_id": s.moor, "club_name": "High Moor", "shares": false}));
    assert_eq!(s.shown(&s.bram).await, [""; 0]);
    assert_eq!(s.shown(&s.clubmate).await, everything, "the other club is another matter");
    let shares = s.grower.get("/api/v1/members/me/shares").await.expect(200).json();
    let told: Vec<(&str, bool)> = shares
        .as_array()
        .unwrap()
        .iter()
        .map(|row| (row["club_name"].as_str().unwrap(), row["shares"].as_bool().unwrap()))
        .collect();
    assert_eq!(told, [("High Moor", false), ("Quay Town", true)]);
    // Out and back again, by her own yes each time.
    for (officer, club) in [(&s.bram, s.moor), (&s.otto, s.quay)] {
        officer.delete(&Society::place(club, &s.grower)).await.expect(204);
        officer.put(&Society::place(club, &s.grower), json!({"role": "member"})).await.expect(202);
    }
    assert_eq!(s.grower.put(&share, json!({"shares": true})).await.problem(404), "not-found");
    assert_eq!(s.shown(&s.clubmate).await, [""; 0]);
    answered(&s.grower, s.quay, "acceptance").await.expect(200);
    answered(&s.grower, s.moor, "acceptance").await.expect(200);
    assert_eq!(s.shown(&s.clubmate).await, everything);
    assert_eq!(s.shown(&s.bram).await, [""; 0], "she said no, and it stands");
    s.grower.put(&share, json!({"shares": true})).await.expect(200);
    assert_eq!(s.shown(&s.bram).await, everything);
    // An officer who means themself joins at once.
    s.admin.put(&Society::place(s.quay, &s.admin), json!({"role": "member"})).await.expect(204);
}

#[tokio::test]
async fn a_member_is_asked_told_and_answers_once() {
    let s = Society::start().await;
    let place = Society::place(s.moor, &s.grower);
    let asked = s.bram.put(&place, json!({"role": "member"})).await.expect(202).json();
    assert_eq!(
        (&asked["state"], &asked["club_name"], &asked["member_name"]),
        (&json!("asked"), &json!("High Moor"), &json!("Edda Wick"))
    );
    let told = s.grower.walk("/api/v1/notices").await;
    assert_eq!(told.len(), 1, "{told:#?}");
    assert_eq!((&told[0]["kind"], &told[0]["subject"]["id"]), (&json!("club_invitation"), &json!(s.moor)));
    assert!(
        told[0]["words"].as_str().unwrap().starts_with("High Moor asks you to belong to it as its member.")
    );
    // Asked again, she is not told again; as what may change.
    s.bram.put(&place, proved(json!({"role": "secretary"}))).await.expect(202);
    assert_eq!(s.grower.walk("/api/v1/notices").await.len(), 1);
    let own = s.grower.get(OWN).await.expect(200).json();
    assert_eq!((own.as_array().unwrap().len(), &own[0]["role"]), (1, &json!("secretary")));
    // It is hers alone to answer.
    for other in [&s.clubmate, &s.bram, &s.admin] {
        assert_eq!(answered(other, s.moor, "acceptance").await.problem(404), "not-found");
    }
    let roll = format!("/api/v1/clubs/{}/members", s.moor);
    assert_eq!(s.bram.walk(&roll).await.len(), 1);
    for _ in 0..2 {
        answered(&s.grower, s.moor, "acceptance").await.expect(200);
    }
    assert_eq!(answered(&s.grower, s.moor, "refusal").await.problem(409), "wrong-state");
    assert_eq!(s.bram.walk(&roll).await.len(), 2);
    let waiting = format!("/api/v1/clubs/{}/invitations", s.moor);
    assert_eq!(s.bram.get(&waiting).await.expect(200).json(), json!([]));
    assert_eq!(s.otto.get(&waiting).await.problem(403), "not-allowed");
}

/// What is told of refusing, by everybody else's answers: the same whether somebody said no or nothing.
#[tokio::test]
async fn a_clubs_invitation_refused_looks_like_one_not_answered() {
    let mut told = Vec::new();
    for says_no in [false, true] {
        let s = Society::start().await;
        let place = Society::place(s.moor, &s.grower);
        let waiting = format!("/api/v1/clubs/{}/invitations", s.moor);
        let mut answers = Vec::new();
        let mut note = async |answer: Answer| {
            let ids = [s.moor.to_string(), s.grower.id().to_string()];
            let text = ids.iter().fold(answer.text(), |text, id| text.replace(id, "-"));
            answers.push((answer.status, text));
        };
        let role = json!({"role": "member"});
        note(s.bram.put(&place, role.clone()).await).await;
        if says_no {
            answered(&s.grower, s.moor, "refusal").await.expect(200);
            let own = s.grower.get(OWN).await.expect(200).json();
            assert_eq!(own[0]["state"], "declined");
        }
        note(s.bram.get(&waiting).await).await;
        note(s.admin.get(&waiting).await).await;
        note(s.bram.put(&place, role.clone()).await).await;
        note(s.bram.put(&place, proved(json!({"role": "secretary"}))).await).await;
        note(s.bram.delete(&place).await).await;
        note(s.bram.get(&waiting).await).await;
        note(s.bram.put(&place, role.clone()).await).await;
        note(s.bram.get(&waiting).await).await;
        told.push(answers);
        assert_eq!(s.grower.walk("/api/v1/notices").await.len(), 1, "she is asked once");
    }
    assert_eq!(told[0], told[1]);
}

/// Text in which every id, and every hash of what has ids in it, stands as its place among those met.
fn without_ids(texts: &[String]) -> Vec<String> {
    let mut met: Vec<String> = Vec::new();
    texts
        .iter()
        .map(|text| {
            let mut out = String::new();
            let mut rest = text.as_str();
            while !rest.is_empty() {
                let part: String = rest.chars().take_while(|c| c.is_ascii_hexdigit() || *c == '-').collect();
                if [32, 36, 64].contains(&part.len()) {
                    let at = met.iter().position(|id| *id == part).unwrap_or_else(|| {
                        met.push(part.clone());
                        met.len() - 1
                    });
                    out.push('#');
                    out.push_str(&at.to_string());
                    rest = &rest[part.len()..];
                } else {
                    let next = rest.chars().next().unwrap();
                    let long = part.len().max(next.len_utf8());
                    out.push_str(&rest[..long]);
                    rest = &rest[long..];
                }
            }
            out
        })
        .collect()
}

/// A ring of four: one accepts, one of two others declines. What the rest are told does not tell which.
#[tokio::test]
async fn a_ring_declined_does_not_tell_by_whom() {
    let mut told = Vec::new();
    for decliner in [1, 2] {
        let society = TestApp::start().await;
        let mut people = Vec::new();
        let mut kinds = Vec::new();
        for name in ["Una", "Bram", "Edda"] {
            let actor = swapper(&society, name).await;
            let kind = cultivar(&society, &format!("Pride of {name}")).await;
            offers(&actor, kind, 1).await;
            people.push(actor);
            kinds.push(kind);
        }
        for (at, actor) in people.iter().enumerate() {
            wants(actor, kinds[(at + 2) % 3], 1).await;
        }
        let officer = society.registrar("Ines Holm").await;
        let round = round_of(&society, &officer, json!({})).await;
        let path = format!("/api/v1/swaps/rounds/{}", round["round"]["id"].as_str().unwrap());
        let ring = round["rings"][0]["id"].as_str().unwrap().to_owned();
        // What others said is not told before either, or the one left over could be named.
        answers(&people[0], &ring, "accepted").await.expect(200);
        let seen = people[1].get(&format!("/api/v1/swaps/rings/{ring}")).await.expect(200).json();
        for partner in seen["partners"].as_array().unwrap() {
            let own = partner["member_id"] == json!(people[1].id());
            assert_eq!(partner["answer"].is_null(), !own, "{partner}");
            assert!(partner["answered_at"].is_null());
        }
        answers(&people[decliner], &ring, "declined").await.expect(200);
        let mut all = Vec::new();
        for asker in [&people[0], &officer] {
            for page in [
                path.clone(),
                format!("{path}/why"),
                format!("{path}/steps"),
                "/api/v1/swaps/rounds".to_owned(),
                format!("/api/v1/swaps/rings/{ring}"),
                "/api/v1/swaps/rings".to_owned(),
                "/api/v1/swaps/ledger".to_owned(),
                "/api/v1/swaps/balance".to_owned(),
                "/api/v1/swaps/offers".to_owned(),
                "/api/v1/swaps/wants".to_owned(),
                format!("{path}/sheet"),
                "/api/v1/notices".to_owned(),
            ] {
                let answer = asker.get(&page).await;
                all.push(format!("{} {page} {}", answer.status, answer.text()));
            }
        }
        told.push(without_ids(&all));
    }
    for (one, other) in told[0].iter().zip(&told[1]) {
        assert_eq!(one, other);
    }
    assert!(
        told[0].iter().any(|text| text.contains("declined")),
        "the rest are told that it will not go ahead"
    );
}
