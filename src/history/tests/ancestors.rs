//! What any ancestor held must still be there, or be accounted for: whatever came between, whichever branch it was on.

use super::{PROJECT, Stand};
use crate::git::Oid;
use crate::git::fixture::git_in;
use crate::history::{Look, guard};
use crate::kept::Kept;
use crate::source::WorkTree;

const NONE: [&str; 0] = [];

/// The faults, cleaned of commit ids, after they were found with nothing kept, with what that kept, and with what was kept
/// after each of the commits: always the same.
fn faults(stand: &Stand) -> Vec<String> {
    let repo = stand.0.repo();
    let now = stand.analysis();
    let found = |kept: Kept, from: Option<Oid>| {
        let look = Look { kept, since: None };
        let found = guard(&repo, "", from, &look, &now).unwrap().findings;
        found.into_iter().map(|finding| (finding.code, finding.message, finding.help)).collect::<Vec<_>>()
    };
    let head = repo.head().unwrap();
    let anew = found(Kept::nothing(), head);
    for oid in stand.0.git(&["rev-list", "--reverse", "--date-order", "HEAD"]).lines() {
        found(Kept::beside(&repo), Oid::from_hex(oid));
    }
    assert_eq!(found(Kept::beside(&repo), head), anew);
    assert_eq!(found(Kept::beside(&repo), head), anew);
    // Nothing is kept of a past that was cut off.
    let removed = std::fs::remove_dir_all(repo.common_dir().join("slipmark-kept"));
    assert_eq!(removed.is_ok(), !repo.is_cut_off());
    assert_eq!(found(Kept::beside(&repo), head), anew);
    assert_eq!(found(Kept::beside(&repo), head), anew);
    let clean = |text: &str| {
        let is_id = |word: &&str| word.len() == 10 && word.chars().all(|c| c.is_ascii_hexdigit());
        let words = text.split(' ').map(|word| if is_id(&word.trim_end_matches(',')) { "ID" } else { word });
        words.collect::<Vec<_>>().join(" ")
    };
    anew.iter().map(|(code, message, _)| format!("{code}: {}", clean(message))).collect()
}

fn gone(id: &str, what: &str) -> String {
    format!("vanished: {id} was {what} until ID and is gone")
}

#[test]
fn what_left_between_reviews_is_missed() {
    let guarded = [
        ("requirements/R-1.md", "R-1", "an active requirement"),
        ("records/TR-1.md", "TR-1", "a signed test"),
        ("departures/NC-1.md", "NC-1", "a nonconformance"),
        ("departures/W-1.md", "W-1", "a waiver"),
        ("events/EV-1.md", "EV-1", "a held event"),
    ];
    for (path, id, what) in guarded {
        let stand = Stand::committed();
        stand.delete(path).0.commit("Clean up");
        stand.0.commit("More");
        stand.0.git(&["tag", "-a", "TRR-1", "-m", "review"]);
        assert_eq!(faults(&stand), [gone(id, what)]);
        let help = stand.guard().findings[0].help.clone();
        let held = stand.0.git(&["rev-parse", "--short=10", "HEAD~2"]);
        assert!(help.contains(&format!("git checkout {} -- :/{path}", held.trim())), "{help}");
        // It is enough to bring it back.
        stand.0.git(&["checkout", "--quiet", held.trim(), "--", path]);
        assert_eq!(faults(&stand), NONE);
        stand.0.commit("Bring it back");
        assert_eq!(faults(&stand), NONE);
        // And it may not leave again.
        stand.delete(path).0.commit("Clean up again");
        assert_eq!(faults(&stand), [gone(id, what)]);
    }
}

#[test]
fn what_was_withdrawn_with_a_reason_first_accounts_for_itself() {
    let stand = Stand::tagged();
    stand.edit("requirements/R-1.md", "safety = true", "status = \"withdrawn\"\nreason = \"r\"").0.commit("Withdraw");
    stand.delete("requirements/R-1.md");
    assert_eq!(faults(&stand), NONE, "not committed yet");
    stand.0.commit("Remove");
    assert_eq!(faults(&stand), NONE);
    assert_eq!(stand.less(), ["R-1: gone: it had been withdrawn before its file went"]);
    // Active once more, and gone once more: nothing accounts for that.
    stand.0.git(&["checkout", "--quiet", "TRR-1", "--", "requirements/R-1.md"]);
    stand.0.commit("Back");
    stand.delete("requirements/R-1.md").0.commit("Remove");
    assert_eq!(faults(&stand), ["vanished: R-1 was an active requirement at TRR-1, and is gone"]);
}

