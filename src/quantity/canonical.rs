//! The canonical text of a quantity, on which marks rest.
//!
//! Form: `<number> <dimension>[ <tag>]`. The number is the exact SI value rounded half to even to twelve significant digits,
//! written `d.ddddddddddde<exponent>` with a `-` in front where negative, or `0`. The dimension is that of
//! [`super::Dimension`]'s display, the tag that of [`Kind::tag`](super::Kind::tag), left out for plain quantities.
//! The uncertainty, the unit and the text as written are not in it. Golden tests freeze it: a mark written today must line up
//! in ten years.

use num_bigint::BigInt;
use num_traits::{Signed, Zero};

use super::rounding::{magnitude, units_at};
use super::{Quantity, Rational};

/// Significant digits of a canonical number.
const DIGITS: i32 = 12;

impl Quantity {
    /// The canonical text: the same for every way of writing the same quantity, different for another value or kind.
    pub fn canonical(&self) -> String {
        let number = canonical_number(&self.value);
        match self.kind.tag() {
            "" => format!("{number} {}", self.dimension),
            tag => format!("{number} {} {tag}", self.dimension),
        }
    }
}

fn canonical_number(value: &Rational) -> String {
    if value.is_zero() {
        return "0".to_owned();
    }
    let mut exponent = magnitude(value);
    let mut units = units_at(&value.abs(), exponent + 1 - DIGITS);
    let carried = BigInt::from(10u8).pow(DIGITS.unsigned_abs());
    if units == carried {
        units /= 10u8;
        exponent += 1;
    }
    let digits = units.to_string();
    let sign = if value.is_negative() { "-" } else { "" };
    let (first, rest) = digits.split_at(1);
    format!("{sign}{first}.{rest}e{exponent}")
}
