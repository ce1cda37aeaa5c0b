//! What a secretary takes to a spreadsheet: exhibitors, receipts, prizes, results.

use serde_json::json;

use crate::show_kit::{Held, send};

fn rows(csv: &str) -> Vec<Vec<&str>> {
    csv.trim_end().lines().skip(1).map(|line| line.split(',').collect()).collect()
}

/// Una is first in class 1 and second in 2, which Edda wins: 3 + 2 = 5 points and 3 + 2 pounds; Edda 3 points, 3 pounds.
/// The fee is 20 pence a member.
#[tokio::test]
async fn a_secretary_takes_exhibitors_money_prizes_and_results_home() {
    let mut held = Held::publish(Held::society().await, "2026-06-13", 2, json!({})).await;
    let una = held.society.member("Una Fell").await;
    let edda = held.society.member("Edda Wick").await;
    let ((una_1, una_1_no), (una_2, una_2_no)) = (held.enter(&una, 1).await, held.enter(&una, 2).await);
    let (edda_2, edda_2_no) = held.enter(&edda, 2).await;
    let initials = json!({"publish_as": "initials"});
    send(&edda, reqwest::Method::PUT, &format!("{}/exhibitors/me", held.show), initials).await.expect(200);
    let exhibitors = held.secretary.walk(&format!("{}/exhibitors", held.show)).await;
    let receipt =
        json!({"exhibitor_id": exhibitors[0]["id"], "pence": 40, "how": "cash", "note": "At the door"});
    held.secretary.post(&format!("{}/receipts", held.show), receipt).await.expect(201);

    let table = |name: &str| format!("{}/{name}.csv", held.show);
    let told = held.secretary.get(&table("exhibitors")).await.expect(200);
    assert_eq!(told.header("content-disposition"), "attachment; filename=\"exhibitors.csv\"");
    assert_eq!(
        rows(&told.text()),
        [
            ["1", "Una Fell", "yes", "no", "no", "", "name", "2", "40", "40"],
            ["2", "Edda Wick", "yes", "no", "no", "", "initials", "1", "20", "0"]
        ]
    );
    let told = held.secretary.get(&table("receipts")).await.expect(200).text();
    let told = rows(&told);
    assert_eq!((told.len(), &told[0][2..]), (1, &["1", "Una Fell", "40", "cash", "At the door"][..]));
    let visitor = held.society.visitor();
    assert_eq!(visitor.get(&table("results")).await.problem(404), "not-found");

    held.at("2026-06-13T09:00:00Z").await;
    held.stage(&[&una_1, &una_2, &edda_2]).await;
    held.judge(1, &[(una_1_no, 1)]).await;
    held.judge(2, &[(edda_2_no, 1), (una_2_no, 2)]).await;
    let path = format!("{}/results", held.show);
    send(&held.secretary, reqwest::Method::POST, &path, json!({"state": "provisional"})).await.expect(201);
    let prizes = held.secretary.get(&format!("{}/prizes.csv", held.show)).await.expect(200).text();
    assert_eq!(rows(&prizes), [["1", "Una Fell", "1", "5", "500"], ["2", "Edda Wick", "1", "3", "300"]]);
    let results = visitor.get(&format!("{}/results.csv", held.show)).await.expect(200).text();
    assert_eq!(rows(&results).len(), 3, "{results}");
    assert!(results.contains("\"One regal, 1\""), "{results}");
    for (class, place, number, name, points) in [
        ("1", "1", una_1_no, "Una Fell", "3"),
        ("2", "1", edda_2_no, "E. W.", "3"),
        ("2", "2", una_2_no, "Una Fell", "2"),
    ] {
        let end = format!(",{place},1,{number},{name},Quay Lass,{points}");
        assert!(
            results.lines().any(|line| line.starts_with(&format!("{class},")) && line.ends_with(&end)),
            "{end}: {results}"
        );
    }
    assert!(!results.contains("Edda"), "{results}");
}
