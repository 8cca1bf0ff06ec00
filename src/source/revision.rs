//! A project as a commit holds it.

use std::collections::BTreeMap;
use std::fs::File;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use rayon::prelude::*;

use super::rules::{self, Body, Foreign, Listed, assemble, is_inside, is_read};
use super::worktree::in_pieces;
use super::{Content, Limits, Origin, PROJECT_FILE, ReadError, Snapshot, Source, SourceError, SourceProblem};
use crate::git::{FileMode, GitError, Oid, Repo, TreeFile, blob_id_of_file};
use crate::text::RepoPath;

/// Symlinks that lead to symlinks.
const MOST_HOPS: usize = 8;
/// A blob of more bytes than this is looked for in the work tree.
const LARGE: u64 = 16 << 20;
/// A symlink's text; longer ones lead nowhere on any system.
const LONGEST_LINK: u64 = 4096;

/// One commit of a repository.
#[derive(Clone, Debug)]
pub struct Revision {
    repo: Arc<Repo>,
    oid: Oid,
    prefix: String,
}

impl Revision {
    /// The project in the folder `prefix` (from the top of the repository; empty: the top) of a commit.
    ///
    /// # Errors
    /// [`SourceError::NoProjectInCommit`] if the folder was no project then, or what git reports.
    pub fn open(repo: Arc<Repo>, oid: Oid, prefix: &str) -> Result<Revision, SourceError> {
        let prefix = prefix.trim_matches('/').to_owned();
        if repo.tree_file(oid, &prefix, &RepoPath::new(PROJECT_FILE))?.is_none() {
            return Err(SourceError::NoProjectInCommit { oid, prefix });
        }
        let prefix = repo.folder_in(oid, &prefix).into_owned();
        Ok(Revision { repo, oid, prefix })
    }

    /// The commit.
    pub fn oid(&self) -> Oid {
        self.oid
    }

    fn content(repo: &Repo, file: &TreeFile, limits: &Limits) -> Content {
        match (file.mode, repo.blob_at_most(file.oid, limits.text_bytes)) {
            (FileMode::Symlink, _) => rules::symlinked_settings(),
            (_, Ok(bytes)) => Content::from_bytes(&bytes, limits.text_bytes),
            (_, Err(GitError::TooLarge { bytes, .. })) => Content::TooLarge { bytes },
            (_, Err(error)) => Content::Unreadable { reason: error.to_string() },
        }
    }

    /// The text of a symlink.
    fn link_text(&self, file: &TreeFile) -> Option<String> {
        String::from_utf8(self.repo.blob_at_most(file.oid, LONGEST_LINK).ok()?).ok()
    }

    /// Follows symlinks to a plain file inside the project.
    fn follow(&self, path: &RepoPath) -> Result<TreeFile, ReadError> {
        let mut at = path.clone();
        for _ in 0..MOST_HOPS {
            if !is_inside(&at) {
                return Err(ReadError::Outside { path: path.clone() });
            }
            let found =
                self.repo.tree_file(self.oid, &self.prefix, &at).map_err(|error| ReadError::git(path, error))?;
            let Some(file) = found else {
                let folder = self.repo.has_folder(self.oid, &self.prefix, at.as_str()).unwrap_or(false);
                let path = path.clone();
                return Err(if folder { ReadError::NotAFile { path } } else { ReadError::NotFound { path } });
            };
            match file.mode {
                FileMode::File | FileMode::Executable => return Ok(file),
                FileMode::Submodule => return Err(ReadError::NotAFile { path: path.clone() }),
                FileMode::Symlink => {
                    let text = self.link_text(&file).unwrap_or_default();
                    let target = rules::link_target(at.folder(), &text);
                    at = RepoPath::new(target.ok_or_else(|| ReadError::Outside { path: path.clone() })?);
                }
            }
        }
        Err(ReadError::NotFound { path: path.clone() })
    }

