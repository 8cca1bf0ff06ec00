//! Held events from one end to the other: written, shown, judged by, and missed when they are gone.

use serde_json::{Value, json};

use crate::support::{TODAY, TestRepo};

const REQUIREMENT: &str = "requirements/R-001.md";
const LATER: &str = "2026-06-20";

/// Everything closed, with something added to the only plan entry, which is due before the second event.
fn planned(more: &str) -> TestRepo {
    let repo = TestRepo::closed();
    repo.replace(REQUIREMENT, "before = \"leak-check\"\n", &format!("before = \"first-run\"\n{more}\n"));
    repo
}

/// Writes a held event as somebody types it, and gives its path.
#[track_caller]
fn held(repo: &TestRepo, event: &str, outcome: &str, day: &str) -> String {
    let arguments = ["new", "event", "--for", event, "--outcome", outcome, "--date", day, "--serial", "VALVE/SN01"];
    repo.run_at(repo.path(), LATER, &arguments).ended(0).out.trim().to_string()
}

fn before(repo: &TestRepo, event: &str, today: &str, more: &[&str], code: i32) -> Value {
    let mut arguments = vec!["before", event, "--format", "json"];
    arguments.extend(more);
    repo.run_at(repo.path(), today, &arguments).ended(code).json()
}

fn reasons(answer: &Value) -> Vec<&str> {
    let rows = answer["rows"].as_array().expect("rows");
    rows.iter()
        .flat_map(|row| row["reasons"].as_array().expect("reasons"))
        .map(|own| own["code"].as_str().unwrap())
        .collect()
}

#[test]
fn what_must_be_shown_again_is_open_once_the_event_was_held() {
    let repo = planned("again_after = [\"leak-check\"]");
    assert_eq!(before(&repo, "first-run", LATER, &[], 0)["verdict"], "nothing-open");
    let path = held(&repo, "leak-check", "aborted", "2026-06-18");
    let answer = before(&repo, "first-run", LATER, &[], 1);
    assert_eq!(reasons(&answer), ["used-up"]);
    assert_eq!(answer["rows"][0]["state"], "void");
    assert_eq!(
        answer["rows"][0]["reasons"][0]["text"],
        "TR-001: leak-check was held on 2026-06-18 (EV-001): to be shown again"
    );
    assert_eq!(repo.run_at(repo.path(), LATER, &["check"]).ended(0).code, 0);
    // What is made after it stands.
    repo.replace(&path, "date = 2026-06-18", "date = 2026-06-15");
    assert_eq!(before(&repo, "first-run", LATER, &[], 0)["verdict"], "nothing-open");
}

#[test]
fn what_must_come_after_an_event_says_what_to_type() {
    let repo = planned("after = [\"leak-check\"]");
    let answer = before(&repo, "first-run", LATER, &[], 1);
    assert_eq!(reasons(&answer), ["out-of-order"]);
    let help = answer["rows"][0]["reasons"][0]["help"].as_str().unwrap();
    let typed = help.split_once("slipmark ").unwrap().1.split_once(';').unwrap().0.replace("YYYY-MM-DD", "2026-06-15");
    repo.run_at(repo.path(), LATER, &typed.split(' ').collect::<Vec<_>>()).ended(0);
    assert_eq!(before(&repo, "first-run", LATER, &[], 0)["verdict"], "nothing-open");
}

#[test]
fn new_asks_for_what_nobody_can_guess() {
    let repo = TestRepo::closed();
    let refused = |arguments: &[&str], said: &str| {
        let all: Vec<&str> = ["new", "event"].iter().chain(arguments).copied().collect();
        let err = repo.run(&all).ended(2).err;
        assert!(err.contains(said), "{arguments:?}: {err}");
    };
    refused(&[], "--for EVENT");
    refused(&["--for", "leak-check"], "--outcome completed");
    refused(&["--for", "leek-check", "--outcome", "completed"], "did you mean `leak-check`?");
    refused(&["--for", "leak-check", "--outcome", "complete"], "did you mean `completed`?");
    assert_eq!(repo.changed(), Vec::<String>::new());
}

