//! By what to see that a repository is as it was.

use std::path::Path;

use sha2::{Digest, Sha256};

use super::{FileStat, Repo};

impl Repo {
    /// A hash over everything but commits, trees and blobs that reading a project can hang on: what is checked out, all references,
    /// the index, the settings in force, attributes, and where history was cut off. None if one of them cannot be read.
    ///
    /// Files are not read for this where their signs will do; whoever relies on it asks before they are used, so that a change
    /// meanwhile shows.
    pub fn signs(&self) -> Option<[u8; 32]> {
        let mut all = Signs(Sha256::new());
        let settings = self.settings();
        all.file(&self.git_dir().join("index"));
        all.file(&self.common_dir().join("shallow"));
        all.file(&self.common_dir().join("info").join("grafts"));
        // Objects that were missing may have been fetched since.
        all.file(&self.objects.join("pack"));
        all.file(&settings.info_attributes);
        all.file(Path::new("/etc/gitattributes"));
        settings.attributes_file.iter().for_each(|path| all.file(path));
        self.workdir().ancestors().for_each(|folder| all.file(&folder.join(".gitattributes")));
        all.part(self.workdir().as_os_str().as_encoded_bytes());
        self.with(|repo| {
            all.part(&std::fs::read(repo.path().join("HEAD")).ok()?);
            for reference in repo.references().ok()? {
                let reference = reference.ok()?;
                all.part(reference.name_bytes());
                match (reference.target(), reference.symbolic_target_bytes()) {
                    (Some(target), _) => all.part(target.as_bytes()),
                    (None, target) => all.part(target?),
                }
            }
            let config = repo.config().and_then(|mut config| config.snapshot()).ok()?;
            let mut entries = config.entries(None).ok()?;
            while let Some(entry) = entries.next() {
                let entry = entry.ok()?;
                all.part(entry.name_bytes());
                all.part(if entry.has_value() { entry.value_bytes() } else { b"" });
            }
            Some(all.0.finalize().into())
        })
    }
}

struct Signs(Sha256);

impl Signs {
    fn part(&mut self, bytes: &[u8]) {
        self.0.update((bytes.len() as u64).to_le_bytes());
        self.0.update(bytes);
    }

    /// What the system says of a file or folder; that there is none is a sign too.
    fn file(&mut self, path: &Path) {
        let stat = path.metadata().ok().map(|data| FileStat::of(&data));
        self.part(format!("{stat:?}").as_bytes());
    }
}
