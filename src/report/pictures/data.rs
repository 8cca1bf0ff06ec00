//! Pictures of reductions: the data over time, the rows that counted, and where the result comes from.
//!
//! However many rows there are, a curve holds at most the first, lowest, highest and last value of each of its columns of dots, so that no
//! extreme is lost and no picture is large.

use std::fmt::Write;

use super::scale::{Axis, plain};
use super::svg::{Area, FINE, Fill, INK, LINE, PAPER, SOFT, Svg, THICK, Words};
use crate::quantity::Quantity;
use crate::table::{Column, Holds, Mark, Reduce, Reduced, Reduction, Table};

/// Sizes in units of the picture.
const LEFT: f64 = 86.0;
const WIDE: f64 = 620.0;
const RIGHT: f64 = 24.0;
const TOP: f64 = 22.0;
const HIGH: f64 = 190.0;
/// Below a panel: the numbers of the axis and its name.
const BELOW: f64 = 52.0;
const STEP: f64 = 16.0;

/// Columns of dots: a curve has no more than four times as many points.
const DOTS: usize = 250;

/// Panels, one for each column that gave the result.
const MAX_PANELS: usize = 2;

/// Marks with a number and a line of words; more are only drawn, and many more are not.
const NUMBERED: usize = 6;
const MAX_MARKS: usize = 100;

/// What is drawn of a reduction: no more of the table than a picture shows.
#[derive(Clone, Debug, Default)]
pub struct Trace {
    across: Axis,
    panels: Vec<Panel>,
    rows: usize,
    counted: usize,
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
        let mut svg = Svg::new(&format!("data-{anchor}"), LEFT + WIDE + RIGHT);
        let mut top = 0.0;
        for panel in &self.panels {
            top = self.draw(&mut svg, panel, top);
        }
        let count = if self.counted == self.rows {
            format!("all {} rows count", self.rows)
        } else {
            format!("{} of {} rows count: dark line on the axis", self.counted, self.rows)
        };
        svg.words((LEFT, top + STEP - 5.0), Words::of(&count));
        Some(svg.finish(title, &self.in_words(), top + STEP))
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
                plain(up.from),
                plain(up.to),
                across.name,
                plain(across.from),
                plain(across.to)
            );
            panel.marks.iter().take(NUMBERED).for_each(|mark| {
                let _ = write!(words, "{}. ", mark.words);
            });
        }
        let _ = write!(words, "{} of {} rows count.", self.counted, self.rows);
        words
    }

    /// Draws a panel from `top` down and says where it ends.
    fn draw(&self, svg: &mut Svg, panel: &Panel, top: f64) -> f64 {
        let (up, down) = (top + TOP, top + TOP + HIGH);
        let at = |(x, y): (f64, f64)| (LEFT + x * WIDE, down - y * HIGH);
        self.axes(svg, panel, (up, down));
        if self.counted < self.rows {
            for (first, last) in runs(&panel.counted) {
                let end = |dot: usize| (LEFT + dot as f64 / DOTS as f64 * WIDE, down);
                svg.line(end(first), end(last + 1), LINE.wide(5.0));
            }
        }
        curve(svg, panel, &at);
        if let Some([from, to]) = panel.fit {
            svg.line(at(from), at(to), THICK.dashed("9 4"));
        }
        for mark in panel.marks.iter().filter(|mark| mark.crossed) {
            svg.line(at((0.0, mark.y)), at((1.0, mark.y)), LINE.wide(0.8).dashed("5 4"));
        }
        let mut end = down + BELOW;
        for (number, mark) in (1..).zip(&panel.marks) {
            let (x, y) = at((mark.x, mark.y));
            svg.dot((x, y), 4.5, Fill::Plain(PAPER), Some(THICK));
            if number <= NUMBERED {
                let name = number.to_string();
                if mark.x > 0.9 {
                    svg.words((x - 8.0, y - 5.0), Words::of(&name).ending());
                } else {
                    svg.words((x + 8.0, y - 5.0), Words::of(&name));
                }
                svg.words((LEFT, end), Words::of(&format!("{number}  {}", mark.words)).within(WIDE + RIGHT));
                end += STEP;
            }
        }
        end
    }

    /// Both axes with their numbers and names.
    fn axes(&self, svg: &mut Svg, panel: &Panel, (up, down): (f64, f64)) {
        svg.words((LEFT, up - 8.0), Words::of(&panel.up.name).within(WIDE));
        let right = LEFT + WIDE;
        svg.area(Area(LEFT, up, WIDE, HIGH), Fill::None, Some(FINE));
        for (part, number) in panel.up.ticks() {
            let y = down - part * HIGH;
            svg.line((LEFT, y), (right, y), FINE);
            svg.words((LEFT - 6.0, y + 4.0), Words::of(&number).ending());
        }
        svg.line((LEFT, up), (LEFT, down), LINE);
        svg.line((LEFT, down), (right, down), LINE);
        for (part, number) in self.across.ticks() {
            let x = LEFT + part * WIDE;
            svg.line((x, down), (x, down + 6.0), LINE);
            svg.words((x, down + 18.0), Words::of(&number).centred());
        }
        svg.words((right, down + 33.0), Words::of(&self.across.name).ending().within(WIDE));
    }
}

