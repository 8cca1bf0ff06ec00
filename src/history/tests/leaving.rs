//! What leaves silently is a fault; what leaves by name, or only moves, is none.

use super::{PROJECT, Stand};
use crate::analysis::{self, Request};
use crate::git::fixture::{Fixture, git_in};
use crate::history::guard;
use crate::source::WorkTree;

const NONE: [&str; 0] = [];

#[test]
fn nothing_changed_is_silent() {
    let stand = Stand::tagged();
    assert_eq!(stand.faults(), NONE);
    assert_eq!(stand.less(), NONE);
}

#[test]
fn each_guarded_kind_vanishes_aloud() {
    let kinds = [
        ("requirements/R-1.md", "R-1", "an active requirement"),
        ("records/TR-1.md", "TR-1", "a signed test"),
        ("departures/NC-1.md", "NC-1", "a nonconformance"),
        ("departures/W-1.md", "W-1", "a waiver"),
        ("events/EV-1.md", "EV-1", "a held event"),
    ];
    for (path, id, what) in kinds {
        // In the work tree, seen from the commit.
        let stand = Stand::committed();
        stand.delete(path);
        assert_eq!(stand.faults(), [format!("vanished: {id} was {what} at HEAD, and is gone")]);
        assert!(stand.guard().findings[0].help.contains(&format!("git checkout HEAD -- :/{path}")));
        // Committed, seen from the review.
        let stand = Stand::tagged();
        stand.delete(path).0.commit("Clean up");
        assert_eq!(stand.faults(), [format!("vanished: {id} was {what} at TRR-1, and is gone")]);
    }
}

#[test]
fn a_renamed_file_is_no_loss_and_a_renamed_id_is() {
    let stand = Stand::tagged();
    stand.0.git(&["mv", "requirements", "moved"]);
    assert_eq!(stand.faults(), NONE);
    assert_eq!(stand.less(), NONE);
    stand.edit("moved/R-1.md", "id = \"R-1\"", "id = \"R-9\"");
    assert_eq!(stand.faults(), ["vanished: R-1 was an active requirement at TRR-1, and is gone"]);
    stand.edit("moved/R-1.md", "id = \"R-9\"", "id = \"R-9\"\nreplaces = [\"R-1\"]");
    assert_eq!(stand.faults(), NONE);
    assert_eq!(stand.less(), ["R-1: gone: replaced by R-9"]);
}

#[test]
fn a_requirement_does_not_stand_in_for_a_record() {
    let stand = Stand::tagged();
    stand.delete("records/TR-1.md").edit(
        "requirements/R-1.md",
        "source = \"S\"",
        "source = \"S\"\nreplaces = [\"TR-1\"]",
    );
    assert_eq!(stand.faults(), ["vanished: TR-1 was a signed test at TRR-1, and is gone"]);
    stand.0.commit("Replace");
    assert_eq!(stand.faults(), ["vanished: TR-1 was a signed test at TRR-1, and is gone"]);
}

/// The whole project goes to another folder, and one of its files does not arrive.
#[test]
fn a_project_takes_its_past_along() {
    let stand = Stand::committed();
    stand.0.write("other/slipmark.toml", "name = \"Another\"\nevents = [\"x\"]\n").commit("Another project");
    stand.0.git(&["tag", "-a", "TRR-1", "-m", "review"]);
    let moved = |stand: &Stand| {
        std::fs::create_dir(stand.0.path().join("stand")).unwrap();
        for entry in stand.0.path().read_dir().unwrap().map(|entry| entry.unwrap()) {
            if ![".git", "stand", "other"].iter().any(|name| *name == entry.file_name()) {
                std::fs::rename(entry.path(), stand.0.path().join("stand").join(entry.file_name())).unwrap();
            }
        }
    };
    moved(&stand);
    let asked = |stand: &Stand| {
        let tree = WorkTree::find(&stand.0.path().join("stand")).unwrap();
        let now = analysis::run(&tree, Request::on(jiff::civil::date(2026, 6, 1))).unwrap();
        let repo = stand.0.repo();
        guard(&repo, "stand", repo.head().unwrap(), &crate::history::Look::default(), &now).unwrap()
    };
    assert!(asked(&stand).findings.is_empty() && asked(&stand).less_asked.is_empty());
    stand.delete("stand/records/TR-1.md");
    for _ in 0..2 {
        let found = asked(&stand).findings;
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].message, "TR-1 was a signed test at TRR-1, and is gone");
        assert!(found[0].help.contains("git show TRR-1:records/TR-1.md > records/TR-1.md"), "{}", found[0].help);
        stand.0.commit("Move the project");
    }
}

