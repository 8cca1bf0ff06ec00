//! What approved waivers cover.

use jiff::civil::Date;

use crate::model::kinds::requirement::show_limits;
use crate::model::kinds::{Criterion, Expectation, Limit, On, Relief, Requirement, Waiver};
use crate::model::{Id, SerialId};
use crate::quantity::Rule;

use super::judge::{Verdict, judge_by};
use super::kept::otherwise;
use super::rows::piece_for;
use super::standing::is_approved;
use super::{EntryRef, Facts, Reason, Row, Since, State, Subject};

/// Where a row stands, for a waiver's scope.
#[derive(Clone, Copy, Debug)]
pub enum Where<'a> {
    /// The project.
    Project,
    /// A piece.
    Piece(&'a SerialId),
    /// An item's design.
    Design(&'a Id),
}

/// When a row is asked about.
#[derive(Clone, Copy, Debug)]
pub struct When {
    /// The event asked about, or the row's own.
    pub event: usize,
    /// The later of today and the event's date.
    pub deadline: Date,
}

/// What a waiver is asked to cover: one criterion of a row.
#[derive(Clone, Copy)]
pub struct Asked<'a> {
    /// The requirement.
    pub requirement: &'a Requirement,
    /// The criterion.
    pub criterion: &'a Criterion,
    /// Where the row stands; for one that asks for one piece of an item, that piece.
    pub place: Where<'a>,
    /// The item, for a row that asks for one piece of it: failures of its other pieces stand against the row too.
    pub item: Option<&'a Id>,
    /// When it is asked about.
    pub when: When,
}

/// The first waiver that covers every reason collected for a criterion.
pub fn covering<'f>(facts: &Facts<'f>, asked: &Asked<'_>, reasons: &[Reason]) -> Option<&'f Waiver> {
    if reasons.is_empty() {
        return None;
    }
    in_force_for(facts, asked)
        .filter(|it| in_scope(it, asked.place))
        .find(|waiver| reasons.iter().all(|reason| lacks(facts, waiver, asked, reason).is_none()))
}

/// Why the waivers in force for a criterion that none of them covers do not cover it, each with its id. Of those for other pieces
/// that the row could not be shown on nothing is said.
pub fn not_covering(facts: &Facts<'_>, asked: &Asked<'_>, reasons: &[Reason]) -> Vec<String> {
    let why = |waiver: &Waiver| match in_scope(waiver, asked.place) {
        true => reasons.iter().find_map(|reason| lacks(facts, waiver, asked, reason)),
        false => elsewhere(waiver, asked),
    };
    let said = |waiver: &Waiver| Some(format!("{} does not cover it: {}", waiver.head.id.value, why(waiver)?));
    in_force_for(facts, asked).filter_map(said).collect()
}

fn in_force_for<'f>(facts: &Facts<'f>, asked: &Asked<'_>) -> impl Iterator<Item = &'f Waiver> {
    let (requirement, when, facts) = (asked.requirement, asked.when, *facts);
    let named = facts.model.waivers.iter();
    let named = named.filter(|it| it.requirement.as_ref().is_some_and(|own| own.value == requirement.head.id.value));
    named.filter(move |it| in_force(&facts, it, requirement, when))
}

/// Whether a waiver holds: approved, with an end that has not come, and written for the requirement as it reads now.
pub fn in_force(facts: &Facts<'_>, waiver: &Waiver, requirement: &Requirement, when: When) -> bool {
    let in_date = waiver.expires.as_ref().is_none_or(|expires| expires.date >= when.deadline);
    let in_campaign = match &waiver.before {
        None => true,
        Some(name) => facts.model.config.event_index(&name.value).is_some_and(|last| last >= when.event),
    };
    let lines_up = waiver.mark.as_ref().is_some_and(|mark| mark.value == requirement.mark);
    is_approved(facts, waiver) && has_end(waiver) && in_date && in_campaign && lines_up
}

/// Whether a waiver says until when it holds: a permission without an end is none.
pub fn has_end(waiver: &Waiver) -> bool {
    waiver.before.is_some() || waiver.expires.is_some()
}

fn in_scope(waiver: &Waiver, place: Where<'_>) -> bool {
    let on_item = |item: &Id| waiver.item.as_ref().is_some_and(|own| own.value == *item);
    match place {
        Where::Project => waiver.serials.is_empty() && waiver.item.is_none(),
        Where::Piece(serial) => on_item(&serial.item) || waiver.serials.iter().any(|own| own.value == *serial),
        Where::Design(item) => on_item(item),
    }
}

