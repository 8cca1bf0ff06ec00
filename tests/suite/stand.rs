//! The days on the stand: data sheet, record from a procedure, filling in, signing.

use crate::support::{Run, TODAY, TestRepo};

const RECORD: &str = "records/TR-011.md";
const VALUES: &[&str] = &["closing=1.31 ± 0.02", "applied=6.0 ± 0.8 N·m", "supply=19.8 ± 0.1 V", "play=0.9 ± 0.1 deg"];

/// The example with a new record of TP-03 on the service valve.
fn begun() -> TestRepo {
    let repo = TestRepo::demo();
    repo.run(&["new", "test", "--from", "TP-03", "--serial", "MOV/SN02"]).ended(0);
    repo
}

fn fill(repo: &TestRepo, values: &[&str]) -> Run {
    let mut arguments = vec!["fill", "TR-011"];
    arguments.extend(values);
    repo.run(&arguments)
}

/// The lines of `text` that hold `part`.
fn lines<'t>(text: &'t str, part: &str) -> Vec<&'t str> {
    text.lines().filter(|line| line.contains(part)).collect()
}

#[test]
fn a_sheet_says_who_decides_before_anything_else() {
    let repo = TestRepo::demo();
    for format in ["text", "markdown", "html"] {
        let sheet = repo.run(&["sheet", "TP-03", "--serial", "MOV/SN02", "--format", format]).ended(0).out;
        let sheet = sheet.replace("\\_", "_");
        let order =
            ["Local codes", "Cold metal", "TP-02", "TQ-01", "Lost motion", "stem_torque", "m1-", "performed by"];
        // The style stands before the words, and holds none of them.
        let places: Vec<usize> =
            order.iter().map(|part| sheet.find(part).unwrap_or_else(|| panic!("{format}: {part}\n{sheet}"))).collect();
        assert!(places.is_sorted(), "{format}: {places:?}");
    }
}

#[test]
fn a_sheet_asks_what_the_requirements_ask_today() {
    let repo = TestRepo::demo();
    let sheet = |stage: &str| {
        repo.run(&["sheet", "TP-03", "--serial", "MOV/SN02", "--stage", stage, "--format", "json"]).ended(0).json()
    };
    let asked = |sheet: &serde_json::Value, name: &str| {
        let steps = sheet["steps"].as_array().expect("steps").clone();
        let fields = steps.iter().flat_map(|step| step["fields"].as_array().expect("fields").clone());
        let own: Vec<_> = fields.filter(|field| field["name"] == name).collect();
        assert_eq!(own.len(), 1, "{name}");
        own[0]["asked"].clone()
    };
    assert_eq!(asked(&sheet("acceptance"), "closing"), serde_json::json!(["at most 1.5 s (ACT-020)"]));
    repo.replace("requirements/actuator/ACT-020.md", "max = \"1.5 s\"", "max = \"1.4 s\"");
    let now = sheet("acceptance");
    assert_eq!(asked(&now, "closing"), serde_json::json!(["at most 1.4 s (ACT-020)"]));
    // Its mark has moved with it, and is the one that check would write.
    let shown = repo.run(&["show", "ACT-020", "--format", "json"]).ended(0).json().to_string();
    let marks: Vec<String> =
        now["requirements"].as_array().expect("requirements").iter().map(|own| own["mark"].to_string()).collect();
    assert_eq!(marks.len(), 3, "{marks:?}");
    assert!(marks.iter().all(|mark| mark != "\"m1-ebd92922bdca\"") && marks.iter().any(|mark| shown.contains(mark)));
    // What belongs to the other stage is noted only.
    assert_eq!(asked(&now, "torque_margin"), serde_json::json!([]));
    assert_eq!(asked(&sheet("qualification"), "torque_margin"), serde_json::json!(["at least 0.5 (ACT-010)"]));
}

