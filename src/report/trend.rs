//! How the rows due before an event stood over history, as a page of HTML that needs nothing beside it.

use minijinja::context;
use minijinja::value::{Serde, Value};

use super::ReportError;
use super::finished::Must;
use super::packet::page::{Document, fill};
use super::pictures;
use super::text::trend::NOTE;
use super::view::{TrendPoint, TrendView};
use crate::state::State;
use crate::templates::Templates;

/// The page: the picture, what happened when, and the numbers.
///
/// # Errors
/// If a template is at fault, or the page does not say what it must.
pub fn html(view: &TrendView, templates: &Templates) -> Result<String, ReportError> {
    let happened: Vec<Vec<String>> = view.points.iter().map(TrendPoint::happened).collect();
    let states: Vec<&str> = State::ALL.iter().map(|state| state.word()).collect();
    let whole = context! {
        picture => Value::from_safe_string(pictures::trend(view)),
        note => NOTE,
        states,
        happened,
        ..Value::from(Serde(view))
    };
    let own = Document { templates, name: "trend.html", style: "concepts.css", running: "", words: NOTE };
    fill(own, whole, || must(view))
}

/// What the page must say: at every commit how many rows were open, or that they were not counted.
fn must(view: &TrendView) -> Vec<Must> {
    let line = |point: &TrendPoint| {
        let open = point.open.map_or("not counted".to_string(), |open| open.to_string());
        vec![point.oid.clone(), open]
    };
    vec![Must::Say(NOTE.into()), Must::Lines(view.points.iter().map(line).collect())]
}
