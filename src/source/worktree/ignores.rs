//! Git's ignore rules, from the outermost file to the innermost.

use std::path::Path;
use std::sync::Arc;

use ignore::Match;
use ignore::gitignore::{Gitignore, GitignoreBuilder};

use super::reading::{Amount, read_at_most};
use crate::git::{Repo, Settings};

/// Bytes of one ignore file; git has no such bound, but a pattern file this long is no pattern file.
const LONGEST: u64 = 1 << 20;

/// The rules that hold in one folder: its own, then those of the folders around it, then the user's.
#[derive(Debug)]
pub(super) struct Ignores {
    outer: Option<Arc<Ignores>>,
    /// Length of the folder's path from the top of the work tree, with its final `/`.
    base: usize,
    rules: Gitignore,
    ignore_case: bool,
}

impl Ignores {
    /// The rules at the top of the work tree before any `.gitignore`: `info/exclude` over the user's own.
    pub(super) fn of_repository(repo: &Repo) -> Arc<Ignores> {
        let settings: Settings = repo.settings();
        let ignore_case = settings.ignore_case;
        let user = settings.excludes_file.as_deref().and_then(|path| load(path, ignore_case));
        let outermost = Ignores { outer: None, base: 0, rules: user.unwrap_or_else(Gitignore::empty), ignore_case };
        let repository = load(&settings.info_exclude, ignore_case);
        Arc::new(outermost).within(0, repository)
    }

    /// The rules inside a folder that has a `.gitignore`, if it can be read. Like git, not through a symlink.
    pub(super) fn enter(self: &Arc<Ignores>, folder: &Path, base: usize) -> Arc<Ignores> {
        let file = folder.join(".gitignore");
        let plain = file.symlink_metadata().is_ok_and(|metadata| metadata.is_file());
        let rules = if plain { load(&file, self.ignore_case) } else { None };
        Arc::clone(self).within(base, rules)
    }

    fn within(self: Arc<Ignores>, base: usize, rules: Option<Gitignore>) -> Arc<Ignores> {
        match rules {
            Some(rules) if !rules.is_empty() => {
                let ignore_case = self.ignore_case;
                Arc::new(Ignores { outer: Some(self), base, rules, ignore_case })
            }
            _ => self,
        }
    }

    /// Whether a path (from the top of the work tree) is ignored, given that no folder around it is.
    pub(super) fn ignore(&self, path: &str, is_folder: bool) -> bool {
        let mut level = Some(self);
        while let Some(rules) = level {
            match rules.rules.matched(&path[rules.base.min(path.len())..], is_folder) {
                Match::Ignore(_) => return true,
                Match::Whitelist(_) => return false,
                Match::None => level = rules.outer.as_deref(),
            }
        }
        false
    }
}

fn load(file: &Path, ignore_case: bool) -> Option<Gitignore> {
    // The user's own file may well be a symlink, but a pipe would be waited for.
    if !file.metadata().ok()?.is_file() {
        return None;
    }
    let mut bytes = Vec::new();
    let Ok(Amount::Whole(_)) = read_at_most(file, LONGEST, &mut bytes) else { return None };
    let text = String::from_utf8_lossy(&bytes);
    let mut builder = GitignoreBuilder::new("");
    builder.case_insensitive(ignore_case).ok()?;
    for line in text.strip_prefix('\u{feff}').unwrap_or(&text).lines() {
        // A pattern that cannot be read ignores nothing, as with git.
        let _ = builder.add_line(None, line);
    }
    builder.build().ok()
}
