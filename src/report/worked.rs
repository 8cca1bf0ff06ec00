//! The working of a record as a page.

use minijinja::context;
use minijinja::value::{Serde, Value};
use serde::Serialize;

use super::ReportError;
use super::cautions::DEFER;
use super::finished::Must;
use super::packet::html::Html;
use super::packet::page::{Document, fill};
use super::pictures::{spread, tornado};
use super::view::{ResultView, WorkedInput, WorkedReduction, WorkedVerdict, WorkedView, WorkingView};
use crate::templates::Templates;

/// Whether a file that starts with these bytes is a page of ours, which may be written over.
pub fn is_page(start: &[u8]) -> bool {
    String::from_utf8_lossy(&start[..start.len().min(2000)])
        .contains("<meta name=\"generator\" content=\"slipmark calc")
}

/// The page.
///
/// # Errors
/// If a template is at fault, or the page does not say what it must.
pub fn html(view: &WorkedView, templates: &Templates) -> Result<String, ReportError> {
    let whole = context! { work => Value::from(Serde(&working(view))), ..Value::from(Serde(view)) };
    let own = Document { templates, name: "worked.html", style: "worked.css", running: "", words: DEFER };
    fill(own, whole, || must(view))
}

/// What the page must say: faults, what is only supposed, and every verdict.
fn must(view: &WorkedView) -> Vec<Must> {
    let mut all: Vec<Must> = view.supposed.iter().map(|own| Must::Say(own.clone())).collect();
    all.extend(view.faults.iter().map(|own| Must::Say(own.message.clone())));
    let line = |own: &WorkedVerdict| vec![own.requirement.clone(), own.criterion.clone(), own.verdict.to_string()];
    all.push(Must::Lines(view.verdicts.iter().map(line).collect()));
    all
}

/// The working as the template takes it: rounded, with a picture of every result that has an uncertainty.
#[derive(Debug, Serialize)]
pub(in crate::report) struct Working {
    inputs: Vec<WorkedInput>,
    steps: Vec<Line>,
    reductions: Vec<Reduction>,
    results: Vec<Drawn>,
}

#[derive(Debug, Serialize)]
struct Line {
    name: String,
    expression: String,
    substituted: String,
    value: String,
}

#[derive(Debug, Serialize)]
struct Reduction {
    picture: Option<Html>,
    #[serde(flatten)]
    reduction: WorkedReduction,
}

#[derive(Debug, Serialize)]
struct Drawn {
    shown: String,
    picture: Option<Html>,
    spread: Option<Html>,
    #[serde(flatten)]
    result: ResultView,
}

/// The working for a page.
pub(in crate::report) fn working(view: &WorkedView) -> Working {
    let id = view.id.clone().unwrap_or_default();
    let drawn = |(at, result): (usize, &ResultView)| Drawn {
        shown: result.shown.clone(),
        picture: tornado(result, &format!("{id}-{at}")).map(Html::trusted),
        spread: spread(result, &format!("{id}-{at}")).map(Html::trusted),
        result: result.clone(),
    };
    let reduction = |(at, own): (usize, &WorkedReduction)| {
        let title = format!("{}: {}", own.asked, own.value);
        let picture = own.trace.picture(&title, &format!("{id}-{at}")).map(Html::trusted);
        Reduction { picture, reduction: own.clone() }
    };
    let line = |own: &WorkingView| Line {
        name: own.name.clone(),
        expression: own.expression.clone(),
        substituted: own.substituted.clone(),
        value: own.shown.clone(),
    };
    Working {
        inputs: view.inputs.clone(),
        steps: view.steps.iter().map(line).collect(),
        reductions: view.reductions.iter().enumerate().map(reduction).collect(),
        results: view.results.iter().enumerate().map(drawn).collect(),
    }
}
