//! A calculation as it was read, checked and worked out.

use std::ops::Range;
use std::sync::Arc;

use super::{CalcError, Correlations, Scope, Worked};

/// A calculation as it was read.
#[derive(Clone, Debug)]
pub struct Sheet {}

/// A calculation whose units fit.
#[derive(Clone, Debug)]
pub struct Program {}

/// One assignment, worked out.
#[derive(Clone, Debug)]
pub struct Step {
    /// The name; empty for a last expression without one.
    pub name: String,
    /// The bytes of the whole assignment.
    pub range: Range<usize>,
    /// The right side as it was written.
    pub expression: String,
    /// The same with values in place of the names.
    pub substituted: String,
    /// Whether the unit was asked for with `to`.
    pub unit_asked: bool,
    /// What came out.
    pub value: Value,
}

impl Step {
    /// The value, unless it is an answer or a list.
    pub fn worked(&self) -> Option<&Arc<Worked>> {
        match &self.value {
            Value::Worked(worked) => Some(worked),
            Value::Truth(_) | Value::List(_) => None,
        }
    }
}

/// What an assignment comes to.
#[derive(Clone, Debug)]
pub enum Value {
    /// A quantity.
    Worked(Arc<Worked>),
    /// The answer of a comparison.
    Truth(bool),
    /// A list of quantities.
    List(Vec<Arc<Worked>>),
}

/// Reads a calculation: one assignment a line, or several joined by `;`.
///
/// # Errors
/// All that is wrong with its form.
pub fn parse(_text: &str) -> Result<Sheet, Vec<CalcError>> {
    todo!()
}

/// Reads a calculation whose last statement is an expression without a name: the answer.
///
/// # Errors
/// All that is wrong with its form.
pub fn parse_expression(_text: &str) -> Result<Sheet, Vec<CalcError>> {
    todo!()
}

impl Sheet {
    /// The names that it needs from elsewhere, sorted.
    pub fn outside(&self) -> Vec<&str> {
        todo!()
    }

    /// The names that it defines, in the order in which they stand.
    pub fn names(&self) -> Vec<&str> {
        todo!()
    }

    /// Checks names and units, and lowers it to a tape.
    ///
    /// # Errors
    /// All names that are not known, units that do not fit, cycles.
    pub fn check(&self, _scope: &dyn Scope) -> Result<Program, Vec<CalcError>> {
        todo!()
    }
}

impl Program {
    /// Works out every assignment, each after those that it rests on.
    ///
    /// # Errors
    /// What cannot be worked out: division by zero, a root of what is negative, outside a table, correlations that cannot be.
    pub fn work_out(&self, _correlations: &Correlations) -> Result<Vec<Step>, Vec<CalcError>> {
        todo!()
    }
}
