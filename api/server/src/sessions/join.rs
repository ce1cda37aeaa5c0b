//! Joining: by invitation, or by a request that an officer approves.

use actix_web::{HttpRequest, get, post, web};
use chrono::{NaiveDateTime, TimeDelta};
use storksbill_db::Conn;
use storksbill_db::rows::guessing::{self as attempts, JoinAttempt};
use storksbill_db::rows::members::{Invitation, Member, SeesProtected};
use storksbill_db::rows::{account_codes, members, places};
use storksbill_domain::ids::{ClubId, InvitationId, MemberId, RegionId};
use storksbill_domain::names;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{ClubRole, SocietyAct, Standing};

use super::dto::{
    InvitationIn, InvitationOut, InvitationTaken, JoinRequest, JoinRequestOut, JoinRequestTaken,
};
use super::guessing::{self, Attempt, Purpose};
use super::new_password::NewPassword;
use super::secrets;
use super::turns::Asker;
use crate::app::App;
use crate::http::auth::Officer;
use crate::http::client::{client_address, household};
use crate::http::json::Valid;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::members::dto::MemberOut;
use crate::members::standing;
use crate::society_log::{self, Asked, Entry};

/// Requests to join that may wait for a decision: from one address, and in all (common practice).
const MOST_OPEN_HERE: i64 = 5;
const MOST_OPEN: i64 = 200;

/// Ask to join
///
/// Makes an account that cannot log in until an officer approves it. The answer does not tell whether the
/// address is known already. Five requests from one place may wait at a time, and 200 in all; what nobody decided
/// for 60 days is deleted.
#[utoipa::path(
    tag = "sessions",
    request_body = JoinRequest,
    responses(
        (status = 202, description = "Taken; an officer will decide", body = JoinRequestTaken),
        (status = 429, description = "Too many requests wait for a decision", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/members/requests")]
pub async fn request(
    app: web::Data<App>,
    sent: HttpRequest,
    body: Valid<JoinRequest>,
) -> Result<(web::Json<JoinRequestTaken>, actix_web::http::StatusCode), Problem> {
    let JoinRequest { email, name, password, club_id, note } = body.value;
    let password = NewPassword::of("/password", password, &[&email, &name, &app.society.name])?;
    let address = client_address(&sent);
    let here = app.subjects.of_address(address);
    let asked_from = here.clone();
    let day_ago = (app.clock.now() - TimeDelta::days(1)).naive_utc();
    // Before a turn at hashing is spent on it.
    app.db.glance(move |conn| room_for_another(conn, &asked_from, day_ago)).await?;
    let hash = app.passwords.hash(Asker::Stranger(household(address)), password).await?;
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            room_for_another(conn, &here, day_ago)?;
            let region_id = region_of_club(conn, club_id, "/club_id")?;
            let member = Member {
                requested_club_id: club_id,
                request_note: note.clone(),
                ..new_member(&email, &name, Some(hash.clone()), Standing::Requested, region_id, now)
            };
            // A known address costs the same writes as a fresh one, so that the time taken does not tell which it is:
            // the account there is written back as it stands.
            let member_id = match members::by_email(conn, &member.email_key)? {
                Some(known) => members::update(conn, &known).map(|()| None)?,
                None => members::insert(conn, &member).map(|()| Some(member.id))?,
            };
            let id = MemberId::fresh().to_string();
            let attempt = JoinAttempt { id, address: here.clone(), member_id, asked_at: now };
            Ok::<_, Problem>(attempts::note_join(conn, &attempt)?)
        })
        .await?;
    let message = "An officer of the society will look at it. You can log in once it is approved.".to_owned();
    Ok((web::Json(JoinRequestTaken { message }), actix_web::http::StatusCode::ACCEPTED))
}

/// That requests do not pile up: nobody could read them.
fn room_for_another(conn: &mut Conn, address: &str, day_ago: NaiveDateTime) -> Result<(), Problem> {
    let (here, in_all) = attempts::open_joins(conn, address, day_ago)?;
    if here < MOST_OPEN_HERE && in_all < MOST_OPEN {
        return Ok(());
    }
    Err(Problem::wait_for(
        Code::TooManyAttempts,
        24 * 3600,
        "As many requests to join as are taken wait for a decision. Ask an officer of the society to look at them, or \
         try again tomorrow.",
    ))
}

