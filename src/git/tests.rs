//! The module against repositories made for the purpose, with the git program as judge.

#![allow(clippy::disallowed_macros, reason = "the test measures")]

use std::collections::BTreeMap;
use std::path::Path;

use super::fixture::{Fixture, git_in};
use super::{FileMode, GitError, Oid, Repo};
use crate::text::RepoPath;

fn annotated(fixture: &Fixture, name: &str) {
    fixture.git(&["tag", "-a", "-m", "review", name]);
}

#[test]
fn a_folder_in_no_repository() {
    let folder = tempfile::tempdir().unwrap();
    let error = Repo::discover(folder.path()).unwrap_err();
    assert_eq!(error, GitError::NotARepository { start: folder.path().to_owned() });
    assert_eq!(error.help(), "git init");
}

#[test]
fn a_bare_repository() {
    let folder = tempfile::tempdir().unwrap();
    git2::Repository::init_bare(folder.path()).unwrap();
    assert!(matches!(Repo::discover(folder.path()), Err(GitError::Bare { .. })));
}

#[test]
fn an_unborn_branch_has_no_head() {
    let fixture = Fixture::new();
    let repo = fixture.repo();
    assert_eq!(repo.workdir(), fixture.path());
    assert_eq!(repo.head(), Ok(None));
    assert_eq!(repo.resolve("HEAD"), Err(GitError::NoCommits));
    assert_eq!(repo.resolve("TRR-1"), Err(GitError::NoCommits));
    assert!(repo.index("").unwrap().entries.is_empty());
}

#[test]
fn a_detached_head_is_a_commit() {
    let fixture = Fixture::new();
    let first = fixture.write("a.md", "a").commit("one");
    fixture.write("a.md", "b").commit("two");
    fixture.git(&["checkout", "--quiet", "--detach", "HEAD~1"]);
    assert_eq!(fixture.repo().head(), Ok(Some(first)));
}

#[cfg(unix)]
#[test]
fn another_users_repository_is_refused_with_what_to_type() {
    let fixture = Fixture::new();
    fixture.write("sub/a.md", "a").commit("one");
    let other = Some(54_321);
    let given_away =
        ["", ".git"].iter().all(|path| std::os::unix::fs::chown(fixture.path().join(path), other, other).is_ok());
    if !given_away {
        return; // Only root can make the case.
    }
    let error = Repo::discover(&fixture.path().join("sub")).unwrap_err();
    assert_eq!(error, GitError::Ownership { path: fixture.path() });
    let typed = format!("git config --global --add safe.directory {}", fixture.path().display());
    assert!(error.help().ends_with(&typed), "{}", error.help());
}

/// The other half of the next test, which runs it in a process of its own with variables that redirect git.
#[test]
fn discovery_stays_where_it_stands() {
    let Some(here) = std::env::var_os("SLIPMARK_TEST_REPOSITORY") else { return };
    let repo = Repo::discover(Path::new(&here)).unwrap();
    assert_eq!(repo.workdir(), Path::new(&here));
    assert_eq!(repo.index("").unwrap().entries[0].path.as_str(), "here.md");
    println!("looked");
}

#[test]
fn the_environment_redirects_nothing() {
    let (here, elsewhere) = (Fixture::new(), Fixture::new());
    here.write("here.md", "a").commit("one");
    elsewhere.write("elsewhere.md", "a").commit("one");
    let output = std::process::Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "--nocapture", "git::tests::discovery_stays_where_it_stands"])
        .env("SLIPMARK_TEST_REPOSITORY", here.path())
        .env("GIT_DIR", elsewhere.path().join(".git"))
        .env("GIT_WORK_TREE", elsewhere.path())
        .env("GIT_INDEX_FILE", elsewhere.path().join(".git/index"))
        .output()
        .unwrap();
    assert!(output.status.success() && String::from_utf8_lossy(&output.stdout).contains("looked"), "{output:?}");
}

