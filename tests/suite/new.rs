use crate::support::TestRepo;

#[test]
fn every_kind_reads_without_a_fault() {
    let repo = TestRepo::demo();
    let cases: &[(&[&str], &str)] = &[
        (&["requirement", "--for", "MOV-070", "--item", "MOV"], "requirements/valve/MOV-090.md"),
        (&["analysis", "--for", "ACT-010"], "records/AN-010.md"),
        (&["test", "--for", "ACT-010", "--serial", "ACT-W/SN02"], "records/TR-011.md"),
        (&["inspection"], "records/IN-006.md"),
        (&["demonstration", "--for", "ACT-060"], "records/DM-002.md"),
        (&["item", "--item", "STAND"], "items/ITEM-01.md"),
        (&["slot", "--item", "MOV"], "items/SLOT-01.md"),
        (&["procedure", "--item", "MOV"], "procedures/TP-09.md"),
        (&["decision", "--for", "ACT-010"], "decisions/D-003.md"),
        (&["nonconformance", "--found-by", "TR-009"], "departures/NC-005.md"),
        (&["waiver", "--for", "MOV-035", "--serial", "MOV/SN02"], "departures/W-002.md"),
        (&["event", "--for", "leak-check", "--outcome", "completed"], "events/EV-002.md"),
        (&["event", "--for", "hot-fire", "--outcome", "aborted", "--procedure", "TP-06"], "events/EV-003.md"),
    ];
    for (arguments, path) in cases {
        let mut all = vec!["new"];
        all.extend(*arguments);
        assert_eq!(repo.run(&all).ended(0).out, format!("{path}\n"));
        assert_eq!(repo.faults(), Vec::<String>::new(), "{path}:\n{}", repo.read(path));
    }
}

#[test]
fn a_record_comes_with_all_that_the_project_knows() {
    let repo = TestRepo::demo();
    repo.run(&["new", "test", "--for", "ACT-010", "--serial", "ACT-W/SN02"]).ended(0);
    let text = repo.read("records/TR-011.md");
    for line in [
        "title = \"Cold torque margin, ACT-W/SN02\"",
        "date = 2026-06-16",
        "serial = \"ACT-W/SN02\"",
        "revision = \"A\" ",
        "procedure = \"TP-03\"",
        "procedure_revision = \"1\"",
        "stage = \"qualification\"",
        "instruments = [\"TQ-01\", \"AE-01\", \"TC-04\"]",
        "# conditions.body = \"\"        # asked: at most 95 K (ACT-010)",
        "status = \"draft\"",
        "mark = \"m1-12b774c61489\"",
        "# results.torque_margin = \"\"  # at least 0.5",
    ] {
        assert!(text.lines().any(|own| own.starts_with(line)), "{line}\n{text}");
    }
}

