//! A project as it is on disk.
//!
//! Two things are done at once: folders are listed and files read, and the index and the tree of the commit that is
//! checked out are loaded. Then the two are laid beside each other: which paths are tracked, which files are what the
//! commit holds. Git's memory of each file (the stat in the index) answers that for nearly all without hashing.

mod attributes;
mod compare;
mod ignores;
mod listing;
mod open;
mod reading;
mod texts;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use rayon::prelude::*;

use super::rules::{assemble, is_inside};
use super::{Content, Limits, Origin, PROJECT_FILE, ReadError, Seen, Snapshot, Source, SourceError};
use crate::git::{FileStat, GitError, IndexEntry, IndexSnapshot, Oid, Repo, TreeFile, blob_id_of_file};
use crate::text::RepoPath;
use attributes::Conversions;
use compare::Compared;
use listing::Listing;
pub use reading::in_pieces;
use reading::{Kind, OnDisk, Reader};
pub use texts::Texts;

/// The project in a folder of a git work tree.
#[derive(Clone, Debug)]
pub struct WorkTree {
    repo: Arc<Repo>,
    root: PathBuf,
    /// The same folder, by the way on which its files are opened.
    nearer: PathBuf,
    prefix: String,
    /// What was read before, for whoever reads again and again.
    texts: Option<Texts>,
}

/// What git knows of the project.
struct Known {
    head: Option<Oid>,
    committed: Arc<[TreeFile]>,
    index: Arc<IndexSnapshot>,
}

impl WorkTree {
    /// The repository that the project lies in.
    pub fn repo(&self) -> &Arc<Repo> {
        &self.repo
    }

    /// The project's folder, with symlinks resolved.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// The same from the top of the work tree; empty if it is the top.
    pub fn prefix(&self) -> &str {
        &self.prefix
    }

    /// The same, taking texts from an earlier reading where the signs of a file say that it is as it was, and leaving what it reads
    /// for the next. `now` is in seconds since 1970.
    pub fn remembering(self, texts: &Texts, now: u64) -> WorkTree {
        texts.begin(now, &self.repo);
        WorkTree { texts: Some(texts.clone()), ..self }
    }

    fn known(&self) -> Result<Known, GitError> {
        let head = self.repo.head()?;
        let committed = match head {
            Some(head) => self.repo.tree_files(head, &self.prefix)?,
            None => Arc::from([]),
        };
        let index = match &self.texts {
            Some(texts) => {
                texts.keep_listings(&self.repo);
                texts.index(&self.repo, &self.prefix)?
            }
            None => Arc::new(self.repo.index(&self.prefix)?),
        };
        Ok(Known { head, committed, index })
    }

    /// By what to tell whether the files are those of another run's [`Snapshot::seen`], without reading any.
    pub fn seen(&self) -> Option<Seen> {
        let limits = Limits::default();
        let listing = Listing::make(self, &limits);
        if !listing.is_plain() {
            return None;
        }
        let look = |(path, kind): &(RepoPath, Kind)| match kind {
            Kind::File => self.nearer.join(path.as_str()).symlink_metadata().ok().map(|data| FileStat::of(&data)),
            Kind::Link | Kind::Special => None,
        };
        let stats: Vec<Option<FileStat>> = listing.paths.par_iter().with_min_len(64).map(look).collect();
        Seen::of(listing.paths.iter().map(|(path, _)| path).zip(stats))
    }

    fn list_and_read(&self, limits: &Limits) -> Result<(Listing, Vec<OnDisk>), SourceError> {
        let listing = Listing::make(self, limits);
        let known = self.texts.as_ref().map(Texts::known);
        let reader = Reader::new(&self.root, &self.nearer, limits).knowing(known.as_deref());
        let on_disk = reader.read_all(&listing.paths)?;
        if let Some(texts) = &self.texts {
            texts.keep(&on_disk);
        }
        Ok((listing, on_disk))
    }

