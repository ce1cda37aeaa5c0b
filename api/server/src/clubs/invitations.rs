//! A club asks a member of the society to belong to it, and the member says yes or no.

use actix_web::{get, post, web};
use chrono::{NaiveDateTime, TimeDelta};
use storksbill_db::Conn;
use storksbill_db::rows::club_invitations::{self as rows, ClubInvitation};
use storksbill_db::rows::members::{self, Member};
use storksbill_db::rows::notices::{self, Notice};
use storksbill_db::rows::places::{self, Club};
use storksbill_domain::ids::{ClubId, MemberId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{
    ClubInvitationState, ClubRole, NoticeKind, SocietyAct, Standing, SubjectKind,
};

use super::dto::ClubInvitationOut;
use super::roll::own_club;
use crate::app::App;
use crate::http::auth::{Auth, Officer};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::society_log::{self, Entry};

/// Days that an invitation is open; whoever asks again before is not heard again (chosen).
const OPEN_DAYS: i64 = 90;

/// Asks a member to belong to a club. One who was asked already is not told a second time while that is open,
/// whatever they said to it.
///
/// # Errors
/// What the database says.
pub(super) fn ask(
    conn: &mut Conn,
    actor: &Actor,
    club: &Club,
    member: Member,
    role: ClubRole,
    now: NaiveDateTime,
) -> Result<Reply, Problem> {
    let known = rows::find(conn, club.id, member.id)?
        .filter(|known| is_open(known, now) && known.state != ClubInvitationState::Accepted);
    let row = if let Some(mut known) = known {
        known.taken_back = false;
        if known.state == ClubInvitationState::Asked {
            known.role = role;
        }
        rows::put(conn, &known)?;
        // What was declined is answered as if it were open, as what is asked now.
        ClubInvitation { role, ..known }
    } else {
        let fresh = ClubInvitation {
            club_id: club.id,
            member_id: member.id,
            role,
            asked_by: actor.member,
            asked_at: now,
            state: ClubInvitationState::Asked,
            answered_at: None,
            taken_back: false,
        };
        rows::put(conn, &fresh)?;
        notices::insert(conn, &notice(club, &fresh, now))?;
        fresh
    };
    let location = format!("/api/v1/clubs/{}/invitations", club.id);
    Reply::accepted(location, &ClubInvitationOut::to_club(&row, club.name.clone(), member.name))
}

fn notice(club: &Club, row: &ClubInvitation, now: NaiveDateTime) -> Notice {
    let words = format!(
        "{} asks you to belong to it as its {}. Accept or refuse it among your club invitations. If you accept, its \
         members see what you keep for your clubs, unless you say that you do not share with it.",
        club.name, row.role
    );
    let subject = Some((SubjectKind::Club, club.id.as_str()));
    Notice::fresh(row.member_id, NoticeKind::ClubInvitation, now.date(), words, subject, now)
}

/// One that was taken back before it was answered is not there any more.
fn is_told(row: &ClubInvitation) -> bool {
    !row.taken_back || row.state != ClubInvitationState::Asked
}

fn is_open(row: &ClubInvitation, now: NaiveDateTime) -> bool {
    now - row.asked_at < TimeDelta::days(OPEN_DAYS)
}

/// Takes back that a club asked somebody; whether it had, as far as the club knows.
pub(super) fn take_back(
    conn: &mut Conn,
    club: ClubId,
    member: MemberId,
    now: NaiveDateTime,
) -> Result<bool, Problem> {
    let open = rows::find(conn, club, member)?
        .filter(|row| is_open(row, now) && !row.taken_back && row.state != ClubInvitationState::Accepted);
    let Some(mut row) = open else { return Ok(false) };
    row.taken_back = true;
    rows::put(conn, &row)?;
    Ok(true)
}

/// List whom a club asks to belong to it
///
/// By name, to the club's secretary and administrators: those who were asked in the last 90 days and have not
/// accepted. Who said no is not told apart from who has not answered.
#[utoipa::path(
    tag = "clubs",
    security(("session" = [])),
    responses((status = 200, description = "Who is asked, by name", body = Vec<ClubInvitationOut>))
)]
#[get("/clubs/{club_id}/invitations")]
pub async fn of_club(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ClubId>,
) -> Result<Reply, Problem> {
    let club = path.into_inner();
    let since = (app.clock.now() - TimeDelta::days(OPEN_DAYS)).naive_utc();
    app.db
        .read(move |conn| {
            let club = own_club(conn, &officer, club)?;
            let open = rows::open_of_club(conn, club.id, since)?.into_iter();
            let told = open.map(|(row, name)| ClubInvitationOut::to_club(&row, club.name.clone(), name));
            Reply::ok(&told.collect::<Vec<_>>())
        })
        .await
}

