//! What people and programs read: views of an analysis, and renderers of views.
//!
//! In: an [`Analysis`](crate::analysis::Analysis) with its [`Guard`](crate::history::Guard). Out: text, JSON, Markdown,
//! CSV, HTML, PDF, pictures, workbooks, folders of pages, SARIF, JUnit XML. A view is owned, serialisable and in its final order; a renderer
//! only lays it out, so that no format can show another answer than the next.

pub mod cautions;
pub mod changelog;
pub mod concepts;
mod finished;
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
    /// What to do about it; none if that is for the program's makers.
    pub help: Option<String>,
}

impl ReportError {
    /// An error that its users can do nothing about.
    pub fn new(message: impl Into<String>) -> ReportError {
        ReportError { message: message.into(), help: None }
    }

    /// What is wrong and what to do about it, in one line.
    pub fn in_words(&self) -> String {
        self.help.as_ref().map_or_else(|| self.message.clone(), |help| format!("{}; {help}", self.message))
    }
}

impl From<crate::templates::Wrong> for ReportError {
    fn from(wrong: crate::templates::Wrong) -> ReportError {
        ReportError { message: wrong.to_string(), help: Some(wrong.help) }
    }
}