/// Why a waiver that is for something else than a row is about does not reach it; none if it is for another piece altogether.
fn elsewhere(waiver: &Waiver, asked: &Asked<'_>) -> Option<String> {
    let item = match (asked.place, asked.item) {
        (Where::Project, _) => {
            return Some(format!(
                "it is for {}, and this is shown on the project as a whole; leave out serials and item if that is accepted",
                scope_of(waiver)
            ));
        }
        (_, Some(item)) | (Where::Design(item), None) => item,
        (Where::Piece(_), None) if scope_of(waiver) == PROJECT => return Some("it names no piece and no item".into()),
        (Where::Piece(_), None) => return None,
    };
    let own = waiver.serials.iter().any(|serial| serial.value.item == *item);
    let on = match asked.place {
        Where::Piece(piece) => format!("{piece} is what stands for {item} now"),
        _ => format!("this is shown on {item} as a whole"),
    };
    let because =
        format!("it is for {}, and {on}; write item = \"{item}\" in it if that is accepted", scope_of(waiver));
    (own || scope_of(waiver) == PROJECT).then_some(because)
}

const PROJECT: &str = "project";

/// What a waiver is for, in words.
pub fn scope_of(waiver: &Waiver) -> String {
    match (&waiver.item, waiver.serials.is_empty()) {
        (Some(item), _) => item.value.to_string(),
        (None, false) => waiver.serials.iter().map(|own| own.value.to_string()).collect::<Vec<_>>().join(", "),
        (None, true) => PROJECT.to_string(),
    }
}

/// Whether a waiver is for what a row is about; of a row that asks for one piece, for the piece that stands for its item now.
pub fn reaches_row(facts: &Facts<'_>, waiver: &Waiver, row: &Row) -> bool {
    let requirement = &facts.model.requirements[row.requirement];
    let entry = match row.entry {
        EntryRef::Plan(entry) => requirement.plan.get(entry),
        EntryRef::Children | EntryRef::None => None,
    };
    match &row.subject {
        Subject::Project => in_scope(waiver, Where::Project),
        Subject::Serial(piece) => in_scope(waiver, Where::Piece(piece)),
        Subject::Item(id) => {
            let one = entry.filter(|entry| entry.on == On::One).zip(facts.model.item(id));
            let piece = one.and_then(|(entry, item)| piece_for(facts, None, row.requirement, entry, item));
            piece.map_or_else(|| in_scope(waiver, Where::Design(id)), |piece| in_scope(waiver, Where::Piece(&piece)))
        }
    }
}

/// Whether a failure of another piece than the one that the row is judged on is within a waiver's scope.
fn reaches(facts: &Facts<'_>, waiver: &Waiver, asked: &Asked<'_>, reason: &Reason) -> bool {
    let (Some(item), "failure-stands") = (asked.item, reason.code) else { return true };
    let Some(record) = reason.record.as_ref().and_then(|id| facts.model.record(id)) else { return false };
    let mut failed = record.serials.iter().map(|serial| &serial.value).filter(|serial| serial.item == *item).peekable();
    let on_pieces = failed.peek().is_some() && record.item.as_ref().is_none_or(|own| own.value != *item);
    in_scope(waiver, Where::Design(item)) || (on_pieces && failed.all(|serial| in_scope(waiver, Where::Piece(serial))))
}

/// Why a waiver in scope does not cover a reason; none if it does.
fn lacks(facts: &Facts<'_>, waiver: &Waiver, asked: &Asked<'_>, reason: &Reason) -> Option<String> {
    if !reaches(facts, waiver, asked, reason) {
        return Some(format!("{}, and not only on what it is for", reason.text));
    }
    // What was accepted is what the record said then, and it can be put back; what it computes, signed again.
    if matches!(reason.code, "seal-broken" | "attachment-altered" | "recomputed") {
        return Some("what was changed after it was signed is put back, or signed again".to_string());
    }
    match reason.state {
        State::NotMet | State::Inconclusive | State::Void => {
            let Some(record) = &reason.record else { return Some(format!("no result is to blame: {}", reason.text)) };
            match waiver.accepts.iter().find(|(name, _)| name.value == asked.criterion.name) {
                Some((_, relief)) => {
                    refuses(facts, relief, asked, record).or_else(|| came_later(facts, waiver, relief, reason))
                }
                None => Some(format!("it accepts nothing of {}", asked.criterion.name)),
            }
        }
        State::Slipped | State::Unsigned | State::NoEvidence => waiver
            .without_evidence
            .is_none()
            .then(|| format!("that it is {} it would cover only with without_evidence", reason.state.word())),
        State::Waived | State::Closed => None,
    }
}

