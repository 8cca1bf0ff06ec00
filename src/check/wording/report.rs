//! Collects the hits of one statement.

use std::collections::BTreeSet;

use super::Hit;
use super::statement::Statement;
use super::tokens::cover;

/// The longest text that is quoted in a hit, in bytes.
const QUOTED: usize = 120;

/// The hits so far.
pub(super) struct Report<'s, 'a> {
    statement: &'s Statement<'a>,
    hits: Vec<Hit>,
}

impl<'s, 'a> Report<'s, 'a> {
    pub(super) fn new(statement: &'s Statement<'a>) -> Self {
        Report { statement, hits: Vec::new() }
    }

    /// Adds a hit from the token `first` to the token `last`, both included.
    pub(super) fn add(&mut self, code: &'static str, first: usize, last: usize, suggestion: Option<String>) {
        if let (Some(from), Some(to)) = (self.statement.token(first), self.statement.token(last.max(first))) {
            let range = cover(from, to);
            let found = quoted(&self.statement.source[range.clone()]);
            self.hits.push(Hit { code, range, found, suggestion });
        }
    }

    /// Adds a hit on the statement as a whole: something is missing, so nothing is quoted.
    pub(super) fn add_whole(&mut self, code: &'static str) {
        let source = self.statement.source;
        let start = source.len() - source.trim_start().len();
        let range = start.min(source.trim_end().len())..source.trim_end().len();
        self.hits.push(Hit { code, range, found: String::new(), suggestion: None });
    }

    /// Adds a hit on the whole statement that says what was missing.
    pub(super) fn add_missing(&mut self, code: &'static str, what: &str) {
        self.add_whole(code);
        if let Some(hit) = self.hits.last_mut() {
            hit.found = quoted(what);
        }
    }

    /// The hits by position, then code. What is quoted twice for the same rule is kept once: a word repeated in a list is one thing to mend.
    pub(super) fn finish(mut self) -> Vec<Hit> {
        self.hits.sort_by(|a, b| (a.range.start, a.code, a.range.end).cmp(&(b.range.start, b.code, b.range.end)));
        let mut seen = BTreeSet::new();
        let mut kept = self.hits;
        kept.retain(|hit| seen.insert((hit.code, hit.found.clone())));
        kept
    }
}

/// White space folded, cut to a length that fits a message.
fn quoted(text: &str) -> String {
    let mut quoted = String::with_capacity(text.len().min(QUOTED + 4));
    for word in text.split_whitespace() {
        if quoted.len() + word.len() > QUOTED {
            let room = QUOTED.saturating_sub(quoted.len() + 1);
            let cut = (0..=room.min(word.len())).rev().find(|at| word.is_char_boundary(*at)).unwrap_or(0);
            if !quoted.is_empty() && cut > 0 {
                quoted.push(' ');
            }
            quoted.push_str(&word[..cut]);
            quoted.push('…');
            return quoted;
        }
        if !quoted.is_empty() {
            quoted.push(' ');
        }
        quoted.push_str(word);
    }
    quoted
}
