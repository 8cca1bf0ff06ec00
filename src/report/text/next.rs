//! The shortest order of records to make, for a terminal.

use crate::report::style::{NAME, OFF, QUIET, STRONG, WARN};
use crate::report::view::{BeforeView, LeftView, NextView, StepView};

use super::before::{colour, nonconformance};
use super::{Lines, findings, pad};

/// The order as text, with all that the answer counts as open and no record closes.
pub fn render(view: &NextView, answer: &BeforeView, width: usize) -> String {
    let mut page = Page { text: String::new(), width };
    page.rows("Look first: this evidence may stand without a new record", &view.look_first, true);
    if !view.steps.is_empty() {
        page.heading(match view.shortest {
            true => "Records to make, in this order; no shorter list closes as much",
            false => "Records to make, in this order; there were too many choices to be sure that no list is shorter",
        });
    } else if view.look_first.is_empty() && view.left.is_empty() {
        page.heading("No row is open");
    } else {
        page.heading("No record that could be made would close a row by itself");
    }
    view.steps.iter().for_each(|step| page.step(step));
    page.rows("These follow when their children are closed", &view.follow, false);
    page.rows("These need a run of their own, beside the one above", &view.apart, true);
    page.left(view, answer);
    page.text.push('\n');
    page.paragraph("", view.note, 0);
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
    fn step(&mut self, step: &StepView) {
        let how: Vec<&str> = [Some(step.method), step.stage].into_iter().flatten().collect();
        let name = step.procedure.clone().unwrap_or_else(|| "no procedure".to_string());
        let text = format!("{}, on {}; {}", how.join(", "), step.subject, step.title);
        let lead = format!("  {:>2} {NAME}{name}{OFF} ", step.number);
        self.paragraph(&lead, text.trim_end_matches("; "), 5);
        let mut first: Vec<String> = step.after.iter().map(|number| format!("step {number}")).collect();
        first.extend(step.after_events.iter().cloned());
        if !first.is_empty() {
            self.paragraph(
                "     ",
                &format!("on a later day than {}, or with the hours written", first.join(" and ")),
                7,
            );
        }
        for need in &step.needs {
            self.paragraph(&format!("     {WARN}before{OFF}: "), need, 7);
        }
        for own in &step.known {
            let mark = if own.holds { QUIET } else { WARN };
            let text = format!("{}, {}: {mark}{}{OFF}", own.name, own.what, own.today);
            self.paragraph(&format!("     {NAME}known{OFF}: "), &text, 7);
        }
        if step.closes.is_empty() {
            self.paragraph("     ", "closes nothing itself; another must follow it", 7);
        }
        for closed in &step.closes {
            let safety = if closed.safety { " [safety]" } else { "" };
            let before = closed.before.as_ref().map(|event| format!(", before {event}")).unwrap_or_default();
            let lead = format!("     closes {STRONG}{}{OFF}{safety} ", closed.requirement);
            self.paragraph(&lead, &format!("{}, on {}{before}", closed.title, closed.subject), 7);
        }
    }

    /// What stays open: rows, nonconformances and gaps. Faults stand above the verdict.
    fn left(&mut self, view: &NextView, answer: &BeforeView) {
        if view.left.is_empty() && answer.nonconformance_details.is_empty() && answer.gaps.is_empty() {
            return;
        }
        self.heading("These stay open: no record closes them by itself");
        view.left.iter().for_each(|row| self.row(row, true));
        for own in &answer.nonconformance_details {
            let (lead, text) = nonconformance(own);
            self.paragraph(&lead, &text, 4);
        }
        for gap in &answer.gaps {
            self.text.push_str(&findings::one(gap, self.width));
        }
    }

    fn rows(&mut self, heading: &str, rows: &[LeftView], why: bool) {
        if !rows.is_empty() {
            self.heading(heading);
        }
        rows.iter().for_each(|row| self.row(row, why));
    }

    fn row(&mut self, row: &LeftView, why: bool) {
        let safety = if row.safety { " [safety]" } else { "" };
        let lead = format!(
            "  {}{}{OFF} {STRONG}{}{OFF}{safety} ",
            colour(row.state),
            pad(row.state.word(), 12),
            row.requirement
        );
        self.paragraph(&lead, &format!("{}, on {}", row.title, row.subject), 15);
        if why {
            self.text.push_str(&super::row::reasons(&row.reasons, true, self.width));
        }
    }
}
