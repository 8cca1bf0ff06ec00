//! What was signed must stand, or the record must say why it was signed again.
//!
//! A failure that was signed for is not signed away: it is told by the record still, or accounted for by nonconformances.
//!
//! A seal shows an edit by itself, unless whoever edits works out a new seal too. That only history can tell: every seal that
//! a commit held of a record must be the one of now, or be named under `signed_again`, with the reason.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::diag::Finding;
use crate::git::{GitError, Oid};
use crate::history::changes::CommitRef;
use crate::history::keys::{KeyChange, Told};
use crate::model::kinds::{Entity, Record, RecordStatus};
use crate::model::{Id, Ref};
use crate::state::accounted::is_accounted_for;
use crate::text::Span;

use super::book::{Book, show};
use super::{LostFailure, Replaced};

/// How a record differs from what was signed first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edited {
    /// The record.
    pub id: String,
    /// The first commit that held it signed and whole.
    pub signed: CommitRef,
    /// Its seal there.
    pub seal: String,
    /// What differs of what the seal covers; empty if that was only written otherwise.
    pub differences: Vec<KeyChange>,
}

/// Looks at every record whose file was touched after it came.
pub(super) fn check(book: &mut Book<'_>) -> Result<(), GitError> {
    let now = book.now;
    let mut touched: Vec<&Record> = Vec::new();
    for record in &now.model.records {
        if !book.is_untouched(&record.head) {
            touched.push(record);
        }
    }
    let mut held = Vec::new();
    for record in &touched {
        held.extend(book.trail.held(book.path(record.head.file))?);
    }
    book.blobs.glance_at(held)?;
    let taken_over = taken_over(book, &touched)?;
    let more = now.model.records.iter().filter(|own| taken_over.contains(own.head.id.value.as_str()));
    touched.extend(more.map(Arc::as_ref));
    touched.sort_by_key(|record| &record.head.id.value);
    touched.dedup_by_key(|record| &record.head.id.value);
    for record in touched {
        one(book, record)?;
    }
    Ok(())
}

/// Ids that files of these records held before them; whoever has such an id now may have taken it to hide what it was.
fn taken_over(book: &mut Book<'_>, records: &[&Record]) -> Result<BTreeSet<Arc<str>>, GitError> {
    let mut ids = BTreeSet::new();
    for record in records {
        let path = book.path(record.head.file);
        for blob in book.trail.held(path)? {
            let Some(id) = book.blobs.glance(blob).id.filter(|id| **id != *record.head.id.value.as_str()) else {
                continue;
            };
            book.trail.stood_in(id.clone(), path);
            ids.insert(id);
        }
    }
    Ok(ids)
}

/// A seal, where it stood first.
struct Held {
    seal: String,
    commit: usize,
    blob: Oid,
}

fn one(book: &mut Book<'_>, record: &Record) -> Result<(), GitError> {
    let held = seals(book, record)?;
    let broken = record.seal.as_ref().is_some_and(|seal| seal.value != record.seal_now);
    let carried = record.seal.as_ref().filter(|_| record.status.value != RecordStatus::Draft).map(|seal| &seal.value);
    let others: Vec<&Held> = held.iter().filter(|own| Some(&own.seal) != carried).collect();
    if others.is_empty() && !broken {
        return Ok(());
    }
    let edited = edited(book, record, &held)?;
    let accounted = |seal: &str| record.signed_again.iter().any(|again| again.stands_for(seal));
    let mut open: Vec<(&Held, Option<String>)> = Vec::new();
    for own in others {
        let failures = failures(book, record, own);
        if stands_elsewhere(book, record, own, &failures) {
            continue;
        }
        let lost = failures.iter().find(|failure| !is_told(book, record, failure));
        if lost.is_some() || !accounted(&own.seal) {
            let lost = lost.map(|(requirement, criterion, was)| format!("{criterion} of {requirement} was {was}"));
            open.push((own, lost));
        }
    }
    let first = open.iter().find(|(_, lost)| lost.is_some()).or(open.first());
    if let Some((first, lost)) = first {
        let lost = lost.as_ref().map(|lost| lost_failure(book, record, first, lost)).transpose()?;
        let finding = match &lost {
            Some(lost) => Finding::at("seal-replaced", place(record), lost.text.clone()).help(lost.help.clone()),
            None => finding(book, record, first)?,
        };
        book.account.findings.push(finding);
        let seals = open.iter().map(|(own, _)| own.seal.clone()).collect();
        book.account.replaced.push(Replaced { id: record.head.id.value.to_string(), seals, lost });
    }
    book.account.edited.extend(edited);
    Ok(())
}

