//! A project whose whole folder was moved is the same project: its past goes along, and nothing that was open is forgotten.

use std::path::Path;

use crate::support::{Run, TODAY, TestRepo};

/// What is asked about a commit of before the move.
const ASKED: &[&[&str]] = &[
    &["before", "hot-fire", "--since", "TRR-1"],
    &["before", "hot-fire", "--since", "D-001"],
    &["check", "--notes"],
    &["matrix"],
    &["show", "MOV-020"],
    &["changes", "PDR..TRR-1"],
    &["changes", "--since", "D-001"],
    &["history", "ACT-010", "--states"],
    &["history", "TR-006"],
    &["impact", "ACT-010"],
    &["trend", "hot-fire"],
    &["packet", "hot-fire", "-o", "-"],
];

/// The example with a signed record written anew, which is a fault that only history shows.
fn replaced() -> TestRepo {
    let repo = TestRepo::demo();
    let text = repo.read("records/TR-006.md");
    let unsealed = text.lines().filter(|line| !line.starts_with("seal =") && !line.starts_with("status ="));
    repo.write("records/TR-006.md", &(unsealed.collect::<Vec<_>>().join("\n") + "\n"));
    repo.commit("Write the run anew");
    assert!(repo.run(&["check"]).out.contains("[seal-replaced]"));
    repo
}

/// Moves all that is in a folder of the repository, from its top, into another.
fn move_all(repo: &TestRepo, from: &str, to: &str) {
    let top = repo.path().join(from);
    let mut names: Vec<_> = top.read_dir().expect("a folder").map(|entry| entry.expect("a name").file_name()).collect();
    names.retain(|name| name != ".git" && !Path::new(to).starts_with(name));
    std::fs::create_dir_all(repo.path().join(to)).expect("a folder");
    for name in names {
        std::fs::rename(top.join(&name), repo.path().join(to).join(&name)).expect("moved");
    }
}

fn ask(repo: &TestRepo, folder: &str, arguments: &[&str]) -> Run {
    repo.run_at(&repo.path().join(folder), TODAY, arguments)
}

/// What the present says of what only history shows, without the names of commits.
fn told_now(repo: &TestRepo, folder: &str) -> (String, String, String) {
    let faults = ask(repo, folder, &["check"]).out.replace(folder, "");
    let rows = ask(repo, folder, &["before", "hot-fire", "--format", "json"]).json()["rows"].to_string();
    let changed = ask(repo, folder, &["changes", "--since", "D-001", "--format", "json"]).json()["changes"].to_string();
    (faults, rows, changed)
}

/// What the present says is what it would be without the move; answered anew, and from what was kept.
fn assert_same_now(stayed: &TestRepo, moved: &TestRepo, folder: &str) {
    let was = told_now(stayed, "");
    assert_eq!(told_now(moved, folder), was);
    assert_eq!(told_now(moved, folder), was, "again");
}

/// So is what is said about a commit of before the move.
fn assert_same_then(stayed: &TestRepo, moved: &TestRepo, folder: &str) {
    let old = stayed.head();
    for arguments in ASKED {
        let arguments = [*arguments, &["--at", &old]].concat();
        let (was, is) = (ask(stayed, "", &arguments), ask(moved, folder, &arguments));
        let pair = was.out.lines().zip(is.out.lines()).find(|(a, b)| a != b);
        assert!(was.out == is.out, "{folder}: {arguments:?}: {pair:#?} {}", is.err);
        assert_eq!((was.code, was.err), (is.code, is.err), "{folder}: {arguments:?}");
    }
}

#[test]
fn a_project_that_was_moved_takes_its_past_along() {
    let (stayed, moved) = (replaced(), replaced());
    move_all(&moved, "", "stand/valve");
    assert_same_now(&stayed, &moved, "stand/valve");
    assert_same_then(&stayed, &moved, "stand/valve");
    moved.commit("Move the project into a folder");
    assert_same_now(&stayed, &moved, "stand/valve");
    move_all(&moved, "stand/valve", "valves/main");
    moved.commit("Move it again");
    move_all(&moved, "valves/main", "");
    moved.commit("And back to the top");
    assert_same_now(&stayed, &moved, "");
    move_all(&moved, "", "valve");
    moved.commit("And into a folder once more");
    assert_same_then(&stayed, &moved, "valve");
}

