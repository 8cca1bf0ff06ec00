//! The sheet of evidence: every record, and what it says of each criterion.

use std::collections::BTreeMap;

use crate::analysis::Analysis;
use crate::model::kinds::{Criterion, Record, RecordStatus, Requirement, Verifies};
use crate::report::view::RowView;
use crate::state::standing::lines_up;
use crate::state::{AttachmentState, pointer_words};

use super::grid::{Cell, Sheet, columns};
use super::numbers::{HEADS, Numbers};
use super::{EVIDENCE, MATRIX, SERIALS};

/// How many of the numbers are shown: all but the margin.
const SHOWN: usize = HEADS.len() - 1;

/// Every record, by id: a line for each result, and one for a record without any.
pub(super) fn evidence(analysis: &Analysis, rows: &[RowView]) -> Sheet {
    let mut all = columns([
        ("record", 12),
        ("title", 24),
        ("status", 11),
        ("date", 12),
        ("on", 16),
        ("seal", 14),
        ("requirement", 16),
        ("mark lines up", 9),
        ("criterion", 16),
        ("limit", 22),
        ("result", 22),
        ("outcome when signed", 12),
        ("decides", 22),
        ("signed by", 18),
        ("not judged because", 24),
        ("mark", 24),
        ("time", 14),
        ("method", 14),
        ("revision", 12),
        ("stage", 14),
        ("procedure", 14),
        ("procedure revision", 10),
        ("performed by", 20),
        ("witnessed by", 20),
        ("instruments", 20),
        ("conditions", 30),
        ("data", 40),
    ]);
    // The margin is a row's; here stand the result and what is asked of it now.
    all.extend(columns(HEADS).into_iter().take(SHOWN));
    let mut sheet = Sheet::new(EVIDENCE, "Every record, and what it says of each criterion", (1, 15), all);
    let decided = decided(rows);
    for (at, record) in analysis.model.records.iter().enumerate() {
        sheet.call(record.head.id.value.to_string());
        let states = analysis.attachments.get(at).map(Vec::as_slice).unwrap_or_default();
        let (start, end) = (start(record), end(record, states));
        let decides =
            decided.get(record.head.id.value.as_str()).map_or(Cell::Nothing, |rows| Cell::text(rows.join("\n")));
        let results = record.verifies.iter().flat_map(|verifies| results(analysis, verifies));
        let mut any = false;
        for own in results.chain(std::iter::once_with(Own::default)) {
            // The empty one is for a record that says nothing of any requirement.
            if any && own.requirement.is_none() {
                break;
            }
            any = true;
            let line = start.iter().cloned().chain(own.words).chain([decides.clone(), end.0.clone()]).chain(own.marks);
            sheet.lines.push(line.chain(end.1.iter().cloned()).chain(own.numbers).collect());
            if let Some(line) = sheet.lines.last_mut() {
                line.resize(sheet.columns.len(), Cell::Nothing);
            }
        }
    }
    sheet
}

/// What is said of the record itself, first.
fn start(it: &Record) -> [Cell; 6] {
    [
        Cell::text(it.head.id.value.to_string()),
        Cell::text(&it.head.title),
        Cell::text(it.status.value.word()),
        Cell::day(it.date.as_ref()),
        on(it),
        Cell::text(seal(it)),
    ]
}

/// Who signed it, and the rest of what is said of it.
fn end(it: &Record, states: &[AttachmentState]) -> (Cell, Vec<Cell>) {
    let text = |text: &Option<crate::text::Spanned<String>>| Cell::maybe(text.as_ref().map(|text| text.value.as_str()));
    let time =
        it.date.as_ref().and_then(|date| date.text.get(10..)).map(|time| time.trim_start_matches(['T', 't', ' ']));
    let pairs = it.conditions.iter().chain(&it.readings);
    let conditions: Vec<String> =
        pairs.map(|(name, value)| format!("{}: {}", name.value, value.value.text())).collect();
    let rest = vec![
        Cell::maybe(time),
        Cell::text(it.method.word()),
        text(&it.revision),
        Cell::maybe(it.stage.map(crate::model::kinds::Stage::word)),
        Cell::maybe(it.procedure.as_ref().map(|id| id.value.to_string())),
        text(&it.procedure_revision),
        text(&it.performed_by),
        Cell::text(it.witnessed_by.iter().map(|who| who.value.as_str()).collect::<Vec<_>>().join("\n")),
        Cell::text(it.instruments.iter().map(|id| id.value.to_string()).collect::<Vec<_>>().join("\n")),
        Cell::text(conditions.join("\n")),
        Cell::text(data(it, states)),
    ];
    (text(&it.signed_by), rest)
}

