//! By which ways an account is opened, by whom, and what it may do then: one table of where somebody stands, the way,
//! and what they show for it. And that no road that changes a role or a standing leaves no line in the log.
#![allow(clippy::match_same_arms, reason = "the table reads row by row")]

use reqwest::Method;
use serde_json::{Value, json};
use storksbill::members::create_administrator;
use storksbill_db::rows::members::{self, Member};
use storksbill_db::rows::{sessions, society_log};
use storksbill_domain::ids::{ClubId, MemberId};
use storksbill_domain::words::{ClubRole, SocietyRole, Standing};
use storksbill_tests::{Actor, PASSWORD, TestApp};

use crate::members::proved;

const EMAIL: &str = "edda@merrow.example";
/// What somebody who is not the owner would choose.
const NEW: &str = "three wet stone steps";

/// Where the owner of the address stands when the way is tried.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Before {
    NoAccount,
    Requested,
    Active,
    Suspended,
    LeftPlain,
    LeftAdministrator,
    LeftRegistrar,
    LeftSecretary,
}

const ALL_BEFORE: [Before; 8] = [
    Before::NoAccount,
    Before::Requested,
    Before::Active,
    Before::Suspended,
    Before::LeftPlain,
    Before::LeftAdministrator,
    Before::LeftRegistrar,
    Before::LeftSecretary,
];

impl Before {
    fn has_left(self) -> bool {
        matches!(self, Self::LeftPlain | Self::LeftAdministrator | Self::LeftRegistrar | Self::LeftSecretary)
    }
}

/// How somebody tries to get in.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Way {
    /// An invitation of a club's secretary, and nothing else.
    Invitation,
    /// The same, with a wrong old password.
    InvitationWrongPassword,
    /// The same, with the password that the account has.
    InvitationOldPassword,
    /// The same, with a code that an administrator made out.
    InvitationCode,
    /// A one-time code of the secretary.
    SecretarysCode,
    /// A one-time code of an administrator.
    AdministratorsCode,
    /// Asking to join, approved by the secretary.
    Request,
    /// An administrator sets the standing to active.
    Standing,
    /// The command line.
    CommandLine,
}

const ALL_WAYS: [Way; 9] = [
    Way::Invitation,
    Way::InvitationWrongPassword,
    Way::InvitationOldPassword,
    Way::InvitationCode,
    Way::SecretarysCode,
    Way::AdministratorsCode,
    Way::Request,
    Way::Standing,
    Way::CommandLine,
];

/// Which password opens the account afterwards.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Opens {
    Nothing,
    TheOldPassword,
    TheNewPassword,
}

/// The table.
fn expected(before: Before, way: Way) -> Opens {
    use Opens::{Nothing, TheNewPassword, TheOldPassword};
    match (before, way) {
        (_, Way::CommandLine) => TheNewPassword,
        (Before::NoAccount, Way::Invitation | Way::InvitationCode | Way::Request) => TheNewPassword,
        // An old password is asked of nobody who has no account, and a wrong one shown is refused.
        (Before::NoAccount, _) => Nothing,
        (Before::Requested, Way::Request | Way::Standing) => TheOldPassword,
        (Before::Requested, _) => Nothing,
        (Before::Active, Way::SecretarysCode | Way::AdministratorsCode) => TheNewPassword,
        (Before::Active, _) => TheOldPassword,
        (Before::Suspended, Way::Standing) => TheOldPassword,
        (Before::Suspended, _) => Nothing,
        (_, Way::InvitationCode | Way::AdministratorsCode) => TheNewPassword,
        (_, Way::Standing) => TheOldPassword,
        _ => Nothing,
    }
}

struct Stage {
    society: TestApp,
    administrator: Actor,
    secretary: Actor,
    club: ClubId,
    other_club: ClubId,
}

impl Stage {
    async fn set() -> Self {
        let society = TestApp::start().await;
        let region = society.region("The Vale").await;
        let (club, other_club) =
            (society.club("Quay Town", region).await, society.club("Moor", region).await);
        let administrator = society.administrator("Una Marsh").await;
        let secretary = society.secretary_of("Bram Oake", club).await;
        Self { society, administrator, secretary, club, other_club }
    }

    /// The account of [`EMAIL`], as it stands.
    async fn account(&self) -> Option<Member> {
        self.society.read(|conn| members::by_email(conn, EMAIL)).await
    }

