//! Whether a computed result still comes to what it did when its record was signed.

use crate::model::kinds::{Record, RecordStatus, Verifies};
use crate::quantity::{Quantity, Rational, Uncertainty, parse_quantity};

use super::Facts;
use super::judge::Verdict;

/// A value is the same if it moved by no more than this part of itself, or of its uncertainty where that is larger: ten digits are
/// written when it is signed, and the last digits of what is worked out in floating point mean nothing.
const SAME: i64 = 100_000_000;

/// What takes the place of the verdict on a computed result of a signed record: it came to something else when it was signed, or
/// that was not written down. None where the verdict stands.
pub(super) fn otherwise(
    facts: &Facts<'_>,
    record: &Record,
    verifies: &Verifies,
    criterion: &str,
    only: Option<&str>,
) -> Option<Verdict> {
    // One that was withdrawn without a reason is evidence still.
    let withdrawn = record.status.value == RecordStatus::Withdrawn && record.reason.is_some();
    if record.status.value == RecordStatus::Draft || withdrawn {
        return None;
    }
    let result = verifies.result_for(criterion, only)?;
    if !result.value.is_computed() {
        return None;
    }
    let Ok(now) = facts.computed.at(result.span)? else { return None };
    let Some(then) = verifies.computed_then(criterion) else { return Some(Verdict::NotKept) };
    match parse_quantity(&then.value) {
        Ok(was) if is_same(&was, now) => None,
        _ => Some(Verdict::Moved { then: then.value.clone(), now: now.show() }),
    }
}

/// Which criterion of a record came to something else when it was signed, or to what nobody wrote down; the first.
pub(super) fn first_otherwise<'f>(facts: &Facts<'f>, record: &Record) -> Option<&'f str> {
    record.verifies.iter().find_map(|verifies| {
        let criteria = &facts.model.requirement(&verifies.requirement.value)?.criteria;
        let only = (criteria.len() == 1).then(|| criteria[0].name.as_str());
        let moved = criteria.iter().find(|own| otherwise(facts, record, verifies, &own.name, only).is_some())?;
        Some(moved.name.as_str())
    })
}

/// Whether two values, with their uncertainties and how these are spread, agree to the digits that are kept.
pub fn is_same(was: &Quantity, now: &Quantity) -> bool {
    let expanded = |own: &Quantity| own.uncertainty.as_ref().map(|own| own.expanded.clone());
    let how = |own: &Quantity| own.uncertainty.as_ref().map(Uncertainty::bracket);
    let (before, after) = (expanded(was), expanded(now));
    let scale = [now.value.abs(), after.clone().unwrap_or_else(Rational::zero)]
        .into_iter()
        .max()
        .unwrap_or_else(Rational::zero);
    let close = |one: &Rational, other: &Rational| {
        let off = (one - other).abs() * Rational::from_integer(SAME.into());
        off <= scale
    };
    let alike = was.dimension == now.dimension && was.kind == now.kind;
    let spread = match (&before, &after) {
        (None, None) => true,
        (Some(before), Some(after)) => close(before, after),
        _ => false,
    };
    alike && close(&was.value, &now.value) && spread && how(was) == how(now)
}

/// Which inputs from other records are not what they were when the record was signed, in words.
pub(super) fn moved_inputs(facts: &Facts<'_>, at: usize) -> String {
    let record = &facts.model.records[at];
    let Some(values) = facts.computed.of_record(at) else { return String::new() };
    let moved = record.inputs.iter().filter_map(|input| {
        let used = input.used.as_ref()?;
        let now = &values.inputs.iter().find(|own| own.name == input.name.value)?.quantity;
        let same = parse_quantity(&used.value).is_ok_and(|was| is_same(&was, now));
        (!same).then(|| format!("{} was {} and is {} now", input.name.value, used.value, now.show()))
    });
    moved.collect::<Vec<_>>().join(", ")
}
