//! Wrapping and padding by the columns that text takes up.

use crate::report::style::{columns, is_mark};

/// Breaks text at spaces so that no line is wider than `width`, the first after `first` columns already used; later
/// lines start with `indent` spaces. A number stays with its uncertainty and its unit. A word wider than a line stands
/// alone, unbroken.
pub fn wrap(text: &str, width: usize, first: usize, indent: usize) -> String {
    let mut wrapped = String::new();
    let mut used = first;
    let mut at_start = true;
    for word in pieces(text, width.saturating_sub(indent)) {
        let word = word.as_str();
        let wide = columns(word);
        if !at_start && used + 1 + wide > width {
            wrapped.push('\n');
            wrapped.push_str(&" ".repeat(indent));
            used = indent;
            at_start = true;
        }
        if !at_start {
            wrapped.push(' ');
            used += 1;
        }
        wrapped.push_str(word);
        used += wide;
        at_start = false;
    }
    wrapped
}

/// Words, with each quantity as one unless it is wider than `room`.
fn pieces(text: &str, room: usize) -> Vec<String> {
    let mut pieces: Vec<String> = Vec::new();
    let mut open = false;
    for word in text.split([' ', '\n', '\t']).filter(|word| !word.is_empty()) {
        match pieces.last_mut().filter(|piece| open && columns(piece) + 1 + columns(word) <= room) {
            Some(piece) => {
                piece.push(' ');
                piece.push_str(word);
            }
            None => pieces.push(word.to_string()),
        }
        open = goes_on(word);
    }
    pieces
}

/// Whether what follows a word belongs to it: the uncertainty or the unit after a number, the number after a sign.
fn goes_on(word: &str) -> bool {
    let word: String = word.chars().filter(|c| !is_mark(*c)).collect();
    let bare = word.trim_start_matches(['(', '`', '"', '[', '{', '+', '-']);
    matches!(bare, "±" | "<" | ">" | "≤" | "≥")
        || bare.starts_with(|c: char| c.is_ascii_digit()) && bare.parse::<f64>().is_ok()
}

/// Fills text up with spaces to `width` columns.
pub fn pad(text: &str, width: usize) -> String {
    let mut padded = text.to_string();
    padded.push_str(&" ".repeat(width.saturating_sub(columns(text))));
    padded
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
    fn a_quantity_stays_on_one_line() {
        assert_eq!(wrap("at least 71 ± 3 mL/min here", 14, 0, 2), "at least\n  71 ± 3\n  mL/min here");
        assert_eq!(wrap("margin (74 % of it, 12 U)", 12, 0, 2), "margin (74 %\n  of it,\n  12 U)");
        assert_eq!(wrap("on 2026-03-14 it was", 14, 0, 0), "on 2026-03-14\nit was");
        assert_eq!(wrap("1 2 3 4 5 6 7 8 9", 5, 0, 0), "1 2 3\n4 5 6\n7 8 9");
    }
}
