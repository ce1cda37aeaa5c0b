//! The trophy list: what the person who hands the trophies over reads from and winners sign.

use std::collections::BTreeMap;
use std::fmt::Write;

use actix_web::{get, web};
use storksbill_db::rows::trophies::{self, Award};
use storksbill_domain::ids::ShowId;
use storksbill_domain::shows::{
    ExhibitorNumber, Points, ShowTrophy, TrophyAward, TrophyOutcome, TrophyResult,
};

use super::booklet::award;
use super::naming::Told;
use super::reckoning::Day;
use super::{documents, show_in_charge_of};
use crate::app::App;
use crate::http::auth::Officer;
use crate::http::problem::Problem;
use crate::print::{Sheet, Text};
use crate::trophies::told_awards;

/// Print the trophy list
///
/// Each trophy with its winner and what it was won by, who had it last and whether it is back, and lines to sign for it:
/// officers of the club. As the results stand now; winners as they are published, since each signs beside the others.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses(
        (status = 200, description = "The list", body = String, content_type = "text/html"),
        (status = 409, description = "The schedule is not published yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/shows/{show_id}/print/trophies")]
pub async fn trophy_list(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<Sheet, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            // Who had it before this show.
            let mut before: BTreeMap<String, Award> = BTreeMap::new();
            let awards = trophies::awards_of_club(conn, show.club_id)?;
            for (key, award) in told_awards(conn, awards)? {
                if award.show_id != Some(id) {
                    before.entry(key).or_insert(award);
                }
            }
            let day = Day::load(conn, &show)?;
            let told = day.told(conn, &show)?;
            let mut body = String::new();
            for result in &day.results().trophies {
                let Some(trophy) = day.schedule.trophies.iter().find(|known| known.key == result.trophy)
                else {
                    continue;
                };
                section(&mut body, &day, &told, trophy, result, before.get(&trophy.key));
            }
            if body.is_empty() {
                body += "<p>The schedule has no trophies.</p>\n";
            }
            Ok::<_, Problem>(Sheet::a4(&format!("Trophy list, {}", documents::title(&show)), &body))
        })
        .await
}

fn section(
    body: &mut String,
    day: &Day,
    told: &Told,
    trophy: &ShowTrophy,
    result: &TrophyResult,
    before: Option<&Award>,
) {
    // Writing to a string cannot fail.
    let _ = writeln!(
        body,
        "<section><h2>{}</h2><p class=\"quiet\">for {}</p>",
        Text(&trophy.title),
        award(&trophy.award)
    );
    let name = |number: ExhibitorNumber| day.told_name(told, number);
    let score = |number: ExhibitorNumber| {
        let score = result.scores.iter().find(|score| score.exhibitor == number);
        score.map(|score| by(&trophy.award, &score.score)).unwrap_or_default()
    };
    let winners = match &result.outcome {
        TrophyOutcome::Won { exhibitor, entry } => {
            let what = match entry {
                Some(entry) => format!("exhibit {}, {}", entry.get(), day.label(*entry)),
                None => score(*exhibitor),
            };
            vec![(name(*exhibitor), what)]
        }
        TrophyOutcome::Shared(all) => all.iter().map(|one| (name(*one), score(*one))).collect(),
        TrophyOutcome::JudgeDecides(all) => {
            let names: Vec<String> = all.iter().map(|one| name(*one)).collect();
            let _ = writeln!(body, "<p>The judge has to decide between {}.</p>", Text(&names.join(", ")));
            Vec::new()
        }
        TrophyOutcome::JudgesChoose => {
            let numbers: Vec<String> = result.running.iter().map(|entry| entry.get().to_string()).collect();
            let _ = writeln!(body, "<p>Judges have to choose among {}.</p>", numbers.join(", "));
            Vec::new()
        }
        TrophyOutcome::Withheld => {
            let _ = writeln!(body, "<p>Withheld.</p>");
            Vec::new()
        }
        TrophyOutcome::NobodyEligible => {
            let _ = writeln!(body, "<p>Nobody in the running; not awarded.</p>");
            Vec::new()
        }
    };
    if !winners.is_empty() {
        *body += "<table><tr><th>Winner</th><th>By</th><th>Received (signature, date)</th><th>Due back</th></tr>\n";
        for (who, what) in winners {
            let _ = writeln!(
                body,
                "<tr class=\"write\"><td>{}</td><td>{}</td><td></td><td></td></tr>",
                Text(&who),
                Text(&what)
            );
        }
        *body += "</table>\n";
    }
    if let Some(last) = before {
        let back = match (last.handed_over_on, last.returned_on) {
            (Some(_), None) => "; not back yet",
            _ => "",
        };
        let _ =
            writeln!(body, "<p class=\"quiet\">Last won by {}, {}{back}.</p>", Text(&last.name), last.year);
    }
    *body += "</section>\n";
}

/// A score in words.
fn by(award: &TrophyAward, score: &Points) -> String {
    match award {
        TrophyAward::MostPoints(_) => format!("{score} points"),
        TrophyAward::MostFirsts => format!("{score} firsts"),
        TrophyAward::MostPrizeMoney => format!("{score} pence in prizes"),
        TrophyAward::BestExhibit | TrophyAward::ClassWinner => "first of the class".to_owned(),
    }
}
