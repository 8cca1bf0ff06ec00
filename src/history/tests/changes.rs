//! What changed between two commits, or since one.

use std::sync::Arc;

use super::Stand;
use crate::analysis::Request;
use crate::diag::Switch;
use crate::git::Oid;
use crate::history::{Change, ChangeKind, Changes, Direction, RangeError, changes, project_at, range};

impl Stand {
    fn commit(&self, message: &str) -> Oid {
        self.0.commit(message)
    }

    /// What lies in a range as the command line names it.
    pub(super) fn changes(&self, asked: Option<&str>, since: Option<&str>) -> Changes {
        let (repo, now) = (Arc::new(self.0.repo()), self.analysis());
        let range = range(&repo, "", (asked, since), None, &now.model).unwrap();
        let to = range.to.map(|oid| project_at(&repo, "", oid, now.request).unwrap());
        let end = to.as_ref().map_or(Some(&now), Option::as_ref);
        changes(&repo, "", range, end, now.request).unwrap().unwrap()
    }

    pub(super) fn told(&self, asked: &str) -> Vec<String> {
        self.changes(Some(asked), None).list.iter().map(shown).collect()
    }
}

/// `id kind: criterion direction, …`.
fn shown(change: &Change) -> String {
    let criteria = change.between.criteria.iter().map(|it| format!(" {} {}", it.name, it.direction.word()));
    format!("{} {}{}", change.id, change.between.kind.word(), criteria.collect::<String>())
}

fn slipped(change: &Change) -> Vec<&str> {
    change.evidence.iter().map(|it| it.record.as_str()).collect()
}

const R_1: &str = "requirements/R-1.md";

#[test]
fn a_held_event_is_told_key_by_key_after_the_waivers() {
    let stand = Stand::tagged();
    stand.edit("events/EV-1.md", "\"aborted\"", "\"completed\"");
    stand.edit("departures/W-1.md", "reason = \"r\"", "reason = \"s\"").0.commit("Mend");
    let list = stand.changes(Some("TRR-1"), None).list;
    let told: Vec<(&str, &str)> = list.iter().map(|change| (change.id.as_str(), change.kind.as_str())).collect();
    assert_eq!(told, [("W-1", "waiver"), ("EV-1", "event")]);
    let keys: Vec<String> = list[1].between.keys.iter().map(|key| key.show()).collect();
    assert_eq!(keys, ["outcome: aborted → completed"]);
}

#[test]
fn nothing_lies_between_a_commit_and_itself() {
    let stand = Stand::tagged();
    let same = stand.changes(Some("HEAD..HEAD"), None);
    assert!(same.list.is_empty() && same.commits.is_empty() && same.unreadable.is_empty());
    assert!(stand.changes(None, None).list.is_empty(), "the work tree is as the tag");
}

#[test]
fn limits_move_in_a_direction_and_back_in_the_other() {
    let stand = Stand::committed();
    stand.edit(R_1, "min = 0.5", "min = 0.6").edit(R_1, "max = \"25.4 mm\"", "max = \"1 in\"");
    stand.edit(R_1, "count = 10", "count = 8").commit("Ask for other limits");
    assert_eq!(stand.told("HEAD~1..HEAD"), ["R-1 revised gap restated margin tightened strokes relaxed"]);
    assert_eq!(stand.told("HEAD..HEAD~1"), ["R-1 revised gap restated margin relaxed strokes tightened"]);
    let change = &stand.changes(Some("HEAD~1..HEAD"), None).list[0];
    assert_eq!(change.between.statement, None);
    assert!(change.safety);
    assert_eq!(
        change.commits.iter().map(|commit| commit.summary.as_str()).collect::<Vec<_>>(),
        ["Ask for other limits"]
    );
    let back = &stand.changes(Some("HEAD..HEAD~1"), None).list[0];
    let swapped = back.between.criteria.iter().map(|it| (it.to.clone(), it.from.clone()));
    assert!(change.between.criteria.iter().map(|it| (it.from.clone(), it.to.clone())).eq(swapped));
}

