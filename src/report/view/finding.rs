//! Findings, for display.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::config::{Config, Level};
use crate::diag::catalogue::hides;
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
    /// Other places that matter.
    pub also: Vec<PlaceView>,
    /// The line that is pointed at.
    #[serde(skip)]
    pub excerpt: Option<Excerpt>,
}

/// A place with a few words.
#[derive(Clone, Debug, Serialize)]
pub struct PlaceView {
    /// The file.
    pub path: String,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What is there.
    pub label: String,
}

/// One line of a file with the part that matters.
#[derive(Clone, Debug)]
pub struct Excerpt {
    /// The line, without its end.
    pub text: String,
    /// Bytes of it before the part that matters.
    pub start: usize,
    /// Bytes of it up to the end of that part; the end of the line where the part goes on.
    pub end: usize,
    /// What it is, in a few words; may be empty.
    pub label: String,
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
        let also = finding.secondary.iter().map(|(span, label)| {
            let at = sources.locate(*span);
            let path = sources.file(span.file).path.to_string();
            PlaceView { path, line: at.line, column: at.column, label: label.clone() }
        });
        FindingView {
            code: finding.code,
            class: finding.class().word(),
            path,
            line,
            column,
            message: finding.message.clone(),
            help: finding.help.clone(),
            also: also.collect(),
            excerpt: match &finding.place {
                Place::At(span) => excerpt(sources, *span, &finding.label),
                Place::Path(_) | Place::Project => None,
            },
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

/// The line that a span starts in; nothing where the file is empty.
fn excerpt(sources: &SourceMap, span: Span, label: &str) -> Option<Excerpt> {
    let text: &str = &sources.file(span.file).text;
    let start = span.range().start.min(text.len());
    let from = text.get(..start)?.rfind('\n').map_or(0, |at| at + 1);
    let line = text[from..].lines().next()?;
    let start = (start - from).min(line.len());
    let end = (span.range().end.saturating_sub(from)).clamp(start, line.len());
    line.is_char_boundary(end).then(|| Excerpt { text: line.to_string(), start, end, label: label.to_string() })
}

/// What `check` shows.
#[derive(Clone, Debug, Serialize)]
pub struct CheckView {
    /// What is shown: faults, gaps and warnings, and notes if they are asked for.
    pub findings: Vec<FindingView>,
    /// How many there are of each class, shown or not; those that a level turned off are not counted.
    pub counts: BTreeMap<&'static str, usize>,
}

impl CheckView {
    /// Applies the project's levels, the one place that does, and leaves notes out unless they are asked for.
    pub fn of<'f>(
        findings: impl Iterator<Item = &'f Finding>,
        sources: &SourceMap,
        config: &Config,
        notes: bool,
    ) -> CheckView {
        let mut counts: BTreeMap<&'static str, usize> = Class::ALL.iter().map(|class| (class.word(), 0)).collect();
        let mut shown = Vec::new();
        for finding in findings {
            let Some(class) = class_shown(finding, config) else { continue };
            *counts.entry(class.word()).or_default() += 1;
            if class != Class::Note || notes {
                shown.push(FindingView { class: class.word(), ..FindingView::of(finding, sources) });
            }
        }
        // What could make every other line wrong comes first, and of it what keeps a file from being read: others come of that.
        let rank = |own: &FindingView| Class::ALL.iter().position(|class| class.word() == own.class);
        let place = |own: &FindingView| (rank(own), !hides(own.code), own.path.clone(), own.line, own.column, own.code);
        shown.sort_by_cached_key(place);
        CheckView { findings: shown, counts }
    }

    /// How many there are of a class.
    pub fn count(&self, class: Class) -> usize {
        self.counts.get(class.word()).copied().unwrap_or(0)
    }
}

/// The class that a finding is shown as: its own unless the project says otherwise; none if it is turned off.
///
/// Faults and gaps keep theirs whatever is written.
pub fn class_shown(finding: &Finding, config: &Config) -> Option<Class> {
    let own = finding.class();
    if matches!(own, Class::Fault | Class::Gap) {
        return Some(own);
    }
    match config.levels.get(finding.code).map(|(level, _)| level) {
        None => Some(own),
        Some(Level::Warning) => Some(Class::Warning),
        Some(Level::Note) => Some(Class::Note),
        Some(Level::Off) => None,
    }
}
