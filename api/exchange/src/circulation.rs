//! The circulation of largest profit, by the primal network simplex method in integers.
//!
//! # Model
//!
//! On nodes `0..n` and arcs `a = (from, to, capacity)` with profits `p(a)`:
//!
//! ```text
//! max  sum_a p(a) f(a)
//!      sum_{a into v} f(a) = sum_{a out of v} f(a)     each node v
//!      low(a) <= f(a) <= high(a)                       each arc a
//! ```
//!
//! At first `low = 0` and `high = capacity`. For any numbers `y(v)` (*potentials*), with the reduced profit
//! `r(a) = p(a) + y(from) - y(to)`, conservation gives `sum p f = sum r f`, hence
//!
//! ```text
//! sum_a p(a) f(a)  <=  sum_a  high(a) r(a) where r(a) > 0,  low(a) r(a) where r(a) < 0        (the bound)
//! ```
//!
//! and a circulation is best exactly when it reaches the bound of some potentials, that is when `f = high`
//! where `r > 0` and `f = low` where `r < 0`. That is also what *all* best circulations have in common, whichever
//! best potentials are taken (complementary slackness): fixing those arcs leaves the *optimal face*, on which
//! the next of several aims is sought. Any number of aims in order, without large weights.
//!
//! # Method
//!
//! A basis is a spanning tree over the nodes and one more, the root; arcs outside it are at a bound. Every
//! node starts under the root by an arc of its own; nothing leaves the root, so those arcs never carry
//! anything and the empty circulation is a start. An arc whose reduced profit is to be gained enters, the
//! flow turns on the cycle it closes, and a blocked arc leaves: the last one met along the cycle from its
//! apex on, which keeps the tree *strongly feasible* (from every node some flow can be sent to the root) and
//! excludes cycling. Entering arcs are sought block by block, the best of a block. A new aim starts from the
//! tree of the one before.
//!
//! # Sources
//!
//! G. B. Dantzig, *Linear Programming and Extensions*, Princeton 1963, chapters 17-18; W. H. Cunningham, "A
//! network simplex method", Mathematical Programming 11, 1976, 105-116 (strongly feasible trees); R. K.
//! Ahuja, T. L. Magnanti, J. B. Orlin, *Network Flows*, Prentice Hall 1993, chapter 11.
//!
//! # Cost
//!
//! `O(sqrt(m))` arcs looked at for a pivot, and the part of the tree that is hung elsewhere. No polynomial
//! bound on the number of pivots is claimed; the benchmark `meeting` shows it. Memory: 68 bytes an arc, 40 a
//! node.
#![allow(
    clippy::indexing_slicing,
    reason = "nodes and arcs are numbered densely and checked by Circulation::new"
)]

/// An arc of a network: up to `capacity` units may flow from node `from` to node `to`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Channel {
    pub from: u32,
    pub to: u32,
    pub capacity: i64,
}

/// A network or profits that cannot be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum BadNetwork {
    /// The arc at this place starts or ends at a node that is not there.
    #[error("arc {arc} names a node that is not in the network")]
    NoSuchNode { arc: usize },
    /// The capacity of the arc at this place is negative.
    #[error("the capacity of arc {arc} is negative")]
    NegativeCapacity { arc: usize },
    /// There is not one profit, flow or potential for each arc or node.
    #[error("{found} numbers given where {expected} belong")]
    WrongLength { expected: usize, found: usize },
    /// Sums of capacities or profits may leave 62 bits, or there are 2^30 arcs or nodes.
    #[error("the network is too large for 62-bit sums")]
    TooLarge,
}

/// Between what bounds the flow of each arc may lie: a face of the polytope of circulations.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Face {
    low: Vec<i64>,
    high: Vec<i64>,
}

impl Face {
    /// All circulations: nothing to the capacity on every arc.
    #[must_use]
    pub fn whole(arcs: &[Channel]) -> Self {
        Self { low: vec![0; arcs.len()], high: arcs.iter().map(|arc| arc.capacity).collect() }
    }

