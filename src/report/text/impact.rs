//! What a change would do, for a terminal.

use crate::report::style::{NAME, OFF, QUIET, STRONG, WARN, columns};
use crate::report::view::{
    AgainView, EventView, HoldingView, ImpactView, KeepsView, Link, MovedView, StillView, SupposedView,
};

use super::before::colour;
use super::{Lines, pad};

/// What the answer is.
pub const NOTE: &str = "Nothing has been changed. These are the rows of this project's records after a change that was only supposed; \
                        what the change does to the hardware is for the people responsible.";

/// The view as text.
pub fn render(view: &ImpactView, width: usize) -> String {
    let mut page = Page { text: String::new(), width };
    page.paragraph(&format!("{STRONG}{}{OFF} ", view.id), &view.title, 2);
    let place = view.path.as_ref().map(|path| format!(", {path}")).unwrap_or_default();
    page.line(&format!("{QUIET}{}{place}{OFF}", view.kind));
    page.links(&view.links);
    if !view.named_by.is_empty() {
        page.heading("Named in words as the source of a value; no row follows it");
    }
    for own in &view.named_by {
        page.paragraph(&format!("  {STRONG}{}{OFF} ", own.record), &format!("{}: {}", own.input, own.source), 4);
    }
    for change in &view.changes {
        page.change(change);
    }
    page.line("");
    page.paragraph("", NOTE, 0);
    page.text
}

struct Page {
    text: String,
    width: usize,
}

impl Lines for Page {
    fn page(&mut self) -> (&mut String, usize) {
        (&mut self.text, self.width)
    }
}

impl Page {
    /// Everything beside it, by what it is to it.
    fn links(&mut self, links: &[Link]) {
        if !links.is_empty() {
            self.heading("Beside it");
        }
        for same in links.chunk_by(|a, b| a.relation == b.relation) {
            let relation = same.first().map_or("", |link| link.relation);
            let mut ids: Vec<&str> = same.iter().map(|link| link.id.as_str()).collect();
            ids.dedup();
            self.paragraph(&format!("  {QUIET}{}{OFF} ", pad(relation, 15)), &ids.join(", "), 18);
        }
    }

    fn change(&mut self, change: &SupposedView) {
        self.heading(&format!("If {}", change.change));
        let moved = [
            ("closed or waived today, and open then", &change.reopened),
            ("open already, with a further reason then", &change.worse),
            ("open today, and not then", &change.better),
        ];
        if moved.iter().all(|(_, rows)| rows.is_empty()) && change.gone.is_empty() && change.fresh.is_empty() {
            self.paragraph("  ", "no row would stand differently", 2);
            self.life(&change.life);
            return;
        }
        for (what, rows) in moved.iter().filter(|(_, rows)| !rows.is_empty()) {
            self.line(&format!("  {}: {what}", counted(rows.len())));
            rows.iter().for_each(|row| self.moved(row));
        }
        for (what, rows) in [("no longer asked", &change.gone), ("asked then, and not today", &change.fresh)] {
            if !rows.is_empty() {
                self.line(&format!("  {}: {what}", counted(rows.len())));
            }
            rows.iter().for_each(|row| self.still(row, &format!("{}{}{OFF}", colour(row.state), row.state.word())));
        }
        self.life(&change.life);
        self.events(&change.events);
        self.again(&change.again);
        if let Some(keeps) = &change.keeps_evidence {
            self.keeps(keeps);
        }
    }

    fn moved(&mut self, moved: &MovedView) {
        let (now, then) = (moved.row.state, moved.state_then);
        let mut states = format!("{}{}{OFF}", colour(now), now.word());
        if now != then {
            states.push_str(&format!(" → {}{}{OFF}", colour(then), then.word()));
        }
        self.still(&moved.row, &states);
        for reason in &moved.reasons {
            self.paragraph("        ", &reason.text, 10);
        }
    }

    fn still(&mut self, row: &StillView, states: &str) {
        let safety = if row.safety { format!(" {WARN}[safety]{OFF}") } else { String::new() };
        let before = row.before.as_ref().map(|event| format!(", before {event}")).unwrap_or_default();
        let lead = format!("    {} {STRONG}{}{OFF}{safety} ", pad(states, 13), row.requirement);
        self.paragraph(&lead, &format!("{}, on {}{before}", row.how, row.subject), 8);
    }

    fn life(&mut self, life: &[HoldingView]) {
        if !life.is_empty() {
            self.line("  limited life, today and then:");
        }
        for own in life {
            let words = match own.exceeded || own.left_then.is_none() {
                true => format!("{WARN}{}{OFF}", own.says()),
                false => own.says(),
            };
            self.paragraph("    ", &words, 8);
        }
    }

    fn events(&mut self, events: &[EventView]) {
        self.line("  rows open before each event, today and then:");
        let wide = events.iter().map(|own| columns(&own.event)).max().unwrap_or(0);
        for own in events {
            let lost =
                if own.reopens { format!("  {WARN}nothing is open before it today{OFF}") } else { String::new() };
            let change = match own.open_now == own.open_then {
                true => own.open_now.to_string(),
                false => format!("{} → {}", own.open_now, own.open_then),
            };
            self.paragraph(&format!("    {} ", pad(&own.event, wide)), &format!("{change}{lost}"), 8);
        }
    }

    fn again(&mut self, again: &[AgainView]) {
        if !again.is_empty() {
            self.line("  what would show them again:");
        }
        for own in again {
            let note = own.note.as_ref().map(|note| format!(" ({note})")).unwrap_or_default();
            self.paragraph(&format!("    {NAME}{}{OFF}{note}: ", own.how), &own.rows.join(", "), 8);
        }
    }

    /// The table to fill in, unwrapped: it is to be copied.
    fn keeps(&mut self, keeps: &KeepsView) {
        let lead = format!("  in {NAME}{}{OFF} ", keeps.path);
        let text = format!("set revision = \"{}\" at its top, and put this below its other keys:", keeps.revision);
        self.paragraph(&lead, &text, 4);
        self.line("");
        for line in keeps.toml.lines() {
            self.line(line);
        }
    }
}

fn counted(count: usize) -> String {
    format!("{count} {}", if count == 1 { "row" } else { "rows" })
}
