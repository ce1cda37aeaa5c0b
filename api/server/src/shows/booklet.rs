//! The schedule as a booklet: whatever an exhibit is judged by stands in print.

use std::fmt::Write;

use actix_web::{get, web};
use storksbill_domain::ids::ShowId;
use storksbill_domain::shows::{
    NextPlace, OddPence, PointsScheme, PrintedNames, ProtestsUntil, ResultRules, ScheduleClass, ShowSchedule,
    TiedShare, TrophyAward, printed_rules,
};
use storksbill_domain::words::OfficialRole;

use super::printouts::{day, line};
use super::{documents, officials, visible_show};
use crate::app::App;
use crate::http::auth::MaybeAuth;
use crate::http::problem::Problem;
use crate::print::{Sheet, Text};

/// Print the schedule
///
/// The version in force as a booklet of A5 pages, section by section: all that each class demands, fees, prizes, trophies,
/// points, protests; its number and hash at the foot.
#[utoipa::path(
    tag = "shows",
    security((), ("session" = [])),
    responses(
        (status = 200, description = "The schedule", body = String, content_type = "text/html"),
        (status = 409, description = "It is not published yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/shows/{show_id}/print/schedule")]
pub async fn booklet(
    asker: MaybeAuth,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<Sheet, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = visible_show(conn, asker.0.as_deref(), id)?;
            let (version, schedule) = documents::in_force(conn, &show)?;
            let mut body = String::new();
            let closes = schedule.closes_wall.format("%-d %B %Y at %H:%M");
            line(&mut body, &format!("{}, {}", day(&schedule), show.place));
            line(&mut body, &format!("Entries close on {closes} ({}).", schedule.zone));
            if let Some(notes) = &show.notes {
                line(&mut body, notes);
            }
            let judges: Vec<String> = officials::told_names(conn, id, OfficialRole::Judge)?;
            if !judges.is_empty() {
                line(&mut body, &format!("Judged by {}.", judges.join(", ")));
            }
            let names = documents::printed_names(conn, &schedule)?;
            for (title, classes) in by_section(&schedule) {
                let _ = writeln!(body, "<h2>{}</h2>\n<table>", Text(title));
                for class in classes {
                    let _ = writeln!(
                        body,
                        "<tr><td class=\"label\">{}</td><td>{}{}<p class=\"quiet\">{}</p></td></tr>",
                        Text(&class.label.to_string()),
                        Text(&class.title),
                        demands(class, &names),
                        Text(&money(class)),
                    );
                }
                body += "</table>\n";
            }
            if !schedule.trophies.is_empty() {
                body += "<h2>Trophies</h2>\n<table>\n";
                for trophy in &schedule.trophies {
                    let how = award(&trophy.award);
                    let _ = writeln!(body, "<tr><td>{}</td><td>{how}</td></tr>", Text(&trophy.title));
                }
                body += "</table>\n";
            }
            for one in &schedule.schemes {
                line(&mut body, &scheme(one));
            }
            line(&mut body, &equals(&schedule.results));
            if let Some(until) = &schedule.protests {
                line(&mut body, &protests(until));
            }
            let foot = format!(
                "Version {} of the schedule, published on {}. SHA-256 {}",
                version.number,
                version.published_at.format("%-d %B %Y"),
                version.sha256
            );
            let _ = writeln!(body, "<p class=\"quiet hash\">{}</p>", Text(&foot));
            Ok::<_, Problem>(Sheet::a5(&show.name, &body))
        })
        .await
}

/// Sections as they are printed, then classes that stand in none.
fn by_section(schedule: &ShowSchedule) -> Vec<(&str, Vec<&ScheduleClass>)> {
    let mut classes: Vec<&ScheduleClass> = schedule.classes.iter().collect();
    classes.sort_by(|a, b| a.printed_order(b));
    let mut parts: Vec<(&str, Vec<&ScheduleClass>)> = schedule
        .sections
        .iter()
        .map(|section| {
            let of = |class: &&ScheduleClass| class.section.as_ref() == Some(&section.key);
            (section.title.as_str(), classes.iter().copied().filter(of).collect())
        })
        .collect();
    let others: Vec<&ScheduleClass> = classes
        .into_iter()
        .filter(|class| schedule.sections.iter().all(|section| class.section.as_ref() != Some(&section.key)))
        .collect();
    if !others.is_empty() {
        parts.push(("Classes", others));
    }
    parts
}

