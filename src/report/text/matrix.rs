//! The matrix for a terminal.

use std::fmt::Write;

use crate::analysis::Analysis;
use crate::report::style::{OFF, QUIET, STRONG, columns};
use crate::report::view::{self, BriefRow};
use crate::state::{EntryRef, Row};

use super::before::colour;
use super::{pad, wrap};

/// The matrix, requirement by requirement, in pieces that follow each other.
pub fn render(analysis: &Analysis, width: usize) -> Vec<String> {
    let mut pieces = view::matrix_by_requirement(analysis, |rows, text| requirement(text, rows, width));
    match pieces.last_mut() {
        // An empty line stands between requirements, not after the last.
        Some(last) => last.truncate(last.trim_end_matches('\n').len() + 1),
        None => pieces.push(
            "No requirement is in force, so there is nothing to show. slipmark new requirement writes one.\n".into(),
        ),
    }
    pieces
}

/// The rows of one requirement, and an empty line.
fn requirement(text: &mut String, rows: &[BriefRow<'_>], width: usize) {
    if let Some(BriefRow { requirement, .. }) = rows.first() {
        let safety = if requirement.safety { " [safety]" } else { "" };
        let lead = format!("{STRONG}{}{OFF}{safety} ", requirement.head.id.value);
        let title = wrap(&requirement.head.title, width, columns(&lead), 2);
        let _ = writeln!(text, "{lead}{title}");
    }
    for brief in rows {
        let row = brief.row;
        let how = match brief.how().collect::<Vec<_>>() {
            none if none.is_empty() && row.entry == EntryRef::Children => "by its children".to_string(),
            none if none.is_empty() => "no plan".to_string(),
            some => some.join(" "),
        };
        let mark = colour(row.state);
        let lead = format!("  {mark}{}{OFF} {} ", pad(row.state.word(), 12), pad(&brief.subject, 14));
        let _ = writeln!(text, "{lead}{}", wrap(&how, width, columns(&lead), 30));
        if let (Some(waiver), Some(covers)) = (&row.waiver, row.covers) {
            let _ = writeln!(text, "               {waiver} covers that it is {}", covers.word());
        }
        for why in elsewhere(row) {
            let _ = writeln!(text, "               {}", wrap(why, width, 15, 17));
        }
        for criterion in &row.criteria {
            let Some(result) = &criterion.result else { continue };
            let mut line = format!("{}: {result}; {}", criterion.name, criterion.limit);
            if let Some(margin) = &criterion.margin {
                line.push_str("; margin ");
                line.push_str(&margin.show());
            }
            line.extend(criterion.record.iter().flat_map(|record| ["; ", record.as_str()]));
            let _ = writeln!(text, "               {QUIET}{}{OFF}", wrap(&line, width, 15, 17));
        }
    }
    text.push('\n');
}

/// Why a row is open where the result beside it does not show that: another record makes it so.
fn elsewhere(row: &Row) -> Vec<&str> {
    let mut all: Vec<&str> = Vec::new();
    for criterion in row.criteria.iter().filter(|criterion| criterion.state.is_open() && criterion.result.is_some()) {
        let first = criterion.reasons.first().filter(|why| why.record.is_some() && why.record != criterion.record);
        all.extend(first.map(|why| why.text.as_str()).filter(|why| !all.contains(why)));
    }
    all
}
