//! From what the library's parser meets in a text to a tree.
//!
//! A table can be added to only by what follows it at once: `[[verify]]` after `[[verify]]`, `[a.c]` after `[a.b]`. Each other
//! way of coming back to a table leaves its key twice in one list, which is noticed when the keys are sorted, and is the
//! library's to read.

use std::borrow::Cow;
use std::ops::Range;

use toml::value::Datetime;
use toml_parser::decoder::{Encoding, ScalarKind};
use toml_parser::parser::{EventReceiver, parse_document};
use toml_parser::{ErrorSink, ParseError, Raw, Source, Span};

use super::{Array, Entry, Form, Key, Node, Place, Table, Value};

/// How deep lists, tables and the parts of keys may nest here, and of how many parts a header may be.
const DEEPEST: usize = 32;
/// How many keys most files have before their first header, at most.
const USUAL: usize = 16;

/// Reads a text; none: something in it is unusual or wrong.
pub(super) fn table(text: &str) -> Option<Table<'_>> {
    if u32::try_from(text.len()).is_err() {
        return None;
    }
    let source = Source::new(text);
    let mut builder = Builder::new(source);
    let mut faults = 0;
    parse_document(&source.lex().into_vec(), &mut builder, &mut |_: ParseError| faults += 1);
    if faults == 0 { builder.finish() } else { None }
}

struct Builder<'t> {
    source: Source<'t>,
    root: Table<'t>,
    /// The header above, once it is complete.
    header: Option<Header<'t>>,
    /// What stands under it so far.
    under: Table<'t>,
    /// The parts of the key that is being read.
    key: Vec<Key<'t>>,
    /// Lists and inline tables that are not closed, the innermost last.
    open: Vec<Open<'t>>,
    /// Whether the library has to read the text instead.
    unusual: bool,
}

struct Header<'t> {
    keys: Vec<Key<'t>>,
    start: usize,
    place: Place,
    of_list: bool,
}

/// A list or an inline table in the making.
struct Open<'t> {
    /// The key that holds it; none in a list.
    key: Vec<Key<'t>>,
    start: usize,
    /// Its value so far.
    value: Value<'t>,
}

impl<'t> Builder<'t> {
    fn new(source: Source<'t>) -> Builder<'t> {
        Builder {
            source,
            root: Table::default(),
            header: None,
            under: Table { entries: Vec::with_capacity(USUAL), form: Form::Headed },
            key: Vec::new(),
            open: Vec::new(),
            unusual: false,
        }
    }

    /// The whole tree, sorted.
    fn finish(mut self) -> Option<Table<'t>> {
        self.close_header();
        let sorted = !self.unusual && self.open.is_empty() && sort(&mut self.root);
        sorted.then_some(self.root)
    }

