//! What would show rows again: the procedures to run, or the records to make.

use std::collections::BTreeMap;

use crate::model::Model;
use crate::model::kinds::ProcedureStatus;
use crate::state::{EntryRef, Row};

/// A way in which rows would be shown again.
#[derive(Clone, Debug)]
pub struct Again<'r> {
    /// The procedure, or the kind of record.
    pub how: String,
    /// What is in the way of running it, if something is.
    pub note: Option<String>,
    /// The rows.
    pub rows: Vec<&'r Row>,
}

impl Again<'_> {
    /// What a row is about: `ACT-010 on ACT-W/SN02`.
    pub fn label(model: &Model, row: &Row) -> String {
        format!("{} on {}", model.requirements[row.requirement].head.id.value, row.subject)
    }
}

/// Rows by what would show them: the procedure, or else a record of their method. Procedures come first, each by name.
pub fn shown_again<'r>(model: &Model, rows: impl Iterator<Item = &'r Row>) -> Vec<Again<'r>> {
    let mut by_how: BTreeMap<(bool, String), Again<'_>> = BTreeMap::new();
    for row in rows {
        let (how, note) = match (&row.procedure, row.method) {
            (Some(id), _) => (id.to_string(), in_the_way(model, id)),
            (None, Some(method)) => (format!("a new {}", method.word()), None),
            (None, None) if row.entry == EntryRef::Children => ("its children".to_string(), None),
            (None, None) => ("no plan".to_string(), None),
        };
        let own = by_how.entry((row.procedure.is_none(), how.clone()));
        own.or_insert_with(|| Again { how, note, rows: Vec::new() }).rows.push(row);
    }
    by_how.into_values().collect()
}

/// Why a procedure cannot be run as it is.
fn in_the_way(model: &Model, procedure: &str) -> Option<String> {
    match model.procedure(procedure) {
        None => Some("there is no such procedure".into()),
        Some(it) if it.status != ProcedureStatus::Released => Some(format!("it is {}", it.status.word())),
        Some(_) => None,
    }
}
