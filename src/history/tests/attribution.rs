//! Which commit is behind a change, however the lines of work ran.

use super::Stand;
use crate::git::Oid;
use crate::history::{Changes, CommitRef};

const R_1: &str = "requirements/R-1.md";
const R_2: &str = "requirements/R-2.md";

impl Stand {
    /// Runs git.
    fn git(&self, arguments: &[&str]) -> &Stand {
        self.0.git(arguments);
        self
    }

    /// Merges a branch without committing, whether there are conflicts or not.
    fn merge(&self, branch: &str) -> &Stand {
        let script = format!("git merge --no-commit --no-ff -q {branch} >/dev/null 2>&1 || true");
        self.git(&["-c", &format!("alias.try=!{script}"), "try"])
    }

    /// Summaries of the commits behind the change of one thing.
    fn behind(&self, asked: &str, id: &str) -> Vec<String> {
        let changes = self.changes(Some(asked), None);
        let change = changes.list.iter().find(|change| change.id == id).unwrap_or_else(|| panic!("{id} is not told"));
        summaries(&change.commits)
    }
}

fn summaries(commits: &[CommitRef]) -> Vec<String> {
    commits.iter().map(|commit| commit.summary.clone()).collect()
}

/// A branch `side` that tightens the margin, and `main` that shortens the title, parted after `Start`.
fn two_lines() -> Stand {
    let stand = Stand::committed();
    stand.git(&["checkout", "-q", "-b", "side"]);
    stand.edit(R_1, "min = 0.5", "min = 0.6").0.commit("Tighten on the side");
    stand.git(&["checkout", "-q", "main"]);
    stand.edit(R_1, "title = \"Torque margin\"", "title = \"Margin\"").0.commit("Shorten on main");
    stand
}

#[test]
fn a_change_on_a_branch_is_the_branch_s_and_not_the_merge_s() {
    let stand = two_lines();
    stand.git(&["merge", "-q", "--no-ff", "-m", "Merge side", "side"]);
    assert_eq!(stand.behind("HEAD~1..HEAD", "R-1"), ["Tighten on the side"]);
    let all = stand.behind("HEAD~2..HEAD", "R-1");
    assert_eq!(all.len(), 2, "{all:?}");
    assert!(all.iter().all(|summary| summary != "Merge side"), "{all:?}");
    assert_eq!(stand.changes(Some("HEAD~2..HEAD"), None).commits.len(), 3, "the merge is counted");
}

#[test]
fn a_file_that_moved_on_one_side_and_was_edited_on_the_other_is_not_the_merge_s() {
    let stand = Stand::committed();
    stand.git(&["checkout", "-q", "-b", "side"]);
    stand.git(&["mv", R_1, "torque.md"]).0.commit("Move on the side");
    stand.git(&["checkout", "-q", "main"]);
    stand.edit(R_1, "min = 0.5", "min = 0.6").0.commit("Tighten on main");
    stand.git(&["merge", "-q", "--no-ff", "-m", "Merge side", "side"]);
    assert_eq!(stand.behind("HEAD~2..HEAD", "R-1"), ["Tighten on main"]);
}

#[test]
fn words_of_its_own_are_the_merge_s() {
    let stand = two_lines();
    stand.merge("side").edit(R_2, "1.5 * meop", "1.4 * meop").0.commit("Merge side, and relax on the way");
    assert_eq!(stand.behind("HEAD~2..HEAD", "R-2"), ["Merge side, and relax on the way"]);
    let first = stand.behind("HEAD~2..HEAD", "R-1");
    assert!(!first.contains(&"Merge side, and relax on the way".to_string()), "{first:?}");
}

#[test]
fn a_conflict_is_the_merge_s_however_it_was_settled() {
    for (kept, word) in [("min = 0.6", "theirs"), ("min = 0.7", "ours"), ("min = 0.8", "neither")] {
        let stand = Stand::committed();
        stand.git(&["checkout", "-q", "-b", "side"]);
        stand.edit(R_1, "min = 0.5", "min = 0.6").0.commit("Side");
        stand.git(&["checkout", "-q", "main"]);
        stand.edit(R_1, "min = 0.5", "min = 0.7").0.commit("Main");
        stand.merge("side").git(&["checkout", "-q", "main", "--", R_1]);
        stand.edit(R_1, "min = 0.7", kept).0.commit("Settle it");
        let behind = stand.behind("HEAD~2..HEAD", "R-1");
        assert_eq!(behind.last().map(String::as_str), Some("Settle it"), "{word}: {behind:?}");
        assert_eq!(behind.len(), 3, "{word}: {behind:?}");
    }
}

