//! Asked again with nothing changed, the answer is the one that was given; whatever it hangs on changed, it is a new one.

use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::support::{Run, TODAY, TestRepo};

/// So long after it was changed that a file's signs will show the next change.
const SETTLES: Duration = Duration::from_millis(3100);

/// The answers that are kept.
fn kept(repo: &TestRepo) -> Vec<PathBuf> {
    kept_as(repo, "answer-")
}

/// What is kept under names that begin like this.
fn kept_as(repo: &TestRepo, start: &str) -> Vec<PathBuf> {
    let builds = repo.path().join(".git").join("slipmark-kept").read_dir().into_iter().flatten().flatten();
    let files = builds.flat_map(|build| build.path().read_dir().unwrap()).map(|entry| entry.unwrap().path());
    let mut answers: Vec<PathBuf> =
        files.filter(|path| path.file_name().unwrap().to_string_lossy().starts_with(start)).collect();
    answers.sort();
    answers
}

fn bytes(run: &Run) -> (i32, &str, &str) {
    (run.code, &run.out, &run.err)
}

/// Asks as people do and with nothing kept: both must say the same. Hands on what was said.
#[track_caller]
fn ask(repo: &TestRepo) -> Run {
    let (usual, anew) = (repo.run(&["before", "leak-check"]), repo.run(&["before", "leak-check", "--no-cache"]));
    assert_eq!(bytes(&usual), bytes(&anew));
    usual
}

#[test]
fn only_what_changed_nothing_is_answered_from_what_was_kept() {
    let repo = TestRepo::closed();
    assert_eq!(kept(&repo), Vec::<PathBuf>::new(), "nothing is kept of files that were just written");
    std::thread::sleep(SETTLES);
    let first = ask(&repo).ended(0);
    let answers = kept(&repo);
    assert_eq!(answers.len(), 1);
    assert_eq!(bytes(&ask(&repo)), bytes(&first));

    // It does come from there: another answer put in its place, with its own hash, comes back.
    let put = std::fs::read(&answers[0]).unwrap();
    std::fs::write(&answers[0], forged(&put, &first.out)).unwrap();
    assert!(repo.run(&["before", "leak-check"]).out.contains("FORGED"));
    // Damaged, it is as if it were not there.
    std::fs::write(&answers[0], &put[..put.len() - 1]).unwrap();
    assert_eq!(bytes(&ask(&repo)), bytes(&first));

    // Another width, day, question or way to say it is another answer.
    let id = repo
        .run(&["matrix", "--format", "csv", "--no-cache"])
        .out
        .lines()
        .nth(1)
        .unwrap()
        .split(',')
        .next()
        .unwrap()
        .to_string();
    for other in [
        &["before", "leak-check", "--all"][..],
        &["check"],
        &["matrix"],
        &["changes", "HEAD"],
        &["history", &id],
        &["trend"],
        &["before", "leak-check", "--format", "json"],
    ] {
        let (usual, again) = (repo.run(other), repo.run(other));
        assert_eq!(bytes(&usual), bytes(&again));
        assert_eq!(bytes(&usual), bytes(&repo.run(&[other, &["--no-cache"]].concat())));
    }
    assert_ne!(repo.run_wide("60", &["before", "leak-check"]).out, first.out);
    assert_ne!(repo.run_at(repo.path(), "2026-06-17", &["before", "leak-check"]).out, first.out);
    assert_eq!(kept(&repo).len(), 10);
}

/// The same file with an answer that nobody gave.
fn forged(file: &[u8], said: &str) -> Vec<u8> {
    use sha2::{Digest, Sha256};
    let at = file.windows(said.len()).position(|part| part == said.as_bytes()).unwrap();
    let mut forged = file.to_vec();
    forged[at..at + 6].copy_from_slice(b"FORGED");
    let head = file.iter().filter(|byte| **byte == b'\n').count().min(1)
        * (1 + file.iter().position(|byte| *byte == b'\n').unwrap());
    let hash = Sha256::digest(&forged[head + 32..]);
    forged[head..head + 32].copy_from_slice(&hash);
    forged
}

