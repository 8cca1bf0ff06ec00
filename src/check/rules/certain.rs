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
    let records = model.records.iter().enumerate();
    for (at, record) in records.filter(|(_, record)| record.status.value != RecordStatus::Withdrawn) {
        for (which, verifies) in record.verifies.iter().enumerate() {
            let Some(requirement) = subject.facts.verified(at, which) else { continue };
            let only = requirement.only_criterion();
            for criterion in &requirement.criteria {
                let limits = matches!(criterion.expects, Expectation::Limits { .. });
                let Some(result) = verifies.result_for(&criterion.name, only).filter(|_| limits) else { continue };
                let ResultText::Written(scalar) = &result.value else { continue };
                if !may_be_perfect(scalar.text()) {
                    continue;
                }
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

/// Whether it may be that an uncertainty of zero is stated, by a look at the text: nearly no result says so, and to read each
/// once more takes longer than the whole check.
fn may_be_perfect(text: &str) -> bool {
    if text.contains(['[', 'r']) {
        return true; // an interval, or words such as `resolution`
    }
    let signs = ["±", "+/-", "("];
    let Some(stated) = signs.into_iter().find_map(|sign| text.split_once(sign)) else { return false };
    let digits = stated.1.trim_start().chars().take_while(|c| c.is_ascii_digit() || *c == '.');
    !digits.into_iter().any(|digit| matches!(digit, '1'..='9'))
}

/// Whether an uncertainty is stated, and is none.
fn is_perfect(value: &Quantity) -> bool {
    value.uncertainty.as_ref().is_some_and(|own| own.standard.is_zero())
}

/// Whether it is a whole number of things, which can be known without any doubt.
fn is_counted(value: &Quantity) -> bool {
    value.unit.symbol.is_empty() && Rational::from_integer(value.value.to_integer()) == value.value
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_look_passes_over_nothing_that_is_perfect() {
        let perfect = |text: &str| matches!(parse_measured(text), Ok(Measured::Value(value)) if is_perfect(&value));
        let zeros = [
            "1.32 ± 0 N·m",
            "1.32 ± 0.00 N·m",
            "1.32+/-0 N·m",
            "(1.32 ± 0.0) N·m",
            "1.32 N·m ± 0 mN·m",
            "1.32(0) MPa",
            "1.32(0.000) MPa",
            "[5.0, 5.0] mm",
            "10.02 mm (resolution 0 mm)",
            "1.0 ± 0 mm (rectangular)",
            "1.0 ± 0e3 mm",
            "1.32 ± 0 N·m (k=2)",
            "1.32 ± 0 (95 %)",
        ];
        for text in zeros {
            assert!(!perfect(text) || may_be_perfect(text), "{text}");
        }
        assert!(zeros.iter().filter(|text| perfect(text)).count() > 6);
        for text in ["1.32 N·m", "0.83 ± 0.11", "(1.32 ± 0.08) N·m", "1.3200(15) MPa", "1.32 ± 0.08 N·m (k=2)"] {
            assert!(!perfect(text) && !may_be_perfect(text), "{text}");
        }
    }
}
