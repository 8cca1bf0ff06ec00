//! Splits a text into records and cells (RFC 4180), and knows where each cell stands.
//!
//! The library that writes these files elsewhere reads them too, but does not say at which character a cell starts, which every error
//! here must. It checks the splitting in the tests.

use std::borrow::Cow;

use memchr::memchr3;

use super::TableError;

/// A cell as it was written, without the quotes around it.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Cell<'t> {
    pub text: Cow<'t, str>,
    /// The character of the line at which it starts, from 1.
    pub start: u32,
}

/// The records of a text; empty lines are none.
pub(super) struct Records<'t> {
    text: &'t str,
    at: usize,
    /// The line at which `at` stands, from 1.
    line: u32,
    separator: u8,
}

impl<'t> Records<'t> {
    /// The records of a text from byte `at` on, which starts a line of this number.
    pub fn new(text: &'t str, at: usize, line: u32, separator: u8) -> Self {
        Self { text, at, line, separator }
    }

    /// The next record: its cells, which replace those given, and its line. None at the end.
    pub fn next(&mut self, cells: &mut Vec<Cell<'t>>) -> Option<Result<u32, TableError>> {
        cells.clear();
        while self.end_of_line() {}
        if self.at >= self.text.len() {
            return None;
        }
        let (first, mut start) = (self.line, 1);
        loop {
            let from = self.at;
            let text = match self.cell(start) {
                Ok(text) => text,
                Err(error) => return Some(Err(error)),
            };
            cells.push(Cell { text, start });
            if self.byte() == Some(self.separator) {
                let written = self.text.get(from..self.at).unwrap_or("");
                start = match written.rfind(['\n', '\r']) {
                    // A quoted cell went on to another line.
                    Some(end) => characters(written.get(end + 1..).unwrap_or("")) + 2,
                    None => start + characters(written) + 1,
                };
                self.at += 1;
            } else {
                self.end_of_line();
                return Some(Ok(first));
            }
        }
    }

    fn byte(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    /// Steps over one end of a line, if it is here.
    fn end_of_line(&mut self) -> bool {
        let rest = self.text.as_bytes().get(self.at..).unwrap_or(&[]);
        let length = match rest {
            [b'\r', b'\n', ..] => 2,
            [b'\r' | b'\n', ..] => 1,
            _ => return false,
        };
        self.at += length;
        self.line += 1;
        true
    }

    /// Reads the cell that stands here, up to its separator or the end of the line.
    fn cell(&mut self, start: u32) -> Result<Cow<'t, str>, TableError> {
        let rest = self.text.get(self.at..).unwrap_or("");
        if rest.starts_with('"') {
            return self.quoted(start);
        }
        let length = memchr3(self.separator, b'\n', b'\r', rest.as_bytes()).unwrap_or(rest.len());
        self.at += length;
        Ok(Cow::Borrowed(rest.get(..length).unwrap_or("")))
    }

    fn quoted(&mut self, start: u32) -> Result<Cow<'t, str>, TableError> {
        let (opened, open) = (self.line, self.at + 1);
        let mut at = open;
        let mut doubled = false;
        loop {
            let Some(length) = self.text.get(at..).and_then(|rest| rest.find('"')) else {
                let message = "this quote is not closed".to_owned();
                let help = "close it with `\"`, or leave the quotes out".to_owned();
                return Err(TableError { line: opened as usize, column: start as usize, message, help });
            };
            at += length + 1;
            if self.text.as_bytes().get(at) != Some(&b'"') {
                break;
            }
            doubled = true;
            at += 1;
        }
        let inside = self.text.get(open..at - 1).unwrap_or("");
        self.line += u32::try_from(line_ends(inside)).unwrap_or(u32::MAX);
        self.at = at;
        match self.byte() {
            Some(byte) if byte != self.separator && byte != b'\n' && byte != b'\r' => Err(TableError {
                line: opened as usize,
                column: start as usize,
                message: "something follows the closing quote of this cell".to_owned(),
                help: "put the whole cell in quotes, and write a quote inside it twice".to_owned(),
            }),
            _ if doubled => Ok(Cow::Owned(inside.replace("\"\"", "\""))),
            _ => Ok(Cow::Borrowed(inside)),
        }
    }
}

/// How many lines end in a text: at `\n`, `\r\n` and a lone `\r`.
fn line_ends(text: &str) -> usize {
    let bytes = text.as_bytes();
    let ends = |at: &usize| {
        bytes.get(*at) == Some(&b'\n') || bytes.get(*at) == Some(&b'\r') && bytes.get(at + 1) != Some(&b'\n')
    };
    (0..bytes.len()).filter(ends).count()
}

/// How many characters a text has.
pub(super) fn characters(text: &str) -> u32 {
    let count = if text.is_ascii() { text.len() } else { text.chars().count() };
    u32::try_from(count).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn all(text: &str, separator: u8) -> Result<Vec<Vec<String>>, TableError> {
        let mut records = Records::new(text, 0, 1, separator);
        let (mut found, mut cells) = (Vec::new(), Vec::new());
        while let Some(line) = records.next(&mut cells) {
            line?;
            found.push(cells.iter().map(|cell| cell.text.to_string()).collect());
        }
        Ok(found)
    }

    fn by_the_library(text: &str, separator: u8) -> Vec<Vec<String>> {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(separator)
            .from_reader(text.as_bytes());
        let records = reader.records().map(|record| record.expect("it is UTF-8 and flexible"));
        records.map(|record| record.iter().map(str::to_owned).collect()).collect()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(4000))]

        /// Where both take a text, the library splits it in the same way; what is refused here has a quote out of place.
        #[test]
        fn splits_as_the_library_does(text in "([a1 ;]|\"|\"\"|,|\r\n|\n|\r|µ){0,24}", semicolons: bool) {
            let separator = if semicolons { b';' } else { b',' };
            match all(&text, separator) {
                Ok(found) => prop_assert_eq!(found, by_the_library(&text, separator)),
                Err(_) => prop_assert!(text.contains('"')),
            }
        }

        /// What the library writes is read back.
        #[test]
        fn reads_what_the_library_writes(rows in prop::collection::vec(prop::collection::vec("[a,\"\n\r µ]{0,5}", 2..4), 1..5)) {
            let mut writer = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
            for row in &rows {
                writer.write_record(row).expect("memory takes it");
            }
            let text = String::from_utf8(writer.into_inner().expect("it ends")).expect("it is UTF-8");
            prop_assert_eq!(all(&text, b',').expect("it is well formed"), rows);
        }
    }

    #[test]
    fn knows_where_cells_stand() {
        let text = "a,µµ,c\n\n\"x\ny\",7,\"q\"\"q\",z\r\nlast";
        let mut records = Records::new(text, 0, 1, b',');
        let mut cells = Vec::new();
        let mut found = Vec::new();
        while let Some(line) = records.next(&mut cells) {
            let line = line.expect("it is well formed");
            found.push((line, cells.iter().map(|cell| cell.start).collect::<Vec<_>>()));
        }
        assert_eq!(found, [(1, vec![1, 3, 6]), (3, vec![1, 4, 6, 13]), (5, vec![1])]);
    }
}
