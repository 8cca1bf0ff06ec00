//! How far results are from their limits, all on one scale: which are thin shows at a glance.
//!
//! The scale is the margin over the expanded uncertainty U of the result itself. It has no unit, so that a torque and a bore can stand below
//! one another, and it is what decides: a result nearer than U to its limit is one that the measurement cannot tell from the other side.
//! In percent of the limit a bore that is fine looks thin, and a temperature has no percent.

use rayon::prelude::*;

use super::svg::{Area, FINE, Fill, INK, PALE, PAPER, Svg, THICK, WIDE, Words};
use crate::report::view::{BeforeView, CriterionView, RowView};
use crate::state::State;

/// Most results; so many of the others are drawn in any case, however many safety has.
const SHOWN: usize = 24;
const OTHERS: usize = 8;

/// Where the names stand, and how much is above the first result.
const NAMES: f64 = 22.0;
const TOP: f64 = 40.0;
/// From one heading to the first result below it.
const HEAD: f64 = 21.7;
/// From where to where the scale goes, in U; what is further is an arrow at its end.
const LOW: f64 = -3.0;
const HIGH: f64 = 10.0;

/// One result with a margin.
struct Entry<'v> {
    row: &'v RowView,
    criterion: &'v CriterionView,
    /// The margin in U, if the result has an uncertainty.
    multiple: Option<f64>,
    /// By what it is ordered: what has no uncertainty comes last, and first if it is outside.
    thickness: f64,
}

/// Where the parts of a result stand.
#[derive(Clone, Copy)]
pub struct Layout {
    wide: f64,
    /// From where to where the scale is drawn, and where its number ends.
    left: f64,
    right: f64,
    numbers: f64,
    /// From result to result.
    step: f64,
    /// The room for the name, and where its two lines stand above the bar.
    names: f64,
    name: (f64, f64),
    /// Where the result and its limit begin, and their two lines.
    results: f64,
    result: (f64, f64),
    /// Whether the scale runs through from the first result to the last; else it is drawn behind each.
    through: bool,
}

impl Layout {
    /// All of a result on one line, across a page.
    pub const WIDE: Layout = Layout {
        wide: WIDE,
        left: 236.0,
        right: 522.0,
        numbers: 572.0,
        step: 31.0,
        names: 226.0,
        name: (-2.0, 10.5),
        results: 584.0,
        result: (-2.0, 10.5),
        through: true,
    };

    /// The name above and the result below the bar, for a telephone held upright.
    pub const NARROW: Layout = Layout {
        wide: 340.0,
        left: 8.0,
        right: 290.0,
        numbers: 338.0,
        step: 76.0,
        names: 330.0,
        name: (-24.0, -11.0),
        results: NAMES,
        result: (18.0, 30.0),
        through: false,
    };

    /// Where a margin in U is drawn.
    fn x(self, multiple: f64) -> f64 {
        self.left + (multiple.clamp(LOW, HIGH) - LOW) / (HIGH - LOW) * (self.right - self.left)
    }
}

/// The picture of all margins of what is due, safety first, thinnest first; none where no result has a margin.
pub fn margins(view: &BeforeView, anchor: &str, layout: Layout) -> Option<String> {
    let (safety, others) = entries(view);
    let all = safety.all + others.all;
    if all == 0 {
        return None;
    }
    let (safety, others) = (safety.thin, others.thin);
    let safe = safety.len().min(SHOWN - others.len().min(OTHERS));
    let rest = others.len().min(SHOWN - safe);
    let groups = [("Safety: people depend on it", &safety[..safe]), ("Others", &others[..rest])];
    let mut svg = Svg::new(anchor, layout.wide);
    let lines: usize = groups.iter().map(|(_, group)| group.len()).sum();
    let heads = groups.iter().filter(|(_, group)| !group.is_empty()).count();
    numbers(&mut svg, layout);
    if layout.through {
        scale(&mut svg, layout, TOP - 6.0, TOP + lines as f64 * layout.step + heads as f64 * HEAD);
    }
    let mut y = TOP;
    let mut words = String::new();
    for (name, group) in groups.into_iter().filter(|(_, group)| !group.is_empty()) {
        svg.words((0.0, y + 12.0), Words::of(name).bold().small());
        y += HEAD;
        for entry in group {
            drawn(&mut svg, layout, entry, y + layout.step / 2.0);
            words.push_str(&entry.says());
            y += layout.step;
        }
    }
    let height = foot(&mut svg, layout, y, all - lines);
    Some(svg.finish(&format!("Margins of what is due before {}", view.event), &words, height))
}

