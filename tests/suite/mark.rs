use crate::support::{TestRepo, added};

const BECAUSE: &str = "The limit rose to 0.5; the result is inside it by 3 U.";
/// Not who signed TR-006.
const BY: &str = "responsible engineer";

#[test]
fn a_reaffirmation_is_added_and_nothing_else_changes() {
    let repo = TestRepo::demo();
    let before = repo.read("records/TR-006.md");
    let run = repo.run(&["mark", "ACT-010", "--by", BY, "--because", BECAUSE]).ended(0);
    assert!(run.out.contains("of at least [-0.3-] {+0.5+} at a"), "{}", run.out);
    assert!(run.out.contains("was slipped"), "{}", run.out);
    assert!(run.out.contains("written: records/TR-006.md; re-affirmed by responsible engineer"), "{}", run.out);
    let block = format!(
        "\n[[verifies.ACT-010.reaffirmed]]\nmark = \"m1-12b774c61489\"\ndate = 2026-06-16\nby = \"{BY}\"\nreason = \"{BECAUSE}\"\n"
    );
    let outcome = "outcome.torque_margin = \"met\"\n";
    assert_eq!(repo.read("records/TR-006.md"), before.replace(outcome, &format!("{outcome}{block}")));
    assert_eq!(repo.changed(), ["records/TR-006.md"]);
    assert!(repo.states("ACT-010").iter().all(|(_, state)| state == "closed"), "{:?}", repo.states("ACT-010"));
}

#[test]
fn nobody_is_signed_for_who_did_not_look() {
    let repo = TestRepo::demo();
    let refused = repo.run(&["mark", "TR-006", "--because", "margin looked at"]).ended(2);
    assert!(refused.out.contains("TR-006") && refused.out.contains("torque_margin: met"), "{}", refused.out);
    assert!(refused.err.contains("names who looked at the two texts"), "{}", refused.err);
    let next = "do: slipmark mark TR-006 --by ROLE --because \"margin looked at\"";
    assert!(refused.err.contains(next), "{}", refused.err);
    for empty in ["", " ", "two\nlines"] {
        repo.run(&["mark", "TR-006", "--by", empty, "--because", BECAUSE]).ended(2);
    }
    assert_eq!(repo.changed(), Vec::<String>::new());
}

#[test]
fn every_command_that_is_printed_names_who_looked() {
    let repo = TestRepo::demo();
    for asked in [&["before", "cold-flow"][..], &["show", "ACT-010"], &["changes", "PDR..HEAD"], &["demo", "again"]] {
        let said = repo.run(asked).out.split_whitespace().collect::<Vec<_>>().join(" ");
        let mut commands = said.split("slipmark mark TR-006").skip(1).peekable();
        assert!(commands.peek().is_some(), "{asked:?}");
        for rest in commands {
            assert!(rest.starts_with(" --by "), "{asked:?}: slipmark mark TR-006{}", &rest[..rest.len().min(40)]);
        }
    }
}

#[test]
fn running_twice_changes_nothing_more() {
    let repo = TestRepo::demo();
    repo.run(&["mark", "TR-006", "--by", BY, "--because", BECAUSE]).ended(0);
    let once = repo.read("records/TR-006.md");
    let again = repo.run(&["mark", "TR-006", "--by", BY, "--because", BECAUSE]).ended(0);
    assert!(again.out.contains("nothing to do"), "{}", again.out);
    assert_eq!(repo.read("records/TR-006.md"), once);
}

#[test]
fn what_would_no_longer_be_met_is_refused_whole() {
    let repo = TestRepo::demo();
    let refused = repo.run(&["mark", "TR-006", "AN-001", "--because", BECAUSE]).ended(2);
    assert!(refused.err.contains("AN-001 on torque_margin of ACT-010 would no longer be met"), "{}", refused.err);
    assert_eq!(repo.changed(), Vec::<String>::new());
    // Tightened so far that the result straddles the limit: met then, not shown now.
    repo.replace("requirements/actuator/ACT-010.md", "min = 0.5", "min = 0.75");
    let refused = repo.run(&["mark", "ACT-010", "--because", BECAUSE]).ended(2);
    assert!(refused.err.contains("would be inconclusive"), "{}", refused.err);
    assert_eq!(repo.changed(), ["requirements/actuator/ACT-010.md"]);
}

#[test]
fn a_condition_that_is_no_longer_shown_is_refused() {
    let repo = TestRepo::demo();
    repo.replace("requirements/actuator/ACT-010.md", "at.body = { max = \"95 K\" }", "at.body = { max = \"80 K\" }");
    let refused = repo.run(&["mark", "TR-006", "--because", BECAUSE]).ended(2);
    assert!(refused.err.contains("at most 80 K is asked"), "{}", refused.err);
}

