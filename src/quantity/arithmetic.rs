//! Adds, multiplies and compares quantities, and says why two of them do not go together.

use std::cmp::Ordering;
use std::sync::Arc;

use super::{Dimension, Kind, Quantity, QuantityError, Rational, Unit};

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
        if self.dimension != other.dimension {
            let (sort, symbol) = (other.kind.describe(&other.dimension), &other.unit.symbol);
            let such = if symbol.is_empty() { String::new() } else { format!(", in a unit such as `{symbol}`") };
            return Err(self.misfit(other, format!("write {sort} here{such}")));
        }
        match (self.kind, other.kind) {
            (mine, theirs) if mine == theirs => Ok(self.value.clone()),
            (Kind::GaugePressure, Kind::AbsolutePressure) => Ok(&self.value + self.ambient(other, ambient)?),
            (Kind::AbsolutePressure, Kind::GaugePressure) => Ok(&self.value - self.ambient(other, ambient)?),
            (mine, theirs) => Err(self.misfit(other, help_for(mine, theirs, &self.unit))),
        }
    }

    /// The value of the ambient pressure, which must be there and absolute.
    fn ambient<'a>(&self, other: &Self, ambient: Option<&'a Self>) -> Result<&'a Rational, QuantityError> {
        match ambient {
            Some(ambient) if ambient.kind == Kind::AbsolutePressure => Ok(&ambient.value),
            Some(ambient) => Err(QuantityError::new(
                0..self.text.len(),
                format!("the ambient pressure of the project, `{}`, is not an absolute pressure", ambient.show()),
                "write `ambient = \"101.325 kPa abs\"` in slipmark.toml, with the pressure of your site",
            )),
            None => Err(self
                .misfit(other, "add `ambient = \"101.325 kPa abs\"` to slipmark.toml, with the pressure of your site")),
        }
    }

    fn misfit(&self, other: &Self, help: impl Into<String>) -> QuantityError {
        let message = format!(
            "`{}` is {}, but {} is expected, as in `{}`",
            self.show(),
            self.kind.describe(&self.dimension),
            other.kind.describe(&other.dimension),
            other.show()
        );
        QuantityError::new(0..self.text.len(), message, help)
    }

    /// The quantity with its sign changed.
    ///
    /// # Errors
    /// A degree Celsius or Fahrenheit, whose zero is not that of temperature.
    pub fn negate(&self) -> Result<Self, QuantityError> {
        self.scaled(&Rational::from_integer((-1).into()))
    }

    fn scaled(&self, factor: &Rational) -> Result<Self, QuantityError> {
        if !self.unit.offset.is_zero() {
            return Err(unranged(
                format!("`{}` is a point on a temperature scale and cannot be multiplied", self.show()),
                "write the result itself, or the temperature in K",
            ));
        }
        Ok(Self::computed(&self.value * factor, self.unit.clone(), self.exact))
    }

    /// The sum, in the unit of the first; uncertainties are left to the calculations.
    ///
    /// # Errors
    /// Different dimensions or kinds, two temperature points, two gauge pressures.
    pub fn add(&self, other: &Self) -> Result<Self, QuantityError> {
        self.check_same_dimension(other, "added")?;
        let exact = self.exact && other.exact;
        let sum = |unit: &Arc<Unit>| Ok(Self::computed(&self.value + &other.value, unit.clone(), exact));
        match (self.kind, other.kind) {
            (Kind::TemperaturePoint, Kind::TemperaturePoint) => {
                // A number of kelvin or degrees Rankine added to a point is a rise; two degrees Celsius are two points.
                match (self.unit.offset.is_zero(), other.unit.offset.is_zero()) {
                    (_, true) => sum(&self.unit),
                    (true, false) => sum(&other.unit),
                    (false, false) => Err(unranged(
                        format!("`{}` and `{}` are two temperatures and cannot be added", self.show(), other.show()),
                        format!("write a rise in kelvin, such as `{} + 5 K`", self.show()),
                    )),
                }
            }
            (mine, theirs) if mine == theirs && mine == mine.difference() => sum(&self.unit),
            (mine, theirs) if theirs == mine.difference() => sum(&self.unit),
            (mine, theirs) if mine == theirs.difference() => sum(&other.unit),
            _ => Err(self.cannot(other, "added")),
        }
    }

    /// The difference, in the unit of the first; of two points it is a temperature difference, of two gauge pressures a
    /// pressure that is neither gauge nor absolute.
    ///
    /// # Errors
    /// Different dimensions or kinds.
    pub fn subtract(&self, other: &Self) -> Result<Self, QuantityError> {
        self.check_same_dimension(other, "subtracted")?;
        let exact = self.exact && other.exact;
        let value = &self.value - &other.value;
        let a_fall = self.kind == Kind::TemperaturePoint && !self.unit.offset.is_zero() && other.unit.offset.is_zero();
        if other.kind == self.kind.difference() || (a_fall && other.kind == Kind::TemperaturePoint) {
            return Ok(Self::computed(value, self.unit.clone(), exact));
        }
        if self.kind == other.kind {
            return Ok(Self::computed(value, self.unit.as_difference(), exact));
        }
        Err(self.cannot(other, "subtracted"))
    }

    /// The product. A number keeps the unit of the other factor, so that `1.5 * meop` stays a gauge pressure; anything
    /// else is in coherent SI units.
    ///
    /// # Errors
    /// A point in degrees Celsius or Fahrenheit; a gauge pressure times anything but a number.
    pub fn multiply(&self, other: &Self) -> Result<Self, QuantityError> {
        if self.is_number() {
            return other.scaled(&self.value).map(|product| product.inexact_like(self));
        }
        if other.is_number() {
            return self.scaled(&other.value).map(|product| product.inexact_like(other));
        }
        let (a, b) = (self.as_factor()?, other.as_factor()?);
        let kind = Kind::product((a, &self.dimension), (b, &other.dimension));
        let dimension = self.dimension.times(&other.dimension);
        self.coherent(&self.value * &other.value, dimension, kind, other)
    }

    /// The quotient; see [`Quantity::multiply`].
    ///
    /// # Errors
    /// Those of [`Quantity::multiply`], and division by zero.
    pub fn divide(&self, other: &Self) -> Result<Self, QuantityError> {
        if other.value.is_zero() {
            return Err(unranged("this divides by zero", "check the divisor"));
        }
        if other.is_number() {
            return self.scaled(&other.value.recip()).map(|quotient| quotient.inexact_like(other));
        }
        let (a, b) = (self.as_factor()?, other.as_factor()?);
        let kind = Kind::quotient((a, &self.dimension), (b, &other.dimension));
        self.coherent(&self.value / &other.value, self.dimension.over(&other.dimension), kind, other)
    }

    fn coherent(
        &self,
        value: Rational,
        dimension: Option<Dimension>,
        kind: Kind,
        other: &Self,
    ) -> Result<Self, QuantityError> {
        let Some(dimension) = dimension else {
            return Err(unranged("the dimension of this has absurd exponents", "check the units"));
        };
        Ok(Self::computed(value, Unit::coherent(dimension, kind), self.exact && other.exact))
    }

    /// The kind with which this enters a product.
    fn as_factor(&self) -> Result<Kind, QuantityError> {
        match self.kind {
            Kind::GaugePressure => Err(unranged(
                format!("`{}` is a gauge pressure and can only be multiplied by a number", self.show()),
                "write the pressure difference or the absolute pressure that is meant",
            )),
            Kind::TemperaturePoint if !self.unit.offset.is_zero() => self.scaled(&Rational::zero()).map(|_| self.kind),
            Kind::AbsolutePressure | Kind::TemperaturePoint | Kind::TemperatureDifference => Ok(Kind::Plain),
            kind => Ok(kind),
        }
    }

    fn is_number(&self) -> bool {
        self.kind == Kind::Plain && self.dimension.is_none()
    }

    fn inexact_like(mut self, other: &Self) -> Self {
        self.exact &= other.exact;
        self
    }

    fn check_same_dimension(&self, other: &Self, verb: &str) -> Result<(), QuantityError> {
        if self.dimension == other.dimension { Ok(()) } else { Err(self.cannot(other, verb)) }
    }

    fn cannot(&self, other: &Self, verb: &str) -> QuantityError {
        let message = format!(
            "`{}` is {} and `{}` is {}; they cannot be {verb}",
            self.show(),
            self.kind.describe(&self.dimension),
            other.show(),
            other.kind.describe(&other.dimension)
        );
        unranged(message, help_for(other.kind, self.kind, &other.unit))
    }
}

