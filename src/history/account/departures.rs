//! A nonconformance that reaches less far than it did.
//!
//! What a review was shown is held against the present by its tag, and what leaves is missed in every commit. In between lies a
//! nonconformance that came after the review and was turned, by an edit of its own file, against something that nobody asks about. It
//! may be a slip that was mended, so that it is told and no fault.

use std::collections::BTreeSet;

use crate::git::{GitError, Oid};
use crate::history::compare::calendar::Calendar;
use crate::history::less::reach;
use crate::model::kinds::{Entity, Nonconformance};

use super::Narrowed;
use super::book::{Book, show};

/// Looks at every nonconformance whose file was touched after it came, and that the last review was not shown.
pub(super) fn check(book: &mut Book<'_>) -> Result<(), GitError> {
    let now = book.now;
    let touched: Vec<&Nonconformance> =
        now.model.nonconformances.iter().filter(|it| !book.is_untouched(&it.head)).collect();
    if touched.is_empty() {
        return Ok(());
    }
    let review = book.repo.last_annotated_tag(book.head)?.map(|(_, oid)| oid);
    for it in touched {
        if !was_shown(book, it, review)? {
            one(book, it)?;
        }
    }
    Ok(())
}

/// Whether a commit held it.
fn was_shown(book: &mut Book<'_>, it: &Nonconformance, review: Option<Oid>) -> Result<bool, GitError> {
    let Some(review) = review else { return Ok(false) };
    Ok(book.at(&it.head.id.value, it.head.file, review)?.is_some())
}

fn one(book: &mut Book<'_>, now: &Nonconformance) -> Result<(), GitError> {
    let config = &book.now.model.config;
    let mut told = BTreeSet::new();
    for version in book.versions(&now.head.id.value, now.head.file)? {
        let Some(placed) = &version.new else { continue };
        let Some(Entity::Nonconformance(then)) = &placed.file.entity else { continue };
        let commit = book.commit(version.commit)?;
        let held = book.blobs.config(Some(commit.oid))?;
        for what in reach(then, now, Calendar { then: &held, now: config }) {
            if told.insert(what.clone()) {
                let id = now.head.id.value.to_string();
                book.account.narrowed.push(Narrowed { id, what, since: show(&commit) });
            }
        }
    }
    Ok(())
}
