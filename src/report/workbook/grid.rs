//! What a sheet holds, before anybody lays it out: columns, and cells that are text, numbers, days or links.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::parse::Moment;
use crate::report::tables::Table;
use crate::text::Spanned;

/// A cell.
#[derive(Clone, Debug, Default)]
pub(super) enum Cell {
    /// There is nothing to say.
    #[default]
    Nothing,
    /// Words.
    Text(String),
    /// A state, which is shown by its colour too.
    State(&'static str, bool),
    /// A number; its unit stands in a column of its own.
    Number(f64),
    /// A day.
    Day(Date),
    /// Words that lead to a line of another sheet, by what the line is called there; plain words if there is none.
    Link(String, &'static str, String),
}

impl Cell {
    /// Words; nothing if there are none.
    pub(super) fn text(text: impl Into<String>) -> Cell {
        let text = text.into();
        if text.is_empty() { Cell::Nothing } else { Cell::Text(text) }
    }

    /// Words, if there are any.
    pub(super) fn maybe(text: Option<impl Into<String>>) -> Cell {
        text.map_or(Cell::Nothing, Cell::text)
    }

    /// Yes or no.
    pub(super) fn yes(is: bool) -> Cell {
        Cell::text(if is { "yes" } else { "no" })
    }

    /// A count.
    pub(super) fn count(count: usize) -> Cell {
        // Far below 2^53, from where on a spreadsheet loses whole numbers.
        Cell::Number(u32::try_from(count).map_or(f64::INFINITY, f64::from))
    }

    /// A number, if it is one that a spreadsheet can hold.
    pub(super) fn number(number: Option<f64>) -> Cell {
        number.filter(|number| number.is_finite()).map_or(Cell::Nothing, Cell::Number)
    }

    /// The day of a moment.
    pub(super) fn day(moment: Option<&Spanned<Moment>>) -> Cell {
        moment.map_or(Cell::Nothing, |moment| Cell::Day(moment.value.date))
    }

    /// A day that is written as one; else the words.
    pub(super) fn written_day(text: &str) -> Cell {
        text.parse().map_or_else(|_| Cell::text(text), Cell::Day)
    }

    /// The words that the other formats show.
    pub(super) fn shown(&self) -> String {
        match self {
            Cell::Nothing => String::new(),
            Cell::Text(text) | Cell::Link(text, ..) => text.clone(),
            Cell::State(word, _) => (*word).to_string(),
            Cell::Number(number) => number.to_string(),
            Cell::Day(day) => day.to_string(),
        }
    }
}

/// A column.
#[derive(Clone, Copy, Debug)]
pub(super) struct Column {
    /// Its head.
    pub(super) head: &'static str,
    /// How wide it may become, in characters; longer texts are wrapped.
    pub(super) widest: u16,
}

/// Columns by head and greatest width.
pub(super) fn columns<const N: usize>(columns: [(&'static str, u16); N]) -> Vec<Column> {
    columns.into_iter().map(|(head, widest)| Column { head, widest }).collect()
}

/// A sheet.
#[derive(Debug)]
pub(super) struct Sheet {
    /// Its name: plain letters, so that links need no quotes.
    pub(super) name: &'static str,
    /// What is in it, in a sentence.
    pub(super) about: String,
    /// How many of the columns, which name what a line is about, stay in sight.
    pub(super) frozen: u16,
    /// How many of the columns are printed; the others are for sorting and filtering on a screen.
    pub(super) printed: u16,
    /// The columns.
    pub(super) columns: Vec<Column>,
    /// The lines, each as long as the columns.
    pub(super) lines: Vec<Vec<Cell>>,
    /// What lines are called, for links that lead to them: the first of each name.
    pub(super) places: BTreeMap<String, usize>,
}

impl Sheet {
    /// A sheet without lines; so many columns stay in sight, and so many are printed.
    pub(super) fn new(
        name: &'static str,
        about: impl Into<String>,
        (frozen, printed): (u16, u16),
        columns: Vec<Column>,
    ) -> Sheet {
        Sheet { name, about: about.into(), frozen, printed, columns, lines: Vec::new(), places: BTreeMap::new() }
    }

    /// Calls the line that is added next by a name, unless an earlier one is called so.
    pub(super) fn call(&mut self, name: impl Into<String>) {
        let next = self.lines.len();
        self.places.entry(name.into()).or_insert(next);
    }

    /// As a table of text.
    pub(super) fn table(&self) -> Table {
        Table {
            caption: self.about.clone(),
            heads: self.columns.iter().map(|column| column.head).collect(),
            rows: self.lines.iter().map(|line| line.iter().map(Cell::shown).collect()).collect(),
        }
    }
}
