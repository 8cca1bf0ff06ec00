//! The distributions that an uncertainty may state, each about zero and in multiples of the standard uncertainty.

use std::f64::consts::{PI, SQRT_2};

use super::distribution::{normal_cdf, student_t_cdf};

/// How possible values are spread (JCGM 101:2008, 6.4).
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Distribution {
    /// Normal.
    Normal,
    /// Student's t with so many degrees of freedom, scaled by the standard uncertainty (JCGM 101:2008, 6.4.9): its own standard
    /// deviation is greater, and with two degrees of freedom or fewer there is none.
    StudentT {
        /// More than zero.
        freedom: f64,
    },
    /// Any value between two ends, none more than another; the half-width is √3 standard uncertainties.
    Rectangular,
    /// Between two ends, the middle most; the half-width is √6 standard uncertainties.
    Triangular,
    /// The arcsine distribution: between two ends, the ends most; the half-width is √2 standard uncertainties.
    UShaped,
}

pub(super) const ROOT_3: f64 = 1.732_050_807_568_877_2;
pub(super) const ROOT_6: f64 = 2.449_489_742_783_178;

impl Distribution {
    /// The share that lies more than `z` standard uncertainties above the middle.
    pub fn beyond(self, z: f64) -> f64 {
        match self {
            Self::Normal => normal_cdf(-z),
            Self::StudentT { freedom } => student_t_cdf(-z, freedom),
            Self::Rectangular => (0.5 - z / (2.0 * ROOT_3)).clamp(0.0, 1.0),
            Self::Triangular => triangular(z / ROOT_6),
            Self::UShaped => 0.5 - libm::asin((z / SQRT_2).clamp(-1.0, 1.0)) / PI,
        }
    }
}

/// The share beyond `x` of a triangle from −1 to 1.
fn triangular(x: f64) -> f64 {
    let corner = (1.0 - x.abs()).max(0.0);
    let tail = corner * corner / 2.0;
    if x < 0.0 { 1.0 - tail } else { tail }
}
