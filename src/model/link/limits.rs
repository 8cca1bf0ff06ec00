//! Works out limits: literals, parameters, equals with tolerance.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::config::Parameter;
use crate::diag::{Finding, Findings};
use crate::quantity::{Quantity, QuantityError, evaluate, is_placeholder, names};
use crate::text::{Span, Spanned};

use super::super::kinds::{Limit, LimitValue, Relief, Requirement, Waiver};

/// Works out the limits of what waivers accept.
pub fn resolve_reliefs(waivers: &mut [Waiver], parameters: &BTreeMap<String, Parameter>, findings: &mut Findings) {
    for (_, relief) in waivers.iter_mut().flat_map(|waiver| &mut waiver.accepts) {
        if let Relief::Limits { min, max } = relief {
            resolve_all([min, max].into_iter().flatten(), parameters, findings);
        }
    }
}

/// Works out the limits of one requirement with these parameters.
pub fn resolve_limits(
    requirement: &mut Requirement,
    parameters: &BTreeMap<String, Parameter>,
    findings: &mut Findings,
) {
    for criterion in &mut requirement.criteria {
        resolve_all(criterion.limits_mut(), parameters, findings);
    }
}

/// Works out the limits of one criterion. Both ends of `equals ± tolerance` are made of the same two texts: what is wrong with one is said once.
fn resolve_all<'l>(
    limits: impl IntoIterator<Item = &'l mut Limit>,
    parameters: &BTreeMap<String, Parameter>,
    findings: &mut Findings,
) {
    let mut told: Vec<(Span, String)> = Vec::new();
    for limit in limits {
        let Some((span, error)) = resolve(limit, parameters) else { continue };
        let wrong = (span, error.message);
        if !told.contains(&wrong) {
            let text = format!("this limit cannot be worked out: {}", wrong.1);
            findings.push(Finding::at("bad-quantity", span, text).help(error.help));
            told.push(wrong);
        }
    }
}

/// Works out one limit; where that fails, why.
fn resolve(limit: &mut Limit, parameters: &BTreeMap<String, Parameter>) -> Option<(Span, QuantityError)> {
    let tolerance = limit.tolerance.as_ref().map(|(text, _)| text.value.as_str());
    if is_placeholder(&limit.text.value) || tolerance.is_some_and(is_placeholder) {
        limit.value = LimitValue::Placeholder;
        return None;
    }
    match value(limit, parameters) {
        Ok(quantity) => limit.value = LimitValue::Known(Arc::new(quantity)),
        Err(wrong) => {
            limit.value = LimitValue::Failed;
            return Some(wrong);
        }
    }
    None
}

type Located<T> = Result<T, (Span, QuantityError)>;

fn value(limit: &Limit, parameters: &BTreeMap<String, Parameter>) -> Located<Quantity> {
    let known = |name: &str| parameters.get(name).and_then(|parameter| parameter.value.clone());
    let work_out = |text: &Spanned<String>| {
        let value = evaluate(&text.value, &known).and_then(|value| certain(value, &text.value));
        value.map_err(|error| (text.span, error))
    };
    let value = work_out(&limit.text)?;
    let Some((tolerance, lower)) = &limit.tolerance else { return Ok(value) };
    if let Some(width) = ["±", "+/-"].iter().find_map(|sign| tolerance.value.trim_start().strip_prefix(sign)) {
        let error = QuantityError {
            range: 0..0,
            message: "a tolerance is a width, and stands without `±`".into(),
            help: format!("write tolerance = \"{}\"", width.trim()),
        };
        return Err((tolerance.span, error));
    }
    let half = work_out(tolerance)?;
    let zero = half.subtract(&half).map_err(|error| (tolerance.span, error))?;
    if half.value < zero.value {
        let error = QuantityError {
            range: 0..0,
            message: "the tolerance is negative".into(),
            help: "write it without the sign".into(),
        };
        return Err((tolerance.span, error));
    }
    let end = if *lower { value.subtract(&half) } else { value.add(&half) };
    end.map_err(|error| (tolerance.span, error))
}

/// A limit that states a spread of its own could mean a tolerance, a doubt or a margin. Parameters may be uncertain; a limit
/// takes their value.
fn certain(value: Quantity, text: &str) -> Result<Quantity, QuantityError> {
    if value.uncertainty.is_none() || !names(text).is_empty() {
        return Ok(value);
    }
    Err(QuantityError {
        range: 0..0,
        message: format!("`{text}` states a spread, and a limit is one value"),
        help: "write the limit alone; for a range: `min` and `max`, or `equals` with `tolerance`".into(),
    })
}
