//! Records, and what they are made with: procedures and instruments.

use std::collections::BTreeMap;

use crate::analysis::Analysis;
use crate::config::{Calibration, Instrument};
use crate::history::{CommitRef, Edited};
use crate::model::kinds::{Field, Record};
use crate::model::{Id, Ref};
use crate::parse::Moment;
use crate::state::applies::why_unusable;
use crate::state::standing::{Standing, lines_up, standing};
use crate::state::{AttachmentState, Reason, Row, State, of_requirement, pointer_words};
use crate::text::Spanned;

use super::requirement::{note, results, words};
use super::{ShowView, joined};

pub(super) fn record(mut view: ShowView, analysis: &Analysis, at: usize) -> ShowView {
    let model = &analysis.model;
    let it = &model.records[at];
    made(&mut view, it);
    signed(&mut view, it);
    for (attachment, state) in it.data.iter().zip(&analysis.attachments[at]) {
        let state = match state {
            AttachmentState::Unchanged => "unchanged".to_string(),
            AttachmentState::Missing(why) => format!("missing: {why}"),
            AttachmentState::Pointer(bytes) => format!("missing: {}", pointer_words(*bytes)),
            AttachmentState::Altered(_) if attachment.sha256.is_none() => "no hash yet".to_string(),
            AttachmentState::Altered(_) => "not the file that was signed for".to_string(),
        };
        view.say("attachment", format!("{}, {state}", attachment.file.value));
    }
    for verifies in &it.verifies {
        let mut parts = results(analysis, verifies);
        let asked = model.requirement(&verifies.requirement.value);
        if asked.is_some_and(|asked| !lines_up(&asked.mark, verifies)) {
            parts.push("the mark does not line up".into());
        }
        view.link(analysis, "verifies", &verifies.requirement.value, parts.join("; "));
    }
    for serial in &it.serials {
        view.piece(analysis, "on", &serial.value);
    }
    if let Some(item) = &it.item {
        view.link(analysis, "on", &item.value, "");
    }
    if let Some(procedure) = &it.procedure {
        let revision = it.procedure_revision.as_ref().map(|revision| format!("revision {}", revision.value));
        view.link(analysis, "procedure", &procedure.value, revision.unwrap_or_default());
    }
    for input in &it.inputs {
        if let Some(record) = input.record(model) {
            view.link(analysis, "rests on", record, format!("input {}", input.name.value));
        }
    }
    let id = it.head.id.value.as_str();
    for other in model.records.iter().filter(|other| other.inputs.iter().any(|input| input.record(model) == Some(id))) {
        view.link(analysis, "used by", &other.head.id.value, "");
    }
    for at in analysis.graph.found_by.get(&at).into_iter().flatten() {
        let nonconformance = &model.nonconformances[*at];
        view.link(analysis, "nonconformances", &nonconformance.head.id.value, nonconformance.status.word());
    }
    view.add_rows(analysis, |row| {
        row.criteria.iter().any(|own| own.record.as_ref().is_some_and(|own| own.as_str() == id))
            || row.reasons().any(|reason| reason.record.as_ref().is_some_and(|own| own.as_str() == id))
    });
    view
}

/// How it was made.
fn made(view: &mut ShowView, it: &Record) {
    view.say_some("date", it.date.as_ref().map(|date| &date.text));
    view.say_some("stage", it.stage.map(|stage| stage.word()));
    view.say_some("revision", it.revision.as_ref().map(|revision| &revision.value));
    view.say("revision", joined(it.revisions.iter().map(|(item, revision)| format!("{item} {}", revision.value))));
    view.say("instruments", joined(it.instruments.iter().map(|id| &id.value)));
    view.say_some("no instrument", it.no_instrument.as_ref());
    view.say(
        "conditions",
        joined(it.conditions.iter().map(|(name, value)| format!("{} {}", name.value, value.value.text()))),
    );
    view.say(
        "readings",
        joined(it.readings.iter().map(|(name, value)| format!("{} {}", name.value, value.value.text()))),
    );
    view.say("uses", joined(it.uses.iter().map(|(name, amount)| format!("{} {}", name.value, amount.value.text))));
    for input in &it.inputs {
        let value = input.value.as_ref().map(|value| value.value.text().to_string());
        let from = input.from.as_ref().map(|from| format!("from {}", from.value));
        let text = value.or(from).unwrap_or_default();
        let source = input.source.as_ref().map(|source| format!(", {}", source.value)).unwrap_or_default();
        view.say("input", format!("{} {text}{source}", input.name.value));
    }
    for deviation in &it.deviations {
        let accepted = deviation.accepted_by.as_ref().map_or("open".to_string(), |by| format!("accepted by {by}"));
        view.say("deviation", format!("{} ({accepted})", deviation.text));
    }
    for action in &it.actions {
        let closed = action.closed.as_ref().map_or("open".to_string(), |on| format!("closed {}", on.text));
        view.say("action", format!("{} ({closed})", action.text));
    }
}

