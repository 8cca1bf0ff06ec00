//! In what less is asked than at a commit: one file for each kind of thing.
//!
//! In: [`Then`](super::then::Then). Out: an entry for each way in which less is asked, or may be. What asks more never
//! appears, nor what says the same in other words. What cannot be compared does: the reader decides.
//!
//! To add a way: where its kind is compared, and a case in the tests, whose reverse must be silent.

mod departure;
mod hardware;
mod held;
mod instrument;
mod life;
mod people;
mod procedure;
mod project;
mod record;
mod requirement;

pub(super) use departure::{reach, widened};
pub(super) use hardware::facts;
pub(super) use held::told_of;
pub(super) use instrument::recalls;
pub(super) use life::{less_used, used};
pub(super) use record::{draft, draft_gone};

use crate::model::kinds::{Decision, DecisionStatus};
use crate::model::{Id, Model};

use super::compare::Difference;
use super::compare::calendar::Calendar;
use super::guard::LessAsked;
use super::past::{Family, Left, Standing};
use super::then::Then;
use super::vanished::{replaced_by, withdrawn_by};

/// Everything that is asked less.
pub(super) fn less(then: &Then<'_>, left: &Left) -> Vec<LessAsked> {
    let mut list = List { now: then.now, then, left, entries: Vec::new() };
    if then.is_now() {
        return list.entries;
    }
    project::compare(&mut list);
    people::compare(&mut list);
    requirement::compare(&mut list);
    hardware::compare(&mut list);
    procedure::compare(&mut list);
    record::compare(&mut list);
    life::records(&mut list);
    departure::nonconformances(&mut list);
    departure::waivers(&mut list);
    instrument::compare(&mut list);
    held::compare(&mut list);
    list.entries.sort();
    list.entries.dedup();
    list.entries
}

/// Entries as they are found.
struct List<'t, 'n> {
    now: &'n Model,
    then: &'t Then<'n>,
    left: &'t Left,
    entries: Vec<LessAsked>,
}

impl<'n> List<'_, 'n> {
    fn say(&mut self, id: &str, text: impl Into<String>) {
        self.entries.push(LessAsked { id: id.to_string(), text: text.into() });
    }

    /// Says those that ask less, with the decisions made since that name the thing.
    fn say_less(&mut self, id: &Id, differences: impl IntoIterator<Item = Difference>) {
        let decided = self.decided(id);
        for difference in differences.into_iter().filter(|difference| difference.less) {
            self.say(id, format!("{}{decided}", difference.text));
        }
    }

    /// What accounts for a thing that is gone, in words.
    fn why_gone(&self, id: &Id, family: Family) -> String {
        why_gone(self.now, self.left, id, family)
    }

    fn calendar(&self) -> Calendar<'_> {
        Calendar { then: &self.then.part.config, now: &self.now.config }
    }

    /// ` (D-001)` for the decisions written or changed since that name the thing; empty for none.
    fn decided(&self, id: &Id) -> String {
        let since = |decision: &&Decision| {
            decision.status == DecisionStatus::Accepted && !self.then.is_same(decision.head.file) && names(decision, id)
        };
        let ids: Vec<&str> = self.now.decisions.iter().filter(since).map(|it| it.head.id.value.as_str()).collect();
        if ids.is_empty() { String::new() } else { format!(" ({})", ids.join(", ")) }
    }
}

/// What accounts for a thing that is gone, in words.
pub(super) fn why_gone(now: &Model, left: &Left, id: &Id, family: Family) -> String {
    let names = |ids: Vec<&Id>| ids.iter().map(|id| id.as_str()).collect::<Vec<_>>().join(", ");
    let replaced: Vec<&Id> = match family {
        Family::Requirement => replaced_by(now, id).collect(),
        _ => Vec::new(),
    };
    let withdrawn: Vec<&Id> = withdrawn_by(now, id).collect();
    let gone = left.gone.get(&(id.clone(), family));
    if !replaced.is_empty() {
        format!("replaced by {}", names(replaced))
    } else if !withdrawn.is_empty() {
        format!("withdrawn by {}", names(withdrawn))
    } else if gone.is_some_and(|gone| matches!(gone.standing, Standing::Withdrawn | Standing::Unsettled)) {
        "it had been withdrawn before its file went".into()
    } else {
        "nothing says why".into()
    }
}

/// Whether a decision changes this thing; what it keeps it does not change.
pub(super) fn names(decision: &Decision, id: &Id) -> bool {
    let lists = [&decision.selects, &decision.drops, &decision.adds, &decision.revises, &decision.withdraws];
    lists.into_iter().flatten().any(|named| named.value == *id)
}
