//! Serials that are listed twice, and pieces that were taken out before they were put in or reworked before they were built.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::{Content, Item, Serial};
use crate::text::Span;

/// The check.
pub const CHECK: Check =
    Check { name: "serials", codes: &["out-before-in", "reworked-before-built", "serial-twice"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let model = subject.facts.model;
    for item in &model.items {
        let own = item.serials.iter().map(|piece| (piece.number.value.to_string(), piece.number.span));
        report(own, &format!("{} lists", item.head.id.value), findings);
        item.serials.iter().flat_map(|piece| &piece.contains).for_each(|inner| out_before_in(inner, findings));
        item.serials.iter().for_each(|piece| reworked_before_built(item, piece, findings));
    }
    for record in model.records.iter().filter(|record| record.serials.len() > 1) {
        let own = record.serials.iter().map(|serial| (serial.value.to_string(), serial.span));
        report(own, &format!("{} names", record.head.id.value), findings);
    }
    for event in &model.config.events {
        let own = event.serials.iter().map(|serial| (serial.value.to_string(), serial.span));
        report(own, &format!("event {} names", event.name.value), findings);
    }
}

fn out_before_in(inner: &Content, findings: &mut Findings) {
    let (Some(from), Some(to)) = (&inner.from, &inner.to) else { return };
    if from.value.on_a_day_before(to) || from.value.date == to.value.date {
        return;
    }
    let text = format!("{} is taken out on {}, before it is put in on {}", inner.serial.value, to.text, from.text);
    findings.push(Finding::at("out-before-in", to.span, text).also(from.span, "put in here"));
}

fn reworked_before_built(item: &Item, piece: &Serial, findings: &mut Findings) {
    let Some(built) = &piece.built else { return };
    for reworked in piece.reworked.iter().filter_map(|rework| rework.date.as_ref()) {
        if reworked.value.on_a_day_before(built) {
            let name = format!("{}/{}", item.head.id.value, piece.number.value);
            let text = format!("{name} is reworked on {}, before it is built on {}", reworked.text, built.text);
            findings.push(Finding::at("reworked-before-built", reworked.span, text).also(built.span, "built here"));
        }
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
