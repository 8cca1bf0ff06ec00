//! Pictures of reductions: the data over time, the rows that counted, and where the result comes from.
//!
//! Black and greys only: it must be read from a copy of a copy. However many rows there are, a picture holds at most the lowest and the
//! highest value of each of its columns of dots, so that no extreme is lost and no picture is large.

use std::fmt::Write;

use super::packet::html::escape;
use crate::quantity::Quantity;
use crate::table::{Column, Holds, Mark, Reduce, Reduced, Reduction, Table};

/// Sizes in units of the picture.
const LEFT: f64 = 86.0;
const WIDE: usize = 480;
const RIGHT: f64 = 24.0;
const TOP: f64 = 22.0;
const HIGH: f64 = 190.0;
/// Below a panel: the numbers of the axis and its name.
const BELOW: f64 = 52.0;
const LINE: f64 = 16.0;

/// Panels, one for each column that gave the result.
const MAX_PANELS: usize = 2;

/// Marks with a number and a line of words; more are only drawn, and many more are not.
const NUMBERED: usize = 6;
const MAX_MARKS: usize = 100;

/// Marks on an axis, about.
const TICKS: f64 = 7.0;

/// What is drawn of a reduction: no more of the table than a picture shows.
#[derive(Clone, Debug, Default)]
pub struct Trace {
    across: Axis,
    panels: Vec<Panel>,
    rows: usize,
    counted: usize,
}

/// From where to where an axis goes, and what it is called.
#[derive(Clone, Debug, Default)]
struct Axis {
    name: String,
    from: f64,
    to: f64,
}

#[derive(Clone, Debug)]
struct Panel {
    up: Axis,
    /// For each column of dots the first, lowest, highest and last value, if there is any.
    dots: Vec<Option<[f64; 4]>>,
    /// Columns of dots in which a row counted.
    counted: Vec<bool>,
    /// The only points, where there are so few that each is drawn.
    points: Vec<(f64, f64)>,
    marks: Vec<Drawn>,
    /// The straight line whose slope is the result, if that is what it is: its ends.
    fit: Option<[(f64, f64); 2]>,
}

#[derive(Clone, Debug)]
struct Drawn {
    x: f64,
    y: f64,
    /// A limit that was crossed is drawn as a line across.
    crossed: bool,
    words: String,
}

impl Trace {
    /// What is to be drawn of a reduction; nothing where there is nothing to draw.
    pub fn of(table: &Table, reduction: &Reduction, reduced: &Reduced) -> Self {
        let time = reduced.time.and_then(|index| table.columns().get(index).map(|column| (index, column)));
        let at = |row: usize| match time {
            Some((index, _)) => table.number(row, index),
            None => Some((row + 1) as f64),
        };
        let name = time.map_or_else(|| "row".to_string(), |(_, column)| called(column));
        let Some(across) = Axis::over(name, (0..table.rows()).filter_map(at)) else { return Self::default() };
        let mut columns: Vec<usize> = reduction.column.iter().filter_map(|name| table.column(name).ok()).collect();
        for mark in &reduced.marks {
            if !columns.contains(&mark.column) {
                columns.push(mark.column);
            }
        }
        columns.truncate(MAX_PANELS);
        let panels =
            columns.into_iter().filter_map(|index| panel(table, index, &at, &across, (reduction, reduced))).collect();
        let counted = reduced.rows.iter().map(std::ops::Range::len).sum();
        Self { across, panels, rows: table.rows(), counted }
    }