#[test]
fn names_resolve_as_git_resolves_them() {
    let fixture = Fixture::new();
    let first = fixture.write("a.md", "a").commit("one");
    annotated(&fixture, "TRR-1");
    let second = fixture.write("a.md", "b").commit("two");
    let repo = fixture.repo();
    for name in ["HEAD", "main", "TRR-1", "HEAD~1", "TRR-1^{commit}", &first.to_string(), &second.short()] {
        let theirs = fixture.git(&["rev-parse", &format!("{name}^{{commit}}")]);
        assert_eq!(repo.resolve(name).unwrap().to_string(), theirs.trim(), "{name}");
    }
    let unknown = |name: &str| match repo.resolve(name) {
        Err(GitError::UnknownRevision { near, .. }) => near,
        other => panic!("{name}: {other:?}"),
    };
    assert_eq!(unknown("trr1"), ["TRR-1"]);
    assert_eq!(unknown("mian"), ["main"]);
    for hostile in ["", " ", "zzzzzzzzzz", "-", "@{", "HEAD^{tree}", "HEAD:a.md", "a\0b", "HEAD~99"] {
        assert!(unknown(hostile).is_empty(), "{hostile}");
    }
}

#[test]
fn a_shallow_clone_says_so_and_ends_where_it_was_cut() {
    let fixture = Fixture::new();
    for text in ["a", "b", "c"] {
        fixture.write("a.md", text).commit(text);
    }
    let folder = tempfile::tempdir().unwrap();
    let origin = format!("file://{}", fixture.path().display());
    git_in(folder.path(), &["clone", "--quiet", "--depth", "2", &origin, "clone"]);
    let repo = Repo::discover(&folder.path().join("clone")).unwrap();
    assert!(repo.is_shallow() && !fixture.repo().is_shallow());
    let walked = repo.walk(repo.head().unwrap().unwrap(), None, false).unwrap();
    assert_eq!(walked.len(), 2);
    assert!(repo.commit(walked[1]).unwrap().parents.is_empty());
}

#[test]
fn a_commits_facts() {
    let fixture = Fixture::new();
    let oid =
        fixture.write("a.md", "a").commit("Tighten the\nlimit\n\nIt leaked.\n\nDecision: D-001\nDecision: D-002\n");
    let commit = fixture.repo().commit(oid).unwrap();
    assert_eq!(commit.summary, "Tighten the limit");
    assert_eq!(commit.trailer("decision").collect::<Vec<_>>(), ["D-001", "D-002"]);
    assert_eq!(commit.author_date.to_string(), "2026-03-14");
    assert_eq!(commit.author_offset, 7_200);
    let seconds = fixture.git(&["log", "-1", "--format=%at"]);
    assert_eq!(commit.author_time.as_second().to_string(), seconds.trim());
    assert_eq!(
        (commit.author_name.as_str(), commit.author_email.as_str()),
        ("Test conductor", "conductor@example.org")
    );
    assert!(fixture.repo().commit(Oid::from_hex(&"1".repeat(40)).unwrap()).is_err());
}

/// Two lines of work merged: 1 - 2 - 3 - 4 - M - 5, and 1 - s1 - M.
fn merged() -> (Fixture, BTreeMap<&'static str, Oid>) {
    let fixture = Fixture::new();
    let mut commits = BTreeMap::new();
    commits.insert("1", fixture.write("a.md", "1").commit("1"));
    annotated(&fixture, "PDR");
    commits.insert("2", fixture.write("a.md", "2").commit("2"));
    annotated(&fixture, "TRR-1");
    fixture.git(&["tag", "bookmark"]);
    commits.insert("3", fixture.write("a.md", "3").commit("3"));
    commits.insert("4", fixture.write("a.md", "4").commit("4"));
    fixture.git(&["tag", "lightweight"]);
    fixture.git(&["checkout", "--quiet", "-b", "side", "PDR"]);
    commits.insert("s1", fixture.write("b.md", "1").commit("s1"));
    fixture.git(&["checkout", "--quiet", "main"]);
    fixture.git(&["merge", "--quiet", "--no-ff", "-m", "M", "side"]);
    commits.insert("M", fixture.repo().head().unwrap().unwrap());
    commits.insert("5", fixture.write("a.md", "5").commit("5"));
    (fixture, commits)
}

