//! Resistance between two points of a net of resistors: what a meter sees once bars bridge and conductors touch.

use std::collections::{BTreeMap, BTreeSet};

/// A resistor of less counts as this, ohm: no joint is better.
const LEAST_OHM: f64 = 1e-6;

/// A net of resistors between named nodes.
#[derive(Clone, Debug)]
pub(super) struct Network<N> {
    edges: Vec<(N, N, f64)>,
}

impl<N: Copy + Ord> Network<N> {
    pub(super) fn new() -> Network<N> {
        Network { edges: Vec::new() }
    }

    /// Joins two nodes by `ohm`.
    pub(super) fn join(&mut self, a: N, b: N, ohm: f64) {
        if a != b {
            self.edges.push((a, b, ohm.max(LEAST_OHM)));
        }
    }

    /// Resistance between two nodes, ohm; `None`: nothing leads from one to the other.
    ///
    /// One ampere is driven in at `from` and drawn at `to`; the voltages follow from Kirchhoff's current law, with
    /// `to` at zero.
    pub(super) fn between(&self, from: N, to: N) -> Option<f64> {
        if from == to {
            return Some(0.0);
        }
        let reached = self.reached(from);
        if !reached.contains(&to) {
            return None;
        }
        let nodes = reached.into_iter().filter(|node| *node != to);
        let index: BTreeMap<N, usize> = nodes.enumerate().map(|(index, node)| (node, index)).collect();
        let size = index.len();
        // One row for each node, the current driven in at its end.
        let mut rows = vec![vec![0.0; size + 1]; size];
        for (a, b, ohm) in &self.edges {
            let conductance = 1.0 / ohm;
            for (here, there) in [(a, b), (b, a)] {
                let Some(row) = index.get(here) else { continue };
                rows[*row][*row] += conductance;
                if let Some(column) = index.get(there) {
                    rows[*row][*column] -= conductance;
                }
            }
        }
        let driven = index[&from];
        rows[driven][size] = 1.0;
        Some(solved(rows, driven))
    }

    fn reached(&self, from: N) -> BTreeSet<N> {
        let mut reached = BTreeSet::from([from]);
        let mut open = vec![from];
        while let Some(node) = open.pop() {
            let beyond = self.edges.iter().filter_map(|(a, b, _)| match (*a == node, *b == node) {
                (true, _) => Some(*b),
                (_, true) => Some(*a),
                _ => None,
            });
            open.extend(beyond.filter(|next| reached.insert(*next)).collect::<Vec<_>>());
        }
        reached
    }
}

/// The unknown of row `wanted`, by elimination. The rows are those of a connected net with one node at zero: each
/// diagonal is at least the sum of the others in its row, so none becomes zero and no rows have to change places.
fn solved(mut rows: Vec<Vec<f64>>, wanted: usize) -> f64 {
    let last = rows.len() - 1;
    // The wanted one comes last, so that nothing has to be put in backwards.
    rows.swap(wanted, last);
    rows.iter_mut().for_each(|row| row.swap(wanted, last));
    for pivot in 0..last {
        let (above, below) = rows.split_at_mut(pivot + 1);
        let by = &above[pivot];
        for row in below {
            let share = row[pivot] / by[pivot];
            if share != 0.0 {
                row.iter_mut().zip(by).for_each(|(value, of)| *value -= share * of);
            }
        }
    }
    rows[last][last + 1] / rows[last][last]
}

#[cfg(test)]
mod tests {
    use super::Network;

    fn net(edges: &[(u8, u8, f64)]) -> Network<u8> {
        let mut net = Network::new();
        edges.iter().for_each(|(a, b, ohm)| net.join(*a, *b, *ohm));
        net
    }

    #[test]
    fn rows_bundles_and_bridges_are_what_the_book_says() {
        let near = |net: &Network<u8>, (from, to): (u8, u8), wanted: f64| {
            let found = net.between(from, to).unwrap();
            assert!((found - wanted).abs() < 1e-9, "{from}-{to}: {found} instead of {wanted}");
        };
        let row = net(&[(1, 2, 0.3), (2, 3, 0.5), (8, 9, 1.0)]);
        near(&row, (1, 3), 0.8);
        near(&row, (3, 1), 0.8);
        near(&row, (2, 2), 0.0);
        assert_eq!(row.between(1, 8), None, "two nets that do not touch");
        assert_eq!(row.between(1, 77), None);
        near(&net(&[(1, 2, 3.0), (2, 1, 6.0), (1, 1, 5.0)]), (1, 2), 2.0);
        // A bridge out of balance: 1, 2, 3 ohm and 4 ohm in its arms, 5 ohm across.
        let bridge = net(&[(1, 2, 1.0), (1, 3, 2.0), (2, 4, 3.0), (3, 4, 4.0), (2, 3, 5.0)]);
        // Star in place of the triangle 1-2-3: 0.25, 0.625 and 1.25 ohm.
        let by_star = 0.25 + 1.0 / (1.0 / (0.625 + 3.0) + 1.0 / (1.25 + 4.0));
        near(&bridge, (1, 4), by_star);
    }

    #[test]
    fn a_joint_without_resistance_is_a_very_small_one() {
        assert!(net(&[(1, 2, 0.0)]).between(1, 2).unwrap() < 1e-5);
    }
}
