//! What was read of a repository before, shared by all that have it open.
//!
//! Everything here is named by what it holds, so it can never be out of date; who looks back from the same commit asks for the same.

use std::any::Any;
use std::hash::Hash;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError, RwLock, RwLockReadGuard};

use foldhash::{HashMap, HashSet};

use super::compare::FileChange;
use super::tree::Listed;
use super::walk::Header;
use super::{Oid, loose::Loose, packed::Packed};

/// So many bytes of differences, and as many of texts, are remembered.
const MOST_BYTES: usize = 16 << 20;

/// What is known of one repository.
pub(super) struct Known {
    pub(super) loose: Loose,
    pub(super) packed: Packed,
    /// Commits without their messages.
    pub(super) headers: Shared<Oid, Arc<Header>>,
    /// The files in which two trees differ.
    pub(super) differences: Shared<(Oid, Oid), Arc<[FileChange]>>,
    /// Commits that were looked through, as were those that they descend from.
    pub(super) whole: Mutex<HashSet<Oid>>,
    /// Blobs as text; none if they are no UTF-8.
    pub(super) texts: Shared<Oid, Option<Arc<str>>>,
    /// The project's files in the commits that were listed last: whoever looks back asks for the newest and for the first one.
    pub(super) listed: Mutex<[Option<Listed>; 2]>,
    /// The trees of a project's folder, by the folder and the top tree of a commit; none: it has no such folder.
    pub(super) folders: RwLock<HashMap<String, HashMap<Oid, Option<Oid>>>>,
    /// Where folders stood in commits in which they were not where they are now.
    pub(super) stood: RwLock<HashMap<String, HashMap<Oid, Arc<str>>>>,
    /// Whether any did.
    pub(super) any_stood: AtomicBool,
    /// Whether something was asked that [`super::Repo::signs`] do not tell of.
    pub(super) beyond_signs: AtomicBool,
    /// Whether an object was not there: it may be later.
    pub(super) missed: AtomicBool,
    /// What those who read the repository remember of it, one of each type.
    aside: Mutex<Vec<Arc<dyn Any + Send + Sync>>>,
    /// The library's repositories that nobody uses just now: to open one takes as long as to read a hundred files.
    spare: Mutex<Vec<git2::Repository>>,
}

impl Known {
    pub(super) fn new(loose: Loose, packed: Packed) -> Known {
        Known {
            loose,
            packed,
            headers: Shared::new(usize::MAX),
            differences: Shared::new(MOST_BYTES),
            whole: Mutex::default(),
            texts: Shared::new(MOST_BYTES),
            listed: Mutex::default(),
            folders: RwLock::default(),
            stood: RwLock::default(),
            any_stood: AtomicBool::new(false),
            beyond_signs: AtomicBool::new(false),
            missed: AtomicBool::new(false),
            aside: Mutex::default(),
            spare: Mutex::default(),
        }
    }

    pub(super) fn aside<T: Any + Send + Sync + Default>(&self) -> Arc<T> {
        let mut all = self.aside.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(own) = all.iter().find_map(|one| Arc::clone(one).downcast().ok()) {
            return own;
        }
        let own: Arc<T> = Arc::default();
        all.push(own.clone());
        own
    }

    pub(super) fn spare(&self) -> Option<git2::Repository> {
        self.spare.lock().unwrap_or_else(PoisonError::into_inner).pop()
    }

    pub(super) fn put_back(&self, spare: git2::Repository) {
        self.spare.lock().unwrap_or_else(PoisonError::into_inner).push(spare);
    }
}

/// Answers that threads share; once there is no more room, new ones are not kept.
pub(super) struct Shared<K, V> {
    answers: RwLock<HashMap<K, V>>,
    room: AtomicUsize,
}

impl<K: Eq + Hash, V: Clone> Shared<K, V> {
    fn new(room: usize) -> Self {
        Shared { answers: RwLock::default(), room: AtomicUsize::new(room) }
    }

    pub(super) fn get(&self, key: &K) -> Option<V> {
        self.answers.read().unwrap_or_else(PoisonError::into_inner).get(key).cloned()
    }

    /// All answers, for whoever asks for many of them at once; nobody else can add any meanwhile.
    pub(super) fn all(&self) -> RwLockReadGuard<'_, HashMap<K, V>> {
        self.answers.read().unwrap_or_else(PoisonError::into_inner)
    }

    /// How many answers there are.
    pub(super) fn count(&self) -> usize {
        self.answers.read().unwrap_or_else(PoisonError::into_inner).len()
    }

    /// Everything that is known an answer to.
    pub(super) fn keys(&self) -> Vec<K>
    where
        K: Clone,
    {
        self.answers.read().unwrap_or_else(PoisonError::into_inner).keys().cloned().collect()
    }

    /// Keeps answers that were worked out before, each of about so many bytes.
    pub(super) fn put_all(&self, answers: impl ExactSizeIterator<Item = (K, V, usize)>) {
        let mut known = self.answers.write().unwrap_or_else(PoisonError::into_inner);
        known.reserve(answers.len());
        known.extend(answers.filter(|(_, _, bytes)| self.has_room(*bytes)).map(|(key, answer, _)| (key, answer)));
    }

    /// Keeps an answer that takes about so many bytes.
    pub(super) fn put(&self, key: K, answer: V, bytes: usize) {
        if self.has_room(bytes) {
            self.answers.write().unwrap_or_else(PoisonError::into_inner).insert(key, answer);
        }
    }

    /// Whether there is room for so many bytes, which are taken then.
    fn has_room(&self, bytes: usize) -> bool {
        self.room.fetch_update(Ordering::Relaxed, Ordering::Relaxed, |room| room.checked_sub(bytes)).is_ok()
    }
}
