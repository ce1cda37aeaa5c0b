//! Published vectors of the open standards the server is built on; the source stands beside each.

use argon2::{Algorithm, Argon2, AssociatedData, ParamsBuilder, Version};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use jsonwebtoken::errors::ErrorKind;
use jsonwebtoken::{DecodingKey, EncodingKey, Header, Validation};
use serde_json::{Value, json};
use storksbill::http::auth::{ACCESS_FOR, TokenKeys};
use storksbill::http::problem::Code;
use storksbill::sessions::new_password::NewPassword;
use storksbill::sessions::passwords::Passwords;
use storksbill::sessions::turns::Asker;
use storksbill_domain::ids::{MemberId, SessionId};
use storksbill_tests::{NOW, TestApp, moment};
use uuid::Uuid;

// ---- RFC 7515 (2015) and 7519 (2015): JSON web signatures and tokens ----

/// RFC 7515, appendix A.1: HS256. The header holds a line break; it is verified as it was received.
const A1_HEADER: &str = "eyJ0eXAiOiJKV1QiLA0KICJhbGciOiJIUzI1NiJ9";
const A1_PAYLOAD: &str =
    "eyJpc3MiOiJqb2UiLA0KICJleHAiOjEzMDA4MTkzODAsDQogImh0dHA6Ly9leGFtcGxlLmNvbS9pc19yb290Ijp0cnVlfQ";
const A1_SIGNATURE: &str = "dBjftJeZ4CVP-mB92K27uhbUJU1p1r_wW1gFWFOEjXk";
const A1_KEY: &str = "AyM1SysPpbyDfgZld3umj1qzKObwVMkoqQ-EstJQLr_T-1qS0gZH75aKtMN3Yj0iPS4hcgUuTwjAzZr1Z9CAow";
/// RFC 7515, appendix A.5: no signature at all.
const A5_UNSECURED: &str = "eyJhbGciOiJub25lIn0.eyJpc3MiOiJqb2UiLA0KICJleHAiOjEzMDA4MTkzODAsDQogImh0dHA6Ly9leGFtcGxlLmNvbS9pc19yb290Ijp0cnVlfQ.";
/// RFC 7515, appendix A.3: ES256.
const A3_HEADER: &str = "eyJhbGciOiJFUzI1NiJ9";
const A3_SIGNATURE: &str =
    "DtEhU3ljbEg8L38VWAfUAqOyKAM6-Xx-F4GawxaepmXFCgfTjDxw5djxLa8ISlSApmWQxfKTUJqPP3-Kg6NU1Q";

fn a1_key() -> Vec<u8> {
    URL_SAFE_NO_PAD.decode(A1_KEY).unwrap()
}

#[test]
fn the_published_hs256_token_is_verified_and_found_expired() {
    let key = DecodingKey::from_secret(&a1_key());
    let mut rules = Validation::new(jsonwebtoken::Algorithm::HS256);
    let token = format!("{A1_HEADER}.{A1_PAYLOAD}.{A1_SIGNATURE}");
    // It was good until 2011-03-22T18:43:00Z.
    let expired = jsonwebtoken::decode::<Value>(&token, &key, &rules).unwrap_err();
    assert_eq!(expired.kind(), &ErrorKind::ExpiredSignature);
    rules.validate_exp = false;
    let claims = jsonwebtoken::decode::<Value>(&token, &key, &rules).unwrap().claims;
    assert_eq!((&claims["iss"], &claims["exp"]), (&json!("joe"), &json!(1_300_819_380)));
    assert_eq!(moment("2011-03-22T18:43:00Z").timestamp(), 1_300_819_380);
    let mut bent = token.into_bytes();
    bent[60] ^= 1;
    let bent = jsonwebtoken::decode::<Value>(String::from_utf8(bent).unwrap(), &key, &rules);
    assert_eq!(bent.unwrap_err().kind(), &ErrorKind::InvalidSignature);
}

