//! The guard: what has left, and what is asked less, since the commits that are looked back to.

use std::collections::BTreeSet;

use rayon::prelude::*;

use crate::analysis::Analysis;
use crate::diag::{Finding, Place};
use crate::git::{GitError, Oid, Repo};
use crate::source::Origin;

use super::less::less;
use super::then::{Then, folder_then};
use super::vanished::{finding, vanished};

/// What is gone, and what is asked less, since the commits that are looked back to.
#[derive(Clone, Debug, Default)]
pub struct Guard {
    /// Faults: `vanished`, `shallow-history`, `unreadable-baseline`; and the gap `nothing-committed`.
    pub findings: Vec<Finding>,
    /// What is asked less than at the last annotated tag, and than in the commit that is checked out.
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

/// A commit that is looked back to.
struct Baseline {
    name: String,
    oid: Oid,
}

/// Looks back from `from` (the checked-out commit, or the one asked about).
///
/// To the checked-out commit if the work tree is asked about, so that a loss is seen before it is committed; and to the
/// last annotated tag, because what a review was shown is what it trusts.
///
/// # Errors
/// If git cannot answer.
pub fn guard(repo: &Repo, prefix: &str, from: Option<Oid>, now: &Analysis) -> Result<Guard, GitError> {
    let mut guard = Guard::default();
    if repo.is_shallow() {
        guard.findings.push(shallow());
    }
    if from.is_none() {
        guard.findings.push(nothing_committed());
    }
    let mut gone = BTreeSet::new();
    let mut unreadable = BTreeSet::new();
    let mut lists = Vec::new();
    let look = |baseline: Baseline| {
        let folder = folder_then(repo, prefix, baseline.oid, now, |path| match (&now.origin, from) {
            (Origin::Commit { .. }, Some(from)) => Ok(repo.tree_file(from, "", path)?.is_some()),
            _ => Ok(repo.is_on_disk(path)),
        })?;
        Ok((Then::read(repo, &folder, baseline.oid, now)?, baseline))
    };
    let looked: Result<Vec<_>, GitError> = baselines(repo, from, now)?.into_par_iter().map(look).collect();
    for (then, baseline) in looked? {
        for (path, why) in &then.unreadable {
            if unreadable.insert((path.clone(), why.clone())) {
                guard.findings.push(unreadable_baseline(&baseline, path.as_str(), why));
            }
        }
        for held in vanished(&then) {
            if gone.insert(held.id.clone()) {
                guard.findings.push(finding(&then, &held, &baseline.name, prefix, now));
            }
        }
        lists.push((baseline, less(&then)));
    }
    guard.findings.retain(|finding| !now.request.switch.is_off(finding.code));
    (guard.since, guard.less_asked) = joined(lists);
    Ok(guard)
}

/// The commits to look back to, the nearest first.
fn baselines(repo: &Repo, from: Option<Oid>, now: &Analysis) -> Result<Vec<Baseline>, GitError> {
    let Some(from) = from else { return Ok(Vec::new()) };
    let mut found = Vec::new();
    if matches!(now.origin, Origin::WorkTree { .. }) {
        found.push(Baseline { name: "HEAD".into(), oid: from });
    }
    if let Some((name, oid)) = repo.last_annotated_tag(from)? {
        found.retain(|head| head.oid != oid);
        found.push(Baseline { name, oid });
    }
    Ok(found)
}

/// One list from several: what is less than at the tag, then what is less than in the checked-out commit only. Entries
/// are labelled where both have some.
fn joined(mut lists: Vec<(Baseline, Vec<LessAsked>)>) -> (Option<String>, Vec<LessAsked>) {
    // The tag is last, and leads.
    let Some((tag, mut entries)) = lists.pop() else { return (None, Vec::new()) };
    let Some((head, newer)) = lists.pop() else { return (Some(tag.name), entries) };
    let newer: Vec<LessAsked> = newer.into_iter().filter(|entry| !entries.contains(entry)).collect();
    if newer.is_empty() {
        return (Some(tag.name), entries);
    }
    if entries.is_empty() {
        return (Some(head.name), newer);
    }
    for entry in &mut entries {
        entry.text.push_str(&format!(" [since {}]", tag.name));
    }
    let label = |entry: LessAsked| LessAsked { text: format!("{} [since {}]", entry.text, head.name), ..entry };
    entries.extend(newer.into_iter().map(label));
    entries.sort();
    (Some(format!("{} or {}", tag.name, head.name)), entries)
}

fn shallow() -> Finding {
    let text = "history was cut off when the repository was cloned, so it cannot be told what left the project";
    Finding::new("shallow-history", Place::Project, text).help("fetch the rest: git fetch --unshallow --tags")
}

fn nothing_committed() -> Finding {
    let text = "nothing is committed yet, so there is nothing to hold the files against: what was changed or removed cannot be told";
    Finding::new("nothing-committed", Place::Project, text).help("git add --all && git commit")
}

fn unreadable_baseline(baseline: &Baseline, path: &str, why: &str) -> Finding {
    let name = &baseline.name;
    let text = format!("{path} cannot be read as it was at {name}, so it cannot be told what left with it: {why}");
    let help = if name == "HEAD" {
        "commit the file in a form that can be read".to_string()
    } else {
        format!("look at it: git show {name}:{path}; then tag a commit whose files can be read: git tag -a NAME")
    };
    Finding::new("unreadable-baseline", Place::Project, text).help(help)
}
