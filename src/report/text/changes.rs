//! `changes` for a terminal.

use std::collections::BTreeSet;

use rayon::prelude::*;

use crate::report::style::{BAD, GOOD, NAME, OFF, QUIET, STRONG, WARN, columns};
use crate::report::view::{
    ChangeView, ChangesView, CommitView, CriterionChangeView, EvidenceView, FromTo, PutBackView, RedoRowView, RedoView,
    Said, UndoneView,
};

use super::words::{differences, differences_around};
use super::{pad, wrap};

/// Columns before the details of a change.
const INDENT: usize = 13;

/// Commits that have been named: of each it is told once why it was made.
pub type Told<'v> = BTreeSet<&'v str>;

/// What changed, thing by thing; `all` lists what only moved, and looks, too.
pub fn render(view: &ChangesView, width: usize, all: bool) -> String {
    let mut told = Told::new();
    let mut text = head(view, &mut told, width);
    let (small, listed): (Vec<&ChangeView>, Vec<&ChangeView>) =
        view.changes.iter().partition(|change| !all && change.is_small());
    if view.changes.is_empty() {
        text.push_str("\nNothing that this project lists differs.\n");
    }
    each(&mut text, &listed, &mut told, width);
    put_back(&mut text, &view.put_back, &mut told, width);
    rest(&mut text, &view.undone, width);
    redo(&mut text, &view.redo, width);
    not_listed(&mut text, &small, width);
    text
}

/// The beginning of that, with no more than so many changes.
pub fn beginning(view: &ChangesView, width: usize, count: usize) -> String {
    let mut told = Told::new();
    let mut text = head(view, &mut told, width);
    let listed: Vec<&ChangeView> = view.changes.iter().take(count).collect();
    each(&mut text, &listed, &mut told, width);
    text
}

/// What is compared, what it comes to, and what is to be minded.
fn head<'v>(view: &'v ChangesView, told: &mut Told<'v>, width: usize) -> String {
    let point = |name: &str, oid: &Option<String>| match oid {
        Some(oid) if !oid.starts_with(name) => format!("{name} ({})", short(oid)),
        Some(oid) => short(oid).to_string(),
        None => name.to_string(),
    };
    let from = match &view.from {
        None => format!("the start, before {}", view.from_name),
        from => point(&view.from_words(), from),
    };
    let count = match view.commit_count {
        1 => "1 commit".to_string(),
        n => format!("{n} commits"),
    };
    let lead = format!("{}, from {from} to {}; {count}", view.project, point(&view.to_name, &view.to));
    let mut text = format!("{QUIET}{}{OFF}\n", wrap(&lead, width, 0, 2));
    for line in view.summary() {
        text.push_str(&format!("{}\n", wrap(&line, width, 0, 2)));
    }
    warned(&mut text, view, told, width);
    text
}

/// Changes, each with everything that is known of it.
fn each<'v>(text: &mut String, listed: &[&'v ChangeView], told: &mut Told<'v>, width: usize) {
    // Why a commit was made stands where it is named first; but for that each change is written by itself.
    let listed: Vec<(&ChangeView, Vec<bool>)> =
        listed.iter().map(|change| (*change, first_named(&change.commits, told))).collect();
    let shown: Vec<String> = listed.par_iter().map(|(change, why)| whole(change, why, width)).collect();
    for shown in shown {
        text.push('\n');
        text.push_str(&shown);
    }
}

/// What is to be known about the history that was read, and what could not be.
fn warned<'v>(text: &mut String, view: &'v ChangesView, told: &mut Told<'v>, width: usize) {
    for caution in &view.cautions {
        text.push_str(&format!("\n{WARN}{}{OFF}\n", wrap(caution, width, 0, 2)));
    }
    for it in &view.cut_off {
        commit(text, it, told.insert(&it.oid), width);
    }
    for file in &view.unreadable {
        let what = format!("{}: {}; what it said is not listed in full", file.path, file.why);
        text.push_str(&format!("\n{BAD}unreadable{OFF}   {}\n", wrap(&what, width, INDENT, INDENT)));
        match &file.commit {
            Some(it) => commit(text, it, told.insert(&it.oid), width),
            None => line(text, &format!("{WARN}in the work tree{OFF}"), width),
        }
    }
}

