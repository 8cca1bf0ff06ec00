//! What becomes of units when quantities are added, multiplied and compared, and why two of them do not go together.
//!
//! One algebra for limits and for the calculation language: nothing here knows a value.

use std::sync::Arc;

use super::{Dimension, Kind, Quantity, QuantityError, Unit};

/// One side of an operation: its unit, and its text for messages.
pub type Side<'a> = (&'a Arc<Unit>, &'a dyn Fn() -> String);

/// How a value gets onto the scale of another that it is compared with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scales {
    /// As it is.
    Same,
    /// The ambient pressure is added to the first.
    GaugeOnAbsolute,
    /// The ambient pressure is taken from the first.
    AbsoluteOnGauge,
}

/// How the first gets onto the scale of the second.
///
/// # Errors
/// Different dimensions or kinds.
pub fn scales(a: Side<'_>, b: Side<'_>) -> Result<Scales, QuantityError> {
    let (mine, theirs) = (a.0, b.0);
    if mine.dimension != theirs.dimension {
        let sort = theirs.kind.describe(&theirs.dimension);
        let such =
            if theirs.symbol.is_empty() { String::new() } else { format!(", in a unit such as `{}`", theirs.symbol) };
        return Err(misfit(a, b, format!("write {sort} here{such}")));
    }
    match (mine.kind, theirs.kind) {
        (mine, theirs) if mine == theirs => Ok(Scales::Same),
        (Kind::GaugePressure, Kind::AbsolutePressure) => Ok(Scales::GaugeOnAbsolute),
        (Kind::AbsolutePressure, Kind::GaugePressure) => Ok(Scales::AbsoluteOnGauge),
        (kind, expected) => Err(misfit(a, b, help_for(kind, expected, mine))),
    }
}

/// What to do where a gauge and an absolute pressure meet and no ambient pressure is known.
pub const NO_AMBIENT: &str = "add `ambient = \"101.325 kPa abs\"` to slipmark.toml, with the pressure of your site";

/// The ambient pressure through which a gauge and an absolute pressure meet; it must be there and absolute.
///
/// # Errors
/// What to write where.
pub fn ambient<'q>(a: Side<'_>, b: Side<'_>, ambient: Option<&'q Quantity>) -> Result<&'q Quantity, QuantityError> {
    match ambient {
        Some(ambient) if ambient.kind == Kind::AbsolutePressure => Ok(ambient),
        Some(ambient) => Err(unranged(
            format!("the ambient pressure of the project, `{}`, is not an absolute pressure", ambient.show()),
            "write `ambient = \"101.325 kPa abs\"` in slipmark.toml, with the pressure of your site",
        )),
        None => Err(misfit(a, b, NO_AMBIENT.to_owned())),
    }
}

/// The unit of the sum: that of the first.
///
/// # Errors
/// Different dimensions or kinds, two temperature points, two gauge pressures.
pub fn sum(a: Side<'_>, b: Side<'_>) -> Result<Arc<Unit>, QuantityError> {
    let (mine, theirs) = (a.0, b.0);
    check_same_dimension(a, b, "added")?;
    match (mine.kind, theirs.kind) {
        (Kind::TemperaturePoint, Kind::TemperaturePoint) => {
            // A number of kelvin or degrees Rankine added to a point is a rise; two degrees Celsius are two points.
            match (mine.offset.is_zero(), theirs.offset.is_zero()) {
                (_, true) => Ok(Arc::clone(mine)),
                (true, false) => Ok(Arc::clone(theirs)),
                (false, false) => Err(unranged(
                    format!("`{}` and `{}` are two temperatures and cannot be added", a.1(), b.1()),
                    format!("write a rise in kelvin, such as `{} + 5 K`", a.1()),
                )),
            }
        }
        (one, other) if one == other && one == one.difference() => Ok(Arc::clone(mine)),
        (one, other) if other == one.difference() => Ok(Arc::clone(mine)),
        (one, other) if one == other.difference() => Ok(Arc::clone(theirs)),
        _ => Err(cannot(a, b, "added")),
    }
}

/// The unit of the difference: that of the first, for differences where both are points.
///
/// # Errors
/// Different dimensions or kinds.
pub fn difference(a: Side<'_>, b: Side<'_>) -> Result<Arc<Unit>, QuantityError> {
    let (mine, theirs) = (a.0, b.0);
    check_same_dimension(a, b, "subtracted")?;
    let a_fall = mine.kind == Kind::TemperaturePoint && !mine.offset.is_zero() && theirs.offset.is_zero();
    if theirs.kind == mine.kind.difference() || (a_fall && theirs.kind == Kind::TemperaturePoint) {
        return Ok(Arc::clone(mine));
    }
    if mine.kind == theirs.kind {
        return Ok(Arc::new(mine.as_difference()));
    }
    Err(cannot(a, b, "subtracted"))
}

