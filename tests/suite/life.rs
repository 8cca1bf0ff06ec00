//! A seal that wears out: planned, run, signed, held, shown, and told to those who decide.

use crate::support::{Run, TestRepo};

const SEAL: &str = "+++\nkind = \"item\"\nid = \"SEAL\"\ntitle = \"Stem seal\"\n\n[life.cycles]\nlimit = 12\nnote = \"by its maker\"\n\n\
                    [life.shelf]\nlimit = \"1095 d\"\ncounted = \"age\"\n\n\
                    [[serials]]\nnumber = \"S7\"\nbuilt = 2025-11-02\nused.cycles = 2\n+++\nSpring-loaded.\n";

const EVENTS: &str =
    "[[events]]\nname = \"leak-check\"\nuses.cycles = 1\n\n[[events]]\nname = \"first-run\"\nuses.cycles = 2\n";

/// A small project in which everything is closed; a seal sits in its valve, and the procedure and the events wear it.
fn stand() -> TestRepo {
    let repo = TestRepo::closed();
    repo.write("items/SEAL.md", SEAL);
    repo.replace("items/VALVE.md", "number = \"SN01\" ", "number = \"SN01\"\ncontains = [\"SEAL/S7\"] ");
    repo.replace("procedures/TP-01.md", "revision = \"1\"", "revision = \"1\"\nuses = [\"cycles\"]");
    repo.replace("slipmark.toml", "events = [\"leak-check\", \"first-run\"]\n", "");
    let project = repo.read("slipmark.toml");
    repo.write("slipmark.toml", &format!("{project}\n{EVENTS}"));
    repo
}

/// The same, with the first run telling that it used three cycles.
fn told() -> TestRepo {
    let repo = stand();
    repo.replace("records/TR-001.md", "status = \"signed\"", "uses.cycles = 3\nstatus = \"signed\"");
    sign(&repo, "TR-001", &["--because", "it did not say what it used"]).ended(0);
    repo
}

fn sign(repo: &TestRepo, id: &str, more: &[&str]) -> Run {
    repo.run(&[&["sign", id, "--by", "test conductor"], more].concat())
}

/// How the answer about an event ends, and its gaps.
fn before(repo: &TestRepo, event: &str) -> (i32, Vec<String>) {
    let run = repo.run(&["before", event, "--format", "json"]);
    let json = run.json();
    let gaps = json["gaps"].as_array().unwrap().iter();
    let gaps = gaps.map(|gap| format!("{}: {}", gap["code"].as_str().unwrap(), gap["message"].as_str().unwrap()));
    (run.code, gaps.collect())
}

#[track_caller]
fn holds(text: &str, lines: &[&str]) {
    for line in lines {
        assert!(text.contains(line), "no {line:?} in\n{text}");
    }
}

#[test]
fn a_run_that_does_not_say_what_it_used_leaves_every_event_open() {
    let repo = stand();
    let (code, gaps) = before(&repo, "leak-check");
    let text = "life-unknown: whether the cycles of SEAL/S7 last to leak-check cannot be told: TR-001 does not say how much it used; the limit is 12, 2 used, 1 planned";
    assert_eq!((code, gaps), (1, vec![text.to_string()]));
    let run = sign(&told(), "TR-001", &["--because", "once more"]).ended(0);
    assert!(run.out.contains("nothing to do"));
    assert_eq!(before(&told(), "first-run"), (0, Vec::new()));
}

#[test]
fn what_a_run_used_is_asked_for_filled_in_and_told_when_it_is_signed() {
    let repo = told();
    holds(
        &repo.run(&["sheet", "TP-01", "--serial", "VALVE/SN01"]).ended(0).out,
        &["uses.cycles", "SEAL/S7: 5 of 12 used, 7 left"],
    );
    repo.run(&["new", "test", "--from", "TP-01", "--serial", "VALVE/SN01"]).ended(0);
    holds(&repo.read("records/TR-002.md"), &["# uses.cycles = \"\""]);
    let unknown = before(&repo, "first-run").1;
    assert!(unknown[0].contains("TR-002 does not say how much it used"), "a draft was run as well: {unknown:?}");
    repo.replace("records/TR-002.md", "# instruments = [\"\"]", "no_instrument = \"read off the panel\"");
    repo.run(&["fill", "TR-002", "leakage=3.0 ± 0.4 mL/min"]).ended(0);
    holds(
        &sign(&repo, "TR-002", &[]).ended(2).err,
        &["how much of the cycles of SEAL/S7 it used", "slipmark fill TR-002 uses.cycles=…"],
    );
    holds(&repo.run(&["fill", "TR-002", "uses.cycles=4 h"]).ended(2).err, &["uses.cycles"]);
    holds(&repo.run(&["fill", "TR-002", "uses.cycles=-4"]).ended(2).err, &["less than nothing"]);
    holds(&repo.run(&["fill", "TR-002", "uses.cycle=4"]).ended(2).err, &["did you mean `uses.cycles`?"]);
    repo.run(&["fill", "TR-002", "uses.cycles=4"]).ended(0);
    assert_eq!(repo.read("records/TR-002.md").lines().filter(|line| line.starts_with("uses.cycles = 4 ")).count(), 1);
    let signed = sign(&repo, "TR-002", &[]).ended(0).out;
    holds(&signed, &["SEAL/S7 cycles: 9 of 12 used, 3 left; after leak-check, first-run: 0"]);
    assert_eq!(before(&repo, "first-run"), (0, Vec::new()), "on the limit is inside");
    // What it used is under the seal.
    repo.replace("records/TR-002.md", "uses.cycles = 4", "uses.cycles = 1");
    assert!(repo.faults()[0].contains("changed-after-signing"), "{:?}", repo.faults());
}

