//! Reads the text of a table: its head, its header, its columns.

use std::sync::Arc;

use jiff::Timestamp;

use super::cells::{Cells, Decimal, MAX_DIGITS, decimal};
use super::records::{Cell, Records, characters};
use super::{Column, Holds, MAX_BYTES, MAX_CELLS, MAX_ERRORS, Table, TableError};
use crate::quantity::{MAX_TEXT, Unit, parse_number};

/// Most columns of a table; spreadsheets have fewer.
const MAX_COLUMNS: usize = 16_384;

/// The longest part of a cell that a message shows, in characters.
const SHOWN: usize = 40;

pub(super) fn read(bytes: &[u8]) -> Result<Table, Vec<TableError>> {
    let (text, at, line) = head(bytes).map_err(|error| vec![error])?;
    let separator = separator(text.get(at..).unwrap_or(""));
    let mut records = Records::new(text, at, line, separator);
    let mut cells = Vec::new();
    let line = match records.next(&mut cells) {
        Some(Ok(line)) => line,
        Some(Err(error)) => return Err(vec![error]),
        None => return Err(vec![error(line, 1, "there is no header", "write a line such as `time [s],torque [N·m]`")]),
    };
    let mut reader = Reader::header(&cells, line)?;
    reader.separator = separator;
    while let Some(record) = records.next(&mut cells) {
        let more = match record {
            Ok(line) => reader.row(&cells, line),
            Err(error) => {
                reader.errors.push(error);
                false
            }
        };
        if !more {
            break;
        }
    }
    reader.finish()
}

/// The text as UTF-8, and where its header starts: byte and line.
fn head(bytes: &[u8]) -> Result<(&str, usize, u32), TableError> {
    if bytes.len() > MAX_BYTES {
        let message = format!("this file is larger than {} MiB", MAX_BYTES >> 20);
        return Err(error(1, 1, message, "keep the rows and columns that are needed"));
    }
    let text = std::str::from_utf8(bytes).map_err(|wrong| {
        let before = bytes.get(..wrong.valid_up_to()).unwrap_or(&[]);
        let line = before.iter().filter(|byte| **byte == b'\n').count() + 1;
        let start = before.iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
        let column = String::from_utf8_lossy(before.get(start..).unwrap_or(&[])).chars().count() + 1;
        let (message, help) = ("this byte is not UTF-8".to_owned(), "save the file as UTF-8 text".to_owned());
        TableError { line, column, message, help }
    })?;
    let mut at = if text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
    let mut line = 1;
    loop {
        let rest = text.get(at..).unwrap_or("");
        if !rest.starts_with(['#', '\n', '\r']) {
            return Ok((text, at, line));
        }
        let length = rest.find(['\n', '\r']).unwrap_or(rest.len());
        let end = rest.get(length..).unwrap_or("");
        at += length + if end.starts_with("\r\n") { 2 } else { end.len().min(1) };
        line += u32::from(!end.is_empty());
        if end.is_empty() {
            return Ok((text, at, line));
        }
    }
}

/// What separates the cells: a comma, or a semicolon or tab where the header has no comma outside of quotes and brackets.
fn separator(text: &str) -> u8 {
    let (mut quoted, mut depth) = (false, 0usize);
    let mut other = None;
    for byte in text.bytes() {
        match byte {
            b'"' => quoted = !quoted,
            _ if quoted => {}
            b'\n' | b'\r' => break,
            b'(' | b'[' => depth += 1,
            b')' | b']' => depth = depth.saturating_sub(1),
            b',' if depth == 0 => return b',',
            b';' | b'\t' if depth == 0 => other = other.or(Some(byte)),
            _ => {}
        }
    }
    other.unwrap_or(b',')
}

fn error(line: u32, column: u32, message: impl Into<String>, help: impl Into<String>) -> TableError {
    TableError { line: line as usize, column: column as usize, message: message.into(), help: help.into() }
}

/// A column while it fills.
struct Filling {
    column: Column,
    cells: Cells,
    /// What its first cell that is no gap showed it to hold.
    holds: Option<Holds>,
    /// Where that was, line and character, and its text.
    first: (u32, u32, String),
    /// How many cells are texts, and how many something else.
    texts: usize,
    others: usize,
}

