//! Names close to each other.

use std::collections::BTreeMap;

use super::words;
use crate::names::search_key;

/// What names are compared by: without accents, case, punctuation, spaces and a leading article, with `&` spelled
/// out, titles in one form (`Doctor` is `Dr`; `Mr` and `Mrs` stay apart) and Roman numerals after the first word
/// as figures.
pub fn key(name: &str) -> String {
    let spelled = search_key(&name.replace('&', " and "));
    let mut tokens: Vec<&str> = spelled.split(' ').collect();
    if tokens.len() > 1 && tokens.first().is_some_and(|first| words::ARTICLES.contains(first)) {
        tokens.remove(0);
    }
    let count = tokens.len();
    let mut key = String::with_capacity(spelled.len());
    for (at, token) in tokens.into_iter().enumerate() {
        let title = words::TITLES.iter().find(|(form, _)| *form == token).map(|&(_, title)| title);
        let numeral = || roman(token).filter(|_| at > 0 && (token.len() > 1 || at + 1 == count));
        match title {
            Some(title) => key.push_str(title),
            None => match numeral() {
                Some(number) => key.push_str(&number.to_string()),
                None => key.push_str(token),
            },
        }
    }
    key
}

/// A Roman numeral up to 39, as it is usually written.
fn roman(token: &str) -> Option<u32> {
    let value = token.chars().rev().try_fold((0, 0), |(sum, last), c| {
        let digit = match c {
            'i' => 1,
            'v' => 5,
            'x' => 10,
            _ => return None,
        };
        if digit < last { Some((sum - digit, last)) } else { Some((sum + digit, digit)) }
    })?;
    let sum: i32 = value.0;
    u32::try_from(sum).ok().filter(|&sum| sum > 0 && written(sum) == token)
}

fn written(number: u32) -> String {
    let ones = ["", "i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix"];
    let tens = "x".repeat((number / 10) as usize);
    tens + ones.get((number % 10) as usize).copied().unwrap_or_default()
}

/// Edits between two texts, counting the exchange of two neighbours as one; no part is edited twice.
pub fn optimal_string_alignment(a: &str, b: &str) -> usize {
    strsim::osa_distance(a, b)
}

/// Jaro's likeness with Winkler's bonus for a common beginning, 0 to 1.
pub fn jaro_winkler(a: &str, b: &str) -> f64 {
    strsim::jaro_winkler(a, b)
}

/// The code of R. C. Russell (U.S. patent 1,261,167, 1918), not cut off after three figures: the first letter and
/// the classes of the consonants that follow, each run once.
fn sound(key: &str) -> String {
    let class = |c: char| match c {
        'b' | 'f' | 'p' | 'v' => '1',
        'c' | 'g' | 'j' | 'k' | 'q' | 's' | 'x' | 'z' => '2',
        'd' | 't' => '3',
        'l' => '4',
        'm' | 'n' => '5',
        'r' => '6',
        'h' | 'w' => '-',
        'a' | 'e' | 'i' | 'o' | 'u' | 'y' => ' ',
        other => other,
    };
    let mut letters = key.chars();
    let Some(first) = letters.next() else { return String::new() };
    let mut code = String::from(first);
    let mut last = class(first);
    for c in letters {
        let own = class(c);
        if own != '-' {
            if own != ' ' && own != last {
                code.push(own);
            }
            last = own;
        }
    }
    code
}

/// How a name is like another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Likeness {
    /// The keys are the same: one name twice.
    Same,
    /// So many edits between the keys.
    Edits(usize),
    /// Jaro and Winkler's likeness of the keys.
    Alike(f64),
    /// They sound alike.
    Sound,
}

/// A name close to the one asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Near {
    /// The caller's number.
    pub id: u64,
    pub name: String,
    pub likeness: Likeness,
}

#[derive(Debug, Clone)]
struct Entry {
    name: String,
    key: String,
    letters: usize,
    /// How many letters fall into each of 32 classes.
    counts: [u8; CLASSES],
    sound: String,
}

const CLASSES: usize = 32;

