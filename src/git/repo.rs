//! Finding and opening a repository.

use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex, Once, OnceLock, PoisonError};

use super::known::Known;
use super::loose::Loose;
use super::packed::Packed;
use super::tree::TreeCache;
use super::{GitError, Oid};
use crate::text::RepoPath;

/// An open repository that has a work tree.
///
/// Can be shared between threads, one of which at a time asks the library; [`Repo::reopen`] gives a thread its own.
pub struct Repo {
    inner: Mutex<git2::Repository>,
    workdir: PathBuf,
    git_dir: PathBuf,
    common_dir: PathBuf,
    cut_off: OnceLock<bool>,
    /// Where objects stand.
    pub(super) objects: PathBuf,
    pub(super) trees: Mutex<TreeCache>,
    /// What was read before, by whoever has this repository open.
    pub(super) known: Arc<Known>,
}

impl Repo {
    /// Opens the repository that `start` lies in, looking upward.
    ///
    /// # Errors
    /// [`GitError::NotARepository`], [`GitError::Ownership`], [`GitError::Bare`], or what the library reports.
    pub fn discover(start: &Path) -> Result<Repo, GitError> {
        set_library_options();
        let no_ceilings: [&Path; 0] = [];
        let git_dir = git2::Repository::discover_path(start, no_ceilings).map_err(|error| match error.code() {
            git2::ErrorCode::NotFound => GitError::NotARepository { start: start.to_owned() },
            git2::ErrorCode::Owner => GitError::Ownership { path: trusted_folder(start, start) },
            _ => GitError::other(format!("look for a repository from {}", start.display()), &error),
        })?;
        Repo::open(&git_dir, start)
    }

    fn open(git_dir: &Path, start: &Path) -> Result<Repo, GitError> {
        let inner = library(git_dir, start)?;
        let workdir = match inner.workdir() {
            Some(workdir) if !inner.is_bare() => workdir.to_owned(),
            _ => return Err(GitError::Bare { path: git_dir.to_owned() }),
        };
        let workdir = workdir.canonicalize().unwrap_or(workdir);
        let git_dir = inner.path().to_owned();
        let common_dir = inner.commondir().to_owned();
        let objects = common_dir.join("objects");
        let known = Arc::new(Known::new(Loose::new(objects.clone()), Packed::new(objects.clone())));
        Ok(Repo {
            inner: Mutex::new(inner),
            workdir,
            git_dir,
            common_dir,
            cut_off: OnceLock::new(),
            objects,
            trees: Mutex::default(),
            known,
        })
    }

    /// Opens the same repository once more, for another thread.
    ///
    /// # Errors
    /// As [`Repo::discover`].
    pub fn reopen(&self) -> Result<Repo, GitError> {
        Ok(self.around(library(&self.git_dir, &self.workdir)?))
    }

    /// Does something that takes long on a thread of its own: with the repository opened once more, or a copy that another has done with.
    ///
    /// # Errors
    /// As [`Repo::discover`].
    pub fn apart<T>(&self, work: impl FnOnce(&Repo) -> T) -> Result<T, GitError> {
        let own = match self.known.spare() {
            Some(inner) => self.around(inner),
            None => self.reopen()?,
        };
        let done = work(&own);
        self.known.put_back(own.inner.into_inner().unwrap_or_else(PoisonError::into_inner));
        Ok(done)
    }

    /// The same repository as the library has it open elsewhere.
    fn around(&self, inner: git2::Repository) -> Repo {
        Repo {
            inner: Mutex::new(inner),
            workdir: self.workdir.clone(),
            git_dir: self.git_dir.clone(),
            common_dir: self.common_dir.clone(),
            cut_off: self.cut_off.clone(),
            objects: self.objects.clone(),
            trees: Mutex::default(),
            known: Arc::clone(&self.known),
        }
    }

    /// The top of the work tree, with symlinks resolved.
    pub fn workdir(&self) -> &Path {
        &self.workdir
    }

    /// The folder with this work tree's own index and head.
    pub fn git_dir(&self) -> &Path {
        &self.git_dir
    }

    /// The folder that all work trees of the repository share.
    pub fn common_dir(&self) -> &Path {
        &self.common_dir
    }

    /// Whether the work tree has something at this path from its top, and not by way of a symlink.
    pub fn is_on_disk(&self, path: &RepoPath) -> bool {
        self.ask_beyond_signs();
        let full = self.workdir.join(path.as_str());
        full.canonicalize().is_ok_and(|found| found == full)
    }

