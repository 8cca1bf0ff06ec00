//! The values that a calculation starts from.

use crate::calc::{Given, Source};
use crate::id::Id;
use crate::model::kinds::{Input, ONE_WAY, Record, ReductionText, ResultText};
use crate::model::{Model, Ref, wanted_of};
use crate::parse::{Scalar, nearest};
use crate::quantity::{
    Capability, Measured, Quantity, QuantityError, Rational, Uncertainty, parse_instrument_uncertainty, parse_measured,
    parse_quantity,
};
use crate::table::combine;
use crate::text::{Span, Spanned};

use super::Trouble;
use super::record::Values;

/// What the records before this one came to.
pub(super) type Before<'b> = &'b dyn Fn(usize) -> Option<&'b Values>;

/// Where a value comes from, for display.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Origin {
    /// Typed into the record, with what it says of its source.
    Typed(Option<String>),
    /// The mean of so many readings.
    Readings(usize),
    /// Another record's result.
    Record(String),
    /// A parameter of the project.
    Parameter(Option<String>),
}

/// The value of an input, and where it comes from.
pub(super) fn input(
    model: &Model,
    record: &Record,
    input: &Input,
    before: Before<'_>,
) -> Result<(Given, Origin), Trouble> {
    let id = &record.head.id.value;
    let source = |quantity| {
        let instrument = input.instrument.as_ref().map(|own| own.value.to_string());
        Given::Source(Source {
            key: format!("{id} {}", input.name.value),
            name: input.name.value.clone(),
            quantity,
            instrument,
        })
    };
    if let (Some(from), None) = (&input.from, &input.value) {
        return from_record(model, input, from, before).map(|given| (given, Origin::Record(from.value.clone())));
    }
    if let Some(value) = &input.value {
        let quantity = stated(&value.value, value.span)?;
        let quantity = with_instrument(model, input, quantity, value.span)?;
        return Ok((source(quantity), Origin::Typed(input.source.as_ref().map(|source| source.value.clone()))));
    }
    let Some(first) = input.readings.first() else {
        let message = format!("input `{}` has no value", input.name.value);
        // The fault that it must have one stands where the input is read.
        return Err(Trouble { code: None, ..Trouble::new("bad-input", input.name.span, message, ONE_WAY) });
    };
    let quantity = mean(&input.readings, first.span)?;
    let still = quantity.uncertainty.as_ref().is_some_and(|own| own.standard.is_zero());
    if still && input.instrument.is_none() {
        let message = "the readings are all the same, which hides how they scatter";
        let help = "add instrument = \"…\" for what it was read with, or write value = \"…\" with its uncertainty";
        return Err(Trouble::new("bad-input", input.name.span, message, help));
    }
    let quantity = with_instrument(model, input, quantity, input.name.span)?;
    Ok((source(quantity), Origin::Readings(input.readings.len())))
}

/// A parameter of the project.
pub(super) fn parameter(model: &Model, name: &str) -> Option<Given> {
    let quantity = model.parameters.get(name)?.value.clone()?;
    Some(Given::Source(Source { key: format!("parameter {name}"), name: name.to_string(), quantity, instrument: None }))
}

fn trouble(code: &'static str, span: Span, error: QuantityError) -> Trouble {
    Trouble { code: Some(code), span, message: error.message, help: error.help, also: Vec::new() }
}

/// Reads one value; a bound is none.
fn stated(scalar: &Scalar, span: Span) -> Result<Quantity, Trouble> {
    let text = scalar.text();
    parse_quantity(text).map_err(|error| {
        let message = format!("`{text}` is no quantity: {}", error.message);
        trouble("bad-quantity", span, QuantityError { message, ..error })
    })
}

/// The value with the uncertainty of its instrument, where it has none of its own; a mean has both.
fn with_instrument(model: &Model, input: &Input, quantity: Quantity, span: Span) -> Result<Quantity, Trouble> {
    let Some(instrument) = input.instrument.as_ref().and_then(|own| model.instruments.get(&own.value)) else {
        return Ok(quantity);
    };
    let readings = !input.readings.is_empty();
    if quantity.uncertainty.is_some() && !readings {
        return Ok(quantity);
    }
    let capability = &instrument.capability;
    let fits = capability.fits(&quantity.unit, model.config.ambient.as_ref());
    fits.map_err(|error| {
        let message = format!("{} does not read this: {}", instrument.id.value, error.message);
        trouble("units-do-not-match", span, QuantityError { message, ..error })
    })?;
    if capability.uncertainty.is_empty() {
        let message = format!("instruments.toml states no uncertainty of {} in numbers", instrument.id.value);
        let help = format!("add uncertainty = \"± …\" to [{}], or state one here", instrument.id.value);
        return Err(Trouble::new("bad-input", span, message, help));
    }
    let of_instrument = Uncertainty::from_standard(capability.expanded_at(&quantity.value) / two());
    Ok(combine(&quantity, &of_instrument))
}

