//! Reads what a person wrote: a value with its uncertainty and unit, or a bound.

use std::ops::Range;

use super::coverage::{Coverage, Worked};
use super::number::{Scanned, scan, scan_exponent};
use super::rounding::plain;
use super::{
    Kind, MAX_TEXT, Measured, Quantity, QuantityError, Rational, Shape, Uncertainty, Unit, coverage, number, unit,
};

/// Reads a quantity: `0.83 ± 0.11 N·m`, `(1.32 ± 0.08) N·m (k=1)`, `1.3200(15) MPa`, `4.00 MPa ± 2 %`, `[9.99, 10.02] mm`, `6 MPa gauge`.
///
/// A bare `±` is an expanded uncertainty with k = 2, a bracket behind the digits a standard one, an interval rectangular. The bracket at
/// the end says otherwise: `(k=1)`, `(95 %, nu=9)`, `(rectangular)`; `coverage` holds them all.
///
/// # Errors
/// Anything that is not one quantity, or that could be read as two different ones.
pub fn parse_quantity(text: &str) -> Result<Quantity, QuantityError> {
    let whole = check_text(text)?;
    let (body, coverage) = coverage::split(text, whole.clone())?;
    let written = match text[body.clone()].chars().next() {
        Some('(') => read_grouped(text, body)?,
        Some('[') => read_interval(text, body)?,
        _ => read_plain(text, body)?,
    };
    build(text, whole, &written, coverage.as_ref())
}

/// Reads what a record reports: a quantity, or a bound `< x`, `<= x`, `> x`, `>= x`.
///
/// # Errors
/// Those of [`parse_quantity`], and a bound that has an uncertainty.
pub fn parse_measured(text: &str) -> Result<Measured, QuantityError> {
    let trimmed = text.trim_start();
    let signs = [("<=", true), ("≤", true), ("<", true), (">=", false), ("≥", false), (">", false)];
    let Some((sign, below)) = signs.into_iter().find(|(sign, _)| trimmed.starts_with(sign)) else {
        return parse_quantity(text).map(Measured::Value);
    };
    let offset = text.len() - trimmed.len() + sign.len();
    let quantity = parse_quantity(&text[offset..]).map_err(|error| error.shifted(offset))?;
    if quantity.uncertainty.is_some() {
        return Err(QuantityError::new(
            0..text.len(),
            "a bound has no uncertainty of its own",
            format!("write the bound alone, with the uncertainty counted in, such as `{sign} 4.2 MPa`"),
        ));
    }
    Ok(if below { Measured::Below(quantity) } else { Measured::Above(quantity) })
}

/// Reads a bare number from its source text, such as a TOML integer or float: a plain number, exact as written.
///
/// # Errors
/// Anything but one finite decimal number.
pub fn parse_number(text: &str) -> Result<Quantity, QuantityError> {
    let whole = check_text(text)?;
    let scanned = scan(text, whole.start)?;
    if scanned.end < whole.end {
        return Err(QuantityError::new(
            scanned.end..whole.end,
            format!("`{}` follows the number", &text[scanned.end..whole.end]),
            "write a decimal number, or put the number and its unit in quotes",
        ));
    }
    Ok(Quantity::computed(scanned.value, Unit::none(), true).with_text(&text[whole]))
}

/// Reads a share, as a number or in percent, without an uncertainty: `0.95` or `95 %`. Whether it lies between 0 and 1 is for the
/// caller to ask.
pub fn parse_share(text: &str) -> Option<Rational> {
    let quantity = parse_quantity(text).ok()?;
    let plain = quantity.uncertainty.is_none() && matches!(quantity.unit.symbol.as_str(), "" | "%");
    plain.then_some(quantity.value)
}

/// True if a text holds a mark for something still to be decided: TBD, TBR, TBC, TBS or `??`.
pub fn is_placeholder(text: &str) -> bool {
    // Every limit and result is asked, and hardly any is one: without these bytes none of the marks is there.
    let bytes = text.as_bytes();
    if !bytes.contains(&b'?') && !bytes.windows(2).any(|pair| pair.eq_ignore_ascii_case(b"TB")) {
        return false;
    }
    let words = text.split(|c: char| !c.is_alphanumeric());
    text.contains("??")
        || text.trim() == "?"
        || words.into_iter().any(|word| ["TBD", "TBR", "TBC", "TBS"].iter().any(|mark| word.eq_ignore_ascii_case(mark)))
}

