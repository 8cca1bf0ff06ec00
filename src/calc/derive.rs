//! Exact derivatives of a result by every source, in one sweep backwards over its tape.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use super::evaluate::{Effort, Values, fold_doubles};
use super::functions::Function;
use super::tape::{Op, Slot, Tape};
use crate::quantity::Rational;

/// How a result changes with a source.
#[derive(Clone, Debug)]
pub(super) struct Sensitivity {
    /// The source, by its place in [`Tape::sources`].
    pub source: usize,
    pub double: f64,
    /// The very derivative, where it is rational and nothing before was inexact.
    pub exact: Option<Rational>,
}

/// The derivative that has come together at an operation so far.
#[derive(Clone)]
struct Slope {
    double: f64,
    exact: Option<Rational>,
}

/// Most operations that are gone through backwards for all results of a calculation together; those with long numbers count for several.
const MAX_VISITS: usize = 500_000;

/// What the sweeps of one calculation share: how much they may cost.
pub(super) struct Sweep {
    effort: Effort,
    visits: usize,
}

impl Sweep {
    pub(super) fn new() -> Self {
        Self { effort: Effort::new(), visits: 0 }
    }

    /// Whether it has cost too much; then nothing more is to be asked of it.
    pub(super) fn is_spent(&self) -> bool {
        self.visits > MAX_VISITS
    }

    /// The derivatives of `root` by the sources that move it, those without an uncertainty only if `all`; in the order of
    /// [`Tape::sources`]. Where a function has a kink, that of the branch that was taken. None if it would cost too much.
    pub(super) fn sensitivities(
        &mut self,
        tape: &Tape,
        values: &Values,
        root: Slot,
        all: bool,
    ) -> Option<Vec<Sensitivity>> {
        // From the end of the tape on, and only what moves the root: each of many results on a long tape is swept.
        let mut slopes = BTreeMap::from([(root, Slope { double: 1.0, exact: Some(Rational::one()) })]);
        let mut found = Vec::new();
        while let Some((slot, mine)) = slopes.pop_last() {
            self.visits += 1 + length(tape, slot, &mine);
            if self.is_spent() {
                return None;
            }
            if let Op::Source(source) = &tape.entries[slot].op {
                found.push(Sensitivity { source: *source, double: mine.double, exact: mine.exact });
                continue;
            }
            if mine.double == 0.0 && mine.exact.as_ref().is_none_or(Rational::is_zero) {
                continue;
            }
            let effort = &self.effort;
            let looked = Looked { values, wanted: mine.exact.is_some() };
            partials(tape, &looked, slot, &mut |operand, double, exact| {
                if values.moves(operand, all) {
                    add(slopes.entry(operand), &mine, double, exact, effort);
                }
            });
        }
        found.sort_unstable_by_key(|sensitivity| sensitivity.source);
        Some(found)
    }
}

/// How many words beyond one are worked on at an operation: those of its derivative, and of the uncertainty of a source.
fn length(tape: &Tape, slot: Slot, mine: &Slope) -> usize {
    let words = |number: &Rational| usize::try_from(number.bits() / 64).unwrap_or(usize::MAX);
    let own = match &tape.entries[slot].op {
        Op::Source(source) => tape.sources[*source].quantity.uncertainty.as_ref(),
        _ => None,
    };
    mine.exact.as_ref().map_or(0, words) + own.map_or(0, |own| words(&own.standard))
}

/// Adds what an operation passes on to one of its operands.
fn add(target: Entry<'_, Slot, Slope>, mine: &Slope, double: f64, exact: Option<Rational>, effort: &Effort) {
    let passed = mine.exact.as_ref().zip(exact).filter(|(mine, own)| effort.allows(mine.bits() + own.bits()));
    let passed = passed.map(|(mine, own)| mine * own);
    match target {
        Entry::Vacant(target) => {
            target.insert(Slope { double: mine.double * double, exact: passed });
        }
        Entry::Occupied(mut target) => {
            let sum = target.get_mut();
            sum.double += mine.double * double;
            let both = sum.exact.take().zip(passed);
            sum.exact =
                both.filter(|(sum, passed)| effort.allows(sum.bits() + passed.bits())).map(|(sum, own)| sum + own);
        }
    }
}