#[test]
fn a_sheet_says_how_things_stand_on_this_piece_today() {
    let repo = TestRepo::demo();
    let sheet = |today: &str| {
        repo.run_at(repo.path(), today, &["sheet", "TP-04", "--serial", "MOV/SN02", "--format", "text"]).ended(0).out
    };
    let now = sheet(TODAY);
    assert_eq!(lines(&now, "TP-02 (").len(), 1, "{now}");
    assert!(lines(&now, "TP-02 (")[0].contains("TR-005"), "{now}");
    assert!(lines(&now, "FM-01")[0].contains("due 2026-12-01"), "{now}");
    assert!(lines(&sheet("2026-12-02"), "FM-01")[0].contains("was due 2026-12-01"));
    // Without its only run, nothing is there to stand on.
    repo.replace("records/TR-005.md", "serial = \"MOV/SN02\"", "serial = \"MOV/SN01\"");
    let without = sheet(TODAY);
    assert!(lines(&without, "TP-02 (")[0].contains("no signed run on MOV/SN02"), "{without}");
}

#[test]
fn a_sheet_says_what_is_known_of_the_piece() {
    let repo = TestRepo::demo();
    for format in ["text", "markdown", "html", "json"] {
        let sheet = repo.run(&["sheet", "TP-03", "--serial", "MOV/SN02", "--format", format]).ended(0).out;
        let sheet = sheet.replace("\\_", "_").replace("&#x2f;", "/").split_whitespace().collect::<Vec<_>>().join(" ");
        for part in ["NC-004", "it is open; due before cold-flow", "MOV/SN02 cold_strokes", "34 of 50 used, 16 left"] {
            assert!(sheet.contains(part), "{format}: {part}");
        }
        // Of the other valve nothing is open.
        let other = repo.run(&["sheet", "TP-03", "--serial", "MOV/SN01", "--format", format]).ended(0).out;
        assert!(!other.contains("NC-004"), "{format}");
    }
    let known =
        repo.run(&["sheet", "TP-03", "--serial", "MOV/SN02", "--format", "json"]).ended(0).json()["known"].clone();
    let holds: Vec<_> =
        known.as_array().unwrap().iter().map(|own| (own["name"].as_str().unwrap(), &own["holds"])).collect();
    let (no, yes) = (serde_json::json!(false), serde_json::json!(true));
    assert_eq!(holds, [("NC-004", &no), ("MOV/SN02 cold_strokes", &no), ("MOV/SN02 seats", &yes)]);
}

#[test]
fn a_procedure_without_keys_gives_a_sheet_from_its_body_and_the_plan() {
    let repo = TestRepo::demo();
    let text = repo.read("procedures/TP-02.md");
    let (keys, rest) = text.split_once("prerequisites").expect("the new keys");
    let body = rest.split_once("+++\n").expect("a body").1;
    repo.write("procedures/TP-02.md", &format!("{keys}+++\n{body}"));
    let sheet = repo.run(&["sheet", "TP-02", "--serial", "MOV/SN01"]).ended(0).out;
    for part in
        ["! This is a gas test at full pressure.", "[ ]  6. Vent, note the body", "MOV-020.leakage", "conditions.body"]
    {
        assert!(sheet.contains(part), "{part}\n{sheet}");
    }
    assert_eq!(repo.faults(), Vec::<String>::new());
}

#[test]
fn the_page_runs_nothing_loads_nothing_and_overwrites_only_sheets() {
    let repo = TestRepo::demo();
    let write = |path: &str, more: &[&str]| {
        let mut arguments = vec!["sheet", "TP-03", "--serial", "MOV/SN02", "-o", path];
        arguments.extend(more);
        repo.run(&arguments)
    };
    for path in ["../sheet.html", "../sheet.md", "../sheet.txt"] {
        assert_eq!(write(path, &[]).ended(0).out, format!("{path}\n"));
        let once = repo.read(path);
        write(path, &[]).ended(0);
        assert_eq!(repo.read(path), once, "the same twice");
    }
    let page = repo.read("../sheet.html");
    for part in ["<script", "src=", "href=", "http:", "https:", "url(", "@import", " onclick"] {
        assert!(!page.contains(part), "{part}");
    }
    assert!(page.contains("content=\"default-src 'none'; style-src 'sha256-"), "the policy");
    repo.write("../mine.html", "mine");
    assert!(write("../mine.html", &[]).ended(2).err.contains("exists and is no data sheet"));
    assert_eq!(repo.read("../mine.html"), "mine");
    write("../mine.html", &["--force"]).ended(0);
    assert!(repo.read("../mine.html").contains("TP-03"));
    // Inside the project it would count as a file that is not committed.
    assert!(write("inside.html", &[]).ended(0).err.contains("lies inside the project"));
}

