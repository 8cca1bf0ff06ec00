//! The incomplete gamma function, on which the distribution of a sample's standard deviation rests.

/// `x^a e^(−x)/Γ(a)`, from which both the shares and their slopes follow.
///
/// Stirling's series for Γ keeps the great logarithms from being subtracted (Abramowitz and Stegun 6.1.40); small parameters are lifted to where it
/// is good.
pub(super) fn front(a: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if a < 15.0 {
        return front(a + 1.0, x) * a / x;
    }
    let off = (x - a) / a;
    // Far from the middle the distance from it would lose the digits of x.
    let log = if off.abs() < 0.5 { libm::log1p(off) } else { libm::log(x / a) };
    let (r, r2) = (1.0 / a, 1.0 / (a * a));
    let series = r * (1.0 / 12.0 - r2 * (1.0 / 360.0 - r2 * (1.0 / 1260.0 - r2 * (1.0 / 1680.0 - r2 / 1188.0))));
    libm::sqrt(a / (2.0 * std::f64::consts::PI)) * libm::exp(-a * (off - log) - series)
}

/// The share of a gamma distribution with the shape `a` and scale 1 above `x`: that of a chi-squared with `2a` degrees of freedom above `2x`.
///
/// By the series or the continued fraction, whichever is quick there (Abramowitz and Stegun 6.5.29 and 6.5.31); both need about the square root of `a`
/// in steps.
pub(super) fn gamma_above(a: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 1.0;
    }
    let front = front(a, x);
    if x < a + 1.0 {
        let (mut term, mut sum, mut step) = (1.0 / a, 1.0 / a, a);
        while term > sum * f64::EPSILON / 4.0 {
            step += 1.0;
            term *= x / step;
            sum += term;
        }
        return 1.0 - front * sum;
    }
    // Lentz's way of working a continued fraction out from the front; here no part of it is zero.
    let mut b = x + 1.0 - a;
    let (mut c, mut d) = (1e300, 1.0 / b);
    let mut value = d;
    for step in 1..1_000_000 {
        let m = f64::from(step);
        let a_m = -m * (m - a);
        b += 2.0;
        d = 1.0 / (a_m * d + b);
        c = b + a_m / c;
        value *= c * d;
        if (c * d - 1.0).abs() < f64::EPSILON {
            break;
        }
    }
    front * value
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed forms: e^(−x) for a = 1, (1 + x)e^(−x) for 2, erfc(√x) for a half.
    #[test]
    fn closed_forms() {
        for x in [1e-3, 0.2, 0.9, 1.0, 1.6, 2.9, 7.0, 30.0, 200.0] {
            for (a, expected) in
                [(1.0, libm::exp(-x)), (2.0, (1.0 + x) * libm::exp(-x)), (0.5, libm::erfc(libm::sqrt(x)))]
            {
                let ours = gamma_above(a, x);
                assert!((ours - expected).abs() <= 2e-14 * expected.max(1e-3), "{a} {x}: {ours} {expected}");
            }
        }
        assert_eq!((gamma_above(3.0, 0.0), front(3.0, 0.0)), (1.0, 0.0));
    }

    /// The median lies a third below the mean: above a there is 1/2 − 1/(3√(2πa)), and what follows falls off like a^(−3/2).
    #[test]
    fn great_parameters() {
        for a in [1e3, 1e4, 1e5, 5e5] {
            let expected = 0.5 - 1.0 / (3.0 * libm::sqrt(2.0 * std::f64::consts::PI * a));
            assert!((gamma_above(a, a) - expected).abs() < 0.1 * a.powf(-1.5), "{a}");
        }
    }
}
