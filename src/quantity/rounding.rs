//! Writes numbers for people: two significant digits of the uncertainty (JCGM 100:2008, 7.2.6), ties to even on the exact
//! value. Nothing is ever compared after rounding.

use num_bigint::BigInt;
use num_integer::Integer;
use num_traits::{Signed, ToPrimitive, Zero};

use super::number::power_of_ten;
use super::{Quantity, Rational, Shape, Uncertainty, Unit};

/// Powers of ten from which on, and up to which, numbers are written with an exponent.
const LARGE: i32 = 9;
const SMALL: i32 = -5;

/// Digits that a computed number keeps when it does not end by itself within [`EXACT_DIGITS`].
const DIGITS: i32 = 6;
const EXACT_DIGITS: i32 = 10;

impl Quantity {
    /// The text as written; a computed value is rounded for display in its unit.
    pub fn show(&self) -> String {
        if self.text.is_empty() { self.render(&self.unit) } else { self.text.clone() }
    }

    /// The quantity in another unit, rounded for display; in its own where that unit is for something else.
    pub fn show_in(&self, unit: &Unit) -> String {
        if unit.dimension != self.dimension {
            return self.show();
        }
        if unit.kind == self.kind {
            return self.render(unit);
        }
        if unit.kind.difference() == self.kind {
            return self.render(&unit.as_difference());
        }
        self.show()
    }

    /// The value and its uncertainty to ten significant digits each, in its unit: what is written down of a computed result.
    pub fn in_full(&self) -> String {
        let value = self.number();
        match &self.uncertainty {
            None => join(&value, &self.unit.symbol, ""),
            Some(own) => {
                let half = in_full(&self.unit.span_from_si(&own.stated_half_width()));
                with_half_width(&value, &half, &self.unit.symbol, &own.bracket())
            }
        }
    }

    /// How many of its unit the value is, to ten significant digits: `18.5`.
    pub fn number(&self) -> String {
        in_full(&self.unit.from_si(&self.value))
    }

    /// The same quantity with another value, so many of its unit, and its uncertainty as it is.
    pub fn at(&self, number: &Rational) -> Quantity {
        Quantity { value: self.unit.to_si(number), text: String::new(), ..self.clone() }
    }

    /// The value with its standard uncertainty in a bracket, in units of the last digit: `1.320(40) N·m`. Without an uncertainty, or one of
    /// zero, the value alone (JCGM 100:2008, 7.2.2).
    pub fn show_concise(&self) -> String {
        let number = self.unit.from_si(&self.value);
        let standard = self.uncertainty.as_ref().map(|uncertainty| self.unit.span_from_si(&uncertainty.standard));
        let number = match standard.filter(|standard| !standard.is_zero()) {
            Some(standard) => concise(&number, &standard),
            None => plain(&number),
        };
        let freedom = self.uncertainty.as_ref().and_then(|uncertainty| uncertainty.freedom.as_ref());
        let freedom = freedom.map(|freedom| format!(" (nu={})", cut(freedom, 3))).unwrap_or_default();
        join(&number, &self.unit.symbol, &freedom)
    }

    fn render(&self, unit: &Unit) -> String {
        let value = unit.from_si(&self.value);
        let symbol = unit.symbol.as_str();
        let Some(uncertainty) = &self.uncertainty else { return join(&plain(&value), symbol, "") };
        let half = unit.span_from_si(&uncertainty.stated_half_width());
        let (value, half) = if half.is_zero() { (plain(&value), "0".to_owned()) } else { pair(&value, &half) };
        with_half_width(&value, &half, symbol, &uncertainty.bracket())
    }
}

impl Uncertainty {
    /// The half width that is written before [`Uncertainty::bracket`].
    pub fn stated_half_width(&self) -> Rational {
        match self.shape {
            Shape::Normal => self.expanded.clone(),
            shape => &self.standard * shape.half_width(),
        }
    }

    /// How the half width was found, as it is written behind a quantity: `(k=2)`, `(95.45 %, nu=9)`, `(rectangular)`.
    pub fn bracket(&self) -> String {
        match (self.shape, &self.freedom) {
            (Shape::Normal, None) => "(k=2)".to_owned(),
            // Cut, not rounded: fewer degrees of freedom never make an uncertainty look better than it is (JCGM 100:2008, G.4.1).
            (Shape::Normal, Some(freedom)) => format!("(95.45 %, nu={})", cut(freedom, 3)),
            (shape, _) => format!("({})", shape.word()),
        }
    }
}

fn in_full(value: &Rational) -> String {
    let size = if value.is_zero() { 0 } else { magnitude(value) };
    match size >= LARGE || size <= SMALL {
        true => format!("{}e{size}", significant(&(value * power_of_ten(-size)), EXACT_DIGITS)),
        false => significant(value, EXACT_DIGITS),
    }
}

