//! Until when evidence that lapses holds, before an event of which nobody has said when it is.
//!
//! Whether evidence lapses before an event is told by the event's date. Where there is none, it is told as of today, and the
//! answer of today may be another one tomorrow: this list says which rows open again by themselves, and when.

use jiff::civil::Date;
use serde::Serialize;

use crate::analysis::Analysis;
use crate::state::applies::holds_until;
use crate::state::{CriterionState, EntryRef, Row, State};

/// A row that is not open, and evidence of it that lapses.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct LapsingView {
    /// The last day on which the evidence holds.
    pub until: String,
    /// The requirement.
    pub requirement: String,
    /// On what it is shown.
    pub subject: String,
    /// The record.
    pub record: String,
}

/// The evidence of these rows that lapses, by the day on which it does; none if the event has a date.
pub(super) fn lapsing(analysis: &Analysis, rows: &[Row], event: usize) -> Vec<LapsingView> {
    if analysis.model.config.events[event].date.is_some() {
        return Vec::new();
    }
    let mut list: Vec<LapsingView> =
        rows.iter().filter(|row| !row.state.is_open()).flat_map(|row| of_row(analysis, row)).collect();
    list.sort();
    list.dedup();
    list
}

fn of_row<'a>(analysis: &'a Analysis, row: &'a Row) -> impl Iterator<Item = LapsingView> + 'a {
    let asked = &analysis.model.requirements[row.requirement];
    let planned = match row.entry {
        EntryRef::Plan(entry) => asked.plan.get(entry),
        _ => None,
    };
    let lapses = planned.filter(|entry| entry.valid_for.is_some()).into_iter();
    let closing = lapses.flat_map(|entry| row.criteria.iter().map(move |criterion| (entry, criterion)));
    closing.filter(|(_, criterion)| rests_on_its_record(criterion)).filter_map(move |(entry, criterion)| {
        let record = analysis.model.record(criterion.record.as_ref()?)?;
        let until: Date = holds_until(record, entry)?;
        Some(LapsingView {
            until: until.to_string(),
            requirement: asked.head.id.value.to_string(),
            subject: row.subject.to_string(),
            record: record.head.id.value.to_string(),
        })
    })
}

/// Whether a criterion would open if its record lapsed. Without a deciding record the one that is named is a draft or a
/// failure; and what is waived because its evidence has lapsed does not lapse again.
fn rests_on_its_record(criterion: &CriterionState) -> bool {
    let otherwise = ["no-record", "only-unsigned", "no-serial", "lapsed"];
    matches!(criterion.state, State::Closed | State::Waived)
        && !criterion.reasons.iter().any(|reason| otherwise.contains(&reason.code))
}
