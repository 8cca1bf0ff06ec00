//! How the rows due before an event stood over history, as a page of HTML that needs nothing beside it.

use minijinja::context;
use minijinja::value::{Serde, Value};
use sha2::{Digest, Sha256};

use super::ReportError;
use super::packet::page::{base64, environment, visible, wrong};
use super::pictures;
use super::text::trend::NOTE;
use super::view::{TrendPoint, TrendView};
use crate::state::State;

const PAGE: &str = include_str!("../../templates/trend.html");
const STYLE: &str = include_str!("../../templates/concepts.css");

/// The page: the picture, what happened when, and the numbers.
///
/// # Errors
/// If the template is at fault.
pub fn html(view: &TrendView) -> Result<String, ReportError> {
    let mut environment = environment()?;
    environment.add_template("trend.html", PAGE).map_err(|error| wrong(&error))?;
    let policy = format!(
        "default-src 'none'; style-src 'sha256-{}'; base-uri 'none'; form-action 'none'",
        base64(&Sha256::digest(STYLE))
    );
    let template = environment.get_template("trend.html").map_err(|error| wrong(&error))?;
    let happened: Vec<Vec<String>> = view.points.iter().map(TrendPoint::happened).collect();
    let states: Vec<&str> = State::ALL.iter().map(|state| state.word()).collect();
    let page = template.render(context! {
        style => Value::from_safe_string(STYLE.to_string()),
        policy => Value::from_safe_string(policy),
        picture => Value::from_safe_string(pictures::trend(view)),
        note => NOTE,
        states,
        happened,
        ..Value::from(Serde(view))
    });
    Ok(visible(&page.map_err(|error| wrong(&error))?))
}