    fn raw(&mut self, span: Span, encoding: Option<Encoding>) -> Option<Raw<'t>> {
        let raw = self.source.input().get(span.start()..span.end());
        self.unusual |= raw.is_none();
        raw.map(|raw| Raw::new_unchecked(raw, encoding, span))
    }

    /// Puts what stood under the last header into its place.
    fn close_header(&mut self) {
        let under = std::mem::take(&mut self.under);
        let Some(mut header) = self.header.take() else {
            self.root = under;
            return;
        };
        let Some(last) = header.keys.pop() else {
            self.unusual = true;
            return;
        };
        let node = Node { value: Value::Table(under), place: header.place };
        let mut above = header.keys.drain(..);
        let parent = above.try_fold(&mut self.root, |table, key| table.below(key, Form::Headed));
        let placed = parent.is_some_and(|parent| match parent.last_as(&last) {
            None if header.of_list => {
                let array = Array { nodes: vec![node], headed: true };
                parent
                    .entries
                    .push(Entry { key: last, node: Node { value: Value::Array(array), place: header.place } });
                true
            }
            None => {
                parent.entries.push(Entry { key: last, node });
                true
            }
            Some(Value::Array(array)) if header.of_list && array.headed => {
                array.nodes.push(node);
                true
            }
            Some(_) => false,
        });
        drop(above);
        self.unusual |= !placed;
        self.use_again(header.keys);
    }

    /// Puts a value where it belongs: into the list that is open, or under its key.
    fn place(&mut self, key: Vec<Key<'t>>, node: Node<'t>) {
        let mut keys = key;
        let last = keys.pop();
        let placed = match (self.open.last_mut().map(|open| &mut open.value), last) {
            (Some(Value::Array(array)), None) => {
                array.nodes.push(node);
                true
            }
            (Some(Value::Table(table)), Some(last)) => table.put(keys.drain(..), last, node),
            (None, Some(last)) => self.under.put(keys.drain(..), last, node),
            _ => false,
        };
        self.unusual |= !placed;
        self.use_again(keys);
    }

    /// Keeps a list for the next keys: one for each key of each file would be most of what is asked of memory here.
    fn use_again(&mut self, mut keys: Vec<Key<'t>>) {
        if self.key.capacity() == 0 {
            keys.clear();
            self.key = keys;
        }
    }

    fn open(&mut self, value: Value<'t>, span: Span) -> bool {
        self.unusual |= self.depth() >= DEEPEST;
        if self.unusual {
            return false;
        }
        let key = std::mem::take(&mut self.key);
        self.open.push(Open { key, start: span.start(), value });
        true
    }

    /// How deep the value stands whose key is being read, as far as it is.
    fn depth(&self) -> usize {
        self.open.iter().map(|open| 1 + open.key.len()).sum::<usize>() + self.key.len()
    }

    fn close(&mut self, span: Span) {
        let Some(open) = self.open.pop() else {
            self.unusual = true;
            return;
        };
        let place = Place::new(open.start..span.end());
        self.place(open.key, Node { value: open.value, place });
    }

    fn open_header(&mut self, span: Span, of_list: bool) {
        self.close_header();
        self.key.clear();
        let start = span.start();
        self.header = Some(Header { keys: Vec::new(), start, place: Place::new(start..span.end()), of_list });
    }

    fn end_header(&mut self, span: Span) {
        let keys = std::mem::take(&mut self.key);
        match &mut self.header {
            Some(header) => {
                header.place = Place::new(header.start..span.end());
                header.keys = keys;
            }
            None => self.unusual = true,
        }
    }
}

impl<'t> Table<'t> {
    /// Adds what a key holds, the parts before its last one given apart; `false`: one of them leads to something else.
    fn put(&mut self, mut before: impl Iterator<Item = Key<'t>>, key: Key<'t>, node: Node<'t>) -> bool {
        let parent = before.try_fold(self, |table, key| table.below(key, Form::Dotted));
        parent.map(|parent| parent.entries.push(Entry { key, node })).is_some()
    }

