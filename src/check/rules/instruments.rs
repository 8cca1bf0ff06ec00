//! Instruments that nothing is known of.

use std::collections::BTreeSet;

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};

/// The check.
pub const CHECK: Check = Check { name: "instruments", codes: &["instrument-without-calibration"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let model = subject.facts.model;
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
