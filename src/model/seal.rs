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
//! - `conditions.NAME`, `uses.NAME`, `inputs.NAME.value`, `verifies.ID.result`, `verifies.ID.results.NAME`, and `sample`, `mean` and `sd` of
//!   the last two, where they read as quantities, are canonical quantities, bounds with `< ` or `> ` before, a stated uncertainty after as ` U ` and its
//!   canonical value; so a value restated in other units keeps its seal.
//! - For each calculation in the body, `calc <n>` and its lines with folded white space, empty ones dropped.
//!
//! The prose of the body is not covered. Version 1 is frozen, like that of the [mark](super::mark).

use std::fmt::Write;

use crate::parse::tree::{Table, Value};
use crate::parse::{CalcBlock, plain_spaces};
use crate::quantity::{Measured, parse_measured};

use super::mark::short_hash;

const LEFT_OUT: &[&str] = &["title", "status", "seal", "signed_by", "reason", "withdrawn", "withdrawn_by"];
const LISTS: &[&str] = &["serial", "witnessed_by", "instruments"];

/// The canonical text of a record's front matter and calculations, version 1.
pub fn canonical(table: &Table<'_>, calculations: &[CalcBlock]) -> String {
    let mut lines = Lines::new();
    for (key, value) in table.entries() {
        let key = key.text();
        if LEFT_OUT.contains(&key) {
            continue;
        }
        lines.keys.push(key);
        lines.path.push_str(key);
        if LISTS.contains(&key) && matches!(value.value, Value::String(_)) {
            lines.path.push_str("[0]");
        }
        lines.flatten(&value.value);
        lines.path.clear();
        lines.keys.clear();
    }
    let mut text = lines.sorted("slipmark-seal 1\n");
    for (number, calculation) in calculations.iter().enumerate() {
        let _ = writeln!(text, "calc {number}");
        for line in calculation.text.lines().map(plain_spaces).filter(|line| !line.is_empty()) {
            let _ = writeln!(text, "{line}");
        }
    }
    text
}

/// The seal of a record, version 1.
pub fn seal(table: &Table<'_>, calculations: &[CalcBlock]) -> String {
    short_hash("s1-", &canonical(table, calculations))
}

/// Lines `path = value` in the making, one after the other in one text: a record has dozens and there are many records.
///
/// The keys that lead to a value are kept beside the path as it is written: a name may hold a dot, so that only they tell
/// where a value stands.
struct Lines<'t> {
    keys: Vec<&'t str>,
    path: String,
    text: String,
    ends: Vec<usize>,
}

impl<'t> Lines<'t> {
    /// None yet, with room for those of an ordinary record.
    fn new() -> Lines<'t> {
        Lines {
            keys: Vec::with_capacity(8),
            path: String::with_capacity(128),
            text: String::with_capacity(2048),
            ends: Vec::with_capacity(64),
        }
    }

    /// Adds the lines of the value at the path.
    fn flatten(&mut self, value: &'t Value<'_>) {
        let length = self.path.len();
        match value {
            Value::Table(table) => {
                for (key, value) in table.entries() {
                    let key = key.text();
                    self.keys.push(key);
                    if !is_filled_in_later(&self.keys) {
                        self.path.push('.');
                        self.path.push_str(key);
                        self.flatten(&value.value);
                        self.path.truncate(length);
                    }
                    self.keys.pop();
                }
            }
            Value::Array(array) => {
                for (index, element) in array.iter().enumerate() {
                    let _ = write!(self.path, "[{index}]");
                    self.flatten(&element.value);
                    self.path.truncate(length);
                }
            }
            scalar => {
                self.text.push_str(&self.path);
                self.text.push_str(" = ");
                write_scalar(&mut self.text, &self.keys, scalar);
                self.ends.push(self.text.len());
            }
        }
    }

    /// The lines in byte order, after a first one.
    fn sorted(&self, first: &str) -> String {
        let starts = std::iter::once(0).chain(self.ends.iter().copied());
        let mut lines: Vec<&str> = starts.zip(&self.ends).map(|(start, end)| &self.text[start..*end]).collect();
        lines.sort_unstable();
        let mut text = String::with_capacity(first.len() + self.text.len() + lines.len());
        text.push_str(first);
        for line in lines {
            text.push_str(line);
            text.push('\n');
        }
        text
    }
}

/// Whether what stands here is written after the signature, as a rule.
fn is_filled_in_later(keys: &[&str]) -> bool {
    matches!(keys, ["actions", "closed"] | ["verifies", _, "reaffirmed"])
}

fn write_scalar(text: &mut String, keys: &[&str], value: &Value<'_>) {
    let number = |text: &mut String, number: &str| {
        if !write_quantity(text, number) {
            write_quoted(text, number);
        }
    };
    match value {
        Value::String(value) if *keys == ["data", "sha256"] => write_quoted(text, &value.to_lowercase()),
        Value::String(value) if holds_quantity(keys) => number(text, value),
        Value::String(value) => write_quoted(text, value),
        Value::Integer(value, _) if holds_quantity(keys) => number(text, value),
        Value::Integer(value, _) => text.push_str(&value.replace('_', "")),
        Value::Float(value) => number(text, value),
        Value::Boolean(flag) => text.push_str(if *flag { "true" } else { "false" }),
        Value::Datetime(date) => {
            let _ = write!(text, "{date}");
        }
        Value::Array(_) | Value::Table(_) => {}
    }
}

/// Whether the value under these keys may be a quantity: results, conditions, uses, input values.
fn holds_quantity(keys: &[&str]) -> bool {
    matches!(
        keys,
        ["conditions" | "uses", _]
            | ["inputs", _, "value"]
            | ["verifies", _, "result"]
            | ["verifies", _, "results", _]
            | ["verifies", _, "result", "sample" | "mean" | "sd"]
            | ["verifies", _, "results", _, "sample" | "mean" | "sd"]
    )
}

/// Writes the canonical form of a quantity; says whether the text holds one.
fn write_quantity(text: &mut String, written: &str) -> bool {
    let Ok(measured) = parse_measured(written) else { return false };
    let (bound, quantity) = match &measured {
        Measured::Value(value) => ("", value),
        Measured::Below(value) => ("< ", value),
        Measured::Above(value) => ("> ", value),
    };
    text.push_str(bound);
    quantity.write_canonical(text);
    if quantity.uncertainty.is_some() {
        text.push_str(" U ");
        quantity.write_canonical_uncertainty(text);
    }
    true
}

fn write_quoted(text: &mut String, value: &str) {
    text.push('"');
    for part in plain_spaces(value).split_inclusive(['\\', '"']) {
        match part.strip_suffix(['\\', '"']) {
            Some(before) => {
                text.push_str(before);
                text.push('\\');
                text.push_str(&part[before.len()..]);
            }
            None => text.push_str(part),
        }
    }
    text.push('"');
}
