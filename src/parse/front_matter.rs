//! Splits a Markdown file into front matter and body, and reads the front matter as TOML.

use std::ops::Range;

use jiff::civil::Date;
use memchr::memmem;
use toml::de::DeTable;

use crate::diag::{Finding, Findings};
use crate::text::{FileId, Span};

use super::tree::{Table, Value};

/// A file of the project: its front matter, with offsets into the whole file, and its body.
#[derive(Debug)]
pub struct Document<'t> {
    /// The file.
    pub file: FileId,
    /// The keys.
    pub table: Table<'t>,
    /// Where the front matter's text starts in the file.
    pub base: usize,
    /// The opening fence, to blame for what is missing.
    pub fence: Span,
    /// The Markdown after the front matter, with its offset in the file.
    pub body: &'t str,
    /// Where the body starts in the file.
    pub body_at: usize,
    /// Whether the TOML was read without a complaint.
    pub clean: bool,
}

/// What a Markdown file turned out to be.
#[derive(Debug)]
pub enum Parsed<'t> {
    /// One of the project's files.
    Document(Document<'t>),
    /// Some other Markdown; none of our business.
    Other,
    /// Meant to be one of the project's files, and unreadable; a finding says why.
    Broken,
}

/// How many lines are searched for a misplaced `kind = "`.
const SEARCHED_LINES: usize = 20;

/// Reads one Markdown file.
pub fn document<'t>(file: FileId, text: &'t str, findings: &mut Findings) -> Parsed<'t> {
    let start = if text.starts_with('\u{feff}') { 3 } else { 0 };
    let Some(front) = after_fence(text, start) else {
        return not_front_matter(file, text, findings);
    };
    let fence = Span::new(file, start..start + 3);
    if conflict_markers(file, text, findings) {
        return Parsed::Broken;
    }
    let Some((end, body_at)) = closing_fence(text, front) else {
        findings.push(
            Finding::at("front-matter-not-closed", fence, "the front matter opened here is never closed")
                .help("put a line of `+++` after its last key"),
        );
        return Parsed::Broken;
    };
    let (table, clean) = toml_table(file, &text[front..end], front, findings);
    if let Some(kind) = second_thing(&text[body_at..]) {
        findings.push(
            Finding::at(
                "second-in-file",
                Span::new(file, body_at + kind.start..body_at + kind.end),
                "a second thing begins in this file, which holds one: nothing of it was read",
            )
            .also(fence, "the first one")
            .help("move it, from its `+++` on, into a file of its own"),
        );
    }
    Parsed::Document(Document { file, table, base: front, fence, body: &text[body_at..], body_at, clean })
}

/// Reads TOML, reporting every syntax fault; `base` is where `text` starts in the file.
///
/// The table holds what could be read; the flag says whether that is all of it.
pub fn toml_table<'t>(file: FileId, text: &'t str, base: usize, findings: &mut Findings) -> (Table<'t>, bool) {
    if let Some(table) = Table::plain(text) {
        return (table, true);
    }
    let (table, errors) = DeTable::parse_recoverable(text);
    let mut told: Vec<Range<usize>> = Vec::new();
    for error in &errors {
        let range = error.span().unwrap_or(0..0);
        if told.iter().any(|own| own.contains(&range.start)) {
            continue;
        }
        if let Some((own, help)) = date_of_another_form(text, range.start) {
            let span = Span::new(file, base + own.start..base + own.end);
            let message = format!("`{}` is not how a date is written here", &text[own.clone()]);
            findings.push(Finding::at("no-such-date", span, message).help(help));
            told.push(own);
            continue;
        }
        let message = error.message().lines().next().unwrap_or("not TOML").to_string();
        let duplicate = message.contains("duplicate key");
        let span = Span::new(file, base + range.start..base + range.end);
        let date = ["invalid date", "invalid time", "invalid offset"].iter().any(|what| message.starts_with(what));
        findings.push(if date {
            let found = text.get(range).unwrap_or_default();
            let expected = message.find(", expected").and_then(|at| message.get(at..)).unwrap_or_default();
            Finding::at("no-such-date", span, format!("`{found}` is no date{expected}"))
        } else if duplicate {
            Finding::at("duplicate-key", span, format!("{message}: the key is given twice"))
                .help("keep one of the two and delete the other")
        } else {
            let finding = Finding::at("bad-toml", span, format!("this is not TOML: {message}"));
            match typographic_quote(text.get(range.start..).unwrap_or_default()) {
                Some(quote) => finding.help(format!("write \" instead of {quote}, which is for print")),
                None => finding,
            }
        });
    }
    let (table, too_deep) = Table::taken(table.into_inner());
    let clean = errors.is_empty() && too_deep.is_none();
    findings.extend(too_deep.map(|range| {
        let span = Span::new(file, base + range.start..base + range.end);
        Finding::at("bad-toml", span, "this nests deeper than any key of a project does: nothing of it was read")
            .help("write it with fewer tables in tables")
    }));
    (table, clean)
}

