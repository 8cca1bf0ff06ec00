//! Pictures of margins: each result as its distance to the limit, with its uncertainty.
//!
//! Black on white with one grey: they must be read from a copy of a copy. Options differ by the form of their mark and by
//! name, never by colour. Lengths in one block are to scale; each block has a scale of its own, since its unit is its own.

use std::fmt::Write;

use super::packet::html::escape;
use super::view::{ComparedView, ConceptsView, ShownView};

/// Widths in units of the picture: words on the left, the drawing, words on the right.
const LEFT: f64 = 250.0;
const HALF: f64 = 150.0;
const RIGHT: f64 = 380.0;
const EDGE: f64 = 20.0;
/// The height of a line, and of what stands above the first block.
const LINE: f64 = 22.0;
const TOP: f64 = 40.0;
/// Where the limit stands.
const LIMIT: f64 = LEFT + EDGE + HALF;
const WIDTH: f64 = LIMIT + HALF + EDGE + RIGHT;

/// One result to be drawn.
struct Drawn<'v> {
    option: usize,
    name: &'v str,
    shown: &'v ShownView,
    margin: f64,
    expanded: Option<f64>,
}

/// The picture of all margins of a comparison, or a sentence where there is no number to draw.
pub fn margins(view: &ConceptsView) -> String {
    let criteria = view.asked.iter().flat_map(|asked| asked.criteria.iter().map(move |own| (&asked.requirement, own)));
    let blocks: Vec<(&String, &ComparedView, Vec<Drawn<'_>>)> = criteria
        .map(|(requirement, criterion)| (requirement, criterion, drawn(criterion)))
        .filter(|(_, _, drawn)| !drawn.is_empty())
        .collect();
    if blocks.is_empty() {
        return "<p>No result of any option is a quantity with a limit, so there is no margin to draw.</p>".into();
    }
    let lines: usize = blocks.iter().map(|(_, _, drawn)| drawn.len().max(2)).sum();
    let height = TOP + lines as f64 * LINE + blocks.len() as f64 * LINE / 2.0 + LINE;
    let mut body = String::new();
    let mut words = String::new();
    let mut y = TOP;
    for (requirement, criterion, drawn) in &blocks {
        block(&mut body, &mut words, (requirement, criterion), drawn, y);
        y += drawn.len().max(2) as f64 * LINE + LINE / 2.0;
    }
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"margins-title margins-words\" viewBox=\"0 0 {WIDTH} {height}\" \
         font-family=\"sans-serif\" font-size=\"12\" fill=\"#000\">\n<title id=\"margins-title\">Margins of the options of "
    );
    escape(&mut out, &view.slot);
    out.push_str("</title>\n<desc id=\"margins-words\">");
    out.push_str(&words);
    out.push_str("</desc>\n");
    frame(&mut out, height);
    out.push_str(&body);
    out.push_str("</svg>\n");
    out
}

fn drawn(criterion: &ComparedView) -> Vec<Drawn<'_>> {
    let cells = criterion.cells.iter().enumerate();
    let each =
        cells.flat_map(|(option, cell)| cell.shown.iter().map(move |shown| (option, cell.option.as_str(), shown)));
    let usable = each.filter_map(|(option, name, shown)| {
        let margin = shown.margin_si.filter(|margin| margin.is_finite())?;
        let expanded = shown.expanded_si.filter(|expanded| expanded.is_finite());
        Some(Drawn { option, name, shown, margin, expanded })
    });
    usable.collect()
}

/// The side that is inside, the limit, and what the two sides are called.
fn frame(out: &mut String, height: f64) {
    let bottom = height - LINE / 2.0;
    let _ = writeln!(
        out,
        "<rect x=\"{LIMIT}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"#ececec\"/>",
        TOP - LINE / 2.0,
        HALF + EDGE,
        bottom - TOP + LINE / 2.0
    );
    let _ = writeln!(
        out,
        "<line x1=\"{LIMIT}\" x2=\"{LIMIT}\" y1=\"{}\" y2=\"{bottom}\" stroke=\"#000\" stroke-width=\"1.5\"/>",
        TOP - LINE / 2.0
    );
    for (x, side, word) in [(LIMIT - 8.0, "end", "outside"), (LIMIT + 8.0, "start", "inside")] {
        let _ = writeln!(out, "<text x=\"{x}\" y=\"18\" text-anchor=\"{side}\">{word}</text>");
    }
    let _ = writeln!(out, "<text x=\"{LIMIT}\" y=\"18\" text-anchor=\"middle\">|</text>");
}

