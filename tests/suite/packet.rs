//! The packet as it is written: its past, its manifest, its columns. What it shows of a project and that nothing in it
//! can run is tested beside its code.

use std::collections::{BTreeMap, BTreeSet};

use sha2::{Digest, Sha256};

use crate::support::TestRepo;

/// The page for the hot fire.
#[track_caller]
fn page(repo: &TestRepo, more: &[&str]) -> String {
    let arguments: Vec<&str> = ["packet", "hot-fire", "-o", "-"].iter().chain(more).copied().collect();
    repo.run(&arguments).ended(0).out
}

/// The words between tags, with white space folded.
fn words(html: &str) -> String {
    let mut text = String::new();
    for part in html.split('<') {
        let words = part.split_once('>').map_or(part, |(_, words)| words);
        text.push_str(words);
        text.push(' ');
    }
    let text = text.replace("&#x2f;", "/").replace("&#39;", "'").replace("&quot;", "\"");
    let text = text.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What stands between a start and an end.
#[track_caller]
fn between<'p>(page: &'p str, start: &str, end: &str) -> &'p str {
    let rest = page.split_once(start).unwrap_or_else(|| panic!("no {start}")).1;
    rest.split_once(end).unwrap_or_else(|| panic!("no {end} after {start}")).0
}

fn changes_part(page: &str) -> &str {
    between(page, "id=\"changes\">", "</section>")
}

/// `change id` of each line of the part about changes.
fn changes_shown(page: &str) -> BTreeSet<String> {
    let lines = changes_part(page).split("<tr><td data-label=\"change\">").skip(1);
    let line = |line: &str| {
        let change = line.split(['<', '\n']).next().unwrap_or("").to_string();
        format!("{change} {}", words(between(line, "<b class=\"id\">", "</b>")))
    };
    lines.map(line).collect()
}

/// The same from `changes`, asked by itself.
fn changes_listed(repo: &TestRepo, arguments: &[&str]) -> BTreeSet<String> {
    let all: Vec<&str> = ["changes", "--format", "json"].iter().chain(arguments).copied().collect();
    let json = repo.run(&all).ended(0).json();
    let list = json["changes"].as_array().expect("changes").iter();
    let word = |it: &serde_json::Value| match it["reaffirmed"].as_bool() {
        Some(true) => "reaffirmed".to_string(),
        _ => it["change"].as_str().expect("a word").to_string(),
    };
    // What changes nothing is counted in the document, and not listed.
    let said = list.filter(|it| word(it) != "cosmetic" && word(it) != "moved");
    said.map(|it| format!("{} {}", word(it), it["id"].as_str().expect("an id"))).collect()
}

#[test]
fn changes_are_those_since_the_base() {
    let repo = TestRepo::demo();
    let usual = page(&repo, &[]);
    assert!(usual.contains("Changes since TRR-1</h2>"));
    assert_eq!(changes_shown(&usual), changes_listed(&repo, &["TRR-1..HEAD"]));
    let since = page(&repo, &["--since", "PDR"]);
    assert!(since.contains("Changes since PDR</h2>"));
    let listed = changes_listed(&repo, &["PDR..HEAD"]);
    assert!(listed.len() > 40 && listed.contains("revised ACT-010"), "{listed:?}");
    assert_eq!(changes_shown(&since), listed);
    let part = changes_part(&since);
    assert!(part.contains("<del>0.3</del> <ins>0.5</ins>"), "the limit that moved is marked word by word");
    assert!(words(part).contains("torque_margin tightened : at least 0.3"), "{}", words(part));
    assert!(words(part).contains("slipped: AN-001 , TR-006"), "{}", words(part));
    let decision = page(&repo, &["--since", "D-001"]);
    assert_eq!(changes_shown(&decision), changes_listed(&repo, &["--since", "D-001"]));
}

