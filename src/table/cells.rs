//! The numbers of a column, kept as the decimals that were written.
//!
//! A cell is a whole number and a power of ten: ten bytes, exact, and quickly a double. Nothing that comes out of a table has gone through
//! binary rounding unless it was asked for as a double.

use std::cmp::Ordering;

use num_bigint::BigInt;

use crate::quantity::Rational;

/// Digits of a cell, zeros at either end left out; a measured number has fewer, and so has any double written out.
pub(super) const MAX_DIGITS: u32 = 18;

/// Largest power of ten that a cell may state, as for quantities.
const LARGEST_EXPONENT: i32 = 308;

/// Stands where a gap has its power of ten.
const GAP: i16 = i16::MIN;

/// The cells of a column, from the first row on.
#[derive(Debug, Default)]
pub(super) struct Cells {
    digits: Vec<i64>,
    powers: Vec<i16>,
    /// The character of its line at which each cell starts, from 1.
    starts: Vec<u32>,
}

/// A number as it was written: `digits` × 10^`power`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Decimal {
    pub digits: i64,
    pub power: i16,
}

impl Cells {
    pub fn push(&mut self, cell: Option<Decimal>, start: u32) {
        let Decimal { digits, power } = cell.unwrap_or(Decimal { digits: 0, power: GAP });
        self.digits.push(digits);
        self.powers.push(power);
        self.starts.push(start);
    }

    /// The number in a cell; none for a gap.
    pub fn decimal(&self, row: usize) -> Option<Decimal> {
        let power = *self.powers.get(row)?;
        let digits = *self.digits.get(row)?;
        (power != GAP).then_some(Decimal { digits, power })
    }

    /// The number in a cell, exactly as written.
    pub fn exact(&self, row: usize) -> Option<Rational> {
        self.decimal(row).map(Decimal::exact)
    }

    /// Where a cell starts in its line, in characters from 1.
    pub fn start(&self, row: usize) -> usize {
        self.starts.get(row).map_or(1, |start| *start as usize)
    }

    /// The first cell that is no gap.
    pub fn first(&self) -> Option<Decimal> {
        (0..self.digits.len()).find_map(|row| self.decimal(row))
    }

    /// Subtracts a whole number of units of 10^`power` from every cell, all of which have that power of ten; none if one does not fit.
    pub fn less(mut self, zero: i64) -> Option<Self> {
        for (digits, power) in self.digits.iter_mut().zip(&self.powers) {
            if *power != GAP {
                *digits = digits.checked_sub(zero)?;
            }
        }
        Some(self)
    }
}

impl Decimal {
    pub fn exact(self) -> Rational {
        let digits = BigInt::from(self.digits);
        let size = BigInt::from(10u8).pow(u32::from(self.power.unsigned_abs()));
        if self.power >= 0 { Rational::from_integer(digits * size) } else { Rational::new(digits, size) }
    }

    /// The nearest double.
    pub fn double(self) -> f64 {
        // A whole number and a power of ten that are both doubles: one operation, rounded once.
        const POWERS: [f64; 23] = [
            1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18,
            1e19, 1e20, 1e21, 1e22,
        ];
        let whole = self.digits.unsigned_abs() <= 1 << f64::MANTISSA_DIGITS;
        match POWERS.get(usize::from(self.power.unsigned_abs())) {
            Some(power) if whole && self.power < 0 => self.digits as f64 / power,
            Some(power) if whole => self.digits as f64 * power,
            _ => format!("{}e{}", self.digits, self.power).parse().unwrap_or(f64::NAN),
        }
    }

    /// Compares exactly.
    pub fn compare(self, other: Self) -> Ordering {
        if self.power == other.power {
            return self.digits.cmp(&other.digits);
        }
        clearly(self.double(), other.double()).unwrap_or_else(|| self.exact().cmp(&other.exact()))
    }

    /// The number of units of 10^`power` that this is, for a power that is not above its own.
    pub fn units_of(self, power: i16) -> BigInt {
        let shift = u32::try_from(i32::from(self.power) - i32::from(power)).unwrap_or(0);
        BigInt::from(self.digits) * BigInt::from(10u8).pow(shift)
    }

    /// The same, where it fits.
    pub fn small_units_of(self, power: i16) -> Option<i128> {
        let shift = u32::try_from(i32::from(self.power) - i32::from(power)).ok()?;
        i128::from(self.digits).checked_mul(10i128.checked_pow(shift)?)
    }
}

/// Which of two doubles is larger, if they differ by more than the rounding of either.
pub(super) fn clearly(a: f64, b: f64) -> Option<Ordering> {
    let apart = (a - b).abs() > 1e-12 * a.abs().max(b.abs());
    if apart { a.partial_cmp(&b) } else { None }
}