    /// Least and largest flow of the arc at this place.
    pub fn bounds(&self, arc: usize) -> Option<(i64, i64)> {
        Some((*self.low.get(arc)?, *self.high.get(arc)?))
    }

    /// What no circulation of this face exceeds, by the potentials of the nodes: see the head of the file.
    /// True for any potentials; nothing else is trusted. `O(m)`.
    ///
    /// # Errors
    ///
    /// [`BadNetwork::WrongLength`], or [`BadNetwork::NoSuchNode`] where a potential is missing.
    pub fn bound(&self, arcs: &[Channel], profits: &[i64], potentials: &[i64]) -> Result<i128, BadNetwork> {
        let mut sum = 0i128;
        self.each(arcs, profits, potentials, |_, reduced, low, high| {
            sum += reduced * i128::from(if reduced > 0 { high } else { low });
        })?;
        Ok(sum)
    }

    /// Keeps of this face what reaches the bound of these potentials. Where some circulation does, that is
    /// the face of all best ones. `O(m)`.
    ///
    /// # Errors
    ///
    /// As [`Self::bound`].
    pub fn keep_best(
        &mut self,
        arcs: &[Channel],
        profits: &[i64],
        potentials: &[i64],
    ) -> Result<(), BadNetwork> {
        let mut fixed = Vec::new();
        self.each(arcs, profits, potentials, |arc, reduced, low, high| {
            if low < high && reduced != 0 {
                fixed.push((arc, if reduced > 0 { high } else { low }));
            }
        })?;
        for (arc, flow) in fixed {
            self.low[arc] = flow;
            self.high[arc] = flow;
        }
        Ok(())
    }

    fn each(
        &self,
        arcs: &[Channel],
        profits: &[i64],
        potentials: &[i64],
        mut arc_with: impl FnMut(usize, i128, i64, i64),
    ) -> Result<(), BadNetwork> {
        same_length(arcs.len(), profits.len())?;
        same_length(arcs.len(), self.low.len())?;
        for (at, (arc, &profit)) in arcs.iter().zip(profits).enumerate() {
            let (Some(&from), Some(&to)) =
                (potentials.get(arc.from as usize), potentials.get(arc.to as usize))
            else {
                return Err(BadNetwork::NoSuchNode { arc: at });
            };
            arc_with(at, i128::from(profit) + i128::from(from) - i128::from(to), self.low[at], self.high[at]);
        }
        Ok(())
    }
}

/// The best of a circulation: its profit and potentials whose bound is that profit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Optimum {
    pub profit: i64,
    /// One for each node.
    pub potentials: Vec<i64>,
}

/// Profit of `flow`, if it is a circulation within the bounds of `face`.
pub fn profit(nodes: usize, arcs: &[Channel], face: &Face, profits: &[i64], flow: &[i64]) -> Option<i128> {
    if arcs.len() != flow.len() || arcs.len() != profits.len() {
        return None;
    }
    let mut excess = vec![0i128; nodes];
    for (at, (arc, &flow)) in arcs.iter().zip(flow).enumerate() {
        let (low, high) = face.bounds(at)?;
        if flow < low || flow > high {
            return None;
        }
        *excess.get_mut(arc.from as usize)? -= i128::from(flow);
        *excess.get_mut(arc.to as usize)? += i128::from(flow);
    }
    excess.iter().all(|&left| left == 0).then(|| total(profits, flow))
}

/// Whether `flow` is a best circulation, shown by `potentials`: it is one, and its profit is their bound.
pub fn certified(
    nodes: usize,
    arcs: &[Channel],
    face: &Face,
    profits: &[i64],
    flow: &[i64],
    potentials: &[i64],
) -> bool {
    let reached = profit(nodes, arcs, face, profits, flow);
    reached.is_some() && reached == face.bound(arcs, profits, potentials).ok()
}

