//! What changed between two points in history, why, and what evidence it undid.
//!
//! A thing is told if it differs between the two points, with every commit in between that touched it, also where one of
//! them took another back. What was touched and differs in nothing at the end is told apart, as put back: evidence that was
//! made in between carries a mark that is gone.

mod settings;
mod slipped;
mod things;
mod told;
mod uncommitted;
mod undone;

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::analysis::beside::{Known, known};
use crate::analysis::{Analysis, Request, run};
use crate::git::{GitError, Oid, Repo};
use crate::source::SourceError;

use super::alike::holds;
use super::blobs::Blobs;
use super::commits::{Steps, Touched};
use super::ends::Ends;
use super::evidence::{Evidence, redo};
use super::folder::{look_back, revision};
use super::range::Range;
use super::unread::Unread;
use things::Things;
use uncommitted::Uncommitted;

pub use told::{Change, Changes, CommitRef, DecidedBy, MovedParameter, PutBack};
pub(super) use undone::Lost;
pub use undone::{Undone, UndoneRow};

/// The project as a commit holds it; none if it was no project then.
///
/// # Errors
/// If the commit cannot be read.
pub fn project_at(repo: &Arc<Repo>, prefix: &str, oid: Oid, request: Request) -> Result<Option<Analysis>, SourceError> {
    match revision(repo, oid, prefix) {
        Ok(revision) => run(&revision, request).map(Some),
        Err(SourceError::NoProjectInCommit { .. }) => Ok(None),
        Err(error) => Err(error),
    }
}

/// Compares the project at the start of a range with an analysis of its end, and says which commits in between are behind
/// each difference; none if neither holds the project.
///
/// # Errors
/// If git cannot answer.
pub fn changes(
    repo: &Arc<Repo>,
    prefix: &str,
    range: Range,
    now: Option<&Analysis>,
    request: Request,
) -> Result<Option<Changes>, SourceError> {
    compared(repo, prefix, range, (now, request), true)
}

/// What is different alone, without what became of evidence by it: for that the earlier point has to be judged as well.
///
/// # Errors
/// As [`changes`].
pub fn differences(repo: &Arc<Repo>, prefix: &str, range: Range, now: &Analysis) -> Result<Vec<Change>, SourceError> {
    let told = compared(repo, prefix, range, (Some(now), now.request), false)?;
    Ok(told.map(|told| told.list).unwrap_or_default())
}

fn compared(
    repo: &Arc<Repo>,
    prefix: &str,
    range: Range,
    (now, request): (Option<&Analysis>, Request),
    undoing: bool,
) -> Result<Option<Changes>, SourceError> {
    let end = match range.to {
        Some(oid) => Some(oid),
        None => repo.head()?,
    };
    for oid in [range.from, end].into_iter().flatten() {
        if !holds(repo, oid, prefix)? {
            look_back(repo, prefix, repo.head()?)?;
        }
    }
    let (then, steps) = rayon::join(
        || judged_then(repo, prefix, &range, (now, request), undoing),
        || repo.apart(|repo| Steps::between(repo, prefix, range.from, end))?,
    );
    let then = then?;
    let ends = match &then {
        Some(then) => Ends::whole(then, now),
        None => Ends::read(repo, prefix, range.from, now)?,
    };
    if ends.are_nothing() {
        return Ok(None);
    }
    let at_hand: Vec<&Analysis> = then.iter().chain(now).collect();
    let ((rows, before), touched) = rayon::join(
        || rows(then.as_ref(), now.filter(|_| undoing)),
        || repo.apart(|repo| Touched::by(repo, steps?, &at_hand))?,
    );
    let touched = touched?;
    let met = |oid: Option<Oid>| oid.map(|oid| repo.commit(oid).map(|commit| CommitRef::of(&commit))).transpose();
    let unread = Unread::of(&ends, met(range.from)?, met(range.to)?);
    let uncommitted = match (range.to, end, now) {
        (None, Some(head), Some(now)) => Uncommitted::find(repo, prefix, head, now)?,
        _ => Uncommitted::default(),
    };
    let things = Things { ends: &ends, touched: &touched, uncommitted, unread: &unread };
    let mut blobs = Blobs::new(repo, prefix);
    let mut list = things.list(&mut blobs)?;
    let put_back = things.put_back(&list, &mut blobs)?;
    let decided = things.decided(&list);
    let mut slipped: BTreeMap<&str, Vec<&Evidence>> = BTreeMap::new();
    let undone = list.iter().map(|it| (&it.id, &it.evidence)).chain(put_back.iter().map(|it| (&it.id, &it.evidence)));
    for (id, evidence) in undone.filter(|(_, evidence)| !evidence.is_empty()) {
        slipped.entry(id).or_default().extend(evidence);
    }
    // What is to be done again is part of what changes undid.
    let now = now.filter(|_| undoing);
    let lost = undone::lost(before, &rows, &list);
    let redo = now.map(|now| redo(now, &rows, &slipped, (&lost, &list))).unwrap_or_default();
    let undone = undone::tell(&lost, &mut list);
    let commits = touched.commits.iter().map(CommitRef::of).collect();
    let cut_off = touched.cut_off.clone();
    let unreadable = unread.listed(touched.unreadable.clone());
    let mut cautions: Vec<String> = cautions(repo, &cut_off).into_iter().map(str::to_string).collect();
    cautions.extend(backwards(repo, &range)?);
    cautions.extend(other_reviews(repo, &range, end)?);
    drop(things);
    ends.let_go();
    rayon::spawn(move || drop((touched, then)));
    Ok(Some(Changes { range, list, put_back, redo, undone, commits, unreadable, cut_off, cautions, decided }))
}

