//! Views as JSON.

use serde::Serialize;

use super::ReportError;

/// A view as JSON, indented, with a final line feed.
///
/// # Errors
/// If a value cannot be written, which no view holds.
pub fn render(view: &impl Serialize) -> Result<String, ReportError> {
    let mut text = serde_json::to_string_pretty(view).map_err(|error| ReportError { message: error.to_string() })?;
    text.push('\n');
    Ok(text)
}
