//! Revisions that are listed and not reached, and evidence from before its piece or its revision.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::Model;
use crate::model::kinds::{Item, ItemStatus, Method, Record, RecordStatus, is_earlier_revision};
use crate::text::Spanned;

/// The check.
pub const CHECK: Check = Check {
    name: "revisions",
    codes: &["evidence-before-built", "evidence-before-revision", "revision-not-reached"],
    run,
};

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let model = subject.facts.model;
    for item in model.items.iter().filter(|item| item.status != ItemStatus::Dropped) {
        not_reached(item, subject.facts.today, findings);
    }
    // Withdrawn is as good as corrected; an analysis may come before what it is about.
    let about_hardware =
        |record: &Record| record.status.value != RecordStatus::Withdrawn && record.method != Method::Analysis;
    for record in model.records.iter().filter(|record| about_hardware(record)) {
        before_built(model, record, findings);
        // Drawings are inspected before they are released.
        if !record.serials.is_empty() || record.method != Method::Inspection {
            before_revision(model, record, findings);
        }
    }
}

/// Steps that have come about by the list, and that neither the item nor any of its pieces is at.
fn not_reached(item: &Item, today: jiff::civil::Date, findings: &mut Findings) {
    let own = item.revision.iter().chain(item.serials.iter().filter_map(|piece| piece.revision.as_ref()));
    let stated: Vec<&Spanned<String>> = own.collect();
    let place = |name: &str| item.revisions.iter().position(|step| step.revision.value == name);
    let first = item.revisions.first().map_or("", |step| step.revision.value.as_str());
    // One that is not listed is before all of them, if it can be told at all.
    let next = stated.iter().map(|own| match place(&own.value) {
        Some(at) => at + 1,
        None if is_earlier_revision(&own.value, first) => 0,
        None => item.revisions.len(),
    });
    let next = next.max().unwrap_or(0);
    let is_to_come = |step: &crate::model::kinds::Revision| step.date.as_ref().is_some_and(|date| date.date > today);
    let Some(step) = item.revisions[next..].iter().rev().find(|step| !is_to_come(step)) else { return };
    let (id, name) = (&item.head.id.value, &step.revision.value);
    let at = item.revision.as_ref();
    let text = match at {
        Some(at) => format!("revision {name} of {id} is listed, and {id} is at {}", at.value),
        None => format!("revision {name} of {id} is listed, and {id} states none"),
    };
    let help = format!(
        "set revision = \"{name}\" above the tables of {id}, or on the pieces that are at it; if it is still to come, \
         remove it from [[revisions]] or correct its `date`"
    );
    let finding = Finding::at("revision-not-reached", step.revision.span, text).help(help);
    let (span, note) = at.map_or((item.head.id.span, "the item"), |at| (at.span, "the revision it is at"));
    findings.push(finding.also(span, note));
}

fn before_built(model: &Model, record: &Record, findings: &mut Findings) {
    let Some(made) = &record.date else { return };
    for name in &record.serials {
        let item = model.item(&name.value.item);
        let piece = item.and_then(|item| item.serials.iter().find(|piece| piece.number.value == name.value.number));
        let Some(built) = piece.and_then(|piece| piece.built.as_ref()) else { continue };
        if made.value.on_a_day_before(built) {
            let id = &record.head.id.value;
            let text = format!("{id} is dated {}, before {} is built on {}", made.text, name.value, built.text);
            findings.push(Finding::at("evidence-before-built", made.span, text).also(built.span, "built here"));
        }
    }
}

fn before_revision(model: &Model, record: &Record, findings: &mut Findings) {
    let Some(made) = &record.date else { return };
    let subjects = record.serials.iter().map(|name| &name.value.item).chain(record.item.iter().map(|id| &id.value));
    let mut ids: Vec<_> = subjects.chain(record.revisions.keys()).collect();
    ids.sort();
    ids.dedup();
    for item in ids.into_iter().filter_map(|id| model.item(id)) {
        let id = &item.head.id.value;
        let Some(stated) = record.revisions.get(id).or(record.revision.as_ref()) else { continue };
        let step = item.revisions.iter().find(|step| step.revision.value == stated.value);
        let Some(came) = step.and_then(|step| step.date.as_ref()) else { continue };
        if made.value.on_a_day_before(came) {
            let text = format!(
                "{} is dated {}, before revision {} of {id}, which it is said to have seen, came on {}",
                record.head.id.value, made.text, stated.value, came.text
            );
            findings.push(Finding::at("evidence-before-revision", made.span, text).also(came.span, "the revision"));
        }
    }
}
