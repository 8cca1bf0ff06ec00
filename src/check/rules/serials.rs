//! Serials that are listed twice.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::text::Span;

/// The check.
pub const CHECK: Check = Check { name: "serials", codes: &["serial-twice"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let model = subject.facts.model;
    for item in &model.items {
        let own = item.serials.iter().map(|piece| (piece.number.value.to_string(), piece.number.span));
        report(own, &format!("{} lists", item.head.id.value), findings);
    }
    for record in &model.records {
        let own = record.serials.iter().map(|serial| (serial.value.to_string(), serial.span));
        report(own, &format!("{} names", record.head.id.value), findings);
    }
    for event in &model.config.events {
        let own = event.serials.iter().map(|serial| (serial.value.to_string(), serial.span));
        report(own, &format!("event {} names", event.name.value), findings);
    }
}

fn report(serials: impl Iterator<Item = (String, Span)>, who: &str, findings: &mut Findings) {
    let mut seen: Vec<(String, Span)> = Vec::new();
    for (serial, span) in serials {
        match seen.iter().find(|(other, _)| *other == serial) {
            Some((_, first)) => {
                let text = format!("{who} {serial} twice");
                findings.push(Finding::at("serial-twice", span, text).also(*first, "first here"));
            }
            None => seen.push((serial, span)),
        }
    }
}