#[test]
fn walks_children_before_parents_whatever_the_clocks_say() {
    let (fixture, commits) = merged();
    let repo = fixture.repo();
    // Every commit has the same date, so git's own default order would say nothing.
    for (from, hide, first_parent) in [
        ("5", None, false),
        ("5", None, true),
        ("5", Some("2"), false),
        ("5", Some("s1"), true),
        ("2", Some("5"), false),
    ] {
        let walked = repo.walk(commits[from], hide.map(|name| commits[name]), first_parent).unwrap();
        let mut arguments = vec!["rev-list".to_owned(), "--topo-order".into(), commits[from].to_string()];
        arguments.extend(hide.map(|name| format!("^{}", commits[name])));
        arguments.extend(first_parent.then(|| "--first-parent".into()));
        let theirs = fixture.git(&arguments.iter().map(String::as_str).collect::<Vec<_>>());
        let mut ours: Vec<String> = walked.iter().map(Oid::to_string).collect();
        for (at, oid) in walked.iter().enumerate() {
            let parents = repo.commit(*oid).unwrap().parents;
            assert!(parents.iter().all(|parent| !walked[..at].contains(parent)), "{from} {hide:?}");
        }
        let mut theirs: Vec<String> = theirs.lines().map(str::to_owned).collect();
        ours.sort();
        theirs.sort();
        assert_eq!(ours, theirs, "{from} {hide:?} {first_parent}");
    }
    assert!(repo.is_ancestor(commits["s1"], commits["5"]).unwrap());
    assert!(!repo.is_ancestor(commits["s1"], commits["3"]).unwrap());
    assert_eq!(repo.merge_base(commits["3"], commits["s1"]).unwrap(), Some(commits["1"]));
}

#[test]
fn what_three_lines_share_is_the_nearest_also_where_two_of_them_share_several() {
    let fixture = Fixture::new();
    let start = fixture.commit_index("Start");
    let tree = fixture.git(&["rev-parse", "HEAD^{tree}"]);
    let made = |name: &str, parents: &[Oid]| {
        let parents: Vec<String> = parents.iter().flat_map(|it| ["-p".to_string(), it.to_string()]).collect();
        let mut arguments = vec!["commit-tree", tree.trim(), "-m", name];
        arguments.extend(parents.iter().map(String::as_str));
        Oid::from_hex(fixture.git(&arguments).trim()).unwrap()
    };
    let (left, right) = (made("left", &[start]), made("right", &[start]));
    let (one, two) = (made("one", &[left, right]), made("two", &[right, left]));
    let repo = fixture.repo();
    for base in [left, right] {
        let three = made("three", &[base]);
        for lines in [[one, two, three], [three, one, two], [two, three, one]] {
            assert_eq!(repo.common_ancestor(&lines).unwrap(), Some(base));
        }
    }
    assert_eq!(repo.common_ancestor(&[one, two, start]).unwrap(), Some(start));
    assert_eq!(repo.common_ancestor(&[one, made("alone", &[])]).unwrap(), None);
}

#[test]
fn the_last_review_is_the_last_by_descent() {
    let (fixture, commits) = merged();
    let repo = fixture.repo();
    let last = |from: &str| repo.last_annotated_tag(commits[from]).unwrap().map(|(name, _)| name);
    // From M, PDR is two steps away through the side branch and TRR-1 three through the main one; but it came after.
    assert_eq!(last("5").as_deref(), Some("TRR-1"));
    assert_eq!(last("s1").as_deref(), Some("PDR"));
    assert_eq!(repo.last_annotated_tag(commits["1"]).unwrap(), Some(("PDR".into(), commits["1"])));
    let names: Vec<String> = repo.annotated_tags().unwrap().into_iter().map(|(name, _)| name).collect();
    assert_eq!(names, ["PDR", "TRR-1"]);
    fixture.git(&["tag", "-d", "PDR"]);
    assert_eq!(last("s1"), None);
}

/// A tag that cannot be read is none that can be left out: it may be the review that matters.
#[test]
fn a_tag_that_cannot_be_read_is_an_error() {
    let fixture = Fixture::new();
    fixture.write("a.md", "a").commit("one");
    annotated(&fixture, "PDR");
    fixture.git(&["tag", "bookmark"]);
    let blob = fixture.git(&["rev-parse", "HEAD:a.md"]);
    fixture.git(&["tag", "-a", "-m", "a key", "key", blob.trim()]);
    let names =
        |repo: &Repo| repo.annotated_tags().map(|tags| tags.into_iter().map(|(name, _)| name).collect::<Vec<_>>());
    assert_eq!(names(&fixture.repo()), Ok(vec!["PDR".to_string()]));
    let oid = fixture.git(&["rev-parse", "PDR"]);
    let (folder, file) = oid.trim().split_at(2);
    let object = fixture.path().join(".git/objects").join(folder).join(file);
    std::fs::remove_file(object).unwrap();
    assert!(names(&fixture.repo()).unwrap_err().to_string().contains("read the tag PDR"));
}

