#![allow(clippy::disallowed_methods, reason = "tests look at the files")]
use std::collections::BTreeMap;
use std::path::Path;

use git2::{ObjectType, Repository, TreeWalkMode, TreeWalkResult};

use super::files::{EARLIER, NEWEST};
use super::{ExampleError, build, steps};

type Files = BTreeMap<String, Vec<u8>>;

/// Every file below a folder of this crate, by its path from there.
fn on_disk(folder: &str) -> Files {
    fn collect(top: &Path, dir: &Path, files: &mut Files) {
        for entry in dir.read_dir().expect("a folder of this crate") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                collect(top, &path, files);
            } else {
                let inside = path.strip_prefix(top).expect("below the top");
                let name = inside.to_str().expect("plain names").replace('\\', "/");
                files.insert(name, std::fs::read(&path).expect("a file"));
            }
        }
    }
    let top = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut files = Files::new();
    collect(&top, &top, &mut files);
    files
}

fn embedded(files: &[(&str, &[u8])]) -> Files {
    files.iter().map(|(name, bytes)| ((*name).to_owned(), bytes.to_vec())).collect()
}

/// The files of a commit, read back out of a repository.
fn committed(repo: &Repository, revision: &str) -> Files {
    let commit = repo.revparse_single(revision).expect("the revision").peel_to_commit().expect("a commit");
    let mut files = Files::new();
    let walk = |folder: &str, entry: &git2::TreeEntry<'_>| {
        if entry.kind() == Some(ObjectType::Blob) {
            let blob = entry.to_object(repo).expect("an object").peel_to_blob().expect("a blob");
            files.insert(format!("{folder}{}", entry.name().expect("plain names")), blob.content().to_vec());
        }
        TreeWalkResult::Ok
    };
    commit.tree().expect("a tree").walk(TreeWalkMode::PreOrder, walk).expect("a readable tree");
    files
}

fn built() -> (tempfile::TempDir, Repository) {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let place = dir.path().join("demo");
    build(&place).expect("the example builds");
    let repo = Repository::open(&place).expect("a repository");
    (dir, repo)
}

#[test]
fn no_file_is_forgotten() {
    assert_eq!(embedded(NEWEST), on_disk("reqs"));
    assert_eq!(embedded(EARLIER), on_disk("src/example/earlier"));
}

#[test]
fn every_earlier_text_is_used_and_differs_from_the_newest() {
    let newest = embedded(NEWEST);
    let steps = steps().expect("the list of commits");
    for (stored, bytes) in EARLIER {
        let (number, path) = stored.split_once('/').expect("NN/path");
        let step = &steps[number.parse::<usize>().expect("a number") - 1];
        assert!(step.writes.iter().any(|(written, text)| written == &path && text == bytes), "{stored} is unused");
        assert_ne!(newest.get(path).map(Vec::as_slice), Some(*bytes), "{stored} is stored twice");
    }
}

#[test]
fn each_step_changes_something_and_says_why() {
    let steps = steps().expect("the list of commits");
    assert!(steps.len() >= 14, "only {} commits", steps.len());
    let mut tree: BTreeMap<&str, &[u8]> = BTreeMap::new();
    let mut before = String::new();
    for step in &steps {
        let (subject, body) = step.message.split_once("\n\n").expect("a subject and a body");
        assert!(subject.len() <= 72 && !subject.ends_with('.'), "subject: {subject}");
        assert!(body.lines().count() >= 2, "{subject}: no reason given");
        assert!(step.date > before, "{subject}: dated before the commit that it follows");
        assert!(!step.writes.is_empty(), "{subject}: writes nothing");
        for path in &step.removes {
            assert!(tree.remove(path).is_some(), "{subject}: removes {path}, which was not there");
        }
        for (path, bytes) in &step.writes {
            assert_ne!(tree.insert(path, bytes), Some(*bytes), "{subject}: writes {path} as it was");
        }
        before.clone_from(&step.date);
    }
}

#[test]
fn newest_commit_holds_the_files_of_reqs() {
    let (_dir, repo) = built();
    assert_eq!(committed(&repo, "HEAD"), on_disk("reqs"));
    assert_eq!(repo.head().expect("a head").shorthand().expect("a name"), "main");
}

#[test]
fn files_on_disk_are_those_of_the_newest_commit() {
    let (_dir, repo) = built();
    for (path, bytes) in NEWEST {
        let written = std::fs::read(repo.workdir().expect("a work tree").join(path)).expect(path);
        assert_eq!(written, *bytes, "{path}");
    }
    let changed: Vec<String> =
        repo.statuses(None).expect("a status").iter().map(|entry| entry.path().unwrap_or("?").to_owned()).collect();
    assert_eq!(changed, Vec::<String>::new());
}

#[test]
fn commit_ids_are_the_same_each_time() {
    let (_one, first) = built();
    let (_two, second) = built();
    let head = |repo: &Repository| repo.head().expect("a head").target().expect("an id");
    assert_eq!(head(&first), head(&second));
}

#[test]
fn history_is_in_the_repository_as_listed() {
    let (_dir, repo) = built();
    let mut walk = repo.revwalk().expect("a walk");
    walk.push_head().expect("a head");
    walk.set_sorting(git2::Sort::TOPOLOGICAL | git2::Sort::REVERSE).expect("an order");
    let found: Vec<(String, String, i32)> = walk
        .map(|id| {
            let commit = repo.find_commit(id.expect("an id")).expect("a commit");
            let author = commit.author();
            let minutes = author.when().offset_minutes();
            assert_eq!(author.when(), commit.committer().when());
            (commit.message().expect("a message").to_owned(), author.name().expect("a name").to_owned(), minutes)
        })
        .collect();
    let listed: Vec<(String, String, i32)> = steps()
        .expect("the list of commits")
        .into_iter()
        .map(|step| {
            let hours: i32 = step.date[step.date.len() - 5..][..2].parse().expect("an offset");
            (step.message, step.author_name, hours * 60)
        })
        .collect();
    assert_eq!(found, listed);
}

#[test]
fn both_reviews_are_annotated_tags() {
    let (_dir, repo) = built();
    for name in ["PDR", "TRR-1"] {
        let tag = repo.revparse_single(name).expect(name).into_tag().expect("an annotated tag");
        assert!(tag.message().expect("readable").is_some_and(|text| text.contains("eview")), "{name}");
        assert_eq!(tag.target_type(), Some(ObjectType::Commit));
    }
    assert_eq!(repo.tag_names(None).expect("tags").len(), 2);
}

#[test]
fn a_folder_that_holds_something_is_left_alone() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    std::fs::write(dir.path().join("notes.txt"), "mine").expect("a file");
    assert!(matches!(build(dir.path()), Err(ExampleError::NotEmpty(_))));
    assert!(!dir.path().join(".git").exists());
}