fn total(profits: &[i64], flow: &[i64]) -> i128 {
    profits.iter().zip(flow).map(|(&profit, &flow)| i128::from(profit) * i128::from(flow)).sum()
}

fn same_length(expected: usize, found: usize) -> Result<(), BadNetwork> {
    if expected == found { Ok(()) } else { Err(BadNetwork::WrongLength { expected, found }) }
}

const NONE: u32 = u32::MAX;
/// Sums stay below this.
const LIMIT: i128 = 1 << 62;

/// Places were counted when the circulation was made: they fit.
fn number(at: usize) -> u32 {
    u32::try_from(at).unwrap_or(NONE)
}

/// Of a [`Node::link`].
fn points_up(link: u32) -> bool {
    link & 1 == 0
}

/// A node of the spanning tree. Children are a doubly linked list.
#[derive(Debug, Clone, Copy)]
struct Node {
    parent: u32,
    /// The arc to the parent: twice its number, plus one when it points down, from the parent to this node.
    link: u32,
    child: u32,
    next: u32,
    previous: u32,
    mark: u32,
}

/// What the search of the entering arc has to know of an arc.
#[derive(Debug, Clone, Copy)]
struct Candidate {
    profit: i64,
    from: u32,
    to: u32,
    arc: u32,
    /// The sign of the reduced profits worth entering for, 0 where the arc cannot enter.
    gains: i32,
}

const AT_LOW: i32 = 1;
const AT_HIGH: i32 = -1;
const IN_TREE: i32 = 0;
const FIXED: i32 = 0;

/// A network with a circulation on it and the tree that goes with it.
#[derive(Debug, Clone)]
pub struct Circulation {
    arcs: Vec<Channel>,
    /// In the order of search: arcs far apart in the caller's order come together, as neighbours there tend
    /// to compete for the same nodes. About a third fewer pivots on meetings.
    candidates: Vec<Candidate>,
    /// By arc: its place among the candidates.
    seats: Vec<u32>,
    nodes: Vec<Node>,
    /// Of the nodes, then of the root, which stays 0.
    potentials: Vec<i64>,
    face: Face,
    /// Of the arcs, then of each node's arc to the root, which is always 0.
    flow: Vec<i64>,
    marks: u32,
    scan: usize,
    pivots: u64,
}

impl Circulation {
    /// The empty circulation on `nodes` nodes.
    ///
    /// # Errors
    ///
    /// [`BadNetwork`], the first found.
    pub fn new(nodes: usize, arcs: Vec<Channel>) -> Result<Self, BadNetwork> {
        let most = usize::try_from(NONE / 4).unwrap_or(usize::MAX);
        if nodes >= most || arcs.len() >= most {
            return Err(BadNetwork::TooLarge);
        }
        let mut sum = 0i128;
        for (at, arc) in arcs.iter().enumerate() {
            if arc.from as usize >= nodes || arc.to as usize >= nodes {
                return Err(BadNetwork::NoSuchNode { arc: at });
            }
            if arc.capacity < 0 {
                return Err(BadNetwork::NegativeCapacity { arc: at });
            }
            sum += i128::from(arc.capacity);
        }
        if sum >= LIMIT {
            return Err(BadNetwork::TooLarge);
        }
        let face = Face::whole(&arcs);
        let candidates = candidates(&arcs);
        let mut seats = vec![0; arcs.len()];
        for (seat, candidate) in candidates.iter().enumerate() {
            seats[candidate.arc as usize] = number(seat);
        }
        Ok(Self {
            candidates,
            seats,
            nodes: star(nodes, arcs.len()),
            potentials: vec![0; nodes + 1],
            flow: vec![0; arcs.len() + nodes],
            face,
            arcs,
            marks: 0,
            scan: 0,
            pivots: 0,
        })
    }

