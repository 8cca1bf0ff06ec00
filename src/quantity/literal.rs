//! Reads what a person wrote: a value with its uncertainty and unit, or a bound.

use std::ops::Range;

use super::number::{Scanned, scan, scan_exponent};
use super::{Kind, MAX_TEXT, Measured, Quantity, QuantityError, Rational, Uncertainty, Unit, number, unit};

/// Reads a quantity: `0.83 ± 0.11 N·m`, `(1.32 ± 0.08) N·m (k=1)`, `1.3200(15) MPa`, `4.00 MPa ± 2 %`, `6 MPa gauge`.
///
/// A bare `±` is an expanded uncertainty with k = 2, a bracket behind the digits a standard one.
///
/// # Errors
/// Anything that is not one quantity, or that could be read as two different ones.
pub fn parse_quantity(text: &str) -> Result<Quantity, QuantityError> {
    let whole = check_text(text)?;
    let (body, coverage) = split_coverage(text, whole.clone())?;
    let written = if text[body.clone()].starts_with('(') { read_grouped(text, body)? } else { read_plain(text, body)? };
    build(text, whole, &written, coverage)
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
        Some('[') => (
            "an interval is not read yet",
            "write the middle and the half width with a coverage factor: `10.0 ± 0.2 mm (k=2)`",
        ),
        Some('±') => ("there is no value before `±`", "write `4.2 ± 0.1 MPa`"),
        _ => return Ok(whole),
    };
    Err(QuantityError::new(whole, refused.0, refused.1))
}

/// A coverage factor at the end, and where it stands.
struct Coverage {
    factor: Rational,
    range: Range<usize>,
}

/// Takes `(k=2)` off the end. Other brackets there belong to the unit, or are refused.
fn split_coverage(text: &str, whole: Range<usize>) -> Result<(Range<usize>, Option<Coverage>), QuantityError> {
    let body = &text[whole.clone()];
    if !body.ends_with(')') {
        return Ok((whole, None));
    }
    let Some(open) = body.rfind('(') else { return Ok((whole, None)) };
    let range = whole.start + open..whole.end;
    let content = body[open + 1..body.len() - 1].trim();
    let rest = whole.start..whole.start + body[..open].trim_end().len();
    let after_k = content.strip_prefix(['k', 'K']).map(str::trim_start);
    if let Some(factor) = after_k.and_then(|after| after.strip_prefix('=')) {
        let factor = factor.trim();
        let scanned = scan(factor, 0).ok().filter(|scanned| scanned.end == factor.len() && scanned.value.is_positive());
        let Some(scanned) = scanned else {
            return Err(QuantityError::new(range, "a coverage factor is a positive number", "write `(k=2)`"));
        };
        return Ok((rest, Some(Coverage { factor: scanned.value, range })));
    }
    let words = ["normal", "rectangular", "uniform", "triangular", "u-shaped", "arcsine", "trapezoidal"];
    let lower = content.to_lowercase();
    if content.contains('%') || words.iter().any(|word| lower.contains(word)) {
        let message = format!("`({content})` is not read yet: state the coverage factor k");
        return Err(QuantityError::new(range, message, "write `(k=2)`, or `(k=1)` behind a standard uncertainty"));
    }
    Ok((whole, None))
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
}

fn read_plain(text: &str, body: Range<usize>) -> Result<Written, QuantityError> {
    let text = &text[..body.end];
    let mut value = scan(text, body.start)?;
    let mut spread = Spread::None;
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
        refuse_bare_percent(text, &body, &second_unit)?;
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

/// Reads the bracket of `1.3200(15)` or `100.02147(0.00035)`, and an exponent behind it.
fn read_concise(text: &str, value: &mut Scanned) -> Result<Spread, QuantityError> {
    let open = value.end;
    let wrong = |range: Range<usize>| {
        QuantityError::new(
            range,
            "expected the standard uncertainty in this bracket",
            "write `1.3200(15) MPa` or `1.32 ± 0.08 MPa`; a tolerance such as `(-0.01, +0.02)` goes into `min` and `max`",
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

/// The only `±` or `+/-` from byte `from` on; a second one is an error.
fn find_sign(text: &str, from: usize) -> Result<Option<Range<usize>>, QuantityError> {
    let next = |from: usize| {
        let plus_minus = text[from..].find('±').map(|at| from + at..from + at + '±'.len_utf8());
        let spelled = text[from..].find("+/-").map(|at| from + at..from + at + 3);
        plus_minus.into_iter().chain(spelled).min_by_key(|range| range.start)
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

/// `50 ± 2 %` is (50 ± 2) % to one reader and 50 within two hundredths of itself to another.
fn refuse_bare_percent(text: &str, body: &Range<usize>, unit: &Range<usize>) -> Result<(), QuantityError> {
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

/// Puts the parts together: units, coverage factor, SI values.
fn build(
    text: &str,
    whole: Range<usize>,
    written: &Written,
    coverage: Option<Coverage>,
) -> Result<Quantity, QuantityError> {
    let unit = unit::parse_within(text, written.unit.clone())?;
    let standard = standard_uncertainty(text, written, &unit, coverage.as_ref())?;
    let exact = unit.exact;
    let mut quantity = Quantity::computed(unit.to_si(&written.value.value), unit, exact).with_text(&text[whole]);
    quantity.uncertainty = standard.map(Uncertainty::from_standard);
    Ok(quantity)
}

/// The standard uncertainty in SI, from whichever way it was stated.
fn standard_uncertainty(
    text: &str,
    written: &Written,
    unit: &Unit,
    coverage: Option<&Coverage>,
) -> Result<Option<Rational>, QuantityError> {
    let two = || Rational::from_integer(2.into());
    let factor = || coverage.map_or_else(two, |coverage| coverage.factor.clone());
    match &written.spread {
        Spread::None => match coverage {
            Some(coverage) => Err(QuantityError::new(
                coverage.range.clone(),
                "a coverage factor stands here, but no uncertainty",
                "write `1.32 ± 0.08 N·m (k=2)`",
            )),
            None => Ok(None),
        },
        Spread::Standard(standard) => {
            match coverage.filter(|coverage| coverage.factor != Rational::from_integer(1.into())) {
                Some(coverage) => Err(QuantityError::new(
                    coverage.range.clone(),
                    "an uncertainty in a bracket is a standard one, k = 1",
                    "write an expanded one with `±`: `1.32 ± 0.08 N·m (k=2)`",
                )),
                None => Ok(Some(unit.span_to_si(standard))),
            }
        }
        Spread::Same(half) => Ok(Some(unit.span_to_si(half) / factor())),
        Spread::Own(half, range, own) if &text[own.clone()] == "%" => {
            relative(text, written, unit, half, range.clone()).map(|half| Some(half / factor()))
        }
        Spread::Own(half, range, own) => {
            let own = unit::parse_within(text, own.clone())?;
            check_own_unit(unit, &own, range.clone())?;
            Ok(Some(own.span_to_si(half) / factor()))
        }
    }
}

/// A percentage of the value. On a temperature scale with an offset, and of a percentage, that could mean two things.
fn relative(
    text: &str,
    written: &Written,
    unit: &Unit,
    percent: &Rational,
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
    Ok(unit.span_to_si(&value.abs()) * percent / Rational::from_integer(100.into()))
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
