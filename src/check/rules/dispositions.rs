//! What the disposition of a nonconformance leaves undone.

use crate::check::{Check, Subject};
use crate::diag::{Due, Finding, Findings};
use crate::model::SerialId;
use crate::model::kinds::{Disposition, Nonconformance, Serial, SerialUse};
use crate::state::Facts;
use crate::state::standing::{is_closed, is_moot, item_dropped, nonconformance_due};

/// The check.
pub const CHECK: Check = Check { name: "dispositions", codes: &["concerns-nothing", "returned-and-in-use"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    for it in facts.model.nonconformances.iter().filter(|it| !is_moot(facts, it)) {
        let due = Due::Before(nonconformance_due(facts.model, it));
        let found = concerns_nothing(facts, it).into_iter().chain(returned(facts, it));
        findings.extend(found.map(|finding| finding.due(due.clone())));
    }
}

/// An empty list of requirements makes no evidence void, neither while it is open nor by rework or repair; that evidence still
/// stands must be said with a reason. Scrap and return end what the piece is good for, whatever was found.
fn concerns_nothing(facts: &Facts<'_>, it: &Nonconformance) -> Option<Finding> {
    let none = it.requirements.as_ref().is_some_and(Vec::is_empty);
    let gone = matches!(it.disposition.as_deref(), Some(Disposition::Scrap | Disposition::Return));
    if !none || it.voids_nothing.is_some() || (gone && is_closed(facts, it)) {
        return None;
    }
    let id = &it.head.id;
    let text = format!("{} lists no requirement in `requirements`, so that it makes no evidence void", id.value);
    Some(Finding::at("concerns-nothing", id.span, text))
}

/// The first piece that was sent back and is in use all the same.
fn returned(facts: &Facts<'_>, it: &Nonconformance) -> Option<Finding> {
    let disposition = it.disposition.as_ref().filter(|own| own.value == Disposition::Return)?;
    let closed = it.closed.as_ref().filter(|_| is_closed(facts, it))?;
    // Work of that day or later says that it came back, and undoes what was shown before.
    let came_back =
        |own: &Serial| own.reworked.iter().filter_map(|it| it.date.as_ref()).any(|on| !on.on_a_day_before(closed));
    let pieces = it.against.iter().filter_map(|target| SerialId::parse(&target.value));
    let in_use = pieces.filter_map(|piece| {
        let (_, own) = facts.model.serial(&piece)?;
        let out = facts.graph.scrapped.contains(&piece) || item_dropped(facts, &piece.item);
        (!out && own.purpose != SerialUse::Spare && !came_back(own)).then_some((piece, own))
    });
    in_use.into_iter().next().map(|(piece, own)| {
        let (id, word) = (&it.head.id.value, own.purpose.word());
        let text = format!("{id} was closed by returning {piece}, which is in use for {word}");
        Finding::at("returned-and-in-use", disposition.span, text).also(own.number.span, "this piece").help(format!(
            "in {}, set use = \"spare\" until {piece} is back, or status = \"scrapped\" if it stays away; if it came back, \
             write what was done to it under [[serials.reworked]], dated {} or later",
            piece.item, closed.text
        ))
    })
}
