//! Where the uncertainty of a calculation comes from, and how the trials of it lie.

use super::scale::short;
use super::svg::{Area, FINE, Fill, LINE, MIDDLE, Svg, WIDE, Words};
use crate::report::view::{Answer, ContributionView, HistogramView, ResultView, TrialsView};

/// Names on the left, the drawing, numbers on the right.
const LEFT: f64 = 190.0;
const HALF: f64 = 190.0;
const STEP: f64 = 22.0;
const TOP: f64 = 34.0;
/// Most bars; the rest is drawn as one.
const BARS: usize = 12;

/// One bar: what it is of, how far it moves the result, its part of the variance.
struct Bar {
    name: String,
    size: f64,
    percent: f64,
}

/// Bars of what each input moves the result by when it is off by its standard uncertainty, the largest at the top. None with less
/// than two inputs that bring any in.
pub fn tornado(result: &ResultView, anchor: &str) -> Option<String> {
    let bars = bars(result);
    if bars.len() < 2 {
        return None;
    }
    let widest = bars.iter().map(|bar| bar.size).fold(f64::MIN_POSITIVE, f64::max);
    let middle = LEFT + HALF;
    let mut svg = Svg::new(&format!("tornado-{anchor}"), WIDE);
    let head = format!("{} moves by, for one standard uncertainty of each input", result.name);
    svg.words((middle, 16.0), Words::of(&head).centred().within(2.0 * middle));
    for (at, bar) in bars.iter().enumerate() {
        let y = TOP + at as f64 * STEP;
        let (reach, base) = (bar.size / widest * (HALF - 6.0), y + STEP * 0.62);
        svg.words((LEFT - 8.0, base), Words::of(&bar.name).ending().within(LEFT - 8.0));
        svg.area(Area(middle - reach, y + 3.0, 2.0 * reach, STEP - 8.0), Fill::Plain(MIDDLE), Some(LINE.wide(0.7)));
        svg.words((middle + HALF + 8.0, base), Words::of(&bar.says(&result.unit)).within(WIDE - middle - HALF - 8.0));
    }
    let height = TOP + bars.len() as f64 * STEP + 8.0;
    svg.line((middle, TOP - 6.0), (middle, height - 4.0), LINE);
    let words: Vec<String> = bars.iter().map(|bar| format!("{} {}", bar.name, bar.says(&result.unit))).collect();
    Some(svg.finish(&format!("What moves {}", result.name), &words.join("; "), height))
}

fn bars(result: &ResultView) -> Vec<Bar> {
    let own: Vec<&ContributionView> =
        result.contributions.iter().filter(|own| own.standard_uncertainty > 0.0).collect();
    let (shown, rest) = own.split_at(own.len().min(BARS));
    let bar =
        |own: &&ContributionView| Bar { name: own.input.clone(), size: own.standard_uncertainty, percent: own.percent };
    let mut bars: Vec<Bar> = shown.iter().map(bar).collect();
    if !rest.is_empty() {
        bars.push(Bar {
            name: format!("{} others", rest.len()),
            size: rest.iter().map(|own| own.standard_uncertainty * own.standard_uncertainty).sum::<f64>().sqrt(),
            percent: rest.iter().map(|own| own.percent).sum(),
        });
    }
    bars
}

impl Bar {
    fn says(&self, unit: &str) -> String {
        format!("± {}{}, {:.1} %", short(self.size), beside(unit), self.percent)
    }
}

/// The height of a histogram above its axis, and where it starts.
const TALL: f64 = 120.0;
const FLAT: f64 = 620.0;
const SIDE: f64 = 40.0;
const OVER: f64 = 44.0;

/// How the trials of a result lie, with their interval and that of first order above them; none where there were no trials.
pub fn spread(result: &ResultView, anchor: &str) -> Option<String> {
    let trials = result.trials.as_ref()?;
    let histogram = trials.histogram.as_ref()?;
    let most = histogram.counts.iter().copied().max().filter(|most| *most > 0)? as f64;
    let bottom = OVER + TALL;
    let mut svg = Svg::new(&format!("trials-{anchor}"), FLAT + 2.0 * SIDE + 60.0);
    let step = FLAT / histogram.counts.len() as f64;
    for (at, count) in histogram.counts.iter().enumerate().filter(|(_, count)| **count > 0) {
        let tall = *count as f64 / most * TALL;
        svg.area(Area(SIDE + at as f64 * step, bottom - tall, step, tall), Fill::Plain(MIDDLE), None);
    }
    svg.line((SIDE, bottom), (SIDE + FLAT, bottom), LINE);
    intervals(&mut svg, result, trials, histogram);
    let unit = beside(&result.unit);
    let [low, high] = [histogram.low, histogram.high].map(|end| format!("{}{unit}", short(end)));
    svg.words((SIDE, bottom + 18.0), Words::of(&low));
    svg.words((SIDE + FLAT, bottom + 18.0), Words::of(&high).ending());
    let [low, high] = trials.symmetric;
    let words = format!("{:.2} % lie from {} to {}{unit}", trials.coverage * 100.0, short(low), short(high));
    Some(svg.finish(&format!("{} trials of {}", trials.count, result.name), &words, bottom + 28.0))
}

