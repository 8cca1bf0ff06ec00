//! Properties that hold for any input.

use proptest::prelude::*;

use super::super::{
    Dimension, Kind, Quantity, Rational, Shape, Uncertainty, Unit, evaluate, is_placeholder, names, parse_measured,
    parse_number, parse_quantity,
};
use super::catalogue::catalogue;
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
        "1",
        "0",
        "9.81",
        ".",
        ",",
        "e",
        "e-6",
        "E400",
        "-",
        "−",
        "+",
        "±",
        "+/-",
        "(",
        ")",
        "(k=2)",
        "(k=",
        "15",
        " ",
        "\u{2009}",
        "_",
        "%",
        "°",
        "N",
        "m",
        "·",
        "*",
        "/",
        "^",
        "^2",
        "²",
        "⁻",
        "degC",
        "psig",
        "gauge",
        "abs",
        "(95 %)",
        "(95 %, nu=9)",
        "(rectangular)",
        "(resolution 0.1)",
        "(u-shaped",
        "nu=",
        ", ",
        "[1, 2]",
        "slpm(0 degC, 1 atm)",
        "sccm(",
        "meop",
        "TBD",
        "<",
        "≥",
        "Nm",
        "(g)",
        "1/",
        "**",
        "^(1/2)",
        "^-",
        "×10^3",
        "[",
        "]",
        "lb",
        "µ",
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

/// Every unit that can be written, and compounds of some.
fn any_unit() -> impl Strategy<Value = String> {
    let compounds =
        ["", "N·m", "lbf·in", "mbar*L/s", "W/(m·K)", "MPa gauge", "m/s^2", "kg/m^3", "1/s"].map(str::to_owned);
    prop::sample::select(catalogue().written().into_iter().chain(compounds).collect::<Vec<_>>())
}

/// Every unit that may stand in a compound.
fn any_factor() -> impl Strategy<Value = String> {
    let gauge = |symbol: &String| {
        let kind = Unit::parse(symbol).expect("a known unit").kind;
        matches!(kind, Kind::GaugePressure | Kind::AbsolutePressure)
    };
    prop::sample::select(catalogue().written().into_iter().filter(|symbol| !gauge(symbol)).collect::<Vec<_>>())
}

/// How an uncertainty may have been stated, as the bracket behind `±`.
const BRACKETS: [&str; 10] = [
    "",
    "(k=1)",
    "(k=2)",
    "(k=2.26, nu=9)",
    "(95 %)",
    "(99 %, nu=4)",
    "(normal)",
    "(rectangular)",
    "(triangular)",
    "(u-shaped)",
];

fn any_uncertainty() -> impl Strategy<Value = Uncertainty> {
    let size = (1i64..1_000_000, 1i64..1_000_000).prop_map(|(n, d)| rational(&format!("{n}/{d}")));
    let shape = prop::sample::select(vec![Shape::Normal, Shape::Rectangular, Shape::Triangular, Shape::UShaped]);
    (size, shape, prop::option::of(1i64..120)).prop_map(|(size, shape, freedom)| match freedom {
        Some(freedom) => Uncertainty::with_freedom(size, rational(&freedom.to_string())),
        None => Uncertainty::within(&size, shape),
    })
}

/// The same quantity in two units: the factor by which the numbers differ.
const RESTATED: [(&str, &str, &str); 9] = [
    ("in", "mm", "25.4"),
    ("ft", "in", "12"),
    ("MPa", "bar", "10"),
    ("barg", "kPa gauge", "100"),
    ("h", "s", "3600"),
    ("lbm", "g", "453.59237"),
    ("kN·m", "N*m", "1000"),
    ("mbar*L/s", "Pa·m^3/s", "0.1"),
    ("K", "mK", "1000"),
];

/// A number of hundredths, times a decimal factor, written out exactly.
fn written(hundredths: i64, factor: &str) -> String {
    let places = factor.split_once('.').map_or(0, |(_, places)| places.len());
    let digits: i64 = factor.replace('.', "").parse().expect("a decimal factor");
    format!("{}e-{}", hundredths * digits, places + 2)
}

fn any_dimension() -> impl Strategy<Value = Dimension> {
    prop::array::uniform7(-4i8..5).prop_map(Dimension::of)
}