/// What was touched in between and is as it was.
fn put_back<'v>(text: &mut String, list: &'v [PutBackView], told: &mut Told<'v>, width: usize) {
    for it in list {
        let word = if it.came_and_went { "came, went" } else { "put back" };
        let lead = format!("{QUIET}{}{OFF}{STRONG}{}{OFF} ", pad(word, INDENT), it.id);
        let title = format!("{} ({})", it.title, it.kind);
        text.push_str(&format!("\n{lead}{}\n", wrap(title.trim_start(), width, columns(&lead), INDENT)));
        evidence(text, &it.evidence, width);
        for own in &it.commits {
            commit(text, own, told.insert(&own.oid), width);
        }
    }
}

/// What does not stand any more, and no one change is behind.
fn rest(text: &mut String, list: &[UndoneView], width: usize) {
    if list.is_empty() {
        return;
    }
    let heading = "What else does not stand any more, because of no one change above";
    text.push_str(&format!("\n{STRONG}{}{OFF}\n", wrap(heading, width, 0, 2)));
    for it in list {
        let words = format!("{WARN}{}{OFF}: {}", it.state.word(), it.says());
        text.push_str(&format!("  {}\n", wrap(&words, width, 2, 4)));
    }
}

/// What must be done again, and what only has to be looked at.
fn redo(text: &mut String, list: &[RedoView], width: usize) {
    let anew = |own: &&RedoRowView| own.anew;
    if list.iter().any(|it| it.rows.iter().any(|row| row.anew)) {
        text.push_str(&format!("\n{STRONG}{}{OFF}\n", wrap("To do again, because evidence was undone", width, 0, 2)));
    }
    for it in list.iter().filter(|it| it.rows.iter().any(|row| row.anew)) {
        let note = it.note.as_ref().map(|note| format!(" ({note})")).unwrap_or_default();
        text.push_str(&format!("  {NAME}{}{OFF}{}\n", it.how, wrap(&note, width, 2 + columns(&it.how), 4)));
        for row in it.rows.iter().filter(anew) {
            text.push_str(&format!("    {}\n", wrap(&row.says(), width, 4, 6)));
        }
    }
    let rest: Vec<&RedoRowView> = list.iter().flat_map(|it| &it.rows).filter(|row| !row.anew).collect();
    if !rest.is_empty() {
        let heading = "To look at: what these found would still be met, so they need no new run";
        text.push_str(&format!("\n{STRONG}{}{OFF}\n", wrap(heading, width, 0, 2)));
    }
    let mut said: Vec<String> = rest
        .iter()
        .map(|row| {
            format!(
                "{} for {}: slipmark mark {} --by ROLE --because \"…\"",
                row.records.join(", "),
                row.requirement,
                row.records.join(" ")
            )
        })
        .collect();
    said.dedup();
    for words in said {
        text.push_str(&format!("  {}\n", wrap(&words, width, 2, 4)));
    }
}

fn not_listed(text: &mut String, small: &[&ChangeView], width: usize) {
    if small.is_empty() {
        return;
    }
    let counts = ["cosmetic", "moved"].into_iter().filter_map(|word| {
        let ids: Vec<&str> = small.iter().filter(|it| it.change == word).map(|it| it.id.as_str()).collect();
        let shown = if ids.len() > 6 { format!("{}, …", ids[..6].join(", ")) } else { ids.join(", ") };
        (!ids.is_empty()).then(|| format!("{} {word} ({shown})", ids.len()))
    });
    let words = format!("Not listed: {}; --all lists them", counts.collect::<Vec<_>>().join(", "));
    text.push_str(&format!("\n{QUIET}{}{OFF}\n", wrap(&words, width, 0, 2)));
}

