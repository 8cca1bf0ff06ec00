//! Decisions and signatures held to account: what is found, and what is rightly passed over.

use super::Stand;
use crate::history::account;
use crate::model::kinds::Entity;
use crate::model::load::load_one;
use crate::text::FileId;

impl Stand {
    /// The account, as `code: message`.
    fn account(&self) -> Vec<String> {
        let repo = self.0.repo();
        let account = account(&repo, "", repo.head().unwrap(), &self.analysis()).unwrap();
        account.findings.into_iter().map(|finding| format!("{}: {}", finding.code, finding.message)).collect()
    }

    /// What is taken back, as `id: what`.
    fn taken_back(&self) -> Vec<String> {
        let repo = self.0.repo();
        let account = account(&repo, "", repo.head().unwrap(), &self.analysis()).unwrap();
        account.taken_back.into_iter().map(|own| format!("{}: {}", own.id, own.what)).collect()
    }

    /// The codes of the account.
    fn codes(&self) -> Vec<String> {
        self.account().iter().map(|text| text.split(':').next().unwrap_or_default().to_string()).collect()
    }

    fn decision(&self, id: &str, keys: &str) -> &Stand {
        let text = format!(
            "+++\nkind = \"decision\"\nid = \"{id}\"\ntitle = \"Choice\"\ndate = 2026-03-01\n{keys}+++\nWhy.\n"
        );
        self.0.write(&format!("decisions/{id}.md"), text);
        self
    }

    /// Works out the seal of a record anew, as somebody would who wants an edit not to show.
    fn seal(&self, path: &str) -> &Stand {
        let full = self.0.path().join(path);
        let text = std::fs::read_to_string(&full).unwrap();
        let (Some(Entity::Record(read)), _) = load_one(FileId(0), &text) else { panic!("{path} is no record") };
        let seal = format!("seal = \"{}\"\n", read.seal_now);
        let text = match &read.seal {
            Some(old) => text.replace(&format!("seal = \"{}\"\n", old.value), &seal),
            None => text.replace("status = \"signed\"\n", &format!("status = \"signed\"\n{seal}")),
        };
        std::fs::write(full, text).unwrap();
        self
    }
}

const R_1: &str = "requirements/R-1.md";
const R_2: &str = "requirements/R-2.md";
const TR_1: &str = "records/TR-1.md";
const TP_2: &str = "procedures/TP-2.md";
const NONE: [&str; 0] = [];

#[test]
fn what_is_to_be_revised_is_revised_with_the_decision_or_after_it() {
    let stand = Stand::committed();
    stand.decision("D-1", "revises = [\"R-2\"]\n");
    assert_eq!(stand.account(), ["decided-and-not-done: D-1 revises R-2, which reads as it did before D-1"]);
    // Not committed, together.
    stand.edit(R_2, "1.5 * meop", "1.6 * meop");
    assert_eq!(stand.account(), NONE);
    // The decision alone, then the change.
    stand.edit(R_2, "1.6 * meop", "1.5 * meop").0.commit("Decide");
    let found = stand.account();
    assert!(found[0].contains("reads as it did before D-1 was accepted ("), "{found:?}");
    stand.edit(R_2, "title = \"Proof\"", "title = \"Proof pressure\"").0.commit("Title");
    assert_eq!(stand.codes(), ["decided-and-not-done"], "a title is no revision");
    stand.edit(R_2, "1.5 * meop", "1.6 * meop").0.commit("Raise");
    assert_eq!(stand.account(), NONE);
    // It was revised; that it was taken back later is another matter.
    stand.edit(R_2, "1.6 * meop", "1.5 * meop").0.commit("Take back");
    assert_eq!(stand.account(), NONE);
}

#[test]
fn a_parameter_a_plan_and_a_withdrawal_revise_too() {
    for (path, from, to) in [
        ("parameters.toml", "4 MPa", "5 MPa"),
        (R_2, "on = \"each\"", "on = \"one\""),
        (R_2, "source = \"S\"", "source = \"S\"\nstatus = \"withdrawn\"\nreason = \"r\""),
    ] {
        let stand = Stand::committed();
        stand.decision("D-1", "revises = [\"R-2\"]\n").0.commit("Decide");
        stand.edit(path, from, to).0.commit("Do");
        assert_eq!(stand.account(), NONE, "{path}");
    }
}

#[test]
fn a_proposal_asks_for_nothing_and_what_was_done_before_it_was_accepted_does_not_count() {
    let stand = Stand::committed();
    stand.decision("D-1", "status = \"proposed\"\nrevises = [\"R-2\"]\n").0.commit("Propose");
    assert_eq!(stand.account(), NONE);
    stand.edit(R_2, "1.5 * meop", "1.6 * meop").0.commit("Raise ahead");
    stand.edit("decisions/D-1.md", "proposed", "accepted").0.commit("Accept");
    assert_eq!(stand.codes(), ["decided-and-not-done"]);
    let ahead = Stand::committed();
    ahead.edit(R_2, "1.5 * meop", "1.6 * meop").0.commit("Raise ahead\n\nDecision: D-1");
    ahead.decision("D-1", "revises = [\"R-2\"]\n").0.commit("Accept");
    assert_eq!(ahead.account(), NONE, "the commit names the decision");
}

#[test]
fn a_revision_on_a_branch_and_a_moved_file_count() {
    let stand = Stand::committed();
    stand.decision("D-1", "revises = [\"R-2\"]\n").0.commit("Decide");
    stand.0.git(&["checkout", "--quiet", "-b", "side"]);
    stand.0.git(&["mv", R_2, "proof.md"]);
    stand.0.commit("Move");
    assert_eq!(stand.codes(), ["decided-and-not-done"]);
    stand.edit("proof.md", "1.5 * meop", "1.6 * meop").0.commit("Raise");
    stand.0.git(&["checkout", "--quiet", "main"]);
    stand.edit("items/MOV.md", "Valve", "Main valve").0.commit("Title");
    stand.0.git(&["merge", "--quiet", "--no-edit", "side"]);
    assert_eq!(stand.account(), NONE);
}

