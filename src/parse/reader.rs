//! Typed reading of TOML tables, with every complaint located.
//!
//! A [`Reader`] hands out the values of one table by key, remembers which keys were asked for, and reports the rest as
//! unknown with the key that was probably meant. A value of the wrong type is reported and treated as absent.

use std::cell::{Cell, RefCell};
use std::ops::Range;

use crate::diag::{Finding, Findings};
use crate::id::{Id, SerialId};
use crate::text::{FileId, Span, Spanned, nearest};

use super::Moment;
use super::tree::{Key, Node, Table, Value as Toml};

/// A number or a string, as written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Scalar {
    /// A bare number, in the text that was written.
    Number(String),
    /// A quoted string.
    Text(String),
}

impl Scalar {
    /// The text, whichever it is.
    pub fn text(&self) -> &str {
        match self {
            Scalar::Number(text) | Scalar::Text(text) => text,
        }
    }
}

/// Collects no more than `count` things without room for others: what is read here stays for as long as the project does.
fn at_most<T>(count: usize, things: impl Iterator<Item = T>) -> Vec<T> {
    let mut list = Vec::with_capacity(count);
    list.extend(things);
    list
}

/// One table being read.
pub struct Reader<'r> {
    table: &'r Table<'r>,
    span: Span,
    /// Words for the table in messages: `requirement`, `[[verify]]`.
    name: &'static str,
    file: FileId,
    base: usize,
    findings: &'r RefCell<Findings>,
    /// The keys that were asked for.
    asked: RefCell<Vec<&'static str>>,
    /// Which of the first 64 keys that are there were asked for, a bit for each.
    found: Cell<u64>,
    all_asked: Cell<bool>,
    /// Which of [`sort_of`] its keys are, a bit for each.
    sorts: u64,
}

/// Sorts texts roughly into 64: most of the keys that a table may have are not in it, and this tells it of most of them without a search.
fn sort_of(key: &str) -> u64 {
    let (first, last) = (key.as_bytes().first(), key.as_bytes().last());
    let sum = key.len() + 5 * usize::from(first.copied().unwrap_or(0)) + 11 * usize::from(last.copied().unwrap_or(0));
    1 << (sum % 64)
}

impl<'r> Reader<'r> {
    /// Reads `table`, which stands at `span`, in a TOML text that starts at `base` of `file`.
    pub fn new(
        table: &'r Table<'r>,
        span: Span,
        base: usize,
        name: &'static str,
        findings: &'r RefCell<Findings>,
    ) -> Self {
        let asked = RefCell::new(Vec::new());
        let sorts = table.entries().fold(0, |sorts, (key, _)| sorts | sort_of(key.text()));
        let (found, all_asked) = (Cell::new(0), Cell::new(false));
        Reader { table, span, name, file: span.file, base, findings, asked, found, all_asked, sorts }
    }

    /// The same reader with other words for its table in messages.
    #[must_use]
    pub fn named_as(mut self, name: &'static str) -> Self {
        self.name = name;
        self
    }

    /// Where the table stands.
    pub fn span(&self) -> Span {
        self.span
    }

    /// Adds a finding.
    pub fn report(&self, finding: Finding) {
        self.findings.borrow_mut().push(finding);
    }

    fn place(&self, range: Range<usize>) -> Span {
        Span::new(self.file, self.base + range.start..self.base + range.end)
    }

    fn position(&self, key: &str) -> Option<usize> {
        let may_be = self.sorts & sort_of(key) != 0;
        may_be.then(|| self.table.position(key)).flatten()
    }

    fn entry(&self, key: &str) -> Option<(&'r Key<'r>, &'r Node<'r>)> {
        self.table.at(self.position(key)?)
    }

    fn value(&self, key: &str) -> Option<&'r Toml<'r>> {
        self.entry(key).map(|(_, value)| &value.value)
    }

