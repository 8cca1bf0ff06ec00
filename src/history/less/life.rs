//! Limited life: budgets that allow more, and use that is told as less than it was.

use crate::model::SerialId;
use crate::model::kinds::{Budget, Counted, Item, Record, Rework, Serial};
use crate::parse::Amount;
use crate::text::Spanned;

use super::List;

/// Amounts by the name of their budget.
type Amounts = [(Spanned<String>, Spanned<Amount>)];

/// Compares what was told of use: `verb` is `used`, or what fits before an amount.
pub(super) fn amounts(list: &mut List<'_, '_>, id: &str, verb: &str, old: &Amounts, new: &Amounts) {
    for text in less_used(verb, old, new) {
        list.say(id, text);
    }
}

/// What was told of use and is told as less, or not at all.
pub(in crate::history) fn less_used(verb: &str, old: &Amounts, new: &Amounts) -> Vec<String> {
    let mut said = Vec::new();
    for (name, was) in old {
        let now = new.iter().find(|(other, _)| other.value == name.value).map(|(_, now)| &now.value);
        if !now.is_some_and(|now| is_within(&was.value, now)) {
            let now = now.map_or("nothing", |now| &now.text);
            said.push(format!("{verb} {now} of {} instead of {}", name.value, was.value.text));
        }
    }
    said
}

/// Whether an amount is no more than another; what cannot be compared may be.
fn is_within(amount: &Amount, other: &Amount) -> bool {
    if amount.text == other.text {
        return true;
    }
    let Some(scale) = &amount.value else { return false };
    matches!((amount.most(scale), other.most(scale)), (Ok(own), Ok(bound)) if own <= bound)
}

/// Compares the budgets of an item.
pub(super) fn budgets(list: &mut List<'_, '_>, old: &Item, new: &Item) {
    let id = &old.head.id.value;
    for was in &old.life {
        let name = &was.name.value;
        match new.budget(name) {
            None => list.say(id, format!("its life in {name} is limited no more")),
            Some(is) if is.counted != was.counted => {
                list.say(id, format!("{name} is counted by {} instead of {}", is.counted.word(), was.counted.word()));
            }
            Some(is) => limit(list, id, was, is),
        }
    }
}

fn limit(list: &mut List<'_, '_>, id: &str, was: &Budget, is: &Budget) {
    let (Some(old), Some(new)) = (&was.limit, &is.limit) else { return };
    if !is_within(&new.value, &old.value) {
        let (name, new, old) = (&was.name.value, &new.value.text, &old.value.text);
        list.say(id, format!("its life in {name} is limited to {new} instead of {old}"));
    }
}

/// Compares a piece: what it had behind it, from when its age counts, what of it began anew.
pub(super) fn piece(list: &mut List<'_, '_>, name: &str, item: &Item, old: &Serial, new: &Serial) {
    amounts(list, name, "had used", &old.used, &new.used);
    let by_age = item.life.iter().any(|budget| budget.counted == Counted::Age);
    if let (Some(was), Some(is), true) = (&old.built, &new.built, by_age)
        && was.text != is.text
        && !is.value.before(&was.value)
    {
        list.say(name, format!("built on {} instead of {}", is.text, was.text));
    }
    for work in &old.reworked {
        let day = |work: &Rework| work.date.as_ref().map(|date| date.text.clone());
        let same = new.reworked.iter().filter(|other| day(other) == day(work) && other.reason == work.reason);
        for reset in same.flat_map(|other| &other.resets) {
            if !work.resets.iter().any(|own| own.value == reset.value) {
                let day = day(work).unwrap_or_else(|| "no date".into());
                list.say(name, format!("the rework of {day} begins {} anew, which it did not", reset.value));
            }
        }
    }
}

/// Compares the records that used something, whatever their standing.
pub(super) fn records(list: &mut List<'_, '_>) {
    let then = list.then;
    for old in &then.part.records {
        let id = &old.head.id.value;
        for text in used(old, list.now.record(id)) {
            list.say(id, text);
        }
    }
}

/// What a record told of use and does not any more.
pub(in crate::history) fn used(old: &Record, new: Option<&Record>) -> Vec<String> {
    if old.uses.is_empty() {
        return Vec::new();
    }
    let mut said = less_used("used", &old.uses, new.map_or(&[], |new| &new.uses));
    let gone = new.iter().flat_map(|new| left_out(old, new));
    said.extend(gone.map(|piece| format!("no longer on {piece}, of whose limited life it used")));
    said
}

/// Pieces that a record named and does not any more.
pub(super) fn left_out<'r>(old: &'r Record, new: &'r Record) -> impl Iterator<Item = &'r SerialId> {
    let gone = |piece: &&Spanned<SerialId>| new.serials.iter().all(|other| other.value != piece.value);
    old.serials.iter().filter(gone).map(|piece| &piece.value)
}
