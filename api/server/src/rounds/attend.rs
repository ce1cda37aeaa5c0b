//! Who comes to a round that is held at a meeting.

use actix_web::{delete, get, put, web};
use chrono::{DateTime, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::rounds::{self, Attendance, Round};
use storksbill_domain::ids::{MemberId, RoundId};
use storksbill_domain::words::{RoundMode, RoundState, SwapStep};

use super::dto::{AttendanceIn, AttendanceOut};
use super::open::{found, in_state};
use super::steps::Mark;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// See who comes
///
/// To a round held at a meeting, by name.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses((status = 200, description = "Who comes", body = Vec<AttendanceOut>))
)]
#[get("/swaps/rounds/{round_id}/attendance")]
pub async fn who(_auth: Auth, app: web::Data<App>, path: web::Path<RoundId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let attendances = app
        .db
        .read(move |conn| {
            found(conn, id)?;
            Ok::<_, Problem>(rounds::attendances(conn, id)?)
        })
        .await?;
    let told: Vec<AttendanceOut> = attendances.into_iter().map(AttendanceOut::of).collect();
    Reply::ok(&told)
}

/// Say that you come
///
/// To a round held at a meeting, while it is open: your offers and wants take part. Say again to change the
/// table.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    request_body = AttendanceIn,
    responses(
        (status = 204, description = "Noted"),
        (status = 409, description = "It is not held at a meeting, or not open any more", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[put("/swaps/rounds/{round_id}/attendance/me")]
pub async fn come(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<RoundId>,
    body: Valid<AttendanceIn>,
) -> Result<Reply, Problem> {
    let (id, now, table) = (path.into_inner(), app.clock.now(), body.value.table);
    app.db
        .write(move |conn| {
            let round = open_meeting(conn, id)?;
            let attendance = Attendance {
                round_id: id,
                member_id: auth.member,
                table_label: table.clone(),
                created_at: now.naive_utc(),
            };
            rounds::attend(conn, &attendance)?;
            note(conn, &round, auth.member, SwapStep::Attending, now)
        })
        .await
}

/// Say that you do not come
///
/// While the round is open. Repeating it changes nothing.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses(
        (status = 204, description = "Noted"),
        (status = 409, description = "It is not held at a meeting, or not open any more", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[delete("/swaps/rounds/{round_id}/attendance/me")]
pub async fn stay_away(auth: Auth, app: web::Data<App>, path: web::Path<RoundId>) -> Result<Reply, Problem> {
    let (id, now) = (path.into_inner(), app.clock.now());
    app.db
        .write(move |conn| {
            let round = open_meeting(conn, id)?;
            if rounds::leave(conn, id, auth.member)? {
                return note(conn, &round, auth.member, SwapStep::NotAttending, now);
            }
            Ok(Reply::no_content())
        })
        .await
}

fn open_meeting(conn: &mut Conn, id: RoundId) -> Result<Round, Problem> {
    let round = found(conn, id)?;
    if round.mode != RoundMode::Meeting {
        return Err(Problem::new(
            Code::WrongState,
            "This round is not held at a meeting; nobody has to come.",
        ));
    }
    in_state(&round, &[RoundState::Open])?;
    Ok(round)
}

fn note(
    conn: &mut Conn,
    round: &Round,
    member: MemberId,
    step: SwapStep,
    now: DateTime<Utc>,
) -> Result<Reply, Problem> {
    Mark::in_round(round.id, Some(member), now).write(conn, step, None)?;
    Ok(Reply::no_content())
}
