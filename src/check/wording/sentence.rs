//! The shall sentence: its subject, its verb, how many demands it makes, how long it is.

use super::report::Report;
use super::statement::Statement;
use super::tokens::{Gap, Kind, Role};
use super::words;

/// More words than this make a statement long; common practice, no source.
const WORDS: usize = 40;
/// More commas than this make a statement long; common practice, no source.
const COMMAS: usize = 3;
/// Fewer words than this are a heading.
const HEADING: usize = 5;

/// Reports everything about the sentence as a whole and about what follows "shall".
pub(super) fn scan(statement: &Statement, report: &mut Report) {
    match statement.shalls.as_slice() {
        [] => report.add_whole("no-shall"),
        [_] => {}
        [_, second, ..] => report.add("several-shalls", *second, *second, None),
    }
    for shall in &statement.shalls {
        passive(statement, *shall, report);
        subject(statement, *shall, report);
        negative(statement, *shall, report);
        weak_verb(statement, *shall, report);
    }
    if let Some(shall) = statement.shalls.first() {
        joined_actions(statement, *shall, report);
        indefinite_article(statement, *shall, report);
    }
    several_sentences(statement, report);
    length(statement, report);
}

/// The first token at or after `at` that is neither "not" nor an adverb.
fn skip_adverbs(statement: &Statement, at: usize) -> usize {
    (at..at + 3)
        .find(|at| {
            !matches!(statement.word(*at), "not" | "also" | "only" | "never") && !statement.word(*at).ends_with("ly")
        })
        .unwrap_or(at)
}

fn passive(statement: &Statement, shall: usize, report: &mut Report) {
    let be = skip_adverbs(statement, shall + 1);
    let at = skip_adverbs(statement, be + 1);
    let word = statement.word(at);
    let regular = (word.len() >= 4 && word.ends_with("ed") || word.len() >= 5 && word.ends_with("en"))
        && !words::NOT_PARTICIPLES.contains(&word);
    let compound =
        statement.hyphen_after(at) || statement.word(at + 1) == "as" && statement.word(at + 2) == "specified";
    let contact = statement.word_before(at) == "normally";
    if statement.word(be) == "be" && (regular || words::PARTICIPLES.contains(&word)) && !compound && !contact {
        report.add("passive-voice", shall, at, None);
    }
}

fn subject(statement: &Statement, shall: usize, report: &mut Report) {
    let before = shall.checked_sub(1);
    if words::PEOPLE.contains(&statement.word_before(shall)) {
        report.add("person-as-subject", shall - 1, shall, None);
    }
    let missing = match before {
        None => true,
        Some(0) => matches!(statement.word(0), "there" | "it" | "also" | "then"),
        Some(comma) => statement.mark(comma) == "," && only_conditions(statement, comma),
    };
    if missing {
        report.add("no-subject", if shall <= 1 { 0 } else { shall }, shall, None);
    }
}

/// Whether every clause up to the comma starts with a condition word, so that no subject can be among them.
fn only_conditions(statement: &Statement, comma: usize) -> bool {
    let starts = |at: usize| matches!(statement.word(at), "when" | "if" | "while" | "where" | "upon" | "on" | "after");
    statement.shalls.first() == Some(&(comma + 1))
        && starts(0)
        && (0..comma).filter(|at| statement.mark(*at) == ",").all(|at| starts(at + 1))
}

fn negative(statement: &Statement, shall: usize, report: &mut Report) {
    let next = shall + 1;
    let end = match (statement.word(next), statement.word(next + 1)) {
        ("not" | "never", _) => next,
        ("no", "longer" | "more") => next + 1,
        _ => return,
    };
    let limit = (end + 1..end + 12)
        .any(|at| matches!(statement.word(at), "more" | "exceed" | "greater" | "less" | "above" | "below"));
    report.add("negative-shall", shall, end, limit.then(|| "shall ... at most".to_string()));
}

fn weak_verb(statement: &Statement, shall: usize, report: &mut Report) {
    let at = skip_adverbs(statement, shall + 1);
    let Some(verb) = words::WEAK_VERBS
        .iter()
        .find(|verb| verb.iter().enumerate().all(|(offset, word)| statement.word(at + offset) == *word))
    else {
        return;
    };
    let exempt = match verb[0] {
        // To support a load of 500 N is something that can be tested.
        "support" => (at + 1..at + 8).any(|next| statement.kind(next) == Some(Kind::Number)),
        // To enable on command is what controllers do.
        "enable" => (at.saturating_sub(40)..at + 12)
            .any(|near| matches!(statement.word(near), "command" | "commanded" | "disable" | "commands")),
        _ => false,
    };
    if !exempt {
        report.add("weak-verb", at, at + verb.len() - 1, None);
    }
}

fn joined_actions(statement: &Statement, shall: usize, report: &mut Report) {
    let verb = skip_adverbs(statement, shall + 1);
    let mut at = verb + 1;
    while at < statement.len() && statement.word(at) != "shall" && !sentence_ends(statement, at) {
        let after = match statement.word(at) {
            "and" | "or" | "then" | "whereas" if statement.mark(at + 1) != "/" && statement.mark_before(at) != "/" => {
                at + 1
            }
            "as" if statement.word(at + 1) == "well" && statement.word(at + 2) == "as" => at + 3,
            "but" if statement.word(at + 1) == "also" => at + 2,
            _ => 0,
        };
        if after > 0 {
            let next = (after..after + 2).find(|at| !matches!(statement.word(*at), "then" | "also")).unwrap_or(after);
            if is_action(statement, next) && !is_noun_pair(statement, at) {
                report.add("joined-actions", at, next, None);
                return;
            }
        }
        at += 1;
    }
}

