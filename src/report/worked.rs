//! The working of a record as a page, and the pictures of where an uncertainty comes from.

use std::fmt::Write;

use minijinja::context;
use minijinja::value::{Serde, Value};
use serde::Serialize;

use super::ReportError;
use super::packet::html::escape;
use super::packet::page::fill;
use super::view::{Answer, ResultView, WorkedInput, WorkedReduction, WorkedView, WorkingView};

/// The templates of the page; the second is the packet's too.
const TEMPLATES: &[(&str, &str)] = &[("worked.html", include_str!("../../templates/worked.html")), WORKING];
/// The working itself, wherever it stands.
pub(in crate::report) const WORKING: (&str, &str) = ("working.html", include_str!("../../templates/working.html"));

const STYLE: &str = include_str!("../../templates/worked.css");

/// Whether a file that starts with these bytes is a page of ours, which may be written over.
pub fn is_page(start: &[u8]) -> bool {
    String::from_utf8_lossy(&start[..start.len().min(2000)])
        .contains("<meta name=\"generator\" content=\"slipmark calc")
}

/// The page.
///
/// # Errors
/// If the template is at fault.
pub fn html(view: &WorkedView) -> Result<String, ReportError> {
    let whole = context! { work => Value::from(Serde(&working(view))), ..Value::from(Serde(view)) };
    fill(TEMPLATES, STYLE, "", whole)
}

/// The working as the template takes it: rounded, with a picture of every result that has an uncertainty.
#[derive(Debug, Serialize)]
pub(in crate::report) struct Working {
    inputs: Vec<WorkedInput>,
    steps: Vec<Line>,
    reductions: Vec<Reduction>,
    results: Vec<Drawn>,
}

#[derive(Debug, Serialize)]
struct Line {
    name: String,
    expression: String,
    substituted: String,
    value: String,
}

#[derive(Debug, Serialize)]
struct Reduction {
    picture: Option<String>,
    #[serde(flatten)]
    reduction: WorkedReduction,
}

#[derive(Debug, Serialize)]
struct Drawn {
    shown: String,
    picture: Option<String>,
    spread: Option<String>,
    #[serde(flatten)]
    result: ResultView,
}

/// The working for a page.
pub(in crate::report) fn working(view: &WorkedView) -> Working {
    let id = view.id.clone().unwrap_or_default();
    let drawn = |(at, result): (usize, &ResultView)| Drawn {
        shown: result.shown.clone(),
        picture: Some(tornado(result, &format!("{id}-{at}"))).filter(|_| result.contributions.len() > 1),
        spread: spread(result, &format!("{id}-t{at}")),
        result: result.clone(),
    };
    let reduction = |(at, own): (usize, &WorkedReduction)| {
        let title = format!("{}: {}", own.asked, own.value);
        Reduction { picture: own.trace.picture(&title, &format!("{id}-{at}")), reduction: own.clone() }
    };
    let line = |own: &WorkingView| Line {
        name: own.name.clone(),
        expression: own.expression.clone(),
        substituted: own.substituted.clone(),
        value: own.shown.clone(),
    };
    Working {
        inputs: view.inputs.clone(),
        steps: view.steps.iter().map(line).collect(),
        reductions: view.reductions.iter().enumerate().map(reduction).collect(),
        results: view.results.iter().enumerate().map(drawn).collect(),
    }
}

/// Widths in units of the picture: names on the left, the drawing, numbers on the right.
const LEFT: f64 = 170.0;
const HALF: f64 = 170.0;
const RIGHT: f64 = 150.0;
const LINE: f64 = 22.0;
const TOP: f64 = 34.0;
/// Most bars; the rest is drawn as one.
const BARS: usize = 12;

/// Bars of what each input moves the result by when it is off by its standard uncertainty, the largest at the top.
fn tornado(result: &ResultView, anchor: &str) -> String {
    let own: Vec<_> = result.contributions.iter().filter(|own| own.standard_uncertainty > 0.0).collect();
    let (shown, rest) = own.split_at(own.len().min(BARS));
    let mut bars: Vec<(String, f64, f64)> =
        shown.iter().map(|own| (own.input.clone(), own.standard_uncertainty, own.percent)).collect();
    if !rest.is_empty() {
        let together = rest.iter().map(|own| own.standard_uncertainty * own.standard_uncertainty).sum::<f64>().sqrt();
        bars.push((format!("{} others", rest.len()), together, rest.iter().map(|own| own.percent).sum()));
    }
    let widest = bars.iter().map(|(_, size, _)| *size).fold(f64::MIN_POSITIVE, f64::max);
    let (width, height) = (LEFT + 2.0 * HALF + RIGHT, TOP + bars.len() as f64 * LINE + LINE);
    let middle = LEFT + HALF;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"t-{0} d-{0}\" viewBox=\"0 0 {width} {height}\" \
         font-family=\"sans-serif\" font-size=\"12\" fill=\"#000\"><title id=\"t-{0}\">What moves ",
        slug(anchor)
    );
    escape(&mut out, &result.name);
    let _ = write!(out, "</title><desc id=\"d-{}\">", slug(anchor));
    let words: Vec<String> =
        bars.iter().map(|(name, size, percent)| format!("{name} ± {}, {percent:.1} %", short(*size))).collect();
    escape(&mut out, &words.join("; "));
    out.push_str("</desc>");
    let unit = if result.unit.is_empty() { String::new() } else { format!(" {}", result.unit) };
    let mut head = String::new();
    escape(&mut head, &format!("{} moves by, for one standard uncertainty of each input", result.name));
    let _ = write!(out, "<text x=\"{middle}\" y=\"16\" text-anchor=\"middle\">{head}</text>");
    for (at, (name, size, percent)) in bars.iter().enumerate() {
        let y = TOP + at as f64 * LINE;
        let reach = size / widest * (HALF - 6.0);
        let base = y + LINE * 0.62;
        let mut label = String::new();
        escape(&mut label, &clipped(name));
        let mut number = String::new();
        escape(&mut number, &format!("± {}{unit}, {percent:.1} %", short(*size)));
        let _ = write!(
            out,
            "<text x=\"{}\" y=\"{base}\" text-anchor=\"end\">{label}</text><rect x=\"{:.2}\" y=\"{}\" width=\"{:.2}\" height=\"{}\" fill=\"#c8c8c8\" stroke=\"#000\" stroke-width=\".7\"/><text x=\"{}\" y=\"{base}\">{number}</text>",
            LEFT - 8.0,
            middle - reach,
            y + 3.0,
            2.0 * reach,
            LINE - 8.0,
            middle + HALF + 4.0
        );
    }
    let _ = write!(
        out,
        "<line x1=\"{middle}\" x2=\"{middle}\" y1=\"{}\" y2=\"{}\" stroke=\"#000\"/></svg>",
        TOP - 6.0,
        height - LINE * 0.6
    );
    out
}

