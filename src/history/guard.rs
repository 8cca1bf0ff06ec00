//! The guard: what has left, and what is asked less, since the commits that are looked back to.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use crate::analysis::Analysis;
use crate::diag::{Finding, Place};
use crate::git::{GitError, Oid, Repo};
use crate::kept::Kept;
use crate::model::Id;
use crate::source::Origin;
use crate::text::RepoPath;

use super::account::TakenBack;
use super::alike::{folder_then, ids_of, projects};
use super::copied::originals;
use super::drafts;
use super::folder::look_back;
use super::less::less;
use super::past::{Left, left};
use super::then::Then;
use super::vanished::{Vanished, in_commit};

/// What is gone, and what is asked less, since the commits that are looked back to.
#[derive(Clone, Debug, Default)]
pub struct Guard {
    /// Faults: `vanished`, `shallow-history`, `unreadable-baseline`; and the gap `nothing-committed`.
    pub findings: Vec<Finding>,
    /// What is asked less than at the last annotated tags, and than in the commit that is checked out.
    pub less_asked: Vec<LessAsked>,
    /// What it is compared with, for the heading.
    pub since: Option<String>,
}

/// One thing that is asked less.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct LessAsked {
    /// The requirement, item or event.
    pub id: String,
    /// What is asked less, in a few words.
    pub text: String,
}

impl Guard {
    /// Adds what was written down between the review and now and is no more, if it is not told already.
    pub fn also(&mut self, taken_back: &[TakenBack]) {
        for own in taken_back {
            let known = self.less_asked.iter().any(|less| less.id == own.id && less.text.starts_with(&own.what));
            if !known {
                let text = format!("{}; it was in {}", own.what, own.since);
                self.less_asked.push(LessAsked { id: own.id.clone(), text });
            }
        }
        self.less_asked.sort();
        if !self.less_asked.is_empty() {
            self.since.get_or_insert_with(|| "earlier commits".into());
        }
    }
}

/// How far the guard looks, and what it remembers.
#[derive(Clone, Debug, Default)]
pub struct Look {
    /// What it is compared with, in the place of the last annotated tags.
    pub since: Option<Baseline>,
    /// Where what is known of commits is kept between runs.
    pub kept: Kept,
}

/// A commit that is looked back to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Baseline {
    /// How it is called.
    pub name: String,
    /// Its id.
    pub oid: Oid,
}