/// The coverage factor with which the uncertainty of an instrument is stated.
fn two() -> Rational {
    Rational::from_integer(2.into())
}

/// The mean of repeated readings, of which the first stands at `at`, with s/√n and n − 1 degrees of freedom (JCGM 100:2008, 4.2.3).
fn mean(readings: &[Spanned<String>], at: Span) -> Result<Quantity, Trouble> {
    let mut values: Vec<Quantity> = Vec::with_capacity(readings.len());
    for reading in readings {
        let value = stated(&Scalar::Text(reading.value.clone()), reading.span)?;
        if let Some(first) = values.first() {
            value.compatible(first, None).map_err(|error| trouble("units-do-not-match", reading.span, error))?;
        }
        if value.uncertainty.is_some() {
            let error = QuantityError {
                range: 0..0,
                message: "a reading has no uncertainty of its own here".into(),
                help: "write the readings alone; `instrument = \"…\"` adds that of the instrument".into(),
            };
            return Err(trouble("bad-input", reading.span, error));
        }
        values.push(value);
    }
    let (Some(first), true) = (values.first(), values.len() > 1) else {
        let error = QuantityError {
            range: 0..0,
            message: "one reading says nothing about its spread".into(),
            help: "write value = \"…\" with its uncertainty, or more readings".into(),
        };
        return Err(trouble("bad-input", at, error));
    };
    let count = Rational::from_integer(values.len().into());
    let sum = values.iter().fold(Rational::zero(), |sum, value| sum + &value.value);
    let mean = sum / &count;
    let squares = values.iter().fold(Rational::zero(), |sum, value| {
        let off = &value.value - &mean;
        sum + &off * &off
    });
    let one = Rational::one();
    let variance = squares / (&count * (&count - &one));
    let mut quantity = Quantity::computed(mean, first.unit.clone(), values.iter().all(|value| value.exact));
    // Student's t is worked out in floating point, and so is most often the root.
    quantity.approximate = !variance.is_zero();
    quantity.uncertainty = Some(Uncertainty::with_freedom(variance.square_root(), &count - &one));
    Ok(quantity)
}

/// What another record reports.
fn from_record(model: &Model, input: &Input, from: &Spanned<String>, before: Before<'_>) -> Result<Given, Trouble> {
    let (id, wanted) = wanted_of(model, &from.value);
    let wrong = |code, message: String, help: String| Trouble {
        code: Some(code),
        span: from.span,
        message,
        help,
        also: Vec::new(),
    };
    let Some(Ref::Record(at)) = model.find(id) else {
        let help = "name a record and one of its results".to_string();
        // That there is none is said where names are resolved.
        return Err(Trouble { code: None, ..wrong("unknown-name", format!("there is no record `{id}`"), help) });
    };
    let source = &model.records[at];
    let found = reported(model, source, wanted);
    let (first, key) = match found.as_slice() {
        [] => return from_steps(source, wanted, before(at)).ok_or_else(|| unknown(model, source, from, wanted)),
        [first, rest @ ..] => match rest.iter().find(|other| other.0.value != first.0.value) {
            None => first,
            Some(second) => {
                let message = format!("{id} reports `{wanted}` twice, and not the same");
                let help = format!("write \"{id}.{}\" or \"{id}.{}\"", first.1, second.1);
                return Err(wrong("bad-input", message, help));
            }
        },
    };
    match &first.value {
        Reported::Written(text) => {
            let measured = parse_measured(text).map_err(|error| {
                wrong("bad-input", format!("{} is no quantity: {}", from.value, error.message), error.help)
            })?;
            let Measured::Value(quantity) = measured else {
                let help = "write value = \"…\" with what may be calculated with, and why".to_string();
                return Err(wrong("bad-input", format!("{} is a bound, `{text}`", from.value), help));
            };
            let quantity = with_instrument(model, input, quantity, from.span)?;
            let instrument = input.instrument.as_ref().map(|own| own.value.to_string());
            Ok(Given::Source(Source {
                key: format!("{id} {key}"),
                name: input.name.value.clone(),
                quantity,
                instrument,
            }))
        }
        Reported::Sample => {
            let help = "write readings = [\"…\", \"…\"], or the value of one piece, with its source".to_string();
            Err(wrong("bad-input", format!("{} is a sample of several pieces", from.value), help))
        }
        Reported::Made => {
            let values =
                before(at).and_then(|values| values.given(first.span, &format!("{id} {key}"), &input.name.value));
            let given = values.ok_or_else(|| {
                let help = format!("correct {id} first");
                wrong("bad-input", format!("{} could not be worked out", from.value), help)
            })?;
            let Given::Source(own) = given else { return Ok(given) };
            // Data may state no uncertainty of their own; then what is named here gives it, as to any value.
            let quantity = with_instrument(model, input, own.quantity, from.span)?;
            let instrument = own.instrument.or_else(|| input.instrument.as_ref().map(|own| own.value.to_string()));
            Ok(Given::Source(Source { quantity, instrument, ..own }))
        }
    }
}

