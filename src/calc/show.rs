//! Writes results at full precision, for people who check them.

use super::Worked;
use crate::quantity::{Quantity, Rational};

impl Worked {
    /// The value, its uncertainty and its unit, nothing rounded that is exact: `1.3558179483314004 N·m`.
    pub fn precise(&self) -> String {
        precise(&self.quantity)
    }
}

/// See [`Worked::precise`].
fn precise(quantity: &Quantity) -> String {
    let unit = &quantity.unit;
    let symbol = unit.symbol.replace('*', "·");
    let exact = !quantity.approximate;
    let value = number(&unit.from_si(&quantity.value), exact);
    let gap = if symbol.is_empty() { "" } else { " " };
    match &quantity.uncertainty {
        None => format!("{value}{gap}{symbol}"),
        Some(uncertainty) => {
            let half = number(&unit.span_from_si(&uncertainty.stated_half_width()), exact);
            // `50 ± 2 %` is read in two ways.
            let both = if symbol == "%" { format!("({value} ± {half})") } else { format!("{value} ± {half}") };
            format!("{both}{gap}{symbol} {}", uncertainty.bracket())
        }
    }
}

/// Most digits of a decimal that is written out.
const DIGITS: usize = 20;

/// A number: every digit where it is an exact decimal that is short enough, else those that tell its double from all others.
pub(super) fn number(value: &Rational, exact: bool) -> String {
    if exact && let Some(decimal) = decimal(value) {
        return decimal;
    }
    let double = value.to_f64().unwrap_or(f64::NAN);
    if double != 0.0 && !(1e-5..1e16).contains(&double.abs()) { format!("{double:e}") } else { format!("{double}") }
}

fn decimal(value: &Rational) -> Option<String> {
    let ten = Rational::from_integer(10.into());
    let (mut scaled, mut places) = (value.clone(), 0usize);
    while scaled.denom() != 1.into() {
        scaled *= &ten;
        places += 1;
        if places > DIGITS {
            return None;
        }
    }
    let mut digits = scaled.abs().to_integer().to_string();
    if digits.len() > DIGITS || (places > 5 + digits.len()) {
        return None;
    }
    if places > 0 {
        if digits.len() <= places {
            digits.insert_str(0, &"0".repeat(places + 1 - digits.len()));
        }
        digits.insert(digits.len() - places, '.');
    }
    Some(if value.is_negative() { format!("-{digits}") } else { digits })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::parse_number;

    #[test]
    fn exact_decimals_keep_every_digit() {
        for (text, shown) in [
            ("1.3558179483314004", "1.3558179483314004"),
            ("-0.1", "-0.1"),
            ("0", "0"),
            ("1e-9", "1e-9"),
            ("12345678901234567890", "12345678901234567890"),
            ("1e30", "1e30"),
            ("0.00042", "0.00042"),
        ] {
            assert_eq!(number(&parse_number(text).expect(text).value, true), shown);
        }
        assert_eq!(number(&Rational::new(1.into(), 3.into()), true), "0.3333333333333333");
    }
}
