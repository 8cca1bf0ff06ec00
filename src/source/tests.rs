//! The three sources against each other, and the work tree against the git program.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::*;
use crate::git::Oid;
use crate::git::fixture::Fixture;

const PROJECT: &str = "name = \"Marram Point\"\n";

fn limits() -> Limits {
    Limits::default()
}

fn work_tree(fixture: &Fixture, prefix: &str) -> WorkTree {
    WorkTree::open(&fixture.path().join(prefix)).unwrap()
}

fn snapshot(fixture: &Fixture) -> Snapshot {
    work_tree(fixture, "").snapshot(&limits()).unwrap()
}

fn revision(fixture: &Fixture, prefix: &str, oid: Oid) -> Revision {
    Revision::open(Arc::new(fixture.repo()), oid, prefix).unwrap()
}

fn uncommitted(snapshot: &Snapshot) -> usize {
    match snapshot.origin {
        Origin::WorkTree { uncommitted, .. } => uncommitted,
        ref other => panic!("{other:?}"),
    }
}

fn files(snapshot: &Snapshot) -> Vec<&str> {
    snapshot.files.iter().map(|file| file.path.as_str()).collect()
}

fn others(snapshot: &Snapshot) -> Vec<&str> {
    snapshot.others.iter().map(|file| file.path.as_str()).collect()
}

fn problems(snapshot: &Snapshot) -> Vec<String> {
    snapshot.problems.iter().map(|problem| format!("{} {}", problem.code(), problem.path())).collect()
}

fn path(text: &str) -> RepoPath {
    RepoPath::new(text)
}

/// Paths that git says are changed, new or gone, each once.
fn status(fixture: &Fixture) -> BTreeSet<String> {
    let printed = fixture.git(&["status", "--porcelain", "-z", "--untracked-files=all", "--no-renames"]);
    printed.split('\0').filter(|line| !line.is_empty()).map(|line| line[3..].to_owned()).collect()
}

/// Files as they may be: line endings, byte order mark, other encodings, names, attachments.
const FIXTURE: [(&str, &[u8]); 13] = [
    ("slipmark.toml", PROJECT.as_bytes()),
    ("parameters.toml", b"[meop]\nvalue = \"3 MPa\"\n"),
    ("sub/parameters.toml", b"not at the top, so not the project's"),
    ("act.md", b"+++\nkind = \"requirement\"\n+++\nShall.\n"),
    ("crlf.md", b"+++\r\nkind = \"item\"\r\n+++\r\n"),
    ("bom.MD", b"\xef\xbb\xbf+++\nkind = \"item\"\n+++\n"),
    ("latin.md", b"+++\ntitle = \"caf\xe9\"\n"),
    ("empty.md", b""),
    (".hidden/note.md", b"plain"),
    ("a-b.md", b"before a/b.md in path order"),
    ("a/b.md", b"after a-b.md in path order"),
    ("data/run 1.csv", b"t,p\n0,1\n"),
    ("data/zé.bin", b"\x00\xff"),
];

#[test]
fn every_source_gives_the_same_snapshot() {
    let large = vec![b'x'; 5 << 20];
    for prefix in ["", "stand/reqs"] {
        let fixture = Fixture::new();
        let mut memory = Memory::new();
        for (path, bytes) in FIXTURE.iter().copied().chain([("large.md", large.as_slice())]) {
            fixture.write(format!("{prefix}/{path}").trim_start_matches('/'), bytes);
            memory = memory.file(path, bytes);
        }
        fixture.write("outside.txt", "beside the project, or in it");
        if prefix.is_empty() {
            memory = memory.file("outside.txt", "beside the project, or in it");
        }
        let oid = fixture.commit("one");
        let sources: [&dyn Source; 3] = [&memory, &work_tree(&fixture, prefix), &revision(&fixture, prefix, oid)];
        let [expected, disk, commit] = sources.map(|source| source.snapshot(&limits()).unwrap());
        assert_eq!(uncommitted(&disk), 0);
        assert!(matches!(&commit.origin, Origin::Commit { oid: at, summary, date }
            if *at == oid && summary == "one" && date.to_string() == "2026-03-14"));
        assert_eq!(expected.problems, []);
        for found in [disk, commit] {
            assert_eq!(Snapshot { origin: Origin::Memory, seen: None, ..found }, expected, "{prefix}");
        }
        for source in sources {
            let csv = path("data/run 1.csv");
            assert_eq!(source.read(&csv).unwrap(), b"t,p\n0,1\n");
            // sha256sum of the same bytes.
            let digest: String = source.sha256(&csv).unwrap().iter().map(|byte| format!("{byte:02x}")).collect();
            assert_eq!(digest, "18aa994cbc4978c2d315f1ea4bac119fd62f1860cef6f95faced28a994ab6d09");
            assert_eq!(source.project_file(&limits()).unwrap().text().map(|text| &**text), Some(PROJECT));
            for outside in ["../outside.txt", "/etc/passwd", "data/../../outside.txt", "none.csv", "data"] {
                assert!(source.read(&path(outside)).is_err() && source.sha256(&path(outside)).is_err(), "{outside}");
            }
        }
    }
}

