//! Protests against results.

use actix_web::{get, post, put, web};
use storksbill_db::rows::entries;
use storksbill_db::rows::judging::{self as rows, Protest};
use storksbill_domain::ids::{ProtestId, ShowId};
use storksbill_domain::words::{ProtestState, ShowState};

use super::publish::note;
use super::result_dto::{DecisionIn, ProtestIn, ProtestOut};
use super::results::protests_until;
use super::{documents, show_in_charge_of, visible_show};
use crate::app::App;
use crate::http::auth::{Auth, Officer};
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Raise a protest
///
/// As an exhibitor of the show, while its results are provisional and until the time for protests is over.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ProtestIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses(
        (status = 201, description = "Raised", body = ProtestOut),
        (status = 409, description = "Protests are not taken now", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/shows/{show_id}/protests")]
pub async fn raise(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    body: Valid<ProtestIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let Valid { value, ticket } = body;
    let received = app.clock.now();
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, received, |conn| {
                let show = visible_show(conn, Some(&auth), id)?;
                let own = entries::exhibitor_of(conn, id, auth.member)?;
                let entered = match &own {
                    Some(own) => entries::of_exhibitors(conn, &[own.id])?,
                    None => Vec::new(),
                };
                if entered.is_empty() {
                    return Err(Problem::new(Code::NotAllowed, "Only exhibitors of the show raise protests."));
                }
                let (_, schedule) = documents::in_force(conn, &show)?;
                let over = protests_until(&show, &schedule)?.is_some_and(|until| received > until);
                if show.state != ShowState::Provisional || over {
                    return Err(Problem::new(
                        Code::WrongState,
                        "Protests are taken while results are provisional, and until the time for them is over.",
                    ));
                }
                if let Some(class) = value.class_id
                    && documents::class(&schedule, class).is_err()
                {
                    return Err(Problem::field("/class_id", "not-found", "is not a class of this show"));
                }
                let protest = Protest {
                    id: ProtestId::fresh(),
                    show_id: id,
                    class_id: value.class_id,
                    raised_by: auth.member,
                    raised_at: received.naive_utc(),
                    words: value.words.clone(),
                    deposit_pence: value.deposit_pence.0,
                    state: ProtestState::Open,
                    sat: None,
                    outcome: None,
                    deposit_returned: None,
                    decided_at: None,
                    version: 1,
                };
                rows::insert_protest(conn, &protest)?;
                let subject = Some(protest.id.to_string());
                note(conn, id, Some(auth.member), "protest", subject, "Raised.", received.naive_utc())?;
                let address = format!("{}/protests", documents::address(id));
                Reply::created(address, 1, &told(protest))
            })
        })
        .await
}

/// List protests
///
/// Your own, or as an officer of the club all of them, in the order in which they were raised.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses((status = 200, description = "Protests", body = Vec<ProtestOut>))
)]
#[get("/shows/{show_id}/protests")]
pub async fn list(auth: Auth, app: web::Data<App>, path: web::Path<ShowId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = visible_show(conn, Some(&auth), id)?;
            let mut all = rows::protests(conn, id)?;
            if !auth.acts_for(show.club_id) {
                all.retain(|protest| protest.raised_by == auth.member);
            }
            Reply::ok(&all.into_iter().map(told).collect::<Vec<_>>())
        })
        .await
}

/// Decide a protest
///
/// Who sat, what they found, and whether the deposit is given back: officers of the club, who correct the judgment where
/// it is upheld and give the results out anew.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = DecisionIn,
    params(("If-Match" = String, Header, description = "The protest's version")),
    responses(
        (status = 200, description = "Decided", body = ProtestOut),
        (status = 409, description = "It is decided already", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[put("/shows/{show_id}/protests/{protest_id}/decision")]
pub async fn decide(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<(ShowId, ProtestId)>,
    if_match: IfMatch,
    body: Valid<DecisionIn>,
) -> Result<Reply, Problem> {
    let (id, protest_id) = path.into_inner();
    let now = app.clock.now();
    let DecisionIn { state, sat, outcome, deposit_returned } = body.value;
    app.db
        .write(move |conn| {
            show_in_charge_of(conn, &officer, id)?;
            let found = rows::protests(conn, id)?.into_iter().find(|protest| protest.id == protest_id);
            let mut protest = found.ok_or_else(|| Problem::not_found("protest"))?;
            if_match.check(protest.version)?;
            if protest.state != ProtestState::Open {
                return Err(Problem::new(Code::WrongState, "It is decided already."));
            }
            protest.state = state;
            protest.sat = Some(sat.clone());
            protest.outcome = Some(outcome.clone());
            protest.deposit_returned = Some(deposit_returned);
            protest.decided_at = Some(now.naive_utc());
            protest.version += 1;
            rows::update_protest(conn, &protest)?;
            let words = format!("Protest {}: {outcome}", state.as_str());
            let subject = Some(protest_id.to_string());
            note(conn, id, Some(officer.member), "protest", subject, &words, now.naive_utc())?;
            Reply::versioned(protest.version, &told(protest))
        })
        .await
}

fn told(protest: Protest) -> ProtestOut {
    ProtestOut {
        id: protest.id,
        show_id: protest.show_id,
        class_id: protest.class_id,
        raised_by: protest.raised_by,
        raised_at: protest.raised_at.and_utc(),
        words: protest.words,
        deposit_pence: protest.deposit_pence,
        state: protest.state,
        sat: protest.sat,
        outcome: protest.outcome,
        deposit_returned: protest.deposit_returned,
        decided_at: protest.decided_at.map(|moment| moment.and_utc()),
        version: protest.version,
    }
}