/// A link where the project stood is not the project.
#[cfg(unix)]
#[test]
fn a_link_does_not_keep_the_past_from_a_project() {
    let fixture = Fixture::new();
    for (path, text) in PROJECT {
        fixture.write(&format!("stand/{path}"), text);
    }
    fixture.commit("Start");
    std::fs::rename(fixture.path().join("stand"), fixture.path().join("real")).unwrap();
    std::os::unix::fs::symlink("real", fixture.path().join("stand")).unwrap();
    std::fs::remove_file(fixture.path().join("real/records/TR-1.md")).unwrap();
    let tree = WorkTree::find(&fixture.path().join("stand")).unwrap();
    let now = analysis::run(&tree, Request::on(jiff::civil::date(2026, 6, 1))).unwrap();
    let repo = fixture.repo();
    let found = guard(&repo, "real", repo.head().unwrap(), &crate::history::Look::default(), &now).unwrap().findings;
    assert_eq!(found.iter().map(|finding| finding.code).collect::<Vec<_>>(), ["vanished"]);
}

#[test]
fn a_project_that_was_copied_or_is_new_has_no_past() {
    let stand = Stand::tagged();
    for (path, text) in PROJECT.iter().filter(|(path, _)| *path != "records/TR-1.md") {
        stand.0.write(&format!("copy/{path}"), text);
    }
    let tree = WorkTree::find(&stand.0.path().join("copy")).unwrap();
    let now = analysis::run(&tree, Request::on(jiff::civil::date(2026, 6, 1))).unwrap();
    let repo = stand.0.repo();
    let found = guard(&repo, "copy", repo.head().unwrap(), &crate::history::Look::default(), &now).unwrap();
    assert!(found.findings.is_empty() && found.less_asked.is_empty());
}

const NC_9: &str = "+++\nkind = \"nonconformance\"\nid = \"NC-9\"\ntitle = \"Weeps\"\ndate = 2026-03-01\n\
                    against = [\"MOV/SN02\"]\n+++\nSeen.\n";

/// The guard over the project in `folder`.
fn faults_in(stand: &Stand, folder: &str) -> Vec<String> {
    let tree = WorkTree::find(&stand.0.path().join(folder)).unwrap();
    let now = analysis::run(&tree, Request::on(jiff::civil::date(2026, 6, 1))).unwrap();
    let repo = stand.0.repo();
    let kept = crate::history::Look { kept: crate::kept::Kept::beside(&repo), ..Default::default() };
    let told = [crate::history::Look::default(), kept.clone(), kept].map(|look| {
        let found = guard(&repo, folder, repo.head().unwrap(), &look, &now).unwrap().findings;
        found.into_iter().map(|finding| format!("{}: {}", finding.code, finding.message)).collect::<Vec<_>>()
    });
    assert!(told[0] == told[1] && told[0] == told[2], "kept or not");
    told[0].clone()
}

fn copy_to(stand: &Stand, folder: &str) {
    for (path, _) in PROJECT {
        let text = std::fs::read_to_string(stand.0.path().join(path)).unwrap();
        stand.0.write(&format!("{folder}/{path}"), text);
    }
}

fn remove_the_original(stand: &Stand) {
    for (path, _) in PROJECT {
        std::fs::remove_file(stand.0.path().join(path)).unwrap();
    }
}

#[test]
fn a_copy_goes_on_from_an_original_that_is_removed_later() {
    let stand = Stand::committed();
    copy_to(&stand, "stand");
    stand.delete("stand/records/TR-1.md").0.commit("Copy");
    assert_eq!(faults_in(&stand, "stand"), NONE);
    stand.0.write("departures/NC-8.md", NC_9.replace("NC-9", "NC-8")).commit("Find something");
    stand.delete("departures/NC-8.md").0.write("departures/NC-9.md", NC_9).commit("Find another, and lose the first");
    assert_eq!(faults_in(&stand, "stand"), NONE, "as long as both stand they are two");
    let was = stand.0.repo().head().unwrap().unwrap().short();
    let expected = |faults: Vec<String>| {
        assert_eq!(faults.len(), 3, "{faults:?}");
        assert_eq!(faults[0], format!("vanished: NC-9 was a nonconformance at {was}, and is gone"));
        assert_eq!(faults[1], format!("vanished: TR-1 was a signed test at {was}, and is gone"));
        assert!(faults[2].starts_with("vanished: NC-8 was a nonconformance until "), "{faults:?}");
    };
    remove_the_original(&stand);
    stand.delete("departures/NC-9.md");
    expected(faults_in(&stand, "stand"));
    stand.0.commit("Remove the original");
    expected(faults_in(&stand, "stand"));
    stand.edit("stand/items/MOV.md", "Valve", "Main valve").0.commit("Title");
    expected(faults_in(&stand, "stand"));
    let named = "+++\nkind = \"decision\"\nid = \"D-1\"\ntitle = \"t\"\ndate = 2026-03-01\nstatus = \"accepted\"\n\
                 withdraws = [\"NC-8\", \"NC-9\", \"TR-1\"]\n+++\nWhy.\n";
    stand.0.write("stand/D-1.md", named);
    assert_eq!(faults_in(&stand, "stand").len(), 1, "TR-1 failed, and NC-1 that names it is not closed");
    close_nc_1(&stand, "stand/");
    assert_eq!(faults_in(&stand, "stand"), NONE);
}

