//! Who wrote a commit, by the name that `.mailmap` gives them.

use std::io::Read;

use git2::Mailmap;

use super::{GitError, Oid, Repo};

/// A `.mailmap` larger than this is not read.
const LARGEST: u64 = 1 << 20;

impl Repo {
    /// The author of each commit by name, as the `.mailmap` at the top of the work tree spells it.
    ///
    /// As with git, one that is a symlink is not followed. Without one the names are those of the commits.
    ///
    /// # Errors
    /// If a commit cannot be read.
    pub fn authors(&self, commits: &[Oid]) -> Result<Vec<String>, GitError> {
        let map = self.mailmap();
        let name = |oid: &Oid| {
            let commit = self.commit(*oid)?;
            let known = map.as_ref().and_then(|map| {
                let written = git2::Signature::now(&commit.author_name, &commit.author_email).ok()?;
                let known = map.resolve_signature(&written).ok()?;
                known.name().ok().map(str::to_string)
            });
            Ok(known.unwrap_or(commit.author_name))
        };
        commits.iter().map(name).collect()
    }

    fn mailmap(&self) -> Option<Mailmap> {
        let path = self.workdir().join(".mailmap");
        if !path.symlink_metadata().ok()?.is_file() {
            return None;
        }
        let mut text = Vec::new();
        std::fs::File::open(path).ok()?.take(LARGEST).read_to_end(&mut text).ok()?;
        Mailmap::from_buffer(&String::from_utf8_lossy(&text)).ok()
    }
}
