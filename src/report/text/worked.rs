//! The working of a record, for a terminal.

use crate::report::pictures::short;
use crate::report::style::{BAD, GOOD, NAME, OFF, QUIET, STRONG, WARN, columns};
use crate::report::view::{ContributionView, ResultView, TrialsView, WorkedVerdict, WorkedView, WorkingView};

use super::{Lines, pad};

/// The widest bar, and the widest name that others are lined up with.
const BAR: usize = 20;
const NAMES: usize = 24;
/// Lines of a histogram, and what fills a part of one.
const HIGH: usize = 4;
const BLOCKS: [char; 9] = [' ', '▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// The working as text.
pub fn render(view: &WorkedView, width: usize) -> String {
    let mut page = Page { text: String::new(), width };
    page.paragraph(&format!("{STRONG}{}{OFF} ", view.id.as_deref().unwrap_or("")), &view.title, 2);
    for supposed in &view.supposed {
        page.paragraph(&format!("{WARN}supposed{OFF} "), supposed, 2);
    }
    for fault in &view.faults {
        page.paragraph(&format!("{BAD}fault{OFF} {} ", fault.place()), &fault.message, 2);
        page.paragraph(&format!("  {NAME}do{OFF}: "), &fault.help, 6);
    }
    page.inputs(view);
    page.steps(&view.steps);
    page.reductions(view);
    view.results.iter().for_each(|result| page.result(result));
    page.verdicts(view);
    if !view.solved.is_empty() {
        page.heading("How far it holds");
        view.solved.iter().for_each(|own| page.paragraph("  ", &own.text, 4));
    }
    if view.steps.is_empty() && view.reductions.is_empty() && view.verdicts.is_empty() && view.faults.is_empty() {
        page.paragraph("", "It computes nothing: its results are written as they are.", 0);
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

/// The width of a column of names.
fn widest<'n>(names: impl Iterator<Item = &'n str>) -> usize {
    names.map(columns).max().unwrap_or(0).min(NAMES)
}

impl Page {
    fn inputs(&mut self, view: &WorkedView) {
        if view.inputs.is_empty() {
            return;
        }
        self.heading("It starts from");
        let names = widest(view.inputs.iter().map(|own| own.name.as_str()));
        let values = widest(view.inputs.iter().map(|own| own.value.as_str()));
        for input in &view.inputs {
            let read = input.instrument.as_ref().map(|own| format!(", read with {own}")).unwrap_or_default();
            let lead = format!("  {STRONG}{}{OFF}  {}  ", pad(&input.name, names), pad(&input.value, values));
            self.paragraph(&lead, &format!("{}{read}", input.source), 4);
        }
    }

    fn steps(&mut self, steps: &[WorkingView]) {
        if steps.is_empty() {
            return;
        }
        self.heading("Step by step");
        let names = widest(steps.iter().map(|own| own.name.as_str()));
        for step in steps {
            let indent = names + 6;
            self.paragraph(&format!("  {STRONG}{}{OFF}  = ", pad(&step.name, names)), &step.expression, indent);
            let below = " ".repeat(names + 4);
            if step.substituted != step.expression && step.substituted != step.shown {
                self.paragraph(&format!("{QUIET}{below}= "), &format!("{}{OFF}", step.substituted), indent);
            }
            self.paragraph(&format!("{below}= "), &step.shown, indent);
        }
    }

    fn reductions(&mut self, view: &WorkedView) {
        if view.reductions.is_empty() {
            return;
        }
        self.heading("Taken from data");
        for own in &view.reductions {
            self.paragraph("  ", &format!("{}: {STRONG}{}{OFF}", own.asked, own.value), 4);
            let rows = if own.rows == 1 { "1 row".to_string() } else { format!("{} rows", own.rows) };
            let text = std::iter::once(rows).chain(own.marks.iter().cloned()).collect::<Vec<_>>().join("; ");
            self.paragraph("    ", &text, 6);
        }
    }

    fn result(&mut self, result: &ResultView) {
        self.heading(&format!("{} comes to {}", result.name, result.shown));
        let unit = if result.unit.is_empty() { String::new() } else { format!(" {}", result.unit) };
        let mut about = Vec::new();
        if let Some(standard) = result.standard_uncertainty {
            about.push(format!("standard uncertainty {}{unit}", short(standard)));
        }
        if let Some(freedom) = result.degrees_of_freedom {
            about.push(format!("{} degrees of freedom", short(freedom)));
        }
        if let Some(worst) = result.worst_case.filter(|worst| *worst > 0.0) {
            about.push(format!("all inputs off by their U in the worse direction: ± {}{unit}", short(worst)));
        }
        if !about.is_empty() {
            self.paragraph("  ", &about.join("; "), 4);
        }
        for note in &result.notes {
            self.paragraph(&format!("  {WARN}note{OFF} "), note, 4);
        }
        let names = widest(result.contributions.iter().map(|own| own.input.as_str()));
        for own in &result.contributions {
            self.contribution(own, names);
        }
        if let Some(trials) = &result.trials {
            self.trials(trials, &unit);
        }
    }

    /// What trials came to, and how they lie.
    fn trials(&mut self, trials: &TrialsView, unit: &str) {
        let percent = trials.coverage * 100.0;
        let agrees = match (trials.agrees, trials.decides) {
            (_, true) => "first order states too little: the trials decide",
            (true, false) => "first order agrees",
            (false, false) => "first order does not agree in every digit, and is not the smaller",
        };
        let mut text = format!(
            "{} trials: mean {}{unit}, standard deviation {}{unit}; {percent:.2} % lie from {} to {}{unit}; {agrees}",
            trials.count,
            short(trials.mean),
            short(trials.standard_uncertainty),
            short(trials.symmetric[0]),
            short(trials.symmetric[1]),
        );
        if trials.not_finite > 0 {
            text.push_str(&format!("; {} of them came to no number", trials.not_finite));
        }
        self.line("");
        self.paragraph("  ", &text, 4);
        let Some(histogram) = &trials.histogram else { return };
        let columns = histogram.counts.len().min(self.width.saturating_sub(4)).max(1);
        let each = histogram.counts.len().div_ceil(columns);
        let sums: Vec<u64> = histogram.counts.chunks(each).map(|some| some.iter().sum()).collect();
        let most = sums.iter().copied().max().unwrap_or(0).max(1);
        for row in (0..HIGH).rev() {
            let cell = |count: &u64| {
                let eighths = (*count as f64 / most as f64 * (HIGH * 8) as f64).round() as usize;
                BLOCKS[eighths.saturating_sub(row * 8).min(8)]
            };
            let cells: String = sums.iter().map(cell).collect();
            self.line(&format!("  {QUIET}{}{OFF}", cells.trim_end()));
        }
        let (low, high) = (short(histogram.low), format!("{}{unit}", short(histogram.high)));
        let gap = (sums.len() + 2).saturating_sub(2 + low.len() + crate::report::style::columns(&high)).max(1);
        self.line(&format!("  {low}{}{high}", " ".repeat(gap)));
    }

    /// One bar: a whole one is all of the variance.
    fn contribution(&mut self, own: &ContributionView, names: usize) {
        let part = own.percent.abs().min(100.0) / 100.0 * BAR as f64;
        let bar = if part < 0.5 { "·".to_string() } else { "█".repeat(part.round() as usize) };
        let percent = format!("{:>5.1} %", own.percent);
        let lead = format!("  {}  {percent}  {}  ", pad(&own.input, names), pad(&bar, BAR));
        let text = format!("{}, {}, u {}", own.value, own.distribution, own.standard);
        match columns(&lead) + 24 > self.width {
            false => self.paragraph(&lead, &text, columns(&lead)),
            true => {
                self.line(&lead);
                self.paragraph("      ", &text, 6);
            }
        }
    }

    fn verdicts(&mut self, view: &WorkedView) {
        if view.verdicts.is_empty() {
            return;
        }
        // What is judged is shown above, but for what trials or an instrument made of it.
        let shown = |own: &WorkedVerdict| view.results.iter().any(|result| own.result.as_ref() == Some(&result.shown));
        self.heading("Held against");
        for own in &view.verdicts {
            let colour = match own.verdict {
                "met" => GOOD,
                "not met" => BAD,
                _ => WARN,
            };
            let mut text = format!("{}: {colour}{}{OFF}", own.limit, own.verdict);
            text.extend(
                own.result
                    .as_ref()
                    .filter(|_| own.margin.is_some() && !shown(own))
                    .map(|result| format!("; it comes to {result}")),
            );
            text.extend(own.margin.as_ref().map(|margin| format!("; margin {margin}")));
            text.extend(own.risk_text.as_ref().map(|risk| format!("; {risk} risk of being outside")));
            text.extend(own.why.as_ref().map(|why| format!("; {why}")));
            text.extend(
                own.when_signed.as_ref().filter(|_| own.moved).map(|then| format!("; {then} when it was signed")),
            );
            self.paragraph(&format!("  {STRONG}{}{OFF} {}: ", own.requirement, own.criterion), &text, 4);
        }
    }
}