    /// The picture, if there is anything in it. The anchor makes its ids its own on a page.
    pub fn picture(&self, title: &str, anchor: &str) -> Option<String> {
        if self.panels.is_empty() {
            return None;
        }
        let words: usize = self.panels.iter().map(|panel| panel.marks.len().min(NUMBERED)).sum();
        let height = (TOP + HIGH + BELOW) * self.panels.len() as f64 + words as f64 * LINE + LINE;
        let width = LEFT + WIDE as f64 + RIGHT;
        let id: String = anchor.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
        let mut out = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"rt-{id} rd-{id}\" viewBox=\"0 0 {width} {height}\" \
             font-family=\"sans-serif\" font-size=\"12\" fill=\"#000\"><title id=\"rt-{id}\">"
        );
        escape(&mut out, title);
        let _ = write!(out, "</title><desc id=\"rd-{id}\">");
        escape(&mut out, &self.in_words());
        out.push_str("</desc>");
        let mut top = 0.0;
        for panel in &self.panels {
            top = self.draw(&mut out, panel, top);
        }
        let count = if self.counted == self.rows {
            format!("all {} rows count", self.rows)
        } else {
            format!("{} of {} rows count: dark line on the axis", self.counted, self.rows)
        };
        text(&mut out, (LEFT, height - 5.0), "start", &count);
        out.push_str("</svg>");
        Some(out)
    }

    /// The picture for those who do not see it.
    fn in_words(&self) -> String {
        let mut words = String::new();
        for panel in &self.panels {
            let (up, across) = (&panel.up, &self.across);
            let _ = write!(
                words,
                "{} from {} to {} over {} from {} to {}. ",
                up.name,
                number(up.from),
                number(up.to),
                across.name,
                number(across.from),
                number(across.to)
            );
            panel.marks.iter().take(NUMBERED).for_each(|mark| {
                let _ = write!(words, "{}. ", mark.words);
            });
        }
        let _ = write!(words, "{} of {} rows count.", self.counted, self.rows);
        words
    }

    /// Draws a panel from `top` down and says where it ends.
    fn draw(&self, out: &mut String, panel: &Panel, top: f64) -> f64 {
        let (up, down) = (top + TOP, top + TOP + HIGH);
        let x = |part: f64| LEFT + part * WIDE as f64;
        let y = |part: f64| down - part * HIGH;
        self.axes(out, panel, (up, down));
        let mut shown = panel.counted.iter().enumerate().filter(|_| self.counted < self.rows).peekable();
        while let Some((first, counted)) = shown.next() {
            let mut last = first;
            while shown.peek().is_some_and(|(_, next)| *next == counted) {
                last = shown.next().map_or(last, |(at, _)| at);
            }
            if *counted {
                let (from, to) = (LEFT + first as f64, LEFT + last as f64 + 1.0);
                let _ = write!(out, "<path d=\"M{from:.1} {down:.1}H{to:.1}\" stroke=\"#000\" stroke-width=\"5\"/>");
            }
        }
        curve(out, panel, down);
        if let Some([from, to]) = panel.fit {
            let _ = write!(
                out,
                "<path d=\"M{:.1} {:.1}L{:.1} {:.1}\" stroke=\"#000\" stroke-width=\"1.5\" stroke-dasharray=\"9 4\"/>",
                x(from.0),
                y(from.1),
                x(to.0),
                y(to.1)
            );
        }
        for mark in panel.marks.iter().filter(|mark| mark.crossed) {
            let at = y(mark.y);
            let _ = write!(
                out,
                "<path d=\"M{LEFT} {at:.1}H{:.1}\" stroke=\"#000\" stroke-width=\".8\" stroke-dasharray=\"5 4\"/>",
                x(1.0)
            );
        }
        let mut end = down + BELOW;
        for (i, mark) in panel.marks.iter().enumerate() {
            let (at, high) = (x(mark.x), y(mark.y));
            let _ = write!(
                out,
                "<circle cx=\"{at:.1}\" cy=\"{high:.1}\" r=\"4.5\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.5\"/>"
            );
            if i < NUMBERED {
                let (beside, side) = if mark.x > 0.9 { (-8.0, "end") } else { (8.0, "start") };
                text(out, (at + beside, high - 5.0), side, &(i + 1).to_string());
                text(out, (LEFT, end), "start", &format!("{}  {}", i + 1, mark.words));
                end += LINE;
            }
        }
        end
    }

    /// Both axes with their numbers and names.
    fn axes(&self, out: &mut String, panel: &Panel, (up, down): (f64, f64)) {
        text(out, (LEFT, up - 8.0), "start", &panel.up.name);
        let right = LEFT + WIDE as f64;
        let _ = write!(out, "<path d=\"M{LEFT} {up:.1}V{down:.1}H{right}\" fill=\"none\" stroke=\"#000\"/>");
        for (part, number) in panel.up.ticks() {
            let at = down - part * HIGH;
            let _ = write!(out, "<path d=\"M{LEFT} {at:.1}H{right}\" stroke=\"#ccc\" stroke-width=\".7\"/>");
            text(out, (LEFT - 6.0, at + 4.0), "end", &number);
        }
        for (part, number) in self.across.ticks() {
            let at = LEFT + part * WIDE as f64;
            let _ = write!(out, "<path d=\"M{at:.1} {down:.1}v6\" stroke=\"#000\"/>");
            text(out, (at, down + 18.0), "middle", &number);
        }
        text(out, (right, down + 33.0), "end", &self.across.name);
    }
}