/// Who stands by it.
fn signed(view: &mut ShowView, it: &Record) {
    view.say_some("performed by", it.performed_by.as_ref().map(|role| &role.value));
    view.say("witnessed by", joined(it.witnessed_by.iter().map(|role| &role.value)));
    view.say_some("signed by", it.signed_by.as_ref().map(|role| &role.value));
    view.say("status", it.status.value.word());
    view.say_some("reason", it.reason.as_ref());
    if let Some(seal) = &it.seal {
        let holds =
            if seal.value == it.seal_now { "holds" } else { "broken: the record was changed after it was signed" };
        view.say("seal", format!("{}, {holds}", seal.value));
    }
    for again in &it.signed_again {
        let (by, why) = (again.by.as_deref().unwrap_or("nobody"), again.reason.as_deref().unwrap_or("no reason given"));
        let date = again.date.as_ref().map(|date| format!("{} ", date.text)).unwrap_or_default();
        let instead = joined(again.seals.iter().map(|seal| &seal.value));
        view.say("signed again", format!("{date}by {by}: {why} (instead of {instead})"));
    }
    for verifies in &it.verifies {
        for again in &verifies.reaffirmed {
            let (by, why) =
                (again.by.as_deref().unwrap_or("nobody"), again.reason.as_deref().unwrap_or("no reason given"));
            let date = again.date.as_ref().map(|date| format!("{} ", date.text)).unwrap_or_default();
            view.say("re-affirmed", format!("{} {date}by {by}: {why}", verifies.requirement.value));
        }
    }
}

/// Says how a record differs from what was signed first.
pub fn tell_edits(view: &mut ShowView, edited: &[Edited]) {
    let Some(own) = edited.iter().find(|own| own.id == view.id) else { return };
    let CommitRef { oid, date, .. } = &own.signed;
    view.say("first signed", format!("{} of {date}, seal {}", oid.short(), own.seal));
    for difference in &own.differences {
        view.say("changed since", difference.show());
    }
}

pub(super) fn procedure(mut view: ShowView, analysis: &Analysis, at: usize) -> ShowView {
    let model = &analysis.model;
    let it = &model.procedures[at];
    view.say_some("revision", it.revision.as_ref().map(|revision| &revision.value));
    view.say("status", it.status.word());
    view.say("instruments", joined(it.instruments.iter().map(|id| &id.value)));
    view.say("uses", joined(it.uses.iter().map(|name| &name.value)));
    for (name, accuracy) in &it.accuracy {
        view.say("accuracy", format!("{} {}", name.value, accuracy.text.value));
    }
    for prerequisite in &it.prerequisites {
        view.say("prerequisite", prerequisite.value.clone());
    }
    if !it.steps.is_empty() {
        let holds = it.steps.iter().filter(|step| step.hold).count();
        let points = if holds == 1 { "hold point" } else { "hold points" };
        view.say("steps", format!("{}, {holds} {points}", it.steps.len()));
    }
    for field in it.all_fields() {
        view.say("field", field_words(field));
    }
    view.say("earlier runs", if it.earlier_runs_count { "count" } else { "do not count" });
    view.say_some("reason", it.reason.as_ref());
    if let Some(item) = &it.item {
        view.link(analysis, "for", &item.value, "");
    }
    let id = &it.head.id.value;
    for requirement in &model.requirements {
        for entry in
            requirement.plan.iter().filter(|entry| entry.procedure.as_ref().is_some_and(|own| own.value == *id))
        {
            view.link(analysis, "shows", &requirement.head.id.value, words(entry, requirement));
        }
    }
    for record in model.records.iter().filter(|record| record.procedure.as_ref().is_some_and(|own| own.value == *id)) {
        view.link(analysis, "runs", &record.head.id.value, run_note(record));
    }
    view.add_rows(analysis, |row| row.procedure.as_ref() == Some(id) && row.state.is_open());
    view
}

