//! What was found out and written down after the last review, and is written down no more.
//!
//! What a review was shown is held against the present by its tag, and what leaves is missed in every commit. In between lies what
//! came after the review and was taken back by an edit of the same file: a nonconformance turned against something that nobody
//! asks about, a rework, a revision, a piece that was scrapped, an event that was held with fewer pieces, what was used of a limited
//! life, an instrument that was out of tolerance, what a draft reported. It may be a slip that was mended, so that it is told, and
//! no fault. What is asked (limits, plans) is edited all the time, and only held against reviews.

use std::collections::BTreeSet;

use crate::config;
use crate::diag::Findings;
use crate::git::{GitError, Oid};
use crate::history::compare::calendar::Calendar;
use crate::history::less::{draft, facts, less_used, reach, recalls, told_of, used};
use crate::model::kinds::{Entity, Head, RecordStatus};
use crate::model::{Id, Model};
use crate::source::INSTRUMENTS_FILE;
use crate::text::{FileId, RepoPath};

use super::TakenBack;
use super::book::{Book, show};

/// Looks at everything that holds such facts and whose file was touched after it came.
pub(super) fn check(book: &mut Book<'_>) -> Result<(), GitError> {
    let now = book.now;
    let model: &Model = &now.model;
    let nonconformances = model.nonconformances.iter().map(|it| &it.head);
    let held = model.held.iter().map(|it| &it.head);
    let items = model.items.iter().map(|it| &it.head);
    let mut touched = Vec::new();
    for head in nonconformances.chain(held).chain(items) {
        if !book.is_untouched(head) {
            touched.push(head);
        }
    }
    let mut found = Found {
        reviews: book.repo.last_annotated_tags(book.head)?.into_iter().map(|(_, oid)| oid).collect(),
        told: BTreeSet::new(),
    };
    let is_life_limited = model.items.iter().any(|item| !item.life.is_empty());
    for record in &model.records {
        let is_draft = record.status.value == RecordStatus::Draft;
        if !book.is_untouched(&record.head) && (is_draft || is_life_limited && told_of_use(book, &record.head)?) {
            touched.push(&record.head);
        }
    }
    for head in touched {
        thing(book, &mut found, &head.id.value, head.file)?;
    }
    instruments(book, &mut found)
}

/// Whether some commit may hold of a record that it used something. What else a signed record says is under its seal.
fn told_of_use(book: &mut Book<'_>, head: &Head) -> Result<bool, GitError> {
    let held = book.held(head)?;
    Ok(held.into_iter().any(|blob| book.blobs.text(blob).is_some_and(|text| text.contains("uses"))))
}

struct Found {
    /// The last reviews: several, where lines that were tagged side by side have been merged.
    reviews: Vec<Oid>,
    /// What was told, so that each is told once, with the first commit that held it.
    told: BTreeSet<(String, String)>,
}

impl Found {
    /// Whether a commit came after every review, so that none was shown it.
    fn is_later(&self, book: &Book<'_>, commit: Oid) -> Result<bool, GitError> {
        for review in &self.reviews {
            if commit == *review || book.repo.is_ancestor(commit, *review)? {
                return Ok(false);
            }
        }
        Ok(true)
    }

    fn tell(&mut self, book: &mut Book<'_>, id: &str, what: String, since: &str) {
        if self.told.insert((id.to_string(), what.clone())) {
            book.account.taken_back.push(TakenBack { id: id.to_string(), what, since: since.to_string() });
        }
    }
}

/// One thing beside what it said after each commit since the review.
fn thing(book: &mut Book<'_>, found: &mut Found, id: &Id, file: FileId) -> Result<(), GitError> {
    for version in book.versions(id, file)? {
        let Some(placed) = &version.new else { continue };
        let commit = book.commit(version.commit)?;
        let Some(entity) = placed.file.entity.as_ref() else { continue };
        if !found.is_later(book, commit.oid)? {
            continue;
        }
        let config = book.blobs.config(Some(commit.oid))?;
        let now = book.now;
        let calendar = Calendar { then: &config, now: &now.model.config };
        for (name, what) in lost(entity, &now.model, id, calendar) {
            found.tell(book, &name, what, &show(&commit));
        }
    }
    Ok(())
}

/// What a version said and the present does not, with the name of what it is about.
fn lost(then: &Entity, now: &Model, id: &Id, calendar: Calendar<'_>) -> Vec<(String, String)> {
    let own = |texts: Vec<String>| texts.into_iter().map(|text| (id.to_string(), text)).collect();
    match then {
        Entity::Nonconformance(then) => {
            now.nonconformance(id).map_or_else(Vec::new, |it| own(reach(then, it, calendar)))
        }
        Entity::Held(then) => now.held_event(id).map_or_else(Vec::new, |it| {
            let mut said = told_of(then, it, calendar);
            said.extend(less_used("used", &then.uses, &it.uses));
            own(said)
        }),
        Entity::Record(then) => now.record(id).map_or_else(Vec::new, |it| {
            let mut said = draft(then, it);
            said.extend(used(then, Some(it)));
            own(said)
        }),
        Entity::Item(then) => now.item(id).map_or_else(Vec::new, |it| facts(then, it)),
        _ => Vec::new(),
    }
}

/// Instruments stand in one file.
fn instruments(book: &mut Book<'_>, found: &mut Found) -> Result<(), GitError> {
    let now = book.now;
    for step in book.trail.of(&RepoPath::new(INSTRUMENTS_FILE))? {
        let commit = book.commit(step.commit)?;
        let Some(blob) = step.new else { continue };
        if !found.is_later(book, commit.oid)? {
            continue;
        }
        let Some(text) = book.blobs.text(blob) else { continue };
        for (id, then) in config::instruments(FileId(0), &text, &mut Findings::new()) {
            let texts = now.model.instruments.get(&id).map_or_else(Vec::new, |it| recalls(&then, it));
            for what in texts {
                found.tell(book, id.as_str(), what, &show(&commit));
            }
        }
    }
    Ok(())
}
