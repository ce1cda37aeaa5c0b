//! A market from JSON. Ids of members and items are whole numbers or texts; numbers come before texts.
//!
//! May be left out: `members` (then everybody named elsewhere, without limits), `give` and `receive` (no
//! limit), `credit`, `plus`, `minus` (0), `quantity`, `need`, `rank`, `starts` (1), and any other list. An item
//! in a want may be a bare id, and a want of one item may say `item` and `rank` itself. What a member wants and
//! offers too is struck from the want, with a warning.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;
use storksbill_exchange::{Giver, Market, Member, Offer, Reason, Want, Wish, Worth};

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Id {
    Number(i128),
    Text(String),
}

/// A market whose members and items are numbered in the order of their names.
pub(crate) struct Named {
    members: Vec<Value>,
    items: Vec<Value>,
    people: Vec<Member>,
    offers: Vec<Offer>,
    wants: Vec<Want>,
    /// What members want of what they offer, as in the file: for strict lists it ends the list.
    own: Vec<(u64, Wish)>,
    givers: Vec<Giver>,
    refused: BTreeSet<(u64, u64)>,
    weights: BTreeMap<(u64, u64, u64), u32>,
    pub(crate) warnings: Vec<String>,
}

/// The number of a member or item of this name.
type Numbers = BTreeMap<Id, u64>;

pub(crate) fn read(document: &Value) -> Result<Named, String> {
    if !document.is_object() {
        return Err("the market must be an object with members, offers and wants".to_owned());
    }
    let (members, items) = (member_numbers(document)?, item_numbers(document)?);
    let mut named = Named {
        members: members.keys().map(value_of).collect(),
        items: items.keys().map(value_of).collect(),
        people: Vec::new(),
        offers: Vec::new(),
        wants: Vec::new(),
        own: Vec::new(),
        givers: Vec::new(),
        refused: BTreeSet::new(),
        weights: BTreeMap::new(),
        warnings: Vec::new(),
    };
    named.people = people(document, &members)?;
    for (path, entry) in entries(document, "offers")? {
        let member = known(entry, "member", &path, &members)?;
        let item = known(entry, "item", &path, &items)?;
        let quantity = number(entry, "quantity", &path, 1..=u16::MAX)?.unwrap_or(1);
        named.offers.push(Offer { id: 0, member, item, quantity });
    }
    for (path, entry) in entries(document, "wants")? {
        named.add_want(&path, entry, &members, &items)?;
    }
    for (path, entry) in entries(document, "givers")? {
        let member = known(entry, "member", &path, &members)?;
        let starts = number(entry, "starts", &path, 1..=u16::MAX)?.unwrap_or(1);
        named.givers.push(Giver { member, starts });
    }
    for (path, entry) in entries(document, "refused")? {
        let (from, to) = match entry.as_array().map(Vec::as_slice) {
            Some([from, to]) => (from, to),
            _ => match (entry.get("from"), entry.get("to")) {
                (Some(from), Some(to)) => (from, to),
                _ => return Err(format!("{path}: expected [from, to]")),
            },
        };
        let from = numbered(from, &format!("{path}: from"), &members)?;
        named.refused.insert((from, numbered(to, &format!("{path}: to"), &members)?));
    }
    for (path, entry) in entries(document, "weights")? {
        let from = known(entry, "from", &path, &members)?;
        let to = known(entry, "to", &path, &members)?;
        let item = known(entry, "item", &path, &items)?;
        let weight = number(entry, "weight", &path, 0..=u32::MAX)?;
        let weight = weight.ok_or_else(|| format!("{path}.weight is missing"))?;
        named.weights.insert((from, to, item), weight);
    }
    named.put_in_order();
    Ok(named)
}

impl Named {
    pub(crate) fn member(&self, number: u64) -> Value {
        usize::try_from(number).ok().and_then(|at| self.members.get(at)).cloned().unwrap_or_default()
    }

    pub(crate) fn item(&self, number: u64) -> Value {
        usize::try_from(number).ok().and_then(|at| self.items.get(at)).cloned().unwrap_or_default()
    }

    /// As the engine takes it; refused pairs and weights of single hand-overs in force.
    pub(crate) fn market(&self) -> Result<Market, String> {
        let allowed = |offer: &Offer, want: &Want| {
            if self.refused.contains(&(offer.member, want.member)) {
                return Err(Reason(0));
            }
            let by_rank = Worth::by_rank(offer, want);
            let weight = self.weights.get(&(offer.member, want.member, offer.item));
            Ok(Worth { weight: weight.copied().unwrap_or(by_rank.weight), ..by_rank })
        };
        Market::build(&self.people, &self.offers, &self.wants, allowed)
            .and_then(|market| market.with_givers(&self.givers))
            .map_err(|problems| {
                let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
                format!("the market cannot be used: {}", told.join("; "))
            })
    }