/// A field: its name, unit, what it feeds, and the range in which it is expected.
fn field_words(field: &Field) -> String {
    let mut words = field.name.value.clone();
    words.extend(field.unit.iter().map(|unit| format!(" [{}]", unit.value)));
    words.extend(field.instrument.iter().map(|instrument| format!(", from {}", instrument.value)));
    let feeds: Vec<String> = field.feeds.iter().map(|feed| feed.value.show()).collect();
    if !feeds.is_empty() {
        words.push_str(&format!(", feeds {}", feeds.join(", ")));
    }
    words.extend(field.expected.iter().map(|expected| format!(", expected {}", expected.show())));
    words
}

/// A record beside its procedure or its piece.
pub(super) fn run_note(record: &Record) -> String {
    let mut parts = vec![record.status.value.word().to_string()];
    parts.extend(record.date.as_ref().map(|date| date.text.clone()));
    parts.extend(record.procedure_revision.as_ref().map(|revision| format!("procedure revision {}", revision.value)));
    let shows = joined(record.verifies.iter().map(|own| &own.requirement.value));
    if !shows.is_empty() {
        parts.push(format!("for {shows}"));
    }
    parts.join("; ")
}

pub(super) fn instrument(analysis: &Analysis, it: &Instrument) -> ShowView {
    let title = it.what.clone().unwrap_or_default();
    let mut view = ShowView::bare(analysis, "instrument", it.id.value.to_string(), title);
    view.path = Some(analysis.path(it.id.span.file).to_string());
    view.line = Some(analysis.sources.locate(it.id.span).line);
    view.say_some("range", it.range.as_ref().map(|range| &range.value));
    view.say_some("resolution", it.resolution.as_ref().map(|steps| &steps.value));
    view.say_some("uncertainty", it.stated_uncertainty());
    for words in &it.in_words {
        view.say("not read", format!("{}: {}", words.key, words.why));
    }
    for calibration in &it.calibrations {
        view.say("calibration", calibrated(calibration));
    }
    let today = analysis.request.today;
    view.say("today", if it.calibrated_on(today) { "in calibration" } else { "not in calibration" });
    for procedure in &analysis.model.procedures {
        if procedure.instruments.iter().any(|own| own.value == it.id.value) {
            let of_it = |field: &&Field| field.instrument.as_ref().is_some_and(|own| own.value == it.id.value);
            let fields = joined(procedure.all_fields().filter(of_it).map(|field| &field.name.value));
            let note = if fields.is_empty() { String::new() } else { format!("for {fields}") };
            view.link(analysis, "required by", &procedure.head.id.value, note);
        }
    }
    for Touched { record, why_not, counts } in touched(analysis, it) {
        let date = record.date.as_ref().map(|date| format!("{}; ", date.text)).unwrap_or_default();
        let stands = why_not.unwrap_or_else(|| if counts { "stands" } else { "decides nothing now" }.to_string());
        view.link(analysis, "used in", &record.head.id.value, format!("{date}{stands}"));
    }
    view
}

/// How a record that was made with an instrument stands now.
pub(in crate::report) struct Touched<'a> {
    pub(in crate::report) record: &'a Record,
    /// Why nothing can rest on it, or on what it says of which requirements.
    pub(in crate::report) why_not: Option<String>,
    /// Whether it decides any row, or is used by another record.
    pub(in crate::report) counts: bool,
}

/// The records that were made with an instrument.
pub(in crate::report) fn touched<'a>(analysis: &'a Analysis, it: &'a Instrument) -> impl Iterator<Item = Touched<'a>> {
    let own = analysis.model.records.iter().enumerate().filter(|(_, record)| record.names_instrument(&it.id.value));
    own.map(|(at, record)| {
        // What makes it void first may be another thing; that it was recalled is what is looked for here.
        let recalled = it.recalls(&record.head.id.value, record.date.as_deref()).next().is_some();
        let (why_not, counts) = why_not_standing(analysis, at, recalled);
        let why_not = why_not.map(|why| if recalled { format!("recalled; {why}") } else { why });
        Touched { record, why_not, counts }
    })
}