/// One criterion: its name and limit on the left, a line for each result.
fn block(out: &mut String, words: &mut String, of: (&str, &ComparedView), drawn: &[Drawn<'_>], top: f64) {
    let (requirement, criterion) = of;
    text(out, 0.0, top + 14.0, &format!("{requirement} {}", criterion.name), 38, true);
    text(out, 0.0, top + 14.0 + LINE * 0.75, &criterion.limit, 38, false);
    escape(words, &format!("{requirement} {}, {}: ", criterion.name, criterion.limit));
    let reach = drawn.iter().map(|own| own.margin.abs() + own.expanded.unwrap_or(0.0)).fold(0.0, f64::max);
    let scale = if reach > 0.0 { HALF / reach } else { 0.0 };
    for (at, own) in drawn.iter().enumerate() {
        let y = top + 10.0 + at as f64 * LINE;
        result(out, own, scale, y);
        let line = label(own);
        text(out, LIMIT + HALF + EDGE + 10.0, y + 4.0, &line, 58, false);
        escape(words, &format!("{line}, margin {}; ", own.shown.margin.as_deref().unwrap_or("")));
    }
}

/// The mark of a result, with a bar as long as its uncertainty to each side, or an arrow where it is a bound.
fn result(out: &mut String, own: &Drawn<'_>, scale: f64, y: f64) {
    let x = LIMIT + own.margin * scale;
    let bar = |out: &mut String, from: f64, to: f64| {
        let _ = writeln!(
            out,
            "<line x1=\"{from:.1}\" x2=\"{to:.1}\" y1=\"{y:.1}\" y2=\"{y:.1}\" stroke=\"#000\" stroke-width=\"1.5\"/>"
        );
    };
    if own.shown.at_least {
        let end = (x + 24.0).min(LIMIT + HALF + EDGE);
        bar(out, x, end);
        let _ = writeln!(out, "<path d=\"M{end:.1} {y:.1} l-6 -4 v8 z\"/>");
    } else if let Some(expanded) = own.expanded {
        let (from, to) = (x - expanded * scale, x + expanded * scale);
        bar(out, from, to);
        for end in [from, to] {
            let _ = writeln!(
                out,
                "<line x1=\"{end:.1}\" x2=\"{end:.1}\" y1=\"{:.1}\" y2=\"{:.1}\" stroke=\"#000\" stroke-width=\"1.5\"/>",
                y - 4.0,
                y + 4.0
            );
        }
    }
    let drawn = match own.option % 4 {
        0 => format!("<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"4.5\"/>"),
        1 => format!(
            "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"9\" height=\"9\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.5\"/>",
            x - 4.5,
            y - 4.5
        ),
        2 => format!("<path d=\"M{x:.1} {:.1} l5 9 h-10 z\"/>", y - 5.0),
        _ => format!(
            "<path d=\"M{x:.1} {:.1} l5 5 l-5 5 l-5 -5 z\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.5\"/>",
            y - 5.0
        ),
    };
    out.push_str(&drawn);
    out.push('\n');
}

fn label(own: &Drawn<'_>) -> String {
    let result = own.shown.result.as_deref().unwrap_or("");
    let record = own.shown.record.as_deref().unwrap_or("no record");
    let bare = if own.expanded.is_none() && !own.shown.at_least { ", no uncertainty" } else { "" };
    format!("{}: {result}{bare}, {record}, {}", own.name, own.shown.state.word())
}

/// A line of words, cut where the picture has no more room; the tables have all of it.
fn text(out: &mut String, x: f64, y: f64, words: &str, longest: usize, strong: bool) {
    let weight = if strong { " font-weight=\"bold\"" } else { "" };
    let _ = write!(out, "<text x=\"{x}\" y=\"{y:.1}\"{weight}>");
    if words.chars().count() > longest {
        let cut: String = words.chars().take(longest - 1).collect();
        escape(out, &format!("{}…", cut.trim_end()));
    } else {
        escape(out, words);
    }
    out.push_str("</text>\n");
}