    /// The value of the last entry, if that has this key.
    fn last_as(&mut self, key: &Key<'_>) -> Option<&mut Value<'t>> {
        self.entries.last_mut().filter(|last| last.key.text == key.text).map(|last| &mut last.node.value)
    }

    /// The table of this form that a part of a key leads to; made if the last entry is another. None: the last entry is no such table.
    fn below(&mut self, key: Key<'t>, form: Form) -> Option<&mut Table<'t>> {
        if self.last_as(&key).is_none() {
            let node = Node { value: Value::Table(Table { entries: Vec::new(), form }), place: key.place };
            self.entries.push(Entry { key, node });
        }
        let table = match &mut self.entries.last_mut()?.node.value {
            Value::Table(table) => table,
            Value::Array(array) if array.headed => match &mut array.nodes.last_mut()?.value {
                Value::Table(table) => table,
                _ => return None,
            },
            _ => return None,
        };
        (table.form == form).then_some(table)
    }
}

/// Sorts the keys of a table and of all in it; `false`: one is there twice.
fn sort(table: &mut Table<'_>) -> bool {
    let entries = &mut table.entries;
    if !entries.is_sorted_by(|one, other| one.key.text < other.key.text) {
        entries.sort_unstable_by(|one, other| one.key.text.cmp(&other.key.text));
        if entries.windows(2).any(|pair| pair[0].key.text == pair[1].key.text) {
            return false;
        }
    }
    entries.iter_mut().all(|entry| sort_in(&mut entry.node.value))
}

fn sort_in(value: &mut Value<'_>) -> bool {
    match value {
        Value::Table(table) => sort(table),
        Value::Array(array) => array.nodes.iter_mut().all(|node| sort_in(&mut node.value)),
        _ => true,
    }
}

fn range(span: Span) -> Range<usize> {
    span.start()..span.end()
}

impl EventReceiver for Builder<'_> {
    fn std_table_open(&mut self, span: Span, _: &mut dyn ErrorSink) {
        self.open_header(span, false);
    }

    fn std_table_close(&mut self, span: Span, _: &mut dyn ErrorSink) {
        self.end_header(span);
    }

    fn array_table_open(&mut self, span: Span, _: &mut dyn ErrorSink) {
        self.open_header(span, true);
    }

    fn array_table_close(&mut self, span: Span, _: &mut dyn ErrorSink) {
        self.end_header(span);
    }

    fn inline_table_open(&mut self, span: Span, _: &mut dyn ErrorSink) -> bool {
        self.open(Value::Table(Table { entries: Vec::new(), form: Form::Inline }), span)
    }

    fn inline_table_close(&mut self, span: Span, _: &mut dyn ErrorSink) {
        self.close(span);
    }

    fn array_open(&mut self, span: Span, _: &mut dyn ErrorSink) -> bool {
        self.open(Value::Array(Array::default()), span)
    }

    fn array_close(&mut self, span: Span, _: &mut dyn ErrorSink) {
        self.close(span);
    }

    fn simple_key(&mut self, span: Span, encoding: Option<Encoding>, faults: &mut dyn ErrorSink) {
        self.unusual |= self.depth() >= DEEPEST;
        // No more of it is kept: what is made of very many parts could not be let go of again.
        let Some(raw) = self.raw(span, encoding).filter(|_| !self.unusual) else { return };
        let mut text = Cow::Borrowed("");
        raw.decode_key(&mut text, faults);
        self.key.push(Key { text, place: Place::new(range(span)) });
    }

    fn scalar(&mut self, span: Span, encoding: Option<Encoding>, faults: &mut dyn ErrorSink) {
        let Some(raw) = self.raw(span, encoding).filter(|_| !self.unusual) else { return };
        let mut text = Cow::Borrowed("");
        let value = match raw.decode_scalar(&mut text, faults) {
            ScalarKind::String => Value::String(text),
            ScalarKind::Boolean(flag) => Value::Boolean(flag),
            ScalarKind::Float => Value::Float(text),
            ScalarKind::Integer(base) => Value::Integer(text, base.value()),
            ScalarKind::DateTime => match text.parse::<Datetime>() {
                Ok(date) => Value::Datetime(date),
                Err(_) => {
                    self.unusual = true;
                    return;
                }
            },
        };
        let key = std::mem::take(&mut self.key);
        self.place(key, Node { value, place: Place::new(range(span)) });
    }

    fn comment(&mut self, span: Span, faults: &mut dyn ErrorSink) {
        if let Some(raw) = self.raw(span, None) {
            raw.decode_comment(faults);
        }
    }

    fn newline(&mut self, span: Span, faults: &mut dyn ErrorSink) {
        if let Some(raw) = self.raw(span, None) {
            raw.decode_newline(faults);
        }
    }

    fn error(&mut self, _: Span, _: &mut dyn ErrorSink) {
        self.unusual = true;
    }
}
