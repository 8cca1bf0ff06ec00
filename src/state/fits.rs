//! Which entries of a requirement's plan a record counts for.

use crate::model::kinds::{AppliesTo, Item, ItemStatus, Method, On, PlanEntry, Record, Requirement};
use crate::model::{Id, Ref};
use crate::text::Spanned;

use super::Facts;
pub use super::decide::matches_entry;
use super::scope::{Target, targets};

/// The positions of the entries that a record counts for: by method, procedure, stage, and what it is about.
pub fn fitting(facts: &Facts<'_>, requirement: &Requirement, record: &Record) -> Vec<usize> {
    let entries = requirement.plan.iter().enumerate();
    let fits = entries.filter(|(_, entry)| matches_entry(record, entry) && is_about(facts, requirement, entry, record));
    fits.map(|(at, _)| at).collect()
}

/// Whether a record is about something that an entry must be shown on, or on a candidate for a slot that it is about: what
/// shows which option to choose is signed before one is chosen.
pub fn is_about(facts: &Facts<'_>, requirement: &Requirement, entry: &PlanEntry, record: &Record) -> bool {
    let on = |item: &Id| is_on(entry, record, |own| own == item);
    let targeted = targets(facts, requirement).iter().any(|target| match target {
        Target::Project => record.serials.is_empty() && record.item.is_none(),
        Target::Item(at) => on(&facts.model.items[*at].head.id.value),
        Target::EmptySlot(_) | Target::NoItem(_) | Target::Unknown(_) | Target::Nothing => false,
    });
    targeted || candidates(facts, requirement).any(|item| on(&item.head.id.value))
}

/// Whether a record is on a piece of a wanted item, as an entry asks for it; or, for the design, on the item itself.
pub fn is_on(entry: &PlanEntry, record: &Record, wanted: impl Fn(&Id) -> bool) -> bool {
    let on_piece = || record.serials.iter().any(|serial| wanted(&serial.value.item));
    match entry.on {
        On::Each | On::One => on_piece(),
        On::Design => {
            record.item.as_ref().is_some_and(|item| wanted(&item.value))
                || (record.method != Method::Analysis && on_piece())
        }
    }
}

/// The candidates for the slots that a requirement applies to.
pub fn candidates<'m>(facts: &Facts<'m>, requirement: &'m Requirement) -> impl Iterator<Item = &'m Item> {
    let named: &[Spanned<Id>] = match &requirement.applies_to {
        AppliesTo::Named(ids) => ids,
        AppliesTo::Project | AppliesTo::Tag(_) => &[],
    };
    let items = facts.model.items.iter().zip(&facts.graph.dropped);
    let all = items.filter(|(item, dropped)| item.status == ItemStatus::Candidate && !**dropped);
    all.map(|(item, _)| item).filter(move |item| {
        let slot = item.fills.as_ref().filter(|slot| matches!(facts.model.find(&slot.value), Some(Ref::Slot(_))));
        slot.is_some_and(|slot| named.iter().any(|id| id.value == slot.value))
    })
}
