//! A project from memory, for tests and for what has not been written yet.

use std::collections::BTreeMap;

use super::rules::{self, Body, Foreign, Listed, assemble, is_read};
use super::{Content, Limits, Origin, PROJECT_FILE, ReadError, Snapshot, Source, SourceError, SourceProblem};
use crate::git::{Oid, blob_id};
use crate::text::RepoPath;

/// Files by path; all count as tracked.
#[derive(Clone, Debug, Default)]
pub struct Memory {
    files: BTreeMap<RepoPath, Vec<u8>>,
}

impl Memory {
    /// No files yet.
    pub fn new() -> Memory {
        Memory::default()
    }

    /// Adds or replaces a file, whether text or other bytes.
    #[must_use]
    pub fn file(mut self, path: &str, bytes: impl AsRef<[u8]>) -> Memory {
        self.files.insert(RepoPath::new(path), bytes.as_ref().to_vec());
        self
    }

    /// Takes a file away.
    #[must_use]
    pub fn without(mut self, path: &str) -> Memory {
        self.files.remove(&RepoPath::new(path));
        self
    }
}

impl Source for Memory {
    fn project_file(&self, limits: &Limits) -> Result<Content, SourceError> {
        let path = RepoPath::new(PROJECT_FILE);
        let Some(bytes) = self.files.get(&path) else {
            return Err(SourceError::NoProject { start: "memory".into(), nearest: Vec::new() });
        };
        Ok(Content::from_bytes(bytes, limits.text_bytes))
    }

    fn snapshot(&self, limits: &Limits) -> Result<Snapshot, SourceError> {
        let mut problems = Vec::new();
        let foreign = Foreign::find(self.files.keys(), limits, &mut problems);
        let mut total = 0;
        let mut listed = Vec::new();
        for (path, bytes) in self.files.iter().filter(|(path, _)| !foreign.holds(path.as_str())) {
            if listed.len() == limits.files {
                let path = listed.last().map_or_else(|| RepoPath::new(""), |last: &Listed| last.path.clone());
                problems.push(SourceProblem::TooManyFiles { path, limit: limits.files });
                break;
            }
            let small = bytes.len() as u64 <= limits.text_bytes;
            if let Some(problem) = rules::misplaced(path, |asked| small && asked(bytes)) {
                problems.push(problem);
                continue;
            }
            let body = if is_read(path) {
                total += bytes.len() as u64;
                Body::Read(Content::from_bytes(bytes, limits.text_bytes))
            } else {
                Body::Other(Some(bytes.len() as u64))
            };
            listed.push(Listed { path: path.clone(), body, blob: blob_id(bytes), tracked: true });
        }
        if total > limits.total_text_bytes {
            return Err(SourceError::TooMuchText { limit: limits.total_text_bytes });
        }
        Ok(assemble(Origin::Memory, listed, problems))
    }

    fn read(&self, path: &RepoPath) -> Result<Vec<u8>, ReadError> {
        self.files.get(path).cloned().ok_or_else(|| ReadError::NotFound { path: path.clone() })
    }

    fn pieces(&self, path: &RepoPath, take: &mut dyn FnMut(&[u8])) -> Result<(), ReadError> {
        take(&self.read(path)?);
        Ok(())
    }

    fn blob_id(&self, path: &RepoPath) -> Option<Oid> {
        blob_id(self.files.get(path)?)
    }
}
