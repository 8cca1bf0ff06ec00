//! The options of a slot side by side, as a page of HTML that needs nothing beside it.

use minijinja::context;
use minijinja::value::{Serde, Value};
use sha2::{Digest, Sha256};

use super::ReportError;
use super::packet::page::{base64, environment, visible, wrong};
use super::pictures;
use super::text::concepts::NOTE;
use super::view::ConceptsView;

const PAGE: &str = include_str!("../../templates/concepts.html");
const STYLE: &str = include_str!("../../templates/concepts.css");

/// The page.
///
/// # Errors
/// If the template is at fault.
pub fn html(view: &ConceptsView) -> Result<String, ReportError> {
    let mut environment = environment()?;
    environment.add_template("concepts.html", PAGE).map_err(|error| wrong(&error))?;
    let policy = format!(
        "default-src 'none'; style-src 'sha256-{}'; base-uri 'none'; form-action 'none'",
        base64(&Sha256::digest(STYLE))
    );
    let template = environment.get_template("concepts.html").map_err(|error| wrong(&error))?;
    let page = template.render(context! {
        style => Value::from_safe_string(STYLE.to_string()),
        policy => Value::from_safe_string(policy),
        picture => pictures::options(view).map(Value::from_safe_string),
        note => NOTE,
        ..Value::from(Serde(view))
    });
    Ok(visible(&page.map_err(|error| wrong(&error))?))
}
