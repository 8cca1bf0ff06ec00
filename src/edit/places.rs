//! Where a further key or table can go, the place that reads best first.

use std::ops::Range;

use super::change::Place;
use super::outline::{Outline, Room, Shape, Statement, Step, Value};
use super::value::key;

/// Some bytes to replace, and by what.
pub(super) type Candidate = (Range<usize>, String);

/// Steps as a dotted key; none if one of them is a place in a list, which no key can name.
pub(super) fn dotted(steps: &[Step]) -> Option<String> {
    let keys = steps.iter().map(|step| match step {
        Step::Key(name) => Some(key(name)),
        Step::Index(_) => None,
    });
    Some(keys.collect::<Option<Vec<String>>>()?.join("."))
}

/// What stands at or nearest above a path.
pub(super) struct Nearest<'o> {
    pub value: &'o Value,
    /// How many steps of the path it takes up.
    pub depth: usize,
}

/// The value at the path, or the innermost inline table or list on the way there.
pub(super) fn nearest<'o>(outline: &'o Outline, path: &[Step]) -> Option<Nearest<'o>> {
    let mut best: Option<Nearest<'o>> = None;
    for statement in &outline.statements {
        if let Some(value) = &statement.value
            && path.starts_with(&statement.path)
        {
            let found = descend(value, path, statement.path.len());
            if best.as_ref().is_none_or(|best| best.depth < found.depth) {
                best = Some(found);
            }
        }
    }
    best
}

fn descend<'o>(value: &'o Value, path: &[Step], depth: usize) -> Nearest<'o> {
    let rest = &path[depth..];
    let inner = match &value.shape {
        Shape::Scalar => None,
        Shape::Array(items, _) => match rest.first() {
            Some(Step::Index(at)) => items.get(*at).map(|item| (item, 1)),
            _ => None,
        },
        Shape::Table(entries, _) => entries.iter().find_map(|(keys, value)| {
            let own: Vec<Step> = keys.iter().cloned().map(Step::Key).collect();
            rest.starts_with(&own).then_some((value, own.len()))
        }),
    };
    match inner {
        Some((value, steps)) => descend(value, path, depth + steps),
        None => Nearest { value, depth },
    }
}

/// Adds something inside brackets.
pub(super) fn inside(room: Room, text: &str, padded: bool) -> Candidate {
    match room {
        Room::Empty(at) if padded => (at..at, format!(" {text} ")),
        Room::Empty(at) => (at..at, text.to_string()),
        Room::After(at) => (at..at, format!(", {text}")),
        Room::AfterComma(at) => (at..at, format!(" {text}")),
    }
}

/// Places for a line `key = value` that is not there yet.
pub(super) fn for_key(text: &str, outline: &Outline, path: &[Step], value: &str, place: &Place<'_>) -> Vec<Candidate> {
    let parent = &path[..path.len().saturating_sub(1)];
    let end = line_end(text, outline);
    let line = |depth: usize| dotted(&path[depth..]).map(|key| format!("{key} = {value}{end}"));
    let mut found: Vec<Candidate> = Vec::new();
    let mut headers: Vec<(usize, Option<usize>)> = vec![(0, None)];
    headers.extend(outline.statements.iter().enumerate().filter_map(|(at, statement)| {
        (statement.value.is_none() && parent.starts_with(&statement.path)).then_some((statement.path.len(), Some(at)))
    }));
    headers.sort_by_key(|(depth, at)| (std::cmp::Reverse(*depth), std::cmp::Reverse(*at)));
    for (depth, header) in headers {
        let beside: Vec<usize> =
            outline.section(header).filter(|at| outline.statements[*at].path.starts_with(parent)).collect();
        let is_table_itself = depth == parent.len();
        if beside.is_empty() && header.is_none() && !is_table_itself {
            continue;
        }
        if let Some(line) = line(depth) {
            let at = position(text, outline, header, &beside, place);
            found.push((at..at, line));
        }
    }
    if let (Some(header), Some(line)) = (dotted(parent), line(parent.len()))
        && !parent.is_empty()
    {
        let below = outline.under(parent).next().map(|at| outline.statements[at].lines.start);
        match below {
            Some(at) => found.push((at..at, format!("[{header}]{end}{line}{end}"))),
            None => found.push((outline.range.end..outline.range.end, format!("{end}[{header}]{end}{line}"))),
        }
    }
    found
}

/// Where in a section a line goes.
fn position(text: &str, outline: &Outline, header: Option<usize>, beside: &[usize], place: &Place<'_>) -> usize {
    let statements = &outline.statements;
    let top = header.map_or(outline.range.start, |at| statements[at].lines.end);
    let after_last = |among: &[usize]| among.last().map(|at| statements[*at].lines.end);
    let all: Vec<usize> = outline.section(header).collect();
    match place {
        Place::First => beside.first().map_or(top, |at| statements[*at].lines.start),
        Place::Last => after_last(beside).or_else(|| after_last(&all)).unwrap_or(top),
        Place::After(keys) => {
            let named = |key: &&str, statement: &Statement| {
                let depth = header.map_or(0, |at| statements[at].path.len());
                statement.path.get(depth) == Some(&Step::Key((*key).to_string()))
            };
            let anchors = keys.iter().find_map(|key| {
                all.iter().rev().find(|at| named(key, &statements[**at])).map(|at| statements[*at].lines.end)
            });
            anchors.or_else(|| after_last(beside)).or_else(|| after_last(&all)).unwrap_or(top)
        }
    }
    .min(text.len())
}

/// Places for a further `[[path]]` block of these lines.
pub(super) fn for_table(text: &str, outline: &Outline, path: &[Step], lines: &[String]) -> Vec<Candidate> {
    let end = line_end(text, outline);
    let Some(header) = dotted(path) else { return Vec::new() };
    let mut block = format!("[[{header}]]{end}");
    for line in lines {
        block.push_str(line);
        block.push_str(end);
    }
    let parent = &path[..path.len().saturating_sub(1)];
    let Some(last) = outline.under(parent).next_back() else { return Vec::new() };
    let statement = &outline.statements[last];
    let section_end = match (&statement.value, statement.section) {
        (None, _) => statement.lines.end,
        (Some(_), section) => {
            outline.section(section).next_back().map_or(statement.lines.end, |at| outline.statements[at].lines.end)
        }
    };
    let mut spots = vec![own_comments(text, outline, statement.lines.end), own_comments(text, outline, section_end)];
    spots.push(outline.range.end);
    spots.into_iter().map(|at| (at..at, format!("{end}{block}"))).collect()
}

/// Comment lines that follow without a gap belong to what stands above them, unless a header follows without one too.
fn own_comments(text: &str, outline: &Outline, from: usize) -> usize {
    let mut at = from;
    for line in text[from..outline.range.end].split_inclusive('\n') {
        match line.trim_start().chars().next() {
            Some('#') => at += line.len(),
            None => return at,
            Some(_) => return from,
        }
    }
    at
}

/// How lines end in this front matter.
pub(super) fn line_end(text: &str, outline: &Outline) -> &'static str {
    if text[..outline.range.start].ends_with("\r\n") { "\r\n" } else { "\n" }
}
