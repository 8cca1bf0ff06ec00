//! Works a tape out, in doubles and, as far as every operation allows it, in rationals beside them.

use std::cell::Cell as Counter;
use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

use super::CalcError;
use super::functions::Function;
use super::syntax::Compare;
use super::tape::{Op, Slot, Tape};
use crate::quantity::{Quantity, Rational};
use crate::table::Curve;

/// A number that was worked out.
#[derive(Clone, Debug)]
pub(super) struct Number {
    /// The very value, where no operation was inexact. A truth is one or zero.
    pub exact: Option<Rational>,
    pub double: f64,
    /// How far rounding may have moved the double, to first order.
    pub blur: f64,
}

impl Number {
    fn exact(value: Rational) -> Self {
        let double = value.to_f64().unwrap_or(f64::NAN);
        Self { exact: Some(value), double, blur: 0.0 }
    }

    fn truth(truth: bool) -> Self {
        Self::exact(if truth { Rational::one() } else { Rational::zero() })
    }

    pub(super) fn is_true(&self) -> bool {
        self.double != 0.0
    }
}

/// A number, or the slot at which the trouble arose because of which there is none.
pub(super) type Cell = Result<Number, Slot>;

/// The results of a tape.
#[derive(Clone, Debug, Default)]
pub(super) struct Values {
    pub cells: Vec<Cell>,
    pub troubles: BTreeMap<Slot, CalcError>,
    moves: Vec<Moves>,
}

/// How a result depends on sources.
#[derive(Clone, Copy, Debug, Default)]
struct Moves {
    /// On any.
    any: bool,
    /// On one with an uncertainty.
    uncertain: bool,
    /// Not in a straight line on those with an uncertainty, by the form of the operations.
    bent: bool,
}

impl Values {
    /// The number of a slot.
    pub(super) fn number(&self, slot: Slot) -> Result<&Number, CalcError> {
        match &self.cells[slot] {
            Ok(number) => Ok(number),
            Err(at) => {
                Err(self.troubles.get(at).cloned().unwrap_or_else(|| {
                    CalcError::new(0..0, "this could not be worked out", "look at what it rests on")
                }))
            }
        }
    }

    /// The double of a slot; not a number where there is none.
    pub(super) fn double(&self, slot: Slot) -> f64 {
        self.cells[slot].as_ref().map_or(f64::NAN, |number| number.double)
    }

    /// Whether a slot rests on a source that has an uncertainty, or, if `all`, on any.
    pub(super) fn moves(&self, slot: Slot, all: bool) -> bool {
        if all { self.moves[slot].any } else { self.moves[slot].uncertain }
    }

    /// Whether a slot is a straight line in its uncertain sources.
    pub(super) fn is_straight(&self, slot: Slot) -> bool {
        !self.moves[slot].bent
    }

    /// The exact value of a slot.
    pub(super) fn exact(&self, slot: Slot) -> Option<&Rational> {
        self.cells[slot].as_ref().ok()?.exact.as_ref()
    }
}

/// How much exact arithmetic one calculation may cost. Numbers that grow without end go on as doubles.
pub(super) struct Effort(Counter<u64>);

impl Effort {
    pub(super) fn new() -> Self {
        Self(Counter::new(1_000_000))
    }

    /// Whether an operation on numbers of so many bits may still be exact.
    pub(super) fn allows(&self, bits: u64) -> bool {
        let left = self.0.get();
        // What is refused costs nothing: one number that is too long leaves the others exact.
        if bits > 2 * LARGEST_BITS {
            return false;
        }
        let words = bits / 64 + 1;
        // Of long numbers, what the parts have in common costs more than the products.
        let cost = words * words * if words > LONG { 4 } else { 1 };
        self.0.set(left.saturating_sub(cost));
        cost <= left
    }
}

/// Numbers of more words than this are long.
const LONG: u64 = 4;

/// Longest exact numerator or denominator that is kept.
const LARGEST_BITS: u64 = 1024;

