//! Whether a value fits the place that it is meant for.

use super::Said;
use super::sample::sample;
use super::where_to::Destination;
use crate::cli::Project;
use crate::config::Instrument;
use crate::edit::Toml;
use crate::model::kinds::requirement::show_limits;
use crate::model::kinds::{Budget, Condition, Criterion, Expectation, Field, Record, Requirement, ResultText};
use crate::parse::{Amount, Scalar};
use crate::quantity::{self, Conformity, Limits, Measured, Rule, parse_measured, parse_quantity};
use crate::state::Facts;
use crate::state::judge::{Verdict, condition_holds, judge_result};
use crate::text::Spanned;

/// A value that fits.
#[derive(Debug)]
pub(super) struct Checked {
    /// As it is written.
    pub written: Toml,
    /// What it comes to against what is asked.
    pub note: String,
}

/// Checks one value for one place.
///
/// # Errors
/// What does not fit, and what to type.
pub(super) fn check(
    project: &Project,
    record: &Record,
    field: Option<&Field>,
    destination: &Destination<'_>,
    name: &str,
    text: &str,
    as_read: bool,
) -> Result<Checked, Said> {
    let facts = project.analysis.facts();
    let read = with_unit(field, destination, text);
    let instrument = read_from(&facts, record, field).filter(|_| !counts(destination));
    let (text, from) = match instrument.and_then(|own| Some((own.capability.completed(&read)?, own))) {
        Some((whole, own)) => (whole, format!("the uncertainty is that of {}; ", own.id.value)),
        None => (read, String::new()),
    };
    let beyond = instrument.and_then(|own| outside(&facts, own, &text)).unwrap_or_default();
    in_range(&facts, field, name, &text, as_read)?;
    let checked = match destination {
        Destination::Result { requirement, criterion, .. } => result(&facts, record, requirement, criterion, &text),
        Destination::Condition(own) => condition(&facts, record, own, &text),
        Destination::Reading(_) => reading(&facts, field, name, &text),
        Destination::Use(budget) => used(budget, name, &text),
    }?;
    Ok(Checked { note: format!("{from}{beyond}{}", checked.note), ..checked })
}

/// Whether a place takes a word or a count, and no value.
fn counts(destination: &Destination<'_>) -> bool {
    matches!(destination, Destination::Result { criterion, .. } if !matches!(criterion.expects, Expectation::Limits { .. }))
}

/// The instrument that a field is read from, where the record names it too.
fn read_from<'f>(facts: &Facts<'f>, record: &Record, field: Option<&Field>) -> Option<&'f Instrument> {
    let id = &field?.instrument.as_ref()?.value;
    facts.model.instruments.get(id).filter(|_| record.names_instrument(id))
}

/// That an instrument cannot have read a value, if so.
fn outside(facts: &Facts<'_>, instrument: &Instrument, text: &str) -> Option<String> {
    let (value, range) = (parse_measured(text).ok()?, instrument.range.as_ref()?);
    let reads = instrument.capability.reads(value.quantity(), facts.model.config.ambient.as_ref()).ok()?;
    (!reads).then(|| format!("outside the range of {}, {}; ", instrument.id.value, range.value))
}

/// A plain number is read in the unit of its field.
fn with_unit(field: Option<&Field>, destination: &Destination<'_>, text: &str) -> String {
    let unit = field.and_then(|field| field.unit.as_ref()).map(|unit| unit.value.as_str());
    match (unit, parse_measured(text)) {
        (Some(unit), Ok(measured)) if !counts(destination) && measured.quantity().unit.symbol.is_empty() => {
            let whole = format!("{text} {unit}");
            if parse_measured(&whole).is_ok() { whole } else { text.to_string() }
        }
        _ => text.to_string(),
    }
}

/// The range in which the field is expected: the value alone is held against it.
fn in_range(facts: &Facts<'_>, field: Option<&Field>, name: &str, text: &str, as_read: bool) -> Result<(), Said> {
    let Some(expected) = field.and_then(|field| field.expected.as_ref()).filter(|_| !as_read) else { return Ok(()) };
    let (Some(limits), Ok(measured)) = (&expected.limits, parse_measured(text)) else { return Ok(()) };
    match quantity::judge(&Rule::Simple, &measured, limits, facts.model.config.ambient.as_ref()) {
        Ok((Conformity::NotMet, _)) => Err((
            format!("{name}: {text} lies outside what is expected there, {}", expected.show()),
            "look at the reading and its unit again; if it was really read so, add --as-read".to_string(),
        )),
        Ok(_) => Ok(()),
        Err(error) => Err((format!("{name}: {text}: {}", error.message), error.help)),
    }
}

