//! Layers, order and places of a whole graph of plants.
#![allow(clippy::indexing_slicing, reason = "plants, items and layers are numbered densely here")]

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::fmt::Write as _;

use super::{
    BOX_HEIGHT, BOX_WIDTH, Canvas, Descent, Drawing, MARGIN, MOST_PLANTS, NotDrawn, Plant, check,
    outline_line,
};

const ROW: i64 = BOX_HEIGHT + 8;
/// Height kept for a line that passes a column.
const PASS: i64 = 10;
/// Between verticals of one gap.
const TRACK: i64 = 9;
const SWEEPS: usize = 8;
/// How much rather a passing line stays straight than a box near its neighbours.
const STRAIGHT: i64 = 8;
/// Boxes and passing lines together.
const MOST_ITEMS: usize = 20_000;

/// What stands in a column: a plant, or the line of one on its way to a later column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Item {
    plant: usize,
    is_box: bool,
    y: i64,
}

impl Item {
    fn half(&self) -> i64 {
        if self.is_box { ROW / 2 } else { PASS / 2 }
    }
}

/// The columns, each from top to bottom, and the neighbours of every item in the column before.
struct Layout {
    items: Vec<Item>,
    columns: Vec<Vec<usize>>,
    before: Vec<Vec<usize>>,
    after: Vec<Vec<usize>>,
}

/// Draws plants with all their relations, ancestors at the left. The list is the picture: the descendants of a
/// plant with their other parents, say. `title` names it.
///
/// # Errors
///
/// [`NotDrawn`].
pub fn descendant_chart(plants: &[Plant], title: &str) -> Result<Drawing, NotDrawn> {
    check(plants)?;
    if plants.len() > MOST_PLANTS {
        return Err(NotDrawn::TooLarge { most: MOST_PLANTS });
    }
    let layers = layers(plants)?;
    let mut layout = Layout::new(plants, &layers)?;
    layout.order();
    layout.place();
    Ok(Drawing { svg: layout.picture(plants, &layers, title), outline: outline(plants, title) })
}

/// The column of each plant: one after its latest parent. A plant without parents stands just before its first
/// child.
pub(super) fn layers(plants: &[Plant]) -> Result<Vec<usize>, NotDrawn> {
    let mut children: Vec<Vec<usize>> = vec![Vec::new(); plants.len()];
    let mut waiting: Vec<usize> = vec![0; plants.len()];
    for (at, plant) in plants.iter().enumerate() {
        for parent in plant.parents().into_iter().flatten() {
            children[parent].push(at);
            waiting[at] += 1;
        }
    }
    let mut layers = vec![0; plants.len()];
    let mut ready: VecDeque<usize> = (0..plants.len()).filter(|&at| waiting[at] == 0).collect();
    let mut seen = 0;
    while let Some(at) = ready.pop_front() {
        seen += 1;
        for &child in &children[at] {
            layers[child] = layers[child].max(layers[at] + 1);
            waiting[child] -= 1;
            if waiting[child] == 0 {
                ready.push_back(child);
            }
        }
    }
    if seen < plants.len() {
        // Those still waiting hold a loop or descend from one; up from any of them the loop is entered.
        let mut place = (0..plants.len()).find(|&at| waiting[at] > 0).unwrap_or(0);
        for _ in 0..plants.len() {
            let up = plants[place].parents().into_iter().flatten().find(|&parent| waiting[parent] > 0);
            place = up.unwrap_or(place);
        }
        return Err(NotDrawn::Loop { place });
    }
    for at in 0..plants.len() {
        if plants[at].parents() == [None, None]
            && let Some(first) = children[at].iter().map(|&child| layers[child]).min()
        {
            layers[at] = first - 1;
        }
    }
    Ok(layers)
}

