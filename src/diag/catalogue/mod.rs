//! Every code that a finding can carry, with its class and the page that `explain` shows.

mod faults;
mod gaps;
pub mod notes;
mod warnings;

use std::sync::OnceLock;

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
#[derive(Clone, Copy, Debug)]
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
    let all = all();
    all.binary_search_by(|entry| entry.code.cmp(code)).ok().map(|index| &all[index])
}

/// All codes, sorted.
pub fn all() -> &'static [CodeEntry] {
    static ALL: OnceLock<Vec<CodeEntry>> = OnceLock::new();
    ALL.get_or_init(|| {
        let own = [faults::FAULTS, gaps::GAPS, warnings::WARNINGS].into_iter().flatten().copied();
        let mut all: Vec<CodeEntry> = own.chain(notes::RULES.iter().map(notes::WordingRule::entry)).collect();
        all.sort_by_key(|entry| entry.code);
        all
    })
}

#[cfg(test)]
mod tests;
