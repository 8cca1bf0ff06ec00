//! Every code that a finding can carry, with its class and the page that `explain` shows.

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
    /// The published source, or "common practice, no source".
    pub source: &'static str,
}

/// The entry of a code.
pub fn entry(code: &str) -> Option<&'static CodeEntry> {
    CATALOGUE.binary_search_by(|entry| entry.code.cmp(code)).ok().map(|index| &CATALOGUE[index])
}

/// All codes, sorted.
pub const CATALOGUE: &[CodeEntry] = &[];
