//! The list of contents: every heading with the number of its sheet.

use super::band::{Band, Ink};
use super::flow::{Frame, Heading, Lead, Setter, To};
use super::inline::{Atom, Placed, Style, What, atoms};
use super::order::order;
use super::sheets::{ABOVE, At, BELOW, Run, Size};
use super::tags::Sort;

/// More headings than this stand in three columns, in smaller letters.
const MANY: usize = 260;
/// The room between columns, and what the second level is set in by, in points.
const GAP: f32 = 20.0;
const INDENT: f32 = 9.0;

/// Sets the list; `places` has where each heading stands.
pub(super) fn contents(setter: &mut Setter<'_>, size: Size, frame: Frame, places: &[At]) -> Run {
    let headings = setter.headings.clone();
    let (columns, letters) = if headings.len() > MANY { (3, 7.2) } else { (2, 8.6) };
    let line = letters * 1.42;
    let is = setter.tags.add(frame.is, Sort::Contents);
    let title_is = setter.tags.add(frame.is, Sort::Heading(1, "Contents".into()));
    let bands = setter.apart(|setter| {
        let mut title = Vec::new();
        let heading = Frame { is: title_is, ..frame.bold().size(17.0) };
        atoms(&mut setter.fonts, "Contents", heading.style, &mut title);
        setter.set(&title, heading, false);
        setter.space(10.0);
        let mut room = size.height - ABOVE - BELOW - 34.0;
        let width = (frame.width - GAP * (columns - 1) as f32) / columns as f32;
        let mut from = 0;
        while from < headings.len() {
            let rows = ((room / line) as usize).max(1).min((headings.len() - from).div_ceil(columns));
            for row in 0..rows {
                let mut band = Band { height: line, fresh: row == 0 && from > 0, ..Band::default() };
                for column in 0..columns {
                    let number = from + column * rows + row;
                    if let Some(heading) = headings.get(number) {
                        let x = frame.x + (width + GAP) * column as f32;
                        let own = Frame { x, width, is, ..frame.size(letters) };
                        let sheet = places.get(number).map_or(0, |(sheet, _)| sheet + 1);
                        band.inks.push(entry(setter, (number, heading), own, sheet));
                    }
                }
                setter.push(band);
            }
            from += rows * columns;
            room = size.height - ABOVE - BELOW;
        }
    });
    Run { size, bands }
}

/// One line of it: the heading, cut where it has no room, and at the end the number.
fn entry(setter: &mut Setter<'_>, (number, heading): (usize, &Heading), frame: Frame, sheet: usize) -> Ink {
    let is = setter.tags.add(frame.is, Sort::Line);
    let link = setter.tags.add(is, Sort::Link);
    setter.leads.push(Lead { to: To::Heading(number), words: heading.words.clone(), is: link });
    let mut style = Style { link: Some(setter.leads.len() - 1), whole: true, ..frame.style };
    style.letters.bold = heading.level == 1;
    let (mut said, mut page) = (Vec::new(), Vec::new());
    atoms(&mut setter.fonts, &heading.words, style, &mut said);
    atoms(&mut setter.fonts, &sheet.to_string(), style, &mut page);
    let indent = if heading.level == 1 { 0.0 } else { INDENT };
    let mut words = Vec::new();
    let number_at = frame.width - width(&page);
    let mut x = put(setter, &said, indent, number_at - 16.0, &mut words);
    if x + 8.0 < number_at {
        // A space for those who read the text out of the file.
        x = put(setter, &[Atom::Space(style)], x, frame.width, &mut words);
    }
    put(setter, &page, number_at.max(x), f32::INFINITY, &mut words);
    Ink::Line { x: frame.x, y: frame.style.size, words, is }
}

fn width(atoms: &[Atom]) -> f32 {
    atoms.iter().map(|atom| if let Atom::Word(word, style) = atom { word.width * style.size } else { 0.0 }).sum()
}

/// Puts words beside each other up to the end of the room; the end of the last.
fn put(setter: &mut Setter<'_>, said: &[Atom], x: f32, end: f32, words: &mut Vec<Placed>) -> f32 {
    let from = words.len();
    let x = put_as_read(setter, said, x, end, words);
    order(words.get_mut(from..).unwrap_or_default());
    x
}

fn put_as_read(setter: &mut Setter<'_>, said: &[Atom], x: f32, end: f32, words: &mut Vec<Placed>) -> f32 {
    let mut x = x;
    for atom in said {
        let (own, style) = match atom {
            Atom::Word(word, style) => (vec![word.clone()], *style),
            Atom::Space(style) => (setter.fonts.words(style.letters, " ").to_vec(), *style),
            _ => continue,
        };
        for word in own {
            let width = word.width * style.size;
            if x + width > end {
                let dots = setter.fonts.words(style.letters, "…").to_vec();
                for dots in dots {
                    words.push(Placed { x, width: dots.width * style.size, what: What::Word(dots.clone()), style });
                    x += dots.width * style.size;
                }
                return x;
            }
            words.push(Placed { x, width, what: What::Word(word), style });
            x += width;
        }
    }
    x
}
