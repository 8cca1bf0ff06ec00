//! What points outside the statement: brackets, sets that are not listed, placeholders, standards without an edition.

use super::report::Report;
use super::statement::Statement;
use super::tokens::{Kind, Role};
use super::units::is_unit;
use super::{Glossary, words};

/// Reports everything that points outside the statement.
pub(super) fn scan(statement: &Statement, glossary: &Glossary, report: &mut Report) {
    brackets(statement, report);
    sets(statement, glossary, report);
    following(statement, report);
    for at in 0..statement.len() {
        let mark = statement.mark(at);
        if mark.len() > 2 && (mark.starts_with('<') || mark.starts_with('?')) {
            report.add("placeholder", at, at, None);
        }
        if statement.kind(at) == Some(Kind::Word)
            && words::STANDARDS.contains(&statement.raw(at).split('-').next().unwrap_or(""))
        {
            undated(statement, at, report);
        }
    }
}

/// Brackets that hold words; only the outermost pair is reported.
fn brackets(statement: &Statement, report: &mut Report) {
    let mut open = 0;
    let mut depth = 0usize;
    for at in 0..statement.len() {
        if statement.role(at) == Some(Role::Name) {
            continue;
        }
        match statement.mark(at) {
            "(" | "[" => {
                depth += 1;
                if depth == 1 {
                    open = at;
                }
            }
            ")" | "]" if depth > 0 => {
                depth -= 1;
                if depth == 0 && holds_words(statement, open, at) {
                    report.add("bracketed-text", open, at, None);
                }
            }
            _ => {}
        }
    }
}

fn holds_words(statement: &Statement, open: usize, close: usize) -> bool {
    const PLAIN: &[&str] = &["gauge", "absolute", "differential", "inclusive", "exclusive", "nominal"];
    // A restated value: "(0.5 inch)".
    if statement.kind(open + 1) == Some(Kind::Number) {
        return false;
    }
    let remark = (open + 1..close).any(|at| {
        let word = statement.word(at);
        let capitals = statement.raw(at).bytes().all(|byte| byte.is_ascii_uppercase());
        word.len() >= 4 && !capitals && !PLAIN.contains(&word) && !is_unit(statement.raw(at))
    });
    remark && !spells_out(statement, open, close)
}

/// "MOV (main oxidizer valve)": the words only spell out the abbreviation before them.
fn spells_out(statement: &Statement, open: usize, close: usize) -> bool {
    let Some(before) = open.checked_sub(1).map(|before| statement.raw(before)) else { return false };
    if before.len() > 12 {
        return false;
    }
    let initials = (open + 1..close).filter_map(|at| statement.word(at).chars().next());
    let inner: String = initials.take(12).collect();
    !inner.is_empty() && inner.eq_ignore_ascii_case(before)
}

/// "all sensors", "every seal", "each of the lines" where nothing says which.
fn sets(statement: &Statement, glossary: &Glossary, report: &mut Report) {
    for at in 0..statement.len() {
        let quantifier = statement.word(at);
        let of = statement.word(at + 1) == "of";
        if !(matches!(quantifier, "all" | "every") || quantifier == "each" && of) {
            continue;
        }
        let Some(noun) = (at + 1..at + 4).find(|next| !matches!(statement.word(*next), "of" | "the")) else { continue };
        let word = statement.word(noun);
        let group = words::GROUPS
            .iter()
            .any(|group| *group == word || quantifier == "every" && group.strip_suffix('s') == Some(word));
        // The members follow: "all sensors: PT-01 and PT-02", "all lines of drawing MOV-104".
        let listed =
            (noun + 1..noun + 5).any(|next| statement.role(next) == Some(Role::Name) || statement.mark(next) == ":");
        if group && !listed && !glossary.knows(word) && statement.list == statement.len() {
            report.add("unlisted-set", at, noun, None);
        }
    }
}

