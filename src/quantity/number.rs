//! Reads the digits of a number, exactly.

use std::ops::Range;

use num_bigint::BigInt;
use num_traits::Zero;

use super::{QuantityError, Rational};

/// Largest power of ten that a number may state; enough for any quantity, and what a double holds.
const LARGEST_EXPONENT: i32 = 308;

/// A number as it was read.
pub(super) struct Scanned {
    /// Its exact value.
    pub value: Rational,
    /// The power of ten of its last written digit: -2 for `1.32`, 0 for `132`; the exponent is counted in.
    pub last_digit: i32,
    /// The byte after it.
    pub end: usize,
    /// True if it was written with an exponent.
    pub has_exponent: bool,
}

/// Ten to a power, as an exact rational.
pub(super) fn power_of_ten(exponent: i32) -> Rational {
    let size = exponent.unsigned_abs();
    if let Some(power) = 10i64.checked_pow(size) {
        return if exponent >= 0 {
            Rational::from_words(power, 1)
        } else {
            Rational::from_words(1, power.unsigned_abs())
        };
    }
    let power = BigInt::from(10u8).pow(size);
    if exponent >= 0 { Rational::from_integer(power) } else { Rational::new(BigInt::from(1u8), power) }
}

/// True for a number that no measurement has: more than some 1200 digits. Products of hostile exponents stop here.
pub(super) fn is_absurd(value: &Rational) -> bool {
    value.words().is_none() && value.numer().bits().max(value.denom().bits()) > 4096
}

/// Reads one number that starts at byte `start`.
pub(super) fn scan(text: &str, start: usize) -> Result<Scanned, QuantityError> {
    let mut at = start;
    let negative = match text[at..].chars().next() {
        Some(sign @ ('-' | '−')) => {
            at += sign.len_utf8();
            true
        }
        Some('+') => {
            at += 1;
            false
        }
        _ => false,
    };
    let mut digits = Digits::default();
    at = digits.read(text, at);
    let mut fraction = 0;
    if text[at..].starts_with('.') && starts_with_digit(&text[at + 1..]) {
        let before = digits.count();
        at = digits.read(text, at + 1);
        fraction = digits.count() - before;
    }
    if digits.count() == 0 {
        return Err(not_a_number(text, start));
    }
    refuse_comma(text, start, at)?;
    let (exponent, end) = scan_exponent(text, at)?;
    refuse_times_ten(text, start, end)?;
    let fraction = i32::try_from(fraction).unwrap_or(i32::MAX);
    let last_digit = exponent.unwrap_or(0) - fraction;
    Ok(Scanned { value: digits.value(negative, last_digit), last_digit, end, has_exponent: exponent.is_some() })
}

/// Reads `e-6` at byte `at`, if it is there; `e` that no digit follows belongs to a unit.
pub(super) fn scan_exponent(text: &str, at: usize) -> Result<(Option<i32>, usize), QuantityError> {
    let rest = &text[at..];
    let Some(after) = rest.strip_prefix(['e', 'E']) else { return Ok((None, at)) };
    let sign = after.chars().next().filter(|sign| matches!(sign, '-' | '+' | '−'));
    let digits = &after[sign.map_or(0, char::len_utf8)..];
    let count = digits.bytes().take_while(u8::is_ascii_digit).count();
    if count == 0 {
        return Ok((None, at));
    }
    let end = text.len() - digits.len() + count;
    let size = digits[..count].parse::<i32>().unwrap_or(i32::MAX);
    if size > LARGEST_EXPONENT {
        return Err(QuantityError::new(
            at..end,
            format!("the exponent of this number is beyond ±{LARGEST_EXPONENT}"),
            "check the exponent, or use a larger unit",
        ));
    }
    Ok((Some(if matches!(sign, Some('-' | '−')) { -size } else { size }), end))
}

/// Digits without grouping; up to eighteen of them are kept in a machine word, which is all that nearly every number needs.
#[derive(Default)]
struct Digits {
    small: u64,
    count: usize,
    /// All of them, once there are more.
    all: String,
}

/// As many decimal digits as always fit a signed machine word.
const FIT: usize = 18;

impl Digits {
    fn read(&mut self, text: &str, start: usize) -> usize {
        let mut end = start;
        let mut chars = text[start..].char_indices().peekable();
        let mut after_digit = false;
        while let Some((offset, c)) = chars.next() {
            if let Some(digit) = c.to_digit(10) {
                self.push(digit, c);
                after_digit = true;
                end = start + offset + 1;
            } else if after_digit && is_grouping(c) && chars.peek().is_some_and(|(_, next)| next.is_ascii_digit()) {
                after_digit = false;
            } else {
                break;
            }
        }
        end
    }

