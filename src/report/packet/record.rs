//! The records: what was done, on what, by whom, with what, and what came out.

use serde::Serialize;

use super::html::{Html, markdown};
use super::links::{Link, Linker, anchor};
use super::photo::{Album, Photo};
use super::row::RowPart;
use crate::analysis::Analysis;
use crate::computed::Origin;
use crate::model::Ref;
use crate::model::kinds::{Attachment, Record, Verifies};
use crate::report::view::{Beside, WorkedView, worked};
use crate::report::worked::{self, Working};
use crate::source::Source;
use crate::state::standing::lines_up;
use crate::state::{AttachmentState, pointer_words};

/// A record.
#[derive(Debug, Serialize)]
pub(in crate::report) struct RecordPart {
    anchor: String,
    id: String,
    title: String,
    method: &'static str,
    status: &'static str,
    withdrawn: Option<String>,
    date: Option<String>,
    on: Vec<Link>,
    revision: Option<String>,
    revisions: Vec<(String, String)>,
    stage: Option<&'static str>,
    procedure: Option<Link>,
    procedure_revision: Option<String>,
    procedure_revision_now: Option<String>,
    performed_by: Option<String>,
    witnessed_by: Vec<String>,
    signed_by: Option<String>,
    instruments: Vec<InstrumentLine>,
    no_instrument: Option<String>,
    conditions: Vec<(String, String)>,
    uses: Vec<(String, String)>,
    inputs: Vec<InputLine>,
    working: Option<Working>,
    results: Vec<ResultLine>,
    marks: Vec<MarkLine>,
    seal: Option<String>,
    seal_holds: bool,
    deviations: Vec<RemarkLine>,
    actions: Vec<RemarkLine>,
    data: Vec<DataLine>,
    decides: Vec<DecidesLine>,
    notes: Html,
    file: Link,
}

/// An instrument, and whether it can be relied on for that day.
#[derive(Debug, Serialize)]
struct InstrumentLine {
    link: Link,
    what: Option<String>,
    /// Why what it read is worth nothing, if so.
    amiss: Option<&'static str>,
}

/// What a calculation starts from.
#[derive(Debug, Serialize)]
struct InputLine {
    name: String,
    value: Option<String>,
    source: Option<String>,
    from: Option<Html>,
}

/// One result.
#[derive(Debug, Serialize)]
struct ResultLine {
    requirement: Link,
    criterion: String,
    limit: Option<String>,
    result: Option<String>,
    not_judged: Option<String>,
    outcome: Option<String>,
}

/// The mark that the evidence carries for one requirement.
#[derive(Debug, Serialize)]
struct MarkLine {
    requirement: Link,
    mark: Option<String>,
    now: Option<String>,
    lines_up: bool,
    reaffirmed: Vec<ReaffirmedLine>,
}

#[derive(Debug, Serialize)]
struct ReaffirmedLine {
    mark: Option<String>,
    date: Option<String>,
    by: Option<String>,
    reason: Option<String>,
}

#[derive(Debug, Serialize)]
struct RemarkLine {
    text: String,
    settled: Option<String>,
}

/// A file that was signed for.
#[derive(Debug, Serialize)]
struct DataLine {
    file: Link,
    sha256: Option<String>,
    state: String,
    unchanged: bool,
    photo: Option<Photo>,
}

/// A row that this record decides.
#[derive(Debug, Serialize)]
struct DecidesLine {
    requirement: Link,
    row: Link,
    state: &'static str,
}

/// Every record, by id.
pub(in crate::report) fn parts(
    analysis: &Analysis,
    linker: &Linker,
    rows: &[RowPart],
    source: &dyn Source,
) -> Vec<RecordPart> {
    let mut album = Album::new(analysis, source);
    let records = analysis.model.records.iter().zip(&analysis.attachments);
    let parts = records.map(|(record, states)| RecordPart {
        data: data(analysis, linker, record, states, &mut album),
        ..part(analysis, linker, rows, record)
    });
    parts.collect()
}

/// One record, with the rows that it decides.
pub(in crate::report) fn whole(
    analysis: &Analysis,
    linker: &Linker,
    at: usize,
    rows: &[RowPart],
    source: &dyn Source,
) -> RecordPart {
    let record = &analysis.model.records[at];
    let mut album = Album::new(analysis, source);
    let data = data(analysis, linker, record, &analysis.attachments[at], &mut album);
    RecordPart { data, ..part(analysis, linker, rows, record) }
}

/// What a record is on: pieces, an item, or the project.
pub(in crate::report) fn subjects(record: &Record, linker: &Linker) -> Vec<Link> {
    match (&record.item, record.serials.is_empty()) {
        (_, false) => linker.links(record.serials.iter().map(|serial| serial.value.to_string())),
        (Some(item), true) => vec![linker.link(&item.value)],
        (None, true) => vec![Link { text: "project".into(), href: None }],
    }
}

