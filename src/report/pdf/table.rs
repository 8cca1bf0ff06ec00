//! Tables: how wide their columns become, and their rows.

use super::band::{Band, Ink, beside};
use super::flow::{Frame, Setter, bold};
use super::fonts::Letters;
use super::inline::{Colour, SHAPE};
use super::tags::Sort;
use super::tree::{Node, Tagged};

/// The room between columns, in points.
const GAP: f32 = 7.0;
/// A word may widen its column to no more than this part of the table: it is torn instead.
const WORD: f32 = 0.3;
/// Columns are stretched by no more than this where all have room.
const STRETCH: f32 = 1.6;

/// What a column would take up, in points.
#[derive(Clone, Copy, Default)]
struct Wish {
    /// For its longest text on one line.
    whole: f32,
    /// For its longest word.
    word: f32,
}

impl Wish {
    fn widen(&mut self, other: Wish) {
        self.whole = self.whole.max(other.whole);
        self.word = self.word.max(other.word);
    }
}

/// Gives what a cell over several columns lacks to these in equal parts.
fn share(columns: &mut [Wish], wish: Wish) {
    let count = columns.len() as f32;
    let gaps = GAP * (count - 1.0);
    let (whole, word) = columns.iter().fold((gaps, gaps), |(whole, word), own| (whole + own.whole, word + own.word));
    let lacks = |wanted: f32, there: f32| (wanted - there).max(0.0) / count;
    for own in columns {
        own.whole += lacks(wish.whole, whole);
        own.word += lacks(wish.word, word);
    }
}

/// A row, and whether it stands in the head.
type Row<'n> = (&'n Tagged, bool);