    /// Notes that an answer hangs on something that [`Repo::signs`] do not tell of: a file that no listing of the project names, git's
    /// log of where a branch was.
    pub(super) fn ask_beyond_signs(&self) {
        self.known.beyond_signs.store(true, Ordering::Relaxed);
    }

    /// Whether anything was asked so far that [`Repo::signs`] do not tell of.
    pub fn asked_beyond_signs(&self) -> bool {
        self.known.beyond_signs.load(Ordering::Relaxed)
    }

    /// Whether an object was asked for that is not here, as in a partial clone: it may be later.
    pub fn has_missed(&self) -> bool {
        self.known.missed.load(Ordering::Relaxed)
    }

    /// The error of an object that could not be read; that it is not there is noted.
    pub(super) fn not_read(&self, what: &str, oid: Oid, error: &git2::Error) -> GitError {
        if error.code() == git2::ErrorCode::NotFound {
            self.known.missed.store(true, Ordering::Relaxed);
        }
        GitError::other(format!("read {what} {oid}"), error)
    }

    /// Whether history was cut off when the repository was cloned.
    pub fn is_shallow(&self) -> bool {
        self.with(|repo| repo.is_shallow())
    }

    /// Whether somebody has put other parents or commits in the place of some, by grafts or replacements: git follows these,
    /// and what is read here does not.
    pub fn is_replaced(&self) -> bool {
        let grafts = self.common_dir.join("info").join("grafts");
        let replaced =
            || self.with(|repo| repo.references_glob("refs/replace/*").is_ok_and(|mut all| all.next().is_some()));
        grafts.metadata().is_ok_and(|data| data.len() > 0) || replaced()
    }

    /// Whether history was cut off: when the repository was cloned, or by a file that gives commits other parents.
    ///
    /// Parents are read as the commits name them, whatever such a file or a replacement says; but what it cuts off may be gone.
    pub fn is_cut_off(&self) -> bool {
        *self.cut_off.get_or_init(|| {
            let grafts = self.common_dir.join("info").join("grafts");
            self.is_shallow() || grafts.metadata().is_ok_and(|data| data.len() > 0)
        })
    }

    /// The commit that is checked out; `None` on a branch without commits.
    ///
    /// # Errors
    /// If the head is broken.
    pub fn head(&self) -> Result<Option<Oid>, GitError> {
        self.with(|repo| match repo.head() {
            Ok(head) => {
                if let Some(target) = head.target() {
                    self.whole(Oid(target))?;
                }
                head.peel_to_commit()
                    .map(|commit| Some(Oid(commit.id())))
                    .map_err(|error| GitError::other("read the commit that is checked out", &error))
            }
            Err(error) if error.code() == git2::ErrorCode::UnbornBranch => Ok(None),
            Err(error) => Err(GitError::other("read HEAD", &error)),
        })
    }

    /// Runs `read` on the library's repository.
    pub(super) fn with<T>(&self, read: impl FnOnce(&git2::Repository) -> T) -> T {
        // Nothing is half-written if a reader panicked: the library's state is its own.
        read(&self.inner.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl std::fmt::Debug for Repo {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Repo").field("workdir", &self.workdir).finish_non_exhaustive()
    }
}

/// Has the library open a repository.
fn library(git_dir: &Path, start: &Path) -> Result<git2::Repository, GitError> {
    git2::Repository::open(git_dir).map_err(|error| match error.code() {
        git2::ErrorCode::Owner => GitError::Ownership { path: trusted_folder(start, git_dir) },
        _ => GitError::opening(git_dir, &error),
    })
}

/// Objects are read once each, so the library's cache costs memory and saves nothing; and git itself does not hash
/// what it reads either (`git fsck` does).
fn set_library_options() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        git2::opts::enable_caching(false);
        git2::opts::strict_hash_verification(false);
    });
}

/// What `safe.directory` must name: the folder that holds `.git`, not `.git` itself.
fn trusted_folder(start: &Path, git_dir: &Path) -> PathBuf {
    let start = start.canonicalize().unwrap_or_else(|_| start.to_owned());
    start
        .ancestors()
        .find(|folder| folder.join(".git").symlink_metadata().is_ok())
        .map_or_else(|| git_dir.to_owned(), Path::to_owned)
}
