use std::collections::{BTreeMap, BTreeSet};

use super::{
    BOX_HEIGHT, BOX_WIDTH, Canvas, Descent, Drawing, MARGIN, MOST_PLANTS, NotDrawn, Plant, check,
    outline_line,
};

const COLUMN: i64 = BOX_WIDTH + 28;
const ROW: i64 = BOX_HEIGHT + 8;
/// A row that holds an unknown parent alone.
const SMALL_ROW: i64 = 24;

/// How a box hangs on the one before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Side {
    Start,
    Seed,
    Pollen,
    Source,
}

/// A box; boxes stand in reading order, each before its ancestors.
struct Slot {
    /// `None` where the parent is not known.
    plant: Option<usize>,
    child: usize,
    side: Side,
    column: usize,
    y: i64,
}

/// Draws a plant and its ancestors over so many columns (5: up to 31 boxes), the plant at the left, seed parents
/// above pollen parents. A source of a sport takes a column like a parent. An ancestor met by more than one way is
/// drawn each time, with one number.
///
/// # Errors
///
/// [`NotDrawn`].
pub fn ancestor_chart(plants: &[Plant], of: usize, columns: usize) -> Result<Drawing, NotDrawn> {
    check(plants)?;
    if of >= plants.len() {
        return Err(NotDrawn::NoSuchPlant { place: of });
    }
    let mut slots = slots(plants, of, columns.max(1))?;
    let height = place(&mut slots);
    let numbers = numbers(&slots);
    Ok(Drawing { svg: picture(plants, &slots, &numbers, height), outline: outline(plants, &slots, &numbers) })
}

fn slots(plants: &[Plant], of: usize, columns: usize) -> Result<Vec<Slot>, NotDrawn> {
    let mut slots: Vec<Slot> = Vec::new();
    let mut waiting = vec![(Some(of), 0, Side::Start, 0)];
    while let Some((plant, child, side, column)) = waiting.pop() {
        let at = slots.len();
        slots.push(Slot { plant, child, side, column, y: 0 });
        if slots.len() > MOST_PLANTS {
            return Err(NotDrawn::TooLarge { most: MOST_PLANTS });
        }
        let Some(plant) = plant.and_then(|plant| plants.get(plant)).filter(|_| column + 1 < columns) else {
            continue;
        };
        match plant.descent {
            Descent::Cross { seed_parent: None, pollen_parent: None } | Descent::Unknown => {}
            Descent::Cross { seed_parent, pollen_parent } => {
                waiting.push((pollen_parent, at, Side::Pollen, column + 1));
                waiting.push((seed_parent, at, Side::Seed, column + 1));
            }
            Descent::Clone { of, .. } => waiting.push((Some(of), at, Side::Source, column + 1)),
        }
    }
    Ok(slots)
}

/// Gives every box its height: the last ones row by row, every other the middle of its parents. Tells the whole.
fn place(slots: &mut [Slot]) -> i64 {
    let mut sums: Vec<(i64, i64)> = vec![(0, 0); slots.len()];
    for slot in slots.iter().skip(1) {
        if let Some((_, count)) = sums.get_mut(slot.child) {
            *count += 1;
        }
    }
    let mut next = MARGIN;
    for (slot, &(_, ancestors)) in slots.iter_mut().zip(&sums) {
        if ancestors == 0 {
            let row = if slot.plant.is_some() { ROW } else { SMALL_ROW };
            slot.y = next + row / 2;
            next += row;
        }
    }
    for at in (0..slots.len()).rev() {
        let (sum, count) = sums.get(at).copied().unwrap_or_default();
        let Some(slot) = slots.get_mut(at) else { continue };
        if count > 0 {
            slot.y = sum / count;
        }
        if let Some((sum, _)) = sums.get_mut(slot.child).filter(|_| at > 0) {
            *sum += slot.y;
        }
    }
    next
}

/// Numbers for plants that are reached by more than one way. Ancestors of such a plant are drawn again with it and
/// need no number of their own.
fn numbers(slots: &[Slot]) -> BTreeMap<usize, usize> {
    let mut ways: BTreeMap<usize, BTreeSet<(Option<usize>, Side)>> = BTreeMap::new();
    for slot in slots {
        let child = slots.get(slot.child).and_then(|child| child.plant);
        if let Some(plant) = slot.plant {
            ways.entry(plant).or_default().insert((child, slot.side));
        }
    }
    let mut numbers = BTreeMap::new();
    for plant in slots.iter().filter_map(|slot| slot.plant) {
        if ways.get(&plant).is_some_and(|ways| ways.len() > 1) {
            let next = numbers.len() + 1;
            numbers.entry(plant).or_insert(next);
        }
    }
    numbers
}

