//! Records that compute: what `calc` shows of them, and what signing keeps.
//!
//! The numbers are worked by hand: 120 ± 4 N at 0.25 m is 30 ± 1 N·m, and 30 / 20 − 1 is 0.5 ± 0.05.

use crate::support::TestRepo;

const RECORD: &str = "records/AN-001.md";

/// A project with one requirement, and a draft that computes both of its results.
fn arm() -> TestRepo {
    let repo = TestRepo::folder();
    repo.git(&["init", "--quiet"]);
    repo.write("slipmark.toml", "name = \"Stand\"\nevents = [\"first-run\"]\n");
    repo.write("parameters.toml", "[arm]\nvalue = \"0.25 m\"\nsource = \"drawing 12\"\n");
    repo.write(
        "R-001.md",
        "+++\nkind = \"requirement\"\nid = \"R-001\"\ntitle = \"Torque\"\nsource = \"the stand's sheet\"\n\
         criteria.torque = { min = \"28 N·m\" }\ncriteria.margin = { min = 0.4 }\n\n[[verify]]\nmethod = \"analysis\"\n+++\n\
         The arm shall turn the valve with 28 N·m and a margin of 0.4.\n\n## Rationale\n\nInvented.\n",
    );
    repo.write(
        RECORD,
        "+++\nkind = \"analysis\"\nid = \"AN-001\"\ntitle = \"Torque of the arm\"\ndate = 2026-06-10\nperformed_by = \"designer\"\n\
         status = \"draft\"\ninputs.force = { value = \"120 ± 4 N\", source = \"load cell\" }\n\
         inputs.need = { value = \"20 N·m\", source = \"maker's sheet\" }\n\n[verifies.R-001]\n\
         results = { torque = { calc = \"T\" }, margin = { calc = \"n\" } }\n+++\n```calc\nT = force * arm\nn = T / need - 1\n```\n",
    );
    repo.commit("Start");
    repo
}

fn sign(repo: &TestRepo, more: &[&str]) -> crate::support::Run {
    repo.run(&[&["sign", "AN-001", "--by", "designer"], more].concat())
}

