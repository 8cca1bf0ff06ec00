//! What is told beside an answer, so that somebody who reads it knows what to look at and what to type next.

use crate::support::{Run, TestRepo};

/// What a run said on both streams, on one line: it is wrapped at the width of the terminal.
fn said(run: &Run) -> String {
    format!("{} {}", run.out, run.err).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Whether no line is wider than a terminal.
#[track_caller]
fn fits(text: &str, columns: usize) {
    let wide: Vec<&str> = text.lines().filter(|line| line.chars().count() > columns).collect();
    assert!(wide.is_empty(), "{wide:?}");
}

#[test]
fn a_draft_that_was_begun_is_named_and_filled_in() {
    let repo = TestRepo::demo();
    let begin = "slipmark new demonstration --for ACT-060 --serial ACT-W/SN02";
    let before = repo.run(&["before", "hot-fire"]).ended(1);
    assert!(said(&before).contains(begin), "{}", before.out);
    let states = repo.states("ACT-060");
    repo.run(&["new", "demonstration", "--for", "ACT-060", "--serial", "ACT-W/SN02"]).ended(0);
    let begun = repo.run_wide("80", &["before", "hot-fire"]).ended(1);
    fits(&begun.out, 80);
    for words in [
        "no record of TP-06 shows it; DM-002 is a draft for it and has no result yet",
        "do: fill it in: slipmark fill DM-002 ACT-060.NAME=\"…\"; then slipmark sign DM-002 --by ROLE",
    ] {
        assert!(said(&begun).contains(words), "{}", begun.out);
    }
    assert!(!said(&begun).contains(begin), "{}", begun.out);
    assert_eq!(repo.states("ACT-060"), states, "it is no evidence yet");
    // What is still to be filled in is named once the rest is.
    repo.run(&["fill", "DM-002", "ACT-060.drift=0.4 ± 0.1 deg"]).ended(0);
    let partly = repo.run(&["show", "ACT-060"]).ended(0);
    assert!(said(&partly).contains("DM-002 is a draft for it and has no result for hold yet"), "{}", partly.out);
    assert!(said(&partly).contains("slipmark fill DM-002 ACT-060.hold=\"…\""), "{}", partly.out);
}

#[test]
fn a_draft_on_another_piece_counts_where_one_is_enough() {
    let repo = TestRepo::closed();
    repo.replace(
        "items/VALVE.md",
        "[[serials]]\nnumber = \"SN01\"",
        "[[serials]]\nnumber = \"SN02\"\n\n[[serials]]\nnumber = \"SN01\"",
    );
    repo.write(
        "requirements/R-003.md",
        "+++\nkind = \"requirement\"\nid = \"R-003\"\ntitle = \"Opening\"\nsource = \"us\"\napplies_to = \"VALVE\"\n\
         verify = [{ method = \"inspection\", on = \"one\" }]\n+++\nThe valve shall open.\n",
    );
    let new = repo.run(&["new", "inspection", "--for", "R-003", "--serial", "VALVE/SN01"]).ended(0);
    let id = new.out.trim().trim_start_matches("records/").trim_end_matches(".md").to_string();
    let shown = repo.run(&["show", "R-003"]).ended(0);
    assert!(said(&shown).contains(&format!("slipmark fill {id} R-003.met=\"…\"")), "{}", shown.out);
    assert!(!said(&shown).contains("slipmark new inspection"), "{}", shown.out);
}

#[test]
fn history_tells_what_slipped_at_a_revision_and_what_people_depend_on() {
    let repo = TestRepo::demo();
    let run = repo.run_wide("80", &["history", "ACT-010"]).ended(0);
    fits(&run.out, 80);
    assert!(run.out.starts_with("ACT-010 [safety] Cold torque margin (requirement)\n"), "{}", run.out);
    let tightened = run.out.split("  2. revised").nth(1).expect("a second revision");
    assert!(tightened.contains("slipped: AN-001, TR-006, judged against the text of revision 1\n"), "{}", run.out);
    assert!(tightened.contains("evidence: AN-003 reaffirmed"), "{}", run.out);
    assert_eq!(run.out.matches("slipped").count(), 1, "once, and not what was looked at again: {}", run.out);
    let json = repo.run(&["history", "ACT-010", "--format", "json"]).ended(0).json();
    assert_eq!(json["safety"], true);
    let slipped: Vec<&serde_json::Value> = json["revisions"]
        .as_array()
        .expect("revisions")
        .iter()
        .map(|it| &it["slipped"])
        .filter(|it| !it.is_null())
        .collect();
    assert_eq!(slipped, [&serde_json::json!({ "records": ["AN-001", "TR-006"], "judged_against": 1 })]);
    let csv = repo.run(&["history", "ACT-010", "--format", "csv"]).ended(0).out;
    assert!(csv.contains("AN-001, TR-006"), "{csv}");
    let other = repo.run(&["history", "TR-006"]).ended(0).out;
    assert!(!other.contains("[safety]"), "{other}");
}

#[test]
fn changes_begin_with_what_they_come_to() {
    let repo = TestRepo::demo();
    let run = repo.run_wide("80", &["changes", "PDR..HEAD"]).ended(0);
    let json = repo.run(&["changes", "PDR..HEAD", "--format", "json"]).ended(0).json();
    let all = json["changes"].as_array().expect("changes").iter();
    let own: Vec<_> = all.filter(|change| change["kind"] == "requirement").collect();
    let kind = |word: &str| own.iter().filter(|change| change["change"] == word).count();
    let moved = own.iter().filter(|change| change["change"] != "added" && change["change"] != "removed");
    let limits: Vec<_> = moved.flat_map(|change| change["criteria"].as_array().expect("criteria")).collect();
    let limit = |word: &str| limits.iter().filter(|it| it["direction"] == word).count();
    let slipped: usize = own.iter().map(|change| change["slipped"].as_array().expect("slipped").len()).sum();
    let start: Vec<&str> = run.out.split("\n\n").next().expect("a start").lines().collect();
    let requirements = format!(
        "requirements: {} added, {} revised, {} with another plan, {} withdrawn",
        kind("added"),
        kind("revised"),
        kind("plan"),
        kind("withdrawn")
    );
    assert_eq!(start[1], requirements);
    let tightened = format!(
        "limits: {} tightened, {} relaxed, {} restated",
        limit("tightened"),
        limit("relaxed"),
        limit("restated")
    );
    assert!(start[2].starts_with(&tightened), "{start:?}");
    assert!(start[3].starts_with(&format!("evidence: {slipped} slipped (AN-001 for ACT-010, ")), "{start:?}");
    assert_eq!(*start.last().expect("a line"), "to look at: TR-006");
    fits(&start.join("\n"), 80);
    let markdown = repo.run(&["changes", "PDR..HEAD", "--format", "markdown"]).ended(0).out;
    assert!(markdown.contains(&format!("\n\n- {requirements}\n- limits: ")), "{markdown}");
    // Rows that fall for another reason, and what would show them again.
    repo.replace(
        "procedures/TP-03.md",
        "revision = \"1\"",
        "revision = \"2\"\nearlier_runs = \"do not count\"\nreason = \"other bath\"",
    );
    let fallen = repo.run(&["changes", "HEAD"]).ended(0);
    let start =
        said(&Run { out: fallen.out.split("\n\n").next().expect("a start").into(), err: String::new(), code: 0 });
    assert!(start.contains(" does not stand any more: ") && start.contains(" void"), "{start}");
    assert!(start.contains(" to do again: TP-03 for "), "{start}");
}

#[test]
fn a_decision_or_a_day_in_a_range_is_told_how_to_be_asked_for() {
    let repo = TestRepo::demo();
    let cases = [
        (
            "D-001..D-002",
            "do: slipmark changes --since D-001; to end earlier, --at COMMIT: slipmark history D-002 lists its commits",
        ),
        ("D-001", "do: slipmark changes --since D-001"),
        ("D-001..TRR-1", "do: slipmark changes --since D-001 --at TRR-1"),
        (
            "2026-01-01..",
            "`2026-01-01` is a day, and a range takes commits and tags do: slipmark changes --since 2026-01-01",
        ),
        (
            "PDR..D-002",
            "`D-002` is a decision, and a range takes commits and tags do: name a commit: slipmark history D-002",
        ),
    ];
    for (range, words) in cases {
        let run = repo.run(&["changes", range]).ended(2);
        assert!(said(&run).contains(words), "{}", run.err);
    }
    let other = repo.run(&["changes", "X-9.."]).ended(2);
    assert!(other.err.contains("git knows no commit `X-9`"), "{}", other.err);
}

#[test]
fn since_a_decision_is_since_the_commit_before_it() {
    let repo = TestRepo::demo();
    let changes = repo.run(&["changes", "--since", "D-001"]).ended(0);
    assert!(changes.out.starts_with("Marram Point, from the commit before D-001 ("), "{}", changes.out);
    let json = repo.run(&["changes", "--since", "D-001", "--format", "json"]).ended(0).json();
    assert_eq!((&json["from_name"], &json["from_before"]), (&"D-001".into(), &true.into()));
    let markdown = repo.run(&["changes", "--since", "D-001", "--format", "markdown"]).ended(0).out;
    assert!(markdown.contains(", the commit before D-001, to the work tree"), "{markdown}");
    let page = repo.run(&["changes", "--since", "D-001", "--format", "html"]).ended(0).out;
    assert!(page.contains("From the commit before D-001 ("), "{page}");
    let before = repo.run(&["before", "hot-fire", "--since", "D-001"]).ended(1);
    assert!(before.out.contains("\nsince the commit before D-001: "), "{}", before.out);
    let tag = repo.run(&["before", "hot-fire", "--since", "TRR-1"]).ended(1);
    assert!(tag.out.contains("\nsince TRR-1: "), "{}", tag.out);
}

#[test]
fn words_that_the_files_use_are_explained() {
    let repo = TestRepo::demo();
    for (word, example) in [
        ("condition", "slipmark fill TR-012 conditions.body=\"91 ± 1 K\""),
        ("parameter", "in parameters.toml: [meop] with value = \"4 MPa\""),
        ("tag", "applies_to = { tag = \"oxygen-wetted\" }"),
    ] {
        let run = repo.run_wide("80", &["explain", word]).ended(0);
        fits(&run.out, 80);
        assert!(said(&run).contains(example), "{}", run.out);
    }
}

#[test]
fn what_has_no_file_of_its_own_is_told_so_by_history() {
    let repo = TestRepo::demo();
    for (id, words) in [
        ("TQ-01", "`TQ-01` is an instrument in instruments.toml: it has no file, and no revisions, of its own"),
        ("TQ-01", "do: slipmark show TQ-01; what changed of it, among all else: slipmark changes"),
        ("MOV/SN01", "do: slipmark show MOV/SN01; how its item came to read as it does: slipmark history MOV"),
        ("meop", "`meop` is a parameter in parameters.toml"),
        ("hot-fire", "`hot-fire` is an event in slipmark.toml"),
    ] {
        let run = repo.run(&["history", id]).ended(2);
        assert!(said(&run).contains(words), "{}", run.err);
    }
    let gone = repo.run(&["history", "MOV/SN99"]).ended(2);
    assert!(gone.err.contains("nothing has or had the id `MOV/SN99`"), "{}", gone.err);
}

#[test]
fn what_is_offered_for_a_unit_with_two_meanings_has_its_number() {
    let repo = TestRepo::demo();
    repo.replace(
        "requirements/purge/PRG-010.md",
        "\n\n## Rationale",
        " It shall lose at most 10 sccm and 1e-4 scc/s, below 30 C, and 3 kcal.\n\n## Rationale",
    );
    let notes = repo.run(&["check", "--notes"]);
    for words in [
        "write \"10 sccm(0 degC, 101.325 kPa abs)\" or \"10 sccm(20 degC, 101.325 kPa abs)\" in place of \"10 sccm\"",
        "write \"1e-4 scc(0 degC, 101.325 kPa abs)/s\" or",
        "write \"30 degC\" in place of \"30 C\"",
    ] {
        assert!(said(&notes).contains(words), "{}", notes.out);
    }
    assert!(!said(&notes).contains("in place of \"3 kcal\""), "joules are another number: {}", notes.out);
}

#[test]
fn what_a_filled_record_still_lacks_says_what_to_type() {
    let repo = TestRepo::demo();
    let new = repo.run(&["new", "demonstration", "--for", "ACT-060", "--serial", "ACT-W/SN02"]).ended(0);
    let text = repo.read(new.out.trim());
    let mark = text.lines().find(|line| line.starts_with("mark = ")).expect("a mark");
    repo.replace(new.out.trim(), mark, "mark = \"m1-000000000000\"");
    let run = repo.run(&["fill", "DM-002", "drift=0.4 ± 0.1 deg"]).ended(0);
    let words =
        "still: its mark is not that of ACT-060 as it reads now do: slipmark mark DM-002 --by ROLE --because \"…\"";
    assert!(said(&run).contains(words), "{}", run.out);
    assert_eq!(run.out.matches("still: ").count(), run.out.matches("  do: ").count(), "{}", run.out);
}

/// An empty repository of another sort; none if the git at hand cannot make one.
fn of_another_sort(how: &str) -> Option<TestRepo> {
    let repo = TestRepo::folder();
    let made = std::process::Command::new("git").args(["init", "--quiet", how]).current_dir(repo.path()).output();
    made.is_ok_and(|made| made.status.success()).then_some(repo)
}

#[test]
fn repositories_that_cannot_be_read_say_why_and_how_to_make_one_that_can() {
    for (how, what, next) in [
        (
            "--object-format=sha256",
            "stores its objects by sha256, and slipmark reads those stored by sha1",
            "fast-export --all",
        ),
        (
            "--ref-format=reftable",
            "keeps its branches and tags in another form than files",
            "git clone --ref-format=files ",
        ),
    ] {
        let Some(repo) = of_another_sort(how) else {
            crate::support::skipped(&format!("git init {how} is not known here"));
            continue;
        };
        for command in [&["init"][..], &["check"], &["before", "hot-fire"]] {
            let run = repo.run(command).ended(2);
            assert!(said(&run).contains(what) && said(&run).contains(next), "{command:?}: {}", run.err);
            assert!(!run.err.contains("git fsck"), "{}", run.err);
        }
    }
}

#[test]
fn what_is_to_be_committed_is_named_from_where_somebody_stands() {
    let repo = TestRepo::demo();
    let outside = repo.path().parent().expect("a folder").to_path_buf();
    let because = ["mark", "TR-006", "--by", "test conductor", "--because", "looked again"];
    let committed = |run: &Run| {
        let last = run.err.lines().last().expect("what to do").trim_start_matches("do: ").to_string();
        (last.split(" add ").next().expect("git").to_string(), last)
    };
    let inside = repo.run(&because).ended(0);
    assert_eq!(committed(&inside).0, "git", "{}", inside.err);
    repo.git(&["checkout", "--quiet", "."]);
    let there = repo.run_at(&outside, crate::support::TODAY, &[&["--project", "here"], &because[..]].concat()).ended(0);
    let words = "do: git -C here add records/TR-006.md && git -C here commit -m \"Re-affirm TR-006 for ACT-010\"";
    assert!(there.err.contains(words), "{}", there.err);
    repo.git(&["checkout", "--quiet", "."]);
    // From a folder inside, too, and for what is signed.
    let below = repo.path().join("records");
    let sign = ["sign", "TR-002", "--by", "test conductor", "--because", "the unit"];
    repo.replace("records/TR-002.md", "293 ± 1 K", "292 ± 1 K");
    let run = repo.run_at(&below, crate::support::TODAY, &sign);
    let (git, line) = committed(&run);
    assert!(
        git.starts_with("git -C ") && git.ends_with("here") && line.contains(" add records/TR-002.md"),
        "{}",
        run.err
    );
    // What is said can be typed.
    let typed = std::process::Command::new("sh")
        .args(["-c", &line])
        .current_dir(&below)
        .envs([
            ("GIT_AUTHOR_NAME", "e"),
            ("GIT_AUTHOR_EMAIL", "e@e"),
            ("GIT_COMMITTER_NAME", "e"),
            ("GIT_COMMITTER_EMAIL", "e@e"),
        ])
        .output();
    let typed = typed.expect("a shell");
    assert!(typed.status.success(), "{}", String::from_utf8_lossy(&typed.stderr));
}

#[test]
fn a_procedure_that_would_close_rows_and_is_a_draft_is_said_to_be_one() {
    let repo = TestRepo::demo();
    let before = repo.run_wide("80", &["before", "hot-fire"]).ended(1);
    fits(&before.out, 80);
    let words = "TP-06 closes 4 of these; 1 waits for something else too; it is still a draft, to be released first: ";
    assert!(said(&before).contains(words), "{}", before.out);
    let json = repo.run(&["before", "hot-fire", "--format", "json"]).ended(1).json();
    assert_eq!(json["draft_procedures"], serde_json::json!(["TP-06"]));
    let page = "it is still a draft, to be released first";
    let packet = repo.path().parent().expect("a folder").join("packet.html");
    let site = packet.with_file_name("site");
    for (option, to) in [("-o", &packet), ("--site", &site)] {
        repo.run(&["packet", "hot-fire", option, to.to_str().expect("UTF-8")]).ended(0);
    }
    for file in [packet, site.join("index.html")] {
        let text = std::fs::read_to_string(&file).unwrap_or_else(|error| panic!("{}: {error}", file.display()));
        assert!(text.contains(page), "{}", file.display());
    }
    // Released, nothing is said, and what is open is open for other reasons.
    let text = repo.read("procedures/TP-06.md");
    let status = text.lines().find(|line| line.starts_with("status")).expect("a status");
    repo.replace("procedures/TP-06.md", status, "status = \"released\"");
    let released = repo.run(&["before", "hot-fire"]).ended(1);
    assert!(!said(&released).contains(page), "{}", released.out);
    let json = repo.run(&["before", "hot-fire", "--format", "json"]).ended(1).json();
    assert_eq!(json["draft_procedures"], serde_json::json!([]));
}

#[test]
fn margins_and_events_are_drawn_for_a_narrow_screen_too() {
    let repo = TestRepo::demo();
    let site = repo.path().parent().expect("a folder").join("site");
    repo.run(&["packet", "hot-fire", "--site", site.to_str().expect("UTF-8")]).ended(0);
    let page = std::fs::read_to_string(site.join("index.html")).expect("a page");
    for (class, width) in [("when-wide", "760"), ("when-narrow", "340")] {
        for picture in ["events", "margins"] {
            let is = |figure: &&str| figure.contains(class) && figure.contains(&format!("aria-labelledby=\"{picture}"));
            let figure = page.split("<figure").find(is).unwrap_or_else(|| panic!("{class} {picture}"));
            assert!(figure.contains(&format!("viewBox=\"0 0 {width} ")), "{class} {picture}");
        }
    }
    let style = std::fs::read_to_string(site.join("pages.css")).expect("a style");
    let style = style.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(style.contains(".when-narrow svg { min-width: 0; }"), "it is as wide as the screen");
    assert!(style.contains(".when-wide { display: none; } .when-narrow { display: block; }"));
}

#[test]
fn a_history_goes_into_a_file() {
    let repo = TestRepo::demo();
    let outside = repo.path().parent().expect("a folder");
    let to = |name: &str| outside.join(name).to_str().expect("UTF-8").to_string();
    let svg = to("h.svg");
    let printed = repo.run(&["history", "ACT-010", "--format", "svg"]).ended(0);
    for _ in 0..2 {
        let run = repo.run(&["history", "ACT-010", "--format", "svg", "-o", &svg]).ended(0);
        assert_eq!(run.out.trim(), svg);
        assert_eq!(std::fs::read_to_string(&svg).expect("a picture"), printed.out);
    }
    let text = to("h.txt");
    repo.run(&["history", "ACT-010", "-o", &text]).ended(0);
    let refused = repo.run(&["history", "ACT-010", "-o", &text]).ended(2);
    assert!(refused.err.contains("exists and is no history"), "{}", refused.err);
    repo.run(&["history", "ACT-010", "-o", &text, "--force"]).ended(0);
    assert_eq!(std::fs::read_to_string(&text).expect("a text"), repo.run(&["history", "ACT-010"]).ended(0).out);
}