impl Axis {
    /// An axis that holds all of some values; none if there are none, or if they are too far apart for a double.
    fn over(name: String, values: impl Iterator<Item = f64>) -> Option<Self> {
        let ends = values.fold(None, |ends: Option<(f64, f64)>, value| {
            let (low, high) = ends.unwrap_or((value, value));
            Some((low.min(value), high.max(value)))
        });
        let (from, to) = ends?;
        let (from, to) =
            if from < to { (from, to) } else { (from - from.abs().max(1.0) / 2.0, to + to.abs().max(1.0) / 2.0) };
        (to - from).is_finite().then_some(Self { name, from, to })
    }

    /// A little more to both sides, so that nothing lies on the frame.
    fn wider(mut self) -> Self {
        let more = (self.to - self.from) * 0.06;
        (self.from, self.to) = (self.from - more, self.to + more);
        self
    }

    /// Which part of the axis a value is from its start.
    fn part(&self, value: f64) -> f64 {
        ((value - self.from) / (self.to - self.from)).clamp(0.0, 1.0)
    }

    /// Where round numbers stand, and how they are written.
    fn ticks(&self) -> Vec<(f64, String)> {
        let rough = (self.to - self.from) / TICKS;
        let size = format!("{rough:e}").rsplit('e').next().and_then(|size| size.parse::<i32>().ok()).unwrap_or(0);
        let unit: f64 = format!("1e{size}").parse().unwrap_or(1.0);
        let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|times| times * unit).find(|step| *step >= rough);
        let Some(step) = step.filter(|step| *step > 0.0 && step.is_finite()) else { return Vec::new() };
        let first = (self.from / step).ceil();
        let all = (0..12).map(|i| (first + f64::from(i)) * step).take_while(|value| *value <= self.to);
        // A step of rounded numbers shows twelve digits of what it is and no rounding.
        let written = |value: f64| number(format!("{value:.11e}").parse().unwrap_or(value));
        all.map(|value| (self.part(value), written(if value.abs() < step / 2.0 { 0.0 } else { value }))).collect()
    }
}

/// The name of a column on an axis.
fn called(column: &Column) -> String {
    match column.holds {
        Holds::Instants => format!("{}, seconds since the first", column.name),
        _ => column.written.clone(),
    }
}

fn panel(
    table: &Table,
    index: usize,
    at: &dyn Fn(usize) -> Option<f64>,
    across: &Axis,
    (reduction, reduced): (&Reduction, &Reduced),
) -> Option<Panel> {
    let column = table.columns().get(index)?;
    let own: Vec<&Mark> = reduced.marks.iter().filter(|mark| mark.column == index).take(MAX_MARKS).collect();
    let value = |quantity: &Quantity| column.unit.from_si(&quantity.value).to_f64().filter(|value| value.is_finite());
    let cells = (0..table.rows()).filter_map(|row| table.number(row, index));
    let ends = fit(table, index, at, reduction, reduced);
    let others = own.iter().filter_map(|mark| value(&mark.value)).chain(ends.iter().flatten().map(|(_, y)| *y));
    let up = Axis::over(called(column), cells.chain(others))?.wider();
    let fit = ends.map(|ends| ends.map(|(x, y)| (across.part(x), up.part(y))));
    let (dots, counted) = (vec![None; WIDE], vec![false; WIDE]);
    let mut panel = Panel { up, dots, counted, points: Vec::new(), marks: Vec::new(), fit };
    let each = table.rows() <= WIDE / 2;
    for row in 0..table.rows() {
        let (Some(x), Some(y)) = (at(row), table.number(row, index)) else { continue };
        let (x, y) = (across.part(x), panel.up.part(y));
        if each {
            panel.points.push((x, y));
        }
        if let Some(dot) = panel.dots.get_mut(dot(x)) {
            let [first, low, high, _] = dot.unwrap_or([y; 4]);
            *dot = Some([first, low.min(y), high.max(y), y]);
        }
    }
    for rows in &reduced.rows {
        // A row counts from half way to the one before it to half way to the next, but a run is what is drawn.
        let ends = [at(rows.start), at(rows.end.saturating_sub(1))].map(|end| end.map(|x| dot(across.part(x))));
        if let [Some(from), Some(to)] = ends {
            panel.counted.iter_mut().take(from.max(to) + 1).skip(from.min(to)).for_each(|counted| *counted = true);
        }
    }
    panel.marks =
        own.iter().filter_map(|mark| drawn(mark, value(&mark.value)?, at, across, &panel.up, column)).collect();
    Some(panel)
}

