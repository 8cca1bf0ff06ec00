//! Which of the project's files a commit changed itself.

use foldhash::{HashMap, HashMapExt};

use crate::git::{CommitInfo, FileChange, FileMode, GitError, Oid, Repo};
use crate::source::{PROJECT_FILE, is_read};
use crate::text::RepoPath;

use super::merges::{Mix, merged};

/// Looks at commits, one after another.
pub(super) struct Own<'r> {
    repo: &'r Repo,
    prefix: &'r str,
    /// Folders that were asked about, and whether each is a project of its own in the commit `of`.
    roots: HashMap<String, bool>,
    of: Option<Oid>,
}

/// What a commit did.
pub(super) struct Done {
    /// The files, each from a parent that held it otherwise.
    pub(super) changes: Vec<FileChange>,
    /// Of a merge, the things that it changed itself.
    pub(super) mix: Option<Mix>,
}

impl<'r> Own<'r> {
    pub(super) fn new(repo: &'r Repo, prefix: &'r str) -> Own<'r> {
        Own { repo, prefix, roots: HashMap::new(), of: None }
    }

    /// What a commit did to the project's files, seen from its first parent; of a merge only what it did itself.
    pub(super) fn done(&mut self, commit: &CommitInfo) -> Result<Done, GitError> {
        let (changes, mix) = match commit.parents.as_slice() {
            [] | [_] => (self.repo.changed_files(commit.parents.first().copied(), commit.oid, self.prefix)?, None),
            _ => {
                let (repo, prefix) = (self.repo, self.prefix);
                let (changes, mix) = merged(repo, prefix, commit, |path| self.is_foreign(commit.oid, path))?;
                (changes, Some(mix))
            }
        };
        self.go_to(commit, &changes);
        let mut kept = Vec::with_capacity(changes.len());
        for change in changes {
            if is_ours(&change) && !self.is_foreign(commit.oid, &change.path)? {
                kept.push(change);
            }
        }
        Ok(Done { changes: kept, mix })
    }

    /// Goes on to a commit. Whoever looks at one after the other need not ask again which folders are projects of their own, unless
    /// the file came or went that makes a folder one.
    fn go_to(&mut self, commit: &CommitInfo, changes: &[FileChange]) {
        if self.of == Some(commit.oid) {
            return;
        }
        let follows = self.of.is_some_and(|of| commit.parents == [of]);
        if !follows || changes.iter().any(|change| change.path.file_name() == PROJECT_FILE) {
            self.roots.clear();
        }
        self.of = Some(commit.oid);
    }

    /// Whether a folder above this path is a project of its own.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn is_foreign(&mut self, commit: Oid, path: &RepoPath) -> Result<bool, GitError> {
        if self.of != Some(commit) {
            self.roots.clear();
            self.of = Some(commit);
        }
        for (end, _) in path.as_str().match_indices('/') {
            let folder = &path.as_str()[..end];
            let known = match self.roots.get(folder) {
                Some(known) => *known,
                None => {
                    let project = RepoPath::new(format!("{folder}/{PROJECT_FILE}"));
                    let found = self.repo.tree_file(commit, self.prefix, &project)?.is_some();
                    self.roots.insert(folder.to_string(), found);
                    found
                }
            };
            if known {
                return Ok(true);
            }
        }
        Ok(false)
    }
}

/// Whether a project reads the file, on either side.
pub(super) fn is_ours(change: &FileChange) -> bool {
    let is_file = |side: Option<(FileMode, Oid)>| side.is_none_or(|(mode, _)| mode != FileMode::Symlink);
    is_read(&change.path) && is_file(change.new) && is_file(change.old)
}
