//! Decides whether a listed phrase is a fault where it stands.
//!
//! Most listed words are harmless somewhere: "about the axis", "low pressure", "until the close command". Each guard names the uses that it lets through.

use std::cell::OnceCell;

use super::statement::Statement;
use super::tokens::{Kind, Role};
use super::units::is_unit;
use super::words;

/// How many tokens ahead a guard looks.
const NEAR: usize = 12;

/// What the whole statement says that decides about a phrase; each looked for once, and only when a phrase asks.
pub(super) struct Scan<'s, 'a> {
    pub(super) statement: &'s Statement<'a>,
    logic: OnceCell<bool>,
    measured: OnceCell<bool>,
    stated: OnceCell<bool>,
}

impl<'s, 'a> Scan<'s, 'a> {
    pub(super) fn new(statement: &'s Statement<'a>) -> Self {
        Scan { statement, logic: OnceCell::new(), measured: OnceCell::new(), stated: OnceCell::new() }
    }

    /// High and low are levels of a signal here.
    fn is_logic(&self) -> bool {
        *self.logic.get_or_init(|| self.statement.has_word(&["signal", "logic", "output", "input"]))
    }

    /// Highest and lowest are of what was measured.
    fn is_measured(&self) -> bool {
        *self
            .measured
            .get_or_init(|| self.statement.has_word(&["measured", "recorded", "reading", "readings", "priority"]))
    }

    /// A value, a name or a placeholder says what the maximum is.
    fn is_stated(&self) -> bool {
        let statement = self.statement;
        let named = |at: usize| statement.role(at) == Some(Role::Name) || statement.mark(at).len() > 2;
        *self.stated.get_or_init(|| !statement.quantities.is_empty() || (0..statement.len()).any(named))
    }
}