#[test]
fn what_is_added_was_not_there_and_what_is_withdrawn_is_out_of_force() {
    let stand = Stand::committed();
    stand.decision("D-1", "adds = [\"R-1\"]\nwithdraws = [\"R-2\", \"TR-1\", \"W-1\", \"R-99\"]\n").0.commit("Decide");
    let found = stand.account();
    assert_eq!(found.len(), 4, "{found:?}");
    assert!(found[0].ends_with("D-1 withdraws R-2, which is still in force"), "{found:?}");
    assert!(found[3].contains("D-1 adds R-1, which was there before D-1 was accepted ("), "{found:?}");
    stand.edit(R_2, "source = \"S\"", "source = \"S\"\nstatus = \"withdrawn\"\nreason = \"r\"").delete(TR_1);
    stand.edit("departures/W-1.md", "approved\"\napproved_by", "withdrawn\"\napproved_by");
    stand.edit("decisions/D-1.md", "adds = [\"R-1\"]", "keeps = [\"R-1\"]");
    assert_eq!(stand.account(), NONE);
    let new = Stand::committed();
    new.decision("D-1", "adds = [\"R-7\"]\n").0.commit("Decide");
    new.0.write(
        "R-7.md",
        "+++\nkind = \"requirement\"\nid = \"R-7\"\ntitle = \"T\"\nsource = \"S\"\n+++\nIt shall hold.\n",
    );
    assert_eq!(new.account(), NONE);
    new.0.commit("Add");
    assert_eq!(new.account(), NONE);
}

#[test]
fn what_all_began_with_is_not_questioned() {
    let stand = Stand::committed();
    stand.decision("D-1", "revises = [\"R-2\"]\nadds = [\"R-1\"]\n");
    stand.0.git(&["add", "--all"]);
    stand.0.git(&["commit", "--quiet", "--amend", "--no-edit"]);
    assert_eq!(stand.account(), NONE);
}

/// A requirement on the slot, and one on the option by name.
fn with_options() -> Stand {
    let stand = Stand::committed();
    let text = |id: &str, on: &str| {
        format!(
            "+++\nkind = \"requirement\"\nid = \"{id}\"\ntitle = \"{id}\"\nsource = \"S\"\napplies_to = \"{on}\"\n+++\nIt shall turn {id}.\n"
        )
    };
    stand.0.write("R-5.md", text("R-5", "ACT"));
    stand.0.write("R-6.md", text("R-6", "ACT-P"));
    stand.0.commit("Ask something of the actuator");
    stand
}

#[test]
fn what_applied_to_a_dropped_option_is_revised_withdrawn_or_kept_by_name() {
    let stand = with_options();
    stand.edit("items/ACT-P.md", "current", "dropped").edit("items/ACT-W.md", "candidate", "current");
    stand.decision("D-1", "selects = [\"ACT-W\"]\ndrops = [\"ACT-P\"]\n");
    assert_eq!(stand.codes(), ["dropped-and-not-carried-over", "dropped-and-not-carried-over"]);
    stand.0.commit("Drop");
    assert_eq!(
        stand.account(),
        [
            "dropped-and-not-carried-over: D-1 drops ACT-P, and does not say what becomes of R-5, which applied to it",
            "dropped-and-not-carried-over: D-1 drops ACT-P, and does not say what becomes of R-6, which applied to it"
        ]
    );
    stand.edit("R-5.md", "It shall turn", "It shall gently turn").0.commit("Revise");
    stand.edit("R-6.md", "source", "status = \"withdrawn\"\nreason = \"r\"\nsource");
    assert_eq!(stand.account(), NONE);
    let kept = with_options();
    kept.edit("items/ACT-P.md", "current", "dropped");
    kept.decision("D-1", "drops = [\"ACT-P\"]\nkeeps = [\"R-5\"]\nrevises = [\"R-6\"]\n");
    kept.edit("R-6.md", "applies_to = \"ACT-P\"", "applies_to = \"ACT-W\"");
    assert_eq!(kept.account(), NONE);
    // What came after the drop was never about what was dropped.
    let later = with_options();
    later.delete("R-5.md").delete("R-6.md").edit("items/ACT-P.md", "current", "dropped");
    later.decision("D-1", "drops = [\"ACT-P\"]\n").0.commit("Drop");
    later.0.write("R-9.md", "+++\nkind = \"requirement\"\nid = \"R-9\"\ntitle = \"T\"\nsource = \"S\"\napplies_to = \"ACT\"\n+++\nIt shall hold.\n");
    assert_eq!(later.account(), NONE);
}

#[test]
fn a_candidate_that_lost_was_never_asked_to_meet_what_the_slot_asks() {
    let stand = with_options();
    stand.edit("items/ACT-W.md", "candidate", "dropped");
    stand.decision("D-1", "drops = [\"ACT-W\"]\n").0.commit("Drop the other");
    assert_eq!(stand.account(), NONE);
}

/// The safety requirement with evidence against its first text.
fn with_evidence(safety: bool) -> Stand {
    let stand = Stand::committed();
    let mark = |stand: &Stand| {
        stand.analysis().model.requirements.iter().find(|it| it.head.id.as_str() == "R-2").unwrap().mark.clone()
    };
    if safety {
        stand.edit(R_2, "source = \"S\"", "source = \"S\"\nsafety = true");
    }
    stand.edit(TR_1, "[verifies.R-2]\n", &format!("[verifies.R-2]\nmark = \"{}\"\n", mark(&stand)));
    stand.0.commit("Test");
    stand
}

