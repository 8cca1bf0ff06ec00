//! What an edit of evidence did to the rows.

use std::collections::BTreeSet;

use crate::analysis::Analysis;
use crate::cli::Ui;
use crate::model::Ref;
use crate::report::style::{OFF, STRONG};
use crate::report::text::row;
use crate::report::view::RowView;
use crate::state::fits::fitting;
use crate::state::{EntryRef, Row, State, Subject};

/// Prints the rows of these requirements that changed, and those that these records decide or could close.
pub(super) fn show(
    before: &Analysis,
    after: &Analysis,
    requirements: &BTreeSet<String>,
    records: &BTreeSet<String>,
    ui: &mut Ui,
) {
    let old = before.rows(None);
    let mut closed = Vec::new();
    let mut waived = Vec::new();
    let mut open = Vec::new();
    for row in after.rows(None) {
        let id = after.model.requirements[row.requirement].head.id.as_str();
        if !requirements.contains(id) {
            continue;
        }
        let was = state_before(before, &old, id, &row);
        let decided =
            row.criteria.iter().any(|own| own.record.as_ref().is_some_and(|record| records.contains(&**record)));
        let named =
            row.reasons().any(|reason| reason.record.as_ref().is_some_and(|record| records.contains(&**record)));
        // It may count here and another decide: whoever signed it is told so.
        let counts = row.state.is_open() && records.iter().any(|record| counts_for(after, &row, record));
        if was == Some(row.state) && !decided && !named && !counts {
            continue;
        }
        let view = RowView::of(&after.model, &row);
        match row.state {
            state if state.is_open() => open.push((view, was)),
            State::Waived => waived.push((view, was)),
            _ => closed.push((view, was)),
        }
    }
    let width = ui.width();
    let mut text = String::new();
    for (heading, rows) in [("Closed", closed), ("Waived", waived), ("Still open", open)] {
        if rows.is_empty() {
            continue;
        }
        text.push_str(&format!("\n{STRONG}{heading}{OFF}\n"));
        for (view, was) in rows {
            text.push_str(&row::one(&view, &note(&view, was), width));
        }
    }
    ui.text(&text);
}

/// Whether a record is of the sort and about the piece that a row asks for.
fn counts_for(analysis: &Analysis, row: &Row, record: &str) -> bool {
    let (EntryRef::Plan(entry), Some(Ref::Record(at))) = (row.entry, analysis.model.find(record)) else { return false };
    let (asked, record) = (&analysis.model.requirements[row.requirement], &analysis.model.records[at]);
    let about = match &row.subject {
        Subject::Project => record.serials.is_empty() && record.item.is_none(),
        Subject::Item(_) => true,
        Subject::Serial(piece) => record.serials.iter().any(|own| own.value == *piece),
    };
    about && fitting(&analysis.facts(), asked, record).contains(&entry)
}

fn state_before(before: &Analysis, old: &[Row], id: &str, row: &Row) -> Option<State> {
    let same = |own: &&Row| {
        own.entry == row.entry
            && own.subject == row.subject
            && before.model.requirements[own.requirement].head.id.as_str() == id
    };
    old.iter().find(same).map(|own| own.state)
}

/// What became of a row.
fn note(view: &RowView, was: Option<State>) -> String {
    match was {
        Some(was) if was == view.state => String::new(),
        Some(was) => format!(" (was {})", was.word()),
        None => " (new row)".to_string(),
    }
}
