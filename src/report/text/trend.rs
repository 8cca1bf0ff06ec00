//! `trend` for a terminal: a column for each point, with letters where something happened.

use crate::report::style::{BAD, GOOD, OFF, QUIET, STRONG, WARN, columns};
use crate::report::view::{TrendPoint, TrendView};
use crate::state::State;

use super::layout::Lines;
use super::{pad, wrap};

/// Lines of the plot.
const HIGH: usize = 12;
/// What stands for a row that is open, waived, closed, and for a point at which nothing is counted. They differ without colour.
const OPEN: char = '█';
const WAIVED: char = '▒';
const CLOSED: char = '·';
const NOTHING: char = '?';
/// What the last line says of a text that shows states.
pub const NOTE: &str = "This counts records, not hardware: whether to operate is for the people responsible.";

struct Page {
    text: String,
    width: usize,
}

impl Lines for Page {
    fn page(&mut self) -> (&mut String, usize) {
        (&mut self.text, self.width)
    }
}

/// The plot, what happened when, and the states at both ends.
pub fn render(view: &TrendView, width: usize) -> String {
    let mut page = Page { text: String::new(), width };
    let lead = format!("{STRONG}{}{OFF}: ", view.heading.project);
    page.paragraph(&lead, &format!("rows due before {}, {}", view.event, view.chosen), 2);
    if view.cut_off {
        page.paragraph("", &format!("{WARN}history is cut off before the first of them{OFF}"), 2);
    }
    if view.heading.uncommitted > 0 {
        let words = format!("what is not committed is not in it: {}", view.heading.uncommitted);
        page.paragraph("", &format!("{QUIET}{words}{OFF}"), 2);
    }
    plot(&mut page, view);
    happenings(&mut page, view);
    ends(&mut page, view);
    page.line("");
    page.paragraph("", &format!("{QUIET}{NOTE}{OFF}"), 0);
    page.text
}

fn plot(page: &mut Page, view: &TrendView) {
    let most = view.points.iter().filter_map(|point| point.due).max().unwrap_or(0);
    let axis = most.to_string().len().max(2);
    let room = page.width.saturating_sub(axis + 4);
    // More points than columns: the plot shows evenly many of them, the last among them; the lists below have them all.
    let every = view.points.len().div_ceil(room.max(1)).max(1);
    let mut shown: Vec<&TrendPoint> = view.points.iter().rev().step_by(every).collect();
    shown.reverse();
    let wide = (room / shown.len().max(1)).clamp(1, 3);
    let high = HIGH.min(most.max(1));
    page.line("");
    for line in (1..=high).rev() {
        let label =
            if line == high || line == high.div_ceil(2) { (most * line / high).to_string() } else { String::new() };
        let cells: Vec<char> = shown.iter().map(|point| cell(point, line, high, most)).collect();
        page.line(&format!("{label:>axis$} │ {}", coloured(&cells, wide)));
    }
    page.line(&format!("{:>axis$} └─{}", 0, "─".repeat(wide * shown.len())));
    let letters: String = shown.iter().map(|point| pad(&letter(point).to_string(), wide)).collect();
    if !letters.trim().is_empty() {
        page.line(&format!("{:axis$}   {letters}", ""));
    }
    let (first, last) = (view.points.first().map_or("", |it| &it.date), view.points.last().map_or("", |it| &it.date));
    let between = (wide * shown.len()).saturating_sub(columns(first) + columns(last));
    match between {
        0 => page.line(&format!("{:axis$}   {first} to {last}", "")),
        _ => page.line(&format!("{:axis$}   {first}{}{last}", "", " ".repeat(between))),
    }
    page.line("");
    let key = format!(
        "{OPEN} open, {WAIVED} waived, {CLOSED} closed, {NOTHING} not counted; T tag, D decision, ± more or fewer rows due"
    );
    page.paragraph("  ", &key, 2);
    if every > 1 {
        page.paragraph("  ", &format!("the plot shows every {every}. point"), 2);
    }
}

