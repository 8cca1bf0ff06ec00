//! The incomplete beta function, on which Student's t and the binomial limits rest.

/// `Γ(x + ½)/Γ(x)` for positive `x`.
///
/// By the recurrence up to 30, then the asymptotic series of its logarithm (Abramowitz and Stegun 6.1.40, taken at both and
/// subtracted). Differences of two logarithms of gamma functions would lose digits as `x` grows.
pub(super) fn half_step_ratio(x: f64) -> f64 {
    let mut x = x;
    let mut factor = 1.0;
    while x < 30.0 {
        factor *= x / (x + 0.5);
        x += 1.0;
    }
    let (r, r2) = (1.0 / x, 1.0 / (x * x));
    let series = r * (-1.0 / 8.0 + r2 * (1.0 / 192.0 + r2 * (-1.0 / 640.0 + r2 * (17.0 / 14336.0))));
    factor * libm::sqrt(x) * libm::exp(series)
}

/// `1/B(a, b)` times `x^a y^b`, where `y` is `1 − x`.
fn front(x: f64, y: f64, a: f64, b: f64) -> f64 {
    let log = |near: f64, rest: f64| if near > 0.5 { libm::log1p(-rest) } else { libm::log(near) };
    let powers = a * log(x, y) + b * log(y, x);
    // Student's t: no logarithm of a gamma function is needed.
    if a == 0.5 || b == 0.5 {
        let other = if b == 0.5 { a } else { b };
        return half_step_ratio(other) / libm::sqrt(std::f64::consts::PI) * libm::exp(powers);
    }
    libm::exp(libm::lgamma(a + b) - libm::lgamma(a) - libm::lgamma(b) + powers)
}

/// The share of a beta distribution with the parameters `a` and `b` that lies below `x`; `y` is `1 − x`, given too because it may be
/// known to more digits than the difference would keep.
///
/// The continued fraction of Abramowitz and Stegun 26.5.8, worked out from the front (Lentz), on the side on which it is quick.
pub(super) fn beta_below(x: f64, y: f64, a: f64, b: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if y <= 0.0 {
        return 1.0;
    }
    if x <= (a + 1.0) / (a + b + 2.0) {
        front(x, y, a, b) * fraction(x, a, b) / a
    } else {
        1.0 - front(y, x, b, a) * fraction(y, b, a) / b
    }
}

/// The continued fraction; it needs about the square root of the greater parameter in steps.
fn fraction(x: f64, a: f64, b: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let away = |value: f64| if value.abs() < TINY { TINY } else { value };
    let mut c = 1.0;
    let mut d = 1.0 / away(1.0 - (a + b) * x / (a + 1.0));
    let mut value = d;
    for step in 1..100_000 {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / away(1.0 + even * d);
        c = away(1.0 + even / c);
        value *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / away(1.0 + odd * d);
        c = away(1.0 + odd / c);
        let change = d * c;
        value *= change;
        if (change - 1.0).abs() <= f64::EPSILON {
            break;
        }
    }
    value
}

/// The `x` below which the share `p` of a beta distribution lies.
///
/// Halving: the function is steep in places, and fifty halvings are soon done.
pub(super) fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    for _ in 0..1100 {
        let middle = low + (high - low) / 2.0;
        if middle <= low || middle >= high {
            break;
        }
        if beta_below(middle, 1.0 - middle, a, b) < p {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}
