//! What a change of each sort is told as; and that the way back is told as the way back.

use super::Stand;
use crate::history::{Change, CriterionChange, KeyChange};

const R_1: &str = "requirements/R-1.md";
const R_2: &str = "requirements/R-2.md";

/// One way in which a criterion differs: `name direction; side direction from → to; …`.
fn criterion(it: &CriterionChange) -> String {
    let text = |value: &Option<String>| value.clone().unwrap_or_else(|| "-".into());
    let sides = it
        .sides
        .iter()
        .map(|side| format!("; {} {} {} → {}", side.side, side.direction.word(), text(&side.from), text(&side.to)));
    let was = it.was.iter().map(|was| format!("; was {was}"));
    let elsewhere = it.elsewhere.iter().map(|id| format!("; {id}"));
    format!("{} {}{}", it.name, it.direction.word(), sides.chain(was).chain(elsewhere).collect::<String>())
}

/// Everything that is told of a change, its kind first.
fn said(change: &Change) -> Vec<String> {
    let between = &change.between;
    let mut said = vec![format!("{} {}", change.id, between.kind.word())];
    said.extend(between.statement.as_ref().map(|_| "statement".to_string()));
    said.extend(between.criteria.iter().map(criterion));
    said.extend(between.reach.iter().chain(&between.plan).cloned());
    said.extend(between.keys.iter().map(KeyChange::show));
    said.extend(between.reworded());
    said
}

/// Makes one change in a file; what is told of it, and of its reverse.
#[track_caller]
fn told(path: &str, from: &str, to: &str) -> (Vec<String>, Vec<String>) {
    let stand = Stand::committed();
    stand.edit(path, from, to).0.commit("Change");
    let one = |asked: &str| stand.changes(Some(asked), None).list.iter().flat_map(said).collect();
    (one("HEAD~1..HEAD"), one("HEAD..HEAD~1"))
}

#[track_caller]
fn tells(path: &str, from: &str, to: &str, there: &[&str], back: &[&str]) {
    assert_eq!(told(path, from, to), (owned(there), owned(back)), "{from} → {to}");
}

fn owned(list: &[&str]) -> Vec<String> {
    list.iter().map(|it| (*it).to_string()).collect()
}

#[test]
fn each_side_of_a_limit_is_told() {
    tells(
        R_1,
        "max = \"25.4 mm\"",
        "min = \"1 mm\"\nmax = \"30 mm\"",
        &["R-1 revised", "gap changed; min tightened - → 1 mm; max relaxed 25.4 mm → 30 mm"],
        &["R-1 revised", "gap changed; min relaxed 1 mm → -; max tightened 30 mm → 25.4 mm"],
    );
    tells(
        R_1,
        "max = \"25.4 mm\"",
        "equals = \"25 mm\"\ntolerance = \"1 mm\"",
        &["R-1 revised", "gap changed; min tightened - → 24 mm; max relaxed 25.4 mm → 26 mm"],
        &["R-1 revised", "gap changed; min relaxed 24 mm → -; max tightened 26 mm → 25.4 mm"],
    );
    tells(
        R_2,
        "1.5 * meop",
        "1.6 * meop",
        &["R-2 revised", "value tightened; min tightened 6 MPa gauge → 6.4 MPa gauge"],
        &["R-2 revised", "value relaxed; min relaxed 6.4 MPa gauge → 6 MPa gauge"],
    );
}

#[test]
fn what_is_accepted_counted_or_shown_by_many_is_told() {
    tells(
        R_1,
        "expect = [\"tight\"]",
        "expect = [\"tight\", \"weeping\"]",
        &["R-1 revised", "state relaxed; expect relaxed - → weeping"],
        &["R-1 revised", "state tightened; expect tightened weeping → -"],
    );
    tells(
        R_1,
        "expect = [\"tight\"]",
        "expect = [\"dry\"]",
        &["R-1 revised", "state changed; expect tightened tight → -; expect relaxed - → dry"],
        &["R-1 revised", "state changed; expect tightened dry → -; expect relaxed - → tight"],
    );
    tells(
        R_1,
        "count = 10",
        "count = 12",
        &["R-1 revised", "strokes tightened; count tightened 10 → 12"],
        &["R-1 revised", "strokes relaxed; count relaxed 12 → 10"],
    );
    let stand = Stand::committed();
    stand.edit(R_1, "count = 10", "reliability = \"90 %\"\nconfidence = \"90 %\"").0.commit("Ask for trials");
    stand.edit(R_1, "reliability = \"90 %\"", "reliability = \"95 %\"").edit(
        R_1,
        "confidence = \"90 %\"",
        "confidence = \"80 %\"",
    );
    stand.0.commit("Other shares");
    let list = stand.changes(Some("HEAD~1..HEAD"), None).list;
    let expected =
        ["R-1 revised", "strokes changed; reliability tightened 90 % → 95 %; confidence relaxed 90 % → 80 %"];
    assert_eq!(said(&list[0]), expected);
    let list = stand.changes(Some("HEAD~2..HEAD~1"), None).list;
    assert_eq!(said(&list[0]), ["R-1 revised", "strokes changed"], "a count cannot be compared with a share");
}