/// The rows that each record decides, by its id.
fn decided(rows: &[RowView]) -> BTreeMap<&str, Vec<String>> {
    let mut decided: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for (row, record) in rows.iter().flat_map(|row| row.records.iter().map(move |record| (row, record))) {
        decided.entry(record).or_default().push(format!("{} on {}", row.requirement, row.subject));
    }
    decided
}

/// What it is on; one piece leads to its line.
fn on(it: &Record) -> Cell {
    let serials: Vec<String> = it.serials.iter().map(|serial| serial.value.to_string()).collect();
    match (serials.as_slice(), &it.item) {
        ([one], _) => Cell::Link(one.clone(), SERIALS, one.clone()),
        ([], Some(item)) => Cell::text(item.value.to_string()),
        ([], None) => Cell::text("project"),
        (several, _) => Cell::text(several.join("\n")),
    }
}

fn seal(it: &Record) -> String {
    match (&it.seal, it.status.value) {
        (_, RecordStatus::Withdrawn) => {
            format!("withdrawn: {}", it.reason.as_deref().unwrap_or("no reason given"))
        }
        (None, _) => "none".into(),
        (Some(seal), _) if seal.value == it.seal_now => "holds".into(),
        (Some(_), _) => "broken: it was changed after it was signed".into(),
    }
}

fn data(it: &Record, states: &[AttachmentState]) -> String {
    let line = |(own, state): (&crate::model::kinds::Attachment, &AttachmentState)| {
        let state = match state {
            AttachmentState::Unchanged => "as signed for".to_string(),
            AttachmentState::Missing(why) => format!("missing: {why}"),
            AttachmentState::Pointer(bytes) => format!("missing: {}", pointer_words(*bytes)),
            AttachmentState::Altered(_) if own.sha256.is_none() => "no hash yet".to_string(),
            AttachmentState::Altered(_) => "altered".to_string(),
        };
        format!("{}: {state}", own.file.value)
    };
    it.data.iter().zip(states).map(line).collect::<Vec<_>>().join("\n")
}

/// What a record says of one criterion.
#[derive(Default)]
struct Own {
    requirement: Option<String>,
    /// The requirement, whether the mark lines up, criterion, limit, result, and how it was judged when it was signed.
    words: [Cell; 6],
    /// Why it is not judged, and the mark.
    marks: [Cell; 2],
    numbers: Vec<Cell>,
}

/// What it says of one requirement: each criterion that it judges or leaves out.
fn results<'a>(analysis: &'a Analysis, verifies: &'a Verifies) -> impl Iterator<Item = Own> + 'a {
    let requirement = analysis.model.requirement(&verifies.requirement.value);
    let only = requirement.and_then(|it| it.only_criterion());
    let mut names = verifies.criteria_told(only);
    if names.is_empty() {
        names.push(only.unwrap_or("?"));
    }
    names.into_iter().map(move |name| result(analysis, requirement, verifies, (name, only)))
}

fn result(
    analysis: &Analysis,
    requirement: Option<&Requirement>,
    verifies: &Verifies,
    (name, only): (&str, Option<&str>),
) -> Own {
    let id = verifies.requirement.value.to_string();
    let criterion = requirement.and_then(|it| it.criteria.iter().find(|own| own.name == name));
    let written = verifies.result_for(name, Some(only.unwrap_or("?")));
    let computed = written.and_then(|result| analysis.computed.at(result.span)?.as_ref().ok());
    let result = written.map(|result| analysis.computed.shown(result));
    let numbers = Numbers::of(analysis, criterion, result.as_deref(), computed, None).cells();
    Own {
        words: [
            Cell::Link(id.clone(), MATRIX, id.clone()),
            requirement.map_or(Cell::Nothing, |it| Cell::yes(lines_up(&it.mark, verifies))),
            Cell::text(name),
            Cell::maybe(criterion.map(Criterion::show)),
            Cell::maybe(result),
            Cell::maybe(verifies.outcome(name)),
        ],
        marks: [
            Cell::maybe(verifies.not_judged_because(name)),
            Cell::maybe(verifies.mark.as_ref().map(|mark| mark.value.as_str())),
        ],
        numbers: numbers.into_iter().take(SHOWN).collect(),
        requirement: Some(id),
    }
}