/// One change with everything that is known of it.
pub fn one(change: &ChangeView, width: usize) -> String {
    whole(change, &first_named(&change.commits, &mut Told::new()), width)
}

/// Of each commit, whether it has not been named before.
fn first_named<'v>(commits: &'v [CommitView], told: &mut Told<'v>) -> Vec<bool> {
    commits.iter().map(|commit| told.insert(&commit.oid)).collect()
}

/// One change; of each commit whether it is told why it was made.
fn whole(change: &ChangeView, why: &[bool], width: usize) -> String {
    let word = change.word();
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
    for said in change.said() {
        match said {
            Said::Reworded(None, statement) => line(&mut text, &reworded(&statement), width),
            Said::Reworded(Some(name), it) => {
                let (from, to) = (it.from.unwrap_or_default(), it.to.unwrap_or_default());
                line(&mut text, &format!("{name}: {}", differences_around(&from, &to)), width);
            }
            Said::Criterion(criterion) => {
                line(&mut text, &direction(criterion), width);
                criterion.notes().iter().for_each(|note| further(&mut text, note, width));
            }
            Said::Plain(words) => line(&mut text, &words, width),
        }
    }
    evidence(&mut text, &change.evidence, width);
    for it in &change.undone {
        line(&mut text, &format!("{WARN}{}{OFF}: {}", it.state.word(), it.says()), width);
    }
    if !change.decisions.is_empty() {
        line(&mut text, &format!("{NAME}decided{OFF}: {}", change.decisions.join(", ")), width);
    }
    for (it, why) in change.commits.iter().zip(why) {
        commit(&mut text, it, *why, width);
    }
    if change.uncommitted {
        line(&mut text, &format!("{WARN}not committed{OFF}"), width);
    }
    text
}

/// Evidence that slipped, with what it says against what is asked now.
fn evidence(text: &mut String, list: &[EvidenceView], width: usize) {
    for own in list {
        for (verdict, words) in own.says() {
            let colour = match verdict {
                "met" => GOOD,
                "not met" => BAD,
                _ => WARN,
            };
            line(text, &format!("{colour}slipped{OFF}: {words}"), width);
        }
    }
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
    format!("{}: {mark}{}{OFF}: {}", criterion.name, criterion.direction, criterion.values())
}

fn line(text: &mut String, words: &str, width: usize) {
    text.push_str(&format!("{}{}\n", " ".repeat(INDENT), wrap(words, width, INDENT, INDENT + 2)));
}

/// A line that says more of the one before it.
fn further(text: &mut String, words: &str, width: usize) {
    text.push_str(&format!("{}{}\n", " ".repeat(INDENT + 2), wrap(words, width, INDENT + 2, INDENT + 4)));
}

/// The longest reason that is shown, in characters; the rest is in the commit.
const LONGEST: usize = 240;

/// A commit, and perhaps why it was made.
fn commit(text: &mut String, commit: &CommitView, why: bool, width: usize) {
    let who = commit.who.as_ref().map(|who| format!(" ({who})")).unwrap_or_default();
    line(text, &format!("{QUIET}{} {} {}{who}{OFF}", short(&commit.oid), commit.date, commit.summary), width);
    if let Some(reason) = commit.reason.as_ref().filter(|_| why) {
        let cut = reason.chars().count() > LONGEST;
        let mut shown: String = reason.chars().take(LONGEST).collect();
        if cut {
            shown.truncate(shown.rfind(' ').unwrap_or(shown.len()));
            shown.push_str(" …");
        }
        further(text, &format!("{QUIET}{shown}{OFF}"), width);
    }
}

/// As much of a commit's id as people read.
pub(super) fn short(oid: &str) -> &str {
    oid.get(..10).unwrap_or(oid)
}