proptest! {
    /// Reading what was written, of every unit and every way to state an uncertainty, writes the same again.
    #[test]
    fn what_is_shown_is_read_back(numerator in -1_000_000_000i64..1_000_000_000, exponent in -9i32..9, uncertainty in any_uncertainty(), unit in any_unit()) {
        let unit = Unit::parse(&unit).expect("a known unit");
        let mut quantity = Quantity::computed(unit.to_si(&rational(&format!("{numerator}e{exponent}"))), unit.clone(), unit.exact);
        let (shape, freedom) = (uncertainty.shape, uncertainty.freedom.clone());
        quantity.uncertainty = Some(Uncertainty {
            standard: unit.span_to_si(&uncertainty.standard),
            expanded: unit.span_to_si(&uncertainty.expanded),
            ..uncertainty
        });
        for shown in [quantity.show(), quantity.show_concise()] {
            let again = parse_quantity(&shown).unwrap_or_else(|error| panic!("{shown}: {error}"));
            prop_assert_eq!(&again.unit, &unit, "{}", &shown);
            let stated = again.uncertainty.clone().expect("it has one");
            prop_assert_eq!(&stated.freedom, &freedom, "{}", &shown);
            if shown == quantity.show() {
                prop_assert_eq!(stated.shape, shape, "{}", &shown);
            }
            let silent = again.with_text("");
            prop_assert!(silent.show() == shown || silent.show_concise() == shown, "{} became {}", shown, silent.show());
            // Two digits of the half width are kept: it is within a twentieth of what it was, and the value within that.
            let ours = quantity.uncertainty.clone().expect("it has one");
            let off = (&stated.standard - &ours.standard).abs();
            prop_assert!(off * rational("20") <= ours.standard, "{}", &shown);
            prop_assert!((&silent.value - &quantity.value).abs() * rational("16") <= ours.expanded, "{}", &shown);
        }
    }

    /// Another unit for the same quantity changes no canonical form, of the value or of its uncertainty.
    #[test]
    fn restated_units_change_nothing(value in -99_999i64..99_999, half in 1i64..9_999, (one, other, factor) in prop::sample::select(RESTATED.to_vec()), bracket in prop::sample::select(BRACKETS.to_vec())) {
        let pairs = |unit: &str, factor: &str| {
            let (v, h) = (written(value, factor), written(half, factor));
            let (low, high) = (written(value - half, factor), written(value + half, factor));
            [format!("{v} ± {h} {unit} {bracket}"), format!("({v} ± {h}) {unit} {bracket}"), format!("[{low}, {high}] {unit} {bracket}"), format!("{v} {unit} (resolution {h} {})", Unit::parse(unit).expect(unit).as_difference())]
        };
        for (one, other) in pairs(one, "1").iter().zip(pairs(other, factor)) {
            let read = |text: &str| parse_quantity(text).unwrap_or_else(|error| panic!("{text}: {error}"));
            let (one, other) = (read(one), read(&other));
            prop_assert_eq!(one.canonical(), other.canonical(), "{} against {}", one.text, other.text);
            prop_assert_eq!(one.canonical_uncertainty(), other.canonical_uncertainty(), "{} against {}", one.text, other.text);
            prop_assert!(one.canonical_uncertainty().is_some());
            prop_assert_eq!(one.approximate, other.approximate);
        }
    }

    #[test]
    fn dimensions_are_a_group(a in any_dimension(), b in any_dimension(), c in any_dimension(), n in 1i32..6) {
        prop_assert_eq!(a.times(&b), b.times(&a));
        prop_assert_eq!(a.times(&b).and_then(|ab| ab.times(&c)), b.times(&c).and_then(|bc| a.times(&bc)));
        prop_assert_eq!(a.times(&b).and_then(|ab| ab.over(&b)), Some(a));
        prop_assert_eq!(a.over(&a), Some(Dimension::NONE));
        prop_assert_eq!(a.power(n, 1).and_then(|raised| raised.power(1, n)), Some(a));
        prop_assert_eq!(a.power(n, 1), (1..n).try_fold(a, |product, _| product.times(&a)));
        let unit = Unit::coherent(a, Kind::Plain);
        let again = Unit::parse(&unit.symbol).expect("a coherent unit is read");
        prop_assert_eq!((again.dimension, &again.factor), (a, &Rational::one()), "{}", unit.symbol);
    }

    /// A compound unit is worth the product, or quotient, of its parts.
    #[test]
    fn units_multiply(a in any_factor(), b in any_factor()) {
        let (one, other) = (Unit::parse(&a).expect("a unit"), Unit::parse(&b).expect("a unit"));
        let (product, quotient) = (Unit::parse(&format!("{a}·{b}")), Unit::parse(&format!("{a}/({b})")));
        let (product, quotient) = (product.expect("a product"), quotient.expect("a quotient"));
        prop_assert_eq!(&product.factor, &(&one.factor * &other.factor));
        prop_assert_eq!(&quotient.factor, &(&one.factor / &other.factor));
        prop_assert_eq!(Some(product.dimension), one.dimension.times(&other.dimension));
        prop_assert_eq!(Some(quotient.dimension), one.dimension.over(&other.dimension));
        prop_assert_eq!((product.exact, quotient.exact), (one.exact && other.exact, one.exact && other.exact));
    }

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
