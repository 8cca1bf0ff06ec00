//! Curves through the points of a table.

use std::sync::Arc;

use super::{Table, TableError};
use crate::quantity::{Rational, Unit};

/// How a curve runs from one point to the next.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Between {
    /// Straight.
    #[default]
    Linear,
    /// By a cubic that never leaves the two values (Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238).
    Monotone,
}

/// A curve through points, for values inside its ends only. Everything is in coherent SI units.
#[derive(Debug)]
pub struct Curve {
    x_unit: Arc<Unit>,
    y_unit: Arc<Unit>,
    between: Between,
    x: Vec<f64>,
    ends: (Rational, Rational),
}

impl Curve {
    pub(super) fn through(table: &Table, x: usize, y: usize, between: Between) -> Result<Self, TableError> {
        let _ = (table, x, y, between);
        Err(TableError { line: 1, column: 1, message: String::new(), help: String::new() })
    }

    /// The unit in which the table gives x; dimension and kind of what may be looked up.
    pub fn x_unit(&self) -> &Arc<Unit> {
        &self.x_unit
    }

    /// The unit in which the table gives y.
    pub fn y_unit(&self) -> &Arc<Unit> {
        &self.y_unit
    }

    /// How it runs between points.
    pub fn between(&self) -> Between {
        self.between
    }

    /// The first and the last x, SI.
    pub fn ends(&self) -> (&Rational, &Rational) {
        (&self.ends.0, &self.ends.1)
    }

    /// What to say of an x that is outside: where the table begins and ends, in its own unit.
    pub fn span_text(&self) -> String {
        String::new()
    }

    /// The value at x; none outside, and at what is no number.
    pub fn value(&self, x: f64) -> Option<f64> {
        let _ = (x, &self.x);
        None
    }

    /// The slope at x; at a point where two lines meet, that of the one that follows (of the last at the end). None outside.
    pub fn derivative(&self, x: f64) -> Option<f64> {
        let _ = x;
        None
    }

    /// The integral of the curve from `from` to `to`, negative where `to` is the smaller. None outside.
    pub fn integral(&self, from: f64, to: f64) -> Option<f64> {
        let _ = (from, to);
        None
    }

    /// The exact value at x of a linear curve; none outside, and of another curve.
    pub fn exact_value(&self, x: &Rational) -> Option<Rational> {
        let _ = x;
        None
    }

    /// The exact slope at x of a linear curve, as [`Curve::derivative`]; none outside, and of another curve.
    pub fn exact_derivative(&self, x: &Rational) -> Option<Rational> {
        let _ = x;
        None
    }

    /// The exact integral of a linear curve; none outside, and of another curve.
    pub fn exact_integral(&self, from: &Rational, to: &Rational) -> Option<Rational> {
        let _ = (from, to);
        None
    }
}
