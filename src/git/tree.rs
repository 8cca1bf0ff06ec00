//! Trees, read raw: sorted lists of (mode, name, id).

use std::cmp::Ordering;
use std::sync::{Arc, PoisonError};

use memchr::memchr;

use super::packed::Sort;
use super::{GitError, Oid, Repo};
use crate::text::RepoPath;

/// More files than this in one project are refused; a tree can name itself over and over and unfold without end.
const MOST_FILES: usize = 1_000_000;
/// Folders inside folders.
const DEEPEST: usize = 256;

/// What a tree says that a path is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum FileMode {
    /// A plain file.
    File,
    /// A file with the executable bit.
    Executable,
    /// A symlink; its blob is the path that it points to.
    Symlink,
    /// Another repository's commit; its id is no blob.
    Submodule,
}

/// One path of a commit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TreeFile {
    /// Relative to the project's folder; with replacement characters where the name is not UTF-8.
    pub path: RepoPath,
    /// Whether `path` is exactly what the tree says.
    pub utf8: bool,
    /// What it is.
    pub mode: FileMode,
    /// The blob (of a submodule: the commit).
    pub oid: Oid,
}

/// The paths of a commit, perhaps cut off.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TreeListing {
    /// In path order.
    pub files: Vec<TreeFile>,
    /// Whether there are more.
    pub cut_off: bool,
}

impl Repo {
    /// Every path under the folder `prefix` (empty: the top) of a commit, relative to it, in path order.
    ///
    /// A folder that the commit does not have is empty.
    ///
    /// # Errors
    /// If a tree is missing or malformed, or holds more than a million files.
    pub fn tree_files(&self, commit: Oid, prefix: &str) -> Result<Arc<[TreeFile]>, GitError> {
        let Some(tree) = self.project_tree(commit, prefix)? else { return Ok(Arc::from([])) };
        let last = self.known.listed.lock().unwrap_or_else(PoisonError::into_inner).clone();
        if let Some(listed) = last.into_iter().flatten().find(|listed| listed.tree == tree) {
            return Ok(listed.files);
        }
        let listing = self.tree_files_at_most(commit, prefix, MOST_FILES)?;
        if listing.cut_off {
            return Err(GitError::TooMany { what: format!("commit {}", commit.short()), limit: MOST_FILES });
        }
        let files: Arc<[TreeFile]> = listing.files.into();
        let listed = Listed { tree, files: Arc::clone(&files) };
        let mut last = self.known.listed.lock().unwrap_or_else(PoisonError::into_inner);
        last.rotate_right(1);
        last[0] = Some(listed);
        Ok(files)
    }

    /// The listings of the last trees that were asked for, for another opening of the repository.
    pub fn listings(&self) -> Listings {
        Listings(self.known.listed.lock().unwrap_or_else(PoisonError::into_inner).clone())
    }

    /// Takes up listings of another opening: what a tree holds hangs from its id alone.
    pub fn recall(&self, listings: Listings) {
        *self.known.listed.lock().unwrap_or_else(PoisonError::into_inner) = listings.0;
    }

    /// The same, but no more than `limit` paths.
    ///
    /// # Errors
    /// If a tree is missing or malformed.
    pub fn tree_files_at_most(&self, commit: Oid, prefix: &str, limit: usize) -> Result<TreeListing, GitError> {
        let mut listing = TreeListing::default();
        let Some(top) = self.project_tree(commit, prefix)? else { return Ok(listing) };
        // Bytes of each open tree, how far it has been read, and the length of its path.
        let mut open: Vec<(Arc<RawTree>, usize, usize)> = vec![(self.tree(top)?, 0, 0)];
        let mut path: Vec<u8> = Vec::new();
        while let Some((tree, next, base)) = open.last_mut() {
            path.truncate(*base);
            let Some(entry) = tree.entry(*next)? else {
                open.pop();
                continue;
            };
            *next = entry.end;
            path.extend_from_slice(entry.name);
            if entry.is_folder() {
                path.push(b'/');
                let (oid, base) = (entry.oid, path.len());
                self.check_depth(oid, open.len())?;
                open.push((self.tree(oid)?, 0, base));
                continue;
            }
            if listing.files.len() == limit {
                listing.cut_off = true;
                break;
            }
            listing.files.push(tree_file(&path, &entry));
        }
        if !listing.files.is_sorted_by(|a, b| a.path <= b.path) {
            listing.files.sort_by(|a, b| a.path.cmp(&b.path));
        }
        Ok(listing)
    }

