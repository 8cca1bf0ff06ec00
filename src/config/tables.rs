//! `parameters.toml`, and how a file of named tables is read.

use std::cell::RefCell;
use std::collections::BTreeMap;

use crate::diag::{Finding, Findings};
use crate::parse::{Reader, settings};
use crate::quantity::{Quantity, parse_quantity};
use crate::text::{FileId, Span, Spanned};

/// A named value for limits and calculations.
#[derive(Clone, Debug)]
pub struct Parameter {
    /// Its name and where it is written.
    pub name: Spanned<String>,
    /// As written.
    pub text: Spanned<String>,
    /// What it comes to; none if it could not be read.
    pub value: Option<Quantity>,
    /// Where it is from.
    pub source: Option<String>,
    /// A note for people.
    pub note: Option<String>,
}

/// Reads `parameters.toml`.
pub fn parameters(file: FileId, text: &str, findings: &mut Findings) -> BTreeMap<String, Parameter> {
    each(file, text, "parameter", findings, |name, table| {
        let written = table.scalar("value");
        if written.is_none() && !table.has("value") {
            table.missing("value");
        }
        let text = written.map(|written| Spanned::new(written.value.text().to_string(), written.span));
        let value = text.as_ref().and_then(|text| match parse_quantity(&text.value) {
            Ok(quantity) => Some(quantity),
            Err(error) => {
                table.report(
                    Finding::at(
                        "bad-quantity",
                        text.span,
                        format!("`{}` is no quantity: {}", text.value, error.message),
                    )
                    .help(error.help),
                );
                None
            }
        });
        let text = text.unwrap_or(Spanned::new(String::new(), name.span));
        let source = table.text("source").map(|text| text.value);
        let note = table.text("note").map(|text| text.value);
        (name.value.clone(), Parameter { name, text, value, source, note })
    })
}

/// Reads a file whose every top-level key is a name with a table.
pub(super) fn each<K: Ord, V>(
    file: FileId,
    text: &str,
    word: &'static str,
    findings: &mut Findings,
    read: impl Fn(Spanned<String>, &Reader<'_>) -> (K, V),
) -> BTreeMap<K, V> {
    let (table, base) = settings(file, text, findings);
    let collected = RefCell::new(std::mem::take(findings));
    let top = Reader::new(&table, Span::new(file, 0..0), base, word, &collected);
    let entries = top.each_table(word).into_iter().map(|(name, table)| {
        let entry = read(name, &table);
        table.finish(&[]);
        entry
    });
    let entries = entries.collect();
    *findings = collected.into_inner();
    entries
}