/// The ends of the line of least squares: through the middle of the rows that counted, with the slope that came out.
fn fit(
    table: &Table,
    index: usize,
    at: &dyn Fn(usize) -> Option<f64>,
    reduction: &Reduction,
    reduced: &Reduced,
) -> Option<[(f64, f64); 2]> {
    let (y, time) = (table.columns().get(index)?, table.columns().get(reduced.time?)?);
    let rows = || reduced.rows.iter().cloned().flatten();
    let points = || rows().filter_map(|row| Some((at(row)?, table.number(row, index)?)));
    let (count, x, middle) = points().fold((0.0, 0.0, 0.0), |(n, x, y), point| (n + 1.0, x + point.0, y + point.1));
    let (x, middle) = (x / count, middle / count);
    let slope = match reduction.reduce {
        Reduce::Rate => (y.unit.span_from_si(&reduced.quantity.value) * &time.unit.factor).to_f64()?,
        // What came out is a value of the line; for a picture the slope in doubles is good enough.
        Reduce::Fit => {
            let (common, spread) = points().fold((0.0, 0.0), |(common, spread), (t, y)| {
                (common + (t - x) * (y - middle), spread + (t - x) * (t - x))
            });
            common / spread
        }
        _ => return None,
    };
    let on_line = |row: Option<usize>| row.and_then(at).map(|end| (end, middle + slope * (end - x)));
    let ends = [on_line(rows().next())?, on_line(rows().next_back())?];
    ends.iter().all(|(x, y)| x.is_finite() && y.is_finite()).then_some(ends)
}

fn drawn(
    mark: &Mark,
    value: f64,
    at: &dyn Fn(usize) -> Option<f64>,
    across: &Axis,
    up: &Axis,
    column: &Column,
) -> Option<Drawn> {
    let time = mark.time.as_ref().and_then(|time| time.unit.from_si(&time.value).to_f64()).or_else(|| at(mark.row))?;
    let when = mark.time.as_ref().map(|time| format!(" at {}", time.show())).unwrap_or_default();
    let crossed = matches!(mark.what, "from" | "to");
    let line = if crossed { "behind line" } else { "line" };
    let words = format!("{}: {} {}{when}, {line} {}", mark.what, column.name, mark.value.show(), mark.line);
    Some(Drawn { x: across.part(time), y: up.part(value), crossed, words })
}

/// Which column of dots a part of the width is in.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a part is from 0 to 1")]
fn dot(part: f64) -> usize {
    ((part * WIDE as f64) as usize).min(WIDE - 1)
}

/// The data as a line: through every point where there are few, else up and down in every column of dots.
fn curve(out: &mut String, panel: &Panel, down: f64) {
    let mut path = String::new();
    let y = |part: f64| down - part * HIGH;
    let mut to = |x: f64, part: f64| {
        let sign = if path.is_empty() { 'M' } else { 'L' };
        let _ = write!(path, "{sign}{:.1} {:.1}", LEFT + x, y(part));
    };
    if panel.points.is_empty() {
        for (at, dot) in panel.dots.iter().enumerate() {
            let Some([first, low, high, last]) = dot else { continue };
            let x = at as f64 + 0.5;
            to(x, *first);
            if low < high {
                to(x, *low);
                to(x, *high);
                to(x, *last);
            }
        }
    } else {
        panel.points.iter().for_each(|(x, part)| to(x * WIDE as f64, *part));
    }
    let _ = write!(
        out,
        "<path d=\"{path}\" fill=\"none\" stroke=\"#555\" stroke-width=\"1.2\" stroke-linejoin=\"round\"/>"
    );
    for (x, part) in panel.points.iter().filter(|_| panel.points.len() <= 60) {
        let _ = write!(out, "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"1.8\"/>", LEFT + x * WIDE as f64, y(*part));
    }
}

fn text(out: &mut String, (x, y): (f64, f64), anchor: &str, words: &str) {
    let _ = write!(out, "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\">");
    let mut longest: String = words.chars().take(90).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if longest.len() < words.len() {
        longest.push('…');
    }
    escape(out, &longest);
    out.push_str("</text>");
}

