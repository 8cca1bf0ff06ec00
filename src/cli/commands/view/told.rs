//! What history says, worked out as far as a page needs it.
//!
//! Most pages say nothing of history. The revisions of one requirement take a fraction of what those of all do, and what commits
//! say of them stays so as long as the commit does.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use crate::analysis::Analysis;
use crate::cli::args::Common;
use crate::cli::commands::history::uncommitted;
use crate::cli::commands::packet::{Base, history_of, since};
use crate::cli::{CliError, Project};
use crate::git::Oid;
use crate::history::{Change, Revisions, revisions};
use crate::report::packet::{Past, Scheme, Since};
use crate::report::pages::Homes;

/// What is kept from reading to reading.
#[derive(Clone, Default)]
pub(super) struct Lasting {
    commits: Commits,
    homes: Arc<Mutex<Option<Arc<Homes>>>>,
}

impl Lasting {
    /// The addresses of everything, worked out anew only where something came or went.
    pub(super) fn homes(&self, analysis: &Analysis) -> Arc<Homes> {
        let last = self.homes.lock().unwrap_or_else(PoisonError::into_inner).clone();
        let homes = Homes::again(analysis, Scheme::Live, last.as_ref());
        *self.homes.lock().unwrap_or_else(PoisonError::into_inner) = Some(homes.clone());
        homes
    }
}

/// What the commits up to one of them say of requirements.
#[derive(Clone, Default)]
struct Commits(Arc<Mutex<UpTo>>);

#[derive(Default)]
struct UpTo {
    end: Option<Oid>,
    /// By id; none of what no commit held.
    told: HashMap<String, Arc<Option<Revisions>>>,
}

impl Commits {
    /// What they say of a requirement; none if no commit held it.
    fn tell(&self, project: &Project, id: &str) -> Result<Arc<Option<Revisions>>, CliError> {
        let Some(end) = project.commit else { return Ok(Arc::default()) };
        // Where history was cut off, more of it may be fetched, and the commit is the same.
        let lasts = !project.repo.is_cut_off();
        if lasts {
            let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            if known.end != Some(end) {
                *known = UpTo { end: Some(end), ..UpTo::default() };
            }
            if let Some(told) = known.told.get(id) {
                return Ok(told.clone());
            }
        }
        let told = project.looking_back(|| revisions(&project.repo, &project.prefix, id, end))?;
        let told = Arc::new(told);
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if lasts && known.end == Some(end) {
            known.told.insert(id.to_string(), told.clone());
        }
        Ok(told)
    }
}

/// What was worked out of one reading's past so far.
#[derive(Default)]
pub(super) struct Told {
    commits: Commits,
    since: OnceLock<Result<Since, String>>,
    uncommitted: OnceLock<Result<Vec<Change>, String>>,
}

impl Told {
    /// Nothing yet.
    pub(super) fn new(lasting: &Lasting) -> Told {
        Told { commits: lasting.commits.clone(), ..Told::default() }
    }

    /// What changed since the last review.
    ///
    /// # Errors
    /// If git cannot answer, in words.
    pub(super) fn since(&self, project: &Project, common: &Common) -> Result<Past, String> {
        let told =
            self.since.get_or_init(|| since(Base::LastReview, common, project).map_err(|error| error.in_words()));
        Ok(Past { since: told.clone()?, ..Past::default() })
    }

    /// How a requirement came to read as it does.
    ///
    /// # Errors
    /// If git cannot answer, in words.
    pub(super) fn requirement(&self, project: &Project, id: &str) -> Result<Past, String> {
        let changes = self.uncommitted.get_or_init(|| uncommitted(project).map_err(|error| error.in_words()));
        let changes = changes.as_ref().map_err(Clone::clone)?;
        let commits = self.commits.tell(project, id).map_err(|error| error.in_words())?;
        let history = history_of(project, id, commits.as_ref().as_ref(), changes);
        let histories = history.map(|history| (id.to_string(), history)).into_iter().collect();
        Ok(Past { histories, ..Past::default() })
    }
}
