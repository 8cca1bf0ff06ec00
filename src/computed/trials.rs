//! Where first order is poor: the result worked out in many trials, and held against it (JCGM 101:2008, clause 8).

use crate::calc::Worked;
use crate::quantity::{Rational, Shape, Uncertainty};
use crate::statistics::{
    BLOCK, Correlation, Distribution, Draw, Settings, Simulation, Trials, Uncorrelatable, Validation, simulate,
    validate,
};

/// The departure from a straight line, in standard uncertainties of the result, from which on trials are made.
pub const BENT: f64 = 0.1;
/// Fewer degrees of freedom than this, in a source that brings in more than so many percent of the variance, are another reason: the
/// formula of Welch and Satterthwaite then states too little.
const FEW: f64 = 10.0;
const MUCH: f64 = 5.0;
/// What an expanded uncertainty covers.
pub const COVERAGE: f64 = 0.9545;
/// Most trials that a verdict waits for.
const MOST: usize = 1_000_000;
/// The trials of a first look.
const LOOK: usize = 4 * BLOCK;
/// Significant digits of the standard uncertainty to which trials must be stable and first order must agree.
const DIGITS: u32 = 1;
/// The seed: the same project gives the same digits.
const SEED: u64 = 101;

/// A result in trials.
#[derive(Clone, Debug)]
pub struct Tried {
    /// What the trials came to, in coherent SI units.
    pub simulation: Simulation,
    /// How first order compares; none where it has no uncertainty to have digits.
    pub validation: Option<Validation>,
    /// Whether the interval of first order reaches as far as that of the trials on both sides, but for the tolerance of the comparison.
    pub covered: bool,
}

impl Tried {
    /// Whether first order is confirmed (clause 8.1.3).
    pub fn agrees(&self) -> bool {
        self.simulation.not_finite == 0 && self.validation.is_some_and(|own| own.holds())
    }

    /// Whether first order states less than there is, so that the trials decide. Where it states more it stands: that is safe.
    pub fn decides(&self) -> bool {
        self.simulation.not_finite > 0 || !self.covered
    }
}

/// The trials of a result whose first order may be poor; none where it is not, or nothing in it is uncertain.
///
/// # Errors
/// Correlations that cannot be drawn.
pub fn where_doubtful(worked: &Worked) -> Result<Option<Tried>, Uncorrelatable> {
    let few = |own: &crate::calc::Contribution| {
        let uncertainty = own.source.quantity.uncertainty.as_ref();
        let freedom = uncertainty.and_then(|own| own.freedom.as_ref()).and_then(Rational::to_f64);
        freedom.is_some_and(|freedom| freedom < FEW) && own.percent > MUCH && own.percent < 100.0 - MUCH
    };
    let doubtful = || worked.curvature() > BENT || worked.budget().contributions.iter().any(few);
    if worked.quantity.uncertainty.is_none() || !doubtful() {
        return Ok(None);
    }
    // A look first: where first order states enough, that is all that is asked.
    if !tried(worked, Trials::Fixed(LOOK))?.decides() {
        return Ok(None);
    }
    tried(worked, Trials::Adaptive { digits: DIGITS, most: MOST }).map(Some)
}

/// So many trials of a result.
///
/// # Errors
/// Correlations that cannot be drawn.
pub fn tried(worked: &Worked, trials: Trials) -> Result<Tried, Uncorrelatable> {
    let sources = worked.sources();
    let matrix = worked.matrix();
    let mut correlations: Vec<Correlation> = Vec::new();
    for (at, row) in matrix.iter().enumerate() {
        correlations
            .extend(row.iter().enumerate().take(at).filter(|(_, r)| **r != 0.0).map(|(other, r)| (at, other, *r)));
    }
    let correlated = |at: usize| correlations.iter().any(|(one, other, _)| *one == at || *other == at);
    let draws: Vec<Draw> = sources
        .iter()
        .enumerate()
        .map(|(at, source)| Draw {
            middle: source.quantity.si_f64(),
            standard: source.quantity.uncertainty.as_ref().and_then(|own| own.standard.to_f64()).unwrap_or(0.0),
            // What a correlation means between other spreads is not known: those are drawn as normal.
            distribution: match &source.quantity.uncertainty {
                Some(own) if !correlated(at) => distribution(own),
                _ => Distribution::Normal,
            },
        })
        .collect();
    let settings = Settings { seed: SEED, trials, coverage: COVERAGE };
    let simulation = simulate(&|columns, out| worked.columns(columns, out), &draws, &correlations, &settings)?;
    let validation = worked.quantity.uncertainty.as_ref().and_then(|own| {
        let (half, standard) = (own.expanded.to_f64()?, own.standard.to_f64()?);
        validate(worked.quantity.si_f64(), half, standard, &simulation, DIGITS)
    });
    let covered = validation.is_some_and(|own| {
        let value = worked.quantity.si_f64();
        let half = worked.quantity.uncertainty.as_ref().and_then(|own| own.expanded.to_f64()).unwrap_or(0.0);
        let (low, high) = simulation.symmetric;
        low >= value - half - own.tolerance && high <= value + half + own.tolerance
    });
    Ok(Tried { simulation, validation, covered })
}

fn distribution(own: &Uncertainty) -> Distribution {
    match (own.shape, own.freedom.as_ref().and_then(Rational::to_f64)) {
        (Shape::Normal, None) => Distribution::Normal,
        (Shape::Normal, Some(freedom)) => Distribution::StudentT { freedom },
        (Shape::Rectangular, _) => Distribution::Rectangular,
        (Shape::Triangular, _) => Distribution::Triangular,
        (Shape::UShaped, _) => Distribution::UShaped,
    }
}

/// The result with the uncertainty of its trials: U reaches from the value to the farther end of the interval that they cover, so that
/// it covers them on both sides. None where they came to no number.
pub fn by_trials(worked: &Worked, tried: &Tried) -> Option<Worked> {
    let value = worked.quantity.si_f64();
    let (low, high) = tried.simulation.symmetric;
    let expanded = Rational::from_f64(f64::max(value - low, high - value).max(0.0))?;
    let standard = &expanded / Rational::from_integer(2.into());
    let mut own = worked.clone();
    own.quantity.uncertainty = Some(Uncertainty { expanded, ..Uncertainty::from_standard(standard) });
    own.quantity.approximate = true;
    Some(own)
}
