//! Propagation of distributions by trials (JCGM 101:2008).

use rayon::prelude::*;

use super::correlated::{Correlation, Mixing, Uncorrelatable};
use super::random::Stream;
use super::sample::{mean, quantile, shortest_interval, standard_deviation, symmetric_interval};
use super::shape::Distribution;

/// An input: what is drawn for it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Draw {
    /// The estimate.
    pub middle: f64,
    /// The standard uncertainty.
    pub standard: f64,
    /// How possible values are spread about it.
    pub distribution: Distribution,
}

/// How many trials are made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trials {
    /// So many.
    Fixed(usize),
    /// Batches until mean, standard uncertainty and interval are known to so many significant digits of the standard uncertainty, or as
    /// many as `most` were made (JCGM 101:2008, 7.9).
    Adaptive {
        /// One or two.
        digits: u32,
        /// No more than this.
        most: usize,
    },
}

/// How trials are made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Where the random numbers begin: the same seed gives the same digits, on any machine and any number of cores.
    pub seed: u64,
    /// How many.
    pub trials: Trials,
    /// The share that the intervals cover.
    pub coverage: f64,
}

/// No more trials than this are made, whatever is asked.
pub const MOST_TRIALS: usize = 5_000_000;

/// How many trials are worked out together: columns of so many doubles stay in the cache.
pub const BLOCK: usize = 1024;

/// The trials of one batch of the adaptive way: 10^4 or more (JCGM 101:2008, 7.9.4 b), in whole blocks.
const BATCH: usize = 10 * BLOCK;

/// What trials came to.
#[derive(Clone, Debug)]
pub struct Simulation {
    /// The mean of all finite values.
    pub mean: f64,
    /// Their standard deviation.
    pub standard: f64,
    /// The interval that leaves as much below as above.
    pub symmetric: (f64, f64),
    /// The shortest interval.
    pub shortest: (f64, f64),
    /// The trials made.
    pub trials: usize,
    /// How many of them gave no finite number. They are in nothing else here, so that nothing else means much if there are any.
    pub not_finite: usize,
    /// Whether the digits asked for were reached; true for a fixed number of trials.
    pub stable: bool,
    /// Whether there are too few trials for the coverage: fewer than 10^4/(1 − p) (JCGM 101:2008, 7.2.2).
    pub few: bool,
    /// The finite values in order.
    sorted: Vec<f64>,
}

/// Values counted by equal steps.
#[derive(Clone, Debug, PartialEq)]
pub struct Histogram {
    /// Where the first step begins.
    pub low: f64,
    /// Where the last one ends.
    pub high: f64,
    /// How many values each step holds; its upper end belongs to the next.
    pub counts: Vec<u64>,
    /// How many values lie outside.
    pub outside: u64,
}

/// A model: the values of its result for columns of its inputs, all of one length.
pub type Model<'a> = dyn Fn(&[&[f64]], &mut [f64]) + Sync + 'a;

/// Makes trials of a model: draws its inputs, works it out, and takes stock.
///
/// # Errors
/// Correlations that cannot be drawn.
pub fn simulate(
    model: &Model<'_>,
    draws: &[Draw],
    correlations: &[Correlation],
    settings: &Settings,
) -> Result<Simulation, Uncorrelatable> {
    let is_normal: Vec<bool> = draws.iter().map(|draw| draw.distribution == Distribution::Normal).collect();
    let trial = Trial { model, draws, mixing: Mixing::new(correlations, &is_normal)?, seed: settings.seed };
    Ok(match settings.trials {
        Trials::Fixed(count) => {
            let values = trial.values(0, count.clamp(1, MOST_TRIALS));
            Simulation::of(values, settings.coverage, true)
        }
        Trials::Adaptive { digits, most } => {
            adaptive(&trial, digits, most.clamp(BATCH, MOST_TRIALS), settings.coverage)
        }
    })
}

struct Trial<'a> {
    model: &'a Model<'a>,
    draws: &'a [Draw],
    mixing: Mixing,
    seed: u64,
}

impl Trial<'_> {
    /// The values of so many trials from a block on, in their order.
    fn values(&self, first: usize, count: usize) -> Vec<f64> {
        let mut values = vec![0.0; count];
        let columns = || vec![Vec::with_capacity(BLOCK); self.draws.len()];
        values
            .par_chunks_mut(BLOCK)
            .enumerate()
            .for_each_init(columns, |columns, (block, out)| self.block((first + block) as u64, columns, out));
        values
    }

    fn block(&self, block: u64, columns: &mut [Vec<f64>], out: &mut [f64]) {
        let mut stream = Stream::new(self.seed, block);
        for (draw, column) in self.draws.iter().zip(&mut *columns) {
            column.resize(out.len(), 0.0);
            stream.fill(draw.distribution, column);
        }
        self.mixing.apply(columns);
        for (draw, column) in self.draws.iter().zip(&mut *columns) {
            column.iter_mut().for_each(|cell| *cell = draw.middle + draw.standard * *cell);
        }
        let columns: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
        (self.model)(&columns, out);
    }
}

/// Batch after batch until what is asked for is stable (JCGM 101:2008, 7.9.4).
fn adaptive(trial: &Trial<'_>, digits: u32, most: usize, coverage: f64) -> Simulation {
    // 100/(1 − p) values at least show where an interval ends.
    let least = (100.0 / (1.0 - coverage)).min(MOST_TRIALS as f64) as usize;
    let batch = least.max(BATCH).div_ceil(BLOCK) * BLOCK;
    let mut values: Vec<f64> = Vec::new();
    let mut batches: Vec<[f64; 4]> = Vec::new();
    loop {
        let own = trial.values(values.len() / BLOCK, batch);
        values.extend_from_slice(&own);
        let found = Simulation::of(own, coverage, true);
        batches.push([found.mean, found.standard, found.symmetric.0, found.symmetric.1]);
        let enough = batches.len() > 1 && is_stable(&batches, digits);
        if enough || values.len() + batch > most.max(2 * batch) {
            return Simulation::of(values, coverage, enough);
        }
    }
}

