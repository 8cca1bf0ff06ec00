//! Correlation coefficients that are stated for pairs of sources.

use std::collections::{BTreeMap, BTreeSet};

use super::CalcError;
use crate::quantity::Rational;

/// What is stated about how sources vary together. Two sources of which nothing is stated are independent, unless they were read
/// from one instrument.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Correlations {
    pairs: BTreeMap<(String, String), Rational>,
}

/// Most sources of which correlations may be stated.
const MAX_SOURCES: usize = 200;

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

    /// Every stated pair of keys.
    pub(super) fn pairs(&self) -> impl Iterator<Item = (&str, &str, &Rational)> {
        self.pairs.iter().map(|((a, b), r)| (a.as_str(), b.as_str(), r))
    }

    /// Refuses coefficients that cannot all be true at once: then the matrix is not positive semidefinite, and a variance would be negative.
    pub(super) fn check(&self) -> Result<(), CalcError> {
        let keys: BTreeSet<&str> = self.pairs().flat_map(|(a, b, _)| [a, b]).collect();
        if keys.len() > MAX_SOURCES {
            let message = format!("correlations are stated of more than {MAX_SOURCES} sources");
            return Err(CalcError::new(0..0, message, "state those that matter"));
        }
        let keys: Vec<&str> = keys.into_iter().collect();
        let coefficient = |a: usize, b: usize| match self.of(keys[a], keys[b]) {
            _ if a == b => 1.0,
            Some(r) => r.to_f64().unwrap_or(0.0),
            None => 0.0,
        };
        if is_semidefinite(keys.len(), coefficient) {
            return Ok(());
        }
        let message = format!("these correlations cannot all be true at once: {}", self.show());
        Err(CalcError::new(
            0..0,
            message,
            "check the coefficients: if a goes with b and with c, b and c go together too",
        ))
    }

    fn show(&self) -> String {
        let pairs = self.pairs().take(6).map(|(a, b, r)| format!("r({a}, {b}) = {}", r.to_f64().unwrap_or(f64::NAN)));
        pairs.collect::<Vec<_>>().join(", ")
    }
}

/// By elimination with the largest pivot first; what is left must not be below zero by more than rounding.
fn is_semidefinite(size: usize, coefficient: impl Fn(usize, usize) -> f64) -> bool {
    const ROUNDING: f64 = 1e-12;
    let mut rest: Vec<Vec<f64>> = (0..size).map(|a| (0..size).map(|b| coefficient(a, b)).collect()).collect();
    let mut left: Vec<usize> = (0..size).collect();
    while let Some(at) = (0..left.len()).max_by(|a, b| rest[left[*a]][left[*a]].total_cmp(&rest[left[*b]][left[*b]])) {
        let pivot = left.swap_remove(at);
        let largest = rest[pivot][pivot];
        if largest <= ROUNDING {
            let zero = |a: usize, b: usize| rest[a][b].abs() <= ROUNDING.sqrt();
            return largest >= -ROUNDING && left.iter().all(|&a| rest[a][a] >= -ROUNDING && zero(pivot, a));
        }
        let row = rest[pivot].clone();
        for &a in &left {
            let factor = rest[a][pivot] / largest;
            for &b in &left {
                rest[a][b] -= factor * row[b];
            }
        }
    }
    true
}

fn ordered(a: &str, b: &str) -> (String, String) {
    if a <= b { (a.to_owned(), b.to_owned()) } else { (b.to_owned(), a.to_owned()) }
}