/// The unit of something times a number: its own.
///
/// # Errors
/// A point in degrees Celsius or Fahrenheit.
pub fn scaled(a: Side<'_>) -> Result<Arc<Unit>, QuantityError> {
    if a.0.offset.is_zero() {
        return Ok(Arc::clone(a.0));
    }
    Err(unranged(
        format!("`{}` is a point on a temperature scale and cannot be multiplied", a.1()),
        "write the result itself, or the temperature in K",
    ))
}

/// The unit of the product: of the other factor where one is a number, else the coherent one.
///
/// # Errors
/// A point in degrees Celsius or Fahrenheit; a gauge pressure times anything but a number.
pub fn product(a: Side<'_>, b: Side<'_>) -> Result<Arc<Unit>, QuantityError> {
    if is_number(a.0) {
        return scaled(b);
    }
    if is_number(b.0) {
        return scaled(a);
    }
    let (one, other) = (as_factor(a)?, as_factor(b)?);
    let kind = Kind::product((one, &a.0.dimension), (other, &b.0.dimension));
    coherent(a.0.dimension.times(&b.0.dimension), kind)
}

/// The unit of the quotient; see [`product`].
///
/// # Errors
/// Those of [`product`].
pub fn quotient(a: Side<'_>, b: Side<'_>) -> Result<Arc<Unit>, QuantityError> {
    if is_number(b.0) {
        return scaled(a);
    }
    let (one, other) = (as_factor(a)?, as_factor(b)?);
    let kind = Kind::quotient((one, &a.0.dimension), (other, &b.0.dimension));
    coherent(a.0.dimension.over(&b.0.dimension), kind)
}

/// The unit of a power with the exponent `numerator / denominator`.
///
/// # Errors
/// Those of a factor of [`product`], absurd exponents.
pub fn power(a: Side<'_>, numerator: i32, denominator: i32) -> Result<Arc<Unit>, QuantityError> {
    if numerator == denominator || is_number(a.0) {
        return scaled(a);
    }
    as_factor(a)?;
    coherent(a.0.dimension.power(numerator, denominator), Kind::Plain)
}

/// True for the units of plain numbers, percent among them.
pub fn is_number(unit: &Unit) -> bool {
    unit.kind == Kind::Plain && unit.dimension.is_none()
}

fn coherent(dimension: Option<Dimension>, kind: Kind) -> Result<Arc<Unit>, QuantityError> {
    let dimension =
        dimension.ok_or_else(|| unranged("the dimension of this has absurd exponents", "check the units"))?;
    Ok(Arc::new(Unit::coherent(dimension, kind)))
}

/// The kind with which this enters a product.
fn as_factor(a: Side<'_>) -> Result<Kind, QuantityError> {
    match a.0.kind {
        Kind::GaugePressure => Err(unranged(
            format!("`{}` is a gauge pressure and can only be multiplied by a number", a.1()),
            "write the pressure difference or the absolute pressure that is meant",
        )),
        Kind::TemperaturePoint if !a.0.offset.is_zero() => scaled(a).map(|unit| unit.kind),
        Kind::AbsolutePressure | Kind::TemperaturePoint | Kind::TemperatureDifference => Ok(Kind::Plain),
        kind => Ok(kind),
    }
}

fn check_same_dimension(a: Side<'_>, b: Side<'_>, verb: &str) -> Result<(), QuantityError> {
    if a.0.dimension == b.0.dimension { Ok(()) } else { Err(cannot(a, b, verb)) }
}

fn misfit(a: Side<'_>, b: Side<'_>, help: String) -> QuantityError {
    let message = format!(
        "`{}` is {}, but {} is expected, as in `{}`",
        a.1(),
        a.0.kind.describe(&a.0.dimension),
        b.0.kind.describe(&b.0.dimension),
        b.1()
    );
    unranged(message, help)
}

fn cannot(a: Side<'_>, b: Side<'_>, verb: &str) -> QuantityError {
    let message = format!(
        "`{}` is {} and `{}` is {}; they cannot be {verb}",
        a.1(),
        a.0.kind.describe(&a.0.dimension),
        b.1(),
        b.0.kind.describe(&b.0.dimension)
    );
    unranged(message, help_for(b.0.kind, a.0.kind, b.0))
}

pub(super) fn unranged(message: impl Into<String>, help: impl Into<String>) -> QuantityError {
    QuantityError::new(0..0, message, help)
}

/// What to type where one kind was found and another expected.
pub(crate) fn help_for(found: Kind, expected: Kind, unit: &Unit) -> String {
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