    async fn prepare(&self, before: Before) -> Option<MemberId> {
        if before == Before::NoAccount {
            return None;
        }
        let (society, clubs) = match before {
            Before::LeftAdministrator => (vec![SocietyRole::Administrator], vec![]),
            Before::LeftRegistrar => (vec![SocietyRole::Registrar], vec![]),
            Before::LeftSecretary => (vec![], vec![(self.other_club, ClubRole::Secretary)]),
            Before::Active => (vec![], vec![(self.club, ClubRole::Member)]),
            _ => (vec![], vec![]),
        };
        let edda = self.society.actor("Edda Wick", &society, &clubs).await;
        let (id, club) = (edda.id(), self.club);
        self.society
            .write(move |conn| {
                let mut member = members::find(conn, id)?.unwrap();
                (member.email, member.email_key) = (EMAIL.to_owned(), EMAIL.to_owned());
                if before == Before::Requested {
                    member.standing = Standing::Requested;
                    member.requested_club_id = Some(club);
                }
                members::update(conn, &member)
            })
            .await;
        if before == Before::Suspended || before.has_left() {
            let to = if before == Before::Suspended { "suspended" } else { "left" };
            let path = format!("/api/v1/members/{id}/standing");
            self.administrator.put(&path, proved(json!({"standing": to}))).await.expect(200);
        }
        Some(id)
    }

    async fn invitation(&self) -> Option<String> {
        let body = json!({"email": EMAIL, "club_id": self.club});
        let invited = self.secretary.post("/api/v1/invitations", body).await;
        (invited.status == 201).then(|| invited.json()["token"].as_str().unwrap().to_owned())
    }

    async fn take_up(&self, token: Option<String>, shown: Value) {
        let Some(token) = token else { return };
        let mut body = json!({"token": token, "name": "Edda Wick", "password": NEW});
        body.as_object_mut().unwrap().extend(shown.as_object().unwrap().clone());
        self.society.visitor().post("/api/v1/invitations/acceptance", body).await;
    }

    async fn code(&self, by: &Actor, id: Option<MemberId>) -> Option<String> {
        let path = format!("/api/v1/members/{}/reset-code", id.unwrap_or_else(MemberId::fresh));
        let made = by.post(&path, proved(json!({}))).await;
        (made.status == 201).then(|| made.json()["code"].as_str().unwrap().to_owned())
    }

    async fn go(&self, way: Way, id: Option<MemberId>) {
        match way {
            Way::Invitation => self.take_up(self.invitation().await, json!({})).await,
            Way::InvitationWrongPassword => {
                self.take_up(self.invitation().await, json!({"old_password": "a guess of mine"})).await;
            }
            Way::InvitationOldPassword => {
                self.take_up(self.invitation().await, json!({"old_password": PASSWORD})).await;
            }
            Way::InvitationCode => {
                let code = self.code(&self.administrator, id).await;
                self.take_up(self.invitation().await, json!({"code": code})).await;
            }
            Way::SecretarysCode | Way::AdministratorsCode => {
                let by = if way == Way::SecretarysCode { &self.secretary } else { &self.administrator };
                if let Some(code) = self.code(by, id).await {
                    let body = json!({"email": EMAIL, "code": code.to_uppercase(), "new_password": NEW});
                    self.society.visitor().post("/api/v1/sessions/reset", body).await.expect(204);
                }
            }
            Way::Request => {
                let body =
                    json!({"email": EMAIL, "name": "Edda Wick", "password": NEW, "club_id": self.club});
                self.society.visitor().post("/api/v1/members/requests", body).await.expect(202);
                for asked in self.secretary.walk("/api/v1/members/requests").await {
                    let id = asked["member_id"].as_str().unwrap();
                    self.secretary.post(&format!("/api/v1/members/requests/{id}/approval"), json!({})).await;
                }
            }
            Way::Standing => {
                let path = format!("/api/v1/members/{}/standing", id.unwrap_or_else(MemberId::fresh));
                self.administrator.put(&path, proved(json!({"standing": "active"}))).await;
            }
            Way::CommandLine => {
                create_administrator(&self.society.app.db, EMAIL, "Edda Wick", NEW.to_owned()).await.unwrap();
            }
        }
    }

    async fn opens(&self, password: &str) -> bool {
        let body = json!({"email": EMAIL, "password": password});
        self.society.visitor().post("/api/v1/sessions", body).await.status == 201
    }
}