    /// The arcs, as given.
    pub fn arcs(&self) -> &[Channel] {
        &self.arcs
    }

    /// The present flow of each arc.
    pub fn flow(&self) -> &[i64] {
        &self.flow[..self.arcs.len()]
    }

    /// The bounds in force.
    pub fn face(&self) -> &Face {
        &self.face
    }

    /// How many times the tree has been changed or an arc been filled or emptied.
    pub fn pivots(&self) -> u64 {
        self.pivots
    }

    /// Makes the flow one of largest profit within the present bounds, and keeps the present bounds.
    ///
    /// # Errors
    ///
    /// [`BadNetwork::WrongLength`], [`BadNetwork::TooLarge`].
    pub fn maximise(&mut self, profits: &[i64]) -> Result<Optimum, BadNetwork> {
        same_length(self.arcs.len(), profits.len())?;
        let largest = profits.iter().map(|&profit| i128::from(profit).abs()).max().unwrap_or(0);
        // A potential adds up at most one profit for each arc of the tree.
        if 4 * largest * self.nodes.len() as i128 >= LIMIT {
            return Err(BadNetwork::TooLarge);
        }
        for candidate in &mut self.candidates {
            candidate.profit = profits[candidate.arc as usize];
        }
        self.reckon_potentials();
        while let Some((candidate, reduced)) = self.entering() {
            self.pivot(candidate, reduced);
        }
        let root = self.nodes.len() - 1;
        let profit = total(profits, self.flow());
        let profit = i64::try_from(profit).map_err(|_too_large| BadNetwork::TooLarge)?;
        Ok(Optimum { profit, potentials: self.potentials[..root].to_vec() })
    }

    /// Narrows the bounds to the best circulations for these profits, so that another aim can be sought among
    /// them: `optimum` must come from [`Self::maximise`] with the same `profits`, nothing in between.
    ///
    /// # Errors
    ///
    /// [`BadNetwork::WrongLength`].
    pub fn keep_best(&mut self, profits: &[i64], optimum: &Optimum) -> Result<(), BadNetwork> {
        same_length(self.nodes.len() - 1, optimum.potentials.len())?;
        self.face.keep_best(&self.arcs, profits, &optimum.potentials)?;
        for candidate in &mut self.candidates {
            let arc = candidate.arc as usize;
            if self.face.low[arc] == self.face.high[arc] {
                candidate.gains = FIXED;
            }
        }
        Ok(())
    }

    /// The circulation within the present bounds that sends as much as possible over the first arc, then over
    /// the second, and so on for the first `count` arcs: there is one such choice of flows on them.
    ///
    /// An arc can carry more exactly when what is left open has a path from its end back to its start. A
    /// search that fails has seen everything on the near side of a border that nothing can cross any more, so
    /// it also settles the arcs across. Cost: at most a search for each node, and one for each arc that is
    /// filled.
    #[must_use]
    pub fn first_in_order(self, count: usize) -> Vec<i64> {
        Residual::new(self).first_in_order(count)
    }

    fn reckon_potentials(&mut self) {
        let root = number(self.nodes.len() - 1);
        let mut node = self.nodes[root as usize].child;
        while node != NONE {
            let Node { parent, link, .. } = self.nodes[node as usize];
            let arc = link as usize / 2;
            let profit = self.seats.get(arc).map_or(0, |&seat| self.candidates[seat as usize].profit);
            let above = self.potentials[parent as usize];
            self.potentials[node as usize] = if points_up(link) { above - profit } else { above + profit };
            node = self.after(node, root);
        }
    }

    /// The next node of the subtree of `top` in preorder.
    fn after(&self, mut node: u32, top: u32) -> u32 {
        let child = self.nodes[node as usize].child;
        if child != NONE {
            return child;
        }
        while node != top {
            let Node { next, parent, .. } = self.nodes[node as usize];
            if next != NONE {
                return next;
            }
            node = parent;
        }
        NONE
    }

