//! Curves through the points of a table, for the calculation language.

use std::sync::Arc;

use super::cells::{Cells, Decimal};
use super::sums::Aligned;
use super::{Column, Holds, Table, TableError};
use crate::quantity::{Quantity, Rational, Unit};

/// How a curve runs from one point to the next.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Between {
    /// Straight.
    #[default]
    Linear,
    /// By a cubic that never leaves the two values, and is smooth where two of them meet
    /// (F. N. Fritsch, R. E. Carlson, SIAM J. Numer. Anal. 17 (1980) 238-246).
    Monotone,
}

/// A curve through points, for values inside its ends only. Everything is in coherent SI units.
#[derive(Debug)]
pub struct Curve {
    /// The columns that it goes through; their cells are the exact points.
    exact: [Points; 2],
    between: Between,
    x: Vec<f64>,
    y: Vec<f64>,
    /// The slope at each point; of a monotone curve only.
    slopes: Vec<f64>,
    /// The integral from the first point to each.
    integrals: Vec<f64>,
    ends: (Rational, Rational),
}

#[derive(Debug)]
struct Points {
    name: String,
    unit: Arc<Unit>,
    cells: Arc<Cells>,
}

/// A double counts as the end of a table where it is off by this part of it: what was converted may be.
const AT_THE_END: f64 = 1e-12;

/// So few pieces are added one by one, so that a short integral far along a table is not the difference of two large ones.
const FEW_PIECES: usize = 64;

/// More rows than this are not added exactly: an answer must come at once.
const MAX_EXACT_ROWS: usize = 20_000;

impl Curve {
    pub(super) fn through(table: &Table, x: usize, y: usize, between: Between) -> Result<Self, TableError> {
        let exact = [points(table, x)?, points(table, y)?];
        if table.rows() < 2 {
            return Err(table.at_header(x, "a curve needs two rows or more", "add rows, or write the value itself"));
        }
        let [xs, ys] = [doubles(table, x)?, doubles(table, y)?];
        increasing(table, x, &xs)?;
        let [first, last] = [0, table.rows() - 1].map(|row| exact[0].si(row).unwrap_or_else(Rational::zero));
        let slopes = if between == Between::Monotone { slopes(&xs, &ys) } else { Vec::new() };
        let mut curve = Self { exact, between, x: xs, y: ys, slopes, integrals: Vec::new(), ends: (first, last) };
        curve.integrals = curve.integrals();
        Ok(curve)
    }

    /// The unit in which the table gives x; dimension and kind of what may be looked up.
    pub fn x_unit(&self) -> &Arc<Unit> {
        &self.exact[0].unit
    }

    /// The unit in which the table gives y.
    pub fn y_unit(&self) -> &Arc<Unit> {
        &self.exact[1].unit
    }

    /// The name of the column of x.
    pub fn x_name(&self) -> &str {
        &self.exact[0].name
    }

    /// The name of the column of y.
    pub fn y_name(&self) -> &str {
        &self.exact[1].name
    }

    /// How it runs between points.
    pub fn between(&self) -> Between {
        self.between
    }

    /// The first and the last x, SI.
    pub fn ends(&self) -> (&Rational, &Rational) {
        (&self.ends.0, &self.ends.1)
    }

    /// Where the table begins and ends, in its own unit: `90 K to 290 K`.
    pub fn span_text(&self) -> String {
        let [from, to] = [&self.ends.0, &self.ends.1].map(|end| {
            let unit = self.x_unit();
            Quantity::computed(end.clone(), unit.clone(), unit.exact).show()
        });
        format!("{from} to {to}")
    }

    /// The value at x; none outside. A double that is off an end by rounding counts as the end.
    pub fn value(&self, x: f64) -> Option<f64> {
        let x = self.inside(x)?;
        let i = self.piece(x);
        self.on_piece(i, |piece| piece.value(x - piece.x))
    }

    /// The slope at x; at a point where two lines meet, that of the one that follows (of the last at the end). None outside.
    pub fn derivative(&self, x: f64) -> Option<f64> {
        let x = self.inside(x)?;
        let i = self.piece(x);
        self.on_piece(i, |piece| piece.slope(x - piece.x))
    }

    /// The integral of the curve from `from` to `to`, negative where `to` is the smaller. None outside.
    pub fn integral(&self, from: f64, to: f64) -> Option<f64> {
        let (from, to) = (self.inside(from)?, self.inside(to)?);
        if from > to {
            return self.rising_integral(to, from).map(|integral| -integral);
        }
        self.rising_integral(from, to)
    }

    fn rising_integral(&self, from: f64, to: f64) -> Option<f64> {
        let (first, last) = (self.piece(from), self.piece(to));
        let part = |i: usize, x: f64| self.on_piece(i, |piece| piece.integral(x - piece.x));
        let (before, after) = (part(first, from)?, part(last, to)?);
        if first == last {
            return Some(after - before);
        }
        if last - first > FEW_PIECES {
            return Some((self.integrals.get(last)? + after) - (self.integrals.get(first)? + before));
        }
        let whole = (first..last).map(|i| self.on_piece(i, |piece| piece.integral(piece.width)));
        let whole = whole.sum::<Option<f64>>()?;
        Some(whole - before + after)
    }

