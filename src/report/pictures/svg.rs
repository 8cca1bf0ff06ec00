//! The writer of pictures: shapes and words as SVG text.
//!
//! Presentation attributes only, so that a picture needs nothing from the page around it: no style, no script, no reference but to
//! its own patterns. It brings its white ground along, so that it can be read on a dark page. Every text is escaped here and nowhere else;
//! numbers have one decimal, so that the same picture is the same bytes.

use std::fmt::Write;

use super::states;
use super::widths::{cut, width_of};
use crate::report::packet::html::escape;
use crate::report::style::acting;
use crate::state::State;

/// The letters of every picture; widths are those of the first three, which are alike.
const FONT: &str = "Helvetica, Arial, Liberation Sans, sans-serif";
/// The size of letters, in units of the picture, and of those beside the matter.
pub(super) const SIZE: f64 = 12.0;
pub(super) const SMALL: f64 = 10.5;
/// The width of a picture that stands alone across a page: on paper its letters come out at about 8 pt.
pub(super) const WIDE: f64 = 760.0;

/// Black, and the greys.
pub(super) const INK: &str = "#000";
pub(super) const SOFT: &str = "#555";
pub(super) const MIDDLE: &str = "#c4c4c4";
pub(super) const PALE: &str = "#e9e9e9";
pub(super) const PAPER: &str = "#fff";

/// A picture while it is being drawn.
pub(super) struct Svg {
    id: String,
    width: f64,
    body: String,
    /// States whose patterns are used.
    patterns: Vec<State>,
}

/// How a line is drawn.
#[derive(Clone, Copy)]
pub(super) struct Pen {
    colour: &'static str,
    width: f64,
    dash: &'static str,
}

/// An ordinary line, a fine one, a thick one.
pub(super) const LINE: Pen = Pen { colour: INK, width: 1.0, dash: "" };
pub(super) const FINE: Pen = Pen { colour: MIDDLE, width: 0.7, dash: "" };
pub(super) const THICK: Pen = Pen { colour: INK, width: 1.6, dash: "" };

impl Pen {
    /// The same in dashes.
    pub(super) const fn dashed(self, dash: &'static str) -> Pen {
        Pen { dash, ..self }
    }

    /// The same in another grey.
    pub(super) const fn in_grey(self, colour: &'static str) -> Pen {
        Pen { colour, ..self }
    }

    /// The same in another width.
    pub(super) const fn wide(self, width: f64) -> Pen {
        Pen { width, ..self }
    }

    fn attributes(self) -> String {
        let dash = if self.dash.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{}\"", self.dash) };
        format!(" stroke=\"{}\" stroke-width=\"{}\"{dash}", self.colour, number(self.width))
    }
}

/// What an area is filled with.
#[derive(Clone, Copy)]
pub(super) enum Fill {
    /// Nothing.
    None,
    /// One of the colours.
    Plain(&'static str),
    /// The pattern of a state.
    State(State),
}

/// An area: left, top, width, height.
#[derive(Clone, Copy)]
pub(super) struct Area(pub(super) f64, pub(super) f64, pub(super) f64, pub(super) f64);

/// Words in a picture: where they stand, and how they look.
#[derive(Clone, Copy)]
pub(super) struct Words<'t> {
    text: &'t str,
    anchor: &'static str,
    size: f64,
    bold: bool,
    colour: &'static str,
    room: f64,
}

impl<'t> Words<'t> {
    /// Black words that start where they are put.
    pub(super) fn of(text: &'t str) -> Words<'t> {
        Words { text, anchor: "", size: SIZE, bold: false, colour: INK, room: WIDE }
    }

    /// They end there.
    pub(super) fn ending(self) -> Words<'t> {
        Words { anchor: " text-anchor=\"end\"", ..self }
    }

    /// They are in the middle there.
    pub(super) fn centred(self) -> Words<'t> {
        Words { anchor: " text-anchor=\"middle\"", ..self }
    }

    /// They are smaller.
    pub(super) fn small(self) -> Words<'t> {
        Words { size: SMALL, ..self }
    }

    /// They are bold.
    pub(super) fn bold(self) -> Words<'t> {
        Words { bold: true, ..self }
    }

    /// They are grey.
    pub(super) fn soft(self) -> Words<'t> {
        Words { colour: SOFT, ..self }
    }

    /// They have no more room than this, and are cut where they need more; the tables and the description have all of them.
    pub(super) fn within(self, room: f64) -> Words<'t> {
        Words { room, ..self }
    }

    /// How wide they are, before they are cut.
    pub(super) fn width(&self) -> f64 {
        width_of(self.text, self.size, self.bold)
    }
}

