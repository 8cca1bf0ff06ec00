//! Why a record does not apply now: hardware, departures, procedure, instruments, attachments, order, age.

use std::collections::BTreeSet;

use jiff::civil::Date;

use crate::model::kinds::{
    Content, Disposition, Item, KeepsEvidence, Method, Nonconformance, On, PlanEntry, Record, Rework,
};
use crate::model::{Id, SerialId};
use crate::parse::Moment;
use crate::quantity::parse_quantity;
use crate::text::{Spanned, shell_word};

use super::facts::{FETCH, pointer_words};
use super::held;
use super::kept::first_otherwise;
use super::standing::{
    Standing, failures, how_to_close, is_closed, is_moot, item_dropped, open_nonconformances, standing,
};
use super::{AttachmentState, Facts, Reason, Since};

/// On what a record is looked at.
pub struct Subject<'a> {
    /// The pieces concerned.
    pub serials: Vec<&'a SerialId>,
    /// The item, for a record about the design.
    pub item: Option<&'a Id>,
}

impl<'a> Subject<'a> {
    /// All that a record is about.
    pub fn whole(record: &'a Record) -> Subject<'a> {
        let serials = record.serials.iter().map(|serial| &serial.value).collect();
        Subject { serials, item: record.item.as_ref().map(|item| &item.value) }
    }
}

/// For which requirements evidence is looked at: one, or (for a record that another rests on) all that it verifies.
#[derive(Clone, Copy)]
enum For<'a> {
    One(&'a str),
    All(&'a Record),
}

impl For<'_> {
    /// Whether a list of requirements touches it; no list touches everything.
    fn touched(self, listed: Option<&Vec<Spanned<Id>>>) -> bool {
        let Some(listed) = listed else { return true };
        match self {
            For::One(requirement) => listed.iter().any(|id| id.as_str() == requirement),
            For::All(record) => {
                record.verifies.iter().any(|own| listed.iter().any(|id| id.value == own.requirement.value))
            }
        }
    }

    /// Whether a revision keeps the evidence.
    fn kept(self, keeps: &KeepsEvidence, record: &str) -> bool {
        match self {
            For::One(requirement) => keeps.keeps(requirement, record),
            For::All(whole) => {
                keeps.keeps("", record)
                    || (!whole.verifies.is_empty()
                        && whole.verifies.iter().all(|own| keeps.keeps(&own.requirement.value, record)))
            }
        }
    }
}

/// Every reason why a record does not apply now, for one requirement and one entry of its plan.
pub fn voids(
    facts: &Facts<'_>,
    at: usize,
    requirement: &str,
    entry: &PlanEntry,
    subject: &Subject<'_>,
    deadline: Date,
) -> Vec<Reason> {
    let record = &facts.model.records[at];
    // What is asked of an item as a whole is asked of what it is now, whatever a piece of it was left at.
    let of_item = entry.on != On::Each;
    let mut reasons = intrinsic(facts, at, subject, For::One(requirement), of_item);
    instruments(facts, record, entry.procedure.as_ref().or(record.procedure.as_ref()), &mut reasons);
    order(facts, record, entry, subject, &mut reasons);
    reasons.extend(held::used_up(facts, record, entry, subject));
    lapsed(record, entry, deadline, &mut reasons);
    reasons.extend(rests_on(facts, at, &mut BTreeSet::new()));
    reasons
}

/// What does not depend on the entry.
fn intrinsic(facts: &Facts<'_>, at: usize, subject: &Subject<'_>, whom: For<'_>, of_item: bool) -> Vec<Reason> {
    let record = &facts.model.records[at];
    let mut reasons = Vec::new();
    hardware(facts, record, subject, whom, &mut reasons);
    revisions(facts, record, subject, whom, of_item, &mut reasons);
    departures(facts, record, subject, whom, &mut reasons);
    attachments(facts, at, &mut reasons);
    if let Some(seal) = record.seal.as_ref().filter(|seal| seal.value != record.seal_now) {
        let text = format!("its seal is {} and its contents now make {}", seal.value, record.seal_now);
        let id = &record.head.id.value;
        reasons.push(Reason::new("seal-broken", text).help(format!(
            "look at git diff; restore the record, or stand by it as it is: slipmark sign {id} --by ROLE --because \"…\""
        )));
    }
    procedure(facts, record, &mut reasons);
    reasons
}

fn hardware(facts: &Facts<'_>, record: &Record, subject: &Subject<'_>, whom: For<'_>, reasons: &mut Vec<Reason>) {
    let items = subject.serials.iter().map(|serial| &serial.item).chain(subject.item);
    let items: BTreeSet<&Id> = items.collect();
    for item in items.iter().filter(|item| item_dropped(facts, item)) {
        let text = format!("{item} was dropped, or sits in something that was");
        reasons.push(Reason::new("option-dropped", text).because_of(item).since(None));
    }
    for serial in &subject.serials {
        if facts.graph.scrapped.contains(serial) {
            let text = format!("{serial} is scrapped");
            reasons.push(Reason::new("serial-scrapped", text).because_of(&serial.item).since(None));
        }
        reworked(facts, record, serial, whom, reasons);
        contents(facts, record, serial, whom, &mut BTreeSet::new(), reasons);
    }
}

/// The revisions that a record saw against those that its pieces are at, or with `of_item` their items; and of what is in the pieces,
/// where it says which that was.
fn revisions(
    facts: &Facts<'_>,
    record: &Record,
    subject: &Subject<'_>,
    whom: For<'_>,
    of_item: bool,
    reasons: &mut Vec<Reason>,
) {
    for serial in &subject.serials {
        if let Some((item, piece)) = facts.model.serial(serial) {
            let own = piece.revision.as_ref().filter(|_| !of_item || item.revision.is_none());
            revision(record, item, own.or(item.revision.as_ref()), whom, reasons);
        }
        if record.revisions.is_empty() {
            continue;
        }
        let is_asked = |inner: &SerialId| subject.serials.iter().any(|own| own.item == inner.item);
        let said =
            facts.graph.inside(serial).filter(|inner| record.revisions.contains_key(&inner.item) && !is_asked(inner));
        for (item, piece) in said.filter_map(|inner| facts.model.serial(inner)) {
            revision(record, item, piece.revision.as_ref().or(item.revision.as_ref()), whom, reasons);
        }
    }
    if let Some(item) = subject.item.and_then(|item| facts.model.item(item)) {
        revision(record, item, item.revision.as_ref(), whom, reasons);
    }
}

fn reworked(facts: &Facts<'_>, record: &Record, serial: &SerialId, whom: For<'_>, reasons: &mut Vec<Reason>) {
    for (piece, rework) in reworks(facts, record, serial, whom) {
        let when = rework.date.as_ref().map_or("a day not stated", |date| date.text.as_str());
        let text = format!("{piece} was reworked on {when}");
        let day = rework.date.as_ref().map(|date| date.date);
        reasons.push(Reason::new("reworked-since", text).because_of(&piece.item).since(day));
    }
}

/// The work on a piece, and on what is in it, that undid what a record showed: on its day or later.
fn reworks<'f>(
    facts: &'f Facts<'_>,
    record: &'f Record,
    serial: &'f SerialId,
    whom: For<'f>,
) -> impl Iterator<Item = (&'f SerialId, &'f Rework)> {
    let pieces = std::iter::once(serial).chain(facts.graph.inside(serial));
    let all = pieces.filter_map(|id| Some((id, facts.model.serial(id)?.1)));
    let all = all.flat_map(|(id, piece)| piece.reworked.iter().map(move |rework| (id, rework)));
    all.filter(move |(_, rework)| {
        let earlier = matches!((&rework.date, &record.date), (Some(done), Some(made)) if done.on_a_day_before(made));
        !earlier && whom.touched(rework.affects.as_ref())
    })
}