#[test]
fn held_events_are_shown_with_the_event_the_piece_and_the_item() {
    let repo = planned("again_after = \"leak-check\"");
    let path = held(&repo, "leak-check", "completed", "2026-06-18");
    repo.replace(&path, "# uses.NAME = \"\"", "uses.cycles = 3\nnote = \"windy\"\n#");
    let shown = |id: &str| repo.run_at(repo.path(), LATER, &["show", id, "--format", "json"]).ended(0).json();
    for id in ["leak-check", "VALVE", "VALVE/SN01"] {
        let view = shown(id);
        let links = view["links"].as_array().unwrap();
        let link = links.iter().find(|link| link["relation"] == "held events").unwrap_or_else(|| panic!("{view}"));
        assert_eq!((&link["id"], &link["kind"]), (&json!("EV-001"), &json!("event")));
        assert_eq!(link["note"], "leak-check, completed; 2026-06-18; with VALVE/SN01");
    }
    let life = shown("VALVE/SN01")["details"].to_string();
    assert!(life.contains("2026-06-18: leak-check held (EV-001), completed: leak-check, 2026-06-18"), "{life}");
    let own = shown("EV-001");
    let details: Vec<(&str, &str)> = own["details"]
        .as_array()
        .unwrap()
        .iter()
        .map(|detail| (detail["name"].as_str().unwrap(), detail["text"].as_str().unwrap()))
        .collect();
    let expected = [
        ("event", "leak-check"),
        ("date", "2026-06-18"),
        ("outcome", "completed"),
        ("uses", "cycles 3"),
        ("note", "windy"),
    ];
    assert_eq!(details, expected);
    assert!(shown("R-001")["plan"][0]["text"].as_str().unwrap().contains("again after each leak-check"));
    // In the packet, with a place of its own and the piece leading to its own.
    repo.run_at(repo.path(), LATER, &["packet", "first-run", "-o", "p.html"]).ended(0);
    let page = repo.read("p.html");
    assert!(page.contains("id=\"held-EV-001\"") && page.contains("href=\"#held-EV-001\""), "no held event");
    assert!(page.contains("again after each leak-check"), "no plan");
}

/// Put into the piece that was there on that day, or taken out of it: it may have been there.
#[test]
fn what_was_in_the_piece_was_there_too() {
    let repo = TestRepo::closed();
    let part = "+++\nkind = \"item\"\nid = \"SEAL\"\ntitle = \"Seal\"\nserials = [\"S1\"]\n+++\n";
    repo.write("items/SEAL.md", part);
    let contents = "[[serials.contains]]\nserial = \"SEAL/S1\"\nfrom = 2026-06-18\n+++\nWhat is";
    repo.replace("items/VALVE.md", "+++\nWhat is", contents);
    held(&repo, "leak-check", "completed", "2026-06-18");
    let life = repo.run_at(repo.path(), LATER, &["show", "SEAL/S1"]).ended(0).out;
    assert!(life.contains("leak-check held (EV-001), completed, in VALVE/SN01"), "{life}");
    repo.replace("items/VALVE.md", "from = 2026-06-18", "from = 2026-06-19");
    let life = repo.run_at(repo.path(), LATER, &["show", "SEAL/S1"]).ended(0).out;
    assert!(!life.contains("EV-001"), "{life}");
}

#[test]
fn a_held_event_does_not_leave_silently() {
    let repo = TestRepo::closed();
    let path = held(&repo, "leak-check", "completed", TODAY);
    repo.commit("Hold it");
    assert!(repo.run(&["history", "EV-001"]).ended(0).out.contains("Hold it"));
    std::fs::remove_file(repo.path().join(&path)).unwrap();
    let answer = before(&repo, "leak-check", LATER, &[], 1);
    assert_eq!(answer["faults"][0]["code"], "vanished");
    assert_eq!(answer["faults"][0]["message"], "EV-001 was a held event at HEAD, and is gone");
}