/// The value of the line at a place, if it is a date with its year behind, as `02.07.2026`; and what to write.
fn date_of_another_form(text: &str, at: usize) -> Option<(Range<usize>, String)> {
    let start = text.get(..at)?.rfind('\n').map_or(0, |end| end + 1);
    let line = text[start..].lines().next()?;
    let from = line.find('=')? + 1;
    let value = line[from..].split('#').next()?;
    let written = value.trim();
    let own = start + from + (value.len() - value.trim_start().len());
    let sign = ['.', '/', '-'].into_iter().find(|sign| written.contains(*sign))?;
    let parts: Vec<&str> = written.split(sign).collect();
    let [one, other, year] = parts.as_slice() else { return None };
    let digits =
        |part: &str, most: usize| (1..=most).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit());
    if !(digits(one, 2) && digits(other, 2) && year.len() == 4 && digits(year, 4)) {
        return None;
    }
    let day = |month: &str, day: &str| format!("{year}-{month:0>2}-{day:0>2}").parse::<Date>().ok();
    // With points between, the day comes first wherever dates are written so.
    let month_first = if sign == '.' { None } else { day(one, other) };
    let read = [(day(other, one), "day", "month"), (month_first, "month", "day")];
    let meant: Vec<String> = read
        .iter()
        .filter_map(|(date, first, second)| Some(format!("{} if {first}{sign}{second}{sign}year is meant", (*date)?)))
        .collect();
    let help = match meant.is_empty() {
        true => "write a day that exists, as 2026-03-14".to_string(),
        false => format!("write it as year-month-day: {}", meant.join(", ")),
    };
    Some((own..own + written.len(), help))
}

/// What a word processor put in the place of a quotation mark or an apostrophe, if a text begins with that.
fn typographic_quote(text: &str) -> Option<char> {
    let first = text.chars().next()?;
    "\u{201c}\u{201d}\u{201e}\u{ab}\u{bb}\u{2018}\u{2019}\u{201a}".contains(first).then_some(first)
}

/// Reads a settings file, which is TOML from its first line on; also where its text starts, after a byte-order mark.
pub fn settings<'t>(file: FileId, text: &'t str, findings: &mut Findings) -> (Table<'t>, usize) {
    let base = if text.starts_with('\u{feff}') { 3 } else { 0 };
    if conflict_markers(file, text, findings) {
        // What stands between the markers is two texts in one; its faults as TOML would only hide the one that matters.
        return (toml_table(file, &text[base..], base, &mut Findings::new()).0, base);
    }
    (toml_table(file, &text[base..], base, findings).0, base)
}

/// Whether a value is a table, for callers that pick among shapes.
pub(super) fn is_table(value: &Value<'_>) -> bool {
    matches!(value, Value::Table(_))
}

/// The offset just after an opening `+++` line that starts at `at`.
fn after_fence(text: &str, at: usize) -> Option<usize> {
    let line = line_at(text, at);
    (line.trim_end() == "+++").then(|| at + line.len())
}

/// Where the front matter ends and where the body starts.
fn closing_fence(text: &str, from: usize) -> Option<(usize, usize)> {
    let fences = memmem::find_iter(&text.as_bytes()[from..], "+++").map(|at| from + at);
    let mut lines = fences.filter(|at| starts_line(text, *at)).map(|at| (at, line_at(text, at)));
    lines.find(|(_, line)| line.trim_end() == "+++").map(|(at, line)| (at, at + line.len()))
}

fn starts_line(text: &str, at: usize) -> bool {
    at == 0 || text.as_bytes()[at - 1] == b'\n'
}

/// The line that starts here, with its line feed.
fn line_at(text: &str, at: usize) -> &str {
    let rest = &text[at..];
    memchr::memchr(b'\n', rest.as_bytes()).map_or(rest, |end| &rest[..=end])
}

