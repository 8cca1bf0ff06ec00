//! How the possible values of a result are spread, and how much of them lies beyond a distance (JCGM 106:2012, 7; JCGM 101:2008, 6.4).

use std::f64::consts::{PI, SQRT_2};

use crate::statistics::{normal_cdf, student_t_cdf};

use super::{Rational, Shape, Uncertainty};

/// A distribution about zero.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spread<'a> {
    uncertainty: &'a Uncertainty,
}

impl<'a> Spread<'a> {
    /// That of an uncertainty: normal, Student's t scaled by u where degrees of freedom are stated, or between two ends that give
    /// the same u.
    pub fn of(uncertainty: &'a Uncertainty) -> Self {
        Self { uncertainty }
    }

    /// The share of possible values that are off by more than `distance` to one side; `distance` may be negative, and all of
    /// nothing lies on it.
    pub fn beyond(self, distance: &Rational) -> f64 {
        let Uncertainty { standard, shape, freedom, .. } = self.uncertainty;
        if standard.is_zero() {
            return if distance.is_negative() { 1.0 } else { 0.0 };
        }
        // Divided exactly first: two very small or very large numbers may have an ordinary quotient.
        let ends = if distance.is_negative() { f64::NEG_INFINITY } else { f64::INFINITY };
        let z = (distance / standard).to_f64().unwrap_or(ends);
        match (shape, freedom) {
            (Shape::Normal, None) => normal_cdf(-z),
            (Shape::Normal, Some(freedom)) => student_t_cdf(-z, freedom.to_f64().unwrap_or(f64::INFINITY)),
            // u is a/√3 of the half-width a.
            (Shape::Rectangular, _) => (0.5 - z / (2.0 * ROOT_3)).clamp(0.0, 1.0),
            (Shape::Triangular, _) => triangular(z / ROOT_6),
            (Shape::UShaped, _) => 0.5 - libm::asin((z / SQRT_2).clamp(-1.0, 1.0)) / PI,
        }
    }
}

const ROOT_3: f64 = 1.732_050_807_568_877_2;
const ROOT_6: f64 = 2.449_489_742_783_178;

/// The share beyond `x` of a triangle from −1 to 1.
fn triangular(x: f64) -> f64 {
    let corner = (1.0 - x.abs()).max(0.0);
    let tail = corner * corner / 2.0;
    if x < 0.0 { 1.0 - tail } else { tail }
}
