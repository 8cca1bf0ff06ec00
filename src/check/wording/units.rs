//! Reads the unit after a number, as far as wording needs it.
//!
//! This is no replacement for the quantities that limits are computed with: it only has to tell `2 s` from `2 switches`, and `1500 ms` from `2 s`. What
//! it does not know is treated as "cannot tell", and then no rule fires.

use foldhash::HashMap;
use std::sync::LazyLock;

use super::statement::Statement;
use super::tokens::{Gap, Kind};

/// The dimensions that are compared with one another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Dimension {
    Time,
    Length,
    Mass,
    Temperature,
    Pressure,
    Force,
    Torque,
    Voltage,
    Current,
    Power,
    Energy,
    Angle,
    Frequency,
    Ratio,
    Volume,
    Flow,
    Speed,
    /// Bits, turns, cycles: counted, not measured.
    Count,
    /// A unit whose size is not known here.
    Other,
}

/// What a unit is: its dimension, and how to get to the base unit of that dimension (`value * factor + offset`).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Scale {
    pub dimension: Dimension,
    pub factor: f64,
    pub offset: f64,
}

/// Units of measure, by symbol; case matters. Factors lead to the SI unit, except angles (degrees) and flows of mass (kg/s) and volume (m^3/s), which
/// share one dimension because nothing here depends on telling them apart.
#[rustfmt::skip]
const SYMBOLS: &[(&str, Dimension, f64)] = {
    use Dimension::*;
    &[
        ("s", Time, 1.0), ("sec", Time, 1.0), ("secs", Time, 1.0), ("ms", Time, 1e-3), ("us", Time, 1e-6), ("µs", Time, 1e-6),
        ("μs", Time, 1e-6), ("ns", Time, 1e-9), ("min", Time, 60.0), ("h", Time, 3600.0), ("hr", Time, 3600.0), ("hrs", Time, 3600.0),
        ("d", Time, 86400.0), ("m", Length, 1.0), ("km", Length, 1e3), ("cm", Length, 1e-2), ("mm", Length, 1e-3), ("um", Length, 1e-6),
        ("µm", Length, 1e-6), ("μm", Length, 1e-6), ("nm", Length, 1e-9), ("in", Length, 0.0254), ("ft", Length, 0.3048),
        ("mil", Length, 25.4e-6), ("g", Mass, 1e-3), ("kg", Mass, 1.0), ("mg", Mass, 1e-6), ("ug", Mass, 1e-9), ("µg", Mass, 1e-9),
        ("μg", Mass, 1e-9), ("t", Mass, 1e3), ("lbm", Mass, 0.45359237), ("oz", Mass, 0.028349523125), ("K", Temperature, 1.0),
        ("mK", Temperature, 1e-3), ("degC", Temperature, 1.0), ("degF", Temperature, 1.0), ("degK", Temperature, 1.0), ("Pa", Pressure, 1.0),
        ("hPa", Pressure, 1e2), ("kPa", Pressure, 1e3), ("MPa", Pressure, 1e6), ("GPa", Pressure, 1e9), ("bar", Pressure, 1e5),
        ("mbar", Pressure, 1e2), ("psi", Pressure, 6894.757293168), ("ksi", Pressure, 6894757.293168), ("atm", Pressure, 101325.0),
        ("Torr", Pressure, 133.322368421), ("torr", Pressure, 133.322368421), ("mmHg", Pressure, 133.322387415),
        ("psig", Pressure, 6894.757293168), ("psia", Pressure, 6894.757293168), ("psid", Pressure, 6894.757293168), ("barg", Pressure, 1e5),
        ("bara", Pressure, 1e5), ("bard", Pressure, 1e5), ("MPag", Pressure, 1e6), ("MPaa", Pressure, 1e6), ("kPag", Pressure, 1e3),
        ("kPaa", Pressure, 1e3), ("N", Force, 1.0), ("mN", Force, 1e-3), ("kN", Force, 1e3), ("MN", Force, 1e6), ("lbf", Force, 4.4482216152605),
        ("kgf", Force, 9.80665), ("N·m", Torque, 1.0), ("Nm", Torque, 1.0), ("mN·m", Torque, 1e-3), ("mNm", Torque, 1e-3), ("kN·m", Torque, 1e3),
        ("N·mm", Torque, 1e-3), ("N·cm", Torque, 1e-2), ("in·lbf", Torque, 0.1129848290276167), ("lbf·in", Torque, 0.1129848290276167),
        ("in·lb", Torque, 0.1129848290276167), ("in·lbs", Torque, 0.1129848290276167), ("ft·lbf", Torque, 1.3558179483314004),
        ("lbf·ft", Torque, 1.3558179483314004), ("ft·lb", Torque, 1.3558179483314004), ("ft·lbs", Torque, 1.3558179483314004),
        ("V", Voltage, 1.0), ("mV", Voltage, 1e-3), ("kV", Voltage, 1e3), ("µV", Voltage, 1e-6), ("uV", Voltage, 1e-6), ("VDC", Voltage, 1.0),
        ("Vdc", Voltage, 1.0), ("VAC", Voltage, 1.0), ("Vac", Voltage, 1.0), ("A", Current, 1.0), ("mA", Current, 1e-3), ("uA", Current, 1e-6),
        ("µA", Current, 1e-6), ("kA", Current, 1e3), ("W", Power, 1.0), ("mW", Power, 1e-3), ("kW", Power, 1e3), ("MW", Power, 1e6),
        ("hp", Power, 745.6998715822702), ("J", Energy, 1.0), ("mJ", Energy, 1e-3), ("kJ", Energy, 1e3), ("MJ", Energy, 1e6),
        ("Wh", Energy, 3600.0), ("kWh", Energy, 3.6e6), ("deg", Angle, 1.0), ("°", Angle, 1.0), ("rad", Angle, 57.29577951308232),
        ("mrad", Angle, 0.05729577951308232), ("arcmin", Angle, 1.0 / 60.0), ("arcsec", Angle, 1.0 / 3600.0), ("Hz", Frequency, 1.0),
        ("kHz", Frequency, 1e3), ("MHz", Frequency, 1e6), ("GHz", Frequency, 1e9), ("%", Ratio, 1e-2), ("ppm", Ratio, 1e-6),
        ("ppb", Ratio, 1e-9), ("ppmv", Ratio, 1e-6), ("dB", Other, 0.0), ("L", Volume, 1e-3), ("l", Volume, 1e-3), ("mL", Volume, 1e-6),
        ("ml", Volume, 1e-6), ("m^3", Volume, 1.0), ("cm^3", Volume, 1e-6), ("mm^3", Volume, 1e-9), ("cc", Volume, 1e-6), ("kg/s", Flow, 1.0),
        ("g/s", Flow, 1e-3), ("mg/s", Flow, 1e-6), ("g/min", Flow, 1e-3 / 60.0), ("kg/min", Flow, 1.0 / 60.0), ("kg/h", Flow, 1.0 / 3600.0),
        ("L/min", Flow, 1e-3 / 60.0), ("mL/min", Flow, 1e-6 / 60.0), ("L/s", Flow, 1e-3), ("mL/s", Flow, 1e-6), ("L/h", Flow, 1e-3 / 3600.0),
        ("m^3/h", Flow, 1.0 / 3600.0), ("m^3/s", Flow, 1.0), ("m/s", Speed, 1.0), ("mm/s", Speed, 1e-3), ("cm/s", Speed, 1e-2),
        ("lb", Other, 0.0), ("lbs", Other, 0.0), ("gal", Other, 0.0), ("ton", Other, 0.0), ("tons", Other, 0.0), ("cal", Other, 0.0),
        ("kcal", Other, 0.0), ("scfm", Other, 0.0), ("sccm", Other, 0.0), ("slpm", Other, 0.0), ("scc", Other, 0.0), ("C", Other, 0.0),
        ("F", Other, 0.0), ("R", Other, 0.0), ("mol", Other, 0.0), ("kmol", Other, 0.0), ("mmol", Other, 0.0), ("T", Other, 0.0),
        ("mT", Other, 0.0), ("Ω", Other, 0.0), ("kΩ", Other, 0.0), ("MΩ", Other, 0.0), ("ohm", Other, 0.0), ("ohms", Other, 0.0),
        ("pF", Other, 0.0), ("nF", Other, 0.0), ("uF", Other, 0.0), ("µF", Other, 0.0), ("mF", Other, 0.0), ("mH", Other, 0.0),
        ("H", Other, 0.0), ("lx", Other, 0.0), ("cd", Other, 0.0), ("lm", Other, 0.0), ("rpm", Other, 0.0), ("RPM", Other, 0.0),
        ("dBA", Other, 0.0), ("gpm", Other, 0.0), ("cfm", Other, 0.0), ("Gy", Other, 0.0), ("Bq", Other, 0.0), ("Sv", Other, 0.0),
        ("cSt", Other, 0.0), ("VA", Other, 0.0), ("kVA", Other, 0.0), ("Ah", Other, 0.0), ("mAh", Other, 0.0), ("eV", Other, 0.0),
        ("krad", Other, 0.0), ("g0", Other, 0.0), ("grms", Other, 0.0), ("Grms", Other, 0.0), ("rev", Count, 0.0), ("kbps", Other, 0.0),
        ("Mbps", Other, 0.0), ("baud", Other, 0.0), ("kB", Count, 0.0), ("MB", Count, 0.0), ("GB", Count, 0.0), ("KB", Count, 0.0),
    ]
};

