//! Front matter and settings, key by key, for things that have no closer comparison.

use std::collections::{BTreeMap, BTreeSet};

use crate::diag::Findings;
use crate::parse::tree::{Table, Value};
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
    /// What it holds, where it came or went as a whole: keys below it, with their values.
    pub holds: Vec<(String, String)>,
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
    /// At one point, as the whole thing that it is of.
    Whole,
}

impl KeyChange {
    /// In words: `status: draft → signed`.
    pub fn show(&self) -> String {
        let value = |value: &Option<String>| value.as_deref().map(cut).unwrap_or_default();
        match self.change {
            Presence::Added | Presence::Removed | Presence::Whole => {
                let how = match self.change {
                    Presence::Added => " added",
                    Presence::Removed => " removed",
                    Presence::Changed | Presence::Whole => "",
                };
                let held = self.from.as_deref().or(self.to.as_deref()).map(cut).or_else(|| self.held());
                held.map_or_else(|| format!("{}{how}", self.key), |held| format!("{}{how}: {held}", self.key))
            }
            Presence::Changed if self.from.is_none() => format!("{} reworded", self.key),
            Presence::Changed => match (&self.from, &self.to) {
                (Some(from), Some(to)) if is_long(from) && is_long(to) => format!("{}: {}", self.key, words(from, to)),
                _ => format!("{}: {} → {}", self.key, value(&self.from), value(&self.to)),
            },
        }
    }

    /// What it holds, in one line; none: nothing, or more than that.
    fn held(&self) -> Option<String> {
        let one = |(key, value): &(String, String)| format!("{key} = {}", cut(value));
        let line = self.holds.iter().map(one).collect::<Vec<_>>().join("; ");
        (!line.is_empty() && line.chars().count() <= LINE).then_some(line)
    }

    /// The first part of the key.
    pub fn top(&self) -> &str {
        self.key.split('.').next().unwrap_or(&self.key)
    }
}

/// The longest that is said of what a table holds, in characters.
const LINE: usize = 160;

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

/// The longest value that is said in full, in characters.
const CUT: usize = 72;

/// Long values are cut: what they say is in the file.
fn cut(value: &str) -> String {
    if value.chars().count() <= CUT {
        return value.to_string();
    }
    value.chars().take(CUT - 1).chain(['…']).collect()
}

/// Whether a path leads through a list whose tables have no names of their own, so that they are counted.
pub(super) fn is_counted(path: &str) -> bool {
    path.split(PART).skip(1).any(|part| part.bytes().all(|byte| byte.is_ascii_digit()))
}

/// A file of the project: what its front matter and its body say.
pub(super) struct Told<'t> {
    table: Table<'t>,
    body: &'t str,
}

