//! Secrets that are shown once: refresh tokens and invitations. The database keeps their SHA-256 alone.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use sha2::{Digest, Sha256};

use crate::http::problem::Problem;

/// 256 random bits as text for a URL or a header.
pub fn fresh() -> Result<String, Problem> {
    let mut bytes = [0_u8; 32];
    getrandom::fill(&mut bytes)
        .map_err(|_no_entropy| Problem::busy("No random numbers just now; try again."))?;
    Ok(URL_SAFE_NO_PAD.encode(bytes))
}

/// What is kept of a secret. It is random, so a plain hash cannot be turned back.
pub fn hash(secret: &str) -> String {
    URL_SAFE_NO_PAD.encode(Sha256::digest(secret.as_bytes()))
}
