//! What a look at a file tells, by the file's blob, shared by all who look.

use std::sync::{Mutex, PoisonError, RwLock};

use foldhash::{HashMap, HashMapExt};

use crate::git::{FileChange, Oid};
use crate::history::glance::Glance;
use crate::history::leaf::Leaf;

/// What is known of one file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(in crate::history) struct Front {
    /// What it is at a glance.
    pub(in crate::history) glance: Option<Glance>,
    /// Whose file it is, of one that can be read.
    pub(in crate::history) leaf: Option<Leaf>,
}

/// What is known of files. Only what was read is noted here: what git does not have it may have tomorrow.
#[derive(Default)]
pub(in crate::history) struct Fronts {
    known: RwLock<HashMap<Oid, Front>>,
    state: Mutex<State>,
}

#[derive(Default)]
struct State {
    /// Whether somebody has taken up what was kept.
    begun: bool,
    /// How much was known of the repository when it was last as it is kept.
    mark: Option<[usize; 3]>,
}

impl Fronts {
    /// A file at a glance.
    pub(in crate::history) fn glance(&self, oid: Oid) -> Option<Glance> {
        self.known.read().unwrap_or_else(PoisonError::into_inner).get(&oid)?.glance.clone()
    }

    /// Many files at a glance, in their order, as far as somebody has looked at them.
    pub(in crate::history) fn glances(&self, oids: impl Iterator<Item = Oid>) -> Vec<Option<Glance>> {
        let known = self.known.read().unwrap_or_else(PoisonError::into_inner);
        oids.map(|oid| known.get(&oid)?.glance.clone()).collect()
    }

    /// Those of many files that nobody has looked at.
    pub(in crate::history) fn without_glance(&self, oids: impl IntoIterator<Item = Oid>) -> Vec<Oid> {
        let known = self.known.read().unwrap_or_else(PoisonError::into_inner);
        oids.into_iter().filter(|oid| known.get(oid).is_none_or(|front| front.glance.is_none())).collect()
    }

    /// Whose files these are, as far as it is known.
    pub(in crate::history) fn leaves(&self, oids: &[Oid]) -> HashMap<Oid, Leaf> {
        let known = self.known.read().unwrap_or_else(PoisonError::into_inner);
        oids.iter().filter_map(|oid| Some((*oid, known.get(oid)?.leaf.clone()?))).collect()
    }

    /// Notes what a file is at a glance.
    pub(in crate::history) fn note_glance(&self, oid: Oid, glance: &Glance) {
        self.note(oid, |front| front.glance = Some(glance.clone()));
    }

    /// Notes whose file it is.
    pub(in crate::history) fn note_leaf(&self, oid: Oid, leaf: &Leaf) {
        self.note(oid, |front| front.leaf = Some(leaf.clone()));
    }

    fn note(&self, oid: Oid, put: impl FnOnce(&mut Front)) {
        put(self.known.write().unwrap_or_else(PoisonError::into_inner).entry(oid).or_default());
    }

    /// Whether this is the first to take up what was kept.
    pub(super) fn begin(&self) -> bool {
        !std::mem::replace(&mut self.state().begun, true)
    }

    /// How much was known of the repository when it was last as it is kept; none: nobody has looked at what is kept.
    pub(super) fn mark(&self) -> Option<[usize; 3]> {
        self.state().mark
    }

    pub(super) fn set_mark(&self, mark: [usize; 3]) {
        self.state().mark = Some(mark);
    }

    fn state(&self) -> std::sync::MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Takes in what was kept.
    pub(super) fn take(&self, fronts: HashMap<Oid, Front>) {
        let mut known = self.known.write().unwrap_or_else(PoisonError::into_inner);
        if known.is_empty() {
            *known = fronts;
            return;
        }
        for (oid, front) in fronts {
            let own = known.entry(oid).or_default();
            own.glance = own.glance.take().or(front.glance);
            own.leaf = own.leaf.take().or(front.leaf);
        }
    }

    /// How much is known.
    pub(super) fn amount(&self) -> usize {
        let known = self.known.read().unwrap_or_else(PoisonError::into_inner);
        known.values().map(|front| usize::from(front.glance.is_some()) + usize::from(front.leaf.is_some())).sum()
    }

    /// What is known of the files in these changes, and of no others if there are many of those.
    pub(super) fn of<'c>(&self, changes: impl Iterator<Item = &'c FileChange>) -> HashMap<Oid, Front> {
        let known = self.known.read().unwrap_or_else(PoisonError::into_inner);
        let mut found = HashMap::new();
        for blob in changes.flat_map(|change| [change.old_blob(), change.new_blob()]).flatten() {
            found.extend(known.get(&blob).map(|front| (blob, front.clone())));
        }
        // What the first commit brought stands in no difference.
        if known.len() <= 2 * found.len() + MOST_OTHERS { known.clone() } else { found }
    }
}

/// So many files that no difference names are kept in any case.
const MOST_OTHERS: usize = 50_000;