#[test]
fn a_safety_limit_is_not_relaxed_after_evidence_without_a_decision() {
    let stand = with_evidence(true);
    stand.edit(R_2, "1.5 * meop", "1.6 * meop");
    assert_eq!(stand.account(), NONE, "it asks more");
    stand.edit(R_2, "1.6 * meop", "1.4 * meop");
    assert_eq!(stand.codes(), ["relaxed-without-decision"]);
    stand.0.commit("Relax");
    assert!(stand.account()[0].contains("R-2 asks less than when TR-1 was signed, and no decision revises it since: "));
    // In the same breath or afterwards.
    stand.decision("D-1", "revises = [\"R-2\"]\n");
    assert_eq!(stand.account(), NONE, "decided after the fact, as the gap asks for");
    stand.0.commit("Decide");
    assert_eq!(stand.account(), NONE);
    stand.edit(R_2, "1.4 * meop", "1.5 * meop").0.commit("Take it back");
    stand.decision("D-2", "revises = [\"R-2\"]\n").0.commit("Decide what is not done");
    assert_eq!(stand.codes(), ["decided-and-not-done"], "nothing is relaxed that it could be about");
    let decided = with_evidence(true);
    decided.decision("D-1", "revises = [\"R-2\"]\n").edit(R_2, "1.5 * meop", "1.4 * meop").0.commit("Relax");
    assert_eq!(decided.account(), NONE);
    // That decision is used up: the evidence of today was made after it.
    decided.edit(R_2, "1.4 * meop", "1.2 * meop").0.commit("Relax again");
    assert_eq!(decided.account(), NONE, "TR-1 was signed before D-1");
    assert_eq!(with_evidence(false).edit(R_2, "1.5 * meop", "1.4 * meop").account(), NONE, "no safety");
    let lowered = with_evidence(true);
    lowered.edit("parameters.toml", "4 MPa", "3 MPa").0.commit("Lower the pressure");
    assert_eq!(lowered.codes(), ["relaxed-without-decision"], "by a parameter");
    let hidden = with_evidence(true);
    hidden.edit(R_2, "1.5 * meop", "1.4 * meop").edit(R_2, "\nsafety = true", "").0.commit("Relax");
    assert_eq!(hidden.codes(), ["relaxed-without-decision"], "it was a safety requirement then");
}

#[test]
fn an_old_decision_does_not_cover_what_is_relaxed_later() {
    let stand = Stand::committed();
    stand.decision("D-1", "revises = [\"R-2\"]\n").edit(R_2, "1.5 * meop", "1.6 * meop");
    stand.edit(R_2, "source = \"S\"", "source = \"S\"\nsafety = true").0.commit("Raise");
    let mark = stand.analysis().model.requirement("R-2").unwrap().mark.clone();
    stand.edit(TR_1, "[verifies.R-2]\n", &format!("[verifies.R-2]\nmark = \"{mark}\"\n")).0.commit("Test");
    stand.edit(R_2, "1.6 * meop", "1.5 * meop").0.commit("Relax");
    assert_eq!(stand.codes(), ["relaxed-without-decision"]);
    stand.edit(R_2, "1.5 * meop", "1.45 * meop").0.commit("Relax by the decision\n\nDecision: D-1");
    assert_eq!(stand.account(), NONE, "a commit since names it");
}

/// A child of the requirement on proof pressure.
fn with_child() -> Stand {
    let stand = Stand::committed();
    stand.edit(R_1, "source = \"S\"", "parents = [\"R-2\"]").0.commit("Derive");
    stand
}

#[test]
fn a_parent_that_moved_is_a_warning_until_the_child_is_looked_at() {
    let stand = with_child();
    stand.edit(R_2, "title = \"Proof\"", "title = \"Proof pressure\"").0.commit("Title");
    stand.edit(R_2, "withstand the", "withstand  the").0.commit("Spaces");
    assert_eq!(stand.account(), NONE, "nothing that is asked");
    stand.edit(R_2, "1.5 * meop", "1.6 * meop");
    assert_eq!(stand.codes(), ["parent-moved"], "not committed");
    stand.0.commit("Raise");
    assert!(
        stand.account()[0].starts_with(
            "parent-moved: R-2, which R-1 hangs from, asks something else than when it was last looked at ("
        )
    );
    stand.0.git(&["mv", R_1, "torque.md"]);
    stand.0.commit("Move");
    assert_eq!(stand.codes(), ["parent-moved"], "to move a file is not to look at it");
    stand.edit("torque.md", "valid_for = \"30 d\"", "valid_for = \"20 d\"").0.commit("Look");
    assert_eq!(stand.account(), NONE);
}

#[test]
fn an_edit_that_changes_nothing_that_is_asked_is_no_look_at_the_parent() {
    let stand = with_child();
    let derived = stand.0.repo().head().unwrap().unwrap().short();
    stand.edit(R_2, "1.5 * meop", "1.6 * meop").0.commit("Raise");
    let told = || stand.account().join("\n");
    for (old, new) in [("Torque margin", "Margin"), ("safety = true", "owner = \"lead\"\nsafety  =  true")] {
        stand.edit(R_1, old, new);
        assert_eq!(stand.codes(), ["parent-moved"], "{new}, not committed");
        stand.0.commit("Polish");
        assert_eq!(stand.codes(), ["parent-moved"], "{new}");
        assert!(told().contains(&format!("was last looked at ({derived} of")), "{}", told());
    }
    // What the parent went back to is what the child was looked at with.
    stand.edit(R_2, "1.6 * meop", "1.5 * meop").0.commit("Take it back");
    stand.edit(R_1, "\"Margin\"", "\"Margin of torque\"").0.commit("Title");
    assert_eq!(stand.account(), NONE);
    stand.edit(R_2, "1.5 * meop", "1.7 * meop").0.commit("Raise");
    assert_eq!(stand.codes(), ["parent-moved"]);
    let text = std::fs::read_to_string(stand.0.path().join(R_1)).unwrap();
    stand.0.write(R_1, format!("{text}\n## Rationale\n\nIt follows from the proof pressure all the same.\n"));
    assert_eq!(stand.account(), NONE, "who says why has looked");
    stand.0.commit("Say why");
    assert_eq!(stand.account(), NONE);
    stand.edit(R_1, "Margin of torque", "Torque margin").0.commit("Title");
    assert_eq!(stand.account(), NONE, "nor does polish make it unlooked at");
}

