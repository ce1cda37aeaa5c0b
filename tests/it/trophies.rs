//! The register of trophies: winners of shows, of years before, and the way to the winner and back.

use reqwest::Method;
use serde_json::json;

use crate::show_kit::{Held, send};

/// The cup is for most points and not for who won it in the year before. Una has 3 + 3 = 6 points, Edda 2 + 2 = 4:
/// Una won it last year, so it is Edda's; the year after Edda is barred and it is Una's.
#[tokio::test]
async fn a_winner_of_last_year_stands_back_and_the_register_knows() {
    let (society, club, bram) = Held::society().await;
    let (una, edda) = (society.member("Una Fell").await, society.member("Edda Wick").await);
    let cup = json!({"key": "quay-cup", "title": "The Quay Cup", "notes": "Given by the harbour master."});
    let trophies = format!("/api/v1/clubs/{club}/trophies");
    let made = bram.post_once(&trophies, "a-key-of-the-cup", cup.clone()).await.expect(201);
    assert_eq!(bram.post_once(&trophies, "a-key-of-the-cup", cup.clone()).await.expect(201).id(), made.id());
    assert_eq!(bram.post(&trophies, cup.clone()).await.fields(), ["/key taken"]);
    assert_eq!(una.post(&trophies, cup).await.problem(403), "not-allowed");
    let awards = format!("/api/v1/trophies/{}/awards", made.id());
    let last_year = json!({
        "year": 2025, "member_id": una.id(), "name": "U. Fell", "handed_over_on": "2025-06-14",
        "due_back_on": "2026-05-01"
    });
    let won = bram.post(&awards, last_year).await.expect(201);
    // Who looks over the register in June sees that it is overdue.
    let mut held = Held::publish(
        (society, club, bram),
        "2026-06-13",
        2,
        json!({"trophies": [{
            "key": "quay-cup", "title": "The Quay Cup", "classes": {"sections": ["A"]},
            "award": {"most_points": null}, "barred_years": 1
        }]}),
    )
    .await;
    let (una_1, una_1_no) = held.enter(&una, 1).await;
    let (una_2, una_2_no) = held.enter(&una, 2).await;
    let (edda_1, edda_1_no) = held.enter(&edda, 1).await;
    let (edda_2, edda_2_no) = held.enter(&edda, 2).await;
    held.at("2026-06-13T09:00:00Z").await;
    let overdue = held.secretary.get(&format!("{trophies}?overdue=true")).await.expect(200).json();
    assert_eq!(overdue[0]["out"][0]["name"], "U. Fell");
    let award = format!("{awards}/{}", won.id());
    let early = json!({"returned_on": "2025-01-01"});
    assert_eq!(
        held.secretary.patch(&award, &won.etag(), early).await.fields(),
        ["/returned_on out-of-order"]
    );
    let back = json!({"returned_on": "2026-06-13"});
    held.secretary.patch(&award, &won.etag(), back.clone()).await.expect(200);
    assert_eq!(held.secretary.patch(&award, &won.etag(), back).await.problem(412), "version-mismatch");
    assert_eq!(held.secretary.get(&format!("{trophies}?out=true")).await.expect(200).json(), json!([]));

    held.stage(&[&una_1, &una_2, &edda_1, &edda_2]).await;
    held.judge(1, &[(una_1_no, 1), (edda_1_no, 2)]).await;
    held.judge(2, &[(una_2_no, 1), (edda_2_no, 2)]).await;
    let working = held.secretary.get(&format!("{}/results/working", held.show)).await.expect(200).json();
    let trophy = &working["results"]["trophies"][0];
    assert_eq!(trophy["scores"][0]["out"], json!({"won_before": {"years_ago": 1}}), "{trophy}");
    let list = held.secretary.get(&format!("{}/print/trophies", held.show)).await.expect(200).text();
    assert!(list.contains("Edda Wick") && list.contains("Last won by U. Fell, 2025."), "{list}");
    held.finish("2026-06-13T13:30:00Z").await;

    let told = held.secretary.get(&trophies).await.expect(200).json();
    assert_eq!(
        (&told[0]["last_won"][0]["name"], &told[0]["last_won"][0]["year"]),
        (&json!("Edda Wick"), &json!(2026))
    );
    assert_eq!(told.as_array().unwrap().len(), 1, "{told}");
    // Members read names; which member it is, the winner and officers alone.
    let (una, edda) = (held.society.again(&una).await, held.society.again(&edda).await);
    let seen_by_una = una.get(&awards).await.expect(200).json();
    assert_eq!(seen_by_una[0]["member_id"], json!(null));
    assert_eq!(seen_by_una[1]["member_id"], json!(una.id()));
    let own = edda.get("/api/v1/members/me/trophies").await.expect(200).json();
    assert_eq!((&own[0]["title"], &own[0]["year"]), (&json!("The Quay Cup"), &json!(2026)));
    // What results gave is not taken out by hand.
    let entered = format!("{awards}/{}", seen_by_una[0]["id"].as_str().unwrap());
    let taken = held.secretary.request(Method::DELETE, &entered).header("if-match", "*").send().await;
    assert_eq!(taken.problem(409), "wrong-state");
    let table = held.secretary.get(&format!("{trophies}.csv")).await.expect(200).text();
    assert_eq!(table.lines().count(), 3, "{table}");
    assert!(
        table.contains("quay-cup,The Quay Cup,Given by the harbour master.,2025,U. Fell,2025-06-14"),
        "{table}"
    );

    // The year after Edda stands back.
    let mut next = Held::publish(
        (held.society, held.club, held.secretary),
        "2027-06-12",
        1,
        json!({"trophies": [{
            "key": "quay-cup", "title": "The Quay Cup", "classes": {"all": true},
            "award": "most_firsts", "barred_years": 1
        }]}),
    )
    .await;
    let (edda_1, edda_1_no) = next.enter(&edda, 1).await;
    let (una_1, una_1_no) = next.enter(&una, 1).await;
    next.at("2027-06-12T09:00:00Z").await;
    next.stage(&[&edda_1, &una_1]).await;
    next.judge(1, &[(edda_1_no, 1), (una_1_no, 2)]).await;
    let working = next.secretary.get(&format!("{}/results/working", next.show)).await.expect(200).json();
    let trophy = &working["results"]["trophies"][0];
    assert_eq!(trophy["outcome"], "nobody_eligible", "{trophy}");
}

