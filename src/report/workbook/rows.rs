//! The sheets of rows: what is open, worst first, and the whole matrix.

use std::collections::{BTreeMap, BTreeSet};

use crate::analysis::Analysis;
use crate::report::view::{BeforeView, CriterionView, MatrixView, RowView};
use crate::state::{EntryRef, State};

use super::grid::{Cell, Sheet, columns};
use super::numbers::{HEADS, Numbers};
use super::{EVIDENCE, MATRIX, OPEN, SERIALS};

/// What is open, in the order of the answer.
pub(super) fn open(analysis: &Analysis, before: &BeforeView, matrix: &[Placed<'_>]) -> Sheet {
    let about = format!("Rows due before {} that are open, worst first", before.event);
    let mut sheet = sheet(OPEN, about);
    let numbers: BTreeMap<Key<'_>, usize> = matrix.iter().map(|placed| (key(placed.row), placed.number)).collect();
    for row in before.rows.iter().filter(|row| row.state.is_open()) {
        let number = numbers.get(&key(row)).copied();
        let to = Cell::Link(row.requirement.clone(), MATRIX, number.map(place).unwrap_or_default());
        lines(analysis, &mut sheet, row, number, &to, "yes");
    }
    sheet
}

/// Every row of the project. Those due before the event are as the answer has them; a later one is asked about its own event.
pub(super) fn matrix(analysis: &Analysis, event: &str, rows: &[Placed<'_>]) -> Sheet {
    let about = format!("Every row; those due before {event} as asked about it, later ones about their own event");
    let mut sheet = sheet(MATRIX, about);
    for placed in rows {
        let row = placed.row;
        sheet.call(place(placed.number));
        sheet.call(&row.requirement);
        sheet.call(subject_place(&row.subject));
        let due = if placed.due { "yes" } else { "later" };
        lines(analysis, &mut sheet, row, Some(placed.number), &Cell::text(&row.requirement), due);
    }
    sheet
}

/// What the first line about a piece or an item is called.
pub(super) fn subject_place(subject: &str) -> String {
    format!("on {subject}")
}

fn place(number: usize) -> String {
    format!("row {number}")
}

/// A row with its number.
pub(super) struct Placed<'v> {
    /// From 1, in the order of the matrix.
    number: usize,
    row: &'v RowView,
    /// Whether it is due before the event of the packet.
    due: bool,
}

type Key<'r> = (&'r str, EntryRef, &'r str);

fn key(row: &RowView) -> Key<'_> {
    (&row.requirement, row.entry, &row.subject)
}

/// Numbers the rows of the project.
pub(super) fn placed<'v>(before: &'v BeforeView, matrix: &'v MatrixView) -> Vec<Placed<'v>> {
    let due: BTreeSet<Key<'_>> = before.rows.iter().map(key).collect();
    let later = matrix.rows.iter().filter(|row| !due.contains(&key(row))).map(|row| (row, false));
    let mut all: Vec<(&RowView, bool)> = before.rows.iter().map(|row| (row, true)).chain(later).collect();
    all.sort_by(|(a, _), (b, _)| key(a).cmp(&key(b)));
    all.into_iter().enumerate().map(|(at, (row, due))| Placed { number: at + 1, row, due }).collect()
}

fn sheet(name: &'static str, about: String) -> Sheet {
    let mut all = columns([
        ("row", 6),
        ("requirement", 16),
        ("title", 20),
        ("statement", 40),
        ("subject", 14),
        ("before", 14),
        ("method", 14),
        ("procedure", 12),
        ("state", 13),
        ("criterion", 16),
        ("limit", 18),
        ("result", 18),
        ("margin", 20),
        ("record", 12),
        ("reason", 34),
        ("next", 34),
        ("criterion state", 16),
        ("safety", 8),
        ("due", 7),
        ("stage", 14),
        ("on", 8),
        ("facility", 18),
        ("by", 18),
        ("owner", 18),
        ("covers", 14),
        ("waiver", 12),
    ]);
    all.extend(columns(HEADS));
    Sheet::new(name, about, (2, 16), all)
}

/// A line for each criterion of a row.
fn lines(
    analysis: &Analysis,
    sheet: &mut Sheet,
    row: &RowView,
    number: Option<usize>,
    requirement: &Cell,
    due: &'static str,
) {
    let reasons: Vec<&str> = row.reasons.iter().map(|reason| reason.text.as_str()).collect();
    let mut next: Vec<&str> = Vec::new();
    for reason in &row.reasons {
        if !next.contains(&reason.help.as_str()) {
            next.push(&reason.help);
        }
    }
    let start = [
        number.map_or(Cell::Nothing, Cell::count),
        requirement.clone(),
        Cell::text(&row.title),
        Cell::text(&row.statement),
        Cell::Link(row.subject.clone(), SERIALS, row.subject.clone()),
        Cell::maybe(row.before.as_deref()),
        if row.entry == EntryRef::Children { Cell::text("children") } else { Cell::maybe(row.method) },
        Cell::maybe(row.procedure.as_deref()),
        Cell::State(row.state.word(), row.state.is_open()),
    ];
    let between = [Cell::text(reasons.join("\n")), Cell::text(next.join("\n"))];
    let end = [
        Cell::yes(row.safety),
        Cell::text(due),
        Cell::maybe(row.stage),
        Cell::maybe(row.on),
        Cell::maybe(row.facility.as_deref()),
        Cell::maybe(row.by.as_deref()),
        Cell::maybe(row.owner.as_deref()),
        Cell::maybe(row.covers.map(State::word)),
        Cell::maybe(row.waiver.as_deref()),
    ];
    let mut add = |criterion: Option<&CriterionView>| {
        let (words, state, numbers) = criterion_cells(analysis, row, criterion);
        let line = start.iter().cloned().chain(words).chain(between.iter().cloned()).chain([state]);
        sheet.lines.push(line.chain(end.iter().cloned()).chain(numbers).collect());
    };
    if row.criteria.is_empty() {
        add(None);
    }
    row.criteria.iter().for_each(|criterion| add(Some(criterion)));
}

/// What is said of a criterion: in words, its state, and in numbers.
fn criterion_cells(analysis: &Analysis, row: &RowView, of: Option<&CriterionView>) -> ([Cell; 5], Cell, [Cell; 7]) {
    let Some(of) = of else { return Default::default() };
    let requirement = analysis.model.requirement(&row.requirement);
    let own = requirement.and_then(|it| it.criteria.iter().find(|own| own.name == of.name));
    let numbers = Numbers::of(analysis, own, of.result.as_deref(), None, of.margin.0.as_deref());
    let record = of.record.clone().map(|id| Cell::Link(id.clone(), EVIDENCE, id));
    let words = [
        Cell::text(&of.name),
        Cell::text(&of.limit),
        Cell::maybe(of.result.as_deref()),
        Cell::maybe(of.margin.show().as_deref()),
        record.unwrap_or_default(),
    ];
    (words, Cell::State(of.state.word(), of.state.is_open()), numbers.cells())
}
