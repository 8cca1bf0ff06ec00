//! What has to be as it was for the same files to be read again.
//!
//! Reading tens of thousands of files costs more than asking the system when each was last changed. That is what git does with its
//! index, by the same signs: size, both times, inode. The time of the last change is set by the system and by nobody else, so that a
//! file written anew shows it even where its size and its time of modification were put back. Whatever cannot be told by looking,
//! and whatever was changed as late as it was read, makes this none.

use sha2::{Digest, Sha256};

use crate::git::FileStat;
use crate::text::RepoPath;

/// A file changed later than this many seconds before it was read could be changed again without a sign of it: clocks of file systems
/// are coarse.
pub(super) const SETTLED: u64 = 2;

/// The files of a project as the system told of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seen {
    /// A hash over each one's path and its signs.
    pub hash: [u8; 32],
    /// When the last of them was changed, in seconds since 1970.
    changed: u64,
}

impl Seen {
    /// Of all files, in path order. None if one could not be looked at, or the system does not say when it was changed.
    pub(super) fn of<'f>(files: impl Iterator<Item = (&'f RepoPath, Option<FileStat>)>) -> Option<Seen> {
        let mut digest = Sha256::new();
        let mut last = 0;
        let mut line = Vec::with_capacity(256);
        for (path, stat) in files {
            let stat = stat?;
            let changed = u64::from(stat.changed.0);
            if changed == 0 {
                return None;
            }
            last = changed.max(last);
            line.clear();
            line.extend_from_slice(path.as_str().as_bytes());
            line.push(0);
            let (modified, changed) = (stat.modified, stat.changed);
            for number in
                [stat.size, modified.0, modified.1, changed.0, changed.1, stat.inode, u32::from(stat.executable)]
            {
                line.extend_from_slice(&number.to_le_bytes());
            }
            digest.update(&line);
        }
        Some(Seen { hash: digest.finalize().into(), changed: last })
    }

    /// Whether a change after `begun`, in seconds since 1970, is certain to show: the files were read later than that.
    pub fn is_settled(&self, begun: u64) -> bool {
        self.changed + SETTLED <= begun
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STAT: FileStat = FileStat { size: 3, modified: (100, 1), changed: (200, 2), inode: 7, executable: false };

    fn seen(path: &str, stat: FileStat) -> Option<Seen> {
        Seen::of([(&RepoPath::new(path), Some(stat))].into_iter())
    }

    #[test]
    fn every_sign_counts() {
        let plain = seen("a.md", STAT);
        assert!(plain.is_some() && plain == seen("a.md", STAT));
        let others = [
            FileStat { size: 4, ..STAT },
            FileStat { modified: (100, 2), ..STAT },
            FileStat { changed: (200, 3), ..STAT },
            FileStat { inode: 8, ..STAT },
            FileStat { executable: true, ..STAT },
        ];
        assert!(others.into_iter().all(|other| seen("a.md", other).map(|it| it.hash) != plain.map(|it| it.hash)));
        assert_ne!(seen("b.md", STAT).map(|it| it.hash), plain.map(|it| it.hash));
    }

    #[test]
    fn what_was_changed_as_late_as_it_was_read_is_not_told_by_looking() {
        let plain = seen("a.md", STAT).unwrap();
        assert!(plain.is_settled(202) && !plain.is_settled(201));
        assert_eq!(seen("a.md", FileStat { changed: (0, 0), ..STAT }), None);
        let (one, other) = (RepoPath::new("a.md"), RepoPath::new("b.md"));
        assert_eq!(Seen::of([(&one, Some(STAT)), (&other, None)].into_iter()), None);
    }
}