    /// The file to open for an attachment: a plain file, or a symlink to one inside the project.
    fn attachment(&self, path: &RepoPath) -> Result<PathBuf, ReadError> {
        if !is_inside(path) {
            return Err(ReadError::Outside { path: path.clone() });
        }
        if !listing::is_real_folder(&self.root, path.folder()) {
            return Err(ReadError::NotFound { path: path.clone() });
        }
        let full = self.root.join(path.as_str());
        let kind = full.symlink_metadata().map_err(|error| ReadError::io(path, &error))?.file_type();
        if kind.is_file() {
            return Ok(full);
        }
        if !kind.is_symlink() {
            return Err(ReadError::NotAFile { path: path.clone() });
        }
        let target = full.canonicalize().map_err(|error| ReadError::io(path, &error))?;
        if !reading::is_within(&self.root, &target) {
            return Err(ReadError::Outside { path: path.clone() });
        }
        let plain = target.symlink_metadata().is_ok_and(|metadata| metadata.is_file());
        if plain { Ok(target) } else { Err(ReadError::NotAFile { path: path.clone() }) }
    }
}

impl Source for WorkTree {
    fn project_file(&self, limits: &Limits) -> Result<Content, SourceError> {
        Ok(Reader::new(&self.root, &self.nearer, limits).settings(&RepoPath::new(PROJECT_FILE)))
    }

    fn snapshot(&self, limits: &Limits) -> Result<Snapshot, SourceError> {
        let (read, known) = rayon::join(|| self.list_and_read(limits), || self.known());
        let ((mut listing, mut on_disk), known) = (read?, known?);
        let plain = listing.is_plain();
        listing.sort_out_repositories(&known.index, limits);
        on_disk.retain(|file| !listing.foreign.holds(file.path.as_str()));
        let absent = absent(&on_disk, &known.index);
        let unlisted = listing.tracked_but_unlisted(&self.root, &absent);
        if !unlisted.is_empty() {
            on_disk.extend(Reader::new(&self.root, &self.nearer, limits).read_all(&unlisted)?);
            on_disk.sort_by(|a, b| a.path.cmp(&b.path));
        }
        listing.keep_untracked_ignored(&known.index);
        let told_by_looking = plain && absent.is_empty();
        let (seen, compared) = rayon::join(
            || told_by_looking.then(|| seen(&on_disk)).flatten(),
            || {
                let conversions = Conversions::find(&self.repo, &self.root, &on_disk);
                Compared::make(self, &known, &listing.foreign, &on_disk, conversions)
            },
        );
        let compared = compared?;
        let origin = Origin::WorkTree { head: known.head, uncommitted: compared.uncommitted };
        let mut problems = std::mem::take(&mut listing.problems);
        let listed = compared.finish(on_disk, &mut problems);
        Ok(Snapshot { seen, ..assemble(origin, listed, problems) })
    }

    fn read(&self, path: &RepoPath) -> Result<Vec<u8>, ReadError> {
        let file = self.attachment(path)?;
        let limit = Limits::ATTACHMENT_BYTES;
        let mut bytes = Vec::new();
        match reading::read_at_most(&file, limit, &mut bytes).map_err(|error| ReadError::io(path, &error))? {
            reading::Amount::Whole(_) => Ok(bytes),
            reading::Amount::More(metadata) => {
                Err(ReadError::TooLarge { path: path.clone(), bytes: metadata.len(), limit })
            }
        }
    }

    fn pieces(&self, path: &RepoPath, take: &mut dyn FnMut(&[u8])) -> Result<(), ReadError> {
        let refused = |error| ReadError::io(path, &error);
        let mut file = std::fs::File::open(self.attachment(path)?).map_err(refused)?;
        reading::in_pieces(&mut file, take).map_err(refused)
    }

    fn blob_id(&self, path: &RepoPath) -> Option<Oid> {
        blob_id_of_file(&self.attachment(path).ok()?)
    }

    fn stores_lf(&self, path: &RepoPath) -> bool {
        let prefix = if self.prefix.is_empty() { String::new() } else { format!("{}/", self.prefix) };
        self.repo.stores_lf(&RepoPath::new(format!("{prefix}{path}")))
    }
}

/// What git tracks and the walk did not come by; both lists are in path order.
fn absent<'i>(on_disk: &[OnDisk], index: &'i IndexSnapshot) -> Vec<&'i IndexEntry> {
    let mut files = on_disk.iter().map(|file| &file.path).peekable();
    let is_absent = |entry: &&IndexEntry| {
        while files.next_if(|path| **path < entry.path).is_some() {}
        files.peek().is_none_or(|path| **path != entry.path)
    };
    index.entries.iter().filter(is_absent).collect()
}

/// By what to tell that these files are the same, which are all that git tracks here; none unless all are plain and could be read.
fn seen(on_disk: &[OnDisk]) -> Option<Seen> {
    Seen::of(on_disk.iter().map(|file| (&file.path, file.stat.filter(|_| file.is_whole()))))
}
