//! Spelling and marks.

use strsim::osa_distance;

use super::report::Report;
use super::statement::Statement;
use super::tokens::{Gap, Kind, Role};
use super::units::is_unit;
use super::{Context, Glossary, spelling, words};

/// Reports everything about spelling and marks.
pub(super) fn scan(statement: &Statement, context: &Context, report: &mut Report) {
    for at in 0..statement.len() {
        repeated(statement, at, report);
        oblique(statement, at, report);
        misspelt(statement, context.glossary, at, report);
    }
    abbreviations(statement, context, report);
    pairs(statement, report);
    double_marks(statement, report);
    full_stop(statement, report);
}

fn repeated(statement: &Statement, at: usize, report: &mut Report) {
    let word = statement.word(at);
    let same = !word.is_empty() && word == statement.word(at + 1) && statement.gap(at + 1) == Some(Gap::Space);
    // "that that" and "had had" can be right; in a compound ("stop-to-stop stop") the word is not repeated.
    let right = matches!(word, "that" | "had") || statement.hyphen_before(at) || statement.hyphen_after(at + 1);
    if same && !right {
        report.add("repeated-word", at, at + 1, Some(statement.raw(at).to_string()));
    }
}

fn oblique(statement: &Statement, at: usize, report: &mut Report) {
    // Pairs that the trade writes with an oblique.
    const PAIRS: &[(&str, &str)] = &[
        ("pass", "fail"),
        ("input", "output"),
        ("true", "false"),
        ("start", "stop"),
        ("signal", "noise"),
        ("client", "server"),
    ];
    let (Some(before), "/") = (at.checked_sub(1), statement.mark(at)) else { return };
    let (left, right) = (statement.word(before), statement.word(at + 1));
    if matches!((left, right), ("and", "or") | ("or", "and")) {
        report.add("and-or", before, at + 1, None);
        return;
    }
    let letters = |word: &str| word.len() >= 3 && word.bytes().all(|byte| byte.is_ascii_alphabetic());
    let glued = statement.glued(at) && statement.glued(at + 1);
    let units = is_unit(statement.raw(before)) && is_unit(statement.raw(at + 1));
    let bodies = words::STANDARDS.contains(&statement.raw(before));
    let path = statement.mark(at + 2) == "/"
        || before.checked_sub(1).is_some_and(|earlier| statement.mark(earlier) == "/" && statement.glued(before));
    if glued && letters(left) && letters(right) && !units && !bodies && !path && !PAIRS.contains(&(left, right)) {
        report.add("oblique", before, at + 1, None);
    }
}

/// A word of the short list of misspellings, or one that nearly is a word of the glossary.
fn misspelt(statement: &Statement, glossary: &Glossary, at: usize, report: &mut Report) {
    let word = statement.word(at);
    if word.len() < 3 || statement.raw(at).bytes().skip(1).any(|byte| byte.is_ascii_uppercase()) || glossary.knows(word)
    {
        return;
    }
    if let Some(right) = spelling::right_spelling(word) {
        report.add("misspelt-word", at, at, Some(right.to_string()));
        return;
    }
    if glossary.has_terms()
        && let Some(term) = near_term(glossary, word)
    {
        report.add("misspelt-word", at, at, Some(term.to_string()));
    }
}

/// Words shorter than this are not compared: too many real words lie within one letter of them.
const SHORTEST: usize = 6;
/// From this length on, two letters may differ.
const LONG: usize = 10;

/// The word of the glossary that `word` is probably meant to be.
///
/// Without a dictionary every real word that resembles a term would be reported, so that only slips of the pen count: letters swapped, left out, doubled,
/// added; one vowel for another. Inflections of a term and a list of real words are let through.
fn near_term<'g>(glossary: &'g Glossary, word: &str) -> Option<&'g str> {
    if word.len() < SHORTEST || !word.bytes().all(|byte| byte.is_ascii_lowercase()) || spelling::is_real_word(word) {
        return None;
    }
    let allowed = if word.len() >= LONG { 2 } else { 1 };
    glossary.near_words(word, allowed).find(|term| {
        term.len() >= SHORTEST
            && !is_inflection(word, term)
            && osa_distance(word, term) <= allowed
            && is_slip(word, term)
    })
}

/// Whether the two differ in their endings only: valve and valves, seal and sealed.
fn is_inflection(word: &str, term: &str) -> bool {
    const ENDINGS: &[&str] = &[
        "", "s", "es", "d", "ed", "er", "ers", "or", "ors", "ing", "ings", "y", "ies", "ly", "al", "ion", "ions", "e",
        "able", "ive", "ic",
    ];
    let common = word.bytes().zip(term.bytes()).take_while(|(a, b)| a == b).count();
    let (word, term) = (word.get(common..).unwrap_or("?"), term.get(common..).unwrap_or("?"));
    // A doubled consonant before the ending: stop, stopped.
    let ending = |rest: &str| {
        ENDINGS.contains(&rest) || rest.get(1..).is_some_and(|rest| rest.len() > 1 && ENDINGS.contains(&rest))
    };
    common >= 3 && ending(word) && ending(term)
}

/// Whether words of the same length differ by swapped letters or vowels only; of different length, letters were lost or added.
fn is_slip(word: &str, term: &str) -> bool {
    if word.len() != term.len() {
        return true;
    }
    let differing: Vec<(u8, u8)> = word.bytes().zip(term.bytes()).filter(|(a, b)| a != b).collect();
    let vowel = |letter: &u8| b"aeiouy".contains(letter);
    differing.iter().all(|(a, b)| vowel(a) && vowel(b))
        || matches!(differing.as_slice(), [(a, b), (c, d)] if a == d && b == c)
}