/// List the requests to join
///
/// A club secretary sees those for their club; the registrar and administrators see all.
#[utoipa::path(
    tag = "sessions",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "People who ask to join, by name", body = List<JoinRequestOut>))
)]
#[get("/members/requests")]
pub async fn requests(
    officer: Officer,
    app: web::Data<App>,
    page: Page,
) -> Result<List<JoinRequestOut>, Problem> {
    let after = page.after.clone().map(|Place(key, id)| (key, id));
    let limit = page.probe();
    let asking = app
        .db
        .read(move |conn| {
            Ok::<_, Problem>(members::page(
                conn,
                Standing::Requested,
                &SeesProtected::All,
                None,
                &after,
                limit,
            )?)
        })
        .await?;
    let mut list = page.list(
        asking,
        |m| Place(m.name_key.clone(), m.id.to_string()),
        |member| may_decide(&officer, member.requested_club_id).then(|| JoinRequestOut::of(member)),
    );
    let items = std::mem::take(&mut list.items).into_iter().flatten().collect();
    Ok(list.with_items(items))
}

fn may_decide(actor: &Actor, club: Option<ClubId>) -> bool {
    actor.is_registrar() || club.is_some_and(|club| actor.acts_for(club))
}

/// Approve a request to join
///
/// The member can log in from now on and belongs to the club asked for. Where the account is of somebody who had left,
/// only an administrator opens it again.
#[utoipa::path(
    tag = "sessions",
    security(("session" = [])),
    responses(
        (status = 200, description = "Approved", body = MemberOut),
        (status = 409, description = "The request was decided already", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/members/requests/{member_id}/approval")]
pub async fn approve(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<MemberId>,
) -> Result<Reply, Problem> {
    let asked = officer.asked(app.clock.now().naive_utc());
    let id = path.into_inner();
    app.db
        .write(move |conn| {
            let member = open_request(conn, &officer, id)?;
            if member.left_at.is_some() && !officer.is_administrator() {
                return Err(Problem::new(
                    Code::NotAllowed,
                    "This person was a member and left. Only an administrator lets them in again.",
                ));
            }
            let club = member.requested_club_id;
            let words = "The request to join was approved.";
            let act = SocietyAct::RequestApproved;
            let member = standing::set(conn, asked, member, Standing::Active, act, words)?;
            if let Some(club) = club {
                members::set_club_role(conn, club, member.id, ClubRole::Member, asked.at)?;
            }
            let version = member.version;
            Reply::versioned(version, &MemberOut::load(conn, member)?)
        })
        .await
}

/// Refuse a request to join
///
/// Nothing is kept of it; the person may ask again, or ask an officer in person. Where the account is of somebody who
/// had left, it stays shut.
#[utoipa::path(
    tag = "sessions",
    security(("session" = [])),
    responses(
        (status = 204, description = "Refused"),
        (status = 409, description = "The request was decided already", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/members/requests/{member_id}/refusal")]
pub async fn refuse(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<MemberId>,
) -> Result<Reply, Problem> {
    let asked = officer.asked(app.clock.now().naive_utc());
    let id = path.into_inner();
    app.db
        .write(move |conn| {
            let member = open_request(conn, &officer, id)?;
            let (act, words) = (SocietyAct::RequestRefused, "The request to join was refused.");
            if member.left_at.is_some() {
                standing::set(conn, asked, member, Standing::Left, act, words)?;
            } else {
                members::delete_request(conn, id)?;
                let club = member.requested_club_id;
                let entry = Entry { act, about: Some(id), club, words: words.to_owned() };
                society_log::note(conn, asked, entry)?;
            }
            Ok(Reply::no_content())
        })
        .await
}

fn open_request(conn: &mut Conn, officer: &Actor, id: MemberId) -> Result<Member, Problem> {
    let member = members::find(conn, id)?
        .filter(|member| may_decide(officer, member.requested_club_id))
        .ok_or_else(|| Problem::not_found("request to join"))?;
    if member.standing != Standing::Requested {
        return Err(Problem::new(Code::WrongState, "This request was decided already."));
    }
    Ok(member)
}

/// Invite somebody
///
/// Gives the secret of the invitation once; hand it on yourself. A repeat under the same `Idempotency-Key`
/// gives the invitation without it. A club secretary invites to their own club.
#[utoipa::path(
    tag = "sessions",
    security(("session" = [])),
    request_body = InvitationIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Invited", body = InvitationOut))
)]
#[post("/invitations")]
pub async fn invite(
    officer: Officer,
    app: web::Data<App>,
    body: Valid<InvitationIn>,
) -> Result<Reply, Problem> {
    let InvitationIn { email, club_id, days } = body.value;
    let token = secrets::fresh()?;
    let now = app.clock.now();
    let ticket = body.ticket;
    app.db
        .write(move |conn| {
            let mut made = None;
            let reply = ticket.once(conn, officer.member, now, |conn| {
                if !may_decide(&officer, club_id) {
                    return Err(Problem::new(
                        Code::NotAllowed,
                        "A club secretary invites to their own club; give its `club_id`.",
                    ));
                }
                region_of_club(conn, club_id, "/club_id")?;
                let email_key = names::email_key(&email);
                if members::by_email(conn, &email_key)?.is_some_and(|m| m.standing != Standing::Left) {
                    return Err(Problem::new(
                        Code::Taken,
                        "Somebody with this address is a member or has asked to join.",
                    )
                    .at("/email", "taken", "belongs to an account already"));
                }
                let invitation = Invitation {
                    id: InvitationId::fresh(),
                    token_hash: secrets::hash(&token),
                    email: email.trim().to_owned(),
                    email_key,
                    club_id,
                    invited_by: Some(officer.member),
                    created_at: now.naive_utc(),
                    expires_at: (now + TimeDelta::days(days.unwrap_or(14).into())).naive_utc(),
                    used_at: None,
                };
                members::insert_invitation(conn, &invitation)?;
                let words = "An invitation to join was made out.".to_owned();
                let entry = Entry { act: SocietyAct::Invited, about: None, club: club_id, words };
                society_log::note(conn, officer.asked(now.naive_utc()), entry)?;
                let reply = invited(&invitation, None);
                made = Some(invitation);
                reply
            })?;
            // The answer that is kept for a repeat is without the secret.
            made.map_or(Ok(reply), |invitation| invited(&invitation, Some(token.clone())))
        })
        .await
}

fn invited(invitation: &Invitation, token: Option<String>) -> Result<Reply, Problem> {
    let location = format!("/api/v1/invitations/{}", invitation.id);
    Reply::created(location, 1, &InvitationOut::of(invitation, token))
}

/// List open invitations
///
/// Those not taken up and still good, newest first, at most 500. Their secrets are not kept.
#[utoipa::path(
    tag = "sessions",
    security(("session" = [])),
    responses((status = 200, description = "Open invitations", body = Vec<InvitationOut>))
)]
#[get("/invitations")]
pub async fn invitations(officer: Officer, app: web::Data<App>) -> Result<Reply, Problem> {
    let now = app.clock.now().naive_utc();
    let open = app.db.read(move |conn| Ok::<_, Problem>(members::open_invitations(conn, now)?)).await?;
    let seen = open.iter().filter(|invitation| may_decide(&officer, invitation.club_id));
    Reply::ok(&seen.map(|invitation| InvitationOut::of(invitation, None)).collect::<Vec<_>>())
}

