//! What to say once the demonstration is served: who can log in, and what to try.

use std::fmt::Write;

use chrono::NaiveDate;
use serde_json::Value;

use crate::api::{Api, id_of, text_of};
use crate::people::{GUIDES, PASSWORD};

/// The log-ins, and five things to try as lines that work when pasted.
///
/// # Errors
/// One line where the demonstration does not hold what is to be shown.
pub async fn words(address: &str, today: NaiveDate) -> Result<String, String> {
    let (email, _) = GUIDES[0];
    let member = Api::visitor(address)?
        .logged_in(email, PASSWORD)
        .await?
        .ok_or_else(|| format!("{email} cannot log in: the password was changed"))?;
    let plant = plant_to_watch(&member).await?;
    let name = plant.get("cultivar").map_or(Ok(String::new()), |cultivar| text_of(cultivar, "name"))?;
    let plant = id_of(&plant)?;
    let coming = member.list(&format!("/api/v1/shows?from={today}")).await?;
    let next = coming.iter().find(|show| {
        let is = |field: &str, word: &str| show.get(field).and_then(Value::as_str) == Some(word);
        is("state", "published") && !is("held_on", &today.to_string())
    });
    let show = id_of(next.ok_or("no show to come is published")?)?;
    let mut text = format!("Log in with the password `{PASSWORD}` as\n");
    for (email, _) in GUIDES {
        let role = email.split('@').next().unwrap_or_default();
        // Writing to a string cannot fail.
        let _ = writeln!(text, "  {role:<14} {email}");
    }
    let _ = write!(
        text,
        r#"
Five things to try, in another window:
  1. How does the season stand?
     curl -s {address}/api/v1/season
  2. Log in as a member; the lines below use the token:
     TOKEN=$(curl -s {address}/api/v1/sessions -H 'Content-Type: application/json' -d '{{"email":"{email}","password":"{PASSWORD}"}}' | sed -E 's/.*"access_token":"([^"]+)".*/\1/')
  3. When will my {name} be ready, in this spring?
     curl -s {address}/api/v1/forecasts/plants/{plant} -H "Authorization: Bearer $TOKEN"
  4. Who can give me what I want for what I have? The rings that wait for my answer:
     curl -s '{address}/api/v1/swaps/rings?state=proposed' -H "Authorization: Bearer $TOKEN"
  5. What can I enter at the next show, and why not elsewhere?
     curl -s '{address}/api/v1/shows/{show}/my-classes?with_no=true' -H "Authorization: Bearer $TOKEN"
"#
    );
    Ok(text)
}

/// A plant of the member's own that is not ready and has a forecast.
async fn plant_to_watch(member: &Api) -> Result<Value, String> {
    let mut best = None;
    for plant in member.list("/api/v1/plants?limit=200").await? {
        let Ok(forecast) = member.get(&format!("/api/v1/forecasts/plants/{}", id_of(&plant)?)).await else {
            continue;
        };
        let to_come = forecast.get("ready_on").is_some_and(Value::is_null)
            && forecast.get("p50").is_some_and(Value::is_string);
        let basis = forecast.get("requirement").and_then(|need| need.get("basis"));
        if to_come && basis.and_then(Value::as_str) == Some("cultivar") {
            return Ok(plant);
        }
        if to_come && best.is_none() {
            best = Some(plant);
        }
    }
    best.ok_or_else(|| "the member shown first has no plant with a forecast".to_owned())
}
