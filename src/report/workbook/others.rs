//! What else counts as open beside rows: nonconformances, gaps and faults.

use crate::report::view::{BeforeView, FindingView};

use super::OTHERS;
use super::grid::{Cell, Sheet, columns};

/// One line for each; with the open rows they make up the count of what is open.
pub(super) fn others(before: &BeforeView) -> Sheet {
    let about = format!(
        "What else is open before {}: nonconformances, gaps of what is due, faults of the project",
        before.event
    );
    let heads = columns([("what", 16), ("id or code", 28), ("place", 40), ("message", 60), ("next", 60)]);
    let mut sheet = Sheet::new(OTHERS, about, (2, 5), heads);
    sheet.lines.extend(before.nonconformance_details.iter().map(|it| {
        let (message, next) = (format!("{}: {}", it.title, it.lacks), format!("slipmark show {}", it.id));
        ["nonconformance", &it.id, &it.against.join("\n"), &message, &next].map(Cell::text).to_vec()
    }));
    let finding = |it: &FindingView| [it.class, it.code, &it.place(), &it.message, &it.help].map(Cell::text).to_vec();
    sheet.lines.extend(before.gaps.iter().map(finding));
    sheet.lines.extend(before.faults.iter().map(finding));
    sheet
}
