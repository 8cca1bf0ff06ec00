//! Where the uncertainty of a result comes from.

use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use super::derive::Sensitivity;
use super::tape::Tape;
use super::{Correlations, Source};
use crate::quantity::{Rational, Uncertainty};
use crate::statistics::welch_satterthwaite;

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

/// One uncertain source, as it acts on the result.
struct Term<'a> {
    source: &'a Arc<Source>,
    uncertainty: &'a Uncertainty,
    sensitivity: f64,
    /// c·u with its sign.
    change: f64,
    exact: Option<Rational>,
}

/// The variance of a result and what went into it.
pub(super) struct Combined<'a> {
    terms: Vec<Term<'a>>,
    /// Twice the products of each pair of terms that vary together, by the coefficient.
    pairs: Vec<(usize, usize, Rational)>,
    groups: Vec<(String, Vec<usize>, bool)>,
}

impl<'a> Combined<'a> {
    pub(super) fn of(tape: &'a Tape, sensitivities: &[Sensitivity], correlations: &Correlations) -> Self {
        let terms: Vec<Term<'a>> = sensitivities.iter().filter_map(|sensitivity| term(tape, sensitivity)).collect();
        let pairs = stated(&terms, correlations);
        let groups = grouped(&terms, &pairs);
        Self { terms, pairs, groups }
    }

    /// The only source that moves the result.
    pub(super) fn only(&self) -> Option<&Uncertainty> {
        let mut moving = self.terms.iter().filter(|term| term.change != 0.0);
        moving.next().filter(|_| moving.next().is_none()).map(|term| term.uncertainty)
    }

    /// Each term's part of the variance: its square and its half of the products with others.
    fn parts(&self) -> Vec<f64> {
        let change = |at: usize| self.terms[at].change;
        let mut parts: Vec<f64> = self.terms.iter().map(|term| term.change * term.change).collect();
        for (a, b, r) in &self.pairs {
            let product = r.to_f64().unwrap_or(0.0) * change(*a) * change(*b);
            parts[*a] += product;
            parts[*b] += product;
        }
        for (_, members, _) in self.groups.iter().filter(|(_, _, together)| *together) {
            let sum: f64 = members.iter().map(|at| change(*at)).sum();
            members.iter().for_each(|at| parts[*at] += change(*at) * (sum - change(*at)));
            // What is stated of a pair holds, and is counted above.
            for (a, b, _) in self.pairs.iter().filter(|(a, b, _)| members.contains(a) && members.contains(b)) {
                parts[*a] -= change(*a) * change(*b);
                parts[*b] -= change(*a) * change(*b);
            }
        }
        parts
    }

    /// The standard uncertainty in doubles.
    pub(super) fn standard(&self) -> f64 {
        if let [only] = self.terms.as_slice() {
            return only.change.abs();
        }
        self.parts().iter().sum::<f64>().max(0.0).sqrt()
    }

    /// The very standard uncertainty and whether it is one; to twenty digits where the variance is rational and its root is not.
    pub(super) fn exact_standard(&self) -> Option<(Rational, bool)> {
        if self.terms.len() > MAX_EXACT_TERMS {
            return None;
        }
        let changes = self.terms.iter().map(|term| term.exact.as_ref()).collect::<Option<Vec<_>>>()?;
        if let [only] = changes.as_slice() {
            return Some((only.abs(), true));
        }
        let two = Rational::from_integer(2.into());
        let mut products: Vec<Rational> = changes.iter().map(|change| *change * *change).collect();
        products.extend(self.pairs.iter().map(|(a, b, r)| &two * r * changes[*a] * changes[*b]));
        for (_, members, _) in self.groups.iter().filter(|(_, _, together)| *together) {
            for (at, a) in members.iter().enumerate() {
                let others = members.iter().skip(at + 1).filter(|b| !self.is_stated(*a, **b));
                products.extend(others.map(|b| &two * changes[*a] * changes[*b]));
            }
        }
        let mut variance = Rational::zero();
        for product in products {
            if variance.bits() + product.bits() > MAX_EXACT_BITS {
                return None;
            }
            variance = variance + product;
        }
        Some(match variance.exact_root(2) {
            Some(root) => (root, true),
            None => (variance.square_root(), false),
        })
    }

    fn is_stated(&self, a: usize, b: usize) -> bool {
        self.pairs.iter().any(|(one, other, _)| (*one, *other) == (a, b) || (*one, *other) == (b, a))
    }

    fn is_correlated(&self) -> bool {
        self.pairs.iter().any(|(_, _, r)| !r.is_zero()) || self.groups.iter().any(|(_, _, together)| *together)
    }

    /// The effective degrees of freedom; none where they are infinite or not defined.
    pub(super) fn freedom(&self) -> Option<f64> {
        if self.is_correlated() {
            return None;
        }
        let contributions: Vec<(f64, Option<f64>)> = self
            .terms
            .iter()
            .map(|term| (term.change.abs(), term.uncertainty.freedom.as_ref().and_then(Rational::to_f64)))
            .collect();
        welch_satterthwaite(&contributions)
    }

