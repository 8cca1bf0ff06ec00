//! Signatures, seals and revisions of records.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::Model;
use crate::model::kinds::{Item, Record, RecordStatus};
use crate::text::Spanned;

/// The check.
pub const CHECK: Check = Check {
    name: "records",
    codes: &[
        "changed-after-signing",
        "seal-without-signature",
        "unknown-revision",
        "unsealed-record",
        "verifies-nothing",
    ],
    run,
};

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let model = subject.facts.model;
    for record in &model.records {
        let id = &record.head.id.value;
        match (record.status.value, &record.seal) {
            (RecordStatus::Draft, Some(seal)) => {
                let text = format!("{id} is a draft and carries a seal");
                findings.push(Finding::at("seal-without-signature", seal.span, text));
            }
            (RecordStatus::Signed, None) => {
                let text = format!("{id} is signed without a seal");
                let help = format!("run slipmark sign {id} --by ROLE");
                findings.push(Finding::at("unsealed-record", record.status.span, text).help(help));
            }
            (RecordStatus::Signed | RecordStatus::Withdrawn, Some(seal)) if seal.value != record.seal_now => {
                let text = format!(
                    "{id} was changed after it was signed: its seal is {}, and its contents now make {}",
                    seal.value, record.seal_now
                );
                let again = format!("or, to stand by it as it is now: slipmark sign {id} --by ROLE --because \"…\"");
                let help =
                    format!("look at git diff and git log, and bring it back: git checkout COMMIT -- FILE; {again}");
                findings.push(Finding::at("changed-after-signing", seal.span, text).help(help));
            }
            _ => {}
        }
        if record.status.value == RecordStatus::Signed && record.verifies.is_empty() {
            let text = format!("{id} is signed and verifies no requirement");
            findings.push(Finding::at("verifies-nothing", record.head.id.span, text));
        }
        unknown_revisions(model, record, findings);
    }
}

/// Revisions that neither the item, nor any of its pieces, nor its list of revisions has.
fn unknown_revisions(model: &Model, record: &Record, findings: &mut Findings) {
    let items =
        record.serials.iter().map(|serial| &serial.value.item).chain(record.item.iter().map(|item| &item.value));
    let mut items: Vec<&Item> = items.filter_map(|id| model.item(id)).collect();
    items.dedup_by_key(|item| &item.head.id.value);
    for item in items {
        let id = &item.head.id.value;
        let Some(stated) = record.revisions.get(id).or(record.revision.as_ref()) else { continue };
        let own = item.revision.iter().chain(item.serials.iter().filter_map(|piece| piece.revision.as_ref()));
        let listed = item.revisions.iter().map(|revision| &revision.revision);
        let mut known = own.chain(listed);
        // Evidence from before the first listed revision may be of any earlier one.
        let first = item.revisions.first().and_then(|first| first.date.as_ref());
        let older =
            matches!((&record.date, first), (Some(made), Some(first)) if made.value.on_a_day_before(&first.value));
        if item.revisions.is_empty() || older || known.any(|revision: &Spanned<String>| revision.value == stated.value)
        {
            continue;
        }
        let text = format!(
            "{} is said to have seen revision {} of {id}, which lists none of that name",
            record.head.id.value, stated.value
        );
        findings.push(Finding::at("unknown-revision", stated.span, text).also(item.head.id.span, "the item"));
    }
}