    /// The exact value at x of a linear curve; none outside, and of another curve.
    pub fn exact_value(&self, x: &Rational) -> Option<Rational> {
        let (i, [x0, x1, y0, y1]) = self.exact_piece(x)?;
        debug_assert!(i + 1 < self.x.len(), "a piece has two ends");
        Some(&y0 + (y1 - &y0) * (x - &x0) / (x1 - x0))
    }

    /// The exact slope at x of a linear curve, as [`Curve::derivative`]; none outside, and of another curve.
    pub fn exact_derivative(&self, x: &Rational) -> Option<Rational> {
        let (_, [x0, x1, y0, y1]) = self.exact_piece(x)?;
        Some((y1 - y0) / (x1 - x0))
    }

    /// The exact integral of a linear curve; none outside, of another curve, and of one with very many rows.
    pub fn exact_integral(&self, from: &Rational, to: &Rational) -> Option<Rational> {
        if from > to {
            return self.exact_integral(to, from).map(|integral| -integral);
        }
        let half = Rational::new(1.into(), 2.into());
        let ((first, [a0, a1, ya0, ya1]), (last, [b0, b1, yb0, yb1])) =
            (self.exact_piece(from)?, self.exact_piece(to)?);
        let area = |x0: &Rational, x1: &Rational, y0: &Rational, y1: &Rational, x: &Rational| {
            let y = y0 + (y1 - y0) * (x - x0) / (x1 - x0);
            (y0 + y) * (x - x0) * &half
        };
        let (before, after) = (area(&a0, &a1, &ya0, &ya1, from), area(&b0, &b1, &yb0, &yb1, to));
        Some(self.exact_between(first, last)? - before + after)
    }

    /// The exact integral from one point to a later one.
    fn exact_between(&self, first: usize, last: usize) -> Option<Rational> {
        if last - first > MAX_EXACT_ROWS {
            return None;
        }
        let [x, y] = &self.exact;
        let decimals =
            |points: &Points| (first..=last).map(|row| points.cells.decimal(row)).collect::<Option<Vec<Decimal>>>();
        let (xs, ys) = (Aligned::new(&decimals(x)?)?, Aligned::new(&decimals(y)?)?);
        let (steps, sums) = (xs.neighbours(true), ys.neighbours(false));
        let half = Rational::new(1.into(), 2.into());
        let scaled = y.unit.span_to_si(&steps.sum_of_products(&sums)) * half;
        // The zero of the scale adds a rectangle.
        Some(x.unit.span_to_si(&(scaled + &y.unit.offset * steps.sum())))
    }

    /// The piece of a linear curve in which x lies, and its ends.
    fn exact_piece(&self, x: &Rational) -> Option<(usize, [Rational; 4])> {
        let (first, last) = self.ends();
        if self.between != Between::Linear || x < first || x > last {
            return None;
        }
        let [xs, ys] = &self.exact;
        let number = xs.unit.from_si(x);
        let (mut low, mut high) = (0, self.x.len() - 1);
        while high - low > 1 {
            let middle = low.midpoint(high);
            if xs.cells.exact(middle)? <= number { low = middle } else { high = middle }
        }
        Some((low, [xs.si(low)?, xs.si(low + 1)?, ys.si(low)?, ys.si(low + 1)?]))
    }

    /// The x itself, or the end that it is but for rounding.
    fn inside(&self, x: f64) -> Option<f64> {
        let (first, last) = (*self.x.first()?, *self.x.last()?);
        if x >= first && x <= last {
            return Some(x);
        }
        let near = AT_THE_END * first.abs().max(last.abs());
        [first, last].into_iter().find(|end| (x - end).abs() <= near)
    }

    /// The piece in which an x between the ends lies: from this point to the next.
    fn piece(&self, x: f64) -> usize {
        let after = self.x.partition_point(|start| *start <= x);
        after.saturating_sub(1).min(self.x.len().saturating_sub(2))
    }

    fn on_piece(&self, i: usize, of: impl Fn(&Piece) -> f64) -> Option<f64> {
        let (x, y) = (*self.x.get(i)?, *self.y.get(i)?);
        let width = self.x.get(i + 1)? - x;
        let secant = (self.y.get(i + 1)? - y) / width;
        let (quadratic, cubic, slope) = match (self.slopes.get(i), self.slopes.get(i + 1)) {
            (Some(left), Some(right)) => {
                let quadratic = (3.0 * secant - 2.0 * left - right) / width;
                (quadratic, (left + right - 2.0 * secant) / (width * width), *left)
            }
            _ => (0.0, 0.0, secant),
        };
        Some(of(&Piece { x, width, y, slope, quadratic, cubic }))
    }

