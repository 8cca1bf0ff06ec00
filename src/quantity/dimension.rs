//! Dimensions: exact exponents of the seven SI base units.

use std::fmt;

/// A small exact fraction in lowest terms, the denominator positive.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
struct Exponent {
    numerator: i16,
    denominator: i16,
}

/// Largest exponent, numerator or denominator, that is kept; far beyond anything physical.
const LARGEST: i32 = 120;

impl Exponent {
    const ZERO: Self = Self { numerator: 0, denominator: 1 };

    fn new(numerator: i32, denominator: i32) -> Option<Self> {
        if denominator == 0 {
            return None;
        }
        let sign = denominator.signum();
        let divisor = num_integer::gcd(numerator, denominator).max(1);
        let (numerator, denominator) = (sign * numerator / divisor, sign * denominator / divisor);
        if numerator.abs() > LARGEST || denominator > LARGEST {
            return None;
        }
        Some(Self { numerator: i16::try_from(numerator).ok()?, denominator: i16::try_from(denominator).ok()? })
    }

    fn plus(self, other: Self) -> Option<Self> {
        let (a, b) = (i32::from(self.numerator), i32::from(self.denominator));
        let (c, d) = (i32::from(other.numerator), i32::from(other.denominator));
        Self::new(a * d + c * b, b * d)
    }

    fn times(self, numerator: i32, denominator: i32) -> Option<Self> {
        Self::new(
            i32::from(self.numerator).checked_mul(numerator)?,
            i32::from(self.denominator).checked_mul(denominator)?,
        )
    }
}

/// The exponents of kilogram, metre, second, ampere, kelvin, mole and candela.
///
/// The radian has no exponent of its own, as in the SI; [`super::Kind`] keeps angles apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Dimension([Exponent; 7]);

const BASE: [&str; 7] = ["kg", "m", "s", "A", "K", "mol", "cd"];

impl Dimension {
    /// The dimension of a plain number.
    pub const NONE: Self = Self::of([0, 0, 0, 0, 0, 0, 0]);
    pub(crate) const LENGTH: Self = Self::of([0, 1, 0, 0, 0, 0, 0]);
    pub(crate) const TIME: Self = Self::of([0, 0, 1, 0, 0, 0, 0]);
    pub(crate) const TEMPERATURE: Self = Self::of([0, 0, 0, 0, 1, 0, 0]);
    pub(crate) const VELOCITY: Self = Self::of([0, 1, -1, 0, 0, 0, 0]);
    pub(crate) const VOLUME_FLOW: Self = Self::of([0, 3, -1, 0, 0, 0, 0]);
    pub(crate) const FORCE: Self = Self::of([1, 1, -2, 0, 0, 0, 0]);
    pub(crate) const PRESSURE: Self = Self::of([1, -1, -2, 0, 0, 0, 0]);
    pub(crate) const ENERGY: Self = Self::of([1, 2, -2, 0, 0, 0, 0]);
    pub(crate) const VOLUME: Self = Self::of([0, 3, 0, 0, 0, 0, 0]);
    pub(crate) const AMOUNT: Self = Self::of([0, 0, 0, 0, 0, 1, 0]);
    pub(crate) const CURRENT: Self = Self::of([0, 0, 0, 1, 0, 0, 0]);
    pub(crate) const CHARGE: Self = Self::of([0, 0, 1, 1, 0, 0, 0]);
    pub(crate) const VOLTAGE: Self = Self::of([1, 2, -3, -1, 0, 0, 0]);

    /// A dimension from whole exponents in the order kg, m, s, A, K, mol, cd.
    pub const fn of(exponents: [i8; 7]) -> Self {
        Self::of_halves([
            exponents[0] * 2,
            exponents[1] * 2,
            exponents[2] * 2,
            exponents[3] * 2,
            exponents[4] * 2,
            exponents[5] * 2,
            exponents[6] * 2,
        ])
    }

    /// A dimension from twice its exponents.
    const fn of_halves(exponents: [i8; 7]) -> Self {
        let mut all = [Exponent::ZERO; 7];
        let mut i = 0;
        while i < 7 {
            let twice = exponents[i] as i16;
            let whole = twice % 2 == 0;
            all[i].numerator = if whole { twice / 2 } else { twice };
            all[i].denominator = if whole { 1 } else { 2 };
            i += 1;
        }
        Self(all)
    }

    /// True for a plain number.
    pub fn is_none(&self) -> bool {
        *self == Self::NONE
    }

    /// The dimension of a product; `None` if an exponent becomes absurd.
    pub fn times(&self, other: &Self) -> Option<Self> {
        let mut result = *self;
        for (mine, theirs) in result.0.iter_mut().zip(other.0) {
            *mine = mine.plus(theirs)?;
        }
        Some(result)
    }

    /// The dimension of a quotient; `None` if an exponent becomes absurd.
    pub fn over(&self, other: &Self) -> Option<Self> {
        self.times(&other.power(-1, 1)?)
    }

    /// The dimension raised to `numerator / denominator`; `None` for a zero denominator or an absurd exponent.
    pub fn power(&self, numerator: i32, denominator: i32) -> Option<Self> {
        let mut result = *self;
        for exponent in &mut result.0 {
            *exponent = exponent.times(numerator, denominator)?;
        }
        Some(result)
    }

    /// Reads `kg m^-1 s^-2`, as `units.toml` writes it; `1` is a plain number.
    pub(crate) fn parse(text: &str) -> Option<Self> {
        let mut result = Self::NONE;
        for factor in text.split_whitespace().filter(|&factor| factor != "1") {
            let (base, exponent) = factor.split_once('^').unwrap_or((factor, "1"));
            let at = BASE.iter().position(|&name| name == base)?;
            result.0[at] = result.0[at].plus(Exponent::new(exponent.parse().ok()?, 1)?)?;
        }
        Some(result)
    }

