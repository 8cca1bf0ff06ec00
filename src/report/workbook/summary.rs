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
    let mut say = |what: &str, cell: Cell| sheet.lines.push(vec![Cell::text(what), cell]);
    let files = draft(before).unwrap_or_else(|| "clean: every file is as the commit holds it".into());
    say("project", Cell::text(&before.heading.project));
    say("event", Cell::text(&before.event));
    if let Some(date) = analysis.model.config.events.get(event).and_then(|own| own.date.as_ref()) {
        say("planned for", Cell::Day(date.value.date));
    }
    say("verdict", Cell::text(sentence(before)));
    say("caution", Cell::text(DEFER));
    say("asked about", Cell::written_day(&before.heading.today));
    say("commit", Cell::text(before.heading.commit.as_deref().unwrap_or("none")));
    if let Some(subject) = &dated.subject {
        say("commit says", Cell::text(subject));
    }
    say("files", Cell::text(files));
    say("date", dated.date.as_ref().map_or(Cell::text("none"), |date| Cell::written_day(date)));
    say("date is from", Cell::text(dated.from));
    say("decision rule", Cell::text(rule(analysis)));
    say("made by", Cell::text(format!("slipmark {}", before.heading.slipmark)));
    if before.faults.is_empty() {
        say("faults", Cell::count(0));
    } else {
        say("faults, which could make this answer wrong", Cell::count(before.faults.len()));
    }
    say("open in all", Cell::count(before.open_total));
    say("rows due", Cell::count(before.rows.len()));
    for state in State::ALL {
        say(&format!("rows {}", state.word()), Cell::count(before.counts.get(state.word()).copied().unwrap_or(0)));
    }
    say("open nonconformances", Cell::count(before.nonconformances.len()));
    say("gaps", Cell::count(before.gaps.len()));
    say("waivers in force", Cell::count(before.waivers.len()));
    say("withdrawn records", Cell::count(before.withdrawn.len()));
    let less = before.less_asked_since.as_deref().unwrap_or("the last tag");
    for own in &before.less_asked {
        say(&format!("less is asked than at {less}"), Cell::text(format!("{} {}", own.id, own.text)));
    }
    for own in &before.waiver_details {
        let text = format!(
            "{} on {}, {}: accepts {}, {}, approved by {}",
            own.requirement, own.scope, own.title, own.accepts, own.until, own.approved_by
        );
        say(&format!("waiver {}", own.id), Cell::text(text));
    }
    for own in &before.lapsing {
        say(
            &format!("holds until {}", own.until),
            Cell::text(format!("{} on {}, by {}", own.requirement, own.subject, own.record)),
        );
    }
    for other in others {
        let lines = match other.lines.len() {
            0 if matches!(other.name, OPEN | OTHERS) => "none".into(),
            0 => "nothing".to_string(),
            1 => "1 line".into(),
            n => format!("{n} lines"),
        };
        let text = format!("{} ({lines})", other.about);
        sheet
            .lines
            .push(vec![Cell::Link(format!("sheet {}", other.name), other.name, String::new()), Cell::text(text)]);
    }
    sheet
}