/// Works out every operation of a tape, or those of `only`.
pub(super) fn evaluate(tape: &Tape, only: Option<&[Slot]>) -> Values {
    let effort = Effort::new();
    let mut worker = Worker { tape, effort: &effort, values: Values::default() };
    match only {
        None => {
            worker.values.cells.reserve(tape.entries.len());
            for slot in 0..tape.entries.len() {
                let cell = worker.cell(slot);
                worker.values.cells.push(cell);
            }
        }
        Some(slots) => {
            worker.values.cells = vec![Err(0); tape.entries.len()];
            for &slot in slots {
                worker.values.cells[slot] = worker.cell(slot);
            }
        }
    }
    worker.values.moves = moves(tape);
    worker.values
}

/// How every operation depends on sources.
fn moves(tape: &Tape) -> Vec<Moves> {
    let mut all: Vec<Moves> = Vec::with_capacity(tape.entries.len());
    for entry in &tape.entries {
        let mut mine = Moves::default();
        if let Op::Source(at) = &entry.op {
            mine = Moves { any: true, uncertain: tape.sources[*at].quantity.uncertainty.is_some(), bent: false };
        }
        entry.op.operands(|operand| {
            mine.any |= all[operand].any;
            mine.uncertain |= all[operand].uncertain;
            mine.bent |= all[operand].bent;
        });
        let moving = |slot: &Slot| all[*slot].uncertain;
        let straight = match &entry.op {
            Op::Multiply(a, b) => !(moving(a) && moving(b)),
            Op::Divide(_, b) => !moving(b),
            Op::Power(_, n, d) => n == d,
            Op::Fold(function, _) => matches!(function, Function::Sum | Function::Mean),
            Op::Constant(_) | Op::Source(_) | Op::Negative(_) | Op::Add(..) | Op::Subtract(..) => true,
            _ => false,
        };
        mine.bent |= mine.uncertain && !straight;
        all.push(mine);
    }
    all
}

/// The value of a source.
fn number_of(quantity: &Quantity) -> Number {
    let double = quantity.si_f64();
    let exact = (!quantity.approximate).then(|| quantity.value.clone());
    let blur = if quantity.approximate { double.abs() * f64::EPSILON } else { 0.0 };
    Number { exact, double, blur }
}

struct Worker<'a> {
    tape: &'a Tape,
    effort: &'a Effort,
    values: Values,
}

/// What an operation fails with: a message and what to do.
type Trouble = (String, String);

