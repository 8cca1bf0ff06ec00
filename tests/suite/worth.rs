//! What makes evidence worth less, asked of the program: each time a small project in which all was closed, and one thing that happens.

use crate::support::TestRepo;

/// A signed run of a procedure on the valve, by what is to be written into the blank record.
fn run(repo: &TestRepo, id: &str, result: &str, edits: &[(&str, &str)]) {
    let path = format!("records/{id}.md");
    let results = if result.contains("mL") { "leakage" } else { "value" };
    repo.replace(&path, &format!("# results.{results} = \"\""), &format!("results.{results} = \"{result}\""));
    if repo.read(&path).contains("# instruments = [\"\"]") {
        repo.replace(&path, "# instruments = [\"\"]", "no_instrument = \"read off the panel\"");
    }
    edits.iter().for_each(|(from, to)| repo.replace(&path, from, to));
    repo.run(&["sign", id, "--by", "test conductor"]).ended(0);
}

#[test]
fn a_bound_beyond_a_limit_is_outside_it() {
    let repo = TestRepo::closed();
    repo.run(&["new", "test", "--for", "R-001"]).ended(0);
    run(&repo, "TR-002", "> 12 mL/min", &[]);
    assert_eq!(repo.state("R-001", "VALVE/SN01"), "not met", "the meter stood at its stop");
}

#[test]
fn a_percentage_in_front_of_the_unit_is_not_read_as_hundredths_of_it() {
    let repo = TestRepo::closed();
    repo.run(&["new", "test", "--for", "R-001"]).ended(0);
    let fill = repo.run(&["fill", "TR-002", "leakage=20 ± 5 % mL/min"]).ended(2);
    assert!(fill.err.contains("write `20 mL/min ± 5 %`"), "{}", fill.err);
    repo.run(&["fill", "TR-002", "leakage=20 mL/min ± 5 %"]).ended(0);
}

/// A proof test that must come before the leak check, with its run and that of the leak check on two days.
fn proved(first: &str) -> TestRepo {
    let repo = TestRepo::closed();
    let proof = repo.read("procedures/TP-01.md").replace("TP-01", "TP-02").replace("Leak check", "Proof test");
    repo.write("procedures/TP-02.md", &proof);
    let requirement = repo.read("requirements/R-001.md").replace("R-001", "R-002").replace("TP-01", "TP-02");
    let requirement = requirement.replace("[criteria.leakage]\nmax = \"10 mL/min\"", "expect = \"pass\"");
    repo.write(
        "requirements/R-002.md",
        &requirement.replace("leak at most 10 mL/min of nitrogen to the outside", "hold"),
    );
    repo.replace("requirements/R-001.md", "procedure = \"TP-01\"", "procedure = \"TP-01\"\nafter = [\"TP-02\"]");
    for (id, requirement, result, on) in
        [("TR-002", "R-002", first, "2026-06-01"), ("TR-003", "R-001", "3.1 ± 0.4 mL/min", "2026-06-02")]
    {
        let new = repo.run(&["new", "test", "--for", requirement, "--date", on]).ended(0);
        assert!(new.out.contains(id), "{}", new.out);
        run(&repo, id, result, &[]);
    }
    repo
}

#[test]
fn nothing_comes_after_a_run_that_went_wrong() {
    let leak = |repo: &TestRepo| repo.state("R-001", "VALVE/SN01");
    assert_eq!(leak(&proved("pass")), "closed");
    let failed = proved("fail");
    let said = failed.run(&["before", "leak-check"]).ended(1).out;
    assert!(said.contains("TP-02 must come first, and no record shows that it did and went well"), "{said}");
    assert_eq!(leak(&failed), "void");
    // Work between the two: what was proved was not what was checked.
    for (on, state) in [("2026-05-31", "closed"), ("2026-06-01", "void"), ("2026-06-02", "void")] {
        let repo = proved("pass");
        let work = format!(
            "use = \"service\"\n[[serials.reworked]]\ndate = {on}\nreason = \"new seals\"\naffects = [\"R-002\"]\n#"
        );
        repo.replace("items/VALVE.md", "use = \"service\"", &work);
        assert_eq!(leak(&repo), state, "{on}");
    }
}