/// The height of a histogram above its axis.
const TALL: f64 = 120.0;

/// How the trials of a result lie, with first order's value and interval above them.
fn spread(result: &ResultView, anchor: &str) -> Option<String> {
    let trials = result.trials.as_ref()?;
    let histogram = trials.histogram.as_ref()?;
    let most = histogram.counts.iter().copied().max().filter(|most| *most > 0)? as f64;
    let wide = 2.0 * HALF + LEFT;
    let (left, top) = (40.0, 40.0);
    let bottom = top + TALL;
    let x = |value: f64| left + (value - histogram.low) / (histogram.high - histogram.low) * wide;
    let unit = if result.unit.is_empty() { String::new() } else { format!(" {}", result.unit) };
    let (width, height) = (wide + 80.0, bottom + 40.0);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"t-{0} d-{0}\" viewBox=\"0 0 {width} {height}\" \
         font-family=\"sans-serif\" font-size=\"12\" fill=\"#000\"><title id=\"t-{0}\">",
        slug(anchor)
    );
    escape(&mut out, &format!("{} trials of {}", trials.count, result.name));
    let _ = write!(out, "</title><desc id=\"d-{}\">", slug(anchor));
    let [low, high] = trials.symmetric;
    escape(&mut out, &format!("{:.2} % lie from {} to {}{unit}", trials.coverage * 100.0, short(low), short(high)));
    out.push_str("</desc>");
    let step = wide / histogram.counts.len() as f64;
    for (at, count) in histogram.counts.iter().enumerate() {
        let tall = *count as f64 / most * TALL;
        let _ = write!(
            out,
            "<rect x=\"{:.2}\" y=\"{:.2}\" width=\"{step:.2}\" height=\"{tall:.2}\" fill=\"#c8c8c8\"/>",
            left + at as f64 * step,
            bottom - tall
        );
    }
    let _ = write!(out, "<line x1=\"{left}\" x2=\"{}\" y1=\"{bottom}\" y2=\"{bottom}\" stroke=\"#000\"/>", left + wide);
    let ends = [("trials", low, high, 14.0)]
        .into_iter()
        .chain(first_order(result).map(|(low, high)| ("first order", low, high, 30.0)));
    for (what, low, high, y) in ends {
        let (from, to) = (x(low).clamp(left, left + wide), x(high).clamp(left, left + wide));
        let _ = write!(
            out,
            "<path d=\"M{from:.2} {} v8 M{from:.2} {y} H{to:.2} M{to:.2} {} v8\" stroke=\"#000\" fill=\"none\"/><text x=\"{:.2}\" y=\"{}\" font-size=\"11\">{what}</text>",
            y - 4.0,
            y - 4.0,
            to + 6.0,
            y + 4.0
        );
    }
    for (value, anchor) in [(histogram.low, "start"), (histogram.high, "end")] {
        let mut text = String::new();
        escape(&mut text, &format!("{}{unit}", short(value)));
        let _ =
            write!(out, "<text x=\"{:.2}\" y=\"{}\" text-anchor=\"{anchor}\">{text}</text>", x(value), bottom + 18.0);
    }
    out.push_str("</svg>");
    Some(out)
}

/// The interval of first order, in the unit of the result.
fn first_order(result: &ResultView) -> Option<(f64, f64)> {
    let Answer::Number(value) = result.value else { return None };
    let half = result.expanded_uncertainty?;
    Some((value - half, value + half))
}

/// A name that fits on the left.
fn clipped(name: &str) -> String {
    if name.chars().count() <= 24 {
        name.to_string()
    } else {
        format!("{}…", name.chars().take(23).collect::<String>())
    }
}

/// Letters, digits and hyphens only: part of an id of the page.
fn slug(text: &str) -> String {
    text.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect()
}

/// A number to three digits.
pub(in crate::report) fn short(value: f64) -> String {
    let plain = format!("{value:.2e}").parse::<f64>().unwrap_or(value);
    if plain != 0.0 && !(1e-4..1e6).contains(&plain.abs()) { format!("{plain:e}") } else { format!("{plain}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_digits_are_shown() {
        assert_eq!(short(0.099_512), "0.0995");
        assert_eq!(short(16.656_06), "16.7");
        assert_eq!(short(0.0), "0");
        assert_eq!(short(1.234e-7), "1.23e-7");
    }
}