/// What a record says under a name.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Reported {
    /// This.
    Written(String),
    /// What was worked out at the place.
    Made,
    /// A sample, which is no one value.
    Sample,
}

/// Every result, reading and condition of a record under a name, each with its full name.
fn reported(model: &Model, source: &Record, wanted: &str) -> Vec<(Spanned<Reported>, String)> {
    let mut found = Vec::new();
    let what = |result: &Spanned<ResultText>| match &result.value {
        ResultText::Written(scalar) => Spanned::new(Reported::Written(scalar.text().to_string()), result.span),
        ResultText::Calculation(_) | ResultText::Reduction(_) => Spanned::new(Reported::Made, result.span),
        ResultText::Readings(_) | ResultText::Summary { .. } => Spanned::new(Reported::Sample, result.span),
    };
    for verifies in &source.verifies {
        let id = &verifies.requirement.value;
        let of_this = wanted.strip_prefix(id.as_str()).and_then(|rest| rest.strip_prefix('.')).unwrap_or(wanted);
        for (name, result) in &verifies.results {
            if name.value == of_this {
                found.push((what(result), format!("{id}.{}", name.value)));
            }
        }
        let only = model.requirement(id).and_then(|it| it.criteria.first());
        let only = only.map_or("value", |criterion| criterion.name.as_str());
        if let Some(result) = verifies.result.as_ref().filter(|_| [only, "", id.as_str()].contains(&of_this)) {
            found.push((what(result), format!("{id}.{only}")));
        }
    }
    let noted = source.readings.iter().map(|(name, text)| (name.value.clone(), text));
    let conditions = source.conditions.iter().map(|(name, text)| (format!("conditions.{}", name.value), text));
    for (name, text) in noted.chain(conditions) {
        if name == wanted {
            found.push((Spanned::new(Reported::Written(text.value.text().to_string()), text.span), name));
        }
    }
    found
}

/// A line of the other record's calculation.
fn from_steps(source: &Record, wanted: &str, values: Option<&Values>) -> Option<Given> {
    source.calculation.as_ref()?;
    let step = values?.steps.iter().find(|step| step.name == wanted)?;
    step.worked().cloned().map(Given::Worked)
}

fn unknown(model: &Model, source: &Record, from: &Spanned<String>, wanted: &str) -> Trouble {
    let id = &source.head.id.value;
    let mut known: Vec<String> = source.readings.iter().map(|(name, _)| name.value.clone()).collect();
    for verifies in &source.verifies {
        known.extend(verifies.results.iter().map(|(name, _)| name.value.clone()));
        let only = model.requirement(&verifies.requirement.value).filter(|it| it.criteria.len() == 1);
        known.extend(only.filter(|_| verifies.result.is_some()).map(|it| it.criteria[0].name.clone()));
    }
    let help = match nearest(wanted, known.iter().map(String::as_str)) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("write \"{id}.NAME\" with one of its results: {}", known.join(", ")),
    };
    let message = format!("record `{id}` reports no result `{wanted}`");
    Trouble::new("unknown-name", from.span, message, help)
}

/// The uncertainty of what data were taken with: stated beside the reduction, or of the instrument that it names.
pub(super) fn uncertainty_of_data(
    model: &Model,
    text: &ReductionText,
    value: &Quantity,
) -> Result<Option<Uncertainty>, QuantityError> {
    if let Some(stated) = text.get("uncertainty") {
        let known = parse_instrument_uncertainty(&stated.value, None)?;
        let capability = Capability { uncertainty: vec![known], ..Capability::default() };
        return of_capability(model, &capability, value).map(Some);
    }
    let Some(instrument) = text.get("instrument") else { return Ok(None) };
    let Some(known) = model.instruments.get(instrument.value.as_str()) else {
        let near = nearest(&instrument.value, model.instruments.keys().map(Id::as_str));
        let help = near.map_or("name one of instruments.toml".to_string(), |near| format!("did you mean \"{near}\"?"));
        return Err(QuantityError {
            range: 0..0,
            message: format!("there is no instrument `{}`", instrument.value),
            help,
        });
    };
    if known.capability.uncertainty.is_empty() {
        let message = format!("instruments.toml states no uncertainty of {} in numbers", instrument.value);
        let help = format!("add uncertainty = \"± …\" to [{}], or state one here", instrument.value);
        return Err(QuantityError { range: 0..0, message, help });
    }
    of_capability(model, &known.capability, value).map(Some)
}

fn of_capability(model: &Model, capability: &Capability, value: &Quantity) -> Result<Uncertainty, QuantityError> {
    capability.fits(&value.unit, model.config.ambient.as_ref())?;
    Ok(Uncertainty::from_standard(capability.expanded_at(&value.value) / two()))
}
