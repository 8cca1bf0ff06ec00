//! Sheets written as a PDF (ISO 32000-1:2008), tagged as PDF/UA-1 (ISO 14289-1:2014) asks; the library checks what a program can check
//! of that.

use foldhash::HashMap;

use krilla::Document;
use krilla::action::{Action, LinkAction};
use krilla::annotation::{Annotation, LinkAnnotation, Target};
use krilla::color::{luma, rgb};
use krilla::configure::{Accessibility, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Quadrilateral, Rect, Size as Area, Transform};
use krilla::metadata::Metadata;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::{Page, PageSettings};
use krilla::paint::{Fill, Paint};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, SpanTag};
use krilla::text::KrillaGlyph;
use krilla::{SerializeSettings, error::KrillaError};

use super::band::{Band, Ink};
use super::flow::{Setter, To};
use super::inline::{Colour, Placed, SHAPE, Style, What, atoms, lines};
use super::order::end;
use super::pictures::Picture;
use super::sheets::{self, ABOVE, At, BELOW, On, Run, SIDE, Sheet, Size};
use crate::report::ReportError;

/// What stands on every sheet.
pub(super) struct Every<'t> {
    /// The title of the document.
    pub(super) title: &'t str,
    /// At the head of each but the first.
    pub(super) running: &'t str,
    /// Across each, if it is a draft.
    pub(super) draft: Option<&'t str>,
}

/// Writes sheets.
///
/// # Errors
/// If what was set breaks a rule of tagged PDFs.
pub(super) fn write(
    setter: &mut Setter<'_>,
    runs: &[Run],
    own: &[Sheet],
    every: &Every<'_>,
) -> Result<Vec<u8>, ReportError> {
    let configuration = ConfigurationBuilder::new().with_accessibility_validator(Accessibility::UA1).finish();
    let configuration = configuration.map_err(|_| ReportError::new("no version of PDF can be written"))?;
    let mut document = Document::new_with(SerializeSettings { configuration, ..SerializeSettings::default() });
    let headings = sheets::headings(runs, own, setter.headings.len());
    let mut places = Places::default();
    sheets::each(runs, own, |sheet, y, ink| {
        if let Ink::Place(name) = ink {
            places.entry(name.as_str()).or_insert((sheet, y));
        }
    });
    for (number, sheet) in own.iter().enumerate() {
        let Some(settings) = PageSettings::from_wh(sheet.size.width, sheet.size.height) else { continue };
        let mut page = document.start_page_with(settings);
        let bands = runs.get(sheet.run).map(|run| run.bands.as_slice()).unwrap_or_default();
        let leads = drawn(&mut page, setter, (sheet, bands), (number + 1, own.len()), every);
        link(&mut page, setter, leads, (&places, &headings));
        page.finish();
    }
    document.set_outline(outline(setter, &headings));
    document.set_metadata(metadata(every));
    document.set_tag_tree(setter.tags.tree());
    document.finish().map_err(wrong)
}

/// Where links lead: the sheet of each place, and how far down.
type Places<'r> = HashMap<&'r str, At>;

/// Links on a sheet, by their number, and where they stand.
type Leads = Vec<(usize, Vec<Quadrilateral>)>;

/// Draws a sheet.
fn drawn(
    page: &mut Page<'_>,
    setter: &mut Setter<'_>,
    (sheet, bands): (&Sheet, &[Band]),
    number: (usize, usize),
    every: &Every<'_>,
) -> Leads {
    let mut drawing =
        Drawing { surface: page.surface(), setter, leads: Vec::new(), glyphs: Vec::new(), said: String::new() };
    drawing.around(sheet.size, number, every);
    for on in &sheet.bands {
        if let Some(band) = bands.get(on.band) {
            drawing.band(&band.inks, band.height, on);
        }
    }
    let Drawing { surface, leads, .. } = drawing;
    surface.finish();
    leads
}