    /// Who brings a plant (member, item), and for each the agents whose plants they would rather have, best
    /// first. Equal ranks and equal plants go by name.
    #[allow(clippy::type_complexity, reason = "two lists of one length, taken apart at once")]
    pub(crate) fn strict_lists(&self) -> Result<(Vec<(u64, u64)>, Vec<Vec<usize>>), String> {
        let mut agents: BTreeMap<u64, u64> = BTreeMap::new();
        for offer in &self.offers {
            if offer.quantity > 1 || agents.insert(offer.member, offer.item).is_some() {
                let member = self.member(offer.member);
                return Err(format!("one-for-one: member {member} offers more than one plant (offers)"));
            }
        }
        let agents: Vec<(u64, u64)> = agents.into_iter().collect();
        let lists = agents.iter().map(|&(member, _)| {
            let wished = self.wants.iter().filter(|want| want.member == member).flat_map(|want| &want.items);
            let own = self.own.iter().filter(|(owner, _)| *owner == member).map(|(_, wish)| wish);
            let mut wishes: Vec<&Wish> = wished.chain(own).collect();
            wishes.sort_by_key(|wish| (wish.rank, wish.item));
            let mut list = Vec::new();
            for wish in wishes {
                for (at, &(owner, item)) in agents.iter().enumerate() {
                    let refused = self.refused.contains(&(owner, member));
                    if item == wish.item && !refused && !list.contains(&at) {
                        list.push(at);
                    }
                }
            }
            list
        });
        let lists = lists.collect();
        Ok((agents, lists))
    }

    fn add_want(
        &mut self,
        path: &str,
        entry: &Value,
        members: &Numbers,
        items: &Numbers,
    ) -> Result<(), String> {
        let member = known(entry, "member", path, members)?;
        let need = number(entry, "need", path, 1..=u16::MAX)?.unwrap_or(1);
        let mut wishes: BTreeMap<u64, u16> = BTreeMap::new();
        for (path, id, rank) in wishes_of(path, entry)? {
            let item = numbered(id, &path, items)?;
            let best = wishes.entry(item).or_insert(rank);
            *best = rank.min(*best);
        }
        let mut kept = Vec::new();
        for (item, rank) in wishes {
            let wish = Wish { item, rank };
            if self.offers.iter().any(|offer| offer.member == member && offer.item == item) {
                self.own.push((member, wish));
                let (member, item) = (self.member(member), self.item(item));
                self.warnings
                    .push(format!("{path}: member {member} offers {item} too; not counted as a want"));
            } else {
                kept.push(wish);
            }
        }
        if !kept.is_empty() {
            self.wants.push(Want { id: 0, member, items: kept, need });
        }
        Ok(())
    }

    /// The order of the file must not matter: numbers offers and wants by what they say.
    fn put_in_order(&mut self) {
        self.offers.sort_by_key(|offer| (offer.member, offer.item, offer.quantity));
        for (id, offer) in (0..).zip(&mut self.offers) {
            offer.id = id;
        }
        self.wants.sort_by_cached_key(|want| {
            let wishes: Vec<(u64, u16)> = want.items.iter().map(|wish| (wish.item, wish.rank)).collect();
            (want.member, wishes, want.need)
        });
        for (id, want) in (0..).zip(&mut self.wants) {
            want.id = id;
        }
        self.warnings.sort();
    }
}

fn people(document: &Value, members: &Numbers) -> Result<Vec<Member>, String> {
    if document.get("members").is_none_or(Value::is_null) {
        return Ok(members.values().map(|&id| Member::new(id, u16::MAX, u16::MAX)).collect());
    }
    let mut people = Vec::new();
    for (path, entry) in entries(document, "members")? {
        let id = match entry {
            Value::Object(_) => known(entry, "id", &path, members)?,
            bare => numbered(bare, &path, members)?,
        };
        // More than 65535 is as good as no limit.
        let limit = |key| {
            let limit = number(entry, key, &path, 0..=u64::MAX)?;
            Ok::<u16, String>(limit.map_or(u16::MAX, |limit| u16::try_from(limit).unwrap_or(u16::MAX)))
        };
        let (give, receive) = (limit("give")?, limit("receive")?);
        let credit = number(entry, "credit", &path, i16::MIN..=i16::MAX)?.unwrap_or(0);
        let plus = number(entry, "plus", &path, 0..=u16::MAX)?.unwrap_or(0);
        let minus = number(entry, "minus", &path, 0..=u16::MAX)?.unwrap_or(0);
        people.push(Member { id, give, receive, credit, plus, minus });
    }
    let mut seen = BTreeSet::new();
    for (at, person) in people.iter().enumerate() {
        if !seen.insert(person.id) {
            return Err(format!("members[{at}].id: this member is listed twice"));
        }
    }
    Ok(people)
}

