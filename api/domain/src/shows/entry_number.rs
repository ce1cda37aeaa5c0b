//! Entry numbers that tell neither who entered nor when: the numbers of one length in an order that only a secret
//! tells, with a check digit against slips of the pen.
//!
//! The check digit is that of ISO/IEC 7064:2003, MOD 11-2: it finds every wrong digit and every two neighbours
//! swapped. Numbers whose check character would be `X` are left out, so that a card bears digits alone. Of four
//! digits and a check digit there are some 8 180; when they are used up, longer ones follow.
//!
//! The order is a shuffle (Fisher and Yates, as given by Durstenfeld 1964) drawn from SHA-256 over the secret.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize};
use sha2::{Digest, Sha256};

/// The number of an entry: at least four digits and a check digit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(transparent)]
pub struct EntryNumber(u32);

/// The text is not an entry number, or a digit of it is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not an entry number: its check digit does not fit, so a digit is wrong or two are swapped")]
pub struct NotAnEntryNumber;

/// The check character of a string of digits by ISO/IEC 7064, MOD 11-2: 0 to 9, or 10 for `X`. `None` where there is
/// anything but digits.
pub fn check_character(digits: &str) -> Option<u32> {
    let sum = digits.chars().try_fold(0, |sum, c| Some((sum + c.to_digit(10)?) * 2 % 11))?;
    Some((12 - sum) % 11)
}

impl EntryNumber {
    /// The number as an integer.
    pub fn get(self) -> u32 {
        self.0
    }
}

impl TryFrom<u32> for EntryNumber {
    type Error = NotAnEntryNumber;

    fn try_from(number: u32) -> Result<Self, NotAnEntryNumber> {
        let (body, check) = (number / 10, number % 10);
        if body >= 1000 && check_character(&body.to_string()) == Some(check) {
            Ok(Self(number))
        } else {
            Err(NotAnEntryNumber)
        }
    }
}

impl FromStr for EntryNumber {
    type Err = NotAnEntryNumber;

    fn from_str(text: &str) -> Result<Self, NotAnEntryNumber> {
        let text = text.trim();
        if text.starts_with(['0', '+']) {
            return Err(NotAnEntryNumber);
        }
        text.parse::<u32>().map_err(|_e| NotAnEntryNumber)?.try_into()
    }
}

impl fmt::Display for EntryNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

impl<'de> Deserialize<'de> for EntryNumber {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        u32::deserialize(from)?.try_into().map_err(serde::de::Error::custom)
    }
}

impl utoipa::PartialSchema for EntryNumber {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        utoipa::openapi::schema::ObjectBuilder::new()
            .schema_type(utoipa::openapi::schema::Type::Integer)
            .description(Some("An entry number; its last digit checks the others (ISO/IEC 7064, MOD 11-2)."))
            .into()
    }
}

impl utoipa::ToSchema for EntryNumber {
    fn name() -> std::borrow::Cow<'static, str> {
        std::borrow::Cow::Borrowed("EntryNumber")
    }
}

/// The entry numbers of one show.
#[derive(Clone)]
pub struct EntryNumbers {
    shuffled: Vec<EntryNumber>,
}

/// Tells how many there are, and not their order.
impl fmt::Debug for EntryNumbers {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("EntryNumbers").field("count", &self.shuffled.len()).finish_non_exhaustive()
    }
}

impl EntryNumbers {
    /// Numbers for `most` entries at least, up to a hundred million. The secret belongs to one show, has 16 bytes or
    /// more and is told to nobody. The number of an entry depends on the secret and its place in the sequence alone,
    /// not on `most`.
    ///
    /// Cost: linear in the numbers of a length, less than a millisecond for the shortest 8 180.
    pub fn new(secret: &[u8], most: usize) -> Self {
        let mut shuffled: Vec<EntryNumber> = Vec::new();
        for digits in 4..=8 {
            let low = 10_u32.pow(digits - 1);
            let mut length: Vec<EntryNumber> = (low..low * 10).filter_map(with_check).collect();
            shuffle(&mut length, secret, digits);
            shuffled.extend(length);
            if shuffled.len() >= most {
                break;
            }
        }
        Self { shuffled }
    }

    /// The number of the entry with this place in the sequence of all entries ever made in the show, from 0; an entry
    /// that is withdrawn keeps its place.
    pub fn number(&self, sequence: usize) -> Option<EntryNumber> {
        self.shuffled.get(sequence).copied()
    }
}

fn with_check(body: u32) -> Option<EntryNumber> {
    let check = check_character(&body.to_string()).filter(|&check| check < 10)?;
    Some(EntryNumber(body * 10 + check))
}

fn shuffle(numbers: &mut [EntryNumber], secret: &[u8], digits: u32) {
    let mut drawn: Vec<u64> = Vec::new();
    let mut blocks = 0_u64;
    for last in (1..numbers.len()).rev() {
        if drawn.is_empty() {
            let digest = Sha256::new()
                .chain_update(b"entry numbers of a show")
                .chain_update(digits.to_be_bytes())
                .chain_update(blocks.to_be_bytes())
                .chain_update(secret)
                .finalize();
            let words =
                digest.chunks_exact(8).filter_map(|chunk| Some(u64::from_be_bytes(chunk.try_into().ok()?)));
            drawn.extend(words);
            blocks += 1;
        }
        // The remainder favours low numbers by less than one in 2⁴⁰.
        let draw = drawn.pop().unwrap_or_default() % (last as u64 + 1);
        numbers.swap(last, usize::try_from(draw).unwrap_or_default());
    }
}
