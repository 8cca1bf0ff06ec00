//! Findings for a terminal.

use crate::diag::Class;
use crate::report::style::{BAD, GOOD, Mark, NAME, OFF, QUIET, STRONG, WARN, columns};
use crate::report::view::{CheckView, Excerpt, FindingView};

use super::wrap;

/// One finding in short: place, class and code, what was found, what to type next.
pub fn one(finding: &FindingView, width: usize) -> String {
    format!("{}  {}\n{}", lead(finding), wrap(&finding.message, width, 2, 2), help(finding, width))
}

/// One finding with the line that it points at, and the other places that matter.
pub fn full(finding: &FindingView, width: usize) -> String {
    let mut text = format!("{}  {}\n", lead(finding), wrap(&finding.message, width, 2, 2));
    if let (Some(excerpt), Some(line)) = (&finding.excerpt, finding.line) {
        text.push_str(&quoted(excerpt, line, colour(finding), width));
    }
    for place in &finding.also {
        let own =
            if finding.path.as_ref() == Some(&place.path) { "line ".to_string() } else { format!("{}:", place.path) };
        let line = format!("{own}{}: {}", place.line, place.label);
        text.push_str(&format!("  {QUIET}see{OFF}: {}\n", wrap(&line, width, 7, 7)));
    }
    text.push_str(&help(finding, width));
    text
}

/// Everything that `check` found, and one line that sums it up.
pub fn check(view: &CheckView, width: usize) -> String {
    let mut text = String::new();
    for finding in &view.findings {
        text.push_str(&full(finding, width));
        text.push('\n');
    }
    text.push_str(&summary(view));
    text
}

fn summary(view: &CheckView) -> String {
    let count = |class: Class| match view.count(class) {
        1 => format!("1 {}", class.word()),
        n => format!("{n} {}s", class.word()),
    };
    let shown = [Class::Fault, Class::Gap, Class::Warning];
    let parts: Vec<String> = shown.into_iter().filter(|class| view.count(*class) > 0).map(count).collect();
    let mut line = match (parts.is_empty(), view.count(Class::Fault) > 0) {
        (true, _) => format!("{GOOD}No faults, no gaps, no warnings.{OFF}"),
        (false, true) => format!("{BAD}{}{OFF}", parts.join(", ")),
        (false, false) => format!("{WARN}{}{OFF}", parts.join(", ")),
    };
    let notes = view.count(Class::Note);
    let listed = view.findings.iter().any(|finding| finding.class == Class::Note.word());
    if notes > 0 {
        let how = if listed { "" } else { " (--notes lists them)" };
        let between = if parts.is_empty() { " " } else { "; " };
        line.push_str(&format!("{between}{} on wording{how}", count(Class::Note)));
    }
    line.push('\n');
    line
}

fn colour(finding: &FindingView) -> Mark {
    match finding.class {
        "fault" => BAD,
        "gap" | "warning" => WARN,
        _ => QUIET,
    }
}

fn lead(finding: &FindingView) -> String {
    format!(
        "{STRONG}{}{OFF}: {}{}{OFF} {QUIET}[{}]{OFF}\n",
        finding.place(),
        colour(finding),
        finding.class,
        finding.code
    )
}

fn help(finding: &FindingView, width: usize) -> String {
    format!("  {NAME}do{OFF}: {}\n", wrap(&finding.help, width, 6, 6))
}

/// A line of a file with its number, and a stroke under the part that matters.
///
/// A line that is too long is cut on either side of that part. What could move the cursor is one sign wide, so that
/// the stroke stays under what it is about.
pub(super) fn quoted(excerpt: &Excerpt, number: usize, style: Mark, width: usize) -> String {
    let number = number.to_string();
    let room = width.saturating_sub(number.len() + 5).max(20);
    let before = visible(&excerpt.text[..excerpt.start]);
    let part = visible(&excerpt.text[excerpt.start..excerpt.end]);
    let after = visible(&excerpt.text[excerpt.end..]);
    let part = start_of(&part, room.saturating_sub(8));
    let stroke = columns(&part).max(1);
    let left = room.saturating_sub(stroke + columns(&after).min(room / 3));
    let before = end_of(&before, left);
    let line = start_of(&format!("{before}{part}{after}"), room);
    let pad = " ".repeat(number.len());
    let label = if excerpt.label.is_empty() { String::new() } else { format!(" {}", excerpt.label) };
    format!(
        "  {QUIET}{number} |{OFF} {line}\n  {QUIET}{pad} |{OFF} {}{style}{}{label}{OFF}\n",
        " ".repeat(columns(&before)),
        "^".repeat(stroke)
    )
}

/// Text in which every character is as wide as it says: no tabs, nothing that acts on a terminal.
fn visible(text: &str) -> String {
    let show = |c: char| match c {
        '\t' => ' ',
        c if c.is_control() || unicode_width::UnicodeWidthChar::width(c).unwrap_or(0) == 0 => '\u{fffd}',
        c => c,
    };
    text.chars().map(show).collect()
}

/// As much of the start as fits.
fn start_of(text: &str, room: usize) -> String {
    if columns(text) <= room {
        return text.to_string();
    }
    let mut kept = String::new();
    for character in text.chars() {
        if columns(&kept) + columns(character.encode_utf8(&mut [0; 4])) >= room {
            break;
        }
        kept.push(character);
    }
    kept.push('…');
    kept
}

/// As much of the end as fits.
fn end_of(text: &str, room: usize) -> String {
    let turned: String = text.chars().rev().collect();
    start_of(&turned, room).chars().rev().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::style;

    fn shown(text: &str, part: &str, width: usize) -> Vec<String> {
        let start = text.find(part).unwrap();
        let excerpt = Excerpt { text: text.into(), start, end: start + part.len(), label: String::new() };
        style::render(&quoted(&excerpt, 7, BAD, width), false).lines().map(str::to_string).collect()
    }

    #[test]
    fn the_stroke_stands_under_the_part() {
        assert_eq!(
            shown("status = \"sined\"", "\"sined\"", 80),
            ["  7 | status = \"sined\"", "    |          ^^^^^^^"]
        );
        assert_eq!(shown("\té = \u{202e}x y", "x", 80), ["  7 |  é = \u{fffd}x y", "    |       ^"]);
        assert_eq!(shown("名 = 弁", "弁", 80), ["  7 | 名 = 弁", "    |      ^^"]);
    }

    #[test]
    fn long_lines_are_cut_around_the_part() {
        let long = format!("{}HERE{}", "a".repeat(200), "b".repeat(200));
        let lines = shown(&long, "HERE", 60);
        assert!(lines.iter().all(|line| columns(line) <= 60), "{lines:#?}");
        let at = lines[1].find('^').unwrap();
        assert_eq!(lines[0].chars().skip(at).take(4).collect::<String>(), "HERE");
        let whole = shown(&long, &long, 60);
        assert!(whole.iter().all(|line| columns(line) <= 60), "{whole:#?}");
    }
}
