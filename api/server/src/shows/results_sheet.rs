//! Results keyed without the network, taken as a table: as often as one likes with the same effect.
//!
//! A line is an exhibit with what was said of it, or, without an entry number, something of the whole class. A class of
//! which the table says something is judged by what the table says; a class of which it says nothing stays as it is.

use std::collections::{BTreeMap, BTreeSet};

use actix_web::{HttpResponse, get, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::Conn;
use storksbill_db::rows::entries::{self, Entry};
use storksbill_db::rows::judging::{self as rows, Judgment};
use storksbill_db::rows::shows::Show;
use storksbill_domain::ids::{ClassId, ShowId};
use storksbill_domain::policy::Actor;
use storksbill_domain::shows::{
    ClassJudgment, EntryNumber, JudgedExhibit, ResultFinding, ScheduleClass, ShowSchedule, Verdict,
};
use storksbill_domain::words::ShowState;
use utoipa::{IntoParams, ToSchema};

use super::entry_dto::ClassNameOut;
use super::find::{name_of, own_name};
use super::publish::note;
use super::reckoning::Day;
use super::results_lines::{
    COLUMNS, JUDGE, NOT_AS_SCHEDULE, PUT_OUT, REMARK, Saying, WITHHELD, class_of, entry_of, saying_of,
    staging_of,
};
use super::{documents, show_in_charge_of, writing};
use crate::app::App;
use crate::http::auth::Officer;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::http::upload::{Table, TableFormat};
use crate::tables::download;
use crate::tables::sheet::{self, Faults, Sheet};

/// What was said of one class.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, ToSchema)]
pub struct ClassSaid {
    /// The exhibits that something is said of.
    pub judged: Vec<JudgedExhibit>,
    /// Places shared on purpose.
    pub equal: Vec<u32>,
    /// Places withheld.
    pub withheld: Vec<u32>,
    /// A remark for the class.
    pub remark: Option<String>,
    /// Who judged.
    pub judge: Option<String>,
    /// The judge has signed it.
    pub signed_off: bool,
}

impl ClassSaid {
    fn judgment(&self, class: ClassId) -> ClassJudgment {
        ClassJudgment {
            class,
            judged: self.judged.clone(),
            equal: self.equal.clone(),
            withheld: self.withheld.clone(),
        }
    }

    /// In an order that does not depend on who wrote it down.
    fn sorted(mut self) -> Self {
        self.judged.sort_by_key(|judged| judged.entry);
        self.equal.sort_unstable();
        self.withheld.sort_unstable();
        self
    }

    fn of(row: &Judgment) -> Result<Self, Problem> {
        let ClassJudgment { judged, equal, withheld, .. } = documents::part(&row.document)?;
        let said = Self {
            judged,
            equal,
            withheld,
            remark: row.remark.clone(),
            judge: Some(row.judge.clone()),
            signed_off: row.signed_off,
        };
        Ok(said.sorted())
    }
}

/// An exhibit that is staged, or no longer.
#[derive(Debug, Serialize, ToSchema)]
pub struct StagingChange {
    /// Its number.
    pub entry: EntryNumber,
    /// Its class.
    pub class: ClassNameOut,
    /// As it is by the table.
    pub staged: bool,
}

/// A class of which the table says something new.
#[derive(Debug, Serialize, ToSchema)]
pub struct ClassChange {
    /// Which.
    pub class: ClassNameOut,
    /// What was said last; none when it was not judged yet.
    pub before: Option<ClassSaid>,
    /// What the table says.
    pub after: ClassSaid,
}

/// What a table of results does, or in a dry run would do.
#[derive(Debug, Serialize, ToSchema)]
pub struct ResultsSheetOut {
    /// Whether nothing was written because only the differences were asked for.
    pub dry_run: bool,
    /// Exhibits staged, or no longer.
    pub staging: Vec<StagingChange>,
    /// Classes of which something new is said.
    pub classes: Vec<ClassChange>,
    /// How many classes the table says the same of as before.
    pub unchanged: usize,
    /// Whether classes that were judged already are corrected, so that the table needs a `reason`.
    pub needs_reason: bool,
    /// What does not add up in the classes of the table: an `error` keeps results from being given out.
    pub findings: Vec<ResultFinding>,
}

/// How to take a table of results.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct HowTaken {
    /// Only show the differences; false when not given.
    #[serde(default)]
    #[param(required = false)]
    pub dry_run: bool,
    /// Why classes that were judged already are corrected, 4 to 500 characters; needed where there are any.
    pub reason: Option<String>,
}

