//! Amounts that add up: how much life a part has, and how much of it was used.

use crate::diag::Finding;
use crate::quantity::{Quantity, QuantityError, Rational, parse_quantity};
use crate::text::Spanned;

use super::{Reader, Scalar};

/// An amount, as written and as it counts.
#[derive(Clone, Debug, PartialEq)]
pub struct Amount {
    /// As written.
    pub text: String,
    /// What it comes to: not negative, and of a kind that adds up. None if it cannot be read, which is a fault.
    pub value: Option<Quantity>,
}

impl Amount {
    /// Reads an amount.
    ///
    /// # Errors
    /// What is no quantity, less than nothing, or a point on a scale.
    pub fn read(text: &str) -> Result<Amount, QuantityError> {
        let value = parse_quantity(text).and_then(adds_up)?;
        Ok(Amount { text: text.to_string(), value: Some(value) })
    }

    /// The most that it may be, on the scale of a limit in coherent SI units: the uncertainty counts upward.
    ///
    /// # Errors
    /// Something else than the limit, with what to type; none where it cannot be read, which is said already.
    pub fn most(&self, limit: &Quantity) -> Result<Rational, Option<QuantityError>> {
        let value = self.value.as_ref().ok_or(None)?;
        let own = value.on_scale_of(limit, None).map_err(Some)?;
        Ok(match &value.uncertainty {
            Some(uncertainty) => own + uncertainty.expanded.clone(),
            None => own,
        })
    }

    /// Whether it is none at all.
    pub fn is_zero(&self) -> bool {
        self.value.as_ref().is_some_and(|value| value.value.is_zero() && value.uncertainty.is_none())
    }
}

impl Reader<'_> {
    /// An amount: a bare number, or a quantity in quotes.
    pub fn amount(&self, key: &'static str) -> Option<Spanned<Amount>> {
        self.scalar(key).map(|written| self.as_amount(written))
    }

    /// A table whose keys are names, each with an amount.
    pub fn amounts(&self, key: &'static str) -> Vec<(Spanned<String>, Spanned<Amount>)> {
        self.named(key, |outer, name, value| outer.value_scalar(name, value).map(|written| outer.as_amount(written)))
    }

    fn as_amount(&self, written: Spanned<Scalar>) -> Spanned<Amount> {
        let text = written.value.text().to_string();
        let read = Amount::read(&text).map_err(|error| {
            let message = format!("`{text}` is no amount: {}", error.message);
            self.report(Finding::at("bad-quantity", written.span, message).help(error.help));
        });
        Spanned::new(read.unwrap_or(Amount { text, value: None }), written.span)
    }
}

/// Refuses what is less than nothing, and points on a scale, of which two make no third.
fn adds_up(quantity: Quantity) -> Result<Quantity, QuantityError> {
    let refused = |message: &str, help: &str| {
        Err(QuantityError { range: 0..0, message: message.to_string(), help: help.to_string() })
    };
    if quantity.value.is_negative() {
        return refused("it is less than nothing", "write a number of zero or more");
    }
    if quantity.kind != quantity.kind.difference() {
        return refused(
            "a temperature, or a pressure that is measured from somewhere, does not add up",
            "write what is used up, such as 12 for cycles, or \"3.5 h\"",
        );
    }
    Ok(quantity)
}