/// Looks back from `from` (the checked-out commit, or the one asked about).
///
/// For what is gone, to all of its ancestors. For what is asked less, to the checked-out commit if the work tree is asked about, so that
/// a loss is seen before it is committed; and to the last annotated tag, because what a review was shown is what it trusts. Where
/// lines that were tagged side by side have been merged, to each of their tags: every one of these reviews is trusted.
///
/// # Errors
/// If git cannot answer.
pub fn guard(repo: &Repo, prefix: &str, from: Option<Oid>, look: &Look, now: &Analysis) -> Result<Guard, GitError> {
    let mut guard = Guard::default();
    if repo.is_cut_off() {
        guard.findings.push(cut_off(repo.is_shallow()));
    }
    let Some(from) = from else {
        guard.findings.push(nothing_committed());
        guard.findings.retain(|finding| !now.request.switch.is_off(finding.code));
        return Ok(guard);
    };
    let past = || repo.apart(|repo| left(repo, prefix, from, &look.kept))?;
    let (left, looked) = rayon::join(past, || looked(repo, prefix, from, look, now));
    let (mut left, looked) = (left?, looked?);
    let mut originals = originals(repo, from, &left.twins, (now, &look.kept), |path| is_here(repo, from, now, path))?;
    for original in &mut originals {
        left.take_over(std::mem::take(&mut original.left));
    }
    if left.untold > 0 {
        guard.findings.push(not_here(left.untold));
    }
    let mut vanished = Vanished::new(now, prefix, &left, carried(repo, prefix, from, &left)?);
    let mut unreadable = BTreeSet::new();
    for (then, baseline) in &looked {
        for (path, why) in &then.unreadable {
            if unreadable.insert((path.clone(), why.clone())) {
                guard.findings.push(unreadable_baseline(baseline, (&then.prefix, path.as_str()), why));
            }
        }
        if baseline.oid == from {
            guard.findings.extend(vanished.since_head(then, &baseline.name));
        }
    }
    for original in &originals {
        guard.findings.extend(vanished.since_head(&original.then, &original.name));
    }
    let tags: Vec<(&Then<'_>, &str)> =
        looked.iter().rev().map(|(then, baseline)| (then, baseline.name.as_str())).collect();
    guard.findings.extend(vanished.since_ever(&tags));
    guard.findings.retain(|finding| !now.request.switch.is_off(finding.code));
    let reviews: Vec<Oid> = looked.iter().filter(|(_, own)| own.name != HEAD).map(|(_, own)| own.oid).collect();
    let drafts = drafts::gone(repo, &reviews, &left, &now.model)?;
    let lists =
        looked.into_iter().map(|(then, baseline)| (less(&then, &left), baseline)).map(|(list, own)| (own, list));
    (guard.since, guard.less_asked) = joined(lists.collect());
    guard.also(&drafts);
    Ok(guard)
}

/// What is gone from here, and stands in another project that goes on from where it was: one that took it along, or that it was left
/// in.
fn carried(repo: &Repo, prefix: &str, from: Oid, left: &Left) -> Result<BTreeSet<Id>, GitError> {
    let mut carried = BTreeSet::new();
    if left.gone.is_empty() {
        return Ok(carried);
    }
    let listed = repo.tree_files(from, Repo::TOP)?;
    for other in projects(&listed).filter(|other| *other != prefix) {
        look_back(repo, other, Some(from))?;
        let went = left.gone.iter().filter(|(_, gone)| repo.folder_in(gone.held, other) == gone.folder);
        let mut went = went.map(|((id, _), _)| id).peekable();
        if went.peek().is_some() {
            let there = ids_of(repo, from, other)?;
            carried.extend(went.filter(|id| there.contains(*id)).cloned());
        }
    }
    Ok(carried)
}

/// Where the project stood in a commit.
fn folder(repo: &Repo, prefix: &str, from: Oid, oid: Oid, now: &Analysis) -> Result<String, GitError> {
    folder_then(repo, prefix, oid, now, |path| is_here(repo, from, now, path))
}

/// Whether a file of the repository is there in the present.
fn is_here(repo: &Repo, from: Oid, now: &Analysis, path: &RepoPath) -> Result<bool, GitError> {
    match &now.origin {
        Origin::Commit { .. } => Ok(repo.tree_file(from, Repo::TOP, path)?.is_some()),
        _ => Ok(repo.is_on_disk(path)),
    }
}

/// The commits that are looked back to, each as far as it differs from the present.
fn looked<'n>(
    repo: &Repo,
    prefix: &str,
    from: Oid,
    look: &Look,
    now: &'n Analysis,
) -> Result<Vec<(Then<'n>, Baseline)>, GitError> {
    let one = |baseline: Baseline| {
        let folder = folder(repo, prefix, from, baseline.oid, now)?;
        Ok((Then::read(repo, &folder, baseline.oid, now)?, baseline))
    };
    baselines(repo, from, look, now)?.into_par_iter().map(one).collect()
}

/// The commits to look back to: the one that is checked out, then those of the tags.
fn baselines(repo: &Repo, from: Oid, look: &Look, now: &Analysis) -> Result<Vec<Baseline>, GitError> {
    let mut found = match look.since.clone() {
        Some(since) => vec![since],
        None => repo.last_annotated_tags(from)?.into_iter().map(|(name, oid)| Baseline { name, oid }).collect(),
    };
    let is_tagged = found.iter().any(|tag| tag.oid == from);
    if matches!(now.origin, Origin::WorkTree { .. }) && !is_tagged {
        found.insert(0, Baseline { name: HEAD.into(), oid: from });
    }
    Ok(found)
}