/// Abbreviations that nothing explains; each once.
fn abbreviations(statement: &Statement, context: &Context, report: &mut Report) {
    let words = (0..statement.len()).filter(|at| !statement.word(*at).is_empty());
    let capitals: Vec<usize> = words.clone().filter(|at| is_capitals(statement.raw(*at))).collect();
    // A statement written in capitals throughout abbreviates nothing.
    if capitals.is_empty() || capitals.len() * 2 > words.count() {
        return;
    }
    let mut seen: std::collections::BTreeSet<&str> = std::collections::BTreeSet::new();
    for at in capitals {
        let raw = statement.raw(at);
        let name = raw.strip_suffix('s').unwrap_or(raw);
        let known = words::is_known_capitals(name)
            || is_unit(raw)
            || context.glossary.knows_abbreviation(name)
            || context.glossary.knows(statement.word(at));
        let numbered = statement.kind(at + 1) == Some(Kind::Number) && statement.gap(at + 1) != Some(Gap::Item);
        if !known && !(context.ids)(name) && !numbered && !explained(statement, at) && seen.insert(name) {
            report.add("unknown-abbreviation", at, at, None);
        }
    }
}

/// From two capitals to this many are an abbreviation; longer ones are words that are stressed, or states (ENABLED).
const LONGEST: usize = 6;

/// Two capitals or more and nothing else, except a plural s.
fn is_capitals(word: &str) -> bool {
    let capitals = word.strip_suffix('s').unwrap_or(word);
    (2..=LONGEST).contains(&capitals.len()) && capitals.bytes().all(|byte| byte.is_ascii_uppercase())
}

/// "main oxidizer valve (MOV)" and "MOV (main oxidizer valve)" explain themselves.
fn explained(statement: &Statement, at: usize) -> bool {
    let bracketed = statement.mark_before(at) == "(" && statement.mark(at + 1) == ")";
    let before = at.checked_sub(2).is_some_and(|last| {
        let mut initials = (0..=last).rev().filter_map(|word| statement.word(word).chars().next());
        statement.raw(at).chars().rev().all(|letter| initials.next() == Some(letter.to_ascii_lowercase()))
    });
    let mut inside = (at + 2..).map_while(|word| statement.word(word).chars().next());
    let after = statement.mark(at + 1) == "("
        && statement.raw(at).chars().all(|letter| inside.next() == Some(letter.to_ascii_lowercase()));
    bracketed && before || after
}

/// Brackets and quotes that do not pair.
fn pairs(statement: &Statement, report: &mut Report) {
    let mut open: Vec<usize> = Vec::new();
    let mut quotes: Vec<usize> = Vec::new();
    let (mut curly, mut last_curly) = (0i64, 0);
    for at in 0..statement.len() {
        match statement.mark(at) {
            _ if statement.role(at) == Some(Role::Name) => {}
            "(" | "[" => open.push(at),
            ")" | "]" if open.pop().is_none() && !is_enumeration(statement, at) => {
                report.add("loose-punctuation", at, at, None)
            }
            // After a number it is an inch mark.
            "\"" if !(statement.glued(at)
                && at.checked_sub(1).is_some_and(|number| statement.kind(number) == Some(Kind::Number))) =>
            {
                quotes.push(at)
            }
            "“" => (curly, last_curly) = (curly + 1, at),
            "”" => (curly, last_curly) = (curly - 1, at),
            _ => {}
        }
    }
    for at in open {
        report.add("loose-punctuation", at, at, None);
    }
    if let Some(last) = quotes.last().filter(|_| quotes.len() % 2 == 1) {
        report.add("loose-punctuation", *last, *last, None);
    }
    if curly != 0 {
        report.add("loose-punctuation", last_curly, last_curly, None);
    }
}

/// "a) ..., b) ..." inside a line.
fn is_enumeration(statement: &Statement, close: usize) -> bool {
    close
        .checked_sub(1)
        .is_some_and(|label| statement.glued(close) && statement.raw(label).len() <= 3 && !statement.glued(label))
}

fn double_marks(statement: &Statement, report: &mut Report) {
    for at in 1..statement.len() {
        let (first, second) = (statement.mark(at - 1), statement.mark(at));
        let marks = matches!(first, "," | ";" | ":" | ".") && matches!(second, "," | ";" | ":" | ".");
        // "etc.," and "min.;" end with the full stop of an abbreviation; "2..6" is a range.
        let abbreviation = first == "." && second != ".";
        let range = first == "." && second == "." && statement.kind(at + 1) == Some(Kind::Number);
        if marks && !abbreviation && !range && statement.gap(at) != Some(Gap::Item) {
            report.add("loose-punctuation", at - 1, at, None);
        }
    }
}

fn full_stop(statement: &Statement, report: &mut Report) {
    let end = statement.source.trim_end().trim_end_matches(['*', '_', '`', '"', '”', '’', '\'', ')', ']']);
    let ended = end.is_empty() || end.ends_with(['.', '!', '?', '…', '>', '|']);
    // The items of a list need none.
    let listed = statement.list < statement.len();
    if let Some(last) = statement.len().checked_sub(1).filter(|_| !ended && !listed) {
        report.add(
            "loose-punctuation",
            last,
            last,
            Some(format!("{}.", statement.raw(last))).filter(|_| statement.kind(last) != Some(Kind::Mark)),
        );
    }
}
