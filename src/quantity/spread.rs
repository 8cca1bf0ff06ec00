//! How the possible values of a result are spread, and how much of them lies beyond a distance (JCGM 106:2012, 7).

use crate::statistics::Distribution;

use super::{Rational, Shape, Uncertainty};

impl Uncertainty {
    /// The distribution that it states: Student's t where a normal one has finite degrees of freedom.
    pub fn distribution(&self) -> Distribution {
        match (self.shape, &self.freedom) {
            (Shape::Normal, None) => Distribution::Normal,
            (Shape::Normal, Some(freedom)) => {
                Distribution::StudentT { freedom: freedom.to_f64().unwrap_or(f64::INFINITY) }
            }
            (Shape::Rectangular, _) => Distribution::Rectangular,
            (Shape::Triangular, _) => Distribution::Triangular,
            (Shape::UShaped, _) => Distribution::UShaped,
        }
    }

    /// The share of possible values that are off by more than `distance` to one side; it may be negative, and of what is certain
    /// none is off by more than zero.
    pub(super) fn beyond(&self, distance: &Rational) -> f64 {
        let ends = if distance.is_negative() { f64::NEG_INFINITY } else { f64::INFINITY };
        if self.standard.is_zero() {
            return if distance.is_negative() { 1.0 } else { 0.0 };
        }
        // Divided exactly first: two very small or very large numbers may have an ordinary quotient.
        self.distribution().beyond((distance / &self.standard).to_f64().unwrap_or(ends))
    }
}
