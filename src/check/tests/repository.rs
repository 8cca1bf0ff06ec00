//! The base project in a repository, for the codes that only its history can raise.

use crate::analysis;
use crate::diag::Switch;
use crate::git::fixture::{Fixture, git_in};
use crate::history::guard;
use crate::source::WorkTree;

use super::case::Case;

/// What happens to a repository.
type Happens = fn(&Fixture);

/// The codes, each with what happens to the repository.
pub(super) const HISTORY: &[(&str, Happens)] = &[
    // A branch is begun anew in the clone, with the files and without their past, see `found`.
    ("nothing-committed", |_| {}),
    // Cut off by the clone, see `found`.
    ("shallow-history", |repository| {
        repository.commit("Nothing new");
    }),
    // A merge that was not finished, at a review.
    ("unreadable-baseline", |repository| {
        let record = std::fs::read_to_string(repository.path().join("TR-1.md")).unwrap();
        repository.write("TR-1.md", record.replacen("date =", "<<<<<<< HEAD\ndate =", 1));
        repository.commit("Merge");
        repository.git(&["tag", "-a", "TRR-1", "-m", "review"]);
        repository.write("TR-1.md", record);
        repository.commit("Finish the merge");
    }),
    // A record is deleted.
    ("vanished", |repository| {
        repository.git(&["tag", "-a", "TRR-1", "-m", "review"]);
        repository.git(&["rm", "--quiet", "TR-1.md"]);
        repository.commit("Clean up");
    }),
];

/// What the history of the base gives, after what the code stands for has happened to it.
pub(super) fn found(base: &Case, code: &str, switch: Switch) -> Vec<&'static str> {
    let (_, happen) = HISTORY.iter().find(|(own, _)| *own == code).unwrap();
    let repository = Fixture::new();
    base.world.filled().write(&repository);
    repository.commit("Start");
    happen(&repository);
    let folder = tempfile::tempdir().unwrap();
    let from = format!("file://{}", repository.path().display());
    let depth: &[&str] = if code == "shallow-history" { &["--depth", "1"] } else { &[] };
    git_in(folder.path(), &[&["clone", "--quiet"], depth, &[from.as_str(), "clone"]].concat());
    let clone = folder.path().join("clone");
    if code == "nothing-committed" {
        git_in(&clone, &["checkout", "--quiet", "--orphan", "fresh"]);
    }
    let tree = WorkTree::find(&clone).unwrap();
    let now = analysis::run(&tree, base.world.request(switch)).unwrap();
    let guard = guard(tree.repo(), "", tree.repo().head().unwrap(), &crate::history::Look::default(), &now).unwrap();
    guard.findings.iter().map(|finding| finding.code).collect()
}