/// The code to report for the phrase from `first` to `last`, which is not always the listed one; none if it is harmless here.
pub(super) fn counts(code: &'static str, scan: &Scan, first: usize, last: usize) -> Option<&'static str> {
    let statement = scan.statement;
    let fault = match code {
        "goal-word" => is_goal(statement, first, last),
        "vague-quantity" => is_vague_quantity(statement, first, last),
        "vague-adjective" => is_vague_adjective(scan, first),
        "escape-clause" => statement.word(last + 1) != "by",
        // "open at a minimum pressure of 0.2 MPa" bounds a value.
        "open-ended" if statement.word(first) == "at" => {
            statement.ends_at(last + 1) || matches!(statement.word(last + 1), "the" | "a" | "all" | "each")
        }
        "see-elsewhere" => points_elsewhere(statement, last),
        "absolute" => !(statement.word(first) == "no" && number_within(statement, last, 6)),
        "solution-inside" => is_solution(statement, first),
        "all-any-both" => return quantifier(statement, first),
        "unmeasurable" => {
            let needs_number =
                ["reduce", "improve", "enhance"].iter().any(|verb| statement.word(first).starts_with(verb));
            !(needs_number && statement.value_after(last))
        }
        "indefinite-time" => is_indefinite(statement, first, last),
        "comparative" => is_comparative(statement, first, last),
        "superlative" => is_superlative(scan, first, last),
        "placeholder" => is_placeholder(statement, first, last),
        "undefined-condition" => is_bare_condition(statement, first, last),
        "heading-needed" => first == 0,
        "pronoun" => is_pronoun(statement, first, last),
        _ => true,
    };
    fault.then_some(code)
}

/// Whether a number follows `last` within `reach` tokens of the same clause.
fn number_within(statement: &Statement, last: usize, reach: usize) -> bool {
    (last + 1..=last + reach)
        .take_while(|at| !matches!(statement.mark(*at), "." | ";"))
        .any(|at| statement.kind(at) == Some(Kind::Number))
}

pub(super) fn word_within(statement: &Statement, last: usize, reach: usize, words: &[&str]) -> bool {
    (last + 1..=last + reach).any(|at| words.contains(&statement.word(at)))
}

fn is_number(statement: &Statement, at: usize) -> bool {
    statement.kind(at) == Some(Kind::Number)
}

fn is_goal(statement: &Statement, first: usize, last: usize) -> bool {
    let before = statement.word_before(first);
    match statement.word(first) {
        // A month, a container, a document's last will.
        "may" | "can" | "will" | "must"
            if matches!(before, "a" | "the" | "each" | "in" | "at") || is_number(statement, last + 1) =>
        {
            false
        }
        "need" | "needs" => before != "the",
        "is" | "are" => {
            !matches!(statement.word(last + 1), "the" | "a" | "an" | "within") && !is_number(statement, last + 1)
        }
        // "a load that may occur", "such that the valve cannot move", "if the value cannot be read" state facts, not demands.
        "may" | "can" | "cannot" | "could" | "might" | "will" => {
            let relative =
                (first.saturating_sub(4)..first).any(|at| matches!(statement.word(at), "that" | "which" | "who"));
            !relative && !in_condition(statement, first)
        }
        _ => !matches!(before, "that" | "which" | "who"),
    }
}

fn is_vague_quantity(statement: &Statement, first: usize, last: usize) -> bool {
    const SPELT: &[&str] = &["half", "twice", "one", "two", "three", "four", "five", "ten"];
    match statement.word(first) {
        // "turn about the axis", "around the stem"
        "about" | "around" | "circa" | "approx" => {
            is_number(statement, last + 1)
                || SPELT.contains(&statement.word(last + 1))
                || statement.mark(last + 1) == "."
        }
        // "shall close to within 3 degrees"
        "close" => matches!(
            statement.word_before(first),
            "be" | "is" | "are" | "stay" | "remain" | "held" | "kept" | "as" | "very"
        ),
        _ => true,
    }
}

fn is_vague_adjective(scan: &Scan, at: usize) -> bool {
    let statement = scan.statement;
    match statement.word(at) {
        "small" | "large" | "light" | "fast" | "low" | "high" => {
            // Before a noun these are usually part of a term (high pressure, low pass): only what is said of the subject is looked at.
            is_predicate(statement, at) && !number_within(statement, at, 4) && !scan.is_logic()
        }
        "clean" => {
            let subject = is_predicate(statement, at) || matches!(statement.word_before(at), "oxygen" | "visibly");
            let level = number_within(statement, at, NEAR)
                || (at + 1..=at + NEAR).any(|next| statement.role(next) == Some(Role::Name));
            subject && !level
        }
        _ => true,
    }
}

fn is_predicate(statement: &Statement, at: usize) -> bool {
    const BEFORE: &[&str] =
        &["be", "is", "are", "remain", "remains", "stay", "stays", "very", "so", "too", "as", "sufficiently"];
    const AFTER: &[&str] =
        &["and", "or", "for", "at", "in", "on", "when", "while", "to", "after", "during", "as", "then"];
    BEFORE.contains(&statement.word_before(at))
        && (statement.ends_at(at + 1) || AFTER.contains(&statement.word(at + 1)))
}

/// "as described in AN-003 revision B" names its target and is complete; "as described above" is not.
fn points_elsewhere(statement: &Statement, last: usize) -> bool {
    let next = last + 1;
    match statement.word(last) {
        "above" | "below" => !is_number(statement, next),
        "shown" | "described" | "to" => {
            let named = (next..next + 4).any(|at| statement.role(at) == Some(Role::Name) || is_number(statement, at));
            !named && !matches!(statement.word(next), "in" | "on" | "by")
        }
        _ => {
            !(word_within(statement, last, 4, &["of", "in"])
                && (next..next + 7).any(|at| statement.role(at) == Some(Role::Name)))
        }
    }
}

fn is_solution(statement: &Statement, first: usize) -> bool {
    const MEASURING: &[&str] = &[
        "measured",
        "tested",
        "verified",
        "determined",
        "calculated",
        "computed",
        "evaluated",
        "demonstrated",
        "when",
        "by",
    ];
    match statement.word(first) {
        "using" => !MEASURING.contains(&statement.word_before(first)),
        // The preposition before has been reported already.
        "a" => {
            !matches!(statement.word_before(first), "of" | "using" | "via" | "by")
                && statement.shalls.first().is_some_and(|shall| *shall < first)
        }
        _ => true,
    }
}

fn quantifier(statement: &Statement, at: usize) -> Option<&'static str> {
    let next = at + 1;
    match statement.word(at) {
        // "either A or B", "both A and B" join, they do not count.
        "either" if word_within(statement, at, NEAR, &["or"]) => return None,
        "both" if word_within(statement, at, NEAR, &["and"]) => return None,
        // "if any command fails" asks for one, "if all have failed" for every one: there is nothing to mistake.
        "any" | "all" if in_condition(statement, at) => return None,
        _ => {}
    }
    if statement.ends_at(next)
        || (statement.word(next).is_empty() && statement.role(next) != Some(Role::Name) && !is_number(statement, next))
    {
        return None;
    }
    // "all sensors", "all of the sensors": reported once, as a set that is not listed.
    let noun = (next..next + 3).find(|at| !matches!(statement.word(*at), "of" | "the"));
    let group = noun.is_some_and(|noun| words::GROUPS.contains(&statement.word(noun)));
    (!(group && statement.word(at) == "all")).then_some("all-any-both")
}

