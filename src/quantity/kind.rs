//! Kinds: what sets quantities of one dimension apart, and what becomes of them in products and quotients.

use super::Dimension;

/// What sort of quantity it is, where the dimension alone does not tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Kind {
    /// Nothing beyond the dimension; a pressure of this kind is a difference, a ratio or a stress.
    #[default]
    Plain,
    /// A pressure measured from ambient.
    GaugePressure,
    /// A pressure measured from vacuum.
    AbsolutePressure,
    /// A position on a temperature scale.
    TemperaturePoint,
    /// A length on a temperature scale.
    TemperatureDifference,
    /// Force times lever arm.
    Torque,
    /// Energy, work, heat.
    Energy,
    /// Power.
    Power,
    /// Gas throughput, pressure times volume flow: a leak rate.
    Throughput,
    /// A plane angle.
    Angle,
    /// Angle per time.
    AngularVelocity,
    /// Cycles per time, in hertz.
    Frequency,
}

impl Kind {
    /// The word in canonical text. Marks rest on it, so it never changes.
    pub fn tag(self) -> &'static str {
        match self {
            Self::Plain => "",
            Self::GaugePressure => "gauge",
            Self::AbsolutePressure => "absolute",
            Self::TemperaturePoint => "point",
            Self::TemperatureDifference => "difference",
            Self::Torque => "torque",
            Self::Energy => "energy",
            Self::Power => "power",
            Self::Throughput => "throughput",
            Self::Angle => "angle",
            Self::AngularVelocity => "angular",
            Self::Frequency => "frequency",
        }
    }

    /// The kind with this tag; `None` for an unknown word.
    pub(crate) fn from_tag(tag: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.tag() == tag)
    }

    const ALL: [Self; 12] = [
        Self::Plain,
        Self::GaugePressure,
        Self::AbsolutePressure,
        Self::TemperaturePoint,
        Self::TemperatureDifference,
        Self::Torque,
        Self::Energy,
        Self::Power,
        Self::Throughput,
        Self::Angle,
        Self::AngularVelocity,
        Self::Frequency,
    ];

    /// The words for messages: `a gauge pressure`.
    pub fn describe(self, dimension: &Dimension) -> String {
        let words = match self {
            Self::Plain if *dimension == Dimension::PRESSURE => "a pressure without gauge or absolute",
            Self::Plain if dimension.is_none() => "a plain number",
            Self::Plain => return dimension.describe(),
            Self::GaugePressure => "a gauge pressure",
            Self::AbsolutePressure => "an absolute pressure",
            Self::TemperaturePoint => "a temperature",
            Self::TemperatureDifference => "a temperature difference",
            Self::Torque => "a torque",
            Self::Energy => "an energy",
            Self::Power => "a power",
            Self::Throughput => "a gas throughput",
            Self::Angle => "an angle",
            Self::AngularVelocity => "an angular velocity",
            Self::Frequency => "a frequency",
        };
        words.to_owned()
    }

    /// The kind of a difference of two quantities of this kind.
    pub fn difference(self) -> Self {
        match self {
            Self::GaugePressure | Self::AbsolutePressure => Self::Plain,
            Self::TemperaturePoint => Self::TemperatureDifference,
            other => other,
        }
    }

    /// The coherent SI unit of this kind, where the dimension alone would name another.
    pub(crate) fn symbol(self, dimension: &Dimension) -> String {
        match self {
            Self::GaugePressure => "Pa gauge".to_owned(),
            Self::AbsolutePressure => "Pa abs".to_owned(),
            Self::TemperatureDifference => "delta_K".to_owned(),
            Self::Torque => "N·m".to_owned(),
            Self::Energy => "J".to_owned(),
            Self::Power => "W".to_owned(),
            Self::Throughput => "Pa·m^3/s".to_owned(),
            Self::Angle => "rad".to_owned(),
            Self::AngularVelocity => "rad/s".to_owned(),
            Self::Frequency => "Hz".to_owned(),
            Self::Plain | Self::TemperaturePoint => dimension.symbol(),
        }
    }

    /// The kind of `a × b`. Points and gauge pressures must have been dealt with by the caller.
    pub fn product(a: (Self, &Dimension), b: (Self, &Dimension)) -> Self {
        if is_number(a) {
            return b.0;
        }
        if is_number(b) {
            return a.0;
        }
        Self::ordered_product(a, b).or_else(|| Self::ordered_product(b, a)).unwrap_or(Self::Plain)
    }

    fn ordered_product(a: (Self, &Dimension), b: (Self, &Dimension)) -> Option<Self> {
        let plain = b.0 == Self::Plain;
        let time = plain && *b.1 == Dimension::TIME;
        match a.0 {
            Self::Torque if b.0 == Self::Angle => Some(Self::Energy),
            Self::Torque if b.0 == Self::AngularVelocity => Some(Self::Power),
            Self::Power if time => Some(Self::Energy),
            Self::AngularVelocity if time => Some(Self::Angle),
            Self::Plain if !plain => None,
            Self::Plain if *a.1 == Dimension::FORCE && *b.1 == Dimension::LENGTH => Some(Self::Torque),
            Self::Plain if *a.1 == Dimension::FORCE && *b.1 == Dimension::VELOCITY => Some(Self::Power),
            Self::Plain if *a.1 == Dimension::VOLTAGE && *b.1 == Dimension::CURRENT => Some(Self::Power),
            Self::Plain if *a.1 == Dimension::VOLTAGE && *b.1 == Dimension::CHARGE => Some(Self::Energy),
            Self::Plain if *a.1 == Dimension::PRESSURE && *b.1 == Dimension::VOLUME_FLOW => Some(Self::Throughput),
            _ => None,
        }
    }

    /// The kind of `a / b`. Points and gauge pressures must have been dealt with by the caller.
    pub fn quotient(a: (Self, &Dimension), b: (Self, &Dimension)) -> Self {
        if is_number(b) {
            return a.0;
        }
        let time = b.0 == Self::Plain && *b.1 == Dimension::TIME;
        match a.0 {
            Self::Energy | Self::Torque if time => Self::Power,
            Self::Angle if time => Self::AngularVelocity,
            // Pressure times volume is the only common product of this dimension that is neither torque nor energy.
            Self::Plain if time && *a.1 == Dimension::ENERGY => Self::Throughput,
            Self::Energy if b.0 == Self::Angle => Self::Torque,
            Self::Power if b.0 == Self::AngularVelocity => Self::Torque,
            Self::Power if b.0 == Self::Frequency => Self::Energy,
            _ => Self::Plain,
        }
    }
}

fn is_number(of: (Kind, &Dimension)) -> bool {
    of.0 == Kind::Plain && of.1.is_none()
}
