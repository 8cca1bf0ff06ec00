//! Opens the project that a command is about.

use std::path::PathBuf;
use std::sync::Arc;

use jiff::civil::Date;

use crate::analysis::{self, Analysis, Request};
use crate::diag::Switch;
use crate::git::{Oid, Repo};
use crate::history::{Guard, guard};
use crate::source::{Origin, Revision, Source, WorkTree};

use super::CliError;
use super::args::Common;

/// A project, read and judged.
pub struct Project {
    /// Its repository.
    pub repo: Arc<Repo>,
    /// Its folder, from the top of the work tree.
    pub prefix: String,
    /// Its folder on disk.
    pub root: PathBuf,
    /// Where its files come from.
    pub source: Box<dyn Source>,
    /// The commit asked about, or the one checked out.
    pub commit: Option<Oid>,
    /// Whether a past commit is asked about.
    pub past: bool,
    /// What it says.
    pub analysis: Analysis,
    /// What left it.
    pub guard: Guard,
}

impl Project {
    /// Finds, reads and judges the project.
    ///
    /// It lives until the process ends, which is when the command does: taking a large project apart piece by piece
    /// would cost a tenth of the run.
    ///
    /// # Errors
    /// If there is none, or git cannot answer.
    pub fn open(common: &Common) -> Result<&'static Project, CliError> {
        Project::read(common, false)
    }

    /// The same, with the wording of statements looked at too.
    ///
    /// # Errors
    /// As [`Project::open`].
    pub fn open_with_wording(common: &Common) -> Result<&'static Project, CliError> {
        Project::read(common, true)
    }

    fn read(common: &Common, wording: bool) -> Result<&'static Project, CliError> {
        let start = match &common.project {
            Some(folder) => folder.clone(),
            None => std::env::current_dir().map_err(|error| {
                CliError::refused(format!("there is no current folder: {error}"), "change to a folder that exists")
            })?,
        };
        let tree = WorkTree::find(&start)?;
        let (repo, prefix, root) = (tree.repo().clone(), tree.prefix().to_string(), tree.root().to_path_buf());
        let past = match &common.at {
            Some(name) => Some(repo.resolve(name)?),
            None => None,
        };
        let commit = match past {
            Some(oid) => Some(oid),
            None => repo.head()?,
        };
        let today = match (common.today, past) {
            (Some(today), _) => today,
            (None, Some(oid)) => repo.commit(oid)?.author_date,
            (None, None) => clock(),
        };
        let source: Box<dyn Source> = match past {
            Some(oid) => Box::new(Revision::open(repo.clone(), oid, &prefix)?),
            None => Box::new(tree),
        };
        let analysis = analysis::run(&*source, Request { today, wording, switch: Switch::default() })?;
        let guard = guard(&repo, &prefix, commit, &analysis)?;
        let project = Project { repo, prefix, root, source, commit, past: past.is_some(), analysis, guard };
        Ok(Box::leak(Box::new(project)))
    }

    /// The position of an event, by name.
    ///
    /// # Errors
    /// If there is none of that name; near names are offered.
    pub fn event(&self, name: &str) -> Result<usize, CliError> {
        let config = &self.analysis.model.config;
        let known = config.events.iter().map(|event| event.name.value.as_str());
        config.event_index(name).ok_or_else(|| CliError::unknown("no event is called", name, known))
    }

    /// Whether every file is as the commit holds it.
    pub fn holds_a_commit(&self) -> bool {
        match self.analysis.origin {
            Origin::WorkTree { head, uncommitted } => head.is_some() && uncommitted == 0,
            Origin::Commit { .. } => true,
            Origin::Memory => false,
        }
    }

    /// Refuses to write into the past.
    ///
    /// # Errors
    /// If a past commit is asked about.
    pub fn writable(&self) -> Result<(), CliError> {
        if self.past {
            return Err(CliError::refused("a past commit cannot be changed", "leave out --at"));
        }
        Ok(())
    }
}

/// The clock's day, where the user is.
fn clock() -> Date {
    jiff::ZonedDateTime::now().date()
}
