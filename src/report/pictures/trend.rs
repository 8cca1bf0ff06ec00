//! How the rows due before an event stood over history: a bar for each commit, its rows by state.

use std::fmt::Write;

use super::svg::{Area, FINE, Fill, LINE, Svg, Words};
use crate::report::view::{TrendPoint, TrendView};
use crate::state::State;

/// Sizes in units of the picture.
const WIDTH: f64 = 960.0;
const HEIGHT: f64 = 420.0;
const LEFT: f64 = 56.0;
const RIGHT: f64 = 170.0;
const TOP: f64 = 96.0;
const BOTTOM: f64 = 44.0;
/// The room for what is written beside a tag or decision.
const ROOM: f64 = 110.0;
/// The most bars: more would be thinner than a line.
const BARS: usize = 360;
/// The most things that are said to have happened.
const SAID: usize = 60;
/// How near to one another such words may stand.
const APART: f64 = 13.0;

/// The picture: a bar for each point, its states stacked, the open ones at the bottom.
pub fn trend(view: &TrendView) -> String {
    let mut svg = Svg::new("trend", WIDTH);
    Drawing::of(view).draw(&mut svg);
    let title = format!("{}: rows due before {}, {}", view.heading.project, view.event, view.chosen);
    svg.finish(&title, &in_words(view), HEIGHT)
}

/// What the picture shows, in words: the ends, and what happened in between.
fn in_words(view: &TrendView) -> String {
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
    let happened = view.points.iter().map(|point| (&point.date, point.happened()));
    let happened: Vec<_> = happened.filter(|(_, happened)| !happened.is_empty()).collect();
    for (date, happened) in happened.iter().take(SAID) {
        let _ = write!(words, "{date}: {}; ", happened.join(", "));
    }
    if happened.len() > SAID {
        let _ = write!(words, "and {} more, which the table has", happened.len() - SAID);
    }
    words
}

struct Drawing<'v> {
    view: &'v TrendView,
    /// The most rows that are due at any point, one at least.
    most: usize,
    /// How wide a point is.
    step: f64,
}