/// The results of the tape; exact ones only where they are still of use.
struct Looked<'a> {
    values: &'a Values,
    wanted: bool,
}

impl Looked<'_> {
    fn double(&self, slot: Slot) -> f64 {
        self.values.double(slot)
    }

    fn exact(&self, slot: Slot) -> Option<&Rational> {
        if self.wanted { self.values.exact(slot) } else { None }
    }
}

/// Tells the derivative of an operation by each of its operands.
fn partials(tape: &Tape, values: &Looked<'_>, slot: Slot, tell: &mut dyn FnMut(Slot, f64, Option<Rational>)) {
    let (double, exact) = (|slot: Slot| values.double(slot), |slot: Slot| values.exact(slot));
    let one = || Some(Rational::one());
    let minus_one = || Some(-Rational::one());
    match &tape.entries[slot].op {
        Op::Constant(_) | Op::Source(_) | Op::Compare(..) | Op::Not(_) | Op::Both(..) | Op::Either(..) => {}
        Op::Negative(a) => tell(*a, -1.0, minus_one()),
        Op::Add(a, b) => {
            tell(*a, 1.0, one());
            tell(*b, 1.0, one());
        }
        Op::Subtract(a, b) => {
            tell(*a, 1.0, one());
            tell(*b, -1.0, minus_one());
        }
        Op::Multiply(a, b) => {
            tell(*a, double(*b), exact(*b).cloned());
            tell(*b, double(*a), exact(*a).cloned());
        }
        Op::Divide(a, b) => {
            let divisor = exact(*b).filter(|divisor| !divisor.is_zero());
            tell(*a, 1.0 / double(*b), divisor.map(Rational::recip));
            let by_divisor = exact(slot).zip(divisor).map(|(quotient, divisor)| -(quotient / divisor));
            tell(*b, -double(slot) / double(*b), by_divisor);
        }
        Op::Power(a, n, d) => {
            let (by, exactly) = power(values, slot, *a, *n, *d);
            tell(*a, by, exactly);
        }
        Op::Raise(a, b) => {
            let (base, exponent, power) = (double(*a), double(*b), double(slot));
            let by_base = if base == 0.0 { whole_power(base, exponent) } else { exponent * power / base };
            let exactly =
                exact(*a).filter(|base| !base.is_zero()).and_then(|base| Some(exact(*b)? * exact(slot)? / base));
            tell(*a, by_base, exactly);
            tell(*b, if power == 0.0 { 0.0 } else { power * libm::log(base) }, None);
        }
        Op::Apply(function, a) => {
            let (by, exactly) = apply(values, slot, *function, *a);
            tell(*a, by, exactly);
        }
        Op::Angle(y, x) => {
            let (up, along) = (double(*y), double(*x));
            let square = up * up + along * along;
            tell(*y, along / square, None);
            tell(*x, -up / square, None);
        }
        Op::Fold(function, all) => fold(values, slot, *function, all, tell),
        Op::If(condition, yes, no) => {
            let taken = if double(*condition) == 0.0 { *no } else { *yes };
            tell(taken, 1.0, one());
        }
        Op::Look(curve, x) => {
            let slope = curve.derivative(double(*x)).unwrap_or(f64::NAN);
            tell(*x, slope, exact(*x).and_then(|x| curve.exact_derivative(x)));
        }
        Op::Integral(curve, a, b) => {
            let height =
                |at: Slot| (curve.value(double(at)).unwrap_or(f64::NAN), exact(at).and_then(|x| curve.exact_value(x)));
            let ((low, low_exact), (high, high_exact)) = (height(*a), height(*b));
            tell(*a, -low, low_exact.map(|low| -low));
            tell(*b, high, high_exact);
        }
    }
}

/// The derivative of a power at zero, where the usual form divides by it.
fn whole_power(base: f64, exponent: f64) -> f64 {
    if exponent == 0.0 { 0.0 } else { exponent * libm::pow(base, exponent - 1.0) }
}