impl Worker<'_> {
    fn cell(&mut self, slot: Slot) -> Cell {
        match self.work(slot) {
            Ok(Ok(number)) if number.double.is_finite() => Ok(number),
            Ok(Ok(_)) => {
                self.trouble(slot, ("this is beyond the largest number".to_owned(), "check the exponents".to_owned()))
            }
            Ok(Err(trouble)) => self.trouble(slot, trouble),
            Err(at) => Err(at),
        }
    }

    fn trouble(&mut self, slot: Slot, (message, help): Trouble) -> Cell {
        let range: Range<usize> = self.tape.entries[slot].range.clone();
        self.values.troubles.insert(slot, CalcError::new(range, message, help));
        Err(slot)
    }

    fn get(&self, slot: Slot) -> Result<&Number, Slot> {
        self.values.cells[slot].as_ref().map_err(|at| *at)
    }

    fn work(&self, slot: Slot) -> Result<Result<Number, Trouble>, Slot> {
        Ok(match &self.tape.entries[slot].op {
            Op::Constant(value) => Ok(Number::exact(value.clone())),
            Op::Source(at) => Ok(number_of(&self.tape.sources[*at].quantity)),
            Op::Negative(a) => {
                let a = self.get(*a)?;
                Ok(Number { exact: a.exact.as_ref().map(|exact| -exact), double: -a.double, blur: a.blur })
            }
            Op::Add(a, b) => Ok(self.two(*a, *b, |a, b| a + b, |a, b| a + b, |_, _| (1.0, 1.0))?),
            Op::Subtract(a, b) => Ok(self.two(*a, *b, |a, b| a - b, |a, b| a - b, |_, _| (1.0, 1.0))?),
            Op::Multiply(a, b) => Ok(self.two(*a, *b, |a, b| a * b, |a, b| a * b, |a, b| (b, a))?),
            Op::Divide(a, b) => {
                let (_, divisor) = (self.get(*a)?, self.get(*b)?);
                if divisor.double == 0.0 || divisor.exact.as_ref().is_some_and(Rational::is_zero) {
                    Err(("this divides by zero".to_owned(), "check the divisor".to_owned()))
                } else {
                    Ok(self.two(*a, *b, |a, b| a / b, |a, b| a / b, |a, b| (1.0 / b, a / b / b))?)
                }
            }
            Op::Power(a, n, d) => self.power(self.get(*a)?, *n, *d),
            Op::Raise(a, b) => self.raise(self.get(*a)?, self.get(*b)?),
            Op::Apply(function, a) => self.apply(*function, self.get(*a)?),
            Op::Angle(a, b) => angle(self.get(*a)?, self.get(*b)?),
            Op::Fold(function, all) => {
                let all = all.iter().map(|slot| self.get(*slot)).collect::<Result<Vec<_>, _>>()?;
                self.fold(*function, &all)
            }
            Op::Compare(compare, a, b) => compared(*compare, self.get(*a)?, self.get(*b)?),
            Op::Not(a) => Ok(Number::truth(!self.get(*a)?.is_true())),
            Op::Both(a, b) => Ok(Number::truth(self.get(*a)?.is_true() && self.get(*b)?.is_true())),
            Op::Either(a, b) => Ok(Number::truth(self.get(*a)?.is_true() || self.get(*b)?.is_true())),
            // What is wrong with the branch that is not taken does not matter.
            Op::If(c, a, b) => Ok(self.get(if self.get(*c)?.is_true() { *a } else { *b })?.clone()),
            Op::Look(curve, a) => looked_up(curve, self.get(*a)?),
            Op::Integral(curve, a, b) => integral(curve, self.get(*a)?, self.get(*b)?),
        })
    }

    /// An operation on two numbers; `slopes` bounds how it spreads what blurs them.
    fn two(
        &self,
        a: Slot,
        b: Slot,
        exact: impl Fn(&Rational, &Rational) -> Rational,
        double: impl Fn(f64, f64) -> f64,
        slopes: impl Fn(f64, f64) -> (f64, f64),
    ) -> Result<Number, Slot> {
        let (a, b) = (self.get(a)?, self.get(b)?);
        if let (Some(x), Some(y)) = (&a.exact, &b.exact)
            && self.effort.allows(x.bits() + y.bits())
        {
            return Ok(Number::exact(exact(x, y)));
        }
        let double = double(a.double, b.double);
        let (left, right) = slopes(a.double, b.double);
        Ok(inexact(double, left.abs() * a.blur + right.abs() * b.blur))
    }

    fn power(&self, a: &Number, n: i32, d: i32) -> Result<Number, Trouble> {
        let negative = a.exact.as_ref().map_or(a.double < 0.0, Rational::is_negative);
        let zero = a.exact.as_ref().map_or(a.double == 0.0, Rational::is_zero);
        if negative && d % 2 == 0 {
            return Err((
                "this is a root of a negative number".to_owned(),
                "check what stands under the root".to_owned(),
            ));
        }
        if zero && n < 0 {
            return Err(("this divides by zero".to_owned(), "check what has a negative exponent".to_owned()));
        }
        if let Some(exact) = &a.exact
            && self.effort.allows((exact.bits() + 1).saturating_mul(u64::from(n.unsigned_abs().max(1))))
            && let Some(root) = exact.exact_root(d.unsigned_abs())
        {
            return Ok(Number::exact(root.pow(n)));
        }
        let exponent = f64::from(n) / f64::from(d);
        let size = match (n, d) {
            (1, 2) => a.double.abs().sqrt(),
            (1, 3) => libm::cbrt(a.double.abs()),
            _ => libm::pow(a.double.abs(), exponent),
        };
        let double = if negative && n % 2 != 0 { -size } else { size };
        Ok(inexact(double, (exponent * double / a.double).abs() * a.blur))
    }

    fn raise(&self, a: &Number, b: &Number) -> Result<Number, Trouble> {
        let whole = b.exact.as_ref().filter(|exact| exact.denom() == 1.into());
        let whole = whole.and_then(|exact| i32::try_from(exact.numer()).ok());
        if let Some(n) = whole {
            return self.power(a, n, 1);
        }
        if a.double < 0.0 || (a.double == 0.0 && b.double <= 0.0) {
            return Err((
                "this is a broken power of a number that is not positive".to_owned(),
                "check the base and the exponent".to_owned(),
            ));
        }
        let double = libm::pow(a.double, b.double);
        let log = if a.double > 0.0 { libm::log(a.double) } else { 0.0 };
        Ok(inexact(double, (b.double * double / a.double).abs() * a.blur + (double * log).abs() * b.blur))
    }

    fn apply(&self, function: Function, a: &Number) -> Result<Number, Trouble> {
        match function {
            Function::Sqrt => return self.power(a, 1, 2),
            Function::Cbrt => return self.power(a, 1, 3),
            Function::Abs => {
                let exact = a.exact.as_ref().map(Rational::abs);
                return Ok(Number { exact, double: a.double.abs(), blur: a.blur });
            }
            Function::Floor | Function::Ceil | Function::Round => return whole(function, a),
            _ => {}
        }
        if let Some(exact) = a.exact.as_ref().and_then(|exact| known(function, exact)) {
            return Ok(Number::exact(exact));
        }
        let x = a.double;
        let domain = |inside: bool, what: &str| {
            let help = "check what the function is taken of".to_owned();
            if inside { Ok(()) } else { Err((what.to_owned(), help)) }
        };
        let (double, slope) = match function {
            Function::Exp => (libm::exp(x), libm::exp(x)),
            Function::Ln | Function::Log10 | Function::Log2 => {
                domain(x > 0.0, "this is a logarithm of a number that is not positive")?;
                match function {
                    Function::Ln => (libm::log(x), 1.0 / x),
                    Function::Log10 => (libm::log10(x), std::f64::consts::LOG10_E / x),
                    _ => (libm::log2(x), std::f64::consts::LOG2_E / x),
                }
            }
            Function::Sin => (libm::sin(x), libm::cos(x)),
            Function::Cos => (libm::cos(x), -libm::sin(x)),
            Function::Tan => (libm::tan(x), 1.0 / (libm::cos(x) * libm::cos(x))),
            Function::Asin | Function::Acos => {
                domain(x.abs() <= 1.0, "this is an arcsine or arccosine of a number beyond 1")?;
                let slope = 1.0 / (1.0 - x * x).sqrt();
                if function == Function::Asin { (libm::asin(x), slope) } else { (libm::acos(x), -slope) }
            }
            Function::Atan => (libm::atan(x), 1.0 / (1.0 + x * x)),
            Function::Sinh => (libm::sinh(x), libm::cosh(x)),
            Function::Cosh => (libm::cosh(x), libm::sinh(x)),
            _ => (libm::tanh(x), 1.0 - libm::tanh(x) * libm::tanh(x)),
        };
        Ok(inexact(double, slope.abs() * a.blur))
    }

    fn fold(&self, function: Function, all: &[&Number]) -> Result<Number, Trouble> {
        let exact: Option<Vec<&Rational>> = all.iter().map(|number| number.exact.as_ref()).collect();
        let bits: u64 = exact.iter().flatten().map(|exact| exact.bits()).max().unwrap_or(0);
        let exact = exact.filter(|all| all.iter().all(|_| self.effort.allows(2 * bits)));
        if let Some(exact) = exact.and_then(|all| fold_exact(function, &all, self.effort)) {
            return Ok(Number::exact(exact));
        }
        let doubles: Vec<f64> = all.iter().map(|number| number.double).collect();
        let blur: f64 = all.iter().map(|number| number.blur).sum();
        Ok(inexact(fold_doubles(function, &doubles), blur))
    }
}

