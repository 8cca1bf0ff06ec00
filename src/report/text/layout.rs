//! Wrapping and padding by the columns that text takes up.

use std::borrow::Cow;

use crate::report::style::{OFF, STRONG, columns, render};

/// Breaks text at spaces so that no line is wider than `width`, the first after `first` columns already used; later
/// lines start with `indent` spaces. A number stays with its uncertainty and its unit, and a command that is to be typed stays in one
/// line if it fits into one: a break in it would be copied with it, and run the half of it. A word wider than a line stands alone,
/// unbroken.
pub fn wrap(text: &str, width: usize, first: usize, indent: usize) -> Cow<'_, str> {
    if fits(text, width, first) {
        return Cow::Borrowed(text);
    }
    let words: Vec<&str> = text.split([' ', '\n', '\t']).filter(|word| !word.is_empty()).collect();
    let mut wrapped = String::with_capacity(text.len() + 16);
    let mut used = first;
    let mut at_start = true;
    let mut rest = words.as_slice();
    while !rest.is_empty() {
        let room = width.saturating_sub(indent);
        let (count, wide) = command(rest, room).unwrap_or_else(|| quantity(rest, room));
        if !at_start && used + 1 + wide > width {
            wrapped.push('\n');
            wrapped.extend(std::iter::repeat_n(' ', indent));
            used = indent;
            at_start = true;
        }
        for word in &rest[..count] {
            if !at_start {
                wrapped.push(' ');
                used += 1;
            }
            wrapped.push_str(word);
            at_start = false;
        }
        used += wide + 1 - count;
        rest = &rest[count..];
    }
    Cow::Owned(wrapped)
}

/// Whether a text can stay as it is: short enough, and with no white space but single spaces between words.
fn fits(text: &str, width: usize, first: usize) -> bool {
    let bytes = text.as_bytes();
    let ends = [bytes.first(), bytes.last()].contains(&Some(&b' '));
    let spaces = bytes.windows(2).any(|pair| pair == b"  ") || memchr::memchr2(b'\n', b'\t', bytes).is_some();
    !ends && !spaces && first + columns(text) <= width
}

/// Words that go on with a sentence after a command.
const AFTER: &[&str] = &["or", "and", "to", "again", "makes", "shows", "says", "lists", "takes"];

/// How many of the words are a command that is to be typed, and the columns that they take; none: no command, or one that is
/// wider than `room`.
fn command(words: &[&str], room: usize) -> Option<(usize, usize)> {
    let opens = |word: &str| matches!(word.trim_start_matches(['(', '`', '"']), "slipmark" | "git");
    // Most words are neither, and styled ones end otherwise.
    if !words.first().is_some_and(|word| opens(word)) {
        return None;
    }
    let (mut wide, mut quoted) = (columns(words[0]), words[0].matches('"').count() % 2 == 1);
    for (at, word) in words.iter().enumerate().skip(1) {
        if !quoted && at > 1 && AFTER.contains(word) {
            return Some((at, wide));
        }
        wide += 1 + columns(word);
        if wide > room {
            return None;
        }
        quoted ^= word.matches('"').count() % 2 == 1;
        let ends = word.ends_with([',', ';', ':', ')', '`']) || (word.len() > 1 && word.ends_with('.'));
        if !quoted && ends {
            return Some((at + 1, wide));
        }
    }
    Some((words.len(), wide))
}

/// How many of the words are one quantity, unless they are wider than `room`, and the columns that they take; of any
/// other word, itself.
fn quantity(words: &[&str], room: usize) -> (usize, usize) {
    let mut wide = 0;
    for (at, word) in words.iter().enumerate() {
        let with = if at == 0 { columns(word) } else { wide + 1 + columns(word) };
        if at > 0 && with > room {
            return (at, wide);
        }
        wide = with;
        if !goes_on(word) {
            return (at + 1, wide);
        }
    }
    (words.len(), wide)
}

/// Whether what follows a word belongs to it: the uncertainty or the unit after a number, the number after a sign.
fn goes_on(word: &str) -> bool {
    let plain = if word.is_ascii() { Cow::Borrowed(word) } else { Cow::Owned(render(word, false)) };
    let bare = plain.trim_start_matches(['(', '`', '"', '[', '{', '+', '-']);
    matches!(bare, "±" | "<" | ">" | "≤" | "≥")
        || bare.starts_with(|c: char| c.is_ascii_digit()) && bare.parse::<f64>().is_ok()
}

/// Fills text up with spaces to `width` columns.
pub fn pad(text: &str, width: usize) -> String {
    let missing = width.saturating_sub(columns(text));
    let mut padded = String::with_capacity(text.len() + missing);
    padded.push_str(text);
    padded.extend(std::iter::repeat_n(' ', missing));
    padded
}

/// A text for a terminal in the making, line by line.
pub trait Lines {
    /// The text so far, and how wide it may become.
    fn page(&mut self) -> (&mut String, usize);

    /// Adds a line as it is, without spaces at its end.
    fn line(&mut self, line: &str) {
        let (text, _) = self.page();
        text.push_str(line.trim_end());
        text.push('\n');
    }

    /// Adds an empty line and a heading.
    fn heading(&mut self, text: &str) {
        let wrapped = wrap(text, self.page().1, 0, 2);
        self.line("");
        self.line(&format!("{STRONG}{wrapped}{OFF}"));
    }

    /// Adds a text after what leads it; each line after the first is indented.
    fn paragraph(&mut self, lead: &str, text: &str, indent: usize) {
        let wrapped = wrap(text, self.page().1, columns(lead), indent);
        self.line(&format!("{lead}{wrapped}"));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wraps_at_spaces_and_never_inside_a_word() {
        assert_eq!(wrap("one two three", 7, 0, 2), "one two\n  three");
        assert_eq!(wrap("MOV-ACT/SN02-EXTRALONG x", 6, 0, 0), "MOV-ACT/SN02-EXTRALONG\nx");
        assert_eq!(pad("né", 4), "né  ");
    }

    #[test]
    fn a_command_stays_on_one_line_if_it_fits() {
        let text = "type slipmark new test --for R-1, or look";
        assert_eq!(wrap(text, 32, 0, 2), "type\n  slipmark new test --for R-1,\n  or look");
        assert_eq!(wrap(text, 20, 0, 2), "type slipmark new\n  test --for R-1, or\n  look");
        let quoted = "then git commit -m \"a, b; c\" and then slipmark check or nothing";
        assert_eq!(wrap(quoted, 26, 0, 0), "then\ngit commit -m \"a, b; c\"\nand then slipmark check or\nnothing");
        assert_eq!(wrap("see `slipmark show X` there", 18, 0, 0), "see\n`slipmark show X`\nthere");
    }

    #[test]
    fn a_quantity_stays_on_one_line() {
        assert_eq!(wrap("at least 71 ± 3 mL/min here", 14, 0, 2), "at least\n  71 ± 3\n  mL/min here");
        assert_eq!(wrap("margin (74 % of it, 12 U)", 12, 0, 2), "margin (74 %\n  of it,\n  12 U)");
        assert_eq!(wrap("on 2026-03-14 it was", 14, 0, 0), "on 2026-03-14\nit was");
        assert_eq!(wrap("1 2 3 4 5 6 7 8 9", 5, 0, 0), "1 2 3\n4 5 6\n7 8 9");
    }
}
