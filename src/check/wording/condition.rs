//! Conditions: where they stand, how they are joined, whether anything answers them.

use super::Glossary;
use super::report::Report;
use super::statement::Statement;
use super::tokens::{Gap, Kind, Role};

/// Reports everything about conditions.
pub(super) fn scan(statement: &Statement, glossary: &Glossary, report: &mut Report) {
    for shall in &statement.shalls {
        inside(statement, *shall, report);
    }
    mixed(statement, report);
    undefined(statement, glossary, report);
    if let Some(shall) = statement.shalls.first() {
        leading(statement, *shall, report);
    }
}

fn inside(statement: &Statement, shall: usize, report: &mut Report) {
    let mut at = shall + 1;
    while statement.mark(at) == "," || statement.word(at) == "not" {
        at += 1;
    }
    let event = statement.word(at) == "in" && statement.word(at + 1) == "the" && statement.word(at + 2) == "event";
    if event || matches!(statement.word(at), "if" | "when" | "while" | "unless" | "except" | "whenever" | "upon") {
        report.add("condition-inside", shall, at, None);
    }
}

fn mixed(statement: &Statement, report: &mut Report) {
    let mut at = 0;
    while at < statement.len() {
        if !matches!(statement.word(at), "if" | "when" | "while" | "unless" | "whenever") {
            at += 1;
            continue;
        }
        let (mut and, mut or, mut between) = (false, false, false);
        let mut end = at + 1;
        while end < statement.len() && !statement.ends_at(end) && !matches!(statement.word(end), "then" | "shall") {
            match statement.word(end) {
                "between" => between = true,
                // The "and" of "between X and Y" joins nothing.
                "and" if between => between = false,
                "and" => and |= statement.mark(end + 1) != "/",
                // "greater than or equal to", "5 or more"
                "or" => {
                    or |= !matches!(
                        statement.word(end + 1),
                        "equal" | "more" | "less" | "equals" | "greater" | "above" | "below"
                    ) && statement.mark_before(end) != "/"
                }
                _ => {}
            }
            end += 1;
        }
        if and && or {
            report.add("mixed-conditions", at, end - 1, None);
        }
        at = end;
    }
}

/// "under worst-case conditions", "in normal operation", with nothing that says what they are.
fn undefined(statement: &Statement, glossary: &Glossary, report: &mut Report) {
    const KINDS: &[&str] = &[
        "normal",
        "nominal",
        "operating",
        "worst",
        "all",
        "expected",
        "service",
        "typical",
        "extreme",
        "adverse",
        "various",
        "working",
    ];
    const FILLERS: &[&str] = &["case", "the", "environmental", "foreseeable"];
    const NOUNS: &[&str] =
        &["condition", "conditions", "operation", "operations", "use", "service", "environment", "environments"];
    for at in 0..statement.len() {
        if !matches!(statement.word(at), "under" | "in" | "at" | "during" | "for") {
            continue;
        }
        let mut noun = at + 1;
        let mut kinds = 0;
        while noun < at + 7
            && (FILLERS.contains(&statement.word(noun))
                || KINDS.contains(&statement.word(noun))
                || statement.mark(noun) == "-")
        {
            kinds += usize::from(KINDS.contains(&statement.word(noun)));
            noun += 1;
        }
        // "service" may be the noun itself.
        if !NOUNS.contains(&statement.word(noun)) && kinds > 1 && statement.word(noun - 1) == "service" {
            noun -= 1;
        }
        if kinds == 0 || !NOUNS.contains(&statement.word(noun)) {
            continue;
        }
        let defined = (noun + 1..noun + 7)
            .any(|next| statement.kind(next) == Some(Kind::Number) || statement.role(next) == Some(Role::Name));
        let term = format!("{} {}", statement.word_before(noun), statement.word(noun));
        if !defined && !glossary.knows(&term) {
            report.add("undefined-condition", at, noun, None);
        }
    }
}

/// The clauses before the subject: their order, and whether the sentence answers them.
fn leading(statement: &Statement, shall: usize, report: &mut Report) {
    let first = statement.word(0);
    if !matches!(first, "when" | "if" | "while" | "where") {
        return;
    }
    let commas: Vec<usize> = (0..shall).filter(|at| statement.mark(*at) == ",").collect();
    let then = (0..shall).any(|at| statement.word(at) == "then");
    // A "shall" may stand inside the condition; what matters is that one follows a comma.
    let answered = statement.shalls.last().is_some_and(|last| (shall..*last).any(|at| statement.mark(at) == ","));
    if commas.is_empty() && !then && !answered {
        report.add("event-without-answer", 0, shall, None);
    }
    if first == "if" && !then {
        match commas.last() {
            Some(comma) => report.add("if-without-then", *comma, *comma, Some(", then".to_string())),
            None => report.add("if-without-then", 0, 0, None),
        }
    }
    let rank = |at: usize| match statement.word(at) {
        "where" => Some(0),
        "while" => Some(1),
        "when" | "if" => Some(2),
        _ => None,
    };
    let mut highest = rank(0);
    for clause in commas.iter().map(|comma| comma + 1).filter(|at| statement.gap(*at) != Some(Gap::Item)) {
        let here = rank(clause);
        if here.is_some() && here < highest {
            report.add("clause-order", clause, clause, None);
        }
        highest = here.max(highest);
    }
}
