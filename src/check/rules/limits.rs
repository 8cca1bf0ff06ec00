//! Limits that contradict one another, or leave no room for the uncertainty.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::ResultText;
use crate::model::kinds::{Condition, Criterion, Expectation, Limit, Relief, Requirement, RequirementStatus};
use crate::parse::Scalar;
use crate::quantity::{Limits, Measured, Rule, parse_measured};
use crate::state::Facts;
use crate::state::standing::{Standing, lines_up, standing};
use crate::text::Span;

/// The check.
pub const CHECK: Check =
    Check { name: "limits", codes: &["condition-units-differ", "limits-contradict", "tolerance-too-narrow"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    for (at, requirement) in facts.model.requirements.iter().enumerate() {
        if requirement.status == RequirementStatus::Withdrawn {
            continue;
        }
        for criterion in &requirement.criteria {
            if let Expectation::Limits { min, max } = &criterion.expects {
                contradict(facts, min.as_ref(), max.as_ref(), &criterion.name, findings);
            }
            for condition in &criterion.at {
                contradict(facts, condition.min.as_ref(), condition.max.as_ref(), &condition.name, findings);
            }
            too_narrow(facts, at, criterion, findings);
        }
        conditions_differ(facts, requirement, findings);
    }
    for waiver in &facts.model.waivers {
        for (name, relief) in &waiver.accepts {
            if let Relief::Limits { min, max } = relief {
                contradict(facts, min.as_ref(), max.as_ref(), &name.value, findings);
            }
        }
    }
}

/// Both limits as quantities, if both are known.
fn both(min: Option<&Limit>, max: Option<&Limit>) -> Option<(Limits, Span, Span)> {
    let (min, max) = (min?, max?);
    let limits = Limits { min: Some(min.quantity()?.clone()), max: Some(max.quantity()?.clone()) };
    Some((limits, min.text.span, max.text.span))
}

fn contradict(facts: &Facts<'_>, min: Option<&Limit>, max: Option<&Limit>, name: &str, findings: &mut Findings) {
    let Some((limits, low, high)) = both(min, max) else { return };
    if let Err(error) = limits.check(facts.model.config.ambient.as_ref()) {
        let finding =
            Finding::at("limits-contradict", high, format!("the limits of {name} contradict: {}", error.message));
        let finding = if low == high { finding } else { finding.also(low, "the other limit") };
        findings.push(finding.help(error.help));
    }
}

/// A condition of one name in two criteria, in units that do not go together.
fn conditions_differ(facts: &Facts<'_>, requirement: &Requirement, findings: &mut Findings) {
    let all: Vec<&Condition> = requirement.criteria.iter().flat_map(|criterion| &criterion.at).collect();
    let known = |condition: &'_ Condition| {
        let limit = [&condition.min, &condition.max].into_iter().flatten().find(|limit| limit.quantity().is_some());
        limit.and_then(|limit| Some((limit.quantity()?.clone(), limit.text.span)))
    };
    for (index, condition) in all.iter().enumerate() {
        let Some((value, span)) = known(condition) else { continue };
        let first = all[..index].iter().filter(|other| other.name == condition.name).find_map(|other| known(other));
        let Some((other, other_span)) = first else { continue };
        if let Err(error) = value.compare(&other, facts.model.config.ambient.as_ref()) {
            let text = format!("condition `{}` has two sorts of limits: {}", condition.name, error.message);
            findings.push(Finding::at("condition-units-differ", span, text).also(other_span, "the other one"));
        }
    }
}

/// Under the guarded rule, limits nearer to one another than twice the uncertainty of what was measured.
fn too_narrow(facts: &Facts<'_>, at: usize, criterion: &Criterion, findings: &mut Findings) {
    let Expectation::Limits { min, max } = &criterion.expects else { return };
    let Some((limits, low, _)) = both(min.as_ref(), max.as_ref()) else { return };
    if facts.model.config.rule != Rule::Guarded {
        return;
    }
    let requirement = &facts.model.requirements[at];
    let only = (requirement.criteria.len() == 1).then_some(criterion.name.as_str());
    let results = facts.graph.evidence[at].iter().filter_map(|(record_at, which)| {
        let record = &facts.model.records[*record_at];
        let verifies = &record.verifies[*which];
        let counts = standing(facts, *record_at) == Standing::Signed && lines_up(&requirement.mark, verifies);
        let result = verifies.result_for(&criterion.name, only).filter(|_| counts)?;
        let ResultText::Written(Scalar::Text(text)) = &result.value else { return None };
        let Ok(Measured::Value(value)) = parse_measured(text) else { return None };
        Some((record.date.as_ref()?.value.date, record, result.span, value.uncertainty?.expanded))
    });
    let Some((_, record, span, expanded)) = results.max_by_key(|(date, ..)| *date) else { return };
    if limits.leave_room_for(&expanded, facts.model.config.ambient.as_ref()) == Ok(false) {
        let text = format!(
            "the limits of {} ({}) lie closer together than twice the uncertainty of {}: no value could be met",
            criterion.name,
            criterion.show(),
            record.head.id.value
        );
        findings.push(Finding::at("tolerance-too-narrow", span, text).also(low, "the limits"));
    }
}
