//! Proof that the person at the keyboard is the one who logged in.

use storksbill_db::rows::members;

use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::Problem;

/// Asks for the current password, for what a stolen or borrowed log-in must not do.
///
/// Gives what is kept of it, so that a change of password can see another one that came first.
///
/// # Errors
/// A finding at `/current_password` where it is missing or wrong.
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
    let kept = app.db.glance(move |conn| Ok::<_, Problem>(members::find(conn, member)?)).await?;
    let kept = kept.and_then(|member| member.password_hash);
    if app.passwords.verify(given, kept.clone()).await? {
        Ok(kept)
    } else {
        Err(Problem::field("/current_password", "wrong", "is not your password"))
    }
}
