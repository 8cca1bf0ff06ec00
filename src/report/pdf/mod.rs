//! The packet as a PDF.
//!
//! In goes the packet's page ([`super::packet`]); it is taken apart (`tree`) and set anew for paper: words on lines (`inline`), elements as
//! bands across the page (`flow`, `table`), bands on sheets (`sheets`), sheets in a file (`write`). So the PDF says what the page
//! says, for every row and every number, in the same order.
//!
//! We set it ourselves. A general typesetter, tried first, needed 4.3 GB for 500 requirements with 1,000 records: it keeps all that it
//! needs to set again what depends on what comes later, where a packet has columns of given widths, one below the other.

mod band;
mod contents;
mod flow;
mod fonts;
mod inline;
mod lists;
mod order;
mod paint;
mod pictures;
mod sheets;
mod sketch;
mod table;
mod tags;
mod tree;
mod write;

#[cfg(test)]
mod tests;

use self::flow::{Frame, Setter};
use self::fonts::Fonts;
use self::inline::Style;
use self::pictures::Pictures;
use self::sheets::{Run, Size, headings, sheets};
use self::tree::Node;
use self::write::Every;
use super::ReportError;

/// The size of the paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// ISO 216, 210 mm by 297 mm.
    #[default]
    A4,
    /// 8.5 in by 11 in.
    Letter,
}

impl Paper {
    /// The word that asks for it.
    pub fn word(self) -> &'static str {
        match self {
            Paper::A4 => "a4",
            Paper::Letter => "letter",
        }
    }

    fn size(self) -> Size {
        match self {
            Paper::A4 => Size { width: 595.28, height: 841.89 },
            Paper::Letter => Size { width: 612.0, height: 792.0 },
        }
    }
}

/// The size of ordinary letters, in points.
const LETTERS: f32 = 9.0;

/// Sets a packet's page on paper; `running` stands at the head of every sheet, and across it the words for a draft.
///
/// # Errors
/// If the page is at fault.
pub(in crate::report) fn pdf(
    page: &str,
    title: &str,
    running: &str,
    draft: Option<&str>,
    paper: Paper,
) -> Result<Vec<u8>, ReportError> {
    let tree = tree::tree(page)?;
    let pictures = Pictures::read(tree.files);
    let mut setter = Setter::new(Fonts::new()?, &pictures);
    let runs = set(&mut setter, tree.parts, paper);
    let sheets = sheets(&runs);
    write::write(&mut setter, &runs, &sheets, &Every { title, running, draft })
}

/// Sets the parts of a page, and the list of contents behind the first of them.
fn set(setter: &mut Setter<'_>, parts: Vec<Node>, paper: Paper) -> Vec<Run> {
    let size = paper.size();
    let style = Style { size: LETTERS, ..Style::default() };
    let frame = Frame { x: 0.0, width: size.text(), style, is: 0, bare: false, hang: 0.0 };
    let mut runs = body(setter, &parts, size, frame);
    // A big packet's nodes take up as much as all that is set.
    drop(parts);
    // As many sheets of contents as there will be, so that the numbers can be known; then the numbers.
    let at = runs.len().min(1);
    runs.insert(at, contents::contents(setter, size, frame, &[]));
    let places = headings(&runs, &sheets(&runs), setter.headings.len());
    runs[at] = contents::contents(setter, size, frame, &places);
    runs
}

/// Sets the parts of the page: the first page is a run of its own, and so is what stands on sheets turned on their side.
fn body(setter: &mut Setter<'_>, parts: &[Node], size: Size, frame: Frame) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for (number, part) in parts.iter().enumerate() {
        let Some(own) = part.element() else { continue };
        let turned = own.is("wide");
        let sheet = if turned { size.turned() } else { size };
        setter.cover = number == 0;
        let frame = Frame { width: sheet.text(), ..frame };
        let mut bands = std::mem::take(&mut setter.bands);
        let joins = runs.len() > 1 && runs.last().is_some_and(|last| last.size == sheet);
        if joins && let Some(last) = runs.pop() {
            bands = last.bands;
        }
        let start = bands.len();
        setter.bands = bands;
        setter.block(own, frame);
        let mut bands = std::mem::take(&mut setter.bands);
        if let Some(first) = bands.get_mut(start) {
            first.fresh = !own.is("flow");
        }
        runs.push(Run { size: sheet, bands });
    }
    runs
}
