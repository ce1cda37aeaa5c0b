//! What the shows send and take is described whole: every schema that another names is there.
#![allow(clippy::unwrap_used, reason = "a test may fail")]

use std::collections::BTreeSet;

use storksbill_domain::shows::{
    ClassJudgment, ConflictFinding, ReasonTold, ScheduleChange, ScheduleFinding, ShowResults, ShowSchedule,
    TrophyChoice,
};
use utoipa::ToSchema;

#[test]
fn schemas_name_only_each_other() {
    let mut schemas = Vec::new();
    ShowSchedule::schemas(&mut schemas);
    ScheduleChange::schemas(&mut schemas);
    ScheduleFinding::schemas(&mut schemas);
    ReasonTold::schemas(&mut schemas);
    ClassJudgment::schemas(&mut schemas);
    TrophyChoice::schemas(&mut schemas);
    ShowResults::schemas(&mut schemas);
    ConflictFinding::schemas(&mut schemas);
    let there: BTreeSet<&str> = schemas.iter().map(|(name, _)| name.as_str()).collect();
    let mut named = 0;
    for (name, schema) in &schemas {
        let text = serde_json::to_string(schema).unwrap();
        for rest in text.split("#/components/schemas/").skip(1) {
            let other = rest.split('"').next().unwrap();
            assert!(there.contains(other), "{name} names {other}");
            named += 1;
        }
    }
    assert!(there.len() > 50 && named > 100, "{} schemas, {named} names", there.len());
    // One name, one schema: two that differ would overwrite each other.
    let mut by_name = std::collections::BTreeMap::new();
    for (name, schema) in &schemas {
        let text = serde_json::to_string(schema).unwrap();
        let before = by_name.insert(name, text.clone());
        assert!(before.is_none_or(|before| before == text), "{name}");
    }
}
