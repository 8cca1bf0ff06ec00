//! Which line endings git would store.

use std::path::Path;

use git2::{AttrCheckFlags, AttrValue};

use super::{Oid, Repo};
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
        match self.with(|repo| said(repo, Path::new(path.as_str()))).unwrap_or(usual) {
            Said::Text => true,
            Said::Binary => false,
            Said::Auto => !self.is_stored_with_crlf(path),
        }
    }

    fn is_stored_with_crlf(&self, path: &RepoPath) -> bool {
        let entry = |repo: &git2::Repository| repo.index().ok()?.get_path(Path::new(path.as_str()), 0);
        let Some(entry) = self.with(entry) else { return false };
        let (mut found, mut last) = (false, 0);
        let read = self.blob_pieces(Oid(entry.id), &mut |piece| {
            found |= last == b'\r' && piece.first() == Some(&b'\n') || piece.windows(2).any(|pair| pair == b"\r\n");
            last = piece.last().copied().unwrap_or(last);
        });
        read.is_ok() && found
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
