//! The work of the two kinds of job.

use std::sync::Arc;

use serde_json::{Value, json};
use storksbill_db::rows::fits::{self, Backtest, Fit};
use storksbill_db::rows::jobs::Job;
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{BacktestId, FitId};
use storksbill_forecast::backtest::{Plan, Report, Scheme, run};
use storksbill_forecast::fit::{Parameters, Regime, estimate};

use super::dto::{BacktestOut, SchemeOut};
use crate::app::App;
use crate::forecasts::kept;
use crate::forecasts::pooled::{Pooled, PooledRecords, not_fitted};
use crate::http::problem::{Code, Problem};
use crate::jobs::{Progress, blocking};

/// Estimates everything anew and keeps it as the next version; where neither record nor reading has changed
/// since the last, that one stays.
pub async fn refit(app: &App, _job: &Job, progress: &Progress) -> Result<Value, Problem> {
    progress.report(0.05, "Reads the records.").await?;
    let pooled = Arc::new(PooledRecords::fresh(app).await?);
    let fingerprint = pooled.records().fingerprint();
    let latest = app.db.read(|conn| Ok::<_, Problem>(fits::latest_fit(conn)?)).await?;
    if let Some(latest) = latest.filter(|latest| latest.fingerprint == fingerprint) {
        progress.report(1.0, "Nothing has changed since the last fit.").await?;
        return Ok(json!({ "fit": latest.version_no, "changed": false }));
    }
    progress.report(0.2, "Fits the model.").await?;
    let today = app.clock.today();
    let work = Arc::clone(&pooled);
    let parameters = blocking(move || {
        let records = work.records();
        // The last fit's parameters are a good place to start from.
        estimate(&records.places(), &records.waits, &records.settings(today), Some(work.parameters()))
            .map_err(|error| not_fitted(&error))
    })
    .await?;
    progress.report(0.9, "Keeps the fit.").await?;
    let fit = row(app, &pooled, &parameters, fingerprint)?;
    let version = app.db.write(move |conn| keep(conn, &fit)).await?;
    PooledRecords::forget(app).await;
    let words = format!("Fit {version} stands on {} records.", parameters.records);
    progress.report(1.0, words).await?;
    Ok(json!({ "fit": version, "changed": true, "evaluations": parameters.evaluations }))
}

fn row(app: &App, pooled: &Pooled, parameters: &Parameters, fingerprint: String) -> Result<Fit, Problem> {
    let text = kept::to_json(parameters)
        .map_err(|error| Problem::new(Code::Internal, format!("The fit cannot be written: {error}.")))?;
    let count = |number: usize| i32::try_from(number).unwrap_or(i32::MAX);
    let notes = match parameters.regime {
        Regime::Handbook => "Too few records: growers' rules of thumb alone.",
        Regime::Means => "Means from the records, spreads as they start.",
        Regime::Full => "Means, spreads, base temperatures and calibration from the records.",
    };
    Ok(Fit {
        id: FitId::fresh(),
        version_no: 0,
        made_at: app.clock.now().naive_utc(),
        fingerprint,
        records: count(parameters.records),
        growers: count(pooled.records().grower_count()),
        parameters: text,
        notes: notes.to_owned(),
    })
}

/// Keeps a fit under the next number.
fn keep(conn: &mut Conn, fit: &Fit) -> Result<i32, DbError> {
    let version_no = fits::latest_fit(conn)?.map_or(1, |latest| latest.version_no + 1);
    fits::insert_fit(conn, &Fit { version_no, ..fit.clone() })?;
    Ok(version_no)
}

/// The ways of leaving out, and the share of the work each is.
const SCHEMES: [(Scheme, f64, &str); 3] = [
    (Scheme::LeaveSeasonOut, 0.45, "Leaves out one season after another."),
    (Scheme::LeaveRegionOut, 0.2, "Leaves out one region after another."),
    (Scheme::LeaveGrowersOut, 0.35, "Leaves out a tenth of the growers after another."),
];

/// Forecasts the seasons that are over from the rest of the records and compares with what came.
pub async fn backtest(app: &App, _job: &Job, progress: &Progress) -> Result<Value, Problem> {
    progress.report(0.0, "Reads the records.").await?;
    let Some(fit) = app.db.read(|conn| Ok::<_, Problem>(fits::latest_fit(conn)?)).await? else {
        return Err(Problem::new(Code::WrongState, "There is no fit yet: ask for one first."));
    };
    let pooled = Arc::new(PooledRecords::fresh(app).await?);
    let today = app.clock.today();
    let mut schemes = Vec::new();
    let mut done = 0.0;
    for (scheme, share, words) in SCHEMES {
        progress.report(done, words).await?;
        let (work, told) = (Arc::clone(&pooled), progress.clone());
        let runtime = tokio::runtime::Handle::current();
        let report: Report = blocking(move || {
            let records = work.records();
            let plan = Plan { scheme, ..Plan::default() };
            let mut tell = |part: f64| {
                // A report that cannot be written is tried again at the next part.
                let _ = runtime.block_on(told.report(done + share * part, words));
            };
            run(&records.places(), &records.waits, &records.settings(today), &plan, &mut tell)
                .map_err(|error| not_fitted(&error))
        })
        .await?;
        schemes.extend(SchemeOut::of(&report).filter(|scheme| !scheme.leads.is_empty()));
        done += share;
    }
    let made_at = app.clock.now();
    let out = BacktestOut { fit: fit.version_no, made_at, words: words(&schemes), schemes };
    let report = serde_json::to_string(&out)
        .map_err(|error| Problem::new(Code::Internal, format!("The report cannot be written: {error}.")))?;
    let row = Backtest { id: BacktestId::fresh(), fit_id: fit.id, made_at: made_at.naive_utc(), report };
    app.db.write(move |conn| fits::insert_backtest(conn, &row)).await?;
    progress.report(1.0, out.words.clone()).await?;
    Ok(json!({ "fit": out.fit, "words": out.words }))
}

fn words(schemes: &[SchemeOut]) -> String {
    let lead = schemes
        .first()
        .and_then(|scheme| scheme.leads.iter().find(|lead| lead.weeks_ahead == 4).or(scheme.leads.first()));
    match lead.and_then(|lead| Some((lead, lead.methods.first()?))) {
        None => "Too few finished seasons to compare.".to_owned(),
        Some((lead, own)) => format!(
            "{} weeks ahead, seasons left out: wrong by {:.1} days on average; {:.0} in 100 came within the nine tenths told; {:.0} % better than the mean days.",
            lead.weeks_ahead,
            own.mean_absolute_error,
            100.0 * own.cover90,
            100.0 * lead.skill_over_mean_days,
        ),
    }
}