#[test]
fn a_record_from_a_procedure_holds_all_that_the_plan_asks_of_the_piece() {
    let repo = begun();
    let text = repo.read(RECORD);
    for line in [
        "serial = [\"MOV/SN02\", \"ACT-W/SN02\"]",
        "revision = { ACT-W = \"A\", MOV = \"B\" }",
        "procedure_revision = \"1\"",
        "stage = \"acceptance\"",
        "# conditions.supply = \"\"",
        "# readings.stall_torque = \"\"",
        "# results.closing = \"\"",
        "# results.angle = \"\"",
    ] {
        assert!(text.lines().any(|own| own.starts_with(line)), "{line}\n{text}");
    }
    let named: Vec<&str> = lines(&text, "[verifies.");
    assert_eq!(named.len(), 2, "only what a test in this stage shows: {named:?}");
    assert_eq!(repo.faults(), Vec::<String>::new());
    let cases: &[(&[&str], &str)] = &[
        (&["test", "--from", "TP-03"], "--serial ACT-W/SN01"),
        (&["test", "--from", "TP-3", "--serial", "MOV/SN02"], "did you mean `TP-03`?"),
        (&["inspection", "--from", "TP-03", "--serial", "MOV/SN02"], "slipmark new demonstration --from TP-03"),
        (&["test", "--from", "TP-03", "--serial", "MOV/SN02", "--stage", "development"], "--stage "),
        (&["test", "--from", "TP-03", "--for", "ACT-010"], "cannot be used with"),
        (&["item", "--from", "TP-03", "--serial", "MOV/SN02"], "is shown by item"),
    ];
    for (arguments, said) in cases {
        let mut all = vec!["new"];
        all.extend(*arguments);
        let run = repo.run(&all).ended(2);
        assert!(run.err.contains(said), "{arguments:?}: {}", run.err);
    }
}

#[test]
fn from_the_sheet_to_a_closed_row_and_its_margin() {
    let repo = begun();
    fill(&repo, VALUES).ended(0);
    let run = repo.run(&["sign", "TR-011", "--by", "test conductor", "--witness", "pad chief"]).ended(0);
    // 1.5 s - 1.31 s, in percent of 1.5 s, in multiples of 0.02 s.
    let said = run.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("margin 0.19 s (12.7 % of the limit, 9.5 U)"), "{said}");
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "closed");
    assert_eq!(repo.faults(), Vec::<String>::new());
}

#[test]
fn a_failure_offers_the_line_that_files_it() {
    let repo = begun();
    let out = fill(&repo, &["closing=1.71 ± 0.02", "applied=6 N·m", "supply=19.8 V", "play=0.9 ± 0.1"]).ended(0).out;
    assert!(out.contains("not met: at most 1.5 s; margin -0.21 s"), "{out}");
    let out = repo.run(&["sign", "TR-011", "--by", "test conductor"]).ended(0).out;
    assert!(out.split_whitespace().collect::<Vec<_>>().join(" ").contains("margin -0.21 s"), "{out}");
    let line = *lines(&out, "slipmark new nonconformance").last().expect("what to type");
    let typed = line.split_once("slipmark ").expect("a command").1;
    repo.run(&typed.split(' ').collect::<Vec<_>>()).ended(0);
    let filed = repo.read("departures/NC-005.md");
    assert!(filed.contains("found_by = [\"TR-011\"]") && filed.contains("requirements = [\"ACT-020\"]"), "{filed}");
}