/// Results of one sort with a margin: how many there are, and the thinnest of them, in order and no more than are ever drawn.
struct Group<'v> {
    all: usize,
    thin: Vec<Entry<'v>>,
}

impl<'v> Group<'v> {
    fn of(mut entries: Vec<Entry<'v>>) -> Group<'v> {
        let order =
            |a: &Entry<'_>, b: &Entry<'_>| a.thickness.total_cmp(&b.thickness).then_with(|| a.name().cmp(&b.name()));
        let all = entries.len();
        if all > SHOWN {
            entries.select_nth_unstable_by(SHOWN - 1, order);
            entries.truncate(SHOWN);
        }
        entries.sort_by(order);
        Group { all, thin: entries }
    }
}

/// Every result with a margin: of safety, and the others.
fn entries(view: &BeforeView) -> (Group<'_>, Group<'_>) {
    let of_row = |row| move |criterion| Entry::of(row, criterion);
    let each = view.rows.par_iter().with_min_len(64);
    let all: Vec<Entry<'_>> = each.flat_map_iter(|row| row.criteria.iter().filter_map(of_row(row))).collect();
    let (safety, others) = all.into_iter().partition(|own| own.row.safety);
    (Group::of(safety), Group::of(others))
}

impl<'v> Entry<'v> {
    fn of(row: &'v RowView, criterion: &'v CriterionView) -> Option<Entry<'v>> {
        let margin = criterion.margin.0.as_ref()?;
        let multiple = margin.multiple_of_u().and_then(|own| own.to_f64()).filter(|own| own.is_finite());
        let multiple = multiple.filter(|_| !margin.at_least);
        let far = if margin.value.is_negative() { f64::NEG_INFINITY } else { f64::INFINITY };
        Some(Entry { row, criterion, multiple, thickness: multiple.unwrap_or(far) })
    }

    fn name(&self) -> (&str, &str, &str) {
        (&self.row.requirement, &self.criterion.name, &self.row.subject)
    }

    fn margin(&self) -> String {
        self.criterion.margin.show().unwrap_or_default()
    }

    fn result(&self) -> &str {
        self.criterion.result.as_deref().unwrap_or("")
    }

    /// All of it, for those who do not see it.
    fn says(&self) -> String {
        let Entry { row, criterion, .. } = self;
        let record = criterion.record.as_deref().unwrap_or("no record");
        format!(
            "{} {} on {}, {}: {}, {}, margin {}, {record}. ",
            row.requirement,
            criterion.name,
            row.subject,
            criterion.state.word(),
            self.result(),
            criterion.limit,
            self.margin()
        )
    }
}

/// The numbers of the scale, in U.
fn ticks() -> impl Iterator<Item = f64> {
    (LOW as i32..=HIGH as i32).map(f64::from)
}

/// The numbers above the scale, and what they are.
fn numbers(svg: &mut Svg, layout: Layout) {
    let limit = layout.x(0.0);
    svg.words((limit - 22.0, 12.0), Words::of("outside").small().ending());
    svg.words((limit, 12.0), Words::of("limit").small().centred().bold());
    svg.words((limit + 22.0, 12.0), Words::of("inside by, in U of the result").small());
    for at in ticks() {
        let number = format!("{at}").replace('-', "\u{2212}");
        svg.words((layout.x(at), TOP - 10.0), Words::of(&number).small().soft().centred());
    }
}

/// The scale, the limit, and the band in which the uncertainty straddles it.
fn scale(svg: &mut Svg, layout: Layout, top: f64, bottom: f64) {
    let x = |multiple| layout.x(multiple);
    svg.area(Area(x(-1.0), top, x(1.0) - x(-1.0), bottom - top), Fill::Plain(PALE), None);
    for at in ticks().filter(|at| at.abs() > 0.5) {
        svg.line((x(at), top), (x(at), bottom), FINE);
    }
    svg.line((x(0.0), top), (x(0.0), bottom), THICK);
}

