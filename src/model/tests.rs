//! Golden texts of marks and seals. The digits were worked out with another SHA-256, not with this program.
//! If one of these fails, evidence signed years ago no longer lines up: mend the code, never the test.

use crate::analysis::{self, Analysis, Request};
use crate::source::Memory;

use super::mark;

const PROJECT: &str = "name = \"Golden\"\nevents = [\"fire\"]\n";

const REQUIREMENT: &str = r#"+++
kind = "requirement"
id = "ACT-010"
title = "Everything a mark covers"
source = "test"

[criteria.torque_margin]
text = "not in the mark"
min = 0.5
at.body = { min = "80 K", max = "95 K" }

[criteria.mass]
max = "2400 g"

[criteria.travel]
equals = "120 mm"
tolerance = "1 mm"

[criteria.pressure]
min = "1.5 * meop"
max = "65 barg"
at.body = { max = "-178.15 degC" }

[criteria.modes]
expect = ["fail-open", "fail-closed", "fail-open"]

[criteria.uses]
count = 59

[criteria.undecided]
max = "TBD"

[[verify]]
method = "analysis"
+++
The actuator *shall* develop at least `1.5` times
the  torque required – at “cold soak”.

## Rationale
Not in the mark.
"#;

const RECORD: &str = r#"+++
kind = "test"
id = "TR-012"
title = "Not in the seal"
date = 2026-03-14
serial = "ACT-W/SN02"
procedure = "TP-03"
procedure_revision = 2
performed_by = "test  \"conductor\""
signed_by = "not in the seal"
witnessed_by = "pad chief"
instruments = ["TQ-01", "TC-04"]
conditions.body = "91 ± 1 K"
status = "signed"
reason = "not in the seal"
seal = "s1-000000000000"

[verifies.ACT-010]
mark = "m1-5e0c9a41b7d2"
results.torque_margin = "0.83 ± 0.11"
results.leak = "< 0.01 mL/min"
results.state = "pass"
outcome.leak = "met"

[[verifies.ACT-010.reaffirmed]]
mark = "m1-111111111111"
date = 2026-04-01
by = "nobody"
reason = "not in the seal"

[verifies.ACT-020]
result = 2.50

[[data]]
file = "tr-012.csv"
sha256 = "ABCDEF"
+++
Prose is not in the seal.

```calc
x = 1   + 2

y = x to mm
```
"#;

fn analysed(files: &[(&str, &str)]) -> Analysis {
    let source = files.iter().fold(Memory::new(), |source, (path, text)| source.file(path, text));
    let today = jiff::civil::date(2026, 6, 1);
    analysis::run(&source, Request::on(today)).expect("memory can be read")
}

fn golden(requirement: &str, parameters: &str) -> Analysis {
    analysed(&[("slipmark.toml", PROJECT), ("parameters.toml", parameters), ("a.md", requirement), ("r.md", RECORD)])
}

const MEOP: &str = "[meop]\nvalue = \"4 MPa gauge\"\n";

#[test]
fn the_mark_of_everything_is_frozen() {
    let project = golden(REQUIREMENT, MEOP);
    let text = mark::canonical(&project.model.requirements[0]);
    let expected = "\
slipmark-mark 1
statement The actuator shall develop at least 1.5 times the torque required - at \"cold soak\".
criterion mass
max 2.40000000000e0 kg^1
criterion modes
expect fail-closed
expect fail-open
criterion pressure
min 6.00000000000e6 kg^1 m^-1 s^-2 gauge
max 6.50000000000e6 kg^1 m^-1 s^-2 gauge
at body
max 9.50000000000e1 K^1 point
criterion torque_margin
min 5.00000000000e-1 1
at body
min 8.00000000000e1 K^1 point
max 9.50000000000e1 K^1 point
criterion travel
min 1.19000000000e-1 m^1
max 1.21000000000e-1 m^1
criterion undecided
max unresolved TBD
criterion uses
count 59
";
    assert_eq!(text, expected);
    assert_eq!(project.model.requirements[0].mark, "m1-a7f866041114");
}

#[test]
fn a_requirement_without_criteria_has_the_one_that_it_is_met() {
    let text = "+++\nkind = \"requirement\"\nid = \"A\"\ntitle = \"A\"\n+++\nThe valve shall open.\n";
    let project = golden(text, "");
    assert_eq!(project.model.requirements[0].mark, "m1-fd1410a473de");
}

