//! Results that are said to have no uncertainty at all.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::{Expectation, RecordStatus, ResultText};
use crate::quantity::{Measured, Quantity, Rational, Rule, parse_measured};

/// The check.
pub const CHECK: Check = Check { name: "certain", codes: &["uncertainty-of-zero"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let model = subject.facts.model;
    // This rule asks for no uncertainty, so that none that is stated changes what it decides.
    if matches!(model.config.rule, Rule::Simple) {
        return;
    }
    // Nothing rests on what was withdrawn.
    for record in model.records.iter().filter(|record| record.status.value != RecordStatus::Withdrawn) {
        for verifies in &record.verifies {
            let Some(requirement) = model.requirement(&verifies.requirement.value) else { continue };
            let only = (requirement.criteria.len() == 1).then(|| requirement.criteria[0].name.as_str());
            for criterion in &requirement.criteria {
                let limits = matches!(criterion.expects, Expectation::Limits { .. });
                let Some(result) = verifies.result_for(&criterion.name, only).filter(|_| limits) else { continue };
                let ResultText::Written(scalar) = &result.value else { continue };
                let Ok(Measured::Value(value)) = parse_measured(scalar.text()) else { continue };
                if !is_perfect(&value) || is_counted(&value) {
                    continue;
                }
                let (id, name, of) = (&record.head.id.value, &criterion.name, &requirement.head.id.value);
                let text = format!("{id}: {name} of {of}, {}, decides as if it were perfect", scalar.text());
                let help =
                    "write its uncertainty, that of the instrument at least; while nobody knows it, leave `± 0` out";
                findings.push(Finding::at("uncertainty-of-zero", result.span, text).help(help));
            }
        }
    }
}

/// Whether an uncertainty is stated, and is none.
fn is_perfect(value: &Quantity) -> bool {
    value.uncertainty.as_ref().is_some_and(|own| own.standard.is_zero())
}

/// Whether it is a whole number of things, which can be known without any doubt.
fn is_counted(value: &Quantity) -> bool {
    value.unit.symbol.is_empty() && Rational::from_integer(value.value.to_integer()) == value.value
}