/// For every cell: which password opens the account, that nothing comes back that was not given again, and that no
/// log-in from before runs on where the password changed.
#[tokio::test]
async fn every_way_into_an_account_from_wherever_its_owner_stands() {
    for before in ALL_BEFORE {
        for way in ALL_WAYS {
            let stage = Stage::set().await;
            let id = stage.prepare(before).await;
            stage.go(way, id).await;
            let opens = match (stage.opens(NEW).await, stage.opens(PASSWORD).await) {
                (true, false) => Opens::TheNewPassword,
                (false, true) => Opens::TheOldPassword,
                (false, false) => Opens::Nothing,
                (true, true) => panic!("{before:?} {way:?}: two passwords"),
            };
            assert_eq!(opens, expected(before, way), "{before:?} {way:?}");

            let Some(account) = stage.account().await else { continue };
            let (now_id, now) = (account.id, stage.society.clock.now().naive_utc());
            let held = stage.society.read(move |conn| members::actor(conn, now_id)).await;
            let roles = if way == Way::CommandLine { vec![SocietyRole::Administrator] } else { vec![] };
            assert_eq!(held.society, roles, "{before:?} {way:?}");
            assert!(
                held.clubs.iter().all(|club| *club == (stage.club, ClubRole::Member)),
                "{before:?} {way:?}: {:?}",
                held.clubs
            );
            // An account that was there stays the one of its owner.
            assert!(id.is_none_or(|id| id == now_id), "{before:?} {way:?}");
            if opens == Opens::TheNewPassword && before != Before::NoAccount {
                // The log-in of before: at most the one just made above runs.
                let running =
                    stage.society.read(move |conn| sessions::running_of(conn, now_id, now)).await.len();
                assert_eq!(running, 1, "{before:?} {way:?}");
            }
        }
    }
}

/// Whoever left holds nothing: no role, club, duty at a show to come, log-in, invitation made out, code or calendar.
#[tokio::test]
async fn who_leaves_gives_up_everything() {
    let stage = Stage::set().await;
    let bram = &stage.secretary;
    let token = stage.invitation().await;
    bram.put("/api/v1/members/me/calendar", json!({})).await;
    let show = json!({"name": "Quay Show", "held_on": "2026-06-13", "place": "Quay Hall",
        "closes_wall": "2026-06-10T20:00", "zone": "Europe/London"});
    let path = format!("/api/v1/clubs/{}/shows", stage.club);
    let show = stage.administrator.post(&path, show).await.expect(201).header("location");
    let duty = json!({"role": "steward", "member_id": bram.id(), "classes": {"all": true}});
    stage.administrator.post(&format!("{show}/officials"), duty).await.expect(201);

    let path = format!("/api/v1/members/{}/standing", bram.id());
    stage.administrator.put(&path, proved(json!({"standing": "left"}))).await.expect(200);
    assert_eq!(bram.get("/api/v1/members/me").await.problem(401), "session-ended");
    let duties = stage.administrator.get(&format!("{show}/officials")).await.expect(200).json();
    assert!(!duties.to_string().contains(bram.id().to_string().as_str()), "{duties}");
    let body = json!({"token": token, "name": "Edda Wick", "password": NEW});
    let taken = stage.society.visitor().post("/api/v1/invitations/acceptance", body).await;
    assert_eq!(taken.fields(), ["/token not-found"]);
    stage.administrator.put(&path, proved(json!({"standing": "active"}))).await.expect(200);
    let id = bram.id();
    let held = stage.society.read(move |conn| members::actor(conn, id)).await;
    assert_eq!((held.society, held.clubs), (vec![], vec![]));
}

/// An invitation made out by somebody who may no longer invite is worth nothing.
#[tokio::test]
async fn nobody_gives_by_an_older_invitation_what_they_no_longer_hold() {
    let stage = Stage::set().await;
    let token = stage.invitation().await;
    let place = format!("/api/v1/clubs/{}/members/{}", stage.club, stage.secretary.id());
    stage.administrator.put(&place, json!({"role": "member"})).await.expect(204);
    let body = json!({"token": token, "name": "Edda Wick", "password": NEW});
    let taken = stage.society.visitor().post("/api/v1/invitations/acceptance", body).await;
    assert_eq!(taken.fields(), ["/token not-found"]);
}