/// What was in a piece, and in what was and is in it, against what is there now.
fn contents<'a>(
    facts: &Facts<'a>,
    record: &Record,
    outer: &'a SerialId,
    whom: For<'_>,
    seen: &mut BTreeSet<&'a SerialId>,
    reasons: &mut Vec<Reason>,
) {
    if !facts.graph.contained.contains_key(outer) || !seen.insert(outer) {
        return;
    }
    let Some((_, piece)) = facts.model.serial(outer) else { return };
    let made = record.date.as_deref();
    let inner: BTreeSet<&SerialId> = piece.contains.iter().map(|inner| &inner.serial.value).collect();
    for inner in inner {
        let entries: Vec<&Content> = piece.contains.iter().filter(|own| own.serial.value == *inner).collect();
        let (then, now) = (entries.iter().any(|own| own.was_in(made)), entries.iter().any(|own| own.is_in()));
        if then && now {
            contents(facts, record, inner, whom, seen, reasons);
        }
        let mut moved = entries.iter().filter(|own| own.was_in(made) != own.is_in());
        if then == now || moved.all(|own| whom.kept(&own.keeps_evidence, &record.head.id.value)) {
            continue;
        }
        let day: fn(&Content) -> Option<&Spanned<Moment>> =
            if now { |own| own.from.as_ref() } else { |own| own.to.as_ref() };
        let last = entries.iter().filter_map(|own| day(own)).max_by_key(|day| day.in_lists());
        let on = last.map_or("a day not stated", |day| day.text.as_str());
        let text = match now {
            true => format!("{inner} was put into {outer} on {on}"),
            false => format!("{inner} was taken out of {outer} on {on}"),
        };
        let since = last.map(|day| day.date);
        reasons.push(Reason::new("contents-changed", text).because_of(&outer.item).since(since));
    }
}

