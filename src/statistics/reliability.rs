//! What a number of trials shows about a reliability: the binomial distribution and its exact one-sided limit.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{One, Signed, Zero};

use super::beta::{beta_below, beta_quantile};

/// The fewest trials, all of them successes, that show the reliability at the confidence: the smallest n with
/// `reliability^n ≤ 1 − confidence`. Worked out in floating point, for orientation before a test; [`trials_show`] decides.
///
/// `None` where either is not between 0 and 1, both excluded, or where more than 2^53 trials would be needed.
pub fn success_run(reliability: f64, confidence: f64) -> Option<u64> {
    let proper = |share: f64| share > 0.0 && share < 1.0;
    if !proper(reliability) || !proper(confidence) {
        return None;
    }
    let real = libm::log1p(-confidence) / libm::log(reliability);
    (real <= 9e15).then(|| libm::ceil(real) as u64)
}

/// The one-sided lower limit on the reliability at the confidence (Clopper and Pearson): the reliability with which so many successes,
/// or more, are seen with the probability `1 − confidence`. Zero without a success.
///
/// `None` where there are more successes than trials, or the confidence is not between 0 and 1.
pub fn reliability_lower_limit(successes: u64, trials: u64, confidence: f64) -> Option<f64> {
    if successes > trials || !(confidence > 0.0 && confidence < 1.0) {
        return None;
    }
    if successes == 0 {
        return Some(0.0);
    }
    Some(beta_quantile(1.0 - confidence, successes as f64, (trials - successes) as f64 + 1.0))
}

/// The most that [`trials_show`] works out exactly: bits of its numbers, and bits times terms. Some hundredths of a second.
const MOST_BITS: u64 = 1_000_000;
const MOST_WORK: u64 = 400_000_000;

/// Whether so many successes of so many trials show the reliability at the confidence: whether the exact one-sided lower limit is at
/// least the reliability. Decided in whole numbers; `None` where that would take too long, or the numbers make no sense.
///
/// The same as: so many failures or fewer would be seen with the probability `1 − confidence` at most, if the reliability were exactly
/// the one asked for.
pub fn trials_show(successes: u64, trials: u64, reliability: &BigRational, confidence: &BigRational) -> Option<bool> {
    let proper = |share: &BigRational| share.is_positive() && *share < BigRational::one();
    if successes > trials || !proper(reliability) || !proper(confidence) {
        return None;
    }
    let failures = trials - successes;
    let digits = reliability.denom().bits().max(1).checked_mul(trials.max(1))?;
    if digits > MOST_BITS || digits.checked_mul(failures.checked_add(1)?).is_none_or(|work| work > MOST_WORK) {
        return None;
    }
    let good = reliability.numer();
    let all = reliability.denom();
    let bad = all - good;
    // Σ over j failures of C(n, j) bad^j good^(n−j), against (1 − confidence) all^n.
    let mut term = good.pow(u32::try_from(trials).ok()?);
    let mut sum = term.clone();
    for j in 1..=failures {
        if term.is_zero() {
            break;
        }
        term = term * &bad * BigInt::from(trials - j + 1) / (good * BigInt::from(j));
        sum += &term;
    }
    let left = sum * confidence.denom();
    let right = (confidence.denom() - confidence.numer()) * all.pow(u32::try_from(trials).ok()?);
    Some(left <= right)
}

/// How many further trials without a failure would show the reliability at the confidence, after these; worked out in floating point,
/// for orientation. `None` where `most` would not do.
pub fn further_trials(successes: u64, trials: u64, reliability: f64, confidence: f64, most: u64) -> Option<u64> {
    let proper = |share: f64| share > 0.0 && share < 1.0;
    if successes > trials || !proper(reliability) || !proper(confidence) {
        return None;
    }
    // P(no more failures than there were) ≤ 1 − confidence. Rounding must not ask for one more where they are equal.
    let failures = (trials - successes) as f64;
    let shown = |more: u64| {
        let good = (successes + more) as f64;
        good > 0.0
            && beta_below(reliability, 1.0 - reliability, good, failures + 1.0) <= (1.0 - confidence) * (1.0 + 1e-12)
    };
    if !shown(most) {
        return None;
    }
    let (mut low, mut high) = (0, most);
    // More trials without a failure never show less.
    while low < high {
        let middle = low + (high - low) / 2;
        if shown(middle) { high = middle } else { low = middle + 1 }
    }
    Some(high)
}
