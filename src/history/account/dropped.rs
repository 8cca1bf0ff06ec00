//! What applied to an option that a decision drops must be revised, withdrawn, or kept by name.

use crate::check::earliest;
use crate::diag::Finding;
use crate::git::{GitError, Oid};
use crate::history::less;
use crate::model::Id;
use crate::model::kinds::{
    AppliesTo, Decision, DecisionStatus, Entity, Item, ItemStatus, Requirement, RequirementStatus,
};
use crate::text::Spanned;

use super::book::Book;

/// Asks for every requirement of every dropped option.
pub(super) fn check(book: &mut Book<'_>) -> Result<(), GitError> {
    let now = book.now;
    for decision in now.model.decisions.iter().filter(|it| it.status == DecisionStatus::Accepted) {
        let mut left: Vec<(&Spanned<Id>, &Item, &Requirement)> = Vec::new();
        for option in &decision.drops {
            let Some(item) = now.model.item(&option.value).filter(|it| it.status == ItemStatus::Dropped) else {
                continue;
            };
            let own = now.model.requirements.iter().filter(|it| it.status != RequirementStatus::Withdrawn);
            let own = own.filter(|it| applies(&it.applies_to, item) && !is_named(book, decision, &it.head.id.value));
            left.extend(own.map(|it| (option, item, &**it)));
        }
        if left.is_empty() {
            continue;
        }
        let since = book.accepted(decision)?;
        let Some(before) = book.before(since) else { continue };
        for (option, item, requirement) in left {
            one(book, (decision, option), item, requirement, before)?;
        }
    }
    Ok(())
}

/// Whether a requirement is about the item, by name, by the slot that it fills, or by a tag.
fn applies(applies_to: &AppliesTo, item: &Item) -> bool {
    match applies_to {
        AppliesTo::Project => false,
        AppliesTo::Named(ids) => ids
            .iter()
            .any(|id| id.value == item.head.id.value || item.fills.as_ref().is_some_and(|slot| slot.value == id.value)),
        AppliesTo::Tag(tag) => item.tags.iter().any(|own| own.value == tag.value),
    }
}

/// Whether the decision, or one that was made later, says what becomes of a requirement.
fn is_named(book: &Book<'_>, decision: &Decision, id: &Id) -> bool {
    let day = |it: &Decision| it.date.as_ref().map(|date| date.value.date);
    let kept = |it: &Decision| it.keeps.iter().any(|own| own.value == *id);
    book.now.model.decisions.iter().any(|other| {
        other.status == DecisionStatus::Accepted
            && day(other) >= day(decision)
            && (less::names(other, id) || kept(other))
    })
}

fn one(
    book: &mut Book<'_>,
    (decision, option): (&Decision, &Spanned<Id>),
    item: &Item,
    requirement: &Requirement,
    before: Oid,
) -> Result<(), GitError> {
    let Some(then) = book.requirement(requirement, before)? else { return Ok(()) };
    let active = then.requirement.status != RequirementStatus::Withdrawn;
    let Some(held) = book.at(&item.head.id.value, item.head.file, before)? else { return Ok(()) };
    let Some(Entity::Item(old)) = &held.file.entity else { return Ok(()) };
    let by_slot = !matches!(&then.requirement.applies_to, AppliesTo::Named(ids)
        if ids.iter().any(|id| id.value == item.head.id.value));
    // On a slot it was about the option that was current; a candidate that lost was never asked to meet it.
    let lost = by_slot && old.status == ItemStatus::Candidate && has_current(book, old, before)?;
    if !active || lost || !applies(&then.requirement.applies_to, old) || book.differs(&then, requirement)? {
        return Ok(());
    }
    let (own, id) = (&decision.head.id.value, &requirement.head.id.value);
    let text = format!("{own} drops {}, and does not say what becomes of {id}, which applied to it", option.value);
    let help = format!(
        "look at {id}: if it holds for what comes instead, name it in `keeps` of {own}; else revise or withdraw it and name it \
         there"
    );
    let due = earliest(&book.now.facts(), requirement);
    let finding =
        Finding::at("dropped-and-not-carried-over", option.span, text).also(requirement.head.id.span, "applied to it");
    book.account.findings.push(finding.help(help).due(due));
    Ok(())
}

/// Whether another option of the slot was current in a commit.
fn has_current(book: &mut Book<'_>, lost: &Item, commit: Oid) -> Result<bool, GitError> {
    let now = book.now;
    let Some(slot) = &lost.fills else { return Ok(false) };
    let fills = |it: &&Item| it.fills.as_ref().is_some_and(|own| own.value == slot.value);
    for other in now.model.items.iter().filter(fills).filter(|it| it.head.id.value != lost.head.id.value) {
        let held = book.at(&other.head.id.value, other.head.file, commit)?;
        let current = held.is_some_and(
            |placed| matches!(&placed.file.entity, Some(Entity::Item(it)) if it.status == ItemStatus::Current),
        );
        if current {
            return Ok(true);
        }
    }
    Ok(false)
}