fn revision(record: &Record, item: &Item, current: Option<&Spanned<String>>, whom: For<'_>, reasons: &mut Vec<Reason>) {
    let Some(current) = current else { return };
    let stated = record.revisions.get(&item.head.id.value).or(record.revision.as_ref());
    let Some(stated) = stated else {
        let text = format!(
            "{} is at revision {}, and the record does not say which it saw",
            item.head.id.value, current.value
        );
        let reason = Reason::new("revision-not-stated", text).because_of(&item.head.id.value);
        reasons.push(match reached(item, &current.value) {
            Some(day) => reason.since(Some(day)),
            None => reason,
        });
        return;
    };
    if stated.value != current.value && !later_keep(record, item, &stated.value, &current.value, whom) {
        let text = format!(
            "the evidence is from revision {} of {}, which is at {}",
            stated.value, item.head.id.value, current.value
        );
        let since = reached(item, &current.value);
        reasons.push(Reason::new("other-revision", text).because_of(&item.head.id.value).since(since));
    }
}

/// The day on which an item came to a revision, where it is listed.
fn reached(item: &Item, revision: &str) -> Option<Date> {
    let listed = item.revisions.iter().find(|own| own.revision.value == revision)?;
    listed.date.as_ref().map(|date| date.date)
}

/// Whether every revision after the stated one, up to the current one, keeps the evidence.
fn later_keep(record: &Record, item: &Item, stated: &str, current: &str, whom: For<'_>) -> bool {
    let place = |name: &str| item.revisions.iter().position(|revision| revision.revision.value == name);
    let Some(to) = place(current) else { return false };
    let from = match place(stated) {
        Some(from) => from + 1,
        None => {
            let first = item.revisions.first().and_then(|first| first.date.as_ref());
            let older = matches!((&record.date, first), (Some(made), Some(first)) if made.on_a_day_before(first));
            if !older {
                return false;
            }
            0
        }
    };
    from <= to && item.revisions[from..=to].iter().all(|later| whom.kept(&later.keeps_evidence, &record.head.id.value))
}

