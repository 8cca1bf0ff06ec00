//! A source that remembers which attachments were asked for.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

use super::{Content, Limits, ReadError, Snapshot, Source, SourceError};
use crate::git::Oid;
use crate::text::RepoPath;

/// Another source, with an eye on what is read from it beyond the listed files.
pub struct Watched<S> {
    inner: S,
    asked: Mutex<Vec<RepoPath>>,
    /// Something was asked that hangs on more than one file's bytes.
    beyond: AtomicBool,
}

impl<S: Source> Watched<S> {
    /// Around a source.
    pub fn new(inner: S) -> Watched<S> {
        Watched { inner, asked: Mutex::default(), beyond: AtomicBool::new(false) }
    }

    /// Whether all that was asked for so far stands in the listing: a file that git ignores does not, nor does one that is not there.
    pub fn only_asked_for_what_is_in(&self, snapshot: &Snapshot) -> bool {
        let asked = self.asked.lock().unwrap_or_else(PoisonError::into_inner);
        !self.beyond.load(Ordering::Relaxed) && asked.iter().all(|path| snapshot.has(path))
    }

    fn note(&self, path: &RepoPath) {
        self.asked.lock().unwrap_or_else(PoisonError::into_inner).push(path.clone());
    }
}

impl<S: Source> Source for Watched<S> {
    fn project_file(&self, limits: &Limits) -> Result<Content, SourceError> {
        self.inner.project_file(limits)
    }

    fn snapshot(&self, limits: &Limits) -> Result<Snapshot, SourceError> {
        self.inner.snapshot(limits)
    }

    fn read(&self, path: &RepoPath) -> Result<Vec<u8>, ReadError> {
        self.note(path);
        self.inner.read(path)
    }

    fn pieces(&self, path: &RepoPath, take: &mut dyn FnMut(&[u8])) -> Result<(), ReadError> {
        self.note(path);
        self.inner.pieces(path, take)
    }

    fn blob_id(&self, path: &RepoPath) -> Option<Oid> {
        self.beyond.store(true, Ordering::Relaxed);
        self.inner.blob_id(path)
    }

    fn is_stored(&self) -> bool {
        self.inner.is_stored()
    }

    fn stores_lf(&self, path: &RepoPath) -> bool {
        self.beyond.store(true, Ordering::Relaxed);
        self.inner.stores_lf(path)
    }
}
