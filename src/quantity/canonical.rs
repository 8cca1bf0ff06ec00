//! The canonical text of a quantity, on which marks rest.
//!
//! Form: `<number> <dimension>[ <tag>]`. The number is the exact SI value rounded half to even to twelve significant digits,
//! written `d.ddddddddddde<exponent>` with a `-` in front where negative, or `0`. The dimension is that of
//! [`super::Dimension`]'s display, the tag that of [`Kind::tag`](super::Kind::tag), left out for plain quantities.
//! The uncertainty, the unit and the text as written are not in it. That of an uncertainty is `<number> <dimension>[ <shape>][ nu <number>]`:
//! the expanded one, the word of [`super::Shape`] unless it is normal, and the degrees of freedom where they are finite. Golden tests freeze it: a mark written today must line up
//! in ten years.

use std::fmt::Write;

use num_bigint::BigInt;

use super::rounding::{magnitude, units_at};
use super::{Quantity, Rational, Shape};

/// Significant digits of a canonical number.
const DIGITS: i32 = 12;

/// Bytes that nearly every canonical text fits.
const ROOM: usize = 48;

impl Quantity {
    /// The canonical text: the same for every way of writing the same quantity, different for another value or kind.
    pub fn canonical(&self) -> String {
        let mut text = String::with_capacity(ROOM);
        self.write_canonical(&mut text);
        text
    }

    /// The same at the end of a text.
    pub fn write_canonical(&self, text: &mut String) {
        write_number(text, &self.value);
        let _ = write!(text, " {}", self.dimension);
        match self.kind.tag() {
            "" => {}
            tag => text.extend([" ", tag]),
        }
    }

    /// The canonical text of the expanded uncertainty, if one was stated: number and dimension, never a kind; then the shape and the
    /// degrees of freedom, where they are not normal and infinite.
    pub fn canonical_uncertainty(&self) -> Option<String> {
        self.uncertainty.as_ref()?;
        let mut text = String::with_capacity(ROOM);
        self.write_canonical_uncertainty(&mut text);
        Some(text)
    }

    /// The same at the end of a text; nothing if none was stated.
    pub fn write_canonical_uncertainty(&self, text: &mut String) {
        let Some(uncertainty) = &self.uncertainty else { return };
        write_number(text, &uncertainty.expanded);
        let _ = write!(text, " {}", self.dimension);
        if uncertainty.shape != Shape::Normal {
            text.extend([" ", uncertainty.shape.word()]);
        }
        if let Some(freedom) = &uncertainty.freedom {
            text.push_str(" nu ");
            write_number(text, freedom);
        }
    }
}

fn write_number(text: &mut String, value: &Rational) {
    if value.is_zero() {
        text.push('0');
        return;
    }
    let digits = in_machine_words(value).unwrap_or_else(|| in_any_size(value));
    digits.write(value.is_negative(), text);
}

/// The digits of a number that is not zero.
#[derive(Debug, PartialEq, Eq)]
struct Rounded {
    /// Twelve digits.
    units: u64,
    /// The power of ten of the first.
    exponent: i32,
}

impl Rounded {
    fn write(&self, negative: bool, text: &mut String) {
        if negative {
            text.push('-');
        }
        // Every value of every record is written so: what formats numbers in general is slow at this.
        let mut digits = ['0'; DIGITS as usize];
        let mut rest = self.units;
        for digit in digits.iter_mut().rev() {
            *digit = u32::try_from(rest % 10).ok().and_then(|own| char::from_digit(own, 10)).unwrap_or_default();
            rest /= 10;
        }
        text.push(digits[0]);
        text.push('.');
        text.extend(&digits[1..]);
        let _ = write!(text, "e{}", self.exponent);
    }
}

/// The same for a value whose numerator, denominator and scaled digits fit machine words, as nearly all do; none if they do not.
fn in_machine_words(value: &Rational) -> Option<Rounded> {
    let (numerator, denominator) = value.words()?;
    let (n, d) = (u128::from(numerator.unsigned_abs()), u128::from(denominator));
    // One more or less is put right below: the first digit decides.
    let mut exponent = i32::try_from(n.ilog10()).ok()? - i32::try_from(d.ilog10()).ok()?;
    let below = if exponent >= 0 { n < d * power(exponent)? } else { n.checked_mul(power(-exponent)?)? < d };
    exponent -= i32::from(below);
    let shift = DIGITS - 1 - exponent;
    let (n, d) = if shift >= 0 { (n.checked_mul(power(shift)?)?, d) } else { (n, d.checked_mul(power(-shift)?)?) };
    let (mut units, rest) = (n / d, n % d);
    let half_up = match (rest.checked_mul(2)?).cmp(&d) {
        std::cmp::Ordering::Less => false,
        std::cmp::Ordering::Equal => units % 2 == 1,
        std::cmp::Ordering::Greater => true,
    };
    units += u128::from(half_up);
    if units == power(DIGITS)? {
        units /= 10;
        exponent += 1;
    }
    Some(Rounded { units: u64::try_from(units).ok()?, exponent })
}

/// Ten to a power, while it fits.
fn power(exponent: i32) -> Option<u128> {
    10u128.checked_pow(exponent.try_into().ok()?)
}

fn in_any_size(value: &Rational) -> Rounded {
    let mut exponent = magnitude(value);
    let mut units = units_at(&value.abs(), exponent + 1 - DIGITS);
    let carried = BigInt::from(10u8).pow(DIGITS.unsigned_abs());
    if units == carried {
        units /= 10u8;
        exponent += 1;
    }
    // Twelve digits fit.
    Rounded { units: units.try_into().unwrap_or(u64::MAX), exponent }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// Two ways of working it out; the frozen golden texts hold either.
        #[test]
        fn both_sizes_agree(n in any::<i64>(), d in 1u64..=u64::MAX, small in -1000i64..1000, shift in 0u32..19) {
            for (n, d) in [(n, d), (small, d), (n, 10u64.pow(shift)), (small, 10u64.pow(shift)), (n / 7, 8)] {
                prop_assume!(n != 0);
                let value = Rational::new(BigInt::from(n), BigInt::from(d));
                if let Some(text) = in_machine_words(&value) {
                    prop_assert_eq!(text, in_any_size(&value));
                }
            }
        }

        #[test]
        fn what_rounds_up_to_a_new_digit_agrees(nines in 11u32..18, negative: bool) {
            let n = (10i64.pow(nines) - 1) * if negative { -1 } else { 1 };
            let value = Rational::new(BigInt::from(n), BigInt::from(10i64.pow(nines - 1)));
            prop_assert_eq!(in_machine_words(&value), Some(in_any_size(&value)));
        }
    }
}
