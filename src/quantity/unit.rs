//! A unit of measure: its symbol as written and what it means.

use std::cell::RefCell;
use std::fmt;
use std::ops::Range;
use std::sync::Arc;

use foldhash::HashMap;

use super::catalogue::{Found, catalogue};
use super::unit_reader::{is_symbol_part, is_symbol_start, read};
use super::{Dimension, Kind, MAX_TEXT, QuantityError, Rational};

/// A unit as it was written, with what it means: SI value = number × factor + offset.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unit {
    /// The symbol as written, suffix words included; empty for a plain number.
    pub symbol: String,
    /// The factor to the coherent SI unit.
    pub factor: Rational,
    /// The SI value of the zero of the scale; not zero for degrees Celsius and Fahrenheit.
    pub offset: Rational,
    /// The dimension.
    pub dimension: Dimension,
    /// What sort of quantity is written in it.
    pub kind: Kind,
    /// False where the factor rests on rounded π.
    pub exact: bool,
    difference: Option<String>,
}

impl Unit {
    /// Reads a unit; the empty text is the unit of plain numbers.
    ///
    /// # Errors
    /// Unknown or ambiguous symbols, a product after a division, gauge units inside a product.
    pub fn parse(text: &str) -> Result<Arc<Self>, QuantityError> {
        let start = text.len() - text.trim_start().len();
        parse_within(text, start..start + text.trim().len())
    }

    /// Whether a word is the symbol of a unit, with or without an exponent as in `cm2`. Cheaper than reading it where it is none.
    pub(crate) fn is_symbol(word: &str) -> bool {
        let known = |word: &str| matches!(catalogue().find(word), Found::Unit(_));
        known(word) || known(word.trim_end_matches(|c: char| c.is_ascii_digit()))
    }

    /// Whether a text is a unit. Where it is none, what was meant is not looked for, which takes a hundred times as long as to read one.
    pub(crate) fn is_unit(text: &str) -> bool {
        let mut words = text.split(|c| !is_symbol_part(c)).filter(|word| word.starts_with(is_symbol_start));
        let known = |word: &str| {
            Self::is_symbol(word)
                || catalogue().standard(word).is_some()
                || SUFFIXES.iter().any(|(suffix, _)| suffix.trim_matches(['(', ')']) == word)
        };
        words.all(known) && Self::parse(text).is_ok()
    }

    /// The unit of plain numbers.
    pub fn none() -> Self {
        Self::coherent(Dimension::NONE, Kind::Plain)
    }

    /// The coherent SI unit for a dimension and kind.
    pub fn coherent(dimension: Dimension, kind: Kind) -> Self {
        Self {
            symbol: kind.symbol(&dimension),
            factor: Rational::one(),
            offset: Rational::zero(),
            dimension,
            kind,
            exact: true,
            difference: None,
        }
    }

    /// The SI value of a number in this unit.
    pub fn to_si(&self, number: &Rational) -> Rational {
        let scaled = self.span_to_si(number);
        if self.offset.is_zero() { scaled } else { scaled + &self.offset }
    }

    /// The number in this unit of an SI value.
    pub fn from_si(&self, value: &Rational) -> Rational {
        if self.offset.is_zero() { self.span_from_si(value) } else { self.span_from_si(&(value - &self.offset)) }
    }

    /// The SI value of a difference of so many of this unit.
    pub fn span_to_si(&self, number: &Rational) -> Rational {
        if self.factor.is_one() { number.clone() } else { number * &self.factor }
    }

    /// How many of this unit an SI difference is.
    pub fn span_from_si(&self, value: &Rational) -> Rational {
        if self.factor.is_one() { value.clone() } else { value / &self.factor }
    }

    /// The symbol of the unit for differences on this scale.
    pub(super) fn difference_symbol(&self) -> &str {
        self.difference.as_ref().unwrap_or(&self.symbol)
    }

    /// The unit for differences on this scale: `psi` for `psig`, `delta_degC` for `degC`, otherwise the same.
    pub fn as_difference(&self) -> Self {
        let mut unit = self.clone();
        unit.kind = self.kind.difference();
        unit.offset = Rational::zero();
        if let Some(symbol) = unit.difference.take() {
            unit.symbol = symbol;
        }
        unit
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.symbol)
    }
}