#[test]
fn what_is_read_is_what_is_there() {
    let memory = FIXTURE.iter().fold(Memory::new(), |memory, (path, bytes)| memory.file(path, bytes));
    let snapshot = memory.file("large.md", vec![b'x'; 5 << 20]).snapshot(&limits()).unwrap();
    let content = |at: &str| &snapshot.file(&path(at)).unwrap().content;
    assert_eq!(content("crlf.md"), &Content::Text("+++\r\nkind = \"item\"\r\n+++\r\n".into()));
    assert!(content("bom.MD").text().unwrap().starts_with("\u{feff}+++"));
    assert_eq!(content("latin.md"), &Content::NotUtf8 { offset: 16 });
    assert_eq!(content("large.md"), &Content::TooLarge { bytes: 5 << 20 });
    assert!(snapshot.other(&path("sub/parameters.toml")).is_some() && snapshot.has(&path("data/run 1.csv")));
    let total = Limits { total_text_bytes: 10, ..limits() };
    assert_eq!(memory_of(3).snapshot(&total), Err(SourceError::TooMuchText { limit: 10 }));
    let few = memory_of(3).snapshot(&Limits { files: 2, ..limits() }).unwrap();
    assert_eq!((few.files.len(), problems(&few)), (2, vec!["too-many-files f1.md".to_owned()]));
}

fn memory_of(count: usize) -> Memory {
    (0..count).fold(Memory::new(), |memory, number| memory.file(&format!("f{number}.md"), "some text"))
}

#[test]
fn bounds_hold_for_every_source() {
    let fixture = Fixture::new();
    fixture.write("slipmark.toml", PROJECT);
    for number in 0..5 {
        fixture.write(&format!("deep/a/b/c/f{number}.md"), "some text");
    }
    let oid = fixture.commit("one");
    let sources: [&dyn Source; 2] = [&work_tree(&fixture, ""), &revision(&fixture, "", oid)];
    for source in sources {
        let shallow = source.snapshot(&Limits { depth: 3, ..limits() }).unwrap();
        assert_eq!(problems(&shallow), ["too-deep deep/a/b/c"]);
        let few = source.snapshot(&Limits { files: 3, ..limits() }).unwrap();
        assert_eq!(problems(&few).len(), 1, "{:?}", few.problems);
        assert!(matches!(few.problems[0], SourceProblem::TooManyFiles { limit: 3, .. }));
        let total = source.snapshot(&Limits { total_text_bytes: 20, ..limits() });
        assert_eq!(total, Err(SourceError::TooMuchText { limit: 20 }));
    }
}

#[test]
fn finding_a_project() {
    let fixture = Fixture::new();
    fixture.write("stand/slipmark.toml", PROJECT).write("stand/reqs/a.md", "a").write("drawings/d.txt", "d");
    let found = WorkTree::find(&fixture.path().join("stand/reqs")).unwrap();
    assert_eq!((found.root(), found.prefix()), (fixture.path().join("stand").as_path(), "stand"));
    assert_eq!(WorkTree::find(&fixture.path().join("stand/reqs/a.md")).unwrap().prefix(), "stand");
    match WorkTree::find(&fixture.path()) {
        Err(error @ SourceError::NoProject { .. }) => assert_eq!(error.help().as_deref(), Some("cd stand")),
        other => panic!("{other:?}"),
    }
    let elsewhere = WorkTree::find(&fixture.path().join("drawings"));
    assert!(matches!(elsewhere, Err(SourceError::NoProject { nearest, .. }) if nearest.is_empty()));
    let open = WorkTree::open(&fixture.path().join("stand/reqs"));
    assert!(matches!(open, Err(SourceError::NoProject { .. })));
    assert!(matches!(WorkTree::find(&fixture.path().join("nowhere")), Err(SourceError::Folder { .. })));
    let plain = tempfile::tempdir().unwrap();
    std::fs::write(plain.path().join("slipmark.toml"), PROJECT).unwrap();
    assert!(matches!(WorkTree::find(plain.path()), Err(SourceError::NotInGit { .. })));
    let oid = fixture.commit("one");
    let error = Revision::open(Arc::new(fixture.repo()), oid, "").unwrap_err();
    assert_eq!(error, SourceError::NoProjectInCommit { oid, prefix: String::new() });
}

