//! The evidence that changes undid, and what was touched in between and is as it was.

use std::collections::BTreeSet;

use crate::git::GitError;
use crate::history::blobs::Blobs;
use crate::history::commits::{instrument, parameter};
use crate::history::evidence::{Evidence, evidence, out_of_line};
use crate::model::Id;
use crate::model::kinds::Requirement;

use super::things::{Things, resting_on};
use super::told::{Change, CommitRef, PutBack};

impl Things<'_> {
    /// Signed evidence that carries a mark which the requirement had then, and not the one of now; none if some carries another mark, which
    /// it may have had in between.
    pub(super) fn slipped_since(&self, id: &Id, then: Option<&Requirement>) -> Option<Vec<Evidence>> {
        let Some(now) = self.ends.now else { return Some(Vec::new()) };
        let out = out_of_line(now, id);
        let known = out.iter().all(|(record, which)| {
            let verifies = &now.model.records[*record].verifies[*which];
            then.is_some_and(|then| verifies.marks().any(|mark| mark == then.mark))
        });
        known.then(|| out.into_iter().filter_map(|place| evidence(now, id, place)).collect())
    }

    /// Signed evidence that carries a mark which the requirement had then or in between, and not the one of now.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn slipped(
        &self,
        id: &Id,
        then: Option<&Requirement>,
        blobs: &mut Blobs<'_>,
    ) -> Result<Vec<Evidence>, GitError> {
        if let Some(slipped) = self.slipped_since(id, then) {
            return Ok(slipped);
        }
        let Some(now) = self.ends.now else { return Ok(Vec::new()) };
        let using = now.model.requirement(id).map(resting_on).unwrap_or_default();
        let using: Vec<String> = using.iter().map(|name| parameter(name)).collect();
        let mut had = self.touched.marks(blobs, id, &using)?;
        had.extend(then.map(|then| then.mark.clone()));
        let slipped = out_of_line(now, id).into_iter().filter(|(record, which)| {
            now.model.records[*record].verifies[*which].marks().any(|mark| had.contains(mark))
        });
        Ok(slipped.filter_map(|place| evidence(now, id, place)).collect())
    }

    /// What a commit in between touched, and what is not in the list.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn put_back(&self, list: &[Change], blobs: &mut Blobs<'_>) -> Result<Vec<PutBack>, GitError> {
        let listed: BTreeSet<String> = list
            .iter()
            .map(|change| match change.kind.as_str() {
                "parameter" => parameter(&change.id),
                "instrument" => instrument(&change.id),
                _ => change.id.clone(),
            })
            .collect();
        let mut found = Vec::new();
        for name in self.touched.names().filter(|name| !listed.contains(*name)) {
            let id = Id::new(name);
            let there = self.ends.after(name).or_else(|| self.ends.before(name));
            let seen = self.touched.seen(blobs, name);
            let (kind, title) = match (there, seen) {
                (Some(it), _) => (it.kind.to_string(), it.title.to_string()),
                (None, Some((kind, title))) => (kind, title),
                (None, None) => (if name.contains(':') { "setting" } else { "file" }.to_string(), String::new()),
            };
            // One that cannot be read at an end is told as that.
            let path = self.touched.path(name).unwrap_or_default();
            let hidden = self.unread.may_have_been(name, &path) || self.unread.may_be_now(name, &path);
            let at_one_only = self.ends.after(name).is_none() || self.ends.before(name).is_none();
            if hidden && at_one_only {
                continue;
            }
            let evidence = self.slipped(&id, None, blobs)?;
            let commits = self.touched.of(&[name.to_string()], false).into_iter().map(CommitRef::of).collect();
            let came_and_went = there.is_none() && kind != "setting" && kind != "file";
            found.push(PutBack { id: name.to_string(), kind, title, came_and_went, commits, evidence });
        }
        Ok(found)
    }
}