/// The earlier point as it would be judged on the day of the later one, which is how what changes undid is told from what time did;
/// none where what differs from the later one will do.
fn judged_then(
    repo: &Arc<Repo>,
    prefix: &str,
    range: &Range,
    (now, request): (Option<&Analysis>, Request),
    undoing: bool,
) -> Result<Option<Analysis>, SourceError> {
    let wanted = now.is_none() || (undoing && range.from != range.to);
    let request = Request { wording: false, ..request };
    range.from.filter(|_| wanted).map_or(Ok(None), |oid| project_at(repo, prefix, oid, request))
}

/// The rows of the later point, and those of the earlier one.
fn rows(then: Option<&Analysis>, now: Option<&Analysis>) -> (Vec<Known>, Vec<Known>) {
    let Some(now) = now else { return Default::default() };
    rayon::join(
        || known(&now.model, now.rows(None), &BTreeMap::new()),
        || then.map(|then| undone::before(then, now)).unwrap_or_default(),
    )
}

/// That a range leads back in time, where what was tightened reads as relaxed.
fn backwards(repo: &Repo, range: &Range) -> Result<Option<String>, GitError> {
    let (Some(from), Some(to)) = (range.from, range.to) else { return Ok(None) };
    let (from_name, to_name) = (&range.from_name, &range.to_name);
    let is_back = from != to && repo.is_ancestor(to, from)?;
    Ok(is_back.then(|| {
        format!(
            "{from_name} is later than {to_name}: this tells what it would be to go back. As it came about: slipmark changes \
             {to_name}..{from_name}"
        )
    }))
}

/// That what was reviewed beside the start of a range is not in it: lines of work were tagged side by side, and merged.
fn other_reviews(repo: &Repo, range: &Range, end: Option<Oid>) -> Result<Option<String>, GitError> {
    let Some((from, end)) = range.from.zip(end) else { return Ok(None) };
    let tagged = repo.annotated_tags()?;
    if tagged.len() < 2 || !tagged.iter().any(|(_, oid)| *oid == from) {
        return Ok(None);
    }
    let (own, others): (Vec<_>, Vec<_>) = repo.last_annotated_tags(end)?.into_iter().partition(|(_, oid)| *oid == from);
    if own.is_empty() || others.is_empty() {
        return Ok(None);
    }
    let names: Vec<&str> = others.iter().map(|(name, _)| name.as_str()).collect();
    let end = if range.to.is_some() { format!("..{}", range.to_name) } else { String::new() };
    let typed: Vec<String> = names.iter().map(|name| format!("slipmark changes {name}{end}")).collect();
    Ok(Some(format!(
        "Lines of work were tagged side by side: this is what changed since {}, and not since {}. That too: {}",
        range.from_name,
        names.join(", "),
        typed.join(", ")
    )))
}

/// What is to be known about the history that was read.
fn cautions(repo: &Repo, cut_off: &[CommitRef]) -> Vec<&'static str> {
    let mut said = Vec::new();
    if !cut_off.is_empty() {
        said.push(
            "History was cut off when the repository was cloned, inside this range: what came before the commits named \
             here is not known, and changes may name too few commits. Fetch the rest: git fetch --unshallow --tags",
        );
    } else if repo.is_shallow() {
        said.push(
            "History was cut off when the repository was cloned: nothing older than that can be compared. Fetch the \
             rest: git fetch --unshallow --tags",
        );
    }
    if repo.is_replaced() {
        said.push(
            "This clone has grafts or replaced commits. They are not followed: changes name the commits as they were \
             made, which git log in this clone may not show.",
        );
    }
    said
}