/// What stands at a height of a point: the open at the bottom, so that it is that which burns down.
fn cell(point: &TrendPoint, line: usize, high: usize, most: usize) -> char {
    let (Some(due), Some(open)) = (point.due, point.open) else { return if line == 1 { NOTHING } else { ' ' } };
    let waived = point.count(State::Waived).unwrap_or(0);
    // Lines that so many rows reach: any open row is seen, and nothing open never looks like something.
    let lines = |rows: usize| if rows == 0 { 0 } else { (rows * high + most / 2).div_euclid(most.max(1)).max(1) };
    let (open, waived, due) = (lines(open), lines(open + waived).max(lines(open)), lines(due));
    match line {
        line if line <= open => OPEN,
        line if line <= waived => WAIVED,
        line if line <= due => CLOSED,
        _ => ' ',
    }
}

/// A line of the plot, with a mark for each run of the same sign.
fn coloured(cells: &[char], wide: usize) -> String {
    let mut line = String::new();
    let mut rest = cells;
    while let Some(first) = rest.first() {
        let count = rest.iter().take_while(|cell| *cell == first).count();
        let run = first.to_string().repeat(count * wide);
        match *first {
            OPEN | NOTHING => line.push_str(&format!("{BAD}{run}{OFF}")),
            WAIVED => line.push_str(&format!("{WARN}{run}{OFF}")),
            CLOSED => line.push_str(&format!("{GOOD}{run}{OFF}")),
            _ => line.push_str(&run),
        }
        rest = &rest[count..];
    }
    line
}

fn letter(point: &TrendPoint) -> char {
    match point.scope {
        _ if point.problem.is_some() || point.unread.is_some_and(|unread| unread > 0) => NOTHING,
        _ if !point.tags.is_empty() => 'T',
        _ if !point.decisions.is_empty() => 'D',
        Some(scope) if scope != 0 => '±',
        _ => ' ',
    }
}

fn happenings(page: &mut Page, view: &TrendView) {
    let mut said: Option<&String> = None;
    let mut any = false;
    for point in &view.points {
        let words = point.happened();
        // Many commits in a row that hold no project are said once.
        let again = point.problem.is_some() && said == point.problem.as_ref() && words.len() == 1;
        said = point.problem.as_ref();
        if words.is_empty() || again {
            continue;
        }
        if !any {
            page.heading("What happened");
            any = true;
        }
        let short: String = point.oid.chars().take(10).collect();
        let lead = format!("  {} {QUIET}{short}{OFF} ", point.date);
        page.paragraph(&lead, &words.join("; "), 4);
    }
}

/// The states at the first and the last point that are counted.
fn ends(page: &mut Page, view: &TrendView) {
    let counted: Vec<&TrendPoint> = view.points.iter().filter(|point| point.counts.is_some()).collect();
    let (Some(first), Some(last)) = (counted.first(), counted.last()) else {
        page.heading("Nothing could be counted at any of these commits");
        return;
    };
    page.heading("From the first to the last");
    page.line(&format!("  {}{:>12}{:>12}", pad("", 16), first.date, last.date));
    let mut line = |name: &str, first: Option<usize>, last: Option<usize>| {
        let text = |count: Option<usize>| count.map_or_else(String::new, |count| count.to_string());
        page.line(&format!("  {}{:>12}{:>12}", pad(name, 16), text(first), text(last)));
    };
    line("rows due", first.due, last.due);
    for state in State::ALL {
        line(&format!("  {}", state.word()), first.count(state), last.count(state));
    }
    line("nonconformances", first.nonconformances, last.nonconformances);
    line("gaps in files", first.gaps, last.gaps);
    line("faults in files", first.faults, last.faults);
    if last.faults.is_some_and(|faults| faults > 0) {
        let text =
            wrap("a fault could make these numbers wrong; slipmark check lists those of today", page.width, 2, 2);
        page.line(&format!("  {text}"));
    }
}
