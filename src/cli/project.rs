//! Opens the project that a command is about.

use std::path::PathBuf;
use std::sync::{Arc, OnceLock};

use jiff::civil::Date;

use crate::analysis::{self, Analysis, Request};
use crate::config::Config;
use crate::diag::{Class, Findings, catalogue};
use crate::git::{Oid, Repo};
use crate::history::{Account, Guard, Look, account, guard, keep, look_back, look_back_from_disk, revision, take_up};
use crate::kept::Kept;
use crate::model::load::Read;
use crate::quantity::Quantity;
use crate::report::style::{BAD, NAME, OFF};
use crate::report::view::{Carried, FindingView};
use crate::source::{Limits, Origin, PROJECT_FILE, Revision, Seen, Source, SourceError, Texts, Watched, WorkTree};
use crate::text::FileId;

use super::args::Common;
use super::{CliError, Ui};

/// What one reading of a project leaves for the next.
#[derive(Default)]
pub struct Again {
    texts: Texts,
    read: Read,
}

/// What a command wants of a project besides its files and what they come to.
#[derive(Clone, Copy, Default)]
struct Wanted {
    /// What its history says of it.
    history: bool,
    /// How its statements are worded.
    wording: bool,
}

/// A project, read and judged.
pub struct Project {
    /// Its repository.
    pub repo: Arc<Repo>,
    /// Its folder, from the top of the work tree.
    pub prefix: String,
    /// Its folder on disk.
    pub root: PathBuf,
    /// Where its files come from.
    pub source: Arc<dyn Source>,
    /// The commit asked about, or the one checked out.
    pub commit: Option<Oid>,
    /// Whether a past commit is asked about.
    pub past: bool,
    /// What it says.
    pub analysis: Analysis,
    /// Where what is known of commits is kept between runs.
    kept: Kept,
    /// What its history says of it, once somebody has asked.
    told: OnceLock<(Guard, Account)>,
    /// Which evidence carries which mark, once somebody has asked.
    carried: OnceLock<Carried>,
    /// Of a work tree: the same source, with what was asked of it.
    watched: Option<Arc<Watched<WorkTree>>>,
}

