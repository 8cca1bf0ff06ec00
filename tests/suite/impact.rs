//! What a change would do must be what it does: each supposed change is made in the files, and the rows are compared.

use std::collections::BTreeMap;

use crate::support::{TODAY, TestRepo};

type States = BTreeMap<String, String>;

fn name(row: &serde_json::Value) -> String {
    let text = |field: &str| row[field].as_str().unwrap_or("").to_string();
    let parts = ["method", "stage", "procedure"].map(text);
    let how = parts.iter().filter(|part| !part.is_empty()).cloned().collect::<Vec<_>>().join(" ");
    let how = match (row["entry"].as_str(), row["how"].as_str()) {
        (Some("children"), _) => "by its children".to_string(),
        (_, Some(how)) => how.to_string(),
        _ => how,
    };
    format!("{} {how} on {}", text("requirement"), text("subject"))
}

fn states(repo: &TestRepo) -> States {
    let matrix = repo.run(&["matrix", "--format", "json"]).ended(0).json();
    let rows = matrix["rows"].as_array().unwrap().iter();
    rows.map(|row| (name(row), row["state"].as_str().unwrap().to_string())).collect()
}

/// What a supposed change says of every row, from what is said of those that move.
fn foretold(repo: &TestRepo, arguments: &[&str], which: usize) -> (States, serde_json::Value) {
    let mut all = states(repo);
    let arguments: Vec<&str> = ["impact"].iter().chain(arguments).chain(&["--format", "json"]).copied().collect();
    let json = repo.run(&arguments).ended(0).json();
    let change = json["changes"][which].clone();
    for list in ["reopened", "worse", "better"] {
        for row in change[list].as_array().unwrap() {
            all.insert(name(row), row["state_then"].as_str().unwrap().to_string());
        }
    }
    for row in change["gone"].as_array().unwrap() {
        assert!(all.remove(&name(row)).is_some(), "{row}");
    }
    for row in change["fresh"].as_array().unwrap() {
        all.insert(name(row), row["state"].as_str().unwrap().to_string());
    }
    (all, change)
}

/// Asks, then makes the change in the files, and compares.
#[track_caller]
fn comes_true(arguments: &[&str], which: usize, make: impl Fn(&TestRepo)) {
    comes_true_in(&TestRepo::demo(), arguments, which, make);
}

#[track_caller]
fn comes_true_in(repo: &TestRepo, arguments: &[&str], which: usize, make: impl Fn(&TestRepo)) {
    let before = states(repo);
    let (said, change) = foretold(repo, arguments, which);
    assert!(repo.changed().is_empty(), "asking changed something");
    make(repo);
    let after = states(repo);
    assert_ne!(before, after, "the change that was made changes nothing");
    assert_eq!(said, after, "{}", change["change"]);
    for event in change["events"].as_array().unwrap() {
        let json = repo.run(&["before", event["event"].as_str().unwrap(), "--format", "json"]).json();
        let open = json["rows"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|row| !matches!(row["state"].as_str().unwrap(), "closed" | "waived"));
        assert_eq!(open.count() as u64, event["open_then"].as_u64().unwrap(), "{event}");
    }
}

#[test]
fn a_new_revision_of_an_item() {
    comes_true(&["ACT-W", "--revision", "C"], 0, |repo| {
        repo.replace("items/ACT-W.md", "revision = \"A\"", "revision = \"C\"");
        let text = repo.read("items/ACT-W.md");
        let end = "\n[[revisions]]\nrevision = \"C\"\ndate = 2026-06-16\nkeeps_evidence = []\n+++\nA 24 V";
        repo.write("items/ACT-W.md", &text.replace("+++\nA 24 V", end));
    });
}

#[test]
fn an_option_that_is_dropped() {
    comes_true(&["ACT-W"], 1, |repo| repo.replace("items/ACT-W.md", "\"current\"", "\"dropped\""));
}