#[test]
fn a_mark_a_judgement_and_a_decision_say_that_the_child_was_looked_at() {
    let moved = || {
        let stand = with_child();
        stand.edit("parameters.toml", "4 MPa", "5 MPa").0.commit("Raise the pressure");
        assert_eq!(stand.codes(), ["parent-moved"]);
        stand
    };
    let stand = moved();
    let mark = stand.analysis().model.requirement("R-2").unwrap().mark.clone();
    stand.edit(R_1, "safety = true", &format!("safety = true\nparent_marks.R-2 = \"{mark}\"")).0.commit("Look");
    assert_eq!(stand.account(), NONE);
    stand.edit("parameters.toml", "5 MPa", "6 MPa").edit(R_1, "Torque margin", "Margin");
    assert_eq!(
        stand.account(),
        ["parent-moved: R-2, which R-1 hangs from, asks something else than when it was last held against"],
        "what the child says itself is what counts"
    );
    let stand = moved();
    let judged = format!(
        "source = \"S\"\nverified_by = \"children\"\n[by_children]\nmark = \"{mark}\"\nlist = [\"R-1\"]\njudged_by = \"lead\"\ndate = 2026-03-01\n"
    );
    stand.edit(R_2, "[[verify]]\nmethod = \"test\"\nprocedure = \"TP-2\"\non = \"each\"\n", "");
    stand.edit(R_2, "source = \"S\"\n", "").edit(
        R_2,
        "min = \"1.5 * meop\"\n",
        &format!("min = \"1.5 * meop\"\n{judged}"),
    );
    assert_eq!(stand.account(), NONE);
    let stand = moved();
    stand.decision("D-1", "keeps = [\"R-1\"]\n");
    assert_eq!(stand.account(), NONE);
    stand.0.commit("Keep");
    stand.edit("parameters.toml", "5 MPa", "6 MPa").0.commit("Raise it again");
    assert_eq!(stand.codes(), ["parent-moved"], "the decision knew nothing of that");
}

#[test]
fn the_decision_that_moves_a_parent_has_looked_at_the_children_it_names() {
    let stand = with_child();
    stand.decision("D-1", "revises = [\"R-2\"]\nkeeps = [\"R-1\"]\n").0.commit("Decide");
    stand.edit(R_2, "1.5 * meop", "1.6 * meop").0.commit("Raise");
    assert_eq!(stand.account(), NONE);
    stand.edit(R_2, "1.6 * meop", "1.7 * meop").0.commit("Raise it further");
    assert_eq!(stand.codes(), ["parent-moved"]);
}

/// A record that was signed, sealed and committed.
fn signed() -> Stand {
    let stand = Stand::committed();
    stand.seal(TR_1).0.commit("Sign");
    stand
}

#[test]
fn an_edit_under_a_new_seal_shows() {
    let stand = signed();
    stand.edit(TR_1, "serial = \"MOV/SN01\"", "serial = \"MOV/SN02\"").edit(TR_1, "5 MPa", "4 MPa").seal(TR_1);
    let found = stand.account();
    assert_eq!(found.len(), 1, "not committed yet: {found:?}");
    assert!(
        found[0].contains("TR-1 was signed with the seal s1-") && found[0].contains(", and carries another seal now: ")
    );
    assert!(found[0].contains("serial: MOV/SN01 → MOV/SN02; and 1 more"), "{found:?}");
    stand.0.commit("Edit");
    assert_eq!(stand.codes(), ["seal-replaced"]);
    // Of several that it was signed with, what is shown is how it differs from the one that is named.
    let first = seal_in(&signed(), TR_1);
    let twice = signed();
    twice.edit(TR_1, "5 MPa", "4 MPa");
    signed_again(&twice, &first, TR_1);
    let second = seal_in(&twice, TR_1);
    twice.0.commit("Sign again");
    twice.edit(TR_1, "4 MPa", "3 MPa").seal(TR_1).0.commit("Edit");
    let found = twice.account();
    assert!(found[0].contains(&second) && found[0].contains("result: 4 MPa gauge → 3 MPa gauge"), "{found:?}");
    stand.0.git(&["mv", TR_1, "elsewhere.md"]);
    stand.0.commit("Move");
    assert_eq!(stand.codes(), ["seal-replaced"]);
    stand.edit("elsewhere.md", "status = \"signed\"", "status = \"draft\"").0.commit("Back to a draft");
    assert!(stand.account()[0].contains("is a draft now"));
}

const LOST: &str = "by which value of R-2 was not met, and nothing tells of that now";

/// Writes into a record that it was signed again in the place of what it was signed as first.
fn signed_again(stand: &Stand, first: &str, path: &str) {
    let why = format!(
        "signed_again = [{{ seals = [\"{first}\"], date = 2026-03-02, by = \"lead\", reason = \"typing error\" }}]\n[verifies.R-2]\n"
    );
    stand.edit(path, "[verifies.R-2]\n", &why).seal(path);
}

fn seal_in(stand: &Stand, path: &str) -> String {
    let text = std::fs::read_to_string(stand.0.path().join(path)).unwrap();
    let seal = text.lines().find_map(|line| line.strip_prefix("seal = \"")).unwrap();
    seal.trim_end_matches('"').to_string()
}

