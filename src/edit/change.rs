//! The edits themselves, each read again before it is handed out.

use std::collections::BTreeMap;
use std::ops::Range;

use crate::diag::Findings;
use crate::parse::tree::{Table, Value};
use crate::parse::{Parsed, document, toml_table};
use crate::text::FileId;

use super::EditError;
use super::outline::{Outline, Shape, Step};
use super::places::{Candidate, dotted, for_key, for_table, inside, line_end, nearest};
use super::value::{Toml, key};

/// Where among its neighbours a new key goes.
#[derive(Clone, Copy, Debug)]
pub enum Place<'a> {
    /// Before them.
    First,
    /// After them.
    Last,
    /// After the first of these keys that is there, else after them all.
    After(&'a [&'a str]),
}

/// Sets a key: its value is replaced if it is there, else a line (or a part of an inline table) is added.
///
/// # Errors
/// If there is no front matter, or no place is safe; the error says what to type.
pub fn put(text: &str, path: &[Step], value: &Toml, place: Place<'_>) -> Result<String, EditError> {
    let written = value.written();
    let by_hand = || format!("{} = {written}", dotted(path).unwrap_or_default());
    let front = front(text)?;
    let outline = Outline::read(text, front)?;
    let candidates = match nearest(&outline, path) {
        Some(found) if found.depth == path.len() => vec![(found.value.span.clone(), written.clone())],
        Some(found) => within(&found.value.shape, &path[found.depth..], &written),
        None => {
            let mut candidates = placeholders(text, &outline.range, path, &written);
            candidates.extend(for_key(text, &outline, path, &written, &place));
            candidates
        }
    };
    let wanted = format!("x = {written}");
    settle(text, &outline.range, candidates, path, &wanted, &[Step::Key("x".into())]).ok_or_else(|| refuse(by_hand()))
}

/// Adds a string to a list of strings; a bare string becomes a list, and a key that is not there a list of one.
///
/// # Errors
/// As [`put`].
pub fn add_to_list(text: &str, path: &[Step], new: &str, place: Place<'_>) -> Result<String, EditError> {
    let outline = Outline::read(text, front(text)?)?;
    let written = Toml::text(new).written();
    let found = nearest(&outline, path).filter(|found| found.depth == path.len());
    let Some(found) = found else { return put(text, path, &Toml::Texts(vec![new.to_string()]), place) };
    let old = &text[found.value.span.clone()];
    let (candidate, wanted) = match &found.value.shape {
        Shape::Array(items, room) => {
            let own = items.iter().map(|item| text[item.span.clone()].to_string()).chain([written.clone()]);
            let wanted = format!("x = [{}]", own.collect::<Vec<_>>().join(", "));
            (inside(*room, &written, false), wanted)
        }
        _ => {
            let list = format!("[{old}, {written}]");
            ((found.value.span.clone(), list.clone()), format!("x = {list}"))
        }
    };
    settle(text, &outline.range, vec![candidate], path, &wanted, &[Step::Key("x".into())])
        .ok_or_else(|| refuse(format!("add {written} to {}", dotted(path).unwrap_or_default())))
}

/// Adds a table to a list of tables.
///
/// # Errors
/// As [`put`].
pub fn append_table(text: &str, path: &[Step], entries: &[(&str, Toml)]) -> Result<String, EditError> {
    let outline = Outline::read(text, front(text)?)?;
    let lines: Vec<String> =
        entries.iter().map(|(name, value)| format!("{} = {}", key(name), value.written())).collect();
    let inline = format!("{{ {} }}", lines.join(", "));
    let candidates = match nearest(&outline, path) {
        Some(found) if found.depth == path.len() => match &found.value.shape {
            Shape::Array(_, room) => vec![inside(*room, &inline, false)],
            _ => Vec::new(),
        },
        Some(found) => within(&found.value.shape, &path[found.depth..], &format!("[{inline}]")),
        None => for_table(text, &outline, path, &lines),
    };
    let mut element = path.to_vec();
    element.push(Step::Index(count(text, &outline.range, path)));
    let wanted = format!("x = {inline}");
    settle(text, &outline.range, candidates, &element, &wanted, &[Step::Key("x".into())]).ok_or_else(|| {
        let header = dotted(path).unwrap_or_default();
        refuse(format!("[[{header}]]{}{}", line_end(text, &outline), lines.join("; ")))
    })
}

