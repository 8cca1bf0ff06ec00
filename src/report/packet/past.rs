//! What changed since a base, and how each requirement came to read as it does.

use std::collections::BTreeMap;

use serde::Serialize;

use super::html::{Html, escape};
use super::links::{Link, Linker};
use crate::history::{Piece, word_by_word};
use crate::report::view::{
    ChangeView, ChangesView, CommitView, CriterionChangeView, FromTo, HistoryView, RevisionView, RevisionsView,
    UnreadableView,
};

/// What history says, as far as the packet tells it: gathered by whoever can reach git.
#[derive(Clone, Debug, Default)]
pub struct Past {
    /// What changed since the base.
    pub since: Since,
    /// The revisions of requirements, by id.
    pub histories: BTreeMap<String, HistoryView>,
}

/// The comparison with the base, or why there is none.
#[derive(Clone, Debug)]
pub enum Since {
    /// What changed.
    Changes(ChangesView),
    /// Why nothing is compared.
    Nothing(&'static str),
}

impl Default for Since {
    fn default() -> Since {
        Since::Nothing("No commit holds these files, so there is nothing to compare them with.")
    }
}

/// The part about what changed.
#[derive(Debug, Serialize)]
pub(super) struct ChangesPart {
    /// Why nothing is compared.
    nothing: Option<&'static str>,
    /// The base as it was named.
    base: String,
    /// Its commit; none: before the first one.
    from: Option<String>,
    commits: usize,
    things: usize,
    /// How often each thing happened, in the order of first mention.
    counts: Vec<(usize, &'static str)>,
    /// Evidence that was undone, each once.
    slipped: Vec<Link>,
    unreadable: Vec<Unreadable>,
    requirements: Vec<ChangeLine>,
    others: Vec<ChangeLine>,
}

/// A file that could not be read at some point, so that what it said is not told in full.
#[derive(Debug, Serialize)]
struct Unreadable {
    path: String,
    why: String,
    when: String,
}

/// What happened to one thing.
#[derive(Debug, Serialize)]
struct ChangeLine {
    change: &'static str,
    link: Link,
    title: String,
    kind: String,
    safety: bool,
    /// What differs, a paragraph each.
    differences: Vec<Html>,
    slipped: Vec<Link>,
    decisions: Vec<Link>,
    commits: Vec<Commit>,
    uncommitted: bool,
}

#[derive(Debug, Serialize)]
struct Commit {
    short: String,
    date: String,
    summary: Html,
}

/// How a requirement came to read as it does.
#[derive(Debug, Default, Serialize)]
pub(super) struct HistoryPart {
    /// The number of the newest revision.
    pub(super) number: Option<usize>,
    revisions: Vec<RevisionLine>,
    /// What the work tree holds otherwise than the newest commit.
    uncommitted: Option<Vec<Html>>,
    replaced_by: Vec<Link>,
    /// What it stands in for, each with its own revisions.
    replaces: Vec<Earlier>,
}

/// The revisions of something that was replaced.
#[derive(Debug, Serialize)]
struct Earlier {
    link: Link,
    title: String,
    revisions: Vec<RevisionLine>,
}

/// One revision, or a commit that left the number as it was.
#[derive(Debug, Serialize)]
struct RevisionLine {
    /// Its number, where it is a new one.
    number: Option<usize>,
    change: &'static str,
    commit: Commit,
    decisions: Vec<Link>,
    differences: Vec<Html>,
    mark: Option<String>,
}

impl ChangesPart {
    /// From the comparison.
    pub(super) fn of(linker: &Linker, since: &Since) -> ChangesPart {
        let (view, nothing) = match since {
            Since::Changes(view) => (Some(view), None),
            Since::Nothing(why) => (None, Some(*why)),
        };
        let changes = view.map(|view| view.changes.as_slice()).unwrap_or_default();
        let mut counts: Vec<(usize, &'static str)> = Vec::new();
        let mut slipped: Vec<&String> = changes.iter().flat_map(|change| &change.slipped).collect();
        slipped.sort();
        slipped.dedup();
        for change in changes {
            let word = if word(change) == "plan" { "with another plan" } else { word(change) };
            match counts.iter_mut().find(|(_, what)| *what == word) {
                Some((count, _)) => *count += 1,
                None => counts.push((1, word)),
            }
        }
        let (requirements, others) = changes.iter().partition::<Vec<&ChangeView>, _>(|it| it.kind == "requirement");
        let lines = |list: Vec<&ChangeView>| list.into_iter().map(|change| line(linker, change)).collect();
        ChangesPart {
            nothing,
            base: view.map(|view| view.from_name.clone()).unwrap_or_default(),
            from: view.and_then(|view| view.from.clone()),
            commits: view.map_or(0, |view| view.commit_count),
            things: changes.len(),
            counts,
            slipped: linker.links(slipped),
            unreadable: view.iter().flat_map(|view| &view.unreadable).map(unreadable).collect(),
            requirements: lines(requirements),
            others: lines(others),
        }
    }
}

fn word(change: &ChangeView) -> &'static str {
    if change.reaffirmed { "reaffirmed" } else { change.change }
}

fn line(linker: &Linker, change: &ChangeView) -> ChangeLine {
    ChangeLine {
        change: word(change),
        link: linker.link(&change.id),
        title: change.title.clone(),
        kind: change.kind.clone(),
        safety: change.safety,
        differences: differences(linker, change),
        slipped: linker.links(&change.slipped),
        decisions: linker.links(&change.decisions),
        commits: change.commits.iter().map(|it| commit(linker, it)).collect(),
        uncommitted: change.uncommitted,
    }
}

fn unreadable(file: &UnreadableView) -> Unreadable {
    let when = match &file.commit {
        Some(it) => format!("{} {} {}", super::short(&it.oid), it.date, it.summary),
        None => "not committed".to_string(),
    };
    Unreadable { path: file.path.clone(), why: file.why.clone(), when }
}

fn commit(linker: &Linker, it: &CommitView) -> Commit {
    Commit { short: super::short(&it.oid), date: it.date.clone(), summary: linker.text(&it.summary) }
}

fn differences(linker: &Linker, change: &ChangeView) -> Vec<Html> {
    let mut said: Vec<Html> = change.statement.iter().map(|it| reworded(linker, it)).collect();
    said.extend(change.criteria.iter().map(|it| criterion(linker, it)));
    let words = change.reach.iter().chain(&change.plan).chain(&change.keys);
    said.extend(words.map(|words| linker.text(words)));
    match (&change.path.from, &change.path.to) {
        (Some(from), Some(to)) => said.push(linker.text(&format!("file: {from} → {to}"))),
        (Some(from), None) => said.push(linker.text(&format!("it was in {from}"))),
        _ => {}
    }
    said.extend(change.accounted.iter().map(|why| linker.text(why)));
    said
}

/// A statement that was reworded, word by word; one that came or went as a whole.
fn reworded(linker: &Linker, it: &FromTo) -> Html {
    let (Some(from), Some(to)) = (&it.from, &it.to) else {
        return linker.text(it.to.as_ref().or(it.from.as_ref()).map(String::as_str).unwrap_or_default());
    };
    let mut out = String::new();
    for piece in word_by_word(from, to) {
        if !out.is_empty() {
            out.push(' ');
        }
        match piece {
            Piece::Same(words) => out.push_str(linker.text(&words).as_str()),
            Piece::Changed { from, to } => {
                tagged(&mut out, "del", &from);
                if !from.is_empty() && !to.is_empty() {
                    out.push(' ');
                }
                tagged(&mut out, "ins", &to);
            }
        }
    }
    Html::trusted(out)
}

fn tagged(out: &mut String, tag: &str, words: &str) {
    if !words.is_empty() {
        out.push_str(&format!("<{tag}>"));
        escape(out, words);
        out.push_str(&format!("</{tag}>"));
    }
}

/// Which way a criterion moved.
fn criterion(linker: &Linker, it: &CriterionChangeView) -> Html {
    let mut out = linker.text(&it.name).as_str().to_string();
    out.push_str(&format!(" <b>{}</b>: ", it.direction));
    let values: Vec<String> =
        [&it.from, &it.to].into_iter().flatten().map(|value| linker.text(value).as_str().to_string()).collect();
    out.push_str(&values.join(" → "));
    Html::trusted(out)
}

impl HistoryPart {
    /// From the revisions of one requirement.
    pub(super) fn of(linker: &Linker, view: &HistoryView) -> HistoryPart {
        let mut replaces = Vec::new();
        earlier(linker, &view.thing, &mut replaces);
        HistoryPart {
            number: view.thing.revisions.last().map(|last| last.number),
            revisions: revisions(linker, &view.thing, false),
            uncommitted: view.uncommitted.as_ref().map(|change| differences(linker, change)),
            replaced_by: linker.links(&view.thing.replaced_by),
            replaces,
        }
    }
}

/// Everything that a thing stands in for, the nearest first.
fn earlier(linker: &Linker, thing: &RevisionsView, list: &mut Vec<Earlier>) {
    for it in &thing.replaces {
        let revisions = revisions(linker, it, true);
        list.push(Earlier { link: linker.link(&it.id), title: it.title.clone(), revisions });
        earlier(linker, it, list);
    }
}

/// The revisions of a thing, oldest first. What it said at the start is only told in full where nothing else in the
/// page tells it: else the requirement of today and the differences that led to it do.
fn revisions(linker: &Linker, thing: &RevisionsView, in_full: bool) -> Vec<RevisionLine> {
    let mut before = 0;
    let line = |it: &RevisionView| {
        let is_start = before == 0 && it.change == "added" && !in_full;
        let number = (it.number != before).then_some(it.number);
        before = it.number;
        let mut said: Vec<Html> = it.reworded.iter().map(|it| reworded(linker, it)).collect();
        said.extend(it.criteria.iter().map(|it| criterion(linker, it)));
        said.extend(it.details.iter().map(|words| linker.text(words)));
        if is_start {
            said.clear();
        }
        RevisionLine {
            number,
            change: it.change,
            commit: Commit { short: super::short(&it.oid), date: it.date.clone(), summary: linker.text(&it.summary) },
            decisions: linker.links(&it.decisions),
            differences: said,
            mark: it.mark.clone(),
        }
    };
    thing.revisions.iter().map(line).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_that_came_and_went_are_marked_and_cannot_become_tags() {
        let from_to = FromTo { from: Some("at least 0.3 <b>".into()), to: Some("at least 0.5 <script>".into()) };
        assert_eq!(
            reworded(&Linker::default(), &from_to).as_str(),
            "at least <del>0.3 &lt;b&gt;</del> <ins>0.5 &lt;script&gt;</ins>"
        );
        let new = FromTo { from: None, to: Some("<i>".into()) };
        assert_eq!(reworded(&Linker::default(), &new).as_str(), "&lt;i&gt;");
    }
}
