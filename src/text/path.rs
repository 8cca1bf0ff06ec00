//! Paths inside a project.

use std::sync::Arc;

use std::fmt;

/// A path relative to the project's folder, written with `/` on every system.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RepoPath(Arc<str>);

impl RepoPath {
    /// Wraps a path that is already relative and written with `/`.
    pub fn new(path: impl Into<Arc<str>>) -> Self {
        RepoPath(path.into())
    }

    /// The path as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The last component.
    pub fn file_name(&self) -> &str {
        self.0.rsplit('/').next().unwrap_or(&self.0)
    }

    /// The folder that holds this path; empty for one at the top of the project.
    pub fn folder(&self) -> &str {
        self.0.rsplit_once('/').map_or("", |(folder, _)| folder)
    }

    /// Joins `relative` to the folder of this file, resolving `.` and `..`.
    ///
    /// `None` if the result would lie outside the project or `relative` is absolute.
    pub fn beside(&self, relative: &str) -> Option<RepoPath> {
        if relative.is_empty() || relative.starts_with(['/', '\\']) || relative.contains([':', '\\', '\0']) {
            return None;
        }
        let mut parts: Vec<&str> = self.folder().split('/').filter(|part| !part.is_empty()).collect();
        for part in relative.split('/') {
            match part {
                "" | "." => {}
                ".." => {
                    parts.pop()?;
                }
                name => parts.push(name),
            }
        }
        (!parts.is_empty()).then(|| RepoPath::new(parts.join("/")))
    }

    /// Whether the name ends in `.md` in any case.
    pub fn is_markdown(&self) -> bool {
        let bytes = self.0.as_bytes();
        bytes.len() >= 3 && bytes[bytes.len() - 3..].eq_ignore_ascii_case(b".md")
    }
}

/// A path as a shell takes it for one word, for commands that are shown to be typed. Double quotes mean that in every
/// shell; what they would not hide from a POSIX shell stands in single ones.
pub fn shell_word(path: &std::path::Path) -> String {
    let text = path.display().to_string();
    let plain = !text.is_empty() && text.chars().all(|c| c.is_alphanumeric() || "/._-+@:".contains(c));
    if plain {
        text
    } else if !text.contains(['"', '$', '`', '\\', '!']) {
        format!("\"{text}\"")
    } else {
        format!("'{}'", text.replace('\'', r"'\''"))
    }
}

/// A text as one part of an address or a value of a form (RFC 3986, 2.3).
pub fn encoded(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => out.push(char::from(byte)),
            other => out.push_str(&format!("%{other:02X}")),
        }
    }
    out
}

impl fmt::Display for RepoPath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beside_never_leaves_the_project() {
        let record = RepoPath::new("records/tr-1.md");
        assert_eq!(record.beside("a.csv"), Some(RepoPath::new("records/a.csv")));
        assert_eq!(record.beside("../data/a.csv"), Some(RepoPath::new("data/a.csv")));
        assert_eq!(record.beside("../../a.csv"), None);
        assert_eq!(record.beside("/etc/passwd"), None);
        assert_eq!(record.beside(".."), None);
        assert_eq!(record.beside("C:\\a"), None);
    }

    #[test]
    fn markdown_in_any_case() {
        assert!(RepoPath::new("A.Md").is_markdown());
        assert!(!RepoPath::new("a.mdx").is_markdown());
        assert!(RepoPath::new(".md").is_markdown());
    }
}
