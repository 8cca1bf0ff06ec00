//! Where each header, key and value of a front matter stands.

use std::collections::BTreeMap;
use std::ops::Range;

use toml_parser::parser::{Event, EventKind, RecursionGuard, parse_document};
use toml_parser::{ParseError, Source, Span};

use super::EditError;

/// One step of a path: a key, or the place in a list of tables.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Step {
    /// A key.
    Key(String),
    /// An element, from 0.
    Index(usize),
}

/// A header, or a key with its value.
#[derive(Debug)]
pub(super) struct Statement {
    /// The whole path.
    pub path: Vec<Step>,
    /// The lines it takes up, line end included; bytes of the file.
    pub lines: Range<usize>,
    /// For a key: its value. None for a header.
    pub value: Option<Value>,
    /// For a key: the statement that is the header above it.
    pub section: Option<usize>,
}

/// A value and what it is made of.
#[derive(Debug)]
pub(super) struct Value {
    /// Bytes of the file.
    pub span: Range<usize>,
    /// What it is.
    pub shape: Shape,
}

/// What a value is made of.
#[derive(Debug)]
pub(super) enum Shape {
    /// One token.
    Scalar,
    /// `[…]`, and where a further element can go.
    Array(Vec<Value>, Room),
    /// `{…}` by keys, and where a further key can go.
    Table(Vec<(Vec<String>, Value)>, Room),
}

/// Where something can be added inside brackets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Room {
    /// There is nothing inside yet.
    Empty(usize),
    /// After the last element.
    After(usize),
    /// After the comma that follows the last element.
    AfterComma(usize),
}

/// The statements of a front matter, in their order.
#[derive(Debug)]
pub(super) struct Outline {
    pub statements: Vec<Statement>,
    /// The front matter's bytes in the file.
    pub range: Range<usize>,
}

/// How deep lists and tables may nest in a file that is edited.
const DEEPEST: u32 = 64;

impl Outline {
    /// Finds every statement of the front matter that takes up `range` of `text`.
    pub fn read(text: &str, range: Range<usize>) -> Result<Outline, EditError> {
        let front = text.get(range.clone()).unwrap_or("");
        let source = Source::new(front);
        let tokens = source.lex().into_vec();
        let mut events: Vec<Event> = Vec::new();
        let mut errors: Vec<ParseError> = Vec::new();
        parse_document(&tokens, &mut RecursionGuard::new(&mut events, DEEPEST), &mut errors);
        if !errors.is_empty() {
            return Err(EditError {
                message: "its front matter cannot be read as TOML".into(),
                type_this: "mend what slipmark check reports first".into(),
            });
        }
        let dull = |kind| matches!(kind, EventKind::Whitespace | EventKind::Comment | EventKind::Newline);
        events.retain(|event| !dull(event.kind()));
        let mut reading = Reading { source, text, base: range.start, events: &events, at: 0 };
        Ok(Outline { statements: reading.statements(), range })
    }

    /// The statements whose path starts with this one, by position.
    pub fn under<'o>(&'o self, path: &'o [Step]) -> impl DoubleEndedIterator<Item = usize> + 'o {
        (0..self.statements.len()).filter(move |at| self.statements[*at].path.starts_with(path))
    }

    /// The keys under a header, or those before the first one; by position.
    pub fn section(&self, header: Option<usize>) -> impl DoubleEndedIterator<Item = usize> + '_ {
        (0..self.statements.len()).filter(move |at| {
            let statement = &self.statements[*at];
            statement.value.is_some() && statement.section == header
        })
    }
}

struct Reading<'a> {
    source: Source<'a>,
    text: &'a str,
    base: usize,
    events: &'a [Event],
    at: usize,
}