#[test]
fn a_failure_that_was_signed_for_is_not_signed_away() {
    let stand = signed();
    let (first, failed) = (seal_in(&stand, TR_1), std::fs::read_to_string(stand.0.path().join(TR_1)).unwrap());
    stand.edit(TR_1, "outcome.value = \"not met\"", "outcome.value = \"met\"").edit(TR_1, "5 MPa", "9 MPa").seal(TR_1);
    let lost = |stand: &Stand| stand.account().iter().filter(|text| text.contains(LOST)).count();
    assert_eq!((lost(&stand), stand.account().len()), (1, 1), "not committed yet");
    signed_again(&stand, &first, TR_1);
    stand.0.commit("Sign again");
    assert_eq!((lost(&stand), stand.account().len()), (1, 1), "a reason is no nonconformance");
    // Two runs had got one id: the other is a record of its own, and tells of the failure.
    stand.0.write("records/TR-9.md", failed.replace("id = \"TR-1\"", "id = \"TR-9\""));
    signed_again(&stand, &first, "records/TR-9.md");
    assert_eq!(stand.account(), NONE);
    stand.edit("records/TR-9.md", "outcome.value = \"not met\"", "outcome.value = \"met\"").seal("records/TR-9.md");
    assert_eq!(lost(&stand), 1, "it does not tell of it");
    stand.0.git(&["clean", "--quiet", "--force"]);
    // Or it is accounted for as any other failure is.
    let closed = "before = \"leak-check\"\nstatus = \"closed\"\ndisposition = \"return\"\nclosed = 2026-02-20\nclosed_by = \"lead\"\n";
    stand.edit("departures/NC-1.md", "before = \"leak-check\"\n", closed);
    assert_eq!(stand.account(), NONE);
}

#[test]
fn what_decided_nothing_is_not_left_out_for_an_older_result() {
    let stand = Stand::committed();
    let put = |from: &str, to: &str| stand.edit(TR_1, from, to).seal(TR_1).0.commit("Sign");
    put("outcome.value = \"not met\"", "outcome.value = \"inconclusive\"");
    let first = seal_in(&stand, TR_1);
    put("outcome.value = \"inconclusive\"", "not_judged.value = \"disturbed\"");
    signed_again(&stand, &first, TR_1);
    let left_out = LOST.replace("not met", "inconclusive");
    assert!(stand.account().iter().any(|text| text.contains(&left_out)), "{:?}", stand.account());
    put("not_judged.value = \"disturbed\"", "outcome.value = \"met\"");
    assert!(!stand.account().iter().any(|text| text.contains(&left_out)), "it was measured better");
}

/// Whatever a finding was found by, a move that is not committed yet takes it along, and brings none.
#[test]
fn a_move_that_is_not_committed_changes_no_finding() {
    let relaxed = with_evidence(true);
    relaxed.edit(R_2, "1.5 * meop", "1.4 * meop").0.commit("Relax");
    let replaced = signed();
    replaced.edit(TR_1, "5 MPa", "9 MPa").seal(TR_1).0.commit("Edit");
    let decided = Stand::committed();
    decided.decision("D-1", "revises = [\"R-2\"]\n").edit(R_2, "1.5 * meop", "1.4 * meop").0.commit("Revise");
    for (stand, codes) in
        [(relaxed, vec!["relaxed-without-decision"]), (replaced, vec!["seal-replaced"]), (decided, vec![])]
    {
        assert_eq!(stand.codes(), codes);
        for folder in ["requirements", "records", "decisions"] {
            if stand.0.path().join(folder).exists() {
                std::fs::rename(stand.0.path().join(folder), stand.0.path().join(format!("{folder}-2"))).unwrap();
            }
        }
        assert_eq!(stand.codes(), codes, "moved on disk");
        stand.0.git(&["add", "--all"]);
        assert_eq!(stand.codes(), codes, "and in the index");
        stand.0.commit("Move");
        assert_eq!(stand.codes(), codes, "and committed");
    }
}

#[test]
fn a_signed_record_whose_id_another_file_took_over_shows() {
    let text = |stand: &Stand| std::fs::read_to_string(stand.0.path().join(TR_1)).unwrap();
    // A merge that keeps one side's.
    let stand = Stand::committed();
    let original = text(&stand);
    stand.delete(TR_1).0.commit("Begin without it");
    stand.0.git(&["branch", "side"]);
    stand.0.write("records/TR-2.md", original.replace("TR-1", "TR-2").replace("5 MPa", "9 MPa"));
    stand.seal("records/TR-2.md").0.commit("Passing");
    stand.0.git(&["checkout", "--quiet", "side"]);
    stand.0.write("records/other.md", original.replace("TR-1", "TR-2"));
    stand.seal("records/other.md").0.commit("Failing");
    stand.0.git(&["checkout", "--quiet", "-"]);
    stand.0.git(&["merge", "--quiet", "-s", "ours", "-m", "Merge", "side"]);
    assert!(stand.codes().contains(&"seal-replaced".to_string()), "left out by a merge: {:?}", stand.codes());
    // In one file after the other.
    let stand = signed();
    let failing = text(&stand);
    stand.edit(TR_1, "id = \"TR-1\"", "id = \"TR-4\"").seal(TR_1).0.commit("Take its place");
    stand.0.write("records/new.md", failing.replace("5 MPa", "9 MPa"));
    stand.seal("records/new.md").0.commit("Use the id again");
    assert_eq!(stand.codes(), ["seal-replaced"], "another took its file");
    // Through a version that cannot be read.
    let stand = signed();
    let failing = text(&stand);
    stand.edit(TR_1, "id = \"TR-1\"", "id = TR-1").0.commit("Break");
    stand.delete(TR_1).0.write("records/new.md", failing.replace("5 MPa", "9 MPa"));
    stand.seal("records/new.md").0.commit("Use the id again");
    assert_eq!(stand.codes(), ["seal-replaced"], "unreadable in between");
}