#[test]
fn a_packet_made_at_a_review_is_about_what_came_before_it() {
    let repo = TestRepo::demo();
    let at = page(&repo, &["--at", "TRR-1"]);
    assert!(at.contains("Changes since PDR</h2>"));
    assert_eq!(changes_shown(&at), changes_listed(&repo, &["PDR..TRR-1"]));
    let first = page(&repo, &["--at", "PDR"]);
    assert!(changes_part(&first).contains("Nothing that this project lists differs."));
}

#[test]
fn without_a_base_it_says_so() {
    let repo = TestRepo::demo();
    let git = git2::Repository::open(repo.path()).expect("a repository");
    for tag in ["PDR", "TRR-1"] {
        git.tag_delete(tag).expect("the tag goes");
    }
    let none = page(&repo, &[]);
    assert!(changes_part(&none).contains("There is no annotated tag to compare with."));
    assert_eq!(changes_shown(&none), BTreeSet::new());
    let run = repo.run(&["packet", "hot-fire", "--since", "TRR-1"]).ended(2);
    assert!(run.err.contains("TRR-1"), "{}", run.err);
    assert!(repo.changed().is_empty(), "nothing is written where there is no answer");

    let new = TestRepo::folder();
    git2::Repository::init(new.path()).expect("a repository");
    new.write("slipmark.toml", "name = \"New\"\nevents = [\"hot-fire\"]\n");
    assert!(changes_part(&page(&new, &[])).contains("No commit holds these files"));
}

#[test]
fn what_is_not_committed_is_told_in_both_places() {
    let repo = TestRepo::demo();
    repo.replace("requirements/actuator/ACT-020.md", "within 1.5 s", "within 1.4 s");
    let page = page(&repo, &[]);
    let line = changes_part(&page).split("<tr><td").find(|line| line.contains(">ACT-020</a>")).expect("a line");
    assert!(line.contains("not committed") && line.contains("<del>1.5 s</del> <ins>1.4 s</ins>"), "{line}");
    let own = between(&page, "<article class=\"requirement\" id=\"req-ACT-020\">", "</article>");
    let history = own.split_once("<h4>History</h4>").expect("a history").1;
    assert!(history.contains("not committed") && history.contains("<ins>1.4 s</ins>"), "{history}");
    assert!(words(own).contains("revision 2, changed since"), "{}", words(own));
}

#[test]
fn each_requirement_has_its_history() {
    let repo = TestRepo::demo();
    let page = page(&repo, &[]);
    let parts: Vec<&str> = page.split("<article class=\"requirement\" id=\"req-").skip(1).collect();
    assert!(parts.len() > 20);
    for part in parts {
        let id = part.split('"').next().expect("an id");
        let json = repo.run(&["history", id, "--format", "json"]).ended(0).json();
        let listed: Vec<String> = json["revisions"]
            .as_array()
            .expect("revisions")
            .iter()
            .map(|it| {
                let text = |key: &str| it[key].as_str().expect("a text").to_string();
                format!("{} {} : {} {}", text("date"), text("change"), text("summary"), &text("oid")[..10])
            })
            .collect();
        let shown = between(part, "<ol class=\"revisions\">", "</ol>").split("<li>").skip(1);
        let shown: Vec<String> = shown.map(words).collect();
        assert_eq!(shown.len(), listed.len(), "{id}");
        for (shown, listed) in shown.iter().zip(&listed) {
            assert!(shown.contains(listed.as_str()), "{id}: {listed} is not in {shown}");
        }
    }
}

