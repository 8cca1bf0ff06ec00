//! What people and programs read: views of an analysis, and renderers of views.
//!
//! In: an [`Analysis`](crate::analysis::Analysis) with its [`Guard`](crate::history::Guard). Out: text, JSON, Markdown,
//! CSV, HTML, PDF, pictures, workbooks, folders of pages, SARIF, JUnit XML. A view is owned, serialisable and in its final order; a renderer
//! only lays it out, so that no format can show another answer than the next.

pub mod cautions;
pub mod changelog;
pub mod concepts;
pub mod json;
pub mod junit;
pub mod packet;
pub mod pages;
#[cfg(feature = "pdf")]
pub mod pdf;
pub mod pictures;
pub mod sarif;
pub mod sheet;
pub mod style;
pub mod tables;
pub mod text;
pub mod trend;
pub mod view;
pub mod workbook;
pub mod worked;

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "a test writes the files that are read")]
mod hostile;

/// Why a report could not be made.
#[derive(Clone, Debug, thiserror::Error)]
#[error("{message}")]
pub struct ReportError {
    /// In words.
    pub message: String,
}
