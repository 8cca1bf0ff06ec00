//! What an instrument can tell: between what values, how finely and how well, and whether that decides a limit.
//!
//! The uncertainty of one reading is the stated one with that of the resolution, 0.29 of a step (JCGM 100:2008, F.2.2.1), added in
//! squares. Zones and guard bands are those of JCGM 106:2012, 7.6 and 8.3.

use std::sync::Arc;

use super::rounding::rounded_up;
use super::{Dimension, Kind, Limits, Measured, Quantity, QuantityError, Rational, Rule, Unit};
use super::{parse_measured, parse_quantity};

/// What an instrument is stated to be able to do. What is not stated, or not in numbers, is none.
#[derive(Clone, Debug, Default)]
pub struct Capability {
    /// Between what it reads.
    pub range: Option<Limits>,
    /// The least step that it shows.
    pub resolution: Option<Width>,
    /// By how much a reading may be off: of several, the greatest holds.
    pub uncertainty: Vec<InstrumentUncertainty>,
}

/// A width on a scale: a difference, never a point.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Width {
    /// In coherent SI units; not negative.
    pub size: Rational,
    dimension: Dimension,
    kind: Kind,
}

/// An expanded uncertainty (k = 2) of whatever is read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum InstrumentUncertainty {
    /// The same for every reading.
    Fixed(Width),
    /// A fraction of the reading.
    OfReading(Rational),
}

/// Whether an instrument can show that limits are met.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reach {
    /// Some reading would show it.
    Decides,
    /// Nothing that is permitted lies within its range.
    OutOfRange,
    /// No reading would be inside by its uncertainty: the least expanded one, in coherent SI units.
    TooUncertain(Rational),
}

/// A width in coherent SI units as it is read in a unit, never less than it is.
pub fn show_width(size: &Rational, unit: &Unit) -> String {
    let (number, symbol) = (rounded_up(&unit.span_from_si(size)), unit.as_difference().symbol);
    if symbol.is_empty() { number } else { format!("{number} {symbol}") }
}

/// Reads a range: `0 to 5 N·m`, `0 N·m to 5 N·m`, `± 5 N·m`.
///
/// # Errors
/// Anything else, ends of different sorts, and a first end above the second.
pub fn parse_range(text: &str) -> Result<Limits, QuantityError> {
    let wrong = |message: &str| QuantityError::new(0..text.len(), message, "write it as \"0 to 5 N·m\"");
    if let Some(half) = without_sign(text) {
        let max = parse_quantity(half)?;
        return Ok(Limits::new(Some(max.negate()?), Some(max)));
    }
    let (from, to) = text.split_once(" to ").ok_or_else(|| wrong("a range has two ends"))?;
    let max = parse_quantity(to)?;
    let alone = parse_quantity(from)?;
    let min = match alone.unit.symbol.is_empty() {
        true => parse_quantity(&format!("{} {}", from.trim(), max.unit.symbol))?,
        false => alone,
    };
    if min.uncertainty.is_some() || max.uncertainty.is_some() {
        return Err(wrong("the ends of a range have no uncertainty"));
    }
    let range = Limits::new(Some(min), Some(max));
    range.check(None)?;
    Ok(range)
}

/// Reads a resolution, such as `0.01 N·m`: a width without an uncertainty.
///
/// # Errors
/// Anything else, and a negative one.
pub fn parse_resolution(text: &str) -> Result<Width, QuantityError> {
    let plain = parse_quantity(text)?;
    if plain.uncertainty.is_some() {
        return Err(QuantityError::new(0..text.len(), "a resolution has no uncertainty", "write \"0.01 N·m\""));
    }
    Ok(Width::of(&expanded_of_zero(text)?))
}

