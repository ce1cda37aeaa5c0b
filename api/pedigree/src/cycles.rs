//! Loops: individuals that would be their own ancestors.
#![allow(clippy::indexing_slicing, reason = "places are numbered densely")]

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use crate::build::Pedigree;

/// Who names whom as parent or source, by places.
pub(crate) struct Upward {
    /// Place `at` names `parents[start[at]..start[at + 1]]`.
    pub(crate) start: Vec<u32>,
    pub(crate) parents: Vec<u32>,
    /// Those whose one parent is the pollen parent, ascending.
    pub(crate) pollen_only: Vec<u32>,
}

impl Upward {
    pub(crate) fn of(&self, at: u32) -> &[u32] {
        &self.parents[self.start[at as usize] as usize..self.start[at as usize + 1] as usize]
    }

    pub(crate) fn seed_known(&self, at: u32) -> bool {
        self.pollen_only.binary_search(&at).is_err()
    }

    fn len(&self) -> usize {
        self.start.len() - 1
    }

    /// All places, parents before children.
    ///
    /// # Errors
    ///
    /// A shortest loop of every tangle, by the smallest place in it.
    pub(crate) fn sorted(&self) -> Result<Vec<u32>, Vec<Vec<u32>>> {
        let mut first_child = vec![0u32; self.len() + 1];
        for &parent in &self.parents {
            first_child[parent as usize + 1] += 1;
        }
        for at in 0..self.len() {
            first_child[at + 1] += first_child[at];
        }
        let mut next = first_child.clone();
        let mut children = vec![0u32; self.parents.len()];
        let mut waiting = vec![0u32; self.len()];
        for child in places(self.len()) {
            waiting[child as usize] = self.start[child as usize + 1] - self.start[child as usize];
            for &parent in self.of(child) {
                children[next[parent as usize] as usize] = child;
                next[parent as usize] += 1;
            }
        }
        let mut order: Vec<u32> = places(self.len()).filter(|&at| waiting[at as usize] == 0).collect();
        order.reserve_exact(self.len() - order.len());
        let mut done = 0;
        while let Some(&at) = order.get(done) {
            done += 1;
            let [from, to] = [first_child[at as usize], first_child[at as usize + 1]];
            for &child in &children[from as usize..to as usize] {
                waiting[child as usize] -= 1;
                if waiting[child as usize] == 0 {
                    order.push(child);
                }
            }
        }
        if order.len() == self.len() { Ok(order) } else { Err(self.loops()) }
    }

    fn loops(&self) -> Vec<Vec<u32>> {
        let tangle = self.tangles();
        let mut members: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
        for at in places(self.len()) {
            members.entry(tangle[at as usize]).or_default().push(at);
        }
        members.retain(|_, members| members.len() > 1 || self.of(members[0]).contains(&members[0]));
        let mut loops: Vec<Vec<u32>> =
            members.values().map(|members| self.shortest(members, &tangle)).collect();
        loops.sort_unstable();
        loops
    }

    /// A number for every place, the same for two that are ancestors of each other (R. Tarjan, "Depth-first
    /// search and linear graph algorithms", SIAM Journal on Computing 1, 1972, 146-160, without recursion).
    fn tangles(&self) -> Vec<u32> {
        const NEW: u32 = u32::MAX;
        let mut reached = vec![NEW; self.len()];
        let mut low = vec![0u32; self.len()];
        let mut tangle = vec![NEW; self.len()];
        let (mut open, mut path): (Vec<u32>, Vec<(u32, usize)>) = (Vec::new(), Vec::new());
        let mut count = 0;
        for root in places(self.len()) {
            if reached[root as usize] == NEW {
                path.push((root, 0));
            }
            while let Some((at, tried)) = path.pop() {
                let here = at as usize;
                if tried == 0 {
                    reached[here] = count;
                    low[here] = count;
                    count += 1;
                    open.push(at);
                } else {
                    let parent = self.of(at)[tried - 1] as usize;
                    if tangle[parent] == NEW {
                        low[here] = low[here].min(low[parent]);
                    }
                }
                if let Some(&parent) = self.of(at).get(tried) {
                    path.push((at, tried + 1));
                    if reached[parent as usize] == NEW {
                        path.push((parent, 0));
                    }
                } else if low[here] == reached[here] {
                    while let Some(member) = open.pop() {
                        tangle[member as usize] = at;
                        if member == at {
                            break;
                        }
                    }
                }
            }
        }
        tangle
    }

