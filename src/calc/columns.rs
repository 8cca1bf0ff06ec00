//! Works a result out for many values of its sources at once: operations on blocks of numbers that stay in the cache.

use super::evaluate::{Values, fold_doubles};
use super::functions::Function;
use super::syntax::Compare;
use super::tape::{Op, Slot, Tape};

/// Numbers that are worked on at a time.
const BLOCK: usize = 512;

/// Where an operand is.
#[derive(Clone, Copy, Debug)]
enum Place {
    /// The same for all.
    Scalar(f64),
    /// A column of a source.
    Column(usize),
    Buffer(usize),
}

/// An operation with the buffer that it writes to.
#[derive(Clone, Debug)]
struct Work {
    slot: Slot,
    out: usize,
}

/// The operations in order, with as few buffers as they can do with.
#[derive(Clone, Debug)]
pub(super) struct Plan {
    works: Vec<Work>,
    /// For each slot of the tape that is reached: where its numbers are.
    places: Vec<(Slot, Place)>,
    buffers: usize,
    root: Place,
    /// The sources in the order of the columns.
    pub sources: Vec<usize>,
}

impl Plan {
    /// A plan for the slots that a root rests on, in the order of the tape, the root last.
    pub(super) fn new(tape: &Tape, values: &Values, reached: &[Slot]) -> Self {
        let mut sources: Vec<usize> = reached.iter().filter_map(|slot| source(tape, *slot)).collect();
        sources.sort_unstable();
        let mut planner = Planner { reached, last_use: last_uses(tape, reached), free: Vec::new(), buffers: 0 };
        let (mut works, mut places) = (Vec::new(), Vec::<(Slot, Place)>::new());
        for (at, &slot) in reached.iter().enumerate() {
            let op = &tape.entries[slot].op;
            let place = match op {
                Op::Source(which) => Place::Column(sources.binary_search(which).unwrap_or(0)),
                _ if is_fixed(op, &places) => Place::Scalar(values.double(slot)),
                _ => {
                    let out = planner.take();
                    works.push(Work { slot, out });
                    Place::Buffer(out)
                }
            };
            places.push((slot, place));
            op.operands(|operand| planner.release(operand, at, &places));
        }
        let root = places.last().map_or(Place::Scalar(f64::NAN), |(_, place)| *place);
        Self { works, places, buffers: planner.buffers, root, sources }
    }

    /// Fills `out`; each column is as long.
    pub(super) fn run(&self, tape: &Tape, columns: &[&[f64]], out: &mut [f64]) {
        let mut buffers = vec![vec![0.0; BLOCK.min(out.len())]; self.buffers];
        let mut start = 0;
        while start < out.len() {
            let end = (start + BLOCK).min(out.len());
            let block: Vec<&[f64]> = columns.iter().map(|column| column.get(start..end).unwrap_or(&[])).collect();
            for work in &self.works {
                let mut target = std::mem::take(&mut buffers[work.out]);
                let get = |slot: Slot| self.operand(slot, &block, &buffers, end - start);
                operate(&tape.entries[work.slot].op, get, &mut target[..end - start]);
                buffers[work.out] = target;
            }
            let part = &mut out[start..end];
            match self.resolve(self.root, &block, &buffers, end - start) {
                Operand::Scalar(x) => part.fill(x),
                Operand::Slice(values) => part.copy_from_slice(values),
            }
            start = end;
        }
    }

    fn operand<'b>(&self, slot: Slot, block: &[&'b [f64]], buffers: &'b [Vec<f64>], length: usize) -> Operand<'b> {
        let place = self.places.binary_search_by_key(&slot, |(slot, _)| *slot).map(|at| self.places[at].1);
        self.resolve(place.unwrap_or(Place::Scalar(f64::NAN)), block, buffers, length)
    }

    fn resolve<'b>(&self, place: Place, block: &[&'b [f64]], buffers: &'b [Vec<f64>], length: usize) -> Operand<'b> {
        match place {
            Place::Scalar(x) => Operand::Scalar(x),
            Place::Column(at) => match block.get(at).filter(|column| column.len() == length) {
                Some(column) => Operand::Slice(column),
                None => Operand::Scalar(f64::NAN),
            },
            Place::Buffer(at) => Operand::Slice(&buffers[at][..length]),
        }
    }
}

