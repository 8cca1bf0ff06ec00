//! Signed evidence that counts for nothing.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::{
    AppliesTo, Item, Method, On, PlanEntry, Record, RecordStatus, Requirement, RequirementStatus,
};
use crate::model::{Model, Ref};
use crate::state::fits::is_on;

/// The check.
pub const CHECK: Check = Check { name: "matching", codes: &["matches-no-entry"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let model = subject.facts.model;
    let records = model.records.iter().enumerate();
    for (at, record) in records.filter(|(_, record)| record.status.value == RecordStatus::Signed) {
        for (which, verifies) in record.verifies.iter().enumerate() {
            let Some(requirement) = subject.facts.verified(at, which) else { continue };
            if requirement.status == RequirementStatus::Withdrawn {
                continue;
            }
            let entries = requirement.plan.iter().map(|entry| (Misses::of(model, requirement, entry, record), entry));
            let nearest = match entries.min_by_key(|(misses, _)| misses.count()) {
                Some((misses, _)) if misses.count() == 0 => continue,
                Some((misses, entry)) => misses.words(requirement, entry, record),
                None => vec!["it has no plan entry at all".to_string()],
            };
            let (id, asked) = (&record.head.id.value, &requirement.head.id);
            let text =
                format!("{id} is signed and counts for no plan entry of {}: {}", asked.value, nearest.join("; "));
            let entry = requirement.plan.first().map_or(asked.span, |entry| entry.span);
            findings.push(
                Finding::at("matches-no-entry", verifies.requirement.span, text).also(entry, "the plan starts here"),
            );
        }
    }
}

/// In what a record is not what an entry asks for; it counts for the entry if in nothing.
struct Misses {
    method: bool,
    procedure: bool,
    stage: bool,
    subject: bool,
}

impl Misses {
    fn of(model: &Model, requirement: &Requirement, entry: &PlanEntry, record: &Record) -> Misses {
        let own = record.procedure.as_ref().map(|procedure| &procedure.value);
        Misses {
            method: entry.method.is_some_and(|method| method != record.method),
            procedure: entry.procedure.as_ref().is_some_and(|wanted| own != Some(&wanted.value)),
            stage: entry.stage.is_some_and(|stage| record.stage != Some(stage)),
            subject: !on_the_right_thing(model, requirement, entry, record),
        }
    }

    fn count(&self) -> usize {
        [self.method, self.procedure, self.stage, self.subject].into_iter().filter(|missed| *missed).count()
    }

    /// The same for people.
    fn words(&self, requirement: &Requirement, entry: &PlanEntry, record: &Record) -> Vec<String> {
        let mut words = Vec::new();
        if let Some(method) = entry.method.filter(|_| self.method) {
            words.push(format!("the plan asks for {}, this is {}", with_article(method), with_article(record.method)));
        }
        if let Some(wanted) = entry.procedure.as_ref().filter(|_| self.procedure) {
            words.push(match &record.procedure {
                Some(own) => format!("the plan asks for {}, this was run by {}", wanted.value, own.value),
                None => format!("the plan asks for {}, this names no procedure", wanted.value),
            });
        }
        if let Some(stage) = entry.stage.filter(|_| self.stage) {
            let own = record.stage.map_or("no stage", |own| own.word());
            words.push(format!("the plan asks for {}, this states {own}", stage.word()));
        }
        if self.subject {
            words.push(subject_asked(requirement, entry, record));
        }
        words
    }
}

fn with_article(method: Method) -> String {
    let word = method.word();
    format!("{} {word}", if word.starts_with(['a', 'i']) { "an" } else { "a" })
}

/// Whether what a record is about is of the sort that an entry asks for, whatever became of the hardware since.
fn on_the_right_thing(model: &Model, requirement: &Requirement, entry: &PlanEntry, record: &Record) -> bool {
    if requirement.applies_to == AppliesTo::Project {
        return record.serials.is_empty() && record.item.is_none();
    }
    is_on(entry, record, |id| model.item(id).is_some_and(|item| is_target(model, requirement, item)))
}

/// Whether a requirement is about an item: by name, by its tag, or as an option, even one that was dropped.
fn is_target(model: &Model, requirement: &Requirement, item: &Item) -> bool {
    match &requirement.applies_to {
        AppliesTo::Project => false,
        AppliesTo::Tag(tag) => item.tags.iter().any(|own| own.value == tag.value),
        AppliesTo::Named(ids) => ids.iter().any(|id| match model.find(&id.value) {
            Some(Ref::Item(_)) => id.value == item.head.id.value,
            Some(Ref::Slot(_)) => item.fills.as_ref().is_some_and(|slot| slot.value == id.value),
            _ => false,
        }),
    }
}

fn subject_asked(requirement: &Requirement, entry: &PlanEntry, record: &Record) -> String {
    let target = match &requirement.applies_to {
        AppliesTo::Project => return "the requirement is about the project, this is about an item or a piece".into(),
        AppliesTo::Tag(tag) => format!("items with the tag {}", tag.value),
        AppliesTo::Named(ids) => ids.iter().map(|id| id.value.to_string()).collect::<Vec<_>>().join(", "),
    };
    let own = match (record.serials.as_slice(), &record.item) {
        ([], None) => "nothing".to_string(),
        ([], Some(item)) => format!("item {}", item.value),
        (serials, _) => serials.iter().map(|serial| serial.value.to_string()).collect::<Vec<_>>().join(", "),
    };
    let asked = match entry.on {
        On::Design => "the design of",
        On::Each | On::One => "a piece of",
    };
    format!("the plan asks for evidence on {asked} {target}, this names {own}")
}
