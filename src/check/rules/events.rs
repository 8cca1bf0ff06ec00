//! The pieces that an event will use.

use std::collections::BTreeMap;

use crate::check::{Check, Subject};
use crate::config::Event;
use crate::diag::{Due, Finding, Findings};
use crate::model::kinds::{On, PlanEntry, Requirement, RequirementStatus, SerialUse, Stage};
use crate::model::{Ref, SerialId};
use crate::state::Facts;
use crate::state::held::is_done;
use crate::state::scope::{Target, event_of, serials, targets};
use crate::text::{Spanned, shell_word};

/// The check.
pub const CHECK: Check =
    Check { name: "events", codes: &["event-names-no-piece", "event-piece-unusable", "qualification-in-service"], run };

/// The first requirement and entry that need pieces of an item (by position) at an event, the first that is about pieces in
/// service, and whether one is about what the design is shown on.
#[derive(Default)]
struct Asked<'m> {
    any: Option<(&'m Requirement, &'m PlanEntry)>,
    service: Option<(&'m Requirement, &'m PlanEntry)>,
    qualification: bool,
}

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    let asked = asked(facts);
    for (at, event) in facts.model.config.events.iter().enumerate() {
        // What became of a piece after the event is not the event's matter; that its day was planned does not show that it was held.
        for serial in event.serials.iter().filter(|serial| !is_done(facts, &event.name.value, &serial.value)) {
            unusable(facts, event, serial, findings);
            qualification(facts, (at, event), serial, &asked, findings);
        }
        if !event.serials.is_empty() {
            none_named(facts, at, event, &asked, findings);
        }
    }
    contained(facts, findings);
}

fn asked<'m>(facts: &Facts<'m>) -> BTreeMap<(usize, usize), Asked<'m>> {
    let mut asked: BTreeMap<(usize, usize), Asked<'m>> = BTreeMap::new();
    for requirement in facts.model.requirements.iter().filter(|own| own.status != RequirementStatus::Withdrawn) {
        for target in targets(facts, requirement) {
            let Target::Item(item) = target else { continue };
            for entry in requirement.plan.iter().filter(|entry| entry.on != On::Design) {
                let own = asked.entry((event_of(facts, requirement, Some(entry)), item)).or_default();
                own.any.get_or_insert((requirement, entry));
                if matches!(entry.stage, None | Some(Stage::Acceptance)) {
                    own.service.get_or_insert((requirement, entry));
                } else {
                    own.qualification = true;
                }
            }
        }
    }
    asked
}

fn unusable(facts: &Facts<'_>, event: &Event, serial: &Spanned<SerialId>, findings: &mut Findings) {
    let Some((item, piece)) = facts.model.serial(&serial.value) else { return };
    let dropped = matches!(facts.model.find(&item.head.id.value), Some(Ref::Item(at)) if facts.graph.dropped[at]);
    let why = match () {
        () if piece.scrapped => "is scrapped",
        () if facts.graph.scrapped.contains(&serial.value) => "sits in something that is scrapped",
        () if piece.purpose == SerialUse::Spare => "is a spare",
        () if dropped => "is of an item that was dropped, or sits in something that was",
        () => return,
    };
    let text = format!("event {} names {}, which {why}", event.name.value, serial.value);
    let finding = Finding::at("event-piece-unusable", serial.span, text).also(piece.number.span, "the piece");
    let passed = event.date.as_ref().is_some_and(|date| date.value.date < facts.today);
    findings.push(match passed {
        false => finding,
        true => {
            let (name, serial) = (shell_word(event.name.value.as_ref()), &serial.value);
            finding.help(format!(
                "name the pieces that will be there; if it was held with this one: slipmark new event --for {name} --outcome completed \
                 --serial {serial} --date YYYY-MM-DD"
            ))
        }
    });
}

fn qualification(
    facts: &Facts<'_>,
    (at, event): (usize, &Event),
    serial: &Spanned<SerialId>,
    asked: &BTreeMap<(usize, usize), Asked<'_>>,
    findings: &mut Findings,
) {
    let Some((own, piece)) = facts.model.serial(&serial.value) else { return };
    let Some(Ref::Item(item)) = facts.model.find(&serial.value.item) else { return };
    if piece.purpose != SerialUse::Qualification || piece.scrapped {
        return;
    }
    let at_event = |at: usize| asked.get(&(at, item))?.service.map(|it| (at, it));
    let is_left_out = |(at, (_, entry)): &(usize, (&Requirement, &PlanEntry))| {
        !serials(facts, own, entry.stage, *at).contains(&serial.value)
    };
    // Where the design is still to be shown, by then or later, an event may be one for such pieces.
    let is_for_it = asked.iter().any(|((when, of), it)| *when >= at && *of == item && it.qualification);
    let earlier = || (0..at).filter(|_| !is_for_it).filter_map(at_event).find(is_left_out);
    let Some((when, (requirement, entry))) = at_event(at).or_else(earlier) else { return };
    let (id, name) = (&requirement.head.id.value, &event.name.value);
    let text = if when == at {
        format!("event {name} names {}, a qualification piece, for what {id} asks of pieces in service", serial.value)
    } else {
        let before = &facts.model.config.events[when].name.value;
        format!(
            "event {name} names {}, a qualification piece, of which nobody asks what {id} asks of pieces in service before {before}",
            serial.value
        )
    };
    findings.push(Finding::at("qualification-in-service", serial.span, text).also(entry.span, "the entry"));
}

/// An event that names pieces, and none of an item of which pieces are needed by then.
fn none_named(
    facts: &Facts<'_>,
    at: usize,
    event: &Event,
    asked: &BTreeMap<(usize, usize), Asked<'_>>,
    findings: &mut Findings,
) {
    for ((_, item), asked) in asked.range((at, 0)..(at + 1, 0)) {
        let Some((requirement, entry)) = asked.any else { continue };
        let own = &facts.model.items[*item];
        let id = &own.head.id.value;
        let named = event.serials.iter().any(|serial| serial.value.item == *id);
        // Where there is no piece at all, that is said already.
        if named || facts.graph.dropped[*item] || serials(facts, own, entry.stage, at).is_empty() {
            continue;
        }
        let text = format!(
            "event {} names no piece of {id}, of which {} asks something before it",
            event.name.value, requirement.head.id.value
        );
        let finding = Finding::at("event-names-no-piece", event.name.span, text).also(entry.span, "the entry");
        findings.push(finding.due(Due::Before(at)));
    }
}

/// Qualification pieces in pieces that are in service, at any depth.
fn contained(facts: &Facts<'_>, findings: &mut Findings) {
    for item in &facts.model.items {
        for piece in item.serials.iter().filter(|piece| piece.purpose == SerialUse::Service && !piece.scrapped) {
            let outer = item.serial_id(piece);
            let hulls = facts.graph.inside(&outer).filter_map(|inner| facts.model.serial(inner)).map(|(_, own)| own);
            for inner in std::iter::once(piece).chain(hulls).flat_map(|hull| &hull.contains).filter(|it| it.is_in()) {
                let Some((_, own)) = facts.model.serial(&inner.serial.value) else { continue };
                if own.purpose == SerialUse::Qualification {
                    let text =
                        format!("{outer} is in service, and {} in it is a qualification piece", inner.serial.value);
                    let finding = Finding::at("qualification-in-service", inner.serial.span, text);
                    findings.push(finding.also(own.number.span, "the piece"));
                }
            }
        }
    }
}