/// Gives out buffers and takes them back after their last use.
struct Planner<'a> {
    reached: &'a [Slot],
    last_use: Vec<usize>,
    free: Vec<usize>,
    buffers: usize,
}

impl Planner<'_> {
    fn take(&mut self) -> usize {
        self.free.pop().unwrap_or_else(|| {
            self.buffers += 1;
            self.buffers - 1
        })
    }

    fn release(&mut self, operand: Slot, at: usize, places: &[(Slot, Place)]) {
        let Ok(which) = self.reached.binary_search(&operand) else { return };
        if self.last_use[which] == at
            && let Place::Buffer(buffer) = places[which].1
            && !self.free.contains(&buffer)
        {
            self.free.push(buffer);
        }
    }
}

fn source(tape: &Tape, slot: Slot) -> Option<usize> {
    match tape.entries[slot].op {
        Op::Source(which) => Some(which),
        _ => None,
    }
}

/// For each slot the place in the list at which it is used last.
fn last_uses(tape: &Tape, reached: &[Slot]) -> Vec<usize> {
    let mut last = vec![usize::MAX; reached.len()];
    for (at, slot) in reached.iter().enumerate() {
        tape.entries[*slot].op.operands(|operand| {
            if let Ok(which) = reached.binary_search(&operand) {
                last[which] = at;
            }
        });
    }
    last
}

/// Whether an operation comes to the same whatever the sources are.
fn is_fixed(op: &Op, places: &[(Slot, Place)]) -> bool {
    let mut fixed = true;
    op.operands(|operand| {
        let place = places.binary_search_by_key(&operand, |(slot, _)| *slot).map(|at| places[at].1);
        fixed &= matches!(place, Ok(Place::Scalar(_)));
    });
    fixed
}

#[derive(Clone, Copy)]
enum Operand<'a> {
    Scalar(f64),
    Slice(&'a [f64]),
}

impl Operand<'_> {
    fn at(&self, index: usize) -> f64 {
        match self {
            Self::Scalar(x) => *x,
            Self::Slice(values) => values[index],
        }
    }
}

fn operate<'b>(op: &Op, get: impl Fn(Slot) -> Operand<'b>, out: &mut [f64]) {
    match op {
        Op::Constant(_) | Op::Source(_) => {}
        Op::Negative(a) => one(get(*a), out, |x| -x),
        Op::Add(a, b) => two(get(*a), get(*b), out, |x, y| x + y),
        Op::Subtract(a, b) => two(get(*a), get(*b), out, |x, y| x - y),
        Op::Multiply(a, b) => two(get(*a), get(*b), out, |x, y| x * y),
        Op::Divide(a, b) => two(get(*a), get(*b), out, |x, y| x / y),
        Op::Power(a, 2, 1) => one(get(*a), out, |x| x * x),
        Op::Power(a, 3, 1) => one(get(*a), out, |x| x * x * x),
        Op::Power(a, -1, 1) => one(get(*a), out, |x| 1.0 / x),
        Op::Power(a, 1, 2) => one(get(*a), out, f64::sqrt),
        Op::Power(a, n, d) => {
            let exponent = f64::from(*n) / f64::from(*d);
            let (odd_root, odd) = (d % 2 != 0, n % 2 != 0);
            one(get(*a), out, |x| match x < 0.0 {
                true if !odd_root => f64::NAN,
                true if odd => -libm::pow(-x, exponent),
                _ => libm::pow(x.abs(), exponent),
            });
        }
        Op::Raise(a, b) => two(get(*a), get(*b), out, libm::pow),
        Op::Apply(function, a) => one(get(*a), out, function_of(*function)),
        Op::Angle(a, b) => two(get(*a), get(*b), out, libm::atan2),
        Op::Fold(function, all) => fold(*function, &all.iter().map(|slot| get(*slot)).collect::<Vec<_>>(), out),
        Op::Compare(compare, a, b) => two(get(*a), get(*b), out, comparison(*compare)),
        Op::Not(a) => one(get(*a), out, |x| 1.0 - x),
        Op::Both(a, b) => two(get(*a), get(*b), out, |x, y| x * y),
        Op::Either(a, b) => two(get(*a), get(*b), out, |x, y| x + y - x * y),
        Op::If(c, a, b) => {
            let (condition, yes, no) = (get(*c), get(*a), get(*b));
            for (index, out) in out.iter_mut().enumerate() {
                let condition = condition.at(index);
                *out = if condition.is_nan() {
                    f64::NAN
                } else if condition == 0.0 {
                    no.at(index)
                } else {
                    yes.at(index)
                };
            }
        }
        Op::Look(curve, a) => one(get(*a), out, |x| curve.value(x).unwrap_or(f64::NAN)),
        Op::Integral(curve, a, b) => two(get(*a), get(*b), out, |x, y| curve.integral(x, y).unwrap_or(f64::NAN)),
    }
}

