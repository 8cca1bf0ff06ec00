//! Decisions. The rules are those of JCGM 106:2012, clause 8; the cases were worked out in exact decimals. Three of them
//! (V-03, V-05, V-06) come out wrong in binary floating point. V-16 and V-17 are examples of JCGM 106:2012.

use super::super::{Conformity, Limits, Rule, Why, judge};
use super::{measured, quantity, rational};

type Case = (
    &'static str,
    &'static str,
    &'static str,
    Option<&'static str>,
    Option<&'static str>,
    &'static str,
    &'static str,
    &'static str,
    Option<f64>,
);

/// (id, y, U, min, max, simple, guarded, margin, margin in U)
const CASES: [Case; 24] = [
    ("V-01", "0.83", "0.11", Some("0.5"), None, "met", "met", "0.33", Some(3.0)),
    ("V-02", "0.55", "0.11", Some("0.5"), None, "met", "inconclusive", "0.05", Some(0.45454545454545453)),
    ("V-03", "0.61", "0.11", Some("0.5"), None, "met", "met", "0.11", Some(1.0)),
    ("V-04", "0.5", "0.11", Some("0.5"), None, "met", "inconclusive", "0", Some(0.0)),
    ("V-05", "0.39", "0.11", Some("0.5"), None, "not met", "not met", "-0.11", Some(-1.0)),
    ("V-06", "0.2", "0.1", None, Some("0.3"), "met", "met", "0.1", Some(1.0)),
    ("V-07", "0.45", "0.11", Some("0.5"), None, "not met", "inconclusive", "-0.05", Some(-0.45454545454545453)),
    ("V-08", "0.38", "0.11", Some("0.5"), None, "not met", "not met", "-0.12", Some(-1.0909090909090908)),
    ("V-09", "4.2", "0.2", Some("4"), Some("4.5"), "met", "met", "0.2", Some(1.0)),
    ("V-10", "4.4", "0.2", Some("4"), Some("4.5"), "met", "inconclusive", "0.1", Some(0.5)),
    ("V-11", "4.25", "0.25", Some("4"), Some("4.5"), "met", "met", "0.25", Some(1.0)),
    ("V-12", "4.26", "0.25", Some("4"), Some("4.5"), "met", "inconclusive", "0.24", Some(0.96)),
    ("V-13", "0.592", "0.11", Some("0.5"), None, "met", "inconclusive", "0.092", Some(0.8363636363636363)),
    ("V-14", "0.59", "0.11", Some("0.5"), None, "met", "inconclusive", "0.09", Some(0.8181818181818182)),
    ("V-15", "0.408", "0.11", Some("0.5"), None, "not met", "inconclusive", "-0.092", Some(-0.8363636363636363)),
    ("V-16", "-5.47", "0.1", None, Some("-5.4"), "met", "inconclusive", "0.07", Some(0.7)),
    ("V-17", "509.7", "17.2", Some("490"), None, "met", "met", "19.7", Some(1.1453488372093024)),
    ("V-18", "14.4", "3.6", Some("12.5"), Some("16.3"), "met", "inconclusive", "1.9", Some(0.5277777777777778)),
    ("V-19", "1", "0", Some("1"), None, "met", "met", "0", None),
    ("V-20", "0.99", "0", Some("1"), None, "not met", "not met", "-0.01", None),
    ("V-21", "0.7", "0.1", None, Some("0.8"), "met", "met", "0.1", Some(1.0)),
    ("V-22", "1.1", "0.1", None, Some("1"), "not met", "not met", "-0.1", Some(-1.0)),
    ("V-23", "0", "0.2", Some("-0.1"), Some("0.1"), "met", "inconclusive", "0.1", Some(0.5)),
    ("V-24", "-0.02", "0.01", None, Some("0"), "met", "met", "0.02", Some(2.0)),
];

fn limits(min: Option<&str>, max: Option<&str>) -> Limits {
    Limits { min: min.map(quantity), max: max.map(quantity) }
}

fn word(decision: &Conformity) -> &'static str {
    match decision {
        Conformity::Met => "met",
        Conformity::NotMet => "not met",
        Conformity::Inconclusive(Why::Straddles) => "inconclusive",
        Conformity::Inconclusive(Why::NoUncertainty) => "no uncertainty",
        Conformity::Inconclusive(Why::BoundUndecided) => "bound undecided",
        Conformity::CannotCompute(_) => "cannot compute",
    }
}

