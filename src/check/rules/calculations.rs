//! Calculations and reductions that come to nothing, and inputs that are not what they are said to be from.

use crate::check::{Check, Subject};
use crate::computed::Computed;
use crate::diag::{Finding, Findings};
use crate::model::kinds::{Input, Record, RecordStatus, ResultText};
use crate::model::{Model, Ref, wanted_of};
use crate::quantity::{Quantity, parse_quantity};
use crate::state::kept::is_same;

/// The check.
pub const CHECK: Check = Check {
    name: "calculations",
    codes: &[
        "bad-calculation",
        "bad-correlation",
        "bad-input",
        "bad-quantity",
        "bad-reduction",
        "calculation-cycle",
        "first-order-not-valid",
        "input-differs-from-source",
        "units-do-not-match",
        "unknown-name",
    ],
    run,
};

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    for (at, trouble) in facts.computed.troubles() {
        let Some(code) = trouble.code else { continue };
        let text = format!("{}: {}", facts.model.records[at].head.id.value, trouble.message);
        let finding = Finding::at(code, trouble.span, text).help(trouble.help.clone());
        findings.push(trouble.also.iter().fold(finding, |finding, (span, what)| finding.also(*span, what.clone())));
    }
    for record in facts.model.records.iter().filter(|record| record.status.value != RecordStatus::Withdrawn) {
        for input in &record.inputs {
            findings.extend(differs(facts.model, facts.computed, record, input));
        }
    }
}

/// A typed value whose source names a result that says something else.
fn differs(model: &Model, computed: &Computed, record: &Record, input: &Input) -> Option<Finding> {
    let (value, source) = (input.value.as_ref()?, input.source.as_ref()?);
    let (id, wanted) = wanted_of(model, &source.value);
    let Some(Ref::Record(at)) = model.find(id) else { return None };
    let typed = parse_quantity(value.value.text()).ok()?;
    let reported = reported(&model.records[at], wanted, computed)?;
    if is_same(&typed, &reported) {
        return None;
    }
    let name = &input.name.value;
    let text = format!(
        "{}: {name} is {} here, and {} in {}",
        record.head.id.value,
        value.value.text(),
        reported.show(),
        source.value
    );
    let help = format!("write from = \"{}\" in place of the value, or say what the source is", source.value);
    Some(Finding::at("input-differs-from-source", value.span, text).help(help))
}

/// The only result of this name that a record has.
fn reported(record: &Record, wanted: &str, computed: &Computed) -> Option<Quantity> {
    let of = |id: &str| wanted.strip_prefix(id).and_then(|rest| rest.strip_prefix('.')).unwrap_or(wanted).to_string();
    let mut found = record.verifies.iter().flat_map(|own| {
        let name = of(own.requirement.value.as_str());
        own.results.iter().filter(move |(own, _)| own.value == name).map(|(_, result)| result)
    });
    let (only, None) = (found.next()?, found.next()) else { return None };
    match &only.value {
        ResultText::Readings(_) | ResultText::Summary { .. } => None,
        ResultText::Written(scalar) => parse_quantity(scalar.text()).ok(),
        ResultText::Calculation(_) | ResultText::Reduction(_) => computed.at(only.span)?.as_ref().ok().cloned(),
    }
}
