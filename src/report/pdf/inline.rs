//! Words on lines.

use std::sync::Arc;

use krilla::text::KrillaGlyph;

use super::fonts::{Fonts, Letters, Word};
use super::order::{levels, order};

/// A grey, or the colour of what can be followed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Colour {
    /// Black.
    #[default]
    Ink,
    /// What stands beside the matter.
    Soft,
    /// What leads somewhere.
    Link,
    /// What stands under everything.
    Pale,
}

/// How words look, and where they lead.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Style {
    /// The letters.
    pub(super) letters: Letters,
    /// Their size, in points.
    pub(super) size: f32,
    /// Their colour.
    pub(super) colour: Colour,
    /// Which link they are part of.
    pub(super) link: Option<usize>,
    /// Underlined.
    pub(super) under: bool,
    /// Struck out.
    pub(super) strike: bool,
    /// In a box.
    pub(super) boxed: bool,
    /// Not broken.
    pub(super) whole: bool,
    /// How far above the line, in points.
    pub(super) rise: f32,
}

/// What lines are made of.
#[derive(Clone, Debug)]
pub(super) enum Atom {
    /// Letters.
    Word(Arc<Word>, Style),
    /// The shape of a state, by the place of its file.
    Shape(usize, Style),
    /// A space, at which a line may end.
    Space(Style),
    /// Where a line may end.
    Soft,
    /// Where a line ends.
    Break,
}

/// Something on a line, and how far from its start.
#[derive(Clone, Debug)]
pub(super) struct Placed {
    /// How far from the start, in points.
    pub(super) x: f32,
    /// How wide, in points.
    pub(super) width: f32,
    /// What it is.
    pub(super) what: What,
    /// How it looks.
    pub(super) style: Style,
}

/// What stands on a line.
#[derive(Clone, Debug)]
pub(super) enum What {
    /// Letters.
    Word(Arc<Word>),
    /// A shape, by the place of its file.
    Shape(usize),
}

/// How wide a shape is, in sizes of the letters beside it, with the space after it.
pub(super) const SHAPE: f32 = 1.25;

/// Takes a text apart at its spaces, and where words may be broken.
pub(super) fn atoms(fonts: &mut Fonts, text: &str, style: Style, atoms: &mut Vec<Atom>) {
    let mut word = String::new();
    let levels = levels(text);
    let mut style = style;
    let mut characters = text.char_indices().peekable();
    while let Some((at, character)) = characters.next() {
        let level = levels.get(at).copied().unwrap_or(0);
        if level != style.letters.level {
            finish(fonts, &mut word, style, atoms);
            style.letters.level = level;
        }
        match character {
            ' ' | '\n' | '\t' | '\r' => {
                finish(fonts, &mut word, style, atoms);
                if !matches!(atoms.last(), None | Some(Atom::Space(_) | Atom::Break)) {
                    atoms.push(Atom::Space(style));
                }
            }
            '\u{200b}' => {
                finish(fonts, &mut word, style, atoms);
                atoms.push(Atom::Soft);
            }
            '\u{ad}' | '\u{feff}' => {}
            '\u{a0}' | '\u{202f}' => word.push('\u{a0}'),
            _ => {
                let after = characters.peek().map_or(' ', |(_, after)| *after);
                let breaks = matches!(character, '/' | '_' | '–' | '—')
                    || character == '-' && word.chars().last().is_some_and(char::is_lowercase) && after.is_lowercase();
                word.push(character);
                if breaks && !style.whole && word.chars().nth(1).is_some() {
                    finish(fonts, &mut word, style, atoms);
                    atoms.push(Atom::Soft);
                }
            }
        }
    }
    finish(fonts, &mut word, style, atoms);
}

fn finish(fonts: &mut Fonts, word: &mut String, style: Style, atoms: &mut Vec<Atom>) {
    if !word.is_empty() {
        atoms.extend(fonts.words(style.letters, word).iter().map(|word| Atom::Word(word.clone(), style)));
        word.clear();
    }
}

/// Lines, while they are filled.
struct Filling<'f> {
    fonts: &'f mut Fonts,
    width: f32,
    /// How much further in than the first line the others start.
    hang: f32,
    lines: Vec<Vec<Placed>>,
    line: Vec<Placed>,
    x: f32,
    /// What must stay together.
    unit: Vec<(What, Style, f32)>,
}

