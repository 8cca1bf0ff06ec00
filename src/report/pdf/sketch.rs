//! Drawings, read: the SVG that [`crate::report::pictures`] writes and the shapes of states, and nothing else of SVG.
//!
//! What is not known is told, so that a test finds it; a general reader of SVG would weigh more than all the rest that makes a PDF.

use krilla::geom::{Path, PathBuilder, Transform};
use roxmltree::{Document, Node};

/// A drawing.
#[derive(Default)]
pub(super) struct Sketch {
    /// How wide and high, in its own units.
    pub(super) size: (f32, f32),
    /// Its upper left corner, in its own units.
    pub(super) origin: (f32, f32),
    /// What is drawn, in order.
    pub(super) shapes: Vec<Shape>,
    /// Patterns: the name, the side of their square, what is drawn in it.
    pub(super) patterns: Vec<(String, f32, Vec<Shape>)>,
    /// Elements and values that are not known: they are left out.
    pub(super) unknown: Vec<String>,
}

/// Something drawn, and how it is moved.
pub(super) struct Shape {
    /// From the outside in.
    pub(super) moved: Vec<Transform>,
    /// What.
    pub(super) what: Drawn,
}

/// What is drawn.
pub(super) enum Drawn {
    /// An area, its ground, and the line around it.
    Area(Path, Ground, Option<Line>),
    /// Words.
    Words(Words),
}

/// What an area is filled with.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Ground {
    /// Nothing.
    None,
    /// From 0, black, to 255.
    Grey(u8),
    /// A pattern, by its name.
    Pattern(String),
}

/// A line.
pub(super) struct Line {
    /// From 0, black, to 255.
    pub(super) grey: u8,
    /// How wide.
    pub(super) width: f32,
    /// Lengths of dashes and of gaps.
    pub(super) dash: Vec<f32>,
}

/// Words, from a point.
pub(super) struct Words {
    pub(super) said: String,
    pub(super) at: (f32, f32),
    pub(super) size: f32,
    pub(super) bold: bool,
    pub(super) grey: u8,
    /// How much of their length stands left of the point: 0, a half, 1.
    pub(super) left: f32,
}

/// What an element hands on to those in it.
#[derive(Clone)]
struct Look {
    moved: Vec<Transform>,
    fill: Ground,
    line: Ground,
    width: f32,
    dash: Vec<f32>,
    colour: u8,
    size: f32,
    bold: bool,
    left: f32,
}

/// Elements that only say something of a drawing.
const SAID: &[&str] = &["title", "desc"];
/// Attributes that are read elsewhere, or say nothing of how a drawing looks on paper.
const OTHER: &[&str] = &[
    "id",
    "role",
    "aria-labelledby",
    "aria-hidden",
    "focusable",
    "class",
    "font-family",
    "viewBox",
    "patternUnits",
    "tabindex",
    "x",
    "y",
    "width",
    "height",
    "x1",
    "y1",
    "x2",
    "y2",
    "cx",
    "cy",
    "r",
    "d",
    // On paper the letters are those that widths are reckoned with.
    "textLength",
    "lengthAdjust",
];

/// Reads a drawing.
pub(super) fn read(svg: &str) -> Option<Sketch> {
    let document = Document::parse(svg).ok()?;
    let root = document.root_element();
    let mut sketch = Sketch::default();
    let area: Vec<f32> =
        root.attribute("viewBox").unwrap_or_default().split_whitespace().filter_map(|it| it.parse().ok()).collect();
    let [x, y, width, height] = area.try_into().ok()?;
    (sketch.origin, sketch.size) = ((x, y), (width, height));
    let look = Look {
        moved: Vec::new(),
        fill: Ground::Grey(0),
        line: Ground::None,
        width: 1.0,
        dash: Vec::new(),
        colour: 0,
        size: 12.0,
        bold: false,
        left: 0.0,
    };
    let mut shapes = Vec::new();
    sketch.inside(root, &look, &mut shapes);
    sketch.shapes = shapes;
    Some(sketch)
}