/// Makes links of what leads somewhere on a sheet.
fn link(page: &mut Page<'_>, setter: &mut Setter<'_>, leads: Leads, (places, headings): (&Places<'_>, &[At])) {
    let to = |(sheet, y): At| Target::Destination(XyzDestination::new(sheet, above(y)).into());
    for (lead, quads) in leads {
        let Some(lead) = setter.leads.get(lead) else { continue };
        let target = match &lead.to {
            To::Place(name) => places.get(name.as_str()).copied().map(to),
            To::Heading(number) => headings.get(*number).copied().map(to),
            To::Address(address) => Some(Target::Action(Action::Link(LinkAction::new(address.clone())))),
        };
        if let Some(target) = target {
            let link = LinkAnnotation::new_with_quad_points(quads, target);
            let leaf = page.add_tagged_annotation(Annotation::new_link(link, Some(lead.words.clone())));
            setter.tags.leaf(lead.is, leaf);
        }
    }
}

/// Where a view of the sheet begins that shows what stands there.
fn above(y: f32) -> Point {
    Point::from_xy(0.0, (y - 6.0).max(0.0))
}

fn metadata(every: &Every<'_>) -> Metadata {
    let metadata = Metadata::new().title(every.title.into()).language("en".into()).creator("slipmark".into());
    metadata.document_id(every.running.into())
}

fn wrong(error: KrillaError) -> ReportError {
    ReportError::new(format!("the PDF could not be written: {error:?}"))
}

fn outline(setter: &Setter<'_>, headings: &[At]) -> Outline {
    let mut outline = Outline::new();
    let mut open: Option<OutlineNode> = None;
    for (heading, (sheet, y)) in setter.headings.iter().zip(headings) {
        let node = OutlineNode::new(heading.words.clone(), XyzDestination::new(*sheet, above(*y)));
        match &mut open {
            Some(above) if heading.level > 1 => above.push_child(node),
            _ => open.replace(node).into_iter().for_each(|last| outline.push_child(last)),
        }
    }
    open.into_iter().for_each(|last| outline.push_child(last));
    outline
}

/// A sheet, while it is drawn.
pub(super) struct Drawing<'d, 'p, 's> {
    pub(super) surface: Surface<'d>,
    pub(super) setter: &'s mut Setter<'p>,
    /// Links on this sheet, and where they stand.
    leads: Leads,
    glyphs: Vec<KrillaGlyph>,
    said: String,
}