/// A number as short as it is.
fn number(value: f64) -> String {
    if value != 0.0 && !(1e-4..1e7).contains(&value.abs()) { format!("{value:e}") } else { format!("{value}") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::reduce;

    fn picture(text: &str, reduction: &Reduction) -> String {
        let table = Table::read(text.as_bytes()).expect("it reads");
        let reduced = reduce(&table, reduction, None).expect("it reduces");
        Trace::of(&table, reduction, &reduced)
            .picture("y <over> time", "A-1 & more")
            .expect("there is something to draw")
    }

    fn of(column: &str, by: Reduce) -> Reduction {
        Reduction { column: Some(column.into()), ..Reduction::new(by) }
    }

    #[test]
    fn a_maximum_is_marked_where_it_is() {
        let whole = Reduction { where_: Some("t < 3.5 s".into()), ..of("y", Reduce::Max) };
        let drawn = picture("t [s],y [N·m]\n0,1\n1,4\n2,5\n3,2\n4,3\n", &whole);
        // The maximum is half way along, and 0.06 of the height below the top of an axis that is 1.12 times as high as the data.
        let high = TOP + HIGH * 0.06 / 1.12;
        let circle = format!("<circle cx=\"{:.1}\" cy=\"{high:.1}\" r=\"4.5\"", LEFT + WIDE as f64 / 2.0);
        assert!(drawn.contains(&circle), "{circle} in {drawn}");
        assert!(drawn.contains("1  max: y 5 N·m at 2 s, line 4"));
        assert!(drawn.contains("4 of 5 rows count"));
        for axis in
            ["y [N·m]</text>", "t [s]</text>", "y &lt;over&gt; time</title>", "y [N·m] from ", "id=\"rt-A-1---more\""]
        {
            assert!(drawn.contains(axis), "{axis} in {drawn}");
        }
        assert_eq!(drawn, picture("t [s],y [N·m]\n0,1\n1,4\n2,5\n3,2\n4,3\n", &whole));
    }

    #[test]
    fn crossings_have_their_limits_drawn() {
        let between = Reduction {
            from: Some("angle > 2 deg".into()),
            to: Some("angle > 88 deg".into()),
            ..Reduction::new(Reduce::TimeBetween)
        };
        let drawn = picture("t [s],angle [deg]\n0,0\n1,50\n2,90\n", &between);
        assert_eq!(drawn.matches("stroke-dasharray").count(), 2);
        assert!(drawn.contains("1  from: angle 2 deg at 0.04 s, behind line 2"), "{drawn}");
        assert!(drawn.contains("all 3 rows count"));
    }

    #[test]
    fn a_slope_is_drawn_through_the_data() {
        let drawn = picture("t [min],y [mbar]\n0,3\n1,2\n2,1\n", &of("y", Reduce::Rate));
        // From corner to corner of the data, as a line that they lie on must.
        let (high, low) = (TOP + HIGH * 0.06 / 1.12, TOP + HIGH * 1.06 / 1.12);
        let line = format!("M{LEFT:.1} {high:.1}L{:.1} {low:.1}\"", LEFT + WIDE as f64);
        assert!(drawn.contains(&line), "{line} in {drawn}");
    }

    /// A picture of many rows is no larger than one of some hundred, and keeps a single spike.
    #[test]
    fn many_rows_make_no_large_picture() {
        let mut text = "t [s],y [m]\n".to_string();
        for t in 0..100_000 {
            let y = if t == 77_777 { 1000 } else { t * 7919 % 100 };
            text.push_str(&format!("{t},{y}\n"));
        }
        let drawn = picture(&text, &of("y", Reduce::Mean));
        assert!(drawn.len() < 40_000, "{}", drawn.len());
        let top = format!(" {:.1}L", TOP + HIGH * 0.06 / 1.12);
        assert_eq!(drawn.matches(&top).count(), 1, "one dot reaches the top: {top}");
    }

    #[test]
    fn what_cannot_be_drawn_is_left_out() {
        let table = Table::read(b"t [s],y\n0,1e308\n1,-1e308\n").expect("it reads");
        let reduction = of("y", Reduce::Max);
        let reduced = reduce(&table, &reduction, None).expect("it reduces");
        assert_eq!(Trace::of(&table, &reduction, &reduced).picture("", ""), None);
        let flat = picture("t [s],y\n0,5\n", &of("y", Reduce::Max));
        assert!(flat.contains("<circle") && !flat.contains("NaN"), "{flat}");
    }

    #[test]
    fn ticks_are_round() {
        let axis = Axis { name: String::new(), from: -0.31, to: 0.72 };
        let words: Vec<String> = axis.ticks().into_iter().map(|(_, word)| word).collect();
        // A seventh of the width is 0.147; the next of 1, 2, 5 is 0.2.
        assert_eq!(words, ["-0.2", "0", "0.2", "0.4", "0.6"]);
        let axis = Axis { name: String::new(), from: 0.0, to: 1.0 };
        let words: Vec<String> = axis.ticks().into_iter().map(|(_, word)| word).collect();
        assert_eq!(words, ["0", "0.2", "0.4", "0.6", "0.8", "1"]);
    }
}
