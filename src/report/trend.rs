//! How the rows due before an event stood over history, as a picture and as a page of HTML that needs nothing beside it.
//!
//! States differ by pattern and by the order in which they are stacked, not by colour alone: the picture must be read from a copy of a
//! copy. Words beside the picture say the same for those who do not see it.

use std::fmt::Write;

use minijinja::context;
use minijinja::value::{Serde, Value};
use sha2::{Digest, Sha256};

use super::ReportError;
use super::packet::html::escape;
use super::packet::page::{base64, environment, visible, wrong};
use super::text::trend::NOTE;
use super::view::{TrendPoint, TrendView};
use crate::state::State;

const PAGE: &str = include_str!("../../templates/trend.html");
const STYLE: &str = include_str!("../../templates/concepts.css");

/// Sizes in units of the picture.
const WIDTH: f64 = 960.0;
const HEIGHT: f64 = 420.0;
const LEFT: f64 = 56.0;
const RIGHT: f64 = 170.0;
const TOP: f64 = 96.0;
const BOTTOM: f64 = 44.0;
/// What is written beside a tag or decision, at most.
const LONGEST: usize = 18;
/// How near to one another such words may stand.
const APART: f64 = 13.0;

/// How each state is drawn: its colour, and the lines of its pattern in a square of eight.
const DRAWN: [(State, &str, &str); 8] = [
    (State::NotMet, "#8c1d18", "M0 0h8v8h-8z"),
    (State::Void, "#b3541e", "M0 2h8M0 6h8"),
    (State::Slipped, "#c98a00", "M0 8L8 0M-2 2L2 -2M6 10L10 6"),
    (State::Inconclusive, "#6b6b2a", "M0 0L8 8M-2 6L2 10M6 -2L10 2"),
    (State::Unsigned, "#5b4b8a", "M2 0v8M6 0v8"),
    (State::NoEvidence, "#4a4a4a", "M0 4h8M4 0v8"),
    (State::Waived, "#2f6690", "M3 4h2"),
    (State::Closed, "#2e6b3a", ""),
];

/// The picture: a bar for each point, its states stacked, the open ones at the bottom.
pub fn svg(view: &TrendView) -> String {
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"trend-title trend-words\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" \
         font-family=\"sans-serif\" font-size=\"12\" fill=\"#000\">\n<title id=\"trend-title\">"
    );
    escape(&mut out, &visible(&format!("{}: rows due before {}, {}", view.heading.project, view.event, view.chosen)));
    out.push_str("</title>\n<desc id=\"trend-words\">");
    escape(&mut out, &visible(&words(view)));
    out.push_str("</desc>\n<defs>\n");
    for (at, (_, colour, lines)) in DRAWN.iter().enumerate() {
        let strokes = if at == 0 {
            format!("fill=\"{colour}\"")
        } else {
            format!("fill=\"none\" stroke=\"{colour}\" stroke-width=\"2\"")
        };
        let _ = writeln!(
            out,
            "<pattern id=\"s{at}\" width=\"8\" height=\"8\" patternUnits=\"userSpaceOnUse\"><rect width=\"8\" height=\"8\" fill=\"#fff\"/>\
             <path d=\"{lines}\" {strokes}/></pattern>"
        );
    }
    let _ = writeln!(out, "</defs>\n<rect width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"#fff\"/>");
    Picture::of(view).draw(&mut out);
    out.push_str("</svg>\n");
    out
}

/// The page: the picture, what happened when, and the numbers.
///
/// # Errors
/// If the template is at fault.
pub fn html(view: &TrendView) -> Result<String, ReportError> {
    let mut environment = environment()?;
    environment.add_template("trend.html", PAGE).map_err(|error| wrong(&error))?;
    let policy = format!(
        "default-src 'none'; style-src 'sha256-{}'; base-uri 'none'; form-action 'none'",
        base64(&Sha256::digest(STYLE))
    );
    let template = environment.get_template("trend.html").map_err(|error| wrong(&error))?;
    let happened: Vec<Vec<String>> = view.points.iter().map(TrendPoint::happened).collect();
    let states: Vec<&str> = State::ALL.iter().map(|state| state.word()).collect();
    let page = template.render(context! {
        style => Value::from_safe_string(STYLE.to_string()),
        policy => Value::from_safe_string(policy),
        picture => Value::from_safe_string(svg(view)),
        note => NOTE,
        states,
        happened,
        ..Value::from(Serde(view))
    });
    Ok(visible(&page.map_err(|error| wrong(&error))?))
}

/// What the picture shows, in words: the ends, and what happened in between.
fn words(view: &TrendView) -> String {
    let mut words = String::new();
    let counted: Vec<&TrendPoint> = view.points.iter().filter(|point| point.due.is_some()).collect();
    for (when, point) in [("At first", counted.first()), ("at last", counted.last())] {
        let Some(point) = point else { continue };
        let states = State::ALL.iter().filter_map(|state| {
            let count = point.count(*state).filter(|count| *count > 0)?;
            Some(format!("{count} {}", state.word()))
        });
        let states: Vec<String> = states.collect();
        let _ =
            write!(words, "{when}, on {}, {} rows due: {}; ", point.date, point.due.unwrap_or(0), states.join(", "));
    }
    for point in &view.points {
        let happened = point.happened();
        if !happened.is_empty() {
            let _ = write!(words, "{}: {}; ", point.date, happened.join(", "));
        }
    }
    words
}

