//! Notes: the wording rules. What each fires on, why, and whose rule it is.
//!
//! The texts live in one file for each theme; this file puts them into one list in the order of their codes. To add a
//! rule, add its constant to the theme and a line here; the tests of `check::wording` say what else is missing.

mod condition;
mod content;
mod project;
mod sentence;
mod vague;
mod value;
mod writing;

use super::CodeEntry;

/// Every wording rule, sorted by code.
pub const NOTES: &[CodeEntry] = &[
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
    writing::MISSPELT_WORD,
    condition::MIXED_CONDITIONS,
    project::NEAR_DUPLICATE,
    sentence::NEEDLESS_INFINITIVE,
    sentence::NEGATIVE_SHALL,
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
    content::UNLISTED_SET,
    vague::UNMEASURABLE,
    vague::VAGUE_ADJECTIVE,
    vague::VAGUE_ADVERB,
    vague::VAGUE_QUANTITY,
    sentence::WEAK_VERB,
];
