use crate::support::TestRepo;

#[test]
fn every_sort_of_thing_can_be_shown() {
    let repo = TestRepo::demo();
    let cases = [
        ("ACT-010", "requirement"),
        ("TR-006", "test"),
        ("AN-003", "analysis"),
        ("MOV", "item"),
        ("MOV/SN02", "serial"),
        ("MOV-ACT", "slot"),
        ("TP-04", "procedure"),
        ("D-001", "decision"),
        ("NC-004", "nonconformance"),
        ("W-001", "waiver"),
        ("hot-fire", "event"),
        ("meop", "parameter"),
        ("PT-01", "instrument"),
    ];
    for (id, kind) in cases {
        let json = repo.run(&["show", id, "--format", "json"]).ended(0).json();
        assert_eq!((json["id"].as_str(), json["kind"].as_str()), (Some(id), Some(kind)));
        assert!(json["path"].as_str().is_some_and(|path| repo.path().join(path).is_file()), "{json}");
        assert!(json["title"].as_str().is_some_and(|title| !title.is_empty()));
        let text = repo.run(&["show", id]).ended(0).out;
        assert!(text.starts_with(id), "{text}");
        for link in json["links"].as_array().expect("links") {
            assert_ne!(link["kind"], "unknown", "{id}: {link}");
            assert!(text.contains(link["id"].as_str().unwrap()), "{id} does not show {link}");
        }
        let wide: Vec<&str> = text.lines().filter(|line| line.chars().count() > 100).collect();
        assert_eq!(wide, Vec::<&str>::new(), "{id}");
        assert!(repo.run(&["show", id, "--format", "markdown"]).ended(0).out.starts_with("## "));
    }
}

#[test]
fn a_requirement_says_where_it_stands_and_what_it_hangs_from() {
    let repo = TestRepo::demo();
    let json = repo.run(&["show", "ACT-010", "--format", "json"]).ended(0).json();
    let body = repo.read("requirements/actuator/ACT-010.md");
    let statement = body.rsplit("+++\n").next().unwrap().split("\n\n").next().unwrap();
    assert_eq!(json["statement"], statement);
    let states: Vec<&str> = json["rows"].as_array().unwrap().iter().map(|row| row["state"].as_str().unwrap()).collect();
    assert_eq!(states, ["closed", "slipped"]);
    let links = json["links"].as_array().unwrap();
    let related = |relation: &str| -> Vec<&str> {
        links.iter().filter(|link| link["relation"] == relation).map(|link| link["id"].as_str().unwrap()).collect()
    };
    assert_eq!(related("parents"), ["MOV-070"]);
    assert_eq!(related("evidence"), ["AN-001", "AN-003", "TR-006"]);
    assert_eq!(related("decisions"), ["D-001", "D-002"]);
    assert_eq!(related("nonconformances"), ["NC-001"]);
}

#[test]
fn the_past_is_shown_as_it_was() {
    let repo = TestRepo::demo();
    let then = repo.run(&["show", "ACT-010", "--at", "PDR"]).ended(0).out;
    assert!(then.contains("at least 0.3"), "{then}");
}

#[test]
fn near_names_are_offered() {
    let repo = TestRepo::demo();
    let run = repo.run(&["show", "ACT-O10"]).ended(2);
    assert!(run.err.contains("did you mean `ACT-010`?") && run.out.is_empty(), "{}", run.err);
}

#[test]
fn a_piece_tells_its_life_and_what_was_in_it_from_which_day() {
    let repo = TestRepo::demo();
    let swapped = "\n[[serials.contains]]\nserial = \"ACT-W/SN01\"\nfrom = 2026-03-28\nto = 2026-04-18\n\n\
                   [[serials.contains]]\nserial = \"ACT-W/SN02\"\nfrom = 2026-04-18\n";
    let valve = repo.read("items/MOV.md");
    let line = "contains = [\"ACT-W/SN02\"]\n";
    assert!(valve.contains(line));
    repo.write("items/MOV.md", &valve.replace(line, swapped));
    let json = repo.run(&["show", "MOV/SN02", "--format", "json"]).ended(0).json();
    let said = |name: &str| -> Vec<String> {
        let details = json["details"].as_array().unwrap().iter().filter(|own| own["name"] == name);
        details.map(|own| own["text"].as_str().unwrap().to_string()).collect()
    };
    let built = ["before 2026-03-28: nothing in it", "from 2026-03-28: ACT-W/SN01", "from 2026-04-18: ACT-W/SN02"];
    assert_eq!(said("as built"), built);
    let life = said("life");
    assert_eq!(life[..2], ["2026-03-27: built", "2026-03-28: ACT-W/SN01 put in (keeps no earlier evidence)"]);
    let taken_out = life.iter().position(|step| step.starts_with("2026-04-18: ACT-W/SN01 taken out")).unwrap();
    let tested = life.iter().position(|step| step.starts_with("2026-04-20: test TR-004")).unwrap();
    assert!(taken_out < tested, "{life:?}");
    assert!(life.is_sorted_by_key(|step| step[..10].to_string()), "{life:?}");
}