/// Suffix words that say what a pressure is measured from.
const SUFFIXES: [(&str, Kind); 10] = [
    ("gauge", Kind::GaugePressure),
    ("gage", Kind::GaugePressure),
    ("(gauge)", Kind::GaugePressure),
    ("(g)", Kind::GaugePressure),
    ("absolute", Kind::AbsolutePressure),
    ("abs", Kind::AbsolutePressure),
    ("(abs)", Kind::AbsolutePressure),
    ("(a)", Kind::AbsolutePressure),
    ("differential", Kind::Plain),
    ("(d)", Kind::Plain),
];

thread_local! {
    /// The units read so far: a project writes the same few over and over.
    static READ: RefCell<HashMap<String, Arc<Unit>>> = RefCell::default();
}

/// More different units than this are not remembered, so that hostile files cannot fill the memory with them.
const REMEMBERED: usize = 256;

/// Reads the unit that stands at `range` of `text`; errors speak of bytes of `text`.
pub(super) fn parse_within(text: &str, range: Range<usize>) -> Result<Arc<Unit>, QuantityError> {
    let symbol = &text[range.clone()];
    if text.len() > MAX_TEXT {
        return Err(QuantityError::new(range, "this unit is too long", "write a shorter one"));
    }
    if let Some(known) = READ.with_borrow(|read| read.get(symbol).cloned()) {
        return Ok(known);
    }
    let unit = Arc::new(read_symbol(symbol, &range)?);
    READ.with_borrow_mut(|read| {
        if read.len() < REMEMBERED {
            read.insert(symbol.to_owned(), Arc::clone(&unit));
        }
    });
    Ok(unit)
}

/// Reads a unit that is the whole text; errors speak of bytes from `range.start` on.
fn read_symbol(symbol: &str, range: &Range<usize>) -> Result<Unit, QuantityError> {
    if symbol.is_empty() {
        return Ok(Unit::none());
    }
    let (body, suffix) = split_suffix(symbol);
    refuse_lone_letter(symbol, range)?;
    let mut parsed = read(catalogue(), body).map_err(|error| error.shifted(range.start))?;
    if let Some((word, kind)) = suffix {
        if parsed.dimension != Dimension::PRESSURE || parsed.kind != Kind::Plain {
            return Err(QuantityError::new(
                range.clone(),
                format!("`{word}` follows a unit of pressure, and `{body}` is not a plain one"),
                format!("write `{body}` alone, or a pressure such as `MPa {word}`"),
            ));
        }
        parsed.kind = kind;
        parsed.difference = Some(body.to_owned());
    }
    Ok(Unit {
        symbol: symbol.to_owned(),
        factor: parsed.factor,
        offset: parsed.offset,
        dimension: parsed.dimension,
        kind: parsed.kind,
        exact: parsed.exact,
        difference: parsed.difference,
    })
}

fn split_suffix(symbol: &str) -> (&str, Option<(&'static str, Kind)>) {
    for (word, kind) in SUFFIXES {
        let Some(body) = symbol.strip_suffix(word) else { continue };
        let trimmed = body.trim_end();
        // A word needs a space before it; a bracket does not.
        let bracket = word.starts_with('(') && trimmed.ends_with(char::is_alphanumeric);
        if bracket || (!trimmed.is_empty() && trimmed.len() < body.len()) {
            return (trimmed, Some((word, kind)));
        }
    }
    (symbol, None)
}

/// `6 bar g` is bar times gram by the rules, and gauge to whoever wrote it.
fn refuse_lone_letter(symbol: &str, range: &Range<usize>) -> Result<(), QuantityError> {
    for (letter, word) in [(" g", "gauge"), (" a", "abs")] {
        let Some(body) = symbol.strip_suffix(letter).map(str::trim_end) else { continue };
        if read(catalogue(), body).is_ok_and(|unit| unit.dimension == Dimension::PRESSURE) {
            let message = format!("`{symbol}` does not say clearly what the pressure is measured from");
            return Err(QuantityError::new(range.clone(), message, format!("write `{body} {word}`")));
        }
    }
    Ok(())
}
