#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "test code")]

use serde_json::{Value, json};

use crate::{answer, asked};

fn run(market: &Value, arguments: &str) -> Result<Value, String> {
    let arguments = format!("market.json {arguments}");
    answer(&market.to_string(), &asked(arguments.split(' ').map(str::to_owned))?)
}

fn solved(market: &Value, arguments: &str) -> Value {
    let mut answer = run(market, arguments).unwrap();
    answer.as_object_mut().unwrap().remove("seconds").unwrap();
    answer
}

fn level(answer: &Value, name: &str) -> i64 {
    let levels = answer["levels"].as_array().unwrap();
    let level = levels.iter().find(|level| level["name"] == name).unwrap();
    assert_eq!((&level["value"], &level["proved"]), (&level["bound"], &json!(true)), "{levels:?}");
    level["value"].as_i64().unwrap()
}

fn moves(answer: &Value) -> Vec<String> {
    let text = |value: &Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
    let of = |step: &Value| format!("{}>{} {}", text(&step["from"]), text(&step["to"]), text(&step["item"]));
    answer["moves"].as_array().unwrap().iter().map(of).collect()
}

/// Four members of one society; the answers are this project's own, by exhaustive search.
fn four_members() -> Value {
    json!({
        "members": [
            {"id": "A", "give": 2, "receive": 2}, {"id": "B", "give": 1, "receive": 1},
            {"id": "C", "give": 2, "receive": 2}, {"id": "D", "give": 1, "receive": 0}
        ],
        "offers": [
            {"member": "A", "item": "ruby", "quantity": 2}, {"member": "A", "item": "opal"},
            {"member": "B", "item": "jade"}, {"member": "C", "item": "amber", "quantity": 2},
            {"member": "D", "item": "pearl"}
        ],
        "wants": [
            {"member": "A", "items": [{"item": "jade", "rank": 1}]}, {"member": "A", "item": "amber", "rank": 2},
            {"member": "B", "items": ["ruby"]}, {"member": "B", "rank": 2, "items": ["pearl"]},
            {"member": "C", "items": [{"item": "ruby"}]}, {"member": "C", "items": [{"item": "opal", "rank": 2}]}
        ]
    })
}

#[test]
fn four_members_by_every_mode() {
    let market = four_members();
    let balanced = ["A>B ruby", "A>C ruby", "B>A jade", "C>A amber"];
    for mode in ["--mode rings --preset count", "--mode meeting", "--mode=chains --preset=count"] {
        let answer = solved(&market, mode);
        assert_eq!((level(&answer, "wants_served"), level(&answer, "weight")), (4, 395), "{mode}");
        assert_eq!(moves(&answer), balanced, "{mode}");
        assert_eq!(answer["rings"].as_array().unwrap().len(), 2);
        assert!(
            answer["accounts"].as_array().unwrap().iter().all(|account| account["not_worse_off"] == true)
        );
    }
    assert_eq!(moves(&solved(&market, "--mode rings")), balanced);
    assert_eq!(moves(&solved(&market, "--mode rings --max-ring 2 --preset robust")), balanced);

    let mut gift = market.clone();
    gift["givers"] = json!([{"member": "D"}]);
    let all = ["A>C opal", "A>C ruby", "B>A jade", "C>A amber", "D>B pearl"];
    for mode in ["--mode meeting --leximin", "--mode chains --max-chain 4 --preset count"] {
        let answer = solved(&gift, mode);
        assert_eq!((level(&answer, "wants_served"), level(&answer, "weight")), (5, 485), "{mode}");
        assert_eq!(moves(&answer), all, "{mode}");
        assert_eq!(answer["chains"].as_array().unwrap().len(), 1);
    }
    assert_eq!(moves(&solved(&gift, "--mode rings")), balanced);
}

#[test]
fn refusals_and_weights_count() {
    let mut market = four_members();
    market["refused"] = json!([["C", "A"]]);
    assert_eq!(moves(&solved(&market, "--mode meeting")), ["A>B ruby", "B>A jade"]);
    market["refused"] = Value::Null;
    market["members"][0]["give"] = json!(1);
    assert_eq!(moves(&solved(&market, "--mode meeting")), ["A>B ruby", "B>A jade"]);
    market["weights"] = json!([{"from": "C", "to": "A", "item": "amber", "weight": 500}]);
    let answer = solved(&market, "--mode meeting");
    assert_eq!(moves(&answer), ["A>C ruby", "C>A amber"]);
    assert_eq!(level(&answer, "weight"), 600);
}