/// With every run of white space one space, so that the width plays no part.
fn plain(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_working_is_shown_step_by_step_at_any_width() {
    let repo = arm();
    for width in ["80", "120"] {
        let run = repo.run_wide(width, &["calc", "AN-001"]).ended(0);
        let widest = run.out.lines().map(|line| line.chars().count()).max().unwrap_or(0);
        assert!(widest <= width.parse::<usize>().expect("a number"), "{widest}: {}", run.out);
        assert!(!run.out.contains('\u{1b}'), "colour in a pipe: {}", run.out);
        let said = plain(&run.out);
        for part in [
            "AN-001 Torque of the arm",
            "force 120 ± 4 N load cell",
            "arm 0.25 m parameters.toml: drawing 12",
            "T = force * arm = 120 N * 0.25 m = 30.0 ± 1.0 N·m (k=2)",
            "n = T / need - 1 = 30 N·m / 20 N·m - 1 = 0.500 ± 0.050 (k=2)",
            "force 100.0 %",
            "R-001 margin: at least 0.4: met; margin 0.1 (25 % of the limit, 2.0 U)",
            "R-001 torque: at least 28 N·m: met; margin 2 N·m (7.14 % of the limit, 2.0 U)",
        ] {
            assert!(said.contains(part), "{part}\n{}", run.out);
        }
    }
    assert_eq!(repo.changed(), Vec::<String>::new(), "calc writes nothing");
}

#[test]
fn the_same_is_there_for_programs() {
    let answer = arm().run(&["calc", "AN-001", "--format", "json"]).ended(0).json();
    assert_eq!(answer["id"], "AN-001");
    let torque = &answer["results"][0];
    assert_eq!((&torque["name"], &torque["value"], &torque["unit"]), (&"T".into(), &30.0.into(), &"N·m".into()));
    assert_eq!((&torque["expanded_uncertainty"], &torque["exact"]), (&1.0.into(), &true.into()));
    assert_eq!(answer["inputs"][2]["name"], "arm");
    assert_eq!(answer["verdicts"][0]["verdict"], "met");
    assert!(answer["verdicts"][0]["when_signed"].is_null(), "{answer}");
}

#[test]
fn a_page_with_its_pictures_is_written_once_and_over_itself() {
    let repo = arm();
    let page = ["calc", "AN-001", "--format", "html", "-o", "../an-001.html"];
    repo.run(&page).ended(0);
    let text = repo.read("../an-001.html");
    for part in ["<title>Stand: working of AN-001</title>", "<svg", "30.0 ± 1.0 N·m", "<code>force * arm</code>"] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    assert!(!text.contains("<script") && !text.contains("src=\"http") && !text.contains("href=\"http"), "{text}");
    repo.run(&page).ended(0);
    assert_eq!(repo.read("../an-001.html"), text);
    repo.write("../an-001.html", "my notes");
    let refused = repo.run(&page).ended(2);
    assert!(refused.err.contains("--force"), "{}", refused.err);
    assert_eq!(repo.read("../an-001.html"), "my notes");
}

/// 110 N is 27.5 ± 1 N·m and 0.375 ± 0.05: neither is decided.
#[test]
fn another_value_is_supposed_and_nothing_is_written() {
    let repo = arm();
    let said = plain(&repo.run(&["calc", "AN-001", "--what-if", "force=110 ± 4 N"]).ended(0).out);
    for part in [
        "supposed force=110 ± 4 N",
        "= 27.5 ± 1.0 N·m (k=2)",
        "= 0.375 ± 0.050 (k=2)",
        "R-001 margin: at least 0.4: inconclusive",
        "R-001 torque: at least 28 N·m: inconclusive",
    ] {
        assert!(said.contains(part), "{part}\n{said}");
    }
    let arms = ["calc", "AN-001", "--what-if", "arm=0.5 m", "--what-if", "need=60 N·m", "--format", "json"];
    let answer = repo.run(&arms).ended(0).json();
    assert_eq!((&answer["results"][0]["value"], &answer["results"][1]["value"]), (&60.0.into(), &0.0.into()));
    assert_eq!(answer["verdicts"][0]["verdict"], "not met");
    assert_eq!(repo.changed(), Vec::<String>::new());
}

/// Guarded: T − U is 28 N·m where force · 0.25 m − 1 N·m is, at 116 N; and the margin is 0.4 + 0.05 there too.
#[test]
fn how_far_it_holds_is_solved_for() {
    let said = plain(&arm().run(&["calc", "AN-001", "--solve", "force"]).ended(0).out);
    for part in ["margin of R-001 is met from force = 116 N on", "torque of R-001 is met from force = 116 N on"] {
        assert!(said.contains(part), "{part}\n{said}");
    }
}

#[test]
fn what_cannot_be_asked_says_what_to_type() {
    let repo = arm();
    for (asked, said) in [
        (&["calc", "AN-01"][..], "did you mean `AN-001`?"),
        (&["calc", "R-001"], "only records compute"),
        (&["calc", "AN-001", "--what-if", "forc=110 N"], "did you mean `force`?"),
        (&["calc", "AN-001", "--what-if", "force"], "write NAME=VALUE"),
        (&["calc", "AN-001", "--what-if", "force=much"], "force=much"),
        (&["calc", "AN-001", "--solve", "forc"], "did you mean `force`?"),
        (&["calc"], "Usage"),
    ] {
        let run = repo.run(asked).ended(2);
        assert!(run.err.contains(said) && run.out.is_empty(), "{said}\n{}", run.err);
    }
}

/// What is written as it is spoken.
#[test]
fn units_as_they_are_spoken_are_answered_with_what_to_write() {
    let repo = TestRepo::folder();
    for (asked, said) in [
        ("0.2 kg per s", "write `0.2 kg/s`"),
        ("20 C to K", "write `20 degC to K` if degrees are meant"),
        ("68 F to degC", "write `68 degF to degC` if degrees are meant"),
        ("293 K to C", "write `293 K to degC` if degrees are meant"),
        ("20 C to kg", "ask for a unit of electric charge"),
    ] {
        let run = repo.run(&["calc", "-e", asked]).ended(2);
        assert!(plain(&run.err).contains(said), "{asked}: {}", run.err);
    }
    repo.run(&["calc", "-e", "0.2 kg/s"]).ended(0);
    repo.run(&["calc", "-e", "20 degC to K"]).ended(0);
    let near = repo.run(&["calc", "-e", "3 * 2 m/per"]).ended(2).err;
    assert!(!near.contains("peV"), "{near}");
}

/// An expression needs no project; in one, its ambient pressure is known.
#[test]
fn a_typed_gauge_pressure_goes_by_the_ambient_pressure_of_the_project() {
    let asked = ["calc", "-e", "6 MPa gauge to MPa abs"];
    let outside = TestRepo::folder();
    let refused = plain(&outside.run(&asked).ended(2).err);
    assert!(refused.contains("add the pressure of your site yourself, as in `101.325 kPa abs + 6 MPa`"), "{refused}");
    assert_eq!(outside.run(&["calc", "-e", "101.325 kPa abs + 6 MPa"]).ended(0).out.trim(), "6101.325 kPa abs");
    let repo = arm();
    let refused = plain(&repo.run(&asked).ended(2).err);
    assert!(refused.contains("to slipmark.toml, with the pressure of your site"), "{refused}");
    let project = repo.read("slipmark.toml");
    repo.write("slipmark.toml", &format!("ambient = \"100 kPa abs\"\n{project}"));
    assert_eq!(repo.run(&asked).ended(0).out.trim(), "6.1 MPa abs");
    let there = repo.path().to_str().expect("UTF-8");
    assert_eq!(outside.run(&[&["--project", there], &asked[..]].concat()).ended(0).out.trim(), "6.1 MPa abs");
    // A past commit had none.
    assert!(repo.run(&[&["--at", "HEAD"], &asked[..]].concat()).ended(2).err.contains("slipmark.toml"));
}

#[test]
fn a_calculation_that_is_wrong_is_shown_with_its_fault_and_not_signed() {
    let repo = arm();
    repo.replace(RECORD, "n = T / need - 1", "n = T / need - arm");
    let shown = repo.run(&["calc", "AN-001"]).ended(0);
    assert!(plain(&shown.out).contains("cannot be judged") && shown.out.contains("arm"), "{}", shown.out);
    let before = repo.read(RECORD);
    let refused = sign(&repo, &[]).ended(2);
    assert!(refused.err.contains("line 16") && refused.err.contains("cannot be signed"), "{}", refused.err);
    assert_eq!(repo.read(RECORD), before);
    repo.run(&["before", "first-run"]).ended(1);
}

#[test]
fn signing_keeps_what_it_came_to() {
    let repo = arm();
    sign(&repo, &[]).ended(0);
    let text = repo.read(RECORD);
    for line in
        ["computed.torque = \"30 ± 1 N·m (k=2)\"", "computed.margin = \"0.5 ± 0.05 (k=2)\"", "outcome.torque = \"met\""]
    {
        assert_eq!(text.lines().filter(|own| *own == line).count(), 1, "{line}\n{text}");
    }
    assert_eq!(repo.state("R-001", "project"), "closed");
    assert!(sign(&repo, &[]).ended(0).out.contains("nothing to do"));
    assert_eq!(repo.read(RECORD), text);
    repo.commit("Sign");
    repo.run(&["before", "first-run"]).ended(0);
}

/// 0.252 m makes 30.24 ± 1.008 N·m: it would be met too, but nobody has looked at it.
#[test]
fn a_parameter_that_moves_asks_for_another_signature() {
    let repo = arm();
    sign(&repo, &[]).ended(0);
    repo.replace("parameters.toml", "0.25 m", "250 mm");
    assert_eq!(repo.state("R-001", "project"), "closed", "in another unit it is the same");
    repo.replace("parameters.toml", "250 mm", "0.252 m");
    assert_eq!(repo.state("R-001", "project"), "void");
    let said = plain(&repo.run(&["before", "first-run"]).ended(1).out);
    assert!(
        said.contains("torque came to 30 ± 1 N·m (k=2) when it was signed, and comes to 30.2 ± 1.0 N·m (k=2) now"),
        "{said}"
    );
    let before = repo.read(RECORD);
    sign(&repo, &[]).ended(2);
    assert_eq!(repo.read(RECORD), before);
    sign(&repo, &["--because", "the arm was measured again"]).ended(0);
    assert_eq!(repo.state("R-001", "project"), "closed");
    assert!(repo.read(RECORD).contains("computed.torque = \"30.24 ± 1.008 N·m (k=2)\""), "{}", repo.read(RECORD));
}

/// What was not met when it was signed is not computed away.
#[test]
fn a_failure_is_not_computed_away() {
    let repo = arm();
    repo.replace("parameters.toml", "0.25 m", "0.2 m");
    sign(&repo, &[]).ended(0);
    assert_eq!(repo.state("R-001", "project"), "not met");
    repo.replace("parameters.toml", "0.2 m", "0.25 m");
    assert_eq!(repo.state("R-001", "project"), "not met");
    let refused = sign(&repo, &["--because", "the arm is longer"]).ended(2);
    assert!(refused.err.contains("was not met when it was signed"), "{}", refused.err);
}

/// What another record takes is kept in it, and nobody rests on what was computed anew.
#[test]
fn a_value_that_another_record_uses_is_kept_there() {
    let repo = arm();
    let user = "+++\nkind = \"analysis\"\nid = \"AN-002\"\ntitle = \"Load on the pin\"\ndate = 2026-06-11\nperformed_by = \"designer\"\n\
         inputs.torque = { from = \"AN-001.torque\" }\n\n[verifies.R-002]\nresults.pin = { calc = \"F\" }\n+++\n```calc\n\
         F = if torque > 10 N·m then (5 ± 0.1 kN) else torque / (1 mm)\n```\n";
    repo.write("records/AN-002.md", user);
    repo.write(
        "R-002.md",
        "+++\nkind = \"requirement\"\nid = \"R-002\"\ntitle = \"Pin\"\nsource = \"the stand's sheet\"\ncriteria.pin = { max = \"6 kN\" }\n\n\
         [[verify]]\nmethod = \"analysis\"\n+++\nThe pin shall see at most 6 kN.\n\n## Rationale\n\nInvented.\n",
    );
    sign(&repo, &[]).ended(0);
    repo.run(&["sign", "AN-002", "--by", "designer"]).ended(0);
    let text = repo.read("records/AN-002.md");
    assert!(text.contains("used = \"30 ± 1 N·m (k=2)\"") && text.contains("\"5 ± 0.1 kN (k=2)\""), "{text}");
    assert_eq!(repo.state("R-002", "project"), "closed");
    // The force on the pin stays what it was, and still rests on what nobody has signed for.
    repo.replace("parameters.toml", "0.25 m", "0.252 m");
    assert_eq!(repo.state("R-002", "project"), "void");
    let said = plain(&repo.run(&["before", "first-run"]).ended(1).out);
    assert!(said.contains("input torque is from AN-001, which computes margin anew since it was signed"), "{said}");
    sign(&repo, &["--because", "the arm was measured again"]).ended(0);
    assert_eq!(repo.state("R-002", "project"), "closed");
}

/// A waiver accepts what the record said then.
#[test]
fn no_waiver_covers_what_was_computed_anew() {
    let repo = arm();
    repo.replace("parameters.toml", "0.25 m", "0.23 m");
    sign(&repo, &[]).ended(0);
    let mark = repo.read(RECORD).lines().find(|line| line.starts_with("mark = ")).expect("a mark").to_string();
    let waiver = |accepts: &str| {
        format!(
            "+++\nkind = \"waiver\"\nid = \"W-001\"\ntitle = \"Less torque\"\nrequirement = \"R-001\"\n{mark}\n{accepts}\nbefore = \"first-run\"\n\
             status = \"approved\"\napproved_by = \"lead\"\napproved = 2026-06-12\nreason = \"the seal is new\"\n+++\n"
        )
    };
    for accepts in [
        "accepts = { torque = { min = \"20 N·m\" }, margin = { min = 0.1 } }",
        "accepts = { torque = [\"AN-001\"], margin = [\"AN-001\"] }",
    ] {
        repo.write("W-001.md", &waiver(accepts));
        assert_eq!(repo.state("R-001", "project"), "waived", "{accepts}");
        repo.replace("parameters.toml", "0.23 m", "0.22 m");
        assert_ne!(repo.state("R-001", "project"), "waived", "{accepts}");
        repo.replace("parameters.toml", "0.22 m", "0.23 m");
    }
}

/// A result of another sort is no result; the signature is refused, and not given beside it.
#[test]
fn a_moved_result_of_another_sort_is_not_signed() {
    let repo = arm();
    sign(&repo, &[]).ended(0);
    repo.replace(RECORD, "T = force * arm", "T = force * arm to J");
    let before = repo.read(RECORD);
    let refused = sign(&repo, &["--because", "it is an energy"]).ended(2);
    assert!(refused.err.contains("is an energy, but a torque is expected"), "{}", plain(&refused.err));
    assert_eq!(repo.read(RECORD), before);
}

/// Of readings that are all the same it is not known how they scatter; of an input that a line hides, not that it is not used.
#[test]
fn what_would_hide_an_uncertainty_is_refused() {
    let repo = arm();
    let draft = repo.read(RECORD);
    repo.replace(RECORD, "value = \"120 ± 4 N\"", "readings = [\"120 N\", \"120 N\"]");
    let refused = plain(&sign(&repo, &[]).ended(2).err);
    assert!(refused.contains("the readings are all the same") && refused.contains("add instrument"), "{refused}");
    repo.write(RECORD, &draft.replace("T = force * arm\n", "T = force * arm\nneed = 10 N·m\n"));
    let refused = plain(&sign(&repo, &[]).ended(2).err);
    assert!(refused.contains("`need` is an input and a line of the calculation too"), "{refused}");
}

/// An instrument that inputs were read with must have been calibrated, as one of the run.
#[test]
fn instruments_of_inputs_are_asked_for_their_calibration() {
    let repo = arm();
    repo.replace(RECORD, "value = \"120 ± 4 N\"", "value = \"120 N\", instrument = \"LC-01\"");
    let cell = "[LC-01]\nwhat = \"load cell\"\nrange = \"0 N to 500 N\"\nuncertainty = \"± 4 N\"\n\n";
    let calibrated =
        format!("{cell}[[LC-01.calibrations]]\non = 2026-01-10\ndue = 2027-01-10\ncertificate = \"C-1\"\n");
    repo.write("instruments.toml", &calibrated);
    sign(&repo, &[]).ended(0);
    assert_eq!(repo.state("R-001", "project"), "closed");
    repo.write("instruments.toml", cell);
    assert_eq!(repo.state("R-001", "project"), "void");
    assert!(repo.run(&["before", "first-run"]).ended(1).out.contains("LC-01 had no calibration in force"));
}

/// Where the trials decide, the risk is the share of them that lies outside: 2,000,000 trials of the same inputs, made by another
/// program, gave 0.46 %, and the normal curve that goes with U 0.21 %.
#[test]
fn the_risk_is_that_of_the_trials_where_they_decide() {
    let repo = TestRepo::demo();
    let verdicts = |id: &str| repo.run(&["calc", id, "--format", "json"]).ended(0).json()["verdicts"].clone();
    let risk = verdicts("AN-002")[0]["risk"].as_f64().expect("a risk");
    assert!((0.0038..0.0054).contains(&risk), "{risk}");
    let said = repo.run(&["calc", "AN-008"]).ended(0).out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("less than 0.01 % risk of being outside") && !said.contains("; 0 % risk"), "{said}");
}
