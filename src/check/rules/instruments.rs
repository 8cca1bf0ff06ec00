//! Instruments, before anything is measured: what nothing is known of, what is stated in words, and whether the limits that they are
//! read for could be decided with them at all.

use std::collections::BTreeSet;

use crate::check::rules::fields::{Asked, asked};
use crate::check::{Check, Subject, due};
use crate::config::Instrument;
use crate::diag::{Finding, Findings};
use crate::model::Model;
use crate::model::kinds::{Criterion, Expectation, Field, Procedure, Requirement};
use crate::quantity::{Limits, Quantity, Rational, Reach, Unit, show_width, truncated};
use crate::state::Facts;
use crate::state::judge::known_limits;

/// The check.
pub const CHECK: Check = Check {
    name: "instruments",
    codes: &[
        "accuracy-not-reached",
        "instrument-cannot-decide",
        "instrument-in-words",
        "instrument-without-calibration",
        "test-uncertainty-ratio",
    ],
    run,
};

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    without_calibration(facts.model, findings);
    in_words(facts.model, findings);
    for procedure in &facts.model.procedures {
        accuracy(facts.model, procedure, findings);
        let read: Vec<&Field> = procedure.all_fields().filter(|field| field.instrument.is_some()).collect();
        let asked = if read.is_empty() { Vec::new() } else { asked(facts.model, procedure) };
        for field in read {
            for (requirement, criterion) in field.limits(facts.model) {
                decides(facts, field, requirement, criterion, &asked, findings);
            }
        }
    }
}

fn without_calibration(model: &Model, findings: &mut Findings) {
    let by_records = model.records.iter().flat_map(|record| &record.instruments);
    let by_procedures = model.procedures.iter().flat_map(|procedure| &procedure.instruments);
    let used: BTreeSet<&str> = by_records.chain(by_procedures).map(|id| id.value.as_str()).collect();
    let bare = model.instruments.values().filter(|instrument| instrument.calibrations.is_empty());
    for instrument in bare.filter(|instrument| used.contains(instrument.id.value.as_str())) {
        let id = &instrument.id;
        let text = format!("{} is used and has no calibration", id.value);
        findings.push(
            Finding::at("instrument-without-calibration", id.span, text)
                .help(format!("add [[{}.calibrations]] with `on` and `due`", id.value)),
        );
    }
}

/// What is stated of an instrument that is to be calculated with, and cannot be.
fn in_words(model: &Model, findings: &mut Findings) {
    let by_fields = model.procedures.iter().flat_map(Procedure::all_fields).filter_map(|field| {
        let id = field.instrument.as_ref()?;
        Some(id.value.as_str())
    });
    let by_accuracy = model.procedures.iter().flat_map(|own| &own.accuracy).map(|(name, _)| name.value.as_str());
    let wanted: BTreeSet<&str> = by_fields.chain(by_accuracy).collect();
    for instrument in wanted.into_iter().filter_map(|id| model.instruments.get(id)) {
        let Some(first) = instrument.in_words.first() else { continue };
        let id = &instrument.id.value;
        let text = format!("nothing is checked from the {} of {id}: {}", first.key, first.why);
        let finding = Finding::at("instrument-in-words", first.span, text).help(first.help.clone());
        let others = instrument.in_words.iter().skip(1);
        findings.push(others.fold(finding, |finding, other| finding.also(other.span, "and this is not read either")));
    }
}

/// An instrument that is stated to be worse than a run needs, seen before the run.
fn accuracy(model: &Model, procedure: &Procedure, findings: &mut Findings) {
    for (name, needed) in &procedure.accuracy {
        let Some(instrument) = model.instruments.get(name.value.as_str()) else { continue };
        let Some(most) = &needed.value else { continue };
        if instrument.capability.is_worse_than(most) {
            let text = format!(
                "{} needs {} of {}, which is stated to be good for {}",
                procedure.head.id.value,
                needed.text.value,
                name.value,
                stated(instrument)
            );
            findings.push(
                Finding::at("accuracy-not-reached", needed.text.span, text)
                    .also(instrument.id.span, "stated here")
                    .help("use a better instrument, or say in the procedure why less will do"),
            );
        }
    }
}