    /// A large file that lies in the work tree as well, as its id shows: git would unpack the blob in one piece.
    fn beside(&self, file: &TreeFile) -> Option<File> {
        let size = self.repo.blob_size(file.oid).ok().filter(|size| *size > LARGE)?;
        let path = RepoPath::new(full(&self.prefix, file.path.as_str()));
        let disk = self.repo.workdir().join(path.as_str());
        let plain = disk.symlink_metadata().is_ok_and(|data| data.is_file() && data.len() == size);
        let same = plain && self.repo.is_on_disk(&path) && blob_id_of_file(&disk) == Some(file.oid);
        File::open(disk).ok().filter(|_| same)
    }

    /// What a symlink that is no settings file amounts to.
    fn link(&self, file: &TreeFile, problems: &mut Vec<SourceProblem>) -> Option<Body> {
        let path = file.path.clone();
        let text = self.link_text(file).unwrap_or_default();
        if rules::is_symlinked_markdown(&path, &text) {
            problems.push(SourceProblem::SymlinkedMarkdown { path });
            return None;
        }
        match self.follow(&path) {
            Ok(target) => Some(Body::Other(self.repo.blob_size(target.oid).ok())),
            Err(_) if self.leads_to_folder(&file.path, &text) => {
                problems.push(SourceProblem::SymlinkedFolder { path });
                None
            }
            Err(_) => Some(Body::PassedOver("a symlink that leads to no file of the project")),
        }
    }

    /// Whether a symlink leads to a folder anywhere in the repository, perhaps through other symlinks.
    fn leads_to_folder(&self, link: &RepoPath, text: &str) -> bool {
        let mut at = rules::link_target(&full(&self.prefix, link.folder()), text);
        for _ in 0..MOST_HOPS {
            let Some(target) = at else { return false };
            if self.repo.has_folder(self.oid, Repo::TOP, &target).unwrap_or(false) {
                return true;
            }
            let target = RepoPath::new(target);
            at = match self.repo.tree_file(self.oid, Repo::TOP, &target) {
                Ok(Some(file)) if file.mode == FileMode::Symlink => {
                    self.link_text(&file).and_then(|text| rules::link_target(target.folder(), &text))
                }
                _ => None,
            };
        }
        false
    }

    /// Everything but the blobs' contents: what is in the project, and what is wrong with it.
    fn list(&self, limits: &Limits, problems: &mut Vec<SourceProblem>) -> Result<Vec<TreeFile>, SourceError> {
        let listing = self.repo.tree_files_at_most(self.oid, &self.prefix, limits.files)?;
        if listing.cut_off {
            let path = listing.files.last().map_or_else(|| RepoPath::new(""), |file| file.path.clone());
            problems.push(SourceProblem::TooManyFiles { path, limit: limits.files });
        }
        let files = listing.files;
        let plain = files.iter().filter(|file| file.utf8 && file.mode != FileMode::Submodule).map(|file| &file.path);
        let mut foreign = Foreign::find(plain, limits, problems);
        for file in files.iter().filter(|file| file.mode == FileMode::Submodule && !foreign.holds(file.path.as_str())) {
            if !limits.allows_nested(file.path.as_str()) {
                problems.push(SourceProblem::Submodule { path: file.path.clone() });
            }
        }
        for file in files.iter().filter(|file| file.mode == FileMode::Submodule) {
            foreign.add(file.path.as_str());
        }
        let mut too_deep = BTreeMap::new();
        let mut kept = Vec::with_capacity(files.len());
        for file in files.into_iter().filter(|file| !foreign.holds(file.path.as_str())) {
            if let Some((at, _)) = file.path.as_str().match_indices('/').nth(limits.depth) {
                too_deep.insert(file.path.as_str()[..at].to_owned(), ());
            } else if file.utf8 {
                kept.push(file);
            } else {
                problems.push(SourceProblem::PathNotUtf8 { path: file.path });
            }
        }
        let limit = limits.depth;
        problems.extend(too_deep.into_keys().map(|path| SourceProblem::TooDeep { path: RepoPath::new(path), limit }));
        Ok(kept)
    }

    /// The files but those of the project's that stand where they are not read, which are problems.
    fn without_misplaced(
        &self,
        files: Vec<TreeFile>,
        limits: &Limits,
        problems: &mut Vec<SourceProblem>,
    ) -> Vec<TreeFile> {
        let mut kept = Vec::with_capacity(files.len());
        for file in files {
            let text = || self.repo.blob_at_most(file.oid, limits.text_bytes).unwrap_or_default();
            match rules::misplaced(&file.path, |asked| asked(&text())) {
                Some(problem) => problems.push(problem),
                None => kept.push(file),
            }
        }
        kept
    }

