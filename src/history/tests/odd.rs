//! Repositories that are not as one would wish.

use std::ffi::OsStr;
use std::os::unix::ffi::OsStrExt;

use super::Stand;
use crate::git::fixture::git_in;
use crate::history::{Changes, changes, range};
use crate::source::WorkTree;

const R_1: &str = "requirements/R-1.md";

fn unreadable(told: &Changes) -> Vec<(&str, &str)> {
    told.unreadable.iter().map(|it| (it.path.as_str(), it.why.as_str())).collect()
}

fn ids(told: &Changes) -> Vec<&str> {
    told.list.iter().map(|change| change.id.as_str()).collect()
}

#[test]
fn what_cannot_be_read_is_neither_gone_nor_new() {
    let stand = Stand::committed();
    stand.edit(R_1, "kind = ", "<<<<<<< ours\nkind = ").0.commit("Leave a conflict");
    let told = stand.changes(Some("HEAD~1..HEAD"), None);
    assert!(told.list.is_empty(), "{:?}", ids(&told));
    assert_eq!(unreadable(&told), [(R_1, "a merge conflict was left in this file")]);
    let back = stand.changes(Some("HEAD..HEAD~1"), None);
    assert!(back.list.is_empty(), "{:?}", ids(&back));
    assert_eq!(unreadable(&back).len(), 2, "at the start, and in between");
}

/// Each way of spoiling a file: at either point the thing in it is neither new nor gone, nor put back.
#[test]
fn a_thing_whose_id_or_kind_cannot_be_told_is_hidden_at_either_point() {
    for (from, to) in [
        ("id = \"R-1\"", "id = \"\""),
        ("id = \"R-1\"", "id = 7"),
        ("kind = \"requirement\"", "kind = \"rocket\""),
        ("kind = \"requirement\"\n", ""),
    ] {
        let stand = Stand::committed();
        stand.edit(R_1, from, to).0.commit("Spoil");
        stand.edit(R_1, to, from).edit(R_1, "min = 0.5", "min = 0.6").0.commit("Mend");
        for asked in ["HEAD~1..HEAD", "HEAD..HEAD~1"] {
            let told = stand.changes(Some(asked), None);
            assert!(told.list.is_empty() && told.put_back.is_empty(), "{to:?}, {asked}: {:?}", ids(&told));
            assert!(unreadable(&told).iter().all(|(path, _)| *path == R_1), "{:?}", unreadable(&told));
            assert!(!told.unreadable.is_empty(), "{to:?}, {asked}");
        }
    }
}

#[test]
fn a_key_that_is_missing_hides_nothing() {
    let stand = Stand::committed();
    stand.edit(R_1, "title = \"Torque margin\"\n", "").0.commit("Lose the title");
    stand.delete(R_1).0.commit("Lose the rest");
    let told = stand.changes(Some("HEAD~1..HEAD"), None);
    assert_eq!((ids(&told), unreadable(&told)), (vec!["R-1"], vec![]));
    assert_eq!(ids(&stand.changes(Some("HEAD..HEAD~1"), None)), ["R-1"]);
}

/// A settings file that was a symlink: what it said cannot be told, and is no more the same than it is nothing.
#[test]
fn settings_that_could_not_be_read_are_said() {
    for name in ["instruments.toml", "parameters.toml", "slipmark.toml"] {
        let stand = Stand::committed();
        let path = stand.0.path().join(name);
        let text = std::fs::read_to_string(&path).unwrap();
        std::fs::remove_file(&path).unwrap();
        std::os::unix::fs::symlink("elsewhere.toml", &path).unwrap();
        stand.0.write("elsewhere.toml", &text);
        stand.0.commit("Link");
        std::fs::remove_file(&path).unwrap();
        stand.0.write(name, text.replace("4 MPa", "5 MPa").replace("guarded", "simple").replace("0.05", "0.06"));
        stand.0.commit("Unlink");
        let told = stand.changes(Some("HEAD~1..HEAD"), None);
        assert!(unreadable(&told).iter().any(|(path, _)| *path == name), "{name}: {:?}", unreadable(&told));
        assert!(told.list.is_empty(), "{name}: {:?}", ids(&told));
    }
}

/// The same thing once more in another file is an addition, and its going a removal of nothing.
/// A symlink is not followed: the commit holds the settings and they cannot be read, at either point and at both.
#[test]
fn settings_that_are_a_symlink_are_neither_new_nor_gone() {
    for name in ["slipmark.toml", "parameters.toml", "instruments.toml"] {
        let stand = Stand::committed();
        std::fs::create_dir_all(stand.0.path().join("elsewhere")).unwrap();
        if !stand.0.path().join(name).exists() {
            stand.0.write(name, "# none\n");
            stand.0.commit("Begin it");
        }
        stand.0.git(&["mv", name, "elsewhere/it"]);
        std::os::unix::fs::symlink("elsewhere/it", stand.0.path().join(name)).unwrap();
        stand.0.commit("Link");
        for same in ["HEAD..HEAD", "HEAD"] {
            let told = stand.changes(Some(same), None);
            assert!(told.list.is_empty(), "{name}, {same}: {:?}", ids(&told));
        }
        let told = stand.changes(Some("HEAD~1..HEAD"), None);
        assert!(!unreadable(&told).is_empty(), "{name}");
        let of_file = |told: &Changes| {
            ids(told).contains(&name) || told.list.iter().any(|it| it.path_from.as_deref() == Some(name))
        };
        assert!(!of_file(&told), "{name}: {:?}", ids(&told));
    }
}

