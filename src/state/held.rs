//! Held events: what came before the evidence, and what has been used up since.

use std::path::Path;

use crate::graph::HeldWith;
use crate::model::SerialId;
use crate::model::kinds::{HeldEvent, PlanEntry, Record};
use crate::parse::Moment;
use crate::text::shell_word;

use super::applies::Subject;
use super::{Facts, Reason};

/// The held events of an event, with the pieces of each.
pub fn holdings<'f>(facts: &Facts<'f>, event: &str) -> impl Iterator<Item = (&'f HeldEvent, &'f HeldWith)> {
    let all = facts.graph.held.get(event).into_iter().flatten();
    let (model, graph) = (facts.model, facts.graph);
    all.map(move |at| (&model.held[*at], &graph.held_with[*at]))
}

/// Whether an event was held to its end with a piece.
pub fn is_done(facts: &Facts<'_>, event: &str, piece: &SerialId) -> bool {
    holdings(facts, event).any(|(held, with)| held.is_completed() && with.there.contains(piece))
}

/// Whether an event was held and completed, strictly before a moment, with every piece concerned.
pub fn came_first(facts: &Facts<'_>, event: &str, moment: &Moment, subject: &Subject<'_>) -> bool {
    holdings(facts, event).any(|(held, with)| {
        held.is_completed()
            && held.is_before(moment)
            && subject.serials.iter().all(|serial| with.there.contains(*serial))
    })
}

/// That no held event shows that an event came first, and what would.
pub(super) fn not_held(event: &str, subject: &Subject<'_>) -> Reason {
    let pieces: Vec<String> = subject.serials.iter().map(ToString::to_string).collect();
    let (with, arguments) = match pieces.is_empty() {
        true => (String::new(), String::new()),
        false => {
            (format!(" with {}", pieces.join(", ")), pieces.iter().map(|piece| format!(" --serial {piece}")).collect())
        }
    };
    let text = format!("{event} must come first, and no held event shows that it was completed before that day{with}");
    let name = shell_word(Path::new(event));
    Reason::new("out-of-order", text).help(format!(
        "if it was held before: slipmark new event --for {name} --outcome completed{arguments} --date YYYY-MM-DD; else hold it, then make new evidence"
    ))
}

/// Whether an event was held after the evidence was made, or may have been, with a piece concerned, and it must be shown
/// again then. What an event without pieces was held with is not known, and evidence without pieces is about all of them.
pub(super) fn used_up(facts: &Facts<'_>, record: &Record, entry: &PlanEntry, subject: &Subject<'_>) -> Vec<Reason> {
    let mut reasons = Vec::new();
    for event in &entry.again_after {
        let concerned = holdings(facts, &event.value).filter(|(held, with)| {
            held.serials.is_empty()
                || subject.serials.is_empty()
                || subject.serials.iter().any(|serial| with.touched.contains(*serial))
        });
        let since = concerned.filter(|(held, _)| !record.date.as_ref().is_some_and(|made| held.is_before(made)));
        let newest = since.max_by_key(|(held, _)| held.date.as_ref().map(|date| date.value.in_lists()));
        if let Some((held, _)) = newest {
            let day = held.date.as_ref().map_or("a day not stated", |date| date.text.as_str());
            let text = format!("{} was held on {day} ({}): to be shown again", event.value, held.head.id.value);
            let since = held.date.as_ref().map(|date| date.date);
            reasons.push(Reason::new("used-up", text).because_of(&held.head.id.value).since(since));
        }
    }
    reasons
}
