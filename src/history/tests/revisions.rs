//! How one thing came to read as it does.

use super::Stand;
use crate::history::{Revisions, held_ids, revisions, revisions_of};

impl Stand {
    fn revisions(&self, id: &str) -> Option<Revisions> {
        let repo = self.0.repo();
        revisions(&repo, "", id, repo.head().unwrap().unwrap()).unwrap()
    }
}

/// `number word`, oldest first.
fn told(revisions: &Revisions) -> Vec<String> {
    revisions.list.iter().map(|it| format!("{} {}", it.number, it.happened.word())).collect()
}

const R_2: &str = "requirements/R-2.md";

#[test]
fn revisions_are_counted_across_moves_and_without_what_is_cosmetic() {
    let stand = Stand::committed();
    stand.edit(R_2, "1.5 * meop", "1.6 * meop").0.commit("Tighten");
    stand.0.git(&["mv", R_2, "proof.md"]);
    stand.0.commit("Move");
    stand.edit("proof.md", "title = \"Proof\"", "title = \"Proof pressure\"").0.commit("Title");
    stand.edit("proof.md", "withstand the", "withstand twice the").0.commit("Reword");
    stand.edit("parameters.toml", "4 MPa", "5 MPa").0.commit("Raise");
    let all = stand.revisions("R-2").unwrap();
    assert_eq!(told(&all), ["1 added", "2 revised", "2 moved", "2 cosmetic", "3 revised", "4 revised"]);
    let marks: Vec<_> = all.list.iter().map(|it| it.mark.clone().unwrap()).collect();
    assert_eq!(marks[1], marks[3]);
    assert!(marks[0] != marks[1] && marks[3] != marks[4] && marks[4] != marks[5]);
    let now = stand.analysis();
    assert_eq!(
        *marks.last().unwrap(),
        now.model.requirements.iter().find(|it| it.head.id.as_str() == "R-2").unwrap().mark
    );
    assert_eq!(all.list[4].statement.as_deref(), Some("The valve shall withstand twice the proof pressure."));
}

#[test]
fn what_is_gone_or_was_broken_keeps_its_history() {
    let stand = Stand::committed();
    stand.edit(R_2, "title = ", "title = = ").0.commit("Break");
    stand.edit(R_2, "title = = ", "title = ").edit(R_2, "1.5 *", "1.4 *").0.commit("Mend");
    stand.delete(R_2).0.commit("Drop");
    let all = stand.revisions("R-2").unwrap();
    assert_eq!(told(&all), ["1 added", "1 unreadable", "2 revised", "3 removed"]);
    assert!(stand.revisions("R-22").is_none());
    let repo = stand.0.repo();
    let held = held_ids(&repo, "", repo.head().unwrap().unwrap()).unwrap();
    assert!(held.contains("R-2") && held.contains("MOV") && !held.contains("R-22"));
}

#[test]
fn what_replaces_another_brings_its_history_along() {
    let stand = Stand::committed();
    stand.0.git(&["mv", R_2, "R-8.md"]);
    stand.edit("R-8.md", "id = \"R-2\"", "id = \"R-8\"\nreplaces = [\"R-2\"]").0.commit("Renumber\n\nDecision: D-3");
    let new = stand.revisions("R-8").unwrap();
    assert_eq!(told(&new), ["1 added"]);
    assert_eq!(new.list[0].decisions, ["D-3"]);
    assert_eq!(new.replaces.iter().map(told).collect::<Vec<_>>(), [["1 added", "2 removed"]]);
    assert_eq!(stand.revisions("R-2").unwrap().replaced_by, ["R-8"]);
}

