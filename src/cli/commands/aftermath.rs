//! What an edit of evidence did to the rows.

use std::collections::BTreeSet;

use crate::analysis::Analysis;
use crate::cli::Ui;
use crate::report::style::{NAME, OFF, QUIET, STRONG, columns};
use crate::report::text::{before::colour, pad, wrap};
use crate::report::view::RowView;
use crate::state::{Row, State};

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
        if was == Some(row.state) && !decided && !named {
            continue;
        }
        let view = RowView::of(&after.model, &row);
        if row.state.is_open() { open.push((view, was)) } else { closed.push((view, was)) }
    }
    let width = ui.width();
    let mut text = String::new();
    for (heading, rows) in [("Closed", closed), ("Still open", open)] {
        if rows.is_empty() {
            continue;
        }
        text.push_str(&format!("\n{STRONG}{heading}{OFF}\n"));
        for (view, was) in rows {
            text.push_str(&one(&view, was, width));
        }
    }
    ui.text(&text);
}

fn state_before(before: &Analysis, old: &[Row], id: &str, row: &Row) -> Option<State> {
    let same = |own: &&Row| {
        own.entry == row.entry
            && own.subject == row.subject
            && before.model.requirements[own.requirement].head.id.as_str() == id
    };
    old.iter().find(same).map(|own| own.state)
}

fn one(view: &RowView, was: Option<State>, width: usize) -> String {
    let was = match was {
        Some(was) if was == view.state => String::new(),
        Some(was) => format!(" (was {})", was.word()),
        None => " (new row)".to_string(),
    };
    let how: Vec<&str> = [view.method, view.stage, view.procedure.as_deref()].into_iter().flatten().collect();
    let lead =
        format!("  {}{}{OFF} {STRONG}{}{OFF} ", colour(view.state), pad(view.state.word(), 12), view.requirement);
    let mut line = format!("{}, on {}", how.join(" "), view.subject);
    if let Some(event) = &view.before {
        line.push_str(&format!(", before {event}"));
    }
    line.push_str(&was);
    let mut text = format!("{lead}{}\n", wrap(&line, width, columns(&lead), 15));
    let indent = " ".repeat(15);
    for criterion in &view.criteria {
        let Some(result) = &criterion.result else { continue };
        let mut line = format!("{}: {result} against {}", criterion.name, criterion.limit);
        line.extend(criterion.margin.as_ref().map(|margin| format!("; margin {margin}")));
        line.extend(criterion.record.as_ref().map(|record| format!("; {record}")));
        text.push_str(&format!("{indent}{QUIET}{}{OFF}\n", wrap(&line, width, 15, 17)));
    }
    for (at, reason) in view.reasons.iter().enumerate() {
        text.push_str(&format!("{indent}{}\n", wrap(&reason.text, width, 15, 17)));
        if at == 0 {
            text.push_str(&format!("{indent}{NAME}do{OFF}: {}\n", wrap(&reason.help, width, 19, 19)));
        }
    }
    text
}
