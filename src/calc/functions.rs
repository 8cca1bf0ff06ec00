//! The functions and constants of the language.

use crate::quantity::{Dimension, Kind, Quantity, Rational, Unit, parse_quantity};

/// A function of the language.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Function {
    Sqrt,
    Cbrt,
    Abs,
    Exp,
    Ln,
    Log10,
    Log2,
    Sin,
    Cos,
    Tan,
    Asin,
    Acos,
    Atan,
    Atan2,
    Sinh,
    Cosh,
    Tanh,
    Min,
    Max,
    Sum,
    Mean,
    Median,
    Sd,
    Count,
    Floor,
    Ceil,
    Round,
    Hypot,
    Table,
    Integral,
}

/// Every function by its name, with how it is written.
pub(super) const FUNCTIONS: [(&str, Function, &str); 30] = [
    ("sqrt", Function::Sqrt, "sqrt(x)"),
    ("cbrt", Function::Cbrt, "cbrt(x)"),
    ("abs", Function::Abs, "abs(x)"),
    ("exp", Function::Exp, "exp(x)"),
    ("ln", Function::Ln, "ln(x)"),
    ("log10", Function::Log10, "log10(x)"),
    ("log2", Function::Log2, "log2(x)"),
    ("sin", Function::Sin, "sin(angle)"),
    ("cos", Function::Cos, "cos(angle)"),
    ("tan", Function::Tan, "tan(angle)"),
    ("asin", Function::Asin, "asin(x)"),
    ("acos", Function::Acos, "acos(x)"),
    ("atan", Function::Atan, "atan(x)"),
    ("atan2", Function::Atan2, "atan2(y, x)"),
    ("sinh", Function::Sinh, "sinh(x)"),
    ("cosh", Function::Cosh, "cosh(x)"),
    ("tanh", Function::Tanh, "tanh(x)"),
    ("min", Function::Min, "min(a, b, …)"),
    ("max", Function::Max, "max(a, b, …)"),
    ("sum", Function::Sum, "sum(a, b, …)"),
    ("mean", Function::Mean, "mean(a, b, …)"),
    ("median", Function::Median, "median(a, b, …)"),
    ("sd", Function::Sd, "sd(a, b, …)"),
    ("count", Function::Count, "count(a, b, …)"),
    ("floor", Function::Floor, "floor(x)"),
    ("ceil", Function::Ceil, "ceil(x)"),
    ("round", Function::Round, "round(x)"),
    ("hypot", Function::Hypot, "hypot(a, b, …)"),
    ("table", Function::Table, "table(\"file.csv\", x)"),
    ("integral", Function::Integral, "integral(\"file.csv\", a, b)"),
];

impl Function {
    /// The function of this name.
    pub(super) fn named(name: &str) -> Option<Self> {
        FUNCTIONS.iter().find(|(known, _, _)| *known == name).map(|(_, function, _)| *function)
    }

    pub(super) fn name(self) -> &'static str {
        FUNCTIONS.iter().find(|(_, function, _)| *function == self).map_or("", |(name, _, _)| name)
    }

    /// How it is written.
    pub(super) fn usage(self) -> &'static str {
        FUNCTIONS.iter().find(|(_, function, _)| *function == self).map_or("", |(_, _, usage)| usage)
    }
}

/// The names of the constants.
pub(super) const CONSTANTS: [&str; 6] = ["pi", "g_n", "R", "k_B", "N_A", "sigma"];

/// π to sixty digits, as for the units that rest on it.
const PI: &str = "3.14159265358979323846264338327950288419716939937510582097494";

/// A constant by its name. All are exact by definition but for π, and for the Stefan–Boltzmann constant, which holds π to the fourth.
///
/// Sources: g_n, the standard acceleration of free fall, 3rd CGPM (1901). k_B and N_A: SI Brochure, 9th edition, 2.2. R = N_A·k_B, and
/// sigma = 2·π⁵·k_B⁴/(15·h³·c²) = π²·k_B⁴/(60·ħ³·c²), by CODATA 2018 (Tiesinga et al., Rev. Mod. Phys. 93, 025010).
pub(super) fn constant(name: &str) -> Option<Quantity> {
    let exact = |text: &str| parse_quantity(text).ok();
    match name {
        "pi" => {
            let mut pi = Quantity::computed(decimal(PI)?, Unit::none(), false);
            pi.text = "pi".to_owned();
            Some(pi)
        }
        "g_n" => exact("9.80665 m/s^2"),
        "k_B" => exact("1.380649e-23 J/K"),
        "N_A" => exact("6.02214076e23 1/mol"),
        "R" => exact("8.31446261815324 J/(mol·K)"),
        "sigma" => {
            let (pi, k) = (decimal(PI)?, decimal("1.380649e-23")?);
            let (h, c) = (decimal("6.62607015e-34")?, decimal("299792458")?);
            let value = decimal("2")? * pi.pow(5) * k.pow(4) / (decimal("15")? * h.pow(3) * c.pow(2));
            let dimension = Dimension::of([1, 0, -3, 0, -4, 0, 0]);
            let mut sigma = Quantity::computed(rounded(&value), Unit::coherent(dimension, Kind::Plain), false);
            if let Ok(unit) = Unit::parse("W/(m^2·K^4)") {
                sigma.unit = unit;
            }
            Some(sigma)
        }
        _ => None,
    }
}

fn decimal(text: &str) -> Option<Rational> {
    crate::quantity::parse_number(text).ok().map(|number| number.value)
}

/// Cut to forty digits, so that what is worked out from it stays short.
fn rounded(value: &Rational) -> Rational {
    let scale = Rational::from_integer(10.into()).pow(48);
    Rational::new((value * &scale).to_integer(), scale.to_integer())
}