#[test]
fn conditions_are_told() {
    tells(
        R_1,
        "max = \"95 K\" }",
        "max = \"90 K\" }",
        &["R-1 revised", "margin changed; at body changed 80 K to 95 K → 80 K to 90 K"],
        &["R-1 revised", "margin changed; at body changed 80 K to 90 K → 80 K to 95 K"],
    );
    tells(
        R_1,
        "at.body = { min = \"80 K\", max = \"95 K\" }\n",
        "",
        &["R-1 revised", "margin changed; at body changed 80 K to 95 K → -"],
        &["R-1 revised", "margin changed; at body changed - → 80 K to 95 K"],
    );
}

#[test]
fn a_criterion_with_another_name_is_the_same_one() {
    let stand = Stand::committed();
    stand.edit(R_1, "[criteria.gap]", "[criteria.play]").edit(R_1, "\"gap\", ", "\"play\", ").0.commit("Rename");
    let list = stand.changes(Some("HEAD~1..HEAD"), None).list;
    assert!(said(&list[0]).contains(&"play changed; was gap".to_string()), "{:?}", said(&list[0]));
}

#[test]
fn a_criterion_that_went_to_another_requirement_is_traced() {
    let stand = Stand::committed();
    stand.edit(R_1, "[criteria.gap]\nmax = \"25.4 mm\"\n", "").edit(R_1, "\"gap\", ", "").edit(
        R_2,
        "min = \"1.5 * meop\"\n",
        "[criteria.proof]\nmin = \"1.5 * meop\"\n[criteria.gap]\nmax = \"25.4 mm\"\n",
    );
    stand.0.commit("Split");
    let list = stand.changes(Some("HEAD~1..HEAD"), None).list;
    assert!(said(&list[0]).contains(&"gap removed; R-2".to_string()), "{:?}", said(&list[0]));
    assert!(said(&list[1]).contains(&"gap added; R-1".to_string()), "{:?}", said(&list[1]));
    assert!(said(&list[1]).contains(&"proof changed; was value".to_string()), "{:?}", said(&list[1]));
}

#[test]
fn reach_parents_status_title_and_rationale_are_told() {
    tells(
        R_1,
        "applies_to = [\"MOV\", \"PRG\"]",
        "applies_to = [\"MOV\"]",
        &["R-1 revised", "no longer applies to PRG"],
        &["R-1 revised", "applies to PRG too"],
    );
    tells(
        R_1,
        "safety = true\n",
        "",
        &["R-1 revised", "no longer marked as safety"],
        &["R-1 revised", "marked as safety"],
    );
    tells(
        R_1,
        "source = \"S\"",
        "parents = [\"R-3\"]",
        &["R-1 revised", "parent R-3 added", "source removed: S"],
        &["R-1 revised", "parent R-3 removed", "source added: S"],
    );
    tells(
        R_1,
        "safety = true",
        "safety = true\nstatus = \"draft\"",
        &["R-1 revised", "draft instead of active"],
        &["R-1 revised", "active instead of draft"],
    );
    tells(
        R_1,
        "title = \"Torque margin\"",
        "title = \"Margin\"",
        &["R-1 cosmetic", "title: Torque margin → Margin"],
        &["R-1 cosmetic", "title: Margin → Torque margin"],
    );
    let rationale = "at 95 K.\n\n## Rationale\n\nBecause.\n";
    tells(
        R_1,
        "at 95 K.\n",
        rationale,
        &["R-1 cosmetic", "rationale reworded"],
        &["R-1 cosmetic", "rationale reworded"],
    );
    tells(R_1, "at 95 K.\n", "at\n95 K.\n", &["R-1 cosmetic"], &["R-1 cosmetic"]);
}

#[test]
fn plans_are_told() {
    tells(
        R_1,
        "procedure = \"TP-1\"\nbefore = \"leak-check\"",
        "procedure = \"TP-1\"\nbefore = \"cold-flow\"",
        &["R-1 plan", "acceptance test TP-1: due before cold-flow instead of leak-check, which is later"],
        &["R-1 plan", "acceptance test TP-1: due before leak-check instead of cold-flow, which is earlier"],
    );
    tells(
        R_2,
        "on = \"each\"",
        "on = \"one\"",
        &["R-2 plan", "test TP-2: on one piece instead of each piece"],
        &["R-2 plan", "test TP-2: on each piece instead of one piece"],
    );
}

