//! Every operation of the API's description, asked by every role, against the table in `role_matrix.txt`.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

use reqwest::Method;
use storksbill_domain::ids::{ClubId, MemberId};
use storksbill_domain::words::{ClubRole, SocietyRole};
use storksbill_tests::{Actor, Contract, TestApp};

const ROLES: [&str; 5] = ["visitor", "member", "secretary", "registrar", "administrator"];
const TABLE: &str = include_str!("role_matrix.txt");

/// Operation -> who may. Lines are `METHOD path  role role …`; `#` starts a remark.
fn table() -> BTreeMap<String, BTreeSet<&'static str>> {
    let mut table = BTreeMap::new();
    let mut last = String::new();
    for line in TABLE.lines().filter(|line| !line.is_empty() && !line.starts_with('#')) {
        let (operation, roles) = line.split_once("  ").unwrap_or((line, ""));
        let named: BTreeSet<_> = roles
            .split_whitespace()
            .map(|role| *ROLES.iter().find(|known| **known == role).unwrap_or_else(|| panic!("{line}")))
            .collect();
        let key = sort_key(operation);
        assert!(key > last, "role_matrix.txt: sort by path, then method, each once: {line}");
        last = key;
        table.insert(operation.to_owned(), named);
    }
    table
}

fn sort_key(operation: &str) -> String {
    let (method, path) = operation.split_once(' ').unwrap_or((operation, ""));
    format!("{path} {method}")
}

/// A fresh person of the role each time: some operations end the asker's own log-in.
async fn person(society: &TestApp, role: &str, club: ClubId) -> Actor {
    match role {
        "visitor" => society.visitor(),
        "member" => society.member_of("Edda Wick", club).await,
        "secretary" => society.actor("Bram Oake", &[], &[(club, ClubRole::Secretary)]).await,
        "registrar" => society.actor("Oona Pike", &[SocietyRole::Registrar], &[]).await,
        _ => society.actor("Una Marsh", &[SocietyRole::Administrator], &[]).await,
    }
}

/// Who gets past the door, asking about things that are not there and sending nothing.
async fn observed(society: &TestApp, method: &str, template: &str, club: ClubId) -> BTreeSet<&'static str> {
    let path = template
        .split('/')
        .map(|part| if part.starts_with('{') { MemberId::fresh().to_string() } else { part.to_owned() })
        .collect::<Vec<_>>()
        .join("/");
    let mut allowed = BTreeSet::new();
    for role in ROLES {
        let actor = person(society, role, club).await;
        let answer = actor.request(method.parse::<Method>().unwrap(), &path).send().await;
        match (role, answer.status) {
            ("visitor", 401) => assert_eq!(answer.problem(401), "not-logged-in"),
            (_, 403) if role != "visitor" => assert_eq!(answer.problem(403), "not-allowed"),
            (_, 401 | 403) => panic!("{method} {template} as {role}: {}", answer.text()),
            _ => drop(allowed.insert(role)),
        }
    }
    allowed
}

#[tokio::test]
async fn every_operation_is_open_to_the_roles_of_the_table_and_to_no_other() {
    let society = TestApp::start().await;
    let club = society.club("Quay Town", society.region("The Vale").await).await;
    let mut table = table();
    let mut faults = String::new();
    for (method, path, description) in Contract::of_the_server().operations() {
        let allowed = observed(&society, &method, &path, club).await;
        let operation = format!("{method} {path}");
        let as_line = || {
            let roles: Vec<_> = ROLES.into_iter().filter(|role| allowed.contains(role)).collect();
            format!("{operation}  {}", roles.join(" "))
        };
        match table.remove(&operation) {
            Some(expected) if expected == allowed => {}
            known => {
                let fault = match known {
                    Some(_) => "the server does not do as role_matrix.txt says, but:",
                    None => "not in role_matrix.txt; if it is meant so, add:",
                };
                writeln!(faults, "{fault} {}", as_line()).unwrap();
            }
        }
        // What the description says of the log-in is what the server does.
        let needs_log_in = description["security"]
            .as_array()
            .is_some_and(|ways| !ways.is_empty() && !ways.iter().any(|way| way == &serde_json::json!({})));
        if needs_log_in == allowed.contains("visitor") {
            writeln!(faults, "{operation}: `security` of the description is wrong").unwrap();
        }
    }
    for operation in table.keys() {
        writeln!(faults, "in role_matrix.txt, but not an operation: {operation}").unwrap();
    }
    assert!(faults.is_empty(), "\n{faults}");
}
