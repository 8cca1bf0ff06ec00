//! A whole campaign, from an empty folder to a hot fire before which nothing is open: a concept is dropped, a test fails, a
//! valve is reworked and tested again, a departure is waived, a part is swapped, a requirement is reworded.
//!
//! Only commands and files that people would write. After each step the whole answer is compared: every row that is not
//! closed with its state and reason codes, every fault and gap, every open nonconformance. All values are invented.

use crate::support::{Run, TestRepo};

/// A campaign on some day.
struct Campaign {
    repo: TestRepo,
    today: String,
}

impl Campaign {
    fn run(&self, arguments: &[&str]) -> Run {
        self.repo.run_at(self.repo.path(), &self.today, arguments)
    }

    /// Another day begins.
    fn on(&mut self, day: &str) {
        self.today = day.to_string();
    }

    fn write(&self, path: &str, front: &str, body: &str) {
        self.repo.write(path, &format!("+++\n{}\n+++\n{body}\n", front.trim()));
    }

    /// Compares what is open before an event, and the exit code; an empty list means 0.
    #[track_caller]
    fn open_before(&self, event: &str, expected: &[&str]) {
        let run = self.run(&["before", event, "--format", "json"]);
        let answer = run.json();
        let list = |name: &str| answer[name].as_array().expect(name).clone();
        let text = |value: &serde_json::Value| value.as_str().unwrap_or_default().to_string();
        let mut found = Vec::new();
        for row in list("rows").iter().filter(|row| row["state"] != "closed") {
            let mut codes: Vec<String> =
                row["reasons"].as_array().expect("reasons").iter().map(|reason| text(&reason["code"])).collect();
            codes.sort();
            codes.dedup();
            let covers = row["covers"].as_str().map(|state| format!(" {state}")).unwrap_or_default();
            let subject = text(&row["subject"]);
            let (requirement, entry, state) = (text(&row["requirement"]), &row["entry"], text(&row["state"]));
            found.push(format!("{requirement} {entry} {subject}: {state}{covers}: {}", codes.join(" ")));
        }
        found.extend(list("faults").iter().map(|fault| format!("fault {}", text(&fault["code"]))));
        found.extend(list("gaps").iter().map(|gap| format!("gap {}", text(&gap["code"]))));
        found.extend(list("nonconformances").iter().map(|id| format!("open {}", text(id))));
        found.sort();
        let mut expected: Vec<&str> = expected.to_vec();
        expected.sort_unstable();
        assert_eq!(found, expected);
        // A waived row is shown, and is not open.
        let open = expected.iter().any(|line| !line.contains(": waived "));
        assert_eq!(
            (run.code, text(&answer["verdict"])),
            match open {
                true => (1, "open".to_string()),
                false => (0, "nothing-open".to_string()),
            }
        );
    }

    /// How often `check` reports something.
    fn found(&self, code: &str) -> usize {
        let answer = self.run(&["check", "--format", "json"]).json();
        answer["findings"].as_array().expect("findings").iter().filter(|finding| finding["code"] == code).count()
    }

    /// A record of a run, filled in: `new`, the lines that people uncomment, and `sign`.
    #[track_caller]
    fn record(&self, what: &[&str], filled: &[(&str, &str)]) -> String {
        let new: Vec<&str> = ["new"].iter().chain(what).copied().collect();
        let path = self.run(&new).ended(0).out.trim().to_string();
        for (line, with) in filled {
            let text = self.repo.read(&path);
            let old: Vec<&str> = text.lines().filter(|old| old.starts_with(&format!("# {line}"))).collect();
            assert_eq!(old.len(), 1, "{line} in {text}");
            self.repo.replace(&path, old[0], with);
        }
        let id =
            path.rsplit('/').next().and_then(|name| name.strip_suffix(".md")).expect("a Markdown file").to_string();
        self.run(&["sign", &id, "--by", "test conductor", "--witness", "pad chief"]).ended(0);
        id
    }
}

const VALVE: &str = r#"
kind = "item"
id = "MOV"
title = "Main oxidizer valve"
hazards = ["oxygen", "pressure"]

[[serials]]
number = "SN01"

[[serials]]
number = "SN02"
contains = ["ACT-W/SN01"]     # bolted on
"#;

