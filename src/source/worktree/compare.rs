//! Lays what is on disk beside the index and the commit that is checked out.

use rayon::prelude::*;

use super::attributes::Conversions;
use super::reading::{Kind, OnDisk};
use super::{Known, WorkTree};
use crate::git::{FileMode, GitError, IndexEntry, Oid, TreeFile, blob_id, blob_id_of_file};
use crate::source::rules::{Body, Foreign, Listed};
use crate::source::{Content, SourceProblem};
use crate::text::RepoPath;

/// What came of it.
pub(super) struct Compared {
    pub(super) uncommitted: usize,
    /// For each path on disk: whether it is tracked, and its blob where that is known.
    marks: Vec<(bool, Option<Oid>)>,
    sparse: Vec<RepoPath>,
}

/// One path, wherever it is.
struct Beside<'a> {
    disk: Option<&'a OnDisk>,
    index: Option<&'a IndexEntry>,
    commit: Option<&'a TreeFile>,
}

/// How a path stands to the commit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Standing {
    Same,
    Differs,
    /// The bytes differ; whether git would say so depends on what it converts.
    Perhaps,
    /// In the index, left out of the work tree on purpose.
    Sparse,
}

impl Compared {
    /// Compares every path. Only files that changed since git last looked are hashed.
    pub(super) fn make(
        tree: &WorkTree,
        known: &Known,
        foreign: &Foreign,
        on_disk: &[OnDisk],
        conversions: Conversions,
    ) -> Result<Compared, GitError> {
        let comparison = Comparison { tree, conversions, file_mode: tree.repo.settings().file_mode };
        let own = |mode: FileMode, path: &RepoPath| mode != FileMode::Submodule && !foreign.holds(path.as_str());
        let committed = known.committed.iter().filter(|file| file.utf8 && own(file.mode, &file.path));
        let tracked = known.index.entries.iter().filter(|entry| own(entry.mode, &entry.path));
        let beside = merge(on_disk, tracked, committed);
        let judged: Vec<(Standing, Option<Oid>)> =
            beside.par_iter().with_min_len(256).map(|path| comparison.judge(path)).collect();
        let perhaps = paths_that(Standing::Perhaps, &beside, &judged);
        let differing = match known.head {
            Some(head) => tree.repo.differing_after_conversion(head, &tree.prefix, &perhaps)?,
            None => perhaps,
        };
        let certain = judged.iter().filter(|(standing, _)| *standing == Standing::Differs).count();
        let sparse = paths_that(Standing::Sparse, &beside, &judged);
        let marks = judged.into_iter().zip(&beside).filter(|(_, path)| path.disk.is_some());
        Ok(Compared {
            uncommitted: certain + differing.len(),
            marks: marks.map(|((_, blob), path)| (path.index.is_some(), blob)).collect(),
            sparse,
        })
    }

    /// Puts the parts together; `on_disk` is the same list again.
    pub(super) fn finish(self, on_disk: Vec<OnDisk>, problems: &mut Vec<SourceProblem>) -> Vec<Listed> {
        problems.extend(self.sparse.into_iter().map(|path| SourceProblem::SparseMissing { path }));
        // Made in the place of the list that goes.
        let listed = on_disk.into_iter().zip(self.marks).filter_map(|(file, (tracked, blob))| match file.body {
            Ok(body) => Some(Listed { path: file.path, body, blob, tracked }),
            Err(problem) => {
                problems.push(problem);
                None
            }
        });
        listed.collect()
    }
}

fn paths_that(wanted: Standing, beside: &[Beside<'_>], judged: &[(Standing, Option<Oid>)]) -> Vec<RepoPath> {
    let paths = beside.iter().zip(judged).filter(|(_, (standing, _))| *standing == wanted);
    paths.filter_map(|(path, _)| path.path().cloned()).collect()
}

impl Beside<'_> {
    fn path(&self) -> Option<&RepoPath> {
        self.disk.map(|file| &file.path).or(self.index.map(|e| &e.path)).or(self.commit.map(|file| &file.path))
    }
}

