//! Findings for a terminal.

use crate::report::style::{BAD, GOOD, NAME, OFF, QUIET, STRONG, WARN, columns};
use crate::report::view::{CheckView, FindingView};

use super::wrap;

/// The findings, and a line that counts them; notes only where they are asked for.
pub fn render(view: &CheckView, notes: bool, width: usize) -> String {
    let mut text = String::new();
    for finding in view.findings.iter().filter(|finding| notes || finding.class != "note") {
        text.push_str(&one(finding, width));
        text.push('\n');
    }
    text.push_str(&summary(view, notes));
    text.push('\n');
    text
}

fn summary(view: &CheckView, notes: bool) -> String {
    let count = |class: &str| view.counts.get(class).copied().unwrap_or(0);
    let counted = [("fault", "faults"), ("gap", "gaps"), ("warning", "warnings")];
    let parts: Vec<String> = counted
        .iter()
        .filter(|(class, _)| count(class) > 0)
        .map(|(class, many)| match count(class) {
            1 => format!("1 {class}"),
            more => format!("{more} {many}"),
        })
        .collect();
    let found = match parts.is_empty() {
        true => format!("{GOOD}No faults, no gaps, no warnings.{OFF}"),
        false => format!("{STRONG}{}{OFF}", parts.join(", ")),
    };
    match (count("note"), notes) {
        (0, _) => found,
        (1, _) => format!("{found}; 1 note on wording{}", if notes { "" } else { " (--notes shows it)" }),
        (many, _) => format!("{found}; {many} notes on wording{}", if notes { "" } else { " (--notes lists them)" }),
    }
}

/// One finding: place, class and code, what was found, the line, what to type next.
pub fn one(finding: &FindingView, width: usize) -> String {
    let colour = match finding.class {
        "fault" => BAD,
        "gap" | "warning" => WARN,
        _ => QUIET,
    };
    let (place, class, code) = (finding.place(), finding.class, finding.code);
    let mut text = format!("{STRONG}{place}{OFF}: {colour}{class}{OFF} {QUIET}[{code}]{OFF}\n");
    text.push_str(&format!("  {}\n", wrap(&finding.message, width, 2, 2)));
    if let (Some(line), Some(column)) = (&finding.excerpt, finding.column) {
        text.push_str(&excerpt(line, column, finding.width, width, colour));
    }
    for (place, label) in &finding.also {
        text.push_str(&format!("    {QUIET}{place}: {label}{OFF}\n"));
    }
    text.push_str(&format!("  {NAME}do{OFF}: {}\n", wrap(&finding.help, width, 6, 6)));
    text
}

/// The line, cut to what fits, and carets under what is meant.
fn excerpt(line: &str, column: usize, meant: usize, width: usize, colour: char) -> String {
    let line: Vec<char> = line.trim_end().chars().map(|c| if c == '\t' { ' ' } else { c }).collect();
    if line.is_empty() {
        return String::new();
    }
    let room = width.saturating_sub(6).max(20);
    let start = (column - 1).min(line.len());
    let from = if start + meant.min(room / 2) > room { start.saturating_sub(room / 3) } else { 0 };
    let shown: String = line[from..].iter().take(room).collect();
    let before: String = line[from..start].iter().collect();
    let carets = meant.clamp(1, room.saturating_sub(start - from).max(1));
    format!("    {QUIET}{shown}{OFF}\n    {}{colour}{}{OFF}\n", " ".repeat(columns(&before)), "^".repeat(carets))
}
