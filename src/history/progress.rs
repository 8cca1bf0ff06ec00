//! How far a long walk has come, for whoever waits.

use std::sync::atomic::{AtomicUsize, Ordering};

/// Counts that a walk moves on and somebody else looks at; no answer depends on them.
#[derive(Debug, Default)]
pub struct Progress {
    done: AtomicUsize,
    of: AtomicUsize,
}

impl Progress {
    /// Says how many steps there will be.
    pub(super) fn begin(&self, of: usize) {
        self.done.store(0, Ordering::Relaxed);
        self.of.store(of, Ordering::Relaxed);
    }

    /// One step is done.
    pub(super) fn step(&self) {
        self.done.fetch_add(1, Ordering::Relaxed);
    }

    /// Steps done, of how many; none before a walk has begun.
    pub fn get(&self) -> Option<(usize, usize)> {
        let of = self.of.load(Ordering::Relaxed);
        (of > 0).then(|| (self.done.load(Ordering::Relaxed).min(of), of))
    }
}