/// Four agents, one plant each; question 6836 of the economics site of Stack Exchange.
#[test]
fn one_for_one() {
    let lists = [("A", "bdac"), ("B", "cadb"), ("C", "dbca"), ("D", "acbd")];
    let wants = |(member, list): &(&str, &str)| {
        let item = |(rank, item): (usize, char)| json!({"item": item.to_string(), "rank": rank + 1});
        json!({"member": member, "items": list.chars().enumerate().map(item).collect::<Vec<_>>()})
    };
    let market = json!({
        "offers": lists.map(|(member, _)| json!({"member": member, "item": member.to_lowercase()})),
        "wants": lists.iter().map(wants).collect::<Vec<_>>(),
    });
    let answer = solved(&market, "--mode one-for-one");
    assert_eq!(moves(&answer), ["A>D a", "D>C d", "C>B c", "B>A b"]);
    let mut refused = market.clone();
    refused["refused"] = json!([{"from": "B", "to": "A"}]); // A's next is d, and D's first is a
    assert_eq!(moves(&solved(&refused, "--mode one-for-one")), ["A>D a", "D>A d", "B>C b", "C>B c"]);
}

#[test]
fn the_order_of_the_file_does_not_matter() {
    let mut market = four_members();
    market["givers"] = json!([{"member": "D"}]);
    let mut turned = market.clone();
    for list in ["members", "offers", "wants"] {
        turned[list].as_array_mut().unwrap().reverse();
    }
    for mode in ["rings", "chains", "meeting"] {
        let mode = format!("--mode {mode}");
        assert_eq!(solved(&market, &mode), solved(&turned, &mode));
    }
}

#[test]
fn what_may_be_left_out() {
    let market = json!({
        "offers": [{"member": 7, "item": 1}, {"member": 8, "item": 2, "quantity": null}],
        "wants": [{"member": 7, "items": [2, 1]}, {"member": 8, "item": 1}],
    });
    let answer = solved(&market, "--mode meeting");
    assert_eq!(moves(&answer), ["7>8 1", "8>7 2"]);
    assert_eq!(answer["warnings"].as_array().unwrap().len(), 1);
    assert!(moves(&solved(&json!({}), "--mode rings")).is_empty());
}

#[test]
fn faults_are_named() {
    let fault = |change: &dyn Fn(&mut Value)| {
        let mut market = four_members();
        change(&mut market);
        run(&market, "--mode rings").unwrap_err()
    };
    let told = [
        (fault(&|m| m["offers"][1]["member"] = json!("E")), "offers[1].member: \"E\" is not listed"),
        (fault(&|m| m["wants"][2]["need"] = json!(0)), "wants[2].need: expected a whole number from 1"),
        (fault(&|m| m["wants"][0]["items"][0]["rank"] = json!("x")), "wants[0].items[0].rank: expected"),
        (fault(&|m| m["wants"][0]["items"] = Value::Null), "wants[0].items is missing"),
        (fault(&|m| m["members"][1]["id"] = Value::Null), "members[1].id is missing"),
        (fault(&|m| m["members"][1]["id"] = json!("A")), "members[1].id: this member is listed twice"),
        (fault(&|m| m["members"][1]["give"] = json!(-1)), "members[1].give: expected a whole number"),
        (fault(&|m| m["offers"] = json!({})), "offers: expected a list"),
        (fault(&|m| m["refused"] = json!([["A"]])), "refused[0]: expected [from, to]"),
        (fault(&|m| m["weights"] = json!([{"from": "A", "to": "B", "item": "ruby"}])), "weights[0].weight"),
        (fault(&|m| m["givers"] = json!([{"member": "A"}, {"member": "A"}])), "giver"),
    ];
    for (message, start) in told {
        assert!(message.contains(start), "{message}");
    }
    assert!(run(&json!([]), "--mode rings").unwrap_err().contains("object"));
    assert!(run(&four_members(), "--mode swap").unwrap_err().starts_with("--mode swap"));
    assert!(run(&four_members(), "--mode rings --max-ring 4").unwrap_err().starts_with("--max-ring 4"));
    assert!(run(&four_members(), "--mode one-for-one").unwrap_err().contains("more than one plant"));
    assert!(run(&four_members(), "--leximin").unwrap_err().starts_with("--mode is missing"));
    assert!(asked(std::iter::empty()).is_err());
}
