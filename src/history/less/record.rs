//! Records: what somebody stood by and that no longer counts as it did, failures above all.
//!
//! A seal that no longer lines up already voids a record, and withdrawing one is listed beside every answer; here is
//! what neither of the two would show.

use crate::history::past::Family;
use crate::model::kinds::{Record, RecordStatus, Verifies};

use super::List;

/// Compares every signed record that differs.
pub(super) fn compare(list: &mut List<'_, '_>) {
    let then = list.then;
    for old in then.part.records.iter().filter(|it| it.status.value == RecordStatus::Signed) {
        let id = &old.head.id.value;
        match list.now.record(id) {
            None => {
                let by = list.why_gone(id, Family::Record);
                list.say(id, format!("the signed {} is gone: {by}", old.method.word()));
            }
            Some(new) => one(list, old, new),
        }
    }
}

fn one(list: &mut List<'_, '_>, old: &Record, new: &Record) {
    let id = &old.head.id.value;
    if new.status.value == RecordStatus::Draft {
        list.say(id, "a draft instead of signed: what it failed no longer counts");
    }
    if old.seal.is_some() && new.seal.is_none() {
        list.say(id, "its seal is gone");
    }
    for verifies in &old.verifies {
        let requirement = &verifies.requirement.value;
        let Some(after) = new.verifies.iter().find(|other| other.requirement.value == *requirement) else {
            list.say(id, format!("no longer reports on {requirement}"));
            continue;
        };
        for (criterion, outcome) in verifies.outcomes.iter().filter(|(_, outcome)| outcome.value == "not met") {
            if after.outcome(&criterion.value) != Some(outcome.value.as_str()) {
                list.say(id, format!("no longer reports {} of {requirement} as not met", criterion.value));
            }
        }
        // With a seal an edit shows by itself.
        if new.seal.is_none() && results(verifies) != results(after) {
            list.say(id, format!("its results for {requirement} are not those that were signed"));
        }
    }
}

/// Results as written, with their criteria.
fn results(verifies: &Verifies) -> Vec<(String, String)> {
    let named = verifies.results.iter().map(|(name, result)| (name.value.clone(), result.value.show()));
    let only = verifies.result.iter().map(|result| (String::new(), result.value.show()));
    named.chain(only).collect()
}