#[test]
fn what_comes_is_added_and_what_goes_is_removed() {
    let stand = Stand::committed();
    let text = "+++\nkind = \"requirement\"\nid = \"R-9\"\ntitle = \"Purge\"\nsource = \"S\"\nmin = \"1 s\"\n+++\nThe purge shall last.\n";
    stand.0.write("requirements/R-9.md", text);
    stand.delete("requirements/R-2.md").commit("Purge instead of proof");
    assert_eq!(stand.told("HEAD~1..HEAD"), ["R-2 removed value removed", "R-9 added value added"]);
    assert_eq!(stand.told("HEAD..HEAD~1"), ["R-2 added value added", "R-9 removed value removed"]);
    let list = stand.changes(Some("HEAD~1"), None).list;
    assert_eq!(list[0].between.statement, Some((Some("The valve shall withstand the proof pressure.".into()), None)));
    assert_eq!(list[1].between.statement, Some((None, Some("The purge shall last.".into()))));
}

#[test]
fn a_file_that_moves_is_moved_and_nothing_else() {
    let stand = Stand::committed();
    stand.0.git(&["mv", R_1, "torque.md"]);
    stand.commit("Tidy");
    assert_eq!(stand.told("HEAD~1..HEAD"), ["R-1 moved"]);
    let change = &stand.changes(Some("HEAD~1..HEAD"), None).list[0];
    assert_eq!((change.path_from.as_deref(), change.path_to.as_deref()), (Some(R_1), Some("torque.md")));
    assert_eq!(change.commits.len(), 1);
}

#[test]
fn words_plans_and_looks_are_told_apart() {
    let stand = Stand::committed();
    stand.edit(R_1, "at 95 K.", "at 90 K.").commit("Colder");
    stand.edit(R_1, "before = \"leak-check\"", "before = \"cold-flow\"").commit("Later");
    stand.edit(R_1, "title = \"Torque margin\"", "title = \"Margin\"").commit("Shorter");
    stand.edit("items/PRG.md", "title = \"Purge\"", "title = \"Purge line\"").edit(
        R_1,
        "source = \"S\"",
        "parents = [\"R-3\"]",
    );
    stand.commit("Hang it from the whole");
    assert_eq!(stand.told("HEAD~4..HEAD~3"), ["R-1 revised"]);
    assert_eq!(stand.told("HEAD~3..HEAD~2"), ["R-1 plan"]);
    assert_eq!(stand.told("HEAD~2..HEAD~1"), ["R-1 cosmetic"]);
    assert_eq!(stand.told("HEAD~1..HEAD"), ["R-1 revised", "PRG cosmetic"]);
    let parents = &stand.changes(Some("HEAD~1..HEAD"), None).list[0].between.reach;
    assert_eq!(parents, &["parent R-3 added"]);
    assert_eq!(stand.changes(Some("HEAD~4"), None).list[0].commits.len(), 4);
}

#[test]
fn a_parameter_moves_the_limits_that_rest_on_it() {
    let stand = Stand::committed();
    stand.edit("parameters.toml", "4 MPa gauge", "5 MPa gauge").commit("Raise the pressure");
    assert_eq!(stand.told("HEAD~1..HEAD"), ["R-2 revised value tightened", "meop revised"]);
    assert_eq!(stand.changes(Some("HEAD~1"), None).list[0].commits.len(), 1);
}

#[test]
fn signed_evidence_that_lined_up_has_slipped() {
    let stand = Stand::committed();
    let mark = stand.analysis().model.requirements.iter().find(|it| it.head.id.as_str() == "R-2").unwrap().mark.clone();
    stand.edit("records/TR-1.md", "[verifies.R-2]", &format!("[verifies.R-2]\nmark = \"{mark}\"")).commit("Mark it");
    stand.edit("requirements/R-2.md", "1.5 * meop", "1.6 * meop").commit("Tighten\n\nDecision: D-7");
    let change = &stand.changes(Some("HEAD~1..HEAD"), None).list[0];
    assert_eq!(change.between.criteria[0].direction, Direction::Tightened);
    assert_eq!(slipped(change), ["TR-1"]);
    assert_eq!(change.decisions, ["D-7"]);
    assert!(stand.changes(Some("HEAD~2..HEAD~1"), None).list.iter().all(|change| change.evidence.is_empty()));
}

#[test]
fn the_work_tree_and_withdrawal_by_status() {
    let stand = Stand::tagged();
    stand.edit(R_1, "safety = true", "safety = true\nstatus = \"withdrawn\"\nreason = \"dropped\"");
    let list = stand.changes(None, None).list;
    assert_eq!(list.iter().map(|it| it.between.kind).collect::<Vec<_>>(), [ChangeKind::Withdrawn]);
    assert!(list[0].uncommitted && list[0].commits.is_empty());
}

