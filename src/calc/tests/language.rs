//! What the language means, and what its errors point at.

use super::*;
use crate::calc::Value;
use crate::quantity::{Rational, Shape, Unit};

fn shown(text: &str) -> String {
    worked(text, &Inputs::default()).precise()
}

#[test]
fn precedence_and_order() {
    for (text, result) in [
        ("2 + 3 * 4", "14"),
        ("(2 + 3) * 4", "20"),
        ("-2^2", "-4"),
        ("(-2)^2", "4"),
        ("2^-1", "0.5"),
        ("2^3^2", "512"),
        ("10 - 4 - 3", "3"),
        ("1 / 2 s to s^-1", "0.5 s^-1"),
        ("x = y + 1; y = 2; x", "3"),
        ("x = (1 +\n 2)\ny = 3 # three\nx * y", "9"),
        ("if 1 m > 2 ft then 3 s else 4 s", "3 s"),
        ("if 2 > 1 and not (1 > 2) then 1 else sqrt(-1)", "1"),
        ("if 1 > 2 then 1 else if 2 > 1 then 2 else 3", "2"),
        ("max([1 m, 300 cm, 2 m]) to cm", "300 cm"),
        ("sum(1, 2, [3, 4])", "10"),
        ("mean(20 degC, 30 degC)", "25 degC"),
        ("median(1, 5, 2, 4)", "3"),
        ("sd(1, 3, 5)", "2"),
        ("count([1, 2, 3])", "3"),
        ("hypot(3 m, 4 m)", "5 m"),
        ("round(2.5) + floor(-0.5) + ceil(0.2)", "3"),
        ("abs(-3 mm)", "3 mm"),
        ("cbrt(27 m^3)", "3 m"),
        ("η = 0.5; η*2", "1"),
    ] {
        assert_eq!(shown(text), result, "{text}");
    }
    let steps = steps("N_A * k_B == R", &Inputs::default(), &Correlations::none()).expect("constants");
    assert!(matches!(steps[0].value, Value::Truth(true)));
}

#[test]
fn a_product_of_force_and_length_is_a_torque_or_an_energy() {
    assert_eq!(shown("2 N * 3 m"), "6 N·m");
    assert_eq!(shown("2 N * 3 m to J"), "6 J");
    assert_eq!(shown("2 kg * g_n * 3 m + 1/2 * 2 kg * (3 m/s)^2 to J"), "67.8399 J");
    assert_eq!(shown("(4 bar - 1 bar) * 2 L / 3 s to W"), "200 W");
    assert_eq!(shown("(4 bar - 1 bar) * 2 L / 3 s to Pa*m^3/s"), "200 Pa·m^3/s");
    let errors = errors("12 lbf*in to J", &Inputs::default());
    assert!(errors[0].message.contains("a torque"), "{errors:?}");
}

#[test]
fn kelvin_that_were_worked_out_are_a_rise_or_a_temperature() {
    assert_eq!(shown("20 degC + 100 J / (50 J/K)"), "22 degC");
    assert_eq!(shown("8 J / (2 J/K) + 300 K"), "304 K");
    assert_eq!(shown("100 J / (50 J/K) to K"), "2 K");
    assert_eq!(shown("100 J / (50 J/K) to delta_degC"), "2 delta_degC");
    let errors = errors("20 degC - 100 J / (50 J/K)", &Inputs::default());
    assert!(errors[0].help.contains("to delta_K"), "{errors:?}");
}

#[test]
fn gauge_and_absolute_meet_through_ambient() {
    let mut inputs = Inputs::of(&[("p", "600 psig")]);
    let missing = errors("p to psia", &inputs);
    assert!(missing[0].help.contains("ambient ="), "{missing:?}");
    inputs.ambient = Some(parse_quantity("101325 Pa abs").expect("a pressure"));
    // 600 psi and 101325 Pa, worked out in fractions: check-value P-11.
    let difference = worked("1.5 * (p to psia) to psig", &inputs).quantity.value.clone();
    let psi = Unit::parse("psi").expect("psi");
    assert_eq!(
        psi.span_from_si(&difference),
        Rational::new("1153167106352700".parse().expect("a number"), "1270920461503".parse().expect("a number"))
    );
    assert!(errors("1.5 * p", &inputs)[0].help.contains("for the gauge value"));
}

