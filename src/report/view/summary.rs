//! What changed, in a few lines: counts of what the whole list says.

use std::collections::{BTreeMap, BTreeSet};

use super::{ChangeView, ChangesView, RedoRowView};
use crate::state::State;

/// Words for what happens to a requirement, and to one of its limits, in the order in which they are counted.
const KINDS: [&str; 5] = ["added", "revised", "plan", "withdrawn", "removed"];
const DIRECTIONS: [&str; 6] = ["tightened", "relaxed", "restated", "changed", "added", "removed"];

impl ChangesView {
    /// How many requirements and limits changed, what evidence that undid, and what is to be done about it; a line each, none for what did not happen.
    pub fn summary(&self) -> Vec<String> {
        let lines = [
            ("requirements", self.requirements()),
            ("limits", self.limits()),
            ("evidence", self.slipped()),
            ("does not stand any more", self.undone_rows()),
            ("to do again", self.again()),
            ("to look at", self.to_look_at()),
        ];
        let said = lines.into_iter().filter(|(_, parts)| !parts.is_empty());
        said.map(|(what, parts)| format!("{what}: {}", parts.join(", "))).collect()
    }

    fn of_requirements(&self) -> impl Iterator<Item = &ChangeView> {
        self.changes.iter().filter(|change| change.kind == "requirement")
    }

    fn requirements(&self) -> Vec<String> {
        let words: Vec<&str> = self.of_requirements().map(|change| change.change).collect();
        counted(&KINDS, &words)
            .map(|(count, word)| match word {
                "plan" => format!("{count} with another plan"),
                word => format!("{count} {word}"),
            })
            .collect()
    }

    /// What came or went as a whole has no limit that moved.
    fn limits(&self) -> Vec<String> {
        let stayed = self.of_requirements().filter(|change| !matches!(change.change, "added" | "removed"));
        let words: Vec<&str> = stayed.flat_map(|change| &change.criteria).map(|it| it.direction).collect();
        counted(&DIRECTIONS, &words).map(|(count, word)| format!("{count} {word}")).collect()
    }

    fn slipped(&self) -> Vec<String> {
        let changed = self.changes.iter().map(|change| (&change.id, &change.slipped));
        let slipped = changed.chain(self.put_back.iter().map(|it| (&it.id, &it.slipped)));
        let slipped: BTreeSet<(&str, &str)> =
            slipped.flat_map(|(id, records)| records.iter().map(move |own| (id.as_str(), own.as_str()))).collect();
        if slipped.is_empty() {
            return Vec::new();
        }
        let named = shown(slipped.iter().map(|(id, record)| format!("{record} for {id}")));
        vec![format!("{} slipped ({})", slipped.len(), named.join(", "))]
    }

    fn undone_rows(&self) -> Vec<String> {
        // A row that is undone in several ways counts for the worst.
        let mut rows: BTreeMap<(&str, &str), State> = BTreeMap::new();
        for it in self.changes.iter().flat_map(|change| &change.undone).chain(&self.undone) {
            for row in &it.rows {
                let own = rows.entry((&row.requirement, &row.subject)).or_insert(it.state);
                *own = it.state.min(*own);
            }
        }
        let counts = State::ALL.into_iter().map(|state| (state, rows.values().filter(|own| **own == state).count()));
        counts
            .filter(|(_, count)| *count > 0)
            .map(|(state, count)| format!("{} {}", rows_of(count), state.word()))
            .collect()
    }

    fn again(&self) -> Vec<String> {
        let own = self.redo.iter().map(|redo| (&redo.how, redo.rows.iter().filter(|row| row.anew).count()));
        own.filter(|(_, count)| *count > 0).map(|(how, count)| format!("{how} for {}", rows_of(count))).collect()
    }

    fn to_look_at(&self) -> Vec<String> {
        let rows = self.redo.iter().flat_map(|redo| &redo.rows).filter(|row: &&RedoRowView| !row.anew);
        let records: BTreeSet<&str> = rows.flat_map(|row| &row.records).map(String::as_str).collect();
        shown(records.into_iter().map(str::to_string))
    }
}

/// How many are named; the list below names all.
const SHOWN: usize = 6;

fn shown(all: impl ExactSizeIterator<Item = String>) -> Vec<String> {
    let more = (all.len() > SHOWN).then(|| "…".to_string());
    all.take(SHOWN).chain(more).collect()
}

fn rows_of(count: usize) -> String {
    if count == 1 { "1 row".to_string() } else { format!("{count} rows") }
}

/// How often each word is there, in their order; none that is not.
fn counted<'w>(order: &'w [&'w str], words: &'w [&'w str]) -> impl Iterator<Item = (usize, &'w str)> {
    let counts = order.iter().map(|word| (words.iter().filter(|own| *own == word).count(), *word));
    counts.filter(|(count, _)| *count > 0)
}