#[test]
fn before_the_first_commit_everything_is_new() {
    let fixture = Fixture::new();
    fixture.write("slipmark.toml", PROJECT).write("a.md", "a").write("b.csv", "b");
    fixture.git(&["add", "a.md"]);
    let found = snapshot(&fixture);
    assert_eq!(found.origin, Origin::WorkTree { head: None, uncommitted: 3 });
    let tracked: Vec<bool> = found.files.iter().map(|file| file.tracked).collect();
    assert_eq!((files(&found), tracked), (vec!["a.md", "slipmark.toml"], vec![true, false]));
}

#[test]
fn uncommitted_is_what_git_status_says() {
    let fixture = Fixture::new();
    fixture.write("slipmark.toml", PROJECT).write(".gitignore", "*.log\n/build/\n!keep.log\n");
    for file in ["same.md", "edited.md", "staged.md", "gone.md", "removed.md", "d/moved.md", "x.csv", "y.csv"] {
        fixture.write(file, file);
    }
    fixture.commit("one");
    assert_eq!((uncommitted(&snapshot(&fixture)), status(&fixture).len()), (0, 0));
    fixture
        .write("edited.md", "EDITED.md")
        .write("staged.md", "new text")
        .write("new/a/b.md", "n")
        .write("new.csv", "n");
    fixture.write("run.log", "ignored").write("build/x.md", "ignored").write("keep.log", "not ignored");
    fixture.git(&["add", "staged.md", "new.csv"]);
    std::fs::remove_file(fixture.path().join("gone.md")).unwrap();
    fixture.git(&["rm", "--quiet", "removed.md"]);
    fixture.git(&["mv", "d/moved.md", "e.md"]);
    fixture.write("y.csv", "y.csV");
    let found = snapshot(&fixture);
    let expected = status(&fixture);
    assert_eq!(uncommitted(&found), expected.len(), "{expected:?}");
    assert_eq!(expected.len(), 10);
    assert!(!others(&found).contains(&"run.log") && others(&found).contains(&"keep.log"));
    assert_eq!(problems(&found), Vec::<String>::new());
    // Touched, and the same.
    fixture.commit("two");
    for file in ["same.md", "x.csv"] {
        fixture.write(file, file);
    }
    assert_eq!(uncommitted(&snapshot(&fixture)), 0);
}

#[cfg(unix)]
#[test]
fn the_executable_bit_and_the_kind_of_file_count() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let fixture = Fixture::new();
    fixture.write("slipmark.toml", PROJECT).write("run.sh", "x").write("a.txt", "b.txt").write("b.txt", "b");
    fixture.commit("one");
    let root = fixture.path();
    std::fs::set_permissions(root.join("run.sh"), std::fs::Permissions::from_mode(0o755)).unwrap();
    std::fs::remove_file(root.join("a.txt")).unwrap();
    symlink("b.txt", root.join("a.txt")).unwrap();
    assert_eq!((uncommitted(&snapshot(&fixture)), status(&fixture).len()), (2, 2));
    fixture.commit("two");
    assert_eq!((uncommitted(&snapshot(&fixture)), status(&fixture).len()), (0, 0));
}

#[test]
fn a_change_of_the_same_size_within_a_tick_is_seen() {
    let fixture = Fixture::new();
    fixture.write("slipmark.toml", PROJECT).write("a.md", "min = 1");
    fixture.commit("one");
    for round in 0..20 {
        let text = format!("min = {}", round % 2 + 2);
        fixture.write("a.md", &text);
        let found = snapshot(&fixture);
        assert_eq!(uncommitted(&found), 1, "round {round}");
        assert_eq!(&**found.file(&path("a.md")).unwrap().content.text().unwrap(), text);
        assert_eq!(found.file(&path("a.md")).unwrap().blob, crate::git::blob_id(text.as_bytes()));
        fixture.write("a.md", "min = 1");
        assert_eq!(uncommitted(&snapshot(&fixture)), 0, "round {round}");
    }
}

