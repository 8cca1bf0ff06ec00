//! The project as it is now, read again whenever its files change.
//!
//! A thread of its own reads; pages are made from the last reading by whoever asks. A question that comes after a change waits for the
//! reading that saw the change, so that no page passes off what was for what is. What cannot be read is an answer too.

use std::path::PathBuf;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use tokio::sync::watch;

use crate::cli::args::Common;
use crate::cli::project::clock;
use crate::cli::{CliError, Project};
use crate::kept::Kept;
use crate::source::WorkTree;

use super::answer::Loaded;
use super::sign::Sign;
use super::watching;

/// How long to wait for more of a change: an editor writes a file in several steps.
const DEBOUNCE: Duration = Duration::from_millis(30);
/// How often to look whether something was missed.
const LOOK: Duration = Duration::from_secs(5);
/// How long a page waits for a reading.
const PATIENCE: Duration = Duration::from_secs(20);

/// The last reading, for whoever asks.
pub(super) struct Live {
    shared: Arc<Shared>,
    /// Nothing more is told once it is gone.
    _watcher: Option<notify::RecommendedWatcher>,
}

struct Shared {
    common: Common,
    kept: Kept,
    state: Mutex<State>,
    /// Something changed, or was read.
    turn: Condvar,
    news: watch::Sender<u64>,
}

struct State {
    /// How many changes were told.
    told: u64,
    /// How many of them the last reading came after.
    read: u64,
    current: Arc<Loaded>,
    sign: Option<Sign>,
}

/// What there is to answer from.
pub(super) enum Now {
    /// A reading that saw every change that was told before the question.
    Read(Arc<Loaded>),
    /// None yet: it takes long.
    Reading,
}

/// The folder that a project is looked for from.
pub(super) fn start_of(common: &Common) -> PathBuf {
    common.project.clone().unwrap_or_else(|| PathBuf::from("."))
}

impl Live {
    /// Reads the project and begins to follow it; the number goes up with every reading that may say something else.
    ///
    /// # Errors
    /// If there is no project to follow.
    pub(super) fn start(common: &Common) -> Result<(Live, watch::Receiver<u64>), CliError> {
        let tree = WorkTree::find(&start_of(common))?;
        // Nothing is written: what is worked out of history is kept in memory.
        let kept = common.kept(tree.repo()).in_memory();
        let sign = Sign::of(common);
        let current = Arc::new(Loaded::of(Project::owned(common, &kept), 1));
        let (news, heard) = watch::channel(1);
        let state = Mutex::new(State { told: 0, read: 0, current, sign });
        let shared = Arc::new(Shared { common: common.clone(), kept, state, turn: Condvar::new(), news });
        let told = Arc::downgrade(&shared);
        let stir = move || {
            if let Some(shared) = told.upgrade() {
                shared.lock().told += 1;
                shared.turn.notify_all();
            }
        };
        // Where the system cannot watch, looking every few seconds has to do.
        let watcher = if common.at.is_some() { None } else { watching::watch(&tree, stir).ok() };
        let own = shared.clone();
        std::thread::spawn(move || own.follow());
        Ok((Live { shared, _watcher: watcher }, heard))
    }

    /// What there is to answer from now.
    pub(super) fn now(&self) -> Now {
        let state = self.shared.lock();
        let asked = state.told;
        let waited = self.shared.turn.wait_timeout_while(state, PATIENCE, |state| state.read < asked);
        let (state, _) = waited.unwrap_or_else(PoisonError::into_inner);
        if state.read < asked { Now::Reading } else { Now::Read(state.current.clone()) }
    }

    /// What every question is asked about.
    pub(super) fn common(&self) -> &Common {
        &self.shared.common
    }
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Reads again and again, as long as the program runs.
    fn follow(&self) {
        loop {
            let state = self.lock();
            let quiet = |state: &mut State| state.told == state.read;
            let waited = self.turn.wait_timeout_while(state, LOOK, quiet);
            let told = waited.unwrap_or_else(PoisonError::into_inner).0.told;
            self.look(told);
        }
    }

    /// Reads the project if it may have changed; `told` is how many changes were told so far.
    fn look(&self, told: u64) {
        let (read, last, current) = {
            let state = self.lock();
            (state.read, state.sign, state.current.clone())
        };
        let mut told = told;
        if told > read {
            std::thread::sleep(DEBOUNCE);
            told = self.lock().told;
        }
        let sign = if self.common.at.is_some() { None } else { Sign::of(&self.common) };
        let same = match (sign, last) {
            (Some(sign), Some(last)) => sign.is_same(last) && current.hangs_on_files_alone(),
            // Without signs only what is told counts; and nothing is told of a commit.
            _ => told == read && !current.is_failed(),
        };
        let another_day =
            self.common.today.is_none() && current.day().is_some_and(|day| day != clock()) && self.common.at.is_none();
        let anew = (!same || another_day).then(|| {
            let number = current.number() + 1;
            Arc::new(Loaded::of(Project::owned(&self.common, &self.kept), number))
        });
        let mut state = self.lock();
        state.read = told;
        if let Some(anew) = anew {
            state.sign = sign;
            let number = anew.number();
            state.current = anew;
            drop(state);
            self.news.send_replace(number);
        }
        self.turn.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Weak;

    use super::*;
    use crate::git::Repo;

    #[test]
    fn what_was_read_before_goes() {
        let folder = tempfile::tempdir().unwrap();
        crate::example::build(&folder.path().join("demo")).unwrap();
        let common = Common {
            project: Some(folder.path().join("demo")),
            today: Some(jiff::civil::date(2026, 6, 16)),
            ..Common::default()
        };
        let kept = Kept::nothing().in_memory();
        let mut gone: Vec<Weak<Repo>> = Vec::new();
        for number in 0..4 {
            let loaded = Loaded::of(Project::owned(&common, &kept), number);
            gone.push(Arc::downgrade(loaded.repo().unwrap()));
            let page = loaded.page("hot-fire", "requirement/ACT-010", &Default::default(), &common);
            assert!(page.is_some_and(|page| page.text.contains("ACT-010")));
        }
        assert!(gone.iter().all(|repo| repo.upgrade().is_none()));
    }
}