/// Units by name; plurals in -s are found too.
#[rustfmt::skip]
const NAMES: &[(&str, &str)] = &[
    ("second", "s"), ("millisecond", "ms"), ("microsecond", "us"), ("minute", "min"), ("hour", "h"), ("day", "d"), ("metre", "m"),
    ("meter", "m"), ("millimetre", "mm"), ("millimeter", "mm"), ("micron", "um"), ("micrometre", "um"), ("micrometer", "um"), ("inch", "in"),
    ("inches", "in"), ("foot", "ft"), ("feet", "ft"), ("gram", "g"), ("kilogram", "kg"), ("pound", "lb"), ("tonne", "t"), ("kelvin", "K"),
    ("celsius", "degC"), ("fahrenheit", "degF"), ("pascal", "Pa"), ("kilopascal", "kPa"), ("megapascal", "MPa"), ("newton", "N"), ("volt", "V"),
    ("millivolt", "mV"), ("ampere", "A"), ("amp", "A"), ("milliampere", "mA"), ("watt", "W"), ("kilowatt", "kW"), ("joule", "J"),
    ("hertz", "Hz"), ("percent", "%"), ("litre", "L"), ("liter", "L"), ("radian", "rad"), ("ohm", "ohm"), ("gallon", "gal"), ("calorie", "cal"),
    ("ton", "ton"), ("decibel", "dB"), ("bar", "bar"),
];

