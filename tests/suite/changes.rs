//! `changes` as it is typed: formats, options, and the document for a review.

use crate::support::TestRepo;

#[test]
fn what_only_moved_and_looks_are_counted_and_listed_on_request() {
    let repo = TestRepo::demo();
    let told = repo.run(&["changes", "PDR..HEAD"]).ended(0).out;
    assert!(told.contains("\nNot listed: 1 cosmetic (MOV-060); --all lists them\n"), "{told}");
    assert!(!told.contains("\ncosmetic     "), "{told}");
    let all = repo.run(&["changes", "PDR..HEAD", "--all"]).ended(0).out;
    assert!(all.contains("\ncosmetic     MOV-060") && !all.contains("Not listed"), "{all}");
    let json = repo.run(&["changes", "PDR..HEAD", "--format", "json"]).ended(0).json();
    let listed = json["changes"].as_array().expect("changes");
    assert!(listed.iter().any(|it| it["id"] == "MOV-060" && it["change"] == "cosmetic"), "JSON leaves nothing out");
}

/// What a change undid: under the change that has `id`, the records that are not as they were, and in what state.
fn undone(json: &serde_json::Value, id: &str) -> Vec<String> {
    let change = json["changes"].as_array().unwrap().iter().find(|change| change["id"] == id);
    let list = change.unwrap_or_else(|| panic!("{id} in {json}"))["undone"].as_array().unwrap();
    list.iter()
        .map(|it| format!("{} {}", it["record"].as_str().unwrap_or("-"), it["state"].as_str().unwrap()))
        .collect()
}

/// Whether the answer names a row, as what slipped, what was undone, or what no one change is behind.
fn names(json: &serde_json::Value, row: &serde_json::Value) -> bool {
    let of = |list: &serde_json::Value| {
        let rows = list.as_array().unwrap().iter().flat_map(|it| it["rows"].as_array().unwrap().clone());
        rows.collect::<Vec<_>>()
    };
    let changes = json["changes"].as_array().unwrap();
    let mut rows: Vec<serde_json::Value> = changes.iter().flat_map(|change| of(&change["undone"])).collect();
    rows.extend(of(&json["undone"]));
    rows.extend(of(&json["redo"]));
    rows.iter().any(|own| own["requirement"] == row["requirement"] && own["subject"] == row["subject"])
}

/// Makes a change, commits it, and holds what `changes` says that it undid against what `before` finds open again.
#[track_caller]
fn undoes(id: &str, record: &str, make: impl Fn(&TestRepo)) -> String {
    let repo = TestRepo::demo();
    make(&repo);
    repo.commit("Change it");
    let json = repo.run(&["changes", "HEAD^..HEAD", "--format", "json"]).ended(0).json();
    assert!(undone(&json, id).contains(&record.to_string()), "{record} in {json}");
    let mut opened = 0;
    for event in ["leak-check", "cold-shock", "cold-flow", "hot-fire"] {
        let since = repo.run(&["before", event, "--since", "HEAD^", "--format", "json"]).json();
        for row in since["since"]["opened"].as_array().unwrap() {
            opened += 1;
            assert!(names(&json, row), "{row} in {json}");
        }
    }
    assert!(opened > 0, "nothing is open again");
    let back = repo.run(&["changes", "HEAD..HEAD^", "--format", "json"]).ended(0).json();
    assert!(undone(&back, id).is_empty() && back["redo"].as_array().unwrap().is_empty(), "what came back: {back}");
    let same = repo.run(&["changes", "HEAD..HEAD", "--format", "json"]).ended(0).json();
    assert_eq!((&same["changes"], &same["undone"]), (&serde_json::json!([]), &serde_json::json!([])));
    for format in ["markdown", "html", "csv"] {
        let told = repo.run(&["changes", "HEAD^..HEAD", "--format", format]).ended(0).out;
        assert!(told.contains(record.split(' ').next().unwrap()), "{record} in {told}");
    }
    repo.run(&["changes", "HEAD^..HEAD"]).ended(0).out
}

