//! Reads units as they are written: `N·m`, `mbar*L/s`, `W/(m·K)`, `in-lbf`, `cm2`.

use std::ops::Range;

use super::catalogue::{Catalogue, Definition, Found};
use super::literal::parse_quantity;
use super::number::is_absurd;
use super::{Dimension, Kind, Quantity, QuantityError, Rational};

/// A unit expression without its text.
#[derive(Clone)]
pub(super) struct Parsed {
    pub factor: Rational,
    pub offset: Rational,
    pub dimension: Dimension,
    pub kind: Kind,
    pub exact: bool,
    pub difference: Option<String>,
}

impl Parsed {
    /// The coherent unit of a dimension.
    pub(super) fn base(dimension: Dimension) -> Self {
        Self {
            factor: Rational::one(),
            offset: Rational::zero(),
            dimension,
            kind: Kind::Plain,
            exact: true,
            difference: None,
        }
    }

    fn from_definition(definition: Definition) -> Self {
        Self {
            factor: definition.factor,
            offset: definition.offset,
            dimension: definition.dimension,
            kind: definition.kind,
            exact: definition.exact,
            difference: definition.difference,
        }
    }

    /// This unit as one factor among others: a degree is then a difference; a gauge pressure has no place there.
    fn into_factor(mut self, range: Range<usize>) -> Result<Self, QuantityError> {
        match self.kind {
            Kind::GaugePressure | Kind::AbsolutePressure => {
                let plain = self.difference.as_deref().unwrap_or("Pa");
                return Err(QuantityError::new(
                    range,
                    "a gauge or absolute pressure cannot be part of a compound unit",
                    format!("write `{plain}` there"),
                ));
            }
            Kind::TemperaturePoint | Kind::TemperatureDifference => self.kind = Kind::Plain,
            _ => {}
        }
        self.offset = Rational::zero();
        self.difference = None;
        Ok(self)
    }
}

/// Reads a unit expression against a catalogue, which may still be filling.
pub(super) fn read(catalogue: &Catalogue, text: &str) -> Result<Parsed, QuantityError> {
    refuse_split_degrees(text)?;
    let mut reader = Reader { catalogue, text, at: 0, depth: 0 };
    let parsed = reader.expression()?;
    reader.skip_spaces();
    if reader.at < text.len() {
        return Err(reader.unexpected());
    }
    Ok(parsed)
}

/// Deepest nesting of brackets in a unit.
const MAX_DEPTH: usize = 8;

/// Largest exponent in a unit.
const MAX_EXPONENT: i32 = 30;

struct Reader<'a> {
    catalogue: &'a Catalogue,
    text: &'a str,
    at: usize,
    depth: usize,
}

enum Operator {
    Times,
    Over,
}

impl<'a> Reader<'a> {
    /// Factors joined by multiplication signs or spaces, then divisors. After a division a bare product is refused:
    /// `W/m·K` is read in two ways.
    fn expression(&mut self) -> Result<Parsed, QuantityError> {
        let start = self.at;
        let mut result = self.factor()?;
        let mut divided = false;
        let mut alone = true;
        while let Some((operator, operator_range)) = self.operator() {
            let operand_start = self.at;
            let operand = self.factor()?.into_factor(operand_start..self.at)?;
            if alone {
                result = result.into_factor(start..operator_range.start)?;
                alone = false;
            }
            let is_space = self.text[operator_range.clone()].trim().is_empty();
            if is_space && (is_share(&result) || is_share(&operand)) {
                return Err(self.share_of_a_unit(start, operator_range));
            }
            match operator {
                Operator::Times if divided => return Err(self.product_after_division(start, operator_range)),
                Operator::Times => result = self.combine(result, operand, 1, start)?,
                Operator::Over => {
                    result = self.combine(result, operand, -1, start)?;
                    divided = true;
                }
            }
        }
        Ok(result)
    }

    fn combine(&self, a: Parsed, b: Parsed, sign: i32, start: usize) -> Result<Parsed, QuantityError> {
        let (left, right) = ((a.kind, &a.dimension), (b.kind, &b.dimension));
        let kind = if sign > 0 { Kind::product(left, right) } else { Kind::quotient(left, right) };
        let dimension = if sign > 0 { a.dimension.times(&b.dimension) } else { a.dimension.over(&b.dimension) };
        let Some(dimension) = dimension else { return Err(self.absurd(start)) };
        let factor = match (b.factor.is_one(), sign > 0) {
            (true, _) => a.factor,
            (false, true) => a.factor * b.factor,
            (false, false) => a.factor / b.factor,
        };
        if is_absurd(&factor) {
            return Err(self.absurd(start));
        }
        Ok(Parsed { factor, dimension, kind, exact: a.exact && b.exact, offset: Rational::zero(), difference: None })
    }

