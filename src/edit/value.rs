//! Values as they are written into files.

use std::fmt::Write;

/// A value to write.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Toml {
    /// A string, quoted and escaped.
    Text(String),
    /// A date, a number or anything else that stands without quotes.
    Bare(String),
    /// A list of strings.
    Texts(Vec<String>),
}

impl Toml {
    /// A string.
    pub fn text(text: impl Into<String>) -> Toml {
        Toml::Text(text.into())
    }

    /// As it stands in a file.
    pub fn written(&self) -> String {
        match self {
            Toml::Text(text) => quoted(text),
            Toml::Bare(text) => text.clone(),
            Toml::Texts(texts) => format!("[{}]", texts.iter().map(|text| quoted(text)).collect::<Vec<_>>().join(", ")),
        }
    }
}

/// A key as it stands in a file: bare where TOML allows it.
pub fn key(name: &str) -> String {
    let bare = !name.is_empty() && name.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '-'));
    if bare { name.to_string() } else { quoted(name) }
}

/// A basic string.
fn quoted(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for character in text.chars() {
        match character {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            '\r' => out.push_str("\\r"),
            other if other.is_control() => {
                let _ = write!(out, "\\u{:04X}", u32::from(other));
            }
            other => out.push(other),
        }
    }
    out.push('"');
    out
}
