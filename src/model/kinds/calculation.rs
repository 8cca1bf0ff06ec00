//! What a record computes and from what: its calculation, the inputs, what is reduced from data.

use std::ops::Range;

use crate::diag::Finding;
use crate::id::Id;
use crate::model::{Model, wanted_of};
use crate::parse::{CalcBlock, Reader, Scalar};
use crate::text::{FileId, Span, Spanned};

/// The calculation in the body of a record: the lines of all its blocks, one after the other.
#[derive(Clone, Debug)]
pub struct Calculation {
    /// The lines.
    pub text: String,
    file: FileId,
    /// For each piece of the text, where it begins there and in the file.
    pieces: Vec<(usize, usize)>,
}

impl Calculation {
    /// Joins the blocks of a body that starts at byte `body_at` of a file; none if there are no blocks.
    pub fn of(blocks: &[CalcBlock], file: FileId, body_at: usize) -> Option<Box<Calculation>> {
        if blocks.is_empty() {
            return None;
        }
        let mut joined = Calculation { text: String::new(), file, pieces: Vec::new() };
        for block in blocks {
            let from = joined.text.len();
            joined.pieces.extend(block.pieces.iter().map(|(text, body)| (from + text, body_at + body)));
            joined.text.push_str(&block.text);
            if !joined.text.ends_with('\n') {
                joined.text.push('\n');
            }
        }
        Some(Box::new(joined))
    }

    /// Where some bytes of the text stand in the file.
    pub fn span(&self, range: &Range<usize>) -> Span {
        let (start, end) = (self.in_file(range.start), self.in_file(range.end));
        Span::new(self.file, start..end.max(start))
    }

    fn in_file(&self, at: usize) -> usize {
        let before = self.pieces.iter().rev().find(|(text, _)| *text <= at);
        before.map_or(0, |(text, file)| file + (at - text))
    }
}

/// What a calculation starts from.
#[derive(Clone, Debug)]
pub struct Input {
    /// Its name.
    pub name: Spanned<String>,
    /// A typed value.
    pub value: Option<Spanned<Scalar>>,
    /// Repeated readings, of which the mean counts.
    pub readings: Vec<Spanned<String>>,
    /// Where the typed value is from.
    pub source: Option<Spanned<String>>,
    /// Another record's result, `TR-007.stem_torque`.
    pub from: Option<Spanned<String>>,
    /// What it was when the record was signed, written by `sign`.
    pub used: Option<Spanned<String>>,
    /// What it was read with: the uncertainty of a value that states none.
    pub instrument: Option<Spanned<Id>>,
}

impl Input {
    /// The id of the record that it is from.
    pub fn record<'i>(&'i self, model: &Model) -> Option<&'i str> {
        self.from.as_ref().map(|from| wanted_of(model, &from.value).0)
    }
}

/// How two inputs go together.
#[derive(Clone, Debug)]
pub struct Correlation {
    /// Where it is written.
    pub span: Span,
    /// The two inputs.
    pub between: Vec<Spanned<String>>,
    /// The correlation coefficient.
    pub r: Option<Spanned<Scalar>>,
}

/// What is asked of a column of attached data.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReductionText {
    /// The attached file.
    pub file: Spanned<String>,
    /// The key and the text of everything that is said of it: column, reduce, where, …
    pub said: Vec<(&'static str, Spanned<String>)>,
}

/// Keys of a reduction beside `data`, in the order in which they are shown.
const SAID: &[&str] =
    &["column", "reduce", "where", "time", "against", "at", "from", "to", "smooth", "uncertainty", "instrument"];

impl ReductionText {
    /// What is said under a key.
    pub fn get(&self, key: &str) -> Option<&Spanned<String>> {
        self.said.iter().find(|(own, _)| *own == key).map(|(_, text)| text)
    }

    /// For display: `max of torque in tr-012.csv where body < 95 K`.
    pub fn show(&self) -> String {
        let text = |key: &str| self.get(key).map(|text| text.value.as_str());
        // A time between two conditions, or a count of them, is of no column.
        let column = text("column").map(|column| format!(" of {column}")).unwrap_or_default();
        let mut shown = format!("{}{column} in {}", text("reduce").unwrap_or("?"), self.file.value);
        for key in ["against", "at", "from", "to", "where"] {
            if let Some(said) = text(key) {
                shown.push_str(&format!(" {key} {said}"));
            }
        }
        shown
    }
}

/// Reads the table `{ data = "FILE.csv", … }` once its file is known.
pub(super) fn reduction(table: &Reader<'_>, file: Spanned<String>) -> ReductionText {
    let scalar = |key: &'static str| {
        let written = table.scalar(key)?;
        Some((key, Spanned::new(written.value.text().to_string(), written.span)))
    };
    ReductionText { file, said: SAID.iter().filter_map(|key| scalar(key)).collect() }
}

/// The ways in which an input gets its value.
pub const ONE_WAY: &str =
    "write value = \"…\" with its source, readings = [\"…\", \"…\"], or from = \"RECORD.CRITERION\"";

/// Reads one table of `inputs`.
pub(super) fn input((name, table): (Spanned<String>, Reader<'_>), keys: &[&str]) -> Input {
    let input = Input {
        value: table.scalar("value"),
        readings: table.list("readings"),
        source: table.text("source"),
        from: table.text("from"),
        used: table.text("used"),
        instrument: table.id("instrument"),
        name,
    };
    let ways = [input.value.is_some(), !input.readings.is_empty(), input.from.is_some()];
    if ways.into_iter().filter(|given| *given).count() != 1 {
        let text = format!("input `{}` must have exactly one of `value`, `readings` and `from`", input.name.value);
        table.report(Finding::at("bad-input", input.name.span, text).help(ONE_WAY));
    }
    table.finish(keys);
    input
}

/// Reads one table of `correlations`.
pub(super) fn correlation(table: Reader<'_>, keys: &[&str]) -> Correlation {
    let correlation = Correlation { span: table.span(), between: table.list("between"), r: table.scalar("r") };
    if correlation.between.len() != 2 || correlation.r.is_none() {
        table.report(
            Finding::at("bad-correlation", correlation.span, "a correlation is between two inputs and has an `r`")
                .help("write between = [\"T_1\", \"T_2\"] and r = 0.8"),
        );
    }
    table.finish(keys);
    correlation
}