#[test]
fn a_copy_under_the_same_id_is_no_move() {
    let stand = Stand::committed();
    let text = std::fs::read_to_string(stand.0.path().join(R_1)).unwrap();
    stand.0.write("requirements/A.md", text);
    stand.0.commit("Copy");
    assert_eq!(stand.told("HEAD~1..HEAD"), ["R-1 added gap added margin added state added strokes added"]);
    assert_eq!(stand.told("HEAD..HEAD~1"), Vec::<String>::new());
}

#[test]
fn names_that_are_no_utf_8_are_said() {
    let stand = Stand::committed();
    let name = OsStr::from_bytes(b"requirements/R-\xff.md");
    let text =
        "+++\nkind = \"requirement\"\nid = \"R-9\"\ntitle = \"T\"\nsource = \"S\"\n+++\nThe valve shall close.\n";
    std::fs::write(stand.0.path().join(name), text).unwrap();
    stand.0.commit("Odd name");
    let told = stand.changes(Some("HEAD~1..HEAD"), None);
    assert!(unreadable(&told).iter().any(|(path, _)| path.contains('\u{fffd}')), "{:?}", unreadable(&told));
}

#[test]
fn a_name_that_changes_in_case_only_is_a_move() {
    let stand = Stand::committed();
    stand.0.git(&["mv", R_1, "requirements/r-1.md"]);
    stand.0.commit("Lower case");
    let told = stand.changes(Some("HEAD~1..HEAD"), None);
    assert_eq!(ids(&told), ["R-1"]);
    assert_eq!(told.list[0].between.kind.word(), "moved");
    assert_eq!(told.list[0].path_to.as_deref(), Some("requirements/r-1.md"));
    assert_eq!(told.list[0].commits.len(), 1);
    assert!(told.unreadable.is_empty());
}

#[test]
fn what_a_sparse_checkout_leaves_out_is_not_gone() {
    let stand = Stand::committed();
    stand.0.git(&["sparse-checkout", "set", "--no-cone", "/*", "!/requirements/R-1.md"]);
    assert!(!stand.0.path().join(R_1).exists());
    let told = stand.changes(Some("HEAD"), None);
    assert!(told.list.is_empty(), "{:?}", ids(&told));
    assert_eq!(unreadable(&told).iter().map(|(path, _)| *path).collect::<Vec<_>>(), [R_1]);
    assert!(stand.changes(Some("HEAD..HEAD"), None).unreadable.is_empty(), "the commit itself is whole");
}

#[test]
fn a_submodule_in_the_project_is_said() {
    let stand = Stand::committed();
    let other = Stand::committed();
    stand.0.git(&["submodule", "add", "-q", &other.0.path().display().to_string(), "requirements/sub"]);
    stand.0.commit("Add a submodule");
    let told = stand.changes(Some("HEAD~1..HEAD"), None);
    assert!(ids(&told).is_empty(), "{:?}", ids(&told));
    assert!(unreadable(&told).iter().any(|(path, _)| *path == "requirements/sub"), "{:?}", unreadable(&told));
}

#[test]
fn a_shallow_clone_says_where_it_cannot_tell() {
    let stand = Stand::tagged();
    for limit in ["0.6", "0.7", "0.8"] {
        let text = std::fs::read_to_string(stand.0.path().join(R_1)).unwrap();
        let old = text.split("min = ").nth(1).unwrap().split_whitespace().next().unwrap().to_string();
        stand.edit(R_1, &format!("min = {old}"), &format!("min = {limit}")).0.commit(limit);
    }
    let folder = tempfile::tempdir().unwrap();
    let from = format!("file://{}", stand.0.path().display());
    git_in(folder.path(), &["clone", "-q", "--depth", "2", "--no-tags", &from, "clone"]);
    let clone = folder.path().join("clone");
    git_in(&clone, &["fetch", "-q", "--depth", "1", "origin", "tag", "TRR-1"]);
    let tree = WorkTree::find(&clone).unwrap();
    let repo = tree.repo().clone();
    let today = jiff::civil::date(2026, 6, 1);
    let now = crate::analysis::run(&tree, crate::analysis::Request::on(today)).unwrap();
    let range = range(&repo, "", (Some("TRR-1..HEAD"), None), None, &now.model).unwrap();
    let told = changes(&repo, "", range, Some(&now), now.request).unwrap().unwrap();
    assert_eq!(ids(&told), ["R-1"]);
    let behind: Vec<&str> = told.list[0].commits.iter().map(|commit| commit.summary.as_str()).collect();
    assert_eq!(behind, ["0.8"], "what the commit at the cut changed is not known");
    assert_eq!(told.cut_off.iter().map(|commit| commit.summary.as_str()).collect::<Vec<_>>(), ["0.7"]);
    assert!(told.cautions.iter().any(|words| words.contains("git fetch --unshallow")), "{:?}", told.cautions);
    assert!(told.put_back.is_empty());
}

#[test]
fn grafts_and_replaced_commits_are_said() {
    let stand = Stand::committed();
    stand.edit(R_1, "min = 0.5", "min = 0.6").0.commit("Tighten");
    assert!(stand.changes(Some("HEAD~1..HEAD"), None).cautions.is_empty());
    stand.0.git(&["replace", "--graft", "HEAD"]);
    let told = stand.changes(Some("HEAD~0..HEAD"), None);
    assert!(told.cautions.iter().any(|words| words.contains("replaced")), "{:?}", told.cautions);
}