    /// One path of a commit; `None` if it has no such file. Symlinks are not followed.
    ///
    /// # Errors
    /// If a tree is missing or malformed.
    pub fn tree_file(&self, commit: Oid, prefix: &str, path: &RepoPath) -> Result<Option<TreeFile>, GitError> {
        let Some(top) = self.tree_at(commit, &join(&self.folder_in(commit, prefix), path.folder()))? else {
            return Ok(None);
        };
        let tree = self.tree(top)?;
        let found = tree.find(path.file_name().as_bytes())?.filter(|entry| !entry.is_folder());
        Ok(found.map(|entry| tree_file(path.as_str().as_bytes(), &entry)))
    }

    /// Whether a commit has a folder here.
    ///
    /// # Errors
    /// If a tree is missing or malformed.
    pub fn has_folder(&self, commit: Oid, prefix: &str, folder: &str) -> Result<bool, GitError> {
        Ok(self.tree_at(commit, &join(&self.folder_in(commit, prefix), folder))?.is_some())
    }

    /// The id of the tree at `prefix`: if two commits have the same, the project is the same in both.
    ///
    /// # Errors
    /// If a tree is missing or malformed.
    pub fn project_tree(&self, commit: Oid, prefix: &str) -> Result<Option<Oid>, GitError> {
        self.tree_at(commit, &self.folder_in(commit, prefix))
    }

    /// The id of the tree at a folder of a commit, there and nowhere else.
    pub(super) fn tree_at(&self, commit: Oid, folder: &str) -> Result<Option<Oid>, GitError> {
        let mut at = self.root_tree(commit)?;
        for name in folder.split('/').filter(|name| !name.is_empty()) {
            match self.tree(at)?.find(name.as_bytes())? {
                Some(entry) if entry.is_folder() => at = entry.oid,
                _ => return Ok(None),
            }
        }
        Ok(Some(at))
    }

    pub(super) fn check_depth(&self, oid: Oid, depth: usize) -> Result<(), GitError> {
        if depth < DEEPEST {
            return Ok(());
        }
        Err(GitError::Malformed { oid, detail: format!("folders more than {DEEPEST} deep") })
    }

    /// A tree's bytes, from the cache if it was read lately.
    pub(super) fn tree(&self, oid: Oid) -> Result<Arc<RawTree>, GitError> {
        if let Some(tree) = self.trees.lock().unwrap_or_else(PoisonError::into_inner).get(oid) {
            return Ok(tree);
        }
        let tree = Arc::new(RawTree { oid, bytes: self.object(oid, Sort::Tree)? });
        self.trees.lock().unwrap_or_else(PoisonError::into_inner).put(Arc::clone(&tree));
        Ok(tree)
    }
}

pub(super) fn join(folder: &str, name: &str) -> String {
    match (folder.is_empty(), name.is_empty()) {
        (true, _) => name.to_owned(),
        (_, true) => folder.to_owned(),
        _ => format!("{folder}/{name}"),
    }
}

fn tree_file(path: &[u8], entry: &RawEntry<'_>) -> TreeFile {
    let text = String::from_utf8_lossy(path);
    let utf8 = matches!(text, std::borrow::Cow::Borrowed(_));
    TreeFile { path: RepoPath::new(text), utf8, mode: entry.mode, oid: entry.oid }
}

/// What is under the trees that were listed last.
#[derive(Clone, Debug, Default)]
pub struct Listings([Option<Listed>; 2]);

/// What is under one tree, at any depth.
#[derive(Clone, Debug)]
pub(super) struct Listed {
    tree: Oid,
    files: Arc<[TreeFile]>,
}

/// A tree as git stores it.
pub(super) struct RawTree {
    oid: Oid,
    bytes: Arc<[u8]>,
}

/// One line of a tree.
pub(super) struct RawEntry<'a> {
    pub(super) name: &'a [u8],
    /// Meaningless for a folder.
    pub(super) mode: FileMode,
    folder: bool,
    pub(super) oid: Oid,
    /// Where it begins.
    pub(super) start: usize,
    /// Where the next entry begins.
    pub(super) end: usize,
}

impl RawEntry<'_> {
    pub(super) fn is_folder(&self) -> bool {
        self.folder
    }

    /// Git's order within a tree: bytes, a folder's name as if it ended in `/`.
    pub(super) fn order(&self, other: &RawEntry<'_>) -> Ordering {
        let both = self.name.len().min(other.name.len());
        let next = |own: &RawEntry<'_>| own.name.get(both).copied().or(own.folder.then_some(b'/'));
        let shorter = || next(self).cmp(&next(other)).then(self.name.len().cmp(&other.name.len()));
        self.name[..both].cmp(&other.name[..both]).then_with(shorter)
    }
}

impl RawTree {
    /// One with these bytes.
    #[cfg(test)]
    pub(super) fn of(bytes: &[u8]) -> RawTree {
        RawTree { oid: super::blob_id(b"").expect("an id"), bytes: bytes.into() }
    }

    /// Its bytes from `at` on.
    pub(super) fn rest(&self, at: usize) -> &[u8] {
        self.bytes.get(at..).unwrap_or_default()
    }

