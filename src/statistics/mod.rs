//! Distributions, tolerance factors and trials: numbers in, numbers out.
