//! The working of a record as a page.

use minijinja::context;
use minijinja::value::{Serde, Value};
use serde::Serialize;

use super::ReportError;
use super::packet::page::fill;
use super::pictures::{spread, tornado};
use super::view::{ResultView, WorkedInput, WorkedReduction, WorkedView, WorkingView};

/// The templates of the page; the second is the packet's too.
const TEMPLATES: &[(&str, &str)] = &[("worked.html", include_str!("../../templates/worked.html")), WORKING];
/// The working itself, wherever it stands.
pub(in crate::report) const WORKING: (&str, &str) = ("working.html", include_str!("../../templates/working.html"));

const STYLE: &str = include_str!("../../templates/worked.css");

/// Whether a file that starts with these bytes is a page of ours, which may be written over.
pub fn is_page(start: &[u8]) -> bool {
    String::from_utf8_lossy(&start[..start.len().min(2000)])
        .contains("<meta name=\"generator\" content=\"slipmark calc")
}

/// The page.
///
/// # Errors
/// If the template is at fault.
pub fn html(view: &WorkedView) -> Result<String, ReportError> {
    let whole = context! { work => Value::from(Serde(&working(view))), ..Value::from(Serde(view)) };
    fill(TEMPLATES, STYLE, "", whole)
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
    picture: Option<String>,
    #[serde(flatten)]
    reduction: WorkedReduction,
}

#[derive(Debug, Serialize)]
struct Drawn {
    shown: String,
    picture: Option<String>,
    spread: Option<String>,
    #[serde(flatten)]
    result: ResultView,
}

/// The working for a page.
pub(in crate::report) fn working(view: &WorkedView) -> Working {
    let id = view.id.clone().unwrap_or_default();
    let drawn = |(at, result): (usize, &ResultView)| Drawn {
        shown: result.shown.clone(),
        picture: tornado(result, &format!("{id}-{at}")),
        spread: spread(result, &format!("{id}-{at}")),
        result: result.clone(),
    };
    let reduction = |(at, own): (usize, &WorkedReduction)| {
        let title = format!("{}: {}", own.asked, own.value);
        Reduction { picture: own.trace.picture(&title, &format!("{id}-{at}")), reduction: own.clone() }
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
