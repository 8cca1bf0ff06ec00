//! The sheet of changes since the base of the packet.

use jiff::civil::Date;

use crate::report::packet::Since;
use crate::report::tables;
use crate::report::view::{ChangesView, CommitView};

use super::grid::{Cell, Column, Sheet, columns};
use super::{CHANGES, EVIDENCE, MATRIX};

/// As `changes` lists them, with the day of the last commit as a day; or why there is nothing to list.
pub(super) fn changes(since: &Since) -> Sheet {
    let view = match since {
        Since::Nothing(why) => {
            let mut sheet = Sheet::new(CHANGES, *why, (0, 1), columns([("changes", 100)]));
            sheet.lines.push(vec![Cell::text(*why)]);
            return sheet;
        }
        Since::Changes(view) => view,
    };
    let table = tables::changes(view);
    let wide = |head: &'static str| match head {
        "statement then" | "statement now" | "criteria" | "other" | "commits" => 50,
        "title" | "plan" => 30,
        _ => 18,
    };
    let mut all: Vec<Column> = table.heads.iter().map(|head| Column { head, widest: wide(head) }).collect();
    all.push(Column { head: "last commit on", widest: 12 });
    let mut sheet = Sheet::new(CHANGES, format!("Changes since {}", view.from_name), (1, 13), all);
    for (row, day) in table.rows.into_iter().zip(days(view)) {
        let mut cells = row.into_iter();
        let id = cells.next().unwrap_or_default();
        // A name that leads nowhere on the sheet stays plain.
        let sheet_of = if matches!(row_kind(&cells), Some("requirement")) { MATRIX } else { EVIDENCE };
        let mut line = vec![Cell::Link(id.clone(), sheet_of, id)];
        line.extend(cells.map(Cell::text));
        line.push(day.map_or(Cell::Nothing, Cell::Day));
        sheet.lines.push(line);
    }
    sheet
}

fn row_kind(rest: &std::vec::IntoIter<String>) -> Option<&str> {
    rest.as_slice().first().map(String::as_str)
}

/// The day of the last commit of each line, in the order of the table.
fn days(view: &ChangesView) -> impl Iterator<Item = Option<Date>> + '_ {
    let day = |commit: Option<&CommitView>| commit.and_then(|commit| commit.date.get(..10)?.parse().ok());
    let unreadable = view.unreadable.iter().map(move |file| day(file.commit.as_ref()));
    let things = view.changes.iter().map(move |change| day(change.commits.last()));
    let put_back = view.put_back.iter().map(move |it| day(it.commits.last()));
    unreadable.chain(things).chain(put_back)
}
