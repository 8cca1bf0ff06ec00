//! Dates that are still to come.

use jiff::ToSpan;

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::parse::Moment;
use crate::text::Spanned;

/// The check.
pub const CHECK: Check = Check { codes: &["date-in-future"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let model = subject.facts.model;
    let mut look = |what: String, date: &Option<Spanned<Moment>>| {
        let Some(date) = date else { return };
        // It may be tomorrow already somewhere on Earth.
        let latest = subject.facts.today.checked_add(1.day()).unwrap_or(subject.facts.today);
        if date.date > latest {
            let text = format!("{what} is dated {}, later than today ({})", date.text, subject.facts.today);
            findings.push(Finding::at("date-in-future", date.span, text));
        }
    };
    for record in &model.records {
        look(record.head.id.value.to_string(), &record.date);
        look(format!("the withdrawal of {}", record.head.id.value), &record.withdrawn);
        for again in record.verifies.iter().flat_map(|verifies| &verifies.reaffirmed) {
            look(format!("a re-affirmation in {}", record.head.id.value), &again.date);
        }
    }
    for decision in &model.decisions {
        look(decision.head.id.value.to_string(), &decision.date);
    }
    for nonconformance in &model.nonconformances {
        look(nonconformance.head.id.value.to_string(), &nonconformance.date);
        look(format!("the closure of {}", nonconformance.head.id.value), &nonconformance.closed);
    }
    for waiver in &model.waivers {
        look(format!("the approval of {}", waiver.head.id.value), &waiver.approved);
    }
    for instrument in model.instruments.values() {
        for calibration in &instrument.calibrations {
            look(format!("a calibration of {}", instrument.id.value), &calibration.on);
        }
    }
    for requirement in &model.requirements {
        if let Some(statement) = &requirement.by_children {
            look(format!("the sufficiency statement of {}", requirement.head.id.value), &statement.date);
        }
    }
}