#[test]
fn flags_that_tell_git_not_to_look_hide_nothing() {
    let fixture = Fixture::new();
    fixture.write("slipmark.toml", PROJECT);
    for file in ["assumed.md", "skipped.md", "absent.md", "data.csv", "same.md"] {
        fixture.write(file, file);
    }
    fixture.commit("one");
    fixture.git(&["update-index", "--assume-unchanged", "assumed.md", "same.md"]);
    fixture.git(&["update-index", "--skip-worktree", "skipped.md", "absent.md", "data.csv"]);
    fixture.write("assumed.md", "other").write("skipped.md", "other").write("data.csv", "other");
    std::fs::remove_file(fixture.path().join("absent.md")).unwrap();
    assert!(status(&fixture).is_empty(), "git itself is told not to look");
    let found = snapshot(&fixture);
    assert_eq!(uncommitted(&found), 3);
    assert_eq!(problems(&found), ["sparse-missing absent.md"]);
}

#[test]
fn sparse_checkout_is_said() {
    let fixture = Fixture::new();
    fixture.write("slipmark.toml", PROJECT).write("near/a.md", "a").write("far/b.md", "b").commit("one");
    fixture.git(&["sparse-checkout", "set", "--no-sparse-index", "near"]);
    let found = snapshot(&fixture);
    assert_eq!((problems(&found), uncommitted(&found)), (vec!["sparse-missing far/b.md".to_owned()], 0));
}

#[test]
fn ignored_is_skipped_unless_tracked_and_said_if_it_matters() {
    let fixture = Fixture::new();
    fixture.write("slipmark.toml", PROJECT).write(".gitignore", "/out/\n*.tmp.md\nsecret*\n");
    fixture.write("out/kept.md", "+++\ntracked").write("kept.tmp.md", "tracked too").write("out/deep/kept.csv", "1");
    fixture.commit("one");
    fixture.git(&["add", "--force", "out/kept.md", "kept.tmp.md", "out/deep/kept.csv"]);
    fixture.commit_index("two");
    fixture.write("out/forgotten.md", "+++\nkind = \"test\"\n").write("out/a/b/FORGOTTEN.MD", "\u{feff}+++\n");
    fixture.write("x.tmp.md", "+++\n").write("notes.tmp.md", "plain notes").write("out/plain.md", "plain");
    fixture.write("out/data.txt", "+++").write("secret.csv", "1");
    let found = snapshot(&fixture);
    assert_eq!(files(&found), ["kept.tmp.md", "out/kept.md", "slipmark.toml"]);
    assert_eq!(others(&found), [".gitignore", "out/deep/kept.csv"]);
    let expected = [
        "ignored-project-file out/a/b/FORGOTTEN.MD",
        "ignored-project-file out/forgotten.md",
        "ignored-project-file x.tmp.md",
    ];
    assert_eq!(problems(&found), expected);
    assert_eq!(uncommitted(&found), 0);
    let capped = work_tree(&fixture, "").snapshot(&Limits { ignored_entries: 3, ..limits() }).unwrap();
    assert!(problems(&capped).contains(&"too-many-ignored out".to_owned()), "{:?}", capped.problems);
}

#[test]
fn a_file_of_the_project_under_another_name_is_said_by_every_source() {
    let ours = "+++\nkind = \"nonconformance\"\nid = \"NC-1\"\n+++\n";
    let wide = ours.replace('k', "\0k\0");
    let misnamed = ["NC-1", "a/NC-1.Markdown", "a/NC-1.md.", "a/NC-1.md.txt", "a/b.mdx", "a/c.md\u{200b}", "utf16.txt"];
    let left_alone =
        [("NC-1.md.orig", ours), ("data.txt", "+++\nkinds\n"), ("notes.txt", "kind = \"test\"\n"), ("x.csv", ours)];
    let files = misnamed.map(|name| (name, if name.starts_with('u') { wide.as_str() } else { ours }));
    let (fixture, mut memory) = (Fixture::new(), Memory::new());
    for (name, text) in files.into_iter().chain(left_alone).chain([("slipmark.toml", PROJECT), ("NC-1.md", ours)]) {
        fixture.write(name, text);
        memory = memory.file(name, text);
    }
    let oid = fixture.commit("one");
    let sources: [&dyn Source; 3] = [&memory, &work_tree(&fixture, ""), &revision(&fixture, "", oid)];
    for found in sources.map(|source| source.snapshot(&limits()).unwrap()) {
        assert_eq!(problems(&found), misnamed.map(|name| format!("not-named-md {name}")));
        assert_eq!(others(&found), left_alone.map(|(name, _)| name));
    }
    // What git ignores, likewise.
    fixture.write(".gitignore", "hidden\n").write("hidden/NC-2.txt", ours).write("hidden/NC-3.md", "\n\n+++\n");
    let found = problems(&snapshot(&fixture));
    assert!(["NC-2.txt", "NC-3.md"].iter().all(|it| found.contains(&format!("ignored-project-file hidden/{it}"))));
}

