//! The letters: which font has a character, how words are shaped, how wide they come out.
//!
//! The fonts are built in, so that a packet looks the same everywhere and nothing is looked for on the machine. A character that none of
//! them has is spelt by its number, `[U+4E2D]`: on paper nothing may be left out in silence.

use std::sync::Arc;

use foldhash::HashMap;
use krilla::text::{Font, GlyphId, KrillaGlyph};
use rustybuzz::{Direction, UnicodeBuffer};

use crate::report::ReportError;

/// How letters look.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(super) struct Letters {
    /// Bold.
    pub(super) bold: bool,
    /// Italic.
    pub(super) italic: bool,
    /// All of one width.
    pub(super) mono: bool,
    /// Which way they run: odd is from right to left; see `order`.
    pub(super) level: u8,
}

/// A font, by its place among those built in.
pub(super) type Face = usize;

/// The fonts, as they name themselves: family, weight (OS/2, `usWeightClass`), italic.
const FACES: [(&str, u16, bool); 7] = [
    ("Libertinus Serif", 400, false),
    ("Libertinus Serif", 600, false),
    ("Libertinus Serif", 400, true),
    ("Libertinus Serif", 600, true),
    ("DejaVu Sans Mono", 400, false),
    ("DejaVu Sans Mono", 700, false),
    ("NewComputerModern Math", 400, false),
];

impl Letters {
    fn face(self) -> Face {
        match (self.mono, self.italic) {
            (true, _) => 4 + usize::from(self.bold),
            (false, italic) => usize::from(self.bold) + 2 * usize::from(italic),
        }
    }
}

/// Letters of one font, shaped; lengths are in parts of the size of the letters.
#[derive(Debug)]
pub(super) struct Word {
    /// The font.
    pub(super) face: Face,
    /// What it says.
    pub(super) text: String,
    /// Its glyphs.
    pub(super) glyphs: Vec<KrillaGlyph>,
    /// How wide it is.
    pub(super) width: f32,
}

/// Words that were shaped before, by their letters and text.
type Shaped = HashMap<(Letters, Box<str>), Arc<[Arc<Word>]>>;

/// The fonts, and what was shaped with them.
pub(super) struct Fonts {
    shapers: Vec<rustybuzz::Face<'static>>,
    /// The same fonts, for the file.
    pub(super) fonts: Vec<Font>,
    words: Shaped,
}

impl Fonts {
    /// The fonts that are built in.
    pub(super) fn new() -> Result<Fonts, ReportError> {
        let mut found: Vec<Option<(rustybuzz::Face<'static>, Font)>> = FACES.iter().map(|_| None).collect();
        for data in typst_assets::fonts() {
            let Some(face) = rustybuzz::Face::from_slice(data, 0) else { continue };
            let Some(at) = FACES.iter().position(|named| is(&face, named)) else { continue };
            if found[at].is_none() {
                found[at] = Font::new(data.to_vec().into(), 0).map(|font| (face, font));
            }
        }
        let missing = || ReportError::new("a font for the PDF is not built in");
        let (shapers, fonts) = found.into_iter().collect::<Option<Vec<_>>>().ok_or_else(missing)?.into_iter().unzip();
        Ok(Fonts { shapers, fonts, words: HashMap::default() })
    }

    /// Shapes a text without spaces: one word for each font that it takes.
    pub(super) fn words(&mut self, letters: Letters, text: &str) -> Arc<[Arc<Word>]> {
        if let Some(known) = self.words.get(&(letters, Box::from(text))) {
            return known.clone();
        }
        let words: Arc<[Arc<Word>]> = self.stretches(letters, text).map(Arc::new).collect();
        self.words.insert((letters, text.into()), words.clone());
        words
    }

    /// How wide a text is in letters of size 1.
    pub(super) fn width(&mut self, letters: Letters, text: &str) -> f32 {
        self.words(letters, text).iter().map(|word| word.width).sum()
    }

    /// Parts of a text that one font has each.
    fn stretches(&self, letters: Letters, text: &str) -> impl Iterator<Item = Word> {
        let (own, back) = (letters.face(), letters.level % 2 == 1);
        let mut parts: Vec<((Face, bool), String)> = Vec::new();
        for character in text.chars() {
            let (how, said) = match self.face_for(own, character) {
                Some(face) => ((face, back), character.to_string()),
                // What spells it runs from left to right, whatever it spells.
                None => ((own, false), format!("[U+{:04X}]", u32::from(character))),
            };
            match parts.last_mut() {
                Some((last, text)) if *last == how => text.push_str(&said),
                _ => parts.push((how, said)),
            }
        }
        parts.into_iter().map(|((face, back), text)| self.shape(face, text, back))
    }

    fn face_for(&self, own: Face, character: char) -> Option<Face> {
        let mut faces = std::iter::once(own).chain([0, 4, 6]);
        faces.find(|face| self.shapers[*face].glyph_index(character).is_some_and(|glyph| glyph.0 != 0))
    }

    fn shape(&self, face: Face, text: String, back: bool) -> Word {
        let shaper = &self.shapers[face];
        let unit = 1.0 / shaper.units_per_em().max(1) as f32;
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(&text);
        if back {
            buffer.set_direction(Direction::RightToLeft);
        }
        let shaped = rustybuzz::shape(shaper, &[], buffer);
        let mut starts: Vec<usize> = shaped.glyph_infos().iter().map(|info| info.cluster as usize).collect();
        starts.push(text.len());
        starts.sort_unstable();
        let mut width = 0.0;
        let glyphs = shaped.glyph_infos().iter().zip(shaped.glyph_positions()).map(|(info, place)| {
            let start = info.cluster as usize;
            let end = starts.iter().copied().find(|end| *end > start).unwrap_or(text.len());
            let [advance, dx, dy] = [place.x_advance, place.x_offset, place.y_offset].map(|units| units as f32 * unit);
            width += advance;
            KrillaGlyph::new(GlyphId::new(info.glyph_id), advance, dx, dy, 0.0, start..end, None)
        });
        let glyphs = glyphs.collect();
        Word { face, text, glyphs, width }
    }
}

fn is(face: &rustybuzz::Face<'_>, (family, weight, italic): &(&str, u16, bool)) -> bool {
    // Some carry their weight in the name that old systems sort by, and the family in the other (OpenType, `name`, ids 1 and 16).
    let names = face.names().into_iter().filter(|name| matches!(name.name_id, 1 | 16));
    let mut names = names.filter_map(|name| name.to_string());
    face.weight().to_number() == *weight && face.is_italic() == *italic && names.any(|name| name == *family)
}
