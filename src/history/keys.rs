//! Front matter and settings, key by key, for things that have no closer comparison.

use std::collections::BTreeMap;

use toml::de::{DeTable, DeValue};

use crate::diag::Findings;
use crate::parse::{Parsed, document, plain_spaces, toml_table};
use crate::text::FileId;

/// Values by path; parts of a path are separated by [`PART`].
pub(super) type Flat = BTreeMap<String, String>;

/// Separates the parts of a path; ids hold dots.
const PART: char = '\u{1f}';

/// What names one of several tables in a list.
const NAMES: &[&str] = &["number", "revision", "name", "mark", "file", "on", "date", "text"];

/// How one key differs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyChange {
    /// The key, with those above it.
    pub key: String,
    /// Its value, unless it had none or holds several.
    pub from: Option<String>,
    /// Its value now.
    pub to: Option<String>,
    /// Whether it was added, removed or changed.
    pub change: Presence,
}

/// Whether something is there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Presence {
    /// Only now.
    Added,
    /// Only then.
    Removed,
    /// Both times.
    Changed,
}

impl KeyChange {
    /// In words: `status: draft → signed`.
    pub fn show(&self) -> String {
        let value = |value: &Option<String>| value.as_deref().map(cut).unwrap_or_default();
        match self.change {
            Presence::Added if self.to.is_some() => format!("{} added: {}", self.key, value(&self.to)),
            Presence::Added => format!("{} added", self.key),
            Presence::Removed if self.from.is_some() => format!("{} removed: {}", self.key, value(&self.from)),
            Presence::Removed => format!("{} removed", self.key),
            Presence::Changed if self.from.is_none() => format!("{} reworded", self.key),
            Presence::Changed => match (&self.from, &self.to) {
                (Some(from), Some(to)) if is_long(from) && is_long(to) => format!("{}: {}", self.key, words(from, to)),
                _ => format!("{}: {} → {}", self.key, value(&self.from), value(&self.to)),
            },
        }
    }

    /// The first part of the key.
    pub fn top(&self) -> &str {
        self.key.split('.').next().unwrap_or(&self.key)
    }
}

/// Whether a value is a text of several words rather than a name or a number.
fn is_long(value: &str) -> bool {
    const SHORT: usize = 32;
    value.chars().count() > SHORT && value.split(' ').count() > 3
}

/// Two texts word by word, without what is far from any change.
fn words(from: &str, to: &str) -> String {
    let shown = super::words::compare_around(from, to, 4).into_iter().map(|piece| match piece {
        super::words::Piece::Same(words) => words,
        super::words::Piece::Changed { from, to } => {
            let gone = if from.is_empty() { String::new() } else { format!("[-{from}-]") };
            let come = if to.is_empty() { String::new() } else { format!("{{+{to}+}}") };
            [gone, come].into_iter().filter(|it| !it.is_empty()).collect::<Vec<_>>().join(" ")
        }
    });
    shown.collect::<Vec<_>>().join(" ")
}

/// Long values are cut: what they say is in the file.
fn cut(value: &str) -> String {
    const LONGEST: usize = 72;
    if value.chars().count() <= LONGEST {
        return value.to_string();
    }
    value.chars().take(LONGEST - 1).chain(['…']).collect()
}

/// Whether a path leads through a list whose tables have no names of their own, so that they are counted.
pub(super) fn is_counted(path: &str) -> bool {
    path.split(PART).skip(1).any(|part| part.bytes().all(|byte| byte.is_ascii_digit()))
}

/// The keys of a file's front matter, and its body with white space folded.
pub(super) fn file(text: &str) -> (Flat, String) {
    match document(FileId(0), text, &mut Findings::new()) {
        Parsed::Document(document) => (flat(&document.table), plain_spaces(document.body).into_owned()),
        Parsed::Other | Parsed::Broken => (Flat::new(), plain_spaces(text).into_owned()),
    }
}

/// The keys of a settings file.
pub(super) fn settings(text: &str) -> Flat {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    flat(&toml_table(FileId(0), text, 0, &mut Findings::new()).0)
}

/// The keys of a settings file whose every top-level key names a thing.
pub(super) fn entries(text: &str) -> BTreeMap<String, Flat> {
    let mut entries: BTreeMap<String, Flat> = BTreeMap::new();
    for (path, value) in settings(text) {
        let (name, rest) = path.split_once(PART).unwrap_or((&path, ""));
        entries.entry(name.to_string()).or_default().insert(rest.to_string(), value);
    }
    entries
}