#[test]
fn trees_are_listed_as_git_lists_them() {
    let fixture = Fixture::new();
    for path in ["a.md", "a/b.md", "a/c/d.csv", "a-b.md", "a0", "zé.md", "x/y/z/w.md", ".hidden/h.md"] {
        fixture.write(path, path);
    }
    #[cfg(unix)]
    std::os::unix::fs::symlink("b.md", fixture.path().join("a/link")).unwrap();
    fixture.commit("one");
    fixture.git(&["update-index", "--chmod=+x", "a0"]);
    let commit = fixture.commit_index("two");
    let repo = fixture.repo();
    for prefix in ["", "a", "x/y"] {
        let spec = format!("HEAD:{prefix}");
        let theirs = fixture.git(&["ls-tree", "-r", "-z", &spec]);
        let ours: String = repo
            .tree_files(commit, prefix)
            .unwrap()
            .iter()
            .map(|file| {
                let mode = match file.mode {
                    FileMode::File => "100644 blob",
                    FileMode::Executable => "100755 blob",
                    FileMode::Symlink => "120000 blob",
                    FileMode::Submodule => "160000 commit",
                };
                format!("{mode} {}\t{}\0", file.oid, file.path)
            })
            .collect();
        assert_eq!(ours, theirs, "{prefix}");
    }
    assert!(repo.tree_files(commit, "nowhere").unwrap().is_empty());
    assert!(repo.tree_files(commit, "a.md").unwrap().is_empty());
    let cut = repo.tree_files_at_most(commit, "", 3).unwrap();
    assert!(cut.cut_off && cut.files.len() == 3);
    let found = repo.tree_file(commit, "a", &RepoPath::new("c/d.csv")).unwrap().unwrap();
    assert_eq!(repo.blob(found.oid).unwrap(), b"a/c/d.csv");
    assert_eq!(repo.blob_size(found.oid), Ok(9));
    assert!(matches!(repo.blob_at_most(found.oid, 8), Err(GitError::TooLarge { bytes: 9, limit: 8, .. })));
    assert_eq!(super::blob_id(b"a/c/d.csv"), Some(found.oid));
    assert!(repo.tree_file(commit, "a", &RepoPath::new("c")).unwrap().is_none());
}

#[test]
fn differences_are_those_of_git() {
    let fixture = Fixture::new();
    let steps: [&[(&str, Option<&str>)]; 5] = [
        &[("p/a.md", Some("a")), ("p/b.md", Some("b")), ("p/d/e.md", Some("e")), ("q.md", Some("q"))],
        &[("p/a.md", Some("A")), ("p/b.md", None), ("p/c.md", Some("c"))],
        &[("p/d/e.md", None), ("p/d", Some("now a file")), ("p/d.md", Some("between"))],
        &[("p/d", None), ("p/d/e.md", Some("a folder again")), ("q.md", Some("Q"))],
        &[("p/a.md", None), ("p/c.md", None), ("p/d.md", None), ("p/d/e.md", None)],
    ];
    let repo = fixture.repo();
    let mut before: Option<Oid> = None;
    for (number, step) in steps.iter().enumerate() {
        for (path, text) in *step {
            match text {
                Some(text) => {
                    let _ = std::fs::remove_dir(fixture.path().join(path));
                    fixture.write(path, text);
                }
                None => std::fs::remove_file(fixture.path().join(path)).unwrap(),
            }
        }
        let after = fixture.commit(&number.to_string());
        let changes = repo.changed_files(before, after, "p").unwrap();
        let ours: Vec<String> = changes
            .iter()
            .map(|change| {
                let letter = match (change.old, change.new) {
                    (None, _) => 'A',
                    (_, None) => 'D',
                    _ => 'M',
                };
                let id = |blob: Option<Oid>| blob.map_or("0".repeat(40), |oid| oid.to_string());
                format!("{} {} {letter}\tp/{}", id(change.old_blob()), id(change.new_blob()), change.path)
            })
            .collect();
        let from =
            before.map_or_else(|| fixture.git(&["hash-object", "-t", "tree", "/dev/null"]), |oid| oid.to_string());
        let to = after.to_string();
        let raw = fixture.git(&["diff-tree", "-r", "--no-renames", from.trim(), &to, "--", "p"]);
        let mut theirs: Vec<String> = raw.lines().map(|line| line.splitn(3, ' ').nth(2).unwrap().to_owned()).collect();
        theirs.sort_by(|a, b| a.split('\t').next_back().cmp(&b.split('\t').next_back()));
        assert_eq!(ours, theirs, "step {number}");
        before = Some(after);
    }
}

