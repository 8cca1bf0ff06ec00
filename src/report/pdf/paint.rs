//! Drawings, drawn.

use krilla::color::luma;
use krilla::paint::{Fill, Paint, Pattern, Stroke, StrokeDash};
use krilla::surface::Surface;

use super::fonts::Letters;
use super::inline::{Colour, Style, atoms, lines};
use super::order::end;
use super::sketch::{Drawn, Ground, Shape, Sketch, Words};
use super::write::Drawing;

impl Drawing<'_, '_, '_> {
    /// Draws a drawing, from where it begins, in its own units.
    pub(super) fn sketch(&mut self, sketch: &Sketch) {
        for shape in &sketch.shapes {
            match &shape.what {
                Drawn::Words(words) => {
                    shape.moved.iter().for_each(|moved| self.surface.push_transform(moved));
                    self.sketched(words);
                    shape.moved.iter().for_each(|_| self.surface.pop());
                }
                Drawn::Area(..) => area(&mut self.surface, shape, &sketch.patterns),
            }
        }
    }

    fn sketched(&mut self, words: &Words) {
        let letters = Letters { bold: words.bold, ..Letters::default() };
        let colour = if words.grey == 0 { Colour::Ink } else { Colour::Soft };
        let style = Style { letters, size: words.size, colour, whole: true, ..Style::default() };
        let mut own = Vec::new();
        atoms(&mut self.setter.fonts, &words.said, style, &mut own);
        for line in lines(&mut self.setter.fonts, &own, f32::INFINITY, 0.0) {
            self.words(&line, words.at.0 - end(&line) * words.left, words.at.1);
        }
    }
}

fn area(surface: &mut Surface<'_>, shape: &Shape, patterns: &[(String, f32, Vec<Shape>)]) {
    let Drawn::Area(path, ground, line) = &shape.what else { return };
    let grey = |grey: u8| -> Paint { luma::Color::new(grey).into() };
    let paint = match ground {
        Ground::None => None,
        Ground::Grey(own) => Some(grey(*own)),
        Ground::Pattern(name) => {
            patterns.iter().find(|(own, ..)| own == name).map(|(_, side, shapes)| pattern(surface, *side, shapes))
        }
    };
    surface.set_fill(paint.map(|paint| Fill { paint, ..Fill::default() }));
    surface.set_stroke(line.as_ref().map(|line| Stroke {
        paint: grey(line.grey),
        width: line.width,
        dash: (!line.dash.is_empty()).then(|| StrokeDash { array: line.dash.clone(), offset: 0.0 }),
        ..Stroke::default()
    }));
    shape.moved.iter().for_each(|moved| surface.push_transform(moved));
    surface.draw_path(path);
    shape.moved.iter().for_each(|_| surface.pop());
    surface.set_stroke(None);
}

fn pattern(surface: &mut Surface<'_>, side: f32, shapes: &[Shape]) -> Paint {
    let mut builder = surface.stream_builder();
    let mut inner = builder.surface();
    shapes.iter().for_each(|shape| area(&mut inner, shape, &[]));
    inner.finish();
    let stream = builder.finish();
    Pattern { stream, transform: Default::default(), width: side, height: side }.into()
}
