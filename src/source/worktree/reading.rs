//! Reading files from disk, on every thread, without waiting for pipes or following symlinks out.

use std::fs::{File, FileType, Metadata};
use std::io::{self, ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

use rayon::prelude::*;

use crate::git::{FileStat, Oid, blob_id};
use crate::source::rules::{self, Body, is_read, is_settings};
use crate::source::{Content, Limits, SourceError, SourceProblem};
use crate::text::RepoPath;

use super::texts::Known;

/// How many bytes of a large file are in memory at a time.
const PIECE: usize = 1 << 16;

/// What a directory entry is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// A plain file.
    File,
    /// A symlink.
    Link,
    /// A pipe, socket or device: never opened.
    Special,
}

impl Kind {
    pub(super) fn of(kind: FileType) -> Kind {
        if kind.is_file() {
            Kind::File
        } else if kind.is_symlink() {
            Kind::Link
        } else {
            Kind::Special
        }
    }
}

/// A path on disk and what was read of it.
#[derive(Debug)]
pub(super) struct OnDisk {
    pub(super) path: RepoPath,
    pub(super) kind: Kind,
    /// What it is to the project; a problem where it must not be.
    pub(super) body: Result<Body, SourceProblem>,
    /// Of a plain file that could be looked at.
    pub(super) stat: Option<FileStat>,
    /// Of a symlink: the id that git gives to it.
    pub(super) link: Option<Oid>,
}

impl OnDisk {
    /// Whether it is a plain file of which nothing was left unread that had to be read.
    pub(super) fn is_whole(&self) -> bool {
        let unread = matches!(self.body, Ok(Body::Read(Content::Unreadable { .. })) | Err(_));
        self.kind == Kind::File && !unread
    }
}

/// Reads the files of one project folder.
pub(super) struct Reader<'a> {
    root: &'a Path,
    /// The way to it on which files are opened.
    nearer: &'a Path,
    limits: &'a Limits,
    total: AtomicU64,
    known: Option<&'a Known>,
}