impl Sketch {
    fn inside(&mut self, element: Node<'_, '_>, look: &Look, shapes: &mut Vec<Shape>) {
        let look = self.look(element, look);
        let number = |name: &str| element.attribute(name).and_then(|value| value.parse().ok()).unwrap_or(0.0_f32);
        let path = match element.tag_name().name() {
            "svg" | "g" | "defs" => {
                return element.children().filter(Node::is_element).for_each(|child| self.inside(child, &look, shapes));
            }
            "pattern" => {
                let mut own = Vec::new();
                element.children().filter(Node::is_element).for_each(|child| self.inside(child, &look, &mut own));
                return self.patterns.push((
                    element.attribute("id").unwrap_or_default().to_string(),
                    number("width"),
                    own,
                ));
            }
            "text" => {
                let grey = if let Ground::Grey(grey) = look.fill { grey } else { 0 };
                let words = Words {
                    said: element.text().unwrap_or_default().to_string(),
                    at: (number("x"), number("y")),
                    size: look.size,
                    bold: look.bold,
                    grey,
                    left: look.left,
                };
                return shapes.push(Shape { moved: look.moved, what: Drawn::Words(words) });
            }
            "rect" => {
                let (x, y, width) = (number("x"), number("y"), number("width"));
                path(&format!("M{x} {y}h{width}v{}h-{width}z", number("height")))
            }
            "line" => path(&format!("M{} {}L{} {}", number("x1"), number("y1"), number("x2"), number("y2"))),
            "circle" => circle(number("cx"), number("cy"), number("r")),
            "path" => path(element.attribute("d").unwrap_or_default()),
            name if SAID.contains(&name) => return,
            name => return self.unknown.push(name.to_string()),
        };
        let line = match look.line {
            Ground::Grey(grey) => Some(Line { grey, width: look.width, dash: look.dash }),
            _ => None,
        };
        match path {
            Some(path) => shapes.push(Shape { moved: look.moved, what: Drawn::Area(path, look.fill, line) }),
            None => self.unknown.push(format!("{element:?}")),
        }
    }

    fn look(&mut self, element: Node<'_, '_>, look: &Look) -> Look {
        let mut look = look.clone();
        if let Some(colour) = element.attribute("color").and_then(grey) {
            look.colour = colour;
        }
        for attribute in element.attributes() {
            let value = attribute.value();
            let number = value.parse().ok();
            let known = match attribute.name() {
                "fill" => ground(value, look.colour).map(|ground| look.fill = ground),
                "stroke" => ground(value, look.colour).map(|ground| look.line = ground),
                "stroke-width" => number.map(|width| look.width = width),
                "font-size" => number.map(|size| look.size = size),
                "stroke-dasharray" => {
                    look.dash = value.split([' ', ',']).filter_map(|length| length.parse().ok()).collect();
                    Some(())
                }
                "font-weight" => matches!(value, "bold" | "600").then(|| look.bold = true),
                "text-anchor" => part_left(value).map(|left| look.left = left),
                "transform" => moves(value).map(|moves| look.moved.extend(moves)),
                "color" => grey(value).map(drop),
                name => OTHER.contains(&name).then_some(()),
            };
            if known.is_none() {
                self.unknown.push(format!("{}=\"{value}\"", attribute.name()));
            }
        }
        look
    }
}

/// How much of a line of words stands left of its point.
fn part_left(anchor: &str) -> Option<f32> {
    match anchor {
        "start" => Some(0.0),
        "middle" => Some(0.5),
        "end" => Some(1.0),
        _ => None,
    }
}

fn ground(value: &str, colour: u8) -> Option<Ground> {
    match value {
        "none" => Some(Ground::None),
        "currentColor" => Some(Ground::Grey(colour)),
        _ => match value.strip_prefix("url(#") {
            Some(name) => Some(Ground::Pattern(name.trim_end_matches(')').to_string())),
            None => grey(value).map(Ground::Grey),
        },
    }
}

/// A grey of three or six digits; no other colour is one.
fn grey(value: &str) -> Option<u8> {
    let digits = value.strip_prefix('#')?;
    let parts: Vec<&str> = match digits.len() {
        3 => (0..3).map(|at| digits.get(at..at + 1)).collect::<Option<_>>()?,
        6 => (0..3).map(|at| digits.get(at * 2..at * 2 + 2)).collect::<Option<_>>()?,
        _ => return None,
    };
    let value = u8::from_str_radix(parts[0], 16).ok()?;
    let value = if digits.len() == 3 { value * 17 } else { value };
    parts.iter().all(|part| part == &parts[0]).then_some(value)
}

fn moves(value: &str) -> Option<Vec<Transform>> {
    let parts = value.split_inclusive(')').map(str::trim).filter(|part| !part.is_empty());
    let one = |part: &str| {
        let (name, numbers) = part.strip_suffix(')')?.split_once('(')?;
        let numbers: Vec<f32> = numbers.split([' ', ',']).filter_map(|number| number.parse().ok()).collect();
        match (name, numbers.as_slice()) {
            ("translate", [x, y]) => Some(Transform::from_translate(*x, *y)),
            ("translate", [x]) => Some(Transform::from_translate(*x, 0.0)),
            ("rotate", [angle]) => Some(Transform::from_rotate(*angle)),
            ("scale", [by]) => Some(Transform::from_scale(*by, *by)),
            _ => None,
        }
    };
    parts.map(one).collect()
}