impl Svg {
    /// An empty picture. The anchor makes its names its own in a page of several.
    pub(super) fn new(anchor: &str, width: f64) -> Svg {
        // What cannot stand in a name is spelt out, so that two anchors never become one name.
        let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.');
        let spelt = |c: char| if plain(c) { c.to_string() } else { format!("~{:x}~", u32::from(c)) };
        let id = anchor.chars().map(spelt).collect();
        Svg { id, width, body: String::new(), patterns: Vec::new() }
    }

    /// A straight line.
    pub(super) fn line(&mut self, from: (f64, f64), to: (f64, f64), pen: Pen) {
        let [x1, y1, x2, y2] = [from.0, from.1, to.0, to.1].map(number);
        let _ = writeln!(self.body, "<line x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\"{}/>", pen.attributes());
    }

    /// A line of any form, in the words of SVG.
    pub(super) fn path(&mut self, path: &str, fill: Fill, pen: Option<Pen>) {
        let paint = self.paint(fill, pen);
        let _ = writeln!(self.body, "<path d=\"{path}\"{paint}/>");
    }

    /// A line through points.
    pub(super) fn through(&mut self, points: &[(f64, f64)], pen: Pen) {
        let mut path = String::new();
        for (x, y) in points {
            let sign = if path.is_empty() { 'M' } else { 'L' };
            let _ = write!(path, "{sign}{} {}", number(*x), number(*y));
        }
        self.path(&path, Fill::None, Some(pen));
    }

    /// A rectangle.
    pub(super) fn area(&mut self, area: Area, fill: Fill, pen: Option<Pen>) {
        let [x, y, width, height] = [area.0, area.1, area.2, area.3].map(number);
        let paint = self.paint(fill, pen);
        let _ = writeln!(self.body, "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\"{paint}/>");
    }

    /// A circle.
    pub(super) fn dot(&mut self, (x, y): (f64, f64), radius: f64, fill: Fill, pen: Option<Pen>) {
        let [x, y, radius] = [x, y, radius].map(number);
        let paint = self.paint(fill, pen);
        let _ = writeln!(self.body, "<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\"{paint}/>");
    }

    /// Words on a line, cut where they have no more room.
    pub(super) fn words(&mut self, (x, y): (f64, f64), words: Words<'_>) {
        self.written(&format!(" x=\"{}\" y=\"{}\"", number(x), number(y)), words);
    }

    /// Words that rise to the right from a point.
    pub(super) fn rising(&mut self, (x, y): (f64, f64), words: Words<'_>) {
        self.written(&format!(" transform=\"translate({} {}) rotate(-45)\"", number(x), number(y)), words);
    }

    fn written(&mut self, place: &str, words: Words<'_>) {
        let plain = shown(words.text);
        let text = cut(&plain, words.size, words.bold, words.room);
        let _ = write!(self.body, "<text{place}{}", words.anchor);
        if (words.size - SIZE).abs() > 1e-9 {
            let _ = write!(self.body, " font-size=\"{}\"", number(words.size));
        }
        if words.bold {
            self.body.push_str(" font-weight=\"bold\"");
        }
        if words.colour != INK {
            let _ = write!(self.body, " fill=\"{}\"", words.colour);
        }
        // Widths are those of the usual letters. Where a reader has only wider ones, what nearly fills its room would leave it.
        let width = width_of(&text, words.size, words.bold);
        if width > words.room * 0.85 {
            let _ = write!(self.body, " textLength=\"{}\" lengthAdjust=\"spacingAndGlyphs\"", number(width));
        }
        self.body.push('>');
        escape(&mut self.body, &text);
        self.body.push_str("</text>\n");
    }

    /// The mark of a state, as everywhere in the packet: its middle, and how wide it is.
    pub(super) fn mark(&mut self, state: State, (x, y): (f64, f64), size: f64) {
        let [left, top] = [x - size / 2.0, y - size / 2.0].map(number);
        let _ = writeln!(
            self.body,
            "<g color=\"{INK}\" fill=\"{INK}\" transform=\"translate({left} {top}) scale({:.3})\">{}</g>",
            size / 16.0,
            states::mark(state)
        );
    }

