//! Hazards of items that are nearly written as one for which cautions are known. Whoever has a hazard of their own knows about it.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::item::HAZARDS;
use crate::text::did_you_mean;

/// The check.
pub const CHECK: Check = Check { name: "hazards", codes: &["unknown-hazard"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    for item in &subject.facts.model.items {
        for hazard in item.hazards.iter().filter(|hazard| !HAZARDS.contains(&hazard.value.as_str())) {
            let Some(help) = did_you_mean(&hazard.value, HAZARDS.iter().copied()) else { continue };
            let text = format!("{}: no cautions are known for `{}`", item.head.id.value, hazard.value);
            findings.push(Finding::at("unknown-hazard", hazard.span, text).help(help));
        }
    }
}
