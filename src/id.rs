//! Names of things.

use std::borrow::Borrow;
use std::fmt;
use std::sync::Arc;

/// The id of a thing: letters, digits, `.`, `_` and `-`, starting with a letter.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Id(Arc<str>);

impl Id {
    /// Wraps a text as it stands; [`Id::is_valid`] says whether it may be an id.
    pub fn new(text: &str) -> Id {
        Id(text.into())
    }

    /// The text.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether `text` has the form of an id.
    pub fn is_valid(text: &str) -> bool {
        text.starts_with(|c: char| c.is_ascii_alphabetic())
            && text.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-'))
    }
}

impl Borrow<str> for Id {
    fn borrow(&self) -> &str {
        &self.0
    }
}

impl std::ops::Deref for Id {
    type Target = str;
    fn deref(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// One serial-numbered piece of an item, written `MOV/SN02`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SerialId {
    /// The item.
    pub item: Id,
    /// The piece's number.
    pub number: Id,
}

impl SerialId {
    /// Reads `ITEM/NUMBER`.
    pub fn parse(text: &str) -> Option<SerialId> {
        let (item, number) = text.split_once('/')?;
        let fits = Id::is_valid(item) && !number.is_empty() && !number.contains('/') && number.trim() == number;
        fits.then(|| SerialId { item: Id::new(item), number: Id::new(number) })
    }
}

impl fmt::Display for SerialId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.item, self.number)
    }
}
