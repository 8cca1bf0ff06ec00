//! The one owner of the texts that spans point into.

use std::sync::{Arc, OnceLock};

use super::{FileId, LineColumn, LineIndex, RepoPath, Span};

/// One file's path and text.
#[derive(Debug)]
pub struct SourceText {
    /// Where it is in the project.
    pub path: RepoPath,
    /// What it holds; empty where it could not be read as text.
    pub text: Arc<str>,
    lines: OnceLock<LineIndex>,
}

/// Texts by [`FileId`], in the order in which they were added.
#[derive(Debug, Default)]
pub struct SourceMap {
    files: Vec<SourceText>,
}

impl SourceMap {
    /// An empty one with room for so many files.
    pub fn with_capacity(files: usize) -> SourceMap {
        SourceMap { files: Vec::with_capacity(files) }
    }

    /// Adds a file and hands out its id.
    pub fn add(&mut self, path: RepoPath, text: Arc<str>) -> FileId {
        self.files.push(SourceText { path, text, lines: OnceLock::new() });
        FileId(self.files.len() as u32 - 1)
    }

    /// The file with this id.
    ///
    /// # Panics
    /// If the id came from another map.
    pub fn file(&self, id: FileId) -> &SourceText {
        &self.files[id.0 as usize]
    }

    /// All files, in id order.
    pub fn files(&self) -> impl Iterator<Item = (FileId, &SourceText)> {
        self.files.iter().enumerate().map(|(index, file)| (FileId(index as u32), file))
    }

    /// Line and column of a span's first byte.
    pub fn locate(&self, span: Span) -> LineColumn {
        let file = self.file(span.file);
        file.lines.get_or_init(|| LineIndex::new(&file.text)).locate(&file.text, span.start as usize)
    }

    /// The text a span covers.
    pub fn slice(&self, span: Span) -> &str {
        self.file(span.file).text.get(span.range()).unwrap_or("")
    }
}