/// Reads a plain decimal number: `-1.5`, `.5`, `5.`, `1.2e-3`; none for anything else, and for one with too many digits.
pub(super) fn decimal(text: &str) -> Option<Decimal> {
    let bytes = text.as_bytes();
    let (negative, mut at) = match bytes.first()? {
        b'-' => (true, 1),
        b'+' => (false, 1),
        _ => (false, 0),
    };
    let mut reader = Digits::default();
    at += reader.read(bytes.get(at..)?)?;
    let mut point = 0;
    if bytes.get(at) == Some(&b'.') {
        point = reader.read(bytes.get(at + 1..)?)?;
        at += 1 + point;
    }
    if reader.seen == 0 {
        return None;
    }
    let exponent = match bytes.get(at) {
        Some(b'e' | b'E') => exponent(bytes.get(at + 1..)?)?,
        Some(_) => return None,
        None => 0,
    };
    if reader.value == 0 {
        return Some(Decimal { digits: 0, power: 0 });
    }
    let power = exponent - i32::try_from(point).ok()? + i32::try_from(reader.zeros).ok()?;
    let digits = i64::try_from(reader.value).ok()?;
    Some(Decimal { digits: if negative { -digits } else { digits }, power: i16::try_from(power).ok()? })
}

fn exponent(bytes: &[u8]) -> Option<i32> {
    let (negative, digits) = match bytes.first()? {
        b'-' => (true, &bytes[1..]),
        b'+' => (false, &bytes[1..]),
        _ => (false, bytes),
    };
    if digits.is_empty() || digits.len() > 5 || !digits.iter().all(u8::is_ascii_digit) {
        return None;
    }
    let size = digits.iter().fold(0, |size, digit| size * 10 + i32::from(digit - b'0'));
    (size <= LARGEST_EXPONENT).then_some(if negative { -size } else { size })
}

/// Digits that come in; zeros at the end wait until another digit follows.
#[derive(Default)]
struct Digits {
    value: u64,
    zeros: u32,
    seen: u32,
}

impl Digits {
    /// Reads the digits at the start and says how many bytes they take; none where there are too many that count.
    fn read(&mut self, bytes: &[u8]) -> Option<usize> {
        let count = bytes.iter().take_while(|byte| byte.is_ascii_digit()).count();
        for digit in bytes.iter().take(count) {
            self.seen += 1;
            if *digit == b'0' {
                self.zeros += u32::from(self.value != 0);
                continue;
            }
            let more = 10u64.checked_pow(self.zeros + 1)?;
            self.value = self.value.checked_mul(more)?.checked_add(u64::from(digit - b'0'))?;
            self.zeros = 0;
            if self.value >= 10u64.pow(MAX_DIGITS) {
                return None;
            }
        }
        Some(count)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::quantity::parse_number;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        /// The reader of quantities reads the same number, and the standard library the same double.
        #[test]
        fn reads_what_quantities_read(text in "[+-]?[0-9]{0,9}(\\.[0-9]{1,9})?([eE][+-]?[0-9]{1,3})?") {
            let read = decimal(&text);
            match parse_number(&text) {
                Ok(number) => {
                    let read = read.expect("it has at most eighteen digits");
                    prop_assert_eq!(read.exact(), number.value);
                    prop_assert_eq!(read.double(), text.parse::<f64>().expect("the standard library reads it too"));
                }
                Err(_) => prop_assert_eq!(read, None),
            }
        }

        #[test]
        fn compares_as_the_exact_numbers(a in -999i64..999, b in -999i64..999, p in -4i16..4, q in -4i16..4) {
            let (a, b) = (Decimal { digits: a, power: p }, Decimal { digits: b, power: q });
            prop_assert_eq!(a.compare(b), a.exact().cmp(&b.exact()));
            let least = p.min(q);
            prop_assert_eq!(a.units_of(least), BigInt::from(a.small_units_of(least).expect("it is small")));
        }
    }

    #[test]
    fn what_is_no_decimal() {
        for text in
            ["", ".", "-", "1e", "1e+", "1..2", "1.2.3", "0x10", "1e400", "1 2", "nan", "inf", "1234567890123456789"]
        {
            assert_eq!(decimal(text), None, "{text}");
        }
        assert_eq!(decimal("5."), Some(Decimal { digits: 5, power: 0 }));
        assert_eq!(decimal("1.500000000000000000000000"), Some(Decimal { digits: 15, power: -1 }));
        assert_eq!(decimal("-0"), Some(Decimal { digits: 0, power: 0 }));
    }
}