/// A Markdown file without an opening fence: another's, unless it looks like one of ours gone wrong.
///
/// Lines end here wherever any program ends them: a file that another one wrote in its own way looks like ours to people. One
/// that starts with `+++` is searched to its end.
fn not_front_matter<'t>(file: FileId, text: &'t str, findings: &mut Findings) -> Parsed<'t> {
    if text.contains('\0') {
        findings.push(
            Finding::at(
                "not-utf8",
                Span::new(file, 0..0),
                "this file holds zero bytes, as no text does: nothing in it was read",
            )
            .help("save it as UTF-8; if it was not written whole, bring it back: git checkout -- FILE"),
        );
        return Parsed::Broken;
    }
    let fenced = text.trim_start_matches(is_blank).starts_with("+++");
    let searched = if fenced { usize::MAX } else { SEARCHED_LINES };
    let (mut at, mut lines, mut after_return) = (0, 0, false);
    for line in text.split_inclusive(ends_line) {
        lines += usize::from(!(after_return && line == "\n"));
        after_return = line.ends_with('\r');
        if lines > searched {
            break;
        }
        let trimmed = line.trim_start_matches(is_blank);
        if is_kind_line(trimmed) {
            let start = at + (line.len() - trimmed.len());
            let parsed = not_at_start(file, start..start + trimmed.trim_end().len(), findings);
            conflict_markers(file, text, findings);
            return parsed;
        }
        at += line.len();
    }
    match second_thing(text) {
        Some(kind) => not_at_start(file, kind, findings),
        None => Parsed::Other,
    }
}

fn not_at_start<'t>(file: FileId, kind: Range<usize>, findings: &mut Findings) -> Parsed<'t> {
    findings.push(
        Finding::at(
            "front-matter-not-at-start",
            Span::new(file, kind),
            "this file looks like one of the project's, but its first line is not `+++`, so nothing in it was read",
        )
        .help("make `+++` the very first line, with a line feed after it, or remove the `kind` line if this is ordinary Markdown"),
    );
    Parsed::Broken
}

/// The `kind` line of another front matter in a body, if there is one; what stands in a block of code is an example.
fn second_thing(body: &str) -> Option<Range<usize>> {
    memmem::find(body.as_bytes(), b"+++")?;
    let (mut at, mut code, mut fenced) = (0, None, false);
    for line in body.split_inclusive('\n') {
        let trimmed = line.trim();
        match code {
            Some(opened) if trimmed.starts_with(opened) => code = None,
            Some(_) => {}
            None => code = ["```", "~~~"].into_iter().find(|mark| trimmed.starts_with(mark)),
        }
        // Four spaces make a block of code too.
        let indented = line.starts_with("    ") || line.starts_with('\t');
        if code.is_none() && !indented && trimmed == "+++" {
            fenced = !fenced;
        } else if code.is_none() && fenced && is_kind_line(trimmed) {
            return Some(at..at + line.trim_end().len());
        }
        at += line.len();
    }
    None
}

fn ends_line(character: char) -> bool {
    matches!(character, '\n' | '\r' | '\u{b}' | '\u{c}' | '\u{85}' | '\u{2028}' | '\u{2029}')
}

/// White space, and what shows as nothing.
fn is_blank(character: char) -> bool {
    character.is_whitespace()
        || character.is_control()
        || matches!(character, '\u{feff}' | '\u{200b}'..='\u{200f}' | '\u{2060}')
}

fn is_kind_line(line: &str) -> bool {
    let key = ["kind", "\"kind\"", "'kind'"].into_iter().find_map(|key| line.strip_prefix(key));
    key.map(str::trim_start).and_then(|rest| rest.strip_prefix('=')).is_some_and(|rest| {
        let rest = rest.trim_start();
        rest.starts_with('"') || rest.starts_with('\'')
    })
}