#[test]
fn evidence_that_is_void_now_is_told_under_what_voided_it_and_must_be_made_again() {
    let text = undoes("TP-03", "TR-006 void", |repo| {
        let text = repo.read("procedures/TP-03.md");
        let lines = text.lines().filter(|line| !line.starts_with("earlier_runs"));
        let lines = lines.map(|line| if line.starts_with("revision =") { "revision = \"99\"" } else { line });
        repo.write("procedures/TP-03.md", &(lines.collect::<Vec<_>>().join("\n") + "\n"));
    });
    let plain = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(plain.contains("void: TR-006 for ACT-010 on ACT-W, "), "{text}");
    assert!(plain.contains("To do again, because evidence was undone TP-03 ACT-010 on ACT-W: TR-006 is void: run by"));
    undoes("TC-04", "TR-006 void", |repo| {
        let found = "[[TC-04.calibrations]]\non = 2026-06-16\ndue = 2027-06-16\nas_found = \"out of tolerance\"\n";
        let text = repo.read("instruments.toml");
        repo.write("instruments.toml", &format!("{text}\n{found}"));
    });
    undoes("ACT-W", "TR-006 void", |repo| {
        repo.replace("items/ACT-W.md", "revision = \"A\"", "revision = \"C\"");
    });
    undoes("MOV", "TR-005 void", |repo| {
        let work = "contains = [\"ACT-W/SN02\"]";
        let more = format!("{work}\n[[serials.reworked]]\ndate = 2026-06-16\nreason = \"x\"\n");
        repo.replace("items/MOV.md", work, &more);
    });
}

#[test]
fn evidence_that_does_not_stand_for_another_reason_is_told_too() {
    undoes("AN-002", "- no evidence", |repo| {
        repo.replace("records/AN-002.md", "status = \"signed\"", "status = \"withdrawn\"\nreason = \"x\"");
    });
    undoes("slipmark.toml", "TR-006 unsigned", |repo| {
        let text = repo.read("slipmark.toml");
        repo.write("slipmark.toml", &format!("{text}\n[[roles]]\nmethod = \"test\"\nwitnessed_by = [\"nobody\"]\n"));
    });
}

/// What a board asks for stands in the list: what a waiver accepts, how long a life is, who must watch.
#[test]
fn short_values_are_said() {
    let repo = TestRepo::demo();
    let waiver = repo.read("departures/W-001.md").replace("\"W-001\"", "\"W-002\"");
    repo.write("departures/W-002.md", &waiver);
    let text = repo.read("slipmark.toml");
    repo.write(
        "slipmark.toml",
        &format!("{text}\n[[roles]]\nmethod = \"inspection\"\nwitnessed_by = [\"pad chief\"]\n"),
    );
    repo.replace("items/PRG.md", "+++\nkind", "+++\nlife.purges.limit = 50\nkind");
    repo.commit("Change three things");
    for format in ["text", "json", "markdown", "html", "csv"] {
        let told = repo.run(&["changes", "HEAD^..HEAD", "--format", format]).ended(0).out;
        let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
        let roles = "= pad chief";
        for said in ["value.max = 5.0 kg", "life added: purges.limit = 50", roles] {
            assert!(told.contains(said), "{said} in {told}");
        }
    }
}

#[test]
fn authors_are_named_only_on_request_and_as_mailmap_has_them() {
    let repo = TestRepo::demo();
    let plain = repo.run(&["changes", "HEAD~1..HEAD", "--format", "json"]).ended(0).out;
    assert!(!plain.contains("\"who\""), "{plain}");
    let who = |repo: &TestRepo| -> String {
        let json = repo.run(&["changes", "HEAD~1..HEAD", "--who", "--format", "json"]).ended(0).json();
        json["changes"][0]["commits"][0]["who"].as_str().expect("a name").to_string()
    };
    assert_eq!(who(&repo), "Test conductor");
    let address = repo.git(&["log", "-1", "--format=%ae"]);
    repo.write(".mailmap", &format!("A. Conductor <{}>\n", address.trim()));
    assert_eq!(who(&repo), "A. Conductor");
    let text = repo.run(&["changes", "HEAD~1..HEAD", "--who"]).ended(0).out;
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains("(A. Conductor)"), "{text}");
}

#[test]
fn the_document_is_by_decision_in_both_forms_and_is_written_whole() {
    let repo = TestRepo::demo();
    let markdown = repo.run(&["changes", "PDR..HEAD", "--format", "markdown"]).ended(0).out;
    let heading = |text: &str| markdown.find(text).unwrap_or_else(|| panic!("{text} in\n{markdown}"));
    let places = [
        "\n## D-001 ",
        "**revised** ACT-020 ",
        "\n## D-002 ",
        "**revised** ACT-010 ",
        "TR-006 would still be met",
        "\n## Named by no decision\n",
    ];
    assert!(places.map(heading).is_sorted(), "{markdown}");
    let page = repo.run(&["changes", "PDR..HEAD", "--format", "html", "-o", "changes.html"]).ended(0);
    assert_eq!(page.out, "changes.html\n");
    let html = repo.read("changes.html");
    assert!(html.contains("<del>1.0 s</del> <ins>1.5 s</ins>"), "{html}");
    let said = words(&html, "<body>");
    for part in ["D-001 Electric worm", "What we lose.", "TR-006 would still be met", "Named by no decision"] {
        assert!(said.contains(part), "{part} in {said}");
    }
    assert!(!html.contains("<script") && !html.contains("http://"), "nothing is loaded");
    repo.run(&["changes", "TRR-1..HEAD", "--format", "html", "-o", "changes.html"]).ended(0);
    repo.run(&["changes", "TRR-1..HEAD", "--format", "markdown", "-o", "changes.md"]).ended(0);
    repo.run(&["changes", "PDR..HEAD", "--format", "markdown", "-o", "changes.md"]).ended(0);
    repo.write("mine.md", "mine");
    let refused = repo.run(&["changes", "PDR..HEAD", "--format", "markdown", "-o", "mine.md"]).ended(2);
    assert!(refused.err.contains("mine.md exists and is no list of changes"), "{}", refused.err);
    assert_eq!(repo.read("mine.md"), "mine");
}