impl Layout {
    fn new(plants: &[Plant], layers: &[usize]) -> Result<Self, NotDrawn> {
        let count = layers.iter().max().map_or(0, |last| last + 1);
        let mut last_use: Vec<usize> = layers.to_vec();
        for (at, plant) in plants.iter().enumerate() {
            for parent in plant.parents().into_iter().flatten() {
                last_use[parent] = last_use[parent].max(layers[at] - 1);
            }
        }
        let all: usize = layers.iter().zip(&last_use).map(|(from, to)| to - from + 1).sum();
        if all > MOST_ITEMS {
            return Err(NotDrawn::TooLarge { most: MOST_ITEMS });
        }
        let mut layout = Self {
            items: Vec::with_capacity(all),
            columns: vec![Vec::new(); count],
            before: Vec::with_capacity(all),
            after: vec![Vec::new(); all],
        };
        // The items of a plant are numbered one after the other from here on.
        let mut first: Vec<usize> = Vec::with_capacity(plants.len());
        for plant in 0..plants.len() {
            first.push(layout.items.len());
            for column in layers[plant]..=last_use[plant] {
                layout.columns[column].push(layout.items.len());
                layout.items.push(Item { plant, is_box: column == layers[plant], y: 0 });
                layout.before.push(Vec::new());
            }
        }
        for plant in 0..plants.len() {
            for step in 1..=last_use[plant] - layers[plant] {
                layout.before[first[plant] + step].push(first[plant] + step - 1);
            }
            for parent in plants[plant].parents().into_iter().flatten() {
                let item = first[parent] + (layers[plant] - 1 - layers[parent]);
                layout.before[first[plant]].push(item);
            }
        }
        for item in 0..all {
            for at in 0..layout.before[item].len() {
                let neighbour = layout.before[item][at];
                layout.after[neighbour].push(item);
            }
        }
        Ok(layout)
    }

    /// Orders the columns by barycentres, to and fro, and keeps the order with the fewest crossings.
    fn order(&mut self) {
        let mut best = self.columns.clone();
        let mut fewest = self.crossings();
        let mut places = vec![0; self.items.len()];
        for sweep in 0..SWEEPS {
            let forward = sweep % 2 == 0;
            let count = self.columns.len();
            for step in 1..count {
                let column = if forward { step } else { count - 1 - step };
                let fixed = if forward { column - 1 } else { column + 1 };
                self.note_places(fixed, &mut places);
                let neighbours = if forward { &self.before } else { &self.after };
                let mut keyed: Vec<(u64, usize, usize)> = self.columns[column]
                    .iter()
                    .enumerate()
                    .map(|(own, &item)| {
                        let near = &neighbours[item];
                        // Without neighbours an item keeps its place in the middle of the scale.
                        let (sum, of) = if near.is_empty() {
                            (own as u64 * self.columns[fixed].len() as u64, self.columns[column].len() as u64)
                        } else {
                            (near.iter().map(|&near| places[near] as u64).sum(), near.len() as u64)
                        };
                        (sum * 65_536 / of.max(1), own, item)
                    })
                    .collect();
                keyed.sort_unstable();
                self.columns[column] = keyed.into_iter().map(|(_, _, item)| item).collect();
            }
            let crossings = self.crossings();
            if crossings < fewest {
                fewest = crossings;
                best.clone_from(&self.columns);
            }
        }
        self.columns = best;
    }

    /// Notes the place of each item of a column, from the top.
    fn note_places(&self, column: usize, places: &mut [usize]) {
        for (place, &item) in self.columns[column].iter().enumerate() {
            places[item] = place;
        }
    }

    /// Pairs of lines that cross, over all gaps, by counting inversions.
    fn crossings(&self) -> u64 {
        let mut crossings = 0;
        let mut places = vec![0; self.items.len()];
        let mut ends: Vec<usize> = Vec::new();
        for column in 1..self.columns.len() {
            self.note_places(column - 1, &mut places);
            let size = self.columns[column - 1].len();
            let mut tree = vec![0u64; size + 1];
            let mut seen = 0u64;
            for &item in &self.columns[column] {
                ends.clear();
                ends.extend(self.before[item].iter().map(|&near| places[near]));
                ends.sort_unstable();
                for &end in &ends {
                    let (mut upto, mut at) = (0, end + 1);
                    while at > 0 {
                        upto += tree[at];
                        at &= at - 1;
                    }
                    crossings += seen - upto;
                }
                for &end in &ends {
                    let mut at = end + 1;
                    while at <= size {
                        tree[at] += 1;
                        at += at & at.wrapping_neg();
                    }
                    seen += 1;
                }
            }
        }
        crossings
    }

    /// Gives every item its height: near the mean of its neighbours, in order and apart.
    fn place(&mut self) {
        for column in 0..self.columns.len() {
            let mut next = 0;
            for at in 0..self.columns[column].len() {
                let item = self.columns[column][at];
                let half = self.items[item].half();
                self.items[item].y = next + half;
                next += 2 * half;
            }
        }
        let count = self.columns.len();
        for sweep in 0..SWEEPS {
            for step in 0..count {
                let column = if sweep % 2 == 0 { step } else { count - 1 - step };
                self.settle(column, sweep % 2 == 0, sweep + 2 >= SWEEPS);
            }
        }
        self.straighten();
        let top = self.items.iter().map(|item| item.y - item.half()).min().unwrap_or(0);
        for item in &mut self.items {
            item.y += MARGIN - top;
        }
    }

