//! Texts of an earlier reading, for whoever reads the same files again and again.
//!
//! A file is taken to be as it was by the signs that [`Seen`](crate::source::Seen) goes by, and only if it was old enough when it was
//! read for a later change to be certain to show.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::git::FileStat;
use crate::source::Content;
use crate::source::rules::Body;
use crate::source::seen::SETTLED;
use crate::text::RepoPath;

use super::reading::OnDisk;

/// What each file held, and its signs when it was read.
pub(super) type Known = HashMap<RepoPath, (FileStat, Content)>;

/// Texts that one reading leaves for the next.
#[derive(Clone, Debug, Default)]
pub struct Texts(Arc<Mutex<Inner>>);

#[derive(Debug, Default)]
struct Inner {
    known: Arc<Known>,
    /// When the reading that is under way began, in seconds since 1970.
    begun: u64,
}

impl Texts {
    pub(super) fn begin(&self, now: u64) {
        self.lock().begun = now;
    }

    pub(super) fn known(&self) -> Arc<Known> {
        self.lock().known.clone()
    }

    /// Keeps what was read, but for what was changed so late that it could change again without a sign.
    pub(super) fn keep(&self, on_disk: &[OnDisk]) {
        let mut inner = self.lock();
        let begun = inner.begun;
        let own = on_disk.iter().filter_map(|file| match (&file.body, file.stat) {
            (Ok(Body::Read(content @ Content::Text(_))), Some(stat)) if is_settled(stat, begun) => {
                Some((file.path.clone(), (stat, content.clone())))
            }
            _ => None,
        });
        inner.known = Arc::new(own.collect());
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn is_settled(stat: FileStat, begun: u64) -> bool {
    let changed = u64::from(stat.changed.0);
    changed != 0 && changed + SETTLED <= begun
}

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "a test writes files")]
mod tests {
    use super::*;
    use crate::source::{Limits, Source, WorkTree};

    fn texts_of(tree: &WorkTree) -> Vec<String> {
        let snapshot = tree.snapshot(&Limits::default()).unwrap();
        snapshot.files.iter().filter_map(|file| file.content.text().map(ToString::to_string)).collect()
    }

    #[test]
    fn a_text_is_taken_over_only_while_nothing_was_written() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("demo");
        crate::example::build(&path).unwrap();
        let (open, texts) = (|| WorkTree::open(&path).unwrap(), Texts::default());
        let later = 1 << 40;
        let first = texts_of(&open().remembering(&texts, later));
        assert_eq!(texts.known().len(), first.len());
        assert_eq!(texts_of(&open().remembering(&texts, later)), first);
        // Of the same size; only the system's own signs tell.
        let file = path.join("requirements/actuator/ACT-010.md");
        let text = std::fs::read_to_string(&file).unwrap();
        std::fs::write(&file, text.replace("Cold torque margin", "Cold torque spared")).unwrap();
        let other = texts_of(&open().remembering(&texts, later));
        assert_ne!(other, first);
        assert_eq!(other, texts_of(&open()));
        // What was written as late as it was read is not kept.
        texts_of(&open().remembering(&texts, 0));
        assert!(texts.known().is_empty());
    }
}
