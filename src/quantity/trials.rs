//! Decides what a number of trials shows about a reliability.

use num_rational::BigRational;

use crate::statistics::{further_trials, reliability_lower_limit, trials_show};

use super::{Conformity, Rational, Why};

/// How many of so many trials succeeded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tally {
    /// The successes.
    pub successes: u64,
    /// All trials.
    pub trials: u64,
}

impl Tally {
    /// Reads `59 of 59`; `None` for anything else, and for more successes than trials.
    pub fn parse(text: &str) -> Option<Self> {
        let (successes, trials) = text.split_once("of")?;
        let number = |text: &str| {
            let text = text.trim();
            text.bytes().all(|byte| byte.is_ascii_digit()).then(|| text.parse::<u64>().ok()).flatten()
        };
        let tally = Self { successes: number(successes)?, trials: number(trials)? };
        (tally.successes <= tally.trials).then_some(tally)
    }

    /// Judges whether the trials show the reliability at the confidence: met if the exact one-sided lower limit (Clopper and Pearson) is
    /// at least the reliability; not met if the upper one is at most that, so that they show the contrary; else they are too few.
    ///
    /// Decided in whole numbers, up to some thousands of trials at least; where that would take too long, in floating point, and then
    /// nearer than a billionth to the line decides nothing.
    pub fn judge(self, reliability: &Rational, confidence: &Rational) -> Conformity {
        let Self { successes, trials } = self;
        let big = |share: &Rational| BigRational::new(share.numer(), share.denom());
        let failed = Rational::one() - reliability;
        let failures = trials - successes;
        let shown = trials_show(successes, trials, &big(reliability), &big(confidence));
        match shown.or_else(|| lies_above(successes, trials, reliability, confidence)) {
            None => return Conformity::Inconclusive(Why::OnTheLimit),
            Some(true) => return Conformity::Met,
            Some(false) => {}
        }
        let contrary = trials_show(failures, trials, &big(&failed), &big(confidence));
        match contrary.or_else(|| lies_above(failures, trials, &failed, confidence)) {
            None => Conformity::Inconclusive(Why::OnTheLimit),
            Some(true) => Conformity::NotMet,
            Some(false) => Conformity::Inconclusive(Why::TooFewTrials),
        }
    }

    /// How many further trials without a failure would show it, up to ten million.
    pub fn further(self, reliability: &Rational, confidence: &Rational) -> Option<u64> {
        further_trials(self.successes, self.trials, reliability.to_f64()?, confidence.to_f64()?, 10_000_000)
    }
}

/// The same in floating point; `None` where it is too near to tell.
fn lies_above(successes: u64, trials: u64, share: &Rational, confidence: &Rational) -> Option<bool> {
    let (limit, share) = (reliability_lower_limit(successes, trials, confidence.to_f64()?)?, share.to_f64()?);
    ((limit - share).abs() > 1e-9 * share).then_some(limit >= share)
}
