//! A member's own calendar at a secret address: shows of their clubs and those they entered, what is due, and trophies
//! to give back. Calendar programs cannot log in, so the address itself is the key: it is shown once, its hash alone is
//! kept, and the member can renew or revoke it.

mod feed;
pub mod ical;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config.service(feed::mine).service(feed::renew).service(feed::revoke).service(feed::secret_calendar);
}