    /// A shortest loop among the members of one tangle: a search from each in turn, no deeper than the best so
    /// far; one whose loops are known is taken out, and with it all that are then nobody's parent.
    fn shortest(&self, members: &[u32], tangle: &[u32]) -> Vec<u32> {
        let mut left: BTreeMap<u32, u32> = members.iter().map(|&at| (at, 0)).collect();
        let inside =
            |at: u32| self.of(at).iter().filter(move |&&p| tangle[p as usize] == tangle[at as usize]);
        for &at in members {
            for parent in inside(at) {
                *left.entry(*parent).or_default() += 1;
            }
        }
        let mut best: Vec<u32> = Vec::new();
        for &start in members {
            if !left.contains_key(&start) {
                continue;
            }
            let parents = |at: u32| self.of(at).iter().copied().filter(|parent| left.contains_key(parent));
            let most = if best.is_empty() { usize::MAX } else { best.len() - 1 };
            if let Some(found) = way_back(start, most, |at, push| parents(at).for_each(push)) {
                best = found;
            }
            let mut childless = vec![start];
            while let Some(at) = childless.pop() {
                left.remove(&at);
                for parent in inside(at) {
                    if let Some(children) = left.get_mut(parent) {
                        *children -= 1;
                        if *children == 0 {
                            childless.push(*parent);
                        }
                    }
                }
            }
        }
        best
    }
}

fn places(count: usize) -> impl Iterator<Item = u32> {
    // Counts of records are checked to fit 32 bits before anything is numbered.
    0..u32::try_from(count).unwrap_or(u32::MAX)
}

/// The shortest way from `start` by `parents` back to it, of at most `most` steps.
fn way_back(start: u32, most: usize, parents: impl Fn(u32, &mut dyn FnMut(u32))) -> Option<Vec<u32>> {
    let mut from: BTreeMap<u32, u32> = BTreeMap::new();
    let mut queue = VecDeque::from([(start, 1)]);
    while let Some((at, length)) = queue.pop_front() {
        if length > most {
            return None;
        }
        let mut closed = false;
        parents(at, &mut |parent| {
            closed |= parent == start;
            if parent != start && !from.contains_key(&parent) {
                from.insert(parent, at);
                queue.push_back((parent, length + 1));
            }
        });
        if closed {
            let mut found = vec![at];
            let mut last = at;
            while let Some(&child) = from.get(&last) {
                found.push(child);
                last = child;
            }
            found.reverse();
            return Some(found);
        }
    }
    None
}

impl Pedigree {
    /// The shortest loop that would arise if `child` had these parents (or this source): the child first, each
    /// a child of the next. `None` where there is none, and for a child not in the pedigree: a new record
    /// cannot make one. Parents not in the pedigree are passed over. Cost: the parents' ancestors.
    pub fn would_cycle(&self, child: u64, parents: &[u64]) -> Option<Vec<u64>> {
        let start = self.place(child).ok()?;
        let parents: BTreeSet<u32> = parents.iter().filter_map(|&id| self.place(id).ok()).collect();
        let found = way_back(start, usize::MAX, |at, push| {
            if at == start {
                parents.iter().copied().for_each(push);
            } else {
                self.named(at).for_each(push);
            }
        })?;
        Some(found.into_iter().map(|at| self.id_at[at as usize]).collect())
    }
}
