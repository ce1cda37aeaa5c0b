//! Inbreeding of everybody by sparse traces.
#![allow(clippy::indexing_slicing, reason = "genotypes are numbered densely, parents before children")]

use std::collections::{BTreeMap, BinaryHeap};

use crate::build::Gamete;

pub(crate) struct Inbreeding {
    pub(crate) coefficients: Vec<f64>,
    pub(crate) own: Vec<f64>,
    pub(crate) visits: u64,
}

/// `F` and `d` of every genotype.
///
/// Generation by generation; the distinct crosses of a generation are given to their more used parent, the hub.
/// A hub's row of `T` is traced once, and its kinship to each partner follows by descent,
/// `K(j) = t_j d_j + sum_g w_g K(p_g)`, each ancestor visited once a hub.
pub(crate) fn inbreeding(gametes: &[[Option<Gamete>; 2]]) -> Inbreeding {
    let count = gametes.len();
    let mut found = Inbreeding { coefficients: vec![0.0; count], own: vec![0.0; count], visits: 0 };
    let mut level = vec![0usize; count];
    let mut generations: Vec<Vec<usize>> = Vec::new();
    for (at, gametes) in gametes.iter().enumerate() {
        let above = gametes.iter().flatten().map(|gamete| level[gamete.parent as usize] + 1).max();
        level[at] = above.unwrap_or(0);
        if generations.len() <= level[at] {
            generations.resize_with(level[at] + 1, Vec::new);
        }
        generations[level[at]].push(at);
    }
    let mut kinship: BTreeMap<(u32, u32), f64> = BTreeMap::new();
    let mut column = Column::new(count);
    for members in &generations {
        let crosses: Vec<(u32, u32)> = {
            let mut pairs: Vec<(u32, u32)> = members
                .iter()
                .filter_map(|&at| pair(&gametes[at]))
                .filter(|pair| !kinship.contains_key(pair))
                .collect();
            pairs.sort_unstable();
            pairs.dedup();
            pairs
        };
        for (hub, partners) in hubs(&crosses) {
            column.start(hub, gametes);
            for partner in partners {
                let value = column.kinship(partner, gametes, &found.own);
                kinship.insert((hub.min(partner), hub.max(partner)), value);
            }
            found.visits += column.finish();
        }
        for &at in members {
            let f = pair(&gametes[at]).and_then(|pair| kinship.get(&pair)).copied().unwrap_or(0.0);
            found.coefficients[at] = f;
            // phi(i, i) less what the parents' genes explain: sum_g w_g^2 phi(p, p) + 2 w_1 w_2 phi(p_1, p_2).
            let mut explained = 0.0;
            for gamete in gametes[at].iter().flatten() {
                explained +=
                    gamete.share * gamete.share * (1.0 + found.coefficients[gamete.parent as usize]) / 2.0;
            }
            if let [Some(seed), Some(pollen)] = gametes[at] {
                explained += 2.0 * seed.share * pollen.share * f;
            }
            found.own[at] = (f64::midpoint(1.0, f) - explained).max(0.0);
        }
    }
    found
}

fn pair(gametes: &[Option<Gamete>; 2]) -> Option<(u32, u32)> {
    let [Some(a), Some(b)] = gametes else { return None };
    Some((a.parent.min(b.parent), a.parent.max(b.parent)))
}

/// Every cross once, under its parent with more crosses (of equals the older).
fn hubs(crosses: &[(u32, u32)]) -> BTreeMap<u32, Vec<u32>> {
    let mut uses: BTreeMap<u32, u32> = BTreeMap::new();
    for &(a, b) in crosses {
        *uses.entry(a).or_default() += 1;
        *uses.entry(b).or_default() += 1;
    }
    let mut hubs: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for &(a, b) in crosses {
        let (hub, partner) = if uses.get(&b) > uses.get(&a) { (b, a) } else { (a, b) };
        hubs.entry(hub).or_default().push(partner);
    }
    hubs
}

/// The kinship of one genotype to others, by need.
struct Column {
    share: Vec<f64>,
    traced: Vec<u32>,
    value: Vec<f64>,
    known: Vec<bool>,
    touched: Vec<u32>,
    stack: Vec<u32>,
}

impl Column {
    fn new(count: usize) -> Self {
        Self {
            share: vec![0.0; count],
            traced: Vec::new(),
            value: vec![0.0; count],
            known: vec![false; count],
            touched: Vec::new(),
            stack: Vec::new(),
        }
    }

    fn start(&mut self, hub: u32, gametes: &[[Option<Gamete>; 2]]) {
        up(&[(hub, 1.0)], gametes, &mut self.share, |at, _| self.traced.push(at));
    }

    fn kinship(&mut self, partner: u32, gametes: &[[Option<Gamete>; 2]], own: &[f64]) -> f64 {
        self.stack.push(partner);
        while let Some(&at) = self.stack.last() {
            let here = at as usize;
            if self.known[here] {
                self.stack.pop();
                continue;
            }
            let before = self.stack.len();
            for gamete in gametes[here].iter().flatten() {
                if !self.known[gamete.parent as usize] {
                    self.stack.push(gamete.parent);
                }
            }
            if self.stack.len() > before {
                continue;
            }
            self.stack.pop();
            let mut value = self.share[here] * own[here];
            for gamete in gametes[here].iter().flatten() {
                value += gamete.share * self.value[gamete.parent as usize];
            }
            self.value[here] = value;
            self.known[here] = true;
            self.touched.push(at);
        }
        self.value[partner as usize]
    }

    /// Clears the column; how many genotypes it visited.
    fn finish(&mut self) -> u64 {
        let visits = self.traced.len() + self.touched.len();
        for at in self.traced.drain(..) {
            self.share[at as usize] = 0.0;
        }
        for at in self.touched.drain(..) {
            self.known[at as usize] = false;
        }
        visits as u64
    }
}

/// Traces a mixture of genotypes up to all their ancestors, youngest first: `visit(a, share)` for every one.
/// `share` is scratch of zeros, one for each genotype; the shares stay in it.
pub(crate) fn up(
    mixture: &[(u32, f64)],
    gametes: &[[Option<Gamete>; 2]],
    share: &mut [f64],
    mut visit: impl FnMut(u32, f64),
) {
    let mut young: BinaryHeap<u32> = BinaryHeap::new();
    for &(at, part) in mixture {
        if share[at as usize] == 0.0 {
            young.push(at);
        }
        share[at as usize] += part;
    }
    while let Some(at) = young.pop() {
        let part = share[at as usize];
        visit(at, part);
        for gamete in gametes[at as usize].iter().flatten() {
            let passed = part * gamete.share;
            let place = &mut share[gamete.parent as usize];
            // A share too small for a float is none: a parent is then neither queued nor queued again.
            if *place == 0.0 && passed > 0.0 {
                young.push(gamete.parent);
            }
            *place += passed;
        }
    }
}