#[test]
fn one_side_thrown_away_is_the_merge_s() {
    let stand = two_lines();
    stand.git(&["merge", "-q", "--no-ff", "-s", "ours", "-m", "Keep ours", "side"]);
    assert_eq!(stand.behind("side..HEAD", "R-1"), ["Shorten on main", "Keep ours"]);
}

#[test]
fn settings_are_told_apart_by_name() {
    let stand = Stand::committed();
    stand.edit("parameters.toml", "[meop]", "[a]\nvalue = \"1 s\"\nsource = \"x\"\n\n\n\n\n\n[meop]").0.commit("Add a");
    stand.git(&["checkout", "-q", "-b", "side"]);
    stand.edit("parameters.toml", "4 MPa gauge", "5 MPa gauge").0.commit("Raise on the side");
    stand.git(&["checkout", "-q", "main"]);
    stand.edit("parameters.toml", "1 s", "2 s").0.commit("Lengthen on main");
    stand.git(&["merge", "-q", "--no-ff", "-m", "Merge side", "side"]);
    assert_eq!(stand.behind("HEAD~2..HEAD", "meop"), ["Raise on the side"]);
    assert_eq!(stand.behind("HEAD~2..HEAD", "a"), ["Lengthen on main"]);
    let change = stand.changes(Some("HEAD~2..HEAD"), None);
    let parameters = &change.list.iter().find(|it| it.id == "R-2").unwrap().parameters;
    let told: Vec<_> = parameters.iter().map(|it| (it.name.as_str(), it.from.as_deref(), it.to.as_deref())).collect();
    assert_eq!(told, [("meop", Some("4 MPa gauge"), Some("5 MPa gauge"))]);
}

#[test]
fn an_octopus_joins_three_lines_and_does_nothing_itself() {
    let stand = Stand::committed();
    for (branch, path, from, to) in [
        ("one", R_1, "min = 0.5", "min = 0.6"),
        ("two", R_2, "1.5 * meop", "1.6 * meop"),
        ("three", "items/PRG.md", "limit = \"100\"", "limit = \"90\""),
    ] {
        stand.git(&["checkout", "-q", "-b", branch, "main"]);
        stand.edit(path, from, to).0.commit(branch);
    }
    stand.git(&["checkout", "-q", "main"]);
    stand.git(&["merge", "-q", "--no-ff", "-m", "Octopus", "one", "two", "three"]);
    assert_eq!(stand.0.git(&["rev-list", "--parents", "-1", "HEAD"]).split_whitespace().count(), 5);
    assert_eq!(stand.behind("HEAD~1..HEAD", "R-1"), ["one"]);
    assert_eq!(stand.behind("HEAD~1..HEAD", "R-2"), ["two"]);
    assert_eq!(stand.behind("HEAD~1..HEAD", "PRG"), ["three"]);
}

#[test]
fn histories_without_a_common_start_are_joined_too() {
    let stand = Stand::committed();
    stand.git(&["checkout", "-q", "--orphan", "other"]).git(&["rm", "-rfq", "."]);
    let text =
        "+++\nkind = \"requirement\"\nid = \"R-9\"\ntitle = \"Purge\"\nsource = \"S\"\n+++\nThe purge shall last.\n";
    stand.0.write("requirements/R-9.md", text).commit("Another start");
    stand.git(&["checkout", "-q", "main"]);
    stand.git(&["merge", "-q", "--allow-unrelated-histories", "-m", "Join", "other"]);
    let told = stand.changes(Some("HEAD~1..HEAD"), None);
    assert_eq!(told.list.iter().map(|it| it.id.as_str()).collect::<Vec<_>>(), ["R-9"]);
    assert_eq!(summaries(&told.list[0].commits), ["Another start"]);
}

#[test]
fn commits_are_in_the_order_of_their_parents_whatever_their_dates() {
    let stand = Stand::committed();
    for (limit, date) in
        [("0.6", "2030-01-01T00:00:00Z"), ("0.7", "1970-01-02T00:00:00Z"), ("0.8", "2038-02-01T00:00:00Z")]
    {
        let now = std::fs::read_to_string(stand.0.path().join(R_1)).unwrap();
        let old = now.split("min = ").nth(1).unwrap().split_whitespace().next().unwrap().to_string();
        stand.edit(R_1, &format!("min = {old}"), &format!("min = {limit}"));
        stand.git(&["commit", "-qam", limit, "--date", date]);
    }
    assert_eq!(stand.behind("HEAD~3..HEAD", "R-1"), ["0.6", "0.7", "0.8"]);
    let change = stand.changes(Some("HEAD~3..HEAD"), None);
    let dates: Vec<&str> = change.list[0].commits.iter().map(|commit| commit.date.as_str()).collect();
    assert_eq!(dates, ["2030-01-01", "1970-01-02", "2038-02-01"]);
}

