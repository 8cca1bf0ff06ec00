//! The data sheet as plain text, to be printed or read on a terminal.

use crate::report::sheet::{SIGNED, head};
use crate::report::style::{BAD, OFF, QUIET, STRONG, WARN, columns};
use crate::report::view::{SheetField, SheetView};

use super::{Lines, pad, wrap};

/// The sheet as text.
pub fn render(view: &SheetView, width: usize) -> String {
    let mut page = Page { text: String::new(), width };
    page.line(&format!("{STRONG}DATA SHEET {}{OFF} {}", view.procedure, view.title));
    for (name, value) in head(view) {
        let name = if name == "mind" { format!("{WARN}mind{OFF}") } else { format!("{QUIET}{name}{OFF}") };
        page.item(&format!("  {}", pad(&name, 11)), &value);
    }
    page.cautions(view);
    page.before(view);
    page.steps(view);
    page.held_against(view);
    page.heading("Signed");
    for text in &view.people {
        page.item("  ", text);
    }
    for role in SIGNED {
        page.line(&format!("  {} ______________________  at ________________", pad(role, 22)));
    }
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
    /// A text that hangs under what leads it.
    fn item(&mut self, lead: &str, text: &str) {
        let at = columns(lead);
        let text = wrap(text, self.width, at, at);
        self.line(&format!("{lead}{text}"));
    }

    fn cautions(&mut self, view: &SheetView) {
        self.heading("Cautions");
        for text in view.decides {
            self.item(&format!("  {BAD}!{OFF} "), text);
        }
        for text in &view.cautions {
            self.item(&format!("  {WARN}!{OFF} "), text);
        }
        for hazard in &view.hazards {
            for text in hazard.cautions {
                self.item(&format!("  {QUIET}{}{OFF} ", pad(&hazard.hazard, 16)), text);
            }
            if hazard.cautions.is_empty() {
                self.item(&format!("  {QUIET}{}{OFF} ", pad(&hazard.hazard, 16)), "no usual cautions are known here");
            }
        }
    }

    fn before(&mut self, view: &SheetView) {
        if !(view.prerequisites.is_empty() && view.known.is_empty()) {
            self.heading("Before the run");
        }
        for own in &view.prerequisites {
            let what = if own.what.is_empty() { String::new() } else { format!(" ({})", own.what) };
            let today = match (&own.today, own.holds) {
                (Some(today), Some(true)) => format!("; today: {today}"),
                (Some(today), _) => format!("; today: {WARN}{today}{OFF}"),
                (None, _) => String::new(),
            };
            self.item("  [ ] ", &format!("{}{what}{today}", own.name));
        }
        for own in &view.known {
            let mark = if own.holds { QUIET } else { WARN };
            self.item("  [ ] ", &format!("{} ({}); today: {mark}{}{OFF}", own.name, own.what, own.today));
        }
        if !view.instruments.is_empty() {
            self.heading("Instruments");
        }
        for own in &view.instruments {
            let due = if own.calibrated { format!("due {}", own.due) } else { format!("{WARN}{}{OFF}", own.due) };
            let mut text = format!("{}; {due}", own.what);
            text.extend(own.range.iter().map(|range| format!("; range {range}")));
            text.extend(own.resolution.iter().map(|steps| format!("; steps of {steps}")));
            text.extend(own.uncertainty.iter().map(|uncertainty| format!("; {uncertainty}")));
            text.extend(own.needed.iter().map(|needed| format!(", needed {needed}")));
            self.item(&format!("  [ ] {STRONG}{}{OFF} ", own.id), &text);
        }
        self.line("  [ ] others used: ____________________");
    }

    fn steps(&mut self, view: &SheetView) {
        if !view.fields.is_empty() {
            self.heading("For the whole run");
            view.fields.iter().for_each(|field| self.field(field));
        }
        if !view.steps.is_empty() {
            self.heading("Steps");
        }
        for step in &view.steps {
            let name = step.name.as_ref().map_or(String::new(), |name| format!("{STRONG}{name}.{OFF} "));
            for caution in &step.cautions {
                self.item(&format!("        {WARN}!{OFF} "), caution);
            }
            self.item(&format!("  [ ] {:>2}. ", step.number), &format!("{name}{}", step.text));
            step.fields.iter().for_each(|field| self.field(field));
            if step.hold {
                self.item(
                    &format!("          {BAD}HOLD{OFF} "),
                    "nobody goes on before this is released. Released by ______________ at ________",
                );
            }
        }
        if !view.also.is_empty() {
            self.heading("Asked of this run, and in no field of the procedure");
            view.also.iter().for_each(|field| self.field(field));
        }
    }

    fn field(&mut self, field: &SheetField) {
        let unit = field.unit.as_deref().unwrap_or("");
        let lead = format!("          {STRONG}{}{OFF} ", pad(&field.name, 16));
        let room = if field.measured { "____________ ± ________" } else { "________________________" };
        self.line(&format!("{lead}{room} {unit}"));
        let mut parts: Vec<String> = Vec::new();
        parts.extend(field.text.clone());
        parts.extend(field.instrument.iter().map(|instrument| format!("from {instrument}")));
        parts.extend(field.asked.iter().map(|asked| format!("asked {asked}")));
        parts.extend(field.expected.iter().map(|expected| format!("expected {expected}")));
        if !parts.is_empty() {
            self.item("              ", &format!("{QUIET}{}{OFF}", parts.join("; ")));
        }
    }

    fn held_against(&mut self, view: &SheetView) {
        if view.requirements.is_empty() {
            return;
        }
        self.heading("What the results will be held against, with the marks of today");
        for own in &view.requirements {
            let safety = if own.safety { " [safety]" } else { "" };
            self.item(
                &format!("  {STRONG}{}{OFF}{safety} {} ", own.id, own.mark),
                &format!("on {}, {} today: {}", own.subject, own.state, own.statement),
            );
        }
    }
}