#[test]
fn a_question_about_another_thing_is_answered_without_reading_the_files() {
    let repo = TestRepo::closed();
    std::thread::sleep(SETTLES);
    let ask = |arguments: &[&str]| {
        let (usual, anew) = (repo.run(arguments), repo.run(&[arguments, &["--no-cache"]].concat()));
        assert_eq!(bytes(&usual), bytes(&anew));
        usual
    };
    ask(&["history", "VALVE"]).ended(0);
    let [commits, present] = ["commits-", "present-"].map(|start| kept_as(&repo, start));
    assert_eq!((commits.len(), present.len()), (1, 1));
    let right = ask(&["history", "R-001", "--format", "json"]).ended(0);
    assert!(right.out.contains("TR-001"));
    ask(&["history", "R-001", "--states"]);
    ask(&["history", "R-999"]);
    ask(&["changes", "HEAD~1..HEAD"]);

    // It does come from there: another record put in its place, with its own hash, is named.
    let asked = ["history", "R-001", "--format", "csv"];
    let put = std::fs::read(&present[0]).unwrap();
    std::fs::write(&present[0], forged(&put, "TR-001")).unwrap();
    assert!(
        repo.run(&["history", "R-001", "--format", "json", "--today", "2026-06-16"]).out.contains("TR-001"),
        "the same question"
    );
    for answer in kept(&repo) {
        std::fs::remove_file(answer).unwrap();
    }
    assert!(repo.run(&["history", "R-001"]).out.contains("FORGED"));
    // Damaged, it is as if it were not there; and after an edit nothing comes from it.
    std::fs::write(&present[0], &put[..put.len() - 1]).unwrap();
    ask(&asked).ended(0);
    std::fs::write(&present[0], forged(&put, "TR-001")).unwrap();
    repo.replace("records/TR-001.md", "3.1 ± 0.4", "3.2 ± 0.4");
    ask(&["history", "R-001"]);
    ask(&["history", "TR-001"]);
    repo.commit("Read it again");
    ask(&["history", "R-001"]);
    ask(&["history", "TR-001"]);
}

/// Puts back the time of modification, which anybody can.
fn same_time(path: &Path, edit: impl FnOnce()) {
    let before = path.metadata().unwrap().modified().unwrap();
    edit();
    std::fs::File::options().write(true).open(path).unwrap().set_modified(before).unwrap();
}

#[test]
fn whatever_an_answer_hangs_on_makes_a_new_one() {
    let repo = TestRepo::closed();
    std::thread::sleep(SETTLES);
    ask(&repo).ended(0);
    let record = repo.path().join("records/TR-001.md");
    // Same size, same times as far as anybody can set them.
    same_time(&record, || repo.replace("records/TR-001.md", "3.1 ± 0.4", "9.1 ± 0.4"));
    assert_ne!(ask(&repo).code, 0);
    same_time(&record, || repo.replace("records/TR-001.md", "9.1 ± 0.4", "3.1 ± 0.4"));
    std::thread::sleep(SETTLES);
    ask(&repo).ended(0);
    // Git's own state: history, tags, what is tracked, what is ignored.
    repo.git(&["tag", "-a", "later", "-m", "Later"]);
    ask(&repo).ended(0);
    repo.git(&["rm", "--quiet", "--cached", "records/TR-001.md"]);
    ask(&repo);
    repo.git(&["reset", "--quiet"]);
    repo.write(".git/info/exclude", "records/TR-001.md\n");
    ask(&repo);
    repo.git(&["rm", "--quiet", "--cached", "records/TR-001.md"]);
    assert_ne!(ask(&repo).code, 0);
    repo.git(&["reset", "--quiet"]);
    std::fs::remove_file(repo.path().join(".git/info/exclude")).unwrap();
    std::thread::sleep(SETTLES);
    let clean = ask(&repo).ended(0);
    std::fs::write(repo.path().join(".git/shallow"), format!("{}\n", repo.head())).unwrap();
    assert_ne!(ask(&repo).code, 0, "history that was cut off");
    std::fs::remove_file(repo.path().join(".git/shallow")).unwrap();
    assert_eq!(bytes(&ask(&repo)), bytes(&clean));
    repo.git(&["config", "core.autocrlf", "true"]);
    ask(&repo);
    std::fs::remove_file(&record).unwrap();
    assert_ne!(ask(&repo).code, 0);
}

