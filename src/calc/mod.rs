//! The calculation language: read, unit-checked, worked out with its uncertainty.
//!
//! What comes in: the text of a calculation, a few assignments such as `margin = available / required - 1`, and a [`Scope`] that says
//! what the names stand for which the text does not define. What goes out: a [`Step`] for each assignment with its value, its
//! uncertainty and where that comes from, or errors that say which bytes are wrong and what to type.
//!
//! Four stages. [`parse`] makes a [`Sheet`] of the text. [`Sheet::check`] puts the assignments in order of dependence and lowers them to a
//! tape, a flat list of operations over *sources*, checking the units of each. [`Program::work_out`] evaluates the tape: exactly in rationals as
//! far as every operation allows it, in doubles beside it, with exact derivatives by one sweep backwards. [`Worked`] is a value on its tape,
//! which can be worked out again with another input, or column by column for trials.
//!
//! A *source* is where an uncertainty enters. It has a key: two results that share a source are correlated by construction, because the
//! result of another calculation joins with its whole tape.
//!
//! Nothing here loops, reads or writes. Text, statements, operations, nesting and the size of exact numbers are bounded.

mod budget;
mod columns;
mod correlations;
mod curvature;
mod derive;
mod error;
mod evaluate;
mod functions;
mod lex;
mod lower;
mod parse;
mod scope;
mod sheet;
mod show;
mod syntax;
mod tape;
mod worked;

pub use budget::{Budget, Contribution, Shared};
pub use correlations::Correlations;
pub use error::CalcError;
pub use scope::{Given, Scope, Source};
pub use sheet::{Program, Sheet, Step, Value, parse, parse_expression};
pub use worked::Worked;

/// Longest text of one calculation, in bytes.
pub const MAX_TEXT: usize = 64 * 1024;
/// Most assignments in one calculation.
pub const MAX_STATEMENTS: usize = 2_000;
/// Most operations on one tape, those of the results that it rests on included.
pub const MAX_OPERATIONS: usize = 100_000;
/// Deepest nesting of brackets, signs, powers and conditions.
pub const MAX_DEPTH: usize = 50;

#[cfg(test)]
mod tests;