#[test]
fn the_manifest_names_every_file_by_both_hashes() {
    let repo = TestRepo::demo();
    let page = page(&repo, &[]);
    let manifest = between(&page, "id=\"manifest\">", "</section>");
    let git = git2::Repository::open(repo.path()).expect("a repository");
    let tree = git.head().and_then(|head| head.peel_to_tree()).expect("a tree");
    let mut lines = String::new();
    let mut files = BTreeMap::new();
    tree.walk(git2::TreeWalkMode::PreOrder, |folder, entry| {
        if entry.kind() == Some(git2::ObjectType::Blob) {
            let path = format!("{folder}{}", entry.name().expect("plain names"));
            files.insert(path, entry.id());
        }
        git2::TreeWalkResult::Ok
    })
    .expect("a walk");
    assert!(files.len() > 70);
    for (path, blob) in &files {
        let bytes = std::fs::read(repo.path().join(path)).expect("a file");
        let sum: String = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        let row = manifest.split("<tr id=\"file-").skip(1).find(|row| cells(row)["file"].replace(' ', "") == *path);
        let row = row.unwrap_or_else(|| panic!("{path} is not in the manifest")).replace("<wbr>", "");
        assert!(row.contains(&blob.to_string()) && row.contains(&sum), "{path}: {row}");
        lines.push_str(&format!("{sum}  {path}\n"));
    }
    assert_eq!(manifest.matches("<tr id=\"file-").count(), files.len());
    let digest: String = Sha256::digest(lines.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect();
    assert!(manifest.replace("<wbr>", "").contains(&digest), "the hash of the list");
}

/// One row of the matrix by its number: cells by their labels.
fn cells(row: &str) -> BTreeMap<String, String> {
    let cell = |cell: &str| {
        let (label, rest) = cell.split_once('"').expect("a label");
        let inside = rest.split_once('>').expect("a tag").1;
        (label.to_string(), words(inside.split("</td>").next().expect("an end")))
    };
    row.split("<td data-label=\"").skip(1).map(cell).collect()
}

/// The twelve columns of the matrix in the NASA Systems Engineering Handbook, Appendix D, Table D-1 (from memory), and
/// the ten data of the control document in ECSS-E-ST-10-02C, Annex B, each where a file of the project holds it.
#[test]
fn every_column_of_the_two_matrices_is_filled_from_the_files() {
    let repo = TestRepo::folder();
    git2::Repository::init(repo.path()).expect("a repository");
    repo.write("slipmark.toml", "name = \"M\"\nevents = [\"cold-flow\", \"hot-fire\"]\n");
    let requirement = |id: &str, more: &str, statement: &str| {
        let text = format!("+++\nkind = \"requirement\"\nid = \"{id}\"\ntitle = \"T\"\n{more}+++\n{statement}\n");
        repo.write(&format!("reqs/{id}.md"), &text);
    };
    requirement("R-0", "source = \"DUN-7, line 3\"\n", "The valve shall hold.");
    requirement(
        "R-1",
        "parents = [\"R-0\"]\napplies_to = \"MOV\"\n\
         [criteria.leakage]\nmax = \"40 mL/min\"\nat.body = { max = \"95 K\" }\n[criteria.strokes]\ncount = 10\n\
         [[verify]]\nmethod = \"test\"\nstage = \"acceptance\"\nprocedure = \"TP-1\"\nbefore = \"cold-flow\"\n\
         valid_for = \"30 d\"\nfacility = \"cold bay\"\nby = \"valve shop\"\n",
        "The seat leakage shall be at most 40 mL/min.",
    );
    requirement("R-2", "parents = [\"R-1\"]\n", "The seat shall be round.");
    repo.write("MOV.md", "+++\nkind = \"item\"\nid = \"MOV\"\ntitle = \"Valve\"\nserials = [\"SN01\"]\n+++\n");
    repo.write(
        "TP-1.md",
        "+++\nkind = \"procedure\"\nid = \"TP-1\"\ntitle = \"Leak\"\nrevision = \"4\"\nstatus = \"released\"\n+++\n",
    );
    repo.write(
        "TR-1.md",
        "+++\nkind = \"test\"\nid = \"TR-1\"\ntitle = \"Leak\"\ndate = 2026-06-01\nserial = \"MOV/SN01\"\n\
         stage = \"acceptance\"\nprocedure = \"TP-1\"\nprocedure_revision = \"4\"\nno_instrument = \"x\"\nstatus = \"signed\"\n\
         conditions.body = \"90 ± 1 K\"\n\
         [verifies.R-1]\nresults.leakage = \"71 ± 3 mL/min\"\nresults.strokes = 12\n+++\n",
    );
    let shown = repo.run(&["show", "R-1", "--format", "json"]).ended(0).json();
    let details = shown["details"].as_array().expect("details");
    let mark = details.iter().find(|it| it["name"] == "mark").and_then(|it| it["text"].as_str()).expect("a mark");
    repo.replace("TR-1.md", "[verifies.R-1]\n", &format!("[verifies.R-1]\nmark = \"{mark}\"\n"));
    repo.write(
        "W-1.md",
        &format!(
            "+++\nkind = \"waiver\"\nid = \"W-1\"\ntitle = \"Leak\"\nrequirement = \"R-1\"\nmark = \"{mark}\"\nbefore = \"hot-fire\"\n\
             serials = [\"MOV/SN01\"]\naccepts.leakage = [\"TR-1\"]\nstatus = \"approved\"\napproved_by = \"lead\"\n\
             approved = 2026-06-02\nreason = \"r\"\n+++\n"
        ),
    );
    let page = page(&repo, &[]);
    let matrix = between(&page, "id=\"matrix\">", "</section>");
    let asked = cells(matrix.split("<tr>").find(|row| row.contains(">R-1</a></b>")).expect("a row"));
    let expected = [
        ("requirement", "R-1"),
        ("document", "reqs/R-1.md"),
        ("paragraph", "line 21"),
        ("shall statement", "The seat leakage shall be at most 40 mL/min."),
        ("success criteria", "leakage: at most 40 mL/min; at body at most 95 K strokes: at least 10"),
        ("level", "MOV"),
        ("trace", "from R-0 ; children R-2"),
    ];
    for (label, text) in expected {
        assert_eq!(asked[label].replace("/ ", "/"), text, "{label}");
    }
    let of = |id: &str| {
        let rows = matrix.split("<tr id=\"m").skip(1);
        cells(rows.into_iter().find(|row| row.contains(&format!(">{id}</a></b>"))).expect("a row"))
    };
    let shown = of("R-1");
    let expected = [
        ("requirement", "R-1 MOV/SN01"),
        ("method", "test"),
        ("phase", "acceptance"),
        ("acceptance", "yes"),
        ("before", "cold-flow ; again after 30 d"),
        ("facility", "cold bay"),
        ("performed by", "valve shop"),
        ("plan", "TP-1 , rev. 4"),
        ("results", "TR-1"),
        ("compliance", "no"),
        ("close-out", "waived, W-1"),
    ];
    for (label, text) in expected {
        assert_eq!(shown[label], text, "{label}");
    }
    assert!(shown["state, reason"].starts_with("waived covers: not met TR-1 : 71 ± 3 mL/min"), "{shown:?}");
    let unplanned = of("R-0");
    assert_eq!((&*unplanned["method"], &*unplanned["results"]), ("no plan", "none"));
    assert_eq!((&*unplanned["compliance"], &*unplanned["close-out"]), ("not shown", "open"));
    let from = cells(matrix.split("<tr>").find(|row| row.contains(">R-0</a></b>")).expect("a row"));
    assert_eq!(from["trace"], "from DUN-7 , line 3; children R-1");
}

/// A photo is in the page as long as it is the one that was signed for, and small.
#[test]
fn photos_of_a_record_are_shown_by_what_they_are() {
    // One pixel, by the PNG specification; and the same with a megabyte of nothing behind it.
    let dot = [
        &b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR\0\0\0\x01\0\0\0\x01\x08\x02\0\0\0\x90wS\xde"[..],
        b"\0\0\0\x0cIDATx\x9cc\xf8\xcf\xc0\0\0\x03\x01\x01\0\xc9\xfe\x92\xef\0\0\0\0IEND\xaeB`\x82",
    ]
    .concat();
    let large = [dot.clone(), vec![0; 1 << 20]].concat();
    let mut wide = dot.clone();
    wide[16..24].copy_from_slice(&[0, 0, 0xff, 0xff, 0, 0, 0xff, 0xff]);
    let svg = b"<svg xmlns=\"http://www.w3.org/2000/svg\"/>".to_vec();
    let repo = TestRepo::demo();
    let names = ["seat-after_test.bin", "large.png", "wide.png", "drawing.png", "changed.png"];
    let mut data = String::new();
    for (name, bytes) in names.iter().zip([&dot, &large, &wide, &svg, &dot]) {
        std::fs::write(repo.path().join("records").join(name), bytes).expect("a photo");
        let digest: String = Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        data.push_str(&format!("\n[[data]]\nfile = \"{name}\"\nsha256 = \"{digest}\"\n"));
    }
    std::fs::write(repo.path().join("records/changed.png"), [&dot[..], b"x"].concat()).expect("a photo");
    repo.replace("records/TR-010.md", "0.02 s\"\n", &format!("0.02 s\"\n{data}"));
    let page = page(&repo, &[]);
    let part = between(&page, "id=\"rec-TR-010\">", "</article>");
    let photo = between(part, "<figure class=\"photo\"><img src=\"", "</figure>");
    let (src, rest) = photo.split_once("\" alt=\"").expect("an alternative in words");
    assert!(src.starts_with("data:image/png;base64,iVBORw0KGgo"), "{src}");
    assert!(rest.starts_with("seat after test\" width=\"1\" height=\"1\">"), "{rest}");
    assert_eq!(page.matches("<img").count(), 1);
    let words = words(&part.replace("<wbr>", ""));
    for said in [
        "records/seat-after_test.bin , as signed for",
        "photo not shown here: it has 1024 KiB",
        "photo not shown here: it is 65535 by 65535 pixels",
        "records/changed.png , altered",
    ] {
        assert!(words.contains(said), "{said}\n{words}");
    }
    // A drawing that could run is a file like any other.
    let drawing = words.split("records/drawing.png").nth(1).and_then(|rest| rest.split("Data:").next());
    assert!(drawing.is_some_and(|rest| rest.contains("as signed for") && !rest.contains("photo")), "{words}");
}

/// What the project asks of people stands beside its procedures.
#[test]
fn roles_are_in_the_packet() {
    let repo = TestRepo::demo();
    let project = repo.read("slipmark.toml");
    let (project, _) = project.split_once("\n# Whoever performs").expect("the roles are at the end");
    repo.write("slipmark.toml", project);
    assert!(!page(&repo, &[]).contains("Who must perform and witness what"));
    let rules = "\n[[roles]]\nmethod = \"test\"\nbefore = \"hot-fire\"\nsafety = true\nwitnessed_by = [\"safety lead\", \"pad chief\"]\n\
                 \n[[roles]]\nperformed_by = \"test conductor\"\n";
    repo.write("slipmark.toml", &format!("{project}{rules}"));
    let page = page(&repo, &[]);
    let table = words(between(&page, "<caption>Who must perform and witness what</caption>", "</table>"));
    let expected = "test before hot-fire of safety requirements safety lead or pad chief everything test conductor";
    assert!(table.ends_with(expected), "{table}");
}

/// What an instrument that was found out of tolerance touched, and whether that stands (ISO/IEC 17025:2017, 7.10, from memory).
#[test]
fn an_instrument_is_listed_with_its_calibrations_and_what_it_touched() {
    let repo = TestRepo::demo();
    let recall = "\n[[TQ-01.calibrations]]\non = 2026-06-15\ndue = 2027-06-15\nas_found = \"out of tolerance\"\nkeeps_evidence = \"TR-007\"\nreason = \"lost motion is an angle\"\n";
    repo.write("instruments.toml", &format!("{}{recall}", repo.read("instruments.toml")));
    let page = page(&repo, &[]);
    let own = page.split("<tr id=\"instrument-").find(|row| row.starts_with("TQ-01\"")).expect("a row");
    let own = cells(own.split("</tr>").next().expect("an end"));
    assert_eq!(own["range"], "0 to 50 N·m");
    assert!(
        own["calibrated"].contains("2026-06-15 to 2027-06-15, found out of tolerance; keeps evidence of TR-007: lost")
    );
    assert!(own["used in"].contains("DM-001 recalled; is void for ACT-040: "), "{}", own["used in"]);
    assert!(
        own["used in"].contains(
            "TR-006 recalled; is void for ACT-010, ACT-030, ACT-050, MOV-070: TQ-01 was found out of tolerance"
        )
    );
    assert!(own["used in"].contains("TR-007 TR-010 recalled; is not signed"), "{}", own["used in"]);
}

/// What can hurt, and what is done, is what a board asks about; it stood on the data sheet alone.
#[test]
fn a_procedure_is_told_with_its_cautions_and_steps() {
    let repo = TestRepo::demo();
    let page = page(&repo, &[]);
    let own = between(&page, "id=\"proc-TP-03\"", "</article>");
    let place = |words: &str| own.find(words).unwrap_or_else(|| panic!("no {words} in {own}"));
    let first = place("Face shield, loose insulated gloves");
    assert!(first < place("<dl") && place("<dl") < place("<table"), "what can hurt comes first");
    let table = words(&own[place("<table")..]);
    for said in [
        "1 Caution: The actuator moves when the supply returns.",
        "Lost motion. Fit TQ-01 and AE-01 between actuator and stem.",
        "hold point Nobody goes on before it is released.",
        "applied in N·m: Least of the two directions; for condition applied; expected at most 10 N·m",
        "play in deg: Greater of the two directions; for ACT-050 : angle",
        "6 Warm up. Empty the bath",
    ] {
        assert!(table.contains(said), "no {said} in {table}");
    }
    let facts = words(&own[..place("<table")]);
    assert!(facts.contains("TP-02 ; The purge panel holds its set point for ten minutes"), "{facts}");
    assert!(facts.contains("AE-01 ± 0.2 deg"), "{facts}");
    // One whose steps are in its text says what a run writes down, and has no table without steps.
    let other = between(&page, "id=\"proc-TP-02\"", "</article>");
    assert!(other.contains("What a run writes down") && !other.contains("<caption>Steps"), "{other}");
}

/// A rework that names another requirement makes a record no less for the one that it decides.
#[test]
fn an_instrument_says_for_which_requirements_a_record_does_not_stand() {
    let repo = TestRepo::demo();
    let used = |repo: &TestRepo| {
        let page = page(repo, &[]);
        let own = page.split("<tr id=\"instrument-").find(|row| row.starts_with("PT-01\"")).expect("a row");
        cells(own.split("</tr>").next().expect("an end"))["used in"].clone()
    };
    let before = used(&repo);
    assert!(before.contains("TR-002 TR-003"), "{before}");
    assert!(before.contains("TR-009 not met for MOV-035; is void for MOV-035: NC-004 is against it"), "{before}");
    assert!(!before.contains("TR-002 is void"), "{before}");
    let waived = repo.run(&["show", "SC-01"]).ended(0).out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(waived.contains("not met for ACT-090 (covered by W-001)"), "{waived}");
    repo.replace("items/MOV.md", "affects = [\"MOV-020\"]", "affects = [\"MOV-020\", \"MOV-030\"]");
    let after = used(&repo);
    assert!(after.contains("TR-002 is void for MOV-030: MOV/SN01 was reworked on 2026-04-10"), "{after}");
    let shown = repo.run(&["show", "PT-01", "--format", "json"]).ended(0).json();
    let links = shown["links"].as_array().expect("links");
    let note = links.iter().find(|link| link["id"] == "TR-002").expect("TR-002")["note"].clone();
    assert_eq!(note, "2026-04-08; is void for MOV-030: MOV/SN01 was reworked on 2026-04-10");
}