/// The bytes without the white space around them, once the text is known to be worth reading.
fn check_text(text: &str) -> Result<Range<usize>, QuantityError> {
    let start = text.len() - text.trim_start().len();
    let whole = start..start + text.trim().len();
    if text.len() > MAX_TEXT {
        let message = format!("this text is longer than {MAX_TEXT} bytes");
        return Err(QuantityError::new(0..text.len(), message, "write one quantity, such as `4.2 MPa`"));
    }
    if whole.is_empty() {
        return Err(QuantityError::new(
            whole,
            "there is no quantity here",
            "write a number and its unit, such as `4.2 MPa`",
        ));
    }
    if is_placeholder(text) {
        let message = format!("`{}` is still to be decided", &text[whole.clone()]);
        return Err(QuantityError::new(whole, message, "write the value once it is decided"));
    }
    let refused = match text[whole.clone()].chars().next() {
        Some('<' | '>' | '≤' | '≥') => ("a bound stands where one value is expected", "write the value alone"),
        Some('±') => ("there is no value before `±`", "write `4.2 ± 0.1 MPa`"),
        _ => return Ok(whole),
    };
    Err(QuantityError::new(whole, refused.0, refused.1))
}

/// The parts of a quantity as they stand in the text.
struct Written {
    value: Scanned,
    spread: Spread,
    unit: Range<usize>,
}

enum Spread {
    None,
    /// `x(u)`: the standard uncertainty, in the same unit.
    Standard(Rational),
    /// `x ± U`, in the same unit.
    Same(Rational),
    /// `x unit ± U unit`, in its own unit.
    Own(Rational, Range<usize>, Range<usize>),
    /// `[a, b]`: half the distance of its ends, in the same unit.
    Interval(Rational),
}

fn read_plain(text: &str, body: Range<usize>) -> Result<Written, QuantityError> {
    let text = &text[..body.end];
    let mut value = scan(text, body.start)?;
    let mut spread = Spread::None;
    refuse_tolerance(text, &value, body.start)?;
    if text[value.end..].starts_with('(') {
        spread = read_concise(text, &mut value)?;
    }
    refuse_plain_space(text, body.start, value.end)?;
    let Some(sign) = find_sign(text, value.end)? else {
        return Ok(Written { unit: trimmed(text, value.end..body.end), value, spread });
    };
    if !matches!(spread, Spread::None) {
        return Err(two_uncertainties(body));
    }
    let (first_unit, (half, second_unit)) = (trimmed(text, value.end..sign.start), read_half_width(text, sign.end)?);
    if first_unit.is_empty() {
        refuse_bare_percent(text, &body, &sign, &second_unit)?;
        let spread = Spread::Same(half.value);
        return Ok(Written { value, spread, unit: second_unit });
    }
    if second_unit.is_empty() {
        let unit = &text[first_unit.clone()];
        let number = text[sign.end..].trim();
        let help = format!("write `± {number} {unit}`, or `{} ± {number} {unit}`", text[body.start..value.end].trim());
        return Err(QuantityError::new(
            sign.start..body.end,
            "the uncertainty has no unit, but the value has one",
            help,
        ));
    }
    Ok(Written { value, spread: Spread::Own(half.value, sign.start..body.end, second_unit), unit: first_unit })
}

/// Reads `(1.32 ± 0.08) N·m`.
fn read_grouped(text: &str, body: Range<usize>) -> Result<Written, QuantityError> {
    let Some(length) = text[body.clone()].find(')') else {
        return Err(QuantityError::new(body, "this bracket is not closed", "write `(1.32 ± 0.08) N·m`"));
    };
    let close = body.start + length;
    let inner = &text[..close];
    let start = close - inner[body.start + 1..].trim_start().len();
    let value = scan(inner, start)?;
    let sign = find_sign(inner, value.end)?;
    let Some(sign) = sign.filter(|sign| text[value.end..sign.start].trim().is_empty()) else {
        return Err(QuantityError::new(
            body.start..close + 1,
            "expected a value and its uncertainty inside this bracket",
            "write `(1.32 ± 0.08) N·m`, or leave the brackets out",
        ));
    };
    let (half, unit) = read_half_width(inner, sign.end)?;
    if !unit.is_empty() {
        return Err(QuantityError::new(unit, "the unit stands behind the bracket", "write `(1.32 ± 0.08) N·m`"));
    }
    let unit = trimmed(text, close + 1..body.end);
    if find_sign(&text[..body.end], close + 1)?.is_some() {
        return Err(two_uncertainties(body));
    }
    Ok(Written { value, spread: Spread::Same(half.value), unit })
}

