//! How far each event is: a bar for each, its rows by state.

use super::states::key;
use super::svg::{Area, Fill, LINE, PALE, SMALL, Svg, WIDE, Words};
use crate::report::view::{BeforeView, RowView};
use crate::state::State;

/// Events with a bar of their own; earlier ones share one.
const EVENTS: usize = 10;
/// Room for the words on the left. All of them stand there: on a narrow screen, where the right end is out of sight, that is what must
/// be seen first, as must the worst rows, with which the bars begin.
const LEFT: f64 = 122.0;
/// The width of the picture for a screen that shows no more.
const NARROW: f64 = 340.0;
/// From bar to bar, and how high a bar is.
const STEP: f64 = 31.0;
const HIGH: f64 = 15.0;
/// The least width of a state that has any row, so that none is lost in a long bar.
const LEAST: f64 = 8.0;
/// From this width on, each row is an area of its own.
const ALONE: f64 = 6.0;

/// One bar.
struct Bar<'v> {
    name: String,
    rows: Vec<&'v RowView>,
}

impl Bar<'_> {
    fn count(&self, state: State) -> usize {
        self.rows.iter().filter(|row| row.state == state).count()
    }

    fn open(&self) -> usize {
        self.rows.iter().filter(|row| row.state.is_open()).count()
    }

    /// How far it is, in words.
    fn stands(&self) -> String {
        match (self.rows.len(), self.open()) {
            (0, _) => "nothing planned".into(),
            (_, 0) => "none open".into(),
            (all, open) => format!("{open} of {all} open"),
        }
    }
}

/// The picture: a bar for each event up to the one asked about, all to one scale. The anchor makes its names its own.
pub fn events(view: &BeforeView, anchor: &str) -> String {
    across(view, anchor, WIDE, LEFT)
}

/// The same for a narrow screen, the key across all of it.
pub fn events_narrow(view: &BeforeView, anchor: &str) -> String {
    across(view, anchor, NARROW, 0.0)
}

fn across(view: &BeforeView, anchor: &str, width: f64, key_from: f64) -> String {
    let bars = bars(view);
    let most = bars.iter().map(|bar| bar.rows.len()).max().unwrap_or(0).max(1);
    let unit = (width - LEFT - LEAST * State::ALL.len() as f64) / most as f64;
    let mut svg = Svg::new(anchor, width);
    let mut y = 4.0;
    for bar in &bars {
        svg.words((0.0, y + HIGH - 3.0), Words::of(&bar.name).within(LEFT - 10.0));
        drawn(&mut svg, bar, unit, y);
        svg.words((0.0, y + HIGH + SMALL), Words::of(&bar.stands()).small().within(LEFT - 10.0));
        y += STEP;
    }
    let there = |state: &State| bars.iter().any(|bar| bar.count(*state) > 0);
    let states: Vec<State> = State::ALL.into_iter().filter(there).collect();
    let end = key(&mut svg, &states, (key_from, y + 4.0), width);
    svg.finish(&format!("Rows due before {}, by event and state", view.event), &in_words(&bars), end)
}

/// A bar for each event; of many, the earlier ones together.
fn bars(view: &BeforeView) -> Vec<Bar<'_>> {
    let (earlier, last) = view.events.split_at(view.events.len().saturating_sub(EVENTS));
    let rows = |names: &[String]| -> Vec<&RowView> {
        let due = |row: &&RowView| row.before.as_ref().is_some_and(|before| names.contains(before));
        view.rows.iter().filter(due).collect()
    };
    let together =
        (!earlier.is_empty()).then(|| Bar { name: format!("{} earlier events", earlier.len()), rows: rows(earlier) });
    let own = last.iter().map(|name| Bar { name: name.clone(), rows: rows(std::slice::from_ref(name)) });
    together.into_iter().chain(own).collect()
}

