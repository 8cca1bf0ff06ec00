//! Decisions. The rules are those of JCGM 106:2012, clauses 7 and 8; the tables of cases are in tests/published.

use super::super::{Conformity, Limits, Measured, Quantity, Rational, Rule, Shape, Uncertainty, Why, judge};
use super::{measured, quantity, rational};

fn limits(min: Option<&str>, max: Option<&str>) -> Limits {
    Limits::new(min.map(quantity), max.map(quantity))
}

fn probability(asked: &str) -> Rule {
    Rule::Probability(rational(asked))
}

fn word(decision: &Conformity) -> &'static str {
    match decision {
        Conformity::Met => "met",
        Conformity::NotMet => "not met",
        Conformity::Inconclusive(Why::Straddles) => "inconclusive",
        Conformity::Inconclusive(Why::NoUncertainty) => "no uncertainty",
        Conformity::Inconclusive(Why::BoundUndecided) => "bound undecided",
        Conformity::Inconclusive(Why::TooFewTrials) => "too few trials",
        Conformity::Inconclusive(Why::OnTheLimit) => "on the limit",
        Conformity::CannotCompute(_) => "cannot compute",
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
        ("0.83", Some("0.5"), None, probability("0.95"), "no uncertainty"),
        ("0.5 ± 0", Some("0.5"), None, probability("0.95"), "met"),
        ("25.4 mm ± 0 mm", Some("1.0001 in"), None, probability("0.95"), "not met"),
        ("0.83 ± 0.11", Some("0.5"), None, probability("0.95"), "met"),
    ] {
        let (decision, _) = judge(&rule, &measured(result), &limits(min, max), Some(&ambient)).expect(result);
        assert_eq!(word(&decision), expected, "{result}");
    }
    let without_ambient = judge(&Rule::Simple, &measured("114.0 psia"), &limits(None, Some("100 psig")), None);
    assert!(without_ambient.expect_err("no ambient is stated").help.contains("ambient"));
}

#[test]
fn bounds_decide_only_what_they_can() {
    for rule in [Rule::Simple, Rule::Guarded, probability("0.95")] {
        for (result, min, max, expected) in [
            ("< 1e-6 mbar*L/s", None, Some("1e-6 mbar*L/s"), "met"),
            ("< 1e-7 Pa·m^3/s", None, Some("1e-6 mbar*L/s"), "met"),
            ("< 1.1e-6 mbar*L/s", None, Some("1e-6 mbar*L/s"), "bound undecided"),
            ("> 5 MPa", Some("5 MPa"), None, "met"),
            (">= 4.9 MPa", Some("5 MPa"), None, "bound undecided"),
            ("< 4 MPa", Some("1 MPa"), Some("5 MPa"), "bound undecided"),
            ("> 4 MPa", Some("1 MPa"), Some("5 MPa"), "bound undecided"),
            ("< 6 MPa", Some("5 MPa"), None, "bound undecided"),
            ("> 4 MPa", None, Some("5 MPa"), "bound undecided"),
            ("< 4 MPa", Some("5 MPa"), None, "not met"),
            ("< 5 MPa", Some("5 MPa"), None, "not met"),
            ("> 6 MPa", None, Some("5 MPa"), "not met"),
            ("> 5000 kPa", Some("1 MPa"), Some("5 MPa"), "not met"),
            ("< 1 MPa", Some("1 MPa"), Some("5 MPa"), "not met"),
        ] {
            let (decision, margin) = judge(&rule, &measured(result), &limits(min, max), None).expect(result);
            assert_eq!(word(&decision), expected, "{result}");
            assert_eq!(margin.is_some(), expected == "met", "{result}");
            assert!(margin.is_none_or(|margin| margin.at_least && margin.show().starts_with("at least")), "{result}");
        }
    }
}