/// The members listed, or where there is no list, everybody who is named.
fn member_numbers(document: &Value) -> Result<Numbers, String> {
    let mut ids = BTreeSet::new();
    if document.get("members").is_some_and(|members| !members.is_null()) {
        for (path, entry) in entries(document, "members")? {
            let (bare, path) = if entry.is_object() {
                (entry.get("id").unwrap_or(&Value::Null), format!("{path}.id"))
            } else {
                (entry, path)
            };
            ids.insert(id_of(bare, &path)?);
        }
    } else {
        for list in ["offers", "wants", "givers"] {
            for (path, entry) in entries(document, list)? {
                let member = entry.get("member").unwrap_or(&Value::Null);
                ids.insert(id_of(member, &format!("{path}.member"))?);
            }
        }
    }
    Ok(ids.into_iter().zip(0..).collect())
}

fn item_numbers(document: &Value) -> Result<Numbers, String> {
    let mut ids = BTreeSet::new();
    for list in ["offers", "weights"] {
        for (path, entry) in entries(document, list)? {
            let item = entry.get("item").unwrap_or(&Value::Null);
            ids.insert(id_of(item, &format!("{path}.item"))?);
        }
    }
    for (path, entry) in entries(document, "wants")? {
        for (path, item, _) in wishes_of(&path, entry)? {
            ids.insert(id_of(item, &path)?);
        }
    }
    Ok(ids.into_iter().zip(0..).collect())
}

/// Path, item and rank of what a want names.
fn wishes_of<'a>(path: &str, entry: &'a Value) -> Result<Vec<(String, &'a Value, u16)>, String> {
    let rank = number(entry, "rank", path, 1..=u16::MAX)?.unwrap_or(1);
    if let Some(item) = entry.get("item") {
        return Ok(vec![(format!("{path}.item"), item, rank)]);
    }
    if entry.get("items").is_none_or(Value::is_null) {
        return Err(format!("{path}.items is missing"));
    }
    let mut wishes = Vec::new();
    for (place, wish) in entries(entry, "items").map_err(|error| format!("{path}.{error}"))? {
        let path = format!("{path}.{place}");
        match wish.get("item") {
            Some(item) => {
                let rank = number(wish, "rank", &path, 1..=u16::MAX)?.unwrap_or(rank);
                wishes.push((format!("{path}.item"), item, rank));
            }
            None => wishes.push((path, wish, rank)),
        }
    }
    Ok(wishes)
}

/// The entries of a list that may be absent, each with its path.
fn entries<'a>(of: &'a Value, name: &str) -> Result<Vec<(String, &'a Value)>, String> {
    match of.get(name) {
        None | Some(Value::Null) => Ok(Vec::new()),
        Some(Value::Array(list)) => {
            Ok(list.iter().enumerate().map(|(at, entry)| (format!("{name}[{at}]"), entry)).collect())
        }
        Some(other) => Err(format!("{name}: expected a list, found {other}")),
    }
}

fn id_of(value: &Value, path: &str) -> Result<Id, String> {
    match value {
        Value::Null => Err(format!("{path} is missing")),
        Value::String(text) => Ok(Id::Text(text.clone())),
        other => whole(other)
            .map(Id::Number)
            .ok_or_else(|| format!("{path}: expected a whole number or a text, found {other}")),
    }
}

fn value_of(id: &Id) -> Value {
    match id {
        Id::Number(number) => u64::try_from(*number)
            .map(Value::from)
            .or_else(|_| i64::try_from(*number).map(Value::from))
            .unwrap_or_default(),
        Id::Text(text) => Value::from(text.clone()),
    }
}

fn whole(value: &Value) -> Option<i128> {
    value.as_u64().map(i128::from).or_else(|| value.as_i64().map(i128::from))
}

fn numbered(value: &Value, path: &str, numbers: &Numbers) -> Result<u64, String> {
    let id = id_of(value, path)?;
    numbers.get(&id).copied().ok_or_else(|| format!("{path}: {value} is not listed"))
}

fn known(entry: &Value, key: &str, path: &str, numbers: &Numbers) -> Result<u64, String> {
    numbered(entry.get(key).unwrap_or(&Value::Null), &format!("{path}.{key}"), numbers)
}

/// A whole number within a range; `None` where it is absent.
fn number<T>(
    entry: &Value,
    key: &str,
    path: &str,
    range: std::ops::RangeInclusive<T>,
) -> Result<Option<T>, String>
where
    T: TryFrom<i128> + PartialOrd + std::fmt::Display,
{
    let value = match entry.get(key) {
        None | Some(Value::Null) => return Ok(None),
        Some(value) => value,
    };
    let found =
        whole(value).and_then(|number| T::try_from(number).ok()).filter(|number| range.contains(number));
    let (start, end) = (range.start(), range.end());
    found
        .map(Some)
        .ok_or_else(|| format!("{path}.{key}: expected a whole number from {start} to {end}, found {value}"))
}