/// What a class demands, as a paragraph; nothing where it demands nothing.
pub(super) fn demands(class: &ScheduleClass, names: &PrintedNames) -> String {
    let all = printed_rules(class, names);
    if all.is_empty() {
        return String::new();
    }
    format!("<p class=\"quiet\">{}</p>", Text(&all.join("; ")))
}

/// The fee of a member, of others and of juniors, and the prizes.
fn money(class: &ScheduleClass) -> String {
    let fee = class.rules.fee.map(|fee| {
        let other = (fee.other != fee.member).then(|| format!(", others {}", fee.other));
        let junior = fee.junior.map(|junior| format!(", juniors {junior}"));
        format!("Entry {}{}{}", fee.member, other.unwrap_or_default(), junior.unwrap_or_default())
    });
    let prizes: Vec<String> = class.rules.prizes.iter().map(ToString::to_string).collect();
    let prizes = (!prizes.is_empty()).then(|| format!("prizes {}", prizes.join(", ")));
    fee.into_iter().chain(prizes).collect::<Vec<_>>().join("; ")
}

/// How points are given, in words.
fn scheme(scheme: &PointsScheme) -> String {
    let places: Vec<String> = scheme.places.iter().map(ToString::to_string).collect();
    let mut text = format!("Points: {} for first and so on", places.join(", "));
    for commended in &scheme.commended {
        let _ = write!(text, "; {} {}", commended.code, commended.points);
    }
    for step in &scheme.steps {
        let places: Vec<String> = step.places.iter().map(ToString::to_string).collect();
        let _ = write!(text, "; from {} exhibits on {}", step.from_exhibits, places.join(", "));
    }
    if scheme.for_each_below > 0 {
        let _ = write!(text, "; {} more for each exhibit below", scheme.for_each_below);
    }
    if let Some(best) = scheme.best_of {
        let _ = write!(text, "; the best {best} of an exhibitor in a class count");
    }
    text + "."
}

/// What equals have, and what few exhibits do to the prizes.
fn equals(rules: &ResultRules) -> String {
    let ResultRules { next_place, tied_prizes, odd_pence, thin_class } = rules;
    let share = match tied_prizes {
        TiedShare::Shared => "Equals share the prize money of the places that they use up",
        TiedShare::Full => "Equals have the prize money of their place each",
    };
    let next = match next_place {
        NextPlace::Skipped => "after two firsts comes a third",
        NextPlace::Kept => "after two firsts comes a second",
    };
    let odd = match odd_pence {
        OddPence::WithSociety => "pence that cannot be shared stay with the society",
        OddPence::MadeUp => "shares are made up to the next penny",
    };
    let mut text = format!("{share}; {next}; {odd}.");
    if let Some(thin) = thin_class {
        let _ = write!(
            text,
            " With {} exhibits or fewer, prizes are paid down to place {} only.",
            thin.exhibits, thin.prizes
        );
    }
    text
}

fn protests(until: &ProtestsUntil) -> String {
    match until {
        ProtestsUntil::MinutesAfterOpening(minutes) => {
            format!("Protests are taken until {minutes} minutes after the hall opens to the public.")
        }
        ProtestsUntil::WallClock(at) => {
            format!("Protests are taken until {}.", at.format("%-d %B %Y at %H:%M"))
        }
    }
}

pub(super) fn award(how: &TrophyAward) -> &'static str {
    match how {
        TrophyAward::MostPoints(_) => "most points",
        TrophyAward::MostFirsts => "most firsts",
        TrophyAward::MostPrizeMoney => "most prize money",
        TrophyAward::BestExhibit => "the best exhibit",
        TrophyAward::ClassWinner => "the winner of the class",
    }
}