#[test]
fn errors_point_at_both_operands() {
    let text = "a = 3 m\nb = 2 s\nc = 4 + (a + b) * 2";
    let errors = errors(text, &Inputs::default());
    assert_eq!(errors.len(), 1, "{errors:?}");
    assert_eq!(&text[errors[0].range.clone()], "(a + b)");
    let also: Vec<(&str, &str)> =
        errors[0].also.iter().map(|(range, what)| (&text[range.clone()], what.as_str())).collect();
    assert_eq!(also, [("a", "length"), ("b", "time")]);
}

#[test]
fn all_errors_of_a_text_are_told() {
    assert_eq!(parse("x = 1 +\ny = (2\nz = 3").expect_err("two").len(), 2);
    assert_eq!(errors("x = 1 m + 1 s; y = nothing * 2; z = 3 furlongg; x + y + z", &Inputs::default()).len(), 3);
}

#[test]
fn a_name_inside_a_unit_is_not_guessed_at() {
    let inputs = Inputs::of(&[("m", "2 m"), ("x", "3")]);
    let errors = errors("5 N*m", &inputs);
    assert!(errors[0].message.contains("both a unit and a name"), "{errors:?}");
    assert_eq!(worked("5 N * m", &inputs).precise(), "10 N·m");
    assert_eq!(worked("5 N*x", &inputs).precise(), "15 N");
    assert!(super::errors("5 x", &inputs)[0].help.contains("* x"));
}

#[test]
fn branches_that_rounding_would_decide_are_refused() {
    assert!(
        errors("if sin(30 deg) < 0.5 then 1 else 2", &Inputs::default())[0].message.contains("rounding would decide")
    );
    assert!(errors("floor(sqrt(2)*sqrt(2))", &Inputs::default())[0].message.contains("rounding decides"));
    assert_eq!(shown("if sin(30 deg) < 0.6 then 1 else 2"), "1");
    assert_eq!(shown("if 0.1 + 0.2 <= 0.3 then 1 else 2"), "1");
    // Digits that cancel are told from digits that count.
    assert!(last("if sqrt(2)*sqrt(2) - 2 > 0 then 1 else 2", &Inputs::default()).is_err());
}

#[test]
fn what_is_only_scaled_keeps_its_spread() {
    let shape =
        |text: &str| worked(text, &Inputs::default()).quantity.uncertainty.clone().expect("an uncertainty").shape;
    assert_eq!(shape("2 * ([9.99, 10.02] mm) + 1 mm"), Shape::Rectangular);
    assert_eq!(shape("([9.99, 10.02] mm)^2"), Shape::Normal);
    assert_eq!(shape("[9.99, 10.02] mm + [1, 2] mm"), Shape::Normal);
}

#[test]
fn degrees_of_freedom_expand_the_uncertainty() {
    // u = 1 with 3 degrees of freedom twice: 6 effective ones (check-value WS-04); t for 95.45 % and 6 is 2.5165 (JCGM 100:2008, table G.2).
    let worked = worked("10.0(1.0) m (nu=3) + 20.0(1.0) m (nu=3)", &Inputs::default());
    let uncertainty = worked.quantity.uncertainty.clone().expect("an uncertainty");
    let freedom = uncertainty.freedom.expect("finite").to_f64().expect("finite");
    assert!((freedom - 6.0).abs() < 1e-9, "{freedom}");
    let expanded = uncertainty.expanded.to_f64().expect("finite");
    assert!((expanded - 2.5165 * 2f64.sqrt()).abs() < 1e-4, "{expanded}");
}

#[test]
fn one_instrument_is_taken_the_worse_way() {
    let mut inputs = Inputs::default();
    inputs.add("p1", "100.0(3) kPa", Some("PT-01"));
    inputs.add("p2", "97.0(4) kPa", Some("PT-01"));
    inputs.add("q", "97.0(4) kPa", Some("PT-02"));
    let standard = |text: &str| worked(text, &inputs).budget().standard;
    assert!((standard("p1 + p2") - 700.0).abs() < 1e-9, "off together");
    assert!((standard("p1 - p2") - 500.0).abs() < 1e-9, "off independently");
    assert!((standard("p1 + q") - 500.0).abs() < 1e-9, "two instruments");
    let shared = worked("p1 + p2", &inputs).budget().shared;
    assert!(shared.len() == 1 && shared[0].together && shared[0].keys == ["p1", "p2"], "{shared:?}");
    let mut stated = Correlations::none();
    stated.state("p1", "p2", Rational::zero()).expect("a coefficient");
    let steps = steps("p1 + p2", &inputs, &stated).expect("a sum");
    assert!((steps[0].worked().expect("a quantity").budget().standard - 500.0).abs() < 1e-9, "what is stated holds");
}