#[test]
fn withdrawn_without_a_reason_and_unsigned_account_for_nothing() {
    let stand = Stand::committed();
    stand.edit("requirements/R-1.md", "safety = true", "status = \"withdrawn\"").0.commit("Withdraw");
    stand.delete("requirements/R-1.md");
    assert_eq!(stand.faults(), ["vanished: R-1 was an active requirement at HEAD, and is gone"]);
    stand.0.commit("Remove");
    assert_eq!(faults(&stand), [gone("R-1", "an active requirement")]);
    for (path, from, to, what, id) in [
        ("records/TR-1.md", "\"signed\"", "\"draft\"", "a signed test", "TR-1"),
        ("requirements/R-1.md", "safety = true", "status = \"draft\"", "an active requirement", "R-1"),
    ] {
        let stand = Stand::committed();
        stand.edit(path, from, to).0.commit("A draft again");
        assert_eq!(faults(&stand), NONE);
        stand.delete(path);
        assert_eq!(faults(&stand), [format!("vanished: {id} was {what} at HEAD, and is gone")]);
        stand.0.commit("Remove");
        assert_eq!(faults(&stand), [gone(id, what)]);
    }
}

#[test]
fn a_withdrawn_failure_is_accounted_for_by_a_closed_nonconformance_only() {
    let withdraw = |stand: &Stand| {
        let by = "status = \"withdrawn\"\nreason = \"r\"\nwithdrawn_by = \"lead\"\nwithdrawn = 2026-02-12";
        stand.edit("records/TR-1.md", "status = \"signed\"", by);
    };
    let stand = Stand::committed();
    withdraw(&stand);
    stand.0.commit("Withdraw");
    stand.delete("records/TR-1.md").0.commit("Remove");
    assert_eq!(faults(&stand), [gone("TR-1", "a signed test")]);
    let closed = "status = \"closed\"\nclosed = 2026-02-20\nclosed_by = \"lead\"\ndisposition = \"rework\"";
    stand.edit("departures/NC-1.md", "before = \"leak-check\"", closed);
    assert_eq!(faults(&stand), NONE);
    // One that was met may be withdrawn.
    let stand = Stand::committed();
    withdraw(&stand);
    stand.edit("records/TR-1.md", "outcome.value = \"not met\"", "outcome.value = \"met\"").0.commit("Withdraw");
    stand.delete("records/TR-1.md").0.commit("Remove");
    assert_eq!(faults(&stand), NONE);
}

#[test]
fn what_a_merge_leaves_out_is_gone() {
    // Made and signed on a branch, and not taken by the merge.
    let stand = Stand::committed();
    stand.0.git(&["checkout", "--quiet", "-b", "side"]);
    let record = PROJECT.iter().find(|(path, _)| *path == "records/TR-1.md").unwrap().1.replace("TR-1", "TR-2");
    stand.0.write("records/TR-2.md", record).commit("A test");
    stand.0.git(&["checkout", "--quiet", "main"]);
    stand.edit("slipmark.toml", "Stand", "The stand").0.commit("Rename");
    stand.0.git(&["merge", "--quiet", "--no-commit", "--no-ff", "side"]);
    assert_eq!(faults(&stand), NONE, "not merged yet");
    stand.0.git(&["rm", "--quiet", "-f", "records/TR-2.md"]);
    stand.0.commit("Merge");
    assert_eq!(faults(&stand), [gone("TR-2", "a signed test")]);
    // Merged whole, it is there.
    stand.0.git(&["reset", "--quiet", "--hard", "HEAD^1"]);
    stand.0.git(&["merge", "--quiet", "--no-ff", "-m", "Merge", "side"]);
    assert_eq!(faults(&stand), NONE);
}