#[test]
fn instruments_below_the_top_are_said_by_every_source() {
    let ours = "[PT-01]\nname = \"Gauge\"\n[[PT-01.calibrations]]\non = 2026-01-02\ndue = 2027-01-02\n";
    let left_alone = [("lab/a/instruments.toml", "violin = 2\n"), ("lab/gauges.toml", ours)];
    let (fixture, mut memory) = (Fixture::new(), Memory::new());
    let all = [("slipmark.toml", PROJECT), ("instruments.toml", ours), ("lab/Instruments.toml", ours)];
    for (name, text) in all.into_iter().chain(left_alone) {
        fixture.write(name, text);
        memory = memory.file(name, text);
    }
    let oid = fixture.commit("one");
    let sources: [&dyn Source; 3] = [&memory, &work_tree(&fixture, ""), &revision(&fixture, "", oid)];
    for found in sources.map(|source| source.snapshot(&limits()).unwrap()) {
        assert_eq!(problems(&found), ["instruments-elsewhere lab/Instruments.toml"]);
        assert_eq!(others(&found), left_alone.map(|(name, _)| name));
    }
}

#[test]
fn a_project_that_is_ignored_whole_is_said() {
    let fixture = Fixture::new();
    fixture.write(".gitignore", "scratch\n").write("scratch/p/slipmark.toml", PROJECT).write("scratch/p/a.md", "+++\n");
    let found = work_tree(&fixture, "scratch/p").snapshot(&limits()).unwrap();
    assert_eq!(files(&found), ["slipmark.toml"]);
    assert_eq!(problems(&found), ["ignored-project-file a.md", "ignored-project-file slipmark.toml"]);
}

#[test]
fn ignore_rules_are_those_of_git() {
    let fixture = Fixture::new();
    fixture.write("p/slipmark.toml", PROJECT);
    fixture.write(
        ".gitignore",
        "*.a\n!keep.a\n/p/top.b\nq/\n**/deep/*.c\np/x/**\n!p/x/y.d\ntrail \n\\#hash\n[ab].e\nfoo/bar\n",
    );
    fixture.write("p/.gitignore", "!again.a\n*.f\n/only.g\nsub/*.h\n").write("p/sub/.gitignore", "\u{feff}*.i\n!z.f\n");
    fixture.write(".git/info/exclude", "*.x\n!again.x\n").write("p/link.gitignore", "");
    let names = [
        "1.a",
        "keep.a",
        "again.a",
        "top.b",
        "sub/top.b",
        "q/1.md",
        "sub/q/1.md",
        "q2/q",
        "deep/1.c",
        "sub/deep/1.c",
        "deep/s/1.c",
        "x/y.d",
        "x/z/y.d",
        "trail",
        "#hash",
        "a.e",
        "c.e",
        "foo/bar",
        "sub/foo/bar",
        "1.f",
        "sub/z.f",
        "only.g",
        "sub/only.g",
        "sub/1.h",
        "sub/s/1.h",
        "1.i",
        "sub/1.i",
        "sub/s/1.i",
        "1.x",
        "again.x",
        "é.a",
        "é.f",
        "A.A",
    ];
    for name in names {
        fixture.write(&format!("p/{name}"), "text");
    }
    let found = work_tree(&fixture, "p").snapshot(&limits()).unwrap();
    let mut ours: Vec<&str> = files(&found).into_iter().chain(others(&found)).collect();
    ours.sort_unstable();
    let printed = fixture.git(&["ls-files", "-z", "--others", "--exclude-standard", "p"]);
    let mut theirs: Vec<&str> = printed.split('\0').filter_map(|path| path.strip_prefix("p/")).collect();
    theirs.sort_unstable();
    assert_eq!(ours, theirs);
    assert!(ours.len() > 10 && ours.len() < names.len());
}

