//! The rules against their sentences, in `tests/wording/`.

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;

use super::*;

const PATTERNS: &str = include_str!("../../../tests/wording/patterns.toml");
const CASES: &str = include_str!("../../../tests/wording/cases.toml");

/// Rules about the project around a statement; all others look at its text alone.
const PROJECT: &[&str] =
    &["limit-not-in-statement", "near-duplicate", "no-rationale", "nothing-it-applies-to", "number-without-criterion"];

/// The ids of the project in which the sentences are.
const IDS: &[&str] = &["MOV", "MOV-ACT", "MOV/SN02", "PT-01", "PT-02", "TC-04", "XV-2", "TP-03", "AN-003"];

#[derive(serde::Deserialize)]
struct Patterns {
    wording: Vec<Pattern>,
}

#[derive(serde::Deserialize)]
struct Pattern {
    check: String,
    bad: String,
    good: String,
}

#[derive(serde::Deserialize)]
struct Cases {
    case: Vec<Case>,
}

#[derive(serde::Deserialize)]
struct Case {
    check: String,
    #[serde(default)]
    fires: Vec<String>,
    #[serde(default)]
    silent: Vec<String>,
}

fn glossary() -> Glossary {
    let mut glossary = Glossary::new();
    for term in ["actuator", "main oxidizer valve", "solenoid", "cold soak"] {
        glossary.add_term(term);
    }
    glossary.add_abbreviation("TVC");
    glossary
}

/// A requirement that lacks nothing but what its statement lacks.
fn complete(glossary: &Glossary) -> Context<'_> {
    Context {
        glossary,
        ids: &|text| IDS.contains(&text),
        has_target: true,
        rationale: Some("Static friction of the seat rises when cold."),
        limits: &[],
        conditions: &[],
        parameters: &[],
    }
}

/// The codes that a statement gives by its text alone.
fn textual(statement: &str) -> BTreeSet<&'static str> {
    let glossary = glossary();
    let hits = examine(statement, &complete(&glossary));
    hits.into_iter().map(|hit| hit.code).filter(|code| !PROJECT.contains(code)).collect()
}

/// The bad and the good sentence of a rule.
fn example(rule: &crate::diag::CodeEntry) -> (&'static str, &'static str) {
    let example = rule.example.as_ref().unwrap();
    (example.bad, example.good)
}

fn listed(code: &str) -> bool {
    NOTES.iter().any(|rule| rule.code == code)
}

#[test]
fn the_table_is_sorted_complete_and_the_one_of_the_sentences() {
    assert_eq!(NOTES.len(), 57);
    assert!(NOTES.windows(2).all(|pair| pair[0].code < pair[1].code));
    let patterns: Patterns = toml::from_str(PATTERNS).unwrap();
    let sentences: BTreeMap<&str, (&str, &str)> =
        patterns.wording.iter().map(|p| (p.check.as_str(), (p.bad.as_str(), p.good.as_str()))).collect();
    let table: BTreeMap<&str, (&str, &str)> = NOTES.iter().map(|rule| (rule.code, example(rule))).collect();
    assert_eq!(table, sentences);
    for rule in NOTES {
        assert!(!rule.summary.contains('\n') && !rule.summary.ends_with('.'), "{}", rule.code);
        assert!(rule.why.ends_with('.') && !rule.help.ends_with('.') && !rule.source.is_empty(), "{}", rule.code);
        assert!(rule.help.starts_with(char::is_lowercase), "{}", rule.code);
    }
}

#[test]
fn every_rule_of_the_text_fires_on_its_bad_sentence() {
    for rule in NOTES.iter().filter(|rule| !PROJECT.contains(&rule.code)) {
        let fired = textual(example(rule).0);
        assert!(fired.contains(rule.code), "{} does not fire on {:?}: {fired:?}", rule.code, example(rule).0);
    }
}

