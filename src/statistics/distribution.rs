//! The normal distribution and Student's t: the share below a value, and the value below which a share lies.
//!
//! Error functions and logarithms come from `libm`, the same code on every machine, so that no digit depends on the system's
//! own library.

use super::beta::{beta_below, half_step_ratio};
use super::spread::Spread;

/// `√2`, by which the error function's argument differs from that of the normal distribution.
const ROOT_2: f64 = std::f64::consts::SQRT_2;

/// `1/√(2π)`: the normal density at its middle.
const DENSITY_AT_ZERO: f64 = 0.398_942_280_401_432_7;

/// The share of a standard normal distribution below `z`; both tails keep their relative accuracy.
pub fn normal_cdf(z: f64) -> f64 {
    libm::erfc(-z / ROOT_2) / 2.0
}

/// The density of the standard normal distribution at `z`.
pub fn normal_density(z: f64) -> f64 {
    DENSITY_AT_ZERO * libm::exp(-z * z / 2.0)
}

/// The `z` below which the share `p` of a standard normal distribution lies: −∞ for 0, ∞ for 1, NaN outside.
///
/// A first guess (Abramowitz and Stegun 26.2.23, good to 4.5e-4), then Halley's iteration, which triples the digits each time.
pub fn normal_quantile(p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    // The smaller tail is held on to: 1 − p is exact here, and a difference of values near 1 would have lost digits.
    let tail = p.min(1.0 - p);
    if tail == 0.0 {
        return if p == 0.0 { f64::NEG_INFINITY } else { f64::INFINITY };
    }
    let t = libm::sqrt(-2.0 * libm::log(tail));
    let guess =
        t - (2.515_517 + t * (0.802_853 + t * 0.010_328)) / (1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308)));
    let mut z = guess;
    for _ in 0..4 {
        // Near the middle the share between 0 and z is what is small.
        let excess = if tail > 0.25 { (0.5 - tail) - libm::erf(z / ROOT_2) / 2.0 } else { normal_cdf(-z) - tail };
        let step = excess / normal_density(z);
        z += step / (1.0 - z * step / 2.0);
    }
    if p < 0.5 { -z } else { z }
}

/// The share of Student's t distribution with `freedom` degrees of freedom below `t`; not a number where `freedom` is not positive.
/// An infinite `freedom` is the normal distribution.
///
/// By the incomplete beta function (Abramowitz and Stegun 26.7.1), with many degrees of freedom by the distribution of s/σ; both
/// tails keep their relative accuracy.
pub fn student_t_cdf(t: f64, freedom: f64) -> f64 {
    if freedom == f64::INFINITY {
        return normal_cdf(t);
    }
    if t.is_nan() || freedom.is_nan() || freedom <= 0.0 {
        return f64::NAN;
    }
    let upper = student_t_upper(t.abs(), freedom);
    if t < 0.0 { upper } else { 1.0 - upper }
}

/// With more degrees of freedom than this the continued fraction of the incomplete beta function loses digits: to cancellation, in
/// proportion to their number.
const MOST_BY_FRACTION: f64 = 500.0;

/// The share above `t`, for `t` at least zero.
fn student_t_upper(t: f64, freedom: f64) -> f64 {
    if t.is_infinite() {
        return 0.0;
    }
    let square = t * t;
    if square.is_infinite() {
        // Beyond 1e154 only the first term of the tail is left to see, and the square cannot be written.
        return 0.0;
    }
    if freedom > MOST_BY_FRACTION {
        return Spread::new(freedom).non_central(-t, 0.0).0;
    }
    let all = freedom + square;
    beta_below(freedom / all, square / all, freedom / 2.0, 0.5) / 2.0
}

/// The density of Student's t at `t`.
fn student_t_density(t: f64, freedom: f64) -> f64 {
    let height = half_step_ratio(freedom / 2.0) / libm::sqrt(std::f64::consts::PI * freedom);
    height * libm::exp(-(freedom + 1.0) / 2.0 * libm::log1p(t * t / freedom))
}

/// The `t` below which the share `p` of Student's t distribution with `freedom` degrees of freedom lies: −∞ for 0, ∞ for 1, NaN
/// where there is no answer. An infinite `freedom` is the normal distribution.
///
/// Newton's iteration inside a bracket that only shrinks.
pub fn student_t_quantile(p: f64, freedom: f64) -> f64 {
    if freedom == f64::INFINITY {
        return normal_quantile(p);
    }
    if !(0.0..=1.0).contains(&p) || freedom.is_nan() || freedom <= 0.0 {
        return f64::NAN;
    }
    let tail = p.min(1.0 - p);
    if tail == 0.0 {
        return if p == 0.0 { f64::NEG_INFINITY } else { f64::INFINITY };
    }
    if tail == 0.5 {
        return 0.0;
    }
    let t = student_t_of_tail(tail, freedom);
    if p < 0.5 { -t } else { t }
}

/// The positive `t` above which the share `tail`, below a half, lies.
fn student_t_of_tail(tail: f64, freedom: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    while student_t_upper(high, freedom) > tail {
        low = high;
        high *= 2.0;
        if high > 1e150 {
            return f64::INFINITY;
        }
    }
    let mut t = normal_quantile(1.0 - tail).clamp(low, high);
    for _ in 0..200 {
        let excess = student_t_upper(t, freedom) - tail;
        if excess > 0.0 {
            low = t;
        } else {
            high = t;
        }
        // A step in the logarithm of the tail: the tail falls off like a power, and steps in it would creep.
        let slope = student_t_density(t, freedom);
        let share = excess + tail;
        let step = libm::log(share / tail) * share / slope;
        let inside = t + step > low && t + step < high;
        let next = if inside { t + step } else { low + (high - low) / 2.0 };
        if (next - t).abs() <= 2.0 * f64::EPSILON * t.abs() || next == t {
            return next;
        }
        t = next;
    }
    t
}