#[test]
fn a_record_that_left_and_came_back_under_another_seal_shows() {
    let stand = signed();
    let text = std::fs::read_to_string(stand.0.path().join(TR_1)).unwrap();
    stand.delete(TR_1).0.commit("Clean up");
    stand.edit("items/MOV.md", "Valve", "Main valve").0.commit("Title");
    stand.0.write("tests/TR-1.md", text.replace("5 MPa", "9 MPa"));
    stand.seal("tests/TR-1.md").0.commit("Bring back");
    assert_eq!(stand.codes(), ["seal-replaced"]);
}

/// The project with steps in a procedure, and a signed run of it.
fn run_of_steps() -> Stand {
    let text = "+++\nkind = \"procedure\"\nid = \"TP-2\"\ntitle = \"Proof\"\nrevision = \"1\"\nstatus = \"released\"\n\
                prerequisites = [\"The stand is dry\"]\ncautions = [\"Cold\"]\n\
                [[steps]]\nname = \"Open\"\ntext = \"Open the valve\\nslowly.\"\n[[steps]]\ntext = \"Wait.\"\nhold = true\n\
                [[steps.fields]]\nname = \"p\"\nunit = \"MPa\"\nexpected = { max = \"6 MPa\" }\n+++\n";
    let stand = Stand::begun(&[(TP_2, text)]);
    stand.seal(TR_1).0.commit("Sign");
    assert_eq!(stand.account(), NONE);
    stand
}

#[test]
fn steps_that_changed_under_the_revision_that_was_run_are_told() {
    for (from, to) in [
        ("Open the valve", "Open the valve twice,"),
        ("hold = true\n", ""),
        ("max = \"6 MPa\"", "max = \"7 MPa\""),
        ("The stand is dry", "The stand is cold"),
    ] {
        let stand = run_of_steps();
        let commit = stand.0.git(&["rev-parse", "--short=10", "HEAD~1"]).trim().to_string();
        stand.edit(TP_2, from, to);
        let found = stand.account();
        let start =
            format!("steps-changed-after-run: TP-2 is carried out otherwise than when TR-1 was signed ({commit} of ");
        assert!(found.len() == 1 && found[0].starts_with(&start), "{from}: {found:?}");
        assert!(found[0].ends_with("), and is at revision 1 still"), "{found:?}");
        stand.0.commit("Change a step");
        assert_eq!(stand.codes(), ["steps-changed-after-run"], "{from}");
        stand.0.git(&["mv", TP_2, "elsewhere.md"]);
        stand.0.commit("Move");
        assert_eq!(stand.codes(), ["steps-changed-after-run"], "{from}, moved");
        stand.edit("elsewhere.md", "revision = \"1\"", "revision = \"2\"");
        assert_eq!(stand.account(), NONE, "{from}: whether the run counts is for the state to say");
    }
}

#[test]
fn what_changes_nothing_that_was_done_is_no_other_step() {
    for (from, to) in [
        ("valve\\nslowly", "valve slowly"),
        ("name = \"Open\"", "name = \"Opening\""),
        ("cautions = [\"Cold\"]", "cautions = [\"Cold\", \"Oxygen\"]"),
        ("name = \"p\"", "name = \"pressure\""),
        ("title = \"Proof\"", "title = \"Proof pressure\""),
    ] {
        let stand = run_of_steps();
        stand.edit(TP_2, from, to).0.commit("Tidy");
        assert_eq!(stand.account(), NONE, "{from}");
    }
    let draft = run_of_steps();
    draft.edit(TR_1, "status = \"signed\"", "status = \"draft\"").edit(TP_2, "Wait.", "Wait 30 s.").0.commit("Change");
    assert!(!draft.codes().contains(&"steps-changed-after-run".to_string()), "nobody stands by the run");
    let other = run_of_steps();
    other.edit(TP_2, "revision = \"1\"", "revision = \"2\"").edit(TP_2, "Wait.", "Wait 30 s.").0.commit("Revise");
    assert_eq!(other.account(), NONE, "the run is of the revision before");
}

#[test]
fn what_no_seal_covers_and_what_is_accounted_for_is_no_edit() {
    let stand = signed();
    stand.edit(TR_1, "Notes.", "More notes.").0.commit("Say more");
    stand.edit(TR_1, "5 MPa gauge", "5000 kPa gauge").0.commit("Restate");
    let again =
        "\n[[verifies.R-2.reaffirmed]]\nmark = \"m1-000000000000\"\ndate = 2026-03-01\nby = \"lead\"\nreason = \"r\"\n";
    stand
        .edit(TR_1, "outcome.value = \"not met\"\n", &format!("outcome.value = \"not met\"\n{again}"))
        .0
        .commit("Re-affirm");
    assert_eq!(stand.account(), NONE);
    let seal = {
        let text = std::fs::read_to_string(stand.0.path().join(TR_1)).unwrap();
        text.lines().find_map(|line| line.strip_prefix("seal = ")).unwrap().to_string()
    };
    let why = format!(
        "signed_again = [{{ seals = [{seal}], date = 2026-03-02, by = \"lead\", reason = \"typing error\" }}]\n[verifies.R-2]\n"
    );
    stand.edit(TR_1, "[verifies.R-2]\n", &why).edit(TR_1, "5000 kPa", "5001 kPa").seal(TR_1).0.commit("Sign again");
    assert_eq!(stand.account(), NONE);
    let repo = stand.0.repo();
    let account = account(&repo, "", repo.head().unwrap(), &stand.analysis()).unwrap();
    let shown: Vec<String> = account.edited[0].differences.iter().map(|key| key.show()).collect();
    assert_eq!(shown, ["verifies.R-2.result: 5 MPa gauge → 5001 kPa gauge"]);
    // A reason that nobody gave is none.
    stand.edit(TR_1, "by = \"lead\", reason = \"typing error\"", "by = \"lead\"").seal(TR_1);
    assert_eq!(stand.codes(), ["seal-replaced"]);
}