/// Reports unresolved merge conflicts; each marker of the first is pointed out.
fn conflict_markers(file: FileId, text: &str, findings: &mut Findings) -> bool {
    let marked = |at: usize| {
        starts_line(text, at) && ["<<<<<<< ", ">>>>>>> ", "||||||| "].iter().any(|mark| text[at..].starts_with(mark))
    };
    let Some(at) = memchr::memchr3_iter(b'<', b'>', b'|', text.as_bytes()).find(|at| marked(*at)) else { return false };
    let span = Span::new(file, at..at + line_at(text, at).trim_end().len());
    findings.push(Finding::at("conflict-markers", span, "a merge conflict was left in this file"));
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(text: &str) -> Vec<&'static str> {
        let mut findings = Findings::new();
        let parsed = document(FileId(0), text, &mut findings);
        let second = findings.iter().any(|finding| finding.code == "second-in-file");
        let told = second || findings.iter().any(|finding| finding.code == "bad-toml");
        assert_eq!(matches!(parsed, Parsed::Broken) || told, findings.iter().next().is_some(), "{text:?}");
        findings.iter().map(|finding| finding.code).collect()
    }

    #[test]
    fn a_file_of_ours_gone_wrong_is_never_another_s() {
        let own = "+++\nkind = \"test\"\nid = \"A\"\n+++\n";
        assert!(found(own).is_empty());
        assert!(found(&own.replace('\n', "\r\n")).is_empty());
        for end in ["\r", "\u{b}", "\u{85}", "\u{2028}"] {
            assert_eq!(found(&own.replace('\n', end)), ["front-matter-not-at-start"], "{end:?}");
        }
        for before in [" ", "\n", "\u{feff}\u{feff}", "\u{200b}", "\u{a0}", "+", "# Title\n", "\r\n"] {
            assert_eq!(found(&format!("{before}{own}")), ["front-matter-not-at-start"], "{before:?}");
        }
        for key in ["\"kind\"", "'kind'", "  kind "] {
            assert_eq!(found(&format!("\n{}", own.replace("kind ", key))), ["front-matter-not-at-start"], "{key}");
        }
        let far = format!("+++ toml\n{}{}", "# a comment\n".repeat(50), &own[4..]);
        assert_eq!(found(&far), ["front-matter-not-at-start"]);
    }

    #[test]
    fn what_nests_too_deep_is_said_and_not_followed() {
        let key = "a.".repeat(78);
        let deep = format!("{key}a = {}1{}", format!("{{ {key}a = ").repeat(70), " }".repeat(70));
        let read = |text: String| {
            let small = std::thread::Builder::new().stack_size(1 << 20);
            small.spawn(move || found(&text)).unwrap().join().unwrap()
        };
        assert_eq!(read(format!("+++\nkind = \"test\"\n{deep}\n+++\n")), ["bad-toml"]);
        assert_eq!(read(format!("+++\na = {}1{}\n+++\n", "[".repeat(70), "]".repeat(70))), [""; 0]);
    }

    #[test]
    fn zero_bytes_are_no_text() {
        let own = "+++\nkind = \"test\"\nid = \"A\"\n+++\n";
        let wide: String = own.chars().flat_map(|letter| [letter, '\0']).collect();
        let other_end: String = own.chars().flat_map(|letter| ['\0', letter]).collect();
        for text in [wide, other_end, "\0".repeat(9), format!("\0{own}")] {
            assert_eq!(found(&text), ["not-utf8"], "{text:?}");
        }
    }

    #[test]
    fn a_second_thing_in_a_file_is_not_passed_over() {
        let own = "+++\nkind = \"test\"\nid = \"A\"\n+++\nWords.\n";
        assert_eq!(found(&format!("{own}{own}")), ["second-in-file"]);
        assert_eq!(found(&format!("{own}\n{}", own.replace('\n', "\r\n"))), ["second-in-file"]);
        assert_eq!(found(&format!("{own}```\ncode\n```\n\n{own}")), ["second-in-file"]);
        // Far down in what is no file of the project it is as bad.
        assert_eq!(found(&format!("{}{own}", "text\n".repeat(50))), ["front-matter-not-at-start"]);
        for quoted in [
            format!("```toml\n{own}```\n"),
            format!("~~~\n{own}~~~\n"),
            "+++\n\nkind of\n+++\n".into(),
            own.replace("+++", "    +++"),
        ] {
            assert!(found(&format!("{own}\n{quoted}")).is_empty(), "{quoted}");
            assert!(found(&format!("{}{quoted}", "text\n".repeat(50))).is_empty(), "{quoted}");
        }
    }

    #[test]
    fn ordinary_markdown_is_left_alone() {
        for text in ["", "# Title\n", "kind of important\n", "kind = unclear\n", "++ +\n", "+++ one of them\n\nmore\n"]
        {
            assert!(found(text).is_empty(), "{text}");
        }
        // Past the twentieth line it is about files of ours, however its lines end.
        let quoted = format!("{}kind = \"test\"\n", "text\n".repeat(20));
        assert!(found(&quoted).is_empty() && found(&quoted.replace('\n', "\r\n")).is_empty());
        let sooner = format!("{}kind = \"test\"\n", "text\n".repeat(19));
        assert!(!found(&sooner).is_empty() && !found(&sooner.replace('\n', "\r\n")).is_empty());
    }
}
