//! By what to tell that files are as they were read, without reading them.

use crate::cli::args::Common;
use crate::source::WorkTree;

use super::live::start_of;

/// What the system says of the files, and git of itself.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sign {
    git: [u8; 32],
    files: [u8; 32],
    /// Whether a change since would show: the files are older than the look at them.
    settled: bool,
}

impl Sign {
    /// Looks; none where a look could miss a change.
    pub(super) fn of(common: &Common) -> Option<Sign> {
        let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).ok()?.as_secs();
        let tree = WorkTree::find(&start_of(common)).ok()?;
        let (git, seen) = (tree.repo().signs()?, tree.seen()?);
        Some(Sign { git, files: seen.hash, settled: seen.is_settled(now) })
    }

    /// Whether there is no sign of a change, though one may have left none.
    pub(super) fn is_alike(self, earlier: Sign) -> bool {
        self.git == earlier.git && self.files == earlier.files
    }

    /// Whether nothing has changed between an earlier look and this one.
    pub(super) fn is_same(self, earlier: Sign) -> bool {
        earlier.settled && self.is_alike(earlier)
    }
}