/// A project that goes into a folder, while what is left in its place names it.
#[test]
fn a_project_that_leaves_an_index_in_its_place_takes_its_past_along() {
    let (stayed, moved) = (replaced(), replaced());
    move_all(&moved, "", "units/main");
    moved.write("README.md", "Every unit has a folder.\n");
    moved.write("slipmark.toml", "name = \"All units\"\nevents = [\"fire\"]\nprojects = [\"units/main\"]\n");
    assert_same_now(&stayed, &moved, "units/main");
    moved.commit("Give every unit a folder");
    assert_same_now(&stayed, &moved, "units/main");
    assert_same_then(&stayed, &moved, "units/main");
    let vanished = |repo: &TestRepo| ask(repo, "", &["check"]).out.matches("[vanished]").count();
    assert_eq!(vanished(&moved), 0, "it goes on there");
    moved.git(&["rm", "--quiet", "units/main/records/TR-006.md"]);
    moved.commit("Lose a run");
    assert_eq!(vanished(&moved), 1, "and what is lost there is lost here");
}

/// A project file that is moved in one commit, and all else in the next: what was signed before is still known.
#[test]
fn a_project_whose_file_went_ahead_takes_its_past_along() {
    let moved = replaced();
    std::fs::create_dir(moved.path().join("valve")).expect("a folder");
    moved.git(&["mv", "slipmark.toml", "valve/slipmark.toml"]);
    moved.replace("valve/slipmark.toml", "name = \"Marram Point\"", "name = \"Marram Point, valve\"");
    moved.commit("Move the project file");
    move_all(&moved, "", "valve");
    moved.commit("Move the rest");
    let faults = ask(&moved, "valve", &["check"]).out;
    assert!(faults.contains("[seal-replaced]") && !faults.contains("[vanished]"), "{faults}");
}

/// What a project left in its place, and what it took along, is lost to neither.
#[test]
fn a_project_that_is_split_has_lost_nothing() {
    let repo = TestRepo::demo();
    move_all(&repo, "", "units/main");
    repo.write("slipmark.toml", "name = \"All\"\nevents = [\"fire\"]\nprojects = [\"units/main\"]\n");
    repo.write("departures/NC-002.md", &repo.read("units/main/departures/NC-002.md"));
    std::fs::remove_file(repo.path().join("units/main/departures/NC-002.md")).expect("a file");
    repo.commit("Give every unit a folder");
    let vanished = |folder| ask(&repo, folder, &["check"]).out.matches("[vanished]").count();
    assert_eq!((vanished(""), vanished("units/main")), (0, 0));
    std::fs::remove_file(repo.path().join("departures/NC-002.md")).expect("a file");
    repo.commit("Lose it");
    assert_eq!((vanished(""), vanished("units/main")), (1, 1));
}

/// What few files of a project went into is another project.
#[test]
fn a_project_that_is_made_of_a_few_files_of_another_has_no_past() {
    let repo = TestRepo::demo();
    repo.write("units/slipmark.toml", "name = \"Units\"\nevents = [\"fire\"]\n");
    repo.replace("slipmark.toml", "name = \"Marram Point\"", "name = \"Marram Point\"\nprojects = [\"units\"]");
    repo.git(&["mv", "records/TR-006.md", "units/TR-006.md"]);
    repo.commit("Take a run out of it");
    assert!(!ask(&repo, "units", &["check"]).out.contains("[vanished]"));
    assert!(ask(&repo, "", &["check"]).out.contains("TR-006 was a signed test until"));
}

