//! A calculation as a flat list of operations, each on results of those before it. Every number is in coherent SI units.

use std::collections::BTreeSet;
use std::ops::Range;
use std::sync::Arc;

use super::Source;
use super::functions::Function;
use super::syntax::Compare;
use crate::quantity::Rational;
use crate::table::Curve;

/// The place of an operation on its tape.
pub(super) type Slot = usize;

#[derive(Clone, Debug)]
pub(super) enum Op {
    Constant(Rational),
    /// The value of a source, by its place in [`Tape::sources`].
    Source(usize),
    Negative(Slot),
    Add(Slot, Slot),
    Subtract(Slot, Slot),
    Multiply(Slot, Slot),
    Divide(Slot, Slot),
    /// A power whose exponent is a fraction that stands in the text.
    Power(Slot, i32, i32),
    /// A power of a plain number.
    Raise(Slot, Slot),
    /// A function of one number.
    Apply(Function, Slot),
    /// The angle of y and x.
    Angle(Slot, Slot),
    /// A function of a list, which is not empty.
    Fold(Function, Box<[Slot]>),
    Compare(Compare, Slot, Slot),
    Not(Slot),
    Both(Slot, Slot),
    Either(Slot, Slot),
    If(Slot, Slot, Slot),
    Look(Arc<Curve>, Slot),
    Integral(Arc<Curve>, Slot, Slot),
}

impl Op {
    /// Calls with each operand.
    pub(super) fn operands(&self, mut see: impl FnMut(Slot)) {
        match self {
            Self::Constant(_) | Self::Source(_) => {}
            Self::Negative(a) | Self::Power(a, _, _) | Self::Apply(_, a) | Self::Not(a) | Self::Look(_, a) => see(*a),
            Self::Add(a, b)
            | Self::Subtract(a, b)
            | Self::Multiply(a, b)
            | Self::Divide(a, b)
            | Self::Raise(a, b)
            | Self::Angle(a, b)
            | Self::Compare(_, a, b)
            | Self::Both(a, b)
            | Self::Either(a, b)
            | Self::Integral(_, a, b) => {
                see(*a);
                see(*b);
            }
            Self::If(a, b, c) => {
                see(*a);
                see(*b);
                see(*c);
            }
            Self::Fold(_, all) => all.iter().for_each(|slot| see(*slot)),
        }
    }

    /// The same operation on other operands.
    pub(super) fn moved(&self, to: impl Fn(Slot) -> Slot) -> Self {
        let mut op = self.clone();
        match &mut op {
            Self::Constant(_) | Self::Source(_) => {}
            Self::Negative(a) | Self::Power(a, _, _) | Self::Apply(_, a) | Self::Not(a) | Self::Look(_, a) => {
                *a = to(*a)
            }
            Self::Add(a, b)
            | Self::Subtract(a, b)
            | Self::Multiply(a, b)
            | Self::Divide(a, b)
            | Self::Raise(a, b)
            | Self::Angle(a, b)
            | Self::Compare(_, a, b)
            | Self::Both(a, b)
            | Self::Either(a, b)
            | Self::Integral(_, a, b) => (*a, *b) = (to(*a), to(*b)),
            Self::If(a, b, c) => (*a, *b, *c) = (to(*a), to(*b), to(*c)),
            Self::Fold(_, all) => all.iter_mut().for_each(|slot| *slot = to(*slot)),
        }
        op
    }
}

/// An operation and the bytes of the text that it comes from.
#[derive(Clone, Debug)]
pub(super) struct Entry {
    pub op: Op,
    pub range: Range<usize>,
}

#[derive(Clone, Debug, Default)]
pub(super) struct Tape {
    pub entries: Vec<Entry>,
    pub sources: Vec<Arc<Source>>,
}

impl Tape {
    /// What an operation rests on, itself included, in the order of the tape. It takes no longer on a long tape: each of many results asks.
    pub(super) fn reach(&self, root: Slot) -> Vec<Slot> {
        let mut waiting = BTreeSet::from([root]);
        let mut reached = Vec::new();
        while let Some(slot) = waiting.pop_last() {
            reached.push(slot);
            // Each stands before what rests on it.
            self.entries[slot].op.operands(|operand| {
                waiting.insert(operand);
            });
        }
        reached.reverse();
        reached
    }
}
