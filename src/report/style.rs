//! Marks for style in text, and the one place that turns them into terminal codes.
//!
//! Renderers put private-use characters around what should stand out. [`render`] turns them into codes or drops them,
//! and makes every other control or direction-changing character visible, so that no file can talk to the terminal.

use std::fmt::Write;

/// Ends a style.
pub const OFF: char = '\u{f8f0}';
/// Headings, ids.
pub const STRONG: char = '\u{f8f1}';
/// What matters less.
pub const QUIET: char = '\u{f8f2}';
/// Not met, faults.
pub const BAD: char = '\u{f8f3}';
/// Open, warnings.
pub const WARN: char = '\u{f8f4}';
/// Closed.
pub const GOOD: char = '\u{f8f5}';
/// Names of commands and files.
pub const NAME: char = '\u{f8f6}';

const CODES: &[(char, &str)] = &[
    (OFF, "\x1b[0m"),
    (STRONG, "\x1b[1m"),
    (QUIET, "\x1b[2m"),
    (BAD, "\x1b[1;31m"),
    (WARN, "\x1b[33m"),
    (GOOD, "\x1b[32m"),
    (NAME, "\x1b[36m"),
];

/// Whether a character is one of the marks.
pub fn is_mark(character: char) -> bool {
    (OFF..=NAME).contains(&character)
}

/// Turns marks into terminal codes, or drops them; everything else that could act on a terminal becomes visible.
pub fn render(text: &str, colour: bool) -> String {
    let mut shown = String::with_capacity(text.len() + 64);
    let mut rest = text;
    loop {
        // Nearly everything is plain: whole runs of it are taken over as they are.
        let plain =
            rest.bytes().position(|byte| !(byte == b'\n' || (b' '..=b'~').contains(&byte))).unwrap_or(rest.len());
        shown.push_str(&rest[..plain]);
        rest = &rest[plain..];
        let Some(character) = rest.chars().next() else { return shown };
        rest = &rest[character.len_utf8()..];
        match CODES.iter().find(|(mark, _)| *mark == character) {
            Some((_, code)) if colour => shown.push_str(code),
            Some(_) => {}
            None if acts(character) => {
                let _ = write!(shown, "<U+{:04X}>", u32::from(character));
            }
            None => shown.push(character),
        }
    }
}

/// Control characters, and those that change the direction or hide text.
fn acts(character: char) -> bool {
    character.is_control()
        || matches!(character, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}' | '\u{e0000}'..='\u{e007f}')
}

/// Columns a text takes up in a terminal; marks take none.
pub fn columns(text: &str) -> usize {
    if text.bytes().all(|byte| (b' '..=b'~').contains(&byte)) {
        return text.len();
    }
    text.chars().filter(|c| !is_mark(*c)).map(|c| unicode_width::UnicodeWidthChar::width(c).unwrap_or(8)).sum()
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
}