/// A unit found after a number.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Unit {
    /// One past the last token.
    pub end: usize,
    /// The symbol with products, powers and obliques written one way: `mbar·L/s`.
    pub symbol: String,
    pub scale: Scale,
    /// Joined to the number by a hyphen: `28-V supply`.
    pub attributive: bool,
}

/// Only looked up in, never iterated over.
static SCALES: LazyLock<HashMap<&str, Scale>> = LazyLock::new(|| {
    let scale = |&(symbol, dimension, factor): &(&'static str, Dimension, f64)| {
        let (factor, offset) = match symbol {
            "degC" => (1.0, 273.15),
            "degF" => (5.0 / 9.0, 459.67 * 5.0 / 9.0),
            _ => (factor, 0.0),
        };
        (symbol, Scale { dimension, factor, offset })
    };
    SYMBOLS.iter().map(scale).collect()
});

/// The longest name of a unit, with an `s` at its end.
const LONGEST: usize = 13;

/// The size of the unit with this normalised symbol.
fn scale_of(symbol: &str) -> Option<Scale> {
    SCALES.get(symbol).copied()
}

/// Whether `text` is the symbol or the name of a unit by itself.
pub(super) fn is_unit(text: &str) -> bool {
    // Nearly every word of a sentence comes by here.
    if text.len() > LONGEST {
        return false;
    }
    let base = text.strip_suffix(['2', '3']).unwrap_or(text);
    scale_of(text).is_some() || scale_of(base).is_some() || by_name(text).is_some()
}