fn departures(facts: &Facts<'_>, record: &Record, subject: &Subject<'_>, whom: For<'_>, reasons: &mut Vec<Reason>) {
    let inside = inside(facts, record, subject);
    for at in concerning(facts, subject, &inside) {
        let nonconformance = &facts.model.nonconformances[at];
        if !whom.touched(nonconformance.requirements.as_ref()) || !is_against(nonconformance, subject, &inside) {
            continue;
        }
        let id = &nonconformance.head.id.value;
        if !is_closed(facts, nonconformance) {
            if is_moot(facts, nonconformance) {
                continue;
            }
            let what = against_what(nonconformance, subject, &inside);
            let reason = Reason::new("nonconformance-open", format!("{id} is against {what} and not closed"));
            let since = nonconformance.date.as_ref().map(|date| date.date);
            let mut help = how_to_close(facts.model, &[at]);
            if nonconformance.requirements.is_none() {
                help.push_str(
                    "; it counts for every requirement until it names those that it bears on: requirements = [\"ID\"]",
                );
            }
            reasons.push(reason.because_of(id).help(help).since(since));
            continue;
        }
        let undoes = matches!(&nonconformance.disposition, Some(it) if matches!(it.value, Disposition::Rework | Disposition::Repair));
        let before = matches!((&nonconformance.closed, &record.date), (Some(closed), Some(made)) if closed.on_a_day_before(made));
        if undoes && nonconformance.voids_nothing.is_none() && !before {
            let when = nonconformance.closed.as_ref().map_or("", |closed| closed.text.as_str());
            let text = format!("{id} was closed on {when} by work on the hardware");
            let since = nonconformance.closed.as_ref().map(|closed| closed.date);
            reasons.push(Reason::new("nonconformance-voids", text).because_of(id).since(since));
        }
    }
}

/// Whether an open nonconformance would make evidence of a requirement on a subject void.
pub fn is_departed(facts: &Facts<'_>, requirement: &str, subject: &Subject<'_>) -> bool {
    let inside = subject.serials.iter().flat_map(|own| facts.graph.inside(own)).cloned().collect();
    let concerning = concerning(facts, subject, &inside).into_iter();
    concerning.map(|at| &facts.model.nonconformances[at]).any(|it| {
        let touched = For::One(requirement).touched(it.requirements.as_ref());
        touched && is_against(it, subject, &inside) && !is_moot(facts, it) && !is_closed(facts, it)
    })
}

/// The open nonconformances, with what each lacks, against some pieces, what is in them now, or the item of one of all these; or
/// against an item itself.
pub fn open_against(facts: &Facts<'_>, subject: &Subject<'_>) -> Vec<(usize, String)> {
    let inside = subject.serials.iter().flat_map(|own| facts.graph.inside(own)).cloned().collect();
    let concerning = concerning(facts, subject, &inside);
    let open = open_nonconformances(facts, None).into_iter();
    open.filter(|(at, _)| concerning.contains(at) && is_against(&facts.model.nonconformances[*at], subject, &inside))
        .collect()
}

/// What is in the pieces now, and what was in them when the record was made.
fn inside(facts: &Facts<'_>, record: &Record, subject: &Subject<'_>) -> BTreeSet<SerialId> {
    let then = |own: &SerialId| facts.graph.inside_then(facts.model, own, record.date.as_deref());
    let each = subject.serials.iter().flat_map(|own| then(own).into_iter().chain(facts.graph.inside(own).cloned()));
    each.collect()
}

/// The nonconformances that could be against the pieces, what is in them, or the item: a first, coarse choice.
fn concerning(facts: &Facts<'_>, subject: &Subject<'_>, inside: &BTreeSet<SerialId>) -> BTreeSet<usize> {
    if facts.graph.against.is_empty() {
        return BTreeSet::new();
    }
    let inside = inside.iter().map(|inner| inner.item.as_str());
    let own = subject.serials.iter().map(|own| own.item.as_str()).chain(subject.item.map(Id::as_str));
    let all = inside.chain(own).chain(["project"]);
    all.filter_map(|item| facts.graph.against.get(item)).flatten().copied().collect()
}

/// What a nonconformance is against, as seen from a record: the thing itself, or what is in it.
fn against_what(nonconformance: &Nonconformance, subject: &Subject<'_>, inside: &BTreeSet<SerialId>) -> String {
    if is_against(nonconformance, subject, &BTreeSet::new()) {
        return "it".into();
    }
    let inner = nonconformance.against.iter().find(|target| match SerialId::parse(&target.value) {
        Some(serial) => inside.contains(&serial),
        None => inside.iter().any(|inner| inner.item.as_str() == target.value),
    });
    inner.map_or_else(|| "it".into(), |inner| format!("{}, which is or was in it,", inner.value))
}

