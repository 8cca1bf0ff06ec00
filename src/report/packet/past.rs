//! What changed since a base, and how each requirement came to read as it does.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::html::{Html, escape, markdown};
use super::links::{Link, Linker, anchor};
use crate::history::{Piece, around_changes, word_by_word};
use crate::report::pictures;
use crate::report::text::changes::Told;
use crate::report::text::words::AROUND;
use crate::report::view::changelog::{Again, Group, Part, changelog};
use crate::report::view::{
    ChangeView, ChangesView, CommitView, CriterionChangeView, EvidenceView, FromTo, HistoryView, PutBackView,
    RevisionView, RevisionsView, Said, UndoneView, UnreadableView,
};
use crate::state::State;
use crate::text::RepoPath;

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

/// The part about what changed; it is the changelog's page, too.
#[derive(Debug, Serialize)]
pub(in crate::report) struct ChangesPart {
    /// Why nothing is compared.
    nothing: Option<&'static str>,
    /// The base as it was named.
    base: String,
    /// The base in words: of a day or a decision, the commit before it.
    base_words: String,
    /// Its commit; none: before the first one.
    from: Option<String>,
    /// What it is compared with, in words.
    to: String,
    commits: usize,
    /// How many things changed.
    things: usize,
    /// How often each thing happened, in the order of first mention.
    counts: Vec<(usize, &'static str)>,
    /// Evidence that was undone, each once.
    slipped: Vec<Link>,
    /// Evidence that is void now and was not, each once.
    void: Vec<Link>,
    cautions: Vec<String>,
    unreadable: Vec<Unreadable>,
    groups: Vec<GroupLine>,
    put_back: Vec<ChangeLine>,
    /// What does not stand any more, and no one change is behind: the state, and why.
    undone: Vec<(&'static str, Html)>,
    /// What must be done again because of that, and of what was put back.
    rest: Vec<AgainLine>,
    /// What only moved, and looks: how many, and which.
    small: Vec<Link>,
}

/// What one decision changed.
#[derive(Debug, Serialize)]
struct GroupLine {
    decision: Option<DecisionLine>,
    own: Option<ChangeLine>,
    parts: Vec<PartLine>,
    /// Things that are told under another decision.
    elsewhere: Vec<(Link, Link)>,
    again: Vec<AgainLine>,
}

#[derive(Debug, Serialize)]
struct DecisionLine {
    link: Link,
    title: Option<String>,
    date: Option<String>,
    /// What it says, unless the page says it elsewhere.
    body: Option<Html>,
}

/// Changes about one thing.
#[derive(Debug, Serialize)]
struct PartLine {
    name: String,
    changes: Vec<ChangeLine>,
}

/// What would show rows again.
#[derive(Debug, Serialize)]
struct AgainLine {
    how: Link,
    note: Option<String>,
    /// Each row in words, and whether it must be made anew.
    rows: Vec<(Html, bool)>,
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
    /// Evidence that slipped: how each result would fare, and the words.
    evidence: Vec<(&'static str, Html)>,
    /// What else does not stand any more because of it: the state, and why.
    undone: Vec<(&'static str, Html)>,
    decisions: Vec<Link>,
    commits: Vec<Commit>,
    uncommitted: bool,
}

#[derive(Debug, Serialize)]
struct Commit {
    short: String,
    date: String,
    summary: Html,
    reason: Option<Html>,
    who: Option<String>,
}

/// How a requirement came to read as it does.
#[derive(Debug, Default, Serialize)]
pub(in crate::report) struct HistoryPart {
    /// The number of the newest revision.
    pub(in crate::report) number: Option<usize>,
    revisions: Vec<RevisionLine>,
    /// What the work tree holds otherwise than the newest commit.
    uncommitted: Option<Vec<Html>>,
    replaced_by: Vec<Link>,
    /// What it stands in for, each with its own revisions.
    replaces: Vec<Earlier>,
    /// Its revisions and evidence, where there is some and more than one revision.
    picture: Option<Html>,
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
    /// From the comparison with what `to` names; `all` lists what only moved, and looks, too.
    pub(in crate::report) fn of(linker: &Linker, since: &Since, to: &str, all: bool) -> ChangesPart {
        let (view, nothing) = match since {
            Since::Changes(view) => (Some(view), None),
            Since::Nothing(why) => (None, Some(*why)),
        };
        let changes = view.map(|view| view.changes.as_slice()).unwrap_or_default();
        let mut counts: Vec<(usize, &'static str)> = Vec::new();
        let mut slipped: Vec<&String> = changes.iter().flat_map(|change| &change.slipped).collect();
        slipped.extend(view.iter().flat_map(|view| &view.put_back).flat_map(|it| &it.slipped));
        slipped.sort();
        slipped.dedup();
        let undone = changes.iter().flat_map(|change| &change.undone).chain(view.iter().flat_map(|view| &view.undone));
        let void = undone.filter(|it| it.state == State::Void).filter_map(|it| it.record.as_ref());
        let void: BTreeSet<&String> = void.collect();
        for change in changes {
            let word = if change.word() == "plan" { "with another plan" } else { change.word() };
            match counts.iter_mut().find(|(_, what)| *what == word) {
                Some((count, _)) => *count += 1,
                None => counts.push((1, word)),
            }
        }
        let mut told = Told::new();
        let base_words = view.map(|view| if view.from.is_some() { view.from_words() } else { view.from_name.clone() });
        let log = view.map(|view| changelog(view, all));
        let (groups, rest, small) = log.map(|log| (log.groups, log.rest, log.small)).unwrap_or_default();
        ChangesPart {
            nothing,
            base: view.map(|view| view.from_name.clone()).unwrap_or_default(),
            base_words: base_words.unwrap_or_default(),
            from: view.and_then(|view| view.from.clone()),
            to: to.to_string(),
            commits: view.map_or(0, |view| view.commit_count),
            things: changes.len(),
            counts,
            slipped: linker.links(slipped),
            void: linker.links(void),
            cautions: view.map(|view| view.cautions.clone()).unwrap_or_default(),
            unreadable: view.iter().flat_map(|view| &view.unreadable).map(unreadable).collect(),
            groups: groups.iter().map(|it| group(linker, it, &mut told)).collect(),
            put_back: view.iter().flat_map(|view| &view.put_back).map(|it| put_back(linker, it, &mut told)).collect(),
            undone: undone_lines(linker, view.map(|view| view.undone.as_slice()).unwrap_or_default()),
            rest: rest.iter().map(|it| again(linker, it)).collect(),
            small: small.iter().map(|change| linker.link(&change.id)).collect(),
        }
    }
}

impl ChangesPart {
    /// The base as it was named; empty if there is none.
    pub(in crate::report) fn base(&self) -> &str {
        &self.base
    }
}

fn group<'v>(linker: &Linker, it: &Group<'v>, told: &mut Told<'v>) -> GroupLine {
    let decision = it.decision.map(|decision| {
        let link = linker.link(&decision.id);
        let elsewhere = link.href.is_some() || decision.body.trim().is_empty();
        let body = || markdown(decision.body.trim(), &RepoPath::new(""), linker);
        DecisionLine { body: (!elsewhere).then(body), link, title: decision.title.clone(), date: decision.date.clone() }
    });
    let own = it.own.map(|own| line(linker, own, told));
    let part = |part: &Part<'v>| PartLine {
        name: part.name.clone(),
        changes: part.changes.iter().map(|change| line(linker, change, told)).collect(),
    };
    GroupLine {
        decision,
        own,
        parts: it.parts.iter().map(part).collect(),
        elsewhere: it.elsewhere.iter().map(|(id, under)| (linker.link(id), linker.link(under))).collect(),
        again: it.again.iter().map(|it| again(linker, it)).collect(),
    }
}

fn again(linker: &Linker, it: &Again<'_>) -> AgainLine {
    AgainLine {
        how: linker.link(&it.redo.how),
        note: it.redo.note.clone(),
        rows: it.rows.iter().map(|row| (linker.text(&row.says()), row.anew)).collect(),
    }
}

fn line<'v>(linker: &Linker, change: &'v ChangeView, told: &mut Told<'v>) -> ChangeLine {
    ChangeLine {
        change: change.word(),
        link: linker.link(&change.id),
        title: change.title.clone(),
        kind: change.kind.clone(),
        safety: change.safety,
        differences: differences(linker, change),
        evidence: evidence(linker, &change.evidence),
        undone: undone_lines(linker, &change.undone),
        decisions: linker.links(&change.decisions),
        commits: change.commits.iter().map(|it| commit(linker, it, told)).collect(),
        uncommitted: change.uncommitted,
    }
}

fn put_back<'v>(linker: &Linker, it: &'v PutBackView, told: &mut Told<'v>) -> ChangeLine {
    ChangeLine {
        change: if it.came_and_went { "came and went" } else { "put back" },
        link: linker.link(&it.id),
        title: it.title.clone(),
        kind: it.kind.clone(),
        safety: false,
        differences: Vec::new(),
        evidence: evidence(linker, &it.evidence),
        undone: Vec::new(),
        decisions: Vec::new(),
        commits: it.commits.iter().map(|it| commit(linker, it, told)).collect(),
        uncommitted: false,
    }
}

fn evidence(linker: &Linker, list: &[EvidenceView]) -> Vec<(&'static str, Html)> {
    list.iter().flat_map(EvidenceView::says).map(|(verdict, words)| (verdict, linker.text(&words))).collect()
}

fn undone_lines(linker: &Linker, list: &[UndoneView]) -> Vec<(&'static str, Html)> {
    list.iter().map(|it| (it.state.word(), linker.text(&it.says()))).collect()
}

fn unreadable(file: &UnreadableView) -> Unreadable {
    let when = match &file.commit {
        Some(it) => format!("{} {} {}", super::short(&it.oid), it.date, it.summary),
        None => "not committed".to_string(),
    };
    Unreadable { path: file.path.clone(), why: file.why.clone(), when }
}

/// A commit; why it was made is said where it is named first.
fn commit<'v>(linker: &Linker, it: &'v CommitView, told: &mut Told<'v>) -> Commit {
    let reason = it.reason.as_ref().filter(|_| told.insert(&it.oid));
    Commit {
        short: super::short(&it.oid),
        date: it.date.clone(),
        summary: linker.text(&it.summary),
        reason: reason.map(|reason| linker.text(reason)),
        who: it.who.clone(),
    }
}