/// A code of a secretary opens no account that can do more than a member's, and none of another club.
#[tokio::test]
async fn a_secretary_makes_out_codes_for_plain_members_of_the_club_alone() {
    let stage = Stage::set().await;
    let society = &stage.society;
    let secretary = (stage.club, ClubRole::Secretary);
    let member = (stage.club, ClubRole::Member);
    let elsewhere = (stage.other_club, ClubRole::Secretary);
    for (name, roles, clubs, status) in [
        ("Plain Reed", vec![], vec![member], 201),
        ("Other Club", vec![], vec![(stage.other_club, ClubRole::Member)], 403),
        ("No Club", vec![], vec![], 403),
        ("Second Secretary", vec![], vec![secretary], 403),
        ("Secretary Elsewhere", vec![], vec![member, elsewhere], 403),
        ("Oona Pike", vec![SocietyRole::Registrar], vec![member], 403),
        ("Ada Fell", vec![SocietyRole::Administrator], vec![member], 403),
    ] {
        let who = society.actor(name, &roles, &clubs).await;
        let path = format!("/api/v1/members/{}/reset-code", who.id());
        assert_eq!(stage.secretary.post(&path, proved(json!({}))).await.status, status, "{name}");
        assert_eq!(stage.administrator.post(&path, proved(json!({}))).await.status, 201, "{name}");
    }
    let own = format!("/api/v1/members/{}/reset-code", stage.secretary.id());
    assert_eq!(stage.secretary.post(&own, proved(json!({}))).await.problem(403), "not-allowed");
}

/// A code is good once, for a day, for its own account, and until the next one.
#[tokio::test]
async fn a_code_is_good_once_and_for_a_day() {
    let stage = Stage::set().await;
    let id = stage.prepare(Before::Active).await;
    let reset = |code: String, email: &str| {
        let body = json!({"email": email, "code": code, "new_password": NEW});
        let visitor = stage.society.visitor();
        async move { visitor.post("/api/v1/sessions/reset", body).await }
    };
    let first = stage.code(&stage.secretary, id).await.unwrap();
    let second = stage.code(&stage.secretary, id).await.unwrap();
    assert_eq!(reset(first, EMAIL).await.fields(), ["/code wrong"]);
    let other = reset(second.clone(), "nobody@merrow.example").await;
    assert_eq!(other.fields(), ["/code wrong"]);
    reset(second.clone(), EMAIL).await.expect(204);
    assert_eq!(reset(second, EMAIL).await.fields(), ["/code wrong"]);
    let late = stage.code(&stage.secretary, id).await.unwrap();
    stage.society.clock.advance(chrono::TimeDelta::hours(24));
    assert_eq!(reset(late, EMAIL).await.fields(), ["/code wrong"]);
}

/// What a borrowed log-in must not do asks for the password, and refuses a wrong one.
#[tokio::test]
async fn roles_standing_codes_and_addresses_ask_for_the_password() {
    let stage = Stage::set().await;
    let edda = stage.society.member_of("Edda Wick", stage.club).await;
    let member = format!("/api/v1/members/{}", edda.id());
    for (actor, method, path, body) in [
        (&stage.administrator, Method::PUT, format!("{member}/roles"), json!({"roles": ["registrar"]})),
        (&stage.administrator, Method::PUT, format!("{member}/standing"), json!({"standing": "left"})),
        (&stage.secretary, Method::POST, format!("{member}/reset-code"), json!({})),
        (&edda, Method::PATCH, "/api/v1/members/me".to_owned(), json!({"email": "thief@merrow.example"})),
    ] {
        for (password, code) in [(None, "required"), (Some("not the password"), "wrong")] {
            let mut body = body.clone();
            if let Some(password) = password {
                body["current_password"] = json!(password);
            }
            let ask = actor.request(method.clone(), &path).header("if-match", "*").json(&body);
            assert_eq!(ask.send().await.fields(), [format!("/current_password {code}")], "{path}");
        }
    }
    let me = edda.get("/api/v1/members/me").await.expect(200).json();
    assert_eq!((&me["roles"], &me["standing"]), (&json!([]), &json!("active")));
    assert_ne!(me["email"], "thief@merrow.example");
}