/// Take up an invitation
///
/// Makes the account, which may log in at once. An invitation never opens an account that is there already: where the
/// address has one, whoever holds it proves that with `old_password`, the password of that account, or with `code`,
/// a one-time code from an administrator. With a code, the account of somebody who left is open again; with the
/// old password it waits for an administrator, and the answer is 202. It comes back without roles and
/// clubs but the one of the invitation.
#[utoipa::path(
    tag = "sessions",
    request_body = InvitationTaken,
    responses(
        (status = 201, description = "Welcome", body = MemberOut),
        (status = 202, description = "The account is yours; an administrator has to open it again", body = JoinRequestTaken),
        (status = 409, description = "The address has an account: prove that it is yours", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/invitations/acceptance")]
pub async fn accept(
    app: web::Data<App>,
    sent: HttpRequest,
    body: Valid<InvitationTaken>,
) -> Result<Reply, Problem> {
    let InvitationTaken { token, name, password, old_password, code } = body.value;
    let address = client_address(&sent);
    let asked = Asked { by: None, from: Some(address), at: app.clock.now().naive_utc() };
    let token_hash = secrets::hash(&token);
    let looked = token_hash.clone();
    // Only for an open invitation is a turn at hashing spent.
    let (email, known) = app
        .db
        .glance(move |conn| {
            let invitation = open_invitation(conn, &looked, asked.at)?;
            let known = members::by_email(conn, &invitation.email_key)?;
            Ok::<_, Problem>((invitation.email, known))
        })
        .await?;
    let password = NewPassword::of("/password", password, &[&email, &name, &app.society.name])?;
    let seen = known.and_then(|member| member.password_hash);
    let shown = old_password.is_some() || code.is_some();
    // Whoever made out the invitation holds its secret too, and may guess like anybody.
    let attempt = if shown {
        let key = names::email_key(&email);
        Some(guessing::attempt(&app, Purpose::Invitation, &key, address, None).await?)
    } else {
        None
    };
    let proof = match (old_password, &attempt) {
        (Some(old), Some(attempt)) => {
            if !attempt.verify(old, seen.clone()).await? {
                return Err(Problem::field("/old_password", "wrong", "is not the password of that account"));
            }
            Proof::OldPassword(seen)
        }
        _ => code.map_or(Proof::None, |code| Proof::Code(secrets::hash_of_spoken(&code))),
    };
    let success = attempt.as_ref().map(Attempt::success);
    let asker = attempt.as_ref().map_or(Asker::Stranger(household(address)), Attempt::asker);
    let hash = app.passwords.hash(asker, password).await?;
    app.db
        .write(move |conn| {
            let mut invitation = open_invitation(conn, &token_hash, asked.at)?;
            invitation.used_at = Some(asked.at);
            members::update_invitation(conn, &invitation)?;
            if let Some(success) = &success {
                success.keep(conn)?;
            }
            let club = invitation.club_id;
            let region_id = region_of_club(conn, club, "/token")?;
            let fresh = new_member(
                &invitation.email,
                &name,
                Some(hash.clone()),
                Standing::Active,
                region_id,
                asked.at,
            );
            let act = SocietyAct::InvitationTaken;
            let member = match members::by_email(conn, &fresh.email_key)? {
                None => {
                    members::insert(conn, &fresh)?;
                    let words = "An invitation was taken up.".to_owned();
                    society_log::note(conn, asked, Entry { act, about: Some(fresh.id), club, words })?;
                    fresh
                }
                Some(known) => match reopened(conn, asked, known, fresh, &proof, club)? {
                    Reopened::Open(member) => *member,
                    Reopened::Waits => {
                        let message = "The account is yours. An administrator has to open it again; \
                                       you can log in once that is done."
                            .to_owned();
                        return Reply::accepted("/api/v1/sessions".to_owned(), &JoinRequestTaken { message });
                    }
                },
            };
            if let Some(club) = club {
                members::set_club_role(conn, club, member.id, ClubRole::Member, asked.at)?;
            }
            let (location, version) = (format!("/api/v1/members/{}", member.id), member.version);
            Reply::created(location, version, &MemberOut::load(conn, member)?)
        })
        .await
}

/// An invitation that is open, made out by somebody who still may.
fn open_invitation(conn: &mut Conn, token_hash: &str, now: NaiveDateTime) -> Result<Invitation, Problem> {
    let none = || Problem::field("/token", "not-found", "is not an open invitation; ask for a new one");
    let invitation = members::invitation_by_hash(conn, token_hash)?
        .filter(|invitation| invitation.used_at.is_none() && invitation.expires_at > now)
        .ok_or_else(none)?;
    let Some(by) = invitation.invited_by else { return Ok(invitation) };
    // Nobody gives by a paper made out earlier what they may no longer give.
    let still = members::find(conn, by)?.is_some_and(|by| by.standing == Standing::Active)
        && may_decide(&members::actor(conn, by)?, invitation.club_id);
    if still { Ok(invitation) } else { Err(none()) }
}

/// What an invited person shows for an account that is there already.
enum Proof {
    None,
    /// The old password was right for this hash.
    OldPassword(Option<String>),
    /// The hash of a one-time code, not looked at yet.
    Code(String),
}

enum Reopened {
    Open(Box<Member>),
    Waits,
}

/// The account of an invited address, opened for whoever proves that it is theirs and no further than the proof
/// goes: an old password opens what an officer had still to decide, a code of an administrator what was left.
fn reopened(
    conn: &mut Conn,
    asked: Asked,
    known: Member,
    fresh: Member,
    proof: &Proof,
    club: Option<ClubId>,
) -> Result<Reopened, Problem> {
    if matches!(known.standing, Standing::Active | Standing::Suspended) {
        return Err(Problem::new(
            Code::Taken,
            "Somebody with this address is a member already; log in instead, or ask an officer for help.",
        ));
    }
    let (had_left, old_hash) = (known.left_at.is_some(), known.password_hash.clone());
    let opened = Member {
        name: fresh.name,
        name_key: fresh.name_key,
        password_hash: fresh.password_hash,
        region_id: known.region_id.or(fresh.region_id),
        ..known
    };
    let act = SocietyAct::InvitationTaken;
    match proof {
        Proof::OldPassword(hash) if *hash == old_hash && !had_left => {
            let words = "An invitation was taken up by somebody who had asked to join.";
            let member = standing::set(conn, asked, opened, Standing::Active, act, words)?;
            Ok(Reopened::Open(Box::new(member)))
        }
        Proof::OldPassword(hash) if *hash == old_hash => {
            let waiting = Member { requested_club_id: club, request_note: None, ..opened };
            let words = "Somebody who had left took up an invitation with the old password, and waits for an administrator.";
            standing::set(conn, asked, waiting, Standing::Requested, act, words)?;
            Ok(Reopened::Waits)
        }
        Proof::Code(hash) if account_codes::redeem(conn, opened.id, hash, asked.at)? => {
            let words = "An invitation was taken up with a one-time code; the account is open again.";
            let member = standing::set(conn, asked, opened, Standing::Active, act, words)?;
            Ok(Reopened::Open(Box::new(member)))
        }
        Proof::Code(_) => {
            Err(Problem::field("/code", "wrong", "is not good, or not any more; ask for a new one"))
        }
        Proof::OldPassword(_) | Proof::None => Err(Problem::new(
            Code::ProofNeeded,
            "This address has an account. Send its password as `old_password`, or ask an administrator for a \
             one-time code and send that as `code`.",
        )),
    }
}

/// A member's first record.
pub(crate) fn new_member(
    email: &str,
    name: &str,
    password_hash: Option<String>,
    standing: Standing,
    region_id: Option<RegionId>,
    now: NaiveDateTime,
) -> Member {
    let name = names::tidy(name);
    Member {
        id: MemberId::fresh(),
        email: email.trim().to_owned(),
        email_key: names::email_key(email),
        name_key: names::search_key(&name),
        shown_name: name.clone(),
        name,
        password_hash,
        standing,
        region_id,
        requested_club_id: None,
        request_note: None,
        version: 1,
        created_at: now,
        left_at: None,
        is_protected: false,
    }
}

/// New members grow where their club meets until they say otherwise.
fn region_of_club(conn: &mut Conn, club: Option<ClubId>, pointer: &str) -> Result<Option<RegionId>, Problem> {
    let Some(club) = club else { return Ok(None) };
    let club = places::club(conn, club)?
        .ok_or_else(|| Problem::field(pointer, "not-found", "is not a club of this society"))?;
    Ok(Some(club.region_id))
}
