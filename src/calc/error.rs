//! What is wrong with a calculation, and where.

use std::ops::Range;

use crate::quantity::QuantityError;

/// Something wrong with a calculation.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct CalcError {
    /// The bytes of the calculation that are to blame; `0..0` where the trouble is in no text, such as a matrix of correlations.
    pub range: Range<usize>,
    /// What was found and what was expected.
    pub message: String,
    /// What to type instead.
    pub help: String,
    /// Other bytes that have to do with it, each with what they are: the two operands of a sum, the first definition of a name.
    pub also: Vec<(Range<usize>, String)>,
}

impl CalcError {
    /// An error about the given bytes.
    pub fn new(range: Range<usize>, message: impl Into<String>, help: impl Into<String>) -> Self {
        Self { range, message: message.into(), help: help.into(), also: Vec::new() }
    }

    /// The same error that points at other bytes too.
    #[must_use]
    pub fn and(mut self, range: Range<usize>, what: impl Into<String>) -> Self {
        self.also.push((range, what.into()));
        self
    }

    /// An error of a quantity whose text begins at byte `offset`.
    pub(super) fn of_quantity(error: QuantityError, offset: usize) -> Self {
        let error = error.shifted(offset);
        Self::new(error.range, error.message, error.help)
    }
}