#[test]
fn the_seal_of_everything_is_frozen() {
    let project = golden(REQUIREMENT, MEOP);
    assert_eq!(project.model.records[0].seal_now, "s1-e80dbfa041f8");
}

/// What a run left behind: the text of an action is sealed, not the day on which it was done; a deviation is sealed with who
/// accepted it. And a criterion may be called as a key is.
const LEFT_BEHIND: &str = r#"+++
kind = "test"
id = "TR-9"
title = "Leakage"
date = 2026-04-24
actions = [{ text = "seal the bag again", closed = 2026-04-25 }, { text = "repeat the leak check" }]
deviations = [{ text = "soaked for 900 s", accepted_by = "responsible engineer" }]

[verifies.ACT-010]
results.state = "pass"
results.reaffirmed = "5 mm"
+++
"#;

/// The seal of this text, made by another SHA-256:
/// `slipmark-seal 1`, `actions[0].text = "seal the bag again"`, `actions[1].text = "repeat the leak check"`,
/// `date = 2026-04-24`, `deviations[0].accepted_by = "responsible engineer"`, `deviations[0].text = "soaked for 900 s"`,
/// `id = "TR-9"`, `kind = "test"`, `verifies.ACT-010.results.reaffirmed = 5.00000000000e-3 m^1`,
/// `verifies.ACT-010.results.state = "pass"`, each on a line of its own.
#[test]
fn the_seal_of_what_a_run_left_behind_is_frozen() {
    let seal =
        |record: &str| analysed(&[("slipmark.toml", PROJECT), ("r.md", record)]).model.records[0].seal_now.clone();
    assert_eq!(seal(LEFT_BEHIND), "s1-bd097a58b3b6");
    let later = LEFT_BEHIND
        .replace("leak check\" }", "leak check\", closed = 2026-05-02 }")
        .replace("2026-04-25", "2026-04-26T09:00:00");
    assert_ne!(later, LEFT_BEHIND);
    assert_eq!(seal(&later), "s1-bd097a58b3b6");
    for (from, to) in [
        ("seal the bag again", "seal the bag"),
        (", { text = \"repeat the leak check\" }", ""),
        ("accepted_by = \"responsible engineer\"", "accepted_by = \"test conductor\""),
        (", accepted_by = \"responsible engineer\"", ""),
        ("\"5 mm\"", "\"6 mm\""),
    ] {
        assert!(LEFT_BEHIND.contains(from), "{from}");
        assert_ne!(seal(&LEFT_BEHIND.replace(from, to)), "s1-bd097a58b3b6", "{from} -> {to}");
    }
}

/// What a run used of the life of its pieces is sealed as a quantity. The seal of this text, made by another SHA-256:
/// `slipmark-seal 1`, `date = 2026-04-24`, `id = "TR-9"`, `kind = "test"`, `serial[0] = "MOV/SN02"`,
/// `uses.burn = 1.20000000000e1 s^1 U 1.00000000000e0 s^1`, `uses.cycles = 3.00000000000e0 1`,
/// `verifies.ACT-010.result = "pass"`, each on a line of its own.
#[test]
fn the_seal_of_what_a_run_used_is_frozen() {
    let used = |burn: &str, cycles: &str| {
        let record = format!(
            "+++\nkind = \"test\"\nid = \"TR-9\"\ntitle = \"Leakage\"\ndate = 2026-04-24\nserial = \"MOV/SN02\"\n\
             uses = {{ burn = {burn}, cycles = {cycles} }}\n[verifies.ACT-010]\nresult = \"pass\"\n+++\n"
        );
        analysed(&[("slipmark.toml", PROJECT), ("r.md", &record)]).model.records[0].seal_now.clone()
    };
    assert_eq!(used("\"12 ± 1 s\"", "3"), "s1-7129ecd701fb");
    assert_eq!(used("\"12000 ± 1000 ms\"", "\"3.0\""), "s1-7129ecd701fb");
    assert_ne!(used("\"12 s\"", "3"), "s1-7129ecd701fb");
    assert_ne!(used("\"12 ± 1 s\"", "2"), "s1-7129ecd701fb");
}