    /// The arc with most to gain of the next block that has one.
    fn entering(&mut self) -> Option<(Candidate, i64)> {
        let arcs = self.candidates.len();
        let block = arcs.isqrt().max(16);
        let mut left = arcs;
        while left > 0 {
            let start = if self.scan < arcs { self.scan } else { 0 };
            let end = arcs.min(start + block.min(left));
            let mut best = None;
            let mut most = 0;
            for candidate in &self.candidates[start..end] {
                let from = self.potentials[candidate.from as usize];
                let reduced = candidate.profit + from - self.potentials[candidate.to as usize];
                let gain = reduced * i64::from(candidate.gains);
                if gain > most {
                    most = gain;
                    best = Some((*candidate, reduced));
                }
            }
            self.scan = end;
            if best.is_some() {
                return best;
            }
            left -= end - start;
        }
        None
    }

    /// What can still flow on the arc between `node` and its parent, in the direction of `up`.
    fn room(&self, node: u32, up: bool) -> i64 {
        let link = self.nodes[node as usize].link;
        let arc = link as usize / 2;
        if arc >= self.arcs.len() {
            // Nothing leaves the root: its arcs carry nothing, and would take anything.
            return if up { i64::MAX } else { 0 };
        }
        if points_up(link) == up {
            self.face.high[arc] - self.flow[arc]
        } else {
            self.flow[arc] - self.face.low[arc]
        }
    }

    fn add(&mut self, node: u32, up: bool, amount: i64) {
        let link = self.nodes[node as usize].link;
        self.flow[link as usize / 2] += if points_up(link) == up { amount } else { -amount };
    }

    /// The lowest common ancestor, by climbing from both in turn until one meets the marks of the other.
    fn apex(&mut self, one: u32, other: u32) -> u32 {
        if self.marks >= NONE - 1 {
            self.marks = 0;
            for node in &mut self.nodes {
                node.mark = 0;
            }
        }
        self.marks += 1;
        let (mut one, mut other) = (one, other);
        loop {
            if one != NONE {
                let node = &mut self.nodes[one as usize];
                if node.mark == self.marks {
                    return one;
                }
                node.mark = self.marks;
                one = node.parent;
            }
            std::mem::swap(&mut one, &mut other);
        }
    }

    fn pivot(&mut self, candidate: Candidate, reduced: i64) {
        self.pivots += 1;
        let Candidate { from, to, arc, gains, .. } = candidate;
        let entering = arc as usize;
        let (tail, head) = if gains == AT_LOW { (from, to) } else { (to, from) };
        let apex = self.apex(tail, head);
        // The last blocked arc along the cycle from the apex: down to the tail, over the entering arc, up
        // again.
        let mut amount = self.face.high[entering] - self.face.low[entering];
        let mut leaves = None;
        let mut node = tail;
        while node != apex {
            let room = self.room(node, false);
            if room < amount {
                amount = room;
                leaves = Some((node, false));
            }
            node = self.nodes[node as usize].parent;
        }
        node = head;
        while node != apex {
            let room = self.room(node, true);
            if room <= amount {
                amount = room;
                leaves = Some((node, true));
            }
            node = self.nodes[node as usize].parent;
        }
        if amount > 0 {
            self.flow[entering] += amount * i64::from(gains);
            for (end, up) in [(tail, false), (head, true)] {
                let mut node = end;
                while node != apex {
                    self.add(node, up, amount);
                    node = self.nodes[node as usize].parent;
                }
            }
        }
        let Some((below, beyond)) = leaves else {
            self.becomes(entering, -gains);
            return;
        };
        let link = self.nodes[below as usize].link;
        let leaving = link as usize / 2;
        // Whether the flow of the leaving arc grew until it was full.
        let filled = points_up(link) == beyond;
        let fixed = self.face.bounds(leaving).is_some_and(|(low, high)| low == high);
        self.becomes(
            leaving,
            if fixed {
                FIXED
            } else if filled {
                AT_HIGH
            } else {
                AT_LOW
            },
        );
        self.becomes(entering, IN_TREE);
        let (inner, outer) = if beyond { (head, tail) } else { (tail, head) };
        self.hang(inner, outer, below, entering);
        // The reduced profit of the entering arc becomes 0.
        let shift = if inner == to { reduced } else { -reduced };
        let mut node = inner;
        while node != NONE {
            self.potentials[node as usize] += shift;
            node = self.after(node, inner);
        }
    }

