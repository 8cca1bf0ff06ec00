//! Drafts that came after the last reviews and are gone.
//!
//! A draft may leave, since nobody stood by it. What it reported kept a row open, though, so that its going is told. One that a
//! review was shown is held against the present by that review's tag.

use std::collections::BTreeSet;

use crate::git::{GitError, Oid, Repo};
use crate::model::Model;
use crate::model::kinds::Entity;
use crate::model::load;
use crate::text::FileId;

use super::account::TakenBack;
use super::blobs::text_of;
use super::less::{draft_gone, why_gone};
use super::past::{Family, Gone, Left};

/// Those that reported something.
///
/// # Errors
/// If a commit cannot be read.
pub(super) fn gone(repo: &Repo, reviews: &[Oid], left: &Left, now: &Model) -> Result<Vec<TakenBack>, GitError> {
    let mut found = Vec::new();
    let drafts: Vec<_> = left.drafts.iter().filter(|(id, _)| now.record(id).is_none()).collect();
    if drafts.is_empty() {
        return Ok(found);
    }
    let mut shown = BTreeSet::new();
    for review in reviews {
        shown.extend(repo.walk(*review, None, false)?);
    }
    for (id, gone) in drafts.into_iter().filter(|(_, gone)| !shown.contains(&gone.held)) {
        let why = why_gone(now, left, id, Family::Record);
        if let Some(what) = what(repo, gone, &why)? {
            let commit = repo.commit(gone.held)?;
            let since = format!("{} of {}", commit.oid.short(), commit.author_date);
            found.push(TakenBack { id: id.to_string(), what, since });
        }
    }
    Ok(found)
}

fn what(repo: &Repo, gone: &Gone, why: &str) -> Result<Option<String>, GitError> {
    let Some(file) = repo.tree_file(gone.held, &gone.folder, &gone.path)? else { return Ok(None) };
    let Ok(text) = text_of(repo, file.oid) else { return Ok(None) };
    Ok(match load::load_one(FileId(0), &text).0 {
        Some(Entity::Record(record)) => draft_gone(&record, why),
        _ => None,
    })
}
