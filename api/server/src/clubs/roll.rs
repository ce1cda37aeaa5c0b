//! Who belongs to a club.

use actix_web::{delete, get, put, web};
use storksbill_db::Conn;
use storksbill_db::rows::members;
use storksbill_db::rows::places::{self, Club};
use storksbill_domain::ids::{ClubId, MemberId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{ClubRole, SocietyAct, Standing};

use super::dto::{ClubInvitationOut, RollIn, RollOut};
use super::invitations;
use crate::app::App;
use crate::http::auth::{Auth, Officer};
use crate::http::json::Valid;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::members::protection::sees;
use crate::sessions::proof;
use crate::society_log::{self, Entry};

/// List a club's members
///
/// By name, to every member of the society. Protected members stand in it for officers of the club and of the society
/// alone.
#[utoipa::path(
    tag = "clubs",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Members by name", body = List<RollOut>))
)]
#[get("/clubs/{club_id}/members")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<ClubId>,
    page: Page,
) -> Result<List<RollOut>, Problem> {
    let club = path.into_inner();
    let after = page.after.clone().map(|Place(key, id)| (key, id));
    let limit = page.probe();
    let roll = app
        .db
        .read(move |conn| {
            places::club(conn, club)?.ok_or_else(|| Problem::not_found("club"))?;
            Ok::<_, Problem>(members::club_roll(conn, club, &sees(&auth), &after, limit)?)
        })
        .await?;
    Ok(page.list(roll, |(m, _)| Place(m.name_key.clone(), m.id.to_string()), RollOut::of))
}

/// Ask a member to belong to a club
///
/// As member or as secretary; the club's secretary or an administrator does it. Who does not belong to it yet is
/// told, and belongs to it once they accept; an administrator who means themself belongs to it at once. For
/// somebody who belongs to it, it changes as what. Repeating it changes nothing. To make a secretary asks for your own
/// password in `current_password`.
#[utoipa::path(
    tag = "clubs",
    security(("session" = [])),
    request_body = RollIn,
    responses(
        (status = 202, description = "Asked; it is theirs to accept", body = ClubInvitationOut),
        (status = 204, description = "Belongs, as that")
    )
)]
#[put("/clubs/{club_id}/members/{member_id}")]
pub async fn set(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<(ClubId, MemberId)>,
    body: Valid<RollIn>,
) -> Result<Reply, Problem> {
    let (club, member) = path.into_inner();
    let RollIn { role, current_password } = body.value;
    if role == ClubRole::Secretary {
        proof::current_password(&app, &officer, current_password).await?;
    }
    let asked = officer.asked(app.clock.now().naive_utc());
    app.db
        .write(move |conn| {
            let club = own_club(conn, &officer, club)?;
            let member = members::find(conn, member)?
                .filter(|member| member.standing == Standing::Active)
                .ok_or_else(|| Problem::not_found("member"))?;
            let id = member.id;
            let reply = if id == officer.member {
                members::set_club_role(conn, club.id, id, role, asked.at)?;
                Reply::no_content()
            } else if members::change_club_role(conn, club.id, id, role)? {
                Reply::no_content()
            } else {
                invitations::ask(conn, &officer, &club, member, role, asked.at)?
            };
            let waits =
                if reply.is_accepted() { "Asked to belong to the club" } else { "Belongs to the club" };
            let entry = Entry {
                act: SocietyAct::ClubRoleSet,
                about: Some(id),
                club: Some(club.id),
                words: format!("{waits} as its {}.", role.as_str()),
            };
            society_log::note(conn, asked, entry)?;
            Ok(reply)
        })
        .await
}

/// End a member's belonging to a club
///
/// The club's secretary or an administrator does it. It also takes back that the club asked somebody.
#[utoipa::path(
    tag = "clubs",
    security(("session" = [])),
    responses((status = 204, description = "Belongs no more"))
)]
#[delete("/clubs/{club_id}/members/{member_id}")]
pub async fn end(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<(ClubId, MemberId)>,
) -> Result<Reply, Problem> {
    let (club, member) = path.into_inner();
    let asked = officer.asked(app.clock.now().naive_utc());
    app.db
        .write(move |conn| {
            own_club(conn, &officer, club)?;
            let was_asked = invitations::take_back(conn, club, member, asked.at)?;
            if members::leave_club(conn, club, member)? == 0 && !was_asked {
                return Err(Problem::not_found("member of this club"));
            }
            let words = "Belongs to the club no more, or is no longer asked to.".to_owned();
            let act = SocietyAct::ClubLeft;
            society_log::note(conn, asked, Entry { act, about: Some(member), club: Some(club), words })?;
            Ok(Reply::no_content())
        })
        .await
}

/// The club, where the actor acts for it.
pub(super) fn own_club(conn: &mut Conn, actor: &Actor, club: ClubId) -> Result<Club, Problem> {
    let club = places::club(conn, club)?.ok_or_else(|| Problem::not_found("club"))?;
    if actor.acts_for(club.id) {
        Ok(club)
    } else {
        Err(Problem::new(Code::NotAllowed, "Only this club's secretary or an administrator may do this."))
    }
}
