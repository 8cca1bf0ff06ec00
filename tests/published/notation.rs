//! How uncertainties are written, what they stand for, and how results are rounded.

use serde::Deserialize;
use slipmark::quantity::{Quantity, Rational, Uncertainty, Unit, parse_quantity};

use crate::comparison::{Comparison, rational};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Published {
    read: Vec<Read>,
    refused: Vec<Refused>,
    interval: Vec<Interval>,
    rounding: Vec<Rounding>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Read {
    id: String,
    text: String,
    unit: String,
    value: String,
    u: Option<String>,
    source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Refused {
    id: String,
    text: String,
    write: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Interval {
    id: String,
    text: String,
    unit: String,
    u: Option<String>,
    printed: Option<String>,
    source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Rounding {
    id: String,
    y: String,
    u: String,
    shown: String,
    concise: String,
    source: String,
}

fn published() -> Published {
    toml::from_str(include_str!("notation.toml")).expect("notation.toml is well formed")
}

fn quantity(text: &str) -> Quantity {
    parse_quantity(text).unwrap_or_else(|error| panic!("{text}: {error}; {}", error.help))
}

fn double(value: &Rational) -> f64 {
    value.to_f64().expect("it is finite")
}

/// The doubles that were published are the nearest ones; the quantiles behind a level differ in their last digits.
const NEAR: f64 = 1e-13;

#[test]
fn what_a_person_writes_is_read() {
    let mut table = Comparison::new("notation");
    for row in published().read {
        let (read, unit) = (quantity(&row.text), Unit::parse(&row.unit).expect(&row.unit));
        let quantity = format!("{} {}", row.id, row.text);
        table.close(&row.source, &quantity, &row.value, double(&unit.from_si(&read.value)), NEAR);
        match (row.u, read.uncertainty) {
            (Some(u), Some(ours)) => {
                let ours = double(&unit.span_from_si(&ours.standard));
                table.close(&row.source, &format!("{} u", row.id), &u, ours, NEAR);
            }
            (u, ours) => assert_eq!((u, ours), (None, None), "{}", row.id),
        }
    }
    table.finish(46);
}

#[test]
fn what_could_be_read_in_two_ways_is_refused_with_what_to_write() {
    let rows = published().refused;
    assert!(rows.len() >= 8, "the table was cut short");
    for row in rows {
        let error = parse_quantity(&row.text).expect_err(&row.id);
        assert!(error.help.contains(&row.write), "{} {}: {}; {}", row.id, row.text, error, error.help);
    }
}

#[test]
fn stated_intervals_become_standard_uncertainties() {
    let mut table = Comparison::new("stated intervals");
    for row in published().interval {
        let unit = Unit::parse(&row.unit).expect(&row.unit);
        let ours = unit.span_from_si(&quantity(&row.text).uncertainty.expect(&row.id).standard);
        let quantity = format!("{} {}", row.id, row.text);
        assert!(row.u.is_some() || row.printed.is_some(), "{}", row.id);
        if let Some(printed) = row.printed {
            table.printed(&row.source, &quantity, &printed, &ours);
        }
        if let Some(u) = row.u {
            table.close(&row.source, &quantity, &u, double(&ours), NEAR);
        }
    }
    table.finish(14);
}

#[test]
fn results_are_rounded_as_published() {
    let mut table = Comparison::new("rounding");
    for row in published().rounding {
        let (value, u) = (rational(&row.y), rational(&row.u));
        let mut quantity = Quantity::computed(value, Unit::none(), true);
        quantity.uncertainty = Some(Uncertainty { expanded: u.clone(), ..Uncertainty::from_standard(u) });
        let what = format!("{} {} ± {}", row.id, row.y, row.u);
        table.text(&row.source, &what, &format!("{} (k=2)", row.shown), &quantity.show());
        table.text(&row.source, &what, &row.concise, &quantity.show_concise());
        let again = parse_quantity(&quantity.show()).expect("what is shown is read");
        assert_eq!(again.show(), quantity.show(), "{}", row.id);
    }
    table.finish(56);
}