/// The valve at a revision of its own, and what was tested of it.
#[test]
fn what_is_asked_of_an_item_is_asked_of_its_revision_of_now() {
    let states = |on: &str, item: &str| {
        let repo = TestRepo::closed();
        repo.replace("items/VALVE.md", "# revision = \"A\"", &format!("revision = \"{item}\""));
        repo.replace("items/VALVE.md", "use = \"service\"", "use = \"service\"\nrevision = \"A\"\n#");
        repo.replace("requirements/R-001.md", "[[verify]]\n", &format!("[[verify]]\non = \"{on}\"\n"));
        std::fs::remove_file(repo.path().join("records/TR-001.md")).unwrap();
        repo.run(&["new", "test", "--for", "R-001", "--serial", "VALVE/SN01"]).ended(0);
        let text = repo.read("records/TR-002.md");
        let seen =
            text.lines().find(|line| line.contains("revision = ") && !line.contains("procedure")).unwrap().to_string();
        run(&repo, "TR-002", "3.1 ± 0.4 mL/min", &[(&seen, "revision = \"A\"")]);
        repo.states("R-001")[0].1.clone()
    };
    assert_eq!([states("each", "A"), states("one", "A"), states("design", "A")], ["closed"; 3]);
    assert_eq!(states("each", "B"), "closed", "the piece is what it was");
    assert_eq!([states("one", "B"), states("design", "B")], ["void"; 2], "the item is another now");
}

#[test]
fn a_revision_that_a_record_saw_inside_is_held_against_the_one_of_now() {
    let repo = TestRepo::closed();
    repo.write(
        "items/SEAL.md",
        "+++\nkind = \"item\"\nid = \"SEAL\"\ntitle = \"Seal\"\nrevision = \"B\"\n[[serials]]\nnumber = \"S1\"\n+++\nA seal.\n",
    );
    repo.replace("items/VALVE.md", "# revision = \"A\"", "revision = \"A\"");
    repo.replace("items/VALVE.md", "use = \"service\"", "use = \"service\"\ncontains = [\"SEAL/S1\"]\n#");
    std::fs::remove_file(repo.path().join("records/TR-001.md")).unwrap();
    repo.run(&["new", "test", "--for", "R-001"]).ended(0);
    let text = repo.read("records/TR-002.md");
    let seen =
        text.lines().find(|line| line.contains("revision = ") && !line.contains("procedure")).unwrap().to_string();
    run(&repo, "TR-002", "3.1 ± 0.4 mL/min", &[(&seen, "revision = { VALVE = \"A\", SEAL = \"B\" }")]);
    assert_eq!(repo.state("R-001", "VALVE/SN01"), "closed");
    repo.replace("items/SEAL.md", "revision = \"B\"", "revision = \"C\"");
    assert_eq!(repo.state("R-001", "VALVE/SN01"), "void");
    let keeps = "revision = \"C\"\nrevisions = [{ revision = \"B\", date = 2026-01-01 }, { revision = \"C\", date = 2026-06-01, \
                 keeps_evidence = [\"R-001\"], reason = \"another drawing sheet\" }]";
    repo.replace("items/SEAL.md", "revision = \"C\"", keeps);
    assert_eq!(repo.state("R-001", "VALVE/SN01"), "closed");
}

#[test]
fn a_departure_is_accepted_only_as_long_as_its_waiver_holds() {
    let repo = TestRepo::closed();
    let mark = repo.read("records/TR-001.md").lines().find(|line| line.starts_with("mark = ")).unwrap().to_string();
    let waiver = |until: &str| {
        let text = format!(
            "+++\nkind = \"waiver\"\nid = \"W-1\"\ntitle = \"Scratch\"\nrequirement = \"R-001\"\n{mark}\nserials = [\"VALVE/SN01\"]\n\
             accepts.leakage = {{ max = \"11 mL/min\" }}\n{until}\nstatus = \"approved\"\napproved_by = \"lead\"\napproved = 2026-06-02\n\
             reason = \"does no harm\"\n+++\n"
        );
        repo.write("departures/W-1.md", &text);
    };
    let found = "+++\nkind = \"nonconformance\"\nid = \"NC-1\"\ntitle = \"Scratch\"\ndate = 2026-06-02\nagainst = [\"VALVE/SN01\"]\n\
                 requirements = [\"R-001\"]\nstatus = \"closed\"\ndisposition = \"use-as-is\"\nclosed = 2026-06-03\nclosed_by = \"lead\"\n+++\n";
    repo.write("departures/NC-1.md", found);
    let before = |event: &str| repo.run(&["before", event, "--today", "2026-06-16"]).code;
    for (until, codes) in [
        ("before = \"first-run\"", [0, 0]),
        ("before = \"leak-check\"", [0, 1]),
        ("expires = 2026-06-16", [0, 0]),
        ("expires = 2026-06-15", [1, 1]),
    ] {
        waiver(until);
        assert_eq!([before("leak-check"), before("first-run")], codes, "{until}");
    }
}