#[test]
fn a_tree_that_names_paths_outside_is_refused() {
    let fixture = Fixture::new();
    let blob = fixture.write("a", "a").commit("one");
    let repo = fixture.repo();
    let blob_oid = repo.tree_file(blob, "", &RepoPath::new("a")).unwrap().unwrap().oid;
    for name in ["..", ".", ".git", "a/b", ""] {
        let mut raw = format!("100644 {name}\0").into_bytes();
        raw.extend_from_slice(blob_oid.as_bytes());
        let commit = repo.with(|library| {
            let odb = library.odb().unwrap();
            let tree = odb.write(git2::ObjectType::Tree, &raw).unwrap();
            let text = format!("tree {tree}\nauthor a <a> 0 +0000\ncommitter a <a> 0 +0000\n\nx\n");
            Oid(odb.write(git2::ObjectType::Commit, text.as_bytes()).unwrap())
        });
        assert!(matches!(repo.tree_files(commit, ""), Err(GitError::Malformed { .. })), "{name:?}");
        assert!(matches!(repo.changed_files(None, commit, ""), Err(GitError::Malformed { .. })), "{name:?}");
    }
}

#[test]
fn a_tree_that_unfolds_without_end_is_cut_off() {
    let fixture = Fixture::new();
    let commit = fixture.write("a", "a").commit("one");
    let repo = fixture.repo();
    let mut oid = repo.tree_file(commit, "", &RepoPath::new("a")).unwrap().unwrap().oid;
    let bomb = repo.with(|library| {
        let odb = library.odb().unwrap();
        for level in 0..12 {
            let mode = if level == 0 { "100644" } else { "40000" };
            let mut raw = Vec::new();
            for letter in b'a'..=b'j' {
                raw.extend_from_slice(mode.as_bytes());
                raw.extend_from_slice(&[b' ', letter, 0]);
                raw.extend_from_slice(oid.as_bytes());
            }
            oid = Oid(odb.write(git2::ObjectType::Tree, &raw).unwrap());
        }
        let text = format!("tree {oid}\nauthor a <a> 0 +0000\ncommitter a <a> 0 +0000\n\nx\n");
        Oid(odb.write(git2::ObjectType::Commit, text.as_bytes()).unwrap())
    });
    assert!(repo.tree_files_at_most(bomb, "", 1_000).unwrap().cut_off);
    assert!(matches!(repo.changed_files(None, bomb, ""), Err(GitError::TooMany { .. })));
}

#[test]
fn the_index_is_what_git_says_is_tracked() {
    let fixture = Fixture::new();
    fixture.write("p/a.md", "a").write("p/d/b.md", "b").write("q.md", "q").write(".gitignore", "*.log");
    fixture.write("p/kept.log", "k");
    fixture.git(&["add", "--all"]);
    fixture.git(&["add", "--force", "p/kept.log"]);
    let listed = |prefix: &str| -> Vec<String> {
        let index = fixture.repo().index(prefix).unwrap();
        index.entries.iter().map(|entry| entry.path.to_string()).collect()
    };
    assert_eq!(listed("").join("\n"), fixture.git(&["ls-files"]).trim());
    assert_eq!(listed("p"), ["a.md", "d/b.md", "kept.log"]);
    fixture.git(&["update-index", "--skip-worktree", "p/a.md"]);
    fixture.git(&["update-index", "--assume-unchanged", "q.md"]);
    let index = fixture.repo().index("").unwrap();
    let flagged = |path: &str| index.entries.iter().find(|entry| entry.path.as_str() == path).unwrap();
    assert!(flagged("p/a.md").skip_worktree && flagged("p/a.md").stat.is_none());
    assert!(!flagged("q.md").skip_worktree && flagged("q.md").stat.is_none());
}

