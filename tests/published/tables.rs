//! Tables of data with certified answers.

use serde::Deserialize;
use slipmark::quantity::{Quantity, Rational};
use slipmark::table::{Between, Reduce, Reduction, Table, reduce};

use crate::comparison::Comparison;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Published {
    column: Vec<Data>,
    norris: Norris,
    stainless: Stainless,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Data {
    id: String,
    mean: String,
    sd: String,
    min: Option<String>,
    max: Option<String>,
    median: Option<String>,
    first: Option<String>,
    last: Option<String>,
    data: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Norris {
    slope: String,
    sd_slope: String,
    intercept: String,
    sd_intercept: String,
    x: String,
    y: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Stainless {
    temperature: String,
    conductivity: String,
    trapezoid: String,
    integral: String,
}

fn published() -> Published {
    toml::from_str(include_str!("tables.toml")).expect("tables.toml is well formed")
}

/// Columns of numbers under their headers, as a file would hold them.
fn table(columns: &[(&str, &str)]) -> Table {
    let mut text = columns.iter().map(|(header, _)| *header).collect::<Vec<_>>().join(",");
    let cells: Vec<Vec<&str>> = columns.iter().map(|(_, numbers)| numbers.split_whitespace().collect()).collect();
    for row in 0..cells[0].len() {
        let row: Vec<&str> = cells.iter().map(|column| column[row]).collect();
        text.push('\n');
        text.push_str(&row.join(","));
    }
    Table::read(text.as_bytes()).unwrap_or_else(|errors| panic!("{errors:#?}"))
}

fn of(table: &Table, column: &str, by: Reduce) -> Quantity {
    let reduction = Reduction { column: Some(column.to_owned()), ..Reduction::new(by) };
    reduce(table, &reduction, None).unwrap_or_else(|error| panic!("{error:?}")).quantity
}

/// All certified digits: sums are exact, so that leading digits in common take none away.
#[test]
fn columns_reduce_to_certified_values() {
    let mut compared = Comparison::new("columns of data");
    let accuracy = |id: &str, base: &str| Data {
        id: id.to_owned(),
        mean: format!("{base}.2"),
        sd: "0.1".to_owned(),
        min: Some(format!("{base}.1")),
        max: Some(format!("{base}.3")),
        median: Some(format!("{base}.2")),
        first: Some(format!("{base}.2")),
        last: Some(format!("{base}.3")),
        data: format!("{base}.2 {}", format!("{base}.1 {base}.3 ").repeat(500)),
    };
    let made = [("NumAcc2", "1"), ("NumAcc3", "1000000"), ("NumAcc4", "10000000")].map(|(id, base)| accuracy(id, base));
    for data in published().column.into_iter().chain(made) {
        let table = table(&[("y [m]", &data.data)]);
        let mut row = |what: &str, by: Reduce, published: &str| {
            compared.printed("StRD", &format!("{} {what}", data.id), published, &of(&table, "y", by).value);
        };
        row("mean", Reduce::Mean, &data.mean);
        row("standard deviation", Reduce::Sd, &data.sd);
        let others = [
            ("minimum", Reduce::Min, &data.min),
            ("maximum", Reduce::Max, &data.max),
            ("median", Reduce::Median, &data.median),
            ("first", Reduce::First, &data.first),
            ("last", Reduce::Last, &data.last),
        ];
        for (what, by, published) in others {
            if let Some(published) = published {
                compared.exact("StRD data", &format!("{} {what}", data.id), published, &of(&table, "y", by).value);
            }
        }
    }
    compared.finish(54);
}

/// The slope of a calibration line is a rate: what is read is y, and x stands for the time.
#[test]
fn a_slope_is_the_certified_one() {
    let mut compared = Comparison::new("slope of least squares");
    let Norris { slope, sd_slope, intercept, sd_intercept, x, y } = published().norris;
    // A rate wants its times in order; the line does not depend on it.
    let mut pairs: Vec<(&str, &str)> = x.split_whitespace().zip(y.split_whitespace()).collect();
    pairs.sort_by(|a, b| a.0.parse::<f64>().expect("a number").total_cmp(&b.0.parse().expect("a number")));
    let [x, y] =
        [0, 1].map(|i| pairs.iter().map(|pair| if i == 0 { pair.0 } else { pair.1 }).collect::<Vec<_>>().join(" "));
    let table = table(&[("t [s]", &x), ("y [m]", &y)]);
    let at_zero = Reduction { column: Some("y".into()), at: Some("0 s".into()), ..Reduction::new(Reduce::Fit) };
    let at_zero = reduce(&table, &at_zero, None).expect("a value of the line").quantity;
    compared.printed("StRD", "Norris intercept", &intercept, &at_zero.value);
    let uncertainty = at_zero.uncertainty.expect("36 points");
    compared.printed("StRD", "Norris standard deviation of the intercept", &sd_intercept, &uncertainty.standard);
    let rate = of(&table, "y", Reduce::Rate);
    compared.printed("StRD", "Norris slope", &slope, &rate.value);
    let uncertainty = rate.uncertainty.expect("36 points");
    compared.printed("StRD", "Norris standard deviation of the slope", &sd_slope, &uncertainty.standard);
    assert_eq!(uncertainty.freedom, Some(Rational::from_integer(34.into())));
    compared.finish(4);
}

#[test]
fn a_table_of_conductivities_is_integrated() {
    let mut compared = Comparison::new("curves through tables");
    let data = published().stainless;
    let table = table(&[("T [K]", &data.temperature), ("k [W/(m·K)]", &data.conductivity)]);
    let integral = |between| table.interpolate(0, 1, between).expect("a curve").integral(90.0, 290.0).expect("inside");
    let source = "NIST fit, SciPy";
    compared.close(source, "linear, 90 to 290 K", &data.trapezoid, integral(Between::Linear), 1e-5);
    compared.close(source, "monotone, 90 to 290 K", &data.integral, integral(Between::Monotone), 5e-5);
    compared.finish(2);
}