#[test]
fn a_nonconformance_turned_against_something_else_between_reviews_is_told() {
    let stand = Stand::tagged();
    let told = |stand: &Stand| {
        let repo = stand.0.repo();
        let account = account(&repo, "", repo.head().unwrap(), &stand.analysis()).unwrap();
        let mut guard = stand.guard();
        guard.also(&account.taken_back);
        let own = guard.less_asked.into_iter().filter(|less| less.id == "NC-9");
        (
            guard.since,
            own.map(|less| less.text.split("; it was in").next().unwrap_or_default().to_string()).collect::<Vec<_>>(),
        )
    };
    let file = "departures/NC-9.md";
    stand.0.write(
        file,
        "+++\nkind = \"nonconformance\"\nid = \"NC-9\"\ntitle = \"Crack\"\ndate = 2026-03-01\nbefore = \"leak-check\"\n\
         against = [\"MOV/SN01\", \"MOV/SN02\"]\n+++\nA crack.\n",
    );
    stand.0.commit("Find a crack");
    stand.edit(file, "title = \"Crack\"", "title = \"Crack in the body\"").0.commit("Say where");
    assert_eq!(told(&stand).1, NONE);
    stand.edit(file, "[\"MOV/SN01\", \"MOV/SN02\"]", "\"MOV/SN01\"\nrequirements = [\"R-1\"]");
    stand.0.commit("Turn it");
    stand.edit(file, "leak-check", "hot-fire").0.commit("Put it off");
    assert_eq!(
        told(&stand).1,
        [
            "concerns only some requirements, no longer all",
            "due before hot-fire instead of leak-check, which is later",
            "no longer against MOV/SN02"
        ]
    );
    // What a review was shown is held against it as it was then.
    stand.0.git(&["tag", "-a", "-m", "r", "TRR"]);
    assert_eq!(told(&stand).1, NONE);
}

#[test]
fn a_rework_a_recall_and_a_held_event_taken_back_between_reviews_are_told() {
    let stand = Stand::tagged();
    let told = || stand.taken_back();
    let item = std::fs::read_to_string(stand.0.path().join("items/MOV.md")).unwrap();
    let instruments = std::fs::read_to_string(stand.0.path().join("instruments.toml")).unwrap();
    let held = "held/HE-9.md";
    let holding = "+++\nkind = \"event\"\nid = \"HE-9\"\ntitle = \"Held\"\nevent = \"cold-flow\"\ndate = 2026-03-01\n\
                   serials = [\"MOV/SN01\", \"MOV/SN02\"]\noutcome = \"completed\"\n+++\n";
    stand.0.write(held, holding);
    let worked = "number = \"SN02\"\nreworked = [{ date = 2026-03-02, reason = \"r\" }]\n";
    stand.0.write("items/MOV.md", item.replace("number = \"SN02\"\n", worked));
    let recall = "\n[[PT-01.calibrations]]\non = 2026-03-05\ndue = 2027-01-01\nas_found = \"out of tolerance\"\n";
    stand.0.write("instruments.toml", format!("{instruments}{recall}"));
    stand.0.commit("Find out");
    assert_eq!(told(), NONE);
    stand.0.write("items/MOV.md", &item).write("instruments.toml", &instruments);
    stand.0.write(held, holding.replace(", \"MOV/SN02\"", "")).commit("Tidy");
    stand.0.write("notes.txt", "x").commit("Go on");
    assert_eq!(
        told(),
        [
            "HE-9: no longer held with MOV/SN02",
            "MOV/SN02: the rework of 2026-03-02 is no longer listed",
            "PT-01: the calibration of 2026-03-05 no longer says that it was found out of tolerance"
        ]
    );
    stand.0.git(&["tag", "-a", "-m", "r", "TRR-2"]);
    assert_eq!(told(), NONE);
}

#[test]
fn a_part_that_was_swapped_without_a_day_is_told() {
    let stand = Stand::tagged();
    let told = || stand.taken_back();
    let list = |part: &str| format!("number = \"SN02\"\ncontains = [\"PRG/{part}\"]");
    stand.edit("items/MOV.md", "number = \"SN02\"", &list("SN08")).0.commit("Build in");
    stand.edit("items/MOV.md", &list("SN08"), &list("SN09")).0.commit("Swap");
    assert_eq!(told(), ["MOV/SN02: PRG/SN08 is no longer listed as what was in it"]);
    let dated = "number = \"SN02\"\ncontains = [{ serial = \"PRG/SN08\", to = 2026-03-01 }, { serial = \"PRG/SN09\", from = 2026-03-01 }]";
    stand.edit("items/MOV.md", &list("SN09"), dated);
    assert_eq!(told(), NONE);
}

