//! Whether git changes files on their way to disk, so that the bytes there are not those of the blob.

use std::path::Path;

use super::reading::{Amount, OnDisk, read_at_most};
use crate::git::Repo;

/// Conversions that the repository, or its user, asks for anywhere.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Conversions {
    /// Line endings may differ: only files with a carriage return are concerned.
    pub(super) line_endings: bool,
    /// Content may differ: filters, encodings, identifiers.
    pub(super) content: bool,
}

impl Conversions {
    /// Looks at every attributes file that could bear on the project. What they say for which path does not matter
    /// here: this only decides where the index's word is taken for the bytes on disk.
    pub(super) fn find(repo: &Repo, root: &Path, on_disk: &[OnDisk]) -> Conversions {
        let settings = repo.settings();
        let mut found = Conversions { line_endings: settings.autocrlf, content: false };
        let around = root.ancestors().take_while(|folder| folder.starts_with(repo.workdir())).skip(1);
        let mut files: Vec<_> = around.map(|folder| folder.join(".gitattributes")).collect();
        files.push(settings.info_attributes);
        files.extend(settings.attributes_file);
        files.push("/etc/gitattributes".into());
        let inside = on_disk
            .iter()
            .filter(|file| file.path.as_str().ends_with(".gitattributes") && file.path.file_name() == ".gitattributes");
        files.extend(inside.map(|file| root.join(file.path.as_str())));
        for file in files {
            found.add(&file);
        }
        found
    }

    fn add(&mut self, file: &Path) {
        if !file.metadata().is_ok_and(|metadata| metadata.is_file()) {
            return;
        }
        let mut bytes = Vec::new();
        let Ok(Amount::Whole(_)) = read_at_most(file, 1 << 20, &mut bytes) else {
            (self.line_endings, self.content) = (true, true);
            return;
        };
        let text = String::from_utf8_lossy(&bytes);
        self.line_endings |= !text.trim().is_empty();
        // `[attr]` gives a name of its own to any of them.
        self.content |= ["ident", "filter", "working-tree-encoding", "[attr]"].iter().any(|word| text.contains(word));
    }

    /// Whether anything is converted.
    pub(super) fn any(self) -> bool {
        self.line_endings || self.content
    }
}