#[test]
fn since_takes_a_commit_a_tag_a_day_and_a_decision() {
    let stand = Stand::tagged();
    stand.edit(R_1, "min = 0.5", "min = 0.6");
    stand.0.write(
        "D-1.md",
        "+++\nkind = \"decision\"\nid = \"D-1\"\ntitle = \"More\"\ndate = 2026-03-01\nrevises = [\"R-1\"]\n+++\n",
    );
    stand.commit("Decide");
    for since in ["HEAD~1", "TRR-1", "D-1"] {
        let told = stand.changes(None, Some(since));
        assert_eq!(
            told.list.iter().map(shown).collect::<Vec<_>>(),
            ["R-1 revised margin tightened", "D-1 added"],
            "{since}"
        );
        assert_eq!(told.list[0].decisions, ["D-1"], "{since}");
    }
    // Every commit here was written on 14 March.
    assert!(stand.changes(None, Some("2026-03-15")).list.is_empty());
    let all = stand.changes(None, Some("2026-03-14"));
    assert_eq!(all.range.from, None);
    assert!(all.list.iter().all(|change| change.between.kind == ChangeKind::Added));
    let (repo, now) = (stand.0.repo(), stand.analysis());
    assert!(matches!(range(&repo, "", (None, Some("D-9")), None, &now.model), Err(RangeError::Git(_))));
    assert!(matches!(range(&repo, "", (Some("A...B"), None), None, &now.model), Err(RangeError::ThreeDots(_))));
}

#[test]
fn a_commit_that_does_not_parse_is_told() {
    let stand = Stand::committed();
    stand.edit(R_1, "safety = true", "safety = = true").commit("Break it");
    stand.edit(R_1, "safety = = true", "safety = true").commit("Mend it");
    let told = stand.changes(Some("HEAD~2..HEAD"), None);
    assert!(told.list.is_empty());
    assert_eq!(unreadable(&told), [(R_1, "Break it")]);
    assert_eq!(unreadable(&stand.changes(Some("HEAD~1..HEAD"), None)), [(R_1, "Break it")], "the start is broken");
    stand.edit(R_1, "safety = true", "safety = = true");
    assert_eq!(unreadable(&stand.changes(Some("HEAD"), None)), [(R_1, "the work tree")]);
}

/// Each unreadable file with the commit that left it so.
fn unreadable(changes: &Changes) -> Vec<(&str, &str)> {
    changes
        .unreadable
        .iter()
        .map(|it| (it.path.as_str(), it.commit.as_ref().map_or("the work tree", |commit| &commit.summary)))
        .collect()
}

#[test]
fn without_a_tag_there_is_nothing_to_look_back_to() {
    let stand = Stand::committed();
    let asked = range(&stand.0.repo(), "", (None, None), None, &stand.analysis().model);
    assert!(matches!(asked, Err(RangeError::NoTag { light: None })));
}

#[test]
fn the_example_tells_what_was_tightened_and_what_that_undid() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("example");
    crate::example::build(&dir).unwrap();
    let tree = crate::source::WorkTree::find(&dir).unwrap();
    let repo = tree.repo().clone();
    let request = Request { today: jiff::civil::date(2026, 12, 1), switch: Switch::default(), wording: false };
    let now = crate::analysis::run(&tree, request).unwrap();
    let range = range(&repo, tree.prefix(), (Some("PDR..HEAD"), None), None, &now.model).unwrap();
    let to = range.to.unwrap();
    let now = project_at(&repo, tree.prefix(), to, request).unwrap();
    let told = changes(&repo, tree.prefix(), range, now.as_ref(), request).unwrap().unwrap();
    assert!(told.unreadable.is_empty());
    assert!(told.list.iter().all(|change| !change.commits.is_empty() && !change.uncommitted));
    let slipped = told.list.iter().filter(|change| !change.evidence.is_empty());
    assert!(slipped.flat_map(|change| &change.between.criteria).any(|it| it.direction == Direction::Tightened));
    assert!(told.list.iter().any(|change| change.decisions.contains(&"D-001".to_string())));
}