fn picture(plants: &[Plant], slots: &[Slot], numbers: &BTreeMap<usize, usize>, height: i64) -> String {
    let mut canvas = Canvas::default();
    let (mut unknown, mut sports, mut known) = (false, false, BTreeSet::new());
    let left = |column: usize| MARGIN + COLUMN * i64::try_from(column).unwrap_or(0);
    for (at, slot) in slots.iter().enumerate() {
        let x = left(slot.column);
        if let Some(child) = slots.get(slot.child).filter(|_| at > 0) {
            let from = (left(child.column) + BOX_WIDTH, child.y);
            canvas.elbow(from, x - 14, (x, slot.y), slot.side == Side::Source);
            sports |= slot.side == Side::Source;
        }
        if let Some((plant, place)) = slot.plant.and_then(|place| Some((plants.get(place)?, place))) {
            canvas.plant(plant, x, slot.y, numbers.get(&place).copied());
            known.insert(place);
        } else {
            canvas.unknown(x, slot.y);
            unknown = true;
        }
    }
    let columns = slots.iter().map(|slot| slot.column).max().unwrap_or(0);
    let label = slots.first().and_then(|slot| plants.get(slot.plant?)).map_or("", |plant| &plant.label);
    let mut legend = "Seed parent above, pollen parent below.".to_owned();
    if sports {
        legend.push_str(" Dashed: from a part of the plant at its right, as a sport.");
    }
    if unknown {
        legend.push_str(" ?: not known.");
    }
    if !numbers.is_empty() {
        legend.push_str(" One number: one plant, met more than once.");
    }
    let again = match numbers.len() {
        0 => "none of them more than once".to_owned(),
        1 => "one of them by more than one way".to_owned(),
        several => format!("{several} of them by more than one way"),
    };
    let description = format!(
        "{} ancestors over {columns} columns to the right of {label}, {again}. {legend}",
        known.len().saturating_sub(1)
    );
    let width = left(columns) + BOX_WIDTH + MARGIN;
    // The legend may be wider than a picture of few columns.
    let legend: Vec<String> = if width < 700 {
        legend.split_inclusive(". ").map(|line| line.trim().to_owned()).collect()
    } else {
        vec![legend]
    };
    canvas.finish(width.max(480), height + 20, &format!("Ancestors of {label}"), &description, &legend)
}

impl Canvas {
    fn unknown(&mut self, x: i64, y: i64) {
        use std::fmt::Write as _;
        if let Some(boxes) = self.boxes.first_mut() {
            let _ = write!(boxes, "<rect x=\"{x}\" y=\"{}\" width=\"20\" height=\"18\" rx=\"3\"/>", y - 9);
        }
        let _ = write!(self.labels, "<text x=\"{}\" y=\"{}\">?</text>", x + 7, y + 4);
    }
}

/// The same in words. A plant met again is named with its number and not followed again.
fn outline(plants: &[Plant], slots: &[Slot], numbers: &BTreeMap<usize, usize>) -> String {
    let mut outline = String::new();
    let mut told: BTreeSet<usize> = BTreeSet::new();
    let mut skip_beyond: Option<usize> = None;
    for slot in slots {
        if skip_beyond.is_some_and(|column| slot.column > column) {
            continue;
        }
        skip_beyond = None;
        let child = slots.get(slot.child).and_then(|child| plants.get(child.plant?));
        let how = match (slot.side, child.map(|child| &child.descent)) {
            (Side::Start, _) => String::new(),
            (Side::Seed, _) => "seed parent: ".to_owned(),
            (Side::Pollen, _) => "pollen parent: ".to_owned(),
            (Side::Source, Some(Descent::Clone { how, .. })) => format!("{how} "),
            (Side::Source, _) => "from ".to_owned(),
        };
        let line = match slot.plant.and_then(|place| Some((place, plants.get(place)?))) {
            None => format!("{how}not known"),
            Some((place, plant)) => match numbers.get(&place) {
                None => format!("{how}{}", plant.spoken()),
                Some(number) if told.insert(place) => format!("{how}{} [{number}]", plant.spoken()),
                Some(number) => {
                    skip_beyond = Some(slot.column);
                    format!("{how}{} [{number}], as above", plant.label)
                }
            },
        };
        outline_line(&mut outline, slot.column, &line);
    }
    outline
}
