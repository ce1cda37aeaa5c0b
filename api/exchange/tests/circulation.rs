//! The network simplex against exhaustive search, against two public solvers, and against tampering.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::cast_possible_wrap, reason = "test code")]
#![allow(clippy::cast_possible_truncation, reason = "test code, small numbers")]

use storksbill_exchange::circulation::{BadNetwork, Channel, Circulation, Face, certified, profit};

/// `SplitMix64` (G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA
/// 2014).
struct SplitMix(u64);

impl SplitMix {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) % n
    }
}

/// 5 to 20 nodes, parallel and empty arcs among them, profits from -40 to 60.
fn network(seed: u64) -> (usize, Vec<Channel>, Vec<i64>) {
    let mut random = SplitMix(seed);
    let nodes = 5 + random.below(16);
    let arcs = nodes + random.below(4 * nodes);
    let (mut channels, mut profits) = (Vec::new(), Vec::new());
    for _ in 0..arcs {
        let from = random.below(nodes);
        let to = (from + 1 + random.below(nodes - 1)) % nodes;
        let capacity = random.below(20) as i64;
        channels.push(Channel { from: from as u32, to: to as u32, capacity });
        profits.push(random.below(101) as i64 - 40);
    }
    (nodes as usize, channels, profits)
}

/// The largest profits of `network(0)` to `network(199)`: min-cost flow of OR-tools 9.15.6755, the same by
/// the linear programs of `HiGHS` (highspy 1.16.0).
#[rustfmt::skip]
const LARGEST: [i64; 200] = [
    2203, 233, 5676, 6744, 39, 64, 1558, 1817, 641, 1734, 145, 4832,
    2333, 0, 7059, 1599, 6218, 528, 0, 2190, 8778, 7855, 58, 2655,
    3064, 2178, 2390, 4279, 0, 399, 2936, 3691, 2851, 2199, 8290, 10_519,
    674, 658, 672, 979, 0, 0, 2021, 4235, 0, 4202, 5431, 724,
    0, 43, 8115, 5052, 4889, 1024, 116, 3357, 2117, 4300, 1967, 6419,
    8066, 3727, 11, 4559, 3286, 43, 694, 0, 4377, 394, 8348, 10_721,
    7566, 948, 6477, 4110, 1185, 1262, 4036, 6, 4726, 1695, 1230, 980,
    698, 7353, 3067, 398, 168, 1701, 0, 392, 8195, 5832, 1654, 5060,
    854, 657, 3098, 180, 0, 4092, 6432, 2326, 3347, 623, 2494, 2184,
    1918, 2450, 5941, 2733, 1413, 1026, 424, 1462, 1534, 3938, 1750, 5109,
    312, 826, 1071, 5407, 8838, 0, 2048, 794, 9165, 517, 1543, 2052,
    440, 5610, 3765, 2080, 1381, 654, 1415, 1028, 356, 4095, 0, 0,
    1807, 5089, 983, 7832, 4265, 0, 238, 3509, 2833, 2025, 5184, 240,
    3170, 154, 5826, 3361, 2909, 1087, 1118, 1918, 1349, 1155, 1143, 864,
    786, 0, 3422, 2064, 284, 7138, 4067, 0, 3997, 795, 498, 12_558,
    1587, 2005, 638, 5761, 502, 0, 8213, 711, 0, 0, 4020, 2880,
    1840, 8445, 6378, 896, 2550, 3892, 1986, 1700,
];

#[test]
fn agrees_with_two_public_solvers_on_two_hundred_networks() {
    for (seed, &largest) in (0..).zip(&LARGEST) {
        let (nodes, arcs, profits) = network(seed);
        let mut circulation = Circulation::new(nodes, arcs.clone()).unwrap();
        let optimum = circulation.maximise(&profits).unwrap();
        assert_eq!(optimum.profit, largest, "network {seed}");
        let whole = Face::whole(&arcs);
        assert!(certified(nodes, &arcs, &whole, &profits, circulation.flow(), &optimum.potentials));
    }
}

/// Every circulation of a network, by trying all flows.
fn every(nodes: usize, arcs: &[Channel]) -> Vec<Vec<i64>> {
    let whole = Face::whole(arcs);
    let zero = vec![0; arcs.len()];
    let mut all = Vec::new();
    let mut flow = zero.clone();
    loop {
        if profit(nodes, arcs, &whole, &zero, &flow).is_some() {
            all.push(flow.clone());
        }
        let Some(at) = (0..arcs.len()).find(|&at| flow[at] < arcs[at].capacity) else { return all };
        flow[..at].fill(0);
        flow[at] += 1;
    }
}

