//! What a calculation comes to.

use serde::Serialize;

use crate::calc::{Budget, CalcError, Step, Value, Worked};
use crate::computed::trials::{COVERAGE, tried, where_doubtful};
use crate::quantity::{Quantity, Shape, Unit, truncated};
use crate::statistics::Trials;

use super::{Excerpt, WorkedVerdict};

/// A calculation, worked out.
#[derive(Clone, Debug, Serialize)]
pub struct CalcView {
    /// The program's version.
    pub slipmark: &'static str,
    /// The record that it stands in; none for one that was typed.
    pub id: Option<String>,
    /// What it comes to.
    pub results: Vec<ResultView>,
    /// Every assignment in order of dependence.
    pub steps: Vec<WorkingView>,
    /// What the results are held against.
    pub verdicts: Vec<WorkedVerdict>,
}

/// One result.
#[derive(Clone, Debug, Serialize)]
pub struct ResultView {
    /// Its name; `answer` for an expression without one.
    pub name: String,
    /// The number in the unit asked for with `to`, else in SI; an answer of a comparison; the numbers of a list.
    pub value: Answer,
    /// That unit; empty for a plain number.
    pub unit: String,
    /// Value, uncertainty and unit in words, at full precision.
    pub text: String,
    /// The standard uncertainty in the unit; none if nothing uncertain went in.
    pub standard_uncertainty: Option<f64>,
    /// The half width that decides: 2u, or with degrees of freedom Student's t for 95.45 % times u.
    pub expanded_uncertainty: Option<f64>,
    /// The effective degrees of freedom; none if infinite or not defined.
    pub degrees_of_freedom: Option<f64>,
    /// Whether the value was worked out without any rounding.
    pub exact: bool,
    /// What each uncertain input brings in, the largest first.
    pub contributions: Vec<ContributionView>,
    /// The half width if every input is off by its whole U in the worse direction.
    pub worst_case: Option<f64>,
    /// What was assumed, and where first order is poor.
    pub notes: Vec<String>,
    /// What many trials of it came to; only of a record's results.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trials: Option<TrialsView>,
    /// Rounded for display.
    #[serde(skip)]
    pub shown: String,
}

/// What an assignment comes to.
#[derive(Clone, Debug, Serialize)]
#[serde(untagged)]
pub enum Answer {
    /// A number.
    Number(f64),
    /// An answer.
    Truth(bool),
    /// A list of numbers.
    List(Vec<f64>),
}

/// What one uncertain input brings in.
#[derive(Clone, Debug, Serialize)]
pub struct ContributionView {
    /// Its name.
    pub input: String,
    /// Its value as it was written.
    pub value: String,
    /// Its standard uncertainty, in words with its unit.
    pub standard: String,
    /// How its possible values are spread.
    pub distribution: String,
    /// By how much the result changes for a change of the input by one, both in SI.
    pub sensitivity: f64,
    /// What it alone would make the standard uncertainty, in the unit of the result.
    pub standard_uncertainty: f64,
    /// Its part of the variance.
    pub percent: f64,
}

/// What trials of a result came to (JCGM 101), in the unit of the result.
#[derive(Clone, Debug, Serialize)]
pub struct TrialsView {
    /// How many were made.
    pub count: usize,
    /// How many came to no number.
    pub not_finite: usize,
    /// Their mean.
    pub mean: f64,
    /// Their standard deviation.
    pub standard_uncertainty: f64,
    /// The share that the intervals cover.
    pub coverage: f64,
    /// The interval that leaves as much below as above.
    pub symmetric: [f64; 2],
    /// The shortest interval.
    pub shortest: [f64; 2],
    /// Whether first order agrees with them (clause 8).
    pub agrees: bool,
    /// Whether first order states less than there is, so that they decide.
    pub decides: bool,
    /// Their values counted in equal steps.
    pub histogram: Option<HistogramView>,
}

/// Values counted in equal steps.
#[derive(Clone, Debug, Serialize)]
pub struct HistogramView {
    /// Where the first step begins.
    pub low: f64,
    /// Where the last one ends.
    pub high: f64,
    /// How many values each step holds.
    pub counts: Vec<u64>,
    /// How many lie outside.
    pub outside: u64,
}

/// One assignment.
#[derive(Clone, Debug, Serialize)]
pub struct WorkingView {
    /// Its name; `answer` for an expression without one.
    pub name: String,
    /// The right side as it was written.
    pub expression: String,
    /// The same with values in place of the names.
    pub substituted: String,
    /// What it comes to, in words.
    pub text: String,
    /// Rounded for display.
    #[serde(skip)]
    pub shown: String,
}

