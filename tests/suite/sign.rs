use crate::support::TestRepo;

const DRAFT: &str = "records/TR-010.md";

fn sign(repo: &TestRepo, more: &[&str]) -> crate::support::Run {
    let mut arguments = vec!["sign", "TR-010", "--by", "test conductor", "--witness", "pad chief"];
    arguments.extend(more);
    repo.run(&arguments)
}

#[test]
fn a_complete_draft_is_signed_and_closes_its_row() {
    let repo = TestRepo::demo();
    let run = sign(&repo, &[]).ended(0);
    assert!(run.out.contains("closed       ACT-020") && run.out.contains("was unsigned"), "{}", run.out);
    let text = repo.read(DRAFT);
    for line in [
        "signed_by = \"test conductor\"",
        "witnessed_by = [\"pad chief\"]",
        "status = \"signed\"",
        "outcome.closing = \"met\"",
    ] {
        assert_eq!(text.lines().filter(|own| *own == line).count(), 1, "{line}\n{text}");
    }
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "closed");
    assert_eq!(repo.faults(), Vec::<String>::new());
}

/// A witness who was forgotten is named by signing again; nothing else can be slipped in that way.
#[test]
fn what_people_depend_on_needs_a_witness_who_may_be_named_later() {
    let repo = TestRepo::demo();
    let alone = |more: &[&str]| repo.run(&[&["sign", "TR-010", "--by", "test conductor"], more].concat());
    let run = alone(&[]).ended(0);
    let said = run.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("nobody witnessed it") && said.contains("--by \"test conductor\" --witness ROLE"), "{said}");
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "unsigned");
    let before = repo.read(DRAFT);
    alone(&["--witness", "Test conductor"]).ended(0);
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "unsigned");
    repo.write(DRAFT, &before);
    repo.replace(DRAFT, "1.21 ± 0.02 s", "1.22 ± 0.02 s");
    assert!(alone(&["--witness", "pad chief"]).ended(2).err.contains("changed after it was signed"));
    repo.write(DRAFT, &before);
    // The witness's own name where the signer's belongs.
    let other = repo.run(&["sign", "TR-010", "--by", "pad chief", "--witness", "safety lead"]).ended(2).err;
    let other = other.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(other.contains("TR-010 is signed by test conductor, and pad chief would sign in that place"), "{other}");
    assert!(other.contains("slipmark sign TR-010 --by \"test conductor\" --witness \"safety lead\""), "{other}");
    assert_eq!(repo.read(DRAFT), before);
    alone(&["--witness", "pad chief"]).ended(0);
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "closed");
}

/// What the project asks of people is on the sheet and in a new record, and counts in the state.
#[test]
fn roles_of_the_project_are_asked_for_from_the_sheet_to_the_row() {
    let repo = TestRepo::demo();
    let rule =
        "[[roles]]\nprocedure = \"TP-03\"\nperformed_by = \"test conductor\"\nwitnessed_by = [\"safety lead\"]\n";
    let project = repo.read("slipmark.toml");
    repo.write("slipmark.toml", &format!("{project}\n{rule}"));
    sign(&repo, &[]).ended(0);
    let row = repo.run(&["before", "hot-fire"]).ended(1).out;
    let said = "witnessed by pad chief; slipmark.toml asks for safety lead for TP-03";
    let row = row.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(row.contains(said), "{row}");
    let typed = "if safety lead watched: slipmark sign TR-010 --by \"test conductor\" --witness \"safety lead\"; if not, repeat it";
    assert!(row.contains(typed), "{row}");
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "unsigned");
    let sheet = repo.run(&["sheet", "TP-03", "--serial", "ACT-W/SN02"]).ended(0).out;
    assert!(sheet.contains("witnessed by safety lead: for ") && sheet.contains("performed by test conductor: for"));
    let new = repo.run(&["new", "test", "--for", "ACT-020", "--serial", "ACT-W/SN02"]).ended(0).out;
    let new = repo.read(new.trim());
    assert!(new.contains("# safety lead; another than performs it\n"), "{new}");
    let shown = repo.run(&["show", "ACT-020"]).ended(0).out.replace("\n    ", " ");
    assert!(shown.contains("performed by test conductor, witnessed by safety lead, witnessed by another"), "{shown}");
    repo.run(&["sign", "TR-010", "--by", "test conductor", "--witness", "safety lead"]).ended(0);
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "closed");
}

