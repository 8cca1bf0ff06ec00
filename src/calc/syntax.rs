//! A calculation as a tree: nodes in one list, each after those that it is made of, so that no stage needs recursion.

use std::ops::Range;

use super::functions::Function;
use super::lex::Literal;

/// The place of a node in [`Tree::nodes`].
pub(super) type Id = usize;

#[derive(Clone, Debug)]
pub(super) struct Node {
    pub range: Range<usize>,
    pub expr: Expr,
}

#[derive(Clone, Debug)]
pub(super) enum Expr {
    Literal(Box<Literal>),
    /// Where it stands, without brackets around it.
    Name(Range<usize>),
    /// What stands between double quotes.
    Text(Range<usize>),
    Negative(Id),
    Not(Id),
    Binary(Binary, Id, Id),
    Compare(Compare, Id, Id),
    Both(Id, Id),
    Either(Id, Id),
    If(Id, Id, Id),
    List(Vec<Id>),
    Call(Function, Vec<Id>),
    /// The unit asked for stands at the range; an empty one asks for a plain number.
    To(Id, Range<usize>),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Binary {
    Add,
    Subtract,
    Multiply,
    Divide,
    Power,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Compare {
    Equal,
    NotEqual,
    Less,
    LessOrEqual,
    Greater,
    GreaterOrEqual,
}

/// One assignment.
#[derive(Clone, Debug)]
pub(super) struct Statement {
    /// Where its name stands; empty where it has none.
    pub name: Range<usize>,
    /// The right side.
    pub expression: Range<usize>,
    /// The nodes that it is made of; the last is the whole.
    pub nodes: Range<usize>,
}