impl<'t> Told<'t> {
    pub(super) fn of(text: &'t str) -> Told<'t> {
        match document(FileId(0), text, &mut Findings::new()) {
            Parsed::Document(document) => Told { table: document.table, body: document.body },
            Parsed::Other | Parsed::Broken => Told { table: Table::default(), body: text },
        }
    }

    /// All of its keys.
    pub(super) fn flat(&self) -> Flat {
        flat(&self.table)
    }

    /// The text that a key at the top holds.
    pub(super) fn text(&self, key: &str) -> Option<&str> {
        match &self.table.get(key)?.1.value {
            Value::String(text) => Some(text),
            _ => None,
        }
    }

    /// How its keys differ from those of an earlier version; `is_wanted` is asked of the keys at the top.
    pub(super) fn since(&self, then: &Told<'_>, is_wanted: impl Fn(&str) -> bool) -> Vec<KeyChange> {
        // What a key at the top holds is laid out only where it is not the same: of most it is.
        let side = |own: &Table<'_>, other: &Table<'_>| {
            let mut flat = Flat::new();
            for (key, node) in own.entries().filter(|(key, _)| is_wanted(key.text())) {
                if !other.get(key.text()).is_some_and(|(_, other)| node.value.says_the_same(&other.value)) {
                    flatten(key.text(), &node.value, &mut flat);
                }
            }
            flat
        };
        differences(&side(&then.table, &self.table), &side(&self.table, &then.table))
    }

    /// The bodies of an earlier version and of this one, with white space folded, if they differ.
    pub(super) fn bodies_since(&self, then: &Told<'_>) -> Option<(String, String)> {
        if then.body == self.body {
            return None;
        }
        let (then, now) = (plain_spaces(then.body), plain_spaces(self.body));
        (then != now).then(|| (then.into_owned(), now.into_owned()))
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

fn flat(table: &Table<'_>) -> Flat {
    let mut flat = Flat::new();
    for (key, value) in table.entries() {
        flatten(key.text(), &value.value, &mut flat);
    }
    flat
}

fn flatten(path: &str, value: &Value<'_>, flat: &mut Flat) {
    match value {
        Value::Table(table) => {
            for (key, value) in table.entries() {
                flatten(&format!("{path}{PART}{}", key.text()), &value.value, flat);
            }
        }
        Value::Array(array) if array.iter().any(|element| matches!(element.value, Value::Table(_))) => {
            let named: Vec<Option<String>> = array.iter().map(|element| name(&element.value)).collect();
            for (at, element) in array.iter().enumerate() {
                let own =
                    named[at].as_ref().filter(|own| named.iter().flatten().filter(|other| other == own).count() == 1);
                let label = own.cloned().unwrap_or_else(|| (at + 1).to_string());
                flatten(&format!("{path}{PART}{label}"), &element.value, flat);
            }
        }
        Value::Array(array) => {
            let list: Vec<String> = array.iter().map(|element| scalar(&element.value)).collect();
            flat.insert(path.to_string(), list.join(", "));
        }
        other => {
            flat.insert(path.to_string(), scalar(other));
        }
    }
}

fn name(value: &Value<'_>) -> Option<String> {
    let Value::Table(table) = value else { return None };
    NAMES.iter().find_map(|wanted| {
        let (_, value) = table.entries().find(|(key, _)| key.text() == *wanted)?;
        Some(scalar(&value.value))
    })
}

fn scalar(value: &Value<'_>) -> String {
    match value {
        Value::String(text) => plain_spaces(text).into_owned(),
        Value::Integer(number, _) => number.to_string(),
        Value::Float(number) => number.to_string(),
        Value::Boolean(flag) => flag.to_string(),
        Value::Datetime(date) => date.to_string(),
        Value::Array(_) | Value::Table(_) => "…".to_string(),
    }
}

/// How two sets of keys differ; a table that came or went as a whole is told once, or part by part where that says what it holds.
pub(super) fn differences(then: &Flat, now: &Flat) -> Vec<KeyChange> {
    let mut found: Vec<KeyChange> = Vec::new();
    let mut paths: Vec<&String> = then.keys().chain(now.keys()).collect();
    paths.sort();
    paths.dedup();
    let mut split: (&str, Vec<String>) = ("", Vec::new());
    for path in paths {
        let (from, to) = (then.get(path), now.get(path));
        let (change, own, other) = match (from, to) {
            (Some(from), Some(to)) if from == to => continue,
            (Some(_), Some(_)) => (Presence::Changed, now, then),
            (None, _) => (Presence::Added, now, then),
            (_, None) => (Presence::Removed, then, now),
        };
        let highest = if change == Presence::Changed { path.as_str() } else { highest(path, other) };
        if split.0 != highest {
            split = (highest, shown_parts(highest, own));
        }
        let is_in =
            |whole: &&String| path.strip_prefix(whole.as_str()).is_some_and(|it| it.is_empty() || it.starts_with(PART));
        let Some(whole) = split.1.iter().find(is_in) else { continue };
        let key = whole.replace(PART, ".");
        if found.last().is_some_and(|last| last.key == key && last.change == change) {
            continue;
        }
        let leaf = whole == path;
        let holds = if leaf { Vec::new() } else { below(whole, own) };
        let (from, to) = (from.filter(|_| leaf).cloned(), to.filter(|_| leaf).cloned());
        found.push(KeyChange { key, from, to, holds, change });
    }
    found
}

/// Some keys of a thing that is at one point alone, those at the top by name, each as a whole.
pub(super) fn of_whole(flat: &Flat, wanted: &[&str]) -> Vec<KeyChange> {
    let is_wanted = |path: &String| wanted.contains(&path.split(PART).next().unwrap_or_default());
    let own: Flat =
        flat.iter().filter(|(path, _)| is_wanted(path)).map(|(path, it)| (path.clone(), it.clone())).collect();
    let mut found = differences(&Flat::new(), &own);
    found.sort_by_key(|key| wanted.iter().position(|own| *own == key.top()));
    found.into_iter().map(|key| KeyChange { change: Presence::Whole, ..key }).collect()
}

/// The parts in which a table that came or went is told, so that each fits a line; itself, if those would be many.
fn shown_parts(whole: &str, own: &Flat) -> Vec<String> {
    const MOST: usize = 8;
    let parts = fitting(whole, own);
    if parts.len() > MOST { vec![whole.to_string()] } else { parts }
}

fn fitting(whole: &str, own: &Flat) -> Vec<String> {
    let lead = format!("{whole}{PART}");
    let held = below(whole, own);
    let long: usize = held.iter().map(|(key, value)| key.chars().count() + value.chars().count().min(CUT) + 5).sum();
    if long <= LINE || own.contains_key(whole) {
        return vec![whole.to_string()];
    }
    let inside = own.range(lead.clone()..).take_while(|(path, _)| path.starts_with(&lead));
    let told = inside.filter(|(path, value)| !repeats(path, value));
    let children: BTreeSet<&str> = told.filter_map(|(path, _)| path[lead.len()..].split(PART).next()).collect();
    children.into_iter().flat_map(|child| fitting(&format!("{lead}{child}"), own)).collect()
}

/// Whether a value is the name by which its table is told from others.
fn repeats(path: &str, value: &str) -> bool {
    let mut parts = path.rsplit(PART);
    let (last, above) = (parts.next().unwrap_or_default(), parts.next());
    NAMES.contains(&last) && above == Some(value)
}

/// What stands below a path, without what only repeats a part's name; of a list with one part its number is left out.
fn below(whole: &str, flat: &Flat) -> Vec<(String, String)> {
    let lead = format!("{whole}{PART}");
    let held = flat.range(lead.clone()..).take_while(|(path, _)| path.starts_with(&lead));
    // More than that never fits.
    let held = held.filter(|(path, value)| !repeats(path, value)).take(LINE / 4);
    let held: Vec<(&str, &String)> = held.map(|(path, value)| (&path[lead.len()..], value)).collect();
    let only = "1\u{1f}";
    let alone = held.iter().all(|(path, _)| path.starts_with(only));
    let short = |path: &str| path.strip_prefix(only).filter(|_| alone).unwrap_or(path).replace(PART, ".");
    held.into_iter().map(|(path, value)| (short(path), value.clone())).collect()
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
        let expected = [
            "a: 1 → 2",
            "gone removed: x = 1; y = 2",
            "list: x → x, y",
            "serials.SN01.use: service → spare",
            "serials.SN02 added",
        ];
        assert_eq!(told, expected);
        assert!(differences(&settings(then), &settings(then)).is_empty());
    }

    #[test]
    fn what_a_table_holds_is_said_where_it_fits_a_line_and_part_by_part_where_it_does_not() {
        let told = |now: &str| -> Vec<String> {
            differences(&settings("a = 1\n"), &settings(&format!("a = 1\n{now}"))).iter().map(KeyChange::show).collect()
        };
        assert_eq!(told("[life.strokes]\nlimit = 50\n"), ["life added: strokes.limit = 50"]);
        assert_eq!(
            told("[[serials]]\nnumber = \"SN02\"\nused.strokes = 12\n"),
            ["serials added: SN02.used.strokes = 12"]
        );
        let role = "[[roles]]\nmethod = \"test\"\nwitnessed_by = [\"pad chief\", \"safety lead\"]\n";
        assert_eq!(told(role), ["roles added: method = test; witnessed_by = pad chief, safety lead"]);
        let other = "[[roles]]\nmethod = \"inspection\"\nwitnessed_by = [\"somebody with quite a long name and a long title\", \"another of them\"]\n";
        assert_eq!(
            told(&format!("{role}{other}")),
            [
                "roles.1 added: method = test; witnessed_by = pad chief, safety lead",
                "roles.2 added: method = inspection; witnessed_by = somebody with quite a long name and a long title, another of them",
            ]
        );
        let many: String =
            (0..20).map(|at| format!("[[list]]\nname = \"a long name of one of them {at}\"\nx = 1\n")).collect();
        assert_eq!(told(&many), ["list added"], "what is long is in the file");
    }

    #[test]
    fn of_a_whole_thing_the_keys_that_matter_are_told() {
        let waiver = settings("reason = \"r\"\nrequirement = \"R-1\"\n[accepts.mass]\nmax = \"5.0 kg\"\n");
        let told: Vec<String> = of_whole(&waiver, &["requirement", "accepts"]).iter().map(KeyChange::show).collect();
        assert_eq!(told, ["requirement: R-1", "accepts: mass.max = 5.0 kg"]);
    }
}