#[test]
fn correlations_that_cannot_be_are_refused() {
    // The smallest eigenvalue is -0.8.
    let mut correlations = Correlations::none();
    for (a, b, r) in [("a", "b", 9), ("a", "c", 9), ("b", "c", -9)] {
        correlations.state(a, b, Rational::new(r.into(), 10.into())).expect("in range");
    }
    let inputs = Inputs::of(&[("a", "1.0(1)"), ("b", "1.0(1)"), ("c", "1.0(1)")]);
    let errors = steps("a + b + c", &inputs, &correlations).expect_err("impossible");
    assert!(errors[0].message.contains("cannot all be true"), "{errors:?}");
    let mut fine = Correlations::none();
    for (a, b) in [("a", "b"), ("a", "c"), ("b", "c")] {
        fine.state(a, b, Rational::one()).expect("in range");
    }
    let steps = steps("a + b + c", &inputs, &fine).expect("all together");
    assert_eq!(
        steps[0].worked().expect("a quantity").quantity.uncertainty.as_ref().expect("u").standard,
        Rational::new(3.into(), 10.into())
    );
}

#[test]
fn results_of_other_calculations_bring_what_they_rest_on() {
    let inputs = Inputs::of(&[("a", "10.0(3)"), ("b", "4.0(4)")]);
    let steps = steps("x = a + b; y = a - b; y", &inputs, &Correlations::none()).expect("two");
    let given = |name: &str| {
        let step = steps.iter().find(|step| step.name == name).expect(name);
        (name.to_owned(), Given::Worked(Arc::clone(step.worked().expect("a quantity"))))
    };
    let later = Inputs { inputs: vec![given("x"), given("y")], ..Inputs::default() };
    let half = worked("(x + y) / 2", &later);
    assert_eq!(half.quantity.value, Rational::from_integer(10.into()));
    assert_eq!(
        half.quantity.uncertainty.as_ref().expect("u").standard,
        Rational::new(3.into(), 10.into()),
        "b is gone"
    );
    assert_eq!(half.sources().len(), 2);
}

#[test]
fn steps_show_values_in_place_of_names() {
    let inputs = Inputs::of(&[("T_stem", "1.32 ± 0.08 N*m"), ("dx", "-2 mm")]);
    let steps = steps(
        "required = 1.5 * T_stem\n margin = 4 N*m / required^1 - 1; z = 3 mm + dx; z to m",
        &inputs,
        &Correlations::none(),
    )
    .expect("steps");
    let text = |name: &str| steps.iter().find(|step| step.name == name).map(|step| step.substituted.as_str());
    assert_eq!(text("required"), Some("1.5 * 1.32 N*m"));
    assert_eq!(text("margin"), Some("4 N*m / (1.98 N*m)^1 - 1"));
    assert_eq!(text("z"), Some("3 mm + (-2 mm)"));
    assert!(steps.iter().any(|step| step.unit_asked && step.name.is_empty()));
}

#[test]
fn another_value_is_worked_out_without_reading_anew() {
    let inputs = Inputs::of(&[("T", "1.32 ± 0.08 N*m"), ("k", "2")]);
    let result = worked("k * T", &inputs);
    let changed = result.with("T", &parse_quantity("2 N*m").expect("a torque")).expect("another");
    assert_eq!(changed.precise(), "4 ± 0.16 N·m (k=2)", "the uncertainty stays");
    assert!(result.with("T", &parse_quantity("2 J").expect("an energy")).is_err());
    assert!(result.with("U", &parse_quantity("2 N*m").expect("a torque")).is_err());
}

#[test]
fn names_from_elsewhere_are_known() {
    let sheet = parse("x = a * b + pi\ny = table(\"k.csv\", x) / degC").expect("a sheet");
    assert_eq!(sheet.outside(), ["a", "b", "degC", "pi"]);
    assert_eq!(sheet.names(), ["x", "y"]);
    assert_eq!(sheet.tables(), ["k.csv"]);
}
