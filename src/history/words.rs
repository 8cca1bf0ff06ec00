//! Two statements word by word.
//!
//! A number stays together with its unit, so that "95 K" becomes "90 K" and not "95" becomes "90".

use std::borrow::Cow;

use similar::{Algorithm, DiffOp, capture_diff_slices};

use crate::quantity::Unit;

/// A stretch of words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Piece {
    /// In both.
    Same(String),
    /// What stood there, and what stands there instead; either may be empty.
    Changed {
        /// The words that went.
        from: String,
        /// The words that came.
        to: String,
    },
}

/// Texts of more words than this are told to differ as a whole: to compare them could take as long as their product.
const LONGEST: usize = 5_000;

/// The same, with no more than `around` words of what is the same on either side of a change; an ellipsis stands for the
/// rest.
pub fn compare_around(from: &str, to: &str, around: usize) -> Vec<Piece> {
    let pieces = compare(from, to);
    let last = pieces.len().saturating_sub(1);
    let cut = |(at, piece): (usize, Piece)| {
        let Piece::Same(text) = piece else { return piece };
        let words: Vec<&str> = text.split(' ').collect();
        let (before, after) = (if at == 0 { 0 } else { around }, if at == last { 0 } else { around });
        // An ellipsis in place of one word would tell less and take as much room.
        if words.len() <= before + after + 1 {
            return Piece::Same(text);
        }
        let kept = words[..before].iter().chain(&["…"]).chain(&words[words.len() - after..]);
        Piece::Same(kept.copied().collect::<Vec<_>>().join(" "))
    };
    pieces.into_iter().enumerate().map(cut).collect()
}

/// A word, or a number with its unit.
type Token<'t> = Cow<'t, str>;

/// What two texts share and where they differ, in order.
pub fn compare(from: &str, to: &str) -> Vec<Piece> {
    let (old, new) = (tokens(from), tokens(to));
    if old.len().max(new.len()) > LONGEST {
        return match from == to {
            true => vec![Piece::Same(from.to_string())],
            false => vec![Piece::Changed { from: "…".into(), to: "… (too long to be compared)".into() }],
        };
    }
    let mut pieces: Vec<(bool, &[Token<'_>], &[Token<'_>])> = Vec::new();
    for operation in capture_diff_slices(Algorithm::Patience, &old, &new) {
        let (same, a, b) = match operation {
            DiffOp::Equal { old_index, new_index, len } => {
                (true, old_index..old_index + len, new_index..new_index + len)
            }
            DiffOp::Delete { old_index, old_len, new_index } => {
                (false, old_index..old_index + old_len, new_index..new_index)
            }
            DiffOp::Insert { old_index, new_index, new_len } => {
                (false, old_index..old_index, new_index..new_index + new_len)
            }
            DiffOp::Replace { old_index, old_len, new_index, new_len } => {
                (false, old_index..old_index + old_len, new_index..new_index + new_len)
            }
        };
        pieces.push((same, &old[a], &new[b]));
    }
    let mut told: Vec<(bool, Vec<Token<'_>>, Vec<Token<'_>>)> = Vec::new();
    for (at, (same, a, b)) in pieces.iter().enumerate() {
        // One small word between two changes would only chop up what was rewritten as a whole.
        let small = *same && a.len() == 1 && at > 0 && at + 1 < pieces.len() && is_small(&a[0]);
        match told.last_mut() {
            Some((false, from, to)) if !*same || small => {
                from.extend_from_slice(a);
                to.extend_from_slice(b);
            }
            _ => told.push((*same, a.to_vec(), b.to_vec())),
        }
    }
    let piece = |(same, from, to): (bool, Vec<Token<'_>>, Vec<Token<'_>>)| {
        if same { Piece::Same(to.join(" ")) } else { Piece::Changed { from: from.join(" "), to: to.join(" ") } }
    };
    told.into_iter().map(piece).collect()
}

