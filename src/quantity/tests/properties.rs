//! Properties that hold for any input.

use proptest::prelude::*;

use super::super::{Unit, evaluate, is_placeholder, names, parse_measured, parse_number, parse_quantity};
use super::rational;

const UNITS: [&str; 24] = [
    "",
    "%",
    "m",
    "mm",
    "in",
    "µm",
    "kg",
    "lbm",
    "s",
    "min",
    "N·m",
    "lbf·in",
    "MPa",
    "psig",
    "psia",
    "barg",
    "MPa gauge",
    "degC",
    "degF",
    "K",
    "delta_degF",
    "mbar*L/s",
    "W/(m·K)",
    "deg",
];

/// Text near enough to quantities to reach deep into the readers.
fn nearly_a_quantity() -> impl Strategy<Value = String> {
    let piece = prop::sample::select(vec![
        "1", "0", "9.81", ".", ",", "e", "e-6", "E400", "-", "−", "+", "±", "+/-", "(", ")", "(k=2)", "(k=", "15", " ",
        "\u{2009}", "_", "%", "°", "N", "m", "·", "*", "/", "^", "^2", "²", "⁻", "degC", "psig", "gauge", "abs",
        "meop", "TBD", "<", "≥", "Nm", "(g)", "1/", "**", "^(1/2)", "^-", "×10^3", "[", "]", "lb", "µ",
    ]);
    prop::collection::vec(piece, 0..14).prop_map(|pieces| pieces.concat())
}

fn reads_without_panic(text: &str) {
    let param = |name: &str| parse_quantity("2 m").ok().filter(|_| name != "x");
    for result in [parse_quantity(text), evaluate(text, &param), parse_number(text)] {
        match result {
            Ok(quantity) => {
                let _ = (quantity.show(), quantity.canonical(), quantity.si_f64(), quantity.show_in(&Unit::none()));
                let _ = (quantity.compare(&quantity, None), quantity.negate(), quantity.multiply(&quantity));
            }
            Err(error) => assert!(text.get(error.range.clone()).is_some(), "{text:?}: {:?} is outside", error.range),
        }
    }
    if let Err(error) = parse_measured(text) {
        assert!(text.get(error.range.clone()).is_some(), "{text:?}: {:?} is outside", error.range);
    }
    let _ = (names(text), is_placeholder(text), Unit::parse(text));
}

proptest! {
    #[test]
    fn no_text_panics(text in "\\PC{0,40}") {
        reads_without_panic(&text);
    }

    #[test]
    fn no_text_that_looks_like_a_quantity_panics(text in nearly_a_quantity()) {
        reads_without_panic(&text);
    }

    #[test]
    fn what_was_written_is_read_back(digits in -999_999i64..999_999, places in 0usize..6, half in 0u32..999, unit in prop::sample::select(UNITS.to_vec())) {
        let value = format!("{:.*}", places, digits as f64 / 10f64.powi(i32::try_from(places).unwrap_or(0)));
        let text = if unit == "%" { format!("({value} ± {half}) %") } else { format!("{value} ± {half} {unit}") };
        let quantity = parse_quantity(&text).expect("a plain quantity");
        prop_assert_eq!(quantity.show(), text.trim());
        prop_assert_eq!(parse_quantity(&quantity.show()), Ok(quantity));
    }

    #[test]
    fn conversions_go_both_ways(numerator in -1_000_000i64..1_000_000, denominator in 1i64..1_000_000, unit in prop::sample::select(UNITS.to_vec())) {
        let unit = Unit::parse(unit).expect("a known unit");
        let number = rational(&format!("{numerator}/{denominator}"));
        prop_assert_eq!(unit.from_si(&unit.to_si(&number)), number.clone());
        prop_assert_eq!(unit.span_from_si(&unit.span_to_si(&number)), number);
    }

    #[test]
    fn a_computed_value_is_shown_to_at_least_five_digits(numerator in 1i64..1_000_000_000, exponent in -30i32..30, unit in prop::sample::select(UNITS.to_vec())) {
        let number = rational(&format!("{numerator}e{exponent}"));
        let unit = Unit::parse(unit).expect("a known unit");
        let quantity = super::super::Quantity::computed(unit.to_si(&number), unit.clone(), true);
        let shown = parse_quantity(&quantity.show()).expect("what is shown can be read");
        let error = (unit.from_si(&shown.value) - &number) / &number;
        prop_assert!(error < rational("1e-5") && error > rational("-1e-5"), "{} for {}", quantity.show(), number);
    }
}
