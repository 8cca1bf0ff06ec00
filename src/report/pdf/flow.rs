//! Elements of the page, set: paragraphs, headings, pictures, text of files. Lists are in [`super::lists`], tables in [`super::table`].

use super::band::{Band, Ink};
use super::fonts::Fonts;
use super::inline::{Atom, Colour, Style, atoms, lines};
use super::pictures::Pictures;
use super::tags::{Sort, Tags};
use super::tree::{Node, Tagged};

/// Where something is set, and how.
#[derive(Clone, Copy, Debug)]
pub(super) struct Frame {
    /// From the left edge of the text, in points.
    pub(super) x: f32,
    /// How wide, in points.
    pub(super) width: f32,
    /// How words look.
    pub(super) style: Style,
    /// What it is part of.
    pub(super) is: usize,
    /// Words are that, and no paragraph in it: a cell.
    pub(super) bare: bool,
    /// How much further in lines after the first start, in points.
    pub(super) hang: f32,
}

impl Frame {
    /// The same in another size of letters, in points.
    pub(super) fn size(self, size: f32) -> Frame {
        Frame { style: Style { size, ..self.style }, ..self }
    }

    /// The same, further in.
    pub(super) fn within(self, by: f32) -> Frame {
        Frame { x: self.x + by, width: (self.width - by).max(20.0), ..self }
    }

    /// The same in grey.
    pub(super) fn soft(self) -> Frame {
        Frame { style: Style { colour: Colour::Soft, ..self.style }, ..self }
    }

    /// The same in bold letters.
    pub(super) fn bold(self) -> Frame {
        Frame { style: bold(self.style), ..self }
    }
}

/// The same in bold.
pub(super) fn bold(style: Style) -> Style {
    let mut style = style;
    style.letters.bold = true;
    style
}

/// A heading, for the list of contents.
#[derive(Clone, Debug)]
pub(super) struct Heading {
    /// From 1.
    pub(super) level: u16,
    /// What it says.
    pub(super) words: String,
}

/// Where words lead.
#[derive(Debug)]
pub(super) enum To {
    /// To a place of the packet.
    Place(String),
    /// To an address outside.
    Address(String),
    /// To a heading, by its number.
    Heading(usize),
}

/// Words that lead somewhere.
#[derive(Debug)]
pub(super) struct Lead {
    /// Where.
    pub(super) to: To,
    /// What they say.
    pub(super) words: String,
    /// What they are part of.
    pub(super) is: usize,
}

/// What is set so far.
pub(super) struct Setter<'p> {
    pub(super) fonts: Fonts,
    pub(super) tags: Tags,
    pub(super) pictures: &'p Pictures,
    pub(super) bands: Vec<Band>,
    pub(super) headings: Vec<Heading>,
    pub(super) leads: Vec<Lead>,
    /// The room before what comes next.
    room: f32,
    /// What comes next is what these links lead to.
    places: Vec<String>,
    /// Headings are not listed: those of the first page.
    pub(super) cover: bool,
    /// The level of the last heading: the next is no more than one below it, as readers expect.
    depth: u16,
}

/// How high a picture may be, in points.
const TALLEST: f32 = 470.0;
/// Lines stand so far from each other, in sizes of their letters.
const LEADING: f32 = 1.28;
/// The foot of the letters is so far down in a line.
const FOOT: f32 = 0.77;

/// Elements that stand in a line.
const IN_LINE: &[&str] = &[
    "a", "b", "strong", "em", "i", "ins", "del", "sub", "sup", "br", "code", "span", "mark", "s", "u", "small", "input",
];

fn in_line(node: &Node) -> bool {
    match node {
        Node::Text(_) => true,
        Node::Element(own) => IN_LINE.contains(&own.tag.as_str()) && !own.is("do") && !own.is("before"),
    }
}

