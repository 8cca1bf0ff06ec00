//! What the text must agree with elsewhere in the project: target, plan, rationale, limits.
//!
//! Values are compared leniently. A number that matches counts whatever its unit; a unit that is not known here counts as a match: these are notes, and a
//! note that is wrong once is not read again.

use super::Context;
use super::report::Report;
use super::statement::{Quantity, Statement};
use super::tokens::{Kind, Role};
use super::units::{Dimension, Scale};

/// A rationale of fewer words says nothing.
const RATIONALE_WORDS: usize = 4;

/// Reports what disagrees with the rest of the requirement.
pub(super) fn scan(statement: &Statement, context: &Context, report: &mut Report) {
    if !context.has_target {
        report.add_missing("nothing-it-applies-to", "no item");
    }
    match context.rationale.map(|text| text.split_whitespace().count()) {
        None | Some(0) => report.add_missing("no-rationale", "no rationale"),
        Some(words) if words < RATIONALE_WORDS => {
            report.add_missing("no-rationale", context.rationale.unwrap_or("").trim())
        }
        Some(_) => {}
    }
    let said = if context.limits.is_empty() { Vec::new() } else { said(statement) };
    for limit in context.limits {
        if is_missing(limit, &said, statement, context) {
            report.add_missing("limit-not-in-statement", limit);
        }
    }
    values_without_criterion(statement, context, report);
}

/// A value to compare: the number, and the scale and symbol of its unit.
#[derive(Clone)]
struct Value {
    number: f64,
    unit: Option<(Scale, String)>,
    /// Names something, so that it only counts as being said.
    label: bool,
}

impl Value {
    fn of(quantity: &Quantity) -> Self {
        Value {
            number: quantity.value,
            unit: quantity.unit.as_ref().map(|unit| (unit.scale, unit.symbol.clone())),
            label: quantity.label,
        }
    }

    fn with(&self, number: f64) -> Self {
        Value { number, ..self.clone() }
    }
}

/// Values that restate one another in other units may be rounded by this much.
const ROUNDED: f64 = 5e-3;

fn close(a: f64, b: f64, relative: f64) -> bool {
    (a - b).abs() <= relative * a.abs().max(b.abs())
}

/// Whether the two may be one value, as far as can be told here.
fn same(a: &Value, b: &Value) -> bool {
    if close(a.number, b.number, 1e-9) {
        return true;
    }
    match (&a.unit, &b.unit) {
        (Some((one, first)), Some((other, second))) => {
            if first == second {
                return false;
            }
            if one.factor == 0.0 || other.factor == 0.0 {
                return one.dimension == Dimension::Other && other.dimension == Dimension::Other;
            }
            // A difference in kelvin and one in degC have the same number, which was compared above.
            one.dimension == other.dimension
                && close(a.number * one.factor + one.offset, b.number * other.factor + other.offset, ROUNDED)
        }
        (Some((scale, _)), None) | (None, Some((scale, _))) if scale.dimension == Dimension::Ratio => {
            let in_base = |value: &Value| value.number * value.unit.as_ref().map_or(1.0, |(scale, _)| scale.factor);
            close(in_base(a), in_base(b), 1e-9)
        }
        _ => false,
    }
}

