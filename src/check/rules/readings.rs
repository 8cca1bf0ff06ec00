//! Readings, after they were made, that the instrument of their field could not give.

use crate::check::{Check, Subject};
use crate::config::Instrument;
use crate::diag::{Finding, Findings};
use crate::model::kinds::{Feed, Field, Record, RecordStatus, ResultText};
use crate::model::{Model, fed};
use crate::parse::Scalar;
use crate::quantity::{Measured, parse_measured, show_width};
use crate::text::Span;

/// The check.
pub const CHECK: Check =
    Check { name: "readings", codes: &["outside-instrument-range", "uncertainty-below-instrument"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let model = subject.facts.model;
    // Nothing rests on what was withdrawn.
    for record in model.records.iter().filter(|record| record.status.value != RecordStatus::Withdrawn) {
        let procedure = record.procedure.as_ref().and_then(|id| model.procedure(&id.value));
        for field in procedure.into_iter().flat_map(|own| own.all_fields()) {
            let Some(id) = field.instrument.as_ref().filter(|id| record.names_instrument(&id.value)) else { continue };
            let Some(instrument) = model.instruments.get(&id.value) else { continue };
            for (name, text, span) in read(model, record, field) {
                if let Ok(measured) = parse_measured(text) {
                    let one = Reading { model, record, instrument, name: &name, span };
                    one.check(&measured, findings);
                }
            }
        }
    }
}

/// What a record notes of a field: its name, the text, where it stands.
fn read<'r>(model: &Model, record: &'r Record, field: &Field) -> Vec<(String, &'r str, Span)> {
    let mut found = Vec::new();
    for feed in &field.feeds {
        match &feed.value {
            Feed::Criterion(name) => found.extend(result(model, record, name)),
            Feed::Condition(name) => found.extend(noted(&record.conditions, name)),
        }
    }
    found.extend(noted(&record.readings, &field.name.value));
    found
}

fn result<'r>(model: &Model, record: &'r Record, name: &str) -> Option<(String, &'r str, Span)> {
    let (requirement, criterion) = fed(model, name)?;
    let verifies = record.verifies.iter().find(|own| own.requirement.value == requirement.head.id.value)?;
    let only = (requirement.criteria.len() == 1).then_some(criterion.name.as_str());
    let result = verifies.result_for(&criterion.name, only)?;
    let ResultText::Written(scalar) = &result.value else { return None };
    Some((format!("{} of {}", criterion.name, requirement.head.id.value), scalar.text(), result.span))
}

type Noted = (crate::text::Spanned<String>, crate::text::Spanned<Scalar>);

fn noted<'r>(all: &'r [Noted], name: &str) -> Option<(String, &'r str, Span)> {
    let (own, value) = all.iter().find(|(own, _)| own.value == name)?;
    Some((own.value.clone(), value.value.text(), value.span))
}

/// One value from one instrument.
struct Reading<'a> {
    model: &'a Model,
    record: &'a Record,
    instrument: &'a Instrument,
    name: &'a str,
    span: Span,
}

impl Reading<'_> {
    /// A value of another sort than the instrument's has been reported at its place.
    fn check(&self, measured: &Measured, findings: &mut Findings) {
        let (value, ambient) = (measured.quantity(), self.model.config.ambient.as_ref());
        let capability = &self.instrument.capability;
        if capability.fits(&value.unit, ambient).is_err() {
            return;
        }
        let id = &self.instrument.id;
        if let (Ok(false), Some(range)) = (capability.reads(value, ambient), &self.instrument.range) {
            let text = format!("{} is {}, and {} reads {}", self.what(), measured.show(), id.value, range.value);
            findings.push(
                Finding::at("outside-instrument-range", self.span, text)
                    .also(range.span, "the range of the instrument"),
            );
        }
        let Some(stated) = &value.uncertainty else { return };
        // Whoever writes down what the instrument is stated to have has not written too little: the step of the display may be in it.
        let own = capability.stated_at(&value.value).unwrap_or_else(|| capability.expanded_at(&value.value));
        if stated.expanded < own {
            let (said, own) = (show_width(&stated.expanded, &value.unit), show_width(&own, &value.unit));
            let text = format!("{} states ± {said}, and {} alone has ± {own} there", self.what(), id.value);
            findings.push(
                Finding::at("uncertainty-below-instrument", self.span, text)
                    .also(id.span, "the instrument")
                    .help(format!("write ± {own} or more, or say in the body why several readings come to less")),
            );
        }
    }

    fn what(&self) -> String {
        format!("{}: {}", self.record.head.id.value, self.name)
    }
}