#[test]
fn a_requirement_that_is_reworded_or_withdrawn() {
    comes_true(&["ACT-030"], 0, |repo| {
        repo.replace("requirements/actuator/ACT-030.md", "the actuator housing temperature shall", "the housing shall");
    });
    comes_true(&["ACT-030"], 1, |repo| {
        repo.replace(
            "requirements/actuator/ACT-030.md",
            "parents =",
            "status = \"withdrawn\"\nreason = \"x\"\nparents =",
        );
    });
}

#[test]
fn a_piece_that_is_reworked_or_scrapped() {
    let work = "contains = [\"ACT-W/SN02\"]";
    comes_true(&["MOV/SN02"], 0, |repo| {
        repo.replace(
            "items/MOV.md",
            work,
            &format!("{work}\n[[serials.reworked]]\ndate = 2026-06-16\nreason = \"x\"\n"),
        );
    });
    comes_true(&["MOV/SN02"], 1, |repo| {
        repo.replace("items/MOV.md", work, &format!("{work}\nstatus = \"scrapped\""));
    });
}

#[test]
fn a_procedure_at_its_next_revision() {
    comes_true(&["TP-03"], 0, |repo| {
        let text = repo.read("procedures/TP-03.md");
        let line = text.lines().find(|line| line.starts_with("revision =")).unwrap().to_string();
        let text: String =
            text.lines().filter(|line| !line.starts_with("earlier_runs")).map(|line| format!("{line}\n")).collect();
        repo.write("procedures/TP-03.md", &text.replace(&line, "revision = \"99\""));
    });
}

#[test]
fn an_instrument_that_is_found_out_of_tolerance() {
    for id in ["PT-01", "TC-04"] {
        comes_true(&[id], 0, |repo| {
            let text = repo.read("instruments.toml");
            let found = format!(
                "{text}\n[[{id}.calibrations]]\non = {TODAY}\ndue = 2027-06-16\nas_found = \"out of tolerance\"\n"
            );
            repo.write("instruments.toml", &found);
        });
    }
    // What was measured before the newest of two calibrations is not touched by what is found now.
    let json = TestRepo::demo().run(&["impact", "PT-01", "--format", "json"]).ended(0).json();
    let touched = json["changes"][0].to_string();
    assert!(touched.contains("last looked at on 2026-04-17") && !touched.contains("2025-04-22"), "{touched}");
}

#[test]
fn a_record_that_is_withdrawn() {
    let withdraw = |repo: &TestRepo, id: &str| {
        let path = format!("records/{id}.md");
        repo.replace(&path, "status = \"signed\"", "status = \"withdrawn\"\nreason = \"x\"");
    };
    comes_true(&["AN-002"], 0, |repo| withdraw(repo, "AN-002"));
    // A failure cannot be withdrawn before a nonconformance is closed: nothing would move, and nothing does.
    let repo = TestRepo::demo();
    let (said, _) = foretold(&repo, &["TR-009"], 0);
    assert_eq!(said, states(&repo));
    withdraw(&repo, "TR-009");
    assert_eq!(said, states(&repo));
}

#[test]
fn a_parameter_with_another_value() {
    comes_true(&["meop"], 0, |repo| repo.replace("parameters.toml", "\"4.0 MPa gauge\"", "\"4.000001 MPa gauge\""));
}

#[test]
fn an_event_that_is_held_or_was_not() {
    let planned = |more: &str| {
        let repo = TestRepo::closed();
        let before = format!("before = \"first-run\"\n{more} = \"leak-check\"\n");
        repo.replace("requirements/R-001.md", "before = \"leak-check\"\n", &before);
        repo
    };
    let hold = |repo: &TestRepo, day: &str| {
        let arguments = ["new", "event", "--for", "leak-check", "--outcome", "completed", "--serial", "VALVE/SN01"];
        repo.run(&[&arguments[..], &["--date", day]].concat()).ended(0);
    };
    let repo = planned("again_after");
    repo.commit("Show it again each time");
    comes_true_in(&repo, &["leak-check"], 0, |repo| hold(repo, TODAY));
    let repo = planned("after");
    hold(&repo, "2026-06-15");
    repo.commit("Show it afterwards");
    comes_true_in(&repo, &["EV-001"], 0, |repo| {
        std::fs::remove_file(repo.path().join("events/EV-001.md")).unwrap();
    });
}