/// Why what makes a record void was not accepted with the waiver: it was not so yet when that was approved. What no file gives a day,
/// and what a newer record brought with it, is accepted by naming the record.
fn came_later(facts: &Facts<'_>, waiver: &Waiver, relief: &Relief, reason: &Reason) -> Option<String> {
    let (State::Void, Some(approved)) = (reason.state, &waiver.approved) else { return None };
    let made = || Some(facts.model.record(reason.record.as_ref()?)?.date.as_ref()?.date);
    let (day, is_dated) = match reason.since {
        Since::Made => (made(), false),
        Since::Day(day) => (Some(day), true),
        Since::Unknown => (None, false),
    };
    let is_named = matches!(relief, Relief::Records(_));
    if day.is_some_and(|day| day <= approved.date) || (is_named && !is_dated) {
        return None;
    }
    let on = approved.date;
    Some(match day {
        Some(_) => {
            format!("it was approved on {on}, before this: {}; approve it anew if that is accepted too", reason.text)
        }
        None => format!(
            "whether it was approved on {on} knowing this is not said: {}; name the record under accepts if it is accepted all the same",
            reason.text
        ),
    })
}

/// Why a relief does not accept what a record reports; none if it does.
///
/// A relief stands in for the limit on the side that it names; on the other side the criterion's own still holds.
fn refuses(facts: &Facts<'_>, relief: &Relief, asked: &Asked<'_>, record: &Id) -> Option<String> {
    let (min, max) = match relief {
        Relief::Records(ids) if ids.iter().any(|id| id.value == *record) => return None,
        Relief::Records(_) => return Some(format!("it does not list {record}")),
        Relief::Limits { min, max } => (min.as_ref(), max.as_ref()),
    };
    match held_against(facts, (min, max), asked, record) {
        Some(Verdict::Met) => None,
        Some(Verdict::CannotTell(trouble)) => Some(format!(
            "what it accepts, {}, cannot be held against the result: {}",
            show_limits(min, max),
            trouble.message
        )),
        Some(Verdict::Inconclusive("no-uncertainty")) => {
            Some(format!("no uncertainty is stated to hold against what it accepts, {}", show_limits(min, max)))
        }
        _ => Some(format!("the result does not meet what it accepts, {}", show_limits(min, max))),
    }
}

/// What the result of a record comes to under a relief; none if there is none that a relief could be for.
fn held_against(
    facts: &Facts<'_>,
    (min, max): (Option<&Limit>, Option<&Limit>),
    asked: &Asked<'_>,
    record: &Id,
) -> Option<Verdict> {
    let Asked { requirement, criterion, .. } = asked;
    if min.is_none() && max.is_none() {
        return None;
    }
    let record = facts.model.record(record)?;
    let verifies = record.verifies.iter().find(|own| own.requirement.value == requirement.head.id.value)?;
    let only = requirement.only_criterion();
    let result = verifies.result_for(&criterion.name, only)?;
    if otherwise(facts, record, verifies, &criterion.name, only).is_some() {
        return None;
    }
    let judged = |rule: &Rule, expects: Expectation| judge_by(facts, rule, &expects, result).verdict;
    let rule = &facts.model.config.rule;
    match &criterion.expects {
        Expectation::Limits { min: own_min, max: own_max } => {
            let (min, max) = (min.or(own_min.as_ref()).cloned(), max.or(own_max.as_ref()).cloned());
            Some(judged(rule, Expectation::Limits { min, max }))
        }
        // A count needs no uncertainty.
        Expectation::Count(least) => {
            let own = if min.is_some() { 0 } else { *least };
            let relieved = Expectation::Limits { min: min.cloned(), max: max.cloned() };
            match judged(&Rule::Simple, Expectation::Count(own)) {
                Verdict::Met => Some(judged(&Rule::Simple, relieved)),
                other => Some(other),
            }
        }
        Expectation::Sample { min: own_min, max: own_max, covers, confidence } => {
            let (min, max) = (min.or(own_min.as_ref()).cloned(), max.or(own_max.as_ref()).cloned());
            let (covers, confidence) = (covers.clone(), confidence.clone());
            Some(judged(rule, Expectation::Sample { min, max, covers, confidence }))
        }
        Expectation::Words(_) | Expectation::Trials { .. } => None,
    }
}