/// Why nothing can rest on a record as it is, if so, and whether anything does: it is not signed, was withdrawn, or is void; or
/// the requirements of which it decides a row, and there is not met, void, or was judged against another text. What is true of a
/// requirement that others decide is not told: it would undo nothing. What was recalled is.
fn why_not_standing(analysis: &Analysis, at: usize, recalled: bool) -> (Option<String>, bool) {
    let (facts, model) = (analysis.facts(), &analysis.model);
    let record = &model.records[at];
    let id = &record.head.id.value;
    let is_used = || model.records.iter().any(|own| own.inputs.iter().any(|it| it.record(model) == Some(id.as_str())));
    if standing(&facts, at) != Standing::Signed || record.verifies.is_empty() {
        return (why_unusable(&facts, at), true);
    }
    // What is amiss, in words, with the requirements of which it is; the worst comes first.
    let mut amiss: BTreeMap<(State, String), Vec<String>> = BTreeMap::new();
    let mut decides = false;
    for verifies in &record.verifies {
        let Some(Ref::Requirement(asked)) = model.find(&verifies.requirement.value) else { continue };
        let Some(own) = Amiss::of(&of_requirement(&facts, asked), id) else { continue };
        decides = true;
        for (state, text) in own.worst {
            let words = match state {
                State::Void => text,
                State::NotMet | State::Slipped => String::new(),
                _ => continue,
            };
            let covered = own.covered.as_ref().map(|waiver| format!(" (covered by {waiver})")).unwrap_or_default();
            amiss.entry((state, words)).or_default().push(format!("{}{covered}", verifies.requirement.value));
        }
    }
    if !decides {
        let used = is_used();
        return (why_unusable(&facts, at).filter(|_| recalled || used), used);
    }
    let each = amiss.into_iter().map(|((state, words), ids)| match state {
        State::NotMet => format!("not met for {}", joined(ids)),
        State::Slipped => format!("has slipped for {}", joined(ids)),
        _ => format!("is void for {}: {words}", joined(ids)),
    });
    let said = each.collect::<Vec<_>>().join("; ");
    ((!said.is_empty()).then_some(said), true)
}

/// What is amiss with a record, for one requirement of which it decides a row.
#[derive(Default)]
struct Amiss {
    /// The first reason of each state, in words.
    worst: BTreeMap<State, String>,
    /// A waiver that covers it, where all of it is covered.
    covered: Option<Id>,
}

impl Amiss {
    /// None where no row of the requirement has to do with the record.
    fn of(rows: &[Row], record: &Id) -> Option<Amiss> {
        let (mut found, mut all_covered) = (None::<Amiss>, true);
        for criterion in rows.iter().flat_map(|row| &row.criteria) {
            let is_own = |reason: &&Reason| reason.record.as_ref() == Some(record);
            let own: Vec<&Reason> = criterion.reasons.iter().filter(is_own).collect();
            if own.is_empty() && criterion.record.as_ref() != Some(record) {
                continue;
            }
            let found = found.get_or_insert_default();
            for reason in &own {
                let text = reason.text.strip_prefix(&format!("{record}: ")).unwrap_or(&reason.text);
                found.worst.entry(reason.state).or_insert_with(|| text.to_string());
            }
            if !own.is_empty() {
                all_covered &= criterion.waiver.is_some();
                found.covered = found.covered.take().or_else(|| criterion.waiver.clone());
            }
        }
        found.map(|found| Amiss { covered: found.covered.filter(|_| all_covered), ..found })
    }
}

/// A calibration in a line: how long it holds, how the instrument was found, and what stands all the same.
pub(in crate::report) fn calibrated(it: &Calibration) -> String {
    let day = |date: &Option<Spanned<Moment>>| date.as_ref().map_or("?".to_string(), |date| date.text.clone());
    let mut text = format!("{} to {}", day(&it.on), day(&it.due));
    text.extend(it.certificate.as_ref().map(|certificate| format!(", certificate {certificate}")));
    text.extend(it.as_found.as_ref().map(|found| format!(", found {}", found.value.word())));
    text.extend(it.note.as_ref().map(|note| format!(": {note}")));
    if it.is_recall() {
        let reason = it.reason.as_ref().map(|reason| format!(": {reason}")).unwrap_or_default();
        text.push_str(&format!("; {}{reason}", it.keeps_evidence.says()));
    }
    text
}

/// What a record shows of a requirement, for lists under hardware.
pub(super) fn short(analysis: &Analysis, record: &Record) -> String {
    let each = record.verifies.iter().filter_map(|own| {
        let requirement = analysis.model.requirement(&own.requirement.value)?;
        Some(format!("{}: {}", requirement.head.id.value, note(analysis, requirement, record, own)))
    });
    match record.verifies.len() {
        1 => each.collect(),
        _ => run_note(record),
    }
}