/// Reads an expanded uncertainty: `± 0.05 N·m`, `0.05 N·m (k=1)`, `1 %` or `1 % of the reading`.
///
/// # Errors
/// Anything else; and a bare percentage of an instrument whose range is in plain numbers or percent, where it could be read in two
/// ways.
pub fn parse_instrument_uncertainty(
    text: &str,
    range: Option<&Limits>,
) -> Result<InstrumentUncertainty, QuantityError> {
    let bare = without_sign(text).unwrap_or(text).trim();
    // A level, `(95 %)`, is behind the width.
    if !bare.split('(').next().is_some_and(|width| width.contains('%')) {
        return Ok(InstrumentUncertainty::Fixed(Width::of(&expanded_of_zero(bare)?)));
    }
    let percent = bare.replacen(" of the reading", "", 1).replacen(" of reading", "", 1);
    let of_what = range.and_then(|range| range.max.as_ref().or(range.min.as_ref())).map(|end| end.dimension);
    if percent == bare && of_what.is_some_and(|dimension| dimension.is_none()) {
        let message = "this percentage is of the reading, or in percentage points";
        let help = "write \"2 % of the reading\", or percentage points as a number: 0.02";
        return Err(QuantityError::new(0..text.len(), message, help));
    }
    let of_one = parse_quantity(&format!("1 m ± {percent}")).map_err(|error| {
        let help = "write \"1 % of the reading\", or the uncertainty in the unit of the reading";
        QuantityError::new(0..text.len(), error.message, help)
    })?;
    Ok(InstrumentUncertainty::OfReading(of_one.uncertainty.map_or_else(Rational::zero, |own| own.expanded)))
}

fn without_sign(text: &str) -> Option<&str> {
    let text = text.trim();
    text.strip_prefix('±').or_else(|| text.strip_prefix("+/-")).map(str::trim)
}

/// Zero with a half width, so that the text is read as a width on its scale, with its coverage factor.
fn expanded_of_zero(half: &str) -> Result<Quantity, QuantityError> {
    let lead = "0 ± ";
    parse_quantity(&format!("{lead}{half}")).map_err(|error| {
        let back = |at: usize| at.saturating_sub(lead.len()).min(half.len());
        QuantityError { range: back(error.range.start)..back(error.range.end), ..error }
    })
}

impl Width {
    /// The expanded uncertainty of a quantity.
    fn of(quantity: &Quantity) -> Width {
        let size = quantity.uncertainty.as_ref().map_or_else(Rational::zero, |own| own.expanded.clone());
        Width { size, dimension: quantity.dimension, kind: quantity.kind.difference() }
    }

    /// Whether it is a width on the scale of a unit.
    pub fn fits(&self, unit: &Unit) -> bool {
        self.dimension == unit.dimension && self.kind == unit.kind.difference()
    }

    /// Whether both are of one sort, so that their sizes can be compared.
    pub fn is_like(&self, other: &Width) -> bool {
        self.dimension == other.dimension && self.kind == other.kind
    }
}

impl InstrumentUncertainty {
    /// Whether both are of one sort, so that they can be compared.
    pub fn is_like(&self, other: &InstrumentUncertainty) -> bool {
        match (self, other) {
            (InstrumentUncertainty::Fixed(own), InstrumentUncertainty::Fixed(other)) => own.is_like(other),
            (InstrumentUncertainty::OfReading(_), InstrumentUncertainty::OfReading(_)) => true,
            _ => false,
        }
    }

    /// Whether it is no smaller than another one of its sort.
    pub fn is_at_least(&self, other: &InstrumentUncertainty) -> bool {
        match (self, other) {
            (InstrumentUncertainty::Fixed(own), InstrumentUncertainty::Fixed(other)) => {
                own.is_like(other) && own.size >= other.size
            }
            (InstrumentUncertainty::OfReading(own), InstrumentUncertainty::OfReading(other)) => own >= other,
            _ => false,
        }
    }

    /// Of a reading, in coherent SI units.
    fn at(&self, reading: &Rational) -> Rational {
        match self {
            InstrumentUncertainty::Fixed(width) => width.size.clone(),
            InstrumentUncertainty::OfReading(fraction) => fraction * reading.abs(),
        }
    }
}

