//! How the standard deviation of a normal sample is spread about the true one, and what follows from it: the non-central t
//! distribution.

use super::distribution::{normal_cdf, normal_density};

/// The distribution of s/σ, as points and weights that integrate against it.
pub(super) struct Spread {
    /// `s/σ` and the weight there; the weights add up to one.
    points: Vec<(f64, f64)>,
}

impl Spread {
    /// By the trapezoidal rule in the logarithm of s/σ, which is as good as exact for what falls off so fast on both sides. The density
    /// of y = ln(s/σ) is proportional to exp(ν(y − e^{2y}/2)).
    pub(super) fn new(freedom: f64) -> Self {
        // About the peak it is a normal curve of width 1/√(2ν); to the left it falls off like e^{νy} only.
        let width = 1.0 / libm::sqrt(2.0 * freedom);
        let step = width.min(1.0) / 12.0;
        let height = |y: f64| libm::exp(freedom * (y - libm::expm1(2.0 * y) / 2.0));
        let mut points = Vec::new();
        let mut add = |y: f64| {
            let weight = height(y);
            points.push((libm::exp(y), weight));
            weight > 1e-30
        };
        add(0.0);
        (1..100_000).take_while(|i| add(step * f64::from(*i))).count();
        (1..100_000).take_while(|i| add(-step * f64::from(*i))).count();
        // The smallest first, so that nothing is lost in the sums.
        points.sort_by(|one, other| one.1.total_cmp(&other.1));
        let sum: f64 = points.iter().map(|(_, weight)| weight).sum();
        points.iter_mut().for_each(|(_, weight)| *weight /= sum);
        Self { points }
    }

    /// The share of the non-central t distribution below `t`: the mean of Φ(t·s/σ − δ); and its density there.
    pub(super) fn non_central(&self, t: f64, shift: f64) -> (f64, f64) {
        self.points.iter().fold((0.0, 0.0), |(below, density), (s, weight)| {
            let z = t * s - shift;
            (below + weight * normal_cdf(z), density + weight * s * normal_density(z))
        })
    }
}
