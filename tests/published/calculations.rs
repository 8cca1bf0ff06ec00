//! The calculation language: values, refusals, propagation of uncertainty.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Deserialize;
use slipmark::calc::{CalcError, Correlations, Given, Scope, Source, Step, Value, Worked, parse_expression};
use slipmark::quantity::{Quantity, Rational, Unit, parse_number, parse_quantity};
use slipmark::table::Table;

use crate::comparison::Comparison;

#[derive(Deserialize)]
struct Published {
    calculation: Vec<Calculation>,
    refused: Vec<Refused>,
    correlated: Vec<Correlated>,
    end_gauge: Vec<Gauge>,
    difference: Pair,
    student: Student,
    impedance_inputs: BTreeMap<String, String>,
    impedance: Vec<Impedance>,
    impedance_together: Vec<Together>,
}

/// Two numbers as printed, and in full.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Pair {
    published: [String; 2],
    full: [f64; 2],
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Student {
    freedom: u32,
    published: String,
    full: f64,
}

/// How two results go together: with the correlations of the inputs, and without.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Together {
    id: String,
    pair: [String; 2],
    published: [String; 2],
    full: [f64; 2],
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Calculation {
    id: String,
    expr: String,
    value: String,
    unit: String,
    within: f64,
    source: String,
    ambient: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Refused {
    id: String,
    expr: String,
    why: String,
    source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Correlated {
    id: String,
    expr: String,
    inputs: BTreeMap<String, String>,
    value: f64,
    u: f64,
    source: String,
    r: Option<String>,
    instrument: Option<String>,
    curved: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Gauge {
    id: String,
    quantity: String,
    published: String,
    full: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Impedance {
    id: String,
    expr: String,
    published: String,
    value: f64,
    u: f64,
    alone: f64,
}

fn published() -> Published {
    toml::from_str(include_str!("calculations.toml")).expect("calculations.toml is well formed")
}

/// Inputs by name.
#[derive(Default)]
pub struct Inputs {
    values: BTreeMap<String, Quantity>,
    instrument: Option<String>,
    ambient: Option<Quantity>,
}

impl Inputs {
    pub fn of<'a>(values: impl IntoIterator<Item = (&'a str, &'a str)>) -> Self {
        let read = |(name, text): (&str, &str)| (name.to_owned(), parse_quantity(text).expect(text));
        Self { values: values.into_iter().map(read).collect(), ..Self::default() }
    }
}

impl Scope for Inputs {
    fn given(&self, name: &str) -> Option<Given> {
        let quantity = self.values.get(name)?.clone();
        let (key, name) = (name.to_owned(), name.to_owned());
        Some(Given::Source(Source { key, name, quantity, instrument: self.instrument.clone() }))
    }

    fn names(&self) -> Vec<String> {
        self.values.keys().cloned().collect()
    }

    fn table(&self, file: &str) -> Result<Arc<Table>, (String, String)> {
        Err((format!("there is no `{file}`"), "attach it".to_owned()))
    }

    fn ambient(&self) -> Option<Quantity> {
        self.ambient.clone()
    }
}

pub fn last(expr: &str, inputs: &Inputs, correlations: &Correlations) -> Result<Step, Vec<CalcError>> {
    let mut steps = parse_expression(expr)?.check(inputs)?.work_out(correlations)?;
    Ok(steps.pop().expect("a statement"))
}

pub fn worked(expr: &str, inputs: &Inputs, correlations: &Correlations) -> Arc<Worked> {
    let step = last(expr, inputs, correlations).unwrap_or_else(|errors| panic!("{expr}: {errors:?}"));
    Arc::clone(step.worked().expect("a quantity"))
}

/// The value of a result in a unit; that of a temperature difference in kelvin.
pub fn in_unit(worked: &Worked, unit: &str) -> Rational {
    let unit = Unit::parse(unit).expect(unit);
    assert_eq!(unit.dimension, worked.quantity.dimension, "{}", unit.symbol);
    if unit.kind.difference() == worked.quantity.kind {
        unit.span_from_si(&worked.quantity.value)
    } else {
        unit.from_si(&worked.quantity.value)
    }
}

/// Puts a step beside what was published of it: a truth, a value that must be exact where `within` is zero, or one within that part of it.
pub fn judge(
    table: &mut Comparison,
    step: &Step,
    (source, name): (&str, &str),
    (value, unit, within): (&str, &str, f64),
) {
    match &step.value {
        Value::Truth(truth) => table.text(source, name, value, &truth.to_string()),
        Value::Worked(worked) if within == 0.0 => {
            assert!(!worked.quantity.approximate, "{name} is not exact");
            table.exact(source, name, value, &in_unit(worked, unit));
        }
        Value::Worked(worked) => {
            let ours = in_unit(worked, unit).to_f64().expect("finite");
            table.close(source, name, value, ours, within);
        }
        Value::List(_) => panic!("{name} is a list"),
    }
}

#[test]
fn calculations() {
    let mut table = Comparison::new("calculations");
    for row in published().calculation {
        let inputs = Inputs {
            ambient: row.ambient.as_deref().map(|text| parse_quantity(text).expect(text)),
            ..Inputs::default()
        };
        let name = format!("{}: {}", row.id, row.expr);
        let step =
            last(&row.expr, &inputs, &Correlations::none()).unwrap_or_else(|errors| panic!("{name}: {errors:?}"));
        judge(&mut table, &step, (&row.source, &name), (&row.value, &row.unit, row.within));
    }
    table.finish(70);
}

/// What cannot be right is refused, at a place inside the expression and with what to type.
#[test]
fn refusals() {
    let mut table = Comparison::new("calculations that must be refused");
    for row in published().refused {
        let ours = match last(&row.expr, &Inputs::default(), &Correlations::none()) {
            Ok(step) => format!("came out as {:?}", step.worked().map(|worked| worked.precise())),
            Err(errors) => {
                let places = errors.iter().all(|error| error.range.end <= row.expr.len() && !error.help.is_empty());
                if places { "refused".to_owned() } else { format!("{errors:?}") }
            }
        };
        table.text(&row.source, &format!("{}: {} ({})", row.id, row.expr, row.why), "refused", &ours);
    }
    table.finish(40);
}

/// First order must be said to be not enough where only the curvature moves the result, and nowhere else.
#[test]
fn propagation() {
    let mut table = Comparison::new("propagation of uncertainty");
    for row in published().correlated {
        let mut inputs = Inputs::of(row.inputs.iter().map(|(name, text)| (name.as_str(), text.as_str())));
        inputs.instrument.clone_from(&row.instrument);
        let mut correlations = Correlations::none();
        if let Some(r) = &row.r {
            correlations.state("a", "b", parse_number(r).expect(r).value).expect(r);
        }
        let worked = worked(&row.expr, &inputs, &correlations);
        let name = format!("{}: {}", row.id, row.expr);
        table.close(&row.source, &name, &row.value.to_string(), worked.quantity.si_f64(), 1e-12);
        let uncertainty = worked.quantity.uncertainty.as_ref().expect("an uncertainty");
        table.close(
            &row.source,
            &format!("{name}, u"),
            &row.u.to_string(),
            uncertainty.standard.to_f64().expect("finite"),
            1e-12,
        );
        let curvature = worked.curvature();
        let curved = curvature > 0.25;
        table.row(
            curved == row.curved,
            &row.source,
            &format!("{name}, curved"),
            &row.curved.to_string(),
            curved.to_string(),
            format!("{curvature:.3}"),
        );
    }
    table.finish(90);
}

#[test]
fn end_gauge() {
    let inputs = Inputs::of([
        ("lS", "50000623(25) nm (nu=18)"),
        ("d", "215.0(9.7) nm (nu=25.6)"),
        ("aS", "0.0000115(0.0000012) 1/degC"),
        ("theta", "-0.10(41) delta_degC"),
        ("da", "0.00000000(58)e0 1/degC (nu=50)"),
        ("dtheta", "0.000(29) delta_degC (nu=2)"),
    ]);
    let worked = worked("lS + d - lS*(da*theta + aS*dtheta) to nm", &inputs, &Correlations::none());
    let budget = worked.budget();
    let mut table = Comparison::new("end gauge (H.1)");
    for row in published().end_gauge {
        let ours = match row.quantity.as_str() {
            "value" => worked.quantity.si_f64() * 1e9,
            "standard" => budget.standard * 1e9,
            "freedom" => budget.freedom.expect("finite"),
            name => {
                let own = budget.contributions.iter().find(|own| own.source.name == name);
                own.expect(name).standard * 1e9
            }
        };
        let quantity = format!("{}: {} (printed {})", row.id, row.quantity, row.published);
        table.close("GUM100 H.1", &quantity, &row.full.to_string(), ours, 1e-9);
    }
    table.finish(7);
}

#[test]
fn difference_of_end_gauges() {
    let published = published();
    let inputs = Inputs::of([
        // 13 nm over the root of five readings; what the certificates say of the comparator, at 95 % and at three times u.
        ("readings", "215.0(5.813776741499453) nm (nu=24)"),
        ("random", "0 ± 10 nm (95 %, nu=5)"),
        ("systematic", "0 ± 20 nm (k=3, nu=8)"),
    ]);
    let difference = worked("readings + random + systematic", &inputs, &Correlations::none());
    let budget = difference.budget();
    let ours = [budget.standard * 1e9, budget.freedom.expect("finite")];
    let mut table = Comparison::new("difference of end gauges (H.1)");
    let names = ["H1-05: u(d), nm", "H1-06: degrees of freedom of d"];
    for (at, name) in names.into_iter().enumerate() {
        // In full with Student's t rounded as printed, 2.57; here it is not.
        table.close("GUM100 H.1", name, &published.difference.full[at].to_string(), ours[at], 1e-4);
        let rounded = (ours[at] * 10.0).round() / 10.0;
        table.text("GUM100 H.1", name, &published.difference.published[at], &rounded.to_string());
    }
    // A half width of 1 for 99 % is 1/t standard uncertainties.
    let Student { freedom, published, full } = published.student;
    let stated = parse_quantity(&format!("10 ± 1 (99 %, nu={freedom})")).expect("a quantity");
    let t = 1.0 / stated.uncertainty.expect("it is stated").standard.to_f64().expect("finite");
    table.close("GUM100 H.1", "H1-09: t for 99 %", &full.to_string(), t, 1e-9);
    table.text("GUM100 H.1", "H1-09: t for 99 %", &published, &format!("{t:.2}"));
    table.finish(6);
}

#[test]
fn impedance() {
    let published = published();
    let given = |name: &str| published.impedance_inputs.get(name).expect(name).as_str();
    let inputs = Inputs::of([("V", given("V")), ("I", given("I")), ("phi", given("phi"))]);
    let mut correlations = Correlations::none();
    for (a, b, r) in [("V", "I", "r_VI"), ("V", "phi", "r_Vphi"), ("I", "phi", "r_Iphi")] {
        correlations.state(a, b, parse_number(given(r)).expect(r).value).expect(r);
    }
    let mut table = Comparison::new("impedance (H.2)");
    let standard = |worked: &Worked| worked.budget().standard;
    for row in &published.impedance {
        let together = worked(&row.expr, &inputs, &correlations);
        let alone = worked(&row.expr, &inputs, &Correlations::none());
        let name = format!("{}: {}", row.id, row.expr);
        table.printed("GUM100 H.2", &name, &row.published, &together.quantity.value);
        table.close("GUM100 H.2", &name, &row.value.to_string(), together.quantity.si_f64(), 1e-12);
        table.close("GUM100 H.2", &format!("{name}, u"), &row.u.to_string(), standard(&together), 1e-9);
        table.close(
            "GUM100 H.2",
            &format!("{name}, u without correlations"),
            &row.alone.to_string(),
            standard(&alone),
            1e-9,
        );
    }
    table.finish(12);
    together(&published, &inputs, &correlations);
}

/// Results that share inputs go together by themselves: the spread of their sum tells how.
fn together(published: &Published, inputs: &Inputs, stated: &Correlations) {
    let mut table = Comparison::new("correlations of R, X and Z (H.2)");
    let expr = |name: &str| match name {
        "R" => "V/I*cos(phi)",
        "X" => "V/I*sin(phi)",
        _ => "V/I",
    };
    for row in &published.impedance_together {
        let [a, b] = [expr(&row.pair[0]), expr(&row.pair[1])];
        for (at, (how, correlations)) in [("", stated), (" without", &Correlations::none())].into_iter().enumerate() {
            let spread = |expr: &str| worked(expr, inputs, correlations).budget().standard;
            let (u, v, both) = (spread(a), spread(b), spread(&format!("{a} + {b}")));
            let r = (both * both - u * u - v * v) / (2.0 * u * v);
            let name = format!("{}: r({}, {}){how}", row.id, row.pair[0], row.pair[1]);
            table.close("GUM100 H.2", &name, &row.full[at].to_string(), r, 1e-9);
            table.text("GUM100 H.2", &name, &row.published[at], &format!("{r:.3}"));
        }
    }
    table.finish(12);
}