impl Capability {
    /// Whether what is stated goes with readings in a unit.
    ///
    /// # Errors
    /// What does not, and what to type.
    pub fn fits(&self, unit: &Arc<Unit>, ambient: Option<&Quantity>) -> Result<(), QuantityError> {
        let one = Quantity::computed(unit.to_si(&Rational::one()), unit.clone(), true);
        for end in self.range.iter().flat_map(|range| range.min.iter().chain(&range.max)) {
            end.on_scale_of(&one, ambient)?;
        }
        let parts = self.uncertainty.iter().filter_map(|part| match part {
            InstrumentUncertainty::Fixed(width) => Some(width),
            InstrumentUncertainty::OfReading(_) => None,
        });
        let wrong = self.resolution.iter().chain(parts).find(|width| !width.fits(unit));
        let help = "name the instrument that gives this reading, or correct instruments.toml";
        if let Some(width) = wrong {
            let message = format!(
                "its steps and uncertainty are {}, and the reading is {}",
                width.kind.describe(&width.dimension),
                unit.kind.describe(&unit.dimension)
            );
            return Err(QuantityError::new(0..0, message, help));
        }
        let relative = self.uncertainty.iter().any(|part| matches!(part, InstrumentUncertainty::OfReading(_)));
        if relative && unit.kind == Kind::TemperaturePoint {
            return Err(QuantityError::new(0..0, "a percentage of a temperature depends on its scale", help));
        }
        Ok(())
    }

    /// The expanded uncertainty of one reading, its resolution counted in, all in coherent SI units. What is read must be of the
    /// instrument's sort, see [`Capability::fits`].
    pub fn expanded_at(&self, reading: &Rational) -> Rational {
        let stated = self.stated_at(reading).unwrap_or_else(Rational::zero);
        let Some(step) = &self.resolution else { return stated };
        // k = 2 of a standard uncertainty of 0.29 of a step: JCGM 100:2008, F.2.2.1.
        let of_step = &step.size * Rational::from_words(58, 100);
        (&stated * &stated + &of_step * &of_step).square_root()
    }

    /// The stated uncertainty of one reading by itself; none if none is stated in numbers.
    pub fn stated_at(&self, reading: &Rational) -> Option<Rational> {
        self.uncertainty.iter().map(|part| part.at(reading)).max()
    }

    /// Whether a reading may be off by more than this wherever it lies. A percentage and a width are not held against one another.
    pub fn is_worse_than(&self, most: &InstrumentUncertainty) -> bool {
        match most {
            InstrumentUncertainty::Fixed(most) => {
                let like = |part: &InstrumentUncertainty| matches!(part, InstrumentUncertainty::Fixed(width) if width.is_like(most));
                let comparable = self.uncertainty.iter().any(like)
                    || self.resolution.as_ref().is_some_and(|step| step.is_like(most));
                comparable && self.expanded_at(&Rational::zero()) > most.size
            }
            InstrumentUncertainty::OfReading(most) => {
                self.uncertainty.iter().any(|part| matches!(part, InstrumentUncertainty::OfReading(own) if own > most))
            }
        }
    }

    /// Whether any reading could show, under a rule, that limits are met. Under the guarded rule it must be inside by its
    /// expanded uncertainty; that is taken where it is least, so that an instrument is never said to be too poor wrongly.
    ///
    /// # Errors
    /// Limits and range of different sorts.
    pub fn reach(&self, rule: &Rule, limits: &Limits, ambient: Option<&Quantity>) -> Result<Reach, QuantityError> {
        let Some(scale) = limits.min.as_ref().or(limits.max.as_ref()) else { return Ok(Reach::Decides) };
        let asked = Interval::of(limits, scale, ambient)?;
        let range = self.range.as_ref().map_or(Ok(Interval::default()), |range| Interval::of(range, scale, ambient))?;
        let within = asked.and(&range);
        if within.is_empty() {
            return Ok(Reach::OutOfRange);
        }
        let least = self.expanded_at(&within.nearest_to_zero());
        let shown = *rule != Rule::Guarded || !asked.narrowed(&least).and(&range).is_empty();
        Ok(if shown { Reach::Decides } else { Reach::TooUncertain(least) })
    }

