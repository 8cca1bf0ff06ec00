//! Runs that were made before what their procedure has as a prerequisite.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::SerialId;
use crate::model::kinds::{Procedure, Record};
use crate::state::Facts;
use crate::state::standing::{Standing, standing};
use crate::text::Spanned;

/// The check.
pub const CHECK: Check = Check { name: "prerequisites", codes: &["run-before-prerequisite"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    for procedure in &facts.model.procedures {
        for first in procedure.prerequisites.iter().filter(|own| facts.model.procedure(&own.value).is_some()) {
            let signed = |id: &str| runs_of(facts, id, Standing::Signed);
            let (own, theirs) = (signed(&procedure.head.id.value), signed(&first.value));
            for record in own.iter().filter(|record| !is_judged(facts, record, procedure, &first.value)) {
                let mut on = things(record).into_iter();
                findings.extend(on.find_map(|on| too_early(procedure, first, (record, on), &own, &theirs)));
            }
        }
    }
}

/// The dated runs of a procedure that count in one way.
pub(super) fn runs_of<'m>(facts: &Facts<'m>, procedure: &str, which: Standing) -> Vec<&'m Record> {
    let all = facts.graph.runs.get(procedure).into_iter().flatten();
    let own = all.filter(|at| standing(facts, **at) == which).map(|at| &*facts.model.records[*at]);
    own.filter(|record| record.date.is_some()).collect()
}

/// Whether the plan itself asks for it to come first: that is judged, and makes the evidence void.
pub(super) fn is_judged(facts: &Facts<'_>, record: &Record, procedure: &Procedure, first: &str) -> bool {
    let asked = record.verifies.iter().filter_map(|own| facts.model.requirement(&own.requirement.value));
    asked.flat_map(|requirement| &requirement.plan).any(|entry| {
        entry.procedure.as_ref().is_some_and(|own| own.value == procedure.head.id.value)
            && entry.after.iter().any(|own| own.value == first)
    })
}

/// What a record is on: each of its pieces, or none of them but its item or the project.
fn things(record: &Record) -> Vec<Option<&SerialId>> {
    match record.serials.is_empty() {
        true => vec![None],
        false => record.serials.iter().map(|serial| Some(&serial.value)).collect(),
    }
}

/// The newest run on something, where the prerequisite has runs on that too, and all of them are certainly later. Where it has
/// none there, [`not_run`](super::not_run) looks whether it may have been run on something else.
fn too_early(
    procedure: &Procedure,
    first: &Spanned<String>,
    (record, on): (&Record, Option<&SerialId>),
    own: &[&Record],
    theirs: &[&Record],
) -> Option<Finding> {
    let is_there = |other: &Record| match on {
        Some(piece) => other.serials.iter().any(|serial| serial.value == *piece),
        None => other.serials.is_empty() && other.item.as_deref() == record.item.as_deref(),
    };
    let made = record.date.as_ref()?;
    let is_later = |other: &Record| other.date.as_ref().is_some_and(|date| made.before(date));
    let there = || theirs.iter().filter(|other| is_there(other));
    if !there().all(|other| is_later(other)) || own.iter().any(|other| is_there(other) && is_later(other)) {
        return None;
    }
    let earliest = there().min_by_key(|other| other.date.as_ref().map(|date| date.in_lists()))?;
    let (id, own, first_id, day) = (&record.head.id, &procedure.head.id, &first.value, earliest.date.as_ref()?);
    let (place, serial) = on.map_or_else(Default::default, |on| (format!(" on {on}"), format!(" --serial {on}")));
    let text = format!(
        "{} is a run of {}{place} of {}, and its prerequisite {first_id} was run only later: {}, {}",
        id.value, own.value, made.text, earliest.head.id.value, day.text
    );
    let help = format!(
        "if {first_id} was run before too, write that down: slipmark new {} --from {first_id}{serial} --date YYYY-MM-DD; else run {} \
         again, or take {first_id} out of its `prerequisites`",
        earliest.method.word(),
        own.value
    );
    let finding = Finding::at("run-before-prerequisite", made.span, text).help(help);
    Some(finding.also(day.span, "the prerequisite").also(first.span, "asked for here"))
}