/// Reads `[9.99, 10.02] mm`: the middle, and half the distance of the ends.
fn read_interval(text: &str, body: Range<usize>) -> Result<Written, QuantityError> {
    let wrong = |range: Range<usize>, message: &str| {
        QuantityError::new(range, message, "write both ends and the unit behind them: `[9.99, 10.02] mm`")
    };
    let Some(length) = text[body.clone()].find(']') else { return Err(wrong(body, "this bracket is not closed")) };
    let close = body.start + length;
    let inner = &text[..close];
    let start = close - inner[body.start + 1..].trim_start().len();
    // A comma without a space behind it could be a decimal one.
    let Some(comma) = inner[start..].find(", ").map(|at| start + at) else {
        return Err(wrong(body.start..close + 1, "an interval has two ends with a comma and a space between them"));
    };
    let low = scan(&text[..comma], start)?;
    let second = close - inner[comma + 1..].trim_start().len();
    let high = scan(inner, second)?;
    if !text[low.end..comma].trim().is_empty() || !inner[high.end..].trim().is_empty() {
        return Err(wrong(body.start..close + 1, "something else stands between the brackets of an interval"));
    }
    if low.value >= high.value {
        let range = start..high.end;
        return Err(QuantityError::new(range, "the first end is not below the second", "write the lower end first"));
    }
    if let Some(sign) = find_sign(&text[..body.end], close + 1)? {
        return Err(two_uncertainties(body.start..sign.end));
    }
    let two = Rational::from_words(2, 1);
    let half = (&high.value - &low.value) / &two;
    let value = Scanned { value: (low.value + high.value) / two, ..high };
    Ok(Written { value, spread: Spread::Interval(half), unit: trimmed(text, close + 1..body.end) })
}

/// The number after `±`, which is not negative, and the unit behind it.
fn read_half_width(text: &str, from: usize) -> Result<(Scanned, Range<usize>), QuantityError> {
    let start = text.len() - text[from..].trim_start().len();
    let half = scan(text, start)?;
    if half.value.is_negative() {
        return Err(QuantityError::new(start..half.end, "an uncertainty is not negative", "write it without its sign"));
    }
    refuse_plain_space(text, start, half.end)?;
    let unit = trimmed(text, half.end..text.len());
    Ok((half, unit))
}

/// `10.00 (-0.01, +0.02) mm` says between what the value lies, not how it is spread there, nor where its middle is.
fn refuse_tolerance(text: &str, value: &Scanned, start: usize) -> Result<(), QuantityError> {
    let rest = text[value.end..].trim_start();
    if !rest.starts_with(['(']) || !rest[1..].trim_start().starts_with(['+', '-', '−']) {
        return Ok(());
    }
    let length = rest.find(')').unwrap_or(rest.len());
    let end = |text: &str| scan(text.trim(), 0).ok().map(|step| plain(&(&value.value + step.value)));
    let ends = rest[1..length].split_once(',').and_then(|(low, high)| Some((end(low)?, end(high)?)));
    let (low, high) = ends.unwrap_or_else(|| ("9.99".to_owned(), "10.02".to_owned()));
    let unit = rest.get(length + 1..).unwrap_or("").trim();
    let help = format!(
        "write `{}` where any value between the ends is as possible as another; a tolerance goes into `min` and `max`",
        format!("[{low}, {high}] {unit}").trim_end()
    );
    let range = start..text.len() - rest.len() + length;
    Err(QuantityError::new(range, "a tolerance is not an uncertainty until its spread is named", help))
}

/// Reads the bracket of `1.3200(15)` or `100.02147(0.00035)`, and an exponent behind it.
fn read_concise(text: &str, value: &mut Scanned) -> Result<Spread, QuantityError> {
    let open = value.end;
    let wrong = |range: Range<usize>| {
        QuantityError::new(
            range,
            "expected the standard uncertainty in this bracket",
            "write `1.3200(15) MPa` or `1.32 ± 0.08 MPa`",
        )
    };
    let Some(length) = text[open..].find(')') else { return Err(wrong(open..text.len())) };
    let close = open + length;
    let range = open..close + 1;
    let content = &text[open + 1..close];
    if !content.starts_with(|c: char| c.is_ascii_digit()) {
        return Err(wrong(range));
    }
    let inner = scan(content, 0).map_err(|error| error.shifted(open + 1))?;
    if inner.end < content.len() || inner.has_exponent || (value.has_exponent && !content.contains('.')) {
        return Err(wrong(range));
    }
    // Digits without a decimal point count in units of the last digit of the value.
    let scale = if content.contains('.') { 0 } else { value.last_digit };
    let mut standard = inner.value * number::power_of_ten(scale);
    value.end = close + 1;
    if let (Some(exponent), end) = scan_exponent(text, close + 1)? {
        let power = number::power_of_ten(exponent);
        value.value *= &power;
        standard *= power;
        value.end = end;
    }
    Ok(Spread::Standard(standard))
}

