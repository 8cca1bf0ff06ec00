//! One-sided tolerance factors of a normal sample: how many of its standard deviations a limit must be from its mean.

use super::distribution::{normal_quantile, student_t_quantile};
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
