//! A sample as it is typed: every reading, or what was worked out of them.

use crate::edit::Toml;
use crate::model::kinds::{Record, ResultText};
use crate::parse::Scalar;
use crate::quantity::parse_measured;
use crate::text::Spanned;

/// Reads `1.30; 1.31; 1.29 N·m` or `mean 1.30 N·m; sd 0.01 N·m; n 10`: as it is written into the record, and as it is judged. None for what is no
/// sample; what is wrong with the parts is said where it is judged.
pub(super) fn sample(record: &Record, text: &str) -> Option<(Toml, ResultText)> {
    if !text.contains(';') {
        return None;
    }
    let parts: Vec<&str> = text.split(';').map(str::trim).filter(|part| !part.is_empty()).collect();
    let placed = |text: &str| Spanned::new(Scalar::Text(text.to_string()), record.head.fence);
    if let Some(Summary { mean, deviation, count }) = Summary::read(&parts) {
        let [mean_text, deviation_text] = [&mean, &deviation].map(|own| Toml::text(own).written());
        let table = format!("{{ mean = {mean_text}, sd = {deviation_text}, n = {count} }}");
        let result = ResultText::Summary { mean: placed(&mean), deviation: placed(&deviation), count };
        return Some((Toml::Bare(table), result));
    }
    let readings = with_units(&parts);
    let texts = readings.iter().map(|own| placed(own)).collect();
    let table = format!("{{ sample = {} }}", Toml::Texts(readings).written());
    Some((Toml::Bare(table), ResultText::Readings(texts)))
}

/// Mean, standard deviation and number of readings.
struct Summary {
    mean: String,
    deviation: String,
    count: u64,
}

impl Summary {
    /// From its three parts, in any order, each with its word in front; a deviation without a unit is in that of the mean.
    fn read(parts: &[&str]) -> Option<Summary> {
        let [_, _, _] = parts else { return None };
        let said = |word: &str| {
            let rest = parts.iter().find_map(|part| part.strip_prefix(word))?;
            let value = rest.trim_start().trim_start_matches('=').trim();
            (rest.starts_with([' ', '=']) && !value.is_empty()).then(|| value.to_string())
        };
        let (mean, deviation, count) = (said("mean")?, said("sd")?, said("n")?.parse().ok()?);
        let deviation = match (parse_measured(&mean), parse_measured(&deviation)) {
            (Ok(mean), Ok(own)) if own.quantity().unit.symbol.is_empty() => {
                format!("{deviation} {}", mean.quantity().unit.as_difference().symbol).trim_end().to_string()
            }
            _ => deviation,
        };
        Some(Summary { mean, deviation, count })
    }
}

/// The readings; the unit may stand after the last alone.
fn with_units(parts: &[&str]) -> Vec<String> {
    let unit = parts.last().and_then(|last| Some(parse_measured(last).ok()?.quantity().unit.symbol.clone()));
    let with_unit = |part: &&str| match (&unit, parse_measured(part)) {
        (Some(unit), Ok(own)) if own.quantity().unit.symbol.is_empty() => {
            format!("{part} {unit}").trim_end().to_string()
        }
        _ => (*part).to_string(),
    };
    parts.iter().map(with_unit).collect()
}