/// Closes the nonconformance that names the record that failed.
fn close_nc_1(stand: &Stand, folder: &str) {
    stand.edit(
        &format!("{folder}departures/NC-1.md"),
        "before = \"leak-check\"",
        "before = \"leak-check\"\nstatus = \"closed\"\ndisposition = \"use-as-is\"\nclosed = 2026-03-01\nclosed_by = \"lead\"\nvoids = \"nothing\"\n\
         reason = \"r\"",
    );
}

#[test]
fn a_project_that_was_made_after_another_has_nothing_of_it_when_that_one_goes() {
    let stand = Stand::committed();
    copy_to(&stand, "stand");
    stand.0.commit("Copy");
    for (path, _) in PROJECT.iter().filter(|(path, _)| path.ends_with(".md")) {
        stand.delete(&format!("stand/{path}"));
    }
    stand.0.write("stand/X-1.md", "+++\nkind = \"item\"\nid = \"X-1\"\ntitle = \"Another\"\n+++\n");
    stand.0.write("stand/X-2.md", "+++\nkind = \"item\"\nid = \"X-2\"\ntitle = \"Another\"\n+++\n").commit("Own");
    let own = faults_in(&stand, "stand");
    remove_the_original(&stand);
    stand.0.commit("Done with");
    assert_eq!(faults_in(&stand, "stand"), own);
}

#[test]
fn a_project_is_followed_also_where_every_file_is_touched_as_it_moves() {
    let stand = Stand::committed();
    stand.0.write("departures/NC-9.md", NC_9).commit("Find something");
    copy_to(&stand, "stand");
    remove_the_original(&stand);
    stand.delete("departures/NC-9.md");
    for (path, _) in PROJECT.iter().filter(|(path, _)| path.ends_with(".md")) {
        let path = stand.0.path().join("stand").join(path);
        let text = std::fs::read_to_string(&path).unwrap();
        std::fs::write(path, format!("{text}\n")).unwrap();
    }
    for _ in 0..2 {
        let faults = faults_in(&stand, "stand");
        assert_eq!(faults.len(), 1, "{faults:?}");
        assert!(faults[0].starts_with("vanished: NC-9 was a nonconformance "), "{faults:?}");
        stand.0.commit("Move");
    }
}

#[test]
fn a_thing_that_turned_into_another_is_gone() {
    let stand = Stand::tagged();
    stand.0.write("records/TR-1.md", "+++\nkind = \"slot\"\nid = \"TR-1\"\ntitle = \"t\"\n+++\n");
    assert_eq!(stand.faults(), ["vanished: TR-1 was a signed test at TRR-1, and now names another thing: slot"]);
}

#[test]
fn only_an_accepted_decision_withdraws() {
    let decision = |status: &str| {
        format!(
            "+++\nkind = \"decision\"\nid = \"D-1\"\ntitle = \"t\"\ndate = 2026-03-01\nstatus = \"{status}\"\n\
             withdraws = [\"R-1\", \"TR-1\"]\n+++\n"
        )
    };
    let stand = Stand::tagged();
    stand.delete("requirements/R-1.md").delete("records/TR-1.md").0.write("D-1.md", decision("proposed"));
    assert_eq!(stand.faults().len(), 2);
    stand.0.write("D-1.md", decision("accepted"));
    let failed = stand.guard().findings;
    assert_eq!(failed.len(), 1, "TR-1 failed, and NC-1 that names it is not closed");
    assert!(failed[0].help.ends_with("have a closed nonconformance name TR-1 in `found_by`"), "{}", failed[0].help);
    close_nc_1(&stand, "");
    assert_eq!(stand.faults(), NONE);
    let used = "TR-1: used nothing of strokes instead of 4";
    let closed = "NC-1: voids no evidence now";
    assert_eq!(
        stand.less(),
        [closed, "R-1: gone: withdrawn by D-1", "TR-1: the signed test is gone: withdrawn by D-1", used]
    );
}