fn one(a: Operand<'_>, out: &mut [f64], f: impl Fn(f64) -> f64) {
    match a {
        Operand::Scalar(x) => out.fill(f(x)),
        Operand::Slice(a) => out.iter_mut().zip(a).for_each(|(out, x)| *out = f(*x)),
    }
}

/// One loop for each sort of operands, so that the compiler can work on several numbers at a time.
fn two(a: Operand<'_>, b: Operand<'_>, out: &mut [f64], f: impl Fn(f64, f64) -> f64) {
    match (a, b) {
        (Operand::Scalar(x), Operand::Scalar(y)) => out.fill(f(x, y)),
        (Operand::Slice(a), Operand::Scalar(y)) => out.iter_mut().zip(a).for_each(|(out, x)| *out = f(*x, y)),
        (Operand::Scalar(x), Operand::Slice(b)) => out.iter_mut().zip(b).for_each(|(out, y)| *out = f(x, *y)),
        (Operand::Slice(a), Operand::Slice(b)) => {
            out.iter_mut().zip(a).zip(b).for_each(|((out, x), y)| *out = f(*x, *y));
        }
    }
}

fn function_of(function: Function) -> fn(f64) -> f64 {
    match function {
        Function::Sqrt => f64::sqrt,
        Function::Cbrt => libm::cbrt,
        Function::Abs => f64::abs,
        Function::Exp => libm::exp,
        Function::Ln => libm::log,
        Function::Log10 => libm::log10,
        Function::Log2 => libm::log2,
        Function::Sin => libm::sin,
        Function::Cos => libm::cos,
        Function::Tan => libm::tan,
        Function::Asin => libm::asin,
        Function::Acos => libm::acos,
        Function::Atan => libm::atan,
        Function::Sinh => libm::sinh,
        Function::Cosh => libm::cosh,
        Function::Tanh => libm::tanh,
        Function::Floor => f64::floor,
        Function::Ceil => f64::ceil,
        Function::Round => f64::round,
        _ => |_| f64::NAN,
    }
}

fn comparison(compare: Compare) -> impl Fn(f64, f64) -> f64 {
    move |x, y| {
        if x.is_nan() || y.is_nan() {
            return f64::NAN;
        }
        let holds = match compare {
            Compare::Equal => x == y,
            Compare::NotEqual => x != y,
            Compare::Less => x < y,
            Compare::LessOrEqual => x <= y,
            Compare::Greater => x > y,
            Compare::GreaterOrEqual => x >= y,
        };
        f64::from(u8::from(holds))
    }
}

fn fold(function: Function, all: &[Operand<'_>], out: &mut [f64]) {
    let mut row = vec![0.0; all.len()];
    for (index, out) in out.iter_mut().enumerate() {
        row.iter_mut().zip(all).for_each(|(x, operand)| *x = operand.at(index));
        // A smallest or largest value would pass over what is not a number.
        *out = if row.iter().any(|x| x.is_nan()) { f64::NAN } else { fold_doubles(function, &row) };
    }
}
