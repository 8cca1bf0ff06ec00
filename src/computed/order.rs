//! In which order records are worked out: those first whose results others use.

use foldhash::{HashMap, HashMapExt};

use crate::model::kinds::{Record, ResultText};
use crate::model::{Model, Ref};

/// Records in stages, each of which needs only those before it; and those that rest on themselves, each with the way round.
#[derive(Debug, Default)]
pub(super) struct Order {
    pub stages: Vec<Vec<usize>>,
    pub cycles: Vec<(usize, Vec<usize>)>,
}

/// Whether there is anything to work out in a record.
fn computes(record: &Record) -> bool {
    let made = |result: &ResultText| result.is_computed();
    let results = record.verifies.iter().flat_map(|own| own.result.iter().chain(own.results.iter().map(|(_, it)| it)));
    record.calculation.is_some() || !record.inputs.is_empty() || results.into_iter().any(|result| made(&result.value))
}

/// The records that a record takes values from.
fn needs(model: &Model, record: &Record) -> Vec<usize> {
    // Where a value stands too, that is the fault, and no record is asked.
    let asked = record.inputs.iter().filter(|input| input.value.is_none());
    let named = asked.filter_map(|input| input.record(model));
    let found = named.filter_map(|id| match model.find(id) {
        Some(Ref::Record(at)) => Some(at),
        _ => None,
    });
    let mut found: Vec<usize> = found.collect();
    found.sort_unstable();
    found.dedup();
    found
}

/// Puts the records that compute into their order.
pub(super) fn order(model: &Model) -> Order {
    let computing: Vec<usize> = (0..model.records.len()).filter(|at| computes(&model.records[*at])).collect();
    let mut waits: HashMap<usize, Vec<usize>> = HashMap::with_capacity(computing.len());
    for at in &computing {
        waits.insert(*at, needs(model, &model.records[*at]));
    }
    for at in &computing {
        let mut own = waits.remove(at).unwrap_or_default();
        own.retain(|other| computing.binary_search(other).is_ok());
        waits.insert(*at, own);
    }
    let mut users: HashMap<usize, Vec<usize>> = HashMap::new();
    let mut left: HashMap<usize, usize> = HashMap::with_capacity(computing.len());
    for at in &computing {
        left.insert(*at, waits[at].len());
        waits[at].iter().for_each(|needed| users.entry(*needed).or_default().push(*at));
    }
    let mut order = Order::default();
    let mut stage: Vec<usize> = computing.iter().copied().filter(|at| left[at] == 0).collect();
    while !stage.is_empty() {
        let mut next = Vec::new();
        for at in &stage {
            left.remove(at);
            for user in users.get(at).into_iter().flatten() {
                let Some(count) = left.get_mut(user) else { continue };
                *count -= 1;
                if *count == 0 {
                    next.push(*user);
                }
            }
        }
        next.sort_unstable();
        order.stages.push(std::mem::replace(&mut stage, next));
    }
    let rest: Vec<usize> = computing.into_iter().filter(|at| left.contains_key(at)).collect();
    order.cycles = rest.iter().map(|at| (*at, way_round(*at, &waits, &left))).collect();
    order
}

/// The way from a record that never came to its turn to where it bites its tail.
fn way_round(from: usize, waits: &HashMap<usize, Vec<usize>>, left: &HashMap<usize, usize>) -> Vec<usize> {
    let mut way = vec![from];
    loop {
        let last = way.last().copied().unwrap_or(from);
        let stuck = waits.get(&last).into_iter().flatten().find(|needed| left.contains_key(needed));
        let Some(next) = stuck else { return way };
        if let Some(start) = way.iter().position(|at| at == next) {
            // Only what goes round is shown, from where it was entered.
            let mut round = way.split_off(start);
            round.push(*next);
            return if start == 0 { round } else { [vec![from], round].concat() };
        }
        way.push(*next);
    }
}
