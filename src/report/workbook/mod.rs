//! The packet as a workbook (Office Open XML, ECMA-376), for those who sort and filter: the same answer as the page, a sheet a list.
//!
//! In: what the page is made from. Out: bytes. Sheets are plain data in `grid`, one file each; `xlsx` is the only one that knows the
//! format, and the lists that no other command has are to be had as CSV and Markdown too. Nothing in it can run: text is written as
//! text, there is no formula, no macro, and no link that leads out of it.
//! To add a sheet: a file here that makes a `Sheet`, and its line in `sheets`.

mod changed;
mod evidence;
mod files;
mod grid;
mod numbers;
mod others;
mod rows;
mod serials;
mod summary;
mod xlsx;

#[cfg(test)]
mod tests;

use super::ReportError;
use super::packet::{Claims, Made, Manifest, Packet, manifest, named, sentence};
use super::tables::Table;
use super::view;
use crate::analysis::Analysis;
use crate::history::Guard;
use crate::source::Source;
use grid::Sheet;

const SUMMARY: &str = "summary";
const OPEN: &str = "open";
const OTHERS: &str = "also-open";
const MATRIX: &str = "matrix";
const CHANGES: &str = "changes";
const EVIDENCE: &str = "evidence";
const SERIALS: &str = "serials";
const FILES: &str = "files";

/// The sheets in their order.
const SHEETS: [&str; 8] = [SUMMARY, OPEN, OTHERS, MATRIX, CHANGES, EVIDENCE, SERIALS, FILES];

/// What an entry of the archive is called when it is spoken of.
pub(in crate::report) fn part_name(entry: &str) -> String {
    let number = entry.strip_prefix("xl/worksheets/sheet").and_then(|rest| rest.strip_suffix(".xml"));
    let sheet = number.and_then(|number| SHEETS.get(number.parse::<usize>().ok()?.checked_sub(1)?));
    match (sheet, entry) {
        (Some(sheet), _) => format!("the sheet {sheet}"),
        (None, "xl/sharedStrings.xml") => "the text of the sheets".to_string(),
        (None, other) => other.to_string(),
    }
}

/// A list that no command has but the packet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum List {
    /// Every record.
    Evidence,
    /// Every piece.
    Serials,
    /// Every file, with its hashes.
    Files,
}

/// The list as a table of text, for an event by position.
pub fn list((analysis, guard, source): (&Analysis, &Guard, &dyn Source), event: usize, list: List) -> Table {
    match list {
        List::Evidence => evidence::evidence(analysis, &view::before(analysis, guard, event).rows).table(),
        List::Serials => serials::serials(analysis, event).table(),
        List::Files => files::files(&manifest(analysis, source)).table(),
    }
}

/// Makes the workbook for an event, by position.
///
/// # Errors
/// If there is more than a sheet can hold.
pub fn workbook(from: Made<'_>, event: usize) -> Result<Packet, ReportError> {
    let before = view::before(from.analysis, from.guard, event);
    let files = manifest(from.analysis, from.source);
    let claims = Claims::of(&before, from.dated, &from.past.since, &files);
    let sheets = sheets(from, &before, &files, event);
    Ok(Packet {
        bytes: xlsx::write(&sheets, &before, from.dated, claims)?,
        verdict: sentence(&before),
        draft: super::packet::draft(&before),
        name: named(&before, "xlsx"),
    })
}

/// Every sheet, in order.
fn sheets(from: Made<'_>, before: &view::BeforeView, files: &Manifest, event: usize) -> Vec<Sheet> {
    let analysis = from.analysis;
    let matrix = view::matrix(analysis);
    let placed = rows::placed(before, &matrix);
    let mut sheets = vec![
        rows::open(analysis, before, &placed),
        others::others(before),
        rows::matrix(analysis, &before.event, &placed),
        changed::changes(&from.past.since),
        evidence::evidence(analysis, &before.rows),
        serials::serials(analysis, event),
        files::files(files),
    ];
    sheets.insert(0, summary::summary(analysis, before, from.dated, event, &sheets));
    sheets
}

pub use xlsx::is_workbook;
