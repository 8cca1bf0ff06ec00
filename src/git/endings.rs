//! Which line endings git would store.

use std::path::Path;

use git2::{AttrCheckFlags, AttrValue};

use super::Repo;
use crate::text::RepoPath;

/// What is said about a path.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Said {
    /// It is text.
    Text,
    /// It is none, whatever it holds.
    Binary,
    /// That depends on what it holds.
    Auto,
}

impl Repo {
    /// Whether a text at this path, from the top of the work tree, is stored with LF where it has CRLF on disk. As git does,
    /// by the attributes `text`, `crlf` and `eol`, then by `core.autocrlf`; where it is left to git to tell what is text, a
    /// path that is stored with CRLF stays so (gitattributes(5), "text").
    pub fn stores_lf(&self, path: &RepoPath) -> bool {
        let usual = if self.settings().autocrlf { Said::Auto } else { Said::Binary };
        self.with(|repo| match said(repo, Path::new(path.as_str())).unwrap_or(usual) {
            Said::Text => true,
            Said::Binary => false,
            Said::Auto => !is_stored_with_crlf(repo, Path::new(path.as_str())),
        })
    }
}

fn said(repo: &git2::Repository, path: &Path) -> Option<Said> {
    let value = |name: &str| repo.get_attr(path, name, AttrCheckFlags::FILE_THEN_INDEX).ok().flatten();
    let text = |name: &str| match AttrValue::from_string(value(name)) {
        AttrValue::True | AttrValue::String("input") => Some(Said::Text),
        AttrValue::False => Some(Said::Binary),
        AttrValue::String("auto") => Some(Said::Auto),
        _ => None,
    };
    let end = || matches!(AttrValue::from_string(value("eol")), AttrValue::String("lf" | "crlf")).then_some(Said::Text);
    text("text").or_else(|| text("crlf")).or_else(end)
}

fn is_stored_with_crlf(repo: &git2::Repository, path: &Path) -> bool {
    let entry = repo.index().ok().and_then(|index| index.get_path(path, 0));
    let blob = entry.and_then(|entry| repo.find_blob(entry.id).ok());
    blob.is_some_and(|blob| blob.content().windows(2).any(|pair| pair == b"\r\n"))
}