#[test]
fn the_server_takes_its_own_tokens_until_they_expire() {
    let keys = TokenKeys::new(&a1_key());
    let now = moment(NOW);
    let (member, session) = (MemberId::fresh(), SessionId::fresh());
    let token = keys.issue(member, session, now).unwrap();
    let header: Value =
        serde_json::from_slice(&URL_SAFE_NO_PAD.decode(token.split('.').next().unwrap()).unwrap()).unwrap();
    assert_eq!(header, json!({"typ": "JWT", "alg": "HS256"}));
    let claims = keys.verify(&token, now).unwrap();
    assert_eq!((claims.sub, claims.sid), (member, session));
    // RFC 7519, sections 4.1.4 and 4.1.6: seconds since the epoch; not accepted on or after `exp`.
    assert_eq!((claims.iat, claims.exp), (now.timestamp(), now.timestamp() + 900));
    assert!(keys.verify(&token, now + ACCESS_FOR - chrono::TimeDelta::seconds(1)).is_ok());
    assert_eq!(keys.verify(&token, now + ACCESS_FOR).unwrap_err().code, Code::BadToken);
    assert_eq!(TokenKeys::new(&[7; 64]).verify(&token, now).unwrap_err().code, Code::BadToken);
}

/// RFC 8725 (2020), section 3.1: the algorithm is the server's choice, whatever the token's header asks for.
#[tokio::test]
async fn a_token_of_any_other_algorithm_is_refused() {
    let keys = TokenKeys::new(&a1_key());
    let now = moment(NOW);
    let good = keys.issue(MemberId::fresh(), SessionId::fresh(), now).unwrap();
    let [header, payload, signature] = good.split('.').collect::<Vec<_>>()[..] else { panic!("{good}") };
    let encode = |text: &str| URL_SAFE_NO_PAD.encode(text);
    let claims: Value = serde_json::from_slice(&URL_SAFE_NO_PAD.decode(payload).unwrap()).unwrap();
    let signed_with = |algorithm| {
        jsonwebtoken::encode(&Header::new(algorithm), &claims, &EncodingKey::from_secret(&a1_key())).unwrap()
    };
    let forged = [
        A5_UNSECURED.to_owned(),
        format!("{A3_HEADER}.{A1_PAYLOAD}.{A3_SIGNATURE}"),
        format!("{A1_HEADER}.{A1_PAYLOAD}.{A1_SIGNATURE}"),
        format!("{}.{payload}.", encode(r#"{"alg":"none"}"#)),
        format!("{}.{payload}.{signature}", encode(r#"{"alg":"none"}"#)),
        format!("{}.{payload}.{signature}", encode(r#"{"alg":"nOnE"}"#)),
        format!("{}.{payload}.{signature}", encode(r#"{"alg":"ES256"}"#)),
        format!("{}.{payload}.{signature}", encode(r#"{"typ":"JWT"}"#)),
        signed_with(jsonwebtoken::Algorithm::HS384),
        signed_with(jsonwebtoken::Algorithm::HS512),
        format!("{header}.{payload}."),
        format!("{header}.{payload}"),
        format!("{header}.{payload}.{signature}."),
        format!("{header}.{}.{signature}", encode(&claims.to_string().replace("exp\":1", "exp\":9"))),
        String::new(),
        "..".to_owned(),
    ];
    assert!(keys.verify(&good, now).is_ok());
    let society = TestApp::start().await;
    for token in forged {
        assert_eq!(keys.verify(&token, now).unwrap_err().code, Code::BadToken, "{token}");
        let answer = society.visitor().with_token(&token).get("/api/v1/members/me").await;
        assert_eq!(answer.problem(401), "bad-token", "{token}");
    }
}

// ---- RFC 9106 (2021): argon2 ----

/// RFC 9106, sections 5.1 to 5.3.
#[test]
fn the_published_argon2_tags_are_met() {
    let mut params = ParamsBuilder::new();
    params.m_cost(32).t_cost(3).p_cost(4).output_len(32).data(AssociatedData::new(&[4; 12]).unwrap());
    for (algorithm, tag) in [
        (Algorithm::Argon2d, "512b391b6f1162975371d30919734294f868e3be3984f3c1a13a4db9fabe4acb"),
        (Algorithm::Argon2i, "c814d9d1dc7f37aa13f0d77f2494bda1c8de6b016dd388d29952a4c4672b6ce8"),
        (Algorithm::Argon2id, "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"),
    ] {
        let argon2 =
            Argon2::new_with_secret(&[3; 8], algorithm, Version::V0x13, params.build().unwrap()).unwrap();
        let mut out = [0; 32];
        argon2.hash_password_into(&[1; 32], &[2; 16], &mut out).unwrap();
        let bytes: Vec<u8> =
            (0..32).map(|n| u8::from_str_radix(&tag[2 * n..2 * n + 2], 16).unwrap()).collect();
        assert_eq!(out, bytes[..], "{algorithm}");
    }
}

const NOBODY: Asker = Asker::Stranger(std::net::IpAddr::V4(std::net::Ipv4Addr::LOCALHOST));

/// The string form, with the parameters it names: test suite of the argon2 reference implementation (2019),
/// argon2id, version 19, 64 MiB, two passes, "password" and "somesalt".
#[tokio::test]
async fn the_published_password_string_is_verified() {
    let phc = "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc";
    let passwords = Passwords::new(1, 8, 1).unwrap();
    let verify = |password: &'static str, kept: &'static str| {
        let passwords = passwords.clone();
        async move { passwords.verify(NOBODY, password.to_owned(), Some(kept.to_owned())).await.unwrap() }
    };
    assert!(verify("password", phc).await);
    assert!(!verify("Password", phc).await);
    assert!(!verify("password", "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ").await);
    assert!(!verify("password", "password").await);
    assert!(!passwords.verify(NOBODY, "no account has this password".to_owned(), None).await.unwrap());
}

/// RFC 9106, section 4: a salt of 16 bytes, fresh for every password; and the string form of PHC.
#[tokio::test]
async fn kept_passwords_carry_their_parameters_and_a_salt_of_their_own() {
    let passwords = Passwords::for_this_machine().unwrap();
    let first = passwords
        .hash(NOBODY, NewPassword::of("", "nine small red pots".to_owned(), &[]).unwrap())
        .await
        .unwrap();
    let second = passwords
        .hash(NOBODY, NewPassword::of("", "nine small red pots".to_owned(), &[]).unwrap())
        .await
        .unwrap();
    assert_ne!(first, second);
    let parts: Vec<&str> = first.split('$').collect();
    assert_eq!(parts[1..4], ["argon2id", "v=19", "m=19456,t=2,p=1"]);
    let salt = base64::engine::general_purpose::STANDARD_NO_PAD.decode(parts[4]).unwrap();
    let tag = base64::engine::general_purpose::STANDARD_NO_PAD.decode(parts[5]).unwrap();
    assert_eq!((salt.len(), tag.len()), (16, 32));
    assert!(passwords.verify(NOBODY, "nine small red pots".to_owned(), Some(first)).await.unwrap());
}

// ---- RFC 9562 (2024): ids ----

/// RFC 9562, section 5.7: the first 48 bits of a version 7 id are the milliseconds of its making.
#[test]
fn an_id_tells_the_moment_of_its_making() {
    let before = chrono::Utc::now().timestamp_millis();
    let id = Uuid::parse_str(MemberId::fresh().as_str()).unwrap();
    let after = chrono::Utc::now().timestamp_millis();
    let millis = i64::try_from(id.as_u128() >> 80).unwrap();
    assert!((before..=after).contains(&millis), "{before} {millis} {after}");
    assert_eq!((id.get_version_num(), id.get_variant()), (7, uuid::Variant::RFC4122));
    // Section 5.9 and 5.10: the ids of nothing and of everything read as any other and name nobody.
    for text in ["00000000-0000-0000-0000-000000000000", "ffffffff-ffff-ffff-ffff-ffffffffffff"] {
        assert_eq!(text.parse::<MemberId>().unwrap().as_str(), text);
    }
}

// ---- RFC 9457 (2023): problems ----

/// RFC 9457, section 3.1: the members, their types, and that `status` is the response's own.
#[tokio::test]
async fn a_refusal_has_the_members_of_a_problem() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let answers = [
        una.get("/api/v1/nothing").await,
        society.visitor().get("/api/v1/members").await,
        una.post("/api/v1/clubs", json!({"name": "", "region_id": 42.3})).await,
        una.delete("/api/v1/clubs").await,
    ];
    for answer in &answers {
        assert_eq!(answer.header("content-type"), "application/problem+json");
        let problem = answer.json();
        let code = problem["code"].as_str().unwrap();
        assert_eq!(problem["status"], answer.status);
        assert_eq!(problem["type"], format!("/problems#{code}"));
        let known = Code::ALL.iter().find(|known| known.as_str() == code).unwrap();
        assert_eq!(problem["title"], known.title());
        assert!(problem["detail"].as_str().unwrap().len() > 10);
    }
    // Section 3, figure 5: `errors` with a JSON pointer (RFC 6901) and a detail for each.
    let errors = answers[2].json()["errors"].clone();
    let pointers: Vec<_> =
        errors.as_array().unwrap().iter().map(|e| e["pointer"].as_str().unwrap()).collect();
    assert_eq!(pointers.len(), 2);
    for pointer in pointers {
        assert!(["/name", "/region_id"].contains(&pointer), "{pointer}");
    }
}

// ---- RFC 4180 (2005): tables ----

/// RFC 4180, section 2: quoted fields, doubled quotes, line breaks and commas within quotes, CRLF between
/// records, the last with or without.
#[tokio::test]
async fn tables_are_read_and_written_as_the_standard_has_them() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let edda = society.member("Edda Wick").await;
    society.grows_in(&edda, region).await;
    let cultivar = json!({"name": "Quay Lass", "plant_group": "zonal", "status": "seedling"});
    edda.post("/api/v1/cultivars", cultivar).await.expect(201);
    let csv = "label,cultivar,how_many,environment,form\r\n\
        aaa,Quay Lass,1,outdoors,bush\r\n\
        \"b\"\"bb\",\"Quay Lass\",\"2\",outdoors,bush\r\n\
        \"c\r\ncc, c\",Quay Lass,3,outdoors,bush";
    edda.send_csv(reqwest::Method::POST, "/api/v1/plants/import", csv).await.expect(200);
    let plants = edda.walk("/api/v1/plants").await;
    let mut labels: Vec<_> = plants.iter().map(|row| row["label"].as_str().unwrap()).collect();
    labels.sort_unstable();
    // A label is one line, so its break is a space; the record was read whole all the same.
    assert_eq!(labels, ["aaa", "b\"bb", "c cc, c"]);
    let note = json!({"day": "2026-05-01", "kind": "note", "note": "d\r\ndd, \"d\""});
    let plant = plants[0]["id"].as_str().unwrap();
    edda.post(&format!("/api/v1/plants/{plant}/diary"), note).await.expect(201);
    let (plants, diary) =
        (edda.get("/api/v1/plants/export.csv").await, edda.get("/api/v1/diary/export.csv").await);
    assert!(
        plants.text().contains("\"b\"\"bb\"") && plants.text().contains("\"c cc, c\""),
        "{}",
        plants.text()
    );
    assert!(diary.text().contains("\"d\r\ndd, \"\"d\"\"\""), "{}", diary.text());
    // A header and the records, and the break within a field; no line end of another kind.
    for (table, lines) in [(plants, 4), (diary, 3)] {
        // Section 3: the media type and its parameters.
        assert_eq!(table.header("content-type"), "text/csv; charset=utf-8; header=present");
        let text = table.text();
        assert_eq!((text.matches("\r\n").count(), text.matches('\n').count()), (lines, lines), "{text}");
        assert!(text.ends_with("\r\n"));
    }
}

// ---- RFC 6585 (2012): additional statuses ----

/// RFC 6585, section 3.
#[test]
fn a_missing_precondition_is_428() {
    assert_eq!(Code::PreconditionRequired.status().as_u16(), 428);
    assert_eq!(Code::VersionMismatch.status().as_u16(), 412);
}

// ---- RFC 8288 (2017): links ----

/// RFC 8288, section 3: `<target>; rel="next"`, the target a reference that keeps what else was asked.
#[tokio::test]
async fn the_next_page_is_a_link_that_keeps_the_question() {
    let society = TestApp::start().await;
    for n in 0..3 {
        society.member(&format!("Mère {n} Wick")).await;
    }
    society.member("Bram Oake").await;
    let edda = society.member("Edda Wick").await;
    let first = edda.get("/api/v1/members?name=m%C3%A8re%20&limit=2&cursor=&standing=active").await;
    assert_eq!(first.problem(400), "bad-cursor");
    let first = edda.get("/api/v1/members?name=m%C3%A8re%20&limit=2&standing=active").await.expect(200);
    let link = first.header("link");
    let cursor = first.json()["next_cursor"].as_str().unwrap().to_owned();
    assert_eq!(
        link,
        format!("</api/v1/members?name=m%C3%A8re%20&limit=2&standing=active&cursor={cursor}>; rel=\"next\"")
    );
    // A URI reference (RFC 3986) holds none of these.
    let target = &link[1..link.find('>').unwrap()];
    assert!(target.bytes().all(|b| b.is_ascii_graphic() && !b"<>\"{}|\\^`".contains(&b)), "{target}");
    let last = edda.get(target).await.expect(200);
    assert_eq!(last.json()["items"].as_array().unwrap().len(), 1);
    assert_eq!((last.header("link").as_str(), &last.json()["next_cursor"]), ("", &Value::Null));
}
