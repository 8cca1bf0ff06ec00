//! Every code that a finding can carry, with its class and the page that `explain` shows.
//!
//! One file for each class. To add a code: its entry in the file of its class, one `Finding::new` where it is seen, and
//! a case in `tests/checks`. Codes are public: one that was released is never used for anything else.

mod faults;
mod gaps;
mod notes;
mod unread;
mod warnings;

use std::sync::LazyLock;

use foldhash::HashMap;

pub use notes::NOTES;

/// The four classes of finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    /// Could make an answer wrong.
    Fault,
    /// Something that must exist does not.
    Gap,
    /// Poor practice.
    Warning,
    /// Wording.
    Note,
}

impl Class {
    /// All classes, worst first.
    pub const ALL: [Class; 4] = [Class::Fault, Class::Gap, Class::Warning, Class::Note];

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Class::Fault => "fault",
            Class::Gap => "gap",
            Class::Warning => "warning",
            Class::Note => "note",
        }
    }
}

/// One code of the catalogue.
#[derive(Debug)]
pub struct CodeEntry {
    /// The code.
    pub code: &'static str,
    /// Its class.
    pub class: Class,
    /// What it says, in one line.
    pub summary: &'static str,
    /// Why it matters: a sentence or three.
    pub why: &'static str,
    /// What to type, in general; findings replace it where they know better.
    pub help: &'static str,
    /// The published source, or [`PRACTICE`].
    pub source: &'static str,
    /// For wording: a statement with the fault, and the same demand without it.
    pub example: Option<Example>,
}

/// A statement with a fault of wording, and one without.
#[derive(Debug)]
pub struct Example {
    /// A statement, or in parentheses a situation of a project, on which the rule fires.
    pub bad: &'static str,
    /// The same demand without the fault.
    pub good: &'static str,
}

/// What stands where nobody outside has written a rule down.
pub const PRACTICE: &str = "common practice, no source";

/// The entry of a code.
pub fn entry(code: &str) -> Option<&'static CodeEntry> {
    static BY_CODE: LazyLock<HashMap<&str, &CodeEntry>> =
        LazyLock::new(|| all().iter().map(|entry| (entry.code, *entry)).collect());
    BY_CODE.get(code).copied()
}

/// Whether a fault with this code can keep a thing from being seen: its file, its kind or its id was not read.
pub fn hides(code: &str) -> bool {
    ["bad-id", "missing-key", "unknown-kind"].contains(&code) || is_unread(code)
}

/// Whether a fault with this code says that something was not read, or is not there to be read.
pub fn is_unread(code: &str) -> bool {
    unread::UNREAD.iter().any(|entry| entry.code == code)
}

/// All codes, sorted.
pub fn all() -> &'static [&'static CodeEntry] {
    static ALL: LazyLock<Vec<&'static CodeEntry>> = LazyLock::new(|| {
        let tables = [unread::UNREAD, faults::FAULTS, gaps::GAPS, warnings::WARNINGS, NOTES];
        let mut all: Vec<&'static CodeEntry> = tables.into_iter().flatten().collect();
        all.sort_by_key(|entry| entry.code);
        all
    });
    &ALL
}

/// A table of codes of one class: code, summary, why, help, source.
macro_rules! codes {
    ($class:ident; $($code:literal, $summary:literal, $why:literal, $help:literal, $source:expr;)+) => {
        &[$($crate::diag::CodeEntry {
            code: $code,
            class: $crate::diag::Class::$class,
            summary: $summary,
            why: $why,
            help: $help,
            source: $source,
            example: None,
        },)+]
    };
}
use codes;

#[cfg(test)]
#[expect(clippy::disallowed_methods, reason = "the source is held against the catalogue")]
mod tests;
