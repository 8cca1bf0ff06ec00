//! A finding, for display.

use serde::Serialize;

use crate::diag::{Class, Finding, Place};
use crate::text::{SourceMap, Span};

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
    /// The line of the file that it points into, for display.
    #[serde(skip)]
    pub excerpt: Option<String>,
    /// How many characters of the line are meant.
    #[serde(skip)]
    pub width: usize,
    /// Other places that matter, each with a few words.
    #[serde(skip)]
    pub also: Vec<(String, String)>,
}

impl FindingView {
    /// Works out the place.
    pub fn of(finding: &Finding, sources: &SourceMap) -> FindingView {
        let (mut excerpt, mut width) = (None, 0);
        let (path, line, column) = match &finding.place {
            Place::At(span) => {
                let at = sources.locate(*span);
                let file = sources.file(span.file);
                excerpt = file.text.lines().nth(at.line - 1).map(str::to_string);
                width = sources.slice(*span).lines().next().map_or(0, |text| text.chars().count());
                (Some(file.path.to_string()), Some(at.line), Some(at.column))
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
            excerpt,
            width,
            also: finding.secondary.iter().map(|(span, label)| (place(*span, sources), label.clone())).collect(),
        }
    }

    /// The same, shown with another class.
    #[must_use]
    pub fn shown_as(mut self, class: Class) -> FindingView {
        self.class = class.word();
        self
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

fn place(span: Span, sources: &SourceMap) -> String {
    let at = sources.locate(span);
    format!("{}:{}:{}", sources.file(span.file).path, at.line, at.column)
}
