//! Rows of one point in history beside those of another, and rows of today beside those after a change.

use std::collections::{BTreeMap, BTreeSet};

use crate::model::{Id, Model};
use crate::state::{EntryRef, Reason, Row};

/// A row, as what it is matched by.
#[derive(Clone)]
pub struct Known {
    /// The requirement, or what replaces it.
    pub requirement: String,
    /// Its title.
    pub title: String,
    /// The row.
    pub row: Row,
}

type Key = (String, EntryRef, String);

impl Known {
    fn key(&self) -> Key {
        (self.requirement.clone(), self.row.entry, self.row.subject.to_string())
    }

    /// What is the same of an entry that stands in another place of its plan.
    fn is_alike(&self, other: &Known) -> bool {
        self.row.method == other.row.method
            && self.row.stage == other.row.stage
            && self.row.subject.to_string() == other.row.subject.to_string()
    }
}

/// What each requirement is that another one replaces: that one's id.
pub fn replaced(model: &Model) -> BTreeMap<&str, &str> {
    let each = model.requirements.iter().flat_map(|it| it.replaces.iter().map(move |old| (old, it)));
    each.map(|(old, it)| (old.value.as_str(), it.head.id.value.as_str())).collect()
}

/// Rows ready to be matched; a requirement that another replaces goes by that one's id.
pub fn known(model: &Model, rows: impl IntoIterator<Item = Row>, replaced: &BTreeMap<&str, &str>) -> Vec<Known> {
    let one = |row: Row| {
        let requirement = &model.requirements[row.requirement];
        let id = requirement.head.id.as_str();
        let id = replaced.get(id).copied().unwrap_or(id).to_string();
        Known { requirement: id, title: requirement.head.title.clone(), row }
    };
    rows.into_iter().map(one).collect()
}

/// Rows of then beside those of now: by requirement, entry and subject; what is left over by method instead of the entry's place,
/// since an entry that was put in front of another moves it.
pub fn pairs(old: Vec<Known>, new: &[Known]) -> Vec<(Option<Known>, Option<&Known>)> {
    let mut left: BTreeMap<Key, Known> = old.into_iter().map(|known| (known.key(), known)).collect();
    let mut found: Vec<(Option<Known>, Option<&Known>)> = Vec::with_capacity(new.len());
    for now in new {
        let key = now.key();
        let same = left.get(&key).is_some_and(|then| then.row.method == now.row.method);
        found.push((if same { left.remove(&key) } else { None }, Some(now)));
    }
    for (then, now) in found.iter_mut().filter(|(then, _)| then.is_none()) {
        let Some(now) = now else { continue };
        let first = (now.requirement.clone(), EntryRef::Plan(0), String::new());
        let own = left.range(first..).take_while(|((requirement, ..), _)| *requirement == now.requirement);
        let key = own.into_iter().find(|(_, then)| then.is_alike(now)).map(|(key, _)| key.clone());
        *then = key.and_then(|key| left.remove(&key));
    }
    found.extend(left.into_values().map(|then| (Some(then), None)));
    found
}

/// The reasons that a row has at the later point and not at the earlier one, worst first.
pub fn fresh<'r>(then: &Row, now: &'r Row) -> Vec<&'r Reason> {
    let known: BTreeSet<(&str, Option<&Id>, &str)> =
        then.reasons().map(|own| (own.code, own.record.as_ref(), own.text.as_str())).collect();
    let fresh = now.reasons().filter(|own| !known.contains(&(own.code, own.record.as_ref(), own.text.as_str())));
    let mut fresh: Vec<&Reason> = fresh.collect();
    fresh.sort_by_key(|own| own.state);
    fresh
}