#[test]
fn what_looking_would_miss_is_not_kept() {
    let repo = TestRepo::closed();
    // An attachment that git ignores stands in no listing.
    repo.write(".gitignore", "*.csv\n");
    repo.write("records/run.csv", "t [s]\n1\n");
    repo.replace("records/TR-001.md", "status =", "data = [{ file = \"run.csv\" }]\nstatus =");
    repo.commit("Attach");
    std::thread::sleep(SETTLES);
    let first = repo.run(&["matrix"]);
    assert_eq!(kept(&repo), Vec::<PathBuf>::new());
    repo.write("records/run.csv", "t [s]\n2\n");
    assert_eq!(repo.run(&["matrix"]).code, first.code);

    #[cfg(unix)]
    {
        let repo = TestRepo::closed();
        repo.write("elsewhere.txt", "x");
        std::os::unix::fs::symlink("elsewhere.txt", repo.path().join("link.txt")).unwrap();
        std::thread::sleep(SETTLES);
        repo.run(&["before", "leak-check"]);
        assert_eq!(kept(&repo), Vec::<PathBuf>::new());
    }
}

/// What lies behind the cut of a shallow clone was not seen, and is once it was fetched.
#[test]
fn what_a_shallow_clone_could_not_see_is_seen_after_the_rest_was_fetched() {
    let repo = TestRepo::closed();
    let departure = "+++\nkind = \"nonconformance\"\nid = \"NC-005\"\ntitle = \"Gland weeps\"\ndate = 2026-06-16\n\
                     against = [\"VALVE/SN01\"]\nstatus = \"open\"\n+++\nSeen.\n";
    repo.write("departures/NC-005.md", departure);
    repo.commit("File NC-005");
    repo.git(&["rm", "--quiet", "departures/NC-005.md"]);
    repo.commit("Tidy up");
    repo.git(&["commit", "--quiet", "--allow-empty", "-m", "Later"]);
    let from = format!("file://{}", repo.path().display());
    repo.git(&["clone", "--quiet", "--depth", "1", &from, "../shallow"]);
    let clone = repo.path().with_file_name("shallow");
    let before = |more: &[&str]| repo.run_at(&clone, TODAY, &[&["before", "leak-check"], more].concat()).ended(1).out;
    assert!(before(&[]).contains("[shallow-history]"));
    repo.git(&["-C", "../shallow", "fetch", "--quiet", "--unshallow"]);
    assert!(before(&["--no-cache"]).contains("[vanished]"));
    assert_eq!(before(&[]), before(&["--no-cache"]));
}

/// `ORIG_HEAD` and git's log of where a branch was are no part of what an answer is held against.
#[test]
fn names_that_pass_are_looked_up_each_time() {
    let repo = TestRepo::closed();
    repo.git(&["reset", "--quiet", "--soft", "HEAD~1"]);
    repo.commit("Say it again");
    std::thread::sleep(SETTLES);
    for (range, makes_it_pass) in [
        ("ORIG_HEAD..HEAD", ["reset", "--quiet", "--soft", "HEAD"]),
        ("HEAD@{1}..HEAD", ["reset", "--quiet", "--soft", "HEAD"]),
    ] {
        let changes = |more: &[&str]| repo.run(&[&["changes", range], more].concat()).ended(0).out;
        assert_eq!(changes(&[]), changes(&["--no-cache"]), "{range}");
        repo.git(&makes_it_pass);
        assert_eq!(changes(&[]), changes(&["--no-cache"]), "{range}");
        assert_eq!(kept(&repo).len(), 0, "{range}");
    }
}

/// A file that a partial clone does not have is no event that the project did not have, and may be fetched.
#[test]
fn what_a_partial_clone_lacks_is_told_and_seen_once_it_is_there() {
    let repo = TestRepo::closed();
    repo.replace("slipmark.toml", "Stand", "Stand 2");
    repo.commit("Name it");
    repo.git(&["config", "uploadpack.allowFilter", "true"]);
    let from = format!("file://{}", repo.path().display());
    repo.git(&["clone", "--quiet", "--filter=blob:none", &from, "../partial"]);
    let clone = repo.path().with_file_name("partial");
    let trend = |more: &[&str]| {
        let asked = ["trend", "leak-check", "--by", "commit", "--format", "json"];
        repo.run_at(&clone, TODAY, &[&asked, more].concat()).ended(0).out
    };
    let lacking = trend(&[]);
    assert!(lacking.contains("slipmark.toml cannot be read"), "{lacking}");
    repo.git(&["-C", "../partial", "fetch", "--quiet", "--refetch", "--no-filter"]);
    let whole = trend(&["--no-cache"]);
    assert!(!whole.contains("cannot be read"), "{whole}");
    assert_eq!(trend(&[]), whole);
}