impl Setter<'_> {
    /// A table; rows are torn only where they are very high, and its head stands anew on every page.
    pub(super) fn table(&mut self, own: &Tagged, frame: Frame) {
        let small = ["matrix", "files"].iter().any(|class| own.is(class));
        let frame = frame.size(if small { 7.0 } else { 8.0 });
        let is = self.tags.add(frame.is, Sort::Table);
        self.space(8.0);
        for caption in own.inside.iter().filter_map(Node::element).filter(|it| it.tag == "caption") {
            let is = self.tags.add(is, Sort::Caption);
            let start = self.bands.len();
            let above = Frame { is, bare: true, ..frame.bold().size(8.8) };
            self.flow(&caption.inside, above);
            self.bands.iter_mut().skip(start).for_each(|band| band.keep = true);
            self.space(3.0);
        }
        let mut rows = Vec::new();
        own.inside.iter().for_each(|node| rows_of(node, false, &mut rows));
        let count = rows.iter().map(|(row, _)| cells(row).map(span).sum::<usize>()).max().unwrap_or(0);
        if count > 0 {
            let wishes = self.wishes(&rows, count, frame);
            let columns = widths(&wishes, frame.width, own.is("stack"));
            self.rows(&rows, &columns, Frame { is, ..frame });
        }
        self.space(10.0);
    }

    fn rows(&mut self, rows: &[Row<'_>], columns: &[f32], frame: Frame) {
        let heads = rows.iter().any(|(_, head)| *head).then(|| self.tags.add(frame.is, Sort::Head));
        let body = self.tags.add(frame.is, Sort::Rows);
        let first = self.bands.len();
        let mut head = first..first;
        for (row, is_head) in rows {
            let above = if *is_head { heads.unwrap_or(body) } else { body };
            let mut bands = self.row(row, columns, Frame { is: above, ..frame }, *is_head);
            let keep = *is_head || row.is("row");
            if let Some(last) = bands.last_mut() {
                let (thick, black) = if *is_head { (0.7, true) } else { (0.4, false) };
                last.height += 2.6;
                let width = columns.iter().sum::<f32>() - GAP;
                if !row.is("row") {
                    last.inks.push(Ink::Rule { x: frame.x, y: last.height, width, thick, black });
                }
            }
            for band in bands {
                let head = (!*is_head && !head.is_empty()).then(|| head.clone());
                self.push(Band { keep: keep || band.keep, head, ..band });
            }
            if *is_head {
                head = first..self.bands.len();
            }
        }
    }

    /// A row, without the line below it.
    fn row(&mut self, row: &Tagged, columns: &[f32], frame: Frame, head: bool) -> Vec<Band> {
        let is = self.tags.add(frame.is, Sort::Row);
        let mut at = 0;
        let mut set = Vec::new();
        let mut there = Vec::new();
        for cell in cells(row) {
            let span = span(cell).min(columns.len().saturating_sub(at)).max(1);
            let left: f32 = columns.iter().take(at).sum();
            let width: f32 = columns.iter().skip(at).take(span).sum();
            let sort = if cell.tag == "th" { Sort::Title(span as u32) } else { Sort::Cell(span as u32) };
            let own = self.tags.add(is, sort);
            there.push(own);
            let mut frame = Frame { x: frame.x + left, width: (width - GAP).max(8.0), is: own, bare: true, ..frame };
            frame.style.whole = cell.is("n");
            if head {
                frame.style.colour = Colour::Soft;
            }
            if cell.is("c-no") {
                frame.style = bold(frame.style);
            }
            set.push(self.apart(|setter| {
                setter.named(cell);
                setter.flow(&cell.inside, frame);
            }));
            at += span;
        }
        let mut bands = beside(set);
        if bands.is_empty() {
            bands.push(Band::default());
        }
        if let Some(first) = bands.first_mut() {
            let inks = std::mem::take(&mut first.inks);
            first.inks = there.into_iter().map(Ink::There).chain(inks.into_iter().map(|ink| ink.down(2.2))).collect();
            first.height += 2.2;
        }
        bands
    }

    /// What each column would take up.
    fn wishes(&mut self, rows: &[Row<'_>], count: usize, frame: Frame) -> Vec<Wish> {
        let mut wishes = vec![Wish::default(); count];
        let mut wide = Vec::new();
        for (row, _) in rows {
            let mut at = 0;
            for cell in cells(row) {
                let columns = at..(at + span(cell)).min(count);
                at += span(cell);
                // What goes right across is a heading, and may take several lines.
                if columns.is_empty() || (columns.len() == count && count > 1) {
                    continue;
                }
                let mut line = Line { size: frame.style.size, whole: cell.is("n"), ..Line::default() };
                self.measure(&cell.inside, frame.style.letters, &mut line);
                line.end();
                let wish = Wish { whole: line.longest + 0.5, word: line.word + 0.5 };
                match columns.len() {
                    1 => wishes[columns.start].widen(wish),
                    _ => wide.push((columns, wish)),
                }
            }
        }
        for (columns, wish) in wide {
            share(&mut wishes[columns], wish);
        }
        wishes
    }

    fn measure(&mut self, nodes: &[Node], letters: Letters, line: &mut Line) {
        for node in nodes {
            match node {
                Node::Text(text) => self.measure_text(text, letters, line),
                Node::Element(own) => {
                    let size = line.size;
                    let mut letters = letters;
                    let whole = line.whole;
                    line.whole |= own.is("i") || own.is("state");
                    let block = matches!(own.tag.as_str(), "p" | "br" | "li" | "ul" | "table" | "div") || own.is("do");
                    match own.tag.as_str() {
                        "b" | "strong" => letters.bold = true,
                        "code" => {
                            letters.mono = true;
                            line.size *= 0.82;
                        }
                        "mark" => line.add(SHAPE * size),
                        _ => {}
                    }
                    letters.bold |= own.is("state");
                    if block {
                        line.end();
                    }
                    self.measure(&own.inside, letters, line);
                    if block {
                        line.end();
                    }
                    (line.size, line.whole) = (size, whole);
                }
            }
        }
    }

    fn measure_text(&mut self, text: &str, letters: Letters, line: &mut Line) {
        let space = self.fonts.width(letters, " ") * line.size;
        for (number, word) in text.split(' ').enumerate() {
            if number > 0 {
                line.add(space);
                if !line.whole {
                    line.soft();
                }
            }
            for (number, part) in word.split(['\u{200b}', '\u{ad}']).enumerate() {
                if number > 0 {
                    line.soft();
                }
                if !part.is_empty() {
                    line.add(self.fonts.width(letters, part) * line.size);
                }
            }
        }
    }
}

/// A line of a cell, while it is measured.
#[derive(Default)]
struct Line {
    size: f32,
    whole: bool,
    now: f32,
    unit: f32,
    longest: f32,
    word: f32,
}

impl Line {
    fn add(&mut self, width: f32) {
        self.now += width;
        self.unit += width;
    }

    fn soft(&mut self) {
        self.word = self.word.max(self.unit);
        self.unit = 0.0;
    }

    fn end(&mut self) {
        self.soft();
        self.longest = self.longest.max(self.now);
        self.now = 0.0;
    }
}

/// How wide columns become, with the gap after each.
fn widths(wishes: &[Wish], width: f32, stretched: bool) -> Vec<f32> {
    let room = width + GAP;
    let whole: Vec<f32> = wishes.iter().map(|wish| wish.whole + GAP).collect();
    let sum: f32 = whole.iter().sum();
    if sum <= room {
        let factor = if stretched { (room / sum).min(STRETCH) } else { 1.0 };
        return whole.into_iter().map(|own| own * factor).collect();
    }
    let word = |wish: &Wish| wish.word.min(width * WORD) + GAP;
    let mut own: Vec<f32> = wishes.iter().map(word).collect();
    let least: f32 = own.iter().sum();
    if least >= room {
        return own.into_iter().map(|width| width * room / least).collect();
    }
    // What is left goes to the columns with much text, by the root of what they lack: their rows become as high as those of the others.
    for _ in 0..4 {
        let left = room - own.iter().sum::<f32>();
        let lacks: Vec<f32> = own.iter().zip(&whole).map(|(own, whole)| (whole - own).max(0.0).sqrt()).collect();
        let all: f32 = lacks.iter().sum();
        if left < 0.5 || all <= 0.0 {
            break;
        }
        for ((own, whole), lack) in own.iter_mut().zip(&whole).zip(lacks) {
            *own = (*own + left * lack / all).min(*whole);
        }
    }
    own
}

fn rows_of<'n>(node: &'n Node, head: bool, rows: &mut Vec<Row<'n>>) {
    let Node::Element(own) = node else { return };
    match own.tag.as_str() {
        "tr" => rows.push((own, head)),
        "thead" | "tbody" => own.inside.iter().for_each(|inner| rows_of(inner, own.tag == "thead", rows)),
        _ => {}
    }
}

fn cells(row: &Tagged) -> impl Iterator<Item = &Tagged> {
    row.inside.iter().filter_map(Node::element)
}

fn span(cell: &Tagged) -> usize {
    cell.columns.unwrap_or(1).clamp(1, 64)
}