fn power(values: &Looked<'_>, slot: Slot, a: Slot, n: i32, d: i32) -> (f64, Option<Rational>) {
    let base = values.double(a);
    let exponent = f64::from(n) / f64::from(d);
    if base == 0.0 {
        let exact = match (n, d) {
            (1, 1) => Some(Rational::one()),
            _ if n > d || n == 0 => Some(Rational::zero()),
            _ => None,
        };
        return (whole_power(base, exponent), exact);
    }
    let exact = values.exact(slot).zip(values.exact(a)).filter(|(_, base)| !base.is_zero());
    let exact = exact.map(|(power, base)| Rational::new(n.into(), d.into()) * power / base);
    (exponent * values.double(slot) / base, exact)
}

fn apply(values: &Looked<'_>, slot: Slot, function: Function, a: Slot) -> (f64, Option<Rational>) {
    let (x, y) = (values.double(a), values.double(slot));
    let by = match function {
        Function::Sqrt => return power(values, slot, a, 1, 2),
        Function::Cbrt => return power(values, slot, a, 1, 3),
        Function::Abs => {
            let negative = x < 0.0;
            let exact = if negative { -Rational::one() } else { Rational::one() };
            return (if negative { -1.0 } else { 1.0 }, Some(exact));
        }
        // Steps: flat but for the jumps, which the curvature shows.
        Function::Floor | Function::Ceil | Function::Round => return (0.0, Some(Rational::zero())),
        Function::Exp => y,
        Function::Ln => return (1.0 / x, values.exact(a).filter(|x| !x.is_zero()).map(Rational::recip)),
        Function::Log10 => std::f64::consts::LOG10_E / x,
        Function::Log2 => std::f64::consts::LOG2_E / x,
        Function::Sin => libm::cos(x),
        Function::Cos => -libm::sin(x),
        Function::Tan => 1.0 + y * y,
        Function::Asin => 1.0 / (1.0 - x * x).sqrt(),
        Function::Acos => -1.0 / (1.0 - x * x).sqrt(),
        Function::Atan => 1.0 / (1.0 + x * x),
        Function::Sinh => libm::cosh(x),
        Function::Cosh => libm::sinh(x),
        _ => 1.0 - y * y,
    };
    (by, None)
}

fn fold(
    values: &Looked<'_>,
    slot: Slot,
    function: Function,
    all: &[Slot],
    tell: &mut dyn FnMut(Slot, f64, Option<Rational>),
) {
    let count = all.len() as f64;
    match function {
        Function::Min | Function::Max => {
            // Of several alike the first, as the value itself is taken.
            let doubles = || all.iter().map(|slot| values.double(*slot));
            let extreme = if function == Function::Min {
                doubles().fold(f64::INFINITY, f64::min)
            } else {
                doubles().fold(f64::NEG_INFINITY, f64::max)
            };
            if let Some(&first) = all.iter().find(|slot| values.double(**slot) == extreme) {
                tell(first, 1.0, Some(Rational::one()));
            }
        }
        Function::Sum => all.iter().for_each(|slot| tell(*slot, 1.0, Some(Rational::one()))),
        Function::Mean => {
            let part = Rational::new(1.into(), all.len().into());
            all.iter().for_each(|slot| tell(*slot, 1.0 / count, Some(part.clone())));
        }
        Function::Median => {
            let mut sorted = all.to_vec();
            sorted.sort_by(|a, b| values.double(*a).total_cmp(&values.double(*b)));
            let half = || Some(Rational::new(1.into(), 2.into()));
            tell(sorted[(sorted.len() - 1) / 2], 0.5, half());
            tell(sorted[sorted.len() / 2], 0.5, half());
        }
        Function::Sd => {
            let doubles: Vec<f64> = all.iter().map(|slot| values.double(*slot)).collect();
            let (mean, sd) = (fold_doubles(Function::Mean, &doubles), values.double(slot));
            for (operand, x) in all.iter().zip(&doubles) {
                tell(*operand, (x - mean) / ((count - 1.0) * sd), None);
            }
        }
        _ => {
            let size = values.double(slot);
            for operand in all {
                let exact = values.exact(*operand).zip(values.exact(slot)).filter(|(_, size)| !size.is_zero());
                tell(*operand, values.double(*operand) / size, exact.map(|(x, size)| x / size));
            }
        }
    }
}
