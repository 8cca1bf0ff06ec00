//! Whether nonconformances account for what a record shows.
//!
//! A failure stands until a nonconformance that names its record is closed; and that must be about the failure: about the
//! requirement that failed, and not only about other pieces of the same item. One that lists no requirements is about all of them,
//! and one that is against an assembly, its parts, other things or the project is about whatever was run with them.

use std::collections::BTreeSet;

use crate::model::kinds::Nonconformance;
use crate::model::{Id, SerialId};

use super::Facts;
use super::standing::{how_to_close, is_closed};

/// How a failure is accounted for.
#[derive(Clone, Debug)]
pub enum Account<'f> {
    /// Closed nonconformances about it name the record.
    Settled,
    /// Of those about it that name the record, these are not closed, by position.
    Open(Vec<usize>),
    /// One that names the record is about other requirements.
    OtherRequirement(&'f Nonconformance),
    /// One that names the record is against other pieces of the item, and not this.
    OtherPiece(&'f Nonconformance, &'f SerialId),
    /// None names the record.
    Nothing,
}

impl Account<'_> {
    /// Whether somebody wrote the failure up, closed or not.
    pub fn is_written_up(&self) -> bool {
        matches!(self, Account::Settled | Account::Open(_))
    }

    /// What to do about a failure that is not accounted for; `record` and `requirement` are their ids.
    pub fn help(&self, facts: &Facts<'_>, record: &Id, requirement: &Id) -> String {
        let write = format!("slipmark new nonconformance --found-by {record}");
        match self {
            Account::Open(named) => how_to_close(facts.model, named),
            Account::OtherRequirement(other) => {
                let other = &other.head.id.value;
                format!("add \"{requirement}\" to `requirements` of {other}; or write another: {write}")
            }
            Account::OtherPiece(other, piece) => {
                let other = &other.head.id.value;
                format!("add \"{piece}\" to `against` of {other}; or write another: {write}")
            }
            Account::Settled | Account::Nothing => format!("{write}; the failure stands until that is closed"),
        }
    }
}

/// How what a record, by position, shows of a requirement is accounted for on those of its pieces for which `on` holds.
pub fn account<'f>(facts: &Facts<'f>, record: usize, requirement: &Id, on: impl Fn(&SerialId) -> bool) -> Account<'f> {
    let named: &[usize] = facts.graph.found_by.get(&record).map_or(&[], Vec::as_slice);
    let all = &facts.model.nonconformances;
    let Some(first) = named.first() else { return Account::Nothing };
    let about: Vec<usize> = named.iter().copied().filter(|at| is_about(&all[*at], requirement)).collect();
    let Some(about_it) = about.first() else { return Account::OtherRequirement(&all[*first]) };
    let pieces = facts.model.records[record].serials.iter().map(|own| &own.value).filter(|piece| on(piece));
    let mut pieces = pieces.map(Some).peekable();
    let pieces = if pieces.peek().is_some() { pieces.collect() } else { vec![None] };
    let mut open: Vec<usize> = Vec::new();
    for piece in pieces {
        let here = |at: &usize| piece.is_none_or(|piece| is_against(facts, &all[*at], piece));
        let here: Vec<usize> = about.iter().copied().filter(here).collect();
        match piece {
            Some(piece) if here.is_empty() => return Account::OtherPiece(&all[*about_it], piece),
            _ if here.iter().any(|at| is_closed(facts, &all[*at])) => {}
            _ => open.extend(here),
        }
    }
    open.sort_unstable();
    open.dedup();
    if open.is_empty() { Account::Settled } else { Account::Open(open) }
}

/// Whether closed nonconformances account for it, as [`account`] tells.
pub fn is_accounted_for(facts: &Facts<'_>, record: usize, requirement: &Id, on: impl Fn(&SerialId) -> bool) -> bool {
    matches!(account(facts, record, requirement, on), Account::Settled)
}

/// Whether a nonconformance is about a requirement.
fn is_about(it: &Nonconformance, requirement: &Id) -> bool {
    it.requirements.as_ref().is_none_or(|ids| ids.iter().any(|id| id.value == *requirement))
}

/// Whether a nonconformance may be about a piece: not if all that it says of the piece's item is other pieces, or what is or was in
/// them, around them or beside them.
fn is_against(facts: &Facts<'_>, it: &Nonconformance, piece: &SerialId) -> bool {
    let named = it.against.iter().filter_map(|target| SerialId::parse(&target.value));
    let said: BTreeSet<SerialId> = named.flat_map(|target| related(facts, &target, &piece.item)).collect();
    let whole = it.against.iter().any(|target| [piece.item.as_str(), "project"].contains(&target.value.as_str()));
    whole || said.is_empty() || said.contains(piece)
}

/// The pieces of an item that a piece is, that it was ever in, or that were ever in it or beside it in another.
fn related(facts: &Facts<'_>, target: &SerialId, item: &Id) -> BTreeSet<SerialId> {
    if target.item == *item {
        return BTreeSet::from([target.clone()]);
    }
    let ever = |outer: &SerialId| facts.graph.inside_that_day(facts.model, outer, None);
    let around = facts.graph.contained.keys().map(|outer| (outer, ever(outer))).filter(|(_, all)| all.contains(target));
    let around = around.flat_map(|(outer, all)| all.into_iter().chain([outer.clone()]));
    ever(target).into_iter().chain(around).filter(|own| own.item == *item).collect()
}
