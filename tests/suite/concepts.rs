use crate::support::TestRepo;

/// What a criterion of a requirement has on an option, by entry: state, result and record.
fn cells(json: &serde_json::Value, requirement: &str, option: &str) -> Vec<(String, String, String)> {
    let asked = json["asked"].as_array().unwrap().iter().find(|own| own["requirement"] == requirement).unwrap();
    let criteria = asked["criteria"].as_array().unwrap().iter();
    let cells = criteria.flat_map(|own| own["cells"].as_array().unwrap()).filter(|cell| cell["option"] == option);
    let text = |value: &serde_json::Value| value.as_str().unwrap_or("").to_string();
    cells
        .flat_map(|cell| cell["shown"].as_array().unwrap())
        .map(|shown| (text(&shown["state"]), text(&shown["result"]), text(&shown["record"])))
        .collect()
}

#[test]
fn the_current_option_stands_beside_the_dropped_one() {
    let repo = TestRepo::demo();
    let json = repo.run(&["concepts", "MOV-ACT", "--format", "json"]).ended(0).json();
    let options: Vec<(&str, &str)> = json["options"]
        .as_array()
        .unwrap()
        .iter()
        .map(|own| (own["id"].as_str().unwrap(), own["status"].as_str().unwrap()))
        .collect();
    assert_eq!(options, [("ACT-W", "current"), ("ACT-P", "dropped")]);
    let own = |state: &str, result: &str, record: &str| (state.to_string(), result.to_string(), record.to_string());
    // The dropped one keeps the verdict on what was found on it, and does not turn void for having been dropped.
    assert_eq!(cells(&json, "ACT-010", "ACT-P"), [own("not met", "0.12 ± 0.14", "AN-001"), own("no evidence", "", "")]);
    assert_eq!(
        cells(&json, "ACT-010", "ACT-W"),
        [own("closed", "0.87 ± 0.20 (k=2)", "AN-003"), own("slipped", "0.784 ± 0.093", "TR-006")]
    );
    let dropped = &json["options"][1];
    assert_eq!((&dropped["decisions"][0]["id"], &dropped["decisions"][0]["verb"]), (&"D-001".into(), &"drops".into()));
    let failed: Vec<&str> =
        dropped["failed"].as_array().unwrap().iter().map(|own| own["requirement"].as_str().unwrap()).collect();
    assert_eq!(failed, ["ACT-010"]);
    assert_eq!(dropped["to_show"], serde_json::json!([]));
    let found: Vec<&str> =
        json["discovered"].as_array().unwrap().iter().map(|own| own["requirement"].as_str().unwrap()).collect();
    assert_eq!(found, ["ACT-050", "STD-035"]);
}

#[test]
fn the_current_option_has_the_states_of_the_matrix_and_nothing_is_written() {
    let repo = TestRepo::demo();
    let json = repo.run(&["concepts", "MOV-ACT", "--format", "json"]).ended(0).json();
    let matrix = repo.run(&["matrix", "--format", "json"]).ended(0).json();
    let mut compared = 0;
    for asked in json["asked"].as_array().unwrap() {
        let id = asked["requirement"].as_str().unwrap();
        let rows = matrix["rows"].as_array().unwrap().iter().filter(|row| row["requirement"] == id);
        let about = rows.filter(|row| row["subject"].as_str().unwrap().starts_with("ACT-W"));
        let mut expected: Vec<String> =
            about.flat_map(|row| row["criteria"].as_array().unwrap()).map(|own| own["state"].to_string()).collect();
        let mut said: Vec<String> =
            cells(&json, id, "ACT-W").into_iter().map(|(state, ..)| format!("\"{state}\"")).collect();
        expected.sort();
        said.sort();
        assert_eq!(said, expected, "{id}");
        compared += said.len();
    }
    assert!(compared > 10, "{compared}");
    assert!(repo.changed().is_empty());
}

#[test]
fn a_candidate_is_judged_without_counting() {
    let repo = TestRepo::demo();
    repo.replace("items/ACT-P.md", "status = \"dropped\"", "status = \"candidate\"");
    let before = repo.run(&["matrix", "--format", "json"]).ended(0).json();
    assert!(before["rows"].as_array().unwrap().iter().all(|row| row["subject"] != "ACT-P"));
    let json = repo.run(&["concepts", "MOV-ACT", "--format", "json"]).ended(0).json();
    assert_eq!(json["options"][1]["status"], "candidate");
    assert_eq!(cells(&json, "ACT-010", "ACT-P")[0].0, "not met");
    let open = json["options"][1]["to_show"].as_array().unwrap();
    assert!(open.iter().any(|row| row["requirement"] == "ACT-010") && open.len() > 5, "{open:?}");
}

