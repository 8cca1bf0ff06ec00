//! The table of wording rules: what each fires on, why, and whose rule it is.
//!
//! The texts live in one file for each theme; this file puts them into one list in the order of their codes. To add a rule, add its constant to the theme
//! and a line here; the tests say what else is missing.

use super::{Class, CodeEntry};

mod condition;
mod content;
mod project;
mod sentence;
mod vague;
mod value;
mod writing;

/// One wording rule, as `explain` shows it.
#[derive(Clone, Copy, Debug)]
pub struct WordingRule {
    /// The kebab-case code, named after the fault.
    pub code: &'static str,
    /// One line: what the rule fires on.
    pub summary: &'static str,
    /// One to three sentences: how the fault harms verification.
    pub why: &'static str,
    /// Whose rule it is; "(from memory)" where the clause was not at hand when it was cited.
    pub source: &'static str,
    /// A statement, or in parentheses a situation of a project, on which the rule fires.
    pub bad: &'static str,
    /// The same demand without the fault.
    pub good: &'static str,
    /// What to write instead, as an imperative.
    pub help: &'static str,
}

impl WordingRule {
    /// The rule as a code of the catalogue.
    pub fn entry(&self) -> CodeEntry {
        let WordingRule { code, summary, why, source, help, .. } = *self;
        CodeEntry { code, class: Class::Note, summary, why, help, source }
    }
}

/// Every wording rule, sorted by code.
pub const RULES: &[WordingRule] = &[
    vague::ABSOLUTE,
    vague::ALL_ANY_BOTH,
    value::AMBIGUOUS_UNIT,
    writing::AND_OR,
    value::BARE_VALUE,
    content::BRACKETED_TEXT,
    condition::CLAUSE_ORDER,
    value::COMMA_DECIMAL,
    vague::COMPARATIVE,
    condition::CONDITION_INSIDE,
    vague::ESCAPE_CLAUSE,
    condition::EVENT_WITHOUT_ANSWER,
    value::GAUGE_OR_ABSOLUTE,
    sentence::GOAL_WORD,
    sentence::HEADING_NEEDED,
    condition::IF_WITHOUT_THEN,
    sentence::INDEFINITE_ARTICLE,
    condition::INDEFINITE_TIME,
    sentence::JOINED_ACTIONS,
    project::LIMIT_NOT_IN_STATEMENT,
    sentence::LONG_STATEMENT,
    writing::LOOSE_PUNCTUATION,
    value::MISSING_UNIT,
    condition::MIXED_CONDITIONS,
    project::NEAR_DUPLICATE,
    sentence::NEEDLESS_INFINITIVE,
    sentence::NEGATIVE_SHALL,
    project::NO_PLAN,
    project::NO_RATIONALE,
    sentence::NO_SHALL,
    sentence::NO_SUBJECT,
    project::NOTHING_IT_APPLIES_TO,
    project::NUMBER_WITHOUT_CRITERION,
    writing::OBLIQUE,
    vague::OPEN_ENDED,
    value::OPEN_INTERVAL,
    sentence::PASSIVE_VOICE,
    sentence::PERSON_AS_SUBJECT,
    content::PLACEHOLDER,
    content::PRONOUN,
    content::PURPOSE_INSIDE,
    writing::REPEATED_WORD,
    content::SEE_ELSEWHERE,
    sentence::SEVERAL_SENTENCES,
    sentence::SEVERAL_SHALLS,
    content::SOLUTION_INSIDE,
    vague::SUBJECTIVE,
    vague::SUPERLATIVE,
    content::UNDATED_REFERENCE,
    condition::UNDEFINED_CONDITION,
    writing::UNKNOWN_ABBREVIATION,
    writing::UNKNOWN_WORD,
    content::UNLISTED_SET,
    vague::UNMEASURABLE,
    vague::VAGUE_ADJECTIVE,
    vague::VAGUE_ADVERB,
    vague::VAGUE_QUANTITY,
    writing::VARYING_TERM,
    sentence::WEAK_VERB,
];

/// The rule with this code, if there is one.
pub fn rule(code: &str) -> Option<&'static WordingRule> {
    RULES.binary_search_by(|rule| rule.code.cmp(code)).ok().map(|at| &RULES[at])
}