#[test]
fn many_things_are_told_as_each_is_alone() {
    let stand = Stand::committed();
    stand.edit(R_2, "title = ", "title = = ").0.commit("Break");
    stand.edit(R_2, "title = = ", "title = ").edit(R_2, "1.5 *", "1.4 *").0.commit("Mend");
    stand.0.git(&["mv", R_2, "R-8.md"]);
    stand.edit("R-8.md", "id = \"R-2\"", "id = \"R-8\"\nreplaces = [\"R-2\"]").0.commit("Renumber\n\nDecision: D-3");
    stand.edit("parameters.toml", "4 MPa", "5 MPa").0.commit("Raise");
    let repo = stand.0.repo();
    let head = repo.head().unwrap().unwrap();
    let held = held_ids(&repo, "", head).unwrap();
    let all = revisions_of(&repo, "", held.iter().map(String::as_str).chain(["R-22"]), head).unwrap();
    assert_eq!(all.keys().collect::<Vec<_>>(), held.iter().collect::<Vec<_>>());
    for id in &held {
        let alone = stand.revisions(id).unwrap();
        assert_eq!(format!("{:?}", all[id]), format!("{alone:?}"));
    }
    assert_eq!(told(&all["R-8"]), ["1 added", "2 revised"]);
    assert_eq!(told(&all["R-8"].replaces[0]), ["1 added", "1 unreadable", "2 revised", "3 removed"]);
}

/// Summaries of the commits, oldest first.
fn commits(revisions: &Revisions) -> Vec<&str> {
    revisions.list.iter().map(|it| it.commit.summary.as_str()).collect()
}

#[test]
fn a_line_of_work_that_moved_it_is_told_also_where_the_merge_does_not_follow() {
    let stand = Stand::committed();
    stand.0.git(&["checkout", "-q", "-b", "side"]);
    stand.0.git(&["mv", R_2, "proof.md"]);
    stand.0.commit("Move");
    stand.edit("proof.md", "1.5 *", "1.6 *").0.commit("Tighten");
    stand.0.git(&["checkout", "-q", "main"]);
    stand.edit(R_2, "withstand the", "withstand twice the").0.commit("Reword");
    stand.0.git(&["merge", "-q", "-s", "ours", "--no-ff", "-m", "Keep ours", "side"]);
    let all = stand.revisions("R-2").unwrap();
    assert_eq!(told(&all)[0], "1 added");
    let mut summaries = commits(&all);
    summaries.sort_unstable();
    assert_eq!(summaries, ["Keep ours", "Move", "Reword", "Start", "Tighten"]);
}

#[test]
fn what_another_thing_took_the_file_of_keeps_its_history() {
    let stand = Stand::committed();
    stand.edit(R_2, "id = \"R-2\"", "id = \"R-9\"").0.commit("Renumber in place");
    stand.delete(R_2).0.commit("Drop");
    let all = stand.revisions("R-2").unwrap();
    assert_eq!(told(&all), ["1 added", "2 removed"]);
    assert_eq!(commits(&all), ["Start", "Renumber in place"]);
    assert_eq!(told(&stand.revisions("R-9").unwrap()), ["1 added", "2 removed"]);
}

#[test]
fn what_was_broken_and_moved_at_once_is_unreadable_and_not_gone() {
    let stand = Stand::committed();
    stand.0.git(&["mv", R_2, "proof.md"]);
    stand.edit("proof.md", "kind = \"requirement\"", "kind =").0.commit("Break");
    stand.edit("proof.md", "kind =", "kind = \"requirement\"").0.commit("Mend");
    let all = stand.revisions("R-2").unwrap();
    assert_eq!(told(&all), ["1 added", "1 unreadable", "1 moved"]);
}

/// What the first commit brought is looked for among what is there still or was lost; what was lost otherwise is listed.
#[test]
fn what_the_first_commit_named_is_known_however_it_was_lost() {
    const NAMING: &str = "+++\nkind = \"requirement\"\nid = \"R-9\"\ntitle = \"Proof\"\nsource = \"S\"\nreplaces = [\"R-2\"]\nmin = \"1 s\"\n+++\nThe valve shall hold.\n";
    for how in ["kept", "deleted", "a symlink in its place"] {
        let stand = Stand::begun(&[("R-9.md", NAMING)]);
        if how != "kept" {
            stand.delete("R-9.md");
        }
        #[cfg(unix)]
        if how.starts_with("a symlink") {
            std::os::unix::fs::symlink(R_2, stand.0.path().join("R-9.md")).unwrap();
        }
        stand.edit(R_2, "1.5 *", "1.4 *").0.commit("Go on");
        let all = stand.revisions("R-2").unwrap();
        assert_eq!(all.replaced_by, ["R-9"], "{how}");
        assert_eq!(told(&all), ["1 added", "2 revised"], "{how}");
    }
}
