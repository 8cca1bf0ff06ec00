//! Which things must not leave silently, and how they stand.

use crate::git::{GitError, Oid, Repo};
use crate::model::kinds::{Entity, Record, RecordStatus, Requirement, RequirementStatus, Waiver, WaiverStatus};
use crate::model::{Id, Model, Ref, load};
use crate::source::Limits;
use crate::text::FileId;

use super::super::leaf::Plain;
use super::super::then::why_unreadable;

/// Sorts of things; one that became a thing of another sort is gone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(in crate::history) enum Family {
    Requirement,
    Record,
    Nonconformance,
    Waiver,
    Held,
}

impl Family {
    /// Of what a reference names; none for what may come and go.
    pub(in crate::history) fn of(place: Ref) -> Option<Family> {
        match place {
            Ref::Requirement(_) => Some(Family::Requirement),
            Ref::Record(_) => Some(Family::Record),
            Ref::Nonconformance(_) => Some(Family::Nonconformance),
            Ref::Waiver(_) => Some(Family::Waiver),
            Ref::Held(_) => Some(Family::Held),
            Ref::Item(_) | Ref::Slot(_) | Ref::Procedure(_) | Ref::Decision(_) => None,
        }
    }
}

/// How a thing stands, as far as leaving goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::history) enum Standing {
    /// It may leave: a draft.
    Draft,
    /// Withdrawn with a reason: that accounts for it.
    Withdrawn,
    /// A record withdrawn with a reason, of which some result was not met or never judged: only a nonconformance accounts for it.
    Unsettled,
    /// It must not leave: active, signed; a nonconformance, a waiver, a held event.
    Guarded,
    /// A signed record of which a result was not met when it was signed: it takes a decision and a nonconformance to account for it.
    Failed,
}

fn of_requirement(requirement: &Requirement) -> Standing {
    match requirement.status {
        RequirementStatus::Draft => Standing::Draft,
        RequirementStatus::Withdrawn if requirement.reason.is_some() => Standing::Withdrawn,
        RequirementStatus::Active | RequirementStatus::Withdrawn => Standing::Guarded,
    }
}

fn of_record(record: &Record) -> Standing {
    match record.status.value {
        RecordStatus::Draft => Standing::Draft,
        RecordStatus::Withdrawn if record.reason.is_some() => {
            let met = record.verifies.iter().all(|verifies| {
                !verifies.outcomes.is_empty() && verifies.outcomes.iter().all(|(_, outcome)| outcome.value == "met")
            });
            if met { Standing::Withdrawn } else { Standing::Unsettled }
        }
        RecordStatus::Signed | RecordStatus::Withdrawn => {
            let mut outcomes = record.verifies.iter().flat_map(|verifies| &verifies.outcomes);
            let failed = outcomes.any(|(_, outcome)| outcome.value == "not met");
            if failed { Standing::Failed } else { Standing::Guarded }
        }
    }
}

fn of_waiver(waiver: &Waiver) -> Standing {
    if waiver.status == WaiverStatus::Withdrawn { Standing::Withdrawn } else { Standing::Guarded }
}

/// How a thing of a model stands; none for what may come and go.
pub(in crate::history) fn standing(model: &Model, place: Ref) -> Option<Standing> {
    match place {
        Ref::Requirement(at) => Some(of_requirement(&model.requirements[at])),
        Ref::Record(at) => Some(of_record(&model.records[at])),
        Ref::Waiver(at) => Some(of_waiver(&model.waivers[at])),
        Ref::Nonconformance(_) | Ref::Held(_) => Some(Standing::Guarded),
        Ref::Item(_) | Ref::Slot(_) | Ref::Procedure(_) | Ref::Decision(_) => None,
    }
}

/// What a thing is called that must not leave.
pub(in crate::history) fn held(model: &Model, place: Ref) -> Option<&'static str> {
    Family::of(place).and_then(|_| words(model.kind(place)))
}

/// What a thing of a kind is called once it must not leave.
pub(super) fn words(kind: &str) -> Option<&'static str> {
    KINDS.iter().find(|(own, _, _)| *own == kind).map(|(_, _, words)| *words)
}

/// Kinds with their families and words, in the order in which they are written down.
const KINDS: &[(&str, Family, &str)] = &[
    ("requirement", Family::Requirement, "an active requirement"),
    ("analysis", Family::Record, "a signed analysis"),
    ("test", Family::Record, "a signed test"),
    ("inspection", Family::Record, "a signed inspection"),
    ("demonstration", Family::Record, "a signed demonstration"),
    ("nonconformance", Family::Nonconformance, "a nonconformance"),
    ("waiver", Family::Waiver, "a waiver"),
    ("event", Family::Held, "a held event"),
];

/// What a thing is: a position in [`KINDS`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Sort(pub(super) usize);

impl Sort {
    fn of(kind: &str) -> Option<Sort> {
        KINDS.iter().position(|(own, _, _)| *own == kind).map(Sort)
    }