/// A double, and how far it may be off.
fn inexact(double: f64, blur: f64) -> Number {
    let blur = if blur.is_finite() { blur } else { 0.0 };
    Number { exact: None, double, blur: blur + double.abs() * f64::EPSILON }
}

/// Where a function has an exact value.
fn known(function: Function, x: &Rational) -> Option<Rational> {
    match function {
        Function::Exp | Function::Cos | Function::Cosh if x.is_zero() => Some(Rational::one()),
        Function::Sin | Function::Tan | Function::Asin | Function::Atan | Function::Sinh | Function::Tanh
            if x.is_zero() =>
        {
            Some(Rational::zero())
        }
        Function::Ln if x.is_one() => Some(Rational::zero()),
        Function::Log10 => logarithm(x, 10),
        Function::Log2 => logarithm(x, 2),
        _ => None,
    }
}

/// The whole logarithm of a whole power.
fn logarithm(x: &Rational, base: i32) -> Option<Rational> {
    let guess = x.to_f64().filter(|x| *x > 0.0)?.ln() / f64::from(base).ln();
    let exponent = guess.round();
    if exponent.abs() > 300.0 || (guess - exponent).abs() > 1e-6 {
        return None;
    }
    let exponent = exponent as i32;
    (Rational::from_integer(base.into()).pow(exponent) == *x).then(|| Rational::from_integer(exponent.into()))
}

