//! The base project in a repository, for the codes that only its history can raise.

use crate::analysis;
use crate::diag::Switch;
use crate::git::fixture::{Fixture, git_in};
use crate::history::{Look, account, guard};
use crate::model::kinds::Entity;
use crate::model::load::load_one;
use crate::source::WorkTree;
use crate::text::FileId;

use super::case::Case;

/// What happens to a repository.
type Happens = fn(&Fixture);

/// The codes, each with what happens to the repository.
pub(super) const HISTORY: &[(&str, Happens)] = &[
    // A decision, and nothing after it.
    ("decided-and-not-done", |repository| {
        repository.write("D-1.md", decision("revises = [\"R-1\"]"));
        repository.commit("Decide");
    }),
    // The valve is given up, and what was asked of it left as it was.
    ("dropped-and-not-carried-over", |repository| {
        edit(repository, "MOV.md", "revision = \"B\"\n", "revision = \"B\"\nstatus = \"dropped\"\n");
        repository.write("D-1.md", decision("drops = [\"MOV\"]"));
        repository.commit("Drop the valve");
    }),
    // A branch is begun anew in the clone, with the files and without their past, see `found`.
    ("nothing-committed", |_| {}),
    // What the requirement was derived from asks more.
    ("parent-moved", |repository| {
        repository.write("R-0.md", requirement("within 4 s"));
        edit(repository, "R-1.md", "source = \"customer\"", "parents = [\"R-0\"]");
        repository.commit("Derive");
        repository.write("R-0.md", requirement("within 3 s"));
        repository.commit("Tighten");
    }),
    // The limit is moved beyond what was measured.
    ("relaxed-without-decision", |repository| {
        edit(repository, "R-1.md", "max = \"2.0 s\"", "safety = true\nmax = \"3.0 s\"");
        repository.commit("Relax");
    }),
    // What a waiver rests on is raised.
    ("relief-moved", |repository| {
        repository.write("parameters.toml", "[allowed]\nvalue = \"2.2 s\"\nsource = \"S\"\n");
        repository.write("W-1.md", waiver(repository));
        repository.commit("Accept");
        edit(repository, "parameters.toml", "2.2 s", "2.4 s");
        repository.commit("Raise");
    }),
    // A result is edited, and a seal worked out that fits.
    ("seal-replaced", |repository| {
        edit(repository, "TR-1.md", "1.2 ± 0.1 s", "1.1 ± 0.1 s");
        let text = std::fs::read_to_string(repository.path().join("TR-1.md")).unwrap();
        let (Some(Entity::Record(read)), _) = load_one(FileId(0), &text) else { panic!("no record") };
        edit(repository, "TR-1.md", &read.seal.as_ref().unwrap().value, &read.seal_now);
        repository.commit("Correct");
    }),
    // Cut off by the clone, see `found`.
    ("shallow-history", |repository| {
        repository.commit("Nothing new");
    }),
    // More time is given to the valve after it was timed.
    ("steps-changed-after-run", |repository| {
        let text = std::fs::read_to_string(repository.path().join("TP-1.md")).unwrap();
        repository.write("TP-1.md", format!("{text}Open it twice before it is timed.\n"));
        repository.commit("Add a step");
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

fn edit(repository: &Fixture, path: &str, from: &str, to: &str) {
    let text = std::fs::read_to_string(repository.path().join(path)).unwrap();
    assert!(text.contains(from), "{path} does not hold {from}");
    repository.write(path, text.replacen(from, to, 1));
}

fn decision(key: &str) -> String {
    format!("+++\nkind = \"decision\"\nid = \"D-1\"\ntitle = \"Choice\"\ndate = 2026-05-01\n{key}\n+++\nWhy.\n")
}

/// A waiver for what the requirement says now.
fn waiver(repository: &Fixture) -> String {
    let record = std::fs::read_to_string(repository.path().join("TR-1.md")).unwrap();
    let mark = record.lines().find(|line| line.starts_with("mark = ")).unwrap();
    format!(
        "+++\nkind = \"waiver\"\nid = \"W-1\"\ntitle = \"Closing time\"\nrequirement = \"R-1\"\n{mark}\nserials = [\"MOV/SN01\"]\n\
         accepts.value = {{ max = \"allowed\" }}\nbefore = \"hot-fire\"\nstatus = \"approved\"\napproved_by = \"lead\"\n\
         approved = 2026-05-01\nreason = \"r\"\n+++\n"
    )
}

fn requirement(limit: &str) -> String {
    format!(
        "+++\nkind = \"requirement\"\nid = \"R-0\"\ntitle = \"Cut-off\"\nsource = \"S\"\n+++\nThe flow shall end {limit}.\n"
    )
}

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
    let head = tree.repo().head().unwrap();
    let (guard, account) =
        (guard(tree.repo(), "", head, &Look::default(), &now).unwrap(), account(tree.repo(), "", head, &now).unwrap());
    guard.findings.iter().chain(&account.findings).map(|finding| finding.code).collect()
}
