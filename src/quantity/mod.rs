//! Quantities: numbers with units of measure and uncertainty, read, compared and judged exactly.
//!
//! What it is for: every number that a requirement, a record, a condition or a parameter holds passes through here, so that
//! `25.4 mm` meets `max = "1 in"`, a torque is never taken for an energy, and a result exactly on its guard is judged right.
//!
//! What comes in: short texts as a person wrote them (`0.83 ± 0.11 N·m`, `< 1e-6 mbar*L/s`, `1.5 * meop`). What goes out:
//! a [`Quantity`] in coherent SI units held as an exact rational number, a decision ([`judge`]) with its [`Margin`], or a
//! [`QuantityError`] that says which bytes are wrong, what was expected and what to type. Nothing here reads a file.
//!
//! The parts: `rational` is exact arithmetic, `number` reads digits, `catalogue` holds the units of `units.toml`, `unit` and `unit_reader` read compound units, `literal` puts
//! number, uncertainty and unit together, `coverage` says how an uncertainty was stated, `rules` says what becomes of units, `arithmetic` adds and compares, `evaluate` reads the expressions that limits may
//! hold, `rounding` and `canonical` write numbers out, `conformity` decides with `spread`, how possible values are spread, `trials` and `sample` what several of them show, `capability` says what an instrument could decide.
//!
//! To add a unit: add a table to `units.toml` (the comment at its head explains the keys), with the source of its factor, and
//! a row with the published value to `tests/published/units.toml`; that test then holds the two together. A symbol that people read in
//! more than one way belongs under `[[refused]]` instead, with what to write.

mod arithmetic;
mod canonical;
mod capability;
mod catalogue;
mod conformity;
mod coverage;
mod dimension;
mod divisor;
mod evaluate;
mod extent;
mod kind;
mod literal;
mod number;
mod rational;
mod rounding;
pub mod rules;
mod sample;
mod spread;
mod trials;
mod unit;
mod unit_reader;

use std::ops::Range;
use std::sync::Arc;

pub use capability::{
    Capability, InstrumentUncertainty, Reach, Width, parse_instrument_uncertainty, parse_range, parse_resolution,
    show_width,
};
pub use conformity::{Conformity, Limits, Margin, Rule, Why, judge};
pub use dimension::Dimension;
pub use evaluate::{evaluate, names};
pub(crate) use extent::{quantity_end, unit_end};
pub use kind::Kind;
pub use literal::{is_placeholder, parse_measured, parse_number, parse_quantity, parse_share};
pub use rational::Rational;
pub use rounding::truncated;
pub use sample::Sample;
pub use trials::Tally;
pub use unit::Unit;

/// A value with its unit and, where it was stated, its uncertainty.
#[derive(Clone, Debug, PartialEq)]
pub struct Quantity {
    /// The value in coherent SI units: temperature points in kelvin, gauge pressure in pascal above ambient, angles in radian.
    pub value: Rational,
    /// The uncertainty, if one was stated; `± 0` is one.
    pub uncertainty: Option<Uncertainty>,
    /// The dimension of the value.
    pub dimension: Dimension,
    /// What sort of quantity it is, where the dimension alone does not tell.
    pub kind: Kind,
    /// The unit it was written in, for display.
    pub unit: Arc<Unit>,
    /// The text as it was written. [`evaluate`] writes what it computed here, rounded for display; other computed values
    /// have none, and [`Quantity::show`] rounds them when asked.
    pub text: String,
    /// False where the value rests on a rounded constant (π in degrees and revolutions).
    pub exact: bool,
    /// True where the value or its uncertainty was worked out in floating point, so that its last digits mean nothing.
    pub approximate: bool,
}

/// An uncertainty in coherent SI units; that of a temperature point is a difference.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Uncertainty {
    /// The expanded uncertainty U that decides: 2u; with a finite number of degrees of freedom Student's t of them for 95.45 %
    /// times u.
    pub expanded: Rational,
    /// The standard uncertainty u.
    pub standard: Rational,
    /// How the possible values are spread.
    pub shape: Shape,
    /// The degrees of freedom of u; none: infinitely many.
    pub freedom: Option<Rational>,
}

impl Uncertainty {
    /// An uncertainty from its standard form: normal, the expanded one twice the standard one.
    pub fn from_standard(standard: Rational) -> Self {
        let expanded = &standard + &standard;
        Self { expanded, standard, shape: Shape::Normal, freedom: None }
    }
}

/// How possible values are spread about the one stated (JCGM 100:2008, 4.3; JCGM 101:2008, 6.4).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Shape {
    /// Normal, or Student's t where the degrees of freedom are finite.
    #[default]
    Normal,
    /// Any value between two ends, none more than another.
    Rectangular,
    /// Between two ends, the middle most.
    Triangular,
    /// Between two ends, the ends most: what swings between them.
    UShaped,
}

/// What a record reports for a criterion.
#[derive(Clone, Debug, PartialEq)]
pub enum Measured {
    /// A value, with or without an uncertainty.
    Value(Quantity),
    /// Nothing above this was seen (`< x` or `<= x`): a detection limit, say.
    Below(Quantity),
    /// At least this much was seen (`> x` or `>= x`): the end of a range, say.
    Above(Quantity),
}

impl Measured {
    /// The value or the bound.
    pub fn quantity(&self) -> &Quantity {
        match self {
            Self::Value(quantity) | Self::Below(quantity) | Self::Above(quantity) => quantity,
        }
    }

    /// The text for display, with `<` or `>` for a bound.
    pub fn show(&self) -> String {
        match self {
            Self::Value(quantity) => quantity.show(),
            Self::Below(quantity) => format!("< {}", quantity.show()),
            Self::Above(quantity) => format!("> {}", quantity.show()),
        }
    }
}

/// Why a text is not a quantity, or why two quantities do not go together.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct QuantityError {
    /// The bytes of the input that are to blame; `0..0` where no text is at hand.
    pub range: Range<usize>,
    /// What was found and what was expected.
    pub message: String,
    /// What to type instead.
    pub help: String,
}

impl QuantityError {
    /// An error about the given bytes.
    pub(crate) fn new(range: Range<usize>, message: impl Into<String>, help: impl Into<String>) -> Self {
        Self { range, message: message.into(), help: help.into() }
    }

    /// The same error in a text that holds this one from byte `offset` on.
    pub(crate) fn shifted(mut self, offset: usize) -> Self {
        self.range = self.range.start + offset..self.range.end + offset;
        self
    }
}

/// Longest text that is read as one quantity, in bytes; keeps hostile input cheap.
pub const MAX_TEXT: usize = 300;

#[cfg(test)]
mod tests;