/// Also where the project would have chosen another: an option that is not the current one.
#[test]
fn the_item_that_was_named_is_obeyed_or_refused() {
    let repo = TestRepo::closed();
    let option = |id: &str, status: &str| {
        let text = format!(
            "+++\nkind = \"item\"\nid = \"{id}\"\ntitle = \"Option\"\nfills = \"LATCH\"\nstatus = \"{status}\"\ntags = [\"{id}\"]\n+++\nOne.\n"
        );
        repo.write(&format!("items/{id}.md"), &text);
    };
    repo.write("items/LATCH.md", "+++\nkind = \"slot\"\nid = \"LATCH\"\ntitle = \"Latch\"\n+++\nOptions.\n");
    option("OPT-A", "current");
    option("OPT-B", "candidate");
    let asked = |id: &str, applies_to: &str| {
        let text = format!(
            "+++\nkind = \"requirement\"\nid = \"{id}\"\ntitle = \"Load\"\nsource = \"customer\"\n{applies_to}\nmin = \"2 kN\"\n\n\
             [[verify]]\nmethod = \"analysis\"\n\n[[verify]]\nmethod = \"inspection\"\n+++\nIt shall carry at least 2 kN.\n"
        );
        repo.write(&format!("requirements/{id}.md"), &text);
    };
    asked("R-002", "applies_to = \"LATCH\"");
    asked("R-003", "applies_to = { tag = \"OPT-A\" }");
    asked("R-004", "");
    repo.commit("A latch");
    let of = |more: &[&str]| {
        let path = repo.run(&[&["new"], more].concat()).ended(0).out;
        let text = repo.read(path.trim());
        text.lines().find(|line| line.starts_with("item = ")).map(str::to_string)
    };
    let item = |id: &str| Some(format!("item = \"{id}\""));
    assert_eq!(of(&["analysis", "--for", "R-002"]), item("OPT-A"));
    assert_eq!(of(&["analysis", "--for", "R-002", "--item", "OPT-B"]), item("OPT-B"));
    assert_eq!(of(&["analysis", "--for", "R-002", "--item", "LATCH"]), item("OPT-A"));
    assert_eq!(of(&["analysis", "--for", "R-003", "--item", "OPT-A"]), item("OPT-A"));
    assert_eq!(of(&["inspection", "--for", "R-002", "--item", "OPT-B"]), item("OPT-B"));
    assert_eq!(of(&["analysis", "--item", "LATCH"]), item("OPT-A"));
    let refused: &[(&[&str], &str, &str)] = &[
        (
            &["analysis", "--for", "R-002", "--item", "VALVE"],
            "R-002 does not apply to VALVE",
            "--item OPT-A or --item OPT-B",
        ),
        (&["analysis", "--for", "R-003", "--item", "OPT-B"], "R-003 does not apply to OPT-B", "--item OPT-A"),
        (
            &["analysis", "--for", "R-002", "--for", "R-003", "--item", "OPT-B"],
            "R-003 does not apply to OPT-B",
            "--item OPT-A",
        ),
        (&["analysis", "--for", "R-004", "--item", "VALVE"], "R-004 does not apply to VALVE", "leave --item out"),
        (
            &["test", "--for", "R-001", "--serial", "VALVE/SN01", "--item", "OPT-A"],
            "R-001 does not apply to OPT-A",
            "--item VALVE",
        ),
        (&["test", "--serial", "VALVE/SN01", "--item", "OPT-A"], "VALVE/SN01 is no piece of OPT-A", "leave --item out"),
        (&["test", "--from", "TP-01", "--item", "VALVE"], "--item", "cannot be used"),
    ];
    for (arguments, what, help) in refused {
        let run = repo.run(&[&["new"], *arguments].concat()).ended(2);
        let said = run.err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains(what) && said.contains(help), "{arguments:?}: {said}");
    }
    option("OPT-A", "candidate");
    let run = repo.run(&["new", "analysis", "--item", "LATCH"]).ended(2);
    assert!(run.err.contains("no option is chosen") && run.err.contains("--item OPT-A or --item OPT-B"), "{}", run.err);
}

/// What a file may hold stands in it to be filled in; and filled in, it reads.
#[test]
fn keys_that_are_easily_missed_stand_in_new_files() {
    let repo = TestRepo::demo();
    let new = |arguments: &[&str]| repo.run(&[&["new"], arguments].concat()).ended(0).out.trim().to_string();
    let item = new(&["item"]);
    let text = repo.read(&item).split_whitespace().collect::<Vec<_>>().join(" ");
    let options = "# fills = \"\" # the slot that it is an option for, if it is one; then status = \"candidate\"";
    assert!(text.contains(options), "{text}");
    repo.replace(&item, "# fills = \"\"", "fills = \"MOV-ACT\"");
    assert!(repo.read(&new(&["requirement"])).contains("or count = 3: at least so many"));
    let waiver = new(&["waiver", "--for", "MOV-035", "--serial", "MOV/SN02"]);
    repo.replace(&waiver, "# without_evidence = \"\"", "without_evidence = \"low pressure only\"");
    assert_eq!(repo.faults(), Vec::<String>::new());
}