/// "the following" with nothing that follows.
fn following(statement: &Statement, report: &mut Report) {
    const PLACES: &[&str] = &["section", "sections", "requirement", "paragraph", "table", "figure"];
    let last_colon = (0..statement.len()).rev().find(|at| matches!(statement.mark(*at), ":" | "|"));
    let last_name = (0..statement.len()).rev().find(|at| statement.role(*at) == Some(Role::Name));
    for at in 1..statement.len() {
        if statement.word(at) != "following"
            || statement.word(at - 1) != "the"
            || PLACES.contains(&statement.word(at + 1))
        {
            continue;
        }
        let listed = statement.list < statement.len()
            || last_colon > Some(at)
            || last_name > Some(at)
            || statement.value_after(at);
        if !listed {
            report.add("unlisted-set", at - 1, at, None);
        }
    }
}

/// How many tokens of a designation are looked at.
const DESIGNATION: usize = 10;

/// A standard's number with no year and no revision letter.
fn undated(statement: &Statement, body: usize, report: &mut Report) {
    // "ISO/IEC/IEEE 29148" is reported at its last body.
    if statement.mark(body + 1) == "/" && words::STANDARDS.contains(&statement.raw(body + 2)) {
        return;
    }
    // The number may be part of the same run (MIL-STD-1246C, IEST-STD-CC1246D) or the next one (ISO 5208, ASTM D4894-19).
    let mut number = body;
    let mut end = run_end(statement, body);
    let has_digit =
        |from: usize, to: usize| (from..to).any(|at| statement.raw(at).bytes().any(|byte| byte.is_ascii_digit()));
    if !has_digit(body, end) {
        number = end + usize::from(matches!(statement.raw(end), "TS" | "TR" | "PAS" | "Std" | "STD" | "BPVC" | "S"));
        if statement.glued(end) || number >= body + DESIGNATION {
            return;
        }
        end = run_end(statement, number);
        if !has_digit(number, end) || statement.kind(number) == Some(Kind::Mark) {
            return;
        }
    }
    let from = statement.token(number).map_or(0, |token| token.start);
    let to = statement.token(end.saturating_sub(1)).map_or(from, |token| token.end);
    let designation = statement.source.get(from..to).unwrap_or("");
    if !is_dated(statement.raw(body), designation) && !edition_follows(statement, end) {
        report.add("undated-reference", body, end - 1, None);
    }
}

/// One past the last token that is joined to `at` without a space.
fn run_end(statement: &Statement, at: usize) -> usize {
    let mut end = at + 1;
    while end < at + DESIGNATION
        && statement.glued(end)
        && (statement.kind(end) != Some(Kind::Mark) || statement.glued(end + 1))
    {
        if matches!(statement.mark(end), "," | ";" | "(" | ")" | "]" | "\"") {
            break;
        }
        end += 1;
    }
    while end > at + 1 && statement.kind(end - 1) == Some(Kind::Mark) {
        end -= 1;
    }
    end
}

fn is_dated(body: &str, designation: &str) -> bool {
    let mut parts = designation.rsplit(['-', ':', '_']);
    let last = parts.next().unwrap_or("");
    let numbered = parts.next().is_some();
    let digits = last.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    let year = digits.len() == 4
        && digits.bytes().all(|byte| byte.is_ascii_digit())
        && (digits.starts_with("19") || digits.starts_with("20"))
        && numbered;
    // ASTM writes the year with two digits: D4894-19a.
    let short_year =
        body == "ASTM" && numbered && digits.len() == 2 && digits.bytes().all(|byte| byte.is_ascii_digit());
    let lettered = matches!(body.split('-').next(), Some("MIL" | "NASA" | "ECSS" | "IEST" | "SAE" | "NAS"));
    let letter =
        lettered && last.ends_with(|c: char| c.is_ascii_uppercase()) && digits.ends_with(|c: char| c.is_ascii_digit());
    year || short_year || letter
}

/// "revision C", "2nd edition", "(2015)".
fn edition_follows(statement: &Statement, end: usize) -> bool {
    (end..end + 6).take_while(|at| statement.word(*at) != "and" && statement.mark(*at) != ";").any(|at| {
        let word = statement.word(at);
        let number = statement.raw(at);
        matches!(word, "edition" | "revision" | "rev" | "issue" | "dated" | "change" | "amendment")
            || statement.kind(at) == Some(Kind::Number)
                && number.len() == 4
                && (number.starts_with("19") || number.starts_with("20"))
    })
}