const PLUS_MINUS: &str = "±";

/// The only `±` or `+/-` from byte `from` on; a second one is an error.
fn find_sign(text: &str, from: usize) -> Result<Option<Range<usize>>, QuantityError> {
    let next = |from: usize| {
        let mut likely = memchr::memchr2_iter(PLUS_MINUS.as_bytes()[0], b'+', &text.as_bytes()[from..]);
        likely.find_map(|at| {
            let sign = [PLUS_MINUS, "+/-"].into_iter().find(|sign| text[from + at..].starts_with(sign))?;
            Some(from + at..from + at + sign.len())
        })
    };
    let first = next(from);
    if let Some(second) = first.as_ref().and_then(|first| next(first.end)) {
        return Err(two_uncertainties(second));
    }
    Ok(first)
}

fn trimmed(text: &str, range: Range<usize>) -> Range<usize> {
    let part = &text[range.clone()];
    let start = range.start + part.len() - part.trim_start().len();
    start..start + part.trim().len()
}

fn two_uncertainties(range: Range<usize>) -> QuantityError {
    QuantityError::new(range, "there are two uncertainties", "write one, combined: `1.32 ± 0.08 N·m`")
}

fn refuse_plain_space(text: &str, start: usize, end: usize) -> Result<(), QuantityError> {
    let rest = &text[end..];
    let next = rest.trim_start_matches([' ', '\u{a0}']);
    if next.len() == rest.len() || !next.starts_with(|c: char| c.is_ascii_digit()) || next.starts_with("1/") {
        return Ok(());
    }
    let digits = next.len() - next.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').len();
    let (first, second) = (&text[start..end], &next[..digits]);
    let range = start..text.len() - next.len() + digits;
    let help = format!("write `{first}{second}` or `{first}_{second}`");
    Err(QuantityError::new(range, "a space inside a number is not read", help))
}

/// `50 ± 2 %` is (50 ± 2) % to one reader and 50 within two hundredths of itself to another; `20 ± 5 % mL/min` is within a twentieth
/// to every reader, and 20 hundredths of a millilitre by the rules for units.
fn refuse_bare_percent(
    text: &str,
    body: &Range<usize>,
    sign: &Range<usize>,
    unit: &Range<usize>,
) -> Result<(), QuantityError> {
    if let Some(own) = text[unit.clone()].strip_prefix("% ") {
        let (value, half) = (&text[body.start..sign.start], text[sign.end..unit.start].trim());
        return Err(QuantityError::new(
            body.clone(),
            "an uncertainty in percent stands in front of the unit",
            format!("write `{} {} ± {half} %`", value.trim(), own.trim()),
        ));
    }
    if &text[unit.clone()] != "%" {
        return Ok(());
    }
    let numbers = text[body.start..unit.start].trim();
    Err(QuantityError::new(
        body.clone(),
        "this percentage is of the value, or in percentage points",
        format!("write `({numbers}) %` for percentage points, or the uncertainty as a number"),
    ))
}

/// Puts the parts together: units, what is said about the uncertainty, SI values.
fn build(
    text: &str,
    whole: Range<usize>,
    written: &Written,
    coverage: Option<&Coverage>,
) -> Result<Quantity, QuantityError> {
    let unit = unit::parse_within(text, written.unit.clone())?;
    let worked = uncertainty(text, written, &unit, coverage)?;
    let exact = unit.exact;
    let mut quantity = Quantity::computed(unit.to_si(&written.value.value), unit, exact).with_text(&text[whole]);
    if let Some(worked) = worked {
        quantity.approximate = worked.approximate;
        quantity.uncertainty = Some(worked.uncertainty);
    }
    Ok(quantity)
}

