//! Which rows of a table count, and their values in order.

use std::ops::Range;

use super::cells::Decimal;
use super::condition::{self, Condition, Wrong};
use super::reduce::{Mark, Place, ReduceError, Reduced, Reduction};
use super::{Column, Holds, Table};
use crate::quantity::{Quantity, Rational};

/// Most rows whose median stands for the middle one.
const MOST_SMOOTHED: usize = 1001;

/// Most marks of one result; a picture shows no more.
pub(super) const MAX_MARKS: usize = 1000;

/// An error about a key of the reduction.
pub(super) fn key(name: &'static str, text: &str, message: impl Into<String>, help: impl Into<String>) -> ReduceError {
    ReduceError { place: Place::Key(name, 0..text.len()), message: message.into(), help: help.into() }
}

/// The rows of a table that count.
pub(super) struct Selected<'t> {
    pub table: &'t Table,
    /// The column of time, if there is one.
    pub time: Option<usize>,
    rows: Vec<usize>,
    smooth: usize,
}

impl<'t> Selected<'t> {
    pub fn of(table: &'t Table, reduction: &Reduction, ambient: Option<&Quantity>) -> Result<Self, ReduceError> {
        let time = time(table, reduction)?;
        let rows = match &reduction.where_ {
            Some(text) => meeting(table, text, ambient)?,
            None => (0..table.rows()).collect(),
        };
        let smooth = reduction.smooth.unwrap_or(1);
        let wrong = |message: String| {
            let place = Place::Key("smooth", 0..smooth.to_string().len());
            Err(ReduceError { place, message, help: "write an odd number of rows, such as `smooth = 5`".to_owned() })
        };
        if smooth.is_multiple_of(2) || smooth > MOST_SMOOTHED {
            return wrong(format!("`smooth` is an odd number of rows up to {MOST_SMOOTHED}, not {smooth}"));
        }
        if smooth > rows.len() {
            return wrong(format!("`smooth` is {smooth} rows, and only {} count", rows.len()));
        }
        let selected = Self { table, time, rows, smooth };
        if reduction.against.is_none() && (reduction.reduce.needs_order() || smooth > 1) {
            selected.check_order()?;
        }
        Ok(selected)
    }

    /// How many rows count; one at least.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// The row of the table that is the i-th that counts.
    pub fn row(&self, i: usize) -> usize {
        self.rows.get(i).copied().unwrap_or(0)
    }

    /// Whether the i-th row that counts and the one before it are neighbours in the table.
    pub fn follows(&self, i: usize) -> bool {
        i > 0 && self.row(i) == self.row(i - 1) + 1
    }

