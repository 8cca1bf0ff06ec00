//! What was signed and decided is held to account, from the complaint to what clears it.

use crate::support::TestRepo;

const RECORD: &str = "records/TR-002.md";

/// Edits the margin of a signed record; if asked, with a seal that fits, as the program itself works it out.
fn edited(sealed: bool) -> TestRepo {
    let repo = TestRepo::demo();
    let text = repo.read(RECORD);
    let line = text.lines().find(|line| line.contains("0.6 ± 0.2 mL/min")).unwrap().to_string();
    repo.replace(RECORD, &line, "results.leakage = \"0.5 ± 0.2 mL/min\"");
    if sealed {
        repo.run(&["sign", "TR-002", "--by", "test conductor", "--because", "hidden"]).ended(0);
        let signed = repo.read(RECORD);
        let from = signed.find("\n[[signed_again]]").unwrap();
        let to = from + signed[from..].find("reason = \"hidden\"\n").unwrap() + "reason = \"hidden\"\n".len();
        let without = format!("{}{}", &signed[..from], &signed[to..]);
        repo.write(RECORD, &without);
        // The seal that fits what is left is the one that the program asks for.
        let seal = seal_of(&repo);
        let old = without.lines().find(|line| line.starts_with("seal = ")).unwrap();
        repo.replace(RECORD, old, &format!("seal = \"{seal}\""));
    }
    repo
}

/// The codes of the faults.
fn faults(repo: &TestRepo) -> Vec<String> {
    let codes = repo.faults().into_iter();
    codes.map(|text| text.split('"').nth(1).unwrap_or_default().to_string()).collect()
}

/// The seal that a record's content makes now: that of the same record signed anew as a draft elsewhere.
fn seal_of(repo: &TestRepo) -> String {
    let text = repo.read(RECORD);
    let seal = text.lines().find(|line| line.starts_with("seal = ")).unwrap();
    let draft = text.replace(&format!("{seal}\n"), "").replace("status = \"signed\"", "status = \"draft\"");
    let other = TestRepo::demo();
    other.git(&["checkout", "--quiet", "--orphan", "fresh"]);
    other.write(RECORD, &draft);
    other.git(&["add", "--all"]);
    other.git(&["commit", "--quiet", "-m", "Start"]);
    other.run(&["sign", "TR-002", "--by", "test conductor"]).ended(0);
    let signed = other.read(RECORD);
    signed.lines().find_map(|line| line.strip_prefix("seal = \"")).unwrap().trim_end_matches('"').to_string()
}

#[test]
fn an_edit_under_a_seal_of_its_own_counts_as_open_until_somebody_stands_by_it() {
    let repo = edited(true);
    repo.commit("Tidy up");
    assert!(
        faults(&repo).iter().all(|code| code == "seal-replaced") && !faults(&repo).is_empty(),
        "{:?}",
        faults(&repo)
    );
    let check = repo.run_wide("200", &["check"]).ended(1).out;
    assert!(check.contains("→ 0.5 ± 0.2 mL/min"), "{check}");
    let history = repo.run_wide("200", &["history", "TR-002"]).ended(0).out;
    assert!(history.contains("changed after it was signed") && history.contains("it does not say why"), "{history}");
    let show = repo.run_wide("200", &["show", "TR-002"]).ended(0).out;
    assert!(show.contains("first signed") && show.contains("→ 0.5 ± 0.2 mL/min"), "{show}");
    // Nothing to do is no answer here, and without a reason it is refused.
    let refused = repo.run(&["sign", "TR-002", "--by", "test conductor"]).ended(2);
    assert!(
        refused.err.contains("TR-002 was changed after it was signed") && refused.err.contains("--because"),
        "{}",
        refused.err
    );
    repo.run(&["sign", "TR-002", "--by", "test conductor", "--because", "typing error"]).ended(0);
    assert!(repo.read(RECORD).contains("reason = \"typing error\""));
    assert_eq!(faults(&repo), Vec::<String>::new());
    repo.commit("Sign TR-002 again: typing error");
    assert_eq!(faults(&repo), Vec::<String>::new());
    let show = repo.run_wide("200", &["show", "TR-002"]).ended(0).out;
    assert!(show.contains("by test conductor: typing error (instead of s1-"), "{show}");
    // What was said stays under the seal.
    repo.replace(RECORD, "typing error", "nothing");
    assert!(faults(&repo).contains(&"changed-after-signing".to_string()));
}

