//! `parameters.toml` and `instruments.toml`.

use std::cell::RefCell;
use std::collections::BTreeMap;

use crate::diag::{Finding, Findings};
use crate::id::Id;
use crate::parse::{Moment, Reader, settings};
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

/// A measuring instrument.
#[derive(Clone, Debug)]
pub struct Instrument {
    /// Its id and where it is written.
    pub id: Spanned<Id>,
    /// What it is.
    pub what: Option<String>,
    /// What it can measure.
    pub range: Option<String>,
    /// How well.
    pub uncertainty: Option<String>,
    /// Its calibrations, in the order of the file.
    pub calibrations: Vec<Calibration>,
}

/// One calibration.
#[derive(Clone, Debug)]
pub struct Calibration {
    /// Where it is written.
    pub span: Span,
    /// When.
    pub on: Option<Spanned<Moment>>,
    /// Until when it holds.
    pub due: Option<Spanned<Moment>>,
    /// How the instrument was found.
    pub as_found: Option<String>,
    /// The certificate.
    pub certificate: Option<String>,
}

impl Instrument {
    /// Whether a calibration covers this day: the newest one before it, not yet due again; of several made on one day,
    /// the one that is due first.
    pub fn calibrated_on(&self, day: jiff::civil::Date) -> bool {
        let usable = self.calibrations.iter().filter_map(|one| Some((one.on.as_ref()?.date, one.due.as_ref()?.date)));
        let newest = usable.filter(|(on, _)| *on <= day).max_by_key(|(on, due)| (*on, std::cmp::Reverse(*due)));
        newest.is_some_and(|(_, due)| due >= day)
    }
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

/// Reads `instruments.toml`.
pub fn instruments(file: FileId, text: &str, findings: &mut Findings) -> BTreeMap<Id, Instrument> {
    each(file, text, "instrument", findings, |name, table| {
        let id = Spanned::new(Id::new(&name.value), name.span);
        let instrument = Instrument {
            what: table.text("what").map(|text| text.value),
            range: table.text("range").map(|text| text.value),
            uncertainty: table.text("uncertainty").map(|text| text.value),
            calibrations: table.tables("calibrations", "calibration").into_iter().map(calibration).collect(),
            id: id.clone(),
        };
        (id.value, instrument)
    })
}

fn calibration(table: Reader<'_>) -> Calibration {
    let calibration = Calibration {
        span: table.span(),
        on: table.date("on"),
        due: table.date("due"),
        as_found: table.text("as_found").map(|text| text.value),
        certificate: table.text("certificate").map(|text| text.value),
    };
    for key in ["on", "due"] {
        if !table.has(key) {
            table.missing(key);
        }
    }
    table.finish(&[]);
    calibration
}

/// Reads a file whose every top-level key is a name with a table.
fn each<K: Ord, V>(
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