/// Also where no row would stand differently: what is used up is what people ask about an event.
#[test]
fn what_an_event_would_use_of_limited_life_is_said() {
    let repo = TestRepo::demo();
    for (event, uses) in [("cold-shock", "2"), ("cold-flow", "6"), ("hot-fire", "10")] {
        let json = repo.run(&["impact", event, "--format", "json"]).ended(0).json();
        let own = json["changes"][0]["life"].as_array().unwrap();
        let valve = own.iter().find(|own| own["piece"] == "MOV/SN02" && own["name"] == "cold_strokes").unwrap();
        assert_eq!((&valve["used"], &valve["why"]), (&uses.into(), &serde_json::Value::Null), "{valve}");
        let number = |name: &str| valve[name].as_str().unwrap().parse::<i64>().unwrap();
        assert_eq!(number("left_now") - number("left_then"), number("used"), "{valve}");
        for format in ["text", "markdown", "csv"] {
            let told = repo.run(&["impact", event, "--format", format]).ended(0).out;
            let told = told.replace("\\_", "_");
            assert!(told.contains(&format!("MOV/SN02 cold_strokes: uses {uses} of 50; left ")), "{told}");
        }
    }
    let one = repo.run(&["impact", "ACT-010", "--format", "json"]).ended(0).json();
    assert_eq!(one["changes"][0]["life"], serde_json::json!([]), "only an event that is held uses any");
}

#[test]
fn the_table_is_filled_in_and_taken() {
    let repo = TestRepo::demo();
    let before = states(&repo);
    let json = repo.run(&["impact", "ACT-W", "--revision", "C", "--format", "json"]).ended(0).json();
    let keeps = &json["changes"][0]["keeps_evidence"];
    assert_eq!(keeps["path"], "items/ACT-W.md");
    let table = keeps["toml"].as_str().unwrap();
    // As it is, nothing is kept; with the marks taken away, all of it.
    for (table, kept) in [(table.to_string(), false), (table.replace("    # \"", "    \""), true)] {
        let repo = TestRepo::demo();
        let text = repo.read("items/ACT-W.md").replace("revision = \"A\"", "revision = \"C\"");
        repo.write("items/ACT-W.md", &text.replace("+++\nA 24 V", &format!("\n{table}+++\nA 24 V")));
        let after = states(&repo);
        assert_eq!(after == before, kept, "{table}");
        let voids = after.iter().filter(|(row, state)| *state == "void" && before[*row] == "closed").count();
        assert_eq!(voids == 0, kept);
    }
    let repo = TestRepo::demo();
    for wrong in [
        &["ACT-W", "--revision", "A"][..],
        &["ACT-010", "--revision", "C"],
        &["MOV-ACT"],
        &["hot-fire", "--revision", "C"],
        &["ACT-O10"],
    ] {
        let arguments: Vec<&str> = ["impact"].iter().chain(wrong).copied().collect();
        let run = repo.run(&arguments).ended(2);
        assert!(run.err.contains("do:") && run.out.is_empty(), "{wrong:?}: {}", run.err);
    }
}

#[test]
fn an_event_that_is_ready_and_would_not_be() {
    let repo = TestRepo::closed();
    let json = repo.run(&["impact", "TR-001", "--format", "json"]).ended(0).json();
    let events = json["changes"][0]["events"].as_array().unwrap();
    assert_eq!((&events[0]["open_now"], &events[0]["reopens"]), (&0.into(), &true.into()), "{json}");
    let text = repo.run(&["impact", "TR-001"]).ended(0).out;
    assert!(text.contains("nothing is open before it today"), "{text}");
    repo.run(&["before", "leak-check"]).ended(0);
}
