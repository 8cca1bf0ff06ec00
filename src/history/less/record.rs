//! Records: what somebody stood by and that no longer counts as it did, failures above all.
//!
//! A seal that no longer lines up already voids a record, and withdrawing one is listed beside every answer; here is
//! what neither of the two would show. A draft stands by nothing, but what it reports keeps a row open until something newer
//! decides.

use crate::history::past::Family;
use crate::model::kinds::{Record, RecordStatus, ResultText, Verifies};
use crate::text::Spanned;

use super::List;
use super::life::left_out;

/// Compares every record that differs.
pub(super) fn compare(list: &mut List<'_, '_>) {
    let then = list.then;
    for old in then.part.records.iter().filter(|it| it.status.value == RecordStatus::Draft) {
        let id = &old.head.id.value;
        let said = match list.now.record(id) {
            None => draft_gone(old, &list.why_gone(id, Family::Record)).into_iter().collect(),
            Some(new) => draft(old, new),
        };
        for text in said {
            list.say(id, text);
        }
    }
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

/// That a draft is gone, if it reported anything.
pub(in crate::history) fn draft_gone(old: &Record, why: &str) -> Option<String> {
    let reported: Vec<&str> = reporting(old).map(|own| own.requirement.value.as_str()).collect();
    let on = reported.join(", ");
    (!reported.is_empty()).then(|| format!("the draft {} that reports on {on} is gone: {why}", old.method.word()))
}

/// In what a draft that is still one keeps less open: what it reported before, and what something newer decides over its head.
pub(in crate::history) fn draft(old: &Record, new: &Record) -> Vec<String> {
    let is_draft = |it: &Record| it.status.value == RecordStatus::Draft;
    if !is_draft(old) || !is_draft(new) || reporting(old).next().is_none() {
        return Vec::new();
    }
    let mut said = Vec::new();
    if let (Some(was), Some(is)) = (&old.date, &new.date)
        && is.value.before(&was.value)
    {
        said.push(format!("a draft of {} instead of {}, which is earlier", is.text, was.text));
    }
    let gone = left_out(old, new);
    said.extend(gone.map(|piece| format!("the draft is no longer on {piece}")));
    for verifies in reporting(old) {
        let requirement = &verifies.requirement.value;
        let Some(after) = reporting(new).find(|other| other.requirement.value == *requirement) else {
            said.push(format!("the draft no longer reports on {requirement}"));
            continue;
        };
        let named = |(name, _): &&(Spanned<String>, Spanned<ResultText>)| {
            after.result.is_some() || after.results.iter().any(|(other, _)| other.value == name.value)
        };
        for (name, _) in verifies.results.iter().filter(|own| !named(own)) {
            said.push(format!("the draft no longer reports {} of {requirement}", name.value));
        }
    }
    said
}

/// What a record says of requirements, where it says more than that it is about them.
fn reporting(record: &Record) -> impl Iterator<Item = &Verifies> {
    record.verifies.iter().filter(|own| own.result.is_some() || !own.results.is_empty())
}

/// Results as written, with their criteria.
fn results(verifies: &Verifies) -> Vec<(String, String)> {
    let named = verifies.results.iter().map(|(name, result)| (name.value.clone(), result.value.show()));
    let only = verifies.result.iter().map(|result| (String::new(), result.value.show()));
    named.chain(only).collect()
}
