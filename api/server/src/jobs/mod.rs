//! Work done aside from any request: fetched weather, fits, backtests.
//!
//! ```text
//!            taken up              finished
//!  waiting ------------> running ------------> done
//!                        |  ^  \   went wrong
//!         lease ran out  |  |   \------------> failed
//!      (tried < 3 times) \--/
//! ```
//!
//! A job is taken up by a lease of a minute, in one transaction of [`storksbill_db::Db::write`]; while it is
//! worked on the lease is renewed. A server that is killed leaves its lease to run out, and the next server
//! takes the job up again, three times at most. What a server that lost its lease still reports is not taken:
//! every report names the attempt it belongs to. So a job is finished once, however many servers share the
//! records; work that writes must still bear being begun again.

mod dto;
mod look;
mod queue;
mod timetable;
mod work;
pub mod worker;

use utoipa_actix_web::service_config::ServiceConfig;

pub use dto::JobOut;
pub use queue::{Progress, enqueue};
pub use timetable::{enqueue_due_weather, enqueue_if_none_since};
pub use work::{Work, Working, blocking};
pub use worker::{run_waiting, run_waiting_with};

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config.service(look::list).service(look::one);
}