/// Two aims in order, then the first of all: the same as among all circulations.
#[test]
fn agrees_with_exhaustive_search() {
    let mut random = SplitMix(7);
    let (mut worth_it, mut second, mut tied) = (0, 0, 0);
    for case in 0..1500 {
        let nodes = 2 + random.below(4) as usize;
        let arcs: Vec<Channel> = (0..3 + random.below(7))
            .map(|_| Channel {
                from: random.below(nodes as u64) as u32,
                to: random.below(nodes as u64) as u32, // loops too
                capacity: random.below(3) as i64,
            })
            .collect();
        let aims: Vec<Vec<i64>> =
            (0..2).map(|_| arcs.iter().map(|_| random.below(3) as i64 - 1).collect()).collect();
        let value = |aim: &[i64], flow: &[i64]| -> i64 { aim.iter().zip(flow).map(|(p, f)| p * f).sum() };
        let all = every(nodes, &arcs);
        let first =
            all.iter().max_by_key(|flow| (value(&aims[0], flow), value(&aims[1], flow), *flow)).unwrap();

        let mut circulation = Circulation::new(nodes, arcs.clone()).unwrap();
        for aim in &aims {
            let face = circulation.face().clone();
            let optimum = circulation.maximise(aim).unwrap();
            assert_eq!(optimum.profit, value(aim, first), "case {case}");
            assert!(certified(nodes, &arcs, &face, aim, circulation.flow(), &optimum.potentials));
            circulation.keep_best(aim, &optimum).unwrap();
        }
        // What is left of the bounds are exactly the circulations that are best in both.
        let best: Vec<&Vec<i64>> =
            all.iter().filter(|flow| aims.iter().all(|aim| value(aim, flow) == value(aim, first))).collect();
        for flow in &all {
            let within = profit(nodes, &arcs, circulation.face(), &aims[0], flow).is_some();
            assert_eq!(within, best.contains(&flow), "case {case}");
        }
        worth_it += i32::from(value(&aims[0], first) > 0);
        second += i32::from(value(&aims[1], first) != 0);
        tied += i32::from(best.len() > 1);
        assert_eq!(&circulation.first_in_order(arcs.len()), first, "case {case}");
    }
    assert!(worth_it > 500 && second > 500 && tied > 200, "{worth_it} {second} {tied}");
}

#[test]
fn a_wrong_certificate_is_found_out() {
    let (nodes, arcs, profits) = network(3);
    let mut circulation = Circulation::new(nodes, arcs.clone()).unwrap();
    let optimum = circulation.maximise(&profits).unwrap();
    let whole = Face::whole(&arcs);
    assert!(optimum.profit > 0);
    // Other potentials bound less tightly, and a flow that is not conserved is none.
    let zero = vec![0; nodes];
    assert!(whole.bound(&arcs, &profits, &zero).unwrap() > i128::from(optimum.profit));
    assert!(!certified(nodes, &arcs, &whole, &profits, circulation.flow(), &zero));
    let mut leaking = circulation.flow().to_vec();
    let at = leaking.iter().position(|&flow| flow > 0).unwrap();
    leaking[at] -= 1;
    assert_eq!(profit(nodes, &arcs, &whole, &profits, &leaking), None);
    let empty = vec![0; arcs.len()];
    assert_eq!(profit(nodes, &arcs, &whole, &profits, &empty), Some(0));
    assert!(!certified(nodes, &arcs, &whole, &profits, &empty, &optimum.potentials));
}

#[test]
fn bad_networks_are_refused() {
    let arc = |from, to, capacity| Channel { from, to, capacity };
    let new = |arcs: Vec<Channel>| Circulation::new(2, arcs).map(|_| ());
    assert_eq!(new(vec![arc(0, 2, 1)]), Err(BadNetwork::NoSuchNode { arc: 0 }));
    assert_eq!(new(vec![arc(0, 1, 1), arc(1, 0, -1)]), Err(BadNetwork::NegativeCapacity { arc: 1 }));
    assert_eq!(new(vec![arc(0, 1, i64::MAX)]), Err(BadNetwork::TooLarge));
    let mut pair = Circulation::new(2, vec![arc(0, 1, 1 << 40), arc(1, 0, 1 << 40)]).unwrap();
    assert_eq!(pair.maximise(&[1]).unwrap_err(), BadNetwork::WrongLength { expected: 2, found: 1 });
    assert_eq!(pair.maximise(&[i64::MAX, 1]).unwrap_err(), BadNetwork::TooLarge);
    assert_eq!(pair.maximise(&[1 << 30, 0]).unwrap_err(), BadNetwork::TooLarge); // 2^70
    assert_eq!(pair.maximise(&[1 << 20, -1]).unwrap().profit, (1 << 60) - (1 << 40));
    assert_eq!(Circulation::new(0, vec![]).unwrap().maximise(&[]).unwrap().profit, 0);
}
