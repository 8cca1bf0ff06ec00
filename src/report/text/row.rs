//! One row for a terminal, where few are shown.

use crate::report::style::{NAME, OFF, QUIET, STRONG, columns};
use crate::report::view::{ReasonView, RowView, to_do};

use super::before::colour;
use super::{pad, wrap};

/// One row: state, requirement, how it is shown, results with margins, every reason, and what to do about it.
pub fn one(view: &RowView, note: &str, width: usize) -> String {
    let how = view.how();
    let lead =
        format!("  {}{}{OFF} {STRONG}{}{OFF} ", colour(view.state), pad(view.state.word(), 12), view.requirement);
    let mut line = format!("{how}, on {}", view.subject);
    if let Some(event) = &view.before {
        line.push_str(&format!(", before {event}"));
    }
    line.push_str(note);
    let mut text = format!("{lead}{}\n", wrap(&line, width, columns(&lead), 15));
    let indent = " ".repeat(15);
    for criterion in &view.criteria {
        let Some(result) = &criterion.result else { continue };
        let mut line = format!("{}: {result} against {}", criterion.name, criterion.limit);
        line.extend(criterion.margin.show().map(|margin| format!("; margin {margin}")));
        line.extend(criterion.record.as_ref().map(|record| format!("; {record}")));
        text.push_str(&format!("{indent}{QUIET}{}{OFF}\n", wrap(&line, width, 15, 17)));
    }
    if let (Some(waiver), Some(covers)) = (&view.waiver, view.covers) {
        text.push_str(&format!("{indent}{waiver} covers that it is {}\n", covers.word()));
    }
    text.push_str(&reasons(&view.reasons, view.state.is_open(), width));
    text
}

/// The reasons of a row and, if it is open, what to do about each; what lifts several is said once, below the last of them.
pub(super) fn reasons(all: &[ReasonView], open: bool, width: usize) -> String {
    let indent = " ".repeat(15);
    let mut text = String::new();
    for step in to_do(all) {
        for reason in step.reasons {
            text.push_str(&format!("{indent}{}\n", wrap(&reason.text, width, 15, 17)));
        }
        if open {
            text.push_str(&format!("{indent}{NAME}do{OFF}: {}\n", wrap(&step.help, width, 19, 19)));
        }
    }
    text
}