    fn paint(&mut self, fill: Fill, pen: Option<Pen>) -> String {
        let fill = match fill {
            Fill::None => "none".to_string(),
            Fill::Plain(colour) => colour.to_string(),
            Fill::State(state) => match states::plain(state) {
                Some(colour) => colour.to_string(),
                None => {
                    if !self.patterns.contains(&state) {
                        self.patterns.push(state);
                    }
                    format!("url(#{})", self.pattern_name(state))
                }
            },
        };
        format!(" fill=\"{fill}\"{}", pen.map(Pen::attributes).unwrap_or_default())
    }

    fn pattern_name(&self, state: State) -> String {
        format!("{}-{}", self.id, state.word().replace(' ', "-"))
    }

    /// The whole picture: its title, what it shows in words for those who do not see it, and its height.
    pub(super) fn finish(self, title: &str, words: &str, height: f64) -> String {
        let [width, height] = [self.width, height].map(number);
        let id = &self.id;
        let mut out = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"{id}-title {id}-words\" \
             viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" font-family=\"{FONT}\" \
             font-size=\"{SIZE}\" fill=\"{INK}\">\n<title id=\"{id}-title\">"
        );
        escape(&mut out, &shown(title));
        let _ = write!(out, "</title>\n<desc id=\"{id}-words\">");
        escape(&mut out, &shown(words));
        out.push_str("</desc>\n");
        if !self.patterns.is_empty() {
            out.push_str("<defs>\n");
            let mut used = self.patterns.clone();
            used.sort_unstable();
            for state in used {
                let _ = writeln!(
                    out,
                    "<pattern id=\"{}\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\">{}</pattern>",
                    self.pattern_name(state),
                    states::pattern(state)
                );
            }
            out.push_str("</defs>\n");
        }
        let _ = writeln!(out, "<rect width=\"{width}\" height=\"{height}\" fill=\"{PAPER}\"/>");
        out.push_str(&self.body);
        out.push_str("</svg>\n");
        out
    }
}

/// A text with what would hide it or turn its direction spelt out, on one line.
pub(super) fn shown(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match (character, acting(character)) {
            ('\n' | '\t' | '\r', _) => out.push(' '),
            (_, Some(name)) => {
                let _ = write!(out, "<{name}>");
            }
            (_, None) => out.push(character),
        }
    }
    out
}

/// A length with one decimal at most.
pub(super) fn number(value: f64) -> String {
    let text = format!("{value:.1}");
    let text = text.strip_suffix(".0").unwrap_or(&text);
    if text == "-0" { "0".into() } else { text.into() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_put_in_cannot_get_out() {
        let mut svg = Svg::new("a\" onload=\"x", 100.0);
        svg.words((1.0, 2.0), Words::of("<script>\u{202e}&\"'\n"));
        let out = svg.finish("</title><a>", "</desc>\u{1b}[2J", 10.0);
        assert!(out.contains("aria-labelledby=\"a~22~~20~onload~3d~~22~x-title a~22~"), "{out}");
        assert!(out.contains(">&lt;script&gt;&lt;U+202E&gt;&amp;&quot;&#39; </text>"), "{out}");
        assert!(
            out.contains("&lt;/title&gt;&lt;a&gt;</title>") && out.contains("&lt;/desc&gt;&lt;U+001B&gt;[2J</desc>"),
            "{out}"
        );
    }

    #[test]
    fn numbers_are_short_and_have_no_negative_nought() {
        assert_eq!([0.04, -0.04, 1.0, 1.25, -3.96, 10.0].map(number), ["0", "0", "1", "1.2", "-4", "10"]);
    }

    /// An XML reader must be able to read it: every tag that is opened is closed.
    #[test]
    fn a_picture_with_everything_is_well_formed() {
        let mut svg = Svg::new("x", 100.0);
        for state in State::ALL {
            svg.area(Area(0.0, 0.0, 5.0, 5.0), Fill::State(state), Some(LINE));
            svg.mark(state, (5.0, 5.0), 8.0);
        }
        svg.rising((1.0, 1.0), Words::of("up"));
        svg.through(&[(0.0, 0.0), (1.0, 1.0)], FINE);
        svg.dot((1.0, 1.0), 2.0, Fill::None, None);
        let out = svg.finish("t", "w", 10.0);
        super::super::tests::well_formed(&out);
        assert_eq!(out.matches("<pattern ").count(), 6, "all states but the two that are plain");
    }
}