struct Picture<'v> {
    view: &'v TrendView,
    /// The most rows that are due at any point, one at least.
    most: usize,
    /// How wide a point is.
    step: f64,
}

impl<'v> Picture<'v> {
    fn of(view: &'v TrendView) -> Picture<'v> {
        let most = view.points.iter().filter_map(|point| point.due).max().unwrap_or(0).max(1);
        Picture { view, most, step: (WIDTH - LEFT - RIGHT) / view.points.len().max(1) as f64 }
    }

    fn y(&self, rows: usize) -> f64 {
        HEIGHT - BOTTOM - (HEIGHT - BOTTOM - TOP) * rows as f64 / self.most as f64
    }

    fn draw(&self, out: &mut String) {
        for rows in [0, self.most.div_ceil(2), self.most] {
            let y = self.y(rows);
            let end = WIDTH - RIGHT;
            let _ = writeln!(
                out,
                "<line x1=\"{LEFT}\" x2=\"{end}\" y1=\"{y:.1}\" y2=\"{y:.1}\" stroke=\"#999\" stroke-width=\"0.5\"/>"
            );
            text(out, (LEFT - 6.0, y + 4.0), "end", &rows.to_string());
        }
        for (at, point) in self.view.points.iter().enumerate() {
            self.bar(out, LEFT + self.step * at as f64, point);
        }
        self.signs(out);
        let (first, last) = (self.view.points.first(), self.view.points.last());
        text(out, (LEFT, HEIGHT - 16.0), "start", first.map_or("", |point| &point.date));
        text(out, (WIDTH - RIGHT, HEIGHT - 16.0), "end", last.map_or("", |point| &point.date));
        self.key(out);
    }

    fn bar(&self, out: &mut String, x: f64, point: &TrendPoint) {
        let wide = (self.step * 0.86).max(0.3);
        if point.counts.is_none() {
            let (x, y) = (x + self.step / 2.0, self.y(0) - 4.0);
            text(out, (x, y), "middle", "?");
            return;
        }
        let mut below = 0;
        for (at, (state, colour, _)) in DRAWN.iter().enumerate() {
            let rows = point.count(*state).unwrap_or(0);
            if rows == 0 {
                continue;
            }
            let (bottom, top) = (self.y(below), self.y(below + rows));
            below += rows;
            let _ = writeln!(
                out,
                "<rect x=\"{x:.1}\" y=\"{top:.1}\" width=\"{wide:.1}\" height=\"{:.1}\" fill=\"url(#s{at})\" stroke=\"{colour}\" stroke-width=\"0.5\"/>",
                bottom - top
            );
        }
    }

    /// Tags, decisions, and where another number of rows is due; those too near to one another to be read are only dashes.
    fn signs(&self, out: &mut String) {
        let mut free = f64::NEG_INFINITY;
        for (at, point) in self.view.points.iter().enumerate() {
            let mut words: Vec<&str> = point.tags.iter().chain(&point.decisions).map(String::as_str).collect();
            let scope = point.scope.filter(|scope| *scope != 0).map(|scope| format!("{scope:+} rows"));
            words.extend(scope.as_deref());
            if words.is_empty() {
                continue;
            }
            let x = LEFT + self.step * (at as f64 + 0.43);
            let dash = if point.tags.is_empty() { " stroke-dasharray=\"3 3\"" } else { "" };
            let (top, bottom) = (TOP - 8.0, self.y(0));
            let _ = writeln!(
                out,
                "<line x1=\"{x:.1}\" x2=\"{x:.1}\" y1=\"{top}\" y2=\"{bottom:.1}\" stroke=\"#000\" stroke-width=\"0.8\"{dash}/>"
            );
            if x - free < APART {
                continue;
            }
            free = x;
            let words = visible(&words.join(", "));
            let cut = if words.chars().count() > LONGEST {
                words.chars().take(LONGEST - 1).chain(['…']).collect()
            } else {
                words
            };
            let _ = write!(out, "<text transform=\"translate({:.1} {:.1}) rotate(-45)\">", x + 3.0, TOP - 10.0);
            escape(out, &cut);
            out.push_str("</text>\n");
        }
    }

    fn key(&self, out: &mut String) {
        let last = self.view.points.iter().rev().find(|point| point.counts.is_some());
        let x = WIDTH - RIGHT + 18.0;
        for (line, (at, (state, colour, _))) in DRAWN.iter().enumerate().rev().enumerate() {
            let y = TOP + line as f64 * 22.0;
            let _ = writeln!(
                out,
                "<rect x=\"{x}\" y=\"{y}\" width=\"16\" height=\"16\" fill=\"url(#s{at})\" stroke=\"{colour}\"/>"
            );
            let count = last.and_then(|point| point.count(*state)).map(|count| format!(" {count}")).unwrap_or_default();
            text(out, (x + 22.0, y + 12.0), "start", &format!("{}{count}", state.word()));
        }
        text(out, (x, TOP + 8.0 * 22.0 + 16.0), "start", "? not counted");
    }
}

fn text(out: &mut String, (x, y): (f64, f64), anchor: &str, words: &str) {
    let _ = write!(out, "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\">");
    escape(out, words);
    out.push_str("</text>\n");
}
