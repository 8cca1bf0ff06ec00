//! Wrapping and padding by the columns that text takes up.

use crate::report::style::columns;

/// Breaks text at spaces so that no line is wider than `width`, the first after `first` columns already used; later
/// lines start with `indent` spaces. A word wider than a line stands alone, unbroken.
pub fn wrap(text: &str, width: usize, first: usize, indent: usize) -> String {
    let mut wrapped = String::new();
    let mut used = first;
    let mut at_start = true;
    for word in text.split([' ', '\n', '\t']).filter(|word| !word.is_empty()) {
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
}