#[test]
fn converted_line_endings_are_no_change() {
    let fixture = Fixture::new();
    fixture.write("slipmark.toml", PROJECT).write(".gitattributes", "* text=auto\n").write("bin.md", "a\rb");
    fixture.write("a.md", "one\ntwo\n").write("b.md", "one\n").commit("one");
    fixture.write("a.md", "one\r\ntwo\r\n").write("b.md", "one\r\nmore\r\n");
    let found = snapshot(&fixture);
    // git's own status takes a.md for changed too, unless the index was written in the same tick as the file: it looks at
    // sizes first. What `git add` would store has the last word.
    assert_eq!(uncommitted(&found), 1);
    let stored = fixture.git(&["hash-object", "--path=a.md", "a.md"]);
    assert_eq!(stored.trim(), fixture.git(&["rev-parse", "HEAD:a.md"]).trim());
    // After `git add`, the index remembers the stat of bytes that are not the blob's.
    fixture.git(&["add", "--all"]);
    let found = snapshot(&fixture);
    let file = found.file(&path("a.md")).unwrap();
    assert!(file.blob.is_none_or(|blob| Some(blob) == crate::git::blob_id(b"one\r\ntwo\r\n")), "{file:?}");
}

#[test]
fn nested_projects_count_only_if_listed() {
    let fixture = Fixture::new();
    fixture.write("slipmark.toml", PROJECT).write("a.md", "a").write("demo/slipmark.toml", PROJECT);
    fixture.write("demo/d.md", "d").write("demo/inner/slipmark.toml", PROJECT).write("demos/e.md", "e");
    fixture.write("records/r.md", "r");
    let oid = fixture.commit("one");
    fixture.write("demo/d.md", "changed, but not this project's");
    let mut memory = Memory::new();
    for file in [
        "slipmark.toml",
        "a.md",
        "demo/slipmark.toml",
        "demo/d.md",
        "demo/inner/slipmark.toml",
        "demos/e.md",
        "records/r.md",
    ] {
        memory = memory.file(file, "");
    }
    let sources: [&dyn Source; 3] = [&memory, &work_tree(&fixture, ""), &revision(&fixture, "", oid)];
    for source in sources {
        let found = source.snapshot(&limits()).unwrap();
        assert_eq!(problems(&found), ["nested-project demo"]);
        // A folder that is no project is read although somebody lists it: listing must not hide records.
        let listed = Limits { nested_allowed: vec!["./demo/".into(), "records".into()], ..limits() };
        let found = source.snapshot(&listed).unwrap();
        assert_eq!(problems(&found), Vec::<String>::new());
        assert_eq!(files(&found), ["a.md", "demos/e.md", "records/r.md", "slipmark.toml"]);
        if matches!(found.origin, Origin::WorkTree { .. }) {
            assert_eq!(uncommitted(&found), 0);
        }
    }
}

#[test]
fn ignored_projects_are_one_problem_and_other_repositories_none() {
    let fixture = Fixture::new();
    fixture.write("slipmark.toml", PROJECT).write(".gitignore", "target/\nslipmark-demo/\n").commit("one");
    fixture.write("target/t/slipmark.toml", PROJECT).write("target/t/a.md", "+++\n").write("target/t/b.md", "+++\n");
    fixture.write("slipmark-demo/slipmark.toml", PROJECT).write("slipmark-demo/a.md", "+++\n");
    fixture
        .write("slipmark-demo/.git/HEAD", "")
        .write("target/clone/.git/HEAD", "")
        .write("target/clone/x.md", "+++\n");
    assert_eq!(problems(&snapshot(&fixture)), ["nested-project target/t"]);
}

#[test]
fn submodules_and_other_repositories_are_said() {
    let (inner, fixture) = (Fixture::new(), Fixture::new());
    inner.write("i.md", "+++\n").commit("inner");
    fixture.write("slipmark.toml", PROJECT).write("a.md", "a");
    fixture.git(&["submodule", "--quiet", "add", &inner.path().display().to_string(), "parts/valve"]);
    let oid = fixture.commit("one");
    fixture.write("own/n.md", "+++\n");
    crate::git::fixture::git_in(&fixture.path().join("own"), &["init", "--quiet"]);
    let found = snapshot(&fixture);
    assert_eq!(problems(&found), ["nested-repository own", "submodule parts/valve"]);
    assert_eq!((files(&found), uncommitted(&found)), (vec!["a.md", "slipmark.toml"], 0));
    let commit = revision(&fixture, "", oid).snapshot(&limits()).unwrap();
    assert_eq!(problems(&commit), ["submodule parts/valve"]);
    let listed = Limits { nested_allowed: vec!["parts/valve".into(), "own".into()], ..limits() };
    assert_eq!(work_tree(&fixture, "").snapshot(&listed).unwrap().problems, []);
    assert_eq!(revision(&fixture, "", oid).snapshot(&listed).unwrap().problems, []);
    // Not checked out, it is still there.
    std::fs::remove_dir_all(fixture.path().join("own")).unwrap();
    fixture.git(&["submodule", "--quiet", "deinit", "--force", "parts/valve"]);
    assert_eq!(problems(&snapshot(&fixture)), ["submodule parts/valve"]);
}

