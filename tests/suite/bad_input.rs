//! What bad input gets: a message that says where, what was found, what was expected and what to type next; exit code 1
//! where an answer could be made, else 2; never a panic, and never 0 from a command that answers whether something is open.
//!
//! Each state is made from a project in which nothing is open, so that a fault that nobody counts would show as 0.

use std::fs::{File, Permissions};
use std::io::Read;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::Stdio;

use crate::support::{Run, TODAY, TestRepo, skipped};

/// Every command that reads, as it is asked of the project of [`TestRepo::closed`].
const READ: &[&[&str]] = &[
    &[],
    &["before", "leak-check"],
    &["before", "leak-check", "--format", "json"],
    &["before", "leak-check", "--format", "csv"],
    &["before", "leak-check", "--format", "markdown", "--all"],
    &["check"],
    &["check", "--format", "json", "--notes"],
    &["matrix"],
    &["matrix", "--format", "csv"],
    &["show", "R-001"],
    &["show", "VALVE/SN01"],
    &["changes"],
    &["changes", "--since", "2026-01-01"],
    &["history", "R-001"],
    &["packet", "leak-check", "-o", "-"],
    &["explain", "slipped"],
];

/// Those that say whether something is open or wrong.
fn judges(command: &[&str]) -> bool {
    matches!(command.first(), None | Some(&"before" | &"check"))
}

/// Runs every read command; what fails says so, and says what to type.
fn ask_all(repo: &TestRepo, folder: &Path, more: &[&str]) -> Vec<(&'static [&'static str], Run)> {
    let ask = |command: &'static [&'static str]| {
        let all: Vec<&str> = command.iter().chain(more).copied().collect();
        let run = repo.run_at(folder, TODAY, &all);
        assert!((0..=2).contains(&run.code), "{all:?}: {run:?}");
        if run.code == 2 {
            assert!(run.out.is_empty() && run.err.starts_with("error: "), "{all:?}: {run:?}");
            assert!(run.err.contains("\n  do: "), "{all:?}: {}", run.err);
        }
        (command, run)
    };
    READ.iter().map(|command| ask(command)).collect()
}

/// No read command that asks the project answers, with or without `--at`, and each says this.
fn no_answer(repo: &TestRepo, folder: &Path, said: &[&str]) {
    for more in [&[][..], &["--at", "HEAD"]] {
        for (command, run) in ask_all(repo, folder, more) {
            let code = if command.first() == Some(&"explain") { 0 } else { 2 };
            assert_eq!(run.code, code, "{command:?} {more:?}: {run:?}");
            for words in said.iter().filter(|_| code == 2) {
                assert!(run.err.contains(words), "{command:?} {more:?}: {words} is not in {}", run.err);
            }
        }
    }
}