impl<'a> Reader<'a> {
    pub(super) fn new(root: &'a Path, nearer: &'a Path, limits: &'a Limits) -> Reader<'a> {
        Reader { root, nearer, limits, total: AtomicU64::new(0), known: None }
    }

    /// The same, passing over what is known already.
    pub(super) fn knowing(self, known: Option<&'a Known>) -> Reader<'a> {
        Reader { known, ..self }
    }

    /// Reads what is to be read and looks at the rest, keeping the order.
    pub(super) fn read_all(&self, paths: &[(RepoPath, Kind)]) -> Result<Vec<OnDisk>, SourceError> {
        let new = || (Vec::new(), PathBuf::with_capacity(self.nearer.as_os_str().len() + 256));
        let read = paths
            .par_iter()
            .enumerate()
            .map_init(new, |(bytes, full), (at, (path, kind))| {
                full.clear();
                full.push(self.nearer);
                full.push(path.as_str());
                self.one(path, *kind, (full, at), bytes)
            })
            .collect();
        // Whether the sum passes the bound does not depend on the order in which it grew.
        if self.total.load(Ordering::Relaxed) > self.limits.total_text_bytes {
            return Err(SourceError::TooMuchText { limit: self.limits.total_text_bytes });
        }
        Ok(read)
    }

    /// Reads one settings file.
    pub(super) fn settings(&self, path: &RepoPath) -> Content {
        let full = self.root.join(path.as_str());
        let kind = match full.symlink_metadata() {
            Ok(metadata) => Kind::of(metadata.file_type()),
            Err(error) => return Content::Unreadable { reason: error.to_string() },
        };
        match self.one(path, kind, (&full, 0), &mut Vec::new()).body {
            Ok(Body::Read(content)) => content,
            _ => Content::Unreadable { reason: "it is not a file".into() },
        }
    }

    fn one(&self, path: &RepoPath, kind: Kind, (full, at): (&Path, usize), bytes: &mut Vec<u8>) -> OnDisk {
        let (body, stat, link) = match kind {
            Kind::Link => {
                let (body, link) = self.link(path, full);
                (body, None, link)
            }
            Kind::Special if is_read(path) => {
                let reason = "it is not a file, but a pipe, socket or device".into();
                (Ok(Body::Read(Content::Unreadable { reason })), None, None)
            }
            Kind::Special => (Ok(Body::PassedOver("a pipe, socket or device")), None, None),
            Kind::File if is_read(path) => {
                let (content, stat) = self.known(path, (full, at)).unwrap_or_else(|| self.text(full, bytes));
                (Ok(Body::Read(content)), stat, None)
            }
            Kind::File => {
                let metadata = full.symlink_metadata().ok();
                let size = metadata.as_ref().map(Metadata::len);
                // What is larger than any file of the project is data.
                let small = size.is_some_and(|bytes| bytes <= self.limits.text_bytes);
                let problem = rules::misplaced(path, |asked| small && begins(full, asked));
                let body = problem.map_or(Ok(Body::Other(size)), Err);
                (body, metadata.as_ref().map(FileStat::of), None)
            }
        };
        OnDisk { path: path.clone(), kind, body, stat, link }
    }

    /// What a file holds, if its signs are those that it had when it was read before.
    fn known(&self, path: &RepoPath, (full, at): (&Path, usize)) -> Option<(Content, Option<FileStat>)> {
        let (then, content) = self.known?.get(path, at)?;
        let metadata = full.symlink_metadata().ok().filter(Metadata::is_file)?;
        let stat = Some(FileStat::of(&metadata)).filter(|now| *now == then)?;
        self.total.fetch_add(content.text().map_or(0, |text| text.len() as u64), Ordering::Relaxed);
        Some((content.clone(), Some(stat)))
    }

    fn text(&self, full: &Path, bytes: &mut Vec<u8>) -> (Content, Option<FileStat>) {
        if self.total.load(Ordering::Relaxed) > self.limits.total_text_bytes {
            // The answer will be an error; the rest need not be read for it.
            return (Content::Unreadable { reason: "past the bound".into() }, None);
        }
        match read_at_most(full, self.limits.text_bytes, bytes) {
            Ok(Amount::Whole(metadata)) => {
                self.total.fetch_add(bytes.len() as u64, Ordering::Relaxed);
                (Content::from_bytes(bytes, self.limits.text_bytes), Some(FileStat::of(&metadata)))
            }
            Ok(Amount::More(metadata)) => (Content::TooLarge { bytes: metadata.len() }, Some(FileStat::of(&metadata))),
            Err(error) => {
                let stat = full.symlink_metadata().ok().as_ref().map(FileStat::of);
                (Content::Unreadable { reason: error.to_string() }, stat)
            }
        }
    }

    fn link(&self, path: &RepoPath, full: &Path) -> (Result<Body, SourceProblem>, Option<Oid>) {
        let target = std::fs::read_link(full).unwrap_or_default();
        let text = target.to_string_lossy();
        let id = blob_id(target.as_os_str().as_encoded_bytes());
        let path = path.clone();
        let body = if is_settings(&path) {
            Ok(Body::Read(rules::symlinked_settings()))
        } else if is_lock(&path, full) {
            Ok(Body::PassedOver("the lock of an editor"))
        } else if rules::is_symlinked_markdown(&path, &text) {
            Err(SourceProblem::SymlinkedMarkdown { path })
        } else if full.metadata().is_ok_and(|metadata| metadata.is_dir()) {
            Err(SourceProblem::SymlinkedFolder { path })
        } else {
            Ok(self.target(full))
        };
        (body, id)
    }

    /// What a symlink to no folder amounts to.
    fn target(&self, full: &Path) -> Body {
        let inside = full.canonicalize().ok().filter(|target| is_within(self.root, target));
        match inside.and_then(|target| target.symlink_metadata().ok()).filter(Metadata::is_file) {
            Some(metadata) => Body::Other(Some(metadata.len())),
            None => Body::PassedOver("a symlink that leads to no file of the project"),
        }
    }
}

/// Whether this is what Emacs puts beside a file that is being edited: a symlink `.#NAME` that leads nowhere and says who edits it.
fn is_lock(path: &RepoPath, full: &Path) -> bool {
    path.file_name().starts_with(".#") && full.metadata().is_err_and(|error| error.kind() == ErrorKind::NotFound)
}

/// Whether a path with symlinks resolved is in the project, and not in git's own folder.
pub(super) fn is_within(root: &Path, target: &Path) -> bool {
    target.strip_prefix(root).is_ok_and(|inside| inside.components().all(|part| part.as_os_str() != ".git"))
}

/// How much of a file was read.
pub(super) enum Amount {
    /// All of it.
    Whole(Metadata),
    /// It is larger than was asked for; nothing was read.
    More(Metadata),
}

/// Reads a plain file into `bytes`, in as few calls to the system as will do.
pub(super) fn read_at_most(path: &Path, limit: u64, bytes: &mut Vec<u8>) -> io::Result<Amount> {
    let mut file = File::open(path)?;
    let metadata = file.metadata()?;
    if metadata.len() > limit {
        return Ok(Amount::More(metadata));
    }
    // One byte more than it should have, so that the end is found without growing.
    let expected = usize::try_from(metadata.len()).unwrap_or(usize::MAX - 1) + 1;
    let most = usize::try_from(limit).unwrap_or(usize::MAX - 1).saturating_add(1);
    bytes.resize(expected, 0);
    let mut read = 0;
    loop {
        match file.read(&mut bytes[read..]) {
            Ok(0) if read < bytes.len() => break,
            Ok(amount) => {
                read += amount;
                // A byte more was asked for and did not come: this was the end.
                if read + 1 == expected {
                    break;
                }
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
        if read == bytes.len() {
            // It grew meanwhile.
            if read >= most {
                return Ok(Amount::More(metadata));
            }
            bytes.resize((read * 2 + 64).min(most), 0);
        }
    }
    bytes.truncate(read);
    Ok(Amount::Whole(metadata))
}

/// Hands on what a reader has, in pieces.
///
/// # Errors
/// What the system says.
pub fn in_pieces(reader: &mut impl Read, take: &mut dyn FnMut(&[u8])) -> io::Result<()> {
    let mut piece = vec![0; PIECE];
    loop {
        match reader.read(&mut piece) {
            Ok(0) => return Ok(()),
            Ok(amount) => take(&piece[..amount]),
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
}

/// Whether the beginning of a plain file is as asked; not if it cannot be read.
pub(super) fn begins(path: &Path, as_asked: fn(&[u8]) -> bool) -> bool {
    let mut first = Vec::new();
    let Ok(file) = File::open(path) else { return false };
    file.take(rules::BEGINNING as u64).read_to_end(&mut first).is_ok() && as_asked(&first)
}
