//! TOML as it was written: tables, lists and scalars, each with its place, borrowed from the text.
//!
//! The grammar is the library's, all of it. Its own tree is made of ordered maps that are read once and thrown away, which was a
//! sixth of the time that a large project takes; this one is flat lists. What is unusual, and each text with a fault, is read
//! by the library and taken over from there, so that there is one judge of what is TOML and one wording of what is wrong.

mod build;
mod taken;
#[cfg(test)]
mod tests;

use std::borrow::Cow;
use std::ops::Range;

use toml::de::DeTable;
use toml::value::Datetime;

/// Of so many keys each is looked at sooner than that one is searched for.
const FEW: usize = 32;

/// A table; its entries in byte order of their keys, each key once.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table<'t> {
    entries: Vec<Entry<'t>>,
    form: Form,
}

/// How a table was written: what decides whether it can be added to further down.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Form {
    /// Under a header of its own, or of one below it; and the whole text.
    #[default]
    Headed,
    /// By a dotted key: `conditions.body = …`.
    Dotted,
    /// Between braces.
    Inline,
}

#[derive(Clone, Debug, PartialEq)]
struct Entry<'t> {
    key: Key<'t>,
    node: Node<'t>,
}

/// A key, without quotes, and where it was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Key<'t> {
    text: Cow<'t, str>,
    place: Place,
}

/// A value and where it was written.
#[derive(Clone, Debug, PartialEq)]
pub struct Node<'t> {
    /// The value.
    pub value: Value<'t>,
    place: Place,
}

/// A value of TOML. Numbers are kept as text: what is made of them is not for TOML to say.
#[derive(Clone, Debug, PartialEq)]
pub enum Value<'t> {
    /// Text, decoded.
    String(Cow<'t, str>),
    /// Digits with their sign and without a prefix, and their base: 2, 8, 10 or 16.
    Integer(Cow<'t, str>, u32),
    /// A number with a fraction or an exponent, as written.
    Float(Cow<'t, str>),
    /// True or false.
    Boolean(bool),
    /// A date, a time or both.
    Datetime(Datetime),
    /// A list.
    Array(Array<'t>),
    /// A table.
    Table(Table<'t>),
}

/// A list of values.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Array<'t> {
    nodes: Vec<Node<'t>>,
    /// Whether it was written as `[[…]]`, so that further tables of it may follow.
    headed: bool,
}

/// Bytes of the text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Place {
    start: u32,
    end: u32,
}

impl Place {
    /// A place in a text; its bytes are counted in 32 bits as files larger than that are refused.
    fn new(range: Range<usize>) -> Place {
        let clamp = |offset: usize| u32::try_from(offset).unwrap_or(u32::MAX);
        Place { start: clamp(range.start), end: clamp(range.end) }
    }

    fn range(self) -> Range<usize> {
        self.start as usize..self.end as usize
    }
}

impl<'t> Table<'t> {
    /// Reads a whole text; none if it holds something unusual or a fault, for the library to tell.
    pub(super) fn plain(text: &'t str) -> Option<Table<'t>> {
        build::table(text)
    }

    /// Takes over what the library read, and says where what nests too deep and is left out begins, if there is any.
    pub(super) fn taken(table: DeTable<'t>) -> (Table<'t>, Option<Range<usize>>) {
        taken::table(table)
    }

    /// A key as it was written, with what it holds.
    pub fn get(&self, key: &str) -> Option<(&Key<'t>, &Node<'t>)> {
        self.at(self.position(key)?)
    }

    /// Where a key comes among the keys in byte order, counted from 0.
    pub fn position(&self, key: &str) -> Option<usize> {
        // Most that are asked for are not there, which their lengths nearly always tell.
        if self.entries.len() <= FEW {
            return self.entries.iter().position(|entry| entry.key.text() == key);
        }
        self.entries.binary_search_by(|entry| entry.key.text().cmp(key)).ok()
    }

    /// The key at such a place, with what it holds.
    pub fn at(&self, at: usize) -> Option<(&Key<'t>, &Node<'t>)> {
        self.entries.get(at).map(|entry| (&entry.key, &entry.node))
    }

    /// Its keys with what they hold, in byte order.
    pub fn entries(&self) -> impl Iterator<Item = (&Key<'t>, &Node<'t>)> {
        self.entries.iter().map(|entry| (&entry.key, &entry.node))
    }

    /// How many keys it has.
    pub fn len(&self) -> usize {
        self.entries.len()
    }

    /// Whether it has none.
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }
}

impl Key<'_> {
    /// The key, without quotes.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Its bytes in the text, quotes included.
    pub fn span(&self) -> Range<usize> {
        self.place.range()
    }
}

impl Node<'_> {
    /// Its bytes in the text: of a table with a header those of the header, of one that only headers below it name those of its name.
    pub fn span(&self) -> Range<usize> {
        self.place.range()
    }
}

impl Value<'_> {
    /// Whether both hold the same, wherever and however it is written.
    pub fn says_the_same(&self, other: &Value<'_>) -> bool {
        match (self, other) {
            (Value::Array(one), Value::Array(other)) => {
                one.len() == other.len() && one.iter().zip(other.iter()).all(|(a, b)| a.value.says_the_same(&b.value))
            }
            (Value::Table(one), Value::Table(other)) => {
                let mut pairs = one.entries().zip(other.entries());
                one.len() == other.len()
                    && pairs.all(|((a, of_a), (b, of_b))| a.text() == b.text() && of_a.value.says_the_same(&of_b.value))
            }
            // Neither holds a place.
            (one, other) => one == other,
        }
    }

    /// What it is called in a message.
    pub fn type_str(&self) -> &'static str {
        match self {
            Value::String(_) => "string",
            Value::Integer(..) => "integer",
            Value::Float(_) => "float",
            Value::Boolean(_) => "boolean",
            Value::Datetime(_) => "datetime",
            Value::Array(_) => "array",
            Value::Table(_) => "table",
        }
    }
}

impl<'t> std::ops::Deref for Array<'t> {
    type Target = [Node<'t>];

    fn deref(&self) -> &[Node<'t>] {
        &self.nodes
    }
}