/// The areas of a bar, worst first, with their counts below.
fn drawn(svg: &mut Svg, bar: &Bar<'_>, unit: f64, y: f64) {
    let (mut x, mut free) = (LEFT, LEFT);
    if bar.rows.is_empty() {
        svg.line((LEFT, y + HIGH / 2.0), (LEFT + 24.0, y + HIGH / 2.0), LINE.in_grey(PALE).wide(2.0));
    }
    for state in State::ALL {
        let count = bar.count(state);
        if count == 0 {
            continue;
        }
        let wide = (count as f64 * unit).max(LEAST);
        if unit >= ALONE {
            for at in 0..count {
                svg.area(Area(x + at as f64 * unit, y, unit - 1.5, HIGH), Fill::State(state), Some(LINE.wide(0.6)));
            }
        } else {
            svg.area(Area(x, y, wide, HIGH), Fill::State(state), Some(LINE.wide(0.6)));
        }
        let count = count.to_string();
        let words = Words::of(&count).small();
        let start = (x + (wide - words.width()) / 2.0).max(free);
        svg.words((start, y + HIGH + SMALL), words);
        free = start + words.width() + 4.0;
        x += wide;
    }
}

fn in_words(bars: &[Bar<'_>]) -> String {
    let one = |bar: &Bar<'_>| {
        let states = State::ALL.into_iter().filter(|state| bar.count(*state) > 0);
        let states: Vec<String> = states.map(|state| format!("{} {}", bar.count(state), state.word())).collect();
        let list = if states.is_empty() { String::new() } else { format!(": {}", states.join(", ")) };
        format!("{}: {}{list}.", bar.name, bar.stands())
    };
    bars.iter().map(one).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::super::tests::{demo, well_formed};
    use super::*;

    /// What the picture says is what the rows say, counted once more.
    #[test]
    fn every_row_is_in_the_bar_of_its_event() {
        let view = demo();
        let picture = events(&view, "e");
        well_formed(&picture);
        let words = picture.split("</desc>").next().unwrap();
        for name in ["leak-check", "cold-shock", "cold-flow", "hot-fire"] {
            let rows: Vec<&RowView> = view.rows.iter().filter(|row| row.before.as_deref() == Some(name)).collect();
            let own = words.split(&format!("{name}: ")).nth(1).unwrap().split('.').next().unwrap();
            for state in State::ALL {
                let count = rows.iter().filter(|row| row.state == state).count();
                let said = own.contains(&format!(" {count} {}", state.word()));
                assert_eq!(said, count > 0, "{name}, {}: {own}", state.word());
            }
        }
        // Each row is an area, and each state that is there one more in the key; and there is the ground.
        let states = State::ALL.iter().filter(|state| view.counts[state.word()] > 0).count();
        let patterns = picture.matches("<pattern ").count();
        assert_eq!(picture.matches("<rect ").count(), view.rows.len() + states + 1 + patterns);
        assert_eq!(picture, events(&view, "e"));
    }

    #[test]
    fn a_state_with_one_row_among_thousands_is_not_lost() {
        let mut view = demo();
        let closed = view.rows.iter().find(|row| row.state == State::Closed).unwrap().clone();
        let open = view.rows.iter().find(|row| row.state == State::NotMet).unwrap().clone();
        view.rows = vec![closed.clone(); 5000];
        for row in &mut view.rows {
            row.before = open.before.clone();
        }
        view.rows.push(open);
        let picture = events(&view, "e");
        assert!(picture.contains("<rect x=\"122\" y=\"66\" width=\"8\" height=\"15\" fill=\"#000\""), "{picture}");
        assert!(picture.len() < 4000, "{}", picture.len());
    }

    #[test]
    fn an_event_without_rows_says_so() {
        let mut view = demo();
        view.rows.clear();
        assert_eq!(events(&view, "e").matches("nothing planned</text>").count(), 4);
    }

    /// It says the same, and nothing of it lies beyond its right end.
    #[test]
    fn the_narrow_one_says_the_same_within_its_width() {
        let view = demo();
        let (wide, narrow) = (events(&view, "e"), events_narrow(&view, "e"));
        well_formed(&narrow);
        let words = |picture: &str| picture.split("<desc").nth(1).unwrap().split("</desc>").next().unwrap().to_string();
        assert_eq!(words(&wide), words(&narrow));
        assert_eq!(narrow.matches("<rect ").count(), wide.matches("<rect ").count(), "every row and state is there");
        let number = |area: &str, name: &str| -> Option<f64> {
            area.split(&format!(" {name}=\"")).nth(1)?.split('"').next()?.parse().ok()
        };
        let ends = narrow.split("<rect").skip(1).filter_map(|area| Some(number(area, "x")? + number(area, "width")?));
        let farthest = ends.fold(0.0, f64::max);
        assert!((LEFT + 100.0..=NARROW).contains(&farthest), "{farthest}");
    }
}