    /// The sort that was written down with this number.
    pub(super) fn numbered(number: usize) -> Option<Sort> {
        (number < KINDS.len()).then_some(Sort(number))
    }

    pub(super) fn family(self) -> Family {
        KINDS.get(self.0).map_or(Family::Held, |(_, family, _)| *family)
    }

    pub(super) fn words(self) -> &'static str {
        KINDS.get(self.0).map_or("a thing", |(_, _, words)| words)
    }
}

/// A thing as a file of some commit holds it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Thing {
    pub(super) id: Id,
    pub(super) sort: Sort,
    pub(super) standing: Standing,
    /// What a requirement stands in for.
    pub(super) replaces: Vec<Id>,
}

/// What a file comes to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Reading {
    /// Nothing that must not leave.
    Nothing,
    /// A thing.
    Whole(Thing),
    /// Not all of it could be read, or nothing; with what could be made out.
    Broken(Option<Thing>),
    /// Git does not have it.
    Missing,
}

/// Reads a file of a commit.
pub(super) fn read(repo: &Repo, oid: Oid) -> Reading {
    let text = match repo.text_at_most(oid, Limits::default().text_bytes) {
        Ok(Some(text)) => text,
        Ok(None) | Err(GitError::TooLarge { .. }) => return Reading::Broken(None),
        Err(_) => return Reading::Missing,
    };
    Plain::of(&text).as_ref().and_then(|file| at_once(file, &text)).unwrap_or_else(|| in_full(&text))
}

fn in_full(text: &str) -> Reading {
    let (entity, findings) = load::load_one(FileId(0), text);
    let broken = why_unreadable(entity.is_none(), &findings).is_some();
    let thing = entity.as_ref().and_then(thing);
    match (broken, thing) {
        // Half of a file may hide that it was withdrawn, or not: what is not known is guarded.
        (true, thing) => Reading::Broken(thing.map(|thing| Thing { standing: Standing::Guarded, ..thing })),
        (false, Some(thing)) => Reading::Whole(thing),
        (false, None) => Reading::Nothing,
    }
}

/// What the front matter alone says of a thing that stands as most do: active, signed. None of one that must be read in full.
fn at_once(file: &Plain<'_>, text: &str) -> Option<Reading> {
    let Some(sort) = Sort::of(file.kind()) else { return Some(Reading::Nothing) };
    let guarded = match sort.family() {
        Family::Requirement => !file.has("replaces") && (!file.has("status") || file.word("status") == Some("active")),
        // With an escape it may say so in other letters.
        Family::Record => file.word("status") == Some("signed") && !text.contains("not met") && !text.contains('\\'),
        Family::Nonconformance | Family::Held => true,
        Family::Waiver => false,
    };
    let (id, standing) = (Id::new(file.id()), Standing::Guarded);
    guarded.then(|| Reading::Whole(Thing { id, sort, standing, replaces: Vec::new() }))
}

fn thing(entity: &Entity) -> Option<Thing> {
    let standing = match entity {
        Entity::Requirement(it) => of_requirement(it),
        Entity::Record(it) => of_record(it),
        Entity::Waiver(it) => of_waiver(it),
        Entity::Nonconformance(_) | Entity::Held(_) => Standing::Guarded,
        Entity::Item(_) | Entity::Slot(_) | Entity::Procedure(_) | Entity::Decision(_) => return None,
    };
    let replaces = match entity {
        Entity::Requirement(it) => it.replaces.iter().map(|id| id.value.clone()).collect(),
        _ => Vec::new(),
    };
    Some(Thing { id: entity.head().id.value.clone(), sort: Sort::of(entity.kind())?, standing, replaces })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_told_at_once_is_what_reading_in_full_tells() {
        let keys = ["", "status = \"active\"", "status = \"signed\"", "status = \"draft\"", "status = \"withdrawn\""];
        let more =
            ["", "reason = \"why\"", "replaces = [\"A-2\"]", "status = 1", "stat us", "before = \"x\"\nbefore = \"y\""];
        let ids = ["A-1", "1", "", "A 1"];
        let kinds = KINDS.iter().map(|(kind, ..)| *kind).chain(["item", "decision", "rocket", ""]);
        let mut at_once_too = 0;
        for kind in kinds {
            for (key, more, id) in
                keys.iter().flat_map(|key| more.iter().flat_map(move |more| ids.map(|id| (key, more, id))))
            {
                let text = format!("+++\nkind = \"{kind}\"\nid = \"{id}\"\n{key}\n{more}\n+++\nIt shall be.\n");
                let told = Plain::of(&text).as_ref().and_then(|file| at_once(file, &text));
                at_once_too += usize::from(told.is_some());
                assert_eq!(told.unwrap_or_else(|| in_full(&text)), in_full(&text), "{text}");
            }
        }
        assert!(at_once_too > 50, "{at_once_too}");
    }
}
