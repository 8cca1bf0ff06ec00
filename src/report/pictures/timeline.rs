//! How one thing came to read as it does: its revisions from left to right, and below them the evidence, as far as it still lines up.
//!
//! Columns stand in the order of the commits; dates are written, but nothing is placed by them, since anybody can date a commit as they like.
//! Evidence starts at the first revision whose mark it carries. Where the mark of a later one is another, its line is broken and set off, as the
//! stripe of paint across a nut that has moved.

use std::collections::BTreeMap;

use super::svg::{Area, FINE, Fill, INK, LINE, PALE, PAPER, SOFT, Svg, THICK, WIDE, Words};
use crate::report::view::{HistoryView, RevisionEvidence, RevisionView};
use crate::state::State;

/// Names on the left.
const LEFT: f64 = 92.0;
/// The most columns and lanes; what there is between or beyond is counted.
const COLUMNS: usize = 7;
const LANES: usize = 16;
/// The widest that a column is.
const BROAD: f64 = 334.0;
/// Lines of words, and lanes.
const LINES: f64 = 14.0;
const LANE: f64 = 28.0;
/// The most things that are said of one revision.
const SAID: usize = 3;

/// One revision as it is drawn.
struct Column<'v> {
    revision: &'v RevisionView,
    /// Revisions between the one before and this one that are not drawn.
    skipped: usize,
}

/// One record: its id, and what it is to the revision of each column.
struct Lane<'v> {
    record: &'v str,
    stands: Vec<Option<&'v RevisionEvidence>>,
}

/// The picture of a thing's revisions and evidence; none where there is no revision.
pub fn timeline(view: &HistoryView, anchor: &str) -> Option<String> {
    let columns = columns(view);
    if columns.is_empty() {
        return None;
    }
    let lanes = lanes(view, &columns);
    let ends = columns.len() + usize::from(view.uncommitted.is_some());
    let wide = ((WIDE - LEFT) / ends as f64).min(BROAD);
    let mut svg = Svg::new(anchor, WIDE);
    let heads = columns.iter().map(|own| said(own).len()).max().unwrap_or(0);
    let top = 8.0 + heads as f64 * LINES + 8.0;
    let shown = lanes.len().min(LANES);
    // Where it stood is said below the stripe, if that was asked for.
    let below = if columns.iter().any(|own| own.revision.states.is_some()) { 26.0 } else { 14.0 };
    let bottom = top + below + shown as f64 * LANE;
    if below > 20.0 {
        svg.words((0.0, top + 18.0), Words::of("stood then").small().soft());
    }
    for (at, column) in columns.iter().enumerate() {
        head(&mut svg, column, LEFT + at as f64 * wide, wide, (top, bottom));
    }
    if view.uncommitted.is_some() {
        let x = LEFT + columns.len() as f64 * wide;
        svg.line((x, 4.0), (x, bottom), LINE.dashed("3 3"));
        svg.words((x + 6.0, 8.0 + LINES - 3.0), Words::of("not committed yet").within(wide - 10.0));
    }
    stripe(&mut svg, &columns, wide, top);
    for (at, lane) in lanes.iter().take(LANES).enumerate() {
        drawn(&mut svg, lane, wide, top + below + (at as f64 + 0.5) * LANE);
    }
    let height = foot(&mut svg, bottom, lanes.len().saturating_sub(LANES));
    let title = format!("How {} came to read as it does", view.thing.id);
    Some(svg.finish(&title, &in_words(&columns, &lanes), height))
}

/// The revisions that count, and those at which evidence was looked at again; of many, the first and the last ones.
fn columns(view: &HistoryView) -> Vec<Column<'_>> {
    let mut number = 0;
    let counts = |it: &&RevisionView| {
        let new = it.number != number || it.change == "unreadable";
        number = it.number;
        new
    };
    let all: Vec<&RevisionView> = view.thing.revisions.iter().filter(counts).collect();
    let skipped = all.len().saturating_sub(COLUMNS);
    let kept = all.iter().enumerate().filter(|(at, _)| *at == 0 || *at > skipped);
    kept.map(|(at, revision)| Column { revision, skipped: if at == skipped + 1 { skipped } else { 0 } }).collect()
}