/// One result: whose it is, where it lies, and what it is.
fn drawn(svg: &mut Svg, layout: Layout, entry: &Entry<'_>, y: f64) {
    let Entry { row, criterion, multiple, .. } = entry;
    let Layout { names, results, wide, .. } = layout;
    svg.line((0.0, y + layout.step / 2.0), (wide, y + layout.step / 2.0), FINE.wide(0.4));
    if !layout.through {
        scale(svg, layout, y - 7.0, y + 7.0);
    }
    let (above, below) = (y + layout.name.0, y + layout.name.1);
    svg.mark(criterion.state, (8.0, above - 3.0), 11.0);
    let name = Words::of(&row.requirement).bold().within(names - NAMES);
    svg.words((NAMES, above), name);
    // Letters may be wider than is reckoned with.
    let after = NAMES + name.width() * 1.08 + 7.0;
    if after < names - 20.0 {
        svg.words((after, above), Words::of(&criterion.name).within(names - after));
    }
    let record = criterion.record.as_deref().unwrap_or("no record");
    let about = format!("{}: {record}, {}", criterion.state.word(), row.subject);
    svg.words((NAMES, below), Words::of(&about).small().soft().within(names - NAMES));
    match multiple {
        Some(multiple) => {
            bar(svg, layout, *multiple, criterion.state == State::Closed, y);
            let number = criterion.margin.0.as_ref().and_then(|own| own.in_u()).unwrap_or_default();
            svg.words((layout.numbers, y + 4.0), Words::of(&number).small().ending());
        }
        None => {
            let words = format!("margin {}, no uncertainty", entry.margin());
            let from = layout.x(1.0) + 8.0;
            let room = layout.numbers - from;
            svg.words((from, y + 4.0), Words::of(&words).small().soft().within(room));
        }
    }
    let (result, limit) = (y + layout.result.0, y + layout.result.1);
    svg.words((results, result), Words::of(entry.result()).within(wide - results));
    svg.words((results, limit), Words::of(&criterion.limit).small().soft().within(wide - results));
}

/// The result with its uncertainty to both sides; filled where it closes its row.
fn bar(svg: &mut Svg, layout: Layout, multiple: f64, closes: bool, y: f64) {
    let x = |multiple| layout.x(multiple);
    let (from, to) = (x(multiple - 1.0), x(multiple + 1.0));
    let beyond = multiple >= HIGH || multiple <= LOW;
    if beyond {
        let (end, way) = if multiple > 0.0 { (layout.right, -1.0) } else { (layout.left, 1.0) };
        svg.line((end + way * 18.0, y), (end, y), THICK);
        svg.path(&format!("M{end:.1} {y:.1}l{:.0} -4v8z", way * 7.0), Fill::Plain(INK), None);
        svg.dot((end + way * 18.0, y), 4.0, hollow(closes), Some(THICK));
        return;
    }
    svg.line((from, y), (to, y), THICK);
    for end in [multiple - 1.0, multiple + 1.0].into_iter().filter(|end| (LOW..=HIGH).contains(end)) {
        svg.line((x(end), y - 4.0), (x(end), y + 4.0), THICK);
    }
    svg.dot((x(multiple), y), 4.0, hollow(closes), Some(THICK));
}

fn hollow(closes: bool) -> Fill {
    Fill::Plain(if closes { INK } else { PAPER })
}

/// What the scale is, and what is left out; says where it ends.
fn foot(svg: &mut Svg, layout: Layout, y: f64, more: usize) -> f64 {
    let mut lines = vec![
        "Scale: the margin over the expanded uncertainty U of each result, stated with it; the bar is the result ± U.",
        "Grey: nearer than U to the limit, so that the uncertainty straddles it. Hollow: it closes nothing as it stands.",
        "An arrow: further than the scale goes.",
    ];
    let left_out = format!(
        "Not drawn: {more} more, no thinner in their group, or without an uncertainty; they stand with their requirements."
    );
    if more > 0 {
        lines.push(&left_out);
    }
    let lines: Vec<String> = lines.into_iter().flat_map(|line| folded(line, layout.wide)).collect();
    for (at, line) in lines.iter().enumerate() {
        svg.words((0.0, y + 16.0 + at as f64 * 14.0), Words::of(line).small().soft());
    }
    y + 16.0 + lines.len() as f64 * 14.0
}