/// To a whole number. Where rounding could have moved an inexact number over the edge, nothing is decided.
fn whole(function: Function, a: &Number) -> Result<Number, Trouble> {
    let two = || Rational::from_integer(2.into());
    let half = |x: &Rational| (x + Rational::one() / two()).floor();
    let to_whole = |x: &Rational| match function {
        Function::Floor => x.floor(),
        Function::Ceil => -(-x).floor(),
        // Halves away from zero.
        _ if x.is_negative() => -half(&-x),
        _ => half(x),
    };
    if let Some(exact) = &a.exact {
        return Ok(Number::exact(Rational::from_integer(to_whole(exact))));
    }
    let reach = undecided(a.double, a.double, a.blur);
    let ends = (Rational::from_f64(a.double - reach), Rational::from_f64(a.double + reach));
    match ends {
        (Some(low), Some(high)) if to_whole(&low) == to_whole(&high) => {
            Ok(Number::exact(Rational::from_integer(to_whole(&low))))
        }
        _ => Err((
            "this lies so close to the edge of a step that rounding decides".to_owned(),
            "write the whole number, or move the edge".to_owned(),
        )),
    }
}

fn angle(y: &Number, x: &Number) -> Result<Number, Trouble> {
    if y.double == 0.0 && x.double == 0.0 {
        return Err(("the angle of two zeros is not defined".to_owned(), "check both arguments".to_owned()));
    }
    let size = libm::hypot(x.double, y.double);
    Ok(inexact(libm::atan2(y.double, x.double), (x.blur + y.blur) / size))
}

/// Two numbers closer than this are too close to compare where either is not exact.
fn undecided(a: f64, b: f64, blur: f64) -> f64 {
    (1e-9 * a.abs().max(b.abs())).max(1e4 * blur)
}

fn compared(compare: Compare, a: &Number, b: &Number) -> Result<Number, Trouble> {
    use std::cmp::Ordering::{Equal, Greater, Less};
    let order = if let (Some(a), Some(b)) = (&a.exact, &b.exact) {
        a.cmp(b)
    } else if (a.double - b.double).abs() <= undecided(a.double, b.double, a.blur + b.blur) {
        return Err((
            "the two sides agree to a billionth and are not exact, so that rounding would decide".to_owned(),
            "move the line, or compare what is exact".to_owned(),
        ));
    } else if a.double < b.double {
        Less
    } else {
        Greater
    };
    Ok(Number::truth(match compare {
        Compare::Equal => order == Equal,
        Compare::NotEqual => order != Equal,
        Compare::Less => order == Less,
        Compare::LessOrEqual => order != Greater,
        Compare::Greater => order == Greater,
        Compare::GreaterOrEqual => order != Less,
    }))
}

fn looked_up(curve: &Arc<Curve>, x: &Number) -> Result<Number, Trouble> {
    if let Some(exact) = x.exact.as_ref().and_then(|x| curve.exact_value(x)) {
        return Ok(Number::exact(exact));
    }
    match (curve.value(x.double), curve.derivative(x.double)) {
        (Some(y), Some(slope)) => Ok(inexact(y, slope.abs() * x.blur)),
        _ => Err(outside(curve)),
    }
}

fn integral(curve: &Arc<Curve>, a: &Number, b: &Number) -> Result<Number, Trouble> {
    if let (Some(a), Some(b)) = (&a.exact, &b.exact)
        && let Some(exact) = curve.exact_integral(a, b)
    {
        return Ok(Number::exact(exact));
    }
    match (curve.integral(a.double, b.double), curve.value(a.double), curve.value(b.double)) {
        (Some(area), Some(low), Some(high)) => Ok(inexact(area, low.abs() * a.blur + high.abs() * b.blur)),
        _ => Err(outside(curve)),
    }
}