/// Every road that changes a role, a standing, a roll or a password leaves a line that says who did it.
#[tokio::test]
async fn no_road_changes_a_role_or_a_standing_without_a_line() {
    let stage = Stage::set().await;
    let society = &stage.society;
    let edda = society.member("Edda Wick").await;
    let (member, club) = (format!("/api/v1/members/{}", edda.id()), stage.club);
    let count = || society.read(|conn| society_log::page(conn, &society_log::Lines::All, None, 500));
    let mut lines = count().await.len();
    let admin = &stage.administrator;
    let roads: Vec<(Method, String, Value, u16)> = vec![
        (Method::PUT, format!("{member}/roles"), proved(json!({"roles": ["registrar"]})), 200),
        (Method::PUT, format!("{member}/standing"), proved(json!({"standing": "suspended"})), 200),
        (Method::PUT, format!("{member}/standing"), proved(json!({"standing": "active"})), 200),
        (Method::POST, format!("{member}/reset-code"), proved(json!({})), 201),
        (Method::POST, "/api/v1/invitations".to_owned(), json!({"email": "f@merrow.example"}), 201),
        (Method::PUT, format!("{member}/standing"), proved(json!({"standing": "left"})), 200),
    ];
    for (method, path, body, status) in roads {
        admin.request(method, &path).json(&body).send().await.expect(status);
        let now = count().await;
        assert_eq!(now.len(), lines + 1, "{path} left no line");
        assert_eq!(now[0].by_id, Some(admin.id()), "{path}");
        assert_eq!(now[0].from_address.as_deref(), Some("127.0.0.1"), "{path}");
        lines = now.len();
    }
    // What cannot be told apart from a wish is not kept; what is decided is.
    for (verb, name) in [("approval", "g"), ("refusal", "h")] {
        let body = json!({"email": format!("{name}@merrow.example"), "name": "Gorse Tarn", "password": NEW,
            "club_id": club});
        society.visitor().post("/api/v1/members/requests", body).await.expect(202);
        let asked = stage.secretary.walk("/api/v1/members/requests").await.remove(0);
        let id = asked["member_id"].as_str().unwrap();
        stage.secretary.post(&format!("/api/v1/members/requests/{id}/{verb}"), json!({})).await;
        assert_eq!(count().await.len(), lines + 1, "{verb}");
        lines += 1;
    }
    create_administrator(&society.app.db, "k@merrow.example", "Kay Holm", NEW.to_owned()).await.unwrap();
    let made = count().await;
    assert_eq!((made.len(), made[0].by_id), (lines + 1, None));
}

/// The log is read by administrators whole, by a secretary for the club, by a member about themselves; nobody
/// changes it, not even past the API.
#[tokio::test]
async fn the_log_is_read_by_whom_it_concerns_and_changed_by_nobody() {
    use diesel::connection::SimpleConnection;
    let stage = Stage::set().await;
    stage.invitation().await;
    let path = format!("/api/v1/members/{}/roles", stage.secretary.id());
    stage.administrator.put(&path, proved(json!({"roles": ["registrar"]}))).await.expect(200);
    stage.administrator.put(&path, proved(json!({"roles": []}))).await.expect(200);
    assert_eq!(stage.administrator.walk("/api/v1/society-log?limit=1").await.len(), 3);
    let clubs = stage.secretary.walk("/api/v1/society-log").await;
    let acts: Vec<_> = clubs.iter().map(|line| line["act"].as_str().unwrap()).collect();
    assert_eq!(acts, ["invited"]);
    let own = stage.secretary.walk("/api/v1/members/me/log").await;
    assert_eq!(own.len(), 2);
    assert_eq!(own[1]["words"], "Now registrar.");
    assert_eq!(own[1]["by"]["name"], "Una Marsh");
    assert!(own[1].get("from_address").is_none());
    for statement in ["update society_log set words = ''", "delete from society_log"] {
        let refused = stage
            .society
            .app
            .db
            .write(move |conn| Ok::<_, storksbill_db::DbError>(conn.batch_execute(statement)?));
        assert!(refused.await.is_err(), "{statement}");
    }
    assert_eq!(stage.administrator.walk("/api/v1/society-log").await.len(), 3);
}

/// Who left or is suspended is seen by administrators alone.
#[tokio::test]
async fn those_who_left_are_seen_by_administrators_alone() {
    let stage = Stage::set().await;
    let edda = stage.society.member("Edda Wick").await;
    let path = format!("/api/v1/members/{}", edda.id());
    let standing = format!("{path}/standing");
    stage.administrator.put(&standing, proved(json!({"standing": "left"}))).await.expect(200);
    let left = stage.administrator.walk("/api/v1/members?standing=left").await;
    assert_eq!((left.len(), &left[0]["standing"]), (1, &json!("left")));
    assert_eq!(stage.administrator.get(&path).await.expect(200).json()["standing"], "left");
    assert_eq!(stage.secretary.get("/api/v1/members?standing=left").await.problem(403), "not-allowed");
    assert_eq!(stage.secretary.get(&path).await.problem(404), "not-found");
}
