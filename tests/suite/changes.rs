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
