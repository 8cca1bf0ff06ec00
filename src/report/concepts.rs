//! The options of a slot side by side, as a page of HTML that needs nothing beside it.

use minijinja::context;
use minijinja::value::{Serde, Value};

use super::ReportError;
use super::finished::Must;
use super::packet::page::{Document, fill};
use super::pictures;
use super::text::concepts::NOTE;
use super::view::ConceptsView;
use crate::templates::Templates;

/// The page.
///
/// # Errors
/// If a template is at fault, or the page does not say what it must.
pub fn html(view: &ConceptsView, templates: &Templates) -> Result<String, ReportError> {
    let own = Document { templates, name: "concepts.html", style: "concepts.css", running: "", words: NOTE };
    let whole = context! {
        picture => pictures::options(view).map(Value::from_safe_string),
        note => NOTE,
        ..Value::from(Serde(view))
    };
    fill(own, whole, || must(view))
}

/// What the page must say: what is still to be shown, of every option that may yet be built.
fn must(view: &ConceptsView) -> Vec<Must> {
    let options = view.options.iter().filter(|option| option.status != "dropped");
    let rows = options.flat_map(|option| &option.to_show);
    let lines = rows.map(|row| vec![row.requirement.clone(), row.state.word().to_string(), row.subject.clone()]);
    vec![Must::Say(NOTE.into()), Must::Lines(lines.collect())]
}