fn is_indefinite(statement: &Statement, first: usize, last: usize) -> bool {
    let next = last + 1;
    match statement.word(first) {
        "until" => {
            let names = (next..next + NEAR).any(|at| statement.role(at) == Some(Role::Name));
            !statement.value_after(next)
                && !names
                && !word_within(statement, last, NEAR, &["command", "commanded", "signal", "message"])
        }
        // An event after them gives the order; only the bare word, or use and operation, say nothing.
        "before" | "after" if first == last => {
            statement.ends_at(next) || matches!(statement.word(next), "use" | "operation" | "long" | "some" | "that")
        }
        "prompt" => !matches!(statement.word_before(first), "shall" | "to" | "the"),
        _ => true,
    }
}

fn is_comparative(statement: &Statement, first: usize, last: usize) -> bool {
    const THINGS: &[&str] = &[
        "valve",
        "actuator",
        "design",
        "version",
        "system",
        "one",
        "unit",
        "model",
        "configuration",
        "product",
        "hardware",
    ];
    let next = last + 1;
    match statement.word(first) {
        "higher" | "lower" | "larger" | "smaller" => statement.word(next) == "than" && !value_follows(statement, next),
        "than" => {
            let said = matches!(
                statement.word_before(first),
                "better" | "worse" | "faster" | "slower" | "stronger" | "higher" | "lower" | "larger" | "smaller"
            );
            // "than the current limit" may well be a limit on a current.
            let thing =
                statement.word(last) != "current" || statement.ends_at(next) || THINGS.contains(&statement.word(next));
            !said && thing
        }
        "equivalent" => !number_within(statement, last, 4),
        "better" | "worse" | "faster" | "slower" | "stronger" => !value_follows(statement, last),
        _ => true,
    }
}

/// "than 5 degrees/s", "than or equal to 5 MPa", "than the value in TP-03".
fn value_follows(statement: &Statement, last: usize) -> bool {
    number_within(statement, last, 5)
}

fn is_superlative(scan: &Scan, first: usize, last: usize) -> bool {
    let statement = scan.statement;
    const GIVES: &[&str] = &["have", "provide", "deliver", "give", "achieve", "reach", "be", "produce", "offer"];
    match statement.word(first) {
        "most" => !statement.word(last + 1).is_empty(),
        "highest" | "lowest" => !(number_within(statement, last, 4) || scan.is_measured()),
        "maximum" | "minimum" => {
            let article = matches!(statement.word_before(first), "the" | "a");
            let verb = first.checked_sub(usize::from(article)).map_or("", |at| statement.word_before(at));
            // "below the maximum torque" refers to a value, "shall have maximum torque" asks for none.
            let asked = verb == "to" && article && statement.ends_at(last + 1)
                || GIVES.contains(&verb) && !statement.ends_at(last + 1);
            matches!(statement.word(last + 1), "possible" | "practicable" | "practical" | "available")
                || asked && !scan.is_stated()
        }
        _ => true,
    }
}

fn is_placeholder(statement: &Statement, first: usize, last: usize) -> bool {
    match statement.word(last) {
        "supplied" | "defined" | "specified" => statement.ends_at(last + 1),
        "determined" | "resolved" | "confirmed" => {
            statement.ends_at(last + 1)
                || matches!(statement.word(last + 1), "by" | "later" | "after" | "at" | "during")
        }
        _ => statement.raw(first).bytes().all(|byte| byte.is_ascii_uppercase()),
    }
}

fn is_bare_condition(statement: &Statement, first: usize, last: usize) -> bool {
    let next = last + 1;
    let ends = statement.ends_at(next) || matches!(statement.word(next), "and" | "or" | "with" | "for" | "without");
    ends && !(statement.word(first) == "when" && number_within(statement, last, 4))
}

fn is_pronoun(statement: &Statement, first: usize, last: usize) -> bool {
    const NO_NOUN: &[&str] = &[
        "shall", "is", "are", "was", "were", "has", "have", "does", "do", "can", "may", "will", "must", "should", "in",
        "of", "at", "for", "to", "by", "with", "and", "or", "that", "which", "who", "when", "if",
    ];
    let next = last + 1;
    let alone = statement.ends_at(next) || NO_NOUN.contains(&statement.word(next));
    match statement.word(first) {
        // Information technology.
        "it" => statement.raw(first) != "IT",
        "this" | "these" | "those" if first == last => alone,
        "that" if first == last => statement.word(next) == "of" || first == 0 && alone,
        "which" => statement.mark_before(first) == "," && alone,
        // "the one second delay"
        "the" if matches!(statement.word(last), "one" | "ones") => !is_unit(statement.raw(next)),
        _ => true,
    }
}

/// Whether `at` lies in a clause that starts with a condition word.
fn in_condition(statement: &Statement, at: usize) -> bool {
    const REACH: usize = 24;
    let clause = (at.saturating_sub(REACH)..at)
        .rev()
        .take_while(|at| !statement.ends_at(*at) && !matches!(statement.word(*at), "shall" | "then"));
    clause
        .into_iter()
        .any(|at| matches!(statement.word(at), "if" | "when" | "whenever" | "while" | "unless" | "upon" | "where"))
}
