//! Somebody who has read nothing: from an empty folder to a requirement of their own that is closed, typing only what the
//! program says to type and filling in only what it says to fill in.

use crate::support::{Run, TestRepo};

/// What a run said on both streams, on one line: commands are wrapped like all else.
fn said(run: &Run) -> String {
    format!("{} {}", run.out, run.err).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Types a command that the run before said to type.
#[track_caller]
fn next(repo: &TestRepo, before: &Run, command: &str) -> Run {
    assert!(said(before).contains(command), "nobody said {command}:\n{}\n{}", before.out, before.err);
    let mut words = Vec::new();
    for (at, part) in command.split('"').enumerate() {
        match at % 2 {
            1 => words.push(part),
            _ => words.extend(part.split_whitespace()),
        }
    }
    repo.run(words.get(1..).unwrap_or_default())
}

/// Takes the `#` off a line that stands in a new file, and fills it in.
#[track_caller]
fn fill_in(repo: &TestRepo, path: &str, line: &str, filled: &str) {
    repo.replace(path, &format!("\n# {line}"), &format!("\n{filled}"));
}

#[test]
fn from_nothing_through_the_first_example() {
    let repo = TestRepo::folder();
    let lost = repo.run(&[]).ended(2);
    let init = next(&repo, &lost, "slipmark init").ended(0);
    let open = next(&repo, &init, "slipmark before leak-check").ended(1);
    let new = next(&repo, &open, "slipmark new test --for R-001 --serial VALVE/SN01").ended(0);
    let path = new.out.trim();
    assert!(said(&new).contains("take the # off the lines that you fill in"), "{}", new.err);
    // Too early: everything that is missing is said, and where.
    let early = repo.run(&["sign", "TR-001", "--by", "test conductor"]).ended(2);
    assert!(said(&early).contains("nothing was written. In records/TR-001.md:"), "{}", early.err);
    assert!(said(&early).contains("do: under [verifies.R-001]: results.leakage = \"…\""), "{}", early.err);
    assert!(said(&early).contains("do: instruments = [\"…\"], or no_instrument = "), "{}", early.err);
    // A number without its unit is a fault, with the unit that is expected.
    fill_in(&repo, path, "results.leakage = \"\"", "results.leakage = \"3.1\"");
    let bare = repo.run(&["check"]).ended(1);
    assert!(said(&bare).contains("do: write volume flow here, in a unit such as `mL/min`"), "{}", bare.out);
    repo.replace(path, "\"3.1\"", "\"3.1 mL/min\"");
    // An instrument that nobody knows, then one that nobody has calibrated.
    fill_in(&repo, path, "instruments = [\"\"]", "instruments = [\"FM-1\"]");
    let unknown = repo.run(&["check"]).ended(1);
    let how = "add [FM-1], and [[FM-1.calibrations]] with on and due, to instruments.toml";
    assert!(said(&unknown).contains(how), "{}", unknown.out);
    repo.write("instruments.toml", "[FM-1]\nwhat = \"flow meter\"\n");
    repo.run(&["check"]).ended(0);
    let signed = next(&repo, &early, "slipmark sign TR-001").ended(2);
    assert!(signed.err.contains("--by <ROLE>"), "{}", signed.err);
    let signed = repo.run(&["sign", "TR-001", "--by", "test conductor"]).ended(0);
    assert!(said(&signed).contains("add [[FM-1.calibrations]] with on, due and certificate"), "{}", signed.out);
    repo.write(
        "instruments.toml",
        "[FM-1]\nwhat = \"flow meter\"\n[[FM-1.calibrations]]\non = 2026-01-08\ndue = 2027-01-08\n",
    );
    // The rule of the project needs an uncertainty; a signed record is signed again, with a reason.
    let straddles = repo.run(&["before", "leak-check"]).ended(1);
    assert!(
        said(&straddles).contains("no uncertainty is stated, and the decision rule needs one"),
        "{}",
        straddles.out
    );
    assert!(said(&straddles).contains("do: write the result as \"VALUE ± U UNIT\""), "{}", straddles.out);
    repo.replace(path, "\"3.1 mL/min\"", "\"3.1 ± 0.4 mL/min\"");
    let broken = repo.run(&["before", "leak-check"]).ended(1);
    assert!(said(&broken).contains("slipmark sign TR-001 --by ROLE --because"), "{}", broken.out);
    let asks = repo.run(&["sign", "TR-001", "--by", "test conductor"]).ended(2);
    next(&repo, &asks, "slipmark sign TR-001 --by \"test conductor\" --because \"…\"").ended(0);
    // What is not committed cannot be held against anything later.
    let uncommitted = next(&repo, &init, "slipmark before leak-check").ended(1);
    assert!(said(&uncommitted).contains("do: git add --all && git commit"), "{}", uncommitted.out);
    assert!(said(&init).contains("git add --all && git commit -m \"Start\""), "{}", init.out);
    repo.commit("Start");
    let closed = next(&repo, &init, "slipmark before leak-check").ended(0);
    assert!(said(&closed).contains("Nothing that this project lists before leak-check is open."), "{}", closed.out);
}

#[test]
fn a_requirement_of_their_own() {
    let repo = TestRepo::folder();
    let init = repo.run(&["init"]).ended(0);
    repo.commit("Start");
    let item = next(&repo, &init, "slipmark new item --title \"…\"").ended(0);
    let path = item.out.trim();
    repo.replace(path, "title = \"…\"", "title = \"Feed pump\"");
    assert!(said(&item).contains("name its pieces under [[serials]]"), "{}", item.err);
    fill_in(&repo, path, "[[serials]]", "[[serials]]");
    fill_in(&repo, path, "number = \"SN01\"", "number = \"SN01\"");
    let requirement = next(&repo, &item, "slipmark new requirement --item ITEM-01").ended(0);
    let path = requirement.out.trim();
    for line in ["write the statement, the criteria and the plan", "remove the line status = \"draft\""] {
        assert!(said(&requirement).contains(line), "{}", requirement.err);
    }
    // Left as it is, it is open: it is a draft, and nobody has said how it will be shown.
    let open = repo.run(&["before", "leak-check"]).ended(1);
    for line in ["R-002 says nowhere how it will be shown", "do: add a [[verify]] entry", "R-002 is a draft"] {
        assert!(said(&open).contains(line), "{line}: {}", open.out);
    }
    repo.replace(path, "shall TBD.", "shall deliver at least 3 L/min of water.");
    let text = repo.read(path);
    let agreed: Vec<&str> = text.lines().filter(|line| !line.starts_with("status = \"draft\"")).collect();
    repo.write(path, &agreed.join("\n"));
    for (line, filled) in [
        ("source = \"\"", "source = \"cooling budget\""),
        ("[criteria.NAME]", "[criteria.flow]"),
        ("min = \"\"", "min = \"3 L/min\""),
        ("[[verify]]", "[[verify]]"),
        ("method = \"test\"", "method = \"test\""),
    ] {
        fill_in(&repo, path, line, filled);
    }
    // A test without a procedure is a gap that says so.
    let gap = repo.run(&["check", "--gaps"]).ended(1);
    assert!(said(&gap).contains("gap [no-procedure]"), "{}", gap.out);
    let procedure = repo.run(&["new", "procedure", "--item", "ITEM-01", "--title", "Pump run"]).ended(0);
    assert!(said(&procedure).contains("set status = \"released\", and plan it in a requirement"), "{}", procedure.err);
    fill_in(&repo, path, "procedure = \"\"", "procedure = \"TP-02\"");
    let draft = repo.run(&["check", "--gaps"]).ended(1);
    assert!(said(&draft).contains("do: finish and review it, then set status = \"released\""), "{}", draft.out);
    repo.replace(procedure.out.trim(), "status = \"draft\" ", "status = \"released\" ");
    repo.run(&["check", "--gaps"]).ended(0);
    let open = repo.run(&["before"]).ended(1);
    let record = next(&repo, &open, "slipmark new test --for R-002 --serial ITEM-01/SN01").ended(0);
    let path = record.out.trim();
    fill_in(&repo, path, "results.flow = \"\"", "results.flow = \"3.4 ± 0.2 L/min\"");
    fill_in(&repo, path, "instruments = [\"\"]", "no_instrument = \"bucket and watch\"");
    next(&repo, &record, "slipmark sign TR-001 --by ROLE").ended(0);
    assert_eq!(repo.state("R-002", "ITEM-01/SN01"), "closed");
    assert_eq!(repo.faults(), Vec::<String>::new());
}

#[test]
fn what_is_left_out_is_asked_for_by_name() {
    let repo = TestRepo::folder();
    repo.run(&["init"]).ended(0);
    let packet = repo.run(&["packet"]).ended(2);
    assert!(said(&packet).contains("name it: slipmark packet leak-check, or first-run"), "{}", packet.err);
    repo.run(&["new", "test", "--for", "R-001"]).ended(0);
    let fill = repo.run(&["fill", "TR-001"]).ended(2);
    assert!(said(&fill).contains("it takes: R-001.leakage, leakage"), "{}", fill.err);
    repo.replace("requirements/R-001.md", "procedure = \"TP-01\"", "procedure = \"LOCK-UP\"");
    let check = repo.run(&["check"]).ended(1);
    assert!(said(&check).contains("create it: slipmark new procedure LOCK-UP; or correct the id"), "{}", check.out);
    for (command, said_so) in [
        (&["sign", "TR-001", "--by", " "][..], "it is empty; write a few words"),
        (&["sign", "TR-001", "--by", "me", "--witness", ""], "it is empty; write a few words"),
        (&["new", "item", "--title", "two\nlines"], "write it on one line"),
        (&["packet", "leak-check", "-o", "review.docx"], "end the name in .html, .pdf or .xlsx"),
    ] {
        let refused = repo.run(command).ended(2);
        assert!(said(&refused).contains(said_so), "{command:?}: {}", refused.err);
    }
    assert!(!repo.path().join("review.docx").exists());
    let keys = repo.run(&["explain", "procedure"]).ended(0);
    assert!(said(&keys).contains("slipmark new procedure writes one, with its keys"), "{}", keys.out);
}

#[test]
fn every_kind_says_what_comes_next() {
    let repo = TestRepo::folder();
    repo.run(&["init"]).ended(0);
    for (arguments, next) in [
        (&["item"][..], "slipmark new requirement --item ITEM-01"),
        (&["slot"], "fills = \"SLOT-01\""),
        (&["procedure"], "procedure = \"TP-02\""),
        (&["requirement"], "slipmark check"),
        (&["analysis"], "[verifies.ID]"),
        (&["test", "--for", "R-001"], "slipmark sign TR-001 --by ROLE"),
        (&["inspection"], "slipmark sign IN-001 --by ROLE"),
        (&["demonstration"], "slipmark sign DM-001 --by ROLE"),
        (&["decision"], "slipmark check"),
        (&["nonconformance", "--serial", "VALVE/SN01"], "it stays open until it is closed"),
        (&["waiver", "--for", "R-001"], "once it is approved"),
    ] {
        let all: Vec<&str> = ["new"].iter().chain(arguments).copied().collect();
        let run = repo.run(&all).ended(0);
        assert!(run.err.starts_with("do: ") && run.err.contains(next), "{arguments:?}: {}", run.err);
        assert_eq!(repo.faults(), Vec::<String>::new(), "{arguments:?}");
    }
}

#[test]
fn a_value_outside_without_an_uncertainty_is_said_to_lie_outside() {
    let repo = TestRepo::folder();
    repo.run(&["init", "--name", "Stand"]).ended(0);
    repo.run(&["new", "test", "--for", "R-001"]).ended(0);
    repo.replace("records/TR-001.md", "# instruments = [\"\"]", "no_instrument = \"read off the panel\"");
    let filled = repo.run(&["fill", "TR-001", "leakage=26 mL/min"]).ended(0);
    let outside = "it lies outside, and no uncertainty is stated, which the decision rule needs";
    assert!(said(&filled).contains(&format!("inconclusive: {outside}; at most 10 mL/min")), "{}", said(&filled));
    repo.run(&["sign", "TR-001", "--by", "test conductor"]).ended(0);
    let before = repo.run(&["before", "leak-check"]).ended(1);
    assert!(before.out.contains("1 inconclusive") && said(&before).contains(outside), "{}", before.out);
    assert!(said(&before).contains("will not make it met"), "{}", before.out);
    // Inside, nothing is said of that.
    repo.replace("records/TR-001.md", "26 mL/min", "9 mL/min");
    let inside = repo.run(&["fill", "TR-001", "leakage=9 mL/min"]);
    assert!(!said(&inside).contains("outside"), "{}", said(&inside));
}