#[test]
fn what_one_line_withdrew_and_removed_the_merge_may_remove() {
    let stand = Stand::committed();
    stand.0.git(&["checkout", "--quiet", "-b", "side"]);
    stand.edit("requirements/R-1.md", "safety = true", "status = \"withdrawn\"\nreason = \"r\"").0.commit("Withdraw");
    stand.delete("requirements/R-1.md").0.commit("Remove");
    stand.0.git(&["checkout", "--quiet", "main"]);
    stand.edit("slipmark.toml", "Stand", "The stand").0.commit("Rename");
    stand.0.git(&["merge", "--quiet", "--no-ff", "-m", "Merge", "side"]);
    stand.0.commit("More");
    assert_eq!(faults(&stand), NONE);
    // Removed without a word on a branch, it is missed after the merge as well.
    let stand = Stand::committed();
    stand.0.git(&["checkout", "--quiet", "-b", "side"]);
    stand.delete("requirements/R-1.md").0.commit("Remove");
    stand.0.git(&["checkout", "--quiet", "main"]);
    stand.edit("slipmark.toml", "Stand", "The stand").0.commit("Rename");
    stand.0.git(&["merge", "--quiet", "--no-ff", "-m", "Merge", "side"]);
    stand.0.commit("More");
    assert_eq!(faults(&stand), [gone("R-1", "an active requirement")]);
}

#[test]
fn a_file_that_moves_and_changes_is_there() {
    let stand = Stand::committed();
    // Something left before, so that what comes is looked at.
    stand
        .edit("requirements/R-2.md", "source = \"S\"", "source = \"S\"\nstatus = \"withdrawn\"\nreason = \"r\"")
        .0
        .commit("1");
    stand.delete("requirements/R-2.md").0.commit("2");
    for step in 0..3 {
        let (from, to) = (format!("requirements/{step}"), format!("requirements/{}", step + 1));
        let from = if step == 0 { "requirements/R-1.md".to_string() } else { format!("{from}.md") };
        stand.0.git(&["mv", &from, &format!("{to}.md")]);
        stand.edit(&format!("{to}.md"), "The valve", "The valve valve").0.commit("Move");
        assert_eq!(faults(&stand), NONE);
    }
    // Two change places.
    let swap = |a: &str, b: &str| {
        let at = |path: &str| stand.0.path().join(path);
        std::fs::rename(at(a), at("t")).unwrap();
        std::fs::rename(at(b), at(a)).unwrap();
        std::fs::rename(at("t"), at(b)).unwrap();
    };
    swap("requirements/3.md", "records/TR-1.md");
    stand.0.commit("Swap");
    assert_eq!(faults(&stand), NONE);
}

#[test]
fn what_was_replaced_by_what_was_replaced_is_accounted_for() {
    let stand = Stand::committed();
    let renumber = |from: &str, to: &str| {
        let replaces = format!("id = \"{to}\"\nreplaces = [\"{from}\"]");
        stand.edit("requirements/R-1.md", &format!("id = \"{from}\""), &replaces);
        let text = std::fs::read_to_string(stand.0.path().join("requirements/R-1.md")).unwrap();
        let twice = text.matches("replaces = ").count() == 2;
        if twice {
            let older = text.lines().rfind(|line| line.starts_with("replaces = ")).unwrap().to_string();
            stand.edit("requirements/R-1.md", &format!("{older}\n"), "");
            // The older of the two was the second one.
            let now = std::fs::read_to_string(stand.0.path().join("requirements/R-1.md")).unwrap();
            assert!(now.contains(&format!("replaces = [\"{from}\"]")), "{now}");
        }
        stand.0.commit("Renumber");
    };
    renumber("R-1", "R-11");
    assert_eq!(faults(&stand), NONE);
    renumber("R-11", "R-21");
    assert_eq!(faults(&stand), NONE);
    stand.edit("requirements/R-1.md", "replaces = [\"R-11\"]\n", "");
    let what = |id| gone(id, "an active requirement");
    assert_eq!(faults(&stand), [what("R-1"), what("R-11")]);
}

