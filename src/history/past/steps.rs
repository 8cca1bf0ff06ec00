//! From a commit to the one before: which files of the project differ.

use crate::git::{FileMode, GitError, Oid, Repo};
use crate::source::PROJECT_FILE;
use crate::text::RepoPath;

use super::super::alike::{copied_from, holds};
use super::super::trail::side_by_side;

/// A file that differs, with its blob before and after.
pub(super) struct Step {
    pub(super) path: RepoPath,
    pub(super) old: Option<Oid>,
    pub(super) new: Option<Oid>,
}

/// A parent of a commit.
pub(super) struct Edge {
    pub(super) parent: Oid,
    /// Where the project stood in it.
    pub(super) folder: String,
    pub(super) steps: Vec<Step>,
    /// Folders inside the project that became, or are no longer, projects of their own.
    pub(super) toggled: Vec<String>,
    /// Folders of projects that stay, where this one begins and is like them.
    pub(super) twins: Vec<String>,
    /// Whether git has all that is needed to tell.
    pub(super) told: bool,
}

/// The parents of many commits, each with the folder that the project in `prefix` has in it, worked out on every thread.
pub(super) fn edges(repo: &Repo, prefix: &str, nodes: &[(Oid, String)]) -> Result<Vec<Vec<Edge>>, GitError> {
    let of_one = |repo: &Repo, (oid, folder): &(Oid, String)| -> Result<Vec<Edge>, GitError> {
        let edge = |parent| edge(repo, (*oid, folder), (parent, &repo.folder_in(parent, prefix)));
        Ok(repo.parents(*oid)?.into_iter().map(edge).collect())
    };
    side_by_side(repo, nodes, of_one)?.into_iter().collect()
}

fn edge(repo: &Repo, new: (Oid, &str), (parent, before): (Oid, &str)) -> Edge {
    let (steps, toggled, twins) = (Vec::new(), Vec::new(), Vec::new());
    let mut edge = Edge { parent, folder: before.to_string(), steps, toggled, twins, told: true };
    if edge.compare(repo, new).is_err() {
        edge.told = false;
        return edge;
    }
    // So does one that was copied, and is followed to what it was copied from: that stood on for a while.
    let is_copy = || before != new.1 && holds(repo, new.0, before).unwrap_or(false);
    if edge.toggled.iter().any(String::is_empty) && before == new.1 || is_copy() {
        match copied_from(repo, new, parent) {
            Ok(twins) => edge.twins = twins,
            Err(_) => edge.told = false,
        }
    }
    edge.toggled.retain(|folder| !folder.is_empty());
    edge
}

impl Edge {
    fn compare(&mut self, repo: &Repo, new: (Oid, &str)) -> Result<(), GitError> {
        self.steps.clear();
        self.toggled.clear();
        for change in repo.changed_between(Some((self.parent, &self.folder)), new)? {
            if change.path.file_name() == PROJECT_FILE && (change.old.is_none() || change.new.is_none()) {
                let at_top = change.path.folder().is_empty();
                // A project that ends here is told by its files; one that begins may have been elsewhere.
                if !at_top || change.old.is_none() {
                    self.toggled.push(change.path.folder().to_string());
                }
            }
            if !change.utf8 || !change.path.is_markdown() {
                continue;
            }
            let plain = |side: Option<(FileMode, Oid)>| match side {
                Some((FileMode::File | FileMode::Executable, oid)) => Some(oid),
                _ => None,
            };
            let (old, new) = (plain(change.old), plain(change.new));
            if old != new {
                self.steps.push(Step { path: change.path, old, new });
            }
        }
        Ok(())
    }

    /// Adds the files of folders that became projects of their own or ceased to be, which themselves need not differ.
    pub(super) fn add_toggled(&mut self, repo: &Repo, new: (Oid, &str)) -> Result<(), GitError> {
        for toggled in std::mem::take(&mut self.toggled) {
            let mut files = std::collections::BTreeMap::<RepoPath, (Option<Oid>, Option<Oid>)>::new();
            for ((commit, folder), is_new) in [((self.parent, self.folder.as_str()), false), (new, true)] {
                let inside = if folder.is_empty() { toggled.clone() } else { format!("{folder}/{toggled}") };
                for file in repo.tree_files(commit, &inside)?.iter() {
                    let plain = matches!(file.mode, FileMode::File | FileMode::Executable);
                    if file.utf8 && plain && file.path.is_markdown() {
                        let sides = files.entry(RepoPath::new(format!("{toggled}/{}", file.path))).or_default();
                        *(if is_new { &mut sides.1 } else { &mut sides.0 }) = Some(file.oid);
                    }
                }
            }
            let inside = format!("{toggled}/");
            self.steps.retain(|step| !step.path.as_str().starts_with(&inside));
            self.steps.extend(files.into_iter().map(|(path, (old, new))| Step { path, old, new }));
        }
        Ok(())
    }
}