/// Something wrong with an expression that was typed.
#[derive(Clone, Debug)]
pub struct MistakeView {
    /// The line, from 1.
    pub line: usize,
    /// The column of the line, in characters from 1.
    pub column: usize,
    /// The line with the part that is to blame.
    pub excerpt: Excerpt,
    /// What was found and what was expected.
    pub message: String,
    /// What to type.
    pub help: String,
    /// Other parts that have to do with it, each with what it is.
    pub also: Vec<(String, String)>,
}

/// The answer of an expression that was typed: its last statement.
pub fn typed(steps: &[Step], last: Option<&Step>) -> CalcView {
    CalcView {
        slipmark: env!("CARGO_PKG_VERSION"),
        id: None,
        results: last.map(result).into_iter().collect(),
        steps: steps.iter().map(step).collect(),
        verdicts: Vec::new(),
    }
}

/// The name of a step.
fn name(step: &Step) -> String {
    if step.name.is_empty() { "answer".to_owned() } else { step.name.clone() }
}

/// A step on the way.
pub(super) fn step(step: &Step) -> WorkingView {
    WorkingView {
        name: name(step),
        expression: step.expression.clone(),
        substituted: step.substituted.clone(),
        text: in_words(&step.value, Worked::precise),
        shown: in_words(&step.value, |worked| worked.quantity.show()),
    }
}

fn in_words(value: &Value, show: impl Fn(&Worked) -> String) -> String {
    match value {
        Value::Worked(worked) => show(worked),
        Value::Truth(truth) => truth.to_string(),
        Value::List(items) => format!("[{}]", items.iter().map(|item| show(item)).collect::<Vec<_>>().join(", ")),
    }
}

/// A step as a result.
pub(super) fn result(step: &Step) -> ResultView {
    let plain = |value: Answer, unit: String| ResultView {
        name: name(step),
        value,
        unit,
        text: in_words(&step.value, Worked::precise),
        shown: in_words(&step.value, |worked| worked.quantity.show()),
        notes: Vec::new(),
        trials: None,
        standard_uncertainty: None,
        expanded_uncertainty: None,
        degrees_of_freedom: None,
        exact: true,
        contributions: Vec::new(),
        worst_case: None,
    };
    match &step.value {
        Value::Worked(worked) => quantity(worked, step, plain),
        Value::Truth(truth) => plain(Answer::Truth(*truth), String::new()),
        Value::List(items) => {
            let unit = items.first().map(|item| unit_of(&item.quantity, step.unit_asked));
            let number =
                |item: &std::sync::Arc<Worked>| unit.as_ref().map_or(f64::NAN, |unit| in_unit(unit, &item.quantity));
            let numbers = items.iter().map(number).collect();
            ResultView {
                exact: items.iter().all(|item| !item.quantity.approximate),
                ..plain(Answer::List(numbers), unit.as_ref().map_or_else(String::new, |unit| unit.symbol.clone()))
            }
        }
    }
}

fn quantity(worked: &Worked, step: &Step, plain: impl Fn(Answer, String) -> ResultView) -> ResultView {
    let quantity = &worked.quantity;
    let unit = unit_of(quantity, step.unit_asked);
    let span = |si: f64| si / unit.factor.to_f64().unwrap_or(f64::NAN);
    let base = ResultView {
        exact: !quantity.approximate,
        ..plain(Answer::Number(in_unit(&unit, quantity)), unit.symbol.clone())
    };
    let Some(uncertainty) = &quantity.uncertainty else { return base };
    let budget = worked.budget();
    let contribution = |own: &crate::calc::Contribution| ContributionView {
        input: own.source.name.clone(),
        value: own.source.quantity.show(),
        standard: standard(&own.source.quantity),
        distribution: distribution(&own.source.quantity),
        sensitivity: own.sensitivity,
        standard_uncertainty: span(own.standard),
        percent: own.percent,
    };
    ResultView {
        standard_uncertainty: unit.span_from_si(&uncertainty.standard).to_f64(),
        expanded_uncertainty: unit.span_from_si(&uncertainty.expanded).to_f64(),
        degrees_of_freedom: budget.freedom,
        contributions: budget.contributions.iter().map(contribution).collect(),
        worst_case: Some(span(budget.worst_case)),
        notes: notes(worked, &budget),
        ..base
    }
}

/// Most trials that a working shows, and in how many steps they are counted.
const SHOWN_TRIALS: usize = 220_000;
const STEPS: usize = 60;