#[test]
fn paths_that_differ_only_in_case_clash() {
    let fixture = Fixture::new();
    fixture
        .write("slipmark.toml", PROJECT)
        .write("a/X.md", "1")
        .write("a/x.md", "2")
        .write("É.csv", "3")
        .write("é.csv", "4");
    let oid = fixture.commit("one");
    if std::fs::read(fixture.path().join("a/X.md")).unwrap() != b"1" {
        return; // This disk cannot make the case.
    }
    for source in [&work_tree(&fixture, "") as &dyn Source, &revision(&fixture, "", oid)] {
        let found = source.snapshot(&limits()).unwrap();
        let clash = |path: &str, other: &str| SourceProblem::CaseClash {
            path: RepoPath::new(path),
            other: RepoPath::new(other),
        };
        assert_eq!(found.problems, [clash("a/x.md", "a/X.md"), clash("é.csv", "É.csv")]);
    }
}

#[cfg(unix)]
mod unix {
    use std::os::unix::ffi::OsStrExt;
    use std::os::unix::fs::{PermissionsExt, symlink};
    use std::process::Command;

    use super::*;

    #[test]
    fn symlinks_are_followed_to_files_of_the_project_only() {
        let outside = tempfile::tempdir().unwrap();
        std::fs::write(outside.path().join("secret.csv"), "secret").unwrap();
        let fixture = Fixture::new();
        fixture
            .write("p/slipmark.toml", PROJECT)
            .write("p/data/a.csv", "1,2\n")
            .write("p/a.md", "a")
            .write("beside/b.csv", "b");
        let link = |target: &str, at: &str| symlink(target, fixture.path().join("p").join(at)).unwrap();
        link("data/a.csv", "good.csv");
        link("good.csv", "good2.csv");
        link("../good.csv", "data/up.csv");
        link("data", "folder");
        link("../beside", "beside");
        link("a.md", "alias.md");
        link("a.md", "disguised.txt");
        link("nowhere", "dangling.csv");
        link("loop.csv", "loop.csv");
        link("../beside/b.csv", "out.csv");
        link(&outside.path().join("secret.csv").display().to_string(), "far.csv");
        link("/dev/zero", "zero.csv");
        link("../.git/config", "git.csv");
        link("folder/a.csv", "through.csv");
        link("data/a.csv", "parameters.toml");
        let oid = fixture.commit("one");
        // Somebody is editing that file, which is none of git's business.
        link("engineer@bench.1234:1", ".#a.md");
        let sources: [&dyn Source; 2] = [&work_tree(&fixture, "p"), &revision(&fixture, "p", oid)];
        for source in sources {
            let found = source.snapshot(&limits()).unwrap();
            let expected = [
                "symlinked-markdown alias.md",
                "symlinked-folder beside",
                "symlinked-markdown disguised.txt",
                "symlinked-folder folder",
            ];
            assert_eq!(problems(&found), expected);
            for good in ["good.csv", "good2.csv", "data/up.csv"] {
                let file = found.other(&path(good)).unwrap();
                assert_eq!((file.size, file.blob), (Some(4), None), "{good}");
                assert_eq!(source.read(&path(good)).unwrap(), b"1,2\n", "{good}");
            }
            for bad in ["dangling.csv", "loop.csv", "out.csv", "far.csv", "zero.csv", "git.csv"] {
                assert!(found.other(&path(bad)).is_none(), "{bad}");
                assert!(found.passed_over.iter().any(|file| file.path == path(bad)), "{bad}");
                assert!(source.read(&path(bad)).is_err() && source.sha256(&path(bad)).is_err(), "{bad}");
            }
            for bad in ["folder/a.csv", "beside/b.csv", "folder", ".git/config", "data"] {
                assert!(source.read(&path(bad)).is_err(), "{bad}");
            }
            let settings = &found.file(&path("parameters.toml")).unwrap().content;
            assert!(matches!(settings, Content::Unreadable { reason } if reason.contains("symlink")));
        }
        std::fs::remove_file(fixture.path().join("p/.#a.md")).unwrap();
        assert_eq!(uncommitted(&sources[0].snapshot(&limits()).unwrap()), 0);
    }