/// A fault: its code, its place, and words of its message or its help.
type Fault<'f> = (&'f str, &'f str, &'f [&'f str]);

/// The fault is found, located and counted, whichever command asks; `more` may be `--at HEAD`.
fn found(repo: &TestRepo, (code, place, said): Fault<'_>, more: &[&str]) {
    let check: Vec<&str> = ["check", "--format", "json"].iter().chain(more).copied().collect();
    let findings = repo.run(&check).ended(1).json();
    let findings = findings["findings"].as_array().expect("findings");
    let place_of = |finding: &serde_json::Value| match (finding["path"].as_str(), finding["line"].as_u64()) {
        (Some(path), Some(line)) => format!("{path}:{line}:{}", finding["column"]),
        (Some(path), None) => path.to_string(),
        (None, _) => "project".to_string(),
    };
    let own = findings.iter().find(|finding| finding["code"] == code && place_of(finding) == place);
    let all: Vec<String> =
        findings.iter().map(|it| format!("{} {} {}", it["code"], place_of(it), it["message"])).collect();
    let own = own.unwrap_or_else(|| panic!("no {code} at {place}: {all:#?}"));
    assert_eq!(own["class"], "fault", "{own}");
    let words = format!("{} {}", own["message"].as_str().expect("a message"), own["help"].as_str().expect("help"));
    for word in said {
        assert!(words.contains(word), "{word} is not in: {words}");
    }
    assert!(own["help"].as_str().is_some_and(|help| !help.is_empty()), "{own}");
    for (command, run) in ask_all(repo, repo.path(), more) {
        if judges(command) {
            // Without its events a project cannot be asked what is open before one.
            let unasked = run.code == 2 && run.err.contains(place);
            assert!(run.code == 1 || unasked, "{command:?} {more:?}: {run:?}");
        }
        if command.first() == Some(&"check") && command.len() == 1 {
            assert!(run.out.contains(&format!("{place}: fault [{code}]")), "{}", run.out);
        }
        if command.first() == Some(&"matrix") && run.code == 0 {
            assert!(run.err.contains("in the project, which could make this wrong"), "{}", run.err);
        }
    }
}

/// The fault is found in the work tree, and as the same in a commit.
fn found_everywhere(repo: &TestRepo, fault: Fault<'_>) {
    found(repo, fault, &[]);
    repo.commit("Break it");
    found(repo, fault, &["--at", "HEAD"]);
    repo.git(&["reset", "--quiet", "--hard", "HEAD~1"]);
    repo.git(&["clean", "-ffdq"]);
}

/// The line and column of a text in a file, as people count.
fn place(repo: &TestRepo, path: &str, part: &str) -> String {
    let text = repo.read(path);
    let at = text.find(part).unwrap_or_else(|| panic!("{part} is not in {path}:\n{text}"));
    let line = text[..at].matches('\n').count() + 1;
    let column = text[..at].rsplit('\n').next().unwrap_or("").chars().count() + 1;
    format!("{path}:{line}:{column}")
}

const REQUIREMENT: &str = "requirements/R-001.md";
const RECORD: &str = "records/TR-001.md";

/// What a broken file is the cause of is not blamed on those who name what stands in it.
#[test]
fn the_cause_comes_first_and_what_comes_of_it_leads_there() {
    let repo = TestRepo::closed();
    let text = repo.read(REQUIREMENT).replace("\n+++\n", "\n");
    repo.write(REQUIREMENT, &text);
    let findings = repo.run(&["check", "--format", "json"]).ended(1).json();
    let findings = findings["findings"].as_array().expect("findings").iter();
    let said: Vec<[&str; 3]> = findings
        .filter(|own| own["code"] != "vanished")
        .map(|own| ["code", "message", "help"].map(|field| own[field].as_str().expect("a text")))
        .collect();
    assert_eq!(said[0][0], "front-matter-not-closed");
    let mend = format!("mend {REQUIREMENT} first");
    assert_eq!(said[1], ["unknown-name", "no requirement that could be read has the id `R-001`", mend.as_str()]);
}

/// What git itself reads and the library does not: what it says to type is what helps.
#[test]
fn forms_of_the_index_that_are_not_read() {
    let repo = TestRepo::closed();
    for (made, mended) in [
        ("sparse-checkout set --cone --sparse-index records", "sparse-checkout disable"),
        ("update-index --split-index", "update-index --no-split-index"),
    ] {
        repo.git(&made.split(' ').collect::<Vec<_>>());
        let error = repo.run(&["before", "leak-check"]).ended(2).err;
        assert!(error.ends_with(&format!("do: git {mended}\n")), "{error}");
        repo.git(&mended.split(' ').collect::<Vec<_>>());
        repo.run(&["before", "leak-check"]).ended(0);
    }
}

#[test]
fn events_that_differ_only_in_case() {
    let repo = TestRepo::closed();
    let text = repo.read("slipmark.toml").replacen("\"leak-check\"", "\"leak-check\", \"Leak-Check\"", 1);
    repo.write("slipmark.toml", &text);
    found(&repo, ("event-twice", &place(&repo, "slipmark.toml", "\"Leak-Check\""), &["differ only in case"]), &[]);
}

#[test]
fn quotation_marks_for_print_are_named() {
    let repo = TestRepo::closed();
    repo.replace(REQUIREMENT, "max = \"10 mL/min\"", "max = \u{201c}10 mL/min\u{201d}");
    found(&repo, ("bad-toml", &place(&repo, REQUIREMENT, "\u{201c}10"), &["write \" instead of \u{201c}"]), &[]);
}

#[test]
fn the_project_that_is_broken_here_has_nothing_open() {
    let repo = TestRepo::closed();
    for more in [&[][..], &["--at", "HEAD"], &["--at", "review"]] {
        for (command, run) in ask_all(&repo, repo.path(), more) {
            assert_eq!((run.code, run.err.as_str()), (0, ""), "{command:?} {more:?}: {run:?}");
        }
    }
}

// ---- where there is no project to ask ------------------------------------------------------------------------------

#[test]
fn not_a_repository() {
    let repo = TestRepo::folder();
    no_answer(&repo, repo.path(), &["is not in a git work tree", "slipmark init", "slipmark demo"]);
    repo.write("slipmark.toml", "name = \"x\"\nevents = [\"e\"]\n");
    no_answer(&repo, repo.path(), &["is not in a git work tree", "do: git init"]);
    for writing in
        [&["new", "item"][..], &["sign", "TR-001", "--by", "x"], &["mark", "R-001", "--by", "x", "--because", "x"]]
    {
        assert!(repo.run(writing).ended(2).err.contains("do: git init"));
    }
    let gone = repo.path().join("gone");
    let run = repo.run(&["check", "--project", gone.to_str().expect("a name")]).ended(2);
    assert!(run.err.contains("cannot open") && run.err.contains("name a folder that is there"), "{}", run.err);
}

#[test]
fn no_project_file() {
    let repo = TestRepo::closed();
    repo.git(&["rm", "--quiet", "slipmark.toml"]);
    no_answer(&repo, repo.path(), &["no slipmark.toml in", "slipmark init"]);
    let inner = TestRepo::closed();
    std::fs::create_dir(inner.path().join("stand")).expect("a folder");
    for name in ["slipmark.toml", "items", "procedures", "records", "requirements"] {
        inner.git(&["mv", name, "stand"]);
    }
    no_answer(&inner, inner.path(), &["no slipmark.toml in", "do: cd stand"]);
    // The work tree has a project where the commit has none, nor anywhere else one that was moved here.
    let new = TestRepo::folder();
    new.git(&["init", "--quiet"]);
    new.write("notes.txt", "A stand is wanted.\n");
    new.commit("Notes");
    new.run(&["init", "stand", "--name", "Stand"]).ended(0);
    let at = ask_all(&new, &new.path().join("stand"), &["--at", "HEAD"]);
    for (command, run) in at.iter().filter(|(command, _)| command.first() != Some(&"explain")) {
        assert!(run.code == 2 && run.err.contains("has no slipmark.toml in stand"), "{command:?}: {run:?}");
    }
}

#[test]
fn a_repository_of_another_user() {
    if !is_root() {
        skipped("only root can give a folder to somebody else");
        return;
    }
    let repo = TestRepo::closed();
    give_away(repo.path());
    no_answer(&repo, repo.path(), &["belongs to another user", "type: git config --global --add safe.directory /"]);
    repo.run(&["init", "inner"]).ended(2);
    assert!(!repo.path().join("inner/slipmark.toml").exists());
    repo.run(&["new", "item"]).ended(2);
    assert!(!repo.path().join("items/ITEM-01.md").exists());
    // What the message says to type is what helps.
    let said = repo.run(&["check"]).err;
    let folder = said.rsplit("safe.directory ").next().expect("a folder").trim();
    repo.git(&["config", "--global", "--add", "safe.directory", folder]);
    repo.run(&["before", "leak-check"]).ended(0);
}

#[test]
fn a_bare_repository() {
    let repo = TestRepo::closed();
    repo.git(&["clone", "--quiet", "--bare", ".", "../bare.git"]);
    let bare = repo.path().with_file_name("bare.git");
    no_answer(&repo, &bare, &["is a bare repository", "go to a clone of it that has a work tree"]);
    let init = repo.run_at(&bare, TODAY, &["init"]).ended(2);
    assert!(init.err.contains("is a bare repository") && !bare.join("slipmark.toml").exists(), "{}", init.err);
}

#[test]
fn a_head_that_cannot_be_read() {
    let repo = TestRepo::closed();
    for broken in ["", "nonsense\n", "ref: refs/heads/../../../x\n", "1234567890123456789012345678901234567890\n"] {
        repo.write(".git/HEAD", broken);
        for (command, run) in ask_all(&repo, repo.path(), &[]) {
            assert!(run.code == 2 || command.first() == Some(&"explain"), "{broken}: {command:?}: {run:?}");
        }
    }
}

/// An object that is gone, empty or cut off in the middle, as a crash or a full disk leaves it.
#[test]
fn objects_that_cannot_be_read() {
    let repo = TestRepo::closed();
    let whole = |name: &str| repo.git(&["rev-parse", name]).trim().to_string();
    let broken = |oid: &str, and: &dyn Fn()| {
        let path = format!(".git/objects/{}/{}", &oid[..2], &oid[2..]);
        let full = repo.path().join(&path);
        let bytes = std::fs::read(&full).expect("a loose object");
        for left in [None, Some(0), Some(bytes.len() / 2), Some(bytes.len() - 5)] {
            std::fs::remove_file(&full).expect("a file");
            if let Some(left) = left {
                std::fs::write(&full, &bytes[..left]).expect("a file");
            }
            and();
            std::fs::write(&full, &bytes).expect("a file");
        }
    };
    // The commit, what it holds, and the review that is looked back to: without any of them nothing can be said.
    for name in ["HEAD", "HEAD^{tree}", "review", "review^{commit}", "review^{tree}"] {
        broken(&whole(name), &|| {
            let run = repo.run(&["before", "leak-check"]).ended(2);
            assert!(
                run.err.starts_with("error: git ") && run.err.contains("do: look at git status and git fsck"),
                "{name}: {}",
                run.err
            );
            for (command, run) in ask_all(&repo, repo.path(), &[]) {
                assert!(run.code == 2 || !judges(command), "{name}: {command:?}: {run:?}");
            }
        });
    }
    // One file of a commit that is asked about: a fault of that file.
    broken(&whole("HEAD:requirements/R-001.md"), &|| {
        found(&repo, ("unreadable-file", REQUIREMENT, &["cannot be read: git"]), &["--at", "HEAD"]);
        repo.run(&["before", "leak-check"]).ended(0);
    });
}

// ---- states of the repository that are no fault of the files --------------------------------------------------------

#[test]
fn a_detached_head_is_as_good_as_a_branch() {
    let repo = TestRepo::closed();
    let on_branch = ask_all(&repo, repo.path(), &[]);
    repo.git(&["checkout", "--quiet", "--detach"]);
    for ((command, branch), (_, detached)) in on_branch.iter().zip(ask_all(&repo, repo.path(), &[])) {
        assert_eq!(
            (branch.code, &branch.out, &branch.err),
            (detached.code, &detached.out, &detached.err),
            "{command:?}"
        );
    }
    // And it is judged, not only read.
    repo.replace(REQUIREMENT, "max = \"10 mL/min\"", "max = \"2 mL/min\"");
    repo.run(&["before", "leak-check"]).ended(1);
}

#[test]
fn a_branch_without_commits() {
    let repo = TestRepo::folder();
    repo.run(&["init"]).ended(0);
    let open = repo.run(&["before", "leak-check"]).ended(1);
    assert!(open.out.contains("no commit yet"), "{}", open.out);
    for (command, run) in ask_all(&repo, repo.path(), &[]) {
        let expected = match command.first() {
            None | Some(&"before") => 1,
            Some(&"changes") => 2,
            _ => 0,
        };
        assert_eq!(run.code, expected, "{command:?}: {run:?}");
    }
    for command in [&["changes"][..], &["changes", "--since", "2026-01-01"], &["matrix", "--at", "HEAD"]] {
        assert!(repo.run(command).ended(2).err.contains("do: git add --all && git commit"), "{command:?}");
    }
    assert!(repo.run(&["history", "R-001"]).ended(0).out.contains("Not committed yet"));
    // All that is asked is closed, and what was asked before cannot be seen.
    let repo = TestRepo::closed();
    repo.run(&["before", "leak-check"]).ended(0);
    repo.git(&["checkout", "--quiet", "--orphan", "fresh"]);
    let orphan = repo.run(&["before", "leak-check"]).ended(1);
    assert!(
        orphan.out.contains("[nothing-committed]") && orphan.out.contains("git add --all && git commit"),
        "{}",
        orphan.out
    );
    repo.git(&["commit", "--quiet", "-m", "Begin anew"]);
    repo.run(&["before", "leak-check"]).ended(0);
}

#[test]
fn a_shallow_clone() {
    let repo = TestRepo::closed();
    let from = format!("file://{}", repo.path().display());
    repo.git(&["clone", "--quiet", "--depth", "1", &from, "../shallow"]);
    let clone = repo.path().with_file_name("shallow");
    for more in [&[][..], &["--at", "HEAD"]] {
        for (command, run) in ask_all(&repo, &clone, more) {
            if judges(command) {
                assert_eq!(run.code, 1, "{command:?} {more:?}: {run:?}");
            }
        }
        let check: Vec<&str> = ["check"].iter().chain(more).copied().collect();
        let run = repo.run_at(&clone, TODAY, &check).ended(1);
        assert!(
            run.out.contains("[shallow-history]") && run.out.contains("git fetch --unshallow --tags"),
            "{}",
            run.out
        );
    }
    // What it says to type is what helps.
    let mut fetch = std::process::Command::new("git");
    Run::of(fetch.args(["fetch", "--quiet", "--unshallow", "--tags"]).current_dir(&clone)).ended(0);
    repo.run_at(&clone, TODAY, &["before", "leak-check"]).ended(0);
}

#[test]
fn a_submodule() {
    let repo = TestRepo::closed();
    repo.git(&["init", "--quiet", "../other"]);
    repo.git(&["-C", "../other", "commit", "--quiet", "--allow-empty", "-m", "Start"]);
    let add = ["-c", "protocol.file.allow=always", "submodule", "--quiet", "add", "../other", "lib"];
    let other = repo.path().with_file_name("other");
    let add: Vec<&str> =
        add.iter().map(|it| if *it == "../other" { other.to_str().expect("a name") } else { it }).collect();
    repo.git(&add);
    let fault: Fault<'_> = ("submodule", "lib", &["is a submodule", "projects = [\"lib\"]"]);
    found(&repo, fault, &[]);
    repo.commit("Add a submodule");
    found(&repo, fault, &["--at", "HEAD"]);
    let text = repo.read("slipmark.toml").replacen("events =", "projects = [\"lib\"]\nevents =", 1);
    repo.write("slipmark.toml", &text);
    repo.run(&["before", "leak-check"]).ended(0);
}

// ---- files that cannot be read --------------------------------------------------------------------------------------

#[test]
fn conflict_markers() {
    let repo = TestRepo::closed();
    let conflict = "<<<<<<< HEAD\nmax = \"10 mL/min\"\n=======\nmax = \"12 mL/min\"\n>>>>>>> other\n";
    repo.replace(REQUIREMENT, "max = \"10 mL/min\"\n", conflict);
    let at = place(&repo, REQUIREMENT, "<<<<<<<");
    found_everywhere(&repo, ("conflict-markers", &at, &["merge conflict", "delete the marker lines"]));
    repo.replace(REQUIREMENT, "## Rationale", "<<<<<<< HEAD\n## Rationale\n=======\n## Why\n>>>>>>> other\n");
    let at = place(&repo, REQUIREMENT, "<<<<<<<");
    found_everywhere(&repo, ("conflict-markers", &at, &["merge conflict"]));
    for (path, line) in [("slipmark.toml", "events ="), ("parameters.toml", "[meop]")] {
        repo.write("parameters.toml", "[meop]\nvalue = \"4 MPa gauge\"\nsource = \"x\"\n");
        repo.replace(path, line, &format!("<<<<<<< HEAD\n=======\n>>>>>>> other\n{line}"));
        let at = place(&repo, path, "<<<<<<<");
        found_everywhere(&repo, ("conflict-markers", &at, &["merge conflict", "delete the marker lines"]));
    }
}

#[test]
fn no_permission() {
    let repo = TestRepo::closed();
    let mode = |path: &str, mode: u32| {
        std::fs::set_permissions(repo.path().join(path), Permissions::from_mode(mode)).expect("permissions");
    };
    if is_root() {
        give_away(repo.path().parent().expect("a folder"));
    }
    let above = repo.path().parent().expect("a folder");
    let run = |arguments: &[&str]| {
        // From above, since nobody can start a program in a folder that nobody may enter.
        let mut program = repo.program(above, TODAY, arguments);
        program.args(["--project", "here"]);
        if is_root() {
            program.uid(OTHER).gid(OTHER);
        }
        Run::of(&mut program)
    };
    run(&["before", "leak-check"]).ended(0);
    let cases = [
        (REQUIREMENT, "unreadable-file", "cannot be read: Permission denied"),
        (RECORD, "unreadable-file", "cannot be read: Permission denied"),
        ("requirements", "unreadable-folder", "cannot be listed: Permission denied"),
        ("slipmark.toml", "unreadable-file", "cannot be read: Permission denied"),
    ];
    for (path, code, said) in cases {
        mode(path, 0);
        let check = run(&["check"]).ended(1);
        assert!(check.out.contains(&format!("{path}: fault [{code}]")) && check.out.contains(said), "{}", check.out);
        assert!(check.out.contains("do: give yourself permission to read it"), "{}", check.out);
        for command in READ.iter().filter(|command| judges(command)) {
            let run = run(command);
            assert!(run.code == 1 || (run.code == 2 && run.err.contains(path)), "{path}: {command:?}: {run:?}");
        }
        mode(path, 0o755);
    }
    mode(".git/HEAD", 0);
    assert!(run(&["before", "leak-check"]).ended(2).err.contains("error: "));
    mode(".git/HEAD", 0o644);
    mode(".", 0);
    let closed = run(&["before", "leak-check"]);
    assert_eq!(closed.code, 2, "{closed:?}");
    mode(".", 0o755);
    run(&["before", "leak-check"]).ended(0);
    cannot_write(&repo, &run, &mode);
}

/// Writing commands in a folder that takes no files: refused, and nothing is lost or left behind.
fn cannot_write(repo: &TestRepo, run: &dyn Fn(&[&str]) -> Run, mode: &dyn Fn(&str, u32)) {
    repo.replace(RECORD, "3.1 ± 0.4", "3.2 ± 0.4");
    if is_root() {
        give_away(repo.path());
    }
    let before = repo.read(RECORD);
    for folder in ["records", "items", "."] {
        mode(folder, 0o555);
    }
    for command in [
        &["sign", "TR-001", "--by", "test conductor", "--because", "typing error"][..],
        &["new", "test", "--for", "R-001"],
        &["new", "item"],
        &["new", "decision"],
        &["packet", "leak-check", "-o", "here/packet.html"],
    ] {
        let run = run(command).ended(2);
        assert!(
            run.err.contains("cannot write") && run.err.contains("give yourself permission"),
            "{command:?}: {}",
            run.err
        );
    }
    let other = |arguments: &[&str]| {
        let mut program = repo.program(repo.path(), TODAY, arguments);
        if is_root() {
            program.uid(OTHER).gid(OTHER);
        }
        Run::of(&mut program)
    };
    for command in [&["init", "inner"][..], &["demo", "inner"], &["packet", "leak-check"]] {
        assert!(other(command).ended(2).err.contains("cannot write"), "{command:?}");
    }
    for folder in [".", "items", "records"] {
        mode(folder, 0o755);
    }
    assert_eq!(repo.read(RECORD), before);
    let mut names: Vec<_> =
        repo.path().read_dir().expect("a folder").flatten().map(|entry| entry.file_name()).collect();
    names.sort();
    assert_eq!(names, [".git", "items", "procedures", "records", "requirements", "slipmark.toml"]);
}

/// What a project file that is not read lacks is not told: it would hide why.
#[test]
fn a_project_file_that_is_a_symlink() {
    let repo = TestRepo::closed();
    let file = repo.path().join("slipmark.toml");
    std::fs::rename(&file, repo.path().join("real.toml")).expect("a file");
    symlink("real.toml", &file).expect("a link");
    repo.commit("Link it");
    for more in [&[][..], &["--at", "HEAD"]] {
        let check = repo.run(&[&["check"], more].concat()).ended(1).out;
        assert!(check.contains("slipmark.toml: fault [unreadable-file]"), "{check}");
        assert!(!check.contains("missing-key") && !check.contains("no-events"), "{check}");
        let before = repo.run(&[&["before", "hot-fire"], more].concat()).ended(2).err;
        assert!(before.contains("mend what may hide it: slipmark.toml cannot be read: it is a symlink"), "{before}");
    }
}

#[test]
fn symlinks_that_lead_out_of_the_project() {
    let repo = TestRepo::closed();
    let outside = repo.path().with_file_name("outside");
    std::fs::create_dir(&outside).expect("a folder");
    std::fs::copy(repo.path().join(RECORD), outside.join("TR-009.md")).expect("a file");
    std::fs::write(outside.join("secret.csv"), "t [s]\n1\n").expect("a file");
    symlink(outside.join("TR-009.md"), repo.path().join("records/TR-009.md")).expect("a link");
    found_everywhere(&repo, ("symlinked-markdown", "records/TR-009.md", &["is not read", "put the file itself there"]));
    symlink(&outside, repo.path().join("more")).expect("a link");
    found(&repo, ("symlinked-folder", "more", &["whose files are not read", "put the files themselves there"]), &[]);
    std::fs::remove_file(repo.path().join("more")).expect("a link");
    // Evidence that rests on what lies outside is void, and what lies there is not shown.
    for file in ["link.csv", "../../outside/secret.csv", "/etc/passwd", "folder/secret.csv"] {
        let _ = std::fs::remove_file(repo.path().join("records/link.csv"));
        symlink(outside.join("secret.csv"), repo.path().join("records/link.csv")).expect("a link");
        let _ = symlink(&outside, repo.path().join("records/folder"));
        let text = repo.read(RECORD).replace("\n+++\n", &format!("\n\n[[data]]\nfile = \"{file}\"\n+++\n"));
        repo.write(RECORD, &text);
        for more in [&[][..], &["--at", "HEAD"]] {
            for (command, run) in ask_all(&repo, repo.path(), more) {
                let open = judges(command) && command.first() != Some(&"check");
                assert!(!open || run.code == 1, "{file}: {command:?} {more:?}: {run:?}");
                assert!(!run.out.contains("root:x:"), "{command:?}");
            }
            repo.git(&["add", "--all"]);
            repo.git(&["commit", "--quiet", "--allow-empty", "-m", "Break it"]);
        }
        let refused = repo.run(&["sign", "TR-001", "--by", "x", "--because", "y"]).ended(2);
        assert!(refused.err.contains(file), "{file}: {}", refused.err);
        repo.git(&["reset", "--quiet", "--hard", "review"]);
        repo.git(&["clean", "-ffdq"]);
    }
}

#[test]
fn fifty_megabytes_of_front_matter() {
    let repo = TestRepo::closed();
    let line = "# a comment that says nothing at all, over and over again, for as long as it takes\n";
    let long = line.repeat(50 * 1024 * 1024 / line.len() + 1);
    let own = repo.read(REQUIREMENT);
    repo.write(REQUIREMENT, &own.replacen("+++\n", &format!("+++\n{long}"), 1));
    found_everywhere(&repo, ("file-too-large", REQUIREMENT, &["bytes, more than is read of one file", "split it"]));
    let settings = repo.read("slipmark.toml");
    repo.write("slipmark.toml", &format!("{settings}{long}"));
    found_everywhere(&repo, ("file-too-large", "slipmark.toml", &["bytes, more than is read of one file"]));
}

/// Less than the bound, and deep: nothing that recurses may run out of stack.
#[test]
fn depth_without_end() {
    let repo = TestRepo::closed();
    let deep = |open: &str, close: &str| format!("{}{}", open.repeat(100_000), close.repeat(100_000));
    let cases = [
        (REQUIREMENT, "max = \"10 mL/min\"", format!("max = {}", deep("[", "]"))),
        (REQUIREMENT, "max = \"10 mL/min\"", format!("max = {}1{}", "{a=".repeat(100_000), "}".repeat(100_000))),
        (REQUIREMENT, "max = \"10 mL/min\"", format!("max{} = 1", ".a".repeat(100_000))),
        (REQUIREMENT, "max = \"10 mL/min\"", format!("max = \"{}\"", deep("(1 * ", ")"))),
        (REQUIREMENT, "max = \"10 mL/min\"", format!("max = \"{}1 mL/min\"", "-".repeat(100_000))),
        (REQUIREMENT, "max = \"10 mL/min\"", format!("max = \"1{} mL/min\"", " * 1".repeat(100_000))),
        (REQUIREMENT, "max = \"10 mL/min\"", format!("max = \"10 {}\"", deep("(mL", ")"))),
        (REQUIREMENT, "The valve", format!("{} The valve", "> ".repeat(100_000))),
        (REQUIREMENT, "The valve", format!("{} The valve", "- ".repeat(100_000))),
        (REQUIREMENT, "The valve", format!("{} The valve", "*a ".repeat(100_000))),
        (REQUIREMENT, "The valve", format!("{} The valve", "[".repeat(100_000))),
        (RECORD, "3.1 ± 0.4 mL/min", deep("(", ")")),
        (RECORD, "3.1 ± 0.4 mL/min", format!("1e{}", "9".repeat(100_000))),
        (RECORD, "3.1 ± 0.4 mL/min", "9".repeat(100_000)),
        (RECORD, "3.1 ± 0.4 mL/min", "1e999999999 mL/min".to_string()),
        ("slipmark.toml", "events = [", format!("events = {}", "[".repeat(100_000))),
    ];
    for (path, old, new) in cases {
        repo.replace(path, old, &new);
        let start = new.chars().take(30).collect::<String>();
        // A statement says the same however deep it is quoted.
        let harmless = start.starts_with("> ") || start.starts_with("- ");
        for command in [&["before", "leak-check"][..], &["check", "--notes"], &["packet", "leak-check", "-o", "-"]] {
            let run = repo.run(command);
            let asked = command.first() == Some(&"before") && !harmless;
            assert!((0..=2).contains(&run.code) && (run.code != 0 || !asked), "{start}: {command:?}: {run:?}");
        }
        repo.git(&["checkout", "--quiet", "--", "."]);
    }
}

// ---- files that say what cannot be -----------------------------------------------------------------------------------

#[test]
fn two_files_with_one_id() {
    let repo = TestRepo::closed();
    let text = repo.read(REQUIREMENT);
    repo.write("requirements/other.md", &text);
    let at = place(&repo, "requirements/other.md", "\"R-001\"");
    found_everywhere(&repo, ("duplicate-id", &at, &["R-001", "give one of them another id"]));
    repo.write("requirements/other.md", &text.replace("\"R-001\"", "\"r-001\""));
    let at = place(&repo, "requirements/other.md", "\"r-001\"");
    found_everywhere(&repo, ("id-case-clash", &at, &["r-001", "R-001"]));
}

#[test]
fn dates_that_do_not_exist() {
    let repo = TestRepo::closed();
    let cases = [
        ("date = 2026-06-16", "date = 2026-02-30", "2026-02-30"),
        ("date = 2026-06-16", "date = \"2026-02-30\"", "\"2026-02-30\""),
        ("date = 2026-06-16", "date = 2026-13-01", "2026-13-01"),
        ("date = 2026-06-16", "date = 2026-06-16T25:00:00", "2026-06-16T25:00:00"),
        ("date = 2026-06-16", "date = 0000-00-00", "0000-00-00"),
        ("date = 2026-06-16", "date = soon", "soon"),
    ];
    for (old, new, part) in cases {
        repo.replace(RECORD, old, new);
        let check = repo.run(&["check", "--format", "json"]).ended(1).json();
        let line: u64 = place(&repo, RECORD, part).rsplit(':').nth(1).expect("a line").parse().expect("a number");
        let findings = check["findings"].as_array().expect("findings");
        let own = findings.iter().find(|it| it["class"] == "fault" && it["path"] == RECORD && it["line"] == line);
        let own = own.unwrap_or_else(|| panic!("{new}: {findings:#?}"));
        assert!(own["help"].as_str().is_some_and(|help| !help.is_empty()), "{new}: {own}");
        for (command, run) in ask_all(&repo, repo.path(), &[]) {
            assert!(!judges(command) || run.code == 1, "{new}: {command:?}: {run:?}");
        }
        repo.git(&["checkout", "--quiet", "--", "."]);
    }
    for day in ["2026-02-30", "soon", "", "99999-01-01"] {
        let run = Run::of(&mut repo.program(repo.path(), day, &["before", "leak-check"])).ended(2);
        assert!(run.err.contains("write it as 2026-03-14"), "{day}: {}", run.err);
    }
}

/// One fault that says what to write, in place of two about TOML.
#[test]
fn dates_of_another_form() {
    let repo = TestRepo::closed();
    for (new, said) in [
        ("02.07.2026", "write it as year-month-day: 2026-07-02 if day.month.year is meant"),
        ("2.7.2026", "2026-07-02 if day.month.year is meant"),
        ("02/07/2026", "2026-07-02 if day/month/year is meant, 2026-02-07 if month/day/year is meant"),
        ("31-12-2026  # the last", "write it as year-month-day: 2026-12-31 if day-month-year is meant"),
        ("31.02.2026", "write a day that exists"),
    ] {
        repo.replace(RECORD, "date = 2026-06-16", &format!("date = {new}"));
        let check = repo.run(&["check", "--format", "json"]).ended(1).json();
        let findings = check["findings"].as_array().expect("findings").iter();
        let own: Vec<_> = findings.filter(|it| it["class"] == "fault" && it["path"] == RECORD).collect();
        assert_eq!(own[0]["code"], "no-such-date", "{new}: {own:#?}");
        assert!(own[0]["help"].as_str().is_some_and(|help| help.contains(said)), "{new}: {own:#?}");
        assert!(own.iter().all(|it| it["code"] != "bad-toml"), "{new}: {own:#?}");
        repo.git(&["checkout", "--quiet", "--", "."]);
    }
}

/// Of keys that may be left out, too: whoever misspells one is told the right one.
#[test]
fn every_key_of_a_table_is_offered() {
    let repo = TestRepo::closed();
    repo.write("departures/NC-001.md", "+++\nkind = \"nonconformance\"\nid = \"NC-001\"\ntitle = \"Dent\"\ndate = 2026-06-16\nagainst = \"VALVE\"\nrequirments = [\"R-001\"]\n+++\n");
    repo.replace("requirements/R-001.md", "method = \"test\"", "criterai = [\"leakage\"]\nmethod = \"test\"");
    repo.replace(
        "items/VALVE.md",
        "number = \"SN01\"",
        "number = \"SN01\"\nreworked = [{ date = 2026-06-01, reason = \"lapped\", afects = [\"R-001\"] }]",
    );
    let project = repo.read("slipmark.toml");
    repo.write("slipmark.toml", &format!("{project}\n[[roles]]\nsafety = true\nwitnesed_by = [\"x\"]\n"));
    let told = repo.run(&["check"]).ended(1).out;
    for key in ["requirements", "criteria", "affects", "witnessed_by"] {
        assert!(told.contains(&format!("did you mean `{key}`?")), "{key}: {told}");
    }
}

/// What is quoted in advice can be typed as it stands.
#[test]
fn a_decimal_comma_keeps_its_unit() {
    let repo = TestRepo::closed();
    for (written, said) in [
        ("9,5 mL/min", "write `9.5 mL/min`"),
        ("1,320 mL/min", "write `1.320 mL/min` or `1320 mL/min`, whichever is meant"),
        ("2 * 4,75 mL/min", "write `2 * 4.75 mL/min`"),
    ] {
        repo.replace(REQUIREMENT, "max = \"10 mL/min\"", &format!("max = \"{written}\""));
        let told = repo.run(&["check"]).ended(1).out;
        assert!(told.contains(said), "{written}: {told}");
        repo.git(&["checkout", "--quiet", "--", "."]);
    }
    repo.replace(RECORD, "\"3.1 ± 0.4 mL/min\"", "\"3,1 ± 0,4 mL/min\"");
    let told = repo.run(&["check"]).ended(1).out;
    assert!(told.contains("write `3.1 ± 0.4 mL/min`"), "{told}");
}

/// Once, though two limits are made of it; and what is said is about the tolerance.
#[test]
fn a_tolerance_with_a_sign() {
    let repo = TestRepo::closed();
    for (sign, width) in [("± ", "4 mL/min"), ("+/-", "4 mL/min")] {
        let limits = format!("equals = \"6 mL/min\"\ntolerance = \"{sign}{width}\"");
        repo.replace(REQUIREMENT, "max = \"10 mL/min\"", &limits);
        let told = repo.run(&["check"]).ended(1).out;
        assert_eq!(told.matches("fault [").count(), 1, "{told}");
        assert!(told.contains("write tolerance = \"4 mL/min\""), "{told}");
        repo.git(&["checkout", "--quiet", "--", "."]);
    }
}

#[test]
fn a_procedure_that_is_not_written_yet() {
    let repo = TestRepo::closed();
    repo.replace(REQUIREMENT, "procedure = \"TP-01\"", "procedure = \"TP-02\"");
    let told = repo.run(&["check"]).ended(1).out;
    assert!(told.contains("did you mean `TP-01`? If it is a new one: slipmark new procedure TP-02"), "{told}");
    assert_eq!(repo.run(&["new", "procedure", "TP-02"]).ended(0).out, "procedures/TP-02.md\n");
}

/// A slip of the pen does not take the cautions away unseen; another hazard is nobody's slip.
#[test]
fn hazards_that_are_not_known() {
    let repo = TestRepo::closed();
    let hazards = |list: &str| {
        repo.replace("items/VALVE.md", "# hazards", &format!("hazards = [{list}]\n# hazards"));
        let told = repo.run(&["check"]).ended(0).out;
        repo.git(&["checkout", "--quiet", "--", "."]);
        told
    };
    let told = hazards("\"presure\", \"stored energy\"");
    assert!(told.contains("did you mean `pressure`?") && told.contains("did you mean `stored-energy`?"), "{told}");
    assert!(!hazards("\"oxygen\", \"laser\"").contains("unknown-hazard"));
}

#[test]
fn not_a_number() {
    let repo = TestRepo::closed();
    let cases = [
        (REQUIREMENT, "max = \"10 mL/min\"", "max = nan"),
        (REQUIREMENT, "max = \"10 mL/min\"", "max = -inf"),
        (REQUIREMENT, "max = \"10 mL/min\"", "max = \"NaN\""),
        (REQUIREMENT, "max = \"10 mL/min\"", "max = \"NaN mL/min\""),
        (REQUIREMENT, "max = \"10 mL/min\"", "max = \"1 / 0\""),
        (RECORD, "\"3.1 ± 0.4 mL/min\"", "nan"),
        (RECORD, "\"3.1 ± 0.4 mL/min\"", "\"NaN\""),
        (RECORD, "\"3.1 ± 0.4 mL/min\"", "\"NaN ± NaN mL/min\""),
        (RECORD, "\"3.1 ± 0.4 mL/min\"", "\"3.1 ± nan mL/min\""),
        (RECORD, "\"3.1 ± 0.4 mL/min\"", "\"-inf mL/min\""),
        ("slipmark.toml", "rule = \"guarded\"", "rule = \"guarded\"\nprobability = nan"),
    ];
    for (path, old, new) in cases {
        repo.replace(path, old, new);
        let check = repo.run(&["check", "--format", "json"]).ended(1).json();
        let findings = check["findings"].as_array().expect("findings");
        let own = findings.iter().find(|it| it["class"] == "fault" && it["path"] == path && it["line"].is_u64());
        let own = own.unwrap_or_else(|| panic!("{new}: {findings:#?}"));
        assert!(own["help"].as_str().is_some_and(|help| !help.is_empty()), "{new}: {own}");
        for (command, run) in ask_all(&repo, repo.path(), &[]) {
            assert!(!judges(command) || run.code == 1, "{new}: {command:?}: {run:?}");
            assert!(!(command.contains(&"json") && run.out.contains("NaN,")), "{new}: {}", run.out);
        }
        repo.git(&["checkout", "--quiet", "--", "."]);
    }
}

#[test]
fn units_that_do_not_match() {
    let repo = TestRepo::closed();
    for new in ["3.1 ± 0.4 kg", "3.1 ± 0.4", "3.1 ± 0.4 mL", "3.1 ± 0.4 mL/min gauge"] {
        repo.replace(RECORD, "3.1 ± 0.4 mL/min", new);
        let at = place(&repo, RECORD, &format!("\"{new}\""));
        let check = repo.run(&["check"]).ended(1).out;
        assert!(check.contains(&format!("{at}: fault [")), "{new}: {check}");
        repo.git(&["checkout", "--quiet", "--", "."]);
    }
    repo.replace(RECORD, "3.1 ± 0.4 mL/min", "3.1 ± 0.4 kg");
    let at = place(&repo, RECORD, "\"3.1 ± 0.4 kg\"");
    found_everywhere(&repo, ("units-do-not-match", &at, &["kg", "mL/min"]));
}

#[test]
fn parents_in_a_cycle() {
    let repo = TestRepo::closed();
    let text = repo.read(REQUIREMENT);
    let with = |parent: &str| format!("parents = [\"{parent}\"]");
    let source = "source = \"an example: put your own in its place\"";
    repo.write(REQUIREMENT, &text.replace(source, &with("R-002")));
    repo.write(
        "requirements/R-002.md",
        &text.replace(source, &with("R-001")).replace("id = \"R-001\"", "id = \"R-002\""),
    );
    let at = place(&repo, REQUIREMENT, "\"R-002\"");
    found_everywhere(&repo, ("parent-cycle", &at, &["R-001", "R-002"]));
    repo.write(REQUIREMENT, &text.replace(source, &with("R-001")));
    let at = place(&repo, REQUIREMENT, "\"R-001\"]");
    found_everywhere(&repo, ("parent-cycle", &at, &["R-001"]));
}

// ---- names that nothing has ------------------------------------------------------------------------------------------

#[test]
fn unknown_names_offer_near_ones() {
    let repo = TestRepo::closed();
    let cases: &[(&[&str], &[&str])] = &[
        (&["before", "leak-chek"], &["no event is called `leak-chek`", "did you mean `leak-check`?"]),
        (&["before", "nothing-like-it"], &["known: leak-check, first-run"]),
        (&["before", ""], &["no event is called ``", "known: leak-check"]),
        (&["packet", "leak-chek", "-o", "-"], &["did you mean `leak-check`?"]),
        (&["before", "leak-check", "--at", "revew"], &["no commit `revew`", "did you mean `review`?"]),
        (&["matrix", "--at", "0123456789abcdef"], &["no commit `0123456789abcdef`", "git log --oneline"]),
        (&["matrix", "--at", ""], &["no commit ``"]),
        (&["matrix", "--at", "HEAD:slipmark.toml"], &["no commit"]),
        (&["matrix", "--at", "HEAD~99"], &["no commit `HEAD~99`"]),
        (&["changes", "revew..HEAD"], &["did you mean `review`?"]),
        (&["changes", "review..HAED"], &["no commit `HAED`"]),
        (&["changes", "review...HEAD"], &["three dots", "write A..B"]),
        (&["changes", "--since", "revew"], &["did you mean `review`?"]),
        (&["changes", "--since", "2026-02-30"], &["2026-02-30"]),
        (&["show", "R-01"], &["nothing has the id `R-01`", "did you mean `R-001`?"]),
        (&["show", ""], &["nothing has the id ``"]),
        (&["history", "R-01"], &["nothing has or had the id `R-01`", "did you mean `R-001`?"]),
        (&["explain", "sliped"], &["did you mean `slipped`?"]),
        (&["sign", "TR-01", "--by", "x"], &["did you mean `TR-001`?"]),
        (&["mark", "TR-01", "--by", "x", "--because", "x"], &["did you mean `TR-001`?"]),
        (&["new", "tset"], &["did you mean `test`?"]),
        (&["befor", "leak-check"], &["before"]),
    ];
    for (command, said) in cases {
        let run = repo.run(command).ended(2);
        assert!(run.out.is_empty(), "{command:?}: {}", run.out);
        for words in *said {
            assert!(run.err.contains(words), "{command:?}: {words} is not in {}", run.err);
        }
    }
}

#[test]
fn a_name_that_a_fault_hides_leads_to_the_fault() {
    let repo = TestRepo::closed();
    repo.replace(REQUIREMENT, "id = \"R-001\"", "id \"R-001\"");
    let at = place(&repo, REQUIREMENT, "\"R-001\"");
    for command in [&["show", "R-001"][..], &["new", "test", "--for", "R-001"]] {
        let run = repo.run(command).ended(2);
        assert!(run.err.contains(&format!("mend what may hide it: {at}: ")), "{command:?}: {}", run.err);
    }
    repo.git(&["checkout", "--quiet", "--", "."]);
    repo.replace("slipmark.toml", "events = [", "evnets = [");
    for command in [&["before", "leak-check"][..], &[], &["packet", "leak-check", "-o", "-"]] {
        let run = repo.run(command).ended(2);
        assert!(run.err.contains("mend what may hide it: slipmark.toml:5:1: "), "{command:?}: {}", run.err);
    }
}

// ---- where the answer goes -------------------------------------------------------------------------------------------

#[test]
fn output_that_is_there_already() {
    let repo = TestRepo::closed();
    repo.write("packet.html", "mine");
    let run = repo.run(&["packet", "leak-check", "-o", "packet.html"]).ended(2);
    assert!(run.err.contains("exists and is no packet") && run.err.contains("--force"), "{}", run.err);
    assert_eq!(repo.read("packet.html"), "mine");
    repo.run(&["packet", "leak-check", "-o", "packet.html", "--force"]).ended(0);
    assert!(repo.run(&["new", "test", "TR-001"]).ended(2).err.contains("TR-001 exists already: records/TR-001.md"));
    let other = TestRepo::folder();
    other.write("items/VALVE.md", "mine");
    let run = other.run(&["init"]).ended(2);
    assert!(run.err.contains("items/VALVE.md exists already"), "{}", run.err);
    assert!(!other.path().join(".git").exists(), "nothing was written");
}

#[test]
fn output_that_cannot_be_written() {
    let repo = TestRepo::closed();
    for place in ["gone/packet.html", "records", "slipmark.toml/packet.html", "/dev/full"] {
        let run = repo.run(&["packet", "leak-check", "-o", place]).ended(2);
        assert!(run.out.is_empty() && run.err.contains(place) && run.err.contains("do: "), "{place}: {run:?}");
        assert!(!run.err.contains(".part"), "{}", run.err);
    }
    let missing = repo.run(&["packet", "leak-check", "-o", "gone/packet.html"]).ended(2).err;
    assert!(missing.contains("there is no folder gone\n  do: make it: mkdir -p gone"), "{missing}");
    assert_eq!(repo.changed(), Vec::<String>::new());
    let Ok(full) = File::options().write(true).open("/dev/full") else {
        skipped("there is no /dev/full here");
        return;
    };
    let help: &[&str] = &["--help"];
    for command in READ.iter().chain([&help]) {
        let mut program = repo.program(repo.path(), TODAY, command);
        let run = Run::into(&mut program, full.try_clone().expect("another handle")).ended(2);
        assert!(run.err.contains("cannot write the output: No space left on device"), "{command:?}: {}", run.err);
        assert!(run.err.contains("do: "), "{}", run.err);
    }
    // Where even that cannot be said, the exit code still is.
    let mut program = repo.program(repo.path(), TODAY, &["before", "leak-check"]);
    program.stdout(full.try_clone().expect("another handle")).stderr(full.try_clone().expect("another handle"));
    assert_eq!(program.status().expect("it runs").code(), Some(2));
    let mut program = repo.program(repo.path(), TODAY, &["before", "nothing"]);
    assert_eq!(program.stderr(full).status().expect("it runs").code(), Some(2));
}

#[test]
fn a_pipe_that_is_closed() {
    let repo = TestRepo::demo();
    for command in [
        &["matrix"][..],
        &["matrix", "--format", "json"],
        &["before", "hot-fire"],
        &["before", "hot-fire", "--format", "csv"],
        &["check"],
        &["changes", "PDR..HEAD"],
        &["explain"],
        &["packet", "hot-fire", "-o", "-"],
        &["--help"],
    ] {
        let whole = repo.run(command);
        let (reader, writer) = std::io::pipe().expect("a pipe");
        drop(reader);
        let closed = Run::into(&mut repo.program(repo.path(), TODAY, command), writer);
        assert_eq!((closed.code, closed.err.as_str()), (whole.code, ""), "{command:?}");
        // One that reads a line and goes away, as `head -1` does.
        let mut program = repo.program(repo.path(), TODAY, command);
        let mut child = program.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("it runs");
        let mut first = [0; 1];
        let mut out = child.stdout.take().expect("a pipe");
        out.read_exact(&mut first).expect("a byte");
        drop(out);
        let mut err = String::new();
        child.stderr.take().expect("a pipe").read_to_string(&mut err).expect("UTF-8");
        assert_eq!((child.wait().expect("it ends").code(), err.as_str()), (Some(whole.code), ""), "{command:?}");
    }
}

// ---- users -----------------------------------------------------------------------------------------------------------

/// Somebody who is not root.
const OTHER: u32 = 65534;

fn is_root() -> bool {
    use std::os::unix::fs::MetadataExt;
    let folder = tempfile::tempdir().expect("a folder");
    folder.path().metadata().expect("its owner").uid() == 0
}

/// Makes somebody else the owner of a folder and of all that is in it.
fn give_away(folder: &Path) {
    for entry in folder.read_dir().expect("a folder").flatten() {
        let path = entry.path();
        if entry.file_type().expect("a sort of entry").is_dir() {
            give_away(&path);
        } else {
            std::os::unix::fs::lchown(&path, Some(OTHER), Some(OTHER)).expect("root may");
        }
    }
    std::os::unix::fs::lchown(folder, Some(OTHER), Some(OTHER)).expect("root may");
}
