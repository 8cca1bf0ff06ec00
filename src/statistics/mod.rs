//! Distributions, tolerance factors, what trials show, and trials of our own: numbers in, numbers out.
//!
//! What it is for: coverage factors, the probability rule, criteria about samples and success runs, and the uncertainty of
//! calculations. Nothing here knows a unit, a file or a requirement. What is worked out in floating point uses `libm`, whose digits are the
//! same on every machine; what decides a success run is worked out in whole numbers ([`trials_show`]).
//!
//! The parts: `distribution` is normal and Student's t, `beta` what they and the binomial limits rest on, `gamma` what that of a standard
//! deviation rests on, `freedom` effective degrees of freedom,
//! `sample` mean, standard deviation and coverage intervals, `reliability` success runs, `spread` the non-central t distribution and `tolerance` the
//! factors of samples that follow from it; `shape` the distributions that an uncertainty may state, `random` draws from them, `correlated` mixes
//! the draws, `monte_carlo` makes trials of a model with them.

mod beta;
mod correlated;
mod distribution;
mod freedom;
mod gamma;
mod monte_carlo;
mod random;
mod reliability;
mod sample;
mod shape;
mod spread;
mod tolerance;

pub use correlated::{Correlation, Uncorrelatable};
pub use distribution::{normal_cdf, normal_density, normal_quantile, student_t_cdf, student_t_quantile};
pub use freedom::{freedom_of_doubt, welch_satterthwaite};
pub use monte_carlo::{
    BLOCK, Draw, Histogram, MOST_TRIALS, Model, Settings, Simulation, Trials, Validation, numerical_tolerance,
    simulate, validate,
};
pub use reliability::{further_trials, reliability_lower_limit, success_run, trials_show};
pub use sample::{mean, pooled, quantile, shortest_interval, standard_deviation, symmetric_interval};
pub use shape::Distribution;
pub use tolerance::{one_sided_factor, two_sided_factor};

#[cfg(test)]
mod tests;
#[cfg(test)]
mod trials_tests;
