//! The packet as a PDF.
//!
//! In goes the packet's page ([`super::packet`]); it is taken apart ([`tree`]) and set anew by a typesetter that is built in
//! (feature `pdf`), by the template `templates/packet/packet.typ`. So the PDF says what the page says, for every row and every number.

mod tree;
mod widths;
mod world;

use serde::Serialize;
use typst::diag::SourceDiagnostic;
use typst::foundations::Smart;
use typst::syntax::DiagSpan;
use typst_layout::PagedDocument;
use typst_pdf::PdfOptions;

use self::world::Given;
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
}

/// What the template sees beside the page.
#[derive(Debug, Serialize)]
struct Document<'a> {
    title: &'a str,
    running: &'a str,
    draft: Option<&'a str>,
    paper: &'static str,
    parts: &'a [tree::Node],
}

/// Sets a packet's page on paper; `running` stands at the head of every sheet, and across it the words for a draft.
///
/// # Errors
/// If the page or the template is at fault.
pub(in crate::report) fn pdf(
    page: &str,
    title: &str,
    running: &str,
    draft: Option<&str>,
    paper: Paper,
) -> Result<Vec<u8>, ReportError> {
    let tree = tree::tree(page)?;
    let paper = match paper {
        Paper::A4 => "a4",
        Paper::Letter => "us-letter",
    };
    let document = Document { title, running, draft, paper, parts: &tree.parts };
    let json = serde_json::to_vec(&document).map_err(|error| ReportError { message: error.to_string() })?;
    let given = Given::new(tree.files.into_iter().chain([("page.json".to_string(), json)]))?;
    let set = typst::compile::<PagedDocument>(&given);
    let document = set.output.map_err(|errors| wrong(&given, errors.first()))?;
    let options = PdfOptions {
        ident: Smart::Custom(title.to_string()),
        creator: Smart::Custom(Some("slipmark".to_string())),
        ..PdfOptions::default()
    };
    typst_pdf::pdf(&document, &options).map_err(|errors| wrong(&given, errors.first()))
}

/// The first error of the typesetter, with the line of the template.
fn wrong(given: &Given, error: Option<&SourceDiagnostic>) -> ReportError {
    let Some(error) = error else { return ReportError { message: "the PDF could not be set".into() } };
    let hints: String = error.hints.iter().map(|hint| format!("; {}", hint.v)).collect();
    ReportError { message: format!("{}: {}{hints}", given.line(start(given, error.span)), error.message) }
}

fn start(given: &Given, span: DiagSpan) -> Option<usize> {
    use typst::WorldExt;
    given.range(span).map(|range| range.start)
}