#[test]
fn decisions_are_exact() {
    for (id, y, u, min, max, simple, guarded, distance, in_u) in CASES {
        // The same decision must come out in any unit.
        for unit in ["", " mm", " MPa gauge", " delta_degF"] {
            let with = |text: &str| format!("{text}{unit}");
            let result = measured(&format!("{y} ± {u}{unit}"));
            let limits = limits(min.map(with).as_deref(), max.map(with).as_deref());
            let (decision, margin) = judge(Rule::Simple, &result, &limits, None).expect(id);
            assert_eq!(word(&decision), simple, "{id} simple, in{unit}");
            let (decision, _) = judge(Rule::Guarded, &result, &limits, None).expect(id);
            assert_eq!(word(&decision), guarded, "{id} guarded, in{unit}");
            let margin = margin.expect(id);
            let number = margin.limit.unit.span_from_si(&margin.value);
            assert_eq!(number, rational(distance), "margin of {id}");
            let multiple = margin.multiple_of_u().map(|multiple| multiple.to_f64().expect(id));
            assert_eq!(multiple.is_some(), in_u.is_some(), "margin in U of {id}");
            assert!((multiple.unwrap_or(0.0) - in_u.unwrap_or(0.0)).abs() < 1e-12, "margin in U of {id}");
        }
    }
}

#[test]
fn decisions_hold_across_units_and_coverage_factors() {
    let ambient = quantity("101325 Pa abs");
    for (result, min, max, rule, expected) in [
        ("25.4 mm ± 0 mm", None, Some("1 in"), Rule::Simple, "met"),
        ("1 MPa ± 0 MPa", Some("145 psi"), None, Rule::Simple, "met"),
        ("1 MPa ± 0 MPa", Some("145.04 psi"), None, Rule::Simple, "not met"),
        ("0.83", Some("0.5"), None, Rule::Guarded, "no uncertainty"),
        ("0.83 ± 0.11 (k=1)", Some("0.62"), None, Rule::Guarded, "inconclusive"),
        ("0.83 ± 0.11 (k=2)", Some("0.62"), None, Rule::Guarded, "met"),
        ("0.83 ± 0.11 (k=3)", Some("0.75"), None, Rule::Guarded, "met"),
        ("-183.15 °C ± 0.5 °C (k=2)", None, Some("90 K"), Rule::Guarded, "inconclusive"),
        ("114.0 psia", None, Some("100 psig"), Rule::Simple, "met"),
        ("0.83 ± 0.11", Some("0.5"), None, Rule::Probability, "cannot compute"),
    ] {
        let (decision, _) = judge(rule, &measured(result), &limits(min, max), Some(&ambient)).expect(result);
        assert_eq!(word(&decision), expected, "{result}");
    }
    let without_ambient = judge(Rule::Simple, &measured("114.0 psia"), &limits(None, Some("100 psig")), None);
    assert!(without_ambient.expect_err("no ambient is stated").help.contains("ambient"));
}

#[test]
fn bounds_decide_only_what_they_can() {
    for rule in [Rule::Simple, Rule::Guarded] {
        for (result, min, max, expected) in [
            ("< 1e-6 mbar*L/s", None, Some("1e-6 mbar*L/s"), "met"),
            ("< 1e-7 Pa·m^3/s", None, Some("1e-6 mbar*L/s"), "met"),
            ("< 1.1e-6 mbar*L/s", None, Some("1e-6 mbar*L/s"), "bound undecided"),
            ("> 5 MPa", Some("5 MPa"), None, "met"),
            (">= 4.9 MPa", Some("5 MPa"), None, "bound undecided"),
            ("< 4 MPa", Some("1 MPa"), Some("5 MPa"), "bound undecided"),
            ("> 4 MPa", Some("1 MPa"), Some("5 MPa"), "bound undecided"),
            ("< 4 MPa", Some("5 MPa"), None, "bound undecided"),
            ("> 6 MPa", None, Some("5 MPa"), "bound undecided"),
        ] {
            let (decision, margin) = judge(rule, &measured(result), &limits(min, max), None).expect(result);
            assert_eq!(word(&decision), expected, "{result}");
            assert_eq!(margin.is_some(), expected == "met", "{result}");
            assert!(margin.is_none_or(|margin| margin.at_least && margin.show().starts_with("at least")), "{result}");
        }
    }
}