/// A level for those with one first at most: Una has one after the first show and none left; two after the second.
#[tokio::test]
async fn an_exhibitor_sees_what_was_won_and_how_far_the_next_level_is() {
    let level = json!({
        "name": "novice", "as_of": "show_day",
        "conditions": [{"counts": {"places_to": 1}, "reach": "this_society", "at_most": 1}]
    });
    let (society, club, bram) = Held::society().await;
    let una = society.member("Una Fell").await;
    let mut held = Held::publish((society, club, bram), "2026-06-13", 2, json!({})).await;
    let (first, first_no) = held.enter(&una, 1).await;
    let (second, second_no) = held.enter(&una, 2).await;
    assert_eq!(una.get("/api/v1/members/me/results").await.expect(200).json()["items"], json!([]));
    held.at("2026-06-13T09:00:00Z").await;
    held.stage(&[&first, &second]).await;
    held.judge(1, &[(first_no, 1)]).await;
    held.judge(2, &[(second_no, 2)]).await;
    held.finish("2026-06-13T13:30:00Z").await;
    let una = held.society.again(&una).await;
    let won = una.get("/api/v1/members/me/results").await.expect(200).json();
    assert_eq!(
        (&won["items"][0]["exhibits_staged"], &won["items"][0]["state"]),
        (&json!(2), &json!("final")),
        "{won}"
    );
    let places: Vec<_> = won["items"][0]["lines"]
        .as_array()
        .unwrap()
        .iter()
        .map(|line| (line["class_label"].as_str().unwrap().to_owned(), line["place"].as_i64()))
        .collect();
    assert_eq!(places, [("1".to_owned(), Some(1)), ("2".to_owned(), Some(2))]);

    let next = Held::publish((held.society, held.club, held.secretary), "2026-09-12", 1, json!({})).await;
    assert_eq!(una.get(&format!("{}/my-levels", next.show)).await.expect(200).json(), json!([]));
    let mut draft =
        next.secretary.get(&format!("{}/draft", next.show)).await.expect(200).json()["schedule"].clone();
    draft["classes"][0]["rules"]["entrants"] = json!({"level": level});
    send(&next.secretary, Method::PUT, &format!("{}/draft", next.show), draft).await.expect(200);
    let reason = json!({"reason": "The class is for novices."});
    send(&next.secretary, Method::POST, &format!("{}/publication", next.show), reason).await.expect(200);
    let levels = una.get(&format!("{}/my-levels", next.show)).await.expect(200).json();
    assert_eq!((&levels[0]["level"], &levels[0]["answer"]), (&json!("novice"), &json!("yes")), "{levels}");
    let condition = &levels[0]["conditions"][0];
    assert_eq!((&condition["have"], &condition["left"]), (&json!(1), &json!(0)), "{levels}");
    assert_eq!(levels[0]["classes"][0]["label"], "1");
}