#[test]
fn filled_in_it_can_be_signed() {
    let repo = TestRepo::demo();
    repo.run(&["new", "demonstration", "--for", "ACT-060", "--serial", "ACT-W/SN02"]).ended(0);
    let text = repo.read("records/DM-002.md");
    let filled = text
        .replace("# results.drift = \"\"", "results.drift = \"0.3 ± 0.1 deg\"")
        .replace("# results.hold = \"\"", "results.hold = \"310 ± 1 s\"");
    repo.write("records/DM-002.md", &filled);
    repo.run(&["sign", "DM-002", "--by", "test conductor", "--witness", "pad chief"]).ended(0);
    assert_eq!(repo.state("ACT-060", "ACT-W/SN02"), "closed");
}

/// What most of them do: trials, and a sample of readings.
#[test]
fn trials_and_samples_are_filled_in_and_signed() {
    let repo = TestRepo::demo();
    let requirement = "+++\nkind = \"requirement\"\nid = \"ACT-099\"\ntitle = \"Latching\"\nsource = \"test\"\napplies_to = \"MOV-ACT\"\n\
        verify = [{ method = \"demonstration\", stage = \"acceptance\", procedure = \"TP-06\", before = \"hot-fire\" }]\n\
        [criteria.latches]\nreliability = \"95 %\"\nconfidence = \"90 %\"\n\
        [criteria.strength]\nmin = \"1.2 N·m\"\ncovers = \"90 %\"\nconfidence = \"95 %\"\n+++\n\
        The actuator shall latch on each command.\n";
    repo.write("requirements/ACT-099.md", requirement);
    assert_eq!(repo.faults(), Vec::<String>::new());
    repo.run(&["new", "demonstration", "--for", "ACT-099", "--serial", "ACT-W/SN02"]).ended(0);
    let text = repo.read("records/DM-002.md");
    for line in [
        "# results.latches = \"\"        # reliability 95 % at 90 % confidence; successes of trials, such as 59 of 59",
        "# results.strength = \"\"       # at least 1.2 N·m for 90 % at 95 % confidence; { sample = [\"…\"] } or { mean, sd, n }",
    ] {
        assert!(text.contains(line), "{line}\n{text}");
    }
    let refused = repo.run(&["fill", "DM-002", "latches=45"]).ended(2).err;
    assert!(refused.contains("59 of 59"), "{refused}");
    let refused = repo.run(&["fill", "DM-002", "strength=1.4 N·m"]).ended(2).err;
    assert!(refused.contains("sample"), "{refused}");
    let few = repo.run(&["fill", "DM-002", "latches=40 of 40"]).ended(0);
    assert!(
        format!("{}{}", few.out, few.err).contains("5 more without a\n  failure would show it"),
        "{}{}",
        few.out,
        few.err
    );
    let refused = repo.run(&["fill", "DM-002", "strength=mean 1.32 N·m; sd 0.02 s; n 5"]).ended(2).err;
    assert!(refused.contains("standard deviation"), "{refused}");
    let refused = repo.run(&["fill", "DM-002", "strength=mean 1.32 N·m; sd 0.02; n 1"]).ended(2).err;
    assert!(refused.contains("two or more"), "{refused}");
    repo.run(&["fill", "DM-002", "strength=mean = 1.32 N·m; sd 0.0224; n 5"]).ended(0);
    let filled = repo.read("records/DM-002.md");
    let summary = "strength = { mean = \"1.32 N·m\", sd = \"0.0224 N·m\", n = 5 }";
    assert!(filled.contains(summary), "{filled}");
    repo.run(&["fill", "DM-002", "strength=1.29; 1.31; 1.32; 1.33; 1.35 N·m"]).ended(0);
    let filled = repo.read("records/DM-002.md");
    let sample = "strength = { sample = [\"1.29 N·m\", \"1.31 N·m\", \"1.32 N·m\", \"1.33 N·m\", \"1.35 N·m\"] }";
    assert!(filled.contains(sample), "{filled}");
    repo.run(&["sign", "DM-002", "--by", "test conductor", "--witness", "pad chief"]).ended(0);
    assert_eq!(repo.state("ACT-099", "ACT-W/SN02"), "inconclusive");
    let matrix = repo.run(&["matrix"]).out;
    let shown = repo.run(&["show", "ACT-099"]).out;
    for text in [matrix, shown] {
        assert!(text.contains("mean 1.32 N·m, s 0.0224 N·m, n 5"), "{text}");
    }
    repo.write("records/DM-002.md", &repo.read("records/DM-002.md").replace("40 of 40", "45 of 45"));
    assert_eq!(repo.state("ACT-099", "ACT-W/SN02"), "void", "the seal covers what trials showed");
}