    /// Where the first entry begins that another tree does not begin with too.
    pub(super) fn alike(&self, other: &RawTree) -> Result<usize, GitError> {
        let same = shared_start(&self.bytes, &other.bytes);
        let mut start = 0;
        while let Some(line) = self.line(start)?.filter(|line| start + line.length <= same) {
            start += line.length;
        }
        Ok(start)
    }

    /// The entry that begins at byte `at`; `None` at the end.
    pub(super) fn entry(&self, at: usize) -> Result<Option<RawEntry<'_>>, GitError> {
        let Some(Line { name, mode, folder, length }) = self.line(at)? else { return Ok(None) };
        let end = at + length;
        let oid = self.bytes.get(end - ID..end).and_then(Oid::from_bytes).ok_or_else(|| self.unreadable(at))?;
        Ok(Some(RawEntry { name, mode, folder, oid, start: at, end }))
    }

    /// The same without its id, which takes as long to make as the rest: most entries are only passed over.
    fn line(&self, at: usize) -> Result<Option<Line<'_>>, GitError> {
        let rest = self.rest(at);
        if rest.is_empty() {
            return Ok(None);
        }
        Line::of(rest).map(Some).ok_or_else(|| self.unreadable(at))
    }

    fn unreadable(&self, at: usize) -> GitError {
        let detail = format!("tree entry at byte {at} cannot be read or has a name that git forbids");
        GitError::Malformed { oid: self.oid, detail }
    }

    /// The entry with this name.
    pub(super) fn find(&self, name: &[u8]) -> Result<Option<RawEntry<'_>>, GitError> {
        let mut at = 0;
        while let Some(line) = self.line(at)? {
            if line.name == name {
                return self.entry(at);
            }
            at += line.length;
        }
        Ok(None)
    }
}

/// An entry without its id.
struct Line<'a> {
    name: &'a [u8],
    mode: FileMode,
    folder: bool,
    /// Of the whole entry.
    length: usize,
}

/// The bytes of an id.
const ID: usize = 20;

impl<'a> Line<'a> {
    fn of(rest: &'a [u8]) -> Option<Line<'a>> {
        // `100644 name\0` and twenty bytes; the mode is short, so the searches are too.
        let space = rest.iter().take(8).position(|byte| *byte == b' ')?;
        let name_at = space + 1;
        let name_len = memchr(0, &rest[name_at..])?;
        let name = &rest[name_at..name_at + name_len];
        let length = name_at + name_len + 1 + ID;
        let forbidden = name.is_empty() || name == b"." || name == b".." || name == b".git" || name.contains(&b'/');
        if forbidden || rest.len() < length {
            return None;
        }
        let mode = rest[..space].iter().try_fold(0u32, |mode, digit| match digit {
            b'0'..=b'7' => Some(mode * 8 + u32::from(digit - b'0')),
            _ => None,
        })?;
        let (folder, mode) = match mode & 0o170_000 {
            0o040_000 => (true, FileMode::File),
            0o120_000 => (false, FileMode::Symlink),
            0o160_000 => (false, FileMode::Submodule),
            0o100_000 if mode & 0o100 != 0 => (false, FileMode::Executable),
            0o100_000 => (false, FileMode::File),
            _ => return None,
        };
        Some(Line { name, mode, folder, length })
    }
}

/// How many bytes two texts begin with that are the same.
fn shared_start(one: &[u8], other: &[u8]) -> usize {
    const PIECE: usize = 64;
    let pieces = one.chunks(PIECE).zip(other.chunks(PIECE)).take_while(|(one, other)| one == other);
    let whole = PIECE * pieces.count();
    let rest = one.iter().zip(other).skip(whole).take_while(|(one, other)| one == other);
    (whole + rest.count()).min(one.len()).min(other.len())
}

/// The trees read last. Successive commits share nearly all of theirs, so a few are enough.
#[derive(Default)]
pub(super) struct TreeCache {
    /// Newest last.
    trees: Vec<Arc<RawTree>>,
    bytes: usize,
}

impl TreeCache {
    const MOST_BYTES: usize = 16 << 20;
    const MOST_TREES: usize = 128;

    fn get(&mut self, oid: Oid) -> Option<Arc<RawTree>> {
        let at = self.trees.iter().rposition(|tree| tree.oid == oid)?;
        let tree = self.trees.remove(at);
        self.trees.push(Arc::clone(&tree));
        Some(tree)
    }

    fn put(&mut self, tree: Arc<RawTree>) {
        self.bytes += tree.bytes.len();
        self.trees.push(tree);
        while self.trees.len() > Self::MOST_TREES || (self.bytes > Self::MOST_BYTES && self.trees.len() > 2) {
            self.bytes -= self.trees.remove(0).bytes.len();
        }
    }
}
