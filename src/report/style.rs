//! Marks for style in text, and the one place that turns them into terminal codes.
//!
//! Renderers put marks around what should stand out. [`render`] turns them into codes or drops them, and makes every
//! other control or direction-changing character visible, so that no file can talk to the terminal. A mark is a
//! private-use character followed by a key that is drawn anew for each run: a file may hold the character, but not the
//! key, so its words cannot be taken for marks. No output depends on the key.

use std::fmt::{self, Write};
use std::hash::{BuildHasher, RandomState};
use std::sync::OnceLock;

/// A mark. It is written out with its key, for [`render`] to find.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mark(char);

/// Ends a style.
pub const OFF: Mark = Mark('\u{f8f0}');
/// Headings, ids.
pub const STRONG: Mark = Mark('\u{f8f1}');
/// What matters less.
pub const QUIET: Mark = Mark('\u{f8f2}');
/// Not met, faults.
pub const BAD: Mark = Mark('\u{f8f3}');
/// Open, warnings.
pub const WARN: Mark = Mark('\u{f8f4}');
/// Closed.
pub const GOOD: Mark = Mark('\u{f8f5}');
/// Names of commands and files.
pub const NAME: Mark = Mark('\u{f8f6}');

const CODES: &[(Mark, &str)] = &[
    (OFF, "\x1b[0m"),
    (STRONG, "\x1b[1m"),
    (QUIET, "\x1b[2m"),
    (BAD, "\x1b[1;31m"),
    (WARN, "\x1b[33m"),
    (GOOD, "\x1b[32m"),
    (NAME, "\x1b[36m"),
];

impl fmt::Display for Mark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_char(self.0)?;
        f.write_str(key())
    }
}

/// What follows the character of a mark: 64 bits of the system's randomness, as four characters that nobody uses.
fn key() -> &'static str {
    static KEY: OnceLock<String> = OnceLock::new();
    KEY.get_or_init(|| {
        let drawn = RandomState::new().hash_one(0u8);
        let parts = (0..4).map(|at| 0x10_0000 + ((drawn >> (16 * at)) & 0xffff) as u32);
        parts.filter_map(char::from_u32).collect()
    })
}

/// The terminal code of the mark that a text starts with, and the mark's length in bytes.
fn mark_at(text: &str) -> Option<(&'static str, usize)> {
    let first = text.chars().next()?;
    let (_, code) = CODES.iter().find(|(mark, _)| mark.0 == first)?;
    let rest = text.get(first.len_utf8()..)?;
    rest.starts_with(key()).then(|| (*code, first.len_utf8() + key().len()))
}

/// Turns marks into terminal codes, or drops them; everything else that could act on a terminal becomes visible.
pub fn render(text: &str, colour: bool) -> String {
    let mut shown = String::with_capacity(text.len() + 64);
    let mut rest = text;
    loop {
        // Nearly everything is plain: whole runs of it are taken over as they are.
        let plain = rest.bytes().position(|byte| byte != b'\n' && !is_plain(byte)).unwrap_or(rest.len());
        shown.push_str(&rest[..plain]);
        rest = &rest[plain..];
        let Some(character) = rest.chars().next() else { return shown };
        let length = match mark_at(rest) {
            Some((code, length)) => {
                shown.push_str(if colour { code } else { "" });
                length
            }
            None => {
                match acting(character) {
                    Some(name) => shown.push_str(&format!("<{name}>")),
                    None => shown.push(character),
                }
                character.len_utf8()
            }
        };
        rest = &rest[length..];
    }
}

/// Whether a byte is a printing character of ASCII.
fn is_plain(byte: u8) -> bool {
    (b' '..=b'~').contains(&byte)
}

/// The name, such as `U+001B`, of a character that acts: on a terminal, on the direction of what follows, or by hiding
/// it. None for all others.
pub fn acting(character: char) -> Option<String> {
    let acts = character.is_control()
        || matches!(character, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}' | '\u{e0000}'..='\u{e007f}');
    acts.then(|| format!("U+{:04X}", u32::from(character)))
}

/// Columns a text takes up in a terminal; marks take none.
pub fn columns(text: &str) -> usize {
    if text.bytes().all(is_plain) {
        return text.len();
    }
    let mut columns = 0;
    let mut rest = text;
    while let Some(character) = rest.chars().next() {
        let length = match mark_at(rest) {
            Some((_, length)) => length,
            None => {
                columns += unicode_width::UnicodeWidthChar::width(character).unwrap_or(8);
                character.len_utf8()
            }
        };
        rest = &rest[length..];
    }
    columns
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn escapes_from_files_are_shown_and_not_sent() {
        let hostile = format!("{BAD}a{OFF} \x1b[2J\u{202e}b\r\n");
        assert_eq!(render(&hostile, false), "a <U+001B>[2J<U+202E>b<U+000D>\n");
        assert_eq!(render(&hostile, true), "\x1b[1;31ma\x1b[0m <U+001B>[2J<U+202E>b<U+000D>\n");
    }

    #[test]
    fn a_file_cannot_write_a_mark() {
        let forged = "\u{f8f5}closed\u{f8f0}\u{100000}\u{100000}\u{100000}\u{100000}";
        assert!(!render(forged, true).contains('\x1b'));
        assert_eq!(columns(&format!("{GOOD}a{OFF}b")), 2);
        assert_eq!(columns("\u{f8f5}a"), 2);
    }
}
