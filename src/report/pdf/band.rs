//! Bands: what is set, in strips across the page that are never torn.

use super::inline::Placed;

/// A strip across the page. Lengths are in points, from its top and from the left edge of the text.
#[derive(Debug, Default)]
pub(super) struct Band {
    /// The room before it; none at the top of a page.
    pub(super) before: f32,
    /// How high it is.
    pub(super) height: f32,
    /// What stands in it.
    pub(super) inks: Vec<Ink>,
    /// Whether what follows stays on the same page.
    pub(super) keep: bool,
    /// The bands of the head of the table that it is a row of: they stand anew at the top of a page.
    pub(super) head: Option<std::ops::Range<usize>>,
    /// Whether a page begins with it.
    pub(super) fresh: bool,
}

/// What stands in a band.
#[derive(Debug)]
pub(super) enum Ink {
    /// Words on a line, and what they are.
    Line {
        /// From the left edge of the text.
        x: f32,
        /// From the top of the band down to the foot of the letters.
        y: f32,
        /// The words.
        words: Vec<Placed>,
        /// What they are.
        is: usize,
    },
    /// A straight line across.
    Rule {
        /// From the left edge of the text.
        x: f32,
        /// From the top of the band.
        y: f32,
        /// How long it is.
        width: f32,
        /// How thick it is.
        thick: f32,
        /// Black, not grey.
        black: bool,
    },
    /// A line down the band.
    Bar {
        /// Down the room before it too.
        joined: bool,
        /// From the left edge of the text.
        x: f32,
        /// How thick it is.
        thick: f32,
        /// Black, not grey.
        black: bool,
    },
    /// A picture, by the place of its file.
    Picture {
        /// From the left edge of the text.
        x: f32,
        /// From the top of the band.
        y: f32,
        /// How wide it is.
        width: f32,
        /// How high it is.
        height: f32,
        /// Which one.
        file: usize,
        /// What it is.
        is: usize,
    },
    /// Something that is there although nothing may be written in it.
    There(usize),
    /// What links lead to.
    Place(String),
    /// A heading, by its number in the list of contents.
    Heading(usize),
}

impl Ink {
    /// The same, further down.
    pub(super) fn down(self, by: f32) -> Ink {
        match self {
            Ink::Line { x, y, words, is } => Ink::Line { x, y: y + by, words, is },
            Ink::Rule { x, y, width, thick, black } => Ink::Rule { x, y: y + by, width, thick, black },
            Ink::Picture { x, y, width, height, file, is } => Ink::Picture { x, y: y + by, width, height, file, is },
            other => other,
        }
    }
}

/// Where a row that is higher than this may be torn, in points.
const TALL: f32 = 260.0;
/// How high its parts are.
const PART: f32 = 90.0;

/// Bands beside each other as one, or, where they are too high for that, as several.
pub(super) fn beside(columns: Vec<Vec<Band>>) -> Vec<Band> {
    let high = |bands: &[Band]| bands.iter().enumerate().map(|(at, band)| room(band, at) + band.height).sum::<f32>();
    let part = if columns.iter().all(|bands| high(bands) <= TALL) { f32::INFINITY } else { PART };
    let mut columns: Vec<_> = columns.into_iter().map(|bands| bands.into_iter().peekable()).collect();
    let mut out = Vec::new();
    while columns.iter_mut().any(|bands| bands.peek().is_some()) {
        let mut band = Band::default();
        for bands in &mut columns {
            let mut y = 0.0;
            let mut count = 0;
            while let Some(next) = bands.peek() {
                let top = y + room(next, if out.is_empty() { count } else { 1 });
                if count > 0 && top + next.height > part {
                    break;
                }
                let Some(next) = bands.next() else { break };
                y = top + next.height;
                band.inks.extend(next.inks.into_iter().map(|ink| ink.down(top)));
                count += 1;
            }
            band.height = band.height.max(y);
        }
        out.push(band);
    }
    out
}

/// The room before a band in a column: none before the first.
fn room(band: &Band, at: usize) -> f32 {
    if at == 0 { 0.0 } else { band.before }
}