fn differences(linker: &Linker, change: &ChangeView) -> Vec<Html> {
    let one = |said: Said<'_>| match said {
        Said::Reworded(None, it) => reworded(linker, &it),
        Said::Reworded(Some(name), it) => {
            let (from, to) = (it.from.unwrap_or_default(), it.to.unwrap_or_default());
            Html::trusted(format!("{name}: {}", pieces(linker, around_changes(&from, &to, AROUND))))
        }
        Said::Criterion(it) => criterion(linker, it),
        Said::Plain(words) => linker.text(&words),
    };
    change.said().into_iter().map(one).collect()
}

/// A statement that was reworded, word by word; one that came or went as a whole.
fn reworded(linker: &Linker, it: &FromTo) -> Html {
    let (Some(from), Some(to)) = (&it.from, &it.to) else {
        return linker.text(it.to.as_ref().or(it.from.as_ref()).map(String::as_str).unwrap_or_default());
    };
    Html::trusted(pieces(linker, word_by_word(from, to)))
}

fn pieces(linker: &Linker, pieces: Vec<Piece>) -> String {
    let mut out = String::new();
    for piece in pieces {
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
    out
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
    out.push_str(linker.text(&it.values()).as_str());
    for note in it.notes() {
        out.push_str(&format!("; {}", linker.text(&note).as_str()));
    }
    Html::trusted(out)
}

impl HistoryPart {
    /// From the revisions of one requirement.
    pub(in crate::report) fn of(linker: &Linker, view: &HistoryView) -> HistoryPart {
        let mut replaces = Vec::new();
        earlier(linker, &view.thing, &mut replaces);
        let number = view.thing.revisions.last().map(|last| last.number);
        let shows = |number: &usize| *number > 1 && view.thing.revisions.iter().any(|it| !it.evidence.is_empty());
        let picture = number.filter(shows).and_then(|_| {
            let anchor = anchor("timeline", &view.thing.id);
            pictures::timeline(view, &anchor).map(Html::trusted)
        });
        HistoryPart {
            number,
            picture,
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
            commit: Commit {
                short: super::short(&it.oid),
                date: it.date.clone(),
                summary: linker.text(&it.summary),
                reason: None,
                who: None,
            },
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