/// The uncertainty in SI, from whichever way it was stated.
fn uncertainty(
    text: &str,
    written: &Written,
    unit: &Unit,
    coverage: Option<&Coverage>,
) -> Result<Option<Worked>, QuantityError> {
    let (half, shape) = match &written.spread {
        Spread::None => {
            return coverage.map(|coverage| of_resolution(text, written, unit, coverage)).transpose();
        }
        Spread::Standard(standard) => {
            let standard = unit.span_to_si(standard);
            let exact = |uncertainty| Worked { uncertainty, approximate: false };
            return match coverage {
                Some(coverage) => coverage.of_standard(standard).map(Some),
                None => Ok(Some(exact(Uncertainty::from_standard(standard)))),
            };
        }
        Spread::Same(half) => (unit.span_to_si(half), Shape::Normal),
        Spread::Interval(half) => (unit.span_to_si(half), Shape::Rectangular),
        Spread::Own(half, range, own) => (own_width(text, written, unit, (half, range, own))?, Shape::Normal),
    };
    match coverage {
        Some(coverage) => coverage.of_half_width(&half).map(Some),
        None => Ok(Some(Worked { uncertainty: Uncertainty::within(&half, shape), approximate: false })),
    }
}

/// The uncertainty of a value that was read from a display with such a step.
fn of_resolution(text: &str, written: &Written, unit: &Unit, coverage: &Coverage) -> Result<Worked, QuantityError> {
    let Some(place) = coverage.resolution() else {
        return Err(QuantityError::new(
            coverage.range.clone(),
            "this is about an uncertainty, but none stands here",
            "write `1.32 ± 0.08 N·m (k=2)`",
        ));
    };
    let within = &text[..place.end];
    let step = scan(within, place.start)?;
    let own = trimmed(within, step.end..place.end);
    let step = match own.is_empty() {
        true => unit.span_to_si(&step.value),
        false => own_width(text, written, unit, (&step.value, &coverage.range, &own))?,
    };
    let half = step / Rational::from_words(2, 1);
    Ok(Worked { uncertainty: Uncertainty::within(&half, Shape::Rectangular), approximate: false })
}

/// A half width with a unit of its own, in SI.
fn own_width(
    text: &str,
    written: &Written,
    unit: &Unit,
    (half, range, place): (&Rational, &Range<usize>, &Range<usize>),
) -> Result<Rational, QuantityError> {
    let own = unit::parse_within(text, place.clone())?;
    let is_number = |unit: &Unit| unit.dimension.is_none() && unit.kind == Kind::Plain;
    // Parts per million of a number are a number themselves, and absolute; a percentage could be either.
    if is_number(&own) && (own.symbol == "%" || !is_number(unit)) {
        return relative(text, written, unit, &own.span_to_si(half), range.clone());
    }
    check_own_unit(unit, &own, range.clone())?;
    Ok(own.span_to_si(half))
}

/// A fraction of the value. On a temperature scale with an offset, and of a percentage, that could mean two things.
fn relative(
    text: &str,
    written: &Written,
    unit: &Unit,
    fraction: &Rational,
    range: Range<usize>,
) -> Result<Rational, QuantityError> {
    let value = &written.value.value;
    let problem = if value.is_zero() {
        Some(("a percentage of zero is no uncertainty", "write the uncertainty in the unit of the value"))
    } else if &text[written.unit.clone()] == "%" {
        Some((
            "this percentage is of the value, or in percentage points",
            "write `(50 ± 2) %` for percentage points, or the uncertainty as a number",
        ))
    } else if !unit.offset.is_zero() {
        Some(("a percentage of a temperature depends on its scale", "write the uncertainty in kelvin or degrees"))
    } else {
        None
    };
    if let Some((message, help)) = problem {
        return Err(QuantityError::new(range, message, help));
    }
    Ok(unit.span_to_si(&value.abs()) * fraction)
}

/// The unit of the uncertainty must be one for differences on the scale of the value.
fn check_own_unit(unit: &Unit, own: &Unit, range: Range<usize>) -> Result<(), QuantityError> {
    let fits = own.kind == unit.kind || own.kind == unit.kind.difference();
    let temperatures = unit.kind == Kind::TemperatureDifference && own.kind == Kind::TemperaturePoint;
    if own.dimension == unit.dimension && (fits || temperatures) {
        return Ok(());
    }
    let message = format!(
        "the value is {}, but its uncertainty {}",
        unit.kind.describe(&unit.dimension),
        own.kind.describe(&own.dimension)
    );
    Err(QuantityError::new(range, message, format!("write the uncertainty in `{}`", unit.as_difference().symbol)))
}
