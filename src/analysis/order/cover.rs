//! The fewest records that count for every row.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use super::Node;

/// Up to this many choices, every combination is tried.
const CHOICES: usize = 14;

/// The fewest records that count for every row, of equals those that each row would best be shown by, and whether it is certain that there are no fewer.
pub(super) fn cover(able: &BTreeMap<usize, Vec<Node>>) -> (Vec<Node>, bool) {
    let mut open: BTreeMap<usize, BTreeSet<&Node>> =
        able.iter().map(|(row, nodes)| (*row, nodes.iter().collect())).collect();
    let mut chosen: BTreeSet<&Node> = BTreeSet::new();
    // A row with one choice leaves none.
    let forced: Vec<&Node> = open.values().filter(|nodes| nodes.len() == 1).flatten().copied().collect();
    chosen.extend(forced);
    open.retain(|_, nodes| nodes.is_disjoint(&chosen));
    let mut shortest = true;
    while let Some((first, _)) = open.first_key_value().map(|(row, nodes)| (*row, nodes.len())) {
        let group = connected(&open, first);
        let rows: Vec<&[Node]> = group.iter().filter_map(|row| able.get(row)).map(Vec::as_slice).collect();
        let choices: Vec<&Node> = rows.iter().copied().flatten().collect::<BTreeSet<_>>().into_iter().collect();
        let best = if choices.len() <= CHOICES { fewest(&rows, &choices) } else { None };
        shortest &= best.is_some();
        chosen.extend(best.unwrap_or_else(|| greedy(&rows)));
        open.retain(|row, _| !group.contains(row));
    }
    (chosen.into_iter().cloned().collect(), shortest)
}

/// The rows that share choices with one, or with one that does.
fn connected(open: &BTreeMap<usize, BTreeSet<&Node>>, first: usize) -> BTreeSet<usize> {
    let mut group = BTreeSet::from([first]);
    let mut waiting = vec![first];
    while let Some(at) = waiting.pop() {
        for (row, nodes) in open {
            if open.get(&at).is_some_and(|own| !own.is_disjoint(nodes)) && group.insert(*row) {
                waiting.push(*row);
            }
        }
    }
    group
}

/// The smallest set of choices that has one of every row; of equals the one that has those that stand first in their rows.
fn fewest<'n>(rows: &[&'n [Node]], choices: &[&'n Node]) -> Option<Vec<&'n Node>> {
    let bit = |node: &Node| choices.iter().position(|own| *own == node).map_or(0, |at| 1u32 << at);
    let bits: Vec<Vec<u32>> = rows.iter().map(|nodes| nodes.iter().map(bit).collect()).collect();
    let masks: Vec<u32> = bits.iter().map(|own| own.iter().fold(0, |mask, bit| mask | bit)).collect();
    let sets = (0..1u32 << choices.len()).filter(|set| masks.iter().all(|mask| mask & set != 0));
    let least = sets.clone().map(u32::count_ones).min()?;
    let far = |set: u32| -> usize {
        bits.iter().map(|own| own.iter().position(|bit| set & bit != 0).unwrap_or(own.len())).sum()
    };
    let best = sets.filter(|set| set.count_ones() == least).min_by_key(|set| (far(*set), *set))?;
    Some(choices.iter().enumerate().filter(|(at, _)| best & (1 << at) != 0).map(|(_, own)| *own).collect())
}

/// Choices that count for the most rows first, of equals those that stand first in them.
fn greedy<'n>(rows: &[&'n [Node]]) -> Vec<&'n Node> {
    let mut open: Vec<&'n [Node]> = rows.to_vec();
    let mut chosen = Vec::new();
    while !open.is_empty() {
        let mut counts: BTreeMap<&Node, (usize, usize)> = BTreeMap::new();
        for (at, node) in open.iter().flat_map(|nodes| nodes.iter().enumerate()) {
            let (count, far) = counts.entry(node).or_default();
            (*count, *far) = (*count + 1, *far + at);
        }
        let best = counts.into_iter().max_by_key(|(node, (count, far))| (*count, Reverse(*far), Reverse(*node)));
        let Some((best, _)) = best else { break };
        open.retain(|nodes| !nodes.contains(best));
        chosen.push(best);
    }
    chosen
}

#[cfg(test)]
mod tests {
    use crate::model::Id;
    use crate::model::kinds::Method;
    use crate::state::Subject;

    use super::*;

    fn node(number: u8) -> Node {
        let item = Id::new(&format!("I-{number}"));
        Node { method: Method::Test, procedure: None, stage: None, subject: Subject::Item(item) }
    }

    /// The smallest number of choices that has one of every row, by trying every set of all nine.
    fn by_hand(rows: &[Vec<u8>]) -> u32 {
        let sets = 0..1u32 << 9;
        let good = sets.filter(|set| rows.iter().all(|row| row.iter().any(|own| set & (1 << own) != 0)));
        good.map(u32::count_ones).min().unwrap_or(0)
    }

    proptest::proptest! {
        #[test]
        fn no_shorter_list_counts_for_every_row(
            rows in proptest::collection::vec(proptest::collection::btree_set(0u8..9, 1..4), 0..9)
        ) {
            let rows: Vec<Vec<u8>> = rows.into_iter().map(|row| row.into_iter().collect()).collect();
            let able: BTreeMap<usize, Vec<Node>> =
                rows.iter().enumerate().map(|(at, row)| (at, row.iter().map(|own| node(*own)).collect())).collect();
            let (chosen, shortest) = cover(&able);
            proptest::prop_assert!(shortest);
            proptest::prop_assert_eq!(chosen.len() as u32, by_hand(&rows));
            proptest::prop_assert!(able.values().all(|nodes| nodes.iter().any(|own| chosen.contains(own))));
        }
    }

    #[test]
    fn of_equals_each_row_gets_what_it_would_best_be_shown_by() {
        for best in [1, 2] {
            let able = BTreeMap::from([(0, vec![node(best), node(3 - best)])]);
            assert_eq!(cover(&able).0, [node(best)]);
            // Where too many choices are there to try all of them as well.
            let many = BTreeMap::from([(0, (0..20).map(|at| node((at + best) % 20)).collect::<Vec<_>>())]);
            assert_eq!(cover(&many), (vec![node(best)], false));
        }
    }

    #[test]
    fn too_many_choices_are_covered_all_the_same_and_it_is_said() {
        let all: Vec<Node> = (0..20).map(node).collect();
        let able: BTreeMap<usize, Vec<Node>> =
            (0..19).map(|at| (at, vec![all[at].clone(), all[at + 1].clone()])).collect();
        let (chosen, shortest) = cover(&able);
        assert!(!shortest && able.values().all(|nodes| nodes.iter().any(|own| chosen.contains(own))));
    }
}