/// Whether a nonconformance is against the pieces, what is in them, their items, or the item.
fn is_against(nonconformance: &Nonconformance, subject: &Subject<'_>, inside: &BTreeSet<SerialId>) -> bool {
    let project = subject.serials.is_empty() && subject.item.is_none();
    nonconformance.against.iter().any(|target| match SerialId::parse(&target.value) {
        Some(serial) => subject.serials.iter().any(|own| **own == serial) || inside.contains(&serial),
        None if target.value == "project" => project,
        None => {
            let item = target.value.as_str();
            subject.item.is_some_and(|own| own.as_str() == item)
                || subject.serials.iter().any(|own| own.item.as_str() == item)
                || inside.iter().any(|inner| inner.item.as_str() == item)
        }
    })
}

fn attachments(facts: &Facts<'_>, at: usize, reasons: &mut Vec<Reason>) {
    let record = &facts.model.records[at];
    let states = facts.attachments.get(at).map(Vec::as_slice).unwrap_or_default();
    for (attachment, state) in record.data.iter().zip(states) {
        let file = &attachment.file.value;
        match state {
            AttachmentState::Unchanged => {}
            AttachmentState::Missing(why) => {
                reasons.push(Reason::new("attachment-missing", format!("{file}: {why}")).since(None));
            }
            AttachmentState::Pointer(bytes) => {
                let text = format!("{file}: {}", pointer_words(*bytes));
                reasons.push(Reason::new("attachment-missing", text).help(FETCH).since(None));
            }
            AttachmentState::Altered(now) => {
                let (id, text) = (&record.head.id.value, format!("{file} has the SHA-256 {now} now"));
                let name = shell_word(file.as_ref());
                reasons.push(Reason::new("attachment-altered", text).help(format!(
                    "restore the file, in the folder of {id}: git checkout -- {name} (git log -- {name} says when it was changed); or if it is the right one: slipmark sign {id} --by ROLE --because \"…\""
                )));
            }
        }
    }
}

fn procedure(facts: &Facts<'_>, record: &Record, reasons: &mut Vec<Reason>) {
    let Some(procedure) = record.procedure.as_ref().and_then(|id| facts.model.procedure(&id.value)) else { return };
    let Some(current) = &procedure.revision else { return };
    let stated = record.procedure_revision.as_ref().map(|revision| revision.value.as_str());
    if stated != Some(current.value.as_str()) && !procedure.earlier_runs_count {
        let id = &procedure.head.id.value;
        let text = match stated {
            Some(stated) => format!("run by revision {stated} of {id}, which is at revision {}", current.value),
            None => format!("the record does not say which revision of {id} was run; it is at {}", current.value),
        };
        reasons.push(Reason::new("procedure-superseded", text).because_of(id).since(None));
    }
}

fn instruments(facts: &Facts<'_>, record: &Record, procedure: Option<&Spanned<Id>>, reasons: &mut Vec<Reason>) {
    if let Some(procedure) = procedure.and_then(|id| facts.model.procedure(&id.value)) {
        for required in procedure.instruments.iter().filter(|required| !record.names_instrument(&required.value)) {
            let text = format!(
                "{} requires instrument {}, which the record does not name",
                procedure.head.id.value, required.value
            );
            reasons.push(Reason::new("instrument-not-named", text).because_of(&procedure.head.id.value));
        }
    }
    if record.method == Method::Test && record.instruments.is_empty() && record.no_instrument.is_none() {
        reasons.push(Reason::new(
            "instrument-not-named",
            "the test names no instrument and does not say why none was needed",
        ));
    }
    recalled(facts, record, reasons);
    let Some(date) = &record.date else { return };
    for own in record.read_with() {
        let calibrated = facts.model.instruments.get(own).is_some_and(|instrument| instrument.calibrated_on(date.date));
        if !calibrated {
            let text = format!("{own} had no calibration in force on {}", date.date);
            reasons.push(Reason::new("instrument-not-calibrated", text).because_of(&Id::new(own)).help(format!(
                "add [[{own}.calibrations]] with on, due and certificate to instruments.toml, or repeat the run"
            )));
        }
    }
}