    fn factor(&mut self) -> Result<Parsed, QuantityError> {
        self.skip_spaces();
        let start = self.at;
        if self.take('(') {
            if self.depth == MAX_DEPTH {
                return Err(self.absurd(start));
            }
            self.depth += 1;
            let inner = self.expression()?;
            self.depth -= 1;
            self.skip_spaces();
            if !self.take(')') {
                return Err(QuantityError::new(start..self.at, "this bracket is not closed", "add `)`"));
            }
            let inner = inner.into_factor(start..self.at)?;
            return self.raised(inner, start, None);
        }
        let symbol = self.symbol();
        if symbol.is_empty() {
            if self.take('1') && self.text[self.at..].trim_start().starts_with('/') {
                return Ok(Parsed::base(Dimension::NONE));
            }
            self.at = start;
            return Err(self.unexpected());
        }
        if let Some(volume) = self.catalogue.standard(symbol) {
            let unit = self.at_reference_conditions(symbol, start, volume)?;
            return self.raised(unit, start, None);
        }
        let (definition, exponent) = self.resolve(symbol, start)?;
        self.raised(Parsed::from_definition(definition), start, exponent)
    }

    /// Reads the bracket of `slpm(0 degC, 101.325 kPa)`: the amount of an ideal gas in that volume, p·V/(R·T).
    fn at_reference_conditions(
        &mut self,
        symbol: &str,
        start: usize,
        volume: &Parsed,
    ) -> Result<Parsed, QuantityError> {
        let open = self.at;
        let content =
            self.text[open..].strip_prefix('(').and_then(|rest| rest.split_once(')')).map(|(inside, _)| inside);
        let Some((temperature, pressure)) = content.and_then(|content| content.split_once(',')) else {
            return Err(without_reference(symbol, start..open));
        };
        let (first, second) = (open + 1, open + 2 + temperature.len());
        let temperature = parse_quantity(temperature).map_err(|error| error.shifted(first))?;
        let pressure = parse_quantity(pressure).map_err(|error| error.shifted(second))?;
        self.at = second + self.text[second..].find(')').map_or(0, |at| at + 1);
        let stated = |quantity: &Quantity| quantity.uncertainty.is_none() && quantity.value.is_positive();
        let point = temperature.kind == Kind::TemperaturePoint && stated(&temperature);
        let from_vacuum = matches!(pressure.kind, Kind::Plain | Kind::AbsolutePressure);
        if !point || !from_vacuum || pressure.dimension != Dimension::PRESSURE || !stated(&pressure) {
            let message = "reference conditions are a temperature and a pressure from vacuum";
            return Err(QuantityError::new(open..self.at, message, format!("write `{symbol}(0 degC, 101.325 kPa)`")));
        }
        let amount = &pressure.value / (molar_gas_constant() * &temperature.value);
        let dimension = volume.dimension.times(&Dimension::AMOUNT).and_then(|d| d.over(&Dimension::VOLUME));
        let Some(dimension) = dimension else { return Err(self.absurd(start)) };
        Ok(Parsed { factor: &volume.factor * amount, dimension, ..Parsed::base(dimension) })
    }

    /// Finds a symbol; digits at the end of one that is not known are its exponent, as in `cm2`.
    fn resolve(&self, symbol: &str, start: usize) -> Result<(Definition, Option<i32>), QuantityError> {
        let range = start..start + symbol.len();
        let base = symbol.trim_end_matches(|c: char| c.is_ascii_digit());
        match self.catalogue.find(symbol) {
            Found::Unit(definition) => return Ok((definition, None)),
            Found::Refused(refused) => return Err(refused_error(symbol, range, &refused.why, &refused.write)),
            Found::Unknown => {}
        }
        if base.len() < symbol.len() {
            match self.catalogue.find(base) {
                Found::Unit(definition) => {
                    return Ok((definition, symbol[base.len()..].parse().ok().or(Some(i32::MAX))));
                }
                Found::Refused(refused) => return Err(refused_error(base, range, &refused.why, &refused.write)),
                Found::Unknown => {}
            }
        }
        if symbol == "per" {
            let help = format!("write `{}`", self.text.trim().replace(" per ", "/"));
            return Err(QuantityError::new(range, "`per` is written with a sign", help));
        }
        let near = self.catalogue.nearest(base);
        let help = if near.is_empty() {
            "write an SI unit or a product of SI units, such as `N·m` or `kg/m^3`".to_owned()
        } else {
            format!("write {}", alternatives(&near))
        };
        Err(QuantityError::new(range, format!("`{symbol}` is not a known unit"), help))
    }