#[test]
fn a_file_that_cannot_be_read_for_a_while_holds_what_it_held() {
    // Broken, and mended.
    let stand = Stand::committed();
    stand.edit("records/TR-1.md", "kind =", "kind ==").0.commit("Slip of the finger");
    stand.edit("records/TR-1.md", "kind ==", "kind =").0.commit("Mend");
    assert_eq!(faults(&stand), NONE);
    // Broken, and mended into something else.
    stand.edit("records/TR-1.md", "kind =", "kind ==").0.commit("Slip of the finger");
    stand.edit("records/TR-1.md", "kind ==", "kind =").edit("records/TR-1.md", "\"TR-1\"", "\"TR-2\"").0.commit("Mend");
    assert_eq!(faults(&stand), [gone("TR-1", "a signed test")]);
    // Broken, and deleted.
    let stand = Stand::committed();
    stand.edit("records/TR-1.md", "kind =", "<<<<<<< HEAD\nkind =").0.commit("Conflict");
    stand.delete("records/TR-1.md").0.commit("Remove");
    assert_eq!(faults(&stand), [gone("TR-1", "a signed test")]);
    // Never readable: what can be made out of it counts, and what cannot was never held.
    let stand = Stand::committed();
    let half = "+++\nkind = \"test\"\nid = \"TR-3\"\ntitle = \"t\"\nstatus = signed\n+++\n";
    stand.0.write("records/TR-3.md", half).write("records/x.md", b"+++\nkind \xff").commit("Broken");
    stand.delete("records/TR-3.md").delete("records/x.md").0.commit("Remove");
    assert_eq!(faults(&stand), [gone("TR-3", "a signed test")]);
}

#[test]
fn a_project_of_its_own_inside_takes_its_files_away() {
    let stand = Stand::committed();
    stand.0.write("records/slipmark.toml", "name = \"other\"\nevents = [\"e\"]\n");
    stand.edit("slipmark.toml", "name = \"Stand\"", "name = \"Stand\"\nprojects = [\"records\"]").0.commit("Inside");
    stand.0.commit("More");
    assert_eq!(faults(&stand), [gone("TR-1", "a signed test")]);
    stand.delete("records/slipmark.toml").0.commit("Outside again");
    assert_eq!(faults(&stand), NONE);
    // What comes and goes in another project is none of ours.
    stand.0.write("other/slipmark.toml", "name = \"other\"\nevents = [\"e\"]\n");
    stand.0.write("other/R-9.md", PROJECT[3].1.replace("R-1", "R-9")).commit("Another");
    stand.delete("other/R-9.md").0.commit("Remove there");
    assert_eq!(faults(&stand), NONE);
}

#[test]
fn histories_of_many_shapes_can_be_told() {
    let stand = Stand::committed();
    // Another root, merged with a third line.
    stand.0.git(&["checkout", "--quiet", "--orphan", "other"]);
    stand.0.git(&["rm", "-r", "--quiet", "-f", "."]);
    let record = PROJECT.iter().find(|(path, _)| *path == "records/TR-1.md").unwrap().1.replace("TR-1", "TR-7");
    stand.0.write("records/TR-7.md", &record).commit("Another root");
    stand.0.git(&["checkout", "--quiet", "-b", "third", "main"]);
    stand.0.write("records/TR-8.md", record.replace("TR-7", "TR-8")).commit("Third");
    stand.0.git(&["checkout", "--quiet", "main"]);
    stand.0.write("notes.txt", "x").commit("Main");
    stand.0.git(&["merge", "--quiet", "--allow-unrelated-histories", "-m", "Both", "other"]);
    stand.0.git(&["merge", "--quiet", "--no-ff", "-m", "Third", "third"]);
    assert_eq!(faults(&stand), NONE);
    stand.delete("records/TR-7.md").delete("records/TR-8.md").0.commit("Remove");
    assert_eq!(faults(&stand), [gone("TR-7", "a signed test"), gone("TR-8", "a signed test")]);
    // Only the case of a name changes.
    let stand = Stand::committed();
    stand.0.git(&["mv", "records/TR-1.md", "records/tr-1.md"]);
    stand.0.commit("Case");
    assert_eq!(faults(&stand), NONE);
}

#[test]
fn history_that_was_rewritten_is_told_as_it_is_now() {
    let stand = Stand::committed();
    stand.delete("records/TR-1.md").0.commit("Remove");
    assert_eq!(faults(&stand), [gone("TR-1", "a signed test")]);
    stand.0.git(&["reset", "--quiet", "--soft", "HEAD^"]);
    stand.0.git(&["checkout", "--quiet", "HEAD", "--", "records/TR-1.md"]);
    stand.0.commit("Nothing removed");
    assert_eq!(faults(&stand), NONE);
}

