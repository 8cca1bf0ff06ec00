//! Any object by its id.

use std::sync::Arc;

use super::error::while_;
use super::packed::{Object, Sort};
use super::{GitError, Oid, Repo};

impl Repo {
    /// An object's bytes.
    ///
    /// # Errors
    /// If there is no such object, it is not whole, or it is of another sort.
    pub(super) fn object(&self, oid: Oid, sort: Sort) -> Result<Arc<[u8]>, GitError> {
        let found = match self.packed(oid, u64::MAX)? {
            Some(object) => object,
            None => self.asked(oid, sort)?,
        };
        if found.sort == sort {
            return Ok(found.bytes);
        }
        Err(GitError::Malformed { oid, detail: format!("not a {}", sort.word()) })
    }

    /// An object of at most so many bytes, out of a pack; none where the library must be asked.
    ///
    /// # Errors
    /// If it stands by itself and is not whole.
    pub(super) fn packed(&self, oid: Oid, most: u64) -> Result<Option<Object>, GitError> {
        Ok(if self.whole(oid)? { None } else { self.known.packed.read(oid, most) })
    }

    fn asked(&self, oid: Oid, sort: Sort) -> Result<Object, GitError> {
        self.with(|repo| {
            let odb = repo.odb().map_err(while_("open the object store"))?;
            let object = odb.read(oid.0).map_err(|error| self.not_read(sort.word(), oid, &error))?;
            let sort = match object.kind() {
                git2::ObjectType::Commit => Sort::Commit,
                git2::ObjectType::Tree => Sort::Tree,
                git2::ObjectType::Blob => Sort::Blob,
                _ => Sort::Tag,
            };
            Ok(Object { sort, bytes: object.data().into() })
        })
    }
}

impl Sort {
    fn word(self) -> &'static str {
        match self {
            Sort::Commit => "commit",
            Sort::Tree => "tree",
            Sort::Blob => "blob",
            Sort::Tag => "tag",
        }
    }
}