fn unranged(message: impl Into<String>, help: impl Into<String>) -> QuantityError {
    QuantityError::new(0..0, message, help)
}

/// What to type where one kind was found and another expected.
fn help_for(found: Kind, expected: Kind, unit: &Unit) -> String {
    let symbol = &unit.as_difference().symbol;
    match (found, expected) {
        (Kind::Plain, Kind::GaugePressure | Kind::AbsolutePressure)
        | (Kind::GaugePressure | Kind::AbsolutePressure, Kind::Plain) => format!(
            "say what each pressure is measured from: `{symbol} gauge`, `{symbol} abs`, or `{symbol}` on both for a difference"
        ),
        (Kind::GaugePressure, Kind::GaugePressure) | (Kind::AbsolutePressure, Kind::AbsolutePressure) => {
            format!("write one of them as a difference, in `{symbol}`")
        }
        (Kind::GaugePressure, _) | (_, Kind::GaugePressure) => {
            format!("write both as `{symbol} gauge` or as `{symbol} abs`")
        }
        (Kind::TemperaturePoint, Kind::TemperatureDifference) => {
            "write the difference as `delta_K`, `delta_degC` or `delta_degF`".to_owned()
        }
        (Kind::TemperatureDifference, Kind::TemperaturePoint) => {
            "write a temperature in `K`, `degC` or `degF`".to_owned()
        }
        (Kind::Torque, Kind::Energy) | (Kind::Energy, Kind::Torque) => {
            "write a torque in `N·m` and an energy in `J`; torque times an angle is an energy".to_owned()
        }
        (Kind::Power, Kind::Throughput) | (Kind::Throughput, Kind::Power) => {
            "write a power in `W` and a gas throughput in `Pa·m^3/s` or `mbar·L/s`".to_owned()
        }
        (Kind::Frequency, Kind::AngularVelocity) | (Kind::AngularVelocity, Kind::Frequency) => {
            "write a frequency in `Hz` and an angular velocity in `rad/s` or `rpm`".to_owned()
        }
        (_, Kind::Torque) => "write a torque, in `N·m`".to_owned(),
        (_, Kind::Energy) => "write an energy, in `J`".to_owned(),
        (_, Kind::Power) => "write a power, in `W`".to_owned(),
        (_, Kind::Throughput) => "write a gas throughput, in `Pa·m^3/s`".to_owned(),
        (_, Kind::Angle) => "write an angle, in `deg` or `rad`".to_owned(),
        (_, Kind::AngularVelocity) => "write an angular velocity, in `rad/s` or `rpm`".to_owned(),
        (_, Kind::Frequency) => "write a frequency, in `Hz`".to_owned(),
        _ => "write both as the same sort of quantity".to_owned(),
    }
}