/// What shows which option to choose is signed before one is chosen, and counts for no row until then.
#[test]
fn evidence_on_a_candidate_can_be_signed() {
    let repo = TestRepo::folder();
    repo.git(&["init", "--quiet"]);
    repo.write("slipmark.toml", "name = \"Stand\"\nevents = [\"hot-fire\"]\n");
    repo.write("slot.md", "+++\nkind = \"slot\"\nid = \"ACT\"\ntitle = \"Actuator\"\n+++\n");
    for option in ["ACT-A", "ACT-B", "ACT-C"] {
        let text = format!("+++\nkind = \"item\"\nid = \"{option}\"\ntitle = \"One\"\nfills = \"ACT\"\n+++\n");
        repo.write(&format!("{option}.md"), &text);
    }
    let requirement = "+++\nkind = \"requirement\"\nid = \"R-1\"\ntitle = \"Torque\"\nsource = \"us\"\napplies_to = \"ACT\"\n\
                       min = \"10 N·m\"\nverify = [{ method = \"analysis\" }]\n+++\nIt shall make at least 10 N·m.\n";
    repo.write("r.md", requirement);
    repo.commit("Start");
    for option in ["ACT-A", "ACT-B"] {
        let path = repo.run(&["new", "analysis", "--for", "R-1", "--item", option]).ended(0).out;
        repo.replace(path.trim(), "# results.value = \"\"", "results.value = \"12 ± 1 N·m\"");
    }
    let signed = repo.run(&["sign", "AN-001", "--by", "engineer"]).ended(0).out;
    assert!(signed.contains("ACT-A is a candidate for ACT: until it is chosen, this counts for no row"), "{signed}");
    assert!(signed.contains("do: slipmark concepts ACT"), "{signed}");
    assert_eq!(repo.faults(), Vec::<String>::new());
    repo.run(&["before", "hot-fire"]).ended(1);
    let json = repo.run(&["concepts", "ACT", "--format", "json"]).ended(0).json();
    assert_eq!(cells(&json, "R-1", "ACT-A")[0].0, "closed");
    // Chosen, it closes; what was dropped takes no signature any more.
    repo.replace("ACT-A.md", "fills", "status = \"current\"\nfills");
    repo.replace("ACT-B.md", "fills", "status = \"dropped\"\nfills");
    repo.run(&["before", "hot-fire"]).ended(0);
    assert!(repo.run(&["sign", "AN-002", "--by", "engineer"]).ended(2).err.contains("counts for no entry of R-1"));
}

#[test]
fn text_keeps_its_width_and_stacks_where_it_is_narrow() {
    let repo = TestRepo::demo();
    let wide = repo.run(&["concepts", "MOV-ACT"]).ended(0).out;
    let side_by_side = |line: &&str| line.contains("0.87 ± 0.20") && line.contains("0.12 ± 0.14");
    assert_eq!(wide.lines().filter(side_by_side).count(), 1, "{wide}");
    for columns in ["80", "120", "60"] {
        let run = repo.run_wide(columns, &["concepts", "MOV-ACT"]).ended(0).out;
        let most = columns.parse().unwrap();
        let over: Vec<&str> = run.lines().filter(|line| line.chars().count() > most).collect();
        assert_eq!(over, Vec::<&str>::new(), "{columns}");
        let beside = run.lines().filter(side_by_side).count();
        assert_eq!(beside, usize::from(columns != "60"), "{columns}\n{run}");
    }
}

#[test]
fn the_page_has_a_picture_that_says_the_same_in_words() {
    let repo = TestRepo::demo();
    let path = repo.path().join("../options.html");
    let name = path.to_str().unwrap();
    for _ in 0..2 {
        repo.run(&["concepts", "MOV-ACT", "--format", "html", "-o", name]).ended(0);
    }
    let page = std::fs::read_to_string(&path).unwrap();
    let (_, picture) = page.split_once("<svg ").unwrap();
    let (picture, _) = picture.split_once("</svg>").unwrap();
    let words = picture.split("<desc id=\"margins-words\">").nth(1).unwrap().split("</desc>").next().unwrap();
    assert!(
        picture.contains("role=\"img\"") && words.contains("ACT-P: 0.12 ± 0.14, AN-001, not met, margin -0.38"),
        "{words}"
    );
    // One mark for each result that has a margin, in the form of its option.
    let json = repo.run(&["concepts", "MOV-ACT", "--format", "json"]).ended(0).json();
    let criteria = json["asked"].as_array().unwrap().iter().flat_map(|own| own["criteria"].as_array().unwrap());
    let cells: Vec<&serde_json::Value> = criteria.flat_map(|own| own["cells"].as_array().unwrap()).collect();
    let with_margin = |option: &str| {
        let own = cells.iter().filter(|cell| cell["option"] == option);
        own.flat_map(|cell| cell["shown"].as_array().unwrap()).filter(|shown| shown["margin_si"].is_f64()).count()
    };
    let (circles, squares) = (picture.matches("<circle").count(), picture.matches("fill=\"#fff\" stroke=").count());
    assert_eq!((circles, squares), (with_margin("ACT-W"), with_margin("ACT-P")));
    assert!(circles > 5 && squares == 1);
    for colour in picture.split('#').skip(1).map(|rest| rest.split('"').next().unwrap()).filter(|word| word.len() < 7) {
        let digits: Vec<char> = colour.chars().collect();
        assert!(
            digits.chunks(digits.len() / 3).all(|part| part == &digits[..digits.len() / 3]),
            "#{colour} is no grey"
        );
    }
    // Another's file is left alone.
    std::fs::write(&path, "mine").unwrap();
    repo.run(&["concepts", "MOV-ACT", "--format", "html", "-o", name]).ended(2);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), "mine");
}

#[test]
fn every_format_has_every_result() {
    let repo = TestRepo::demo();
    for format in ["csv", "markdown", "html", "json", "text"] {
        let out = repo.run_wide("140", &["concepts", "MOV-ACT", "--format", format]).ended(0).out;
        for result in ["0.12 ± 0.14", "1.10 ± 0.11 s", "3600 s", "4.72 ± 0.02 kg", "ACT-050", "D-001"] {
            assert!(out.contains(result) || (format == "csv" && result == "D-001"), "{result} in {format}\n{out}");
        }
    }
    assert!(repo.run(&["concepts", "MOV-AKT"]).ended(2).err.contains("did you mean `MOV-ACT`?"));
}