fn with_half_width(value: &str, half: &str, symbol: &str, bracket: &str) -> String {
    // `50 ± 2 %` is read in two ways.
    if symbol == "%" {
        format!("({value} ± {half}) % {bracket}")
    } else {
        join(&format!("{value} ± {half}"), symbol, &format!(" {bracket}"))
    }
}

fn join(number: &str, symbol: &str, end: &str) -> String {
    if symbol.is_empty() { format!("{number}{end}") } else { format!("{number} {symbol}{end}") }
}

/// A value and its uncertainty, which is not zero, as `1.320(40)`; with a power of ten behind the bracket where it needs one.
pub(super) fn concise(value: &Rational, uncertainty: &Rational) -> String {
    let (value, uncertainty) = pair(value, uncertainty);
    let (value, exponent) = value.split_at(value.find('e').unwrap_or(value.len()));
    let uncertainty = uncertainty.split('e').next().unwrap_or("");
    // A bracket with a decimal point is in the unit, one without in last digits; from 1 on the two would look alike.
    let digits = match uncertainty.starts_with("0.") {
        true => uncertainty.trim_start_matches(['0', '.']),
        false => uncertainty,
    };
    format!("{value}({digits}){exponent}")
}

/// The power of ten of the first digit; the value is not zero.
pub(super) fn magnitude(value: &Rational) -> i32 {
    let bits = |n: BigInt| i64::try_from(n.bits()).unwrap_or(i64::MAX);
    // log10(2) is 0.30103; the estimate is at most one off and corrected below.
    let estimate = match value.words() {
        Some((n, d)) => i64::from(n.unsigned_abs().ilog10()) - i64::from(d.ilog10()),
        None => (bits(value.numer()) - bits(value.denom())).saturating_mul(30_103) / 100_000,
    };
    let mut exponent = i32::try_from(estimate).unwrap_or(0);
    let size = value.abs();
    while size < power_of_ten(exponent) {
        exponent -= 1;
    }
    while size >= power_of_ten(exponent + 1) {
        exponent += 1;
    }
    exponent
}

/// The whole number of units of 10^`place` nearest to the value, ties to even.
pub(super) fn units_at(value: &Rational, place: i32) -> BigInt {
    let scaled = value * power_of_ten(-place);
    if let Some((n, d)) = scaled.words() {
        let (n, d) = (i128::from(n), i128::from(d));
        let (whole, rest) = n.div_mod_floor(&d);
        let up = match (rest * 2).cmp(&d) {
            std::cmp::Ordering::Less => false,
            std::cmp::Ordering::Equal => whole.is_odd(),
            std::cmp::Ordering::Greater => true,
        };
        return BigInt::from(whole + i128::from(up));
    }
    let denominator = scaled.denom();
    let (whole, rest) = scaled.numer().div_mod_floor(&denominator);
    match (rest * 2u8).cmp(&denominator) {
        std::cmp::Ordering::Less => whole,
        std::cmp::Ordering::Equal if whole.is_even() => whole,
        _ => whole + 1u8,
    }
}

/// So many units of 10^`place`, written out; zero never has a sign.
fn write_units(units: &BigInt, place: i32) -> String {
    let mut text = units.to_string();
    let signs = usize::from(units.is_negative());
    let digits = text.len() - signs;
    let places = usize::try_from(-i64::from(place)).unwrap_or(0);
    if place > 0 && !units.is_zero() {
        text.extend(std::iter::repeat_n('0', usize::try_from(place).unwrap_or(0)));
    } else if places > 0 {
        if digits <= places {
            text.insert_str(signs, &"0".repeat(places + 1 - digits));
        }
        text.insert(text.len() - places, '.');
    }
    text
}

/// A value and its uncertainty, which is not zero: two significant digits of it, the value to the same place.
pub(super) fn pair(value: &Rational, uncertainty: &Rational) -> (String, String) {
    let larger = if value.abs() > *uncertainty { value } else { uncertainty };
    let size = magnitude(larger);
    if size >= LARGE || size <= SMALL {
        let scale = power_of_ten(-size);
        let (value, uncertainty) = pair_written_out(&(value * &scale), &(uncertainty * &scale));
        return (format!("{value}e{size}"), format!("{uncertainty}e{size}"));
    }
    pair_written_out(value, uncertainty)
}

fn pair_written_out(value: &Rational, uncertainty: &Rational) -> (String, String) {
    let mut place = magnitude(uncertainty) - 1;
    let mut units = units_at(uncertainty, place);
    if units == BigInt::from(100u8) {
        // 0.0995 carries into a new digit: 0.10, not 0.100.
        place += 1;
        units = BigInt::from(10u8);
    }
    (write_units(&units_at(value, place), place), write_units(&units, place))
}

