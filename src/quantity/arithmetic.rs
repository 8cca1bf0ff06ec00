//! Adds, multiplies and compares quantities, by the rules for their units.

use std::cmp::Ordering;
use std::sync::Arc;

use super::rules::{self, Scales, Side};
use super::{Quantity, QuantityError, Rational, Unit};

impl Quantity {
    /// A computed value in SI, to be shown in `unit`, without uncertainty.
    pub fn computed(value: Rational, unit: impl Into<Arc<Unit>>, exact: bool) -> Self {
        let unit = unit.into();
        let (dimension, kind) = (unit.dimension, unit.kind);
        Self { value, uncertainty: None, dimension, kind, unit, text: String::new(), exact, approximate: false }
    }

    /// The same quantity with the text it was written as.
    pub(super) fn with_text(mut self, text: &str) -> Self {
        text.clone_into(&mut self.text);
        self
    }

    /// The nearest double to the SI value, for display and for calculations that are not exact anyway.
    pub fn si_f64(&self) -> f64 {
        self.value.to_f64().unwrap_or(f64::NAN)
    }

    /// Whether the two can be compared: same dimension, same kind. Gauge and absolute pressure meet only through the
    /// ambient pressure.
    ///
    /// # Errors
    /// What the two are, and what to type.
    pub fn compatible(&self, other: &Self, ambient: Option<&Self>) -> Result<(), QuantityError> {
        self.on_scale_of(other, ambient).map(|_| ())
    }

    /// Compares exactly.
    ///
    /// # Errors
    /// Those of [`Quantity::compatible`].
    pub fn compare(&self, other: &Self, ambient: Option<&Self>) -> Result<Ordering, QuantityError> {
        Ok(self.on_scale_of(other, ambient)?.cmp(&other.value))
    }

    /// The SI value of this quantity on the scale of the other: gauge against gauge, absolute against absolute.
    ///
    /// # Errors
    /// Those of [`Quantity::compatible`].
    pub fn on_scale_of(&self, other: &Self, ambient: Option<&Self>) -> Result<Rational, QuantityError> {
        let ranged = |error: QuantityError| QuantityError { range: 0..self.text.len(), ..error };
        let (mine, theirs) = (|| self.show(), || other.show());
        let (a, b): (Side<'_>, Side<'_>) = ((&self.unit, &mine), (&other.unit, &theirs));
        let met = rules::scales(a, b).map_err(ranged)?;
        if met == Scales::Same {
            return Ok(self.value.clone());
        }
        let ambient = &rules::ambient(a, b, ambient).map_err(ranged)?.value;
        Ok(if met == Scales::GaugeOnAbsolute { &self.value + ambient } else { &self.value - ambient })
    }

    /// The quantity with its sign changed.
    ///
    /// # Errors
    /// A degree Celsius or Fahrenheit, whose zero is not that of temperature.
    pub fn negate(&self) -> Result<Self, QuantityError> {
        self.scaled(&Rational::from_integer((-1).into()))
    }

    fn scaled(&self, factor: &Rational) -> Result<Self, QuantityError> {
        let unit = rules::scaled((&self.unit, &|| self.show()))?;
        Ok(Self::computed(&self.value * factor, unit, self.exact))
    }

    /// The sum, in the unit of the first; uncertainties are left to the calculations.
    ///
    /// # Errors
    /// Different dimensions or kinds, two temperature points, two gauge pressures.
    pub fn add(&self, other: &Self) -> Result<Self, QuantityError> {
        self.joined(other, rules::sum, |a, b| a + b)
    }

    /// The difference, in the unit of the first; of two points it is a temperature difference, of two gauge pressures a
    /// pressure that is neither gauge nor absolute.
    ///
    /// # Errors
    /// Different dimensions or kinds.
    pub fn subtract(&self, other: &Self) -> Result<Self, QuantityError> {
        self.joined(other, rules::difference, |a, b| a - b)
    }

    /// The product. A number keeps the unit of the other factor, so that `1.5 * meop` stays a gauge pressure; anything
    /// else is in coherent SI units.
    ///
    /// # Errors
    /// A point in degrees Celsius or Fahrenheit; a gauge pressure times anything but a number.
    pub fn multiply(&self, other: &Self) -> Result<Self, QuantityError> {
        self.joined(other, rules::product, |a, b| a * b)
    }

    /// The quotient; see [`Quantity::multiply`].
    ///
    /// # Errors
    /// Those of [`Quantity::multiply`], and division by zero.
    pub fn divide(&self, other: &Self) -> Result<Self, QuantityError> {
        if other.value.is_zero() {
            return Err(rules::unranged("this divides by zero", "check the divisor"));
        }
        self.joined(other, rules::quotient, |a, b| a / b)
    }

    /// What a rule says of the units, with what becomes of the values.
    fn joined(
        &self,
        other: &Self,
        rule: impl Fn(Side<'_>, Side<'_>) -> Result<Arc<Unit>, QuantityError>,
        work: impl Fn(&Rational, &Rational) -> Rational,
    ) -> Result<Self, QuantityError> {
        let unit = rule((&self.unit, &|| self.show()), (&other.unit, &|| other.show()))?;
        Ok(Self::computed(work(&self.value, &other.value), unit, self.exact && other.exact))
    }
}