#[test]
fn what_was_taken_back_in_between_is_told_with_all_its_commits() {
    let stand = Stand::committed();
    stand.edit(R_1, "min = 0.5", "min = 0.6").0.commit("Tighten");
    stand.git(&["revert", "--no-edit", "HEAD"]);
    stand.edit(R_1, "min = 0.5", "min = 0.7").0.commit("Tighten more");
    assert_eq!(stand.behind("HEAD~3..HEAD", "R-1"), ["Tighten", "Revert \"Tighten\"", "Tighten more"]);
}

/// What was put back, as `id: summaries; slipped`.
fn put_back(told: &Changes) -> Vec<String> {
    let one = told.put_back.iter().map(|it| {
        let slipped: Vec<&str> = it.evidence.iter().map(|own| own.record.as_str()).collect();
        let word = if it.came_and_went { "came and went" } else { "put back" };
        format!("{} {word}: {}; {}", it.id, summaries(&it.commits).join(", "), slipped.join(", "))
    });
    one.collect()
}

#[test]
fn what_was_put_back_is_told_apart_with_the_evidence_made_in_between() {
    let stand = Stand::committed();
    stand.edit(R_2, "1.5 * meop", "1.6 * meop").0.commit("Tighten");
    let mark = stand.analysis().model.requirement("R-2").unwrap().mark.clone();
    stand.edit("records/TR-1.md", "[verifies.R-2]", &format!("[verifies.R-2]\nmark = \"{mark}\"")).0.commit("Test");
    stand.edit(R_2, "1.6 * meop", "1.5 * meop").0.commit("Relax");
    stand
        .0
        .write("D-9.md", "+++\nkind = \"decision\"\nid = \"D-9\"\ntitle = \"D\"\ndate = 2026-03-01\n+++\n")
        .commit("Add");
    stand.delete("D-9.md").0.commit("Think again");
    let told = stand.changes(Some("HEAD~5..HEAD"), None);
    assert_eq!(told.list.iter().map(|it| it.id.as_str()).collect::<Vec<_>>(), ["TR-1"]);
    assert_eq!(put_back(&told), ["D-9 came and went: Add, Think again; ", "R-2 put back: Tighten, Relax; TR-1"]);
    assert_eq!(told.redo.len(), 1, "{:?}", told.redo);
    assert!(put_back(&stand.changes(Some("HEAD~1..HEAD"), None)).is_empty(), "a decision that is gone is told as gone");
}

#[test]
fn the_reason_and_the_decisions_are_those_of_the_message() {
    let stand = Stand::committed();
    let message = "Tighten\n\nThe strokes were\nstill rising.\n\nMore.\n\nDecision: D-1 (strokes), D-2: heat\nSigned-off-by: A <a@b.c>";
    stand.edit(R_1, "min = 0.5", "min = 0.6").0.commit(message);
    let told = stand.changes(Some("HEAD~1..HEAD"), None);
    assert_eq!(told.list[0].decisions, ["D-1", "D-2"]);
    assert_eq!(told.list[0].commits[0].reason.as_deref(), Some("The strokes were still rising."));
    let decided: Vec<_> = told.decided.iter().map(|it| (it.id.as_str(), it.title.is_some())).collect();
    assert_eq!(decided, [("D-1", false), ("D-2", false)], "no file has either");
}

#[test]
fn authors_are_those_of_the_mailmap() {
    let stand = Stand::committed();
    let author =
        ["-c", "user.name=x", "commit", "-q", "--allow-empty", "-m", "Other", "--author", "ab <old@example.org>"];
    stand.git(&author);
    let oid = Oid::from_hex(stand.0.git(&["rev-parse", "HEAD"]).trim()).unwrap();
    assert_eq!(stand.0.repo().authors(&[oid]).unwrap(), ["ab"]);
    stand.0.write(".mailmap", "Responsible engineer <new@example.org> <old@example.org>\n");
    assert_eq!(stand.0.repo().authors(&[oid]).unwrap(), ["Responsible engineer"]);
}

#[test]
fn what_one_side_moved_and_another_took_away_is_a_conflict() {
    let stand = Stand::committed();
    stand.git(&["checkout", "-q", "-b", "side"]).git(&["mv", R_1, "torque.md"]).0.commit("Move on the side");
    stand.git(&["checkout", "-q", "main"]).delete(R_1).0.commit("Drop on main");
    stand.merge("side").git(&["checkout", "-q", "side", "--", "torque.md"]).0.commit("Keep it");
    assert_eq!(stand.behind("HEAD~1..HEAD", "R-1"), ["Keep it"]);
    let mut all = stand.behind("HEAD~2..HEAD", "R-1");
    all.sort();
    assert_eq!(all, ["Drop on main", "Keep it", "Move on the side"]);
}

