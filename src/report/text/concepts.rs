//! The options of a slot side by side, for a terminal.

use crate::report::style::{NAME, OFF, QUIET, STRONG, WARN};
use crate::report::view::{AskedView, ComparedView, ConceptsView, OptionView, ShownView, ToShowView};

use super::before::colour;
use super::{Lines, pad, wrap};

/// What the comparison is and is not, in one sentence.
pub const NOTE: &str = "Evidence on an option that is not current is judged as if that option were chosen. It counts for no row of the project, \
                        and the comparison chooses nothing.";

/// A column narrower than this holds no margin; the options then stand below one another.
const NARROWEST: usize = 34;
/// Between two columns.
const GAP: usize = 3;

/// The comparison as text.
pub fn render(view: &ConceptsView, width: usize) -> String {
    let mut page = Page { text: String::new(), width };
    page.paragraph(&format!("{STRONG}{}{OFF} ", view.slot), &view.title, 2);
    let count = view.options.len();
    page.line(&format!("{QUIET}slot, {count} {}{OFF}", if count == 1 { "option" } else { "options" }));
    page.heading("Options");
    if view.options.is_empty() {
        page.paragraph("  ", &format!("nothing fills it yet; an item that could has fills = \"{}\"", view.slot), 2);
    }
    view.options.iter().for_each(|option| page.option(option));
    if !view.asked.is_empty() {
        page.heading("What is asked, and what shows it");
        page.asked(view);
    }
    page.discovered(view);
    for option in &view.options {
        page.still_open(option);
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
    fn option(&mut self, option: &OptionView) {
        let mut about = option.title.clone();
        about.extend(option.revision.iter().map(|revision| format!(", revision {revision}")).collect::<Vec<_>>());
        self.paragraph(&format!("  {STRONG}{}{OFF} {}: ", option.id, option.status), &about, 4);
        for choice in &option.decisions {
            let date = choice.date.as_ref().map(|date| format!(", {date}")).unwrap_or_default();
            let proposed = if choice.accepted { "" } else { ", proposed only" };
            let text = format!("{} {} it: {}{date}{proposed}", choice.id, choice.verb, choice.title);
            self.paragraph("    ", &text, 6);
        }
        for failed in &option.failed {
            let result = failed.result.as_deref().unwrap_or("a result not stated");
            let now = match &failed.limit {
                Some(limit) => format!("; asked now: {limit}"),
                None => "; no longer asked".to_string(),
            };
            let accounted = if failed.accounted { "; a closed nonconformance accounts for it" } else { "" };
            let text = format!(
                "{} {}, {}: {result}, by {}{now}{accounted}",
                failed.requirement, failed.title, failed.criterion, failed.record
            );
            self.paragraph(&format!("    {WARN}failed{OFF} "), &text, 6);
        }
    }

    fn asked(&mut self, view: &ConceptsView) {
        let count = view.options.len().max(1);
        let column = (self.width.saturating_sub(4 + GAP * (count - 1))) / count;
        let side_by_side = column >= NARROWEST && count > 1;
        if side_by_side {
            let heads = view.options.iter().map(|option| vec![format!("{STRONG}{}{OFF} {}", option.id, option.status)]);
            self.beside(&heads.collect::<Vec<_>>(), column);
        }
        for asked in &view.asked {
            self.requirement(asked);
            for criterion in &asked.criteria {
                self.criterion(criterion);
                let cells = criterion.cells.iter();
                if side_by_side {
                    let cells: Vec<Vec<String>> = cells.map(|cell| lines(&cell.shown, column)).collect();
                    self.beside(&cells, column);
                    continue;
                }
                for cell in cells {
                    self.line(&format!("    {STRONG}{}{OFF}", cell.option));
                    for line in lines(&cell.shown, self.width.saturating_sub(6)) {
                        self.line(&format!("      {line}"));
                    }
                }
            }
        }
    }

    fn requirement(&mut self, asked: &AskedView) {
        let safety = if asked.safety { format!(" {WARN}[safety]{OFF}") } else { String::new() };
        let added = match asked.added_by.as_slice() {
            [] => String::new(),
            ids => format!(" (added by {})", ids.join(", ")),
        };
        self.paragraph(
            &format!("  {STRONG}{}{OFF}{safety} ", asked.requirement),
            &format!("{}{added}", asked.title),
            4,
        );
    }

    fn criterion(&mut self, criterion: &ComparedView) {
        let mut text = format!("{}: {}", criterion.name, criterion.limit);
        if !criterion.conditions.is_empty() {
            text.push_str(&format!("; with {}", criterion.conditions.join(", ")));
        }
        let wrapped = wrap(&text, self.width, 4, 6);
        self.line(&format!("    {QUIET}{wrapped}{OFF}"));
    }

    /// Cells beside one another, each at the top of its column.
    fn beside(&mut self, cells: &[Vec<String>], column: usize) {
        let tall = cells.iter().map(Vec::len).max().unwrap_or(0);
        for at in 0..tall {
            let parts = cells.iter().map(|cell| pad(cell.get(at).map_or("", String::as_str), column));
            let line = parts.collect::<Vec<_>>().join(&" ".repeat(GAP));
            self.line(&format!("    {line}"));
        }
    }

    fn discovered(&mut self, view: &ConceptsView) {
        if view.discovered.is_empty() {
            return;
        }
        self.heading("Asked for since a choice: nobody had thought of it before");
        for found in &view.discovered {
            let drops = match found.drops.as_slice() {
                [] => String::new(),
                ids => format!(", which drops {}", ids.join(", ")),
            };
            let text = format!("{}; added by {}{drops}", found.title, found.decision);
            self.paragraph(&format!("  {STRONG}{}{OFF} ", found.requirement), &text, 4);
        }
    }

    fn still_open(&mut self, option: &OptionView) {
        if option.status == "dropped" {
            return;
        }
        self.heading(&match option.status {
            "current" => format!("Still to be shown on {}", option.id),
            _ => format!("To be shown on {} before it can be chosen with nothing open", option.id),
        });
        if option.to_show.is_empty() {
            self.paragraph("  ", "nothing of what is asked of it is open", 2);
        }
        for row in &option.to_show {
            self.open(row);
        }
    }

    fn open(&mut self, row: &ToShowView) {
        let lead =
            format!("  {}{}{OFF} {STRONG}{}{OFF} ", colour(row.state), pad(row.state.word(), 12), row.requirement);
        let before = row.before.as_ref().map(|event| format!(", before {event}")).unwrap_or_default();
        self.paragraph(&lead, &format!("{}, on {}{before}", row.how, row.subject), 15);
        self.paragraph(&format!("               {NAME}do{OFF}: "), &row.help, 19);
    }
}

/// The lines of a cell, none wider than its column.
fn lines(shown: &[ShownView], width: usize) -> Vec<String> {
    if shown.is_empty() {
        return vec![format!("{QUIET}not asked of it{OFF}")];
    }
    let mut lines = Vec::new();
    for own in shown {
        let result = own.result.as_deref().unwrap_or("–");
        lines.extend(folded(&format!("{}{}{OFF} {result}", colour(own.state), pad(own.state.word(), 12)), width));
        lines.extend(own.margin.iter().flat_map(|margin| folded(&format!("  margin {margin}"), width)));
        let how: Vec<&str> =
            [own.record.as_deref(), own.method, own.stage, own.procedure.as_deref()].into_iter().flatten().collect();
        lines.extend(folded(&format!("  {}, on {}", how.join(", "), own.subject), width));
        lines.extend(own.reasons.first().iter().flat_map(|reason| folded(&format!("  {}", reason.text), width)));
    }
    lines
}

/// A line broken at spaces, later ones set in.
fn folded(line: &str, width: usize) -> Vec<String> {
    let inside = line.len() - line.trim_start().len();
    let wrapped = wrap(line, width, inside, 4);
    format!("{}{wrapped}", " ".repeat(inside)).split('\n').map(str::to_string).collect()
}