/// A project that is copied in one commit and whose original is removed in a later one was moved.
#[test]
fn a_project_that_was_copied_and_whose_original_is_gone_takes_its_past_along() {
    let (stayed, moved) = (replaced(), replaced());
    for path in moved.git(&["ls-files"]).lines() {
        moved.write(&format!("valve/{path}"), &moved.read(path));
    }
    moved.commit("Copy the project");
    let copied = moved.head();
    let faults = |arguments: &[&str]| ask(&moved, "valve", &[&["check"], arguments].concat()).out;
    assert!(!faults(&[]).contains("[seal-replaced]"), "as long as both stand they are two");
    let files = moved.git(&["ls-files"]);
    for path in files.lines().filter(|path| !path.starts_with("valve/")) {
        std::fs::remove_file(moved.path().join(path)).expect("a file");
    }
    moved.commit("Remove the original");
    let history = |repo: &TestRepo, folder| ask(repo, folder, &["history", "TR-006"]).out;
    assert_eq!(history(&stayed, ""), history(&moved, "valve"));
    assert_same_now(&stayed, &moved, "valve");
    assert_same_then(&stayed, &moved, "valve");
    assert!(!faults(&["--at", &copied]).contains("[seal-replaced]"), "they still were two then");
    assert_same_now(&stayed, &moved, "valve");
}

/// A copy of a project that is put away later is not what its original goes on in.
#[test]
fn an_original_that_is_put_away_is_not_gone_for_its_copies() {
    let repo = TestRepo::demo();
    move_all(&repo, "", "first");
    repo.commit("Give the project a folder");
    let taken = ["ls-files", "first/slipmark.toml", "first/items", "first/requirements", "first/procedures"];
    for path in repo.git(&taken).lines() {
        repo.write(&path.replace("first/", "second/"), &repo.read(path));
    }
    repo.commit("Start another from it");
    let vanished = |folder| ask(&repo, folder, &["check"]).out.matches("[vanished]").count();
    assert_eq!(vanished("second"), 0);
    std::fs::create_dir(repo.path().join("archive")).expect("a folder");
    repo.git(&["mv", "first", "archive/first"]);
    repo.commit("Put the first away");
    assert_eq!((vanished("second"), vanished("archive/first")), (0, 0));
    repo.git(&["rm", "--quiet", "-r", "archive"]);
    repo.commit("And throw it away");
    assert!(vanished("second") > 0);
}

/// A project that comes where another stood is not that other one.
#[test]
fn a_project_that_comes_where_another_stood_keeps_its_own_past() {
    let stayed = replaced();
    for archived in [false, true] {
        let moved = replaced();
        move_all(&moved, "", "new");
        moved.write("valve/slipmark.toml", "name = \"An older one\"\nevents = [\"fire\"]\n");
        moved.commit("Move the project beside an older one");
        if archived {
            moved.git(&["mv", "valve", "archive"]);
            moved.commit("Put the older one away");
        } else {
            moved.git(&["rm", "--quiet", "-r", "valve"]);
        }
        moved.git(&["mv", "new", "valve"]);
        moved.commit("Let the project take its place");
        assert_same_now(&stayed, &moved, "valve");
        let history = |repo: &TestRepo, folder| ask(repo, folder, &["history", "TR-006"]).out;
        assert_eq!(history(&stayed, ""), history(&moved, "valve"), "{archived}");
    }
}

/// A line of work that parted before the move and was merged after it.
#[test]
fn what_was_merged_from_before_the_move_counts() {
    let stayed = TestRepo::demo();
    let moved = TestRepo::demo();
    for (repo, folder) in [(&stayed, ""), (&moved, "valve/")] {
        repo.git(&["checkout", "--quiet", "-b", "side"]);
        repo.replace("records/TR-006.md", "\"0.784 ± 0.093\"", "\"0.984 ± 0.093\"");
        repo.commit("Touch up a signed run");
        repo.git(&["checkout", "--quiet", "-"]);
        if folder.is_empty() {
            repo.git(&["commit", "--quiet", "--allow-empty", "-m", "Nothing"]);
        } else {
            move_all(repo, "", folder);
            repo.commit("Move the project into a folder");
        }
        repo.git(&["merge", "--quiet", "--no-edit", "side"]);
    }
    let (was, is) = (told_now(&stayed, ""), told_now(&moved, "valve"));
    assert!(was.0.contains("TR-006"), "{}", was.0);
    assert_eq!(was, is);
    let history = |repo: &TestRepo, folder| ask(repo, folder, &["history", "TR-006"]).out;
    assert!(history(&stayed, "").contains("Touch up a signed run"));
    assert_eq!(history(&stayed, ""), history(&moved, "valve"));
}
