//! Texts that are meant to do harm: each must end soon, with a result or with errors that lie inside the text.

use proptest::prelude::*;

use super::*;
use crate::calc::{MAX_DEPTH, MAX_TEXT};

fn ends(text: &str) -> Result<Vec<Step>, Vec<CalcError>> {
    let outcome = steps(text, &Inputs::default(), &Correlations::none());
    if let Err(errors) = &outcome {
        assert!(!errors.is_empty());
        for error in errors {
            assert!(text.get(error.range.clone()).is_some(), "{error:?} lies outside");
            assert!(error.also.iter().all(|(range, _)| text.get(range.clone()).is_some()), "{error:?} points outside");
            assert!(!error.message.is_empty() && !error.help.is_empty(), "{error:?} says too little");
        }
    }
    outcome
}

/// A part over and over, as long as a calculation may be.
fn filled(part: &str) -> String {
    part.repeat((MAX_TEXT - 64) / part.len())
}

#[test]
fn long_texts_end() {
    for part in [
        "(",
        ")",
        "[",
        "[1,",
        "-",
        "^",
        "2^",
        "1(",
        "1(1",
        "1 m/(",
        "m/(",
        "1 m*",
        "(±",
        "(1 ± ",
        "± ",
        "\"",
        "to ",
        "if ",
        "not ",
        "a.",
        "x=",
        "é",
        "1 ± 1;",
        "x = 1\n",
        "#",
        "°",
        "max(",
        "1e9",
        "9",
        "0.1*",
        "1(1)+",
        "(1 ± 1)+",
        "f(",
        "a b ",
        "1,",
        "m^(1/",
        "if 1>0 then ",
        "\u{0}",
    ] {
        let _ = ends(&filled(part));
        let _ = ends(&format!("x = {}1", filled(part)));
    }
    assert!(ends(filled("1 + ").trim_end_matches("+ ")).is_ok());
    assert!(ends(&" ".repeat(MAX_TEXT + 1)).is_err());
}

#[test]
fn nesting_is_bounded() {
    let nested = |depth: usize| format!("{}1{}", "(".repeat(depth), ")".repeat(depth));
    assert!(ends(&nested(MAX_DEPTH - 1)).is_ok());
    let errors = ends(&nested(MAX_DEPTH + 1)).expect_err("too deep");
    assert!(errors[0].message.contains("nested too deep"), "{errors:?}");
}

/// Numbers that double their length at every step go on as doubles, until these end too.
#[test]
fn numbers_do_not_grow_without_end() {
    let square = |steps: usize| {
        let lines: Vec<String> = (1..=steps).map(|at| format!("x{at} = x{}*x{}", at - 1, at - 1)).collect();
        format!("x0 = 1.0000001234567; {}", lines.join("; "))
    };
    let steps = ends(&square(25)).expect("still a number");
    assert!(steps.last().and_then(Step::worked).expect("a quantity").quantity.approximate);
    assert!(ends(&square(60)).expect_err("beyond a double")[0].message.contains("largest number"));
}

/// Every assignment adds a source to the sum of all before it.
#[test]
fn many_sources_end() {
    let lines: Vec<String> = (1..600).map(|at| format!("x{at} = x{} + 1.0(1)", at - 1)).collect();
    let steps = ends(&format!("x0 = 1.0(1)\n{}", lines.join("\n"))).expect("a sum");
    let last = steps.last().and_then(Step::worked).expect("a quantity");
    assert_eq!(last.budget().contributions.len(), 600);
    let standard = last.quantity.uncertainty.as_ref().expect("uncertain").standard.to_f64().expect("finite");
    assert!((standard - 0.1 * 600f64.sqrt()).abs() < 1e-12, "{standard}");
}

/// A power of a long number by a large one needs no room for what is never worked out.
#[test]
fn powers_of_any_size_end() {
    for text in [
        "x = 1e99^999999999",
        "x = 1e-99^999999999",
        "x = 1.1^2147483647",
        "x = 1.1^-2147483647",
        "x = (-7)^-999999999",
    ] {
        if let Ok(steps) = ends(text) {
            assert!(steps[0].worked().expect("a quantity").quantity.approximate, "{text}");
        }
    }
    // What is too long in one line leaves the others exact.
    let steps = ends("x = 1.00001^90000; y = 1 / 3").expect("two numbers");
    let approximate: Vec<bool> =
        steps.iter().map(|step| step.worked().expect("a quantity").quantity.approximate).collect();
    assert_eq!(approximate, [true, false]);
}

/// Each name of a list stands for all of it.
#[test]
fn lists_are_bounded() {
    let list = format!("a = [{}1]\n", "1, ".repeat(9_999));
    for use_ in ["a", "max(a)", "count(a)", "sd(a)"] {
        let lines = |count: usize| (0..count).map(|at| format!("b{at} = {use_}\n")).collect::<String>();
        assert!(ends(&format!("{list}{}", lines(3))).is_ok(), "{use_}");
        let errors = ends(&format!("{list}{}", lines(1000))).expect_err(use_);
        assert!(errors[0].message.contains("more than 100000 operations"), "{errors:?}");
    }
}

#[test]
fn statements_are_bounded() {
    let lines: Vec<String> = (0..2001).map(|at| format!("x{at} = 1")).collect();
    assert!(ends(&lines.join(";")).expect_err("too many")[0].message.contains("more than 2000"));
    let circle: Vec<String> = (0..2000).map(|at| format!("x{at} = x{}", (at + 1) % 2000)).collect();
    assert!(ends(&circle.join(";")).expect_err("a circle")[0].message.contains("→ … →"));
}

fn piece() -> impl Strategy<Value = String> {
    prop_oneof![
        prop::sample::select(vec![
            "1",
            "2.5",
            "x",
            "y",
            "m",
            "N*m",
            " m/s^2",
            "(",
            ")",
            "[",
            "]",
            ",",
            ";",
            "\n",
            " ",
            "+",
            "-",
            "*",
            "/",
            "^",
            "=",
            "==",
            "<",
            "≥",
            "±",
            "+/-",
            " to ",
            " if ",
            " then ",
            " else ",
            " and ",
            " not ",
            "sqrt(",
            "max(",
            "table(",
            "\"a.csv\"",
            "#",
            "1.3(2)",
            "(1 ± 2 m)",
            "degC",
            "psig",
            "%",
            "e",
            "(k=2)",
            "(95 %)",
            "pi",
            "é",
            "²",
            "0",
            "1e308",
            "\"",
            "x = ",
            "integral(",
            "[1, 2] m",
        ])
        .prop_map(str::to_owned),
        ".{0,3}",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    #[test]
    fn any_text_ends(pieces in prop::collection::vec(piece(), 0..24)) {
        let text = pieces.concat();
        let _ = ends(&text);
        let _ = parse(&text);
    }
}