#[test]
fn an_event_that_used_more_than_was_planned_leaves_too_little_and_a_renewal_gives_it_back() {
    let repo = told();
    let new = ["new", "event", "--for", "leak-check", "--outcome", "completed", "--serial", "VALVE/SN01"];
    let made = repo.run(&new).ended(0).out;
    let path = made.split_whitespace().find(|word| word.ends_with(".md")).unwrap().to_string();
    holds(&repo.read(&path), &["# uses.cycles = \"\"", "planned: 1"]);
    assert!(before(&repo, "first-run").1[0].contains("does not say how much it used"));
    repo.replace(&path, "# uses.cycles = \"\"", "uses.cycles = 6");
    let over = "life-exceeded: SEAL/S7 is over its limit of 12 cycles before first-run: 11 used, 2 planned";
    assert_eq!(before(&repo, "first-run"), (1, vec![over.to_string()]));
    holds(
        &repo.run(&["show", "SEAL/S7"]).ended(0).out,
        &[
            "Limited life",
            "11 of 12 used, 1 left; after first-run: -1",
            "before the first record: 2",
            "TR-001: 3",
            "to come: first-run: 2",
        ],
    );
    let seal = repo.read("items/SEAL.md");
    let renewed = "used.cycles = 2\n\n[[serials.reworked]]\ndate = 2026-06-16\nreason = \"new spring and lips\"\naffects = []\nresets = [\"cycles\"]";
    repo.write("items/SEAL.md", &seal.replace("used.cycles = 2", renewed));
    // What was done on the day of the renewal counts as done after it.
    let life = &repo.run(&["show", "SEAL/S7", "--format", "json"]).ended(0).json()["limited_life"][0];
    assert_eq!((&life["used"], &life["left"], &life["since"]), (&"9".into(), &"1".into(), &"2026-06-16".into()));
    assert_eq!(before(&repo, "first-run"), (0, Vec::new()));
}

#[test]
fn it_is_shown_in_every_form() {
    let repo = told();
    let json = repo.run(&["show", "VALVE/SN01", "--format", "json"]).ended(0).json();
    let lives = json["limited_life"].as_array().unwrap();
    let told: Vec<(&str, &str, &str)> = lives
        .iter()
        .map(|life| (life["piece"].as_str().unwrap(), life["name"].as_str().unwrap(), life["text"].as_str().unwrap()))
        .collect();
    assert_eq!(
        told,
        [
            ("SEAL/S7", "cycles", "5 of 12 used, 7 left; after leak-check, first-run: 4"),
            ("SEAL/S7", "shelf", "1095 d from 2025-11-02, up to 2028-11-01"),
        ],
        "what is in a piece is told with it"
    );
    assert_eq!(
        lives[0]["planned"][1],
        serde_json::json!({ "by": "first-run", "date": null, "used": "2", "why": null })
    );
    let item = repo.run(&["show", "SEAL"]).ended(0).out;
    holds(&item, &["cycles 12, counted by use: by its maker", "shelf 1095 d, counted by age", "SEAL/S7 cycles"]);
    holds(&repo.run(&["show", "SEAL/S7", "--format", "markdown"]).ended(0).out, &["Limited life", "5 of 12 used"]);
    holds(&repo.run(&["show", "TR-001"]).ended(0).out, &["cycles 3"]);
    holds(&repo.run(&["show", "first-run"]).ended(0).out, &["cycles 2"]);
    holds(&repo.run(&["show", "TP-01"]).ended(0).out, &["uses"]);
    repo.run(&["packet", "first-run", "-o", "p.html"]).ended(0);
    holds(&repo.read("p.html"), &["<h3>Limited life</h3>", "5 of 12 used, 7 left", "used of limited life"]);
    // A draft of a sheet for a seal that has nothing left says so before all else.
    repo.replace("items/SEAL.md", "used.cycles = 2", "used.cycles = 9");
    holds(
        &repo.run(&["sheet", "TP-01", "--serial", "VALVE/SN01"]).ended(0).out,
        &["Limited life: SEAL/S7 cycles: 12 of 12 used, 0 left."],
    );
    assert_eq!(before(&repo, "leak-check").0, 1);
}