const PLAN: [(&str, &str, &str, &str); 6] = [
    (
        "MOV-010",
        "MOV",
        "[criteria.leakage]\nmax = \"10 mL/min\"\n[[verify]]\nmethod = \"test\"\nstage = \"acceptance\"\nprocedure = \"TP-01\"\nbefore = \"leak-check\"",
        "The valve shall leak at most 10 mL/min of nitrogen past its closed seat.",
    ),
    (
        "MOV-020",
        "MOV",
        "safety = true\n[criteria.pressure]\nmin = \"6 MPa\"\n[[verify]]\nmethod = \"test\"\nstage = \"acceptance\"\nprocedure = \"TP-02\"\nbefore = \"leak-check\"",
        "The valve shall hold at least 6 MPa without lasting change of shape.",
    ),
    (
        "MOV-030",
        "MOV",
        "[[verify]]\nmethod = \"inspection\"\nbefore = \"leak-check\"",
        "The valve shall be clean for oxygen service.",
    ),
    (
        "MOV-040",
        "MOV",
        "[criteria.leakage]\nmax = \"25 mL/min\"\nat.body = { max = \"95 K\" }\n[[verify]]\nmethod = \"test\"\nstage = \"qualification\"\nprocedure = \"TP-05\"\nbefore = \"hot-fire\"",
        "The valve with its actuator shall leak at most 25 mL/min at cold soak.",
    ),
    (
        "ACT-010",
        "MOV-ACT",
        "safety = true\n[criteria.torque_margin]\nmin = 0.5\n[[verify]]\nmethod = \"analysis\"\nbefore = \"leak-check\"\n[[verify]]\nmethod = \"test\"\nstage = \"qualification\"\nprocedure = \"TP-03\"\nbefore = \"cold-shock\"",
        "The actuator shall develop at least 1.5 times the torque that the valve requires.",
    ),
    (
        "ACT-020",
        "MOV-ACT",
        "[criteria.travel]\nmax = \"2 s\"\n[[verify]]\nmethod = \"demonstration\"\nprocedure = \"TP-04\"\nbefore = \"hot-fire\"",
        "The actuator shall close the valve within 2 s.",
    ),
];

const PROCEDURES: [(&str, &str, &str); 5] = [
    ("TP-01", "Seat leakage", "instruments = [\"FM-1\"]"),
    ("TP-02", "Proof pressure", "instruments = [\"PT-02\"]"),
    ("TP-03", "Torque", ""),
    ("TP-04", "Travel", ""),
    ("TP-05", "Leakage at cold soak", "instruments = [\"FM-1\"]"),
];

const INSTRUMENTS: &str = "\
[FM-1]
what = \"flow meter\"
[[FM-1.calibrations]]
on = 2026-01-08
due = 2027-01-08

[PT-02]
what = \"pressure transducer\"
[[PT-02.calibrations]]
on = 2026-01-09
due = 2027-01-09
";

/// The first day: the example that `init` leaves is replaced by a project of their own.
fn set_up() -> Campaign {
    let campaign = Campaign { repo: TestRepo::folder(), today: "2026-03-02".into() };
    campaign.run(&["init", "--name", "Stand 7"]).ended(0);
    for example in ["items/VALVE.md", "procedures/TP-01.md", "requirements/R-001.md"] {
        std::fs::remove_file(campaign.repo.path().join(example)).expect("init wrote it");
    }
    let events = "events = [\"leak-check\", \"cold-shock\", \"hot-fire\"]";
    campaign.repo.replace("slipmark.toml", "events = [\"leak-check\", \"first-run\"]", events);
    campaign.repo.write("instruments.toml", INSTRUMENTS);
    campaign.write("items/MOV.md", VALVE, "A commercial ball valve, reworked.");
    campaign.write(
        "items/MOV-ACT.md",
        "kind = \"slot\"\nid = \"MOV-ACT\"\ntitle = \"Actuator\"\nassembly = \"MOV\"",
        "",
    );
    for (id, title) in [("ACT-P", "Pneumatic actuator"), ("ACT-W", "Worm gearmotor")] {
        let front = format!("kind = \"item\"\nid = \"{id}\"\ntitle = \"{title}\"\nfills = \"MOV-ACT\"");
        campaign.write(&format!("items/{id}.md"), &front, "An option.");
    }
    campaign.repo.replace("items/ACT-P.md", "fills = \"MOV-ACT\"", "fills = \"MOV-ACT\"\nstatus = \"current\"");
    let pieces =
        "fills = \"MOV-ACT\"\n\n[[serials]]\nnumber = \"SN01\"\n\n[[serials]]\nnumber = \"SN02\"\nuse = \"spare\"";
    campaign.repo.replace("items/ACT-W.md", "fills = \"MOV-ACT\"", pieces);
    for (id, title, more) in PROCEDURES {
        let front = format!(
            "kind = \"procedure\"\nid = \"{id}\"\ntitle = \"{title}\"\nrevision = \"1\"\nstatus = \"released\"\n{more}"
        );
        campaign.write(&format!("procedures/{id}.md"), &front, "Steps.");
    }
    for (id, item, plan, statement) in PLAN {
        let front = format!(
            "kind = \"requirement\"\nid = \"{id}\"\ntitle = \"About {id}\"\nsource = \"stand specification\"\napplies_to = \"{item}\"\n{plan}"
        );
        campaign.write(&format!("requirements/{id}.md"), &front, statement);
    }
    campaign.repo.commit("Start");
    campaign
}