    /// The column at an index that came from the table.
    pub fn column(&self, index: usize) -> Result<&'t Column, ReduceError> {
        self.table
            .columns
            .get(index)
            .ok_or_else(|| key("column", "", "there is no such column", "name one of the table"))
    }

    /// The values of a column in the rows that count, smoothed if that is asked for. None of them may be a gap.
    pub fn values(&self, index: usize) -> Result<Vec<Decimal>, ReduceError> {
        let column = self.column(index)?;
        let value = |row: &usize| column.cells.decimal(*row).ok_or_else(|| self.gap(*row, index));
        let values = self.rows.iter().map(value).collect::<Result<Vec<_>, _>>()?;
        Ok(if self.smooth > 1 { moving_median(&values, self.smooth / 2) } else { values })
    }

    /// The times of the rows that count, and their column; only asked for where there must be a time.
    pub fn times(&self) -> Result<(&'t Column, Vec<Decimal>), ReduceError> {
        let Some(index) = self.time else { return Err(no_time(self.table)) };
        let column = self.column(index)?;
        let time = |row: &usize| column.cells.decimal(*row).ok_or_else(|| self.gap(*row, index));
        Ok((column, self.rows.iter().map(time).collect::<Result<_, _>>()?))
    }

    /// The error that a cell is a gap.
    pub fn gap(&self, row: usize, column: usize) -> ReduceError {
        let name = self.table.columns.get(column).map_or("", |column| column.name.as_str());
        let help = "fill it in, or leave such rows out with `where`";
        self.at(row, column, format!("`{name}` has a gap here, in a row that counts"), help)
    }

    /// An error at a cell.
    pub fn at(&self, row: usize, column: usize, message: impl Into<String>, help: impl Into<String>) -> ReduceError {
        let error = self.table.at(row, column, message, help);
        let place = Place::Cell { line: error.line, column: error.column };
        ReduceError { place, message: error.message, help: error.help }
    }

    /// The line of the i-th row that counts.
    pub fn line(&self, i: usize) -> usize {
        self.table.line(self.row(i))
    }

    /// A mark at the i-th row that counts.
    pub fn mark(&self, what: &'static str, column: usize, i: usize, value: Quantity) -> Mark {
        let row = self.row(i);
        let time = self.time.and_then(|time| self.table.columns.get(time));
        let time = time.and_then(|time| time.cells.exact(row).map(|at| time.quantity(&at)));
        Mark { what, column, row, line: self.table.line(row), time, value }
    }

    /// The result, with the rows that it rests on.
    pub fn result(&self, quantity: Quantity, marks: Vec<Mark>) -> Reduced {
        let mut runs: Vec<Range<usize>> = Vec::new();
        for row in &self.rows {
            match runs.last_mut() {
                Some(run) if run.end == *row => run.end += 1,
                _ => runs.push(*row..row + 1),
            }
        }
        Reduced { quantity, rows: runs, marks, time: self.time }
    }

    /// Time may stand still, as a clock with few digits does, but not run backwards.
    fn check_order(&self) -> Result<(), ReduceError> {
        let Some(index) = self.time else { return Ok(()) };
        let (column, times) = self.times()?;
        let back = times.windows(2).position(|pair| matches!(pair, [a, b] if b.compare(*a).is_lt()));
        let Some(i) = back else { return Ok(()) };
        let show = |i: usize| times.get(i).map_or_else(String::new, |at| column.quantity(&at.exact()).show());
        let message = format!("time runs backwards: `{}` follows `{}` of line {}", show(i + 1), show(i), self.line(i));
        Err(self.at(self.row(i + 1), index, message, "put the rows in the order in which they were taken"))
    }

    /// An error if rows between the first and last of these that count were left out.
    pub fn check_neighbours(&self, from: usize, to: usize) -> Result<(), ReduceError> {
        let Some(i) = (from + 1..=to).find(|i| !self.follows(*i)) else { return Ok(()) };
        let message = format!("the rows between lines {} and {} do not count", self.line(i - 1), self.line(i));
        let help = "write a `where` that leaves no hole there; nothing is known about what was left out";
        let place = Place::Key("where", 0..0);
        Err(ReduceError { place, message, help: help.to_owned() })
    }
}

/// A condition under a key of the reduction.
pub(super) fn condition(
    name: &'static str,
    text: &str,
    table: &Table,
    ambient: Option<&Quantity>,
) -> Result<Condition, ReduceError> {
    condition::read(text, table, ambient).map_err(|wrong| in_key(name, wrong))
}

pub(super) fn in_key(name: &'static str, wrong: Wrong) -> ReduceError {
    ReduceError { place: Place::Key(name, wrong.range), message: wrong.message, help: wrong.help }
}

/// The rows that meet a condition, of which there must be one.
fn meeting(table: &Table, text: &str, ambient: Option<&Quantity>) -> Result<Vec<usize>, ReduceError> {
    let condition = condition("where", text, table, ambient)?;
    let mut rows = Vec::new();
    for row in 0..table.rows() {
        let cell = |column: usize| table.columns.get(column).and_then(|column| column.cells.decimal(row));
        match condition.holds(&cell) {
            Ok(true) => rows.push(row),
            Ok(false) => {}
            Err(column) => {
                let name = table.columns.get(column).map_or("", |column| column.name.as_str());
                let message = format!("`{name}` has a gap here, so that `where` is not decided");
                let error =
                    table.at(row, column, message, "fill it in, or let another part of `where` exclude the row");
                let place = Place::Cell { line: error.line, column: error.column };
                return Err(ReduceError { place, message: error.message, help: error.help });
            }
        }
    }
    if rows.is_empty() {
        let message = format!("no row of {} meets this condition", table.rows());
        return Err(key("where", text, message, "check the condition and its unit against the data"));
    }
    Ok(rows)
}