/// Whether the word is a verb here and not a noun: "and seal within 2 s", not "and seal leakage".
fn is_action(statement: &Statement, at: usize) -> bool {
    let word = statement.word(at);
    let next = at + 1;
    let free = || {
        statement.ends_at(next)
            || words::AFTER_ACTION.contains(&statement.word(next))
            || statement.kind(next) == Some(Kind::Number)
            || statement.role(next) == Some(Role::Name)
    };
    !statement.hyphen_after(at) && words::ACTIONS.contains(&word) && (words::SURE_ACTIONS.contains(&word) || free())
}

/// "for start and stop", "to open and close", "the open and close": the pair is a noun, or hangs from another verb.
fn is_noun_pair(statement: &Statement, combiner: usize) -> bool {
    let Some(noun) = combiner.checked_sub(2) else { return false };
    let leads = matches!(
        statement.word(noun),
        "the"
            | "of"
            | "for"
            | "each"
            | "between"
            | "from"
            | "per"
            | "a"
            | "in"
            | "any"
            | "during"
            | "to"
            | "on"
            | "both"
    );
    leads && words::ACTIONS.contains(&statement.word(combiner - 1))
}

fn indefinite_article(statement: &Statement, shall: usize, report: &mut Report) {
    let clause = (0..shall).rev().find(|at| statement.mark(*at) == ",").map_or(0, |comma| comma + 1);
    let start = if statement.word(clause) == "then" { clause + 1 } else { clause };
    // After a comma the phrase may be one of a list; only a leading condition makes it the subject.
    let leads = start == 0 || matches!(statement.word(0), "when" | "if" | "while" | "where");
    let measure = matches!(statement.word(start + 1), "minimum" | "maximum" | "total" | "mean");
    if leads && matches!(statement.word(start), "a" | "an") && !measure && start < shall {
        report.add(
            "indefinite-article",
            start,
            start + 1,
            Some(format!("The {}", statement.raw(start + 1))).filter(|_| start == 0),
        );
    }
}

/// Whether a sentence ends at the full stop `at` and another one follows.
pub(super) fn sentence_ends(statement: &Statement, at: usize) -> bool {
    const ABBREVIATED: &[&str] = &[
        "no", "nos", "fig", "figs", "sec", "eq", "approx", "min", "max", "vs", "etc", "dia", "ref", "rev", "vol",
        "temp", "st", "dwg", "para", "incl", "nom", "tol", "qty", "resp", "cf", "ca", "al", "ed", "art", "cl", "mr",
        "mrs", "dr",
    ];
    const LETTERED: &[&str] = &[
        "revision", "rev", "type", "class", "grade", "rate", "level", "table", "annex", "appendix", "option", "figure",
        "mode", "category",
    ];
    if !matches!(statement.mark(at), "." | "!" | "?")
        || !statement.glued(at)
        || statement.gap(at + 1) != Some(Gap::Space)
    {
        return false;
    }
    let Some(before) = at.checked_sub(1) else { return false };
    let word = statement.word(before);
    let initial =
        word.len() == 1 && statement.raw(before) != word && !LETTERED.contains(&statement.word_before(before));
    // "6. Current index 7. Current counter" goes on with a list.
    let label = statement.kind(before) == Some(Kind::Number) && statement.raw(before).len() <= 2 && at > statement.list;
    let capital = statement.raw(at + 1).chars().next().is_some_and(char::is_uppercase);
    capital && !initial && !label && !ABBREVIATED.contains(&word)
}

fn several_sentences(statement: &Statement, report: &mut Report) {
    if let Some(end) = (1..statement.len()).find(|at| sentence_ends(statement, *at)) {
        report.add("several-sentences", end + 1, statement.len() - 1, None);
    }
}

fn length(statement: &Statement, report: &mut Report) {
    // What is joined without a space counts as one word, as it does for a reader; a list after the sentence does not make the sentence long.
    let counted = (0..statement.list).filter(|at| {
        !statement.glued(*at) && statement.kind(*at) != Some(Kind::Mark) && statement.role(*at) != Some(Role::Unit)
    });
    let words = counted.count();
    let listed = |at: usize| statement.role(at) == Some(Role::Name) || statement.kind(at) == Some(Kind::Number);
    let commas =
        (1..statement.list).filter(|at| statement.mark(*at) == "," && !(listed(*at - 1) && listed(*at + 1))).count();
    if words > WORDS {
        report.add_missing("long-statement", &format!("{words} words"));
    } else if commas > COMMAS {
        report.add_missing("long-statement", &format!("{commas} commas"));
    }
    let chunks = (0..statement.len()).filter(|at| !statement.glued(*at)).count();
    if chunks < HEADING && statement.list == statement.len() {
        report.add_whole("heading-needed");
    }
}
