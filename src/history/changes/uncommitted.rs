//! What the work tree holds otherwise than the commit that is checked out.

use std::collections::BTreeSet;

use crate::analysis::Analysis;
use crate::git::{GitError, Oid, Repo};
use crate::history::blobs::Blobs;
use crate::history::commits::settings_between;
use crate::history::then::Then;
use crate::source::{INSTRUMENTS_FILE, Origin, PARAMETERS_FILE, PROJECT_FILE};
use crate::text::RepoPath;

/// Things that the work tree holds otherwise than the commit that is checked out.
#[derive(Default)]
pub(super) struct Uncommitted(BTreeSet<String>);

impl Uncommitted {
    /// Lays the work tree beside the commit.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn find(repo: &Repo, prefix: &str, head: Oid, now: &Analysis) -> Result<Uncommitted, GitError> {
        if matches!(now.origin, Origin::WorkTree { uncommitted: 0, .. }) {
            return Ok(Uncommitted::default());
        }
        let then = Then::read(repo, prefix, head, now)?;
        let mut names: BTreeSet<String> = then.part.ids().map(|(id, _)| id.to_string()).collect();
        let new = now.model.ids().filter(|(_, place)| !then.is_same(now.model.head(*place).file));
        names.extend(new.map(|(id, _)| id.to_string()));
        let blobs = Blobs::new(repo, prefix);
        for name in [PROJECT_FILE, PARAMETERS_FILE, INSTRUMENTS_FILE] {
            let path = RepoPath::new(name);
            let held = repo.tree_file(head, prefix, &path)?.and_then(|file| blobs.text(file.oid));
            let holds = now.snapshot.file(&path).and_then(|file| file.content.text());
            names.extend(settings_between(name, held.as_deref(), holds.map(|text| &**text)));
        }
        Ok(Uncommitted(names))
    }

    /// Whether a thing is among them.
    pub(super) fn has(&self, name: &str) -> bool {
        self.0.contains(name)
    }
}