#[test]
fn nothing_is_met_without_a_limit() {
    let (decision, margin) = judge(&Rule::Simple, &measured("1"), &Limits::default(), None).expect("no error");
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
        let (_, margin) = judge(&Rule::Simple, &measured(result), &limits(min, max), None).expect(result);
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

/// A result whose uncertainty is spread in a way of its own.
fn spread(value: &str, standard: &str, shape: Shape, freedom: Option<i64>) -> Measured {
    let freedom = freedom.map(|freedom| Rational::from_integer(freedom.into()));
    let uncertainty = Uncertainty { shape, freedom, ..Uncertainty::from_standard(rational(standard)) };
    Measured::Value(Quantity { uncertainty: Some(uncertainty), ..quantity(value) })
}

#[test]
fn the_probability_is_that_of_the_shape() {
    let root = |n: i64| Rational::from_integer(n.into()).square_root().to_f64().unwrap().to_string();
    let (a, b, c) = (root(3), root(6), root(2));
    // Each between −1 and 1 about the value, but the first and the last.
    for (result, min, max, risk) in [
        // JCGM 106:2012, 7.3.3, example 1.
        (spread("-5.47", "0.05", Shape::Normal, None), None, Some("-5.4"), 1.0 - 0.919_243_340_766_227_3),
        // Student's t with 4 degrees of freedom at 2.2 and at 2 (SciPy 1.17.1, six digits).
        (spread("2.2", "1", Shape::Normal, Some(4)), Some("0"), None, 1.0 - 0.953_674),
        (spread("2", "1", Shape::Normal, Some(4)), Some("0"), None, 1.0 - 0.941_942),
        // (a − d)/2a of a rectangle.
        (
            spread("0.5", &(1.0 / a.parse::<f64>().unwrap()).to_string(), Shape::Rectangular, None),
            Some("0"),
            None,
            0.25,
        ),
        (spread("1", &(1.0 / a.parse::<f64>().unwrap()).to_string(), Shape::Rectangular, None), Some("0"), None, 0.0),
        (
            spread("-0.2", &(1.0 / a.parse::<f64>().unwrap()).to_string(), Shape::Rectangular, None),
            Some("0"),
            None,
            0.6,
        ),
        (
            spread("0", &(1.0 / a.parse::<f64>().unwrap()).to_string(), Shape::Rectangular, None),
            Some("-0.5"),
            Some("0.8"),
            0.35,
        ),
        // (a − d)²/2a² of a triangle.
        (
            spread("0.5", &(1.0 / b.parse::<f64>().unwrap()).to_string(), Shape::Triangular, None),
            Some("0"),
            None,
            0.125,
        ),
        (
            spread("-0.5", &(1.0 / b.parse::<f64>().unwrap()).to_string(), Shape::Triangular, None),
            Some("0"),
            None,
            0.875,
        ),
        // A third of a half turn is beyond the half of a swing.
        (
            spread("0.5", &(1.0 / c.parse::<f64>().unwrap()).to_string(), Shape::UShaped, None),
            Some("0"),
            None,
            1.0 / 3.0,
        ),
        (spread("-2", &(1.0 / c.parse::<f64>().unwrap()).to_string(), Shape::UShaped, None), Some("0"), None, 1.0),
    ] {
        let (_, margin) = judge(&Rule::Simple, &result, &limits(min, max), None).unwrap();
        let ours = margin.unwrap().risk.unwrap();
        assert!((ours - risk).abs() < 6e-7, "{result:?}: {ours}, expected {risk}");
    }
    // met with the normal distribution, not decided with few readings.
    let few = spread("2", "1", Shape::Normal, Some(4));
    assert_eq!(word(&judge(&probability("0.95"), &few, &limits(Some("0"), None), None).unwrap().0), "inconclusive");
    let many = spread("2", "1", Shape::Normal, None);
    let (decision, margin) = judge(&probability("0.95"), &many, &limits(Some("0"), None), None).unwrap();
    assert_eq!(word(&decision), "met");
    assert_eq!(margin.unwrap().show(), "2 (1.0 U, 2.3 % risk of being outside)");
}

#[test]
fn what_is_not_exact_decides_nothing_on_the_line() {
    let floating = |text: &str, min: Option<&str>, max: Option<&str>, rule: &Rule| {
        let Measured::Value(mut value) = measured(text) else { panic!("{text}") };
        value.approximate = true;
        word(&judge(rule, &Measured::Value(value), &limits(min, max), None).unwrap().0)
    };
    for (text, min, max, rule, expected) in [
        ("0.61 ± 0.11", Some("0.5"), None, Rule::Guarded, "on the limit"),
        ("0.6100000005 ± 0.11", Some("0.5"), None, Rule::Guarded, "on the limit"),
        ("0.6099999995 ± 0.11", Some("0.5"), None, Rule::Guarded, "on the limit"),
        ("0.610000001 ± 0.11", Some("0.5"), None, Rule::Guarded, "met"),
        ("0.609999999 ± 0.11", Some("0.5"), None, Rule::Guarded, "inconclusive"),
        ("0.39 ± 0.11", Some("0.5"), None, Rule::Guarded, "on the limit"),
        ("0.389999999 ± 0.11", Some("0.5"), None, Rule::Guarded, "not met"),
        ("0.4 ± 0.1", Some("0.2"), Some("0.5"), Rule::Guarded, "on the limit"),
        ("0.5", Some("0.5"), None, Rule::Simple, "on the limit"),
        ("0.500000001", Some("0.5"), None, Rule::Simple, "met"),
        ("0.499999999", Some("0.5"), None, Rule::Simple, "not met"),
        ("100 ± 0 N·m", None, Some("100 N·m"), probability("0.95"), "on the limit"),
    ] {
        assert_eq!(floating(text, min, max, &rule), expected, "{text} under {rule:?}");
    }
    // The same numbers as people wrote them are exact.
    let exact = judge(&Rule::Guarded, &measured("0.61 ± 0.11"), &limits(Some("0.5"), None), None).unwrap();
    assert_eq!(word(&exact.0), "met");
    let bound = |approximate: bool| {
        let Measured::Below(mut value) = measured("< 1e-6 mbar*L/s") else { panic!() };
        value.approximate = approximate;
        let limits = limits(None, Some("1e-6 mbar*L/s"));
        word(&judge(&Rule::Guarded, &Measured::Below(value), &limits, None).unwrap().0)
    };
    assert_eq!((bound(false), bound(true)), ("met", "on the limit"));
    // A probability is worked out in floating point whatever it is of: Φ(2) is 0.977249868051820792799….
    let just = measured("0.61 ± 0.11");
    for (asked, expected) in
        [("0.9772498680518208", "on the limit"), ("0.977249867", "met"), ("0.9772498695", "inconclusive")]
    {
        let decision = judge(&probability(asked), &just, &limits(Some("0.5"), None), None).unwrap().0;
        assert_eq!(word(&decision), expected, "{asked}");
    }
}

/// To no more digits than the uncertainty beside it, never to none where there is a distance, and never padded (GUM 7.2.6).
#[test]
fn a_margin_has_the_digits_of_its_uncertainty() {
    for (result, min, shown) in [
        ("0.872584 ± 0.20", "0.5", "0.37"),
        ("0.872584 ± 0.125", "0.5", "0.373"),
        ("127.696 ± 3.4", "100", "27.7"),
        ("185 ± 1 s", "180 s", "5 s"),
        ("6.08 ± 0.02 MPa", "6.3 MPa", "-0.22 MPa"),
        ("0.60999 ± 0.11", "0.5", "0.10999"),
        ("0.61001 ± 0.11", "0.5", "0.11001"),
        ("100.0043 ± 2", "100", "0.004"),
        ("99.9957 ± 2", "100", "-0.004"),
        ("0.872584", "0.5", "0.372584"),
        ("0.5 ± 0.1", "0.5", "0"),
        ("0.0000123456 ± 0.000001", "0", "1.23e-5"),
    ] {
        let (_, margin) = judge(&Rule::Simple, &measured(result), &limits(Some(min), None), None).unwrap();
        assert_eq!(margin.unwrap().in_unit(), shown, "{result} beside {min}");
    }
}

#[test]
fn no_risk_is_said_to_be_none_or_certain() {
    let margin =
        |result: &str| judge(&Rule::Simple, &measured(result), &limits(Some("0"), None), None).unwrap().1.unwrap();
    assert_eq!(margin("1000 ± 1").show_risk().as_deref(), Some("less than 0.01 %"));
    assert_eq!(margin("1000 ± 1").in_u().as_deref(), Some("1000 U"));
    assert_eq!(margin("3049.8 ± 1").in_u().as_deref(), Some("3000 U"));
    assert_eq!(margin("-1000 ± 1").show_risk().as_deref(), Some("more than 99.9 %"));
    assert_eq!(margin("2 ± 2").show_risk().as_deref(), Some("2.3 %"));
    let tried = |outside: f64| margin("2 ± 2").with_trials(outside, 20_480);
    assert_eq!(tried(0.0).show_risk().as_deref(), Some("less than 1 in 20480"));
    assert_eq!(tried(0.0).risk_number(), None);
    assert_eq!(tried(0.0046).show_risk().as_deref(), Some("0.46 %"));
    assert_eq!(tried(0.0046).risk_number(), Some(0.0046));
    // What a probability decided is told as it decided.
    let decided = judge(&probability("0.95"), &measured("2 ± 2"), &limits(Some("0"), None), None).unwrap().1.unwrap();
    assert_eq!(decided.clone().with_trials(0.1, 100), decided);
}
