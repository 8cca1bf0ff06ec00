//! What is reduced from a table.

use std::ops::Range;

use super::select::{Selected, key};
use super::{Table, work};
use crate::quantity::{Quantity, Rational, Uncertainty, parse_number};
use crate::statistics::welch_satterthwaite;

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
    /// The slope of the straight line of least squares against time, or against another column, with the standard uncertainty from the fit.
    Rate,
    /// The value of that line at a time, or at a value of the other column, with the standard uncertainty of the line there (JCGM 100:2008, H.3);
    /// also beyond the data, where the uncertainty grows and nothing says that the line goes on.
    Fit,
    /// The integral over time, by trapezoids.
    Integral,
    /// How often one condition came to hold after another had.
    Cycles,
}

impl Reduce {
    /// All, with the words of records.
    pub const WORDS: [(&'static str, Self); 14] = [
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
        ("fit", Self::Fit),
        ("integral", Self::Integral),
        ("cycles", Self::Cycles),
    ];

    /// The word of records.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, reduce)| *reduce == self).map_or("", |(word, _)| word)
    }

    /// Whether it is about two conditions instead of a column.
    fn counts_conditions(self) -> bool {
        matches!(self, Self::TimeBetween | Self::Cycles)
    }

    /// Whether it cannot do without a time.
    pub(super) fn needs_time(self) -> bool {
        matches!(self, Self::Value | Self::TimeBetween | Self::Rate | Self::Fit | Self::Integral)
    }

    /// Whether any column of numbers may stand in the place of time.
    fn takes_against(self) -> bool {
        matches!(self, Self::Rate | Self::Fit)
    }

    /// Whether the order of the rows matters, so that time must not run backwards in them.
    pub(super) fn needs_order(self) -> bool {
        self.needs_time() || matches!(self, Self::First | Self::Last | Self::Cycles)
    }
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
    /// In place of `time` in [`Reduce::Rate`] and [`Reduce::Fit`]: any column of numbers, whose rows need no order.
    pub against: Option<String>,
    /// The time of [`Reduce::Value`] or [`Reduce::Fit`]: a quantity, or an instant; with `against` a value of that column.
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
        Self {
            column: None,
            reduce,
            where_: None,
            time: None,
            against: None,
            at: None,
            from: None,
            to: None,
            smooth: None,
        }
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
    check_keys(reduction)?;
    let selected = Selected::of(table, reduction, ambient)?;
    match reduction.reduce {
        Reduce::TimeBetween => work::time_between(&selected, reduction, ambient),
        Reduce::Cycles => work::cycles(&selected, reduction, ambient),
        reduce => work::column(&selected, reduce, reduction, ambient),
    }
}

/// Each way of reducing needs its own keys, and one that plays no part would mislead.
fn check_keys(reduction: &Reduction) -> Result<(), ReduceError> {
    let Reduction { column, against, at, from, to, reduce, .. } = reduction;
    let word = reduce.word();
    let two = reduce.counts_conditions();
    let keys: [(&'static str, &Option<String>, bool, &str); 4] = [
        ("column", column, !two, "write `column = \"torque\"`"),
        ("at", at, matches!(reduce, Reduce::Value | Reduce::Fit), "write `at = \"3.2 s\"`"),
        ("from", from, two, "write the condition from which to count, such as `from = \"angle > 2 deg\"`"),
        ("to", to, two, "write the condition to which to count, such as `to = \"angle > 88 deg\"`"),
    ];
    for (name, text, wanted, help) in keys {
        match text {
            None if wanted => {
                let place = Place::Key("reduce", 0..word.len());
                return Err(ReduceError { place, message: format!("`{word}` needs `{name}`"), help: help.to_owned() });
            }
            Some(text) if !wanted => {
                let message = format!("`{name}` plays no part in `{word}`");
                return Err(key(name, text, message, "leave it out, or reduce in another way"));
            }
            _ => {}
        }
    }
    match against {
        Some(text) if !reduce.takes_against() => {
            let message = format!("`against` plays no part in `{word}`");
            Err(key("against", text, message, "leave it out, or reduce by `rate` or `fit`"))
        }
        Some(text) if reduction.time.is_some() => {
            let message = "`against` stands in the place of `time`, and both are there";
            Err(key("against", text, message, "leave one of them out"))
        }
        Some(text) if reduction.smooth.is_some() => {
            Err(key("against", text, "rows are smoothed over time, and this is none", "leave `smooth` out"))
        }
        _ => Ok(()),
    }
}

/// A value with the uncertainty of the instrument added to its own, as root of the sum of squares (JCGM 100:2008, 5.1.2).
///
/// The instrument's is taken as it is, whatever the number of rows: what it has in common in all of them does not average out.
pub fn combine(value: &Quantity, instrument: &Uncertainty) -> Quantity {
    let mut quantity = value.clone();
    let Some(own) = quantity.uncertainty.take().filter(|own| !own.standard.is_zero()) else {
        quantity.uncertainty = Some(instrument.clone());
        return quantity;
    };
    if instrument.standard.is_zero() {
        quantity.uncertainty = Some(own);
        return quantity;
    }
    let square = &own.standard * &own.standard + &instrument.standard * &instrument.standard;
    let (standard, exact) = root(&square);
    let parts = [&own, instrument].map(|part| {
        let freedom = part.freedom.as_ref().and_then(Rational::to_f64);
        (part.standard.to_f64().unwrap_or(f64::NAN), freedom)
    });
    let freedom = welch_satterthwaite(&parts).and_then(rational);
    quantity.approximate |= !exact || freedom.is_some();
    quantity.uncertainty = Some(match freedom {
        Some(freedom) => Uncertainty::with_freedom(standard, freedom),
        None => Uncertainty::from_standard(standard),
    });
    quantity
}

/// The square root, and whether it is exact.
pub(super) fn root(square: &Rational) -> (Rational, bool) {
    let root = square.square_root();
    let exact = &root * &root == *square;
    (root, exact)
}

/// A double that is finite, to fifteen digits.
fn rational(double: f64) -> Option<Rational> {
    parse_number(&format!("{double:.14e}")).ok().map(|number| number.value)
}