#[test]
fn withdrawn_is_still_there_and_a_draft_record_may_go() {
    let stand = Stand::tagged();
    stand.edit("requirements/R-1.md", "safety = true", "status = \"withdrawn\"\nreason = \"r\"\nsafety = true");
    assert_eq!(stand.faults(), NONE);
    let stand = Stand::committed();
    let draft = "+++\nkind = \"test\"\nid = \"TR-2\"\ntitle = \"t\"\ndate = 2026-02-10\n+++\n";
    stand.0.write("records/TR-2.md", draft).commit("A draft");
    stand.delete("records/TR-2.md");
    assert_eq!(stand.faults(), NONE);
    stand.0.commit("Not needed");
    assert_eq!(stand.faults(), NONE);
}

#[test]
fn what_cannot_be_read_now_has_vanished_too() {
    let stand = Stand::tagged();
    stand.edit("records/TR-1.md", "kind =", "kind ==");
    // Not to be brought back over what stands there now.
    let expected = "vanished: TR-1 was a signed test at TRR-1, and records/TR-1.md, where it stood, cannot be read";
    assert_eq!(stand.faults(), [expected]);
    let stand = Stand::tagged();
    // Hidden in a folder that is another project's.
    stand.0.write("records/slipmark.toml", "name = \"other\"\nevents = [\"e\"]\n");
    stand.edit("slipmark.toml", "name = \"Stand\"", "name = \"Stand\"\nprojects = [\"records\"]");
    assert_eq!(stand.faults(), ["vanished: TR-1 was a signed test at TRR-1, and is gone"]);
}

#[test]
fn a_baseline_that_cannot_be_read_says_so() {
    let stand = Stand::committed();
    stand.edit("records/TR-1.md", "kind =", "kind ==").0.commit("Slip of the finger");
    stand.0.git(&["tag", "-a", "TRR-1", "-m", "review"]);
    assert_eq!(stand.faults(), NONE, "as broken now as then: a fault of its own");
    stand.edit("records/TR-1.md", "kind ==", "kind =").0.commit("Mend");
    let faults = stand.faults();
    assert_eq!(faults.len(), 1);
    assert!(
        faults[0].starts_with("unreadable-baseline: records/TR-1.md cannot be read as it was at TRR-1"),
        "{faults:?}"
    );
}

#[test]
fn a_shallow_clone_cannot_tell() {
    let stand = Stand::tagged();
    stand.edit("requirements/R-1.md", "0.5", "0.6").0.commit("More");
    let clone = tempfile::tempdir().unwrap();
    let from = format!("file://{}", stand.0.path().display());
    git_in(clone.path(), &["clone", "--quiet", "--depth", "1", &from, "clone"]);
    let tree = crate::source::WorkTree::find(&clone.path().join("clone")).unwrap();
    let request = crate::analysis::Request::on(jiff::civil::date(2026, 6, 1));
    let now = crate::analysis::run(&tree, request).unwrap();
    let guard =
        crate::history::guard(tree.repo(), "", tree.repo().head().unwrap(), &crate::history::Look::default(), &now)
            .unwrap();
    let codes: Vec<&str> = guard.findings.iter().map(|finding| finding.code).collect();
    assert_eq!(codes, ["shallow-history"]);
}

#[test]
fn a_lightweight_tag_is_no_review() {
    let stand = Stand::committed();
    stand.0.git(&["tag", "bookmark"]);
    stand.edit("requirements/R-1.md", "min = 0.5", "min = 0.3").0.commit("Relax");
    assert_eq!(stand.less(), NONE);
}

#[test]
fn the_project_below_the_top_is_looked_back_at_where_it_is() {
    let stand = Stand::committed();
    stand.0.git(&["rm", "-r", "-q", "--cached", "."]);
    let inner = stand.0.path().join("stand");
    std::fs::create_dir(&inner).unwrap();
    for name in [
        "slipmark.toml",
        "parameters.toml",
        "instruments.toml",
        "requirements",
        "items",
        "procedures",
        "records",
        "departures",
        "events",
    ] {
        std::fs::rename(stand.0.path().join(name), inner.join(name)).unwrap();
    }
    stand.0.commit("Move down");
    std::fs::remove_file(inner.join("records/TR-1.md")).unwrap();
    let tree = crate::source::WorkTree::find(&inner).unwrap();
    let request = crate::analysis::Request::on(jiff::civil::date(2026, 6, 1));
    let now = crate::analysis::run(&tree, request).unwrap();
    let guard = crate::history::guard(
        tree.repo(),
        "stand",
        tree.repo().head().unwrap(),
        &crate::history::Look::default(),
        &now,
    )
    .unwrap();
    assert_eq!(guard.findings.len(), 1);
    assert_eq!(guard.findings[0].message, "TR-1 was a signed test at HEAD, and is gone");
}