    /// How many times the expanded uncertainty goes into half the width between two limits, at the limit of the greater
    /// magnitude: the test uncertainty ratio, and the measurement capability index of JCGM 106:2012, 7.6. None for one limit, and
    /// where no uncertainty is known.
    ///
    /// # Errors
    /// Limits of different sorts.
    pub fn ratio(&self, limits: &Limits, ambient: Option<&Quantity>) -> Result<Option<Rational>, QuantityError> {
        let (Some(min), Some(max)) = (&limits.min, &limits.max) else { return Ok(None) };
        let max = max.on_scale_of(min, ambient)?;
        let greater = if max.abs() > min.value.abs() { &max } else { &min.value };
        let expanded = self.expanded_at(greater);
        let half = (&max - &min.value) / Rational::from_integer(2.into());
        Ok((!expanded.is_zero()).then(|| half / expanded))
    }

    /// Whether it can read this value at all; what states no range can.
    ///
    /// # Errors
    /// A value and a range of different sorts.
    pub fn reads(&self, value: &Quantity, ambient: Option<&Quantity>) -> Result<bool, QuantityError> {
        let Some(range) = &self.range else { return Ok(true) };
        let range = Interval::of(range, value, ambient)?;
        Ok(!range.and(&Interval { min: Some(value.value.clone()), max: Some(value.value.clone()) }).is_empty())
    }

    /// A reading with the instrument's uncertainty written into it: `0.83 N·m` as `0.83 ± 0.05 N·m`. None for one that states its
    /// own, for a bound or a word, and where the instrument states none that could be written there.
    pub fn completed(&self, text: &str) -> Option<String> {
        let Ok(Measured::Value(value)) = parse_measured(text) else { return None };
        let unit = &value.unit;
        if self.uncertainty.is_empty() || value.uncertainty.is_some() || self.fits(unit, None).is_err() {
            return None;
        }
        let half = rounded_up(&unit.span_from_si(&self.expanded_at(&value.value)));
        let number = text.trim().strip_suffix(unit.symbol.as_str())?.trim_end();
        let whole = match unit.symbol.as_str() {
            "" => format!("{number} ± {half}"),
            "%" => format!("({number} ± {half}) %"),
            symbol => format!("{number} ± {half} {symbol}"),
        };
        parse_quantity(&whole).is_ok().then_some(whole)
    }
}

/// A closed stretch of one scale, in coherent SI units; an end that is none is open.
#[derive(Clone, Debug, Default)]
struct Interval {
    min: Option<Rational>,
    max: Option<Rational>,
}

impl Interval {
    /// Limits on the scale of a quantity.
    fn of(limits: &Limits, scale: &Quantity, ambient: Option<&Quantity>) -> Result<Interval, QuantityError> {
        let end =
            |limit: &Option<Arc<Quantity>>| limit.as_ref().map(|limit| limit.on_scale_of(scale, ambient)).transpose();
        Ok(Interval { min: end(&limits.min)?, max: end(&limits.max)? })
    }

    fn and(&self, other: &Interval) -> Interval {
        Interval {
            min: self.min.iter().chain(&other.min).max().cloned(),
            max: self.max.iter().chain(&other.max).min().cloned(),
        }
    }

    /// Without so much at each end.
    fn narrowed(&self, by: &Rational) -> Interval {
        Interval { min: self.min.as_ref().map(|min| min + by), max: self.max.as_ref().map(|max| max - by) }
    }

    fn is_empty(&self) -> bool {
        matches!((&self.min, &self.max), (Some(min), Some(max)) if min > max)
    }

    /// The value of the least magnitude in it, if it is not empty.
    fn nearest_to_zero(&self) -> Rational {
        match (&self.min, &self.max) {
            (Some(min), _) if min.is_positive() => min.clone(),
            (_, Some(max)) if max.is_negative() => max.clone(),
            _ => Rational::zero(),
        }
    }
}
