//! The first sheet: which project, which event, as of which commit and day, the verdict, the counts, and what it is not.

use crate::analysis::Analysis;
use crate::report::cautions::DEFER;
use crate::report::packet::{Dated, draft, rule, sentence};
use crate::report::view::BeforeView;
use crate::state::State;

use super::grid::{Cell, Sheet, columns};
use super::{OPEN, OTHERS, SUMMARY};

/// The first sheet; the others are listed on it.
pub(super) fn summary(
    analysis: &Analysis,
    before: &BeforeView,
    dated: &Dated,
    event: usize,
    others: &[Sheet],
) -> Sheet {
    let mut sheet = Sheet::new(SUMMARY, "", (1, 2), columns([("verification packet", 26), ("", 90)]));
    let lines = heading(analysis, before, dated, event).into_iter().chain(counts(before)).chain(notes(before));
    sheet.lines = lines.map(|(what, cell)| vec![Cell::text(what), cell]).collect();
    sheet.lines.extend(others.iter().map(contents));
    sheet
}

/// What a line is about, and what it says.
type Line = (String, Cell);

/// Project, event, verdict, caution, commit and day.
fn heading(analysis: &Analysis, before: &BeforeView, dated: &Dated, event: usize) -> Vec<Line> {
    let files = draft(before).unwrap_or_else(|| "clean: every file is as the commit holds it".into());
    let planned = analysis.model.config.events.get(event).and_then(|own| own.date.as_ref());
    let lines = [
        ("project", Cell::text(&before.heading.project)),
        ("event", Cell::text(&before.event)),
        ("planned for", Cell::day(planned)),
        ("verdict", Cell::text(sentence(before))),
        ("due before it", Cell::maybe(before.earlier_only().as_deref())),
        ("due later", Cell::maybe(before.later().as_deref())),
        ("caution", Cell::text(DEFER)),
        ("asked about", Cell::written_day(&before.heading.today)),
        ("commit", Cell::text(before.heading.commit.as_deref().unwrap_or("none"))),
        ("commit says", Cell::maybe(dated.subject.as_deref())),
        ("files", Cell::text(files)),
        ("date", dated.date.as_deref().map_or(Cell::text("none"), Cell::written_day)),
        ("date is from", Cell::text(dated.from)),
        ("decision rule", Cell::text(rule(analysis))),
        ("made by", Cell::text(format!("slipmark {}", before.heading.slipmark))),
    ];
    // What there is nothing to say about has no line.
    let said = lines.into_iter().filter(|(_, cell)| !matches!(cell, Cell::Nothing));
    said.map(|(what, cell)| (what.to_string(), cell)).collect()
}

/// How many there are of what.
fn counts(before: &BeforeView) -> Vec<Line> {
    let faults = if before.faults.is_empty() { "faults" } else { "faults, which could make this answer wrong" };
    let state = |state: &State| {
        let rows = before.counts.get(state.word()).copied().unwrap_or(0);
        (format!("rows {}", state.word()), rows)
    };
    let first = [(faults, before.faults.len()), ("open in all", before.open_total), ("rows due", before.rows.len())];
    let last = [
        ("open nonconformances", before.nonconformances.len()),
        ("gaps", before.gaps.len()),
        ("waivers in force", before.waivers.len()),
        ("withdrawn records", before.withdrawn.len()),
    ];
    let named = |(what, count): (&str, usize)| (what.to_string(), count);
    let all = first.into_iter().map(named).chain(State::ALL.iter().map(state)).chain(last.into_iter().map(named));
    all.map(|(what, count)| (what, Cell::count(count))).collect()
}

/// What is asked less, what was waived, and what lapses.
fn notes(before: &BeforeView) -> Vec<Line> {
    let since = before.less_asked_since.as_deref().unwrap_or("the last tag");
    let less = before
        .less_asked
        .iter()
        .map(|own| (format!("less is asked than at {since}"), format!("{} {}", own.id, own.text)));
    let waivers = before.waiver_details.iter().map(|own| {
        let text = format!(
            "{} on {}, {}: accepts {}, {}, approved by {}",
            own.requirement, own.scope, own.title, own.accepts, own.until, own.approved_by
        );
        let conditions = own.conditions.iter().map(|it| format!("; on condition: {it}"));
        let void = own.void.iter().map(|it| format!("; it covers evidence that does not stand: {it}"));
        (format!("waiver {}", own.id), text + &conditions.chain(void).collect::<String>())
    });
    let lapsing = before.lapsing.iter().map(|own| {
        (format!("holds until {}", own.until), format!("{} on {}, by {}", own.requirement, own.subject, own.record))
    });
    less.chain(waivers).chain(lapsing).map(|(what, text)| (what, Cell::text(text))).collect()
}

/// A line that leads to another sheet, and says what is on it.
fn contents(sheet: &Sheet) -> Vec<Cell> {
    let lines = match sheet.lines.len() {
        0 if matches!(sheet.name, OPEN | OTHERS) => "none".into(),
        0 => "nothing".to_string(),
        1 => "1 line".into(),
        n => format!("{n} lines"),
    };
    let link = Cell::Link(format!("sheet {}", sheet.name), sheet.name, String::new());
    vec![link, Cell::text(format!("{} ({lines})", sheet.about))]
}