    /// Says where an arc is now. Arcs to the root never enter.
    fn becomes(&mut self, arc: usize, gains: i32) {
        if let Some(&seat) = self.seats.get(arc) {
            self.candidates[seat as usize].gains = gains;
        }
    }

    /// Cuts the subtree of `below` off, turns it so that `inner` is its top, and hangs it under `outer` by
    /// `arc`.
    fn hang(&mut self, inner: u32, outer: u32, below: u32, arc: usize) {
        let mut link = 2 * number(arc) + u32::from(self.arcs[arc].to == inner);
        let (mut node, mut above) = (inner, outer);
        loop {
            let Node { parent, link: old, .. } = self.nodes[node as usize];
            self.unlink(node);
            self.link(node, above, link);
            if node == below {
                return;
            }
            // The arc that led up from this node now leads up to it.
            link = old ^ 1;
            (above, node) = (node, parent);
        }
    }

    fn unlink(&mut self, node: u32) {
        let Node { parent, next, previous, .. } = self.nodes[node as usize];
        if previous == NONE {
            self.nodes[parent as usize].child = next;
        } else {
            self.nodes[previous as usize].next = next;
        }
        if next != NONE {
            self.nodes[next as usize].previous = previous;
        }
    }

    fn link(&mut self, node: u32, parent: u32, link: u32) {
        let first = std::mem::replace(&mut self.nodes[parent as usize].child, node);
        if first != NONE {
            self.nodes[first as usize].previous = node;
        }
        let node = &mut self.nodes[node as usize];
        node.parent = parent;
        node.link = link;
        node.previous = NONE;
        node.next = first;
    }
}

/// What can still be changed in a circulation.
struct Residual {
    arcs: Vec<Channel>,
    face: Face,
    flow: Vec<i64>,
    /// `ends[first[v]..first[v + 1]]`: the arcs at node `v` that are not fixed.
    first: Vec<u32>,
    ends: Vec<u32>,
    /// Nothing flows any more between nodes of different parts.
    part: Vec<u32>,
    parts: u32,
    /// By node, in the present search: the arc it was reached by.
    reached_by: Vec<u32>,
    reached: Vec<u32>,
}

impl Residual {
    fn new(circulation: Circulation) -> Self {
        let nodes = circulation.nodes.len() - 1;
        let Circulation { arcs, face, mut flow, .. } = circulation;
        flow.truncate(arcs.len());
        let open = |at: usize| face.low[at] < face.high[at];
        let mut first = vec![0u32; nodes + 1];
        for (_, arc) in arcs.iter().enumerate().filter(|&(at, _)| open(at)) {
            first[arc.from as usize] += 1;
            first[arc.to as usize] += 1;
        }
        let mut sum = 0;
        for place in &mut first {
            sum += *place;
            *place = sum;
        }
        let mut ends = vec![0u32; sum as usize];
        for (at, arc) in arcs.iter().enumerate().filter(|&(at, _)| open(at)) {
            for node in [arc.to, arc.from] {
                first[node as usize] -= 1;
                ends[first[node as usize] as usize] = number(at);
            }
        }
        Self {
            arcs,
            face,
            flow,
            first,
            ends,
            part: vec![0; nodes],
            parts: 0,
            reached_by: vec![NONE; nodes],
            reached: Vec::new(),
        }
    }

