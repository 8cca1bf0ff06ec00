//! Dates that cannot be, or contradict the order of the events.

use jiff::ToSpan;

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::{Counted, Item, Serial};
use crate::parse::Moment;
use crate::text::Spanned;

/// The check.
pub const CHECK: Check = Check { name: "dates", codes: &["date-in-future", "events-out-of-order"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let model = subject.facts.model;
    let today = subject.facts.today;
    // It may already be tomorrow elsewhere on Earth.
    let latest = today.checked_add(1.day()).unwrap_or(today);
    let mut dates: Vec<(&Spanned<Moment>, String)> = Vec::new();
    for record in &model.records {
        let id = &record.head.id.value;
        // There are many of these and hardly ever one to be named.
        let late = record.date.iter().filter(|date| date.value.date > latest);
        dates.extend(late.map(|date| (date, format!("record {id}"))));
        let closed = record.actions.iter().filter_map(|action| action.closed.as_ref());
        dates.extend(closed.map(|date| (date, format!("the closing of an action of {id}"))));
        dates.extend(record.withdrawn.iter().map(|date| (date, format!("the withdrawal of {id}"))));
        let again = record.verifies.iter().flat_map(|own| &own.reaffirmed).filter_map(|again| again.date.as_ref());
        dates.extend(again.map(|date| (date, format!("a re-affirmation in {id}"))));
    }
    for it in &model.requirements {
        let judged = it.by_children.iter().filter_map(|statement| statement.date.as_ref());
        dates.extend(judged.map(|date| (date, format!("the judgement of the children of {}", it.head.id.value))));
    }
    for it in &model.nonconformances {
        dates.extend(it.closed.iter().map(|date| (date, format!("the closing of {}", it.head.id.value))));
    }
    for it in &model.waivers {
        dates.extend(it.approved.iter().map(|date| (date, format!("the approval of {}", it.head.id.value))));
    }
    for it in &model.held {
        dates.extend(it.date.iter().map(|date| (date, format!("the held event {}", it.head.id.value))));
    }
    for instrument in model.instruments.values() {
        let on = instrument.calibrations.iter().filter_map(|calibration| calibration.on.as_ref());
        dates.extend(on.map(|date| (date, format!("a calibration of {}", instrument.id.value))));
    }
    for item in &model.items {
        for inner in item.serials.iter().flat_map(|piece| &piece.contains) {
            let name = &inner.serial.value;
            dates.extend(inner.from.iter().map(|date| (date, format!("the putting in of {name}"))));
            dates.extend(inner.to.iter().map(|date| (date, format!("the taking out of {name}"))));
        }
        dates.extend(item.serials.iter().flat_map(|piece| begun(item, piece)));
    }
    for (date, what) in dates.into_iter().filter(|(date, _)| date.value.date > latest) {
        let text = format!("{what} is dated {}, and today is {today}", date.value.text);
        findings.push(Finding::at("date-in-future", date.span, text));
    }
    events(subject, findings);
}

/// The days from which a limited life of a piece is counted: one that is still to come would hide what was used before.
fn begun<'m>(item: &'m Item, piece: &'m Serial) -> Vec<(&'m Spanned<Moment>, String)> {
    let by_age = item.life.iter().any(|budget| budget.counted == Counted::Age);
    let built = piece.built.iter().filter(|_| by_age).map(|date| (date, "building"));
    let renewed = piece.reworked.iter().filter(|rework| !rework.resets.is_empty());
    let renewed = renewed.filter_map(|rework| Some((rework.date.as_ref()?, "rework")));
    let name = |what| format!("the {what} of {}/{}", item.head.id.value, piece.number.value);
    built.chain(renewed).map(|(date, what)| (date, name(what))).collect()
}

fn events(subject: &Subject<'_>, findings: &mut Findings) {
    let dated = subject.facts.model.config.events.iter().filter_map(|event| Some((event, event.date.as_ref()?)));
    let dated: Vec<_> = dated.collect();
    for pair in dated.windows(2) {
        let [(first, early), (second, late)] = pair else { continue };
        if late.value.before(&early.value) {
            let text = format!(
                "{} is dated {}, before {} ({}), which comes first in the list",
                second.name.value, late.value.text, first.name.value, early.value.text
            );
            let finding = Finding::at("events-out-of-order", late.span, text);
            findings.push(finding.also(early.span, format!("{} is here", first.name.value)));
        }
    }
}