#[test]
fn the_packet_shows_the_same_changes_as_the_page() {
    let repo = TestRepo::demo();
    repo.run(&["changes", "TRR-1..HEAD", "--format", "html", "-o", "changes.html"]).ended(0);
    repo.run(&["packet", "hot-fire", "--since", "TRR-1", "-o", "packet.html", "--at", "HEAD"]).ended(0);
    let page = words(&repo.read("changes.html"), "A limit is tightened");
    let packet = words(&repo.read("packet.html"), "A limit is tightened");
    let packet = packet.split(" Files and their hashes").next().expect("the manifest follows");
    // The packet has the decisions' own words elsewhere.
    for part in
        ["torque_margin tightened: at least 0.3", "TR-006 would still be met", "Named by no decision", "STD-015"]
    {
        assert!(page.contains(part), "{part} in {page}");
        assert!(packet.contains(part), "{part} in {packet}");
    }
}

/// The words of a page from some of them on, without its tags.
fn words(page: &str, from: &str) -> String {
    let body = &page[page.find(from).expect("the part is there")..];
    let mut out = String::new();
    let mut inside = false;
    for character in body.chars() {
        match character {
            '<' => inside = true,
            '>' => inside = false,
            other if !inside => out.push(other),
            _ => {}
        }
    }
    out.split_whitespace().collect::<Vec<_>>().join(" ").replace("&#x2f;", "/")
}

#[test]
fn the_width_is_kept() {
    let repo = TestRepo::demo();
    for range in ["PDR..HEAD", "TRR-1..HEAD", "HEAD..PDR"] {
        let told = repo.run_wide("80", &["changes", range, "--all", "--who"]).ended(0).out;
        let longest = told.lines().map(|line| line.chars().count()).max().expect("lines");
        assert!(longest <= 80, "{longest} columns in {range}");
    }
}

#[test]
fn a_range_backwards_and_a_day_to_come_are_said() {
    let repo = TestRepo::demo();
    for format in ["text", "json", "markdown", "html"] {
        let told = |range: &str| {
            let out = repo.run(&["changes", range, "--format", format]).ended(0).out;
            out.split_whitespace().collect::<Vec<_>>().join(" ")
        };
        let said = "HEAD is later than PDR: this tells what it would be to go back. As it came about: slipmark changes PDR..HEAD";
        assert!(told("HEAD..PDR").contains(said), "{format}");
        assert!(!told("PDR..HEAD").contains("go back"), "{format}");
        assert!(!told("HEAD..HEAD").contains("go back"), "{format}");
    }
    let later = repo.run(&["changes", "--since", "2030-01-01"]).ended(2).err;
    assert!(later.contains("2030-01-01 is still to come: today is 2026-"), "{later}");
    assert!(repo.run(&["before", "hot-fire", "--since", "2030-01-01"]).ended(2).err.contains("still to come"));
}

/// What it says to type for a tag that is there and is no statement of anybody's.
#[test]
fn a_tag_that_is_not_annotated_is_named_with_how_to_annotate_it() {
    let repo = TestRepo::closed();
    repo.git(&["tag", "-d", "review"]);
    assert!(repo.run(&["changes"]).ended(2).err.contains("git tag -a PDR"));
    repo.git(&["tag", "PDR", "HEAD~1"]);
    let told = repo.run(&["changes"]).ended(2).err;
    assert!(told.contains("slipmark changes PDR looks back to that tag"), "{told}");
    repo.run(&["changes", "PDR"]).ended(0);
    assert!(told.contains("git tag -a -f -m \"…\" PDR PDR"), "{told}");
    let at = repo.git(&["rev-parse", "PDR"]);
    repo.git(&["tag", "-a", "-f", "-m", "Preliminary design review", "PDR", "PDR"]);
    assert_eq!(repo.git(&["rev-parse", "PDR^{commit}"]), at);
    repo.run(&["changes"]).ended(0);
}
