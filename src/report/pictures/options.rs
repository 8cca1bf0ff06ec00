//! Pictures of the margins of options: each result as its distance to the limit, with its uncertainty.
//!
//! Options differ by the form of their mark and by name. Lengths in one block are to scale; each block has a scale of its own, since its
//! unit is its own.

use super::svg::{Area, Fill, INK, PALE, PAPER, Svg, THICK, Words};
use crate::report::view::{ComparedView, ConceptsView, ShownView};

/// Widths in units of the picture: words on the left, the drawing, words on the right.
const LEFT: f64 = 250.0;
const HALF: f64 = 150.0;
const RIGHT: f64 = 380.0;
const EDGE: f64 = 20.0;
/// The height of a line, and of what stands above the first block.
const STEP: f64 = 22.0;
const TOP: f64 = 40.0;
/// Where the limit stands.
const LIMIT: f64 = LEFT + EDGE + HALF;
const WIDTH: f64 = LIMIT + HALF + EDGE + RIGHT;

/// The most criteria; a project that has more reads them in the table.
const SHOWN: usize = 60;
/// The most results of one criterion.
const RESULTS: usize = 12;

/// One result to be drawn.
struct Drawn<'v> {
    option: usize,
    name: &'v str,
    shown: &'v ShownView,
    margin: f64,
    expanded: Option<f64>,
}

/// The picture of all margins of a comparison; none where there is no number to draw.
pub fn options(view: &ConceptsView) -> Option<String> {
    let criteria = view.asked.iter().flat_map(|asked| asked.criteria.iter().map(move |own| (&asked.requirement, own)));
    let mut blocks: Vec<(&String, &ComparedView, Vec<Drawn<'_>>)> = criteria
        .map(|(requirement, criterion)| (requirement, criterion, drawn(criterion)))
        .filter(|(_, _, drawn)| !drawn.is_empty())
        .collect();
    let all: usize = blocks.iter().map(|(_, _, drawn)| drawn.len()).sum();
    blocks.truncate(SHOWN);
    blocks.iter_mut().for_each(|(_, _, drawn)| drawn.truncate(RESULTS));
    let more = all - blocks.iter().map(|(_, _, drawn)| drawn.len()).sum::<usize>();
    let lines: usize = blocks.iter().map(|(_, _, drawn)| drawn.len().max(2)).sum();
    if lines == 0 {
        return None;
    }
    let height = TOP + lines as f64 * STEP + blocks.len() as f64 * STEP / 2.0 + STEP;
    let mut svg = Svg::new("margins", WIDTH);
    frame(&mut svg, height);
    let mut words = String::new();
    let mut y = TOP;
    for (requirement, criterion, drawn) in &blocks {
        block(&mut svg, &mut words, (requirement, criterion), drawn, y);
        y += drawn.len().max(2) as f64 * STEP + STEP / 2.0;
    }
    if more > 0 {
        let left_out = format!("Not drawn: {more} more results; the table has them.");
        svg.words((0.0, height - 4.0), Words::of(&left_out).small().soft());
        words.push_str(&left_out);
    }
    Some(svg.finish(&format!("Margins of the options of {}", view.slot), &words, height))
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
fn frame(svg: &mut Svg, height: f64) {
    let (top, bottom) = (TOP - STEP / 2.0, height - STEP / 2.0);
    svg.area(Area(LIMIT, top, HALF + EDGE, bottom - top), Fill::Plain(PALE), None);
    svg.line((LIMIT, top), (LIMIT, bottom), THICK);
    svg.words((LIMIT - 8.0, 18.0), Words::of("outside").ending());
    svg.words((LIMIT + 8.0, 18.0), Words::of("inside"));
    svg.words((LIMIT, 18.0), Words::of("|").centred());
}

/// One criterion: its name and limit on the left, a line for each result.
fn block(svg: &mut Svg, words: &mut String, of: (&str, &ComparedView), drawn: &[Drawn<'_>], top: f64) {
    let (requirement, criterion) = of;
    let name = format!("{requirement} {}", criterion.name);
    svg.words((0.0, top + 14.0), Words::of(&name).bold().within(LEFT));
    svg.words((0.0, top + 14.0 + STEP * 0.75), Words::of(&criterion.limit).within(LEFT));
    words.push_str(&format!("{name}, {}: ", criterion.limit));
    let reach = drawn.iter().map(|own| own.margin.abs() + own.expanded.unwrap_or(0.0)).fold(0.0, f64::max);
    let scale = if reach > 0.0 { HALF / reach } else { 0.0 };
    for (at, own) in drawn.iter().enumerate() {
        let y = top + 10.0 + at as f64 * STEP;
        result(svg, own, scale, y);
        let line = label(own);
        svg.words((LIMIT + HALF + EDGE + 10.0, y + 4.0), Words::of(&line).within(RIGHT - 10.0));
        words.push_str(&format!("{line}, margin {}; ", own.shown.margin.as_deref().unwrap_or("")));
    }
}

/// The mark of a result, with a bar as long as its uncertainty to each side, or an arrow where it is a bound.
fn result(svg: &mut Svg, own: &Drawn<'_>, scale: f64, y: f64) {
    let x = LIMIT + own.margin * scale;
    if own.shown.at_least {
        let end = (x + 24.0).min(LIMIT + HALF + EDGE);
        svg.line((x, y), (end, y), THICK);
        svg.path(&format!("M{end:.1} {y:.1}l-6 -4v8z"), Fill::Plain(INK), None);
    } else if let Some(expanded) = own.expanded {
        let (from, to) = (x - expanded * scale, x + expanded * scale);
        svg.line((from, y), (to, y), THICK);
        for end in [from, to] {
            svg.line((end, y - 4.0), (end, y + 4.0), THICK);
        }
    }
    match own.option % 4 {
        0 => svg.dot((x, y), 4.5, Fill::Plain(INK), None),
        1 => svg.area(Area(x - 4.5, y - 4.5, 9.0, 9.0), Fill::Plain(PAPER), Some(THICK)),
        2 => svg.path(&format!("M{x:.1} {:.1}l5 9h-10z", y - 5.0), Fill::Plain(INK), None),
        _ => svg.path(&format!("M{x:.1} {:.1}l5 5l-5 5l-5 -5z", y - 5.0), Fill::Plain(PAPER), Some(THICK)),
    }
}

fn label(own: &Drawn<'_>) -> String {
    let result = own.shown.result.as_deref().unwrap_or("");
    let record = own.shown.record.as_deref().unwrap_or("no record");
    let bare = if own.expanded.is_none() && !own.shown.at_least { ", no uncertainty" } else { "" };
    format!("{}: {result}{bare}, {record}, {}", own.name, own.shown.state.word())
}

#[cfg(test)]
mod tests {
    use super::super::tests::{example, well_formed};
    use super::*;
    use crate::report::view;

    #[test]
    fn of_hundreds_of_criteria_some_are_drawn_and_the_others_counted() {
        let mut view = view::concepts(&example(), "MOV-ACT").unwrap();
        let few = options(&view).unwrap();
        well_formed(&few);
        assert!(!few.contains("Not drawn"));
        let asked = view.asked.clone();
        view.asked = std::iter::repeat_n(asked, 100).flatten().collect();
        let many = options(&view).unwrap();
        well_formed(&many);
        assert!(many.contains("Not drawn: ") && many.len() < 100_000, "{}", many.len());
        view.asked.clear();
        assert_eq!(options(&view), None);
    }
}
