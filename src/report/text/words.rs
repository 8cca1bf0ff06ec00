//! Two texts word by word: what went in brackets with minus, what came in braces with plus.

use crate::history::{Piece, around_changes, word_by_word};
use crate::report::style::{BAD, GOOD, OFF};

/// The new text with the words that went and those that came marked; white space does not count.
pub fn differences(old: &str, new: &str) -> String {
    shown(word_by_word(old, new))
}

/// Words of what is the same that are left on either side of a change, where a text is not shown in full.
pub const AROUND: usize = 6;

/// The same, with an ellipsis for what is far from any change.
pub fn differences_around(old: &str, new: &str) -> String {
    shown(around_changes(old, new, AROUND))
}

fn shown(pieces: Vec<Piece>) -> String {
    let mut shown: Vec<String> = Vec::new();
    for piece in pieces {
        match piece {
            Piece::Same(words) => shown.push(words),
            Piece::Changed { from, to } => {
                if !from.is_empty() {
                    shown.push(format!("{BAD}[-{from}-]{OFF}"));
                }
                if !to.is_empty() {
                    shown.push(format!("{GOOD}{{+{to}+}}{OFF}"));
                }
            }
        }
    }
    shown.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::style::render;

    #[test]
    fn marks_words_and_not_spaces() {
        let shown = render(&differences("at least 0.3  now", "at\nleast 0.5 now, on"), false);
        assert_eq!(shown, "at least [-0.3 now-] {+0.5 now, on+}");
        assert_eq!(render(&differences("a  b", "a b"), false), "a b");
    }
}