/// Every value that the statement says, those in words and the ends of tolerances included.
fn said(statement: &Statement) -> Vec<Value> {
    const WORDS: &[(&str, f64)] = &[
        ("no", 0.0),
        ("zero", 0.0),
        ("none", 0.0),
        ("without", 0.0),
        ("not", 0.0),
        ("one", 1.0),
        ("once", 1.0),
        ("single", 1.0),
        ("two", 2.0),
        ("twice", 2.0),
        ("three", 3.0),
        ("four", 4.0),
        ("five", 5.0),
        ("six", 6.0),
        ("seven", 7.0),
        ("eight", 8.0),
        ("nine", 9.0),
        ("ten", 10.0),
        ("twelve", 12.0),
        ("half", 0.5),
        ("each", 1.0),
        ("twenty", 20.0),
        ("hundred", 100.0),
    ];
    let mut said: Vec<Value> = statement.quantities.iter().map(Value::of).collect();
    for pair in statement.quantities.windows(2) {
        if pair[1].tolerance {
            let middle = Value::of(&pair[0]);
            said.push(middle.with(pair[0].value - pair[1].value));
            said.push(middle.with(pair[0].value + pair[1].value));
        }
    }
    for quantity in statement.quantities.iter().filter(|quantity| statement.word(quantity.token + 1) == "times") {
        // "1.5 times the torque required" is a margin of 0.5.
        said.push(Value::of(quantity).with(quantity.value - 1.0));
    }
    for word in (0..statement.len()).map(|at| statement.word(at)).filter(|word| !word.is_empty()) {
        if let Some((_, number)) = WORDS.iter().find(|(own, _)| *own == word) {
            said.push(Value { number: *number, unit: None, label: false });
        }
    }
    said
}

/// Whether the first value of the limit is not among what is said. A limit that is calculated from parameters cannot be told.
fn is_missing(limit: &str, said: &[Value], statement: &Statement, context: &Context) -> bool {
    let limit = Statement::new(limit, context);
    if is_calculated(&limit) {
        return false;
    }
    let Some(value) = limit.quantities.first().map(Value::of) else {
        return false;
    };
    // Numbers that became part of a name (PT-01 aside, "28V") are still there to be read.
    let named = (0..statement.len()).any(|at| {
        statement.kind(at) == Some(Kind::Number)
            && statement.role(at) == Some(Role::Name)
            && statement.raw(at) == limit.raw(limit.quantities[0].token)
    });
    !named && !said.iter().any(|other| same(&value, other))
}

/// Whether the text holds a name that is no unit: `1.5 * meop`.
fn is_calculated(text: &Statement) -> bool {
    const BOUNDS: &[&str] = &[
        "at",
        "most",
        "least",
        "min",
        "max",
        "from",
        "to",
        "and",
        "between",
        "inclusive",
        "abs",
        "absolute",
        "gauge",
        "g",
        "differential",
        "of",
        "less",
        "more",
        "than",
        "up",
        "within",
        "times",
        "cycles",
    ];
    (0..text.len()).any(|at| {
        let word = text.word(at);
        text.role(at) == Some(Role::Name) || !word.is_empty() && !BOUNDS.contains(&word)
    })
}

fn values_without_criterion(statement: &Statement, context: &Context, report: &mut Report) {
    if !statement.quantities.iter().any(Quantity::is_measured) {
        return;
    }
    // There may be hundreds of parameters and they are rarely asked: what holds values is read only as far as needed, and once.
    let mut unread = context.limits.iter().chain(context.conditions).chain(context.parameters);
    let mut held: Vec<Value> = Vec::new();
    for (index, quantity) in statement.quantities.iter().enumerate() {
        let attributive = quantity.unit.as_ref().is_some_and(|unit| unit.attributive);
        if !quantity.is_measured() || quantity.tolerance || attributive {
            continue;
        }
        let value = Value::of(quantity);
        let half = statement.quantities.get(index + 1).filter(|next| next.tolerance).map_or(0.0, |next| next.value);
        let ends = [value.clone(), value.with(value.number - half), value.with(value.number + half)];
        let holds = |held: &[Value]| {
            held.iter().filter(|other| !other.label).any(|other| ends.iter().any(|end| same(end, other)))
        };
        let mut found = holds(&held);
        while !found && let Some(text) = unread.next() {
            let from = held.len();
            held.extend(Statement::new(text, context).quantities.iter().map(Value::of));
            found = holds(&held[from..]);
        }
        if !found {
            let last =
                quantity.unit.as_ref().filter(|_| !quantity.inherited).map_or(quantity.token, |unit| unit.end - 1);
            report.add("number-without-criterion", quantity.first(), last, None);
        }
    }
}
