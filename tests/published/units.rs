//! Conversion factors.

use serde::Deserialize;
use slipmark::quantity::{Rational, Unit};

use crate::comparison::{Comparison, rational};

#[derive(Deserialize)]
struct Published {
    factor: Vec<Factor>,
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
    table.finish(92);
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
    table.finish(80);
}
