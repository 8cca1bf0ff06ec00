//! Tests of the quantities; each file names the published source of what it expects.

mod canonical;
mod capability;
mod decisions;
mod display;
mod expressions;
mod kinds;
mod literals;
mod many;
mod properties;
mod units;

use super::{Measured, Quantity, QuantityError, Rational, catalogue, parse_measured, parse_quantity};

fn quantity(text: &str) -> Quantity {
    parse_quantity(text).unwrap_or_else(|error| panic!("{text}: {error}; {}", error.help))
}

fn measured(text: &str) -> Measured {
    parse_measured(text).unwrap_or_else(|error| panic!("{text}: {error}; {}", error.help))
}

fn refused(text: &str) -> QuantityError {
    match parse_quantity(text) {
        Ok(quantity) => panic!("{text} was taken for {quantity:?}"),
        Err(error) => error,
    }
}

/// Reads `0.0254`, `5/9` or `1/180*pi`.
fn rational(text: &str) -> Rational {
    let read = |text: &str| catalogue::read_rational(text).unwrap_or_else(|| panic!("{text} is not rational"));
    match text.strip_suffix("*pi") {
        Some(factor) => read(factor) * read("3.14159265358979323846264338327950288419716939937510582097494"),
        None => read(text),
    }
}
