//! How much is read.

/// Bounds on what a source reads, and the one setting that bears on it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Folders of nested projects that are meant to be there, relative to the project (`projects` of the project
    /// file). They are left out whole; any other nested project is a problem.
    pub nested_allowed: Vec<String>,
    /// Bytes of one Markdown or settings file.
    pub text_bytes: u64,
    /// Bytes of all of them together.
    pub total_text_bytes: u64,
    /// Paths in the project.
    pub files: usize,
    /// Folders inside folders.
    pub depth: usize,
    /// Entries of ignored folders that are looked through for forgotten project files.
    pub ignored_entries: usize,
}

impl Limits {
    /// Most bytes of an attachment that [`Source::read`](super::Source::read) loads: 256 MiB.
    pub const ATTACHMENT_BYTES: u64 = 256 << 20;

    /// Whether `folder` is one of the nested projects that are meant to be there.
    pub(super) fn allows_nested(&self, folder: &str) -> bool {
        self.nested_allowed.iter().any(|allowed| normal(allowed).eq(folder.split('/')))
    }
}

impl Default for Limits {
    fn default() -> Self {
        Limits {
            nested_allowed: Vec::new(),
            text_bytes: 4 << 20,
            total_text_bytes: 1 << 30,
            files: 200_000,
            depth: 64,
            ignored_entries: 20_000,
        }
    }
}

/// `./demo/` and `demo` are one folder.
fn normal(folder: &str) -> impl Iterator<Item = &str> {
    folder.split('/').filter(|part| !part.is_empty() && *part != ".")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spelling_of_folders() {
        let limits =
            Limits { nested_allowed: vec!["./demo/".into(), "a/b".into(), String::new()], ..Limits::default() };
        assert!(limits.allows_nested("demo") && limits.allows_nested("a/b"));
        assert!(!limits.allows_nested("a") && !limits.allows_nested("a/b/c") && !limits.allows_nested(""));
    }
}