impl Drawing<'_, '_, '_> {
    /// What stands around the text: the word for a draft, the head, the number.
    fn around(&mut self, size: Size, (number, count): (usize, usize), every: &Every<'_>) {
        if let Some(draft) = every.draft {
            self.across(size, draft);
        }
        let style = Style { size: 7.6, colour: Colour::Soft, ..Style::default() };
        if number > 1 {
            self.artifact(ArtifactType::Header);
            self.text(every.running, style, (SIDE, ABOVE - 22.0), size.text(), false);
            self.block(SIDE, ABOVE - 18.0, size.text(), 0.4, false);
            self.surface.end_tagged();
        }
        self.artifact(ArtifactType::Footer);
        self.text(&format!("page {number} of {count}"), style, (SIDE, size.height - BELOW + 24.0), size.text(), true);
        self.surface.end_tagged();
    }

    fn artifact(&mut self, kind: ArtifactType) {
        self.surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(kind)));
    }

    /// Words in pale grey from the lower left to the upper right, under everything.
    fn across(&mut self, size: Size, words: &str) {
        let style = Style { size: 1.0, colour: Colour::Pale, ..Style::default() };
        let letters = super::flow::bold(style).letters;
        let width = self.setter.fonts.width(letters, &words.replace(' ', "\u{a0}"));
        let long = size.width.hypot(size.height) * 0.8;
        let letter = (long / width.max(1.0)).min(60.0);
        let angle = -(size.height / size.width).atan().to_degrees();
        self.artifact(ArtifactType::Watermark);
        self.surface.push_transform(&Transform::from_translate(size.width / 2.0, size.height / 2.0));
        self.surface.push_transform(&Transform::from_rotate(angle));
        let x = -width * letter / 2.0;
        self.text(words, Style { letters, size: letter, ..style }, (x, letter * 0.3), f32::INFINITY, false);
        self.surface.pop();
        self.surface.pop();
        self.surface.end_tagged();
    }

    /// Words on one line; those that have no room are left out.
    fn text(&mut self, words: &str, style: Style, (x, y): (f32, f32), width: f32, right: bool) {
        let mut own = Vec::new();
        atoms(&mut self.setter.fonts, words, style, &mut own);
        let Some(line) = lines(&mut self.setter.fonts, &own, width, 0.0).into_iter().next() else { return };
        self.words(&line, if right { x + width - end(&line) } else { x }, y);
    }

    fn band(&mut self, inks: &[Ink], height: f32, on: &On) {
        if on.again {
            // Who has a page read out heard the head of the table once.
            self.artifact(ArtifactType::PaginationOther);
            for ink in inks {
                if let Ink::Line { x, y, words, .. } = ink {
                    self.words(words, SIDE + x, on.y + y);
                }
            }
        } else {
            inks.iter().for_each(|ink| self.ink(ink, on.y));
            self.artifact(ArtifactType::Layout);
        }
        for ink in inks {
            match ink {
                Ink::Rule { x, y, width, thick, black } => self.block(SIDE + x, on.y + y, *width, *thick, *black),
                Ink::Bar { x, thick, black, joined } => {
                    let room = if *joined { on.room } else { 0.0 };
                    self.block(SIDE + x, on.y - room, *thick, height + room, *black);
                }
                _ => {}
            }
        }
        self.surface.end_tagged();
    }

    fn ink(&mut self, ink: &Ink, top: f32) {
        match ink {
            Ink::Line { x, y, words, is } => self.line(words, (SIDE + x, top + y), *is),
            Ink::Picture { x, y, width, height, file, is } => {
                let leaf = self.surface.start_tagged(ContentTag::Other);
                self.drawn(*file, (SIDE + x, top + y), (*width, *height));
                self.surface.end_tagged();
                self.setter.tags.leaf(*is, leaf);
            }
            Ink::There(is) => self.setter.tags.attach(*is),
            Ink::Place(_) | Ink::Heading(_) | Ink::Rule { .. } | Ink::Bar { .. } => {}
        }
    }

    /// A filled rectangle.
    fn block(&mut self, x: f32, y: f32, width: f32, height: f32, black: bool) {
        let mut path = PathBuilder::new();
        path.move_to(x, y);
        path.line_to(x + width, y);
        path.line_to(x + width, y + height);
        path.line_to(x, y + height);
        path.close();
        if let Some(path) = path.finish() {
            let paint: Paint = if black { luma::Color::black().into() } else { luma::Color::new(190).into() };
            self.surface.set_fill(Some(Fill { paint, ..Fill::default() }));
            self.surface.draw_path(&path);
        }
    }

    /// Words on a line, link by link.
    fn line(&mut self, words: &[Placed], (x, y): (f32, f32), is: usize) {
        for part in words.chunk_by(|one, next| one.style.link == next.style.link) {
            let link = part.first().and_then(|placed| placed.style.link);
            let leaf = self.surface.start_tagged(ContentTag::Span(SpanTag::empty()));
            self.words(part, x, y);
            self.surface.end_tagged();
            let of = link.and_then(|link| self.setter.leads.get(link)).map_or(is, |lead| lead.is);
            self.setter.tags.leaf(of, leaf);
            if let (Some(link), Some(first)) = (link, part.first()) {
                let left = part.iter().map(|placed| placed.x).fold(first.x, f32::min);
                self.lead(link, (x + left, x + end(part)), y, first.style.size);
            }
        }
    }

    fn lead(&mut self, link: usize, (left, right): (f32, f32), y: f32, size: f32) {
        let Some(area) = Rect::from_ltrb(left, y - size * 0.8, right.max(left + 0.1), y + size * 0.25) else { return };
        match self.leads.last_mut() {
            Some((last, quads)) if *last == link => quads.push(area.into()),
            _ => self.leads.push((link, vec![area.into()])),
        }
    }

    /// Words on a line.
    pub(super) fn words(&mut self, words: &[Placed], x: f32, y: f32) {
        for part in words.chunk_by(alike) {
            let Some(first) = part.first() else { continue };
            let (left, y) = (x + first.x, y - first.style.rise);
            match &first.what {
                What::Word(word) => {
                    let Some(font) = self.setter.fonts.fonts.get(word.face).cloned() else { continue };
                    self.gather(part);
                    self.surface.set_fill(Some(fill(first.style.colour)));
                    let (glyphs, said) = (std::mem::take(&mut self.glyphs), std::mem::take(&mut self.said));
                    self.surface.draw_glyphs(Point::from_xy(left, y), &glyphs, font, &said, first.style.size, false);
                    (self.glyphs, self.said) = (glyphs, said);
                    let right = part.last().map_or(left, |last| x + last.x + last.width);
                    self.decorated(first.style, (left, right), y);
                }
                What::Shape(file) => self.shape(*file, (left, y), first.style.size),
            }
        }
    }

    /// The glyphs and the text of words, one behind the other.
    fn gather(&mut self, words: &[Placed]) {
        self.glyphs.clear();
        self.said.clear();
        for placed in words {
            if let What::Word(word) = &placed.what {
                let start = self.said.len();
                self.said.push_str(&word.text);
                let moved = word.glyphs.iter().map(|glyph| KrillaGlyph {
                    text_range: glyph.text_range.start + start..glyph.text_range.end + start,
                    ..glyph.clone()
                });
                self.glyphs.extend(moved);
            }
        }
    }

    fn decorated(&mut self, style: Style, (left, right): (f32, f32), y: f32) {
        let (size, width) = (style.size, right - left);
        if style.under {
            self.block(left, y + size * 0.14, width, size * 0.05, true);
        }
        if style.strike {
            self.block(left, y - size * 0.24, width, size * 0.05, true);
        }
        if style.boxed {
            let (x, top, wide, high) = (left - 1.8, y - size * 0.8, width + 3.6, size * 1.12);
            for (x, y, width, height) in
                [(x, top, wide, 0.5), (x, top + high, wide, 0.5), (x, top, 0.5, high), (x + wide, top, 0.5, high + 0.5)]
            {
                self.block(x, y, width, height, true);
            }
        }
    }

    fn shape(&mut self, file: usize, (x, y): (f32, f32), size: f32) {
        let high = size * (SHAPE - 0.3);
        self.drawn(file, (x, y - high * 0.84), (high, high));
    }

    fn drawn(&mut self, file: usize, (x, y): (f32, f32), (width, height): (f32, f32)) {
        self.surface.push_transform(&Transform::from_translate(x, y));
        let pictures = self.setter.pictures;
        match pictures.get(file) {
            Some(Picture::Drawing(sketch)) => {
                let (wide, high) = sketch.size;
                self.surface.push_transform(&Transform::from_scale(width / wide, height / high));
                self.surface.push_transform(&Transform::from_translate(-sketch.origin.0, -sketch.origin.1));
                self.sketch(sketch);
                self.surface.pop();
                self.surface.pop();
            }
            Some(Picture::Photo(image)) => {
                if let Some(area) = Area::from_wh(width, height) {
                    self.surface.draw_image(image.clone(), area);
                }
            }
            None => {}
        }
        self.surface.pop();
    }
}

fn fill(colour: Colour) -> Fill {
    let paint: Paint = match colour {
        Colour::Ink => luma::Color::black().into(),
        Colour::Soft => luma::Color::new(85).into(),
        Colour::Pale => luma::Color::new(232).into(),
        Colour::Link => rgb::Color::new(0x17, 0x50, 0x6b).into(),
    };
    Fill { paint, ..Fill::default() }
}

/// Whether words stand behind each other in the same letters.
fn alike(one: &Placed, next: &Placed) -> bool {
    match (&one.what, &next.what) {
        (What::Word(a), What::Word(b)) => {
            a.face == b.face && one.style == next.style && (one.x + one.width - next.x).abs() < 0.01
        }
        _ => false,
    }
}
