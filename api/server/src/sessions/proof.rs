//! Proof that the person at the keyboard is the one who logged in.

use storksbill_db::rows::members;

use super::guessing::{self, Purpose};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::Problem;

/// Asks for the current password, for what a stolen or borrowed log-in must not do; wrong ones are counted.
///
/// Gives what is kept of it, so that a change of password can see another one that came first.
///
/// # Errors
/// A finding at `/current_password` where it is missing or wrong; `too-many-attempts`.
pub(crate) async fn current_password(
    app: &App,
    auth: &Auth,
    given: Option<String>,
) -> Result<Option<String>, Problem> {
    let given = given.ok_or_else(|| {
        Problem::field(
            "/current_password",
            "required",
            "is asked for here: give the password you log in with",
        )
    })?;
    let member = auth.member;
    let known = app.db.glance(move |conn| Ok::<_, Problem>(members::find(conn, member)?)).await?;
    let known = known.ok_or_else(|| Problem::not_found("member"))?;
    let attempt =
        guessing::attempt(app, Purpose::CurrentPassword, &known.email_key, auth.from, Some(member)).await?;
    if !attempt.verify(given, known.password_hash.clone()).await? {
        return Err(Problem::field("/current_password", "wrong", "is not your password"));
    }
    let success = attempt.success();
    app.db.write(move |conn| success.keep(conn)).await?;
    Ok(known.password_hash)
}