const TORQUE: &str = "results.torque_margin";
const LEAKAGE: &str = "results.leakage";

#[test]
fn from_nothing_to_the_hot_fire() {
    let mut at = set_up();
    // ---- nothing is shown yet ----
    let on_both = ["MOV-010", "MOV-020", "MOV-030"]
        .map(|id| ["SN01", "SN02"].map(|n| format!("{id} 0 MOV/{n}: no evidence: no-record")));
    let both: Vec<&str> = on_both.iter().flatten().map(String::as_str).collect();
    let with = |more: &[&'static str]| -> Vec<&str> { both.iter().copied().chain(more.iter().copied()).collect() };
    // What is bolted on is not what is chosen so far.
    let chosen = ["ACT-010 0 ACT-P: no evidence: no-record", "fault candidate-piece-built-in"];
    at.open_before("leak-check", &with(&chosen));

    // ---- a concept is dropped ----
    at.on("2026-03-04");
    let calculated = "results.torque_margin = \"0.21 ± 0.05\"";
    at.record(&["analysis", "--for", "ACT-010", "--item", "ACT-P"], &[(TORQUE, calculated)]);
    let too_weak = [
        "ACT-010 0 ACT-P: not met: failure-stands result-outside",
        "fault candidate-piece-built-in",
        "gap failure-without-nonconformance",
    ];
    at.open_before("leak-check", &with(&too_weak));
    let decision = "kind = \"decision\"\nid = \"D-001\"\ntitle = \"Electric actuator\"\ndate = 2026-03-05\nselects = \"ACT-W\"\ndrops = \"ACT-P\"\nkeeps = [\"ACT-010\", \"ACT-020\"]";
    at.on("2026-03-05");
    at.write("decisions/D-001.md", decision, "The pneumatic one has too little torque (AN-001).");
    // What was decided has to be done: `check` says so, and until then the one that was dropped is judged.
    assert_eq!(at.found("decision-not-carried-out"), 2);
    at.open_before("leak-check", &with(&too_weak));
    at.repo.replace("items/ACT-P.md", "status = \"current\"", "status = \"dropped\"");
    at.repo.replace("items/ACT-W.md", "fills = \"MOV-ACT\"", "fills = \"MOV-ACT\"\nstatus = \"current\"");
    assert_eq!(at.found("decision-not-carried-out"), 0);
    at.repo.commit("Drop the pneumatic actuator\n\nDecision: D-001");
    let undecided = "ACT-010 0 ACT-W: no evidence: no-record";
    at.open_before("leak-check", &with(&[undecided, "gap failure-without-nonconformance"]));
    // A failure is one whatever became of the concept; but what is only against something dropped does not stay open.
    at.run(&["new", "nonconformance", "--found-by", "AN-001"]).ended(0);
    at.open_before("leak-check", &with(&[undecided]));
    at.on("2026-03-09");
    at.record(
        &["analysis", "--for", "ACT-010", "--item", "ACT-W"],
        &[(TORQUE, "results.torque_margin = \"0.83 ± 0.11\"")],
    );
    at.open_before("leak-check", &both);

    // ---- two valves; one fails ----
    at.on("2026-03-10");
    let met = "results.met = \"pass\"";
    for serial in ["MOV/SN01", "MOV/SN02"] {
        at.record(&["inspection", "--for", "MOV-030", "--serial", serial], &[("results.met", met)]);
    }
    at.record(
        &["test", "--for", "MOV-010", "--serial", "MOV/SN01"],
        &[(LEAKAGE, "results.leakage = \"3.1 ± 0.4 mL/min\"")],
    );
    let failed = at.record(
        &["test", "--for", "MOV-010", "--serial", "MOV/SN02"],
        &[(LEAKAGE, "results.leakage = \"14.2 ± 0.4 mL/min\"")],
    );
    let (proof_1, proof_2) =
        ("MOV-020 0 MOV/SN01: no evidence: no-record", "MOV-020 0 MOV/SN02: no evidence: no-record");
    let fails = "MOV-010 0 MOV/SN02: not met: failure-stands result-outside";
    at.open_before("leak-check", &[proof_1, proof_2, fails, "gap failure-without-nonconformance"]);
    at.run(&["new", "nonconformance", "--found-by", &failed]).ended(0);
    let waiting = "MOV-010 0 MOV/SN02: not met: failure-stands nonconformance-open result-outside";
    at.open_before("leak-check", &[proof_1, proof_2, waiting, "open NC-002"]);
    at.repo.commit("Seat leakage of SN02");

    // ---- rework ----
    at.on("2026-03-12");
    let lapped = "contains = [\"ACT-W/SN01\"]     # bolted on\n\n[[serials.reworked]]\ndate = 2026-03-12\nreason = \"seat lapped\"";
    at.repo.replace("items/MOV.md", "contains = [\"ACT-W/SN01\"]     # bolted on", lapped);
    let waiting = "MOV-010 0 MOV/SN02: not met: failure-stands nonconformance-open result-outside reworked-since";
    let dirty = "MOV-030 0 MOV/SN02: void: reworked-since";
    at.open_before("leak-check", &[proof_1, proof_2, waiting, dirty, "open NC-002"]);
    let path = "departures/NC-002.md";
    at.repo.replace(path, "status = \"open\"", "status = \"closed\"");
    at.repo.replace(path, "# disposition = \"\" ", "disposition = \"rework\" ");
    at.repo.replace(path, "# closed = 2026-03-10 ", "closed = 2026-03-12 ");
    at.repo.replace(path, "# closed_by = \"\"", "closed_by = \"chief engineer\"");
    // Closed, and yet not met: nothing newer has been shown.
    let waiting = "MOV-010 0 MOV/SN02: not met: nonconformance-voids result-outside reworked-since";
    at.open_before("leak-check", &[proof_1, proof_2, waiting, dirty]);

    // ---- tested again ----
    at.on("2026-03-13");
    at.record(
        &["test", "--for", "MOV-010", "--serial", "MOV/SN02"],
        &[(LEAKAGE, "results.leakage = \"2.2 ± 0.4 mL/min\"")],
    );
    at.open_before("leak-check", &[proof_1, proof_2, dirty]);
    at.record(&["inspection", "--for", "MOV-030", "--serial", "MOV/SN02"], &[("results.met", met)]);
    at.open_before("leak-check", &[proof_1, proof_2]);
    at.repo.commit("Lap the seat of SN02 and test it again");

    // ---- an instrument is recalled ----
    at.on("2026-03-14");
    let leaks = ["SN01", "SN02"].map(|n| format!("MOV-010 0 MOV/{n}: void: instrument-recalled"));
    let recalled: Vec<&str> = leaks.iter().map(String::as_str).chain([proof_1, proof_2]).collect();
    let foretold = at.run(&["impact", "FM-1", "--format", "json"]).ended(0).json();
    let falls = foretold["changes"][0]["reopened"].as_array().expect("rows").iter();
    let falls: Vec<String> = falls.map(|row| format!("{} {}", row["requirement"], row["state_then"])).collect();
    assert_eq!(falls, ["\"MOV-010\" \"void\"", "\"MOV-010\" \"void\""]);
    at.open_before("leak-check", &[proof_1, proof_2]);
    at.repo.replace(
        "instruments.toml",
        "due = 2027-01-08\n",
        "due = 2027-01-08\n\n[[FM-1.calibrations]]\non = 2026-03-14\ndue = 2027-03-14\nas_found = \"out of tolerance\"\n",
    );
    at.open_before("leak-check", &recalled);
    // The record that failed has fallen with the others: three, each with its day.
    let shown = at.run(&["show", "FM-1", "--format", "json"]).ended(0).json();
    let links = shown["links"].as_array().expect("links").iter();
    let used: Vec<&str> =
        links.filter(|link| link["relation"] == "used in").filter_map(|link| link["note"].as_str()).collect();
    assert_eq!(used.len(), 3, "{used:?}");
    assert!(used.iter().all(|note| note.contains("recalled; is void")), "{used:?}");
    at.repo.commit("Recall the flow meter");

    // ---- run again with another meter ----
    at.on("2026-03-16");
    let other = "\n[FM-2]\nwhat = \"flow meter\"\nrange = \"0 to 50 mL/min\"\nuncertainty = \"± 0.4 mL/min\"\n[[FM-2.calibrations]]\non = 2026-03-15\ndue = 2027-03-15\nas_found = \"in tolerance\"\n";
    at.repo.write("instruments.toml", &format!("{}{other}", at.repo.read("instruments.toml")));
    for procedure in ["procedures/TP-01.md", "procedures/TP-05.md"] {
        at.repo.replace(procedure, "FM-1", "FM-2");
    }
    for (serial, leak) in [("MOV/SN01", "3.3"), ("MOV/SN02", "2.4")] {
        let result = format!("results.leakage = \"{leak} ± 0.4 mL/min\"");
        at.record(&["test", "--for", "MOV-010", "--serial", serial], &[(LEAKAGE, &result)]);
    }
    at.open_before("leak-check", &[proof_1, proof_2]);
    at.repo.commit("Measure the leakage again with another meter");

    // ---- a waiver ----
    let pressure = "results.pressure";
    at.record(
        &["test", "--for", "MOV-020", "--serial", "MOV/SN01"],
        &[(pressure, "results.pressure = \"6.02 ± 0.05 MPa\"")],
    );
    at.record(
        &["test", "--for", "MOV-020", "--serial", "MOV/SN02"],
        &[(pressure, "results.pressure = \"6.31 ± 0.05 MPa\"")],
    );
    at.open_before("leak-check", &["MOV-020 0 MOV/SN01: inconclusive: straddles-limit"]);
    at.run(&["new", "waiver", "--for", "MOV-020", "--serial", "MOV/SN01"]).ended(0);
    let path = "departures/W-001.md";
    at.repo.replace(path, "# accepts.pressure = { min = \"\" }", "accepts.pressure = { min = \"5.9 MPa\" }");
    at.repo.replace(path, "# before = \"", "before = \"");
    at.repo.replace(path, "# reason = \"\"", "reason = \"the stand is relieved at 5 MPa\"");
    at.open_before("leak-check", &["MOV-020 0 MOV/SN01: inconclusive: straddles-limit"]);
    at.repo.replace(path, "status = \"draft\"", "status = \"approved\"");
    at.repo.replace(path, "# approved_by = \"\"", "approved_by = \"chief engineer\"");
    at.repo.replace(path, "# approved = ", "approved = ");
    at.open_before("leak-check", &["MOV-020 0 MOV/SN01: waived inconclusive: straddles-limit"]);
    at.repo.commit("Accept the proof test of SN01");
    at.repo.git(&["tag", "-a", "TRR-1", "-m", "Before the leak check"]);

    // ---- the cold shock ----
    let waived = "MOV-020 0 MOV/SN01: waived inconclusive: straddles-limit";
    at.open_before("cold-shock", &[waived, "ACT-010 1 ACT-W: no evidence: no-record"]);
    at.on("2026-03-20");
    at.record(
        &["test", "--for", "ACT-010", "--serial", "ACT-W/SN01"],
        &[(TORQUE, "results.torque_margin = \"0.79 ± 0.06\""), ("instruments", "no_instrument = \"dead weights\"")],
    );
    at.open_before("cold-shock", &[waived]);

    // ---- the assembly, and a swapped part ----
    let travel_1 = "ACT-020 0 ACT-W/SN01: no evidence: no-record";
    at.open_before("hot-fire", &[waived, travel_1, "MOV-040 0 MOV: no evidence: no-record"]);
    at.on("2026-03-24");
    let cold =
        [(LEAKAGE, "results.leakage = \"12 ± 2 mL/min\""), ("conditions.body", "conditions.body = \"91 ± 1 K\"")];
    at.record(&["test", "--for", "MOV-040", "--serial", "MOV/SN02"], &cold);
    let travel = [("results.travel", "results.travel = \"1.4 ± 0.1 s\"")];
    at.record(&["demonstration", "--for", "ACT-020", "--serial", "ACT-W/SN01"], &travel);
    at.open_before("hot-fire", &[waived]);
    at.repo.commit("Cold soak of SN02");
    at.on("2026-03-27");
    at.repo.replace(
        "items/MOV.md",
        "contains = [\"ACT-W/SN01\"]     # bolted on",
        "contains = [\"ACT-W/SN02\"]     # in place of SN01",
    );
    at.repo.replace(
        "items/ACT-W.md",
        "number = \"SN02\"\nuse = \"spare\"",
        "number = \"SN02\"\n\n[[serials.reworked]]\ndate = 2026-03-27\nreason = \"key fitted to the stem\"",
    );
    at.repo.replace("items/ACT-W.md", "number = \"SN01\"", "number = \"SN01\"\nuse = \"spare\"");
    // The piece that is in service now has not been seen to move, and the valve is another one with it.
    let swapped = [
        "ACT-020 0 ACT-W/SN02: no evidence: no-record",
        "MOV-010 0 MOV/SN02: void: reworked-since",
        "MOV-020 0 MOV/SN02: void: reworked-since",
        "MOV-030 0 MOV/SN02: void: reworked-since",
        "MOV-040 0 MOV: void: reworked-since",
    ];
    let torque = "ACT-010 1 ACT-W: no evidence: no-record";
    at.open_before("hot-fire", &[&swapped[..], &[waived, torque]].concat());
    at.repo.commit("Swap the actuator of SN02");
    at.on("2026-03-30");
    at.record(&["test", "--for", "MOV-040", "--serial", "MOV/SN02"], &cold);
    at.record(&["demonstration", "--for", "ACT-020", "--serial", "ACT-W/SN02"], &travel);
    at.record(
        &["test", "--for", "MOV-010", "--serial", "MOV/SN02"],
        &[(LEAKAGE, "results.leakage = \"2.4 ± 0.4 mL/min\"")],
    );
    at.record(
        &["test", "--for", "MOV-020", "--serial", "MOV/SN02"],
        &[(pressure, "results.pressure = \"6.3 ± 0.05 MPa\"")],
    );
    at.record(&["inspection", "--for", "MOV-030", "--serial", "MOV/SN02"], &[("results.met", met)]);
    at.open_before("hot-fire", &[waived, torque]);
    at.record(
        &["test", "--for", "ACT-010", "--serial", "ACT-W/SN02"],
        &[(TORQUE, "results.torque_margin = \"0.81 ± 0.06\""), ("instruments", "no_instrument = \"dead weights\"")],
    );
    at.open_before("hot-fire", &[waived]);
    at.repo.commit("Test what the swap undid");

    // ---- a requirement is reworded, and somebody looks ----
    at.on("2026-04-01");
    at.repo.replace("requirements/MOV-030.md", "clean for oxygen service", "clean and dry for oxygen service");
    let slipped = ["SN01", "SN02"].map(|n| format!("MOV-030 0 MOV/{n}: slipped: mark-slipped"));
    at.open_before("hot-fire", &[waived, &slipped[0], &slipped[1]]);
    at.run(&["mark", "MOV-030", "--by", "test conductor", "--because", "dryness is part of the same inspection"])
        .ended(0);
    at.open_before("hot-fire", &[waived]);
    at.repo.commit("Ask for a dry valve too");
    let last = at.run(&["before", "hot-fire"]).ended(0);
    assert!(last.out.contains("Nothing that this project lists before hot-fire is open."), "{}", last.out);
}