#[test]
fn a_nonconformance_says_what_failed_on_what() {
    let repo = TestRepo::demo();
    repo.run(&["new", "nonconformance", "--found-by", "TR-009"]).ended(0);
    let text = repo.read("departures/NC-005.md");
    for line in
        ["against = [\"MOV/SN02\"]", "requirements = [\"MOV-035\"]", "found_by = [\"TR-009\"]", "status = \"open\""]
    {
        assert!(text.contains(line), "{line}\n{text}");
    }
    assert!(repo.run(&["new", "nonconformance"]).ended(2).err.contains("--found-by"));
}

#[test]
fn nothing_is_overwritten_and_names_are_checked() {
    let repo = TestRepo::demo();
    let cases: &[(&[&str], &str)] = &[
        (&["tset"], "did you mean `test`?"),
        (&["test", "TR-001"], "exists already"),
        (&["test", "tr-001"], "exists already"),
        (&["test", "1x"], "cannot be an id"),
        (&["test", "--for", "ACT-01"], "did you mean `ACT-010`?"),
        (&["test", "--serial", "ACT-W/SN09"], "no piece is called"),
        (&["demonstration", "--for", "ACT-010"], "its plan has: analysis; test qualification TP-03"),
        (&["test", "--for", "ACT-080"], "is withdrawn"),
        (&["test", "--folder", "../out"], "outside the project"),
        (&["test", "--folder", ".git"], "no plain folder"),
        (&["waiver"], "--for ID"),
    ];
    for (arguments, said) in cases {
        let mut all = vec!["new"];
        all.extend(*arguments);
        let run = repo.run(&all).ended(2);
        assert!(run.err.contains(said), "{arguments:?}: {}", run.err);
    }
    repo.write("records/TR-011.md", "not a project file");
    assert!(repo.run(&["new", "test"]).ended(2).err.contains("exists already"));
    assert_eq!(repo.read("records/TR-011.md"), "not a project file");
    assert_eq!(repo.changed(), ["records/TR-011.md"]);
}

#[test]
fn an_id_that_is_written_with_its_name_is_put_where_it_belongs() {
    let repo = TestRepo::demo();
    for (typed, tip) in [
        ("new item --id PANEL --title Panel", "slipmark new item PANEL"),
        ("new --id=PANEL item", "slipmark new item PANEL"),
        ("new --ID", "slipmark new KIND ID"),
        ("show --id ACT-010", "slipmark show ACT-010"),
    ] {
        let said = repo.run(&typed.split(' ').collect::<Vec<_>>()).ended(2).err;
        assert!(said.contains(&format!("tip: the id is written by itself: {tip}\n")), "{typed}: {said}");
        assert!(!said.contains("as a value"), "{typed}: {said}");
    }
    // What takes no id has no such tip, and what is like another option still says so.
    let said = repo.run(&["check", "--id", "X"]).ended(2).err;
    assert!(said.contains("unexpected argument") && !said.contains("tip:"), "{said}");
    let said = repo.run(&["new", "test", "--frm", "TP-03"]).ended(2).err;
    assert!(said.contains("'--from'"), "{said}");
    repo.run(&["new", "item", "PANEL"]).ended(0);
}
