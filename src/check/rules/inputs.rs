//! Analyses that rest on a result which a newer one has replaced.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::graph::TraceGraph;
use crate::model::Ref;
use crate::model::kinds::{Record, RecordStatus, Verifies};
use crate::state::Facts;
use crate::state::standing::{Standing, standing};

/// The check.
pub const CHECK: Check = Check { name: "inputs", codes: &["newer-result-not-used"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    for record in facts.model.records.iter().filter(|record| record.status.value != RecordStatus::Withdrawn) {
        for input in &record.inputs {
            let Some(from) = &input.from else { continue };
            let Some((id, criterion)) = from.value.rsplit_once('.') else { continue };
            let Some(Ref::Record(used)) = facts.model.find(id) else { continue };
            let Some(newer) = newer(facts, &facts.model.records[used], criterion) else { continue };
            let newer_id = &newer.head.id.value;
            let text = format!("{} rests on {id}, and {newer_id} reports {criterion} since", record.head.id.value);
            findings.push(
                Finding::at("newer-result-not-used", from.span, text)
                    .also(newer.head.id.span, "the newer one")
                    .help(format!("write from = \"{newer_id}.{criterion}\" and calculate again, or say in the body why {id} is right")),
            );
        }
    }
}

/// The newest signed record of the same sort, on the same thing, that reports the same criterion later.
fn newer<'m>(facts: &Facts<'m>, used: &Record, criterion: &str) -> Option<&'m Record> {
    // A result of the only criterion may be written without its name.
    let reports = |verifies: &Verifies| {
        let requirement = facts.model.requirement(&verifies.requirement.value);
        requirement.is_some_and(|own| verifies.result_for(criterion, own.only_criterion()).is_some())
    };
    let requirements = used.verifies.iter().filter(|own| reports(own));
    let shared = requirements.filter_map(|own| TraceGraph::requirement_at(facts.model, &own.requirement.value));
    let later = shared.flat_map(|requirement| &facts.graph.evidence[requirement]).filter(|(at, which)| {
        let other = &facts.model.records[*at];
        other.method == used.method
            && matches!((&used.date, &other.date), (Some(old), Some(new)) if old.before(new))
            && same_subject(used, other)
            && reports(&other.verifies[*which])
            && standing(facts, *at) == Standing::Signed
    });
    let later = later.map(|(at, _)| &*facts.model.records[*at]);
    later.max_by_key(|other| other.date.as_ref().map(|date| date.in_lists()))
}

/// Whether two records are about the same piece, the same design, or both about the project.
fn same_subject(one: &Record, other: &Record) -> bool {
    let shared = one.serials.iter().any(|serial| other.serials.iter().any(|theirs| theirs.value == serial.value));
    let design = one.serials.is_empty()
        && other.serials.is_empty()
        && one.item.as_ref().map(|item| &item.value) == other.item.as_ref().map(|item| &item.value);
    shared || design
}