#[test]
fn an_edit_under_the_old_seal_is_shown_field_by_field() {
    let repo = edited(false);
    repo.commit("Tidy up");
    assert_eq!(faults(&repo), ["changed-after-signing"]);
    let show = repo.run_wide("200", &["show", "TR-002"]).ended(0).out;
    assert!(show.contains("changed since") && show.contains("→ 0.5 ± 0.2 mL/min"), "{show}");
}

#[test]
fn a_signed_record_made_a_draft_again_needs_a_reason_to_be_signed() {
    let repo = TestRepo::demo();
    repo.replace(RECORD, "status = \"signed\"", "status = \"draft\"");
    let seal = repo.read(RECORD).lines().find(|line| line.starts_with("seal = ")).unwrap().to_string();
    repo.replace(RECORD, &format!("{seal}\n"), "");
    assert_eq!(faults(&repo), ["seal-replaced"]);
    assert!(repo.run(&["sign", "TR-002", "--by", "x"]).ended(2).err.contains("--because"));
    repo.run(&["sign", "TR-002", "--by", "test conductor", "--because", "looked at again"]).ended(0);
    assert_eq!(faults(&repo), Vec::<String>::new());
}

#[test]
fn a_witness_named_later_is_no_edit_that_nobody_accounts_for() {
    let repo = TestRepo::demo();
    repo.run(&["sign", "TR-010", "--by", "test conductor"]).ended(0);
    repo.commit("Sign TR-010");
    repo.run(&["sign", "TR-010", "--by", "test conductor", "--witness", "pad chief"]).ended(0);
    assert_eq!(faults(&repo), Vec::<String>::new());
    repo.commit("Name the witness");
    assert_eq!(faults(&repo), Vec::<String>::new());
    assert!(repo.read("records/TR-010.md").contains("named who witnessed it: pad chief"));
}

#[test]
fn a_decision_not_carried_out_is_a_gap_of_what_is_due() {
    let repo = TestRepo::demo();
    let commit = repo.git(&["log", "--format=%H", "--grep", "Drop the pneumatic actuator"]);
    let gaps = |at: &str| {
        let json = repo.run(&["before", "hot-fire", "--at", at, "--format", "json"]).json();
        json["gaps"].as_array().unwrap().iter().filter(|gap| gap["code"] == "decided-and-not-done").count()
    };
    assert_eq!(gaps(commit.trim()), 3);
    assert_eq!(gaps("HEAD"), 0);
}

/// Each revision names the evidence that carries its mark, and where the requirement stood is what `--at` says.
#[test]
fn a_history_tells_what_evidence_was_good_and_where_the_requirement_stood() {
    let repo = TestRepo::demo();
    let json = repo.run(&["history", "ACT-010", "--states", "--format", "json"]).json();
    let revisions = json["revisions"].as_array().unwrap();
    let records = |at: usize, how: &str| -> Vec<String> {
        let evidence = revisions[at]["evidence"].as_array().unwrap();
        let some = evidence.iter().filter(|it| it["how"] == how);
        some.map(|it| it["record"].as_str().unwrap().to_string()).collect()
    };
    assert_eq!(records(0, "signed"), ["AN-001", "AN-003", "TR-006"]);
    assert_eq!(records(1, "reaffirmed"), ["AN-003"]);
    let worst = |states: &serde_json::Value, event: &str| -> Option<String> {
        let own = states.as_array()?.iter().find(|it| it["before"] == event)?;
        Some(own["state"].as_str()?.to_string())
    };
    assert_eq!(worst(&revisions[1]["states"], "cold-flow").as_deref(), Some("slipped"));
    for revision in revisions {
        let matrix = repo.run(&["matrix", "--at", revision["oid"].as_str().unwrap(), "--format", "json"]).json();
        let rows = matrix["rows"].as_array().unwrap().iter().filter(|row| row["requirement"] == "ACT-010");
        for row in rows {
            assert!(worst(&revision["states"], row["before"].as_str().unwrap()).is_some(), "{row}");
        }
    }
    let plain = repo.run(&["history", "ACT-010", "--format", "json"]).json();
    assert!(plain["states"].is_null() && plain["revisions"][0]["states"].is_null());
}