/// List the clubs that ask you
///
/// Every club that asked you to belong to it, by name, and what you said.
#[utoipa::path(
    tag = "clubs",
    security(("session" = [])),
    responses((status = 200, description = "Your club invitations, by club", body = Vec<ClubInvitationOut>))
)]
#[get("/members/me/club-invitations")]
pub async fn own(auth: Auth, app: web::Data<App>) -> Result<Reply, Problem> {
    app.db
        .read(move |conn| {
            let name = members::find(conn, auth.member)?.map(|member| member.name).unwrap_or_default();
            let own = rows::own(conn, auth.member)?.into_iter();
            let told = own
                .filter(|(row, _)| is_told(row))
                .map(|(row, club)| ClubInvitationOut::to_member(&row, club, name.clone()));
            Reply::ok(&told.collect::<Vec<_>>())
        })
        .await
}

/// Accept a club's invitation
///
/// You belong to the club from now on, and share with it what you keep for your clubs unless you once said that
/// you do not. Repeating it changes nothing.
#[utoipa::path(
    tag = "clubs",
    security(("session" = [])),
    responses(
        (status = 200, description = "You belong to it", body = ClubInvitationOut),
        (status = 409, description = "It is answered, or open no more", body = crate::http::problem::ProblemOut, content_type = "application/problem+json")
    )
)]
#[post("/members/me/club-invitations/{club_id}/acceptance")]
pub async fn accept(auth: Auth, app: web::Data<App>, path: web::Path<ClubId>) -> Result<Reply, Problem> {
    answered(&app, auth, path.into_inner(), ClubInvitationState::Accepted).await
}

/// Refuse a club's invitation
///
/// Nobody is told, and the club cannot ask again before 90 days are over since it asked. Repeating it changes
/// nothing.
#[utoipa::path(
    tag = "clubs",
    security(("session" = [])),
    responses(
        (status = 200, description = "Refused", body = ClubInvitationOut),
        (status = 409, description = "It is answered, or open no more", body = crate::http::problem::ProblemOut, content_type = "application/problem+json")
    )
)]
#[post("/members/me/club-invitations/{club_id}/refusal")]
pub async fn refuse(auth: Auth, app: web::Data<App>, path: web::Path<ClubId>) -> Result<Reply, Problem> {
    answered(&app, auth, path.into_inner(), ClubInvitationState::Declined).await
}

async fn answered(
    app: &App,
    auth: Auth,
    club: ClubId,
    answer: ClubInvitationState,
) -> Result<Reply, Problem> {
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            let invitation = rows::find(conn, club, auth.member)?;
            let mut row =
                invitation.filter(is_told).ok_or_else(|| Problem::not_found("club invitation of yours"))?;
            if row.state != answer {
                may_answer(&row, now)?;
                row.state = answer;
                row.answered_at = Some(now);
                rows::put(conn, &row)?;
                if answer == ClubInvitationState::Accepted {
                    still_asked(conn, &row)?;
                    members::set_club_role(conn, club, auth.member, row.role, now)?;
                    let entry = Entry {
                        act: SocietyAct::ClubRoleSet,
                        about: Some(auth.member),
                        club: Some(club),
                        words: format!("Accepted to belong to the club as its {}.", row.role.as_str()),
                    };
                    society_log::note(conn, auth.asked(now), entry)?;
                }
            }
            let club = places::club(conn, club)?.ok_or_else(|| Problem::not_found("club"))?;
            let name = members::find(conn, auth.member)?.map(|member| member.name).unwrap_or_default();
            Reply::ok(&ClubInvitationOut::to_member(&row, club.name, name))
        })
        .await
}

/// Nobody gives by an older invitation what they may no longer give.
fn still_asked(conn: &mut Conn, row: &ClubInvitation) -> Result<(), Problem> {
    let active = members::find(conn, row.asked_by)?.is_some_and(|by| by.standing == Standing::Active);
    if active && members::actor(conn, row.asked_by)?.acts_for(row.club_id) {
        Ok(())
    } else {
        Err(Problem::new(
            Code::WrongState,
            "Who asked you no longer acts for the club; its secretary may ask you again.",
        ))
    }
}

fn may_answer(row: &ClubInvitation, now: NaiveDateTime) -> Result<(), Problem> {
    if row.state != ClubInvitationState::Asked {
        return Err(Problem::new(Code::WrongState, format!("You have {} it already.", row.state)));
    }
    if !is_open(row, now) {
        return Err(Problem::new(
            Code::WrongState,
            format!("It was open for {OPEN_DAYS} days; the club may ask you again."),
        ));
    }
    Ok(())
}