    /// Least squares in one column: wanted places less the room above, made rising by pooling neighbours.
    fn settle(&mut self, column: usize, forward: bool, both: bool) {
        let mut room = 0;
        // Pools: sum of wanted places by weight, weight, members.
        let mut pools: Vec<(i64, i64, usize)> = Vec::new();
        let mut rooms = Vec::with_capacity(self.columns[column].len());
        for &item in &self.columns[column] {
            let half = self.items[item].half();
            room += half;
            let (before, after) = (&self.before[item], &self.after[item]);
            let near: Vec<i64> = before
                .iter()
                .filter(|_| forward || both)
                .chain(after.iter().filter(|_| !forward || both))
                .map(|&near| self.items[near].y)
                .collect();
            let wanted = if near.is_empty() {
                self.items[item].y
            } else {
                near.iter().sum::<i64>() / i64::try_from(near.len()).unwrap_or(1)
            };
            let weight = if self.items[item].is_box { 1 } else { STRAIGHT };
            rooms.push(room);
            pools.push((weight * (wanted - room), weight, 1));
            while let [.., (sum, weight, members), (own, own_weight, few)] = pools.as_slice() {
                if sum * own_weight <= own * weight {
                    break;
                }
                let pooled = (sum + own, weight + own_weight, members + few);
                pools.truncate(pools.len() - 2);
                pools.push(pooled);
            }
            room += half;
        }
        let mut at = 0;
        for (sum, weight, members) in pools {
            for _ in 0..members {
                let item = self.columns[column][at];
                self.items[item].y = sum.div_euclid(weight) + rooms[at];
                at += 1;
            }
        }
    }

    /// Draws in small steps of lines that pass: each goes on at the height it came from, where there is room.
    fn straighten(&mut self) {
        for column in 1..self.columns.len() {
            for at in 0..self.columns[column].len() {
                let item = self.columns[column][at];
                let &[from] = self.before[item].as_slice() else { continue };
                // A child of one plant may move as well as a passing line.
                let wanted = self.items[from].y;
                let half = self.items[item].half();
                let edge = |other: Option<&usize>| {
                    other.map(|&other| (self.items[other].y, self.items[other].half()))
                };
                let above = at.checked_sub(1).and_then(|above| edge(self.columns[column].get(above)));
                let below = edge(self.columns[column].get(at + 1));
                let free = above.is_none_or(|(y, own)| wanted - half >= y + own)
                    && below.is_none_or(|(y, own)| wanted + half <= y - own);
                if free {
                    self.items[item].y = wanted;
                }
            }
        }
    }

    fn picture(&self, plants: &[Plant], layers: &[usize], title: &str) -> String {
        let mut canvas = Canvas::default();
        let mut left = MARGIN;
        let mut sports = false;
        let mut lefts = Vec::with_capacity(self.columns.len());
        for column in 0..self.columns.len() {
            let families = self.families(plants, column);
            let tracks = tracks(&families, |item| self.items[item].y);
            let wide = tracks.iter().max().map_or(0, |last| last + 1);
            let gap = if column == 0 { 0 } else { 20 + TRACK * i64::try_from(wide).unwrap_or(0) };
            for (family, track) in families.iter().zip(tracks) {
                let bend = left + 10 + TRACK * i64::try_from(track).unwrap_or(0);
                sports |= family.dashed;
                self.family(&mut canvas, family, left, bend, left + gap);
            }
            left += gap;
            lefts.push(left);
            for &item in &self.columns[column] {
                let Item { plant, is_box, y } = self.items[item];
                if is_box {
                    canvas.plant(&plants[plant], left, y, None);
                } else {
                    canvas.elbow((left, y), left, (left + BOX_WIDTH, y), false);
                }
            }
            left += BOX_WIDTH;
        }
        let height = self.items.iter().map(|item| item.y + item.half()).max().unwrap_or(MARGIN);
        let mut legend = vec![
            "Lines run from parents at the left. Filled dot: seed parent. Open dot: pollen parent."
                .to_owned(),
        ];
        if sports {
            legend.push("Dashed: from a part of the plant, as a sport.".to_owned());
        }
        let description = format!(
            "{} plants in {} generations. {}",
            plants.len(),
            layers.iter().max().map_or(0, |last| last + 1),
            legend.join(" ")
        );
        canvas.finish((left + MARGIN).max(520), height + 20, title, &description, &legend)
    }