/// What is stated of how well an instrument reads.
fn stated(instrument: &Instrument) -> String {
    let steps = instrument.resolution.as_ref().map(|steps| format!("steps of {}", steps.value));
    let parts: Vec<String> = instrument.stated_uncertainty().into_iter().chain(steps).collect();
    parts.join(" with ")
}

/// Whether a limit could be decided with what the instrument of a field reads.
fn decides(
    facts: &Facts<'_>,
    field: &Field,
    requirement: &Requirement,
    criterion: &Criterion,
    asked: &[Asked<'_>],
    findings: &mut Findings,
) {
    let own = asked.iter().filter(|one| {
        one.requirement.head.id.value == requirement.head.id.value && one.criterion.name == criterion.name
    });
    let first = own.map(|one| due(facts, one.requirement, Some(one.entry))).min();
    let (Some(first), Some(id)) = (first, &field.instrument) else { return };
    let (Some(instrument), Some(unit)) = (facts.model.instruments.get(&id.value), field.read_in(facts.model)) else {
        return;
    };
    let Expectation::Limits { min, max } = &criterion.expects else { return };
    let Some(limits) = known_limits(min.as_ref(), max.as_ref()) else { return };
    let one = Measuring { facts, instrument, unit: &unit, limits: &limits };
    let what = format!("{} of {} ({})", criterion.name, requirement.head.id.value, criterion.show());
    if let Some(why) = one.cannot() {
        findings.push(
            Finding::at("instrument-cannot-decide", id.span, format!("{} cannot show {what}: {why}", id.value))
                .also(criterion.span, "the limit")
                .also(instrument.id.span, "the instrument")
                .help(format!(
                    "read `{}` from a better instrument, or ask whether the limit can be wider",
                    field.name.value
                ))
                .due(first),
        );
    } else if let Some(why) = one.low_ratio() {
        findings.push(
            Finding::at("test-uncertainty-ratio", id.span, format!("{} is poor for {what}: {why}", id.value))
                .also(criterion.span, "the limits")
                .also(instrument.id.span, "the instrument"),
        );
    }
}

/// An instrument held against limits, before it reads anything.
struct Measuring<'a> {
    facts: &'a Facts<'a>,
    instrument: &'a Instrument,
    unit: &'a Unit,
    limits: &'a Limits,
}

/// The least test uncertainty ratio that is taken for good without working out how often a wrong value would be accepted.
const FOUR: u8 = 4;

impl Measuring<'_> {
    fn ambient(&self) -> Option<&Quantity> {
        self.facts.model.config.ambient.as_ref()
    }

    /// Why no reading could show that the limits are met. What does not go together has been said at its place.
    fn cannot(&self) -> Option<String> {
        let rule = &self.facts.model.config.rule;
        match self.instrument.capability.reach(rule, self.limits, self.ambient()).ok()? {
            Reach::Decides => None,
            Reach::OutOfRange => {
                let range = self.instrument.range.as_ref().map_or("", |range| range.value.as_str());
                Some(format!("it reads {range}, and nothing of that is permitted"))
            }
            Reach::TooUncertain(expanded) => Some(format!(
                "no value that it reads would be inside by its uncertainty, which is {} or more",
                show_width(&expanded, self.unit)
            )),
        }
    }

    /// Why its uncertainty is large beside the limits.
    fn low_ratio(&self) -> Option<String> {
        let ratio = self.instrument.capability.ratio(self.limits, self.ambient()).ok()??;
        if ratio >= Rational::from_integer(FOUR.into()) {
            return None;
        }
        let shown = truncated(&ratio);
        Some(format!("half the width of the limits is {shown} times its uncertainty, and {FOUR} is good practice"))
    }
}