#[test]
fn filling_in_touches_nothing_else_and_twice_is_the_same() {
    let repo = begun();
    let before = repo.read(RECORD).replace("status = \"draft\"", "status  =  'draft' # ours, as we like it");
    repo.write(RECORD, &before);
    fill(&repo, VALUES).ended(0);
    let once = repo.read(RECORD);
    // Line by line: what was there is there, but for the placeholders of what was filled in.
    assert_eq!(before.lines().count(), once.lines().count());
    let changed: Vec<(&str, &str)> = before.lines().zip(once.lines()).filter(|(old, new)| old != new).collect();
    assert_eq!(changed.len(), VALUES.len(), "{changed:?}");
    for (old, new) in changed {
        let (key, note) = old.strip_prefix("# ").and_then(|rest| rest.split_once(" = \"\"")).expect("a placeholder");
        assert!(new.starts_with(&format!("{key} = \"")) && new.ends_with(note), "{old}\n{new}");
    }
    assert!(fill(&repo, VALUES).ended(0).out.contains("nothing to do"));
    assert_eq!(repo.read(RECORD), once);
    // Another value replaces the first, on its line.
    fill(&repo, &["closing=1.32 ± 0.02 s"]).ended(0);
    assert_eq!(repo.read(RECORD), once.replace("1.31 ± 0.02 s", "1.32 ± 0.02 s"));
}

#[test]
fn a_value_takes_the_uncertainty_of_the_instrument_that_its_field_names() {
    let repo = begun();
    let procedure = "procedures/TP-03.md";
    let own = "feeds = \"conditions.applied\"";
    repo.replace(procedure, own, &format!("instrument = \"TQ-01\"\n{own}"));
    let out = fill(&repo, &["applied=6.0"]).ended(0).out;
    assert!(out.contains("the uncertainty is that of TQ-01"), "{out}");
    assert!(repo.read(RECORD).contains("conditions.applied = \"6.0 ± 0.8 N·m\""), "{}", repo.read(RECORD));
    // One that is stated stays; so does a bound, which has none.
    for (value, written) in [("applied=6.0 ± 1.5", "6.0 ± 1.5 N·m"), ("applied=< 6.0", "< 6.0 N·m")] {
        assert!(!fill(&repo, &[value]).ended(0).out.contains("the uncertainty is that of"), "{value}");
        assert!(repo.read(RECORD).contains(&format!("conditions.applied = \"{written}\"")), "{value}");
    }
    // TQ-01 goes to 50 N·m.
    let out = fill(&repo, &["applied=60 ± 1", "--as-read"]).ended(0).out;
    assert!(out.contains("outside the range of TQ-01, 0 to 50 N·m"), "{out}");
    // What the record was not made with has nothing to do with it.
    repo.replace(RECORD, "\"TQ-01\", ", "");
    fill(&repo, &["applied=6.0"]).ended(0);
    assert!(repo.read(RECORD).contains("conditions.applied = \"6.0 N·m\""), "{}", repo.read(RECORD));
}

#[test]
fn a_sheet_says_from_which_instrument_a_value_is_read() {
    let repo = TestRepo::demo();
    let own = "feeds = \"conditions.applied\"";
    repo.replace("procedures/TP-03.md", own, &format!("instrument = \"TQ-01\"\n{own}"));
    repo.replace("instruments.toml", "range = \"0 to 50 N·m\"", "range = \"0 to 50 N·m\"\nresolution = \"0.1 N·m\"");
    for (format, parts) in [
        ("text", &["from TQ-01", "steps of 0.1 N·m"][..]),
        ("markdown", &["TQ-01 |", "| 0.1 N·m |"]),
        ("html", &["from TQ-01", "<td>0.1 N·m</td>"]),
        ("json", &["\"instrument\": \"TQ-01\"", "\"resolution\": \"0.1 N·m\""]),
    ] {
        let sheet = repo.run(&["sheet", "TP-03", "--serial", "MOV/SN02", "--format", format]).ended(0).out;
        let words = sheet.replace("\\-", "-").split_whitespace().collect::<Vec<_>>().join(" ");
        for part in parts {
            assert!(words.contains(part), "{format}: {part}\n{sheet}");
        }
    }
}

