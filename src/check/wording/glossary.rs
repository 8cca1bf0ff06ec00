//! The project's own words, as far as wording needs them.

use std::collections::BTreeMap;

use foldhash::HashSet;

/// The words of a project: terms and abbreviations. May be empty.
#[derive(Clone, Debug, Default)]
pub struct Glossary {
    terms: HashSet<String>,
    /// Single words of the terms, by first letter and length in bytes, so that a misspelt word is compared with a few of them only.
    near: BTreeMap<(char, usize), Vec<String>>,
    abbreviations: HashSet<String>,
}

impl Glossary {
    /// A glossary with nothing in it.
    pub fn new() -> Self {
        Glossary::default()
    }

    /// Adds a term of one or more words. Case does not matter.
    pub fn add_term(&mut self, term: &str) {
        let term = term.trim().to_lowercase();
        for word in term.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()) {
            let Some(first) = word.chars().next() else { continue };
            if self.terms.insert(word.to_string()) {
                self.near.entry((first, word.len())).or_default().push(word.to_string());
            }
        }
        if !term.is_empty() {
            self.terms.insert(term);
        }
    }

    /// Adds an abbreviation as it is written.
    pub fn add_abbreviation(&mut self, abbreviation: &str) {
        self.abbreviations.insert(abbreviation.trim().to_string());
    }

    /// Whether this is a term, a word of one, or an abbreviation; `word` in lower case.
    pub(super) fn knows(&self, word: &str) -> bool {
        self.terms.contains(word)
    }

    pub(super) fn knows_abbreviation(&self, abbreviation: &str) -> bool {
        self.abbreviations.contains(abbreviation)
    }

    /// Words of the glossary with the same first letter whose length differs by at most `difference` bytes.
    pub(super) fn near_words(&self, word: &str, difference: usize) -> impl Iterator<Item = &str> {
        let first = word.chars().next().unwrap_or(' ');
        let shortest = word.len().saturating_sub(difference);
        self.near
            .range((first, shortest)..=(first, word.len() + difference))
            .flat_map(|(_, words)| words.iter().map(String::as_str))
    }

    pub(super) fn has_terms(&self) -> bool {
        !self.near.is_empty()
    }
}