fn is_small(word: &str) -> bool {
    word.chars().count() <= 3 && !word.chars().any(|c| c.is_ascii_digit())
}

/// The tokens of a text.
fn tokens(text: &str) -> Vec<Token<'_>> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let mut tokens: Vec<Token<'_>> = Vec::with_capacity(words.len());
    let mut at = 0;
    while at < words.len() {
        let mut token = Cow::from(words[at]);
        at += 1;
        if is_number(&token) {
            while at + 1 < words.len() && words[at] == "±" && is_number(words[at + 1]) {
                token = format!("{token} ± {}", words[at + 1]).into();
                at += 2;
            }
            if at < words.len() && is_unit(words[at]) {
                token = format!("{token} {}", words[at]).into();
                at += 1;
            }
        }
        tokens.push(token);
    }
    tokens
}

fn is_number(word: &str) -> bool {
    let digits = word.trim_start_matches(['-', '+', '<', '>', '=', '(']);
    digits.starts_with(|c: char| c.is_ascii_digit()) && !digits.ends_with([',', '.', ';', ':', ')'])
}

/// Whether a word after a number is its unit; some units are ordinary words too.
fn is_unit(word: &str) -> bool {
    let bare = word.trim_end_matches([',', '.', ';', ':', ')']);
    !bare.is_empty() && !["a", "at", "in", "as"].contains(&bare) && Unit::is_unit(bare)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(from: &str, to: &str) -> String {
        let piece = |piece: Piece| match piece {
            Piece::Same(text) => text,
            Piece::Changed { from, to } => format!("[{from} -> {to}]"),
        };
        compare(from, to).into_iter().map(piece).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn numbers_keep_their_units() {
        assert_eq!(
            shown("It shall close within 1.0 s at 95 K.", "It shall close within 1.5 s at 95 K."),
            "It shall close within [1.0 s -> 1.5 s] at 95 K."
        );
        assert_eq!(shown("at 12 ± 2 N·m, cold", "at 12 ± 3 N·m, cold"), "at [12 ± 2 N·m, -> 12 ± 3 N·m,] cold");
        assert_eq!(shown("2 in the box", "3 in the box"), "[2 -> 3] in the box");
    }

    #[test]
    fn words_come_and_go() {
        assert_eq!(shown("a valve shall open", "a main valve shall open"), "a [ -> main] valve shall open");
        assert_eq!(shown("a main valve shall open", "a valve shall open"), "a [main -> ] valve shall open");
        assert_eq!(shown("", "x"), "[ -> x]");
        assert_eq!(shown("x", "x"), "x");
        assert_eq!(shown("", ""), "");
    }

    #[test]
    fn far_from_a_change_an_ellipsis_is_enough() {
        let shown = |from: &str, to: &str| -> Vec<Piece> { compare_around(from, to, 2) };
        let same = |text: &str| Piece::Same(text.into());
        let changed = |from: &str, to: &str| Piece::Changed { from: from.into(), to: to.into() };
        let long = "one two three four five six";
        assert_eq!(
            shown(&format!("{long} red {long} green {long}"), &format!("{long} blue {long} white {long}")),
            [
                same("… five six"),
                changed("red", "blue"),
                same("one two … five six"),
                changed("green", "white"),
                same("one two …")
            ]
        );
        assert_eq!(shown("a b red c d", "a b blue c d"), [same("a b"), changed("red", "blue"), same("c d")]);
        let endless = "word ".repeat(LONGEST + 1);
        assert!(matches!(shown(&endless, "x")[..], [Piece::Changed { .. }]));
    }

    #[test]
    fn a_small_word_does_not_chop_up_what_was_rewritten() {
        assert_eq!(
            shown("close on loss of power", "hold its position of rest on loss of power"),
            "[close -> hold its position of rest] on loss of power"
        );
        assert_eq!(shown("red of green x", "blue of white x"), "[red of green -> blue of white] x");
    }
}