#[test]
fn revisions_scrapped_pieces_use_and_drafts_taken_back_between_reviews_are_told() {
    let stand = Stand::tagged();
    let told = || stand.taken_back();
    let draft = "+++\nkind = \"test\"\nid = \"TR-9\"\ntitle = \"Torque\"\ndate = 2026-03-10\nserial = \"MOV/SN01\"\n\
                 status = \"draft\"\nuses.strokes = 7\n[verifies.R-1.results]\nmargin = 0.1\n+++\nNotes.\n";
    let read = |path: &str| std::fs::read_to_string(stand.0.path().join(path)).unwrap();
    let (item, other, run, record) = (read("items/MOV.md"), read("items/PRG.md"), read("events/EV-1.md"), read(TR_1));
    stand.0.write("records/TR-9.md", draft);
    stand.edit(
        "items/MOV.md",
        "revision = \"B\"\n[[revisions]]",
        "revision = \"C\"\n[[revisions]]\nrevision = \"A\"\n[[revisions]]",
    );
    stand.edit(
        "items/MOV.md",
        "[[serials]]\nnumber = \"SN01\"",
        "[[revisions]]\nrevision = \"C\"\nreason = \"r\"\n[[serials]]\nnumber = \"SN01\"",
    );
    stand.edit("items/MOV.md", "number = \"SN02\"", "number = \"SN02\"\nstatus = \"scrapped\"\nrevision = \"D\"");
    stand.edit("items/PRG.md", "used.strokes = 5", "used.strokes = 6");
    stand.edit("events/EV-1.md", "uses.strokes = 3", "uses.strokes = 30").edit(
        TR_1,
        "uses.strokes = 4",
        "uses.strokes = 40",
    );
    stand.edit(R_1, "min = 0.5", "min = 0.9").0.commit("Find out");
    assert_eq!(told(), NONE);
    stand
        .0
        .write("items/MOV.md", &item)
        .write("items/PRG.md", &other)
        .write("events/EV-1.md", &run)
        .write(TR_1, &record);
    stand.0.write("records/TR-9.md", draft.replace("2026-03-10", "2026-01-10").replace("uses.strokes = 7\n", ""));
    stand.edit(R_1, "min = 0.9", "min = 0.5").0.commit("Tidy");
    stand.0.write("notes.txt", "x").commit("Go on");
    let mut found = told();
    found.sort();
    assert_eq!(
        found,
        [
            "EV-1: used 3 of strokes instead of 30",
            "MOV/SN02: no longer scrapped: what was found on it counts again",
            "MOV/SN02: revision B instead of D, which is earlier: what was found on it counts again",
            "MOV: revision A is no longer listed",
            "MOV: revision B instead of C, which is earlier: what was found on it counts again",
            "MOV: revision C is no longer listed",
            "PRG/SN01: had used 5 of strokes instead of 6",
            "TR-1: used 4 of strokes instead of 40",
            "TR-9: a draft of 2026-01-10 instead of 2026-03-10, which is earlier",
            "TR-9: used nothing of strokes instead of 7",
        ]
    );
    stand.0.git(&["tag", "-a", "-m", "r", "TRR-2"]);
    assert_eq!(told(), NONE);
}

const W_1: &str = "departures/W-1.md";

/// A waiver whose relief is a parameter, approved and committed.
fn relieved() -> Stand {
    let stand = Stand::committed();
    let mark = stand.analysis().model.requirement("R-2").unwrap().mark.clone();
    let path = stand.0.path().join("parameters.toml");
    let parameters = std::fs::read_to_string(&path).unwrap();
    std::fs::write(path, format!("{parameters}\n[allowed]\nvalue = \"4.5 MPa gauge\"\nsource = \"S\"\n")).unwrap();
    stand.edit(W_1, "m1-000000000000", &mark).edit(W_1, "\"4.5 MPa gauge\"", "\"allowed\"").0.commit("Accept");
    stand
}

#[test]
fn a_waiver_that_accepts_more_because_a_parameter_moved_is_named() {
    let stand = relieved();
    assert_eq!(stand.account(), NONE);
    stand.edit("parameters.toml", "4.5 MPa", "4.6 MPa");
    assert_eq!(stand.account(), NONE, "it accepts less");
    stand.edit("parameters.toml", "4.6 MPa", "4.5 MPa").edit("parameters.toml", "\"S\"", "\"S, page 2\"");
    assert_eq!(stand.account(), NONE, "it comes to the same");
    stand.edit("parameters.toml", "4.5 MPa", "4.4 MPa");
    let found = stand.account();
    assert_eq!(found.len(), 1, "{found:?}");
    let said = "relief-moved: W-1 accepts value at least allowed, which comes to 4.4 MPa gauge; when it was approved (";
    assert!(found[0].starts_with(said) && found[0].ends_with(") it came to 4.5 MPa gauge"), "{found:?}");
    stand.0.commit("Lower");
    assert_eq!(stand.codes(), ["relief-moved"]);
    let reach = |range: &str| {
        let changes = stand.changes(Some(range), None);
        let allowed = changes.list.iter().find(|change| change.id == "allowed").unwrap();
        (allowed.kind.clone(), allowed.between.reach.clone())
    };
    let accepts = |what: &str| ("parameter".to_string(), vec![format!("W-1 accepts value at least allowed{what}")]);
    assert_eq!(reach("HEAD~1..HEAD"), accepts(" = 4.4 MPa gauge"));
    assert_eq!(reach("HEAD..HEAD~1"), accepts(" = 4.5 MPa gauge"));
    // Another title, another end and a note are no approval.
    stand
        .edit(W_1, "title = \"Proof\"", "title = \"Proof pressure\"")
        .edit(W_1, "2026-12-31", "2026-11-30")
        .0
        .commit("Edit");
    assert_eq!(stand.codes(), ["relief-moved"]);
    stand.edit(W_1, "approved = 2026-02-12", "approved = 2026-03-12");
    assert_eq!(stand.account(), NONE, "approved anew");
    stand.0.commit("Approve again");
    assert_eq!(stand.account(), NONE);
    stand.edit("parameters.toml", "4.4 MPa", "4.3 MPa").0.commit("Lower again");
    assert_eq!(stand.codes(), ["relief-moved"]);
    stand.edit(W_1, "\"allowed\"", "\"4.4 MPa gauge\"").0.commit("Write it down");
    assert_eq!(stand.account(), NONE);
}

#[test]
fn a_waiver_that_holds_no_more_or_not_yet_is_not_questioned() {
    for (path, from, to) in [
        (W_1, "status = \"approved\"", "status = \"draft\""),
        (W_1, "status = \"approved\"", "status = \"withdrawn\""),
        // Its mark lines up no more: it covers nothing.
        (R_2, "1.5 * meop", "1.6 * meop"),
        // Moved and approved in one commit.
        (W_1, "reason = \"r\"", "reason = \"lower now\""),
    ] {
        let stand = relieved();
        stand.edit("parameters.toml", "4.5 MPa", "4.4 MPa").edit(path, from, to).0.commit("Lower");
        assert!(!stand.codes().contains(&"relief-moved".to_string()), "{to}");
    }
}