/// Restated, re-wrapped, re-ordered: nothing of it changes the evidence.
#[test]
fn what_changes_nothing_about_the_evidence_moves_neither_mark_nor_seal() {
    let restated = REQUIREMENT
        .replace("max = \"2400 g\"", "max = \"2.4 kg\"")
        .replace("equals = \"120 mm\"\ntolerance = \"1 mm\"", "min = \"11.9 cm\"\nmax = \"121 mm\"")
        .replace("max = \"65 barg\"", "max = \"6500 kPa gauge\"")
        .replace("max = \"95 K\"", "max = \"-178.15 °C\"")
        .replace("Everything a mark covers", "Another title")
        .replace("times\nthe  torque", "times the torque")
        .replace("Not in the mark.", "Another rationale.")
        .replace('\n', "\r\n");
    let project = golden(&restated, "[meop]\nvalue = \"40 barg\"\n");
    assert_eq!(project.model.requirements[0].mark, "m1-a7f866041114");

    let record = RECORD
        .replace("\"91 ± 1 K\"", "\"-182.15 ± 1 degC\"")
        .replace("< 0.01 mL/min", "< 10 mm^3/min")
        .replace("witnessed_by = \"pad chief\"\n", "")
        .replace("serial = ", "# a comment\nwitnessed_by = [\"pad chief\"]\nserial = ")
        .replace("Prose is", "Prose was");
    let files = [("slipmark.toml", PROJECT), ("r.md", record.as_str())];
    assert_eq!(analysed(&files).model.records[0].seal_now, "s1-e80dbfa041f8");
}

/// Each of these is another requirement, or other evidence.
#[test]
fn what_changes_the_evidence_moves_the_mark_or_the_seal() {
    let one = |from: &str, to: &str| {
        assert!(REQUIREMENT.contains(from), "{from}");
        golden(&REQUIREMENT.replace(from, to), MEOP).model.requirements[0].mark.clone()
    };
    for (from, to) in [
        ("min = 0.5", "min = 0.51"),
        ("max = \"95 K\"", "max = \"95.000001 K\""),
        ("65 barg", "65 bara"),
        ("count = 59", "count = 58"),
        ("\"fail-open\"]", "\"open\"]"),
        ("criteria.mass", "criteria.weight"),
        ("at least `1.5`", "at least `1.6`"),
        ("tolerance = \"1 mm\"", "tolerance = \"1.1 mm\""),
    ] {
        assert_ne!(one(from, to), "m1-a7f866041114", "{from} -> {to}");
    }
    let changed = |from: &str, to: &str| {
        assert!(RECORD.contains(from), "{from}");
        let record = RECORD.replace(from, to);
        analysed(&[("slipmark.toml", PROJECT), ("r.md", record.as_str())]).model.records[0].seal_now.clone()
    };
    for (from, to) in [
        ("0.83 ± 0.11", "0.83 ± 0.10"),
        ("0.83 ± 0.11", "0.84 ± 0.11"),
        ("date = 2026-03-14", "date = 2026-03-15"),
        ("SN02", "SN01"),
        ("\"TQ-01\", ", ""),
        ("x = 1   + 2", "x = 1   + 3"),
        ("ABCDEF", "ABCDE0"),
        ("outcome.leak = \"met\"", "outcome.leak = \"not met\""),
        ("m1-5e0c9a41b7d2", "m1-5e0c9a41b7d3"),
    ] {
        assert_ne!(changed(from, to), "s1-e80dbfa041f8", "{from} -> {to}");
    }
}

#[test]
fn the_mark_of_shares_is_frozen() {
    let requirement = "+++\nkind = \"requirement\"\nid = \"R-1\"\ntitle = \"T\"\nsource = \"test\"\n\
        [criteria.share]\nreliability = RELIABILITY\nconfidence = \"90 %\"\n\
        [criteria.strength]\nmin = \"1.5 N·m\"\ncovers = \"99 %\"\nconfidence = 0.95\n+++\nIt shall hold.\n";
    let canonical = "\
slipmark-mark 1\n\
statement It shall hold.\n\
criterion share\n\
reliability 9.50000000000e-1 1\n\
confidence 9.00000000000e-1 1\n\
criterion strength\n\
min 1.50000000000e0 kg^1 m^2 s^-2 torque\n\
covers 9.90000000000e-1 1\n\
confidence 9.50000000000e-1 1\n\
";
    for written in ["\"95 %\"", "0.95", "\"0.950\""] {
        let project = golden(&requirement.replace("RELIABILITY", written), "");
        assert_eq!(mark::canonical(&project.model.requirements[0]), canonical);
        assert_eq!(project.model.requirements[0].mark, "m1-c5e5c083ff80");
    }
    let project = golden(&requirement.replace("RELIABILITY", "\"95.1 %\""), "");
    assert_ne!(project.model.requirements[0].mark, "m1-c5e5c083ff80");
}