/// All of a record but its data.
fn part(analysis: &Analysis, linker: &Linker, rows: &[RowPart], it: &Record) -> RecordPart {
    let id = it.head.id.value.to_string();
    let body = analysis.sources.slice(it.head.body);
    let procedure = it.procedure.as_ref().and_then(|id| analysis.model.procedure(&id.value));
    let now = procedure.and_then(|procedure| procedure.revision.as_ref()).map(|revision| revision.value.clone());
    let text = |value: &Option<crate::text::Spanned<String>>| value.as_ref().map(|text| text.value.clone());
    RecordPart {
        anchor: anchor("rec", &id),
        title: it.head.title.clone(),
        method: it.method.word(),
        status: it.status.value.word(),
        withdrawn: withdrawn(it),
        date: it.date.as_ref().map(|date| date.text.clone()),
        on: subjects(it, linker),
        revision: text(&it.revision),
        revisions: it.revisions.iter().map(|(item, revision)| (item.to_string(), revision.value.clone())).collect(),
        stage: it.stage.map(crate::model::kinds::Stage::word),
        procedure: it.procedure.as_ref().map(|id| linker.link(&id.value)),
        procedure_revision: text(&it.procedure_revision),
        procedure_revision_now: now.filter(|now| Some(now) != text(&it.procedure_revision).as_ref()),
        performed_by: text(&it.performed_by),
        witnessed_by: it.witnessed_by.iter().map(|who| who.value.clone()).collect(),
        signed_by: text(&it.signed_by),
        instruments: instruments(analysis, linker, it),
        no_instrument: it.no_instrument.clone(),
        uses: it.uses.iter().map(|(name, amount)| (name.value.clone(), amount.value.text.clone())).collect(),
        conditions: it
            .conditions
            .iter()
            .map(|(name, value)| (name.value.clone(), value.value.text().to_string()))
            .chain(it.readings.iter().map(|(name, value)| (name.value.clone(), value.value.text().to_string())))
            .collect(),
        inputs: inputs(analysis, linker, it),
        working: working(analysis, it),
        results: it.verifies.iter().flat_map(|verifies| results(analysis, linker, verifies)).collect(),
        marks: it.verifies.iter().map(|verifies| mark(analysis, linker, verifies)).collect(),
        seal: text(&it.seal),
        seal_holds: it.seal.as_ref().is_some_and(|seal| seal.value == it.seal_now),
        deviations: it.deviations.iter().map(|own| remark(&own.text, own.accepted_by.as_ref())).collect(),
        actions: it.actions.iter().map(|own| remark(&own.text, own.closed.as_ref().map(|on| &on.text))).collect(),
        data: Vec::new(),
        decides: decides(rows, &id),
        notes: markdown(body.trim(), analysis.path(it.head.file), linker),
        file: linker.whole(analysis, it.head.file),
        id,
    }
}

fn withdrawn(it: &Record) -> Option<String> {
    if it.status.value != crate::model::kinds::RecordStatus::Withdrawn {
        return None;
    }
    let date = it.withdrawn.as_ref().map_or("on no stated day", |date| date.text.as_str());
    let by = it.withdrawn_by.as_deref().unwrap_or("nobody named");
    let reason = it.reason.as_deref().unwrap_or("no reason given");
    Some(format!("{date}, by {by}: {reason}"))
}

fn instruments(analysis: &Analysis, linker: &Linker, it: &Record) -> Vec<InstrumentLine> {
    let line = |id: &crate::text::Spanned<crate::model::Id>| {
        let known = analysis.model.instruments.get(&id.value);
        let day = it.date.as_ref().map(|date| date.date);
        let calibrated = known.zip(day).is_some_and(|(known, day)| known.calibrated_on(day));
        let recalled = known.is_some_and(|known| known.recalls(&it.head.id.value, it.date.as_deref()).next().is_some());
        InstrumentLine {
            link: linker.link(&id.value),
            what: known.and_then(|known| known.what.clone()),
            amiss: match (calibrated, recalled) {
                (false, _) => Some("not in calibration that day"),
                (true, true) => Some("found out of tolerance since"),
                (true, false) => None,
            },
        }
    };
    it.instruments.iter().map(line).collect()
}

/// The working of a record that computes something; its inputs stand beside it, with links.
fn working(analysis: &Analysis, it: &Record) -> Option<Working> {
    let Some(Ref::Record(at)) = analysis.model.find(&it.head.id.value) else { return None };
    analysis.computed.of_record(at).filter(|values| !values.steps.is_empty() || !values.reduced.is_empty())?;
    let view = worked(analysis, &analysis.facts(), at, Beside { solve: None, all_trials: false });
    Some(worked::working(&WorkedView { inputs: Vec::new(), ..view }))
}

