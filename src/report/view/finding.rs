//! A finding, for display.

use serde::Serialize;

use crate::diag::{Finding, Place};
use crate::text::SourceMap;

/// One finding with its place worked out.
#[derive(Clone, Debug, Serialize)]
pub struct FindingView {
    /// The code.
    pub code: &'static str,
    /// fault, gap, warning or note.
    pub class: &'static str,
    /// The file, if there is one to point at.
    pub path: Option<String>,
    /// Line, from 1.
    pub line: Option<usize>,
    /// Column in characters, from 1.
    pub column: Option<usize>,
    /// What was found.
    pub message: String,
    /// What to type next.
    pub help: String,
}

impl FindingView {
    /// Works out the place.
    pub fn of(finding: &Finding, sources: &SourceMap) -> FindingView {
        let (path, line, column) = match &finding.place {
            Place::At(span) => {
                let at = sources.locate(*span);
                (Some(sources.file(span.file).path.to_string()), Some(at.line), Some(at.column))
            }
            Place::Path(path) => (Some(path.to_string()), None, None),
            Place::Project => (None, None, None),
        };
        FindingView {
            code: finding.code,
            class: finding.class().word(),
            path,
            line,
            column,
            message: finding.message.clone(),
            help: finding.help.clone(),
        }
    }

    /// `path:line:column`, as far as it is known.
    pub fn place(&self) -> String {
        match (&self.path, self.line, self.column) {
            (Some(path), Some(line), Some(column)) => format!("{path}:{line}:{column}"),
            (Some(path), _, _) => path.clone(),
            _ => "project".to_string(),
        }
    }
}