fn outside(curve: &Curve) -> Trouble {
    (
        format!("this lies outside the table, which runs {}", curve.span_text()),
        "stay inside the table, or add rows to it: nothing is extrapolated".to_owned(),
    )
}

/// A function of a list in rationals; none where the result is not rational, or the sum of what has few divisors in common grows too long.
fn fold_exact(function: Function, all: &[&Rational], effort: &Effort) -> Option<Rational> {
    let count = || Rational::from_integer(all.len().into());
    let plus = |sum: Rational, x: &Rational| effort.allows(sum.bits() + x.bits()).then(|| sum + x);
    let sum = || all.iter().try_fold(Rational::zero(), |sum, x| plus(sum, x));
    match function {
        Function::Min => all.iter().min().map(|x| (*x).clone()),
        Function::Max => all.iter().max().map(|x| (*x).clone()),
        Function::Sum => sum(),
        Function::Mean => Some(sum()? / count()),
        Function::Median => {
            let mut sorted = all.to_vec();
            sorted.sort_unstable();
            let (low, high) = (sorted[(sorted.len() - 1) / 2], sorted[sorted.len() / 2]);
            Some((low + high) / Rational::from_integer(2.into()))
        }
        Function::Sd => {
            let mean = sum()? / count();
            let squares = all.iter().try_fold(Rational::zero(), |sum, x| plus(sum, &(*x - &mean).pow(2)))?;
            (squares / (count() - Rational::one())).exact_root(2)
        }
        _ => all.iter().try_fold(Rational::zero(), |sum, x| plus(sum, &x.pow(2)))?.exact_root(2),
    }
}

/// A function of a list in doubles. Shared with the trials, so that both say the same.
pub(super) fn fold_doubles(function: Function, all: &[f64]) -> f64 {
    let count = all.len() as f64;
    match function {
        Function::Min => all.iter().copied().fold(f64::INFINITY, f64::min),
        Function::Max => all.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        Function::Sum => all.iter().sum(),
        Function::Mean => all.iter().sum::<f64>() / count,
        Function::Median => {
            let mut sorted = all.to_vec();
            sorted.sort_unstable_by(f64::total_cmp);
            (sorted[(sorted.len() - 1) / 2] + sorted[sorted.len() / 2]) / 2.0
        }
        Function::Sd => {
            let mean = all.iter().sum::<f64>() / count;
            (all.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / (count - 1.0)).sqrt()
        }
        _ => all.iter().copied().fold(0.0, libm::hypot),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_too_long_is_refused_and_costs_nothing() {
        let effort = Effort::new();
        for bits in [2 * LARGEST_BITS + 1, 330 * 999_999_999, u64::MAX] {
            assert!(!effort.allows(bits));
        }
        assert_eq!(effort.0.get(), Effort::new().0.get());
        assert!(effort.allows(10));
    }

    /// However long a text is, only so many operations on long numbers are exact; of short ones, all of a tape.
    #[test]
    fn exact_work_is_bounded() {
        let allowed = |bits: u64| {
            let effort = Effort::new();
            (0..2_000_000).take_while(|_| effort.allows(bits)).count()
        };
        assert!(allowed(2 * LARGEST_BITS) < 300);
        assert!(allowed(126) > super::super::MAX_OPERATIONS);
    }

    /// The denominators of fractions with few divisors in common multiply: their sum is given up at the length of any other number.
    #[test]
    fn a_sum_does_not_grow_without_end() {
        let parts =
            |end: i64| -> Vec<Rational> { (2..end).map(|d| Rational::new(1.into(), (d * d + 1).into())).collect() };
        for function in [Function::Sum, Function::Mean, Function::Sd, Function::Hypot] {
            let parts = parts(3000);
            assert!(fold_exact(function, &parts.iter().collect::<Vec<_>>(), &Effort::new()).is_none());
        }
        let few = parts(20);
        assert!(fold_exact(Function::Sum, &few.iter().collect::<Vec<_>>(), &Effort::new()).is_some());
    }
}
