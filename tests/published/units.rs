//! Conversion factors.

use serde::Deserialize;
use slipmark::quantity::{Quantity, Rational, Unit, evaluate, parse_quantity};

use crate::comparison::{Comparison, rational};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Published {
    factor: Vec<Factor>,
    rounded: Vec<Conversion>,
    temperature: Vec<Conversion>,
    pressure: Vec<Conversion>,
    reference: Vec<Reference>,
    leak: Vec<Conversion>,
    flow_coefficient: Vec<Conversion>,
    refused: Vec<Refused>,
    accepted: Vec<Conversion>,
    different: Vec<Two>,
    apart: Vec<Two>,
    senseless: Vec<Senseless>,
}

/// One expression in another unit: an exact number, one as printed, or the nearest double to one.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Conversion {
    id: String,
    from: Option<String>,
    unit: String,
    si: Option<String>,
    ambient: Option<String>,
    exact: Option<String>,
    printed: Option<String>,
    close: Option<String>,
    source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Reference {
    id: String,
    at: String,
    slpm: String,
    scfm: String,
    source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Refused {
    id: String,
    text: String,
    write: Vec<String>,
    source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Two {
    id: String,
    one: String,
    other: String,
    source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Senseless {
    id: String,
    expression: String,
    source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Factor {
    id: String,
    unit: String,
    si: String,
    exact: String,
    printed: Option<String>,
    bold: Option<bool>,
    source: String,
}

fn published() -> Published {
    toml::from_str(include_str!("units.toml")).expect("units.toml is well formed")
}

#[test]
fn factors_are_those_that_follow_from_the_definitions() {
    let mut table = Comparison::new("factors from definitions");
    for row in published().factor {
        let (unit, si) = (Unit::parse(&row.unit).expect(&row.unit), Unit::parse(&row.si).expect(&row.si));
        table.exact(&row.source, &format!("{} {}", row.id, row.unit), &row.exact, &unit.factor);
        assert_eq!(si.factor, Rational::one(), "{} is coherent", row.si);
        assert_eq!(unit.dimension, si.dimension, "dimension of {}", row.unit);
        assert_eq!(unit.exact, !row.exact.contains("pi"), "exactness of {}", row.unit);
    }
    table.finish(99);
}

#[test]
fn factors_round_to_those_that_are_printed() {
    let mut table = Comparison::new("factors as printed");
    for row in published().factor {
        let Some(printed) = row.printed else { continue };
        let factor = Unit::parse(&row.unit).expect(&row.unit).factor.clone();
        let quantity = format!("{} {}", row.id, row.unit);
        match row.bold {
            Some(true) => table.exact(&row.source, &quantity, &printed, &factor),
            _ => table.printed(&row.source, &quantity, &printed, &factor),
        }
    }
    assert_eq!(rational("2.54E-8"), rational("0.0254") / rational("1000000"));
    table.finish(86);
}

fn quantity(text: &str) -> Quantity {
    let no_names = |_: &str| None;
    evaluate(text, &no_names).unwrap_or_else(|error| panic!("{text}: {error}; {}", error.help))
}

/// Holds a row against the quantity in its unit, met through the ambient pressure where one is gauge and the other absolute.
fn compare(table: &mut Comparison, row: &Conversion) {
    let (from, unit) = (row.from.clone().unwrap_or_else(|| format!("1 {}", row.unit)), &row.unit);
    let unit = Unit::parse(row.si.as_deref().unwrap_or(unit)).expect(unit);
    let one = Quantity::computed(unit.to_si(&Rational::one()), unit.clone(), true);
    let ambient = row.ambient.as_deref().map(quantity);
    let value = quantity(&from).on_scale_of(&one, ambient.as_ref()).unwrap_or_else(|error| panic!("{from}: {error}"));
    let (ours, what) = (unit.from_si(&value), format!("{} {from} in {unit}", row.id));
    match (&row.exact, &row.printed, &row.close) {
        (Some(exact), None, None) => table.exact(&row.source, &what, exact, &ours),
        (None, Some(printed), None) => table.printed(&row.source, &what, printed, &ours),
        (None, None, Some(close)) => table.close(&row.source, &what, close, ours.to_f64().unwrap_or(f64::NAN), 1e-14),
        _ => panic!("{} says what to expect in no way, or in two", row.id),
    }
}

#[test]
fn conversions_agree() {
    let all = published();
    let mut table = Comparison::new("conversions");
    let parts = [&all.rounded, &all.temperature, &all.pressure, &all.leak, &all.flow_coefficient, &all.accepted];
    for row in parts.into_iter().flatten() {
        compare(&mut table, row);
    }
    for row in &all.rounded {
        assert!(!Unit::parse(&row.unit).expect(&row.unit).exact, "{} is not exact", row.unit);
    }
    table.finish(60);
}

#[test]
fn standard_volumes_are_amounts_at_the_conditions_stated() {
    let mut table = Comparison::new("reference conditions");
    for row in published().reference {
        for (symbol, amount) in [("slpm", &row.slpm), ("scfm", &row.scfm)] {
            let text = format!("1 {symbol}({})", row.at);
            let ours = quantity(&text).si_f64();
            table.close(&row.source, &format!("{} {text} in mol/s", row.id), amount, ours, 1e-14);
        }
    }
    table.finish(18);
}

#[test]
fn what_is_not_one_unit_is_refused_with_what_to_write() {
    let all = published();
    assert!(all.refused.len() >= 13 && all.apart.len() >= 8, "the table was cut short");
    for row in all.refused {
        let error = parse_quantity(&row.text).expect_err(&row.text);
        for write in row.write {
            let quoted = format!("`{write}`");
            let said = format!("{} {}", error.message, error.help);
            assert!(said.contains(&quoted), "{} {} ({}): {said}", row.id, row.text, row.source);
        }
    }
    for row in all.different {
        let (one, other) = (quantity(&row.one), quantity(&row.other));
        assert!((one.value, one.dimension) != (other.value, other.dimension), "{} ({})", row.id, row.source);
    }
    for row in all.apart {
        let met = quantity(&row.one).compatible(&quantity(&row.other), None);
        assert!(met.is_err_and(|error| !error.help.is_empty()), "{} ({})", row.id, row.source);
    }
    for row in all.senseless {
        let no_names = |_: &str| None;
        assert!(evaluate(&row.expression, &no_names).is_err(), "{} {} ({})", row.id, row.expression, row.source);
    }
}
