//! The units of `units.toml`, read once, and the SI prefixes.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use serde::Deserialize;

use super::unit_reader::{self, Parsed};
use super::{Dimension, Kind, Rational, number};

/// A symbol of so few letters that is no unit is not taken for one with a prefix.
const SHORT: usize = 3;

const DATA: &str = include_str!("units.toml");

/// π to sixty digits. A rational keeps every later step exact; what rests on it is flagged as not exact.
const PI: &str = "3.14159265358979323846264338327950288419716939937510582097494";

/// The SI prefixes that are read, with their power of ten.
const PREFIXES: [(&str, i32); 17] = [
    ("µ", -6),
    ("μ", -6),
    ("u", -6),
    ("da", 1),
    ("P", 15),
    ("T", 12),
    ("G", 9),
    ("M", 6),
    ("k", 3),
    ("h", 2),
    ("d", -1),
    ("c", -2),
    ("m", -3),
    ("n", -9),
    ("p", -12),
    ("f", -15),
    ("a", -18),
];

/// What stands before the symbol of a temperature scale for differences on it.
const DIFFERENCE: &str = "delta_";

/// What one symbol stands for.
#[derive(Clone, Debug)]
pub(super) struct Definition {
    pub factor: Rational,
    pub offset: Rational,
    pub dimension: Dimension,
    pub kind: Kind,
    pub exact: bool,
    /// The symbol for differences on this scale, if another.
    pub difference: Option<String>,
    prefixes: bool,
}

/// A symbol that is not taken, and what to write.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Refused {
    symbols: Vec<String>,
    pub why: String,
    pub write: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    unit: Vec<Entry>,
    standard: Vec<Standard>,
    refused: Vec<Refused>,
}

/// A volume, or volume flow, whose reference conditions are written behind its symbol.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Standard {
    name: String,
    symbols: Vec<String>,
    is: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    name: String,
    symbols: Vec<String>,
    is: Option<String>,
    base: Option<String>,
    kind: Option<String>,
    offset: Option<String>,
    difference: Option<String>,
    #[serde(default)]
    prefixes: bool,
    #[serde(default)]
    rounded: bool,
    source: String,
}

/// All units by symbol.
#[derive(Default)]
pub(super) struct Catalogue {
    units: BTreeMap<String, Definition>,
    standard: BTreeMap<String, Parsed>,
    refused: BTreeMap<String, Refused>,
}

/// The catalogue, read at first use. The data is part of the program and a test reads it, so reading cannot fail here.
pub(super) fn catalogue() -> &'static Catalogue {
    static CATALOGUE: OnceLock<Catalogue> = OnceLock::new();
    CATALOGUE.get_or_init(|| Catalogue::read(DATA).expect("units.toml is part of the program and tested"))
}

/// What a symbol turned out to be.
pub(super) enum Found<'a> {
    Unit(Definition),
    Refused(&'a Refused),
    Unknown,
}

impl Catalogue {
    fn read(data: &str) -> Result<Self, String> {
        let file: File = toml::from_str(data).map_err(|error| error.to_string())?;
        let mut all = Self::default();
        for entry in &file.unit {
            let definition = all.define(entry).ok_or_else(|| format!("unit {} is badly defined", entry.name))?;
            for symbol in &entry.symbols {
                if all.units.insert(symbol.clone(), definition.clone()).is_some() {
                    return Err(format!("symbol {symbol} is defined twice"));
                }
            }
        }
        for standard in &file.standard {
            let wrong = || format!("standard volume {} is badly defined", standard.name);
            let volume = all.read_value(&standard.is).ok_or_else(wrong)?;
            for symbol in &standard.symbols {
                if all.units.contains_key(symbol) || all.standard.insert(symbol.clone(), volume.clone()).is_some() {
                    return Err(format!("symbol {symbol} is defined twice"));
                }
            }
        }
        for refused in &file.refused {
            for symbol in &refused.symbols {
                let taken = all.units.contains_key(symbol) || all.standard.contains_key(symbol);
                if taken || all.refused.insert(symbol.clone(), refused.clone()).is_some() {
                    return Err(format!("symbol {symbol} is both taken and refused"));
                }
            }
        }
        Ok(all)
    }

    fn define(&self, entry: &Entry) -> Option<Definition> {
        if entry.source.is_empty() {
            return None;
        }
        let mut parsed = match (&entry.base, &entry.is) {
            (Some(base), None) => Parsed::base(Dimension::parse(base)?),
            (None, Some(is)) => self.read_value(is)?,
            _ => return None,
        };
        if let Some(tag) = &entry.kind {
            parsed.kind = Kind::from_tag(tag)?;
        }
        Some(Definition {
            factor: parsed.factor,
            offset: entry.offset.as_deref().map_or_else(|| Some(Rational::zero()), read_rational)?,
            dimension: parsed.dimension,
            kind: parsed.kind,
            exact: parsed.exact && !entry.rounded,
            difference: entry.difference.clone(),
            prefixes: entry.prefixes,
        })
    }

    /// Reads `1/12 ft` or `2*pi rad`.
    fn read_value(&self, text: &str) -> Option<Parsed> {
        let (factor, unit) = text.split_once(' ').unwrap_or((text, ""));
        let mut parsed =
            if unit.is_empty() { Parsed::base(Dimension::NONE) } else { unit_reader::read(self, unit).ok()? };
        // A unit defined by another temperature or gauge unit states its own kind.
        if matches!(parsed.kind, Kind::TemperaturePoint) {
            parsed.kind = Kind::Plain;
        }
        if factor.contains("pi") {
            parsed.exact = false;
        }
        parsed.factor *= read_factor(factor)?;
        Some(parsed)
    }

