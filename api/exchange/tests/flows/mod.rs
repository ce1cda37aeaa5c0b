//! Flows with supplies and assignments, said as circulations.

use storksbill_exchange::circulation::{Channel, Circulation, Face, certified};

/// More than any cost here: every unit that can be sent is.
const REWARD: i64 = 1_000_000;

/// The least cost of sending all supplies (positive) to all demands (negative) over arcs
/// (from, to, capacity, cost); `None` where they cannot all be sent.
pub(crate) fn cheapest(arcs: &[(u32, u32, i64, i64)], supplies: &[i64]) -> Option<i64> {
    let hub = supplies.len() as u32;
    let mut channels: Vec<Channel> =
        arcs.iter().map(|&(from, to, capacity, _)| Channel { from, to, capacity }).collect();
    let mut profits: Vec<i64> = arcs.iter().map(|&(_, _, _, cost)| -cost).collect();
    for (node, &supply) in (0u32..).zip(supplies) {
        let (from, to) = if supply > 0 { (hub, node) } else { (node, hub) };
        channels.push(Channel { from, to, capacity: supply.abs() });
        profits.push(if supply > 0 { REWARD } else { 0 });
    }
    let nodes = supplies.len() + 1;
    let mut circulation = Circulation::new(nodes, channels.clone()).unwrap();
    let optimum = circulation.maximise(&profits).unwrap();
    let whole = Face::whole(&channels);
    assert!(certified(nodes, &channels, &whole, &profits, circulation.flow(), &optimum.potentials));
    let sent: i64 = supplies.iter().filter(|&&supply| supply > 0).sum();
    let all = (arcs.len()..channels.len()).all(|at| circulation.flow()[at] == channels[at].capacity);
    all.then(|| sent * REWARD - optimum.profit)
}

/// The least cost of a square assignment, and the column of each row.
pub(crate) fn assignment(costs: &[Vec<i64>]) -> (i64, Vec<usize>) {
    let rows = costs.len();
    let (hub, node) = (2 * rows as u32, |at: usize| at as u32);
    let mut channels = Vec::new();
    let mut profits = Vec::new();
    for (row, costs) in costs.iter().enumerate() {
        for (column, &cost) in costs.iter().enumerate() {
            channels.push(Channel { from: node(row), to: node(rows + column), capacity: 1 });
            profits.push(REWARD - cost);
        }
    }
    for at in 0..rows {
        channels.push(Channel { from: hub, to: node(at), capacity: 1 });
        channels.push(Channel { from: node(rows + at), to: hub, capacity: 1 });
    }
    profits.resize(channels.len(), 0);
    let mut circulation = Circulation::new(2 * rows + 1, channels).unwrap();
    let optimum = circulation.maximise(&profits).unwrap();
    let of = |row: usize| (0..rows).find(|&column| circulation.flow()[row * rows + column] == 1).unwrap();
    (rows as i64 * REWARD - optimum.profit, (0..rows).map(of).collect())
}