/// Instruments that were found out of tolerance after the record was made, and that nobody had looked at between.
fn recalled(facts: &Facts<'_>, record: &Record, reasons: &mut Vec<Reason>) {
    let id = &record.head.id.value;
    for own in record.read_with() {
        let Some(instrument) = facts.model.instruments.get(own) else { continue };
        for calibration in instrument.recalls(id, record.date.as_deref()) {
            let on = calibration.on.as_ref().map_or("a day not stated", |on| on.text.as_str());
            let since = instrument
                .before(calibration)
                .map_or("never looked at before".to_string(), |good| format!("last looked at on {}", good.text));
            let text = format!("{own} was found out of tolerance on {on}, {since}");
            let since = calibration.on.as_ref().map(|on| on.date);
            let help = format!(
                "repeat the run with a good instrument; if it could not have mattered here, add keeps_evidence = [\"{id}\"] \
                 with a reason to that calibration"
            );
            reasons.push(Reason::new("instrument-recalled", text).because_of(&Id::new(own)).help(help).since(since));
        }
    }
}

fn order(facts: &Facts<'_>, record: &Record, entry: &PlanEntry, subject: &Subject<'_>, reasons: &mut Vec<Reason>) {
    let Some(date) = &record.date else { return };
    for first in &entry.after {
        // Of an event and a procedure with one name both are asked for.
        let is_event = facts.model.config.event_index(&first.value).is_some();
        if is_event && !held::came_first(facts, &first.value, date, subject) {
            reasons.push(held::not_held(&first.value, subject));
        }
        let is_procedure = !is_event || facts.model.procedure(&first.value).is_some();
        if is_procedure && !came_first(facts, &first.value, date, subject) {
            let text = format!("{} must come first, and no record shows that it did and went well", first.value);
            reasons.push(Reason::new("out-of-order", text));
        }
    }
}

/// Whether a signed record of this procedure, on every piece concerned, is strictly earlier, was a run that went well, and was undone by
/// no work on the piece until then.
fn came_first(facts: &Facts<'_>, procedure: &str, date: &Moment, subject: &Subject<'_>) -> bool {
    let until =
        |(_, rework): (&SerialId, &Rework)| !rework.date.as_ref().is_some_and(|done| date.on_a_day_before(done));
    let earlier = |piece: Option<&SerialId>, on: &dyn Fn(&Record) -> bool| {
        let runs = facts.graph.runs.get(procedure).into_iter().flatten();
        runs.map(|at| (*at, &facts.model.records[*at])).any(|(at, other)| {
            on(other)
                && other.date.as_ref().is_some_and(|theirs| theirs.before(date))
                && standing(facts, at) == Standing::Signed
                && went_well(facts, at)
                && !piece.is_some_and(|piece| reworks(facts, other, piece, For::All(other)).any(until))
        })
    };
    if subject.serials.is_empty() {
        return earlier(None, &|other| {
            other.serials.is_empty() && other.item.as_ref().map(|item| &item.value) == subject.item
        });
    }
    let on = |serial: &SerialId, other: &Record| other.serials.iter().any(|own| own.value == *serial);
    subject.serials.iter().all(|serial| earlier(Some(serial), &|other| on(serial, other)))
}

/// Whether a run is one that something could come after: it failed nothing, or what failed was accepted as it is, and what it was read
/// with was good.
fn went_well(facts: &Facts<'_>, at: usize) -> bool {
    let record = &facts.model.records[at];
    let failed = (0..record.verifies.len()).any(|which| {
        let requirement = facts.graph.verified.get(at, which);
        requirement.is_some_and(|requirement| !failures(facts, requirement, at, which).is_empty())
    });
    let named: &[usize] = facts.graph.found_by.get(&at).map_or(&[], Vec::as_slice);
    let accepted = |at: &usize| {
        let it = &facts.model.nonconformances[*at];
        matches!(&it.disposition, Some(it) if it.value == Disposition::UseAsIs) && is_closed(facts, it)
    };
    if failed && (named.is_empty() || !named.iter().all(accepted)) {
        return false;
    }
    let mut read_with = Vec::new();
    instruments(facts, record, record.procedure.as_ref(), &mut read_with);
    read_with.is_empty()
}

