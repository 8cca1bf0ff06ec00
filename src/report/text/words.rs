//! Two texts word by word: what went in brackets with minus, what came in braces with plus.

use crate::history::{Piece, word_by_word};
use crate::report::style::{BAD, GOOD, OFF};

/// The new text with the words that went and those that came marked; white space does not count.
pub fn differences(old: &str, new: &str) -> String {
    let mut shown: Vec<String> = Vec::new();
    for piece in word_by_word(old, new) {
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
