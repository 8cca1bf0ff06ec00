//! What a calculation gets from outside: inputs, parameters, results of other calculations, tables.

use std::sync::Arc;

use super::Worked;
use crate::quantity::Quantity;
use crate::table::Table;

/// Where a value, and with it an uncertainty, enters: an input, a parameter, a result that was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// What it is, wherever it is used: two results that rest on one key are correlated.
    pub key: String,
    /// The name to show.
    pub name: String,
    /// The value and its uncertainty.
    pub quantity: Quantity,
    /// The instrument that it was read from. What two readings of one instrument share is not known unless it is stated.
    pub instrument: Option<String>,
}

/// What a name stands for.
#[derive(Clone, Debug)]
pub enum Given {
    /// A value from outside.
    Source(Source),
    /// The result of another calculation, with all that it rests on.
    Worked(Arc<Worked>),
    /// It exists, but has no value that could be used.
    Refused {
        /// Why not.
        message: String,
        /// What to do.
        help: String,
    },
}

/// What the names of a calculation stand for which it does not define itself.
pub trait Scope {
    /// What a name stands for; `None` if nothing is called that.
    fn given(&self, name: &str) -> Option<Given>;

    /// All names, for suggestions.
    fn names(&self) -> Vec<String>;

    /// The table in a file that is attached.
    ///
    /// # Errors
    /// What is wrong and what to type.
    fn table(&self, file: &str) -> Result<Arc<Table>, (String, String)>;

    /// What the keys of uncertain values that stand in the calculation itself begin with: the id of the record.
    fn here(&self) -> &str {
        ""
    }

    /// The pressure that gauge readings are relative to.
    fn ambient(&self) -> Option<Quantity> {
        None
    }
}