    fn push(&mut self, digit: u32, c: char) {
        if self.count == FIT {
            self.all = format!("{:0FIT$}", self.small);
        }
        if self.count < FIT {
            self.small = self.small * 10 + u64::from(digit);
        } else {
            self.all.push(c);
        }
        self.count += 1;
    }

    fn count(&self) -> usize {
        self.count
    }

    fn value(&self, negative: bool, scale: i32) -> Rational {
        if self.count <= FIT && (-18..=0).contains(&scale) {
            let numerator = self.small.cast_signed();
            let denominator = 10u64.pow(scale.unsigned_abs());
            return Rational::from_words(if negative { -numerator } else { numerator }, denominator);
        }
        let whole = match self.count {
            ..=FIT => BigInt::from(self.small),
            _ => self.all.parse::<BigInt>().unwrap_or_else(|_| BigInt::zero()),
        };
        let value = Rational::from_integer(if negative { -whole } else { whole });
        value * power_of_ten(scale)
    }
}

/// Signs that group digits without being read as a decimal sign: `_`, thin space, narrow no-break space.
fn is_grouping(c: char) -> bool {
    matches!(c, '_' | '\u{2009}' | '\u{202f}')
}

fn starts_with_digit(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit())
}

/// Words that programs write where they have no number.
pub(super) fn is_no_number(word: &str) -> bool {
    ["nan", "inf", "infinity"].iter().any(|known| word.eq_ignore_ascii_case(known))
}

pub(super) fn not_finite(range: Range<usize>, word: &str) -> QuantityError {
    QuantityError::new(range, format!("`{word}` is not a quantity"), "write a finite number with its unit")
}

fn not_a_number(text: &str, start: usize) -> QuantityError {
    let word: String =
        text[start..].chars().take_while(|c| c.is_alphanumeric() || matches!(c, '+' | '-' | '_')).take(40).collect();
    let lower = word.trim_start_matches(['+', '-']).to_lowercase();
    let range = start..(start + word.len()).max(text[start..].chars().next().map_or(start, |c| start + c.len_utf8()));
    if is_no_number(&lower) {
        return not_finite(range, &word);
    }
    let found = if word.is_empty() { "something else".to_owned() } else { format!("`{word}`") };
    QuantityError::new(
        range,
        format!("expected a number, found {found}"),
        "write a number and its unit, such as `4.2 MPa`",
    )
}

/// A decimal comma is refused rather than guessed at: `1,320` could be either of two numbers.
fn refuse_comma(text: &str, start: usize, at: usize) -> Result<(), QuantityError> {
    let Some(after) = text[at..].strip_prefix(',') else { return Ok(()) };
    let count = after.bytes().take_while(u8::is_ascii_digit).count();
    if count == 0 {
        return Ok(());
    }
    let end = at + 1 + count;
    let (whole, fraction) = (&text[start..at], &after[..count]);
    // What stands around it, such as the unit, is to be kept.
    let quoted = text.len() <= MAX_QUOTED && !text.contains(['\n', '(', '[']);
    let (before, behind) = if quoted { (&text[..start], &text[end..]) } else { ("", "") };
    let written = |number: String| format!("`{}`", format!("{before}{number}{}", with_points(behind)).trim());
    let help = if count == 3 && !whole.contains('.') {
        let (one, other) = (written(format!("{whole}.{fraction}")), written(format!("{whole}{fraction}")));
        format!("write {one} or {other}, whichever is meant")
    } else {
        format!("write {}", written(format!("{whole}.{fraction}")))
    };
    Err(QuantityError::new(start..end, "a comma is not read as a decimal sign", help))
}

/// A text up to this length is quoted as a whole in advice.
const MAX_QUOTED: usize = 60;

/// A text with a point for every comma that stands between two digits.
fn with_points(text: &str) -> String {
    let bytes = text.as_bytes();
    let is_digit = |at: Option<usize>| at.and_then(|at| bytes.get(at)).is_some_and(u8::is_ascii_digit);
    let decimal = |at: usize| is_digit(at.checked_sub(1)) && is_digit(Some(at + 1));
    text.char_indices().map(|(at, c)| if c == ',' && decimal(at) { '.' } else { c }).collect()
}

fn refuse_times_ten(text: &str, start: usize, at: usize) -> Result<(), QuantityError> {
    let rest = text[at..].trim_start_matches(' ');
    let Some(after) = rest.strip_prefix(['×', 'x', '·', '*']) else { return Ok(()) };
    let Some(power) = after.trim_start_matches(' ').strip_prefix("10^") else { return Ok(()) };
    let exponent: String = power.chars().take_while(|c| c.is_ascii_digit() || *c == '-').collect();
    let number = &text[start..at];
    let end = text.len() - power.len() + exponent.len();
    Err(QuantityError::new(start..end, "a power of ten is written with `e`", format!("write `{number}e{exponent}`")))
}