struct Reader {
    columns: Vec<Filling>,
    lines: Vec<u32>,
    separator: u8,
    /// Whether the header ends with an empty cell, as some programs write.
    open: bool,
    header: u32,
    errors: Vec<TableError>,
}

impl Reader {
    fn header(cells: &[Cell<'_>], line: u32) -> Result<Self, Vec<TableError>> {
        let open = cells.len() > 1 && cells.last().is_some_and(|cell| cell.text.trim().is_empty());
        let named = cells.len() - usize::from(open);
        if named > MAX_COLUMNS {
            return Err(vec![error(
                line,
                1,
                format!("there are more than {MAX_COLUMNS} columns"),
                "keep those that are needed",
            )]);
        }
        let mut reader =
            Self { columns: Vec::new(), lines: Vec::new(), separator: b',', open, header: line, errors: Vec::new() };
        let mut seen = foldhash::HashMap::default();
        for cell in cells.iter().take(named) {
            match column(cell, line) {
                Ok(column) => {
                    if let Some(first) = seen.insert(column.name.clone(), cell.start) {
                        let message =
                            format!("there are two columns `{}`, the other at character {first}", column.name);
                        if !reader.complain(error(line, cell.start, message, "give each its own name")) {
                            break;
                        }
                    }
                    reader.columns.push(Filling::new(column));
                }
                // Looking for what an unknown unit may have been takes its time, so that what nobody will be told is not looked at.
                Err(error) => {
                    if !reader.complain(error) {
                        break;
                    }
                }
            }
        }
        if reader.errors.is_empty() { Ok(reader) } else { Err(reader.errors) }
    }

    /// Adds an error; says whether there is room for another.
    fn complain(&mut self, error: TableError) -> bool {
        if self.errors.len() < MAX_ERRORS {
            self.errors.push(error);
        }
        self.errors.len() < MAX_ERRORS
    }

    /// Adds a row; says whether it is worth going on.
    fn row(&mut self, cells: &[Cell<'_>], line: u32) -> bool {
        let expected = self.columns.len();
        let extra_is_empty = cells.get(expected).is_none_or(|cell| cell.text.trim().is_empty());
        if cells.len() != expected && !(self.open && cells.len() == expected + 1 && extra_is_empty) {
            let (message, help) = self.wrong_width(cells);
            let column = cells.get(expected).or(cells.last()).map_or(1, |cell| cell.start);
            return self.complain(error(line, column, message, help));
        }
        if (self.lines.len() + 1).saturating_mul(expected) > MAX_CELLS {
            self.complain(error(
                line,
                1,
                format!("there are more than {MAX_CELLS} cells"),
                "keep the rows and columns that are needed",
            ));
            return false;
        }
        self.lines.push(line);
        for (filling, cell) in self.columns.iter_mut().zip(cells) {
            if let Err(error) = filling.take(cell, line) {
                self.errors.push(error);
                if self.errors.len() >= MAX_ERRORS {
                    return false;
                }
            }
        }
        true
    }

    fn wrong_width(&self, cells: &[Cell<'_>]) -> (String, String) {
        let (found, expected) = (cells.len(), self.columns.len());
        let count = |count: usize| if count == 1 { "one cell".to_owned() } else { format!("{count} cells") };
        let message =
            format!("this row has {}, and the header on line {} has {}", count(found), self.header, count(expected));
        let help = if found > expected && self.separator == b',' {
            "a comma separates cells: write decimals with a point, and put a text with commas in quotes"
        } else if found > expected {
            "take out what is too much, or name it in the header"
        } else {
            "write a cell for every column; an empty one is a gap"
        };
        (message, help.to_owned())
    }

    fn finish(mut self) -> Result<Table, Vec<TableError>> {
        if self.errors.is_empty() && self.lines.is_empty() {
            let help = "write a row below the header for each time or point";
            self.errors.push(error(self.header, 1, "there are no rows below this header", help));
        }
        let mut columns = Vec::with_capacity(self.columns.len());
        for filling in self.columns {
            match filling.finish() {
                Ok(column) => columns.push(column),
                Err(error) => self.errors.push(error),
            }
        }
        if !self.errors.is_empty() {
            return Err(self.errors);
        }
        Ok(Table { columns, lines: self.lines, header: self.header })
    }
}

/// What a cell is.
enum Found {
    Gap,
    Number(Decimal),
    Instant(i64),
    /// Something else, with what is wrong and what to write if a number was meant.
    Other(String, String),
}

impl Filling {
    fn new(column: Column) -> Self {
        Self { column, cells: Cells::default(), holds: None, first: (0, 0, String::new()), texts: 0, others: 0 }
    }

    fn take(&mut self, cell: &Cell<'_>, line: u32) -> Result<(), TableError> {
        let text = cell.text.trim();
        let blank = cell.text.len() - cell.text.trim_start().len();
        let start = cell.start + characters(cell.text.get(..blank).unwrap_or(""));
        let found = find(text);
        let (holds, number) = match &found {
            Found::Gap => (None, None),
            Found::Number(number) => (Some(Holds::Numbers), Some(*number)),
            Found::Instant(at) => (Some(Holds::Instants), Some(Decimal { digits: *at, power: -9 })),
            Found::Other(..) => (Some(Holds::Texts), None),
        };
        self.cells.push(number, start);
        let Some(holds) = holds else { return Ok(()) };
        if holds == Holds::Texts {
            self.texts += 1
        } else {
            self.others += 1
        }
        let so_far = *self.holds.get_or_insert_with(|| {
            self.first = (line, start, shown(text));
            holds
        });
        // A unit in the header says that numbers are meant; notes may hold anything.
        let texts_are_meant = so_far == Holds::Texts && !self.has_unit();
        if texts_are_meant || (so_far == holds && holds != Holds::Texts) {
            return Ok(());
        }
        Err(self.mixed(so_far, found, text, line, start))
    }

    fn has_unit(&self) -> bool {
        self.column.written != self.column.name
    }

    /// A cell that is not what the column began with.
    fn mixed(&self, so_far: Holds, found: Found, text: &str, line: u32, start: u32) -> TableError {
        let first = &self.first.2;
        match (so_far, found) {
            (_, Found::Other(message, help)) => error(line, start, message, help),
            (Holds::Instants, _) => {
                let message = format!("`{}` stands among instants", shown(text));
                error(line, start, message, format!("write an instant such as `{first}`"))
            }
            _ => {
                let message = format!("the instant `{}` stands among numbers", shown(text));
                error(line, start, message, format!("write a number such as `{first}`"))
            }
        }
    }

    /// One text above numbers is no column of notes: most often it is a unit.
    fn text_above_numbers(&self) -> TableError {
        let (line, start, text) = &self.first;
        let message = format!("`{text}` stands in column `{}`, which has numbers below it", self.column.name);
        let help = if Unit::parse(text).is_ok() {
            format!("write the unit into the header: `{} [{text}]`", self.column.name)
        } else {
            "write a number, or nothing where there is none".to_owned()
        };
        error(*line, *start, message, help)
    }

    fn finish(mut self) -> Result<Column, TableError> {
        self.column.holds = self.holds.unwrap_or(Holds::Numbers);
        if self.column.holds == Holds::Texts && self.texts == 1 && self.others > 0 && !self.has_unit() {
            return Err(self.text_above_numbers());
        }
        if self.column.holds == Holds::Instants {
            let (line, start, _) = self.first;
            if self.has_unit() {
                let message = format!("column `{}` has a unit, and holds instants", self.column.name);
                return Err(error(line, start, message, "leave the unit out of the header"));
            }
            let zero = self.cells.first().map_or(0, |first| first.digits);
            self.column.unit = Unit::parse("s").unwrap_or_else(|_| Arc::new(Unit::none()));
            self.column.zero = Some(zero);
            let Some(cells) = self.cells.less(zero) else {
                return Err(error(line, start, "the instants of this column are centuries apart", "check the years"));
            };
            self.cells = cells;
        }
        self.column.cells = Arc::new(self.cells);
        Ok(self.column)
    }
}

/// Reads a cell.
fn find(text: &str) -> Found {
    if text.is_empty() || text.eq_ignore_ascii_case("nan") {
        return Found::Gap;
    }
    if let Some(number) = decimal(text) {
        return Found::Number(number);
    }
    // RFC 3339 starts with a year and a hyphen; nothing else is worth the longer look.
    if text.len() >= 17
        && text.as_bytes().get(4) == Some(&b'-')
        && let Some(instant) = instant(text)
    {
        return Found::Instant(instant);
    }
    if text.len() > MAX_TEXT {
        return Found::Other(format!("`{}` is not a number", shown(text)), "write a number".to_owned());
    }
    match parse_number(text) {
        Ok(_) => {
            let plain: String = text.chars().filter(|c| !matches!(c, '_' | '\u{2009}' | '\u{202f}')).collect();
            match decimal(&plain.replace('−', "-")) {
                Some(number) => Found::Number(number),
                None => Found::Other(
                    format!("`{}` has more than {MAX_DIGITS} digits", shown(text)),
                    format!("round it to {MAX_DIGITS} digits; no measurement has more"),
                ),
            }
        }
        Err(wrong) => other(text, wrong.message, wrong.help),
    }
}

/// A cell that is no number, with words for where it stands among numbers.
fn other(text: &str, message: String, help: String) -> Found {
    if text.contains(',') {
        return Found::Other(message, help);
    }
    let number = text.trim_end_matches(|c: char| !c.is_ascii_digit());
    if decimal(number).is_some() {
        let help =
            "write the number alone; the unit stands in the header, and an uncertainty with the instrument".to_owned();
        return Found::Other(format!("`{}` is more than a number", shown(text)), help);
    }
    let help = "write a number, or nothing where there is none".to_owned();
    Found::Other(format!("`{}` is not a number", shown(text)), help)
}

/// Nanoseconds since 1970 of an RFC 3339 instant.
pub(super) fn instant(text: &str) -> Option<i64> {
    let instant: Timestamp = text.parse().ok()?;
    i64::try_from(instant.as_nanosecond()).ok()
}

fn shown(text: &str) -> String {
    let mut short: String = text.chars().take(SHOWN).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if short.len() < text.len() {
        short.push('…');
    }
    short
}

/// Reads a cell of the header.
fn column(cell: &Cell<'_>, line: u32) -> Result<Column, TableError> {
    let written = cell.text.trim();
    let wrong = |message: String, help: &str| Err(error(line, cell.start, message, help));
    let (name, unit) = match split(written) {
        Ok(parts) => parts,
        Err(help) => return wrong(format!("the brackets of `{}` do not match", shown(written)), help),
    };
    if name.is_empty() {
        return wrong("this column has no name".to_owned(), "write one, such as `torque [N·m]`");
    }
    let unit = match unit {
        None | Some("" | "-" | "1") => Arc::new(Unit::none()),
        Some(unit) => Unit::parse(unit).map_err(|problem| {
            let message = format!("the unit of `{}`: {}", shown(name), problem.message);
            let help = if written.ends_with(')') {
                format!("{}; if this bracket holds no unit, write `{written} [-]`", problem.help)
            } else {
                problem.help
            };
            error(line, cell.start, message, help)
        })?,
    };
    Ok(Column {
        name: name.to_owned(),
        written: written.to_owned(),
        unit,
        holds: Holds::Numbers,
        header: cell.start as usize,
        zero: None,
        cells: Arc::default(),
    })
}

/// Takes the bracket off the end of a header cell: the name, and the unit if there is one.
fn split(written: &str) -> Result<(&str, Option<&str>), &'static str> {
    let (open, close) = match written.chars().last() {
        Some(']') => ('[', ']'),
        Some(')') => ('(', ')'),
        _ if written.contains('[') && !written.contains(']') => {
            return Err("close the bracket; a unit in which a comma stands needs quotes around the whole cell");
        }
        _ => return Ok((written, None)),
    };
    let mut depth = 0usize;
    for (at, c) in written.char_indices().rev() {
        if c == close {
            depth += 1;
        } else if c == open {
            depth -= 1;
        }
        if depth == 0 {
            let (name, rest) = written.split_at(at);
            let inside = rest.strip_prefix(open).and_then(|rest| rest.strip_suffix(close)).unwrap_or("");
            return Ok((name.trim(), Some(inside.trim())));
        }
    }
    Err("open the bracket as well")
}