    fn find(&self, key: &'static str) -> Option<(Span, &'r Node<'r>)> {
        let mut asked = self.asked.borrow_mut();
        if asked.capacity() == 0 {
            // Whoever reads a table of many keys asks for all that there may be.
            asked.reserve_exact(if self.table.len() > 4 { 40 } else { 8 });
        }
        asked.push(key);
        let at = self.position(key)?;
        self.found.set(self.found.get() | u32::try_from(at).ok().and_then(|at| 1_u64.checked_shl(at)).unwrap_or(0));
        let (name, value) = self.table.at(at)?;
        Some((self.place(name.span()), value))
    }

    /// Whether the key is there, whatever it holds.
    pub fn has(&self, key: &str) -> bool {
        self.entry(key).is_some()
    }

    /// Where a key's name stands.
    pub fn key_span(&self, key: &str) -> Option<Span> {
        self.entry(key).map(|(name, _)| self.place(name.span()))
    }

    fn wrong(&self, key: &str, value: &Node<'_>, expected: &str) {
        let found = value.value.type_str();
        self.report(
            Finding::at("wrong-type", self.place(value.span()), format!("`{key}` holds {} {found}", article(found)))
                .label(format!("expected {expected}"))
                .help(format!("write {expected} for `{key}`")),
        );
    }

    /// A string.
    pub fn text(&self, key: &'static str) -> Option<Spanned<String>> {
        let (_, value) = self.find(key)?;
        self.as_text(key, value)
    }

    fn as_text(&self, key: &str, value: &'r Node<'r>) -> Option<Spanned<String>> {
        self.as_words(key, value).map(|text| Spanned::new(text.value.to_string(), text.span))
    }

    /// A string, not copied.
    fn words(&self, key: &'static str) -> Option<Spanned<&'r str>> {
        let (_, value) = self.find(key)?;
        self.as_words(key, value)
    }

    fn as_words(&self, key: &str, value: &'r Node<'r>) -> Option<Spanned<&'r str>> {
        match &value.value {
            Toml::String(text) if !text.trim().is_empty() => Some(Spanned::new(text, self.place(value.span()))),
            Toml::String(_) => {
                self.report(Finding::at("empty-value", self.place(value.span()), format!("`{key}` is empty")));
                None
            }
            _ => {
                self.wrong(key, value, "a quoted string");
                None
            }
        }
    }

    /// A string that must be there.
    pub fn required_text(&self, key: &'static str) -> Option<Spanned<String>> {
        if !self.has(key) {
            self.missing(key);
        }
        self.text(key)
    }

    /// Reports a key that must be there and is not.
    pub fn missing(&self, key: &str) {
        self.report(
            Finding::at("missing-key", self.span, format!("this {} has no `{key}`", self.name))
                .help(format!("add `{key} = …` to it")),
        );
    }

    /// A string or a list of strings.
    pub fn list(&self, key: &'static str) -> Vec<Spanned<String>> {
        self.list_of(key, |text| Some(text.value.to_string()))
    }

