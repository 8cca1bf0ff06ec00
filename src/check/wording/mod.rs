//! Wording: looks at the text of one requirement's statement for what makes it hard to verify.
//!
//! In: the statement as written (Markdown), and what little of the project the rules need ([`Context`]). Out: [`Hit`]s, each a code and a byte range of
//! the statement. No input or output, no spans, no levels: the finding layer adds those. Wording is the class of finding that people switch off first,
//! so a rule that would fire on a good sentence is worse than one that misses a bad one.
//!
//! The text is split once (`tokens`), ids and units are told from prose (`statement`, `units`), and one matcher for each theme then looks at the
//! tokens (`phrases`, `sentence`, `condition`, `reference`, `writing`, `value`, `project`). The time is linear in the length of the text:
//! a matcher looks at a bounded neighbourhood of each token, or goes over the statement a fixed number of times. No regular expressions.
//!
//! # To add a rule
//!
//! 1. Its entry in the file of its theme under `diag/catalogue/notes/`, and its line in [`NOTES`].
//! 2. A list of words and phrases: an entry in `lists.rs`; what must not count goes into `HARMLESS` there, or into `guards.rs`. Anything else: a
//!    function in the matcher of its theme, with its words in `words.rs` if there are many.
//! 3. Its sentences in `tests/wording/patterns.toml`, further ones in `tests/wording/cases.toml`: those that it must find, and more of those that it must not.

mod condition;
mod duplicates;
mod glossary;
mod guards;
mod lists;
mod phrases;
mod project;
mod reference;
mod report;
mod sentence;
mod spelling;
mod statement;
mod tokens;
mod units;
mod value;
mod words;
mod writing;

#[cfg(test)]
mod tests;

use std::ops::Range;

pub use crate::diag::catalogue::NOTES;
pub use duplicates::near_duplicates;
pub use glossary::Glossary;

/// A place in a statement where a rule fires.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hit {
    /// The rule's code, one of [`NOTES`].
    pub code: &'static str,
    /// Bytes of the statement as given; the whole of it, without white space around it, where something is missing.
    pub range: Range<usize>,
    /// The words found, cut to a length that fits a message; what was found instead where something is missing; may be empty.
    pub found: String,
    /// What to write in place of `found`, where that is plain.
    pub suggestion: Option<String>,
}

/// What the rules need to know about the project around a statement.
#[derive(Clone, Copy)]
pub struct Context<'a> {
    /// The project's words; may be empty.
    pub glossary: &'a Glossary,
    /// Whether a text is an id of the project (PT-01, TP-03, MOV/SN02).
    pub ids: &'a dyn Fn(&str) -> bool,
    /// Whether the requirement applies to an item, a slot or a tag.
    pub has_target: bool,
    /// The text under the rationale's heading.
    pub rationale: Option<&'a str>,
    /// Limits of all criteria as written: `"1.5 s"`, `"1.5 * meop"`.
    pub limits: &'a [String],
    /// Conditions of all criteria and of the plan as written.
    pub conditions: &'a [String],
    /// Values of the project's parameters as written.
    pub parameters: &'a [String],
}

/// Looks at one statement with every rule that needs no other statement; hits by position, then code.
///
/// The same words are reported once for each rule. Takes any text: no input panics, and an empty statement gives what an empty statement lacks.
pub fn examine(statement: &str, context: &Context) -> Vec<Hit> {
    let statement = statement::Statement::new(statement, context);
    let mut report = report::Report::new(&statement);
    sentence::scan(&statement, &mut report);
    phrases::scan(&statement, &mut report);
    condition::scan(&statement, context.glossary, &mut report);
    reference::scan(&statement, context.glossary, &mut report);
    writing::scan(&statement, context, &mut report);
    value::scan(&statement, &mut report);
    project::scan(&statement, context, &mut report);
    report.finish()
}