#[test]
fn a_text_that_history_does_not_hold_is_said_so() {
    let repo = TestRepo::demo();
    let text = repo.read("records/TR-006.md").replace("m1-004a1ef0ddf4", "m1-ffffffffffff");
    repo.write("records/TR-006.md", &text);
    let run = repo.run(&["mark", "TR-006", "--by", BY, "--because", BECAUSE]).ended(0);
    assert!(run.out.contains("the history of this project holds no text with that mark"), "{}", run.out);
}

#[test]
fn an_old_text_is_found_through_a_move_and_a_parameter_that_changed() {
    let repo = TestRepo::demo();
    let then = repo.run(&["show", "MOV-080", "--format", "json"]).ended(0).json();
    let mark = then["details"].as_array().unwrap().iter().find(|own| own["name"] == "mark").unwrap()["text"].clone();
    repo.replace("parameters.toml", "value = \"4.0 MPa gauge\"", "value = \"4.01 MPa gauge\"");
    let text = repo.read("requirements/valve/MOV-080.md");
    std::fs::remove_file(repo.path().join("requirements/valve/MOV-080.md")).unwrap();
    repo.write("requirements/moved.md", &text);
    let run =
        repo.run(&["mark", "TR-001", "--by", BY, "--because", "The margin is wide enough for a hundredth."]).ended(0);
    assert!(run.out.contains(mark.as_str().unwrap()) && run.out.contains(", since "), "{}", run.out);
    assert!(run.out.contains("[-6"), "the limit in numbers is compared: {}", run.out);
}

#[test]
fn a_first_mark_is_one_line() {
    let repo = TestRepo::demo();
    let sealed = repo.read("records/TR-007.md");
    let unmarked: String = sealed
        .lines()
        .filter(|line| !line.starts_with("mark") && !line.starts_with("seal"))
        .map(|l| format!("{l}\n"))
        .collect();
    repo.write("records/TR-007.md", &unmarked);
    // It names nobody, so nobody is asked for.
    repo.run(&["mark", "TR-007", "--because", BECAUSE]).ended(0);
    assert_eq!(added(&unmarked, &repo.read("records/TR-007.md")), ["mark = \"m1-08daa2974db8\"\n"]);
}

#[test]
fn carriage_returns_stay() {
    let repo = TestRepo::demo();
    let before = repo.read("records/TR-006.md").replace('\n', "\r\n");
    repo.write("records/TR-006.md", &before);
    repo.run(&["mark", "TR-006", "--by", BY, "--because", BECAUSE]).ended(0);
    let new = added(&before, &repo.read("records/TR-006.md"));
    assert!(new.len() == 6 && new.iter().all(|line| line.ends_with("\r\n")), "{new:?}");
}

#[test]
fn ids_that_carry_no_marks_are_refused() {
    let repo = TestRepo::demo();
    // Of many that are as near, none is put forward.
    assert!(repo.run(&["mark", "TR-00", "--because", "x"]).ended(2).err.contains("do: known: ACT-010, "));
    let near = repo.run(&["mark", "TR-0001", "--because", "x"]).ended(2).err;
    assert!(near.contains("did you mean `TR-001`?"), "{near}");
    assert!(repo.run(&["mark", "NC-001", "--because", "x"]).ended(2).err.contains("only evidence carries marks"));
    assert!(repo.run(&["mark", "TR-006", "--because", " "]).ended(2).err.contains("the reason is empty"));
    assert!(repo.run(&["mark", "TR-006", "--because", "x", "--at", "PDR"]).ended(2).err.contains("past commit"));
    assert_eq!(repo.changed(), Vec::<String>::new());
}

#[test]
fn a_record_with_one_result_that_would_not_do_is_not_said_to_stand() {
    let repo = TestRepo::demo();
    repo.replace("parameters.toml", "value = \"4.0 MPa gauge\"", "value = \"4.2 MPa gauge\"");
    let shown = |id: &str| {
        let text = repo.run(&["show", id]).ended(0).out;
        let stands = text.split("Where it stands").nth(1).and_then(|rest| rest.split("\nParents").next());
        stands.expect("where it stands").split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let said = shown("MOV-080");
    for record in ["TR-001", "TR-004"] {
        let words = format!(
            "{record}: MOV-080 has been reworded since; its result for pressure would not meet the text of now do: read slipmark history MOV-080, then make new evidence"
        );
        assert!(said.contains(&words), "{said}");
    }
    assert!(!said.contains("would meet") && !said.contains("slipmark mark"), "{said}");
    // What `mark` takes, it is advised for: raised by a hundredth, all three are inside.
    repo.replace("parameters.toml", "value = \"4.2 MPa gauge\"", "value = \"4.01 MPa gauge\"");
    let said = shown("MOV-080");
    assert!(said.contains("TR-001: MOV-080 has been reworded since; its results would meet the text of now"), "{said}");
    repo.run(&["mark", "TR-001", "--by", BY, "--because", "wide enough"]).ended(0);
    assert!(!shown("MOV-080").contains("TR-001: MOV-080 has been reworded"));
}