    /// What `read` makes of a string or of each of a list of strings.
    fn list_of<T>(&self, key: &'static str, read: impl Fn(&Spanned<&'r str>) -> Option<T>) -> Vec<Spanned<T>> {
        match self.find(key) {
            None => Vec::new(),
            Some((_, value)) => self.strings_of(key, value, read),
        }
    }

    fn strings_of<T>(
        &self,
        key: &str,
        value: &'r Node<'r>,
        read: impl Fn(&Spanned<&'r str>) -> Option<T>,
    ) -> Vec<Spanned<T>> {
        let one = |element| {
            let text = self.as_words(key, element)?;
            read(&text).map(|made| Spanned::new(made, text.span))
        };
        match &value.value {
            Toml::Array(array) => at_most(array.len(), array.iter().filter_map(one)),
            Toml::String(_) => at_most(1, one(value).into_iter()),
            _ => {
                self.wrong(key, value, "a string or a list of strings");
                Vec::new()
            }
        }
    }

    /// A list of ids that must hold at least one if it is there: of nothing nothing would be asked.
    pub fn some_ids(&self, key: &'static str) -> Vec<Spanned<Id>> {
        self.not_an_empty_list(key);
        self.ids(key)
    }

    /// A list of strings that must hold at least one if it is there.
    pub fn some_list(&self, key: &'static str) -> Vec<Spanned<String>> {
        self.not_an_empty_list(key);
        self.list(key)
    }

    fn not_an_empty_list(&self, key: &'static str) {
        let Some((_, value)) = self.entry(key) else { return };
        if matches!(&value.value, Toml::Array(array) if array.is_empty()) {
            let text = format!("`{key}` is an empty list");
            self.report(Finding::at("empty-value", self.place(value.span()), text));
        }
    }

    /// A list of ids.
    pub fn ids(&self, key: &'static str) -> Vec<Spanned<Id>> {
        self.list_of(key, |text| Some(Id::new(text.value)))
    }

    /// One id.
    pub fn id(&self, key: &'static str) -> Option<Spanned<Id>> {
        self.words(key).map(|text| Spanned::new(Id::new(text.value), text.span))
    }

    /// One serial `ITEM/NUMBER`; a text of another form is reported.
    pub fn serial(&self, key: &'static str) -> Option<Spanned<SerialId>> {
        let text = self.words(key)?;
        self.as_serial(&text).map(|serial| Spanned::new(serial, text.span))
    }

    /// A list of serials `ITEM/NUMBER`; a text of another form is reported.
    pub fn serials(&self, key: &'static str) -> Vec<Spanned<SerialId>> {
        self.list_of(key, |text| self.as_serial(text))
    }

    fn as_serial(&self, text: &Spanned<&str>) -> Option<SerialId> {
        let serial = SerialId::parse(text.value);
        if serial.is_none() {
            let message = format!("\"{}\" does not name one piece of an item", text.value);
            self.report(
                Finding::at("not-a-serial", text.span, message).help("write ITEM/NUMBER, such as \"MOV/SN02\""),
            );
        }
        serial
    }

    /// A number or a string.
    pub fn scalar(&self, key: &'static str) -> Option<Spanned<Scalar>> {
        let (_, value) = self.find(key)?;
        self.as_scalar(key, value)
    }

    /// A list of numbers and strings; one alone is a list of one.
    pub fn scalars(&self, key: &'static str) -> Vec<Spanned<Scalar>> {
        let Some((_, value)) = self.find(key) else { return Vec::new() };
        match &value.value {
            Toml::Array(array) => at_most(array.len(), array.iter().filter_map(|element| self.as_scalar(key, element))),
            _ => self.as_scalar(key, value).into_iter().collect(),
        }
    }

    fn as_scalar(&self, key: &str, value: &Node<'_>) -> Option<Spanned<Scalar>> {
        let scalar = match &value.value {
            Toml::String(text) if text.trim().is_empty() => {
                self.report(Finding::at("empty-value", self.place(value.span()), format!("`{key}` is empty")));
                return None;
            }
            Toml::String(text) => Scalar::Text(text.to_string()),
            Toml::Integer(number, 10) => Scalar::Number(number.to_string()),
            Toml::Float(number) => Scalar::Number(number.to_string()),
            _ => {
                self.wrong(key, value, "a number or a quoted quantity");
                return None;
            }
        };
        Some(Spanned::new(scalar, self.place(value.span())))
    }

    /// A whole number, zero or more.
    pub fn count(&self, key: &'static str) -> Option<Spanned<u64>> {
        let (_, value) = self.find(key)?;
        let number = match &value.value {
            Toml::Integer(number, 10) => number.replace('_', "").parse().ok(),
            _ => None,
        };
        if number.is_none() {
            self.wrong(key, value, "a whole number");
        }
        number.map(|number| Spanned::new(number, self.place(value.span())))
    }

    /// True or false.
    pub fn flag(&self, key: &'static str) -> Option<Spanned<bool>> {
        let (_, value) = self.find(key)?;
        let Toml::Boolean(flag) = &value.value else {
            self.wrong(key, value, "true or false");
            return None;
        };
        Some(Spanned::new(*flag, self.place(value.span())))
    }

    /// One word out of a list; another is reported with the nearest.
    pub fn choice<T: Copy>(&self, key: &'static str, choices: &[(&str, T)]) -> Option<Spanned<T>> {
        let text = self.words(key)?;
        if let Some((_, value)) = choices.iter().find(|(word, _)| *word == text.value) {
            return Some(Spanned::new(*value, text.span));
        }
        let words: Vec<&str> = choices.iter().map(|(word, _)| *word).collect();
        let help = match nearest(text.value, words.iter().copied()) {
            Some(word) => format!("did you mean \"{word}\"? it takes one of: {}", words.join(", ")),
            None => format!("write one of: {}", words.join(", ")),
        };
        self.report(Finding::at("unknown-word", text.span, format!("`{key}` cannot be \"{}\"", text.value)).help(help));
        None
    }

    /// A date or a date-time.
    pub fn date(&self, key: &'static str) -> Option<Spanned<Moment>> {
        let (_, value) = self.find(key)?;
        let Toml::Datetime(written) = &value.value else {
            self.wrong(key, value, "a date without quotes, such as 2026-03-14");
            return None;
        };
        let moment = Moment::read(written);
        if moment.is_none() {
            self.report(
                Finding::at(
                    "no-such-date",
                    self.place(value.span()),
                    format!("`{key}` holds {written}, which is no date"),
                )
                .help("write a day that exists, as 2026-03-14 or 2026-03-14T09:30:00"),
            );
        }
        moment.map(|moment| Spanned::new(moment, self.place(value.span())))
    }

    /// A table inside this one.
    pub fn table(&self, key: &'static str, name: &'static str) -> Option<Reader<'r>> {
        let (key_span, value) = self.find(key)?;
        self.as_table(key, key_span, value, name)
    }

    fn as_table(&self, key: &str, at: Span, value: &'r Node<'r>, name: &'static str) -> Option<Reader<'r>> {
        match &value.value {
            Toml::Table(table) => Some(Reader::new(table, at, self.base, name, self.findings)),
            _ => {
                self.wrong(key, value, "a table");
                None
            }
        }
    }

    /// An array of tables: `[[key]]` or `key = [{…}]`.
    pub fn tables(&self, key: &'static str, name: &'static str) -> Vec<Reader<'r>> {
        let Some((key_span, value)) = self.find(key) else { return Vec::new() };
        let Toml::Array(array) = &value.value else {
            self.wrong(key, value, "a list of tables");
            return Vec::new();
        };
        let tables = array.iter().filter_map(|element| {
            let span = self.place(element.span());
            let span = if span.start == span.end { key_span } else { span };
            self.as_table(key, span, element, name)
        });
        at_most(array.len(), tables)
    }

    /// Whether a key holds an array whose elements are tables (as against plain strings).
    pub fn holds_tables(&self, key: &str) -> bool {
        match self.value(key) {
            Some(Toml::Array(array)) => {
                array.iter().next().is_some_and(|first| super::front_matter::is_table(&first.value))
            }
            _ => false,
        }
    }

    /// Whether a key holds an array.
    pub fn holds_list(&self, key: &str) -> bool {
        matches!(self.value(key), Some(Toml::Array(_)))
    }

    /// Whether a key holds a table.
    pub fn holds_table(&self, key: &str) -> bool {
        self.value(key).is_some_and(super::front_matter::is_table)
    }

    /// A table whose keys are names: each with a table, in the order of the names.
    pub fn named_tables(&self, key: &'static str, name: &'static str) -> Vec<(Spanned<String>, Reader<'r>)> {
        let Some(outer) = self.table(key, name) else { return Vec::new() };
        outer.each_table(name)
    }

    /// Every key of this table with the table it holds.
    pub fn each_table(&self, name: &'static str) -> Vec<(Spanned<String>, Reader<'r>)> {
        self.all_asked.set(true);
        let entries = self.table.entries().filter_map(|(key, value)| {
            let at = self.place(key.span());
            let reader = self.as_table(key.text(), at, value, name)?;
            Some((Spanned::new(key.text().to_string(), at), reader))
        });
        at_most(self.table.len(), entries)
    }

    /// A table whose keys are names, each with a string.
    pub fn named_texts(&self, key: &'static str) -> Vec<(Spanned<String>, Spanned<String>)> {
        let Some(outer) = self.table(key, "table") else { return Vec::new() };
        let entries = outer.table.entries().filter_map(|(name, value)| {
            let text = outer.as_text(name.text(), value)?;
            Some((Spanned::new(name.text().to_string(), outer.place(name.span())), text))
        });
        at_most(outer.table.len(), entries)
    }

    /// A table whose keys are names, each with what `read` makes of it.
    pub fn named<T>(
        &self,
        key: &'static str,
        read: impl Fn(&Self, &str, Value<'r>) -> Option<T>,
    ) -> Vec<(Spanned<String>, T)> {
        let Some(outer) = self.table(key, "table") else { return Vec::new() };
        let entries = outer.table.entries().filter_map(|(name, value)| {
            let made = read(&outer, name.text(), Value(value))?;
            Some((Spanned::new(name.text().to_string(), outer.place(name.span())), made))
        });
        at_most(outer.table.len(), entries)
    }

    /// What `read` makes of one key's value.
    pub fn with<T>(&self, key: &'static str, read: impl Fn(&Self, &str, Value<'r>) -> Option<T>) -> Option<T> {
        let (_, value) = self.find(key)?;
        read(self, key, Value(value))
    }

    /// The value as a number or a string; reports anything else.
    pub fn value_scalar(&self, key: &str, value: Value<'r>) -> Option<Spanned<Scalar>> {
        self.as_scalar(key, value.0)
    }

    /// The value as strings; reports anything else.
    pub fn value_strings(&self, key: &str, value: Value<'r>) -> Vec<Spanned<String>> {
        self.strings_of(key, value.0, |text| Some(text.value.to_string()))
    }

    /// The value as a table, if it is one.
    pub fn value_table(&self, key: &str, value: Value<'r>, name: &'static str) -> Option<Reader<'r>> {
        self.as_table(key, self.place(value.0.span()), value.0, name)
    }

    /// Whether each key of the table was asked for, told without comparing names; `false` leaves it open.
    fn are_all_found(&self) -> bool {
        self.found.get().count_ones() as usize == self.table.len()
    }

    /// Reports every key that nobody asked for; `elsewhere` are keys that belong one level up.
    pub fn finish(self, elsewhere: &[&str]) {
        if self.all_asked.get() || self.are_all_found() {
            return;
        }
        let mut asked = self.asked.borrow_mut();
        // Those that are not there first: one of them is meant by a key that nobody knows.
        asked.sort_unstable_by_key(|key| (self.position(key), *key));
        asked.dedup();
        for (key, _) in self.table.entries() {
            let name = key.text();
            if asked.contains(&name) {
                continue;
            }
            let span = self.place(key.span());
            let help = if elsewhere.contains(&name) {
                format!("`{name}` is inside {}; move it above the line where {} starts", self.name, self.name)
            } else if let Some(meant) = nearest(name, asked.iter().copied()) {
                format!("did you mean `{meant}`?")
            } else {
                let mut known: Vec<&str> = asked.clone();
                known.sort_unstable();
                format!("remove it, or use one of: {}", known.join(", "))
            };
            self.report(
                Finding::at("unknown-key", span, format!("`{name}` is not a key of this {}", self.name)).help(help),
            );
        }
    }
}

/// A value handed to a closure of [`Reader::named`].
#[derive(Clone, Copy)]
pub struct Value<'r>(&'r Node<'r>);

impl<'r> Value<'r> {
    /// Whether it is a table.
    pub fn is_table(self) -> bool {
        super::front_matter::is_table(&self.0.value)
    }
}

/// The word of a value in a table of words.
pub fn word_of<T: PartialEq>(words: &[(&'static str, T)], value: T) -> &'static str {
    words.iter().find(|(_, candidate)| *candidate == value).map_or("", |(word, _)| word)
}

fn article(word: &str) -> &'static str {
    if word.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" }
}
