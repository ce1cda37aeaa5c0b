//! Secrets that are shown once: refresh tokens, invitations and one-time codes. The database keeps their SHA-256 alone.

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

/// Letters and figures that are not taken for one another when read aloud or copied by hand.
const SPOKEN: &[u8; 32] = b"23456789abcdefghijkmnpqrstuvwxyz";

/// 80 random bits as four groups of four letters and figures, to be read out over the telephone.
pub fn fresh_spoken() -> Result<String, Problem> {
    let mut bytes = [0_u8; 16];
    getrandom::fill(&mut bytes)
        .map_err(|_no_entropy| Problem::busy("No random numbers just now; try again."))?;
    let mut code = String::with_capacity(19);
    for (at, byte) in bytes.iter().enumerate() {
        if at > 0 && at % 4 == 0 {
            code.push('-');
        }
        let letter = SPOKEN.get(usize::from(byte % 32)).copied().unwrap_or(b'2');
        code.push(char::from(letter));
    }
    Ok(code)
}

/// What is kept of a code that a person types: dashes, spaces and capitals do not matter.
pub fn hash_of_spoken(code: &str) -> String {
    let typed: String = code.chars().filter(|c| c.is_alphanumeric()).collect();
    hash(&typed.to_lowercase())
}