    /// Applies the exponent that follows, if any.
    fn raised(&mut self, unit: Parsed, start: usize, digits: Option<i32>) -> Result<Parsed, QuantityError> {
        let (numerator, denominator) = match digits {
            Some(digits) => (digits, 1),
            None => self.exponent()?.unwrap_or((1, 1)),
        };
        if (numerator, denominator) == (1, 1) {
            return Ok(unit);
        }
        if numerator == 0 || denominator == 0 || numerator.abs() > MAX_EXPONENT || denominator > MAX_EXPONENT {
            return Err(QuantityError::new(
                start..self.at,
                "this exponent is zero or too large",
                format!("write a whole exponent from -{MAX_EXPONENT} to {MAX_EXPONENT}"),
            ));
        }
        let unit = unit.into_factor(start..self.at)?;
        if denominator != 1 && !unit.factor.is_one() {
            return Err(QuantityError::new(
                start..self.at,
                "a broken exponent is only exact on a coherent SI unit",
                "write the unit in m, kg, s, A, K, mol and cd",
            ));
        }
        let Some(dimension) = unit.dimension.power(numerator, denominator) else { return Err(self.absurd(start)) };
        let factor = if denominator == 1 { unit.factor.pow(numerator) } else { unit.factor };
        Ok(Parsed {
            factor,
            dimension,
            kind: Kind::Plain,
            exact: unit.exact,
            offset: Rational::zero(),
            difference: None,
        })
    }

    /// Reads `^2`, `**-1`, `^(1/2)`, `²`, `⁻¹` or `-1` directly after a symbol.
    fn exponent(&mut self) -> Result<Option<(i32, i32)>, QuantityError> {
        let start = self.at;
        let rest = &self.text[self.at..];
        let caret = if rest.starts_with('^') {
            1
        } else if rest.starts_with("**") {
            2
        } else {
            0
        };
        if caret == 0 {
            if rest.starts_with(['-', '−']) && rest.chars().nth(1).is_some_and(|c| c.is_ascii_digit()) {
                return Ok(self.whole().map(|n| (n, 1)));
            }
            return Ok(self.superscript().map(|n| (n, 1)));
        }
        self.at += caret;
        let bracket = self.take('(');
        let numerator = self.whole();
        let mut denominator = Some(1);
        if bracket && self.take('/') {
            denominator = self.whole();
        }
        if bracket && !self.take(')') {
            return Err(QuantityError::new(start..self.at, "this bracket is not closed", "add `)`"));
        }
        match (numerator, denominator) {
            (Some(n), Some(d)) if d > 0 => Ok(Some((n, d))),
            _ => Err(QuantityError::new(
                start..self.at,
                "expected an exponent",
                "write a whole number after `^`, such as `m^2` or `s^-1`",
            )),
        }
    }

    fn whole(&mut self) -> Option<i32> {
        let negative = self.take('-') || self.take('−');
        let rest = &self.text[self.at..];
        let count = rest.bytes().take_while(u8::is_ascii_digit).count();
        let number = rest[..count].parse::<i32>().ok()?;
        self.at += count;
        Some(if negative { -number } else { number })
    }

    fn superscript(&mut self) -> Option<i32> {
        let negative = self.take('⁻');
        let mut number = None::<i32>;
        while let Some(c) = self.text[self.at..].chars().next() {
            let Some(digit) = "⁰¹²³⁴⁵⁶⁷⁸⁹".chars().position(|superscript| superscript == c) else {
                break;
            };
            let digit = i32::try_from(digit).ok()?;
            number = Some(number.unwrap_or(0).saturating_mul(10).saturating_add(digit));
            self.at += c.len_utf8();
        }
        number.map(|number| if negative { -number } else { number })
    }

    /// The operator that follows: a sign, a hyphen between letters as in `lbf-in`, or a space between two symbols.
    fn operator(&mut self) -> Option<(Operator, Range<usize>)> {
        let start = self.at;
        self.skip_spaces();
        let rest = &self.text[self.at..];
        let next = rest.chars().next()?;
        let second = rest.chars().nth(1);
        match next {
            '/' => self.at += 1,
            '·' | '⋅' | '*' | '.' | '×' => self.at += next.len_utf8(),
            '-' if second.is_some_and(char::is_alphabetic) => self.at += 1,
            c if self.at > start && is_symbol_start(c) => {}
            _ => {
                self.at = start;
                return None;
            }
        }
        let operator = if next == '/' { Operator::Over } else { Operator::Times };
        Some((operator, start..self.at))
    }