impl<'v> Drawing<'v> {
    fn of(view: &'v TrendView) -> Drawing<'v> {
        let most = view.points.iter().filter_map(|point| point.due).max().unwrap_or(0).max(1);
        Drawing { view, most, step: (WIDTH - LEFT - RIGHT) / view.points.len().max(1) as f64 }
    }

    fn y(&self, rows: usize) -> f64 {
        HEIGHT - BOTTOM - (HEIGHT - BOTTOM - TOP) * rows as f64 / self.most as f64
    }

    fn draw(&self, svg: &mut Svg) {
        for rows in [0, self.most.div_ceil(2), self.most] {
            let y = self.y(rows);
            svg.line((LEFT, y), (WIDTH - RIGHT, y), FINE);
            svg.words((LEFT - 6.0, y + 4.0), Words::of(&rows.to_string()).ending());
        }
        // Of very many points every so many has a bar, and the last one.
        let every = self.view.points.len().div_ceil(BARS).max(1);
        let last = self.view.points.len().saturating_sub(1);
        for (at, point) in self.view.points.iter().enumerate().filter(|(at, _)| (last - at).is_multiple_of(every)) {
            self.bar(svg, LEFT + self.step * at as f64, self.step * every as f64, point);
        }
        if every > 1 {
            let words = format!("every {every} points a bar");
            svg.words((WIDTH, HEIGHT - 16.0), Words::of(&words).small().soft().ending());
        }
        self.signs(svg);
        let date = |point: Option<&'v TrendPoint>| point.map_or("", |point| point.date.as_str());
        svg.words((LEFT, HEIGHT - 16.0), Words::of(date(self.view.points.first())));
        svg.words((WIDTH - RIGHT, HEIGHT - 16.0), Words::of(date(self.view.points.last())).ending());
        self.key(svg);
    }

    fn bar(&self, svg: &mut Svg, x: f64, step: f64, point: &TrendPoint) {
        let wide = (step * 0.86).max(0.3);
        if point.counts.is_none() {
            svg.words((x + self.step / 2.0, self.y(0) - 4.0), Words::of("?").centred());
            return;
        }
        let mut below = 0;
        for state in State::ALL {
            let rows = point.count(state).unwrap_or(0);
            if rows == 0 {
                continue;
            }
            let (bottom, top) = (self.y(below), self.y(below + rows));
            below += rows;
            svg.area(Area(x, top, wide, bottom - top), Fill::State(state), Some(LINE.wide(0.5)));
        }
    }

    /// Tags, decisions, and where another number of rows is due; those too near to one another to be read are only dashes.
    fn signs(&self, svg: &mut Svg) {
        let (mut free, mut last) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        for (at, point) in self.view.points.iter().enumerate() {
            let mut words: Vec<&str> = point.tags.iter().chain(&point.decisions).map(String::as_str).collect();
            let scope = point.scope.filter(|scope| *scope != 0).map(|scope| format!("{scope:+} rows"));
            words.extend(scope.as_deref());
            if words.is_empty() {
                continue;
            }
            let x = LEFT + self.step * (at as f64 + 0.43);
            if x - last < 1.5 {
                continue;
            }
            last = x;
            let pen = LINE.wide(0.8);
            let pen = if point.tags.is_empty() { pen.dashed("3 3") } else { pen };
            svg.line((x, TOP - 8.0), (x, self.y(0)), pen);
            if x - free < APART {
                continue;
            }
            free = x;
            svg.rising((x + 3.0, TOP - 10.0), Words::of(&words.join(", ")).within(ROOM));
        }
    }

    fn key(&self, svg: &mut Svg) {
        let last = self.view.points.iter().rev().find(|point| point.counts.is_some());
        let x = WIDTH - RIGHT + 18.0;
        for (line, state) in State::ALL.into_iter().rev().enumerate() {
            let y = TOP + line as f64 * 22.0;
            svg.area(Area(x, y, 16.0, 16.0), Fill::State(state), Some(LINE.wide(0.7)));
            let count = last.and_then(|point| point.count(state)).map(|count| format!(" {count}")).unwrap_or_default();
            svg.words((x + 22.0, y + 12.0), Words::of(&format!("{}{count}", state.word())));
        }
        svg.words((x, TOP + 8.0 * 22.0 + 16.0), Words::of("? not counted").soft());
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::well_formed;
    use super::*;
    use crate::report::view::Heading;

    fn view(points: usize) -> TrendView {
        let point = |at: usize| TrendPoint {
            oid: format!("{at:040}"),
            date: format!("day {at}"),
            summary: "why".into(),
            commits: 1,
            problem: None,
            counts: Some(State::ALL.iter().map(|state| (state.word(), 1 + at % 2)).collect()),
            due: Some(8 + 8 * (at % 2)),
            open: None,
            gaps: None,
            nonconformances: None,
            faults: None,
            unread: None,
            scope: None,
            tags: vec![format!("tag-{at}")],
            decisions: Vec::new(),
        };
        let heading = Heading {
            slipmark: "0",
            project: "Stand".into(),
            commit: None,
            clean: true,
            uncommitted: 0,
            today: "2026-06-16".into(),
        };
        TrendView {
            heading,
            event: "test".into(),
            by: "commit",
            commits: points,
            every: 1,
            chosen: "all".into(),
            cut_off: false,
            points: (0..points).map(point).collect(),
        }
    }

    #[test]
    fn a_bar_is_as_high_as_its_rows() {
        let picture = trend(&view(2));
        well_formed(&picture);
        // Of 16 rows one is 17.5 high; the first bar has one of each state, the second two.
        assert_eq!(picture.matches("height=\"17.5\"").count(), 8);
        assert_eq!(picture.matches("height=\"35\"").count(), 8);
    }

    #[test]
    fn thousands_of_commits_stay_a_picture() {
        let picture = trend(&view(5001));
        well_formed(&picture);
        assert!(picture.contains("every 14 points a bar"));
        // The last is drawn, and ends where its step ends.
        assert_eq!(picture.matches("height=\"17.5\"").count() + picture.matches("height=\"35\"").count(), 358 * 8);
        assert!(picture.contains("and 4941 more, which the table has"));
        assert!(picture.len() < 400_000, "{}", picture.len());
    }
}