/// What the library would not survive: it never ends on the first two (libgit2 #7342), and writes past its memory for the
/// last (libgit2 #7177).
#[test]
fn loose_objects_that_are_not_whole() {
    let fixture = Fixture::new();
    let oid = fixture.write("a.md", "a line of text\n".repeat(40)).commit("Start");
    let blob = Oid::from_hex(fixture.git(&["rev-parse", "HEAD:a.md"]).trim()).unwrap();
    let hex = blob.to_string();
    let path = fixture.path().join(".git/objects").join(&hex[..2]).join(&hex[2..]);
    let bytes = std::fs::read(&path).unwrap();
    let packed = |content: &[u8]| {
        let mut encoder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::default());
        std::io::Write::write_all(&mut encoder, content).unwrap();
        encoder.finish().unwrap()
    };
    assert_eq!(fixture.repo().blob(blob).unwrap().len(), 600);
    let damaged = [
        (bytes[..bytes.len() / 2].to_vec(), "unpacked"),
        (packed(b"blob 600\0a line of text"), "has 600 bytes, and has fewer"),
        (packed(b"blob 600"), "does not say what it is"),
        (packed(b"blob 12\0a line of text that goes on"), "has 12 bytes, and has more"),
    ];
    std::fs::remove_file(&path).unwrap();
    for (content, what) in damaged {
        std::fs::write(&path, content).unwrap();
        let error = fixture.repo().blob(blob).unwrap_err().to_string();
        assert!(error.contains(what) && error.contains(&hex), "{error}");
        assert_eq!(fixture.repo().blob_pieces(blob, &mut |_| ()).unwrap_err().to_string(), error);
    }
    assert!(fixture.repo().commit(oid).is_ok());
    // And in an object store that is borrowed from.
    std::fs::write(&path, &bytes[..bytes.len() / 2]).unwrap();
    let other = Fixture::new();
    let lent = fixture.path().join(".git/objects");
    std::fs::write(other.path().join(".git/objects/info/alternates"), format!("# lent\n{}\n", lent.display())).unwrap();
    let error = other.repo().blob(blob).unwrap_err().to_string();
    assert!(error.contains("unpacked") && error.contains(&hex), "{error}");
    assert!(other.repo().commit(oid).is_ok());
}

/// An earlier run may know a commit's parents, and the library goes from commit to commit by itself.
#[test]
fn a_commit_that_is_not_whole_is_refused_however_it_is_come_by() {
    let fixture = Fixture::new();
    let [start, next, last] = ["Start", "Next", "Last"].map(|message| fixture.write("a.md", message).commit(message));
    let beside = fixture.git(&["commit-tree", "HEAD^{tree}", "-p", "HEAD~2", "-m", "Beside"]);
    let lines = [last, Oid::from_hex(beside.trim()).unwrap()];
    let hex = next.to_string();
    let ask = |repo: &Repo| {
        let by_name = ["HEAD~1", "@^", "HEAD~2", "HEAD~^", "HEAD^1~1", &hex, &hex[..12]].map(|name| repo.resolve(name));
        let commit = repo.commit(next).map(|commit| commit.oid);
        let shared = repo.common_ancestor(&lines).map(|found| found.unwrap());
        by_name.into_iter().chain([commit, shared]).collect::<Vec<_>>()
    };
    let repo = fixture.repo();
    let right = [next, next, start, start, start, next, next, next, start];
    assert_eq!(ask(&repo).into_iter().map(Result::unwrap).collect::<Vec<_>>(), right);
    let learnt = [start, next, last].map(|oid| (oid, repo.known_commit(oid, "").unwrap()));
    let path = fixture.path().join(".git/objects").join(&hex[..2]).join(&hex[2..]);
    let bytes = std::fs::read(&path).unwrap();
    std::fs::remove_file(&path).unwrap();
    for left in [0, bytes.len() / 2, bytes.len() - 5] {
        std::fs::write(&path, &bytes[..left]).unwrap();
        for known in [&[][..], &learnt[..]] {
            let repo = fixture.repo();
            repo.know_commits("", known.to_vec());
            let answers: Vec<Option<Oid>> = ask(&repo)
                .into_iter()
                .map(|answer| match answer {
                    Err(GitError::Malformed { oid, .. }) if oid == next => None,
                    answer => Some(answer.unwrap()),
                })
                .collect();
            // What leads to it is whole, and what lies behind it can be known.
            let (to, behind) = (Some(next), Some(start).filter(|_| !known.is_empty()));
            assert_eq!(answers, [to, to, behind, behind, behind, None, None, None, None], "{left}");
        }
    }
}