/// From where to where something holds without a break.
fn runs(holds: &[bool]) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for at in (0..holds.len()).filter(|at| holds[*at]) {
        match runs.last_mut().filter(|(_, last)| last + 1 == at) {
            Some((_, last)) => *last = at,
            None => runs.push((at, at)),
        }
    }
    runs
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
    let (dots, counted) = (vec![None; DOTS], vec![false; DOTS]);
    let mut panel = Panel { up, dots, counted, points: Vec::new(), marks: Vec::new(), fit };
    let each = table.rows() <= DOTS;
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
    ((part * DOTS as f64) as usize).min(DOTS - 1)
}

/// The data as a line: through every point where there are few, else up and down in every column of dots.
fn curve(svg: &mut Svg, panel: &Panel, at: &dyn Fn((f64, f64)) -> (f64, f64)) {
    let mut points: Vec<(f64, f64)> = panel.points.iter().map(|point| at(*point)).collect();
    if points.is_empty() {
        for (column, dot) in panel.dots.iter().enumerate() {
            let Some([first, low, high, last]) = dot else { continue };
            let x = (column as f64 + 0.5) / DOTS as f64;
            let values = if low < high { vec![*first, *low, *high, *last] } else { vec![*first] };
            points.extend(values.into_iter().map(|y| at((x, y))));
        }
    }
    svg.through(&points, LINE.wide(1.2).in_grey(SOFT));
    if panel.points.len() <= 60 {
        for point in panel.points.iter().map(|point| at(*point)) {
            svg.dot(point, 1.8, Fill::Plain(INK), None);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::svg::number;
    use super::super::tests::well_formed;
    use super::*;
    use crate::table::reduce;

    fn picture(text: &str, reduction: &Reduction) -> String {
        let table = Table::read(text.as_bytes()).expect("it reads");
        let reduced = reduce(&table, reduction, None).expect("it reduces");
        let trace = Trace::of(&table, reduction, &reduced);
        let picture = trace.picture("y <over> time", "A-1 & more").expect("there is something to draw");
        well_formed(&picture);
        picture
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
        let circle = format!("<circle cx=\"{}\" cy=\"{}\" r=\"4.5\"", number(LEFT + WIDE / 2.0), number(high));
        assert!(drawn.contains(&circle), "{circle} in {drawn}");
        assert!(drawn.contains("1  max: y 5 N·m at 2 s, line 4"));
        assert!(drawn.contains("4 of 5 rows count"));
        for axis in [
            "y [N·m]</text>",
            "t [s]</text>",
            "y &lt;over&gt; time</title>",
            "y [N·m] from ",
            "id=\"data-A-1~20~~26~~20~more-title\"",
        ] {
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
        let [x, right, high, low] = [LEFT, LEFT + WIDE, high, low].map(number);
        let line = format!("x1=\"{x}\" y1=\"{high}\" x2=\"{right}\" y2=\"{low}\"");
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
        assert!(drawn.len() < 20_000, "{}", drawn.len());
        assert!(drawn.matches('L').count() <= 1000, "{}", drawn.matches('L').count());
        let top = format!(" {}L", number(TOP + HIGH * 0.06 / 1.12));
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
}