#[test]
fn nothing_is_met_without_a_limit() {
    let (decision, margin) = judge(Rule::Simple, &measured("1"), &Limits::default(), None).expect("no error");
    assert_eq!((word(&decision), margin), ("cannot compute", None));
}

#[test]
fn margins_are_shown_in_the_unit_of_the_limit() {
    for (result, min, max, shown) in [
        ("0.83 ± 0.11", Some("0.5"), None, "0.33 (66 % of the limit, 3.0 U)"),
        ("0.39 ± 0.11", Some("0.5"), None, "-0.11 (-22 % of the limit, -1.0 U)"),
        ("-0.02 ± 0.01", None, Some("0"), "0.02 (2.0 U)"),
        ("1 MPa", None, Some("145.04 psi"), "0.00226227 psi (0.00156 % of the limit)"),
        ("91 ± 1 K", None, Some("95 K"), "4 K (4.21 % of the limit, 4.0 U)"),
        ("20 degC", None, Some("25 degC"), "5 degC"),
        ("6 MPa gauge", None, Some("6.2 MPa gauge"), "0.2 MPa (3.23 % of the limit)"),
        // Just under one U must not be shown as one.
        ("0.60999 ± 0.11", Some("0.5"), None, "0.10999 (22 % of the limit, 0.99 U)"),
    ] {
        let (_, margin) = judge(Rule::Simple, &measured(result), &limits(min, max), None).expect(result);
        let margin = margin.expect(result);
        assert_eq!(margin.show(), shown, "{result}");
    }
}

#[test]
fn a_value_with_a_tolerance_is_a_pair_of_limits() {
    for (equals, tolerance, min, max) in [
        ("20 degC", "2 degC", "18 degC", "22 degC"),
        ("20 degC", "2 K", "18 degC", "22 degC"),
        ("20 degC", "3.6 delta_degF", "18 degC", "22 degC"),
        ("24 V", "5 %", "22.8 V", "25.2 V"),
        ("-24 V", "5 %", "-25.2 V", "-22.8 V"),
        ("6 MPa gauge", "0.2 MPa", "5.8 MPa gauge", "6.2 MPa gauge"),
        ("10", "0.5", "9.5", "10.5"),
        ("1 in", "0.254 mm", "0.99 in", "1.01 in"),
    ] {
        let made = Limits::around(&quantity(equals), &quantity(tolerance)).expect(equals);
        for (made, written) in [(made.min, min), (made.max, max)] {
            let made = made.expect(equals);
            assert_eq!(made.canonical(), quantity(written).canonical(), "{equals} ± {tolerance}");
            assert_eq!(made.show(), written);
        }
    }
    for (equals, tolerance, message) in [
        ("50 %", "2 %", "two ways"),
        ("20 degC", "2 %", "two ways"),
        ("24 V", "2 A", "electric current"),
        ("24 V", "-2 V", "not negative"),
        ("1 N·m", "0.1 J", "an energy"),
    ] {
        let error = Limits::around(&quantity(equals), &quantity(tolerance)).expect_err(equals);
        assert!(error.message.contains(message), "{equals} ± {tolerance}: {}", error.message);
    }
}

#[test]
fn limits_that_no_value_can_meet_are_found() {
    let error = limits(Some("5 MPa"), Some("4 MPa")).check(None).expect_err("the limits are swapped");
    assert!(error.help.contains("swap"), "{}", error.help);
    assert!(limits(Some("5 MPa"), Some("4 N")).check(None).is_err());
    assert!(limits(Some("1 in"), Some("25.4 mm")).check(None).is_ok());
    // V-18: a range of 3.8 is narrower than 2U = 7.2; V-11: both guards touch.
    assert_eq!(limits(Some("12.5"), Some("16.3")).leave_room_for(&rational("3.6"), None), Ok(false));
    assert_eq!(limits(Some("4"), Some("4.5")).leave_room_for(&rational("0.25"), None), Ok(true));
    assert_eq!(limits(Some("4"), None).leave_room_for(&rational("9"), None), Ok(true));
}