fn by_name(word: &str) -> Option<&'static str> {
    if word.len() < 3 {
        return None;
    }
    let first = word.as_bytes()[0].to_ascii_lowercase();
    let same = |name: &str| {
        name.as_bytes()[0] == first && word.eq_ignore_ascii_case(name)
            || name.as_bytes()[0] == first
                && word.len() == name.len() + 1
                && word.as_bytes()[name.len()].eq_ignore_ascii_case(&b's')
                && word.as_bytes()[..name.len()].eq_ignore_ascii_case(name.as_bytes())
    };
    NAMES.iter().find(|(name, _)| same(name)).map(|(_, symbol)| *symbol)
}

/// Reads the unit whose first token is `at`, right after a number.
pub(super) fn unit_at(statement: &Statement, at: usize) -> Option<Unit> {
    let attributive = statement.mark(at) == "-" && statement.glued(at) && statement.glued(at + 1);
    let at = if attributive { at + 1 } else { at };
    if statement.mark(at) == "%" {
        return finish("%".to_string(), at + 1, attributive);
    }
    if let Some(unit) = degrees(statement, at) {
        return Some(Unit { attributive, ..unit });
    }
    let word = statement.raw(at);
    if statement.kind(at) != Some(Kind::Word) || statement.gap(at) == Some(Gap::Item) {
        return None;
    }
    if let Some(symbol) = by_name(word).filter(|_| scale_of(word).is_none()) {
        return named(statement, symbol, at + 1, attributive);
    }
    if !is_unit(word) || word == "in" && is_preposition(statement, at) {
        return None;
    }
    let (symbol, end) = compound(statement, at);
    finish(symbol, end, attributive)
}

/// "in" is an inch unless a noun phrase follows.
fn is_preposition(statement: &Statement, at: usize) -> bool {
    matches!(
        statement.word(at + 1),
        "the" | "a" | "an" | "each" | "any" | "all" | "this" | "one" | "total" | "length" | "series" | "parallel"
    ) || statement.kind(at + 1) == Some(Kind::Number)
}

fn finish(symbol: String, end: usize, attributive: bool) -> Option<Unit> {
    let unknown = Scale { dimension: Dimension::Other, factor: 0.0, offset: 0.0 };
    let scale = scale_of(&symbol).unwrap_or(unknown);
    Some(Unit { end, symbol, scale, attributive })
}

/// `°`, `°C`, `deg C`, `degrees Celsius`, `degrees`.
fn degrees(statement: &Statement, at: usize) -> Option<Unit> {
    let sign = statement.mark(at) == "°" || statement.mark(at) == "º";
    if !sign && !matches!(statement.word(at), "deg" | "degree" | "degrees") {
        return None;
    }
    let scale = match statement.raw(at + 1) {
        "C" => Some("degC"),
        "F" => Some("degF"),
        "K" => Some("K"),
        name if name.eq_ignore_ascii_case("celsius") => Some("degC"),
        name if name.eq_ignore_ascii_case("fahrenheit") => Some("degF"),
        name if name.eq_ignore_ascii_case("kelvin") => Some("K"),
        _ => None,
    };
    match scale {
        Some(symbol) => finish(symbol.to_string(), at + 2, false),
        None if statement.mark(at + 1) == "/" => {
            let (rest, end) = compound_from(statement, at + 1, "deg".to_string());
            finish(rest, end, false)
        }
        None => finish("deg".to_string(), at + 1, false),
    }
}

/// A unit by name, with "per" and a second one.
fn named(statement: &Statement, symbol: &str, end: usize, attributive: bool) -> Option<Unit> {
    if statement.word(end) == "per"
        && let Some(below) =
            by_name(statement.raw(end + 1)).or_else(|| scale_of(statement.raw(end + 1)).map(|_| statement.raw(end + 1)))
    {
        return finish(format!("{symbol}/{below}"), end + 2, attributive);
    }
    finish(symbol.to_string(), end, attributive)
}