fn result(
    facts: &Facts<'_>,
    record: &Record,
    requirement: &Requirement,
    criterion: &Criterion,
    text: &str,
) -> Result<Checked, Said> {
    let whole = text.chars().all(|c| c.is_ascii_digit()) && matches!(criterion.expects, Expectation::Count(_));
    let of_sample = matches!(criterion.expects, Expectation::Sample { .. }).then(|| sample(record, text)).flatten();
    let (written, result) = match of_sample {
        Some(made) => made,
        None if whole => (Toml::Bare(text.to_string()), ResultText::Written(Scalar::Number(text.to_string()))),
        None => (Toml::text(text), ResultText::Written(Scalar::Text(text.to_string()))),
    };
    let judged = judge_result(facts, &criterion.expects, &Spanned::new(result, record.head.fence));
    let asked = criterion.show();
    let margin = judged.margin.as_ref().map_or(String::new(), |margin| format!("; margin {}", margin.show()));
    let note = match judged.verdict {
        Verdict::CannotTell(trouble) => {
            let id = &requirement.head.id.value;
            return Err((format!("{} of {id} asks for {asked}: {}", criterion.name, trouble.message), trouble.help));
        }
        Verdict::Met => format!("met: {asked}{margin}"),
        Verdict::NotMet => format!("not met: {asked}{margin}"),
        Verdict::Inconclusive("no-uncertainty") => {
            format!("inconclusive: {}; {asked}{margin}", judged.no_uncertainty())
        }
        Verdict::Inconclusive(_) => match judged.note {
            Some(note) => format!("inconclusive: {asked}{margin}; {note}"),
            None => format!("inconclusive: {asked}{margin}"),
        },
        Verdict::Unsettled => "the limit is not settled yet".to_string(),
        Verdict::Missing | Verdict::Moved { .. } | Verdict::NotKept => String::new(),
    };
    Ok(Checked { written, note })
}

/// A condition is held against every criterion that this record is for and that asks for it.
fn condition(facts: &Facts<'_>, record: &Record, name: &str, text: &str) -> Result<Checked, Said> {
    let measured = parse_measured(text)
        .map_err(|error| (format!("condition {name}: `{text}` is no quantity: {}", error.message), error.help))?;
    let mut notes: Vec<String> = Vec::new();
    for own in &record.verifies {
        let Some(requirement) = facts.model.requirement(&own.requirement.value) else { continue };
        let asked = requirement.criteria.iter().flat_map(|criterion| &criterion.at);
        for condition in asked.filter(|condition| condition.name == name) {
            let id = &requirement.head.id.value;
            fits_unit(facts, &measured, condition)
                .map_err(|(what, help)| (format!("condition {name} for {id}: {what}"), help))?;
            let scalar = Spanned::new(Scalar::Text(text.to_string()), record.head.fence);
            let limits = show_limits(condition.min.as_ref(), condition.max.as_ref());
            let note = match condition_holds(facts, condition, Some(&scalar)) {
                Ok(()) => format!("as {id} asks, {limits}"),
                Err(_) => format!("not as {id} asks, {limits}"),
            };
            if !notes.contains(&note) {
                notes.push(note);
            }
        }
    }
    Ok(Checked { written: Toml::text(text), note: notes.join("; ") })
}

fn fits_unit(facts: &Facts<'_>, measured: &Measured, condition: &Condition) -> Result<(), Said> {
    let limits =
        [&condition.min, &condition.max].map(|limit| limit.as_ref().and_then(|limit| limit.quantity()).cloned());
    let [min, max] = limits;
    if min.is_none() && max.is_none() {
        return Ok(());
    }
    match quantity::judge(&Rule::Simple, measured, &Limits { min, max }, facts.model.config.ambient.as_ref()) {
        Ok(_) => Ok(()),
        Err(error) => Err((error.message, error.help)),
    }
}

/// What is noted only must at least be in the unit of its field.
fn reading(facts: &Facts<'_>, field: Option<&Field>, name: &str, text: &str) -> Result<Checked, Said> {
    if let Some(unit) = field.and_then(|field| field.unit.as_ref()) {
        let measured = parse_measured(text)
            .map_err(|error| (format!("{name}: `{text}` is no quantity: {}", error.message), error.help))?;
        if let Ok(one) = parse_quantity(&format!("1 {}", unit.value))
            && let Err(error) = measured.quantity().compare(&one, facts.model.config.ambient.as_ref())
        {
            return Err((format!("{name} is read in {}: {}", unit.value, error.message), error.help));
        }
    }
    Ok(Checked { written: Toml::text(text), note: "noted".to_string() })
}

/// What was used must be an amount in the sort of unit of its limit.
fn used(budget: &Budget, name: &str, text: &str) -> Result<Checked, Said> {
    let said = |error: quantity::QuantityError| (format!("{name}: {}", error.message), error.help);
    let amount = Amount::read(text).map_err(said)?;
    if let Some(limit) = budget.limit()
        && let Err(Some(error)) = amount.most(limit)
    {
        return Err(said(error));
    }
    let written =
        if text.chars().all(|c| c.is_ascii_digit()) { Toml::Bare(text.to_string()) } else { Toml::text(text) };
    let limit = budget.limit().map_or(String::new(), |limit| format!("the limit is {}", limit.show()));
    Ok(Checked { written, note: limit })
}