/// The column of time: the one stated, or the only one that can be.
fn time(table: &Table, reduction: &Reduction) -> Result<Option<usize>, ReduceError> {
    if let Some(name) = &reduction.against {
        let index = table.column(name).map_err(|error| key("against", name, error.message, error.help))?;
        let numbers = table.columns.get(index).is_some_and(|column| column.holds != Holds::Texts);
        return match numbers {
            true => Ok(Some(index)),
            false => {
                let message = format!("column `{name}` holds no numbers");
                Err(key("against", name, message, "name a column of numbers"))
            }
        };
    }
    if let Some(name) = &reduction.time {
        let index = table.column(name).map_err(|error| key("time", name, error.message, error.help))?;
        let Some(column) = table.columns.get(index).filter(|column| !column.is_time()) else { return Ok(Some(index)) };
        let message = match column.holds {
            Holds::Texts => format!("column `{}` holds neither times nor instants", column.name),
            _ => {
                format!("column `{}` is {}, not a time", column.name, column.unit.kind.describe(&column.unit.dimension))
            }
        };
        let help = format!(
            "state its unit in the header, such as `{} [s]`, or write instants with their offset, `2026-03-14T10:00:00Z`",
            column.name
        );
        return Err(key("time", name, message, help));
    }
    let own = reduction.column.as_ref().and_then(|name| table.column(name).ok());
    let mut can_be = (0..table.columns.len())
        .filter(|index| Some(*index) != own && table.columns.get(*index).is_some_and(Column::is_time));
    let first = can_be.next();
    let only = first.filter(|_| can_be.next().is_none());
    if only.is_none() && reduction.reduce.needs_time() { Err(no_time(table)) } else { Ok(only) }
}

fn no_time(table: &Table) -> ReduceError {
    let can_be = table.columns.iter().filter(|column| column.is_time());
    let names: Vec<String> = can_be.map(|column| format!("`{}`", column.name)).take(4).collect();
    let (message, help) = if names.len() < 2 {
        (
            "no column holds the time".to_owned(),
            "state its unit in the header, such as `time [s]`, or write instants with their offset".to_owned(),
        )
    } else {
        (
            "more than one column may be the time".to_owned(),
            format!("write `time = …` with one of {}", names.join(", ")),
        )
    };
    ReduceError { place: Place::Key("time", 0..0), message, help }
}

/// For each value the median of it and so many on each side; near the ends of as many on each side as there are.
pub(super) fn moving_median(values: &[Decimal], half: usize) -> Vec<Decimal> {
    let order = |a: &usize, b: &usize| match (values.get(*a), values.get(*b)) {
        (Some(x), Some(y)) => x.compare(*y).then(a.cmp(b)),
        _ => a.cmp(b),
    };
    let mut sorted: Vec<usize> = Vec::with_capacity(2 * half + 1);
    let (mut low, mut high) = (0, 0);
    let mut medians = Vec::with_capacity(values.len());
    for (i, value) in values.iter().enumerate() {
        let reach = half.min(i).min(values.len() - 1 - i);
        while high <= i + reach {
            let at = sorted.binary_search_by(|other| order(other, &high)).unwrap_or_else(|at| at);
            sorted.insert(at, high);
            high += 1;
        }
        while low + reach < i {
            if let Ok(at) = sorted.binary_search_by(|other| order(other, &low)) {
                sorted.remove(at);
            }
            low += 1;
        }
        medians.push(sorted.get(sorted.len() / 2).and_then(|at| values.get(*at)).copied().unwrap_or(*value));
    }
    medians
}

/// The exact number of a value that is there.
pub(super) fn exact(values: &[Decimal], i: usize) -> Rational {
    values.get(i).map_or_else(Rational::zero, |value| value.exact())
}