    fn integrals(&self) -> Vec<f64> {
        let mut total = 0.0;
        let mut all = vec![0.0];
        for i in 1..self.x.len() {
            total += self.on_piece(i - 1, |piece| piece.integral(piece.width)).unwrap_or(f64::NAN);
            all.push(total);
        }
        all
    }
}

impl Points {
    fn si(&self, row: usize) -> Option<Rational> {
        self.cells.exact(row).map(|number| self.unit.to_si(&number))
    }
}

/// A polynomial from one point to the next, in the distance from the first.
struct Piece {
    x: f64,
    width: f64,
    y: f64,
    slope: f64,
    quadratic: f64,
    cubic: f64,
}

impl Piece {
    fn value(&self, d: f64) -> f64 {
        self.y + d * (self.slope + d * (self.quadratic + d * self.cubic))
    }

    fn slope(&self, d: f64) -> f64 {
        self.slope + d * (2.0 * self.quadratic + d * 3.0 * self.cubic)
    }

    fn integral(&self, d: f64) -> f64 {
        d * (self.y + d * (self.slope / 2.0 + d * (self.quadratic / 3.0 + d * self.cubic / 4.0)))
    }
}

/// A column that a curve can go through.
fn points(table: &Table, column: usize) -> Result<Points, TableError> {
    let Some(Column { name, unit, cells, holds: Holds::Numbers, .. }) = table.columns.get(column) else {
        let name = table.columns.get(column).map_or("", |column| column.name.as_str());
        let message = format!("column `{name}` holds no numbers to look up");
        return Err(table.at_header(column, message, "name a column of numbers"));
    };
    Ok(Points { name: name.clone(), unit: unit.clone(), cells: cells.clone() })
}

/// The SI values of a column, none of which may be a gap.
fn doubles(table: &Table, column: usize) -> Result<Vec<f64>, TableError> {
    let gap = |row: usize| {
        let name = table.columns.get(column).map_or("", |column| column.name.as_str());
        table.at(row, column, format!("`{name}` has a gap here"), "write the number, or take the row out")
    };
    let Some(found) = table.columns.get(column) else { return Ok(Vec::new()) };
    let [factor, offset] = [&found.unit.factor, &found.unit.offset].map(|part| part.to_f64().unwrap_or(f64::NAN));
    let si = |row| found.cells.decimal(row).map(|number| number.double() * factor + offset).ok_or_else(|| gap(row));
    (0..table.rows()).map(si).collect()
}

/// Every x must be above the one before it.
fn increasing(table: &Table, column: usize, xs: &[f64]) -> Result<(), TableError> {
    let falls = xs.windows(2).position(|pair| !matches!(pair, [a, b] if a < b));
    let Some(row) = falls else { return Ok(()) };
    let show = |row| table.cell(row, column).map_or_else(String::new, |cell| cell.show());
    let message = format!("`{}` is not above `{}` in the row before", show(row + 1), show(row));
    let help = "sort the rows so that what is looked up rises from row to row, each value once";
    Err(table.at(row + 1, column, message, help))
}

/// Slopes at the points that keep the curve between their values.
///
/// First those of the parabola through a point and its neighbours; none where the curve turns. Then both slopes of a piece are drawn towards zero
/// until they lie in the circle of radius 3 about zero, in units of the secant: inside it a cubic is monotone (section 4 of the paper).
fn slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let pieces = x.windows(2).zip(y.windows(2)).filter_map(|pair| match pair {
        ([x0, x1], [y0, y1]) => Some((x1 - x0, (y1 - y0) / (x1 - x0))),
        _ => None,
    });
    let pieces: Vec<(f64, f64)> = pieces.collect();
    let mut slopes = Vec::with_capacity(x.len());
    slopes.push(end_slope(pieces.iter().copied()));
    for pair in pieces.windows(2) {
        let [(h0, d0), (h1, d1)] = pair else { continue };
        let turns = d0 * d1 <= 0.0;
        slopes.push(if turns { 0.0 } else { (h1 * d0 + h0 * d1) / (h0 + h1) });
    }
    slopes.push(end_slope(pieces.iter().rev().copied()));
    for (i, (_, secant)) in pieces.iter().enumerate() {
        let Some([left, right]) = slopes.get_mut(i..i + 2) else { continue };
        if *secant == 0.0 {
            (*left, *right) = (0.0, 0.0);
            continue;
        }
        let (a, b) = (*left / secant, *right / secant);
        let square = a * a + b * b;
        if square > 9.0 {
            let less = 3.0 / square.sqrt();
            (*left, *right) = (less * a * secant, less * b * secant);
        }
    }
    slopes
}

/// The slope at an end: of the parabola through three points, of the line where there are two, none where it would turn.
fn end_slope(mut pieces: impl Iterator<Item = (f64, f64)>) -> f64 {
    let Some((h0, d0)) = pieces.next() else { return 0.0 };
    let Some((h1, d1)) = pieces.next() else { return d0 };
    let slope = ((2.0 * h0 + h1) * d0 - h0 * d1) / (h0 + h1);
    if slope * d0 <= 0.0 { 0.0 } else { slope }
}