/// The interval of the trials and that of first order, each as a line with two ends.
fn intervals(svg: &mut Svg, result: &ResultView, trials: &TrialsView, histogram: &HistogramView) {
    let wide = histogram.high - histogram.low;
    let x = |value: f64| SIDE + ((value - histogram.low) / wide * FLAT).clamp(0.0, FLAT);
    let [low, high] = trials.symmetric;
    let own = [("trials", low, high, 14.0)];
    for (what, low, high, y) in own.into_iter().chain(first_order(result).map(|it| ("first order", it.0, it.1, 32.0))) {
        let (from, to) = (x(low), x(high));
        svg.line((from, y), (to, y), LINE);
        for end in [from, to] {
            svg.line((end, y - 4.0), (end, y + 4.0), LINE);
            svg.line((end, y + 4.0), (end, OVER + TALL), FINE.dashed("2 3"));
        }
        svg.words((to + 6.0, y + 4.0), Words::of(what).small());
    }
}

/// The interval of first order, in the unit of the result.
fn first_order(result: &ResultView) -> Option<(f64, f64)> {
    let Answer::Number(value) = result.value else { return None };
    let half = result.expanded_uncertainty?;
    Some((value - half, value + half))
}

/// A unit behind its number.
fn beside(unit: &str) -> String {
    if unit.is_empty() { String::new() } else { format!(" {unit}") }
}

#[cfg(test)]
mod tests {
    use super::super::tests::well_formed;
    use super::*;

    fn result(parts: &[(&str, f64, f64)]) -> ResultView {
        let contribution = |(input, size, percent): &(&str, f64, f64)| ContributionView {
            input: input.to_string(),
            value: String::new(),
            standard: String::new(),
            distribution: "normal".into(),
            sensitivity: 1.0,
            standard_uncertainty: *size,
            percent: *percent,
        };
        ResultView {
            name: "torque".into(),
            value: Answer::Number(10.0),
            unit: "N·m".into(),
            text: String::new(),
            standard_uncertainty: Some(1.0),
            expanded_uncertainty: Some(2.0),
            degrees_of_freedom: None,
            exact: false,
            contributions: parts.iter().map(contribution).collect(),
            worst_case: None,
            notes: Vec::new(),
            trials: None,
            shown: String::new(),
        }
    }

    #[test]
    fn bars_are_to_scale_and_have_their_percent() {
        let drawn = tornado(&result(&[("a", 4.0, 80.0), ("b<", 2.0, 20.0), ("none", 0.0, 0.0)]), "x").unwrap();
        well_formed(&drawn);
        // The widest goes as far as the room; half as much goes half as far.
        assert!(drawn.contains("x=\"196\" y=\"37\" width=\"368\""), "{drawn}");
        assert!(drawn.contains("x=\"288\" y=\"59\" width=\"184\""), "{drawn}");
        assert!(
            drawn.contains("± 4 N·m, 80.0 %") && drawn.contains("b&lt; ± 2 N·m, 20.0 %") && !drawn.contains("none")
        );
        assert_eq!(tornado(&result(&[("a", 4.0, 100.0)]), "x"), None, "a single bar shows nothing");
    }

    #[test]
    fn of_many_inputs_the_small_ones_share_a_bar() {
        let names: Vec<String> = (0..40).map(|at| format!("input-{at}")).collect();
        let parts: Vec<(&str, f64, f64)> = names.iter().map(|name| (name.as_str(), 3.0, 2.5)).collect();
        let drawn = tornado(&result(&parts), "x").unwrap();
        assert_eq!(drawn.matches("<rect x=").count(), 13);
        // 28 of 3 each: 3 times the root of 28.
        assert!(drawn.contains("28 others ± 15.9 N·m, 70.0 %"), "{drawn}");
    }

    #[test]
    fn trials_are_drawn_with_both_intervals() {
        let mut own = result(&[]);
        assert_eq!(spread(&own, "x"), None);
        let histogram = HistogramView { low: 4.0, high: 16.0, counts: vec![1, 0, 2, 1], outside: 0 };
        own.trials = Some(TrialsView {
            count: 4,
            not_finite: 0,
            mean: 10.0,
            standard_uncertainty: 1.0,
            coverage: 0.95,
            symmetric: [7.0, 13.0],
            shortest: [7.0, 13.0],
            agrees: true,
            decides: false,
            histogram: Some(histogram),
        });
        let drawn = spread(&own, "x").unwrap();
        well_formed(&drawn);
        assert_eq!(drawn.matches("<rect x=").count(), 3, "a step without a trial has no bar");
        // A quarter of 620 from the left for the trials, a third for first order's 8.
        assert!(
            drawn.contains("x1=\"195\" y1=\"14\" x2=\"505\"") && drawn.contains("x1=\"246.7\" y1=\"32\""),
            "{drawn}"
        );
        assert!(drawn.contains("95.00 % lie from 7 to 13 N·m"));
    }
}
