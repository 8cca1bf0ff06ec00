//! Warnings: poor practice.

use super::{Class, CodeEntry};

/// Warnings: poor practice.
pub(super) const WARNINGS: &[CodeEntry] = &[
    CodeEntry {
        code: "instrument-without-calibration",
        class: Class::Warning,
        summary: "an instrument without any calibration",
        why: "Evidence made with it will be void.",
        help: "add [[ID.calibrations]] with on, due and certificate",
        source: OWN,
    },
    CodeEntry {
        code: "newer-result-not-used",
        class: Class::Warning,
        summary: "an analysis that uses a result although a newer one exists",
        why: "The calculation may rest on what is no longer so.",
        help: "take the newer record, or say in the analysis why not",
        source: OWN,
    },
    CodeEntry {
        code: "orphan-requirement",
        class: Class::Warning,
        summary: "a requirement without parent or source",
        why: "Nobody can say why it is there, or whether it may go.",
        help: "add parents = [\"…\"] or source = \"…\"",
        source: OWN,
    },
    CodeEntry {
        code: "same-day-evidence",
        class: Class::Warning,
        summary: "two signed records of one day decide, and neither says the hour",
        why: "The worse of the two counts.",
        help: "write the hour: date = 2026-03-14T09:30:00",
        source: OWN,
    },
    CodeEntry {
        code: "tolerance-too-narrow",
        class: Class::Warning,
        summary: "limits narrower than twice the uncertainty",
        why: "No result measured this well could ever decide.",
        help: "measure better, or widen the limits",
        source: OWN,
    },
    CodeEntry {
        code: "unsealed-record",
        class: Class::Warning,
        summary: "a signed record without a seal",
        why: "An edit after signing cannot be seen.",
        help: "run slipmark sign on it",
        source: OWN,
    },
];

/// None of these is from a publication.
const OWN: &str = "common practice, no source";