impl<'p> Setter<'p> {
    /// With nothing set.
    pub(super) fn new(fonts: Fonts, pictures: &'p Pictures) -> Setter<'p> {
        Setter {
            fonts,
            tags: Tags::new(),
            pictures,
            bands: Vec::new(),
            headings: Vec::new(),
            leads: Vec::new(),
            depth: 0,
            room: 0.0,
            places: Vec::new(),
            cover: false,
        }
    }

    /// Room before what comes next, in points; the larger of two counts.
    pub(super) fn space(&mut self, room: f32) {
        self.room = self.room.max(room);
    }

    /// The room that waits for what comes next.
    pub(super) fn waiting(&self) -> f32 {
        self.room
    }

    /// One more band.
    pub(super) fn push(&mut self, mut band: Band) {
        band.before = std::mem::take(&mut self.room);
        let places = std::mem::take(&mut self.places);
        band.inks.extend(places.into_iter().map(Ink::Place));
        self.bands.push(band);
    }

    /// What comes next is what links to this element lead to.
    pub(super) fn named(&mut self, own: &Tagged) {
        self.places.extend(own.ids.iter().cloned());
    }

    /// What is set by this, apart from the rest.
    pub(super) fn apart(&mut self, set: impl FnOnce(&mut Setter<'p>)) -> Vec<Band> {
        let before = (std::mem::take(&mut self.bands), std::mem::replace(&mut self.room, 0.0));
        set(self);
        let own = std::mem::replace(&mut self.bands, before.0);
        self.room = before.1;
        own
    }

    /// What is inside an element.
    pub(super) fn flow(&mut self, nodes: &[Node], frame: Frame) {
        for group in nodes.chunk_by(|one, next| in_line(one) && in_line(next)) {
            match group {
                [Node::Element(own)] if !in_line(&group[0]) => self.block(own, frame),
                words => self.paragraph(words, frame),
            }
        }
    }

    /// Words, on lines.
    pub(super) fn paragraph(&mut self, nodes: &[Node], frame: Frame) {
        let is = if frame.bare { frame.is } else { self.tags.add(frame.is, Sort::Paragraph) };
        let mut words = Vec::new();
        self.words(nodes, frame.style, is, &mut words);
        self.set(&words, Frame { is, ..frame }, false);
    }

    /// Atoms, on lines.
    pub(super) fn set(&mut self, words: &[Atom], frame: Frame, keep: bool) {
        for line in lines(&mut self.fonts, words, frame.width, frame.hang) {
            let largest = line.iter().map(|placed| placed.style.size).fold(0.0, f32::max);
            let height = LEADING * if largest > 0.0 { largest } else { frame.style.size };
            let ink = Ink::Line { x: frame.x, y: height * FOOT, words: line, is: frame.is };
            self.push(Band { height, inks: vec![ink], keep, ..Band::default() });
        }
    }

    /// Takes nodes apart into atoms.
    pub(super) fn words(&mut self, nodes: &[Node], style: Style, is: usize, out: &mut Vec<Atom>) {
        for node in nodes {
            match node {
                Node::Text(text) => atoms(&mut self.fonts, text, style, out),
                Node::Element(own) => self.word(own, style, is, out),
            }
        }
    }

    fn word(&mut self, own: &Tagged, style: Style, is: usize, out: &mut Vec<Atom>) {
        self.named(own);
        match own.tag.as_str() {
            "br" => out.push(Atom::Break),
            "mark" => out.extend(
                own.file.as_ref().and_then(|name| self.pictures.find(name)).map(|file| Atom::Shape(file, style)),
            ),
            "a" => {
                let link = own.href.as_ref().map(|href| {
                    let is = self.tags.add(is, Sort::Link);
                    let to = match href.strip_prefix('#') {
                        Some(place) => To::Place(place.to_string()),
                        None => To::Address(href.clone()),
                    };
                    self.leads.push(Lead { to, words: own.text(), is });
                    self.leads.len() - 1
                });
                let colour = if link.is_some() && !own.is("quiet") { Colour::Link } else { style.colour };
                let whole = style.whole || own.is("i");
                self.words(&own.inside, Style { link: link.or(style.link), colour, whole, ..style }, is, out);
            }
            tag => {
                let style = changed(own, tag, style);
                if own.is("safety") {
                    atoms(&mut self.fonts, "\u{a0}", Style { boxed: false, ..style }, out);
                }
                if own.is("warn") {
                    atoms(&mut self.fonts, "▸\u{a0}", style, out);
                }
                self.words(&own.inside, style, is, out);
                if own.is("no") || own.is("when") || own.is("number") && tag == "span" {
                    atoms(&mut self.fonts, "\u{a0}", style, out);
                }
            }
        }
    }

    /// One element that stands by itself.
    pub(super) fn block(&mut self, own: &Tagged, frame: Frame) {
        self.named(own);
        let size = frame.style.size;
        match own.tag.as_str() {
            "p" | "span" => self.said(own, frame),
            "h1" => {
                self.depth = 1;
                let is = self.tags.add(frame.is, Sort::Heading(1, own.text()));
                self.flow(&own.inside, Frame { is, bare: true, ..frame.bold().size(26.0) });
                self.space(14.0);
            }
            "h2" | "h3" | "h4" | "h5" | "h6" => self.heading(own, frame),
            "ul" | "ol" => self.list(own, frame),
            "dl" => self.facts(own, frame),
            "table" => self.table(own, frame),
            "image" => self.picture(own, frame),
            "figcaption" | "summary" => self.flow(&own.inside, frame.soft().size(size * 0.9)),
            "pre" => self.code(own, frame),
            "blockquote" => self.barred(frame, false, |setter, frame| setter.flow(&own.inside, frame)),
            "hr" => {
                self.space(6.0);
                let ink = Ink::Rule { x: frame.x, y: 0.0, width: frame.width, thick: 0.4, black: false };
                self.push(Band { height: 6.0, inks: vec![ink], ..Band::default() });
            }
            _ => self.holder(own, frame),
        }
    }

    /// An element that holds others.
    fn holder(&mut self, own: &Tagged, frame: Frame) {
        let is = match own.tag.as_str() {
            "section" | "article" => self.tags.add(frame.is, Sort::Section),
            _ => frame.is,
        };
        let frame = Frame { is, ..frame };
        match own.tag.as_str() {
            "article" => {
                self.space(15.0);
                let start = self.bands.len();
                self.flow(&own.inside, frame);
                if let Some(first) = self.bands.get_mut(start) {
                    first.inks.push(Ink::Rule { x: frame.x, y: -4.0, width: frame.width, thick: 0.4, black: false });
                }
            }
            "section" if own.is("verdict") => {
                self.space(10.0);
                let rule = |y, thick| Ink::Rule { x: frame.x, y, width: frame.width, thick, black: true };
                self.push(Band { height: 8.0, inks: vec![rule(0.0, 2.0)], keep: true, ..Band::default() });
                self.flow(&own.inside, frame);
                self.space(0.0);
                self.push(Band { height: 8.0, inks: vec![rule(7.0, 0.6)], ..Band::default() });
                self.space(10.0);
            }
            "div" if own.is("less") || own.is("again") => {
                self.barred(frame, true, |setter, frame| setter.flow(&own.inside, frame));
            }
            "div" if own.is("sides") => self.sides(own, frame),
            // What is for narrow screens is there a second time.
            "figure" if own.is("when-narrow") => {}
            "figure" => {
                self.space(7.0);
                self.flow(&own.inside, frame);
                self.space(9.0);
            }
            "div" if own.is("trail") => self.flow(&own.inside, frame.size(8.2)),
            _ => self.flow(&own.inside, frame),
        }
    }

    /// A paragraph, by what it is.
    fn said(&mut self, own: &Tagged, frame: Frame) {
        let size = frame.style.size;
        let any = |classes: &[&str]| classes.iter().any(|class| own.is(class));
        let mut frame = frame;
        let mut room = size * 0.45;
        if own.is("sentence") {
            frame = frame.size(17.0);
        } else if own.is("before") {
            frame = frame.soft().size(14.0);
            frame.style.letters.bold = false;
        } else if own.is("kind") || any(&["faulty", "draft"]) {
            frame = frame.bold();
            room = 8.0;
        } else if own.is("do") {
            frame = Frame { hang: size, ..frame.soft() };
            let is = if frame.bare { frame.is } else { self.tags.add(frame.is, Sort::Paragraph) };
            let mut words = Vec::new();
            atoms(&mut self.fonts, "→\u{a0}", frame.style, &mut words);
            self.words(&own.inside, frame.style, is, &mut words);
            self.set(&words, Frame { is, ..frame }, false);
            return self.space(size * 0.2);
        } else if any(&["defer", "end"]) {
            frame.style.letters.italic = true;
        } else if any(&["lead", "meta", "legend", "back", "soft", "aside"]) {
            frame = frame.soft().size(size * 0.92);
        } else if own.is("warn") {
            frame = frame.bold();
        }
        self.space(if frame.bare { size * 0.2 } else { room });
        self.flow(&own.inside, frame);
        self.space(if frame.bare { size * 0.2 } else { room });
    }

    /// A heading, which stays with what follows it.
    fn heading(&mut self, own: &Tagged, frame: Frame) {
        let (level, size, above) = match own.tag.as_str() {
            "h2" if self.cover => (2, 9.5, 10.0),
            "h2" => (1, 17.0, 22.0),
            "h3" => (2, 11.5, 14.0),
            "h4" => (3, 9.0, 8.0),
            _ => (4, 9.0, 7.0),
        };
        let mut frame = frame.bold().size(size);
        frame.style.letters.italic = level == 4;
        let words = named(own);
        self.depth = level.min(self.depth + 1);
        let is = self.tags.add(frame.is, Sort::Heading(self.depth, words.clone()));
        self.space(above);
        let mut atoms = Vec::new();
        self.words(&own.inside, frame.style, is, &mut atoms);
        let first = self.bands.len();
        self.set(&atoms, Frame { is, ..frame }, true);
        if level <= 2
            && !self.cover
            && let Some(band) = self.bands.get_mut(first)
        {
            band.inks.push(Ink::Heading(self.headings.len()));
            self.headings.push(Heading { level, words });
        }
        self.space(size * 0.35);
    }

    /// Something with a line beside it.
    fn barred(&mut self, frame: Frame, black: bool, set: impl FnOnce(&mut Setter<'p>, Frame)) {
        self.space(6.0);
        let start = self.bands.len();
        set(self, frame.within(9.0));
        let thick = if black { 1.2 } else { 0.6 };
        for (at, band) in self.bands.iter_mut().skip(start).enumerate() {
            band.inks.push(Ink::Bar { x: frame.x, thick, black, joined: at > 0 });
        }
        self.space(8.0);
    }

    /// Text of a file, line by line.
    fn code(&mut self, own: &Tagged, frame: Frame) {
        let is = self.tags.add(frame.is, Sort::Code);
        let mut style = Style { size: frame.style.size * 0.82, ..frame.style };
        style.letters.mono = true;
        self.barred(frame, false, |setter, frame| {
            for line in own.text().trim_end_matches('\n').split('\n') {
                let kept = line.replace('\t', "    ").replace(' ', "\u{a0}");
                let mut words = Vec::new();
                atoms(&mut setter.fonts, if kept.is_empty() { "\u{a0}" } else { &kept }, style, &mut words);
                setter.set(&words, Frame { is, style, hang: 12.0, ..frame }, false);
            }
        });
    }

    fn picture(&mut self, own: &Tagged, frame: Frame) {
        let Some(file) = own.file.as_ref().and_then(|name| self.pictures.find(name)) else { return };
        let Some((wide, high)) = self.pictures.size(file) else { return };
        let scale = (frame.width / wide).min(TALLEST / high).min(1.0);
        let is = self.tags.add(frame.is, Sort::Figure(own.alt.clone().unwrap_or_default()));
        let (width, height) = (wide * scale, high * scale);
        let ink = Ink::Picture { x: frame.x, y: 0.0, width, height, file, is };
        self.push(Band { height, inks: vec![ink], ..Band::default() });
    }
}

/// What a heading is called in a list: without what is only said beside it.
fn named(own: &Tagged) -> String {
    let beside = |node: &&Node| {
        node.element().is_none_or(|own| !["status", "safety", "aside"].iter().any(|class| own.is(class)))
    };
    let parts = own.inside.iter().filter(beside).map(|node| match node {
        Node::Text(text) => text.clone(),
        Node::Element(own) if own.is("no") => format!("{}  ", own.text()),
        Node::Element(own) => own.text(),
    });
    parts.collect::<String>().trim().to_string()
}

/// How words look in an element.
fn changed(own: &Tagged, tag: &str, style: Style) -> Style {
    let mut style = style;
    match tag {
        "b" | "strong" => style.letters.bold = true,
        "em" | "i" => style.letters.italic = true,
        "ins" | "u" => style.under = true,
        "del" | "s" => style.strike = true,
        "code" => {
            style.letters.mono = true;
            style.size *= 0.82;
        }
        "sub" => style = Style { size: style.size * 0.7, rise: style.rise - style.size * 0.15, ..style },
        "sup" => style = Style { size: style.size * 0.7, rise: style.rise + style.size * 0.32, ..style },
        _ => {}
    }
    if own.is("i") {
        style.whole = true;
        if tag == "b" && !own.is("id") {
            style.letters.bold = true;
        }
    }
    if own.is("state") {
        style.letters.bold = true;
        style.whole = true;
    }
    if own.is("safety") {
        style = Style { boxed: true, whole: true, size: style.size.min(9.0) * 0.85, ..style };
        style.letters.bold = false;
    }
    if ["status", "aside", "none", "no", "when", "where", "number"].iter().any(|class| own.is(class)) {
        style.colour = Colour::Soft;
        style.letters.bold = own.is("when") && style.letters.bold;
    }
    if own.is("status") || own.is("aside") {
        style.size = style.size.min(10.0) * 0.93;
    }
    style
}