impl Entry {
    fn new(name: &str) -> Self {
        let key = key(name);
        let mut counts = [0u8; CLASSES];
        for c in key.chars() {
            if let Some(count) = counts.get_mut(c as usize % CLASSES) {
                *count = count.saturating_add(1);
            }
        }
        Self { name: name.to_owned(), letters: key.chars().count(), counts, sound: sound(&key), key }
    }

    /// At least as many letters as two keys have in common, whatever their order.
    fn shared(&self, other: &Self) -> usize {
        self.counts.iter().zip(&other.counts).map(|(a, b)| usize::from(*a.min(b))).sum()
    }
}

/// Names taken in one denomination class, usually a genus.
#[derive(Debug, Clone, Default)]
pub struct NameIndex {
    entries: BTreeMap<u64, Entry>,
    /// By letters in the key: who has so many.
    by_length: BTreeMap<usize, Vec<u64>>,
}

/// Keys shorter than this are compared for sameness alone.
const SHORTEST: usize = 5;
/// From this many letters on two edits are close.
const LONG: usize = 10;
/// Jaro and Winkler's likeness from which names are close.
const ALIKE: f64 = 0.93;

impl NameIndex {
    /// Takes a name in; a number already taken gets the new name.
    pub fn insert(&mut self, id: u64, name: &str) {
        self.remove(id);
        let entry = Entry::new(name);
        self.by_length.entry(entry.letters).or_default().push(id);
        self.entries.insert(id, entry);
    }

    pub fn remove(&mut self, id: u64) {
        if let Some(entry) = self.entries.remove(&id)
            && let Some(ids) = self.by_length.get_mut(&entry.letters)
        {
            ids.retain(|&other| other != id);
        }
    }

    /// Names close to this one, the closest first, then by number. Cost: a look at each name whose key is at
    /// most a third longer or shorter, and a comparison with the few that share most letters.
    pub fn near(&self, name: &str) -> Vec<Near> {
        let asked = Entry::new(name);
        let third = asked.letters / 3;
        let mut found: Vec<Near> = self
            .by_length
            .range(asked.letters - third..=asked.letters + third)
            .flat_map(|(_, ids)| ids)
            .filter_map(|id| self.entries.get_key_value(id))
            .filter_map(|(&id, entry)| {
                let likeness = likeness(&asked, entry)?;
                Some(Near { id, name: entry.name.clone(), likeness })
            })
            .collect();
        found.sort_by(|a, b| rank(a.likeness).total_cmp(&rank(b.likeness)).then(a.id.cmp(&b.id)));
        found
    }
}

/// Smaller is closer.
fn rank(likeness: Likeness) -> f64 {
    match likeness {
        Likeness::Same => 0.0,
        Likeness::Edits(edits) => edits as f64,
        Likeness::Alike(alike) => 4.0 - alike,
        Likeness::Sound => 4.0,
    }
}

fn likeness(asked: &Entry, entry: &Entry) -> Option<Likeness> {
    if asked.key == entry.key {
        return Some(Likeness::Same);
    }
    let (shorter, longer) = (asked.letters.min(entry.letters), asked.letters.max(entry.letters));
    if shorter < SHORTEST {
        return None;
    }
    let most = if shorter >= LONG { 2 } else { 1 };
    let shared = asked.shared(entry);
    // An edit takes away at most one letter that is shared.
    if longer - shared <= most {
        let edits = optimal_string_alignment(&asked.key, &entry.key);
        if edits <= most {
            return Some(Likeness::Edits(edits));
        }
    }
    // Jaro's likeness is at most a third of 1 and both shares of common letters; Winkler adds at most 0.4 of the rest.
    let jaro = (1.0 + shared as f64 / shorter as f64 + shared as f64 / longer as f64) / 3.0;
    if jaro + 0.4 * (1.0 - jaro) >= ALIKE {
        let alike = jaro_winkler(&asked.key, &entry.key);
        if alike >= ALIKE {
            return Some(Likeness::Alike(alike));
        }
    }
    (asked.sound == entry.sound).then_some(Likeness::Sound)
}
