//! Pieces that an event uses, and of which nobody asks what is asked of others before an earlier one.

use std::collections::{BTreeMap, BTreeSet};

use crate::check::{Check, Subject};
use crate::config::Event;
use crate::diag::{Due, Finding, Findings};
use crate::model::kinds::{On, PlanEntry, Requirement, RequirementStatus, SerialUse, Stage};
use crate::model::{Id, SerialId};
use crate::state::Facts;
use crate::state::held::{holdings, is_done};
use crate::state::life::{in_service, pieces_of};
use crate::state::on_piece;
use crate::state::scope::{Target, event_of, serials, targets};
use crate::text::Span;

/// The check.
pub const CHECK: Check = Check { name: "passed_over", codes: &["piece-passed-over"], run };

/// What is asked before an event, by position, of other pieces than this, and the event, by position, that uses it.
type Passed = (usize, SerialId, usize);

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    let pieces: Vec<_> = facts.model.config.events.iter().map(|event| at_event(facts, event)).collect();
    let uses = |event: usize, piece: &SerialId| {
        pieces[event].contains(piece) && !is_done(facts, &facts.model.config.events[event].name.value, piece)
    };
    let mut left_out: BTreeMap<(usize, usize), Vec<SerialId>> = BTreeMap::new();
    let mut passed: BTreeMap<Passed, Vec<(&Id, Span)>> = BTreeMap::new();
    for (at, requirement) in facts.model.requirements.iter().enumerate() {
        if requirement.status == RequirementStatus::Withdrawn {
            continue;
        }
        for target in targets(facts, requirement) {
            let Target::Item(item) = target else { continue };
            for entry in requirement.plan.iter().filter(|entry| is_of_service(entry)) {
                let event = event_of(facts, requirement, Some(entry));
                let out = left_out.entry((event, item)).or_insert_with(|| left_out_of(facts, item, event));
                for piece in out.iter() {
                    let Some(user) = (event..pieces.len()).find(|later| uses(*later, piece)) else { continue };
                    let asked = is_asked_elsewhere(facts, requirement, entry, (item, piece), user);
                    if !asked && on_piece(facts, user, at, entry, piece).is_open() {
                        let all = passed.entry((user, piece.clone(), event)).or_default();
                        all.push((&requirement.head.id.value, entry.span));
                    }
                }
            }
        }
    }
    for ((user, piece, event), asked) in passed {
        findings.extend(finding(facts, user, &piece, event, &asked));
    }
}

/// The pieces that an event uses: of an item of which it names none, directly or inside what it names, that may be each in service,
/// until it was held.
fn at_event(facts: &Facts<'_>, event: &Event) -> BTreeSet<SerialId> {
    let mut pieces = pieces_of(facts, event);
    let held = || holdings(facts, &event.name.value).any(|(held, _)| held.is_completed());
    if event.serials.is_empty() || held() {
        return pieces;
    }
    let known: BTreeSet<Id> = pieces.iter().map(|piece| piece.item.clone()).collect();
    pieces.extend(in_service(facts).into_iter().filter(|piece| !known.contains(&piece.item)));
    pieces
}

/// Whether an entry asks for each piece in service.
fn is_of_service(entry: &PlanEntry) -> bool {
    entry.on == On::Each && matches!(entry.stage, None | Some(Stage::Acceptance))
}

/// Whether an entry asks for all that another does in the same way; by which procedure may hang on the unit.
fn is_of_a_sort(one: &PlanEntry, other: &PlanEntry, requirement: &Requirement) -> bool {
    let asked = |entry: &PlanEntry| requirement.criteria.iter().filter(|own| entry.asks_for(&own.name)).count();
    let both = requirement.criteria.iter().filter(|own| one.asks_for(&own.name) && other.asks_for(&own.name)).count();
    one.method == other.method && one.stage == other.stage && both == asked(other)
}

/// The pieces of an item, by position, of which nothing is asked before an event that is asked of its pieces in service.
fn left_out_of(facts: &Facts<'_>, item: usize, event: usize) -> Vec<SerialId> {
    let item = &facts.model.items[item];
    let asked = serials(facts, item, None, event);
    let usable = item.serials.iter().filter(|piece| !piece.scrapped && piece.purpose != SerialUse::Qualification);
    let ids = usable.map(|piece| item.serial_id(piece));
    ids.filter(|id| !asked.contains(id)).collect()
}

/// Whether another entry of the same sort asks it of the piece, no later than the event that uses it.
fn is_asked_elsewhere(
    facts: &Facts<'_>,
    requirement: &Requirement,
    entry: &PlanEntry,
    (item, piece): (usize, &SerialId),
    user: usize,
) -> bool {
    requirement.plan.iter().filter(|other| is_of_service(other) && is_of_a_sort(other, entry, requirement)).any(
        |other| {
            let event = event_of(facts, requirement, Some(other));
            event <= user && serials(facts, &facts.model.items[item], other.stage, event).contains(piece)
        },
    )
}

fn finding(facts: &Facts<'_>, user: usize, piece: &SerialId, event: usize, asked: &[(&Id, Span)]) -> Option<Finding> {
    let (item, own) = facts.model.serial(piece)?;
    let events = &facts.model.config.events;
    let (uses, before) = (&events[user], &events[event].name.value);
    let named = uses.serials.iter().find(|serial| serial.value == *piece);
    let is_spare = own.purpose == SerialUse::Spare;
    if is_spare && named.is_some() {
        // That a spare is named is said in its own right.
        return None;
    }
    let (ids, uses) = (first_of(asked), &uses.name.value);
    let (text, help) = if is_spare {
        let text = format!(
            "{piece} is a spare and is built into what {uses} uses: nothing asks before {before} what {ids} asks of pieces in service"
        );
        let help = format!(
            "say what it is for: use = \"service\" on {} in {}, or \"qualification\" if it never serves; or take it out where it is listed as contained",
            own.number.value, item.head.id.value
        );
        (text, help)
    } else {
        let text = format!("{uses} uses {piece}, and what {ids} asks before {before} is asked of other pieces only");
        let later = asked.first().filter(|_| user != event).map(|(id, _)| id.as_str());
        (text, ways_out(piece, (before, uses), later, named.is_some()))
    };
    let span = named.map_or(own.number.span, |serial| serial.span);
    let finding = Finding::at("piece-passed-over", span, text).help(help).due(Due::Before(user));
    Some(asked.iter().take(3).fold(finding, |finding, (_, span)| finding.also(*span, "asked here")))
}

/// The first few of them, and how many more there are.
fn first_of(asked: &[(&Id, Span)]) -> String {
    let first: Vec<&str> = asked.iter().take(3).map(|(id, _)| id.as_str()).collect();
    let more = if asked.len() > 3 { format!(" and {} more", asked.len() - 3) } else { String::new() };
    first.join(", ") + &more
}

/// What to type so that a piece in service is asked for, or is not used: by the event before which others are asked, and the one that
/// uses it; where these differ, the requirement that could ask again.
fn ways_out(piece: &SerialId, (before, uses): (&str, &str), later: Option<&str>, is_named: bool) -> String {
    let again = later.map_or(String::new(), |id| {
        format!(", or ask for it again later: another [[verify]] in {id} with before = \"{uses}\"")
    });
    let leave = if is_named {
        format!("take it out of `serials` of {uses}")
    } else {
        format!("name in `serials` of {uses} the pieces that will be there")
    };
    format!("add \"{piece}\" to `serials` of {before} in slipmark.toml{again}; or {leave}")
}