/// The last day on which a record holds for an entry; none if it does not lapse, or after the end of the calendar.
pub fn holds_until(record: &Record, entry: &PlanEntry) -> Option<Date> {
    let length = parse_quantity(&entry.valid_for.as_ref()?.value).ok()?;
    record.date.as_ref()?.day_after(i64::try_from(length.value.floor()).ok()?)
}

fn lapsed(record: &Record, entry: &PlanEntry, deadline: Date, reasons: &mut Vec<Reason>) {
    let (Some(valid), Some(date)) = (&entry.valid_for, &record.date) else { return };
    let Ok(length) = parse_quantity(&valid.value) else { return };
    // What ends after the calendar does not end before the deadline.
    if length.value.is_negative() || holds_until(record, entry).is_some_and(|end| end < deadline) {
        let text = format!("made on {}, good for {}, and {deadline} is asked about", date.text, valid.value);
        reasons.push(Reason::new("lapsed", text));
    }
}

/// Whether what a record starts from still stands.
fn rests_on(facts: &Facts<'_>, at: usize, seen: &mut BTreeSet<usize>) -> Vec<Reason> {
    let record = &facts.model.records[at];
    let mut reasons = Vec::new();
    for input in &record.inputs {
        let Some(id) = input.record(facts.model) else { continue };
        let source = match facts.model.find(id) {
            Some(crate::model::Ref::Record(source)) => source,
            _ => {
                let text = format!("input {} is from {id}, which is not there", input.name.value);
                reasons.push(Reason::new("rests-on-void", text).because_of(&Id::new(id)).since(None));
                continue;
            }
        };
        if let Some(Unusable { why, because_of, since }) = unusable(facts, source, seen) {
            let text = format!("input {} is from {id}, which {why}", input.name.value);
            reasons.push(Reason::new("rests-on-void", text).because_of(&because_of).since(since));
        }
    }
    reasons
}

/// Why nothing can rest on a record, whatever it is for: it is not signed, was withdrawn, or is void. None if it stands.
pub fn why_unusable(facts: &Facts<'_>, at: usize) -> Option<String> {
    unusable(facts, at, &mut BTreeSet::new()).map(|found| found.why)
}

/// Why a record cannot be used by another.
struct Unusable {
    why: String,
    /// The thing that makes it so.
    because_of: Id,
    since: Since,
}

fn unusable(facts: &Facts<'_>, at: usize, seen: &mut BTreeSet<usize>) -> Option<Unusable> {
    let record = &facts.model.records[at];
    let by_itself = |why: &str, since: Since| {
        let because_of = record.head.id.value.clone();
        Some(Unusable { why: why.to_string(), because_of, since })
    };
    if !seen.insert(at) {
        return by_itself("rests on itself", Since::Unknown);
    }
    let why = match standing(facts, at) {
        Standing::Draft => by_itself("is not signed", Since::Unknown),
        Standing::Withdrawn => by_itself("was withdrawn", record.withdrawn.as_ref().map(|on| on.date).into()),
        Standing::Signed => {
            let mut reasons = intrinsic(facts, at, &Subject::whole(record), For::All(record), false);
            instruments(facts, record, record.procedure.as_ref(), &mut reasons);
            reasons.extend(rests_on(facts, at, seen));
            // Whoever knew of one knew of all only when the last had come.
            let made = record.date.as_ref().map(|date| date.date).into();
            let since =
                reasons.iter().map(|reason| if reason.since == Since::Made { made } else { reason.since }).max();
            let void = reasons.into_iter().next().map(|reason| Unusable {
                why: format!("is void: {}", reason.text),
                because_of: reason.because_of.unwrap_or_else(|| record.head.id.value.clone()),
                since: since.unwrap_or(Since::Unknown),
            });
            // Nobody has signed for what it comes to now.
            let moved = || {
                let name = first_otherwise(facts, record)?;
                by_itself(&format!("computes {name} anew since it was signed"), Since::Unknown)
            };
            void.or_else(moved)
        }
    };
    seen.remove(&at);
    why
}