#[test]
fn two_starts_that_bring_one_thing_differently_are_a_conflict() {
    let stand = Stand::committed();
    stand.git(&["checkout", "-q", "--orphan", "other"]).git(&["rm", "-rfq", "."]);
    let text =
        "+++\nkind = \"requirement\"\nid = \"R-1\"\ntitle = \"Torque\"\nsource = \"S\"\n+++\nThe valve shall turn.\n";
    stand.0.write("torque.md", text).commit("Another start");
    stand.git(&["checkout", "-q", "main"]);
    let script = "git merge --no-commit --allow-unrelated-histories -q other >/dev/null 2>&1 || true";
    stand.git(&["-c", &format!("alias.try=!{script}"), "try"]).delete("torque.md").0.commit("Join");
    let told = stand.changes(Some("other..HEAD"), None);
    let first = told.list.iter().find(|it| it.id == "R-1").unwrap();
    assert_eq!(summaries(&first.commits), ["Start", "Join"]);
}

#[test]
fn the_same_edit_on_two_lines_is_not_the_octopus_s() {
    let stand = Stand::committed();
    for branch in ["one", "two", "three"] {
        stand.git(&["checkout", "-q", "-b", branch, "main"]);
        match branch {
            "three" => stand.edit(R_2, "1.5 * meop", "1.6 * meop"),
            _ => stand.edit(R_1, "min = 0.5", "min = 0.6"),
        };
        if branch == "two" {
            stand.git(&["mv", R_1, "torque.md"]);
        }
        stand.0.commit(branch);
    }
    stand.git(&["checkout", "-q", "main"]).git(&["merge", "-q", "-s", "ours", "--no-commit", "one", "two", "three"]);
    stand.git(&["checkout", "-q", "two", "--", "torque.md"]).git(&["checkout", "-q", "three", "--", R_2]).delete(R_1);
    stand.0.commit("Octopus");
    assert_eq!(stand.behind("HEAD~1..HEAD", "R-1").len(), 2, "{:?}", stand.behind("HEAD~1..HEAD", "R-1"));
    assert!(!stand.behind("HEAD~1..HEAD", "R-1").contains(&"Octopus".to_string()));
    assert_eq!(stand.behind("HEAD~1..HEAD", "R-2"), ["three"]);
}

/// Nothing can be read of this, and it says whose it is.
const BROKEN: (&str, &str) = ("kind = \"requirement\"", "kind =");

/// Paths of what could not be read, each with the commit.
fn unreadable(told: &Changes) -> Vec<String> {
    let commit = |commit: &Option<CommitRef>| commit.as_ref().map(|it| it.summary.clone()).unwrap_or_default();
    told.unreadable.iter().map(|it| format!("{} {}", it.path, commit(&it.commit))).collect()
}

#[test]
fn what_cannot_be_read_at_one_point_and_stands_elsewhere_at_the_other_is_not_new() {
    let stand = Stand::committed();
    stand.edit(R_2, BROKEN.0, BROKEN.1).0.commit("Break");
    stand.git(&["mv", R_2, "proof.md"]).0.commit("Move");
    stand.edit("proof.md", BROKEN.1, BROKEN.0).0.commit("Mend");
    for range in ["HEAD~2..HEAD", "HEAD..HEAD~2"] {
        let told = stand.changes(Some(range), None);
        assert!(told.list.iter().all(|it| it.id != "R-2"), "{range}");
    }
    let moved = unreadable(&stand.changes(Some("HEAD~2..HEAD~1"), None));
    assert_eq!(moved, [format!("{R_2} Break"), "proof.md Move".to_string()]);
}

#[test]
fn what_a_merge_left_unreadable_is_told() {
    let stand = Stand::committed();
    stand.git(&["checkout", "-q", "-b", "side"]);
    stand.edit(R_1, "title = ", "title = = ").0.commit("Break on the side");
    stand.git(&["checkout", "-q", "main"]);
    stand.edit(R_1, "torque margin of", "margin of torque of").0.commit("Reword on main");
    stand.git(&["merge", "-q", "--no-ff", "-m", "Merge side", "side"]);
    stand.edit(R_1, "title = = ", "title = ").0.commit("Mend");
    let told = unreadable(&stand.changes(Some("HEAD~2..HEAD"), None));
    assert_eq!(told, [format!("{R_1} Break on the side"), format!("{R_1} Merge side")]);
}
