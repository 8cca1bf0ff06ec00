//! The rules that are lists of words and phrases, and the adverbs in -ly.
//!
//! [`scan`] walks over the statement once. At each word it looks for the longest listed phrase; [`counts`] then decides whether the phrase is a fault
//! where it stands. A phrase that is one is not looked into again, so that "as appropriate" is an escape clause and not a vague adjective too.

use foldhash::{HashMap, HashMapExt};
use std::sync::LazyLock;

use super::guards::{Scan, counts, word_within};
use super::report::Report;
use super::statement::Statement;
use super::tokens::{Gap, Kind};
use super::{lists, words};

/// A phrase and the code it stands for; none if it is harmless.
struct Phrase {
    words: Vec<&'static str>,
    code: Option<&'static str>,
}

/// Phrases by their first word, the longest first. Only looked up in, never iterated over.
static INDEX: LazyLock<HashMap<&'static str, Vec<Phrase>>> = LazyLock::new(|| {
    let mut index: HashMap<&str, Vec<Phrase>> = HashMap::new();
    let listed = lists::PHRASES.iter().flat_map(|(code, phrases)| phrases.iter().map(|phrase| (Some(*code), *phrase)));
    for (code, phrase) in listed.chain(lists::HARMLESS.iter().map(|phrase| (None, *phrase))) {
        let words: Vec<&str> = phrase.split(' ').collect();
        index.entry(words[0]).or_default().push(Phrase { words, code });
    }
    for phrases in index.values_mut() {
        phrases.sort_by_key(|phrase| std::cmp::Reverse(phrase.words.len()));
    }
    index
});

/// Reports phrases and adverbs.
pub(super) fn scan(statement: &Statement, report: &mut Report) {
    let scan = Scan::new(statement);
    let mut at = 0;
    while at < statement.len() {
        at = match phrase_at(&scan, at, report) {
            Some(end) => end,
            None => {
                adverb(statement, at, report);
                at + 1
            }
        };
    }
    hundred_percent(statement, report);
}

/// Reports the phrase that starts at `at`; gives one past its last token if one of any sort was found.
fn phrase_at(scan: &Scan, at: usize, report: &mut Report) -> Option<usize> {
    let statement = scan.statement;
    let first = statement.word(at);
    if first.is_empty() || statement.hyphen_before(at) || is_title(statement, at) {
        return None;
    }
    for phrase in INDEX.get(first)? {
        let Some(end) = match_end(statement, at, &phrase.words) else { continue };
        let last = end - 1;
        if statement.hyphen_after(last) {
            continue;
        }
        let Some(code) = phrase.code else {
            return Some(end);
        };
        if let Some(code) = counts(code, scan, at, last) {
            report.add(code, at, last, suggestion(code, first));
            return Some(end);
        }
    }
    None
}

/// A capitalised word inside a sentence is part of a name: "the Reset All command". Words in capitals throughout are not meant.
fn is_title(statement: &Statement, at: usize) -> bool {
    let mut letters = statement.raw(at).chars();
    let title = letters.next().is_some_and(char::is_uppercase) && letters.next().is_some_and(char::is_lowercase);
    let inside = statement.gap(at) == Some(Gap::Space)
        && at.checked_sub(1).is_some_and(|before| statement.kind(before) != Some(Kind::Mark));
    title && inside
}

/// One past the last token of the phrase, if it starts at `at`. A hyphen between two words counts as a space.
fn match_end(statement: &Statement, at: usize, words: &[&str]) -> Option<usize> {
    let mut next = at + 1;
    for word in &words[1..] {
        if statement.word(next) != *word {
            if !(statement.mark(next) == "-"
                && statement.glued(next)
                && statement.glued(next + 1)
                && statement.word(next + 1) == *word)
            {
                return None;
            }
            next += 1;
        }
        next += 1;
    }
    Some(next)
}

fn suggestion(code: &str, first: &str) -> Option<String> {
    match (code, first) {
        ("goal-word", "cannot") => Some("shall not".to_string()),
        ("goal-word", _) => Some("shall".to_string()),
        ("all-any-both", _) => Some("each".to_string()),
        _ => None,
    }
}

/// A word in -ly that stands for a number.
fn adverb(statement: &Statement, at: usize, report: &mut Report) {
    let word = statement.word(at);
    if word.len() < 5 || !word.ends_with("ly") || statement.hyphen_before(at) || statement.hyphen_after(at) {
        return;
    }
    let vague = words::VAGUE_ADVERBS.contains(&word);
    let definite = words::DEFINITE_LY.contains(&word)
        || words::OTHER_LY.contains(&word)
        || word.ends_with("ally")
        || word.starts_with("un") && word.ends_with("edly");
    // "normally closed" is a kind of valve or contact.
    let contact = word == "normally" && matches!(statement.word(at + 1), "open" | "closed" | "energized" | "energised");
    let noun = word.ends_with("assembly") || word.ends_with("supply");
    if (vague || !definite) && !contact && !noun {
        report.add("vague-adverb", at, at, None);
    }
}

/// "100 %" is an absolute unless it is 100 % of something, or the end of a range.
fn hundred_percent(statement: &Statement, report: &mut Report) {
    const OF: &[&str] = &[
        "inspection",
        "radiographic",
        "radiography",
        "relative",
        "humidity",
        "duty",
        "helium",
        "oxygen",
        "nitrogen",
        "open",
        "closed",
        "travel",
        "stroke",
    ];
    for quantity in &statement.quantities {
        let Some(unit) = quantity.unit.as_ref().filter(|unit| unit.symbol == "%" && quantity.value == 100.0) else {
            continue;
        };
        let rest = statement.word(unit.end);
        let of_value = rest == "of"
            && word_within(
                statement,
                unit.end,
                3,
                &["full", "rated", "nominal", "maximum", "travel", "stroke", "scale", "design", "operating", "proof"],
            );
        let range = matches!(statement.word_before(quantity.token), "to" | "and");
        if !of_value && !range && !OF.contains(&rest) && !quantity.tolerance {
            report.add("absolute", quantity.token, unit.end - 1, None);
        }
    }
}
