//! One finding.

use crate::text::{RepoPath, Span};

use super::catalogue::{self, Class};

/// Where a finding points.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// Some bytes of a file that was read.
    At(Span),
    /// A path that could not be read as text, or must not exist.
    Path(RepoPath),
    /// No file: the project or its history as a whole.
    Project,
}

/// Before which event a gap matters.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Due {
    /// Before any event whatever.
    Always,
    /// Before this event (index into the project's events) and all later ones.
    Before(usize),
    /// Before these events and no others (indexes in rising order).
    Among(Vec<usize>),
}

impl Due {
    /// Whether it matters before an event.
    pub fn counts_before(&self, event: usize) -> bool {
        match self {
            Due::Always => true,
            Due::Before(due) => *due <= event,
            Due::Among(events) => events.contains(&event),
        }
    }
}

/// Something that is wrong with the project's files, or could be better.
#[derive(Clone, Debug)]
pub struct Finding {
    /// Kebab-case code, listed in the [`catalogue`].
    pub code: &'static str,
    /// One sentence: what was found.
    pub message: String,
    /// Where.
    pub place: Place,
    /// What the marked text is, in a few words; may be empty.
    pub label: String,
    /// Other places that matter, each with a few words.
    pub secondary: Vec<(Span, String)>,
    /// What to type next; an imperative sentence.
    pub help: String,
    /// For gaps: before which event.
    pub due: Due,
}

impl Finding {
    /// A finding with this code; the help starts as the catalogue's general one.
    pub fn new(code: &'static str, place: Place, message: impl Into<String>) -> Self {
        let help = catalogue::entry(code).map(|entry| entry.help.to_string()).unwrap_or_default();
        Finding {
            code,
            message: message.into(),
            place,
            label: String::new(),
            secondary: Vec::new(),
            help,
            due: Due::Always,
        }
    }

    /// A finding about these bytes.
    pub fn at(code: &'static str, span: Span, message: impl Into<String>) -> Self {
        Finding::new(code, Place::At(span), message)
    }

    /// Sets the words beside the marked text.
    #[must_use]
    pub fn label(mut self, label: impl Into<String>) -> Self {
        self.label = label.into();
        self
    }

    /// Adds another place.
    #[must_use]
    pub fn also(mut self, span: Span, label: impl Into<String>) -> Self {
        self.secondary.push((span, label.into()));
        self
    }

    /// Replaces the general help by one that fits the case.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = help.into();
        self
    }

    /// Says before which event the finding matters.
    #[must_use]
    pub fn due(mut self, due: Due) -> Self {
        self.due = due;
        self
    }

    /// Its class; a code missing from the catalogue is a fault, so that nothing is lost by forgetting.
    pub fn class(&self) -> Class {
        catalogue::entry(self.code).map_or(Class::Fault, |entry| entry.class)
    }
}
