//! Seals: what a record says, in twelve hex digits.
//!
//! A seal is `s1-` and the first twelve hex digits of the SHA-256 of a canonical text. The first line is
//! `slipmark-seal 1`; then comes the front matter, flattened to lines `path = value` in byte order; every line ends in
//! one line feed.
//!
//! - Left out, being what may change after signing without changing the evidence: `title`, `status`, `seal`, `signed_by`,
//!   `reason`, `withdrawn`, `withdrawn_by` at the top; `reaffirmed` under any requirement; and `closed` of an element of
//!   `actions`. An action is work that the run left behind; what it says is sealed, the day on which it was done is filled
//!   in later. `accepted_by` of a deviation is not left out: that the run counts in spite of it is what the signature is for,
//!   so that whoever accepts a deviation later signs again.
//! - A path joins keys with `.`; an element of a list is `[0]`, `[1]`, …. A bare text where a list is allowed is `[0]`.
//! - Texts are NFC with folded white space, in double quotes, `\` and `"` escaped by `\`. Whole numbers are decimal,
//!   other numbers canonical quantities, dates as written, `true` and `false`. `sha256` of `data` is in lower case.
//! - `conditions.NAME`, `inputs.NAME.value`, `verifies.ID.result` and `verifies.ID.results.NAME`, where they read as
//!   quantities, are canonical quantities, bounds with `< ` or `> ` before, a stated uncertainty after as ` U ` and its
//!   canonical value; so a value restated in other units keeps its seal.
//! - For each calculation in the body, `calc <n>` and its lines with folded white space, empty ones dropped.
//!
//! The prose of the body is not covered. Version 1 is frozen, like that of the [mark](super::mark).

use std::fmt::Write;

use toml::de::{DeTable, DeValue};

use crate::parse::plain_spaces;
use crate::quantity::{Measured, Quantity, parse_measured};

use super::mark::short_hash;

const LEFT_OUT: &[&str] = &["title", "status", "seal", "signed_by", "reason", "withdrawn", "withdrawn_by"];
const LISTS: &[&str] = &["serial", "witnessed_by", "instruments"];

/// The canonical text of a record's front matter and calculations, version 1.
pub fn canonical(table: &DeTable<'_>, calculations: &[String]) -> String {
    let mut lines = Vec::new();
    for (key, value) in table {
        let key = key.get_ref().as_ref();
        if LEFT_OUT.contains(&key) {
            continue;
        }
        let mut keys = vec![key];
        match value.get_ref() {
            DeValue::String(_) if LISTS.contains(&key) => {
                flatten(&mut keys, &format!("{key}[0]"), value.get_ref(), &mut lines);
            }
            other => flatten(&mut keys, key, other, &mut lines),
        }
    }
    lines.sort();
    let mut text = "slipmark-seal 1\n".to_string();
    for line in lines {
        text.push_str(&line);
        text.push('\n');
    }
    for (number, calculation) in calculations.iter().enumerate() {
        let _ = writeln!(text, "calc {number}");
        for line in calculation.lines().map(plain_spaces).filter(|line| !line.is_empty()) {
            let _ = writeln!(text, "{line}");
        }
    }
    text
}

/// The seal of a record, version 1.
pub fn seal(table: &DeTable<'_>, calculations: &[String]) -> String {
    short_hash("s1-", &canonical(table, calculations))
}

/// Adds the lines of a value. `keys` are the keys that lead to it, `path` is how they are written: a name may hold a dot, so
/// that only the keys tell where a value stands.
fn flatten<'t>(keys: &mut Vec<&'t str>, path: &str, value: &'t DeValue<'_>, lines: &mut Vec<String>) {
    match value {
        DeValue::Table(table) => {
            for (key, value) in table {
                keys.push(key.get_ref().as_ref());
                if !is_filled_in_later(keys) {
                    flatten(keys, &format!("{path}.{}", key.get_ref()), value.get_ref(), lines);
                }
                keys.pop();
            }
        }
        DeValue::Array(array) => {
            for (index, element) in array.iter().enumerate() {
                flatten(keys, &format!("{path}[{index}]"), element.get_ref(), lines);
            }
        }
        scalar => lines.push(format!("{path} = {}", written(keys, scalar))),
    }
}

/// Whether what stands here is written after the signature, as a rule.
fn is_filled_in_later(keys: &[&str]) -> bool {
    matches!(keys, ["actions", "closed"] | ["verifies", _, "reaffirmed"])
}

fn written(keys: &[&str], value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) if *keys == ["data", "sha256"] => quoted(&text.to_lowercase()),
        DeValue::String(text) if holds_quantity(keys) => quantity(text).unwrap_or_else(|| quoted(text)),
        DeValue::String(text) => quoted(text),
        DeValue::Integer(number) if holds_quantity(keys) => {
            quantity(number.as_str()).unwrap_or_else(|| quoted(number.as_str()))
        }
        DeValue::Integer(number) => number.as_str().replace('_', ""),
        DeValue::Float(number) => quantity(number.as_str()).unwrap_or_else(|| quoted(number.as_str())),
        DeValue::Boolean(flag) => flag.to_string(),
        DeValue::Datetime(date) => date.to_string(),
        DeValue::Array(_) | DeValue::Table(_) => String::new(),
    }
}

/// Whether the value under these keys may be a quantity: results, conditions, input values.
fn holds_quantity(keys: &[&str]) -> bool {
    matches!(
        keys,
        ["conditions", _] | ["inputs", _, "value"] | ["verifies", _, "result"] | ["verifies", _, "results", _]
    )
}

fn quantity(text: &str) -> Option<String> {
    let show = |quantity: &Quantity| {
        let mut text = quantity.canonical();
        if let Some(expanded) = quantity.canonical_uncertainty() {
            let _ = write!(text, " U {expanded}");
        }
        text
    };
    match parse_measured(text).ok()? {
        Measured::Value(value) => Some(show(&value)),
        Measured::Below(value) => Some(format!("< {}", show(&value))),
        Measured::Above(value) => Some(format!("> {}", show(&value))),
    }
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", plain_spaces(text).replace('\\', "\\\\").replace('"', "\\\""))
}
