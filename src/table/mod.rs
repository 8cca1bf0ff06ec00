//! Tables of data with units in their headers, and what is reduced from them.
//!
//! What it is for: raw data of a run is attached as a file, and what a record reports is worked out from it here, each time the project is
//! read, so that no maximum is typed in. The calculation language looks values up in the same tables.
//!
//! What comes in: the bytes of a file, and a [`Reduction`] in the words of a record. What goes out: a [`Table`] whose cells are the
//! numbers that were written, a [`Reduced`] with the rows it rests on, a [`Curve`] through two columns; or errors that name line
//! and column, or the key of the reduction and the bytes in it. Nothing here reads a file.
//!
//! # The file
//!
//! UTF-8 text, with or without a byte-order mark; records as in RFC 4180. Lines at the head that start with `#` are comments. The first
//! other line is the header; its cells are separated by commas, or by semicolons or tabs where no comma separates any. A header cell is
//! `name [unit]` or `name (unit)`; without a unit the column holds plain numbers. A unit in which a comma stands needs double quotes around
//! the cell. A cell is a decimal number as elsewhere, or an RFC 3339 instant if the whole column is; an empty one and `NaN` are gaps, which
//! matter only to what meets them.

mod cells;
mod condition;
mod curve;
mod read;
mod records;
mod reduce;
mod select;
mod sums;
mod work;

use std::sync::Arc;

use crate::quantity::{Quantity, Rational, Unit};
use crate::text::nearest;
use cells::{Cells, Decimal};

pub use curve::{Between, Curve};
pub use reduce::{Mark, Place, Reduce, ReduceError, Reduced, Reduction, combine, reduce};

/// Largest file that is read as a table, in bytes.
pub const MAX_BYTES: usize = 64 << 20;

/// Most cells that a table may have.
pub const MAX_CELLS: usize = 5_000_000;

/// Most errors of one file that are told.
pub const MAX_ERRORS: usize = 20;

/// Most columns that an error lists.
const LISTED: usize = 8;

/// What is wrong in a table, and where.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct TableError {
    /// The line of the file, from 1.
    pub line: usize,
    /// The character in the line, from 1.
    pub column: usize,
    /// What was found and what was expected.
    pub message: String,
    /// What to type instead.
    pub help: String,
}

/// A table of numbers, every column with its unit.
#[derive(Debug)]
pub struct Table {
    columns: Vec<Column>,
    /// The line on which each row starts.
    lines: Vec<u32>,
    /// The line of the header.
    header: u32,
}

/// What the cells of a column are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Holds {
    /// Numbers of its unit.
    Numbers,
    /// RFC 3339 instants.
    Instants,
    /// Something else, in which there is nothing to work out.
    Texts,
}

/// A column of a table.
#[derive(Debug)]
pub struct Column {
    /// Its name, without the unit.
    pub name: String,
    /// Its header as it was written, with the unit.
    pub written: String,
    /// The unit of its numbers; seconds where it holds instants, counted from the first of them.
    pub unit: Arc<Unit>,
    /// What its cells are.
    pub holds: Holds,
    /// Where its header stands, in characters from 1.
    pub header: usize,
    /// The first instant, in nanoseconds since 1970.
    zero: Option<i64>,
    cells: Arc<Cells>,
}

impl Table {
    /// Reads a table.
    ///
    /// # Errors
    /// What is wrong in it, in the order of the file, at most [`MAX_ERRORS`].
    pub fn read(bytes: &[u8]) -> Result<Self, Vec<TableError>> {
        read::read(bytes)
    }

    /// Its columns, in the order of the file.
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    /// How many rows it has below the header.
    pub fn rows(&self) -> usize {
        self.lines.len()
    }

    /// The line of the file on which a row, counted from 0, stands.
    pub fn line(&self, row: usize) -> usize {
        self.lines.get(row).map_or(0, |line| *line as usize)
    }

    /// Which column has this name, or this header; counted from 0.
    ///
    /// # Errors
    /// At the header: no such column, with the names that there are.
    pub fn column(&self, name: &str) -> Result<usize, TableError> {
        let name = name.trim();
        let found = self.columns.iter().position(|column| column.name == name || column.written == name);
        found.ok_or_else(|| {
            let names = || self.columns.iter().map(|column| column.name.as_str());
            let help = match nearest(name, names()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => {
                    let mut listed: Vec<String> = names().take(LISTED).map(|name| format!("`{name}`")).collect();
                    if self.columns.len() > LISTED {
                        listed.push(format!("and {} more", self.columns.len() - LISTED));
                    }
                    format!("write one of its columns: {}", listed.join(", "))
                }
            };
            TableError { line: self.header as usize, column: 1, message: format!("there is no column `{name}`"), help }
        })
    }

    /// The number in a cell as a quantity, with the digits that were written; none for a gap, an instant, a text, or a cell that is
    /// not there.
    pub fn cell(&self, row: usize, column: usize) -> Option<Quantity> {
        let column = self.columns.get(column).filter(|column| column.holds == Holds::Numbers)?;
        column.cells.exact(row).map(|number| column.quantity(&number))
    }

    /// The number in a cell in the unit of its column, for drawing; of an instant the seconds since the first. None for a gap.
    pub fn number(&self, row: usize, column: usize) -> Option<f64> {
        self.columns.get(column)?.cells.decimal(row).map(Decimal::double)
    }

    /// The curve through the points of two columns, counted from 0: the first is what is looked up.
    ///
    /// # Errors
    /// A gap, a column without numbers, fewer than two points, and an x that is not above the one before it.
    pub fn interpolate(&self, x: usize, y: usize, between: Between) -> Result<Curve, TableError> {
        Curve::through(self, x, y, between)
    }

    /// An error at a cell.
    fn at(&self, row: usize, column: usize, message: impl Into<String>, help: impl Into<String>) -> TableError {
        let start = self.columns.get(column).map_or(1, |column| column.cells.start(row));
        TableError { line: self.line(row), column: start, message: message.into(), help: help.into() }
    }

    /// An error at the header of a column.
    fn at_header(&self, column: usize, message: impl Into<String>, help: impl Into<String>) -> TableError {
        let column = self.columns.get(column).map_or(1, |column| column.header);
        TableError { line: self.header as usize, column, message: message.into(), help: help.into() }
    }
}

impl Column {
    /// A number of its unit as a quantity.
    fn quantity(&self, number: &Rational) -> Quantity {
        Quantity::computed(self.unit.to_si(number), self.unit.clone(), self.unit.exact)
    }
}

#[cfg(test)]
mod tests;
