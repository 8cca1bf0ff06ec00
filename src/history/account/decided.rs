//! What an accepted decision says that it adds, revises and withdraws must have happened, with it or since.

use crate::check::earliest;
use crate::diag::{Due, Finding};
use crate::git::{GitError, Oid};
use crate::history::less;
use crate::model::kinds::{Decision, DecisionStatus, RecordStatus, Requirement, RequirementStatus, WaiverStatus};
use crate::model::{Id, Ref};
use crate::text::Spanned;

use super::book::{Book, Since};

/// Holds every accepted decision to what it says.
pub(super) fn check(book: &mut Book<'_>) -> Result<(), GitError> {
    let now = book.now;
    for decision in now.model.decisions.iter().filter(|it| it.status == DecisionStatus::Accepted) {
        decision.withdraws.iter().for_each(|id| withdrawn(book, decision, id));
        if decision.revises.is_empty() && decision.adds.is_empty() {
            continue;
        }
        let since = book.accepted(decision)?;
        let Some(before) = book.before(since) else { continue };
        for id in &decision.revises {
            revised(book, (decision, id), since, before)?;
        }
        for id in &decision.adds {
            added(book, (decision, id), since, before)?;
        }
    }
    Ok(())
}

/// Whether another decision, made later, has the last word on a thing.
fn is_overtaken(book: &Book<'_>, decision: &Decision, id: &Id) -> bool {
    let day = |it: &Decision| it.date.as_ref().map(|date| date.value.date);
    book.now
        .model
        .decisions
        .iter()
        .any(|other| other.status == DecisionStatus::Accepted && day(other) > day(decision) && less::names(other, id))
}

fn withdrawn(book: &mut Book<'_>, decision: &Decision, id: &Spanned<Id>) {
    let model = &book.now.model;
    let facts = book.now.facts();
    let (still, due) = match model.find(&id.value) {
        Some(Ref::Requirement(at)) => {
            let it = &model.requirements[at];
            (it.status != RequirementStatus::Withdrawn, earliest(&facts, it))
        }
        Some(Ref::Record(at)) => (model.records[at].status.value == RecordStatus::Signed, Due::Always),
        Some(Ref::Waiver(at)) => (model.waivers[at].status == WaiverStatus::Approved, Due::Always),
        _ => return,
    };
    if !still || is_overtaken(book, decision, &id.value) {
        return;
    }
    let (own, id_text) = (&decision.head.id.value, &id.value);
    let text = format!("{own} withdraws {id_text}, which is still in force");
    let help =
        format!("set status = \"withdrawn\" in {id_text}, with a reason; or take it out of `withdraws` of {own}");
    book.account.findings.push(Finding::at("decided-and-not-done", id.span, text).help(help).due(due));
}

type Named<'d> = (&'d Decision, &'d Spanned<Id>);

fn revised(book: &mut Book<'_>, (decision, id): Named<'_>, since: Since, before: Oid) -> Result<(), GitError> {
    let now = book.now;
    let Some(requirement) = now.model.requirement(&id.value) else { return Ok(()) };
    // What was relaxed without a decision is to be decided afterwards, and is not relaxed once more for that.
    let after_the_fact = book.allowed.contains(&(decision.head.id.value.clone(), id.value.clone()));
    if requirement.status == RequirementStatus::Withdrawn || after_the_fact {
        return Ok(());
    }
    let Some(then) = book.requirement(requirement, before)? else { return Ok(()) };
    if book.differs(&then, requirement)? {
        return Ok(());
    }
    // It reads as it did; it may have been something else in between, or have been revised ahead of the decision.
    for version in book.versions(&requirement.head.id.value, requirement.head.file)? {
        let commit = book.trail.commits[version.commit].oid;
        let ahead = version.commit < since.place();
        if ahead && !book.names(version.commit, &decision.head.id.value)? {
            continue;
        }
        let parent = book.trail.before(version.commit);
        let (Some(old), Some(new), Some(parent)) = (version.old, version.new, parent) else { continue };
        let (Some(old), Some(new)) = (book.worked_out(old, parent)?, book.worked_out(new, commit)?) else { continue };
        if book.differ(&old, &new)? {
            return Ok(());
        }
    }
    let own = &decision.head.id.value;
    let text = match since {
        Since::Uncommitted => format!("{own} revises {}, which reads as it did before {own}", id.value),
        Since::Commit(_) => {
            let commit = book.show(since)?;
            format!("{own} revises {}, which reads as it did before {own} was accepted ({commit})", id.value)
        }
    };
    let help = format!(
        "revise {0} as decided; if it was left alone on purpose, move it to `keeps` of {own}; if it was revised earlier, take it \
         out of `revises`",
        id.value
    );
    say(book, id, requirement, text, help);
    Ok(())
}

fn added(book: &mut Book<'_>, (decision, id): Named<'_>, since: Since, before: Oid) -> Result<(), GitError> {
    let now = book.now;
    let Some(requirement) = now.model.requirement(&id.value) else { return Ok(()) };
    let Some(then) = book.requirement(requirement, before)? else { return Ok(()) };
    if then.requirement.status != RequirementStatus::Active {
        return Ok(());
    }
    let own = &decision.head.id.value;
    for version in book.versions(&requirement.head.id.value, requirement.head.file)? {
        if version.old.is_none() && book.names(version.commit, own)? {
            return Ok(());
        }
    }
    let commit = match since {
        Since::Uncommitted => String::new(),
        Since::Commit(_) => format!(" was accepted ({})", book.show(since)?),
    };
    let text = format!("{own} adds {}, which was there before {own}{commit}", id.value);
    let help = format!("name the requirement that {own} adds; or move {} to `revises` or `keeps` of {own}", id.value);
    say(book, id, requirement, text, help);
    Ok(())
}

fn say(book: &mut Book<'_>, id: &Spanned<Id>, requirement: &Requirement, text: String, help: String) {
    let due = earliest(&book.now.facts(), requirement);
    book.account.findings.push(Finding::at("decided-and-not-done", id.span, text).help(help).due(due));
}
