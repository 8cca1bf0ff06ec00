//! Correlation coefficients that are stated for pairs of sources.

use std::collections::BTreeMap;

use crate::quantity::Rational;

/// What is stated about how sources vary together. Two sources of which nothing is stated are independent, unless they were read
/// from one instrument.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Correlations {
    pairs: BTreeMap<(String, String), Rational>,
}

impl Correlations {
    /// None stated.
    pub fn none() -> Self {
        Self::default()
    }

    /// States the coefficient r of two keys, from -1 to 1, in either order.
    ///
    /// # Errors
    /// What is wrong with it: out of range, of a source with itself, or stated twice.
    pub fn state(&mut self, a: &str, b: &str, r: Rational) -> Result<(), String> {
        if a == b {
            return Err(format!("`{a}` is always correlated with itself"));
        }
        if r.abs() > Rational::one() {
            return Err("a correlation coefficient lies between -1 and 1".to_owned());
        }
        match self.pairs.insert(ordered(a, b), r) {
            None => Ok(()),
            Some(_) => Err(format!("the correlation of `{a}` and `{b}` is stated twice")),
        }
    }

    /// What is stated of two keys.
    pub fn of(&self, a: &str, b: &str) -> Option<&Rational> {
        self.pairs.get(&ordered(a, b))
    }
}

fn ordered(a: &str, b: &str) -> (String, String) {
    if a <= b { (a.to_owned(), b.to_owned()) } else { (b.to_owned(), a.to_owned()) }
}