fn circle(x: f32, y: f32, radius: f32) -> Option<Path> {
    // Four curves; the distance of their handles comes from the middle of each lying on the circle.
    let (r, k) = (radius, radius * 0.552_284_8);
    path(&format!(
        "M{} {y}c0 {k} {} {r} -{r} {r}c-{k} 0 -{r} {} -{r} -{r}c0 -{k} {} -{r} {r} -{r}c{k} 0 {r} {} {r} {r}z",
        x + r,
        k - r,
        k - r,
        r - k,
        r - k
    ))
}

/// A step of a path.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Step {
    To(f32, f32),
    Line(f32, f32),
    Curve(f32, f32, f32, f32, f32, f32),
    Close,
}

/// A path in the words of SVG; none where one stands in it that is not known.
fn path(text: &str) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for step in steps(text)? {
        match step {
            Step::To(x, y) => builder.move_to(x, y),
            Step::Line(x, y) => builder.line_to(x, y),
            Step::Curve(a, b, c, d, x, y) => builder.cubic_to(a, b, c, d, x, y),
            Step::Close => builder.close(),
        }
    }
    builder.finish()
}

fn steps(text: &str) -> Option<Vec<Step>> {
    let mut steps = Vec::new();
    let mut rest = text.trim_start();
    let (mut at, mut start) = ((0.0, 0.0), (0.0, 0.0));
    let mut command = ' ';
    while let Some(first) = rest.chars().next() {
        if first.is_ascii_alphabetic() {
            command = first;
            rest = rest[1..].trim_start();
        }
        let from = if command.is_ascii_lowercase() { at } else { (0.0, 0.0) };
        let count = match command.to_ascii_lowercase() {
            'm' | 'l' => 2,
            'h' | 'v' => 1,
            'c' => 6,
            'z' => 0,
            _ => return None,
        };
        let mut numbers = [0.0; 6];
        for number in numbers.iter_mut().take(count) {
            (*number, rest) = number_of(rest)?;
        }
        let [a, b, c, d, e, f] = numbers;
        match command.to_ascii_lowercase() {
            'm' => {
                at = (from.0 + a, from.1 + b);
                start = at;
                steps.push(Step::To(at.0, at.1));
                command = if command == 'm' { 'l' } else { 'L' };
                continue;
            }
            'l' => at = (from.0 + a, from.1 + b),
            'h' => at.0 = from.0 + a,
            'v' => at.1 = from.1 + a,
            'c' => {
                let (x, y) = (from.0 + e, from.1 + f);
                steps.push(Step::Curve(from.0 + a, from.1 + b, from.0 + c, from.1 + d, x, y));
                at = (x, y);
                continue;
            }
            _ => {
                steps.push(Step::Close);
                at = start;
                // Numbers cannot follow.
                command = ' ';
                rest = rest.trim_start();
                continue;
            }
        }
        steps.push(Step::Line(at.0, at.1));
    }
    Some(steps)
}

/// A number, and what is behind it.
fn number_of(text: &str) -> Option<(f32, &str)> {
    let (mut end, mut point) = (0, false);
    for (at, character) in text.char_indices() {
        let sign = matches!(character, '-' | '+') && at == 0;
        if !(sign || character.is_ascii_digit() || character == '.' && !point) {
            break;
        }
        point |= character == '.';
        end = at + 1;
    }
    let number = text.get(..end)?.parse().ok()?;
    Some((number, text.get(end..)?.trim_start_matches([' ', ',', '\n'])))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_are_read_as_svg_has_them() {
        let same = [
            ("M1 1h14v14H1z", "M1 1L15 1L15 15L1 15Z"),
            ("M4.5 4.5l7 7m0-7l-7 7", "M4.5 4.5L11.5 11.5M11.5 4.5L4.5 11.5"),
            ("M-1.5 1.5L1.5 -1.5", "M-1.5,1.5L1.5-1.5"),
            ("M0 0 5 5", "M0 0L5 5"),
            ("M2 3c1 1 2 2 3 0", "M2 3C3 4 4 5 5 3"),
        ];
        for (one, other) in same {
            assert_eq!(steps(one), steps(other), "{one}");
            assert!(path(one).is_some());
        }
        assert!(path("M0 0A5 5 0 0 1 5 5").is_none() && path("M0 x").is_none());
        assert!(circle(5.0, 6.0, 2.0).is_some());
    }

    #[test]
    fn what_is_not_known_is_told() {
        let read = read(
            "<svg viewBox=\"0 0 9 9\"><g fill=\"#f00\"><ellipse/><rect x=\"1\" width=\"2\" height=\"3\" opacity=\"1\"/></g></svg>",
        );
        assert_eq!(read.expect("a drawing").unknown, ["fill=\"#f00\"", "ellipse", "opacity=\"1\""]);
    }
}