/// A rule that names neither method nor procedure is told as a sentence, and its people stand in the advice, one line for each.
#[test]
fn a_rule_for_all_that_people_depend_on_says_whom_it_asks_for() {
    let repo = TestRepo::demo();
    let project = repo.read("slipmark.toml");
    let rule = "[[roles]]\nsafety = true\nwitnessed_by = [\"safety lead\", \"range officer\"]\n";
    repo.write("slipmark.toml", &format!("{project}\n{rule}"));
    let run = repo.run(&["sign", "TR-010", "--by", "test conductor"]).ended(0).out;
    let said = run.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("asks for safety lead or range officer for all evidence of safety requirements"), "{said}");
    assert!(
        said.contains(
            "--witness \"safety lead\" or slipmark sign TR-010 --by \"test conductor\" --witness \"range officer\""
        ),
        "{said}"
    );
    assert!(!said.contains("--witness ROLE"), "{said}");
}

#[test]
fn signing_twice_leaves_the_same_bytes() {
    let repo = TestRepo::demo();
    sign(&repo, &[]).ended(0);
    let once = repo.read(DRAFT);
    assert!(sign(&repo, &[]).ended(0).out.contains("nothing to do"));
    assert_eq!(repo.read(DRAFT), once);
}

#[test]
fn a_change_afterwards_breaks_the_seal_and_asks_for_a_reason() {
    let repo = TestRepo::demo();
    sign(&repo, &[]).ended(0);
    repo.replace(DRAFT, "1.21 ± 0.02 s", "1.22 ± 0.02 s");
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "void");
    let changed = repo.read(DRAFT);
    assert!(sign(&repo, &[]).ended(2).err.contains("changed after it was signed"));
    assert_eq!(repo.read(DRAFT), changed);
    sign(&repo, &["--because", "typing error"]).ended(0);
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "closed");
}

#[test]
fn a_failure_offers_a_nonconformance_and_is_not_signed_away() {
    let repo = TestRepo::demo();
    repo.replace(DRAFT, "1.21 ± 0.02 s", "1.61 ± 0.02 s");
    let run = sign(&repo, &[]).ended(0);
    assert!(run.out.contains("slipmark new nonconformance --found-by TR-010"), "{}", run.out);
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "not met");
    repo.replace(DRAFT, "1.61 ± 0.02 s", "1.21 ± 0.02 s");
    let edited = repo.read(DRAFT);
    let refused = sign(&repo, &["--because", "it was really this"]).ended(2);
    assert!(refused.err.contains("closing of ACT-020 was not met when it was signed"), "{}", refused.err);
    assert_eq!(repo.read(DRAFT), edited);
}

#[test]
fn everything_that_is_missing_is_said_at_once() {
    let repo = TestRepo::demo();
    let bare = "+++\nkind = \"test\"\nid = \"TR-011\"\ntitle = \"T\"\nprocedure = \"TP-03\"\n\n[verifies.ACT-020]\n[verifies.MOV-060]\nresults.cycles = \"many\"\n\n[[data]]\nfile = \"gone.csv\"\n+++\n";
    repo.write("records/TR-011.md", bare);
    let run = repo.run(&["sign", "TR-011", "--by", "test conductor"]).ended(2);
    for said in [
        "date = 2026-06-16",
        "names no piece and no item, and ACT-020 applies to ACT-W",
        "procedure_revision = \"1\"",
        "requires TQ-01, AE-01, TC-04",
        "no result for closing of ACT-020",
        "condition supply is not recorded",
        "it counts for no entry of MOV-060",
        "\"many\" is no whole number",
        "gone.csv: there is no such file",
    ] {
        assert!(run.err.contains(said), "{said}\n{}", run.err);
    }
    assert_eq!(repo.read("records/TR-011.md"), bare);
    let nothing = "+++\nkind = \"inspection\"\nid = \"IN-011\"\ntitle = \"T\"\ndate = 2026-06-10\n+++\n";
    repo.write("records/IN-011.md", nothing);
    assert!(repo.run(&["sign", "IN-011", "--by", "x"]).ended(2).err.contains("it verifies nothing"));
}

