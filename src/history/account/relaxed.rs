//! A safety limit that was relaxed after evidence was signed needs a decision that revises it.
//!
//! Evidence carries the mark of the text that it was signed against. Only where that is another than the requirement's of now is
//! anything looked up.

use std::collections::{BTreeMap, BTreeSet};

use crate::check::earliest;
use crate::diag::Finding;
use crate::git::{GitError, Oid};
use crate::history::blobs::Blobs;
use crate::history::compare::criteria;
use crate::model::Id;
use crate::model::kinds::{Decision, DecisionStatus, Entity, RecordStatus, Requirement, RequirementStatus};
use crate::quantity;
use crate::source::PARAMETERS_FILE;
use crate::text::RepoPath;

use super::book::{Book, RequirementThen};

/// Looks at every requirement with signed evidence that was made against another text.
pub(super) fn check(book: &mut Book<'_>) -> Result<(), GitError> {
    let now = book.now;
    let mut doubtful: Vec<(&Requirement, BTreeMap<&str, &Id>)> = Vec::new();
    for (at, requirement) in now.model.requirements.iter().enumerate() {
        if requirement.status == RequirementStatus::Withdrawn {
            continue;
        }
        let mut marks: BTreeMap<&str, &Id> = BTreeMap::new();
        for (record, which) in now.graph.evidence.get(at).into_iter().flatten() {
            let record = &now.model.records[*record];
            if record.status.value == RecordStatus::Draft {
                continue;
            }
            for mark in record.verifies[*which].marks().filter(|mark| *mark != requirement.mark) {
                marks.entry(mark).or_insert(&record.head.id.value);
            }
        }
        if !marks.is_empty() {
            doubtful.push((requirement, marks));
        }
    }
    let mut held = Vec::new();
    for (requirement, _) in &doubtful {
        held.extend(book.trail.held(book.path(requirement.head.file))?);
    }
    book.blobs.glance_at(held)?;
    let mut held = Vec::new();
    let mut asked = Vec::new();
    for (requirement, marks) in doubtful {
        let own = book.held(&requirement.head)?;
        if requirement.safety || own.iter().any(|blob| may_say_safety(&book.blobs, *blob)) {
            held.extend(own);
            asked.push((requirement, marks));
        }
    }
    book.blobs.read_all(held)?;
    asked.into_iter().try_for_each(|(requirement, marks)| one(book, requirement, &marks))
}

/// Whether a text may say that people depend on it: it has the word, or something that may stand for it.
fn may_say_safety(blobs: &Blobs<'_>, blob: Oid) -> bool {
    blobs.text(blob).is_none_or(|text| text.contains("safety") || text.contains('\\'))
}

fn one(book: &mut Book<'_>, requirement: &Requirement, marks: &BTreeMap<&str, &Id>) -> Result<(), GitError> {
    let ambient = book.now.model.config.ambient.clone();
    for (at, then) in texts(book, requirement)? {
        let Some(record) = marks.get(then.requirement.mark.as_str()) else { continue };
        let less = criteria::less(&then.requirement, requirement, ambient.as_ref());
        let safety = then.requirement.safety || requirement.safety;
        let Some(first) = less.first().filter(|_| safety) else { continue };
        if is_decided(book, requirement, at)? {
            continue;
        }
        let id = &requirement.head.id.value;
        let text =
            format!("{id} asks less than when {record} was signed, and no decision revises it since: {}", first.text);
        let help = format!(
            "write down who decided it and why: slipmark new decision, with revises = [\"{id}\"]; or take the limit back"
        );
        let due = earliest(&book.now.facts(), requirement);
        let finding = Finding::at("relaxed-without-decision", requirement.head.id.span, text);
        book.account.findings.push(finding.help(help).due(due));
        return Ok(());
    }
    Ok(())
}

/// What a requirement said over time, each mark once, with the commit that first came to it.
fn texts(book: &mut Book<'_>, requirement: &Requirement) -> Result<Vec<(usize, RequirementThen)>, GitError> {
    let versions = book.versions(&requirement.head.id.value, requirement.head.file)?;
    let mut at: BTreeSet<usize> = versions.iter().map(|version| version.commit).collect();
    let uses_names = |it: &Requirement| {
        it.criteria.iter().flat_map(|own| own.limits()).any(|own| !quantity::names(&own.text.value).is_empty())
    };
    let parametric = versions
        .iter()
        .filter_map(|own| own.new.as_ref())
        .any(|placed| matches!(&placed.file.entity, Some(Entity::Requirement(it)) if uses_names(it)));
    if parametric {
        at.extend(book.trail.of(&RepoPath::new(PARAMETERS_FILE))?.iter().map(|step| step.commit));
    }
    let mut texts: Vec<(usize, RequirementThen)> = Vec::new();
    for commit in at {
        let last = versions.iter().rev().find(|version| version.commit <= commit);
        let Some(placed) = last.and_then(|version| version.new.clone()) else { continue };
        let oid = book.trail.commits[commit].oid;
        let Some(then) = book.worked_out(placed, oid)? else { continue };
        match texts.iter_mut().find(|(_, own)| own.requirement.mark == then.requirement.mark) {
            // The same words; people may have come to depend on them later.
            Some((_, own)) => own.requirement.safety |= then.requirement.safety,
            None => texts.push((commit, then)),
        }
    }
    Ok(texts)
}

/// Whether a decision revises the requirement that was not yet made when the text came up, or that a commit since names.
fn is_decided(book: &mut Book<'_>, requirement: &Requirement, since: usize) -> Result<bool, GitError> {
    let now = book.now;
    let id = &requirement.head.id.value;
    let revises =
        |it: &Decision| it.status == DecisionStatus::Accepted && it.revises.iter().any(|own| own.value == *id);
    let oid = book.trail.commits[since].oid;
    for decision in now.model.decisions.iter().filter(|it| revises(it)) {
        let own = &decision.head.id.value;
        let held = book.at(own, decision.head.file, oid)?;
        let there = held.is_some_and(|placed| matches!(&placed.file.entity, Some(Entity::Decision(it)) if revises(it)));
        if !there {
            book.allowed.insert((own.clone(), id.clone()));
            return Ok(true);
        }
        for version in book.versions(id, requirement.head.file)? {
            if version.commit > since && book.names(version.commit, own)? {
                return Ok(true);
            }
        }
    }
    Ok(false)
}