    #[test]
    fn pipes_are_never_opened() {
        let fixture = Fixture::new();
        fixture.write("slipmark.toml", PROJECT).commit("one");
        for pipe in ["pipe.md", "pipe.csv", "parameters.toml"] {
            assert!(Command::new("mkfifo").arg(fixture.path().join(pipe)).status().unwrap().success());
        }
        symlink("pipe.csv", fixture.path().join("to-pipe.csv")).unwrap();
        fixture.write(".gitignore", "ignored*\n");
        for pipe in ["ignored.md", "nested.md"] {
            assert!(Command::new("mkfifo").arg(fixture.path().join(pipe)).status().unwrap().success());
        }
        let found = snapshot(&fixture);
        for pipe in ["pipe.md", "parameters.toml", "nested.md"] {
            assert!(matches!(found.file(&path(pipe)).unwrap().content, Content::Unreadable { .. }), "{pipe}");
        }
        assert_eq!(others(&found), [".gitignore"]);
        for pipe in ["pipe.csv", "to-pipe.csv", "pipe.md"] {
            assert!(work_tree(&fixture, "").read(&path(pipe)).is_err(), "{pipe}");
        }
        // `git status` lists the symlink and the new file, and does not see pipes.
        assert_eq!((uncommitted(&found), status(&fixture).len()), (2, 2));
    }

    #[test]
    fn a_pipe_instead_of_an_ignore_file_is_not_waited_for() {
        let fixture = Fixture::new();
        fixture.write("slipmark.toml", PROJECT).write("d/a.md", "a").commit("one");
        for pipe in [".gitignore", "d/.gitignore", ".gitattributes"] {
            assert!(Command::new("mkfifo").arg(fixture.path().join(pipe)).status().unwrap().success());
        }
        assert_eq!(files(&snapshot(&fixture)), ["d/a.md", "slipmark.toml"]);
    }

    #[test]
    fn names_that_are_not_utf8_are_said() {
        let fixture = Fixture::new();
        fixture.write("slipmark.toml", PROJECT);
        let name = std::ffi::OsStr::from_bytes(b"caf\xe9.md");
        if std::fs::write(fixture.path().join(name), "+++\n").is_err() {
            return; // This disk cannot make the case.
        }
        let oid = fixture.commit("one");
        for source in [&work_tree(&fixture, "") as &dyn Source, &revision(&fixture, "", oid)] {
            let found = source.snapshot(&limits()).unwrap();
            assert_eq!(problems(&found), ["path-not-utf8 caf\u{fffd}.md"]);
        }
    }

    #[test]
    fn unreadable_folders_and_files_are_said() {
        let fixture = Fixture::new();
        fixture.write("slipmark.toml", PROJECT).write("shut/a.md", "a").write("b.md", "b").commit("one");
        let mode = |path: &str, mode: u32| {
            std::fs::set_permissions(fixture.path().join(path), std::fs::Permissions::from_mode(mode)).unwrap();
        };
        mode("shut", 0o000);
        mode("b.md", 0o000);
        let readable = std::fs::read_dir(fixture.path().join("shut")).is_ok();
        let found = snapshot(&fixture);
        mode("shut", 0o755);
        if readable {
            return; // Root reads everything.
        }
        assert_eq!(problems(&found), ["unreadable-folder shut"]);
        assert!(matches!(found.file(&path("b.md")).unwrap().content, Content::Unreadable { .. }));
    }

    #[test]
    fn a_tracked_folder_that_became_a_symlink_is_gone() {
        let fixture = Fixture::new();
        fixture.write("slipmark.toml", PROJECT).write("d/a.md", "a").write("e/a.md", "a").commit("one");
        std::fs::remove_dir_all(fixture.path().join("d")).unwrap();
        symlink("e", fixture.path().join("d")).unwrap();
        let found = snapshot(&fixture);
        assert_eq!(
            (problems(&found), files(&found)),
            (vec!["symlinked-folder d".to_owned()], vec!["e/a.md", "slipmark.toml"])
        );
        assert_eq!((uncommitted(&found), status(&fixture).len()), (2, 2));
    }
}
