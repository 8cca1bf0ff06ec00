//! A calculation with other values: a form, and what comes of it beside what is recorded. It is evidence of nothing.

use serde::Serialize;

use crate::computed::InputValue;
use crate::report::view::{WorkedVerdict, WorkedView};

/// A value that a calculation starts from, and what a form says of it.
#[derive(Debug)]
pub struct Asked<'a> {
    /// As it is recorded.
    pub input: &'a InputValue,
    /// What stands in the field, if anything does.
    pub typed: Option<&'a str>,
    /// What is to be supposed, if that is something else than what is recorded.
    pub value: Option<String>,
}

/// The form and what came of it.
#[derive(Debug, Serialize)]
pub struct WhatIf {
    inputs: Vec<Field>,
    results: Vec<Line>,
    /// Whether anything else than what is recorded was asked, and could be worked out.
    other: bool,
    /// Why it could not be worked out.
    wrong: Option<String>,
}

/// A field of the form.
#[derive(Debug, Serialize)]
struct Field {
    name: String,
    /// What stands in it.
    typed: String,
    unit: String,
    recorded: String,
    other: bool,
    range: Option<Range>,
}

/// Where a slider begins and ends, and how it goes.
#[derive(Debug, PartialEq, Serialize)]
struct Range {
    from: String,
    to: String,
    step: String,
}

/// A result as it is recorded and as it would be.
#[derive(Debug, Serialize)]
struct Line {
    what: String,
    limit: Option<String>,
    recorded: End,
    supposed: Option<End>,
}

#[derive(Clone, Debug, Default, PartialEq, Serialize)]
struct End {
    result: String,
    verdict: Option<&'static str>,
    why: Option<String>,
    margin: Option<String>,
}

impl WhatIf {
    /// From what was asked, what is recorded, and what came of it if anything else was asked.
    pub fn of(asked: &[Asked<'_>], recorded: &WorkedView, found: Option<Result<WorkedView, String>>) -> WhatIf {
        let (supposed, wrong) = match found {
            None => (None, None),
            Some(Ok(view)) => (Some(view), None),
            Some(Err(why)) => (None, Some(why)),
        };
        WhatIf {
            inputs: asked.iter().map(field).collect(),
            results: lines(recorded, supposed.as_ref()),
            other: supposed.is_some(),
            wrong,
        }
    }
}

fn field(asked: &Asked<'_>) -> Field {
    let quantity = &asked.input.quantity;
    let recorded = quantity.number();
    let typed = asked.typed.unwrap_or(&recorded).to_string();
    let number = |text: &str| text.parse::<f64>().ok().filter(|number| number.is_finite());
    let spread = quantity.uncertainty.as_ref().and_then(|own| quantity.unit.span_from_si(&own.expanded).to_f64());
    let range = number(&recorded).and_then(|now| range(now, spread.unwrap_or(0.0), number(&typed)));
    Field {
        name: asked.input.name.clone(),
        typed,
        unit: quantity.unit.symbol.clone(),
        recorded: quantity.show(),
        other: asked.value.is_some(),
        range,
    }
}

/// How many steps a slider has to each side.
const STEPS: f64 = 50.0;

/// From half as much to half as much again, or three times the uncertainty to both sides where that is more; what is not below zero does
/// not go there, and a value that was typed lies inside. None where numbers are too large for it.
fn range(now: f64, expanded: f64, typed: Option<f64>) -> Option<Range> {
    let reach =
        [now.abs() / 2.0, 3.0 * expanded.abs(), (typed.unwrap_or(now) - now).abs()].into_iter().fold(0.0, f64::max);
    let reach = if reach > 0.0 { reach } else { 1.0 };
    let step = round_step(reach / STEPS);
    let least = if now >= 0.0 && typed.unwrap_or(now) >= 0.0 { (now - reach).max(0.0) } else { now - reach };
    let (from, to) = ((least / step).floor() * step, ((now + reach) / step).ceil() * step);
    let places = usize::try_from(-(step.log10().floor() as i64)).unwrap_or(0);
    let plain = |number: f64| format!("{number:.places$}");
    (to.is_finite() && places < 20 && to.abs() < 1e15).then(|| Range {
        from: plain(from),
        to: plain(to),
        step: plain(step),
    })
}

/// The nearest of 1, 2, 5 times a power of ten that is not more.
fn round_step(step: f64) -> f64 {
    let size = 10f64.powi(step.log10().floor() as i32);
    let lead = [5.0, 2.0, 1.0].into_iter().find(|lead| lead * size <= step * 1.000_001).unwrap_or(1.0);
    lead * size
}

/// Each criterion that a result is held against; without any, what the lines come to.
fn lines(recorded: &WorkedView, supposed: Option<&WorkedView>) -> Vec<Line> {
    let judged = |own: &WorkedVerdict| End {
        result: own.result.clone().unwrap_or_default(),
        verdict: Some(own.verdict),
        why: own.why.clone(),
        margin: own.margin.clone(),
    };
    if recorded.verdicts.is_empty() {
        let shown = |result: String| End { result, ..End::default() };
        let other = |at: usize| supposed.and_then(|view| view.results.get(at)).map(|own| shown(own.shown.clone()));
        let all = recorded.results.iter().enumerate();
        return all
            .map(|(at, own)| Line {
                what: own.name.clone(),
                limit: None,
                recorded: shown(own.shown.clone()),
                supposed: other(at),
            })
            .collect();
    }
    let same = |a: &WorkedVerdict, b: &WorkedVerdict| a.requirement == b.requirement && a.criterion == b.criterion;
    let line = |own: &WorkedVerdict| Line {
        what: format!("{}: {}", own.requirement, own.criterion),
        limit: Some(own.limit.clone()),
        recorded: judged(own),
        supposed: supposed.and_then(|view| view.verdicts.iter().find(|other| same(own, other))).map(judged),
    };
    recorded.verdicts.iter().map(line).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ends(now: f64, expanded: f64, typed: Option<f64>) -> [String; 3] {
        let Range { from, to, step } = range(now, expanded, typed).unwrap();
        [from, to, step]
    }

    #[test]
    fn a_slider_goes_as_far_as_is_worth_asking() {
        assert_eq!(ends(18.5, 1.5, None), ["9.2", "27.8", "0.1"]);
        assert_eq!(ends(0.9, 0.03, None), ["0.450", "1.350", "0.005"]);
        assert_eq!(ends(1642.0, 55.0, None), ["820", "2470", "10"]);
        assert_eq!(ends(-40.0, 0.0, None), ["-60.0", "-20.0", "0.2"]);
        assert_eq!(ends(0.0, 0.0, None), ["0.00", "1.00", "0.02"]);
        // Three times the uncertainty is further; but a length is not turned below zero by it.
        assert_eq!(ends(1.0, 1.0, None), ["0.00", "4.00", "0.05"]);
        assert_eq!(ends(1.0, 0.0, Some(7.0)), ["0.0", "7.0", "0.1"]);
        assert_eq!(ends(1.0, 0.0, Some(-7.0)), ["-7.0", "9.0", "0.1"]);
        assert_eq!(range(1e300, 0.0, None), None);
    }
}
