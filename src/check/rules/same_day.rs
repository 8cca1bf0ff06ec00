//! Evidence of one day whose order is not known.

use std::collections::BTreeSet;

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::{PlanEntry, Record, Requirement, RequirementStatus};
use crate::state::standing::{Standing, standing};
use crate::state::{Facts, matches_entry};

/// The check.
pub const CHECK: Check = Check { name: "same_day", codes: &["same-day-evidence"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    let mut reported: BTreeSet<(usize, usize)> = BTreeSet::new();
    for (at, requirement) in facts.model.requirements.iter().enumerate() {
        if requirement.status == RequirementStatus::Withdrawn {
            continue;
        }
        for entry in &requirement.plan {
            for (first, second) in pairs(facts, at, requirement, entry) {
                if reported.insert((first, second)) {
                    report(facts, requirement, first, second, findings);
                }
            }
        }
    }
}

fn report(facts: &Facts<'_>, requirement: &Requirement, first: usize, second: usize, findings: &mut Findings) {
    let (first, second) = (&facts.model.records[first], &facts.model.records[second]);
    let (Some(day), Some(span)) = (&first.date, second.date.as_ref().map(|date| date.span)) else { return };
    let text = format!(
        "{} and {} are both of {} and decide {}: the worse of them counts",
        first.head.id.value, second.head.id.value, day.value.date, requirement.head.id.value
    );
    findings.push(Finding::at("same-day-evidence", span, text).also(day.span, "the other one"));
}

/// Pairs of signed records that decide an entry on the same thing, neither certainly newer.
fn pairs(facts: &Facts<'_>, at: usize, requirement: &Requirement, entry: &PlanEntry) -> Vec<(usize, usize)> {
    let matching = facts.graph.evidence[at].iter().copied().filter(|(record, _)| {
        let own = &facts.model.records[*record];
        own.date.is_some() && matches_entry(own, entry) && standing(facts, *record) == Standing::Signed
    });
    let matching: Vec<(usize, usize)> = matching.collect();
    let record = |at: usize| &facts.model.records[at];
    let mut pairs = Vec::new();
    for (index, (first, which_first)) in matching.iter().enumerate() {
        for (second, which_second) in &matching[index + 1..] {
            let (one, other) = (record(*first), record(*second));
            if older(one, other) || older(other, one) || !together(one, other) {
                continue;
            }
            let judges = |at: usize, which: usize, criterion: &str| {
                record(at).verifies[which].not_judged_because(criterion).is_none()
            };
            let shared = requirement.criteria.iter().any(|criterion| {
                entry.asks_for(&criterion.name)
                    && judges(*first, *which_first, &criterion.name)
                    && judges(*second, *which_second, &criterion.name)
            });
            let outdated =
                matching.iter().any(|(third, _)| older(one, record(*third)) && together(one, record(*third)));
            if shared && !outdated {
                pairs.push((*first, *second));
            }
        }
    }
    pairs
}

fn older(one: &Record, other: &Record) -> bool {
    matches!((&one.date, &other.date), (Some(mine), Some(theirs)) if mine.value.before(&theirs.value))
}

/// Whether two records are about the same piece, the same design, or both about the project.
fn together(one: &Record, other: &Record) -> bool {
    let piece = one.serials.iter().any(|serial| other.serials.iter().any(|theirs| theirs.value == serial.value));
    let item = |record: &Record| record.item.as_ref().map(|item| item.value.clone());
    piece || (one.serials.is_empty() && other.serials.is_empty() && item(one) == item(other))
}