/// Fills lines; those after the first start further in by `hang`.
pub(super) fn lines(fonts: &mut Fonts, atoms: &[Atom], width: f32, hang: f32) -> Vec<Vec<Placed>> {
    let mut filling = Filling { fonts, width, hang, lines: Vec::new(), line: Vec::new(), x: 0.0, unit: Vec::new() };
    for atom in atoms {
        match atom {
            Atom::Word(word, style) => {
                filling.unit.push((What::Word(word.clone()), *style, word.width * style.size));
            }
            Atom::Shape(file, style) => filling.unit.push((What::Shape(*file), *style, SHAPE * style.size)),
            Atom::Space(style) if style.whole => filling.space(*style, false),
            Atom::Space(style) => filling.space(*style, true),
            Atom::Soft => filling.flush(),
            Atom::Break => {
                filling.flush();
                filling.end();
            }
        }
    }
    filling.flush();
    if !filling.line.is_empty() {
        filling.end();
    }
    filling.lines
}

impl Filling<'_> {
    fn space(&mut self, style: Style, breaks: bool) {
        let style = Style { boxed: false, ..style };
        let words = self.fonts.words(style.letters, " ");
        if breaks {
            self.flush();
        }
        for word in words.iter() {
            self.unit.push((What::Word(word.clone()), style, word.width * style.size));
        }
        if breaks && !self.line.is_empty() {
            // A space at the end of a line takes no room, and stays for those who read the text out of the file.
            self.put();
        } else if breaks {
            self.unit.clear();
        }
    }

    fn flush(&mut self) {
        let wide: f32 = self.unit.iter().map(|(_, _, width)| width).sum();
        if !self.line.is_empty() && self.x + wide > self.width + 0.01 {
            self.end();
        }
        if self.x + wide > self.width + 0.01 {
            self.torn();
        } else {
            self.put();
        }
    }

    fn put(&mut self) {
        for (what, style, width) in std::mem::take(&mut self.unit) {
            self.line.push(Placed { x: self.x, width, what, style });
            self.x += width;
        }
    }

    fn end(&mut self) {
        order(&mut self.line);
        self.lines.push(std::mem::take(&mut self.line));
        self.x = self.hang;
    }

    /// What is wider than a line is torn where the line ends.
    fn torn(&mut self) {
        for (what, style, width) in std::mem::take(&mut self.unit) {
            match what {
                What::Word(word) if self.x + width > self.width => {
                    let (first, others) = (self.width - self.x, self.width - self.hang);
                    for part in torn(&word, style, first / style.size, others / style.size) {
                        let width = part.width * style.size;
                        if self.x + width > self.width + 0.01 && !self.line.is_empty() {
                            self.end();
                        }
                        self.unit.push((What::Word(Arc::new(part)), style, width));
                        self.put();
                    }
                }
                what => {
                    self.unit.push((what, style, width));
                    self.put();
                }
            }
        }
    }
}

/// A word in parts that fit, the first into the room that is left; each has one glyph at least.
fn torn(word: &Word, style: Style, first: f32, others: f32) -> Vec<Word> {
    // Glyphs stand as they are seen, from left to right, and what is read first goes onto the first line.
    let back = style.letters.level % 2 == 1;
    let mut glyphs: Vec<&KrillaGlyph> = word.glyphs.iter().collect();
    if back {
        glyphs.reverse();
    }
    let mut parts: Vec<Word> = Vec::new();
    let mut room = first;
    for glyph in glyphs {
        let said = word.text.get(glyph.text_range.clone()).unwrap_or_default();
        let fits = parts.last().is_some_and(|part| part.width + glyph.x_advance <= room);
        if !fits {
            room = if parts.is_empty() { first } else { others };
            parts.push(Word { face: word.face, text: String::new(), glyphs: Vec::new(), width: 0.0 });
        }
        if let Some(part) = parts.last_mut() {
            let start = part.text.len();
            part.text.push_str(said);
            part.glyphs.push(KrillaGlyph { text_range: start..part.text.len(), ..glyph.clone() });
            part.width += glyph.x_advance;
        }
    }
    if back {
        parts.iter_mut().for_each(|part| part.glyphs.reverse());
    }
    parts
}