/// Lines `# key = ""`, as new files hold them for what is to be filled in: the line with the key is the place for it. Which of
/// them stands in the right table is seen when the edit is read again.
fn placeholders(text: &str, front: &Range<usize>, path: &[Step], written: &str) -> Vec<Candidate> {
    let keys: Vec<String> = (0..path.len()).filter_map(|from| dotted(&path[from..])).collect();
    let mut at = front.start;
    let mut found = Vec::new();
    for line in text[front.clone()].split_inclusive('\n') {
        let key = keys
            .iter()
            .find(|key| line.strip_prefix("# ").is_some_and(|rest| rest.starts_with(&format!("{key} = \"\""))));
        if let Some(key) = key {
            let end = at + format!("# {key} = \"\"").len();
            found.push((at..end, format!("{key} = {written}")));
        }
        at += line.len();
    }
    found
}

/// A new key inside an inline table.
fn within(shape: &Shape, rest: &[Step], written: &str) -> Vec<Candidate> {
    match (shape, dotted(rest)) {
        (Shape::Table(_, room), Some(key)) => vec![inside(*room, &format!("{key} = {written}"), true)],
        _ => Vec::new(),
    }
}

fn refuse(type_this: String) -> EditError {
    EditError { message: "its front matter is written in a way that cannot be edited safely".into(), type_this }
}

/// The bytes of the front matter, fences left out.
fn front(text: &str) -> Result<Range<usize>, EditError> {
    let Parsed::Document(document) = document(FileId(0), text, &mut Findings::new()) else {
        return Err(EditError {
            message: "it has no front matter that can be read".into(),
            type_this: "mend what slipmark check reports first".into(),
        });
    };
    let fence = text[..document.body_at].trim_end_matches(['\r', '\n']);
    let end = fence.rfind('\n').map_or(document.base, |at| at + 1).max(document.base);
    Ok(document.base..end)
}

/// The first candidate after which the front matter says what it said, and at `path` what `wanted` says.
fn settle(
    text: &str,
    front: &Range<usize>,
    candidates: Vec<Candidate>,
    path: &[Step],
    wanted: &str,
    wanted_at: &[Step],
) -> Option<String> {
    let (_, before) = split(leaves(&text[front.clone()])?, path);
    let (wanted, _) = split(leaves(wanted)?, wanted_at);
    candidates.into_iter().find_map(|(range, new)| {
        let mut edited = text.to_string();
        let grown = front.start..front.end + new.len() - range.len();
        edited.replace_range(range, &new);
        let (there, rest) = split(leaves(edited.get(grown)?)?, path);
        (rest == before && there == wanted).then_some(edited)
    })
}

type Leaves = BTreeMap<Vec<Step>, String>;

/// What stands at or below a path, from there on, and all the rest.
fn split(all: Leaves, path: &[Step]) -> (Leaves, Leaves) {
    let (there, rest): (Leaves, Leaves) = all.into_iter().partition(|(own, _)| own.starts_with(path));
    (there.into_iter().map(|(own, value)| (own[path.len()..].to_vec(), value)).collect(), rest)
}

/// Every value of a TOML text by its path; none if it is not TOML.
fn leaves(text: &str) -> Option<Leaves> {
    let mut findings = Findings::new();
    let (table, clean) = toml_table(FileId(0), text, 0, &mut findings);
    let mut found = Leaves::new();
    collect_table(&table, &mut Vec::new(), &mut found);
    clean.then_some(found)
}

fn collect_table(table: &Table<'_>, path: &mut Vec<Step>, found: &mut Leaves) {
    for (key, value) in table.entries() {
        path.push(Step::Key(key.text().to_string()));
        collect(&value.value, path, found);
        path.pop();
    }
}

fn collect(value: &Value<'_>, path: &mut Vec<Step>, found: &mut Leaves) {
    match value {
        Value::Table(table) => collect_table(table, path, found),
        Value::Array(items) => {
            for (at, item) in items.iter().enumerate() {
                path.push(Step::Index(at));
                collect(&item.value, path, found);
                path.pop();
            }
        }
        Value::String(text) => {
            found.insert(path.clone(), format!("string {text}"));
        }
        Value::Integer(number, base) => {
            found.insert(path.clone(), format!("integer {base} {number}"));
        }
        Value::Float(number) => {
            found.insert(path.clone(), format!("float {number}"));
        }
        Value::Boolean(flag) => {
            found.insert(path.clone(), format!("flag {flag}"));
        }
        Value::Datetime(date) => {
            found.insert(path.clone(), format!("date {date}"));
        }
    }
}

/// How many elements a list has.
fn count(text: &str, front: &Range<usize>, path: &[Step]) -> usize {
    let there = leaves(&text[front.clone()]).map(|all| split(all, path).0).unwrap_or_default();
    let last = there.keys().filter_map(|own| match own.first() {
        Some(Step::Index(at)) => Some(*at),
        _ => None,
    });
    last.max().map_or(0, |at| at + 1)
}
