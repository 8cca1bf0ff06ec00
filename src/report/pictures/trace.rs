//! What one requirement hangs from, what hangs from it, and where that stands: boxes in layers, lines between them.

use super::layers::lay_out;
use super::svg::{Area, Fill, LINE, PAPER, Pen, SOFT, Svg, THICK, WIDE, Words, number};
use crate::report::view::{TraceNode, TraceView};

/// How high a box is, a line that passes, and what is between two.
const HIGH: f64 = 43.0;
const SLIM: f64 = 6.0;
const APART: f64 = 9.0;
/// Between layers, for the lines; and the widest that a box is.
const GAP: f64 = 34.0;
const BROAD: f64 = 168.0;
const TOP: f64 = 6.0;

/// The picture; none where nothing hangs together with the requirement.
pub fn trace(view: &TraceView, anchor: &str) -> Option<String> {
    if view.lines.is_empty() {
        return None;
    }
    let lines: Vec<(usize, usize)> = view.lines.iter().map(|line| (line.from, line.to)).collect();
    let layout = lay_out(view.nodes.len(), &lines, (HIGH, SLIM, APART));
    let layers = layout.layers as f64;
    let wide = ((WIDE - 4.0 - (layers - 1.0) * GAP) / layers).min(BROAD);
    let left = |layer: usize| 2.0 + layer as f64 * (wide + GAP);
    let mut svg = Svg::new(anchor, WIDE);
    for ((line, (from, to)), bends) in view.lines.iter().zip(&lines).zip(&layout.bends) {
        let (start, end) = (layout.places[*from], layout.places[*to]);
        let (start, end) = if start.0 <= end.0 { (start, end) } else { (end, start) };
        let mut stops = vec![(start.0, start.1)];
        stops.extend(bends.iter().enumerate().map(|(at, y)| (start.0 + 1 + at, *y)));
        stops.push(end);
        let pen = LINE.in_grey(SOFT);
        drawn(&mut svg, &stops, (&left, wide), if line.loose { pen.dashed("4 3") } else { pen });
    }
    for (at, (node, (layer, y))) in view.nodes.iter().zip(&layout.places).enumerate() {
        boxed(&mut svg, node, at == 0, Area(left(*layer), TOP + y - HIGH / 2.0, wide, HIGH));
    }
    let height = foot(&mut svg, view, TOP + layout.height);
    Some(svg.finish(&format!("What {} hangs from, and what hangs from it", view.id), &in_words(view), height))
}

/// A line from the right side of a box to the left side of another, level across each layer that it passes.
fn drawn(svg: &mut Svg, stops: &[(usize, f64)], (left, wide): (&dyn Fn(usize) -> f64, f64), pen: Pen) {
    let mut path = String::new();
    for two in stops.windows(2) {
        let (from, to) = ((left(two[0].0) + wide, TOP + two[0].1), (left(two[1].0), TOP + two[1].1));
        let half = (from.0 + to.0) / 2.0;
        let start = if path.is_empty() { 'M' } else { 'L' };
        let [x1, y1, half, x2, y2] = [from.0, from.1, half, to.0, to.1].map(number);
        path.push_str(&format!("{start}{x1} {y1}C{half} {y1} {half} {y2} {x2} {y2}"));
    }
    svg.path(&path, Fill::None, Some(pen));
}

/// One box: its name, what it is and where it stands, what else is to be said.
fn boxed(svg: &mut Svg, node: &TraceNode, own: bool, area: Area) {
    let Area(x, y, wide, _) = area;
    svg.area(area, Fill::Plain(PAPER), Some(if own { THICK.wide(2.4) } else { LINE.wide(0.8) }));
    let room = wide - 10.0;
    let name = Words::of(&node.name).within(room);
    svg.words((x + 5.0, y + 13.0), if node.kind == "row" { name.small() } else { name.bold() });
    let shift = if let Some(state) = node.state {
        svg.mark(state, (x + 10.5, y + 22.5), 10.0);
        14.0
    } else {
        0.0
    };
    svg.words((x + 5.0 + shift, y + 26.0), Words::of(&stands(node)).small().soft().within(room - shift));
    svg.words((x + 5.0, y + 38.5), Words::of(&node.about).small().soft().within(room));
}