/// Take a table of results
///
/// What was written down in the hall, as CSV in UTF-8 with the columns `class`, `entry`, `staged`, `result`, `words`:
/// the table that `GET /api/v1/shows/{show_id}/results-sheet.csv` gives out, filled in. Officers of the club.
///
/// `result` is a place (`1`), a place shared on purpose (`2=`), `VHC`, `HC`, `C`, `NAS` (not according to schedule) or
/// `OUT`; the last two with the reason in `words`. A line without `entry` is about its class: `withheld 2`, `remark` with
/// the remark in `words`, `judge` with the judge's name in `words` when the sheet is signed. `staged` is `yes`, `no` or
/// blank; an exhibit with a result was staged.
///
/// The same table may be sent any number of times: what it says already stands and nothing more is written. With
/// `dry_run` the differences are shown and nothing is written. Either tells in `findings` what would keep the classes of
/// the table from being given out: a place given twice and not as `2=`. Nothing is staged or taken off the bench in a
/// class that is judged. Classes judged before are corrected in a new version, with
/// the `reason`. All lines are taken or none: the refusal names every bad line.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body(content = String, content_type = "text/csv", description = "The table"),
    params(HowTaken, ("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses(
        (status = 200, description = "What was done, or would be", body = ResultsSheetOut),
        (status = 409, description = "The show is not being judged", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/shows/{show_id}/results-sheet")]
pub async fn take(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    how: web::Query<HowTaken>,
    table: Table,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let HowTaken { dry_run, reason } = how.into_inner();
    let now = app.clock.now();
    if table.format != TableFormat::Csv {
        return Err(Problem::new(
            Code::UnsupportedMediaType,
            "Send the table with `Content-Type: text/csv`.",
        ));
    }
    if reason.as_ref().is_some_and(|reason| !(4..=500).contains(&reason.trim().chars().count())) {
        return Err(Problem::field("/reason", "wrong-length", "is 4 to 500 characters"));
    }
    let ticket = table.ticket.clone();
    let read = web::block(move || Sheet::read(&table.bytes, &COLUMNS))
        .await
        .map_err(|_stopping| Problem::busy("The server is stopping. Nothing was written; try again."))??;
    if dry_run {
        return app
            .db
            .read(move |conn| {
                let plan = Plan::of(conn, &officer, id, &read)?;
                Reply::ok(&plan.told(conn, true)?)
            })
            .await;
    }
    app.db
        .write(move |conn| {
            ticket.once(conn, officer.member, now, |conn| {
                let plan = Plan::of(conn, &officer, id, &read)?;
                plan.store(conn, &officer, reason.as_deref(), now)?;
                Reply::ok(&plan.told(conn, false)?)
            })
        })
        .await
}

/// Get a table to write results in
///
/// Every exhibit by class, with what is known already: fill it in and send it to
/// `POST /api/v1/shows/{show_id}/results-sheet`. Officers of the club.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses(
        (status = 200, description = "The table", body = String, content_type = "text/csv"),
        (status = 409, description = "The schedule is not published yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/shows/{show_id}/results-sheet.csv")]
pub async fn blank(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<HttpResponse, Problem> {
    let id = path.into_inner();
    let csv = app
        .db
        .read(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            let kept = Kept::load(conn, &show)?;
            let mut lines = Vec::new();
            for class in &kept.schedule.classes {
                let said = kept.said.get(&class.id).map(|(_, said)| said);
                kept.lines_of(class, said, &mut lines);
            }
            sheet::write(&COLUMNS, lines.into_iter())
        })
        .await?;
    Ok(download("results.csv", csv))
}

/// What is kept of the day.
struct Kept {
    schedule: ShowSchedule,
    entries: BTreeMap<EntryNumber, Entry>,
    said: BTreeMap<ClassId, (i32, ClassSaid)>,
}

impl Kept {
    fn load(conn: &mut Conn, show: &Show) -> Result<Self, Problem> {
        let (_, mut schedule) = documents::in_force(conn, show)?;
        schedule.classes.sort_by(ScheduleClass::printed_order);
        let entries = entries::standing(conn, show.id)?
            .into_iter()
            .filter_map(|entry| Some((u32::try_from(entry.number).ok()?.try_into().ok()?, entry)))
            .collect();
        let mut said = BTreeMap::new();
        for row in rows::judgments(conn, show.id)? {
            said.insert(row.class_id, (row.version, ClassSaid::of(&row)?));
        }
        Ok(Self { schedule, entries, said })
    }

    fn lines_of(&self, class: &ScheduleClass, said: Option<&ClassSaid>, lines: &mut Vec<[String; 5]>) {
        let label = class.label.to_string();
        for (number, entry) in self.entries.iter().filter(|(_, entry)| entry.class_id == class.id) {
            let judged = said.and_then(|said| said.judged.iter().find(|judged| judged.entry == *number));
            let (result, words) = match judged.map(|judged| &judged.verdict) {
                None => (String::new(), String::new()),
                Some(Verdict::Placed(place)) => {
                    let shared = said.is_some_and(|said| said.equal.contains(place));
                    (format!("{place}{}", if shared { "=" } else { "" }), String::new())
                }
                Some(Verdict::Commended(code)) => (code.to_string(), String::new()),
                Some(Verdict::NotAsSchedule { reason }) => (NOT_AS_SCHEDULE.to_owned(), reason.clone()),
                Some(Verdict::Disqualified { reason }) => (PUT_OUT.to_owned(), reason.clone()),
            };
            let staged = if entry.staged_at.is_some() { "yes" } else { "" };
            lines.push([label.clone(), number.to_string(), staged.to_owned(), result, words]);
        }
        let Some(said) = said else { return };
        let mut of_class = |result: String, words: String| {
            lines.push([label.clone(), String::new(), String::new(), result, words]);
        };
        for place in &said.withheld {
            of_class(format!("{WITHHELD} {place}"), String::new());
        }
        if let Some(remark) = &said.remark {
            of_class(REMARK.to_owned(), remark.clone());
        }
        if let (true, Some(judge)) = (said.signed_off, &said.judge) {
            of_class(JUDGE.to_owned(), judge.clone());
        }
    }
}

/// What a table comes to beside what is kept.
struct Plan {
    show: Show,
    schedule: ShowSchedule,
    /// The classes that the table says something of.
    named: BTreeSet<ClassId>,
    entries: BTreeMap<EntryNumber, Entry>,
    staging: Vec<StagingChange>,
    classes: Vec<(i32, ClassChange)>,
    unchanged: usize,
}

impl Plan {
    fn of(conn: &mut Conn, actor: &Actor, id: ShowId, table: &Sheet) -> Result<Self, Problem> {
        let show = show_in_charge_of(conn, actor, id)?;
        let kept = Kept::load(conn, &show)?;
        if !matches!(show.state, ShowState::Published | ShowState::Provisional) {
            return Err(Problem::new(Code::WrongState, "The show is not being judged."));
        }
        let mut faults: Vec<(u64, Faults)> = Vec::new();
        let mut met = BTreeSet::new();
        let mut said: BTreeMap<ClassId, ClassSaid> = BTreeMap::new();
        let mut staged: BTreeMap<EntryNumber, bool> = BTreeMap::new();
        for mut line in table.lines() {
            let number = entry_of(&mut line);
            if let Some(number) = number
                && !met.insert(number)
            {
                line.faults.add("entry", "repeated", format!("{number} stands on an earlier line too"));
            }
            let class = class_of(&mut line, &kept.schedule, &kept.entries, number);
            let saying = saying_of(&mut line, number);
            let stands = staging_of(&mut line);
            if let (Some(number), Some(_)) = (number, class) {
                let has_result = matches!(saying, Saying::Exhibit(..));
                if has_result && stands == Some(false) {
                    line.faults.add("staged", "not-staged", "is `no` for an exhibit with a result");
                }
                let now = kept.entries.get(&number).is_some_and(|entry| entry.staged_at.is_some());
                let then = if has_result { true } else { stands.unwrap_or(now) };
                if then != now {
                    if show.state != ShowState::Published {
                        let detail = "cannot change: the results are out; move or correct by hand";
                        line.faults.add("staged", "results-out", detail);
                    }
                    if let Some(class) = class.filter(|class| kept.said.contains_key(&class.id)) {
                        let detail = format!(
                            "cannot change: class {} is judged already, and what its judge saw stays",
                            class.label
                        );
                        line.faults.add("staged", "judged", detail);
                    }
                    staged.insert(number, then);
                }
            }
            if let Some(class) = class {
                match saying {
                    Saying::Nothing => {}
                    Saying::Exhibit(entry, verdict, shared) => {
                        let said = said.entry(class.id).or_default();
                        if let (true, Verdict::Placed(place)) = (shared, &verdict)
                            && !said.equal.contains(place)
                        {
                            said.equal.push(*place);
                        }
                        said.judged.push(JudgedExhibit { entry, verdict });
                    }
                    Saying::Withheld(place) => said.entry(class.id).or_default().withheld.push(place),
                    Saying::Remark(words) => said.entry(class.id).or_default().remark = Some(words),
                    Saying::Judge(name) => {
                        let said = said.entry(class.id).or_default();
                        said.judge = Some(name);
                        said.signed_off = true;
                    }
                }
            }
            faults.push((line.number, line.faults));
        }
        sheet::refuse(faults.iter().map(|(number, faults)| (*number, faults)))?;
        Ok(Self::beside(show, kept, said, &staged))
    }

    fn beside(
        show: Show,
        kept: Kept,
        said: BTreeMap<ClassId, ClassSaid>,
        staged: &BTreeMap<EntryNumber, bool>,
    ) -> Self {
        let mut plan = Self {
            show,
            schedule: kept.schedule.clone(),
            named: said.keys().copied().collect(),
            entries: BTreeMap::new(),
            staging: Vec::new(),
            classes: Vec::new(),
            unchanged: 0,
        };
        let named = |id: ClassId| kept.schedule.classes.iter().find(|class| class.id == id).map(name_of);
        for (number, staged) in staged {
            if let Some(class) = kept.entries.get(number).and_then(|entry| named(entry.class_id)) {
                plan.staging.push(StagingChange { entry: *number, class, staged: *staged });
            }
        }
        for (id, after) in said {
            let before = kept.said.get(&id);
            let mut after = after.sorted();
            // A sheet that nobody signed yet keeps the judge's name as it is.
            if after.judge.is_none() {
                after.judge = before.and_then(|(_, said)| said.judge.clone());
            }
            if before.is_some_and(|(_, said)| *said == after) {
                plan.unchanged += 1;
            } else if let Some(class) = named(id) {
                let version = before.map_or(0, |(version, _)| *version);
                let before = before.map(|(_, said)| said.clone());
                plan.classes.push((version, ClassChange { class, before, after }));
            }
        }
        plan.entries = kept.entries;
        plan
    }

    fn store(
        &self,
        conn: &mut Conn,
        actor: &Actor,
        reason: Option<&str>,
        now: DateTime<Utc>,
    ) -> Result<(), Problem> {
        let corrected: Vec<String> = self
            .classes
            .iter()
            .filter(|(version, _)| *version > 0)
            .map(|(_, change)| change.class.label.to_string())
            .collect();
        if !corrected.is_empty() && reason.is_none() {
            let detail = format!(
                "is required: classes {} were judged already and are corrected",
                corrected.join(", ")
            );
            return Err(Problem::field("/reason", "required", detail));
        }
        for change in &self.staging {
            let Some(before) = self.entries.get(&change.entry) else { continue };
            let mut entry = before.clone();
            entry.staged_at = change.staged.then(|| now.naive_utc());
            writing::change(conn, &self.show, &self.schedule, before, &mut entry)?;
            let words = if change.staged { "Staged, by a table." } else { "Not staged, by a table." };
            let subject = Some(entry.id.to_string());
            note(conn, self.show.id, Some(actor.member), "staged", subject, words, now.naive_utc())?;
        }
        let keyed_by = own_name(conn, actor)?;
        for (version, change) in &self.classes {
            let after = &change.after;
            let document = after.judgment(change.class.id);
            let row = Judgment {
                show_id: self.show.id,
                class_id: change.class.id,
                version: version + 1,
                document: documents::written(&document)?,
                remark: after.remark.clone(),
                reason: reason.filter(|_| *version > 0).map(ToOwned::to_owned),
                judge: after.judge.clone().unwrap_or_else(|| keyed_by.clone()),
                signed_off: after.signed_off,
                entered_by: actor.member,
                entered_at: now.naive_utc(),
            };
            rows::insert(conn, &row)?;
            let words = format!("Class {} judged, by a table.", change.class.label);
            let subject = Some(change.class.id.to_string());
            note(conn, self.show.id, Some(actor.member), "judged", subject, &words, now.naive_utc())?;
        }
        Ok(())
    }

    /// What giving the results out would say of the classes of the table.
    fn findings(&self, conn: &mut Conn) -> Result<Vec<ResultFinding>, Problem> {
        let staged = self.staging.iter().map(|change| (change.entry, change.staged)).collect();
        let said = self.classes.iter().map(|(_, change)| change.after.judgment(change.class.id)).collect();
        let results = Day::load(conn, &self.show)?.supposing(&staged, said).results();
        let of_table = |finding: &ResultFinding| finding.class_id.is_some_and(|id| self.named.contains(&id));
        Ok(results.findings.into_iter().filter(of_table).collect())
    }

    fn told(self, conn: &mut Conn, dry_run: bool) -> Result<ResultsSheetOut, Problem> {
        let findings = self.findings(conn)?;
        Ok(ResultsSheetOut {
            dry_run,
            needs_reason: self.classes.iter().any(|(version, _)| *version > 0),
            findings,
            staging: self.staging,
            classes: self.classes.into_iter().map(|(_, change)| change).collect(),
            unchanged: self.unchanged,
        })
    }
}
