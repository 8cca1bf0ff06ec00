//! The project as it is now, read again whenever its files change.
//!
//! A thread of its own reads; pages are made from the last reading by whoever asks. A question that comes after the system told of a
//! change waits for the reading that saw the change, and a page that was made just before it did is made anew by itself, so that none
//! passes off what was for what is. What cannot be read is an answer too.

use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use tokio::sync::watch;

use crate::cli::args::Common;
use crate::cli::project::clock;
use crate::cli::{Again, CliError, Project};
use crate::kept::Kept;
use crate::source::WorkTree;

use super::answer::{Loaded, Says};
use super::sign::{Begun, Sign};
use super::told::Lasting;
use super::watching;

/// How long to wait for more of a change: an editor writes a file in several steps.
const DEBOUNCE: Duration = Duration::from_millis(20);
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
    lasting: Lasting,
    state: Mutex<State>,
    /// Something changed, or was read.
    turn: Condvar,
    /// The number of the last reading.
    number: AtomicU64,
    /// What that left for the next.
    again: Mutex<Again>,
    news: watch::Sender<u64>,
}

struct State {
    /// How many changes were told.
    told: u64,
    /// How many of them the last reading came after.
    read: u64,
    /// None while it is read anew: two readings of a large project are more than there need be in memory at a time.
    current: Option<Arc<Loaded>>,
    sign: Option<Sign>,
}

impl State {
    /// The last reading, if it saw so many changes.
    fn at_least(&self, told: u64) -> Option<Arc<Loaded>> {
        self.current.clone().filter(|_| self.read >= told)
    }
}

/// What is known of the reading before, to tell whether the next says the same.
enum Before {
    /// Nothing, or it must say something else.
    Other,
    /// By what to tell that all is as it was.
    Seen(Sign),
    /// All that it said.
    Said(Says),
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
        let begun = Begun::now(common);
        let lasting = Lasting::default();
        let mut again = Again::default();
        let current = Some(Arc::new(Loaded::of(Project::owned(common, &kept, &mut again), 1, lasting.clone())));
        let (news, heard) = watch::channel(1);
        let sign = begun.zip(current.as_ref()).and_then(|(begun, current)| begun.with(current.seen()));
        let state = Mutex::new(State { told: 0, read: 0, current, sign });
        let shared = Arc::new(Shared {
            common: common.clone(),
            kept,
            lasting,
            state,
            turn: Condvar::new(),
            number: AtomicU64::new(1),
            again: Mutex::new(again),
            news,
        });
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
        let waited = self.shared.turn.wait_timeout_while(state, PATIENCE, |state| state.at_least(asked).is_none());
        let (state, _) = waited.unwrap_or_else(PoisonError::into_inner);
        state.at_least(asked).map_or(Now::Reading, Now::Read)
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
        // Whoever opens the first page finds it made.
        let first = self.lock().current.clone();
        drop(first.map(|first| first.events()));
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
        let Some(current) = current else { return self.read(told, Before::Other) };
        let another_day =
            self.common.today.is_none() && current.day().is_some_and(|day| day != clock()) && self.common.at.is_none();
        if told > read {
            let certain = last.filter(|_| !another_day && current.hangs_on_files_alone());
            // It is taken apart while nothing else is done.
            self.let_go(current);
            std::thread::sleep(DEBOUNCE);
            let told = self.lock().told;
            return self.read(told, certain.map_or(Before::Other, Before::Seen));
        }
        let (same, alike) = match (Sign::of(&self.common), last) {
            (Some(sign), Some(last)) => (sign.is_same(last) && current.hangs_on_files_alone(), sign.is_alike(last)),
            // Without signs only what is told counts; and nothing is told of a commit.
            _ => (!current.is_failed(), false),
        };
        if same && !another_day {
            return;
        }
        let before = current.says().filter(|_| alike && !another_day).map_or(Before::Other, Before::Said);
        self.let_go(current);
        self.read(told, before);
    }

    /// Forgets a reading that another is to come after.
    fn let_go(&self, current: Arc<Loaded>) {
        self.number.store(current.number(), Ordering::Relaxed);
        self.lock().current = None;
        // Taking it apart takes as long as a part of reading does. A page that is being made may hold it still.
        std::thread::spawn(move || Arc::into_inner(current).map(Loaded::take_apart));
    }

    /// Reads the project; the number goes up unless it says what it said before.
    fn read(&self, told: u64, before: Before) {
        let begun = Begun::now(&self.common);
        let mut again = self.again.lock().unwrap_or_else(PoisonError::into_inner);
        let project = Project::owned(&self.common, &self.kept, &mut again);
        drop(again);
        let last = self.number.load(Ordering::Relaxed);
        let anew = Loaded::of(project, last + 1, self.lasting.clone());
        let sign = begun.and_then(|begun| begun.with(anew.seen()));
        let says_the_same = match before {
            // What is written but not read, such as what git ignores, is told of too.
            Before::Seen(then) => sign.is_some_and(|sign| sign.is_same(then)),
            Before::Said(then) => anew.says() == Some(then),
            Before::Other => false,
        };
        let anew = Arc::new(if says_the_same { anew.numbered(last) } else { anew });
        let number = anew.number();
        let mut state = self.lock();
        (state.read, state.sign, state.current) = (told, sign, Some(anew));
        drop(state);
        self.turn.notify_all();
        if number != last {
            self.news.send_replace(number);
        }
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
        let (kept, mut again) = (Kept::nothing().in_memory(), Again::default());
        let mut gone: Vec<Weak<Repo>> = Vec::new();
        for number in 0..4 {
            let loaded = Loaded::of(Project::owned(&common, &kept, &mut again), number, Lasting::default());
            gone.push(Arc::downgrade(loaded.repo().unwrap()));
            let page = loaded.page("hot-fire", "requirement/ACT-010", &Default::default(), &common);
            assert!(page.is_some_and(|page| page.text.contains("ACT-010")));
        }
        assert!(gone.iter().all(|repo| repo.upgrade().is_none()));
    }
}