    /// What crosses the gap before a column, by parents: one vertical each.
    fn families(&self, plants: &[Plant], column: usize) -> Vec<Family> {
        let mut families: BTreeMap<(usize, Vec<usize>, bool, bool), Vec<usize>> = BTreeMap::new();
        for (place, &item) in self.columns[column].iter().enumerate() {
            if self.before[item].is_empty() {
                continue;
            }
            let Item { plant, is_box, .. } = self.items[item];
            let dashed = is_box && matches!(plants[plant].descent, Descent::Clone { .. });
            let by_pollen =
                is_box && matches!(plants[plant].descent, Descent::Cross { seed_parent: None, .. });
            // Lines that only pass stand alone; a family is drawn where its first member stands.
            let alone = if is_box { usize::MAX } else { place };
            families.entry((alone, self.before[item].clone(), dashed, by_pollen)).or_default().push(item);
        }
        let mut families: Vec<Family> = families
            .into_iter()
            .map(|((_, parents, dashed, by_pollen), children)| {
                let is_cross = !dashed && self.items[children[0]].is_box;
                Family { parents, children, dashed, by_pollen, is_cross }
            })
            .collect();
        families.sort_by_key(|family| family.children.iter().map(|&child| self.items[child].y).min());
        families
    }

    fn family(&self, canvas: &mut Canvas, family: &Family, from: i64, bend: i64, to: i64) {
        let y = |item: usize| self.items[item].y;
        let ends = family.parents.iter().chain(&family.children).map(|&item| y(item));
        let (top, bottom) = ends.fold((i64::MAX, i64::MIN), |(top, bottom), y| (top.min(y), bottom.max(y)));
        let path = if family.dashed { &mut canvas.dashed } else { &mut canvas.solid };
        if top < bottom {
            let _ = write!(path, "M{bend} {top}V{bottom}");
        }
        let parents: BTreeSet<usize> = family.parents.iter().copied().collect();
        for parent in parents {
            let _ = write!(path, "M{from} {}H{bend}", y(parent));
        }
        for &child in &family.children {
            let _ = write!(path, "M{bend} {}H{to}", y(child));
        }
        if family.is_cross {
            let selfed = family.parents.first() == family.parents.last() && family.parents.len() > 1;
            for (at, &parent) in family.parents.iter().enumerate() {
                let pollen = at > 0 || family.by_pollen;
                // Both dots of a selfing sit side by side.
                let x = if selfed && pollen { bend - 6 } else { bend };
                let dots = &mut canvas.dots[usize::from(pollen)];
                let _ = write!(dots, "<circle cx=\"{x}\" cy=\"{}\" r=\"3\"/>", y(parent));
            }
        }
    }
}

/// Children of the same parents, as they stand in one column.
struct Family {
    parents: Vec<usize>,
    children: Vec<usize>,
    dashed: bool,
    /// The one known parent is the pollen parent.
    by_pollen: bool,
    is_cross: bool,
}

/// A vertical for each family such that no two overlap: the first that is free, from the top.
fn tracks(families: &[Family], y: impl Fn(usize) -> i64) -> Vec<usize> {
    let spans: Vec<(i64, i64)> = families
        .iter()
        .map(|family| {
            let ends = family.parents.iter().chain(&family.children).map(|&item| y(item));
            ends.fold((i64::MAX, i64::MIN), |(top, bottom), y| (top.min(y), bottom.max(y)))
        })
        .collect();
    let mut by_top: Vec<usize> = (0..spans.len()).collect();
    by_top.sort_by_key(|&at| (spans[at], at));
    let mut ends: Vec<i64> = Vec::new();
    let mut tracks = vec![0; spans.len()];
    for at in by_top {
        let (top, bottom) = spans[at];
        let free = ends.iter().position(|&end| end + 6 < top).unwrap_or_else(|| {
            ends.push(0);
            ends.len() - 1
        });
        ends[free] = bottom;
        tracks[at] = free;
    }
    tracks
}

/// The same in words: every plant with its parents, in the order of the list.
fn outline(plants: &[Plant], title: &str) -> String {
    let mut outline = String::new();
    outline_line(&mut outline, 0, title);
    for plant in plants {
        let name = |place: Option<usize>| place.map_or("not known", |place| plants[place].label.as_str());
        outline_line(&mut outline, 1, &plant.spoken());
        match &plant.descent {
            Descent::Unknown | Descent::Cross { seed_parent: None, pollen_parent: None } => {}
            Descent::Cross { seed_parent, pollen_parent } => {
                outline_line(&mut outline, 2, &format!("seed parent: {}", name(*seed_parent)));
                outline_line(&mut outline, 2, &format!("pollen parent: {}", name(*pollen_parent)));
            }
            Descent::Clone { of, how } => {
                outline_line(&mut outline, 2, &format!("{how} {}", name(Some(*of))));
            }
        }
    }
    outline
}