    /// What a symbol stands for; whole symbols come before prefixed ones, so that `min` is a minute.
    pub(super) fn find(&self, symbol: &str) -> Found<'_> {
        if let Some(definition) = self.units.get(symbol) {
            return Found::Unit(definition.clone());
        }
        if let Some(refused) = self.refused.get(symbol) {
            return Found::Refused(refused);
        }
        for (prefix, power) in PREFIXES {
            let Some(base) = symbol.strip_prefix(prefix) else { continue };
            let Some(definition) = self.units.get(base).filter(|definition| definition.prefixes) else { continue };
            let mut definition = definition.clone();
            definition.factor *= number::power_of_ten(power);
            definition.difference = definition.difference.map(|difference| match difference.strip_prefix(DIFFERENCE) {
                Some(scale) => format!("{DIFFERENCE}{prefix}{scale}"),
                None => format!("{prefix}{difference}"),
            });
            return Found::Unit(definition);
        }
        // Of a scale that takes prefixes: `delta_mK`.
        if let Some(Found::Unit(scale)) = symbol.strip_prefix(DIFFERENCE).map(|scale| self.find(scale))
            && scale.kind == Kind::TemperaturePoint
        {
            let kind = Kind::TemperatureDifference;
            return Found::Unit(Definition { kind, offset: Rational::zero(), difference: None, ..scale });
        }
        Found::Unknown
    }

    /// The volume, or volume flow, of a symbol that needs its reference conditions behind it.
    pub(super) fn standard(&self, symbol: &str) -> Option<&Parsed> {
        self.standard.get(symbol)
    }

    /// Every symbol as it is written in a quantity, with one prefix where it takes them, and with reference conditions where it needs them.
    #[cfg(test)]
    pub(super) fn written(&self) -> Vec<String> {
        let plain =
            self.units.iter().map(|(symbol, unit)| if unit.prefixes { format!("m{symbol}") } else { symbol.clone() });
        let bare = self.units.keys().cloned();
        let standard = self.standard.keys().map(|symbol| format!("{symbol}(15 degC, 101.325 kPa)"));
        plain.chain(bare).chain(standard).collect()
    }

    /// Everything that is proposed instead of a refused symbol.
    #[cfg(test)]
    pub(super) fn proposals(&self) -> impl Iterator<Item = &String> {
        self.refused.values().flat_map(|refused| &refused.write)
    }

    /// Known symbols that look like this one, nearest first, at most four.
    pub(super) fn nearest(&self, symbol: &str) -> Vec<String> {
        let lower = symbol.to_lowercase();
        let length = symbol.chars().count();
        // Two letters may stand for anything; only a small part of a symbol may be wrong.
        let allowed = 1 + length / 3;
        let mut found: Vec<(usize, String)> = Vec::new();
        let mut consider = |prefix: &str, base: &str| {
            // Whatever is so much longer or shorter is further away than that.
            if (prefix.chars().count() + base.chars().count()).abs_diff(length) > allowed {
                return;
            }
            let candidate = format!("{prefix}{base}");
            // A letter left out of a whole unit is the likeliest slip after a wrong case.
            let lacks_one = prefix.is_empty() && length > 1 && is_without_one(symbol, base);
            let distance = match candidate.to_lowercase() == lower {
                true => 0,
                false if lacks_one => 1,
                // So few letters are near to some unit with a prefix whatever they mean.
                false if length <= SHORT && !prefix.is_empty() => return,
                false => 1 + strsim::damerau_levenshtein(&candidate, symbol),
            };
            if distance <= allowed {
                found.push((distance, candidate));
            }
        };
        for (base, definition) in &self.units {
            consider("", base);
            if definition.prefixes {
                PREFIXES.iter().for_each(|(prefix, _)| consider(prefix, base));
            }
        }
        self.standard.keys().for_each(|symbol| consider("", symbol));
        found.sort();
        found.into_iter().map(|(_, candidate)| candidate).take(4).collect()
    }
}

/// Whether a text is another one in which a letter is left out, other than the first.
fn is_without_one(text: &str, whole: &str) -> bool {
    whole.char_indices().skip(1).any(|(at, letter)| {
        let (before, behind) = (&whole[..at], &whole[at + letter.len_utf8()..]);
        text.strip_prefix(before) == Some(behind)
    })
}

/// Reads `0.0254`, `5/9`, `pi/180`, `2*pi`.
fn read_factor(text: &str) -> Option<Rational> {
    let mut value = Rational::one();
    for part in text.split('*') {
        let (numerator, denominator) = part.split_once('/').unwrap_or((part, "1"));
        value = value * read_term(numerator)? / read_term(denominator)?;
    }
    Some(value)
}

fn read_term(text: &str) -> Option<Rational> {
    if text == "pi" { read_rational(PI) } else { read_rational(text) }
}

/// Reads `273.15` or `45967/180`.
pub(super) fn read_rational(text: &str) -> Option<Rational> {
    let read = |text: &str| number::scan(text, 0).ok().filter(|scanned| scanned.end == text.len());
    match text.split_once('/') {
        Some((numerator, denominator)) => Some(read(numerator)?.value / read(denominator)?.value),
        None => Some(read(text)?.value),
    }
}
