//! Object ids.

use std::cmp::Ordering;
use std::fmt;
use std::hash::{Hash, Hasher};

/// The id of a git object.
#[derive(Clone, Copy)]
pub struct Oid(pub(super) git2::Oid);

// Ids are compared and looked up by the million: not by a call into the library each time.
impl PartialEq for Oid {
    fn eq(&self, other: &Oid) -> bool {
        self.raw() == other.raw()
    }
}

impl Eq for Oid {}

impl PartialOrd for Oid {
    fn partial_cmp(&self, other: &Oid) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Oid {
    fn cmp(&self, other: &Oid) -> Ordering {
        self.raw().cmp(&other.raw())
    }
}

impl Hash for Oid {
    fn hash<H: Hasher>(&self, state: &mut H) {
        // It is a hash already; these bytes of it are as good as all.
        let [a, b, c, d, e, f, g, h, ..] = self.raw();
        state.write_u64(u64::from_le_bytes([a, b, c, d, e, f, g, h]));
    }
}

impl Oid {
    fn raw(&self) -> [u8; 20] {
        self.0.as_bytes().first_chunk().copied().unwrap_or_default()
    }

    /// The first ten hex digits, for people; never for looking anything up.
    pub fn short(&self) -> String {
        let mut text = self.to_string();
        text.truncate(10);
        text
    }

    /// Reads a full hex id; `None` if `hex` is anything else.
    pub fn from_hex(hex: &str) -> Option<Oid> {
        // The library pads a short text with zeros, which would name another object.
        if hex.len() != 40 {
            return None;
        }
        git2::Oid::from_str(hex).ok().map(Oid)
    }

    /// The id as raw bytes.
    pub fn as_bytes(&self) -> &[u8] {
        self.0.as_bytes()
    }

    /// Reads what [`Oid::as_bytes`] gave; `None` if there are not twenty of them.
    pub fn from_bytes(bytes: &[u8]) -> Option<Oid> {
        Oid::from_raw(bytes)
    }

    /// Reads raw bytes as they stand in a tree.
    pub(super) fn from_raw(bytes: &[u8]) -> Option<Oid> {
        git2::Oid::from_bytes(bytes).ok().map(Oid)
    }
}

impl fmt::Display for Oid {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Debug for Oid {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_full_ids_are_read() {
        let hex = "e69de29bb2d1d6434b8b29ae775ad8c2e48c5391";
        assert_eq!(Oid::from_hex(hex).map(|oid| oid.to_string()).as_deref(), Some(hex));
        assert_eq!(Oid::from_hex(hex).map(|oid| oid.short()).as_deref(), Some("e69de29bb2"));
        assert_eq!(Oid::from_hex("e69de29"), None);
        assert_eq!(Oid::from_hex(&"x".repeat(40)), None);
    }
}
