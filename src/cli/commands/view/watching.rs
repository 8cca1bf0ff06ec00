//! Has the system say when files change.
//!
//! Reading raises events too (they are passed over), a file made at once in a new folder raises none (the whole project is listed again
//! at any event), and a system may run out of room for watches: so what this misses is looked for every few seconds all the same.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use notify::{Event, EventKind, RecommendedWatcher, RecursiveMode, Watcher};

use crate::source::WorkTree;

/// What of a git directory an answer can hang on: what is checked out, references, the index, and where history is cut off.
const OF_GIT: &[&str] = &["HEAD", "index", "packed-refs", "refs", "shallow", "info", "config"];

/// Calls `stir` whenever something changes that an answer can hang on, until the value is dropped.
///
/// # Errors
/// If the system cannot say so; the words are its own.
pub(super) fn watch(tree: &WorkTree, stir: impl Fn() + Send + 'static) -> Result<RecommendedWatcher, String> {
    let places = Places::of(tree);
    let told = places.clone();
    let on_event = move |event: notify::Result<Event>| match event {
        Ok(event) if !told.matter(&event) => {}
        // An event that could not be told is one all the same.
        _ => stir(),
    };
    let mut watcher = notify::recommended_watcher(on_event).map_err(|error| error.to_string())?;
    watcher.watch(&places.root, RecursiveMode::Recursive).map_err(|error| error.to_string())?;
    let beside =
        [(places.git.clone(), RecursiveMode::NonRecursive), (places.common.clone(), RecursiveMode::NonRecursive)];
    let refs = [(places.common.join("refs"), RecursiveMode::Recursive)];
    for (path, mode) in beside.into_iter().chain(refs).filter(|(path, _)| !path.starts_with(&places.root)) {
        watcher.watch(&path, mode).map_err(|error| error.to_string())?;
    }
    Ok(watcher)
}

#[derive(Clone, Debug)]
struct Places {
    root: PathBuf,
    /// The git directory of this work tree, and the one that all of them share.
    git: PathBuf,
    common: PathBuf,
}

impl Places {
    fn of(tree: &WorkTree) -> Places {
        let real = |path: &Path| path.canonicalize().unwrap_or_else(|_| path.to_owned());
        let (git, common) = (real(tree.repo().git_dir()), real(tree.repo().common_dir()));
        Places { root: tree.root().to_owned(), git, common }
    }

    fn matter(&self, event: &Event) -> bool {
        if matches!(event.kind, EventKind::Access(_)) {
            return false;
        }
        event.need_rescan() || event.paths.is_empty() || event.paths.iter().any(|path| self.matters(path))
    }

    fn matters(&self, path: &Path) -> bool {
        for git in [&self.git, &self.common] {
            if let Ok(inside) = path.strip_prefix(git) {
                let first = inside.components().next().map(|part| part.as_os_str());
                return first.is_some_and(|first| OF_GIT.iter().any(|own| OsStr::new(own) == first))
                    && path.extension() != Some(OsStr::new("lock"));
            }
        }
        path.starts_with(&self.root)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use notify::event::{AccessKind, CreateKind, DataChange, ModifyKind};

    fn matters(kind: EventKind, path: &str) -> bool {
        let places = Places { root: "/p".into(), git: "/p/.git/worktrees/w".into(), common: "/p/.git".into() };
        places.matter(&Event::new(kind).add_path(path.into()))
    }

    #[test]
    fn what_an_answer_hangs_on_matters_and_nothing_else() {
        let written = EventKind::Modify(ModifyKind::Data(DataChange::Any));
        for path in
            ["/p/a.md", "/p/x/y.csv", "/p/.git/refs/heads/main", "/p/.git/worktrees/w/HEAD", "/p/.git/packed-refs"]
        {
            assert!(matters(written, path), "{path}");
        }
        for path in ["/p/.git/objects/ab/cd", "/p/.git/slipmark-kept/x", "/p/.git/worktrees/w/index.lock", "/q/a.md"] {
            assert!(!matters(written, path), "{path}");
        }
        assert!(matters(EventKind::Create(CreateKind::Folder), "/p/new"));
        assert!(!matters(EventKind::Access(AccessKind::Any), "/p/a.md"));
    }
}
