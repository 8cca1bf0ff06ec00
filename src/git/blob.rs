//! File contents by id.

use std::io::Read;
use std::path::Path;
use std::sync::Arc;

use super::error::while_;
use super::packed::Sort;
use super::{GitError, Oid, Repo};

/// How many bytes of a large blob are in memory at a time.
const PIECE: usize = 1 << 16;

/// Texts of at most so many bytes are remembered.
const SMALL: usize = 1 << 16;

impl Repo {
    /// A blob's bytes, whatever its size.
    ///
    /// # Errors
    /// If there is no such blob.
    pub fn blob(&self, oid: Oid) -> Result<Vec<u8>, GitError> {
        self.look(oid, <[u8]>::to_vec)
    }

    /// Hands on a blob's bytes in pieces; those of one that lies in a pack in one piece, as the library unpacks them.
    ///
    /// # Errors
    /// If there is no such blob, or it is damaged.
    pub fn blob_pieces(&self, oid: Oid, take: &mut dyn FnMut(&[u8])) -> Result<(), GitError> {
        if !self.whole(oid)? {
            return self.look(oid, take);
        }
        self.with(|repo| {
            let odb = repo.odb().map_err(while_("open the object store"))?;
            let Ok((mut reader, size, git2::ObjectType::Blob)) = odb.reader(oid.0) else {
                return self.unpacked(&odb, oid, take);
            };
            let mut piece = vec![0; PIECE];
            let mut read = 0;
            while read < size {
                match reader.read(&mut piece) {
                    Ok(amount) if amount > 0 => {
                        take(&piece[..amount]);
                        read += amount;
                    }
                    _ => return Err(GitError::Malformed { oid, detail: "it ends too early".into() }),
                }
            }
            Ok(())
        })
    }

    /// A blob's bytes if there are at most `limit` of them; a larger one is not loaded.
    ///
    /// # Errors
    /// [`GitError::TooLarge`], or if there is no such blob.
    pub fn blob_at_most(&self, oid: Oid, limit: u64) -> Result<Vec<u8>, GitError> {
        self.look_at_most(oid, limit, <[u8]>::to_vec)
    }

    /// A blob as text, if it is of at most `limit` bytes; none if it is no UTF-8. Small ones are remembered.
    ///
    /// # Errors
    /// [`GitError::TooLarge`], or if there is no such blob.
    pub fn text_at_most(&self, oid: Oid, limit: u64) -> Result<Option<Arc<str>>, GitError> {
        match self.known.texts.get(&oid) {
            Some(Some(text)) if text.len() as u64 > limit => {
                return Err(GitError::TooLarge { oid, bytes: text.len() as u64, limit });
            }
            Some(known) => return Ok(known),
            None => {}
        }
        let read = |bytes: &[u8]| (std::str::from_utf8(bytes).ok().map(Arc::from), bytes.len());
        let (text, size): (Option<Arc<str>>, usize) = self.look_at_most(oid, limit, read)?;
        if size <= SMALL {
            self.known.texts.put(oid, text.clone(), size);
        }
        Ok(text)
    }

    /// Looks at the bytes of a blob, if there are at most `limit` of them.
    fn look_at_most<T>(&self, oid: Oid, limit: u64, look: impl FnOnce(&[u8]) -> T) -> Result<T, GitError> {
        if let Some(found) = self.packed(oid, limit)?.filter(|found| found.sort == Sort::Blob) {
            return Ok(look(&found.bytes));
        }
        let bytes = self.blob_size(oid)?;
        if bytes > limit {
            return Err(GitError::TooLarge { oid, bytes, limit });
        }
        self.look(oid, look)
    }

    /// Looks at the bytes of a blob.
    fn look<T>(&self, oid: Oid, look: impl FnOnce(&[u8]) -> T) -> Result<T, GitError> {
        if let Some(found) = self.packed(oid, u64::MAX)?.filter(|found| found.sort == Sort::Blob) {
            return Ok(look(&found.bytes));
        }
        self.with(|repo| {
            let odb = repo.odb().map_err(while_("open the object store"))?;
            self.unpacked(&odb, oid, look)
        })
    }

    /// Looks at the bytes of a blob where the library has unpacked them.
    fn unpacked<T>(&self, odb: &git2::Odb<'_>, oid: Oid, look: impl FnOnce(&[u8]) -> T) -> Result<T, GitError> {
        let object = odb.read(oid.0).map_err(|error| self.not_read("blob", oid, &error))?;
        match object.kind() {
            git2::ObjectType::Blob => Ok(look(object.data())),
            _ => Err(GitError::Malformed { oid, detail: "not a blob".into() }),
        }
    }

    /// A blob's size in bytes, without reading it.
    ///
    /// # Errors
    /// If there is no such blob.
    pub fn blob_size(&self, oid: Oid) -> Result<u64, GitError> {
        self.with(|repo| {
            let odb = repo.odb().map_err(while_("open the object store"))?;
            let (size, kind) = odb.read_header(oid.0).map_err(|error| self.not_read("blob", oid, &error))?;
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
