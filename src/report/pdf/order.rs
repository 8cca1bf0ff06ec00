//! Which way words run, and so in which order those of a line stand.
//!
//! A packet is set from left to right. What a project writes in Hebrew, Arabic or another script that runs from right to left stands in
//! it as browsers show it on the page: by the Unicode Bidirectional Algorithm (UAX #9), each text by itself. Words stay in the order in
//! which they are read, and so does what programs read out of the file; only their places on the line change.

use unicode_bidi::{BidiInfo, Level};

use super::inline::{Placed, What};

/// The first character that may run from right to left (Hebrew, U+0590); most texts have none.
const FIRST: char = '\u{590}';

/// Which way each byte of a text runs, even from left to right and odd from right to left; nothing if all of it runs from left to right.
pub(super) fn levels(text: &str) -> Vec<u8> {
    if !text.chars().any(|character| character >= FIRST) {
        return Vec::new();
    }
    let text = without_controls(text);
    let info = BidiInfo::new(&text, Some(Level::ltr()));
    if info.has_rtl() { info.levels.iter().map(Level::number).collect() } else { Vec::new() }
}

/// The same, byte for byte as long, with nothing in it that turns other characters round: those are spelt out where they stand, and move
/// nothing.
fn without_controls(text: &str) -> String {
    let plain = |character| match character {
        '\u{61c}' => '\u{a0}',
        '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => '\u{fffc}',
        other => other,
    };
    text.chars().map(plain).collect()
}

/// Puts words that stand one behind the other into the places where they are seen.
pub(super) fn order(line: &mut [Placed]) {
    if line.iter().all(|placed| placed.style.letters.level == 0) {
        return;
    }
    let mut levels: Vec<Level> =
        line.iter().map(|placed| Level::new(placed.style.letters.level).unwrap_or(Level::ltr())).collect();
    // Spaces at the end of a line belong to the page (UAX #9, L1).
    for (placed, level) in line.iter().zip(&mut levels).rev() {
        match &placed.what {
            What::Word(word) if word.text == " " => *level = Level::ltr(),
            _ => break,
        }
    }
    let mut x = line.first().map_or(0.0, |placed| placed.x);
    for at in BidiInfo::reorder_visual(&levels) {
        if let Some(placed) = line.get_mut(at) {
            placed.x = x;
            x += placed.width;
        }
    }
}

/// Where the last of some words ends, in whatever order they stand.
pub(super) fn end(line: &[Placed]) -> f32 {
    line.iter().map(|placed| placed.x + placed.width).fold(0.0, f32::max)
}