/// A number without uncertainty: as it is where it ends within ten digits, else to six.
pub(super) fn plain(value: &Rational) -> String {
    if value.is_zero() {
        return "0".to_owned();
    }
    let size = magnitude(value);
    if size >= LARGE || size <= SMALL {
        let scaled = value * power_of_ten(-size);
        return format!("{}e{size}", plain_written_out(&scaled, 0));
    }
    plain_written_out(value, size)
}

fn plain_written_out(value: &Rational, size: i32) -> String {
    let place = match decimal_places(&value.denom()) {
        Some(places) if size + places < EXACT_DIGITS => -places,
        _ => (size + 1 - DIGITS).min(0),
    };
    strip_zeros(write_units(&units_at(value, place), place))
}

/// The decimal places that a fraction needs, if it ends at all and needs few.
fn decimal_places(denominator: &BigInt) -> Option<i32> {
    let mut rest = denominator.to_u64()?;
    let (mut twos, mut fives) = (0, 0);
    while rest % 2 == 0 {
        rest /= 2;
        twos += 1;
    }
    while rest % 5 == 0 {
        rest /= 5;
        fives += 1;
    }
    (rest == 1).then_some(twos.max(fives))
}

/// A number to so many significant digits, without zeros at its end; whole where it is larger than that.
pub(super) fn significant(value: &Rational, digits: i32) -> String {
    if value.is_zero() {
        return "0".to_owned();
    }
    let place = (magnitude(value) + 1 - digits).min(0);
    strip_zeros(write_units(&units_at(value, place), place))
}

/// An uncertainty as it is where it ends within three digits, else to two significant ones, away from zero: what is stated is never
/// less than what it was (JCGM 100:2008, 7.2.6).
pub(super) fn rounded_up(value: &Rational) -> String {
    if value.is_zero() {
        return "0".to_owned();
    }
    let size = magnitude(value);
    let short = decimal_places(&value.denom()).is_some_and(|places| size + places < 3);
    if short || size >= LARGE || size <= SMALL {
        return plain(value);
    }
    let place = size - 1;
    let scaled = value * power_of_ten(-place);
    let whole = scaled.floor();
    let up = if Rational::from_integer(whole.clone()) == scaled { whole } else { whole + 1u8 };
    write_units(&up, place)
}

/// A positive number cut to so many significant digits, or to a whole number where it is larger.
fn cut(value: &Rational, digits: i32) -> String {
    let place = (magnitude(value) + 1 - digits).min(0);
    strip_zeros(write_units(&(value * power_of_ten(-place)).to_integer(), place))
}

/// A number beside its uncertainty, to the digits that this is shown with and no more; as it is without one.
pub(super) fn beside(value: &Rational, uncertainty: Option<&Rational>) -> String {
    let Some(uncertainty) = uncertainty.filter(|own| !own.is_zero() && !value.is_zero()) else { return plain(value) };
    let own = magnitude(value);
    if own >= LARGE || own <= SMALL {
        let scale = power_of_ten(-own);
        return format!("{}e{own}", beside(&(value * &scale), Some(&(uncertainty * &scale))));
    }
    let size = magnitude(uncertainty);
    let places = decimal_places(&uncertainty.denom()).filter(|places| size + places < 3).unwrap_or(0);
    let place = (size - 1).min(-places);
    let units = units_at(value, place);
    if units.is_zero() {
        // That it is not on the limit is seen.
        return significant(value, 1);
    }
    let all = plain(value);
    // What is just under U does not look like it.
    let shown = (Rational::from_integer(units.clone()) * power_of_ten(place)).abs();
    if shown.cmp(uncertainty) != value.abs().cmp(uncertainty) {
        return all;
    }
    let rounded = strip_zeros(write_units(&units, place));
    if rounded.len() < all.len() { rounded } else { all }
}

/// A number to two significant digits, towards zero, however large it is.
pub(super) fn two_digits(value: &Rational) -> String {
    if value.is_zero() || magnitude(value) < 2 {
        return truncated(value);
    }
    let place = magnitude(value) - 1;
    write_units(&(value * power_of_ten(-place)).to_integer(), place)
}

/// A number to two significant digits, towards zero: 0.996 is `0.99`, since `1.0` would claim what was not reached.
pub fn truncated(value: &Rational) -> String {
    if value.is_zero() {
        return "0".to_owned();
    }
    let place = (magnitude(value) - 1).clamp(-4, 0);
    let scaled = value * power_of_ten(-place);
    write_units(&scaled.to_integer(), place)
}

fn strip_zeros(mut text: String) -> String {
    if text.contains('.') {
        text.truncate(text.trim_end_matches('0').trim_end_matches('.').len());
    }
    text
}