    fn symbol(&mut self) -> &'a str {
        let rest = &self.text[self.at..];
        if !rest.starts_with(is_symbol_start) {
            return "";
        }
        let length = rest.find(|c| !is_symbol_part(c)).unwrap_or(rest.len());
        self.at += length;
        &rest[..length]
    }

    fn take(&mut self, sign: char) -> bool {
        let found = self.text[self.at..].starts_with(sign);
        if found {
            self.at += sign.len_utf8();
        }
        found
    }

    fn skip_spaces(&mut self) {
        self.at = self.text.len() - self.text[self.at..].trim_start().len();
    }

    fn unexpected(&self) -> QuantityError {
        let Some(c) = self.text[self.at..].chars().next() else {
            return QuantityError::new(
                self.at..self.at,
                "the unit ends too early",
                "complete the unit, or remove the last sign",
            );
        };
        let range = self.at..self.at + c.len_utf8();
        QuantityError::new(
            range,
            format!("`{c}` is not expected in a unit"),
            "write a unit such as `N·m`, `kg/m^3` or `W/(m·K)`",
        )
    }

    fn product_after_division(&self, start: usize, operator: Range<usize>) -> QuantityError {
        let (dividend, divisor) = self.text[start..operator.start].split_once('/').unwrap_or(("", ""));
        let factor = &self.text[operator.end..self.at];
        QuantityError::new(
            start..self.at,
            "a product after a division can be read in two ways",
            format!(
                "write `{}/({}·{factor})`, or `{}·{factor}/{}`",
                dividend.trim(),
                divisor.trim().replace('/', "·"),
                dividend.trim(),
                divisor.trim()
            ),
        )
    }

    fn share_of_a_unit(&self, start: usize, space: Range<usize>) -> QuantityError {
        let (first, second) = (&self.text[start..space.start], &self.text[space.end..self.at]);
        QuantityError::new(
            start..self.at,
            "a percentage beside a unit can be read in two ways",
            format!(
                "write an uncertainty in percent behind the unit: `20 mL/min ± 5 %`; a product as `{first}·{second}`"
            ),
        )
    }

    fn absurd(&self, start: usize) -> QuantityError {
        QuantityError::new(
            start..self.at,
            "this unit is nested too deep or has too large an exponent",
            "write a simpler unit",
        )
    }
}

/// Whether it is a part of a number, as a percentage is: beside a unit it is hardly ever meant as a factor.
fn is_share(unit: &Parsed) -> bool {
    unit.kind == Kind::Plain && unit.dimension.is_none() && !unit.factor.is_one()
}

/// `deg C` is degree of angle times coulomb by the rules, and never meant.
fn refuse_split_degrees(text: &str) -> Result<(), QuantityError> {
    for degree in ["deg ", "° "] {
        let Some(at) = text.find(degree) else { continue };
        let letter = text[at + degree.len()..].chars().next().filter(|letter| "CFKR".contains(*letter));
        if let Some(letter) = letter {
            let write = if letter == 'K' { "K".to_owned() } else { format!("deg{letter}") };
            return Err(QuantityError::new(
                at..at + degree.len() + 1,
                format!("`{degree}{letter}` has a space inside a unit of temperature"),
                format!("write `{write}`"),
            ));
        }
    }
    Ok(())
}

/// The molar gas constant in J/(mol·K), the product of two constants that the SI fixes (SI brochure, 9th edition, 2.2: the Boltzmann
/// constant 1.380 649e-23 J/K, the Avogadro constant 6.022 140 76e23 1/mol).
fn molar_gas_constant() -> Rational {
    Rational::from_words(831_446_261_815_324, 100_000_000_000_000)
}

/// What a volume without its reference conditions is told, with those that are in use.
fn without_reference(symbol: &str, range: Range<usize>) -> QuantityError {
    let message = format!(
        "`{symbol}` is ambiguous: a standard or normal volume needs its reference temperature and pressure, which differ by up to ten percent between trades"
    );
    let help = format!(
        "write them behind it: `{symbol}(0 degC, 101.325 kPa)`, `(0 degC, 1 bar)`, `(15 degC, 101.325 kPa)`, `(60 degF, 14.696 psi)`, \
         `(20 degC, 101.325 kPa)`, `(70 degF, 101.325 kPa)`, `(20 degC, 1 bar)`, `(25 degC, 101.325 kPa)` or `(25 degC, 1 bar)`; or a flow \
         in `mol/s`, `kg/s`, `Pa*m^3/s` or `atm*cm^3/s`"
    );
    QuantityError::new(range, message, help)
}

fn refused_error(symbol: &str, range: Range<usize>, why: &str, write: &[String]) -> QuantityError {
    QuantityError::new(range, format!("`{symbol}` is ambiguous: {why}"), format!("write {}", alternatives(write)))
}

/// `a`, `b` or `c`.
fn alternatives(words: &[String]) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
    match quoted.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        _ => quoted.concat(),
    }
}

/// True for a character that a unit symbol may start with.
pub(super) fn is_symbol_start(c: char) -> bool {
    c.is_alphabetic() || matches!(c, '%' | '°' | '℃' | '℉')
}

/// True for a character that may go on a unit symbol.
pub(super) fn is_symbol_part(c: char) -> bool {
    is_symbol_start(c) || c.is_ascii_digit() || c == '_'
}