/// The trials of a result, if it is uncertain and they can be made; of all results, or only of one that they decide.
pub(super) fn trials(step: &Step, all: bool) -> Option<TrialsView> {
    let worked = step.worked().filter(|worked| worked.quantity.uncertainty.is_some())?;
    let decides = matches!(where_doubtful(worked), Ok(Some(own)) if own.decides());
    if !all && !decides {
        return None;
    }
    let made = tried(worked, Trials::Adaptive { digits: 1, most: SHOWN_TRIALS }).ok()?;
    let unit = unit_of(&worked.quantity, step.unit_asked);
    let scale = unit.factor.to_f64().unwrap_or(f64::NAN);
    let zero = unit.offset.to_f64().unwrap_or(0.0);
    let at = |si: f64| (si - zero) / scale;
    let simulation = &made.simulation;
    let histogram = simulation.histogram(STEPS).map(|own| HistogramView {
        low: at(own.low),
        high: at(own.high),
        counts: own.counts,
        outside: own.outside,
    });
    Some(TrialsView {
        count: simulation.trials,
        not_finite: simulation.not_finite,
        mean: at(simulation.mean),
        standard_uncertainty: simulation.standard / scale,
        coverage: COVERAGE,
        symmetric: [at(simulation.symmetric.0), at(simulation.symmetric.1)],
        shortest: [at(simulation.shortest.0), at(simulation.shortest.1)],
        agrees: made.agrees(),
        decides,
        histogram,
    })
}

/// The standard uncertainty of a value in its unit.
fn standard(quantity: &Quantity) -> String {
    let Some(own) = &quantity.uncertainty else { return String::new() };
    Quantity::computed(own.standard.clone(), quantity.unit.as_difference(), true).show()
}

fn distribution(quantity: &Quantity) -> String {
    let Some(own) = &quantity.uncertainty else { return "exact".into() };
    match (own.shape, &own.freedom) {
        (Shape::Normal, None) => "normal".into(),
        (Shape::Normal, Some(freedom)) => format!("t, {} degrees of freedom", truncated(freedom)),
        (shape, _) => shape.word().into(),
    }
}

/// The departure from a straight line, in standard uncertainties, from which on it is said.
const BENT: f64 = 0.1;

fn notes(worked: &Worked, budget: &Budget) -> Vec<String> {
    let mut notes = Vec::new();
    for shared in &budget.shared {
        let how = if shared.together { "off together" } else { "off independently" };
        notes.push(format!(
            "{} was read {} times; what the readings share is not stated, so they are taken to be {how}, which is the larger uncertainty",
            shared.instrument,
            shared.keys.len()
        ));
    }
    if budget.freedom_undefined {
        notes.push("degrees of freedom are not defined for correlated inputs; k = 2 is used".into());
    }
    let bent = worked.curvature();
    if bent > BENT {
        let by = if bent.is_finite() {
            format!("off by {bent:.2} of the result's own uncertainty")
        } else {
            "all there is".into()
        };
        notes.push(format!(
            "first order is poor here: over two standard uncertainties of the inputs the curvature is {by}"
        ));
    }
    notes
}

/// The unit asked for, else the coherent SI unit.
fn unit_of(quantity: &Quantity, asked: bool) -> Unit {
    if asked { (*quantity.unit).clone() } else { Unit::coherent(quantity.dimension, quantity.kind) }
}

fn in_unit(unit: &Unit, quantity: &Quantity) -> f64 {
    unit.from_si(&quantity.value).to_f64().unwrap_or(f64::NAN)
}

/// Where the mistakes of a text stand.
pub fn mistakes(text: &str, errors: &[CalcError]) -> Vec<MistakeView> {
    errors.iter().map(|error| mistake(text, error)).collect()
}

fn mistake(text: &str, error: &CalcError) -> MistakeView {
    let start = error.range.start.min(text.len());
    let line_start = text[..start].rfind('\n').map_or(0, |at| at + 1);
    let line_end = text[start..].find('\n').map_or(text.len(), |at| start + at);
    let end = error.range.end.clamp(start, line_end);
    let part = |range: &std::ops::Range<usize>| text.get(range.clone()).unwrap_or("").to_owned();
    MistakeView {
        line: text[..start].matches('\n').count() + 1,
        column: text[line_start..start].chars().count() + 1,
        excerpt: Excerpt {
            text: text[line_start..line_end].to_owned(),
            start: start - line_start,
            end: end - line_start,
            label: String::new(),
        },
        message: error.message.clone(),
        help: error.help.clone(),
        also: error.also.iter().map(|(range, what)| (part(range), what.clone())).collect(),
    }
}