/// The project was in another folder when something was removed, and before.
#[test]
fn a_project_that_moved_is_followed_to_where_it_was() {
    let stand = Stand::committed();
    stand.delete("records/TR-1.md").0.commit("Remove");
    for (from, to) in [(".", "stand"), ("stand", "deep/stand")] {
        std::fs::create_dir_all(stand.0.path().join(to)).unwrap();
        for entry in stand.0.path().join(from).read_dir().unwrap().map(|entry| entry.unwrap()) {
            if ![".git", "stand"].iter().any(|name| *name == entry.file_name()) {
                std::fs::rename(entry.path(), stand.0.path().join(to).join(entry.file_name())).unwrap();
            }
        }
        stand.0.commit("Move");
        let tree = WorkTree::find(&stand.0.path().join(to)).unwrap();
        let now = crate::analysis::run(&tree, crate::analysis::Request::on(jiff::civil::date(2026, 6, 1))).unwrap();
        let repo = stand.0.repo();
        let found = guard(&repo, to, repo.head().unwrap(), &Look::default(), &now).unwrap().findings;
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(found[0].message.starts_with("TR-1 was a signed test until"), "{}", found[0].message);
        assert!(found[0].help.contains(":records/TR-1.md > records/TR-1.md"), "{}", found[0].help);
    }
}

#[test]
fn a_clone_without_all_files_cannot_tell() {
    let stand = Stand::committed();
    stand.edit("records/TR-1.md", "Notes.", "More notes.").0.commit("Change");
    stand.edit("records/TR-1.md", "More notes.", "Notes again.").0.commit("Change");
    stand.0.git(&["config", "uploadpack.allowFilter", "true"]);
    let clone = tempfile::tempdir().unwrap();
    let from = format!("file://{}", stand.0.path().display());
    git_in(clone.path(), &["clone", "--quiet", "--filter=blob:none", &from, "clone"]);
    let folder = clone.path().join("clone");
    let asked = || {
        let tree = WorkTree::find(&folder).unwrap();
        let now = crate::analysis::run(&tree, crate::analysis::Request::on(jiff::civil::date(2026, 6, 1))).unwrap();
        let look = Look { kept: Kept::beside(tree.repo()), since: None };
        let found = guard(tree.repo(), "", tree.repo().head().unwrap(), &look, &now).unwrap().findings;
        found.into_iter().map(|finding| format!("{}: {}", finding.code, finding.message)).collect::<Vec<_>>()
    };
    let text = "shallow-history: 2 files or folders of earlier commits cannot be read from this clone, so it cannot be told what left with them";
    assert_eq!(asked(), [text]);
    assert_eq!(asked(), [text], "nothing is kept of it");
    git_in(&folder, &["fetch", "--quiet", "--refetch", "--no-filter"]);
    assert_eq!(asked(), NONE);
}

/// An id that was none and was mended in its file took nothing away.
#[test]
fn an_id_that_is_mended_leaves_nothing_behind() {
    let stand = Stand::committed();
    let gone = || -> Vec<String> {
        let named = |fault: &String| Some(fault.strip_prefix("vanished: ")?.split_once(" was ")?.0.to_string());
        stand.faults().iter().filter_map(named).collect()
    };
    stand.edit("records/TR-1.md", "id = \"TR-1\"", "id = \"TR-1 \"").0.commit("Slip");
    assert_eq!(gone(), ["TR-1"]);
    stand.edit("records/TR-1.md", "id = \"TR-1 \"", "id = \"TR-1\"");
    assert_eq!(gone(), Vec::<String>::new(), "not committed");
    stand.0.commit("Mend");
    assert_eq!(gone(), Vec::<String>::new());
    stand.edit("records/TR-1.md", "id = \"TR-1\"", "id = \"TR 1\"").0.commit("Slip");
    stand.delete("records/TR-1.md").0.commit("Lose it");
    assert_eq!(gone(), ["TR 1", "TR-1"]);
}

#[test]
fn a_graft_cannot_hide_what_left() {
    let stand = Stand::committed();
    stand.delete("records/TR-1.md").0.commit("Remove");
    let head = stand.0.git(&["rev-parse", "HEAD"]);
    stand.0.write(".git/info/grafts", &head);
    let found = faults(&stand);
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(found[0].starts_with("shallow-history: history is cut off by .git/info/grafts"));
    assert_eq!(found[1], gone("TR-1", "a signed test"));
}
