//! Results that speak of many: trials that succeed or fail, and samples.

use std::sync::Arc;

use crate::model::kinds::requirement::Share;
use crate::model::kinds::{Expectation, ResultText};
use crate::parse::Scalar;
use crate::quantity::{Measured, Quantity, Sample, Tally, parse_measured};
use crate::text::{Span, Spanned};

use super::{Facts, Judgement, Verdict, known_limits, trouble, verdict};

/// Holds `59 of 59` against a reliability.
pub(super) fn judge_trials(reliability: &Share, confidence: &Share, scalar: &Scalar, span: Span) -> Judgement {
    let text = scalar.text();
    let Some(tally) = Tally::parse(text) else {
        let message =
            format!("\"{text}\" is not so many successes of so many trials, and the criterion asks for a reliability");
        let help = "write the successes and all trials, such as \"59 of 59\"";
        return Judgement::plain(trouble("trials-expected", span, message, help), text);
    };
    let conformity = tally.judge(&reliability.value, &confidence.value);
    let note = match tally.further(&reliability.value, &confidence.value) {
        Some(more) => format!("too few trials to tell; {more} more without a failure would show it"),
        None => "too few trials to tell".to_string(),
    };
    Judgement { note: Some(note), ..Judgement::plain(verdict(conformity), text) }
}

/// Holds a sample against its limit.
pub(super) fn judge_sample(facts: &Facts<'_>, expects: &Expectation, result: &Spanned<ResultText>) -> Judgement {
    let shown = result.value.show();
    let wrong =
        |message: String, help: &str| Judgement::plain(trouble("sample-expected", result.span, message, help), &shown);
    let Expectation::Sample { min, max, covers, confidence } = expects else {
        let message = "the result is a sample, and the criterion does not say what share it covers".to_string();
        return wrong(message, "write the one result that counts; or add covers and confidence to the criterion");
    };
    let sample = match read(&result.value) {
        Ok(sample) => sample,
        Err(Unreadable::NoSample) => {
            let message = format!("\"{shown}\" is no sample, and the criterion is about most of what is made");
            return wrong(
                message,
                "write { sample = [\"…\", \"…\"] } with every reading, or { mean = \"…\", sd = \"…\", n = 10 }; with slipmark fill, part the readings by `;`, or write \"mean …; sd …; n 10\"",
            );
        }
        Err(Unreadable::Bad { message, help, span }) => {
            let span = span.unwrap_or(result.span);
            return Judgement::plain(trouble("bad-quantity", span, message, help), &shown);
        }
    };
    let Some(limits) = known_limits(min.as_ref(), max.as_ref()) else {
        return Judgement::plain(Verdict::Unsettled, &shown);
    };
    let ambient = facts.model.config.ambient.as_ref();
    match sample.judge(&limits, &covers.value, &confidence.value, ambient) {
        Ok((conformity, margin, factor)) => {
            let note = if sample.deviation.is_zero() {
                "all readings are the same, so that nothing is known of the spread; read more finely".to_string()
            } else {
                format!("the mean would have to be inside by {factor:.3} s")
            };
            Judgement {
                verdict: verdict(conformity),
                result: Some(sample.show()),
                margin: margin.map(Arc::new),
                note: Some(note),
                conditions: Vec::new(),
            }
        }
        Err(error) => Judgement::plain(trouble("units-do-not-match", result.span, error.message, error.help), &shown),
    }
}

/// Why a result is no sample.
enum Unreadable {
    NoSample,
    Bad { message: String, help: String, span: Option<Span> },
}

fn read(result: &ResultText) -> Result<Sample, Unreadable> {
    let bad = |error: crate::quantity::QuantityError| Unreadable::Bad {
        message: error.message,
        help: error.help,
        span: None,
    };
    match result {
        ResultText::Readings(readings) => {
            let values: Result<Vec<Quantity>, Unreadable> = readings.iter().map(value).collect();
            Sample::of_readings(&values?).map_err(bad)
        }
        ResultText::Summary { mean, deviation, count } => {
            Sample::stated(value(mean)?, &value(deviation)?, *count).map_err(bad)
        }
        ResultText::Written(_) | ResultText::Calculation(_) | ResultText::Reduction(_) => Err(Unreadable::NoSample),
    }
}

fn value(written: &Spanned<Scalar>) -> Result<Quantity, Unreadable> {
    let text = written.value.text();
    let bad = |message: String, help: String| Unreadable::Bad { message, help, span: Some(written.span) };
    match parse_measured(text) {
        Ok(Measured::Value(value)) if value.uncertainty.is_none() => Ok(value),
        Ok(_) => Err(bad(
            format!("`{text}` in a sample is no plain value"),
            "write number and unit: a sample is judged by how its readings scatter".to_string(),
        )),
        Err(error) => Err(bad(format!("`{text}` in a sample is no quantity: {}", error.message), error.help)),
    }
}
