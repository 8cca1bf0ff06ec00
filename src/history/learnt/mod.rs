//! What looking back has taught, kept between runs and taken up by the next question, whatever it is about.
//!
//! In: a repository, the project's folder, and where things are kept. What is kept are facts that are named by the ids of commits,
//! trees and blobs and can never be out of date: a commit's parents, the files in which it differs from each of them, and
//! what a look at a file tells ([`Fronts`]). After a new commit only that one is read; after a rewritten one those that are new. Answers
//! are worked out from these facts as from git's own, so that with and without them they are the same.
//!
//! Where history was cut off nothing is kept or taken up: a commit's parents are others once more is fetched.

mod fronts;
mod stored;

use std::sync::Arc;

use foldhash::{HashMap, HashSet, HashSetExt};

use crate::git::{KnownCommit, Oid, Repo};
use crate::kept::{self, Kept};

pub(super) use fronts::Fronts;
use stored::Pair;
pub(super) use stored::{Facts, read, write};

/// So many commits that nothing leads to any more are no reason to look for them.
const STRAY: usize = 64;

/// So many files that were looked at are looked at again sooner than written down.
const FEW: usize = 64;

/// Takes up what earlier runs learnt of a project's commits; once for a repository that is open.
pub fn take_up(repo: &Repo, prefix: &str, kept: &Kept) {
    let fronts: Arc<Fronts> = repo.aside();
    if kept.is_nothing() || !fronts.begin() || repo.is_cut_off() {
        return;
    }
    if let Some(facts) = kept.read(&name(prefix)).and_then(|bytes| read(&bytes)) {
        repo.know_commits(prefix, facts.commits);
        repo.know_differences(facts.differences);
        fronts.take(facts.fronts);
    }
    fronts.set_mark(amount(repo, &fronts));
}

/// Keeps what was learnt since, of the commits that lead up to `end` and of others as long as they are few.
pub fn keep(repo: &Repo, prefix: &str, end: Option<Oid>, kept: &Kept) {
    let fronts: Arc<Fronts> = repo.aside();
    let now = amount(repo, &fronts);
    if kept.is_nothing() || repo.is_cut_off() || !is_worth_it(fronts.mark(), now) {
        return;
    }
    let mut commits: Vec<(Oid, KnownCommit)> = known(repo, prefix, repo.known_commits());
    let reached = reached(repo, prefix, end);
    if commits.len() > 2 * reached.len() + STRAY {
        commits.retain(|(oid, _)| reached.contains(oid));
    }
    let differences = differences(repo, &commits);
    let fronts_of = fronts.of(differences.iter().flat_map(|(_, changes)| changes.iter()));
    kept.write(&name(prefix), &write(&Facts { commits, differences, fronts: fronts_of }));
    fronts.set_mark(now);
}

/// Whether so much more is known that it pays to write all of it down again: not for a file or two.
fn is_worth_it(mark: Option<[usize; 3]>, now: [usize; 3]) -> bool {
    let Some(mark) = mark else { return true };
    mark[..2] != now[..2] || now[2] > mark[2] + FEW + mark[2] / 16
}

/// What it is kept as.
pub(super) fn name(prefix: &str) -> String {
    kept::name("commits", &[prefix])
}

/// How much is known: it only ever grows.
fn amount(repo: &Repo, fronts: &Fronts) -> [usize; 3] {
    let (commits, differences) = repo.known_counts();
    [commits, differences, fronts.amount()]
}

fn known(repo: &Repo, prefix: &str, oids: Vec<Oid>) -> Vec<(Oid, KnownCommit)> {
    oids.into_iter().filter_map(|oid| Some((oid, repo.known_commit(oid, prefix)?))).collect()
}

/// The commits that lead up to one, as far as they are known.
fn reached(repo: &Repo, prefix: &str, end: Option<Oid>) -> HashSet<Oid> {
    let mut reached = HashSet::new();
    let mut waiting: Vec<Oid> = end.into_iter().collect();
    while let Some(oid) = waiting.pop() {
        if let Some(commit) = repo.known_commit(oid, prefix)
            && reached.insert(oid)
        {
            waiting.extend(commit.parents);
        }
    }
    reached
}

/// The files in which each commit differs from each of its parents, as far as they are known.
fn differences(repo: &Repo, commits: &[(Oid, KnownCommit)]) -> Vec<Pair> {
    let trees: HashMap<Oid, Oid> =
        commits.iter().filter_map(|(oid, commit)| Some((*oid, commit.folder.flatten()?))).collect();
    let mut seen = HashSet::new();
    let mut found = Vec::new();
    for (oid, commit) in commits {
        let parents = commit.parents.iter().filter_map(|parent| trees.get(parent));
        for both in parents.filter_map(|parent| Some((*parent, *trees.get(oid)?))) {
            if seen.insert(both)
                && let Some(changes) = repo.known_difference(both)
            {
                found.push((both, changes));
            }
        }
    }
    found
}