#[test]
fn one_value_that_does_not_fit_keeps_all_from_being_written() {
    let repo = begun();
    let before = repo.read(RECORD);
    let cases = [
        ("closing=1.31 ± 0.02 N", "time is expected"),
        ("closing=pass", "says nothing about a limit in numbers"),
        ("closing=", "is given no value"),
        ("closing", "holds no `=`"),
        ("closnig=1.31 s", "did you mean `closing`?"),
        ("applied=60 ± 1 N·m", "outside what is expected there, at most 10 N·m"),
        ("applied=6 J", "applied"),
        ("stall_torque=31 kg", "stall_torque"),
        ("soak=long", "is no quantity"),
    ];
    for (value, said) in cases {
        let run = fill(&repo, &["play=0.9 ± 0.1 deg", value]).ended(2);
        assert!(run.err.contains(said), "{value}: {}", run.err);
        assert_eq!(repo.read(RECORD), before, "{value}");
    }
    assert!(fill(&repo, &["play=0.9 deg", "angle=0.8 deg"]).ended(2).err.contains("is given twice"));
    assert_eq!(repo.read(RECORD), before);
    fill(&repo, &["applied=60 ± 1 N·m", "--as-read"]).ended(0);
    assert!(repo.read(RECORD).contains("conditions.applied = \"60 ± 1 N·m\""));
}

#[test]
fn what_is_signed_is_not_filled_in() {
    let repo = TestRepo::demo();
    let run = repo.run(&["fill", "TR-006", "stem_torque=17.0 ± 0.8 N·m"]).ended(2);
    assert!(run.err.contains("TR-006 is signed") && run.err.contains("slipmark new test --from TP-03"), "{}", run.err);
    assert!(repo.run(&["fill", "TR-06", "x=1"]).ended(2).err.contains("did you mean"));
    assert!(repo.run(&["fill", "ACT-010", "x=1"]).ended(2).err.contains("only records hold results"));
    assert!(repo.run(&["fill", "TR-010", "closing=1 s", "--at", "HEAD"]).ended(2).err.contains("leave out --at"));
    assert_eq!(repo.changed(), Vec::<String>::new());
}

#[test]
fn data_is_copied_beside_the_record_with_its_hash() {
    let repo = begun();
    repo.write("../run.csv", "t [s]\n1.21\n");
    let arguments = &["closing=1.21 ± 0.02 s", "--data", "../run.csv"];
    fill(&repo, arguments).ended(0);
    assert_eq!(repo.read("records/run.csv"), "t [s]\n1.21\n");
    let text = repo.read(RECORD);
    // printf 't [s]\n1.21\n' | sha256sum
    let hash = "d0fa31b07881654e0f94ec2250cbc87585ddebfa106017b578dbf38cd419f3bb";
    assert!(text.contains(&format!("[[data]]\nfile = \"run.csv\"\nsha256 = \"{hash}\"\n")), "{text}");
    fill(&repo, arguments).ended(0);
    assert_eq!(repo.read(RECORD), text);
    // Another file of that name is not written over, and the record stays as it is.
    repo.write("../run.csv", "t [s]\n1.99\n");
    let run = fill(&repo, &["closing=1.99 ± 0.02 s", "--data", "../run.csv"]).ended(2);
    assert!(run.err.contains("holds something else"), "{}", run.err);
    assert_eq!((repo.read(RECORD), repo.read("records/run.csv")), (text, "t [s]\n1.21\n".to_string()));
    for (path, said) in [("../none.csv", "cannot read"), ("records", "no plain file"), ("README.md", "is Markdown")] {
        assert!(fill(&repo, &["--data", path]).ended(2).err.contains(said), "{path}");
    }
}
