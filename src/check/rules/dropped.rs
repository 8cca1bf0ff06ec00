//! What was dropped must not be in use elsewhere, and nobody should go on testing it.

use jiff::civil::Date;

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::{
    AppliesTo, DecisionStatus, Item, ItemStatus, Record, RecordStatus, RequirementStatus, SerialUse,
};
use crate::model::{Id, Ref};
use crate::state::Facts;
use crate::text::Span;

/// The check.
pub const CHECK: Check = Check {
    name: "dropped",
    codes: &[
        "applies-to-dropped",
        "candidate-piece-built-in",
        "dropped-piece-built-in",
        "evidence-after-drop",
        "scrapped-piece-built-in",
    ],
    run,
};

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    built_in(facts, findings);
    if !facts.graph.dropped.contains(&true) {
        return;
    }
    applied_to(facts, findings);
    evidence(facts, findings);
}

fn is_dropped(facts: &Facts<'_>, id: &Id) -> bool {
    matches!(facts.model.find(id), Some(Ref::Item(at)) if facts.graph.dropped[at])
}

/// Pieces that are scrapped, of dropped items, or of options that were not chosen, in pieces that are in use.
fn built_in(facts: &Facts<'_>, findings: &mut Findings) {
    let items = facts.model.items.iter().zip(&facts.graph.dropped).filter(|(_, dropped)| !**dropped);
    for (item, _) in items {
        for piece in item.serials.iter().filter(|piece| !piece.scrapped && piece.purpose != SerialUse::Spare) {
            for inner in piece.contains.iter().filter(|inner| inner.is_in()) {
                let (number, inner, at) = (&piece.number.value, &inner.serial.value, inner.serial.span);
                let contains = format!("{}/{number} contains {inner}", item.head.id.value);
                let finding = if is_dropped(facts, &inner.item) {
                    Finding::at("dropped-piece-built-in", at, format!("{contains}, of an item that was dropped"))
                } else if facts.graph.scrapped.contains(inner) {
                    Finding::at("scrapped-piece-built-in", at, format!("{contains}, which is scrapped"))
                } else if let Some(current) =
                    chosen_instead(facts, &inner.item).filter(|_| piece.purpose == SerialUse::Service)
                {
                    let text =
                        format!("{contains}, a candidate, while {current} is what was chosen and evidence is asked of");
                    Finding::at("candidate-piece-built-in", at, text)
                } else {
                    continue;
                };
                findings.push(finding.also(piece.number.span, "the piece that contains it"));
            }
        }
    }
}

/// The current option of the slot that a candidate could fill.
fn chosen_instead<'m>(facts: &Facts<'m>, item: &Id) -> Option<&'m Id> {
    let item = facts.model.item(item).filter(|it| it.status == ItemStatus::Candidate)?;
    let Some(Ref::Slot(slot)) = facts.model.find(&item.fills.as_ref()?.value) else { return None };
    let current = facts.graph.options.get(slot)?.first()?;
    Some(&facts.model.items[*current].head.id.value)
}

/// Requirements that are about dropped items alone.
fn applied_to(facts: &Facts<'_>, findings: &mut Findings) {
    for it in facts.model.requirements.iter().filter(|it| it.status != RequirementStatus::Withdrawn) {
        let AppliesTo::Named(ids) = &it.applies_to else { continue };
        let Some(first) = ids.first().filter(|_| ids.iter().all(|id| is_dropped(facts, &id.value))) else { continue };
        let text = format!("{} applies to {}, which was dropped, and to nothing else", it.head.id.value, first.value);
        findings.push(Finding::at("applies-to-dropped", first.span, text));
    }
}

/// Records on a dropped option that are dated after the decision that dropped it.
fn evidence(facts: &Facts<'_>, findings: &mut Findings) {
    for item in facts.model.items.iter().filter(|it| it.status == ItemStatus::Dropped) {
        let Some((day, decision, span)) = dropped_on(facts, item) else { continue };
        let id = &item.head.id.value;
        let about = |it: &Record| {
            it.item.as_ref().is_some_and(|own| own.value == *id) || it.serials.iter().any(|own| own.value.item == *id)
        };
        let records = facts.model.records.iter().filter(|it| it.status.value != RecordStatus::Withdrawn && about(it));
        for record in records {
            let Some(date) = record.date.as_ref().filter(|date| date.value.date > day) else { continue };
            let text =
                format!("{} is dated {}, and {decision} dropped {id} on {day}", record.head.id.value, date.value.text);
            findings.push(Finding::at("evidence-after-drop", date.span, text).also(span, "dropped here"));
        }
    }
}

/// The day on which the last decision about an item dropped it, which one that was, and where.
fn dropped_on<'m>(facts: &Facts<'m>, item: &Item) -> Option<(Date, &'m Id, Span)> {
    let id = &item.head.id.value;
    let accepted = facts.model.decisions.iter().filter(|it| it.status == DecisionStatus::Accepted);
    let about = accepted.filter_map(|decision| {
        let date = decision.date.as_ref()?.value.date;
        let span = decision.drops.iter().find(|own| own.value == *id).map(|own| own.span);
        let selected = decision.selects.iter().any(|own| own.value == *id);
        (span.is_some() || selected).then_some((date, &decision.head.id.value, span))
    });
    let (date, decision, span) = about.max_by_key(|(date, ..)| *date)?;
    Some((date, decision, span?))
}
