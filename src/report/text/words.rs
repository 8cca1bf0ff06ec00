//! Two texts word by word: what went in brackets with minus, what came in braces with plus.

use similar::{ChangeTag, TextDiff};

use crate::report::style::{BAD, GOOD, OFF};

/// The new text with the words that went and those that came marked; white space does not count.
pub fn differences(old: &str, new: &str) -> String {
    let (old, new): (Vec<&str>, Vec<&str>) = (old.split_whitespace().collect(), new.split_whitespace().collect());
    let diff = TextDiff::from_slices(&old, &new);
    let mut shown: Vec<String> = Vec::new();
    for group in diff.ops() {
        let mut gone: Vec<&str> = Vec::new();
        let mut come: Vec<&str> = Vec::new();
        for change in diff.iter_changes(group) {
            match change.tag() {
                ChangeTag::Equal => shown.push(change.value().to_string()),
                ChangeTag::Delete => gone.push(change.value()),
                ChangeTag::Insert => come.push(change.value()),
            }
        }
        if !gone.is_empty() {
            shown.push(format!("{BAD}[-{}-]{OFF}", gone.join(" ")));
        }
        if !come.is_empty() {
            shown.push(format!("{GOOD}{{+{}+}}{OFF}", come.join(" ")));
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
