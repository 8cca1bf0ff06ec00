//! By what to tell that files are as they were read, without reading them.

use crate::cli::args::Common;
use crate::cli::project::seconds;
use crate::source::{Seen, WorkTree};

use super::live::start_of;

/// What the system says of the files, and git of itself.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sign {
    git: [u8; 32],
    files: [u8; 32],
    /// Whether a change since would show: the files are older than the look at them.
    settled: bool,
}

/// What there is to say before the files are looked at or read.
#[derive(Clone, Copy, Debug)]
pub(super) struct Begun {
    git: [u8; 32],
    /// In seconds since 1970.
    at: u64,
}

impl Begun {
    /// Looks at git; none where a look could miss a change, and of a commit.
    pub(super) fn now(common: &Common) -> Option<Begun> {
        let tree = WorkTree::find(&start_of(common)).ok().filter(|_| common.at.is_none())?;
        Begun::on(&tree)
    }

    fn on(tree: &WorkTree) -> Option<Begun> {
        let at = seconds();
        Some(Begun { git: tree.repo().signs()?, at })
    }

    /// With what was seen of the files since.
    pub(super) fn with(self, seen: Option<Seen>) -> Option<Sign> {
        let seen = seen?;
        Some(Sign { git: self.git, files: seen.hash, settled: seen.is_settled(self.at) })
    }
}

impl Sign {
    /// Looks; none where a look could miss a change, and of a commit.
    pub(super) fn of(common: &Common) -> Option<Sign> {
        let tree = WorkTree::find(&start_of(common)).ok().filter(|_| common.at.is_none())?;
        Begun::on(&tree)?.with(tree.seen())
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
