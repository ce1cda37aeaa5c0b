//! A hall without network: the day pack goes out, a table of results comes back, as often as one likes.

use reqwest::Method;
use serde_json::{Value, json};
use storksbill_tests::Answer;

use crate::show_kit::Held;

async fn take(held: &Held, query: &str, csv: &str) -> Answer {
    let path = format!("{}/results-sheet{query}", held.show);
    held.secretary.send_csv(Method::POST, &path, csv).await
}

fn labels(changes: &Value) -> Vec<String> {
    let all = changes.as_array().unwrap().iter();
    all.map(|change| change["class"]["label"].as_str().unwrap().to_owned()).collect()
}

/// The answer to a table that says nothing new.
fn said_nothing(unchanged: usize) -> Value {
    json!({
        "dry_run": false, "staging": [], "classes": [], "unchanged": unchanged, "needs_reason": false, "findings": []
    })
}

#[tokio::test]
async fn results_from_the_hall_are_shown_then_taken_and_the_same_table_changes_nothing() {
    let mut held = Held::publish(Held::society().await, "2026-06-13", 3, json!({})).await;
    let una = held.society.member("Una Fell").await;
    let edda = held.society.member("Edda Wick").await;
    let ((_, una_1), (_, edda_1)) = (held.enter(&una, 1).await, held.enter(&edda, 1).await);
    let ((_, una_2), (_, edda_2)) = (held.enter(&una, 2).await, held.enter(&edda, 2).await);
    held.at("2026-06-13T09:00:00Z").await;

    let pack = held.secretary.get(&format!("{}/day-pack", held.show)).await.expect(200);
    for name in ["Una", "Edda"] {
        assert!(!pack.text().contains(name), "{}", pack.text());
    }
    let pack = pack.json();
    assert_eq!(pack["classes"][0]["exhibits"].as_array().unwrap().len(), 2, "{pack}");
    assert_eq!(pack["columns"], json!(["class", "entry", "staged", "result", "words"]));
    let page = held.secretary.get(&format!("{}/day-pack.html", held.show)).await.expect(200);
    assert_eq!(page.header("content-disposition"), "attachment; filename=\"day-pack.html\"");
    assert!(
        page.text().contains(&format!("\"entry\":{una_1}")) && !page.text().contains("{{"),
        "{}",
        page.text()
    );
    let blank = held.secretary.get(&format!("{}/results-sheet.csv", held.show)).await.expect(200).text();
    assert_eq!(blank.lines().count(), 5, "{blank}");
    // The table as it is given out says nothing new.
    let nothing = take(&held, "", &blank).await.expect(200).json();
    assert_eq!(nothing, said_nothing(0));

    let table = format!(
        "class,entry,staged,result,words\r\n1,{una_1},yes,2=,\r\n1,{edda_1},yes,2=,\r\n1,,,withheld 1,\r\n1,,,judge,Nils Brand\r\n\
         2,{una_2},yes,1,\r\n2,{edda_2},yes,NAS,The pot is square.\r\n2,,,remark,\"Small, but good.\"\r\n"
    );
    let shown = take(&held, "?dry_run=true", &table).await.expect(200).json();
    assert_eq!(
        (shown["staging"].as_array().unwrap().len(), labels(&shown["classes"])),
        (4, vec!["1".to_owned(), "2".to_owned()])
    );
    assert_eq!(shown["classes"][0]["after"]["equal"], json!([2]));
    let judging = format!("{}/judging", held.show);
    assert_eq!(held.secretary.get(&judging).await.expect(200).json()[0]["judgment"], json!(null));

    let taken = take(&held, "", &table).await.expect(200).json();
    assert_eq!(taken["classes"], shown["classes"]);
    let judged = held.secretary.get(&judging).await.expect(200).json();
    assert_eq!(judged[0]["staged"].as_array().unwrap().len(), 2);
    assert_eq!(
        (
            &judged[0]["judgment"]["judge"],
            &judged[0]["judgment"]["withheld"],
            &judged[0]["judgment"]["signed_off"]
        ),
        (&json!("Nils Brand"), &json!([1]), &json!(true))
    );
    assert_eq!(judged[1]["judgment"]["remark"], "Small, but good.");
    for _ in 0..2 {
        let same = take(&held, "", &table).await.expect(200).json();
        assert_eq!(same, said_nothing(2));
    }
    assert_eq!(held.secretary.get(&judging).await.expect(200).json(), judged);
    // What is given out then comes back as it is.
    let filled = held.secretary.get(&format!("{}/results-sheet.csv", held.show)).await.expect(200).text();
    let same = take(&held, "", &filled).await.expect(200).json();
    assert_eq!((&same["classes"], &same["unchanged"]), (&json!([]), &json!(2)), "{filled}");

    // A correction needs its reason and is a version more.
    let corrected = format!("entry,result\n{una_2},1\n{edda_2},2\n");
    assert_eq!(take(&held, "", &corrected).await.fields(), ["/reason required"]);
    let shown = take(&held, "?dry_run=true", &corrected).await.expect(200).json();
    assert_eq!(shown["classes"][0]["before"]["remark"], "Small, but good.");
    assert_eq!((&shown["needs_reason"], &shown["findings"]), (&json!(true), &json!([])));
    take(&held, "?reason=Read%20wrongly.", &corrected).await.expect(200);
    let second = &held.secretary.get(&judging).await.expect(200).json()[1]["judgment"];
    assert_eq!((&second["version"], &second["reason"]), (&json!(2), &json!("Read wrongly.")));
    assert_eq!(second["judged"].as_array().unwrap().len(), 2);

    // Everything that is wrong is told at once, and nothing is written.
    let digit_wrong = una_1 + 1;
    let wrong = format!(
        "class,entry,staged,result,words\n1,{digit_wrong},,1,\n9,,,judge,Nils Brand\n2,{una_1},,1,\n1,{edda_1},no,1,\n\
         ,{edda_1},,1,\n2,{una_2},maybe,NAS,\n2,,,first,\n"
    );
    let told = take(&held, "", &wrong).await;
    assert_eq!(
        told.fields(),
        [
            "line 2 invalid-value",
            "line 3 not-found",
            "line 4 other-class",
            "line 5 not-staged",
            "line 6 repeated",
            "line 7 required",
            "line 7 unknown-word",
            "line 8 unknown-word",
        ],
        "{}",
        told.text()
    );
    let visitor = held.society.visitor();
    assert_eq!(visitor.get(&format!("{}/day-pack", held.show)).await.problem(401), "not-logged-in");
}
