//! Cases of practice: what the trade works out with these formulas, by the calculation language.

use serde::Deserialize;
use slipmark::calc::Correlations;

use crate::calculations::{Inputs, judge, last, worked};
use crate::comparison::Comparison;

#[derive(Deserialize)]
struct Published {
    case: Vec<Case>,
    stack: Vec<Stack>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Stack {
    id: String,
    expr: String,
    middle: String,
    worst: f64,
    squares: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    id: String,
    expr: String,
    value: String,
    unit: String,
    within: f64,
    source: String,
}

#[test]
fn cases_of_practice() {
    let published: Published = toml::from_str(include_str!("practice.toml")).expect("practice.toml is well formed");
    let mut table = Comparison::new("cases of practice");
    for case in published.case {
        let name = format!("{}: {}", case.id, case.expr);
        let step = last(&case.expr, &Inputs::default(), &Correlations::none())
            .unwrap_or_else(|errors| panic!("{name}: {errors:?}"));
        judge(&mut table, &step, (&case.source, &name), (&case.value, &case.unit, case.within));
    }
    table.finish(250);
}

/// Every `±` in an expression is a tolerance of its own.
#[test]
fn stacks() {
    let published: Published = toml::from_str(include_str!("practice.toml")).expect("practice.toml is well formed");
    let mut table = Comparison::new("stacks of tolerances");
    for stack in published.stack {
        let name = format!("{}: {}", stack.id, stack.expr);
        let worked = worked(&stack.expr, &Inputs::default(), &Correlations::none());
        let expanded = worked.quantity.uncertainty.as_ref().expect("tolerances").expanded.to_f64().expect("finite");
        table.close("worked out", &name, &stack.middle, worked.quantity.si_f64(), 1e-15);
        table.close("worked out", &format!("{name}, squares"), &stack.squares.to_string(), expanded, 1e-12);
        table.close(
            "worked out",
            &format!("{name}, worst case"),
            &stack.worst.to_string(),
            worked.budget().worst_case,
            1e-9,
        );
    }
    table.finish(24);
}
