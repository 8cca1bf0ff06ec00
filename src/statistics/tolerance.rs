//! Tolerance factors of a normal sample: how many of its standard deviations a limit, or two, must be from its mean.

use super::distribution::{normal_cdf, normal_density, normal_quantile, student_t_quantile};
use super::gamma::{front, gamma_above};
use super::spread::Spread;

/// The factor k with which `mean − k·s` of `count` pieces leaves at least the share `covers` above it, with the given confidence; and
/// `mean + k·s` as much below.
///
/// Exact: k = t'(confidence; n − 1, δ = z√n)/√n, the quantile of the non-central t distribution with z that of the normal distribution
/// at `covers` (NIST/SEMATECH e-Handbook 7.2.6.3). `None` for fewer than two pieces, more than a hundred million, or shares that are not between 0 and 1.
pub fn one_sided_factor(count: u64, covers: f64, confidence: f64) -> Option<f64> {
    let proper = |share: f64| share > 0.0 && share < 1.0;
    if !(2..=100_000_000).contains(&count) || !proper(covers) || !proper(confidence) {
        return None;
    }
    let root = libm::sqrt(count as f64);
    let shift = normal_quantile(covers) * root;
    let spread = Spread::new((count - 1) as f64);
    // Where the share is a half this is Student's t; elsewhere it is a beginning.
    let start = shift + student_t_quantile(confidence, (count - 1) as f64);
    Some(spread.quantile(confidence, shift, start)? / root)
}

/// The factor k with which `mean ± k·s` of `count` pieces holds at least the share `covers` between its ends, with the given confidence.
///
/// Exact: the confidence is the mean, over where the sample's mean may lie, of the probability that s is great enough there,
/// ∫ φ(z) P(χ² > ν·r²/k²) dz, with r for which Φ(z/√n + r) − Φ(z/√n − r) is the share (ISO 16269-6:2014, annex A, from memory). `None` for fewer than
/// two pieces, more than a million, or shares that are not between 0 and 1.
pub fn two_sided_factor(count: u64, covers: f64, confidence: f64) -> Option<f64> {
    let proper = |share: f64| share > 0.0 && share < 1.0;
    if !(2..=1_000_000).contains(&count) || !proper(covers) || !proper(confidence) {
        return None;
    }
    let (root, freedom) = (libm::sqrt(count as f64), (count - 1) as f64);
    // Trapezoids are as good as exact for what falls off so fast on both sides; the two sides are alike.
    const STEP: f64 = 0.1;
    let mut reach = normal_quantile(0.5 + covers / 2.0);
    let points: Vec<(f64, f64)> = (0..=90)
        .map(|i| {
            let z = STEP * f64::from(i);
            reach = half_width(z / root, covers, reach);
            (reach, normal_density(z) * STEP * if i == 0 { 1.0 } else { 2.0 })
        })
        .collect();
    // The confidence that a factor gives, and how fast it grows.
    let of = |k: f64| {
        points.iter().fold((0.0, 0.0), |(sum, slope), (reach, weight)| {
            let half = freedom * (reach / k) * (reach / k) / 2.0;
            let (above, rise) = (gamma_above(freedom / 2.0, half), front(freedom / 2.0, half));
            (sum + weight * above, slope + weight * 2.0 * rise / k)
        })
    };
    let (mut low, mut high) = (0.0, 2.0 * normal_quantile(0.5 + covers / 2.0));
    while of(high).0 < confidence {
        low = high;
        high *= 2.0;
        if !high.is_finite() {
            return None;
        }
    }
    let mut k = high;
    for _ in 0..200 {
        let (below, slope) = of(k);
        if below < confidence {
            low = k;
        } else {
            high = k;
        }
        let newton = k - (below - confidence) / slope;
        let next = if newton > low && newton < high { newton } else { low + (high - low) / 2.0 };
        if (next - k).abs() <= 4.0 * f64::EPSILON * k || next == k {
            return Some(next);
        }
        k = next;
    }
    Some(k)
}

/// The half width about a middle that is off by `off` standard deviations which holds the share: Newton's iteration from a width that is not too wide, on
/// a curve that bends one way there.
fn half_width(off: f64, share: f64, start: f64) -> f64 {
    let mut width = start;
    for _ in 0..100 {
        // The two ends from their own tails: near 1 a difference would lose digits.
        let missing = (1.0 - share) - normal_cdf(-(width - off)) - normal_cdf(-(width + off));
        let next = width - missing / (normal_density(width - off) + normal_density(width + off));
        if (next - width).abs() <= 2.0 * f64::EPSILON * width {
            return next;
        }
        width = next;
    }
    width
}

impl Spread {
    /// The value of the non-central t distribution below which the share lies: Newton's iteration inside a bracket that only shrinks.
    fn quantile(&self, share: f64, shift: f64, start: f64) -> Option<f64> {
        let mut reach = 1.0 + shift.abs();
        while self.non_central(reach, shift).0 < share {
            reach *= 2.0;
        }
        let mut low = -1.0 - shift.abs();
        while self.non_central(low, shift).0 > share {
            low *= 2.0;
        }
        let mut high = reach;
        if !(low.is_finite() && high.is_finite()) {
            return None;
        }
        let mut t = start.clamp(low, high);
        for _ in 0..200 {
            let (below, density) = self.non_central(t, shift);
            if below < share {
                low = t;
            } else {
                high = t;
            }
            let newton = t - (below - share) / density;
            let next = if newton > low && newton < high { newton } else { low + (high - low) / 2.0 };
            if (next - t).abs() <= 4.0 * f64::EPSILON * t.abs() || next == t {
                return Some(next);
            }
            t = next;
        }
        Some(t)
    }
}