/// A text in lines that fit.
fn folded(text: &str, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut() {
            // Letters may be wider than is reckoned with.
            Some(line) if Words::of(&format!("{line} {word}")).small().width() * 1.08 <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_string()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::super::tests::{demo, well_formed};
    use super::*;

    #[test]
    fn every_margin_is_there_with_its_place() {
        let view = demo();
        let picture = margins(&view, "m", Layout::WIDE).unwrap();
        well_formed(&picture);
        let words = picture.split("</desc>").next().unwrap();
        let all = view.rows.iter().flat_map(|row| row.criteria.iter().map(move |own| (row, own)));
        let with: Vec<_> = all.filter(|(_, own)| own.margin.0.is_some()).collect();
        assert!(with.len() > SHOWN, "{}", with.len());
        // Those that are drawn are said, and are ones of the view; the others are counted.
        let said: Vec<&str> = words.split(". ").filter(|one| one.contains(", margin ")).collect();
        assert_eq!(said.len(), SHOWN);
        let names: Vec<String> =
            with.iter().map(|(row, own)| format!("{} {} on {}, ", row.requirement, own.name, row.subject)).collect();
        assert!(said.iter().all(|one| names.iter().any(|name| one.contains(name.as_str()))), "{said:?}");
        assert!(picture.contains(&format!("Not drawn: {} more", with.len() - SHOWN)));
    }

    #[test]
    fn thin_ones_come_first_and_safety_before_all() {
        let view = demo();
        let (safety, others) = entries(&view);
        assert!(safety.all > 0 && others.all > 0);
        for group in [&safety, &others] {
            assert!(group.thin.windows(2).all(|two| two[0].thickness <= two[1].thickness));
        }
        // ACT-090 is outside by 11 U, which no other of its group is.
        assert_eq!(others.thin[0].row.requirement, "ACT-090");
    }

    #[test]
    fn a_limit_is_at_nought_and_what_is_further_is_an_arrow() {
        let layout = Layout::WIDE;
        assert!((layout.x(0.0) - 302.0).abs() < 1e-9, "3 of 13 parts of 286 behind 236");
        assert_eq!((layout.x(-50.0), layout.x(3000.0)), (layout.left, layout.right));
        let mut svg = Svg::new("b", WIDE);
        bar(&mut svg, layout, 3.0, true, 10.0);
        bar(&mut svg, layout, 300.0, false, 20.0);
        let out = svg.finish("", "", 30.0);
        // From 2 U to 4 U, with the dot at 3 U: each U is 22 wide.
        assert!(out.contains("x1=\"346\" y1=\"10\" x2=\"390\"") && out.contains("cx=\"368\""), "{out}");
        assert!(
            out.contains("M522.0 20.0l-7 -4v8z") && out.contains("cx=\"504\" cy=\"20\" r=\"4\" fill=\"#fff\""),
            "{out}"
        );
    }

    #[test]
    fn narrow_all_of_it_fits_and_says_the_same() {
        let view = demo();
        let (wide, narrow) = (margins(&view, "m", Layout::WIDE).unwrap(), margins(&view, "m", Layout::NARROW).unwrap());
        well_formed(&narrow);
        let words = |picture: &str| picture.split("<desc").nth(1).unwrap().split("</desc>").next().unwrap().to_string();
        assert_eq!(words(&wide), words(&narrow));
        assert!(narrow.contains("viewBox=\"0 0 340 "), "{narrow}");
        // Nothing begins beyond its edge, and no line of the foot is cut.
        let starts = narrow
            .split("<text ")
            .skip(1)
            .filter_map(|text| text.split("x=\"").nth(1)?.split('"').next()?.parse::<f64>().ok());
        assert!(starts.clone().count() > 100 && starts.clone().all(|x| (0.0..=340.0).contains(&x)));
        assert!(
            narrow.contains("further than the scale goes.")
                && !narrow.contains("Scale: the margin over the expanded uncertainty U of each result, stated")
        );
    }

    #[test]
    fn of_very_many_the_thin_ones_of_both_groups_are_drawn() {
        let mut view = demo();
        let safe = view.rows.iter().position(|row| row.safety && row.criteria.iter().any(|own| own.margin.0.is_some()));
        let row = view.rows[safe.unwrap()].clone();
        view.rows.extend(std::iter::repeat_n(row, 1000));
        let picture = margins(&view, "m", Layout::WIDE).unwrap();
        assert!(picture.contains(">ACT-090</text>") && picture.contains("Not drawn: 10"), "{picture}");
        assert!(picture.len() < 40_000);
        view.rows.clear();
        assert_eq!(margins(&view, "m", Layout::WIDE), None);
    }
}
