//! The matrix for a terminal.

use rayon::prelude::*;

use crate::report::style::{OFF, QUIET, STRONG, columns};
use crate::report::view::{MatrixView, RowView};

use super::before::colour;
use super::{pad, wrap};

/// The matrix, requirement by requirement.
pub fn render(view: &MatrixView, width: usize) -> String {
    if view.rows.is_empty() {
        return "No requirement is in force, so there is nothing to show. slipmark new requirement writes one.\n"
            .into();
    }
    let same: Vec<&[RowView]> = view.rows.chunk_by(|a, b| a.requirement == b.requirement).collect();
    let some = |same: &[&[RowView]]| {
        let mut text = String::new();
        for rows in same {
            if !text.is_empty() {
                text.push('\n');
            }
            requirement(&mut text, rows, width);
        }
        text
    };
    let texts: Vec<String> = same.par_chunks(TOGETHER).map(some).collect();
    texts.join("\n")
}

/// How many requirements are written by one thread in one go.
const TOGETHER: usize = 64;

/// The rows of one requirement.
fn requirement(text: &mut String, rows: &[RowView], width: usize) {
    if let Some(row) = rows.first() {
        let safety = if row.safety { " [safety]" } else { "" };
        let lead = format!("{STRONG}{}{OFF}{safety} ", row.requirement);
        let title = wrap(&row.title, width, columns(&lead), 2);
        text.push_str(&format!("{lead}{title}\n"));
    }
    for row in rows {
        let how: Vec<&str> = [row.method, row.stage, row.procedure.as_deref()].into_iter().flatten().collect();
        let how = if how.is_empty() { "no plan".to_string() } else { how.join(" ") };
        let mark = colour(row.state);
        let lead = format!("  {mark}{}{OFF} {} ", pad(row.state.word(), 12), pad(&row.subject, 14));
        text.push_str(&format!("{lead}{}\n", wrap(&how, width, columns(&lead), 30)));
        if let (Some(waiver), Some(covers)) = (&row.waiver, row.covers) {
            text.push_str(&format!("               {waiver} covers that it is {}\n", covers.word()));
        }
        for criterion in &row.criteria {
            let Some(result) = &criterion.result else { continue };
            let mut line = format!("{}: {result}; {}", criterion.name, criterion.limit);
            line.extend(criterion.margin.as_ref().map(|margin| format!("; margin {margin}")));
            line.extend(criterion.record.as_ref().map(|record| format!("; {record}")));
            text.push_str(&format!("               {QUIET}{}{OFF}\n", wrap(&line, width, 15, 17)));
        }
    }
}