fn flat(table: &DeTable<'_>) -> Flat {
    let mut flat = Flat::new();
    for (key, value) in table {
        flatten(key.get_ref(), value.get_ref(), &mut flat);
    }
    flat
}

fn flatten(path: &str, value: &DeValue<'_>, flat: &mut Flat) {
    match value {
        DeValue::Table(table) => {
            for (key, value) in table {
                flatten(&format!("{path}{PART}{}", key.get_ref()), value.get_ref(), flat);
            }
        }
        DeValue::Array(array) if array.iter().any(|element| matches!(element.get_ref(), DeValue::Table(_))) => {
            let named: Vec<Option<String>> = array.iter().map(|element| name(element.get_ref())).collect();
            for (at, element) in array.iter().enumerate() {
                let own =
                    named[at].as_ref().filter(|own| named.iter().flatten().filter(|other| other == own).count() == 1);
                let label = own.cloned().unwrap_or_else(|| (at + 1).to_string());
                flatten(&format!("{path}{PART}{label}"), element.get_ref(), flat);
            }
        }
        DeValue::Array(array) => {
            let list: Vec<String> = array.iter().map(|element| scalar(element.get_ref())).collect();
            flat.insert(path.to_string(), list.join(", "));
        }
        other => {
            flat.insert(path.to_string(), scalar(other));
        }
    }
}

fn name(value: &DeValue<'_>) -> Option<String> {
    let DeValue::Table(table) = value else { return None };
    NAMES.iter().find_map(|wanted| {
        let (_, value) = table.iter().find(|(key, _)| key.get_ref() == wanted)?;
        Some(scalar(value.get_ref()))
    })
}

fn scalar(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => plain_spaces(text).into_owned(),
        DeValue::Integer(number) => number.as_str().to_string(),
        DeValue::Float(number) => number.as_str().to_string(),
        DeValue::Boolean(flag) => flag.to_string(),
        DeValue::Datetime(date) => date.to_string(),
        DeValue::Array(_) | DeValue::Table(_) => "…".to_string(),
    }
}

/// How two sets of keys differ; a table that came or went as a whole is told once.
pub(super) fn differences(then: &Flat, now: &Flat) -> Vec<KeyChange> {
    let mut found: Vec<KeyChange> = Vec::new();
    let mut paths: Vec<&String> = then.keys().chain(now.keys()).collect();
    paths.sort();
    paths.dedup();
    for path in paths {
        let (from, to) = (then.get(path), now.get(path));
        let change = match (from, to) {
            (Some(from), Some(to)) if from == to => continue,
            (Some(_), Some(_)) => Presence::Changed,
            (None, _) => Presence::Added,
            (_, None) => Presence::Removed,
        };
        let whole = match change {
            Presence::Added => highest(path, then),
            Presence::Removed => highest(path, now),
            Presence::Changed => path.as_str(),
        };
        let key = whole.replace(PART, ".");
        if found.last().is_some_and(|last| last.key == key && last.change == change) {
            continue;
        }
        let leaf = whole == path;
        found.push(KeyChange { key, from: from.filter(|_| leaf).cloned(), to: to.filter(|_| leaf).cloned(), change });
    }
    found
}

/// The longest way up from a path that the other side has nothing of.
fn highest<'p>(path: &'p str, other: &Flat) -> &'p str {
    let has = |part: &str| {
        let below = format!("{part}{PART}");
        other.contains_key(part) || other.range(below.clone()..).next().is_some_and(|(key, _)| key.starts_with(&below))
    };
    path.match_indices(PART).map(|(at, _)| &path[..at]).find(|part| !has(part)).unwrap_or(path)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_told_one_by_one_and_tables_as_a_whole() {
        let then = "a = 1\nlist = [\"x\"]\n[[serials]]\nnumber = \"SN01\"\nuse = \"service\"\n[gone]\nx = 1\ny = 2\n";
        let now = "a = 2\nlist = [\"x\", \"y\"]\n[[serials]]\nnumber = \"SN02\"\n[[serials]]\nnumber = \"SN01\"\nuse = \"spare\"\n";
        let told: Vec<String> = differences(&settings(then), &settings(now)).iter().map(KeyChange::show).collect();
        let expected =
            ["a: 1 → 2", "gone removed", "list: x → x, y", "serials.SN01.use: service → spare", "serials.SN02 added"];
        assert_eq!(told, expected);
        assert!(differences(&settings(then), &settings(then)).is_empty());
    }
}