#[test]
fn no_rule_of_the_text_fires_on_a_good_sentence() {
    let mut wrong = Vec::new();
    for rule in NOTES.iter().filter(|rule| !PROJECT.contains(&rule.code)) {
        let fired = textual(example(rule).1);
        if !fired.is_empty() {
            wrong.push(format!("{:?}: {fired:?}", example(rule).1));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn cases_fire_and_stay_silent() {
    let cases: Cases = toml::from_str(CASES).unwrap();
    let mut wrong = Vec::new();
    for case in &cases.case {
        assert!(listed(&case.check), "{} is no rule", case.check);
        for statement in &case.fires {
            if !textual(statement).contains(case.check.as_str()) {
                wrong.push(format!("{} misses {statement:?}", case.check));
            }
        }
        for statement in &case.silent {
            if textual(statement).contains(case.check.as_str()) {
                wrong.push(format!("{} fires on {statement:?}", case.check));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    let silent: usize = cases.case.iter().map(|case| case.silent.len()).sum();
    assert!(silent >= 60, "{silent} sentences that must stay silent are too few");
}

#[test]
fn every_hit_of_the_cases_is_of_the_table_and_quotes_its_range() {
    let cases: Cases = toml::from_str(CASES).unwrap();
    let glossary = glossary();
    for statement in cases.case.iter().flat_map(|case| case.fires.iter().chain(&case.silent)) {
        let hits = examine(statement, &complete(&glossary));
        assert!(hits.windows(2).all(|pair| (pair[0].range.start, pair[0].code) <= (pair[1].range.start, pair[1].code)));
        for hit in hits {
            assert!(listed(hit.code), "{} is no rule", hit.code);
            assert!(statement.get(hit.range.clone()).is_some(), "{hit:?}");
        }
    }
}

/// The rules about the project, each in the situation that its texts in brackets describe.
#[test]
fn rules_of_the_project_fire_in_their_situation_only() {
    let glossary = glossary();
    let whole = complete(&glossary);
    let fires =
        |statement: &str, context: &Context, code: &str| examine(statement, context).iter().any(|hit| hit.code == code);
    let statement = "The valve shall close within 2 s.";

    assert!(fires(statement, &Context { has_target: false, ..whole }, "nothing-it-applies-to"));
    assert!(!fires(statement, &whole, "nothing-it-applies-to"));
    for rationale in [None, Some(""), Some("See AN-003.")] {
        assert!(fires(statement, &Context { rationale, ..whole }, "no-rationale"));
    }
    assert!(!fires(statement, &whole, "no-rationale"));

    let limits = ["1.5 s".to_string()];
    let limited = Context { limits: &limits, ..whole };
    assert!(fires("The valve shall close in at most 2 s.", &limited, "limit-not-in-statement"));
    assert!(!fires("The valve shall close in at most 1.5 s.", &limited, "limit-not-in-statement"));

    let (time, supply) = (["2 s".to_string()], ["20 V".to_string()]);
    let timed = Context { limits: &time, ..whole };
    assert!(fires("The valve shall close within 2 s at 20 V.", &timed, "number-without-criterion"));
    assert!(!fires(
        "The valve shall close within 2 s at 20 V.",
        &Context { conditions: &supply, ..timed },
        "number-without-criterion"
    ));

    let near = ["The valve shall close within 2 s.", "The valve shall be closed within 2 s."];
    assert_eq!(near_duplicates(&[(0, near[0]), (1, near[1])]), [(0, 1)]);
}

#[test]
fn limits_are_compared_leniently() {
    let glossary = glossary();
    let missing = |statement: &str, limit: &str| {
        let limits = [limit.to_string()];
        let context = Context { limits: &limits, ..complete(&glossary) };
        examine(statement, &context).iter().any(|hit| hit.code == "limit-not-in-statement")
    };
    for (statement, limit) in [
        ("The valve shall close within 1500 ms.", "1.5 s"),
        ("The stem torque shall be at most 18 in-lbf.", "2.03 N·m"),
        ("The body shall stay below -183.15 °C.", "90 K"),
        ("The travel shall be at least 50 %.", "0.5"),
        ("The actuator shall develop at least 1.5 times the torque required.", "0.5"),
        ("The body shall withstand three cycles.", "3"),
        ("The seat shall show no bubble in 60 s.", "0"),
        ("The stem extension shall be 120 mm +/- 1 mm long.", "119 mm"),
        ("The shell shall withstand proof pressure.", "1.5 * meop"),
        ("The seat leakage shall be at most 1×10⁻⁴ mbar·L/s.", "1e-4 mbar*L/s"),
        ("The seat leakage shall be at most 1 x 10^-4 mbar*L/s.", "1e-4 mbar*L/s"),
        ("The cavity shall hold 1,200 kPa gauge.", "1.2 MPa gauge"),
    ] {
        assert!(!missing(statement, limit), "{limit} is in {statement:?}");
    }
    for (statement, limit) in [
        ("The valve shall close within 1500 ms.", "2 s"),
        ("The body shall stay below 95 K.", "90 K"),
        ("The shell shall withstand proof pressure.", "6.0 MPa"),
        ("The travel shall be at least 50 %.", "0.6"),
    ] {
        assert!(missing(statement, limit), "{limit} is not in {statement:?}");
    }
}

#[test]
fn a_near_word_of_the_glossary_is_offered() {
    let glossary = glossary();
    let offered = |statement: &str| {
        let hits = examine(statement, &complete(&glossary));
        hits.into_iter()
            .find(|hit| hit.code == "misspelt-word")
            .map(|hit| (hit.found, hit.suggestion.unwrap_or_default()))
    };
    let pair = |found: &str, right: &str| Some((found.to_string(), right.to_string()));
    assert_eq!(offered("The solnoid shall open within 2 s."), pair("solnoid", "solenoid"));
    assert_eq!(offered("The Seperate valve shall open within 2 s."), pair("Seperate", "separate"));
    assert_eq!(offered("The actuators shall actuate the solenoids within 2 s."), None);
}

#[test]
fn ranges_are_those_of_the_words() {
    let statement = "Die Ventile – µm: the valve shall close quickly.";
    let glossary = glossary();
    let hit = examine(statement, &complete(&glossary)).into_iter().find(|hit| hit.code == "vague-adverb").unwrap();
    assert_eq!((&statement[hit.range], hit.found.as_str()), ("quickly", "quickly"));

    let hits = examine("The dew point shall be at most -60 °C.", &complete(&glossary));
    assert!(hits.iter().any(|hit| hit.code == "number-without-criterion" && hit.found == "-60 °C"), "{hits:?}");
}

proptest! {
    #[test]
    fn any_text_is_taken(statement in "\\PC{0,200}|[ -~\n]{0,300}|(shall|the|no|0|1,2|[.,()<>`*_\\[\\]/ –µ²\n-]|and|or|if|MPa|ISO|between|from| ){0,80}") {
        let glossary = glossary();
        let limits = [statement.clone()];
        let context = Context { limits: &limits, conditions: &limits, ..complete(&glossary) };
        for hit in examine(&statement, &context) {
            prop_assert!(statement.get(hit.range.clone()).is_some(), "{:?}", hit);
            prop_assert!(listed(hit.code));
            prop_assert!(hit.found.len() <= 130);
        }
        near_duplicates(&[(0, &statement), (1, &statement)]);
    }
}