#[test]
fn before_an_undated_event_it_is_said_until_when_evidence_holds() {
    let repo = planned("valid_for = \"30 d\"");
    let lapsing = json!([{"until": "2026-07-16", "requirement": "R-001", "subject": "VALVE/SN01", "record": "TR-001"}]);
    // The last day, and the day after.
    for today in [TODAY, "2026-07-16"] {
        assert_eq!(before(&repo, "first-run", today, &[], 0)["lapsing"], lapsing);
    }
    let after = before(&repo, "first-run", "2026-07-17", &[], 1);
    assert_eq!((reasons(&after), &after["lapsing"]), (vec!["lapsed"], &json!([])));
    for format in ["text", "markdown"] {
        let answer = repo.run(&["before", "first-run", "--format", format]).ended(0).out;
        assert!(answer.contains("Holds until; first-run has no date") && answer.contains("2026-07-16"), "{answer}");
    }
    repo.run(&["packet", "first-run", "-o", "p.html"]).ended(0);
    assert!(repo.read("p.html").contains("Holds until: first-run has no date"));
    // With a date it is told by that.
    let undated = "events = [\"leak-check\", \"first-run\"]\n";
    repo.replace("slipmark.toml", undated, "");
    let project = repo.read("slipmark.toml");
    let dated = "[[events]]\nname = \"leak-check\"\n[[events]]\nname = \"first-run\"\ndate = 2026-07-01\n";
    repo.write("slipmark.toml", &format!("{project}{dated}"));
    assert_eq!(before(&repo, "first-run", TODAY, &[], 0)["lapsing"], json!([]));
}

/// A draft under a waiver that needs no evidence closes nothing, and so nothing opens when it lapses.
#[test]
fn what_is_waived_without_evidence_does_not_lapse() {
    let repo = planned("valid_for = \"30 d\"");
    let record = repo.read("records/TR-001.md");
    let mark = record.lines().find_map(|line| line.strip_prefix("mark = ")).expect("a mark");
    let waiver = format!(
        "+++\nkind = \"waiver\"\nid = \"W-1\"\ntitle = \"Later\"\nrequirement = \"R-001\"\nmark = {mark}\nserials = \"VALVE/SN01\"\n\
         without_evidence = \"low pressure only\"\nbefore = \"first-run\"\nstatus = \"approved\"\napproved_by = \"lead\"\n\
         approved = 2026-06-15\n+++\n"
    );
    repo.write("departures/W-1.md", &waiver);
    assert_eq!(before(&repo, "first-run", TODAY, &[], 0)["lapsing"][0]["record"], "TR-001");
    let unsigned: Vec<&str> = record.lines().filter(|line| !line.starts_with("seal =")).collect();
    let draft = unsigned.join("\n").replace("status = \"signed\"", "status = \"draft\"");
    repo.write("records/TR-001.md", &format!("{draft}\n"));
    // Signed evidence that is a draft again is a fault of its own, whatever is waived.
    let answer = before(&repo, "first-run", TODAY, &[], 1);
    assert_eq!((&answer["rows"][0]["state"], &answer["lapsing"]), (&json!("waived"), &json!([])));
    assert_eq!((answer["open_total"].clone(), &answer["faults"][0]["code"]), (json!(1), &json!("seal-replaced")));
}

/// A second requirement whose procedure sorts before the first one's, with something that must hold before it is run.
fn prerequisite(repo: &TestRepo, name: &str) {
    let procedure =
        "+++\nkind = \"procedure\"\nid = \"TP-00\"\ntitle = \"Stroke\"\nrevision = \"1\"\nstatus = \"released\"\n";
    repo.write(
        "procedures/TP-00.md",
        &format!("{procedure}prerequisites = [\"{name}\", \"Nobody is in the bay\"]\n+++\n"),
    );
    let second = repo.read(REQUIREMENT).replace("R-001", "R-002").replace("\"TP-01\"", "\"TP-00\"");
    repo.write("requirements/R-002.md", &second.replace("External leakage", "Stroke"));
}

/// The steps before the second event, each as its procedure, what comes first, and what it needs.
fn steps(repo: &TestRepo) -> Vec<(String, Value, Value, Value)> {
    let answer = before(repo, "first-run", TODAY, &["--next"], 1);
    let steps = answer["next"]["steps"].as_array().unwrap().iter();
    let told = steps.map(|step| {
        let name = step["procedure"].as_str().unwrap().to_string();
        (name, step["after"].clone(), step["after_events"].clone(), step["needs"].clone())
    });
    told.collect()
}