#[test]
fn a_revision_that_is_not_stated_is_asked_for() {
    let repo = TestRepo::demo();
    repo.replace(DRAFT, "revision = \"A\"\n", "");
    assert!(sign(&repo, &[]).ended(2).err.contains("revision = \"A\", if that is what it was"));
}

#[test]
fn a_draft_judged_against_an_older_text_is_looked_at_first() {
    let repo = TestRepo::demo();
    repo.replace(DRAFT, "m1-ebd92922bdca", "m1-000000000000");
    assert!(sign(&repo, &[]).ended(2).err.contains("slipmark mark TR-010 --by ROLE"));
    repo.run(&["mark", "TR-010", "--by", "test conductor", "--because", "the result is far inside"]).ended(0);
    sign(&repo, &[]).ended(0);
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "closed");
}

#[test]
fn missing_marks_and_hashes_are_written_and_wrong_ones_refused() {
    let repo = TestRepo::demo();
    repo.write("records/tr-010.csv", "t [s]\n1.21\n");
    repo.replace(DRAFT, "mark = \"m1-ebd92922bdca\"\n", "");
    repo.replace(DRAFT, "0.02 s\"\n", "0.02 s\"\n\n[[data]]\nfile = \"tr-010.csv\"\n");
    sign(&repo, &[]).ended(0);
    let text = repo.read(DRAFT);
    // printf 't [s]\n1.21\n' | sha256sum
    assert!(
        text.contains("sha256 = \"d0fa31b07881654e0f94ec2250cbc87585ddebfa106017b578dbf38cd419f3bb\"")
            && text.contains("[verifies.ACT-020]\nmark = \"m1-ebd92922bdca\"\n"),
        "{text}"
    );
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "closed");
    repo.write("records/tr-010.csv", "t [s]\n1.41\n");
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "void");
    assert!(sign(&repo, &["--witness", "safety lead"]).ended(2).err.contains("is not the file"));
    // A draft is not signed for yet: it says itself which file is meant.
    repo.replace(DRAFT, "status = \"signed\"", "status = \"draft\"");
    let refused = sign(&repo, &["--because", "x"]).ended(2).err;
    assert!(refused.contains("is not the file that sha256 was written for"), "{refused}");
}