/// The product or quotient that starts with the symbol at `at`.
fn compound(statement: &Statement, at: usize) -> (String, usize) {
    let mut symbol = String::new();
    push_factor(&mut symbol, statement.raw(at));
    // "N m" and "Pa s" are written with a space.
    let spaced = matches!((statement.raw(at), statement.raw(at + 1)), ("N" | "kN" | "mN", "m" | "mm") | ("Pa", "s"));
    if spaced {
        symbol.push('·');
        symbol.push_str(statement.raw(at + 1));
        return compound_from(statement, at + 2, symbol);
    }
    compound_from(statement, at + 1, symbol)
}

/// The longest compound unit that is followed, in tokens; anything longer is not a unit.
const FACTORS: usize = 12;

/// Standard volumes, which mean something only with a temperature and a pressure behind them.
const STANDARD: [&str; 4] = ["scfm", "sccm", "scc", "slpm"];

/// Whether a symbol says to what its standard volume refers: `slpm(0 degC, 101.325 kPa abs)`.
pub(super) fn refers(symbol: &str) -> bool {
    STANDARD.iter().any(|own| symbol.split_once('(').is_some_and(|(before, _)| before == *own))
}

/// The brackets behind a standard volume, if they are there: their text, and one past them.
fn reference(statement: &Statement, at: usize, symbol: &str) -> Option<(String, usize)> {
    let opens = statement.mark(at) == "(" && statement.glued(at) && STANDARD.contains(&symbol);
    let close = (at + 1..at + FACTORS).find(|end| statement.mark(*end) == ")").filter(|_| opens)?;
    let inner: Vec<&str> = (at + 1..close).map(|token| statement.raw(token)).collect();
    Some((format!("({})", inner.join(" ")), close + 1))
}

fn compound_from(statement: &Statement, mut at: usize, mut symbol: String) -> (String, usize) {
    if let Some((text, end)) = reference(statement, at, &symbol) {
        symbol.push_str(&text);
        at = end;
    }
    for _ in 0..FACTORS {
        if !statement.glued(at) && statement.word(at) != "per" {
            break;
        }
        let next = statement.raw(at + 1);
        let joined = statement.glued(at + 1);
        match statement.raw(at) {
            "·" | "*" | "⋅" | "×" | "-" | "." if joined && is_unit(next) => {
                symbol.push('·');
                push_factor(&mut symbol, next);
                at += 2;
            }
            "/" if joined && is_unit(next) => {
                symbol.push('/');
                push_factor(&mut symbol, next);
                at += 2;
            }
            "/" if next == "(" && is_unit(statement.raw(at + 2)) => {
                symbol.push_str("/(");
                let (inner, end) = compound_from(statement, at + 3, statement.raw(at + 2).to_string());
                symbol.push_str(&inner);
                symbol.push(')');
                at = end + usize::from(statement.mark(end) == ")");
            }
            "^" if joined => {
                symbol.push('^');
                let sign = usize::from(next == "-");
                symbol.push_str(if sign == 1 { "-" } else { "" });
                symbol.push_str(statement.raw(at + 1 + sign));
                at += 2 + sign;
            }
            "²" => {
                symbol.push_str("^2");
                at += 1;
            }
            "³" => {
                symbol.push_str("^3");
                at += 1;
            }
            "per" if is_unit(next) => {
                symbol.push('/');
                symbol.push_str(by_name(next).unwrap_or(next));
                at += 2;
            }
            _ => break,
        }
    }
    (symbol, at)
}

/// `m3` is written `m^3`.
fn push_factor(symbol: &mut String, text: &str) {
    match text.strip_suffix(['2', '3']).filter(|base| scale_of(base).is_some()) {
        Some(base) => {
            symbol.push_str(base);
            symbol.push('^');
            symbol.push_str(&text[base.len()..]);
        }
        None => symbol.push_str(text),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_unit_is_longer_than_the_longest() {
        for name in NAMES.iter().map(|(name, _)| *name).chain(SYMBOLS.iter().map(|(symbol, ..)| *symbol)) {
            assert!(is_unit(name), "{name}");
            assert!(name.len() < LONGEST, "{name}");
        }
    }
}