/// Every record that carries the mark of a column, in the order in which they first do.
fn lanes<'v>(view: &'v HistoryView, columns: &[Column<'v>]) -> Vec<Lane<'v>> {
    let mut by_mark: BTreeMap<&str, &[RevisionEvidence]> = BTreeMap::new();
    for revision in view.thing.revisions.iter().filter(|revision| !revision.evidence.is_empty()) {
        by_mark.insert(revision.mark.as_deref().unwrap_or_default(), &revision.evidence);
    }
    let with = |column: &Column<'v>| -> &'v [RevisionEvidence] {
        column.revision.mark.as_deref().and_then(|mark| by_mark.get(mark)).copied().unwrap_or_default()
    };
    let mut lanes: Vec<Lane<'v>> = Vec::new();
    for own in columns.iter().flat_map(with) {
        if !lanes.iter().any(|lane| lane.record == own.record) {
            // Of a record that was signed and looked at again for the same text, the later is said.
            let stands = |column| with(column).iter().rfind(|it| it.record == own.record);
            lanes.push(Lane { record: &own.record, stands: columns.iter().map(stands).collect() });
        }
    }
    lanes
}

/// What stands above a column, line by line.
fn said(column: &Column<'_>) -> Vec<(String, bool)> {
    let it = column.revision;
    let mut lines = vec![(format!("{}  {}", it.number, it.change), true), (it.date.clone(), false)];
    if column.skipped > 0 {
        lines.push((format!("{} before it not drawn", column.skipped), false));
    }
    lines.push((it.summary.clone(), false));
    if !it.decisions.is_empty() {
        lines.push((format!("decided: {}", it.decisions.join(", ")), false));
    }
    let moved = it.criteria.iter().filter(|own| own.direction != "added" || it.change != "added");
    let mut moved: Vec<String> = moved.map(|own| format!("{} {}", own.name, own.direction)).collect();
    let more = moved.len().saturating_sub(SAID);
    moved.truncate(SAID);
    lines.extend(moved.into_iter().map(|words| (words, false)));
    if more > 0 {
        lines.push((format!("and {more} more criteria"), false));
    }
    lines
}

fn head(svg: &mut Svg, column: &Column<'_>, x: f64, wide: f64, (top, bottom): (f64, f64)) {
    svg.line((x, 4.0), (x, bottom), FINE);
    for (at, (words, strong)) in said(column).iter().enumerate() {
        let words = Words::of(words).within(wide - 12.0);
        let words = if *strong { words.bold() } else { words.small().soft() };
        svg.words((x + 6.0, 8.0 + (at + 1) as f64 * LINES - 3.0), words);
    }
    let worst = column.revision.states.iter().flatten().map(|own| own.state).min();
    if let Some(state) = worst {
        svg.mark(state, (x + 12.0, top + 14.0), 10.0);
        svg.words((x + 22.0, top + 18.0), Words::of(state.word()).small().within(wide - 26.0));
    }
}

/// The text itself: a length for each revision, pale and white in turn as its mark becomes another.
fn stripe(svg: &mut Svg, columns: &[Column<'_>], wide: f64, top: f64) {
    svg.words((0.0, top + 3.0), Words::of("its text").small().soft());
    let mut pale = false;
    let mut last = None;
    for (at, column) in columns.iter().enumerate() {
        let mark = Some(&column.revision.mark);
        pale = pale != (last != mark);
        last = mark;
        let fill = Fill::Plain(if pale { PALE } else { PAPER });
        svg.area(Area(LEFT + at as f64 * wide, top - 4.0, wide, 8.0), fill, Some(LINE.wide(0.7)));
    }
}

/// One record: a line as long as its mark lines up, and set off in dashes where it does not.
fn drawn(svg: &mut Svg, lane: &Lane<'_>, wide: f64, y: f64) {
    svg.words((0.0, y + 4.0), Words::of(lane.record).bold().within(LEFT - 8.0));
    let mut last: Option<&RevisionEvidence> = None;
    let mut begun = false;
    for (at, stands) in lane.stands.iter().enumerate() {
        let (from, to) = (LEFT + at as f64 * wide, LEFT + (at + 1) as f64 * wide);
        let Some(own) = stands else {
            if begun {
                svg.line((from, y + 5.0), (to, y + 5.0), LINE.dashed("2 3").in_grey(SOFT));
                if last.is_some() {
                    svg.mark(State::Slipped, (from, y + 2.5), 15.0);
                    svg.words((from + 10.0, y - 1.0), Words::of("slipped").small().within(wide - 14.0));
                }
            }
            last = None;
            continue;
        };
        let start = if begun { from } else { from + 12.0 };
        svg.line((start, y), (to, y), THICK);
        if last != Some(*own) {
            let fill = Fill::Plain(if own.how == "signed" { INK } else { PAPER });
            svg.dot((start, y), 3.6, fill, Some(THICK));
            let date = own.date.as_deref().unwrap_or("undated");
            svg.words((start + 7.0, y - 4.0), Words::of(&format!("{} {date}", how(own))).small().within(wide - 22.0));
        }
        begun = true;
        last = Some(own);
    }
}

fn how(own: &RevisionEvidence) -> &'static str {
    match own.how {
        "reaffirmed" => "looked at again",
        other => other,
    }
}

fn foot(svg: &mut Svg, y: f64, more: usize) -> f64 {
    let mut lines = vec![
        "In the order of the commits, whatever their dates. A line: the record carries the mark of that text."
            .to_string(),
        "Set off in dashes: the text has moved since, and nobody has looked again. Filled: signed.".to_string(),
    ];
    if more > 0 {
        lines.push(format!("Not drawn: {more} more records."));
    }
    for (at, line) in lines.iter().enumerate() {
        svg.words((0.0, y + 18.0 + at as f64 * LINES), Words::of(line).small().soft());
    }
    y + 18.0 + lines.len() as f64 * LINES
}

fn in_words(columns: &[Column<'_>], lanes: &[Lane<'_>]) -> String {
    let mut words = String::new();
    for column in columns {
        let lines: Vec<String> = said(column).into_iter().map(|(words, _)| words).collect();
        words.push_str(&format!("{}. ", lines.join(", ")));
    }
    for lane in lanes.iter().take(LANES) {
        let stands = lane.stands.iter().zip(columns).map(|(stands, column)| {
            let number = column.revision.number;
            match stands {
                Some(own) => format!("{} for {number}", how(own)),
                None => format!("not for {number}"),
            }
        });
        words.push_str(&format!("{}: {}. ", lane.record, stands.collect::<Vec<_>>().join(", ")));
    }
    words
}

#[cfg(test)]
mod tests {
    use super::super::tests::well_formed;
    use super::*;
    use crate::report::view::RevisionsView;

    fn evidence(record: &str, how: &'static str) -> RevisionEvidence {
        RevisionEvidence { record: record.into(), how, date: Some("2026-01-01".into()), by: None }
    }

    fn revision(number: usize, mark: &str, evidence: Vec<RevisionEvidence>) -> RevisionView {
        RevisionView {
            number,
            oid: format!("{number:040}"),
            // Later revisions carry earlier dates.
            date: format!("{}-01-01", 2030 - number),
            summary: "why <it>".into(),
            change: "revised",
            statement: None,
            mark: Some(mark.into()),
            decisions: vec!["D-1".into()],
            reworded: None,
            criteria: Vec::new(),
            details: Vec::new(),
            evidence,
            slipped: None,
            edited: None,
            states: None,
        }
    }

    fn history(revisions: Vec<RevisionView>) -> HistoryView {
        let thing = RevisionsView {
            id: "R-1".into(),
            kind: "requirement".into(),
            title: "T".into(),
            safety: false,
            revisions,
            replaces: Vec::new(),
            replaced_by: Vec::new(),
        };
        HistoryView { slipmark: "0", thing, uncommitted: None, states: None }
    }

    #[test]
    fn what_slipped_is_set_off_and_what_was_looked_at_again_is_not() {
        let first = vec![evidence("A", "signed"), evidence("B", "signed")];
        let view = history(vec![revision(1, "m1", first), revision(2, "m2", vec![evidence("A", "reaffirmed")])]);
        let picture = timeline(&view, "t").unwrap();
        well_formed(&picture);
        assert!(picture.contains("A: signed for 1, looked at again for 2. B: signed for 1, not for 2. "), "{picture}");
        assert_eq!(picture.matches(">slipped</text>").count(), 1);
        assert_eq!(picture.matches("stroke-dasharray=\"2 3\"").count(), 1);
    }

    #[test]
    fn a_text_that_came_back_lines_up_again() {
        let own = vec![evidence("A", "signed")];
        let view = history(vec![revision(1, "m1", own.clone()), revision(2, "m2", Vec::new()), revision(3, "m1", own)]);
        let picture = timeline(&view, "t").unwrap();
        assert!(picture.contains("A: signed for 1, not for 2, signed for 3. "), "{picture}");
    }

    #[test]
    fn commits_and_not_dates_make_the_order() {
        let view = history((1..=3).map(|number| revision(number, "m", Vec::new())).collect());
        let picture = timeline(&view, "t").unwrap();
        let at = |date: &str| picture.find(&format!(">{date}</text>")).unwrap();
        assert!(at("2029-01-01") < at("2028-01-01") && at("2028-01-01") < at("2027-01-01"));
    }

    #[test]
    fn hundreds_of_revisions_and_records_stay_a_picture() {
        let records = (0..300).map(|at| evidence(&format!("record-with-a-long-name-{at}"), "signed")).collect();
        let mut revisions: Vec<RevisionView> = (1..300).map(|number| revision(number, "m", Vec::new())).collect();
        revisions.push(revision(300, "n", records));
        let picture = timeline(&history(revisions), "t").unwrap();
        well_formed(&picture);
        assert!(
            picture.contains("293 before it not drawn") && picture.contains("Not drawn: 284 more records."),
            "{picture}"
        );
        assert!(picture.len() < 30_000, "{}", picture.len());
        assert_eq!(timeline(&history(Vec::new()), "t"), None);
    }
}