impl Reading<'_> {
    fn peek(&self) -> Option<EventKind> {
        self.events.get(self.at).map(Event::kind)
    }

    fn next(&mut self) -> Option<(EventKind, Range<usize>)> {
        let event = self.events.get(self.at)?;
        self.at += 1;
        Some((event.kind(), self.place(event.span())))
    }

    fn place(&self, span: Span) -> Range<usize> {
        self.base + span.start()..self.base + span.end()
    }

    fn statements(&mut self) -> Vec<Statement> {
        let mut found: Vec<Statement> = Vec::new();
        let mut lists: BTreeMap<Vec<Step>, usize> = BTreeMap::new();
        let mut section = None;
        while let Some(kind) = self.peek() {
            let start = self.events.get(self.at).map_or(self.base, |event| self.place(event.span()).start);
            match kind {
                EventKind::StdTableOpen | EventKind::ArrayTableOpen => {
                    self.at += 1;
                    let (keys, _) = self.keys();
                    let end = self.next().map_or(start, |(_, span)| span.end);
                    let path = header_path(&keys, kind == EventKind::ArrayTableOpen, &mut lists);
                    section = Some(found.len());
                    found.push(Statement { path, lines: self.lines(start..end), value: None, section: None });
                }
                EventKind::SimpleKey => {
                    let (keys, _) = self.keys();
                    if self.peek() == Some(EventKind::KeyValSep) {
                        self.at += 1;
                    }
                    let Some(value) = self.value() else { break };
                    let above = section.map(|at: usize| found[at].path.clone()).unwrap_or_default();
                    let path = above.into_iter().chain(keys.into_iter().map(Step::Key)).collect();
                    let lines = self.lines(start..value.span.end);
                    found.push(Statement { path, lines, value: Some(value), section });
                }
                _ => self.at += 1,
            }
        }
        found
    }

    /// A dotted key, and where it ends.
    fn keys(&mut self) -> (Vec<String>, usize) {
        let mut keys = Vec::new();
        let mut end = self.base;
        while let Some(event) = self.events.get(self.at) {
            match event.kind() {
                EventKind::SimpleKey => {
                    let mut decoded = std::borrow::Cow::Borrowed("");
                    if let Some(raw) = self.source.get(event) {
                        raw.decode_key(&mut decoded, &mut ());
                    }
                    keys.push(decoded.into_owned());
                    end = self.place(event.span()).end;
                }
                EventKind::KeySep => {}
                _ => break,
            }
            self.at += 1;
        }
        (keys, end)
    }

    fn value(&mut self) -> Option<Value> {
        let (kind, span) = self.next()?;
        match kind {
            EventKind::Scalar => Some(Value { span, shape: Shape::Scalar }),
            EventKind::ArrayOpen => {
                let mut items = Vec::new();
                let mut room = Room::Empty(span.end);
                loop {
                    match self.peek()? {
                        EventKind::ArrayClose => break,
                        EventKind::ValueSep => room = Room::AfterComma(self.next()?.1.end),
                        _ => {
                            let item = self.value()?;
                            room = Room::After(item.span.end);
                            items.push(item);
                        }
                    }
                }
                let end = self.next()?.1.end;
                Some(Value { span: span.start..end, shape: Shape::Array(items, room) })
            }
            EventKind::InlineTableOpen => {
                let mut entries = Vec::new();
                let mut room = Room::Empty(span.end);
                loop {
                    match self.peek()? {
                        EventKind::InlineTableClose => break,
                        EventKind::ValueSep => room = Room::AfterComma(self.next()?.1.end),
                        EventKind::SimpleKey => {
                            let (keys, _) = self.keys();
                            if self.peek()? == EventKind::KeyValSep {
                                self.at += 1;
                            }
                            let value = self.value()?;
                            room = Room::After(value.span.end);
                            entries.push((keys, value));
                        }
                        _ => return None,
                    }
                }
                let end = self.next()?.1.end;
                Some(Value { span: span.start..end, shape: Shape::Table(entries, room) })
            }
            _ => None,
        }
    }

    /// The whole lines that some bytes lie in.
    fn lines(&self, bytes: Range<usize>) -> Range<usize> {
        let start = self.text[..bytes.start].rfind('\n').map_or(0, |at| at + 1).max(self.base);
        let end = self.text[bytes.end..].find('\n').map_or(self.text.len(), |at| bytes.end + at + 1);
        start..end
    }
}

/// The path of a header, with the places of the list elements that it goes through.
fn header_path(keys: &[String], list: bool, lists: &mut BTreeMap<Vec<Step>, usize>) -> Vec<Step> {
    let mut path = Vec::new();
    for (at, key) in keys.iter().enumerate() {
        path.push(Step::Key(key.clone()));
        let last = at + 1 == keys.len();
        if last && list {
            let count = lists.entry(path.clone()).or_insert(0);
            *count += 1;
            let index = *count - 1;
            path.push(Step::Index(index));
        } else if let Some(count) = lists.get(&path) {
            let index = count - 1;
            path.push(Step::Index(index));
        }
    }
    path
}