/// The record is void until the file is put back, or somebody stands by the other one, with a reason that the record keeps.
#[test]
fn another_file_than_was_signed_for_is_signed_again_with_a_reason() {
    let repo = TestRepo::demo();
    repo.write("records/tr-010.csv", "t [s]\n1.21\n");
    repo.replace(DRAFT, "0.02 s\"\n", "0.02 s\"\n\n[[data]]\nfile = \"tr-010.csv\"\n");
    sign(&repo, &[]).ended(0);
    repo.commit("Sign");
    repo.write("records/tr-010.csv", "t [s]\n1.41\n");
    let told = repo.run(&["before", "hot-fire"]).ended(1).out;
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    let advice = "restore the file, in the folder of TR-010: git checkout -- tr-010.csv (git log -- tr-010.csv says when it was changed); \
                  or if it is the right one: slipmark sign TR-010 --by ROLE --because \"…\"";
    assert!(told.contains(advice), "{told}");
    let signed = repo.read(DRAFT);
    let refused = sign(&repo, &[]).ended(2).err;
    assert!(refused.contains("tr-010.csv is not the file that TR-010 was signed for"), "{refused}");
    let refused = refused.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        refused.contains("git checkout -- records/tr-010.csv; to stand by it as it is now: slipmark sign TR-010 --by"),
        "{refused}"
    );
    assert_eq!(repo.read(DRAFT), signed);
    let run = sign(&repo, &["--because", "a row was missing"]).ended(0);
    // printf 't [s]\n1.21\n' | sha256sum; printf 't [s]\n1.41\n' | sha256sum
    let (was, is) = (
        "d0fa31b07881654e0f94ec2250cbc87585ddebfa106017b578dbf38cd419f3bb",
        "a2e2186725ed888ab1df34c4046188ab17388572c739db3b0d1c7b35d1c3eaa6",
    );
    for part in ["tr-010.csv is another file than was signed for", was, is] {
        assert!(run.out.contains(part), "{part}\n{}", run.out);
    }
    let text = repo.read(DRAFT);
    assert!(text.contains(&format!("sha256 = \"{is}\"")) && !text.contains(was), "{text}");
    assert!(text.contains("[[signed_again]]") && text.contains("reason = \"a row was missing\""), "{text}");
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "closed");
    repo.commit("Sign again");
    assert_eq!(repo.faults(), Vec::<String>::new());
    // Put back, it is the other way round.
    repo.write("records/tr-010.csv", "t [s]\n1.21\n");
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "void");
}

/// A result that comes out of the file may not be made good with another file.
#[test]
fn a_failure_is_not_signed_away_with_another_file() {
    let repo = TestRepo::demo();
    repo.write("records/tr-010.csv", "t [s]\n1.61\n");
    repo.replace(DRAFT, "\"1.21 ± 0.02 s\"", "{ data = \"tr-010.csv\", column = \"t\", reduce = \"max\", uncertainty = \"± 0.02 s\" }\n\n[[data]]\nfile = \"tr-010.csv\"");
    sign(&repo, &[]).ended(0);
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "not met");
    repo.write("records/tr-010.csv", "t [s]\n1.21\n");
    let before = repo.read(DRAFT);
    let refused = sign(&repo, &["--because", "the wrong file was attached"]).ended(2);
    assert!(refused.err.contains("was not met when it was signed"), "{}", refused.err);
    assert_eq!(repo.read(DRAFT), before);
}

/// A waiver does not close a row.
#[test]
fn a_row_that_a_waiver_covers_is_not_listed_as_closed() {
    let repo = TestRepo::folder();
    repo.run(&["init", "--name", "Stand"]).ended(0);
    repo.replace("requirements/R-001.md", "max = \"10 mL/min\"", "max = \"2 mL/min\"");
    repo.run(&["new", "waiver", "--for", "R-001", "--serial", "VALVE/SN01"]).ended(0);
    let waiver = "departures/W-001.md";
    for (open, filled) in [
        ("# accepts.leakage = { max = \"\" }", "accepts.leakage = { max = \"4 mL/min\" }"),
        ("# before = ", "before = "),
        ("status = \"draft\"", "status = \"approved\""),
        ("# approved_by = \"\"", "approved_by = \"chief engineer\""),
        ("# approved = ", "approved = "),
        ("# reason = \"\"", "reason = \"vented outside\""),
    ] {
        repo.replace(waiver, open, filled);
    }
    repo.run(&["new", "test", "--for", "R-001"]).ended(0);
    repo.replace("records/TR-001.md", "# results.leakage = \"\"", "results.leakage = \"3.1 ± 0.4 mL/min\"");
    repo.replace("records/TR-001.md", "# instruments = [\"\"]", "no_instrument = \"read off the panel\"");
    let run = repo.run(&["sign", "TR-001", "--by", "test conductor"]).ended(0);
    assert_eq!(repo.state("R-001", "VALVE/SN01"), "waived");
    assert!(run.out.contains("\nWaived\n") && !run.out.contains("\nClosed\n"), "{}", run.out);
}