    fn first_in_order(mut self, count: usize) -> Vec<i64> {
        for at in 0..count.min(self.arcs.len()) {
            let Channel { from, to, .. } = self.arcs[at];
            while self.flow[at] < self.face.high[at] && self.part[from as usize] == self.part[to as usize] {
                if self.search(to, from, at) {
                    self.turn(to, from, at);
                } else {
                    self.parts += 1;
                    for &node in &self.reached {
                        self.part[node as usize] = self.parts;
                    }
                }
                for &node in &self.reached {
                    self.reached_by[node as usize] = NONE;
                }
            }
            self.face.low[at] = self.flow[at];
            self.face.high[at] = self.flow[at];
        }
        self.flow
    }

    /// Looks for a way from `start` to `goal` over what is left open, without arc `but`; breadth first.
    fn search(&mut self, start: u32, goal: u32, but: usize) -> bool {
        self.reached.clear();
        self.reached.push(start);
        // The start counts as reached, by an arc that leads nowhere.
        self.reached_by[start as usize] = NONE - 1;
        let mut at = 0;
        while let Some(&node) = self.reached.get(at) {
            if node == goal {
                return true;
            }
            at += 1;
            for end in self.first[node as usize]..self.first[node as usize + 1] {
                let arc = self.ends[end as usize] as usize;
                let Channel { from, to, .. } = self.arcs[arc];
                let (open, next) = if from == node {
                    (self.flow[arc] < self.face.high[arc], to)
                } else {
                    (self.flow[arc] > self.face.low[arc], from)
                };
                if open
                    && arc != but
                    && self.reached_by[next as usize] == NONE
                    && self.part[next as usize] == self.part[start as usize]
                {
                    self.reached_by[next as usize] = number(arc);
                    self.reached.push(next);
                }
            }
        }
        false
    }

    /// Sends as much as possible over arc `at` and back over the way found.
    fn turn(&mut self, start: u32, goal: u32, at: usize) {
        let mut amount = self.face.high[at] - self.flow[at];
        for change in [false, true] {
            let mut node = goal;
            while node != start {
                let arc = self.reached_by[node as usize] as usize;
                let Channel { from, to, .. } = self.arcs[arc];
                let forward = to == node;
                if change {
                    self.flow[arc] += if forward { amount } else { -amount };
                } else {
                    let room = if forward {
                        self.face.high[arc] - self.flow[arc]
                    } else {
                        self.flow[arc] - self.face.low[arc]
                    };
                    amount = amount.min(room);
                }
                node = if forward { from } else { to };
            }
        }
        self.flow[at] += amount;
    }
}

/// Every `sqrt(m)`th arc from the first on, then from the second, and so on.
fn candidates(arcs: &[Channel]) -> Vec<Candidate> {
    let stride = arcs.len().isqrt().max(1);
    let candidate = |at: usize| {
        let Channel { from, to, capacity } = arcs[at];
        let gains = if capacity > 0 { AT_LOW } else { FIXED };
        Candidate { profit: 0, from, to, arc: number(at), gains }
    };
    (0..stride).flat_map(|start| (start..arcs.len()).step_by(stride)).map(candidate).collect()
}

/// Every node under the root, which comes last.
fn star(nodes: usize, arcs: usize) -> Vec<Node> {
    let (root, last) = (number(nodes), number(nodes).wrapping_sub(1));
    let leaf = |at: u32| Node {
        parent: root,
        link: 2 * (number(arcs) + at),
        child: NONE,
        next: if at == last { NONE } else { at + 1 },
        previous: if at == 0 { NONE } else { at - 1 },
        mark: 0,
    };
    let mut tree: Vec<Node> = (0..root).map(leaf).collect();
    let child = if nodes == 0 { NONE } else { 0 };
    tree.push(Node { parent: NONE, link: NONE, child, next: NONE, previous: NONE, mark: 0 });
    tree
}
