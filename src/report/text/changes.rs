//! `changes` for a terminal.

use crate::report::style::{BAD, GOOD, NAME, OFF, QUIET, STRONG, WARN, columns};
use crate::report::view::{ChangeView, ChangesView, CommitView, CriterionChangeView, FromTo};

use super::words::differences;
use super::{pad, wrap};

/// Columns before the details of a change.
const INDENT: usize = 13;

/// What changed, thing by thing.
pub fn render(view: &ChangesView, width: usize) -> String {
    let point = |name: &str, oid: &Option<String>| match oid {
        Some(oid) if !oid.starts_with(name) => format!("{name} ({})", short(oid)),
        Some(oid) => short(oid).to_string(),
        None => name.to_string(),
    };
    let from = match &view.from {
        None => format!("the start, before {}", view.from_name),
        from => point(&view.from_name, from),
    };
    let count = match view.commit_count {
        1 => "1 commit".to_string(),
        n => format!("{n} commits"),
    };
    let lead = format!("{}, from {from} to {}; {count}", view.project, point(&view.to_name, &view.to));
    let mut text = format!("{QUIET}{}{OFF}\n", wrap(&lead, width, 0, 2));
    for file in &view.unreadable {
        let what = format!("{}: {}; what it said is not listed in full", file.path, file.why);
        text.push_str(&format!("\n{BAD}unreadable{OFF}   {}\n", wrap(&what, width, INDENT, INDENT)));
        match &file.commit {
            Some(it) => commit(&mut text, it, width),
            None => line(&mut text, &format!("{WARN}in the work tree{OFF}"), width),
        }
    }
    if view.changes.is_empty() {
        text.push_str("\nNothing that this project lists differs.\n");
    }
    for change in &view.changes {
        text.push('\n');
        text.push_str(&one(change, width));
    }
    text
}

/// One change with everything that is known of it.
pub fn one(change: &ChangeView, width: usize) -> String {
    let word = if change.reaffirmed { "reaffirmed" } else { change.change };
    let mark = match word {
        "added" => GOOD,
        "removed" | "withdrawn" => BAD,
        "revised" | "plan" => WARN,
        _ => QUIET,
    };
    let safety = if change.safety { " [safety]" } else { "" };
    let lead = format!("{mark}{}{OFF}{STRONG}{}{OFF}{safety} ", pad(word, INDENT), change.id);
    let title = format!("{} ({})", change.title, change.kind);
    let mut text = format!("{lead}{}\n", wrap(title.trim_start(), width, columns(&lead), INDENT));
    if let Some(statement) = &change.statement {
        line(&mut text, &reworded(statement), width);
    }
    for criterion in &change.criteria {
        line(&mut text, &direction(criterion), width);
    }
    for words in change.reach.iter().chain(&change.plan).chain(&change.keys) {
        line(&mut text, words, width);
    }
    match (&change.path.from, &change.path.to) {
        (Some(from), Some(to)) => line(&mut text, &format!("{from} → {to}"), width),
        (Some(from), None) => line(&mut text, &format!("was in {from}"), width),
        _ => {}
    }
    if let Some(why) = &change.accounted {
        line(&mut text, why, width);
    }
    if !change.slipped.is_empty() {
        line(&mut text, &format!("{WARN}slipped{OFF}: {}", change.slipped.join(", ")), width);
    }
    if !change.decisions.is_empty() {
        line(&mut text, &format!("{NAME}decided{OFF}: {}", change.decisions.join(", ")), width);
    }
    for it in &change.commits {
        commit(&mut text, it, width);
    }
    if change.uncommitted {
        line(&mut text, &format!("{WARN}not committed{OFF}"), width);
    }
    text
}

/// A statement that was reworded, word by word; one that came or went as a whole.
pub(super) fn reworded(statement: &FromTo) -> String {
    match (&statement.from, &statement.to) {
        (Some(from), Some(to)) => differences(from, to),
        (from, to) => from.as_ref().or(to.as_ref()).cloned().unwrap_or_default(),
    }
}

/// Which way a criterion moved.
pub(super) fn direction(criterion: &CriterionChangeView) -> String {
    let mark = match criterion.direction {
        "tightened" | "added" => GOOD,
        "relaxed" | "removed" => BAD,
        "restated" => QUIET,
        _ => WARN,
    };
    let values: Vec<&str> = [&criterion.from, &criterion.to].into_iter().flatten().map(String::as_str).collect();
    format!("{}: {mark}{}{OFF}: {}", criterion.name, criterion.direction, values.join(" → "))
}

fn line(text: &mut String, words: &str, width: usize) {
    text.push_str(&format!("{}{}\n", " ".repeat(INDENT), wrap(words, width, INDENT, INDENT + 2)));
}

fn commit(text: &mut String, commit: &CommitView, width: usize) {
    line(text, &format!("{QUIET}{} {} {}{OFF}", short(&commit.oid), commit.date, commit.summary), width);
}

/// As much of a commit's id as people read.
pub(super) fn short(oid: &str) -> &str {
    oid.get(..10).unwrap_or(oid)
}