#[test]
fn an_id_is_not_given_to_another_thing() {
    let repo = TestRepo::closed();
    let new = |more: &[&str]| repo.run(&[&["new", "nonconformance", "--serial", "VALVE/SN01"], more].concat());
    assert!(new(&["--title", "Crack"]).ended(0).out.contains("NC-001"));
    repo.commit("A crack");
    repo.git(&["rm", "--quiet", "departures/NC-001.md"]);
    repo.commit("Tidy up");
    let lost = repo.faults();
    assert!(lost[0].contains("NC-001 was a nonconformance"), "{lost:?}");
    assert!(new(&["--title", "Paint"]).ended(0).out.contains("NC-002"), "the crack is not painted over");
    assert_eq!(repo.faults(), lost);
    let refused = repo.run(&["new", "nonconformance", "NC-001", "--serial", "VALVE/SN01"]).ended(2).err;
    assert!(refused.contains("NC-001 was given to something else"), "{refused}");
    // Nor to one that another branch has.
    repo.commit("Paint");
    repo.git(&["checkout", "--quiet", "-b", "other", "HEAD~1"]);
    assert!(new(&["--title", "Dent"]).ended(0).out.contains("NC-003"));
}

#[test]
fn bringing_back_what_is_gone_overwrites_nothing() {
    let repo = TestRepo::closed();
    repo.replace("records/TR-001.md", "id = \"TR-001\"", "id = \"TR-002\"");
    repo.replace("records/TR-001.md", "status = \"signed\"", "status = \"draft\"");
    let help = repo.run(&["check"]).ended(1).out;
    let help = help.split_whitespace().collect::<Vec<_>>().join(" ");
    let said = "do: records/TR-001.md holds TR-002 now: bring it back beside that: git show ";
    let command = help.split(said).nth(1).unwrap_or_else(|| panic!("{help}")).split(';').next().unwrap();
    assert!(command.ends_with(":records/TR-001.md > records/TR-001-2.md"), "{command}");
}

#[test]
fn a_commit_is_asked_about_on_the_day_on_which_it_was_made_as_it_is() {
    let repo = TestRepo::closed();
    repo.git(&[
        "commit",
        "--quiet",
        "--allow-empty",
        "--date",
        "2026-01-05T10:00:00Z",
        "-m",
        "Written long before it was put here",
    ]);
    let then = repo.run(&["before", "leak-check", "--at", "HEAD"]).ended(0).out;
    assert!(!then.contains("2026-01-05"), "the evidence was still to come on that day: {then}");
    let since = repo.run(&["changes", "--since", "2026-02-01", "--format", "json"]).ended(0).json();
    assert_eq!(since["commit_count"], 3, "the newest commit was made after it: {since}");
}

#[test]
fn a_piece_that_is_kept_for_qualification_shows_the_design_whatever_the_event_uses() {
    let repo = TestRepo::closed();
    repo.replace(
        "items/VALVE.md",
        "use = \"service\"",
        "use = \"service\"\n\n[[serials]]\nnumber = \"SN02\"\nuse = \"qualification\"\n#",
    );
    repo.replace("requirements/R-001.md", "stage = \"acceptance\"", "stage = \"qualification\"");
    repo.replace("slipmark.toml", "events = [\"leak-check\", \"first-run\"]\n", "");
    let project = repo.read("slipmark.toml");
    let events = "[[events]]\nname = \"leak-check\"\nserials = [\"VALVE/SN01\"]\n";
    repo.write("slipmark.toml", &format!("{project}\n{events}"));
    std::fs::remove_file(repo.path().join("records/TR-001.md")).unwrap();
    repo.run(&["new", "test", "--from", "TP-01", "--serial", "VALVE/SN02"]).ended(0);
    run(&repo, "TR-002", "3.1 ± 0.4 mL/min", &[]);
    assert_eq!(repo.state("R-001", "VALVE"), "closed");
}