fn inputs(analysis: &Analysis, linker: &Linker, it: &Record) -> Vec<InputLine> {
    let values = match analysis.model.find(&it.head.id.value) {
        Some(Ref::Record(at)) => analysis.computed.of_record(at),
        _ => None,
    };
    let computed = |name: &str| values?.inputs.iter().find(|own| own.name == name).map(|own| own.quantity.show());
    let line = |input: &crate::model::kinds::Input| InputLine {
        name: input.name.value.clone(),
        value: input.value.as_ref().map(|value| value.value.text().to_string()).or_else(|| computed(&input.name.value)),
        source: input.source.as_ref().map(|source| source.value.clone()),
        from: input.from.as_ref().map(|from| match from.value.split_once('.') {
            Some((record, criterion)) => {
                let mut html = linker.text(record).as_str().to_string();
                html.push_str(": ");
                super::html::escape(&mut html, criterion);
                Html::trusted(html)
            }
            None => linker.text(&from.value),
        }),
    };
    let parameters = values.into_iter().flat_map(|values| &values.inputs).filter_map(|own| match &own.origin {
        Origin::Parameter(source) => Some(InputLine {
            name: own.name.clone(),
            value: Some(own.quantity.show()),
            source: Some(
                source.as_ref().map_or("parameters.toml".into(), |source| format!("parameters.toml: {source}")),
            ),
            from: None,
        }),
        _ => None,
    });
    it.inputs.iter().map(line).chain(parameters).collect()
}

/// Each criterion that the record judges or leaves out, with what is asked now.
fn results(analysis: &Analysis, linker: &Linker, verifies: &Verifies) -> Vec<ResultLine> {
    let requirement = analysis.model.requirement(&verifies.requirement.value);
    let criteria = requirement.map(|it| it.criteria.as_slice()).unwrap_or_default();
    let only = requirement.and_then(|it| it.only_criterion());
    let names = verifies.criteria_told(only);
    let line = |name: &str| ResultLine {
        requirement: linker.link(&verifies.requirement.value),
        criterion: name.to_string(),
        limit: criteria.iter().find(|own| own.name == name).map(crate::model::kinds::Criterion::show),
        result: verifies.result_for(name, Some(only.unwrap_or("?"))).map(|result| analysis.computed.shown(result)),
        not_judged: verifies.not_judged_because(name).map(str::to_string),
        outcome: verifies.outcome(name).map(str::to_string),
    };
    names.into_iter().map(line).collect()
}

fn mark(analysis: &Analysis, linker: &Linker, verifies: &Verifies) -> MarkLine {
    let requirement = analysis.model.requirement(&verifies.requirement.value);
    let reaffirmed = verifies.reaffirmed.iter().map(|again| ReaffirmedLine {
        mark: again.mark.as_ref().map(|mark| mark.value.clone()),
        date: again.date.as_ref().map(|date| date.text.clone()),
        by: again.by.clone(),
        reason: again.reason.clone(),
    });
    MarkLine {
        requirement: linker.link(&verifies.requirement.value),
        mark: verifies.mark.as_ref().map(|mark| mark.value.clone()),
        now: requirement.map(|it| it.mark.clone()),
        lines_up: requirement.is_some_and(|it| lines_up(&it.mark, verifies)),
        reaffirmed: reaffirmed.collect(),
    }
}

fn remark(text: &str, settled: Option<&String>) -> RemarkLine {
    RemarkLine { text: text.to_string(), settled: settled.cloned() }
}

fn data(
    analysis: &Analysis,
    linker: &Linker,
    it: &Record,
    states: &[AttachmentState],
    album: &mut Album<'_>,
) -> Vec<DataLine> {
    let from = analysis.path(it.head.file);
    let path = |own: &Attachment| from.beside(&own.file.value);
    let lines = it.data.iter().zip(states).map(|(own, state)| DataLine {
        file: match path(own) {
            Some(path) => linker.file(&path, path.to_string()),
            None => Link { text: own.file.value.clone(), href: None },
        },
        sha256: own.sha256.as_ref().map(|hash| hash.value.clone()),
        unchanged: *state == AttachmentState::Unchanged,
        photo: path(own).filter(|_| *state == AttachmentState::Unchanged).and_then(|path| album.photo(&path)),
        state: match state {
            AttachmentState::Unchanged => "as signed for".into(),
            AttachmentState::Missing(why) => format!("missing: {why}"),
            AttachmentState::Pointer(bytes) => format!("missing: {}", pointer_words(*bytes)),
            AttachmentState::Altered(_) if own.sha256.is_none() => "no hash yet: sign writes it".into(),
            AttachmentState::Altered(now) => format!("altered: its SHA-256 is {now} now"),
        },
    });
    lines.collect()
}

fn decides(rows: &[RowPart], id: &str) -> Vec<DecidesLine> {
    let own = rows.iter().filter(|row| row.records.iter().any(|record| record.text == id));
    own.map(|row| DecidesLine { requirement: row.requirement.clone(), row: row.subject_link(), state: row.state })
        .collect()
}