/// The ambient pressure of the project that somebody stands in, by its project file alone; none outside of projects, and none inside of one that
/// does not tell it.
pub(super) fn ambient_here(common: &Common) -> Option<Option<Quantity>> {
    let start = common.project.clone().unwrap_or_else(|| PathBuf::from("."));
    let tree = WorkTree::find(&start).ok()?;
    let limits = Limits::default();
    let file = match &common.at {
        Some(name) => {
            let commit = tree.repo().resolve(name).ok()?;
            Revision::open(tree.repo().clone(), commit, tree.prefix()).ok()?.project_file(&limits).ok()?
        }
        None => tree.project_file(&limits).ok()?,
    };
    let config = |text: &str| Config::read(FileId(0), text, &mut Findings::new());
    Some(file.text().and_then(|text| config(text).ambient))
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
        Project::open_for(common, Wanted::default())
    }

    /// The same for whoever will ask what its history says of it: commits are looked through while files are read.
    ///
    /// # Errors
    /// As [`Project::open`].
    pub fn open_with_history(common: &Common) -> Result<&'static Project, CliError> {
        Project::open_for(common, Wanted { history: true, ..Wanted::default() })
    }

    /// The same, with the wording of statements looked at too.
    ///
    /// # Errors
    /// As [`Project::open`].
    pub fn open_with_wording(common: &Common) -> Result<&'static Project, CliError> {
        Project::open_for(common, Wanted { history: true, wording: true })
    }

    fn open_for(common: &Common, wanted: Wanted) -> Result<&'static Project, CliError> {
        let run = |source: &dyn Source, request| analysis::run(source, Request { wording: wanted.wording, ..request });
        let project = Project::find(common, Common::kept, None, wanted.history, run)?;
        Ok(Box::leak(Box::new(project)))
    }

    /// The same as [`Project::open`] for a process that reads it again and again: it goes when its owner lets go of it.
    ///
    /// # Errors
    /// As [`Project::open`].
    pub fn owned(common: &Common, kept: &Kept, again: &mut Again) -> Result<Project, CliError> {
        Project::find(
            common,
            |_, _| kept.clone(),
            Some(&again.texts),
            false,
            |source, request| analysis::run_again(source, Request { wording: false, ..request }, &mut again.read),
        )
    }

    fn find(
        common: &Common,
        kept: impl FnOnce(&Common, &Repo) -> Kept,
        texts: Option<&Texts>,
        with_history: bool,
        run: impl FnOnce(&dyn Source, Request) -> Result<Analysis, SourceError>,
    ) -> Result<Project, CliError> {
        let start = match &common.project {
            Some(folder) => folder.clone(),
            None => {
                std::env::current_dir().map_err(|error| {
                    CliError::refused(format!("there is no current folder: {error}"), "change to a folder that exists")
                })?;
                PathBuf::from(".")
            }
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
            (None, Some(oid)) => repo.commit(oid)?.made_on,
            (None, None) => clock(),
        };
        let mut watched = None;
        let source: Arc<dyn Source> = match past {
            Some(oid) => Arc::new(stored(&tree, oid, today)?),
            None => {
                let tree = match texts {
                    Some(texts) => tree.remembering(texts, seconds()),
                    None => tree,
                };
                watched.insert(Arc::new(Watched::new(tree))).clone()
            }
        };
        let kept = kept(common, &repo);
        let analysis = rayon::in_place_scope(|scope| {
            if with_history {
                // Whoever asks for what cannot be read says so.
                scope.spawn(|_| drop(ahead(&repo, &prefix, commit, &kept)));
            }
            run(&*source, Request::on(today))
        })?;
        if let Some(head) = commit.filter(|_| past.is_none()) {
            // Whoever asks for what cannot be read says so.
            drop(look_back_from_disk(&repo, &prefix, head, &analysis));
        }
        let past = past.is_some();
        let (told, carried) = (OnceLock::new(), OnceLock::new());
        Ok(Project { repo, prefix, root, source, commit, past, analysis, kept, told, carried, watched })
    }

    /// What left it; its findings are those of the account too.
    ///
    /// # Errors
    /// If git cannot answer.
    pub fn guard(&self) -> Result<&Guard, CliError> {
        Ok(&self.told()?.0)
    }

    /// What does not agree with what was decided or signed.
    ///
    /// # Errors
    /// If git cannot answer.
    pub fn account(&self) -> Result<&Account, CliError> {
        Ok(&self.told()?.1)
    }

    /// Looks through history the first time: whoever asks about changes alone need not wait for it.
    fn told(&self) -> Result<&(Guard, Account), CliError> {
        if let Some(told) = self.told.get() {
            return Ok(told);
        }
        let (guard, account) = self.looking_back(|| {
            look_back(&self.repo, &self.prefix, self.commit)?;
            let look = Look { kept: self.kept.clone(), since: None };
            Ok::<_, CliError>(rayon::join(
                || guard(&self.repo, &self.prefix, self.commit, &look, &self.analysis),
                || account(&self.repo, &self.prefix, self.commit, &self.analysis),
            ))
        })?;
        let (mut guard, account) = (guard?, account?);
        guard.findings.extend(account.findings.iter().cloned());
        guard.also(&account.taken_back);
        Ok(self.told.get_or_init(|| (guard, account)))
    }

    /// Does something that reads history: with what earlier runs learnt of it, and so that later ones have what was learnt here.
    pub fn looking_back<T>(&self, look: impl FnOnce() -> T) -> T {
        take_up(&self.repo, &self.prefix, &self.kept);
        let seen = look();
        keep(&self.repo, &self.prefix, self.commit, &self.kept);
        seen
    }

    /// Which evidence carries which mark of a requirement.
    pub fn carried(&self) -> &Carried {
        self.carried.get_or_init(|| Carried::of(&self.analysis))
    }

    /// By what to tell that all that was read is still the same; none where looking would miss something.
    pub(super) fn seen(&self) -> Option<Seen> {
        let listed = &self.analysis.snapshot;
        let watched = self.watched.as_ref().filter(|_| !self.repo.asked_beyond_signs())?;
        listed.seen.filter(|_| watched.only_asked_for_what_is_in(listed))
    }

    /// The position of an event, by name.
    ///
    /// # Errors
    /// If there is none of that name; near names are offered.
    pub fn event(&self, name: &str) -> Result<usize, CliError> {
        let config = &self.analysis.model.config;
        let known = config.events.iter().map(|event| event.name.value.as_str());
        config.event_index(name).ok_or_else(|| {
            let unknown = CliError::unknown("no event is called", name, known);
            if config.events.is_empty() { self.no_events() } else { unknown.or(self.mend_settings()) }
        })
    }

    /// That there is no event to ask about.
    pub fn no_events(&self) -> CliError {
        let error = CliError::refused("the project names no event", "add events = [\"hot-fire\"] to slipmark.toml");
        error.or(self.mend_settings())
    }

    /// What to mend first in the project file, for when an event is missed.
    fn mend_settings(&self) -> Option<String> {
        let own = |fault: &FindingView| fault.path.as_deref() == Some(PROJECT_FILE);
        // That there are no events is what the other faults came to.
        self.mend(|fault| own(fault) && fault.code != "no-events").or_else(|| self.mend(own))
    }

    /// That nothing has this name, with the nearest ones; and where a fault may be why.
    pub fn unknown<'w>(&self, what: &str, name: &str, known: impl Iterator<Item = &'w str> + Clone) -> CliError {
        let hidden = self.mend(|fault| fault.path.is_some() && catalogue::hides(fault.code));
        CliError::unknown(what, name, known).or(hidden)
    }

    /// The first of the faults that are wanted, as something to mend.
    fn mend(&self, wanted: impl Fn(&FindingView) -> bool) -> Option<String> {
        // What history alone shows hides nothing that the files hold.
        let faults =
            self.analysis.findings.of(Class::Fault).map(|finding| FindingView::of(finding, &self.analysis.sources));
        let mut faults = faults.filter(wanted).peekable();
        let first = faults.next()?;
        let more = if faults.peek().is_some() { "; slipmark check lists the others" } else { "" };
        let place = Some(first.place()).filter(|place| !first.message.starts_with(place));
        let at = place.map_or(String::new(), |place| format!("{place}: "));
        Some(format!("mend what may hide it: {at}{}{more}", first.message))
    }

    /// Says beside an answer that shows no faults that there are some, in the files or in what left them.
    ///
    /// # Errors
    /// If git cannot answer.
    pub fn tell_faults(&self, ui: &mut Ui) -> Result<(), CliError> {
        let left = self.guard()?.findings.iter().filter(|finding| finding.class() == Class::Fault);
        tell_faults(self.analysis.findings.of(Class::Fault).count() + left.count(), ui);
        Ok(())
    }

    /// The same beside an answer that history itself gives: of what left the project it tells, but not that its past was cut off.
    pub fn tell_faults_of_files(&self, ui: &mut Ui) {
        tell_faults(self.faults_of_files(), ui);
    }

    /// How many faults that says there are.
    pub fn faults_of_files(&self) -> usize {
        self.analysis.findings.of(Class::Fault).count() + usize::from(self.repo.is_cut_off())
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

/// Looks through the commits up to one before anything is asked of them: what was learnt is remembered by the repository.
fn ahead(repo: &Repo, prefix: &str, commit: Option<Oid>, kept: &Kept) -> Result<(), CliError> {
    take_up(repo, prefix, kept);
    look_back(repo, prefix, commit)?;
    Ok(())
}

/// The project as a commit holds it, wherever it stood then.
fn stored(tree: &WorkTree, oid: Oid, today: Date) -> Result<Revision, CliError> {
    let (repo, prefix) = (tree.repo(), tree.prefix());
    match (revision(repo, oid, prefix), repo.head()?) {
        // Its folder may have been moved and that not committed: then it is known by its files.
        (Err(SourceError::NoProjectInCommit { .. }), Some(head)) => {
            look_back_from_disk(repo, prefix, head, &analysis::run(tree, Request::on(today))?)?;
            Ok(revision(repo, oid, prefix)?)
        }
        (found, _) => Ok(found?),
    }
}

/// Says beside an answer how many faults there are, if there are any.
pub fn tell_faults(count: usize, ui: &mut Ui) {
    let what = match count {
        0 => return,
        1 => "there is a fault in the project".to_string(),
        count => format!("there are {count} faults in the project"),
    };
    ui.aside(&format!("{BAD}{what}{OFF}, which could make this wrong\n  {NAME}do{OFF}: slipmark check"));
}

/// The clock's seconds since 1970.
pub(super) fn seconds() -> u64 {
    std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).map_or(0, |since| since.as_secs())
}

/// The clock's day, where the user is.
pub(super) fn clock() -> Date {
    jiff::ZonedDateTime::now().date()
}