    /// Reads blobs on every thread, each with the repository opened anew.
    fn read_all(&self, files: &[TreeFile], limits: &Limits) -> Result<Vec<Body>, SourceError> {
        let total = AtomicU64::new(0);
        let read = |repo: &Repo, file: &TreeFile| {
            if !is_read(&file.path) {
                return Body::Other(repo.blob_size(file.oid).ok());
            }
            if total.load(Ordering::Relaxed) > limits.total_text_bytes {
                return Body::PassedOver("past the bound");
            }
            let content = Revision::content(repo, file, limits);
            total.fetch_add(content.text().map_or(0, |text| text.len() as u64), Ordering::Relaxed);
            Body::Read(content)
        };
        let bodies = if files.len() < 64 {
            files.iter().map(|file| read(&self.repo, file)).collect()
        } else {
            let chunks: Result<Vec<Vec<Body>>, GitError> = files
                .par_chunks(files.len().div_ceil(rayon::current_num_threads()).max(1))
                .map(|chunk| self.repo.apart(|repo| chunk.iter().map(|file| read(repo, file)).collect()))
                .collect();
            chunks?.into_iter().flatten().collect()
        };
        if total.into_inner() > limits.total_text_bytes {
            return Err(SourceError::TooMuchText { limit: limits.total_text_bytes });
        }
        Ok(bodies)
    }
}

impl Source for Revision {
    fn project_file(&self, limits: &Limits) -> Result<Content, SourceError> {
        let path = RepoPath::new(PROJECT_FILE);
        let Some(file) = self.repo.tree_file(self.oid, &self.prefix, &path)? else {
            return Err(SourceError::NoProjectInCommit { oid: self.oid, prefix: self.prefix.clone() });
        };
        Ok(Revision::content(&self.repo, &file, limits))
    }

    fn snapshot(&self, limits: &Limits) -> Result<Snapshot, SourceError> {
        let commit = self.repo.commit(self.oid)?;
        let origin = Origin::Commit { oid: self.oid, summary: commit.summary, date: commit.made_on };
        let mut problems = Vec::new();
        let files = self.list(limits, &mut problems)?;
        let (links, files): (Vec<_>, Vec<_>) =
            files.into_iter().partition(|file| file.mode == FileMode::Symlink && !rules::is_settings(&file.path));
        let files = self.without_misplaced(files, limits, &mut problems);
        let bodies = self.read_all(&files, limits)?;
        let blob = |file: &TreeFile| (file.mode != FileMode::Symlink).then_some(file.oid);
        let mut listed: Vec<Listed> = files
            .into_iter()
            .zip(bodies)
            .map(|(file, body)| Listed { blob: blob(&file), path: file.path, body, tracked: true })
            .collect();
        for file in links {
            if let Some(body) = self.link(&file, &mut problems) {
                listed.push(Listed { path: file.path, body, blob: None, tracked: true });
            }
        }
        Ok(assemble(origin, listed, problems))
    }

    fn read(&self, path: &RepoPath) -> Result<Vec<u8>, ReadError> {
        let file = self.follow(path)?;
        self.repo.blob_at_most(file.oid, Limits::ATTACHMENT_BYTES).map_err(|error| ReadError::git(path, error))
    }

    fn pieces(&self, path: &RepoPath, take: &mut dyn FnMut(&[u8])) -> Result<(), ReadError> {
        let file = self.follow(path)?;
        match self.beside(&file) {
            Some(mut same) => in_pieces(&mut same, take).map_err(|error| ReadError::io(path, &error)),
            None => self.repo.blob_pieces(file.oid, take).map_err(|error| ReadError::git(path, error)),
        }
    }

    fn blob_id(&self, path: &RepoPath) -> Option<Oid> {
        self.follow(path).ok().map(|file| file.oid)
    }

    fn is_stored(&self) -> bool {
        true
    }
}

fn full(prefix: &str, folder: &str) -> String {
    if prefix.is_empty() { folder.to_owned() } else { format!("{prefix}/{folder}") }
}