    /// The everyday name (`pressure`), where there is one.
    pub fn name(&self) -> Option<&'static str> {
        NAMES.iter().find(|(dimension, _, _)| dimension == self).map(|&(_, name, _)| name)
    }

    /// The symbol of the coherent SI unit, such as `Pa` or `kg·m^-2`; empty for a plain number.
    pub(crate) fn symbol(&self) -> String {
        if let Some((_, _, symbol)) = NAMES.iter().find(|(dimension, _, _)| dimension == self) {
            return (*symbol).to_owned();
        }
        let factors = BASE.iter().zip(self.0).filter(|(_, e)| e.numerator != 0).map(|(base, e)| {
            match (e.numerator, e.denominator) {
                (1, 1) => (*base).to_owned(),
                (n, 1) => format!("{base}^{n}"),
                (n, d) => format!("{base}^({n}/{d})"),
            }
        });
        factors.collect::<Vec<_>>().join("·")
    }

    /// The name where there is one, else the exponents; for messages.
    pub(crate) fn describe(&self) -> String {
        self.name().map_or_else(|| format!("dimension {self}"), str::to_owned)
    }
}

impl Default for Dimension {
    fn default() -> Self {
        Self::NONE
    }
}

impl fmt::Display for Dimension {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_none() {
            return f.write_str("1");
        }
        let mut first = true;
        for (base, exponent) in BASE.iter().zip(self.0).filter(|(_, exponent)| exponent.numerator != 0) {
            if !first {
                f.write_str(" ")?;
            }
            first = false;
            write!(f, "{base}^{}", exponent.numerator)?;
            if exponent.denominator != 1 {
                write!(f, "/{}", exponent.denominator)?;
            }
        }
        Ok(())
    }
}

/// Dimensions that have an everyday name, with the coherent SI unit.
pub(super) const NAMES: [(Dimension, &str, &str); 39] = [
    (Dimension::NONE, "plain number", ""),
    (Dimension::of([1, 0, 0, 0, 0, 0, 0]), "mass", "kg"),
    (Dimension::LENGTH, "length", "m"),
    (Dimension::TIME, "time", "s"),
    (Dimension::CURRENT, "electric current", "A"),
    (Dimension::TEMPERATURE, "temperature", "K"),
    (Dimension::AMOUNT, "amount of substance", "mol"),
    (Dimension::of([0, 0, -1, 0, 0, 1, 0]), "amount flow", "mol/s"),
    (Dimension::of([0, 0, 0, 0, 0, 0, 1]), "luminous intensity", "cd"),
    (Dimension::of([0, 2, 0, 0, 0, 0, 0]), "area", "m^2"),
    (Dimension::VOLUME, "volume", "m^3"),
    (Dimension::VELOCITY, "velocity", "m/s"),
    (Dimension::of([0, 1, -2, 0, 0, 0, 0]), "acceleration", "m/s^2"),
    (Dimension::VOLUME_FLOW, "volume flow", "m^3/s"),
    (Dimension::of([1, 0, -1, 0, 0, 0, 0]), "mass flow", "kg/s"),
    (Dimension::of([1, -3, 0, 0, 0, 0, 0]), "density", "kg/m^3"),
    (Dimension::FORCE, "force", "N"),
    (Dimension::PRESSURE, "pressure", "Pa"),
    (Dimension::ENERGY, "torque or energy", "kg·m^2·s^-2"),
    (Dimension::of([1, 2, -3, 0, 0, 0, 0]), "power", "kg·m^2·s^-3"),
    (Dimension::of([1, 0, -2, 0, 0, 0, 0]), "stiffness", "N/m"),
    (Dimension::of([1, -1, -1, 0, 0, 0, 0]), "dynamic viscosity", "Pa·s"),
    (Dimension::of([0, 0, -1, 0, 0, 0, 0]), "rate", "1/s"),
    (Dimension::VOLTAGE, "voltage", "V"),
    (Dimension::of([1, 2, -3, -2, 0, 0, 0]), "resistance", "ohm"),
    (Dimension::CHARGE, "electric charge", "C"),
    (Dimension::of([-1, -2, 3, 2, 0, 0, 0]), "conductance", "S"),
    (Dimension::of([-1, -2, 4, 2, 0, 0, 0]), "capacitance", "F"),
    (Dimension::of([1, 2, -2, -2, 0, 0, 0]), "inductance", "H"),
    (Dimension::of([1, 2, -2, -1, 0, 0, 0]), "magnetic flux", "Wb"),
    (Dimension::of([1, 0, -2, -1, 0, 0, 0]), "magnetic flux density", "T"),
    (Dimension::of([1, 2, -3, 0, -1, 0, 0]), "thermal conductance", "W/K"),
    (Dimension::of([1, 1, -3, 0, -1, 0, 0]), "thermal conductivity", "W/(m·K)"),
    (Dimension::of([1, 0, -3, 0, -1, 0, 0]), "heat transfer coefficient", "W/(m^2·K)"),
    (Dimension::of([1, 0, -3, 0, 0, 0, 0]), "heat flux", "W/m^2"),
    (Dimension::of([0, 2, -2, 0, -1, 0, 0]), "specific heat", "J/(kg·K)"),
    (Dimension::of([1, -2, -1, 0, 0, 0, 0]), "mass flux", "kg/(m^2·s)"),
    (Dimension::of([0, 2, -1, 0, 0, 0, 0]), "kinematic viscosity or diffusivity", "m^2/s"),
    (Dimension::of_halves([-1, 7, 0, 0, 0, 0, 0]), "flow coefficient", "m^3/s/Pa^(1/2)"),
];