#[test]
fn everything_else_is_told_key_by_key() {
    let cases: &[(&str, &str, &str, &[&str])] = &[
        ("items/MOV.md", "revision = \"B\"\n[[rev", "revision = \"C\"\n[[rev", &["MOV revised", "revision: B → C"]),
        (
            "items/MOV.md",
            "number = \"SN02\"",
            "number = \"SN02\"\nuse = \"spare\"",
            &["MOV revised", "serials.SN02.use added: spare"],
        ),
        ("procedures/TP-1.md", "revision = \"2\"", "revision = \"3\"", &["TP-1 revised", "revision: 2 → 3"]),
        ("procedures/TP-1.md", "unit = \"mm\"", "unit = \"in\"", &["TP-1 revised", "fields.gap.unit: mm → in"]),
        (
            "procedures/TP-1.md",
            "[[fields]]",
            "[[steps]]\nname = \"Fill\"\ntext = \"Fill it.\"\n[[fields]]",
            &["TP-1 revised", "steps added: Fill.text = Fill it."],
        ),
        (
            "departures/NC-1.md",
            "before = \"leak-check\"",
            "status = \"dispositioned\"\nbefore = \"leak-check\"",
            &["NC-1 revised", "status added: dispositioned"],
        ),
        (
            "departures/W-1.md",
            "4.5 MPa gauge",
            "4.2 MPa gauge",
            &["W-1 revised", "accepts.value.min: 4.5 MPa gauge → 4.2 MPa gauge"],
        ),
        ("records/TR-1.md", "Notes.", "Other notes.", &["TR-1 revised", "text reworded"]),
        (
            "instruments.toml",
            "due = 2027-01-10",
            "due = 2026-07-10",
            &["PT-01 revised", "calibrations.2026-01-10.due: 2027-01-10 → 2026-07-10"],
        ),
        (
            "slipmark.toml",
            "rule = \"guarded\"",
            "rule = \"simple\"",
            &["slipmark.toml revised", "conformity.rule: guarded → simple"],
        ),
    ];
    for (path, from, to, expected) in cases {
        assert_eq!(told(path, from, to).0, owned(expected), "{path}: {from} → {to}");
    }
    let stand = Stand::committed();
    let decision =
        "+++\nkind = \"decision\"\nid = \"D-1\"\ntitle = \"More\"\ndate = 2026-03-01\nrevises = [\"R-1\"]\n+++\nWhy.\n";
    stand.0.write("D-1.md", decision).commit("Decide");
    stand.edit("D-1.md", "revises = [\"R-1\"]", "revises = [\"R-1\", \"R-2\"]").0.commit("Widen");
    assert_eq!(said(&stand.changes(Some("HEAD~1..HEAD"), None).list[0]), ["D-1 revised", "revises: R-1 → R-1, R-2"]);
}

#[test]
fn a_long_text_is_told_word_by_word() {
    let stand = Stand::committed();
    let step = |limit: &str| {
        format!(
            "[[steps]]\nname = \"Fill\"\ntext = \"Fill it from below, then raise the pressure to {limit} MPa gauge and hold for a minute.\"\n[[fields]]"
        )
    };
    stand.edit("procedures/TP-1.md", "[[fields]]", &step("1")).0.commit("One");
    stand.edit("procedures/TP-1.md", "to 1 MPa", "to 2 MPa").0.commit("Two");
    let told = said(&stand.changes(Some("HEAD~1..HEAD"), None).list[0]);
    assert_eq!(told[1], "steps.Fill.text: … raise the pressure to [-1 MPa-] {+2 MPa+} gauge and hold for …");
}

#[test]
fn evidence_that_slipped_is_held_against_what_is_asked_now() {
    for (limit, result, fares, anew) in [
        ("1.2 * meop", "5 ± 0.1 MPa gauge", "met", false),
        ("1.6 * meop", "5 ± 0.1 MPa gauge", "not met", true),
        ("1.2 * meop", "4.85 ± 0.1 MPa gauge", "inconclusive", true),
        ("1.2 * meop", "5 MPa gauge", "inconclusive", true),
        ("1.2 * meop", "5 m", "cannot tell", true),
    ] {
        let stand = Stand::committed();
        let mark = stand.analysis().model.requirement("R-2").unwrap().mark.clone();
        let marked = format!("[verifies.R-2]\nmark = \"{mark}\"");
        stand.edit("records/TR-1.md", "[verifies.R-2]", &marked);
        stand.edit(
            "records/TR-1.md",
            "result = \"5 MPa gauge\"\noutcome.value = \"not met\"",
            &format!("result = \"{result}\""),
        );
        stand.0.commit("Mark it");
        stand.edit(R_2, "1.5 * meop", limit).0.commit("Move it");
        let told = stand.changes(Some("HEAD~1..HEAD"), None);
        let evidence = &told.list[0].evidence;
        assert_eq!(evidence.len(), 1, "{limit} {result}");
        assert_eq!((evidence[0].record.as_str(), evidence[0].fares.word()), ("TR-1", fares), "{limit} {result}");
        let rows: Vec<_> = told.redo.iter().flat_map(|it| it.rows.iter().map(move |row| (it, row))).collect();
        let (redo, row) = rows.first().unwrap_or_else(|| panic!("{limit} {result}: nothing is open"));
        assert_eq!((redo.how.as_str(), row.subject.as_str()), ("TP-2", "MOV/SN01"), "{limit} {result}");
        assert_eq!(
            (row.records.as_slice(), row.fares.map(|fares| fares.word()) != Some("met")),
            (&["TR-1".to_string()][..], anew),
            "{limit} {result}"
        );
    }
}
