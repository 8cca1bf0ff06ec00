//! Decides what a sample shows about all that is made: whether most of it lies inside a limit.

use crate::statistics::{one_sided_factor, two_sided_factor};

use super::conformity::symbol_of_span;
use super::rounding::significant;
use super::{Conformity, Limits, Margin, Quantity, QuantityError, Rational, Why};

/// What was measured on several pieces, or several times.
#[derive(Clone, Debug, PartialEq)]
pub struct Sample {
    /// The mean.
    pub mean: Quantity,
    /// The standard deviation with n − 1, in coherent SI units; that of temperature points is a difference.
    pub deviation: Rational,
    /// How many.
    pub count: u64,
}

impl Sample {
    /// From every reading. Each is a plain value: how it scatters is what the sample is there to show, so that an uncertainty of
    /// its own has no place.
    ///
    /// # Errors
    /// Fewer than two readings, readings of different sorts, or one with an uncertainty.
    pub fn of_readings(readings: &[Quantity]) -> Result<Self, QuantityError> {
        let wrong = |message: String, help: &str| QuantityError::new(0..0, message, help);
        let [first, _, ..] = readings else {
            return Err(wrong(
                format!("a sample of {} says nothing about its spread", readings.len()),
                "write two readings or more",
            ));
        };
        let mut sum = Rational::zero();
        for reading in readings {
            if reading.uncertainty.is_some() {
                return Err(wrong(
                    format!(
                        "`{}` has an uncertainty of its own, and a sample is judged by its scatter",
                        reading.show()
                    ),
                    "write the readings of a sample without one",
                ));
            }
            sum = sum + reading.on_scale_of(first, None)?;
        }
        let count = Rational::from_integer(readings.len().into());
        let mean = sum / &count;
        let squares = readings.iter().fold(Rational::zero(), |squares, reading| {
            let away = &reading.value - &mean;
            squares + &away * &away
        });
        let deviation = (squares / (count - Rational::one())).square_root();
        let exact = readings.iter().all(|reading| reading.exact);
        let mut mean = Quantity::computed(mean, first.unit.clone(), exact);
        mean.approximate = readings.iter().any(|reading| reading.approximate);
        Ok(Self { mean, deviation, count: readings.len() as u64 })
    }

    /// From what was worked out of the readings elsewhere.
    ///
    /// # Errors
    /// Fewer than two readings, or a standard deviation of another sort or below zero.
    pub fn stated(mean: Quantity, deviation: &Quantity, count: u64) -> Result<Self, QuantityError> {
        let wrong = |message: String, help: String| QuantityError::new(0..0, message, help);
        if count < 2 {
            return Err(wrong(
                format!("a sample of {count} says nothing about its spread"),
                "write n, the number of readings: two or more".to_owned(),
            ));
        }
        let unit = mean.unit.as_difference();
        let span = deviation.as_span_of(&mean).ok_or_else(|| {
            let found = deviation.kind.describe(&deviation.dimension);
            wrong(
                format!("the standard deviation `{}` is {found}", deviation.show()),
                format!("write the standard deviation in `{}`", unit.symbol),
            )
        })?;
        if span.is_negative() {
            return Err(wrong(
                "a standard deviation is not negative".to_owned(),
                "write it without its sign".to_owned(),
            ));
        }
        Ok(Self { mean, deviation: span, count })
    }

    /// In words: `mean 1.302 N·m, s 0.016 N·m, n 10`.
    pub fn show(&self) -> String {
        let unit = &self.mean.unit;
        let spread = significant(&unit.span_from_si(&self.deviation), 3);
        let symbol = symbol_of_span(unit);
        let deviation = if symbol.is_empty() { spread } else { format!("{spread} {symbol}") };
        format!("mean {}, s {deviation}, n {}", self.mean.show(), self.count)
    }

    /// Judges whether the sample shows that at least the share `covers` of all that is made lies inside the limits, at the confidence: met if
    /// the mean is inside by k·s or more, with the tolerance factor k at the confidence, the one-sided one for a single limit and the two-sided
    /// one between two; not met if it is not inside of one of them by more than k·s with the one-sided k at one less the confidence, so that
    /// the sample shows the contrary: more than the rest lies beyond that limit alone. The factors are worked out in floating
    /// point: nearer than a billionth to the line decides nothing. Gives the margin and the first k, too.
    ///
    /// # Errors
    /// A sample and a limit of different sorts.
    pub fn judge(
        &self,
        limits: &Limits,
        covers: &Rational,
        confidence: &Rational,
        ambient: Option<&Quantity>,
    ) -> Result<(Conformity, Option<Margin>, f64), QuantityError> {
        let factor = |of: fn(u64, f64, f64) -> Option<f64>, confidence: f64| {
            covers.to_f64().and_then(|covers| of(self.count, covers, confidence)).unwrap_or(f64::NAN)
        };
        let confidence = confidence.to_f64().unwrap_or(f64::NAN);
        let two = limits.min.is_some() && limits.max.is_some();
        let own = factor(if two { two_sided_factor } else { one_sided_factor }, confidence);
        let Some(margin) = Margin::of(&self.mean, limits, ambient)? else {
            return Ok((Conformity::CannotCompute("there is no limit to judge against".to_owned()), None, own));
        };
        if self.deviation.is_zero() {
            return Ok((Conformity::Inconclusive(Why::NoUncertainty), Some(margin), own));
        }
        let inside = (&margin.value / &self.deviation).to_f64();
        // Too far to be written as a double.
        let inside = inside.unwrap_or(if margin.value.is_negative() { f64::NEG_INFINITY } else { f64::INFINITY });
        let decision = match against(inside, own) {
            Some(std::cmp::Ordering::Greater) => Conformity::Met,
            None => Conformity::Inconclusive(Why::OnTheLimit),
            _ => match against(inside, factor(one_sided_factor, 1.0 - confidence)) {
                Some(std::cmp::Ordering::Less) => Conformity::NotMet,
                None => Conformity::Inconclusive(Why::OnTheLimit),
                _ => Conformity::Inconclusive(Why::Straddles),
            },
        };
        Ok((decision, Some(margin), own))
    }
}

/// On which side of a factor a distance lies; `None` where it is too near to tell.
fn against(inside: f64, factor: f64) -> Option<std::cmp::Ordering> {
    let near = (inside - factor).abs() <= 1e-9 * inside.abs().max(factor.abs());
    inside.partial_cmp(&factor).filter(|_| !near || inside.is_infinite())
}