/// The hash is of what git will store, on a machine that writes other line endings too.
#[test]
fn a_text_that_git_converts_is_signed_for_as_git_stores_it() {
    let repo = TestRepo::demo();
    repo.write(".gitattributes", "*.csv text\n");
    repo.write("records/tr-010.csv", "t [s]\r\n1.21\r\n");
    repo.replace(DRAFT, "0.02 s\"\n", "0.02 s\"\n\n[[data]]\nfile = \"tr-010.csv\"\n");
    sign(&repo, &[]).ended(0);
    // printf 't [s]\n1.21\n' | sha256sum
    let text = repo.read(DRAFT);
    assert!(text.contains("d0fa31b07881654e0f94ec2250cbc87585ddebfa106017b578dbf38cd419f3bb"), "{text}");
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "closed");
    repo.write("records/tr-010.csv", "t [s]\n1.21\n");
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "closed");
    repo.write("records/tr-010.csv", "t [s]\n1.22\n");
    assert_eq!(repo.state("ACT-020", "ACT-W/SN02"), "void");
}

#[test]
fn a_pointer_is_no_file_to_sign_for() {
    let repo = TestRepo::demo();
    let pointer = "version https://git-lfs.github.com/spec/v1\noid sha256:d0fa31b07881654e0f94ec2250cbc87585ddebfa106017b578dbf38cd419f3bb\nsize 11\n";
    repo.write("records/tr-010.csv", pointer);
    repo.replace(DRAFT, "0.02 s\"\n", "0.02 s\"\n\n[[data]]\nfile = \"tr-010.csv\"\n");
    let refused = sign(&repo, &[]).ended(2).err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(refused.contains("a pointer of Git LFS is there, and not the file of 11 bytes"), "{refused}");
    assert!(refused.contains("git lfs pull"), "{refused}");
}

#[test]
fn what_cannot_be_signed_is_said() {
    let repo = TestRepo::demo();
    assert!(repo.run(&["sign", "ACT-010", "--by", "x"]).ended(2).err.contains("only records are signed"));
    assert!(repo.run(&["sign", "TR-01", "--by", "x"]).ended(2).err.contains("did you mean"));
    assert_eq!(repo.changed(), Vec::<String>::new());
}

/// Two results of one day, of which the worse decides: whoever signs the better one is told so, and what tells which is newer.
#[test]
fn of_two_results_of_one_day_it_is_said_what_tells_which_is_newer() {
    let repo = TestRepo::demo();
    let people = ["--by", "test conductor", "--witness", "pad chief"];
    let shown = |value: &str| {
        let new = repo.run(&["new", "demonstration", "--from", "TP-03", "--serial", "ACT-W/SN02"]).ended(0);
        let path = new.out.trim().to_string();
        let id = path.trim_start_matches("records/").trim_end_matches(".md").to_string();
        repo.run(&["fill", &id, "closed_switch=1.6 ± 0.1 deg", &format!("open_switch={value} ± 0.1 deg")]).ended(0);
        let signed = repo.run(&[&["sign", id.as_str()], &people[..]].concat()).ended(0);
        (path, signed.out.split_whitespace().collect::<Vec<_>>().join(" "))
    };
    let (first, said) = shown("2.95");
    assert!(said.contains("Still open inconclusive ACT-040") && !said.contains("no hours tell"), "{said}");
    let (second, said) = shown("2.4");
    let told = "DM-003 of the same day comes out better, and no hours tell which is newer: \
                write the hour in `date` of each, then sign each again";
    assert!(said.contains("Still open inconclusive ACT-040") && said.contains(told), "{said}");
    // What is told helps.
    for (path, hour) in [(&first, "10:00:00Z"), (&second, "11:00:00Z")] {
        repo.replace(path, "date = 2026-06-16\n", &format!("date = 2026-06-16T{hour}\n"));
        let id = path.trim_start_matches("records/").trim_end_matches(".md");
        repo.run(&[&["sign", id], &people[..2], &["--because", "the hour"]].concat()).ended(0);
    }
    assert_eq!(repo.state("ACT-040", "ACT-W/SN02"), "closed");
}
