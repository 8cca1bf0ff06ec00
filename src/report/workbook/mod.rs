//! The packet as a workbook (Office Open XML, ECMA-376), for those who sort and filter: the same answer as the page, a sheet a list.
//!
//! In: what the page is made from. Out: bytes. Sheets are plain data in `grid`, one file each; `xlsx` is the only one that knows the
//! format, and the lists that no other command has are to be had as CSV and Markdown too. Nothing in it can run: text is written as
//! text, there is no formula, no macro, and no link that leads out of it.
//! To add a sheet: a file here that makes a [`Sheet`](grid::Sheet), and its line in [`sheets`].

mod changed;
mod evidence;
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
use super::packet::{Made, Packet, named, sentence};
use super::tables::Table;
use super::view;
use crate::analysis::Analysis;
use grid::Sheet;

const SUMMARY: &str = "summary";
const OPEN: &str = "open";
const OTHERS: &str = "also-open";
const MATRIX: &str = "matrix";
const CHANGES: &str = "changes";
const EVIDENCE: &str = "evidence";
const SERIALS: &str = "serials";

/// A list that no command has but the packet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum List {
    /// Every record.
    Evidence,
    /// Every piece.
    Serials,
}

/// The list as a table of text, for an event by position.
pub fn list(analysis: &Analysis, guard: &crate::history::Guard, event: usize, list: List) -> Table {
    match list {
        List::Evidence => evidence::evidence(analysis, &view::before(analysis, guard, event).rows).table(),
        List::Serials => serials::serials(analysis, event).table(),
    }
}

/// Makes the workbook for an event, by position.
///
/// # Errors
/// If there is more than a sheet can hold.
pub fn workbook(from: Made<'_>, event: usize) -> Result<Packet, ReportError> {
    let before = view::before(from.analysis, from.guard, event);
    let sheets = sheets(from, &before, event);
    Ok(Packet {
        bytes: xlsx::write(&sheets, &before, from.dated)?,
        verdict: sentence(&before),
        draft: super::packet::draft(&before),
        name: named(&before, "xlsx"),
    })
}

/// Every sheet, in order.
fn sheets(from: Made<'_>, before: &view::BeforeView, event: usize) -> Vec<Sheet> {
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
    ];
    sheets.insert(0, summary::summary(analysis, before, from.dated, event, &sheets));
    sheets
}

pub use xlsx::is_workbook;
