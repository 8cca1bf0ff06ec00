//! How states look in pictures: a mark, a pattern for areas, and the key with their words.
//!
//! Never by colour: a picture must be read from a copy of a copy. What is open is dark or hatched; what is not is pale.

use super::svg::{Area, Fill, INK, LINE, PALE, SMALL, Svg, Words};
use crate::state::State;

/// The marks of the packet, from which those of pictures are taken.
const MARKS: &str = include_str!("../../../templates/packet/marks.html");

/// The shape of a state in a square of sixteen, as the packet draws it.
pub(super) fn mark(state: State) -> &'static str {
    let name = format!("<symbol id=\"m-{}\" viewBox=\"0 0 16 16\">", state.word().replace(' ', "-"));
    let shape = MARKS.split_once(name.as_str()).and_then(|(_, rest)| rest.split_once("</symbol>"));
    shape.map_or("", |(shape, _)| shape)
}

/// The colour of an area in a state that needs no pattern.
pub(super) fn plain(state: State) -> Option<&'static str> {
    match state {
        State::NotMet => Some(INK),
        State::Closed => Some(PALE),
        _ => None,
    }
}

/// The pattern of a state, in a square of six.
pub(super) fn pattern(state: State) -> String {
    let (ground, lines, width) = match state {
        State::Void => ("#fff", "M0 0L6 6M0 6L6 0", "1.3"),
        State::Slipped => ("#fff", "M0 6L6 0M-1.5 1.5L1.5 -1.5M4.5 7.5L7.5 4.5", "2"),
        State::Inconclusive => ("#fff", "M0 0L6 6M-1.5 4.5L1.5 7.5M4.5 -1.5L7.5 1.5", "1"),
        State::Unsigned => ("#fff", "M0 1.5H6M0 4.5H6", "1"),
        State::NoEvidence => ("#fff", "M2.2 3h1.6", "1.6"),
        State::Waived => (PALE, "M1.5 0V6M4.5 0V6", ".8"),
        State::NotMet | State::Closed => ("#fff", "", "0"),
    };
    format!(
        "<rect width=\"6\" height=\"6\" fill=\"{ground}\"/><path d=\"{lines}\" fill=\"none\" stroke=\"{INK}\" stroke-width=\"{width}\"/>"
    )
}

/// The width of the little area in front of a word, with its gap.
const SWATCH: f64 = 20.0;
/// From word to word.
const APART: f64 = 16.0;
/// The height of a line of the key.
const HIGH: f64 = 18.0;

/// The key: an area and the word for each of some states, on as many lines as they need. Says where it ends.
pub(super) fn key(svg: &mut Svg, states: &[State], from: (f64, f64), right: f64) -> f64 {
    let (left, mut y) = from;
    let mut x = left;
    for state in states {
        let words = Words::of(state.word()).small();
        let wide = SWATCH + words.width();
        if x > left && x + wide > right {
            (x, y) = (left, y + HIGH);
        }
        svg.area(Area(x, y, 14.0, 10.0), Fill::State(*state), Some(LINE.wide(0.7)));
        svg.words((x + SWATCH, y + SMALL - 1.0), words);
        x += wide + APART;
    }
    y + HIGH
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_state_has_a_mark_and_an_area_of_its_own() {
        for (at, state) in State::ALL.iter().enumerate() {
            assert!(!mark(*state).is_empty(), "{}", state.word());
            for other in &State::ALL[at + 1..] {
                assert_ne!(mark(*state), mark(*other));
                assert_ne!((plain(*state), pattern(*state)), (plain(*other), pattern(*other)));
            }
        }
    }
}
