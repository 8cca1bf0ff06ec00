//! The fewest records that count for every row.

use std::collections::{BTreeMap, BTreeSet};

use super::Node;

/// Up to this many choices, every combination is tried.
const CHOICES: usize = 14;

/// The fewest records that count for every row, and whether it is certain that there are no fewer.
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
        let rows: Vec<&BTreeSet<&Node>> = group.iter().filter_map(|row| open.get(row)).collect();
        let choices: Vec<&Node> =
            rows.iter().flat_map(|nodes| nodes.iter().copied()).collect::<BTreeSet<_>>().into_iter().collect();
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

/// The smallest set of choices that has one of every row, of equals one with pieces rather than items.
fn fewest<'n>(rows: &[&BTreeSet<&'n Node>], choices: &[&'n Node]) -> Option<Vec<&'n Node>> {
    let masks: Vec<u32> = rows
        .iter()
        .map(|nodes| {
            choices.iter().enumerate().filter(|(_, own)| nodes.contains(*own)).fold(0, |mask, (at, _)| mask | 1 << at)
        })
        .collect();
    let sets = (0..1u32 << choices.len()).filter(|set| masks.iter().all(|mask| mask & set != 0));
    let best = sets.min_by_key(|set| (set.count_ones(), std::cmp::Reverse(*set)))?;
    Some(choices.iter().enumerate().filter(|(at, _)| best & (1 << at) != 0).map(|(_, own)| *own).collect())
}

/// Choices that count for the most rows first.
fn greedy<'n>(rows: &[&BTreeSet<&'n Node>]) -> Vec<&'n Node> {
    let mut open: Vec<&BTreeSet<&'n Node>> = rows.to_vec();
    let mut chosen = Vec::new();
    while !open.is_empty() {
        let mut counts: BTreeMap<&Node, usize> = BTreeMap::new();
        open.iter().flat_map(|nodes| nodes.iter()).for_each(|node| *counts.entry(node).or_default() += 1);
        let Some((best, _)) = counts.into_iter().max_by_key(|(node, count)| (*count, std::cmp::Reverse(*node))) else {
            break;
        };
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
    fn too_many_choices_are_covered_all_the_same_and_it_is_said() {
        let all: Vec<Node> = (0..20).map(node).collect();
        let able: BTreeMap<usize, Vec<Node>> =
            (0..19).map(|at| (at, vec![all[at].clone(), all[at + 1].clone()])).collect();
        let (chosen, shortest) = cover(&able);
        assert!(!shortest && able.values().all(|nodes| nodes.iter().any(|own| chosen.contains(own))));
    }
}