/// How the commit that is checked out is called.
const HEAD: &str = "HEAD";

/// One list from several: what is less than at the tags, each entry once; then what is less than in the checked-out commit only.
/// Entries are labelled where more than one of the lists has some.
fn joined(mut lists: Vec<(Baseline, Vec<LessAsked>)>) -> (Option<String>, Vec<LessAsked>) {
    // The tags lead.
    if lists.len() > 1 && lists[0].0.name == HEAD {
        lists.rotate_left(1);
    }
    let names = |lists: &[(Baseline, Vec<LessAsked>)]| {
        let tags = lists.iter().filter(|(own, _)| own.name != HEAD || lists.len() == 1);
        listed(&tags.map(|(own, _)| own.name.as_str()).collect::<Vec<_>>(), "or")
    };
    let mut held: BTreeMap<LessAsked, Vec<&str>> = BTreeMap::new();
    for (own, entries) in &lists {
        for entry in entries {
            let holders = held.entry(entry.clone()).or_default();
            if holders.is_empty() || own.name != HEAD {
                holders.push(&own.name);
            }
        }
    }
    let told: Vec<&str> = lists
        .iter()
        .map(|(own, _)| own.name.as_str())
        .filter(|own| held.values().flatten().any(|it| it == own))
        .collect();
    let since = if told.is_empty() { names(&lists) } else { listed(&told, "or") };
    let label = |(entry, holders): (&LessAsked, &Vec<&str>)| match told.len() {
        0 | 1 => entry.clone(),
        _ => LessAsked {
            id: entry.id.clone(),
            text: format!("{} [since {}]", entry.text, listed(holders, "and").unwrap_or_default()),
        },
    };
    let mut entries: Vec<LessAsked> = held.iter().map(label).collect();
    entries.sort();
    (since, entries)
}

/// `A`, `A or B`, `A, B or C`; none of nothing.
fn listed(names: &[&str], word: &str) -> Option<String> {
    match names {
        [] => None,
        [one] => Some((*one).to_string()),
        [first @ .., last] => Some(format!("{} {word} {last}", first.join(", "))),
    }
}

fn cut_off(shallow: bool) -> Finding {
    let (text, help) = if shallow {
        (
            "history was cut off when the repository was cloned, so it cannot be told what left the project",
            "fetch the rest: git fetch --unshallow --tags",
        )
    } else {
        (
            "history is cut off by .git/info/grafts, so it cannot be told what left the project",
            "remove that file, and fetch what is missing: git fetch --tags",
        )
    };
    Finding::new("shallow-history", Place::Project, text).help(help)
}

/// A partial clone has the commits and not all of what they hold.
fn not_here(count: usize) -> Finding {
    let files = if count == 1 { "1 file or folder".to_string() } else { format!("{count} files or folders") };
    let text =
        format!("{files} of earlier commits cannot be read from this clone, so it cannot be told what left with them");
    Finding::new("shallow-history", Place::Project, text)
        .help("fetch them: git fetch --refetch --no-filter; if that does not help, look for damage: git fsck")
}

fn nothing_committed() -> Finding {
    let text = "nothing is committed yet, so there is nothing to hold the files against: what was changed or removed cannot be told";
    Finding::new("nothing-committed", Place::Project, text).help("git add --all && git commit")
}

fn unreadable_baseline(baseline: &Baseline, (folder, path): (&str, &str), why: &str) -> Finding {
    let name = &baseline.name;
    let text = format!("{path} cannot be read as it was at {name}, so it cannot be told what left with it: {why}");
    let help = if name == "HEAD" {
        "commit the file in a form that can be read".to_string()
    } else {
        let file = in_commit(name, folder, path);
        format!("look at it: git show {file}; then tag a commit whose files can be read: git tag -a NAME")
    };
    Finding::new("unreadable-baseline", Place::Project, text).help(help)
}