/// Merges three sorted lists.
fn merge<'a>(
    disk: &'a [OnDisk],
    index: impl Iterator<Item = &'a IndexEntry>,
    commit: impl Iterator<Item = &'a TreeFile>,
) -> Vec<Beside<'a>> {
    let mut merged = Vec::with_capacity(disk.len());
    let (mut disk, mut index, mut commit) = (disk.iter().peekable(), index.peekable(), commit.peekable());
    loop {
        // Nearly every path is in all three.
        if let (Some(file), Some(entry), Some(held)) = (disk.peek(), index.peek(), commit.peek())
            && file.path == entry.path
            && entry.path == held.path
        {
            merged.push(Beside { disk: disk.next(), index: index.next(), commit: commit.next() });
            continue;
        }
        let paths = [
            disk.peek().copied().map(|file| &file.path),
            index.peek().copied().map(|entry| &entry.path),
            commit.peek().copied().map(|file| &file.path),
        ];
        let Some(next) = paths.into_iter().flatten().min() else { return merged };
        merged.push(Beside {
            disk: disk.next_if(|file| file.path == *next),
            index: index.next_if(|entry| entry.path == *next),
            commit: commit.next_if(|file| file.path == *next),
        });
    }
}

struct Comparison<'a> {
    tree: &'a WorkTree,
    conversions: Conversions,
    file_mode: bool,
}

impl Comparison<'_> {
    /// How a path stands, and the blob of the bytes on disk where that is known.
    fn judge(&self, beside: &Beside<'_>) -> (Standing, Option<Oid>) {
        let Some(disk) = beside.disk else {
            let sparse = beside.index.is_some_and(|entry| entry.skip_worktree);
            let gone = beside.commit.is_some();
            return (
                if sparse {
                    Standing::Sparse
                } else if gone {
                    Standing::Differs
                } else {
                    Standing::Same
                },
                None,
            );
        };
        match disk.kind {
            // Git does not see them; where it tracks a file of that name, that is gone.
            Kind::Special => (if beside.commit.is_some() { Standing::Differs } else { Standing::Same }, None),
            Kind::Link => {
                let same =
                    beside.commit.is_some_and(|file| file.mode == FileMode::Symlink && Some(file.oid) == disk.link);
                (if same { Standing::Same } else { Standing::Differs }, None)
            }
            Kind::File => self.judge_file(disk, beside.index, beside.commit),
        }
    }

    fn judge_file(
        &self,
        disk: &OnDisk,
        index: Option<&IndexEntry>,
        commit: Option<&TreeFile>,
    ) -> (Standing, Option<Oid>) {
        let unchanged = index.filter(|entry| is_unchanged(entry, disk));
        let Some(commit) = commit else {
            let blob = unchanged.filter(|_| self.is_verbatim(disk)).map(|entry| entry.oid);
            return (Standing::Differs, blob);
        };
        let executable = disk.stat.is_some_and(|stat| stat.executable);
        let other_mode = commit.mode == FileMode::Symlink
            || (self.file_mode && cfg!(unix) && executable != (commit.mode == FileMode::Executable));
        if let Some(entry) = unchanged {
            let same = entry.oid == commit.oid && !other_mode;
            let blob = self.is_verbatim(disk).then_some(entry.oid);
            return (if same { Standing::Same } else { Standing::Differs }, blob);
        }
        let blob = self.hash(disk);
        let standing = match (other_mode, blob == Some(commit.oid)) {
            (true, _) => Standing::Differs,
            (false, true) => Standing::Same,
            (false, false) if self.conversions.any() => Standing::Perhaps,
            (false, false) => Standing::Differs,
        };
        (standing, blob)
    }

    /// Whether the bytes on disk are those of the blob, if the file is unchanged.
    fn is_verbatim(&self, disk: &OnDisk) -> bool {
        match &disk.body {
            _ if !self.conversions.any() => true,
            Ok(Body::Read(Content::Text(text))) => !self.conversions.content && !text.as_bytes().contains(&b'\r'),
            _ => false,
        }
    }

    fn hash(&self, disk: &OnDisk) -> Option<Oid> {
        match &disk.body {
            Ok(Body::Read(Content::Text(text))) => blob_id(text.as_bytes()),
            _ => blob_id_of_file(&self.tree.root.join(disk.path.as_str())),
        }
    }
}

/// Whether the file is as it was when git last looked. The executable bit is compared elsewhere.
fn is_unchanged(entry: &IndexEntry, disk: &OnDisk) -> bool {
    let (Some(then), Some(now)) = (entry.stat, disk.stat) else { return false };
    let file = matches!(entry.mode, FileMode::File | FileMode::Executable);
    file && (then.size, then.modified, then.changed, then.inode) == (now.size, now.modified, now.changed, now.inode)
}
