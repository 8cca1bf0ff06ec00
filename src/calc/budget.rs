//! Where the uncertainty of a result comes from.

use std::sync::Arc;

use super::Source;

/// The uncertainty of a result and where it comes from, first order (JCGM 100:2008, 5). All numbers in coherent SI units.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// The combined standard uncertainty.
    pub standard: f64,
    /// The effective degrees of freedom by Welch and Satterthwaite (JCGM 100:2008, G.4.1); none: infinitely many.
    pub freedom: Option<f64>,
    /// True where inputs with finite degrees of freedom are correlated, for which the formula does not hold: then `freedom` is none.
    pub freedom_undefined: bool,
    /// What each uncertain source brings in, the largest first.
    pub contributions: Vec<Contribution>,
    /// How far the result moves, to first order, when every source is off by its whole U in the worse direction.
    pub worst_case: f64,
    /// Instruments from which several sources were read, of which nothing is stated about what they share.
    pub shared: Vec<Shared>,
}

/// What one source brings in.
#[derive(Clone, Debug, PartialEq)]
pub struct Contribution {
    /// The source.
    pub source: Arc<Source>,
    /// The sensitivity c: by how much the result changes for a change of the source by one SI unit.
    pub sensitivity: f64,
    /// |c|·u.
    pub standard: f64,
    /// Its part of the variance, in percent; with correlations its part of all products, which can be negative.
    pub percent: f64,
}

/// What was assumed of several readings of one instrument: whichever gives the larger uncertainty.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shared {
    /// The instrument.
    pub instrument: String,
    /// The keys of the sources that were read from it.
    pub keys: Vec<String>,
    /// True if they were taken to be off together, false if independently.
    pub together: bool,
}