/// A requirement, a criterion of it, and what that was: not met, or inconclusive.
type Failure = (Id, String, &'static str);

/// What the record said that it failed, where it was signed with a seal, and what decided nothing and is left out of it now: that
/// would let an older result decide.
fn failures(book: &mut Book<'_>, record: &Record, held: &Held) -> Vec<Failure> {
    let file = book.blobs.file(held.blob);
    let Some(Entity::Record(then)) = &file.entity else { return Vec::new() };
    let mut failures = outcomes(then, "not met");
    failures.extend(outcomes(then, "inconclusive").into_iter().filter(|(requirement, criterion, _)| {
        let own = record.verifies.iter().find(|own| own.requirement.value == *requirement);
        own.is_some_and(|own| own.not_judged_because(criterion).is_some())
    }));
    failures
}

fn outcomes(record: &Record, wanted: &'static str) -> Vec<Failure> {
    let each = record.verifies.iter().flat_map(|own| own.outcomes.iter().map(move |outcome| (own, outcome)));
    let such = each.filter(|(_, (_, outcome))| outcome.value == wanted);
    such.map(|(own, (criterion, _))| (own.requirement.value.clone(), criterion.value.clone(), wanted)).collect()
}

/// Whether a failure that was signed for is told by the record as it is now, or accounted for as any other is: to sign again what was
/// another run, or was corrected, does not undo it.
fn is_told(book: &Book<'_>, record: &Record, failure: &Failure) -> bool {
    let now = book.now;
    let Some(Ref::Record(at)) = now.model.find(&record.head.id.value) else { return false };
    outcomes(record, "not met").contains(failure) || is_accounted_for(&now.facts(), at, &failure.0, |_| true)
}

/// Whether another record carries the seal, or was signed in its place, and tells of all that failed: two runs had got one id.
fn stands_elsewhere(book: &Book<'_>, record: &Record, held: &Held, failures: &[Failure]) -> bool {
    book.now.model.records.iter().any(|other| {
        let carries = other.seal.as_ref().is_some_and(|seal| seal.value == held.seal)
            || other.signed_again.iter().any(|again| again.stands_for(&held.seal));
        let tells = || {
            let told = outcomes(other, "not met");
            failures.iter().all(|failure| told.contains(failure))
        };
        let is_another = other.head.id.value != record.head.id.value && other.status.value != RecordStatus::Draft;
        carries && is_another && tells()
    })
}

/// That a failure which was signed for is nowhere any more, and what keeps it from being signed away.
fn lost_failure(book: &Book<'_>, record: &Record, held: &Held, lost: &str) -> Result<LostFailure, GitError> {
    let id = &record.head.id.value;
    let commit = show(&book.commit(held.commit)?);
    let text = format!(
        "{id} was signed with the seal {} ({commit}), by which {lost}, and nothing tells of that now",
        held.seal
    );
    let folder = book.path(record.head.file).folder();
    let place = if folder.is_empty() { String::new() } else { format!("{folder}/") };
    let help = format!(
        "bring back what was signed; if that was another run: git show {} > {place}NEW-ID.md, write its new id into it, then slipmark \
         sign NEW-ID --by ROLE --because \"…\"; if it was corrected: slipmark new nonconformance --found-by {id}, and close that first",
        held.blob.short()
    );
    Ok(LostFailure { text, help })
}

/// Where a record says that it is signed, and as what.
fn place(record: &Record) -> Span {
    record.seal.as_ref().map_or(record.status.span, |seal| seal.span)
}

/// Every seal that a commit held of a record that somebody stood by, oldest first.
fn seals(book: &mut Book<'_>, record: &Record) -> Result<Vec<Held>, GitError> {
    let (id, path) = (record.head.id.value.as_str(), book.path(record.head.file));
    let mut seen: BTreeSet<Arc<str>> = BTreeSet::new();
    let mut held = Vec::new();
    for (commit, blob) in book.trail.blobs(&mut book.blobs, id, Some(path))? {
        let Some(seal) = book.blobs.glance(blob).seal.clone() else { continue };
        if seen.insert(seal.clone()) {
            held.push(Held { seal: seal.to_string(), commit, blob });
        }
    }
    Ok(held)
}

/// The record beside the first version that was signed and whole.
fn edited(book: &mut Book<'_>, record: &Record, held: &[Held]) -> Result<Option<Edited>, GitError> {
    for own in held {
        let file = book.blobs.file(own.blob);
        let Some(Entity::Record(then)) = &file.entity else { continue };
        if then.seal_now != own.seal {
            continue;
        }
        let text = &book.now.sources.file(record.head.file).text;
        return Ok(Some(Edited {
            id: record.head.id.value.to_string(),
            signed: CommitRef::of(&book.commit(own.commit)?),
            seal: own.seal.clone(),
            differences: sealed_differences(&file.text, text),
        }));
    }
    Ok(None)
}

/// How two versions of a record differ in what a seal covers.
fn sealed_differences(then: &str, now: &str) -> Vec<KeyChange> {
    let mut found = Told::of(now).since(&Told::of(then), |_| true);
    found.retain(is_sealed);
    found
}

/// Whether a key is one that a seal covers; that it was signed again is told apart.
fn is_sealed(key: &KeyChange) -> bool {
    const LEFT_OUT: &[&str] =
        &["title", "status", "seal", "signed_by", "signed_again", "reason", "withdrawn", "withdrawn_by"];
    let reaffirmed = key.top() == "verifies" && key.key.contains(".reaffirmed");
    let closed = key.top() == "actions" && key.key.ends_with(".closed");
    !LEFT_OUT.contains(&key.top()) && !reaffirmed && !closed
}

fn finding(book: &Book<'_>, record: &Record, first: &Held) -> Result<Finding, GitError> {
    let id = &record.head.id.value;
    let commit = show(&book.commit(first.commit)?);
    let now = match (record.status.value, &record.seal) {
        (RecordStatus::Draft, _) => "is a draft now",
        (_, Some(_)) => "carries another seal now",
        (_, None) => "carries no seal now",
    };
    let text = &book.now.sources.file(record.head.file).text;
    let then = book.blobs.text(first.blob);
    let differences = then.map(|then| sealed_differences(&then, text)).unwrap_or_default();
    let what = match differences.as_slice() {
        [] => String::new(),
        [only] => format!(": {}", only.show()),
        [one, more @ ..] => format!(": {}; and {} more", one.show(), more.len()),
    };
    let text = format!("{id} was signed with the seal {} ({commit}), and {now}{what}", first.seal);
    let help = format!(
        "look at slipmark history {id}; bring back what was signed, or stand by it as it is now: slipmark sign {id} --by ROLE \
         --because \"…\""
    );
    Ok(Finding::at("seal-replaced", place(record), text).help(help))
}
