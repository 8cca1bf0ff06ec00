//! Which entries of a requirement's plan a record counts for.

use crate::model::kinds::{Method, On, PlanEntry, Record, Requirement};

use super::Facts;
pub use super::decide::matches_entry;
use super::scope::{Target, targets};

/// The positions of the entries that a record counts for: by method, procedure, stage, and what it is about.
pub fn fitting(facts: &Facts<'_>, requirement: &Requirement, record: &Record) -> Vec<usize> {
    let entries = requirement.plan.iter().enumerate();
    let fits = entries.filter(|(_, entry)| matches_entry(record, entry) && is_about(facts, requirement, entry, record));
    fits.map(|(at, _)| at).collect()
}

/// Whether a record is about something that an entry must be shown on.
pub fn is_about(facts: &Facts<'_>, requirement: &Requirement, entry: &PlanEntry, record: &Record) -> bool {
    targets(facts, requirement).iter().any(|target| match target {
        Target::Project => record.serials.is_empty() && record.item.is_none(),
        Target::Item(at) => {
            let item = &facts.model.items[*at].head.id.value;
            let on_piece = record.serials.iter().any(|serial| serial.value.item == *item);
            let on_item = record.item.as_ref().is_some_and(|own| own.value == *item);
            match entry.on {
                On::Each | On::One => on_piece,
                On::Design => on_item || (on_piece && record.method != Method::Analysis),
            }
        }
        Target::EmptySlot(_) | Target::NoItem(_) | Target::Unknown(_) | Target::Nothing => false,
    })
}