    /// The budget to show.
    pub(super) fn budget(&self) -> Budget {
        let (standard, parts) = (self.standard(), self.parts());
        let variance: f64 = parts.iter().sum();
        let percent = |part: f64| if variance > 0.0 { 100.0 * part / variance } else { 0.0 };
        let mut contributions: Vec<Contribution> = self
            .terms
            .iter()
            .zip(&parts)
            .map(|(term, part)| Contribution {
                source: Arc::clone(term.source),
                sensitivity: term.sensitivity,
                standard: term.change.abs(),
                percent: percent(*part),
            })
            .collect();
        contributions.sort_by(|a, b| b.standard.total_cmp(&a.standard).then_with(|| a.source.key.cmp(&b.source.key)));
        let finite = self.terms.iter().any(|term| term.uncertainty.freedom.is_some() && term.change != 0.0);
        let expanded = |term: &Term<'_>| term.uncertainty.expanded.to_f64().unwrap_or(f64::INFINITY);
        Budget {
            standard,
            freedom: self.freedom(),
            freedom_undefined: finite && self.is_correlated(),
            contributions,
            worst_case: self.terms.iter().map(|term| (term.sensitivity * expanded(term)).abs()).sum(),
            shared: self
                .groups
                .iter()
                .map(|(instrument, members, together)| self.shared(instrument, members, *together))
                .collect(),
        }
    }

    fn shared(&self, instrument: &str, members: &[usize], together: bool) -> Shared {
        let keys = members.iter().map(|at| self.terms[*at].source.key.clone()).collect();
        Shared { instrument: instrument.to_owned(), keys, together }
    }

    /// The coefficient that holds between two sources, by their keys.
    pub(super) fn coefficients(&self) -> HashMap<(&str, &str), f64> {
        let key = |at: usize| self.terms[at].source.key.as_str();
        let mut all = HashMap::new();
        for (_, members, _) in self.groups.iter().filter(|(_, _, together)| *together) {
            for a in members {
                for b in members.iter().filter(|b| *b != a) {
                    all.insert((key(*a), key(*b)), 1.0);
                }
            }
        }
        for (a, b, r) in &self.pairs {
            let r = r.to_f64().unwrap_or(0.0);
            all.insert((key(*a), key(*b)), r);
            all.insert((key(*b), key(*a)), r);
        }
        all
    }
}

/// More sources than this, or longer numbers, are added up in doubles.
const MAX_EXACT_TERMS: usize = 64;
const MAX_EXACT_BITS: u64 = 1536;

fn term<'a>(tape: &'a Tape, sensitivity: &Sensitivity) -> Option<Term<'a>> {
    let source = &tape.sources[sensitivity.source];
    let uncertainty = source.quantity.uncertainty.as_ref()?;
    let exact = sensitivity.exact.as_ref().filter(|_| !source.quantity.approximate);
    let exact = exact.map(|sensitivity| sensitivity * &uncertainty.standard);
    let standard = uncertainty.standard.to_f64().unwrap_or(f64::INFINITY);
    // A source that cannot move the result does not, however uncertain it is.
    let change = if standard == 0.0 { 0.0 } else { sensitivity.double * standard };
    let change = exact.as_ref().and_then(Rational::to_f64).unwrap_or(change);
    Some(Term { source, uncertainty, sensitivity: sensitivity.double, change, exact })
}

/// The pairs of terms of which a coefficient is stated.
fn stated(terms: &[Term<'_>], correlations: &Correlations) -> Vec<(usize, usize, Rational)> {
    if correlations.pairs().next().is_none() {
        return Vec::new();
    }
    let places: HashMap<&str, usize> =
        terms.iter().enumerate().map(|(at, term)| (term.source.key.as_str(), at)).collect();
    let pairs = correlations.pairs();
    pairs.filter_map(|(a, b, r)| Some((*places.get(a)?, *places.get(b)?, r.clone()))).collect()
}

/// The instruments with several terms, and whether these are taken to be off together: if that gives the larger variance.
fn grouped(terms: &[Term<'_>], pairs: &[(usize, usize, Rational)]) -> Vec<(String, Vec<usize>, bool)> {
    let mut groups: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (at, term) in terms.iter().enumerate() {
        if let Some(instrument) = &term.source.instrument {
            groups.entry(instrument).or_default().push(at);
        }
    }
    let several = groups.into_iter().filter(|(_, members)| members.len() > 1);
    several
        .filter_map(|(instrument, members)| {
            let change = |at: usize| terms[at].change;
            let sum: f64 = members.iter().map(|at| change(*at)).sum();
            let squares: f64 = members.iter().map(|at| change(*at) * change(*at)).sum();
            let inside = pairs.iter().filter(|(a, b, _)| members.contains(a) && members.contains(b));
            let (count, known) =
                inside.fold((0, 0.0), |(count, sum), (a, b, _)| (count + 1, sum + 2.0 * change(*a) * change(*b)));
            let open = members.len() * (members.len() - 1) / 2 - count;
            (open > 0).then(|| (instrument.to_owned(), members, sum * sum - squares - known > 0.0))
        })
        .collect()
}