/// What it is, and where it stands.
fn stands(node: &TraceNode) -> String {
    match (node.kind, node.state) {
        ("row", Some(state)) => state.word().to_string(),
        (kind, Some(state)) => format!("{}, {kind}", state.word()),
        (kind, None) => kind.to_string(),
    }
}

fn foot(svg: &mut Svg, view: &TraceView, y: f64) -> f64 {
    let mut lines = Vec::new();
    if view.lines.iter().any(|line| line.loose) {
        lines.push("Dashed: a record that names it and decides no row here.".to_string());
    }
    if view.more > 0 {
        lines.push(format!("Not drawn: {} more.", view.more));
    }
    for (at, line) in lines.iter().enumerate() {
        svg.words((2.0, y + 18.0 + at as f64 * 14.0), Words::of(line).small().soft());
    }
    y + 8.0 + lines.len() as f64 * 14.0
}

/// Every line, named by its ends.
fn in_words(view: &TraceView) -> String {
    let name = |at: usize| {
        view.nodes.get(at).map(|node| format!("{} ({}, {})", node.name, stands(node), node.about)).unwrap_or_default()
    };
    let line = |line: &crate::report::view::TraceLine| format!("{} to {}", name(line.from), name(line.to));
    view.lines.iter().map(line).collect::<Vec<_>>().join("; ")
}

#[cfg(test)]
mod tests {
    use super::super::tests::{example, well_formed};
    use super::*;
    use crate::report::view::{self, RowsOf};

    #[test]
    fn everything_that_a_requirement_of_the_example_hangs_with_is_there() {
        let analysis = example();
        let rows = view::matrix(&analysis).rows;
        let rows = RowsOf::of(&rows);
        let view = view::trace(&analysis, "ACT-010", &rows).unwrap();
        let picture = trace(&view, "t").unwrap();
        well_formed(&picture);
        for name in ["ACT-010", "MOV-070", "ACT-030", "ACT-W", "AN-003", "TR-006", "AN-001"] {
            assert_eq!(picture.matches(&format!(">{name}</text>")).count(), 1, "{name}");
        }
        assert!(picture.contains("slipped") && picture.contains("Dashed"), "AN-001 is on what was dropped");
        assert_eq!(picture.matches("<path d=\"M").count() - marks(&picture), view.lines.len());
        assert!(view::trace(&analysis, "TR-006", &rows).is_none());
    }

    /// Paths that belong to the marks of states.
    fn marks(picture: &str) -> usize {
        picture
            .split("<g color")
            .skip(1)
            .map(|own| own.split("</g>").next().unwrap().matches("<path d=\"M").count())
            .sum()
    }

    #[test]
    fn every_requirement_of_the_example_can_be_drawn() {
        let analysis = example();
        let rows = view::matrix(&analysis).rows;
        let rows = RowsOf::of(&rows);
        for it in &analysis.model.requirements {
            let view = view::trace(&analysis, it.head.id.as_str(), &rows).unwrap();
            assert!(view.nodes.len() <= 60);
            trace(&view, "t").inspect(|picture| well_formed(picture));
        }
    }

    #[test]
    fn with_sixty_children_it_says_how_many_more() {
        let mut view = TraceView { id: "R".into(), nodes: Vec::new(), lines: Vec::new(), more: 5 };
        for at in 0..60 {
            let name = format!("requirement-with-a-long-name-{at}");
            view.nodes.push(TraceNode { name, kind: "child", about: "<b>".into(), state: None });
            if at > 0 {
                view.lines.push(view::TraceLine { from: 0, to: at, loose: false });
            }
        }
        let picture = trace(&view, "t").unwrap();
        well_formed(&picture);
        assert!(picture.contains("Not drawn: 5 more.") && picture.len() < 40_000, "{}", picture.len());
        view.lines.clear();
        assert_eq!(trace(&view, "t"), None);
    }
}
