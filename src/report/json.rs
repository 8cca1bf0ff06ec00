//! Views as JSON.

use serde::Serialize;

use super::ReportError;

/// A view as JSON, indented, with a final line feed.
///
/// # Errors
/// If a value cannot be written, which no view holds.
pub fn render(view: &impl Serialize) -> Result<String, ReportError> {
    let mut text = serde_json::to_string_pretty(view).map_err(|error| ReportError::new(error.to_string()))?;
    text.push('\n');
    Ok(escaped(text))
}

/// Spells out the control characters that JSON lets through: some terminals act on them. They only stand in strings.
fn escaped(text: String) -> String {
    let acts = |c: char| matches!(c, '\u{7f}'..='\u{9f}');
    if !text.contains(acts) {
        return text;
    }
    let mut out = String::with_capacity(text.len() + 64);
    for character in text.chars() {
        match character {
            c if acts(c) => out.push_str(&format!("\\u{:04x}", u32::from(c))),
            other => out.push(other),
        }
    }
    out
}
