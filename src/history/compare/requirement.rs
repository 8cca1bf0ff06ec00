//! A requirement's other keys: status, what it applies to, safety, parents.

use crate::model::Id;
use crate::model::kinds::{AppliesTo, Requirement, RequirementStatus};
use crate::text::Spanned;

use super::Difference;

/// How what a requirement reaches differs.
pub(in crate::history) fn reach(then: &Requirement, now: &Requirement) -> Vec<Difference> {
    let mut found = Vec::new();
    if then.status != now.status {
        let text = format!("{} instead of {}", now.status.word(), then.status.word());
        let less = then.status == RequirementStatus::Active || now.status == RequirementStatus::Withdrawn;
        found.push(Difference { text, less });
    }
    match (then.safety, now.safety) {
        (true, false) => found.push(Difference::less("no longer marked as safety")),
        (false, true) => found.push(Difference::other("marked as safety")),
        _ => {}
    }
    found.extend(applies_to(&then.applies_to, &now.applies_to));
    found
}

/// How what it comes from differs; nothing is asked less by that.
pub(in crate::history) fn origin(then: &Requirement, now: &Requirement) -> Vec<Difference> {
    let mut found = lists("parent", &then.parents, &now.parents);
    found.extend(lists("replaced id", &then.replaces, &now.replaces));
    found
}

fn lists(word: &str, then: &[Spanned<Id>], now: &[Spanned<Id>]) -> Vec<Difference> {
    let has = |list: &[Spanned<Id>], id: &Id| list.iter().any(|other| other.value == *id);
    let gone = then.iter().filter(|id| !has(now, &id.value)).map(|id| format!("{word} {} removed", id.value));
    let come = now.iter().filter(|id| !has(then, &id.value)).map(|id| format!("{word} {} added", id.value));
    gone.chain(come).map(Difference::other).collect()
}

fn applies_to(then: &AppliesTo, now: &AppliesTo) -> Vec<Difference> {
    match (then, now) {
        (AppliesTo::Named(old), AppliesTo::Named(new)) => {
            let has = |list: &[Spanned<Id>], id: &Id| list.iter().any(|other| other.value == *id);
            let gone = old.iter().filter(|id| !has(new, &id.value));
            let come = new.iter().filter(|id| !has(old, &id.value));
            let gone = gone.map(|id| Difference::less(format!("no longer applies to {}", id.value)));
            gone.chain(come.map(|id| Difference::other(format!("applies to {} too", id.value)))).collect()
        }
        (AppliesTo::Project, AppliesTo::Project) => Vec::new(),
        (AppliesTo::Tag(old), AppliesTo::Tag(new)) if old.value == new.value => Vec::new(),
        _ => vec![Difference::less(format!("applies to {} instead of {}", target(now), target(then)))],
    }
}

/// What a requirement applies to, in words.
pub(in crate::history) fn target(applies_to: &AppliesTo) -> String {
    match applies_to {
        AppliesTo::Project => "the project as a whole".into(),
        AppliesTo::Named(ids) if ids.is_empty() => "nothing".into(),
        AppliesTo::Named(ids) => ids.iter().map(|id| id.value.to_string()).collect::<Vec<_>>().join(", "),
        AppliesTo::Tag(tag) => format!("items tagged {}", tag.value),
    }
}