/// Whether twice the standard deviation of the mean over batches of each of the four is within the tolerance.
fn is_stable(batches: &[[f64; 4]], digits: u32) -> bool {
    let count = batches.len() as f64;
    let spread = |of: fn(&[f64; 4]) -> f64| {
        standard_deviation(&batches.iter().map(of).collect::<Vec<f64>>()).unwrap_or(f64::NAN)
    };
    // The standard uncertainty of all values: what they vary within batches and between them.
    let between = spread(|batch| batch[0]);
    let within = batches.iter().map(|batch| batch[1] * batch[1]).sum::<f64>() / count;
    let standard = libm::sqrt(within + between * between * (count - 1.0) / count);
    // Where nothing varies there is no digit to wait for.
    let Some(tolerance) = numerical_tolerance(standard, digits) else { return standard == 0.0 };
    let each: [fn(&[f64; 4]) -> f64; 4] = [|of| of[0], |of| of[1], |of| of[2], |of| of[3]];
    each.into_iter().all(|of| 2.0 * spread(of) / libm::sqrt(count) <= tolerance)
}

impl Simulation {
    fn of(mut values: Vec<f64>, coverage: f64, stable: bool) -> Self {
        let trials = values.len();
        if values.iter().any(|value| !value.is_finite()) {
            values.retain(|value| value.is_finite());
        }
        // Before they are put in order, so that the sums do not hang on the sorting.
        let (mean, standard) = (mean(&values).unwrap_or(f64::NAN), standard_deviation(&values).unwrap_or(f64::NAN));
        values.par_sort_unstable_by(f64::total_cmp);
        let none = (f64::NAN, f64::NAN);
        Self {
            mean,
            standard,
            symmetric: symmetric_interval(&values, coverage).unwrap_or(none),
            shortest: shortest_interval(&values, coverage).unwrap_or(none),
            trials,
            not_finite: trials - values.len(),
            stable,
            few: (trials as f64) * (1.0 - coverage) < 1e4 * (1.0 - 1e-12),
            sorted: values,
        }
    }

    /// The share of the finite values that lie below a limit.
    pub fn share_below(&self, limit: f64) -> f64 {
        self.sorted.partition_point(|value| *value < limit) as f64 / self.sorted.len() as f64
    }

    /// The share of the finite values that lie above a limit.
    pub fn share_above(&self, limit: f64) -> f64 {
        (self.sorted.len() - self.sorted.partition_point(|value| *value <= limit)) as f64 / self.sorted.len() as f64
    }

    /// The value below which a share of the finite values lies; `None` if there are none.
    pub fn quantile(&self, share: f64) -> Option<f64> {
        quantile(&self.sorted, share)
    }

    /// The finite values counted in so many steps, at most 1000, over all but the outermost of them: a few far away would leave
    /// one bar. `None` where they are all the same, or there are none.
    pub fn histogram(&self, steps: usize) -> Option<Histogram> {
        let (low, high) = (self.quantile(0.0005)?, self.quantile(0.9995)?);
        let steps = steps.clamp(1, 1000);
        let width = (high - low) / steps as f64;
        if !(width > 0.0 && width.is_finite()) {
            return None;
        }
        let mut counts = vec![0; steps];
        let mut outside = 0;
        for value in &self.sorted {
            let place = (value - low) / width;
            // The last step holds its end.
            let step = if *value == high { steps - 1 } else { place as usize };
            match counts.get_mut(step).filter(|_| place >= 0.0) {
                Some(count) => *count += 1,
                None => outside += 1,
            }
        }
        Some(Histogram { low, high, counts, outside })
    }
}

/// The numerical tolerance δ of a standard uncertainty that is stated to so many significant digits: half a unit in the last of them
/// (JCGM 101:2008, 7.9.2). `None` where there is no such digit.
pub fn numerical_tolerance(standard: f64, digits: u32) -> Option<f64> {
    if !(standard > 0.0 && standard.is_finite()) || digits == 0 || digits > 15 {
        return None;
    }
    // Written out, because 0.0999 to one digit is 0.1, whose last digit is another one.
    let written = format!("{standard:.*e}", digits as usize - 1);
    let exponent: i32 = written.split_once('e')?.1.parse().ok()?;
    format!("5e{}", exponent - digits as i32).parse().ok()
}

/// How an interval of the first order compares with one of trials (JCGM 101:2008, 8.1).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Validation {
    /// How far apart the lower ends are.
    pub low: f64,
    /// How far apart the upper ends are.
    pub high: f64,
    /// The tolerance for both.
    pub tolerance: f64,
}

impl Validation {
    /// Whether the first order is confirmed in this case.
    pub fn holds(&self) -> bool {
        self.low <= self.tolerance && self.high <= self.tolerance
    }
}

/// Compares the interval `middle ± half` of the first order, which has the standard uncertainty `standard`, with the symmetric one of trials. The tolerance is that of the
/// standard uncertainty to so many digits. `None` where there is no uncertainty to have digits.
pub fn validate(middle: f64, half: f64, standard: f64, simulation: &Simulation, digits: u32) -> Option<Validation> {
    let tolerance = numerical_tolerance(standard, digits)?;
    let (low, high) = simulation.symmetric;
    Some(Validation { low: (middle - half - low).abs(), high: (middle + half - high).abs(), tolerance })
}