fn step(procedure: &str, after: Value, events: Value, needs: Value) -> (String, Value, Value, Value) {
    (procedure.to_string(), after, events, needs)
}

#[test]
fn the_order_of_records_keeps_to_what_procedures_need_first() {
    let open = || {
        let repo = planned("");
        std::fs::remove_file(repo.path().join("records/TR-001.md")).unwrap();
        repo
    };
    let none = || json!([]);
    // Without a prerequisite: by name.
    let repo = open();
    prerequisite(&repo, "The bay is swept");
    assert_eq!(steps(&repo), [step("TP-00", none(), none(), none()), step("TP-01", none(), none(), none())]);
    // A procedure, and a requirement that is closed by one.
    for name in ["TP-01", "R-001"] {
        prerequisite(&repo, name);
        assert_eq!(
            steps(&repo),
            [step("TP-01", none(), none(), none()), step("TP-00", json!([1]), none(), none())],
            "{name}"
        );
    }
    // An event, until it was held.
    prerequisite(&repo, "leak-check");
    assert_eq!(steps(&repo)[0], step("TP-00", none(), json!(["leak-check"]), none()));
    let path = held(&repo, "leak-check", "completed", "2026-06-10");
    assert_eq!(steps(&repo)[0], step("TP-00", none(), none(), none()));
    std::fs::remove_file(repo.path().join(path)).unwrap();
    // A procedure that nothing plans, and a requirement that no record closes.
    let other = repo.read("procedures/TP-01.md").replace("TP-01", "TP-09");
    repo.write("procedures/TP-09.md", &other);
    prerequisite(&repo, "TP-09");
    assert_eq!(steps(&repo)[0], step("TP-00", none(), none(), json!(["run TP-09, which nothing plans here"])));
    prerequisite(&repo, "R-001");
    repo.replace(REQUIREMENT, "max = \"10 mL/min\"", "max = \"TBD\"");
    let needs = json!(["close R-001 on VALVE/SN01, which is no evidence"]);
    assert_eq!(steps(&repo), [step("TP-00", none(), none(), needs)]);
    // Closed as it is, nothing is needed.
    let closed = planned("");
    prerequisite(&closed, "R-001");
    assert_eq!(steps(&closed), [step("TP-00", none(), none(), none())]);
}

#[test]
fn what_is_used_up_by_an_event_in_between_is_made_after_it() {
    let repo = planned("again_after = \"leak-check\"");
    std::fs::remove_file(repo.path().join("records/TR-001.md")).unwrap();
    prerequisite(&repo, "leak-check");
    let events = || json!(["leak-check"]);
    let after =
        |needs: Value| [step("TP-00", json!([]), events(), json!([])), step("TP-01", json!([]), events(), needs)];
    assert_eq!(steps(&repo), after(json!([])));
    // Due before that event as well, it is needed twice.
    repo.replace(REQUIREMENT, "before = \"first-run\"", "before = \"leak-check\"");
    let told = steps(&repo);
    let needs = "make it before leak-check too: by then it is due, and after that it is used up";
    assert!(told.contains(&step("TP-01", json!([]), events(), json!([needs]))), "{told:?}");
}

#[test]
fn a_sheet_says_whether_an_event_was_held() {
    let repo = TestRepo::closed();
    prerequisite(&repo, "leak-check");
    let today = |repo: &TestRepo| {
        let sheet = ["sheet", "TP-00", "--serial", "VALVE/SN01", "--format", "json"];
        let first = repo.run_at(repo.path(), LATER, &sheet).ended(0).json()["prerequisites"][0].clone();
        (first["today"].as_str().unwrap().to_string(), first["holds"].clone())
    };
    assert_eq!(today(&repo), ("not held with VALVE/SN01; 1 row is open before it".into(), json!(false)));
    held(&repo, "leak-check", "aborted", "2026-06-18");
    assert_eq!(today(&repo), ("not completed: EV-001, 2026-06-18; 1 row is open before it".into(), json!(false)));
    held(&repo, "leak-check", "completed", "2026-06-17");
    assert_eq!(today(&repo), ("held: EV-002, 2026-06-17".into(), json!(true)));
}
