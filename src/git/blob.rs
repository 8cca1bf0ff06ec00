//! File contents by id.

use std::path::Path;

use super::error::while_;
use super::{GitError, Oid, Repo};

impl Repo {
    /// A blob's bytes, whatever its size.
    ///
    /// # Errors
    /// If there is no such blob.
    pub fn blob(&self, oid: Oid) -> Result<Vec<u8>, GitError> {
        self.whole(oid)?;
        self.with(|repo| {
            let odb = repo.odb().map_err(while_("open the object store"))?;
            let object = odb.read(oid.0).map_err(|error| GitError::other(format!("read blob {oid}"), &error))?;
            if object.kind() != git2::ObjectType::Blob {
                return Err(GitError::Malformed { oid, detail: "not a blob".into() });
            }
            Ok(object.data().to_vec())
        })
    }

    /// A blob's bytes if there are at most `limit` of them; a larger one is not loaded.
    ///
    /// # Errors
    /// [`GitError::TooLarge`], or if there is no such blob.
    pub fn blob_at_most(&self, oid: Oid, limit: u64) -> Result<Vec<u8>, GitError> {
        let bytes = self.blob_size(oid)?;
        if bytes > limit {
            return Err(GitError::TooLarge { oid, bytes, limit });
        }
        self.blob(oid)
    }

    /// A blob's size in bytes, without reading it.
    ///
    /// # Errors
    /// If there is no such blob.
    pub fn blob_size(&self, oid: Oid) -> Result<u64, GitError> {
        self.with(|repo| {
            let odb = repo.odb().map_err(while_("open the object store"))?;
            let (size, kind) =
                odb.read_header(oid.0).map_err(|error| GitError::other(format!("read blob {oid}"), &error))?;
            if kind != git2::ObjectType::Blob {
                return Err(GitError::Malformed { oid, detail: "not a blob".into() });
            }
            Ok(size as u64)
        })
    }
}

/// The id that git would give to a file of exactly these bytes; `None` only if the library fails.
pub fn blob_id(bytes: &[u8]) -> Option<Oid> {
    git2::Oid::hash_object(git2::ObjectType::Blob, bytes).ok().map(Oid)
}

/// The same for a file on disk, read in pieces; `None` if it cannot be read. No line ending is converted.
pub fn blob_id_of_file(path: &Path) -> Option<Oid> {
    git2::Oid::hash_file(git2::ObjectType::Blob, path).ok().map(Oid)
}
