//! How a project names and places its files, learnt from those it has.

use std::collections::{BTreeMap, BTreeSet};

use crate::analysis::Analysis;
use crate::model::{Id, Model};
use crate::text::RepoPath;

/// What a project without any file of a kind starts with: prefix, digits, folder.
const STARTS: &[(&str, &str, usize, &str)] = &[
    ("requirement", "R-", 3, "requirements"),
    ("analysis", "AN-", 3, "records"),
    ("test", "TR-", 3, "records"),
    ("inspection", "IN-", 3, "records"),
    ("demonstration", "DM-", 3, "records"),
    ("item", "ITEM-", 2, "items"),
    ("slot", "SLOT-", 2, "items"),
    ("procedure", "TP-", 2, "procedures"),
    ("decision", "D-", 3, "decisions"),
    ("nonconformance", "NC-", 3, "departures"),
    ("waiver", "W-", 3, "departures"),
    ("event", "EV-", 3, "events"),
];

fn start(kind: &str) -> (&'static str, usize, &'static str) {
    let found = STARTS.iter().find(|(word, ..)| *word == kind);
    found.map_or(("X-", 3, ""), |(_, prefix, digits, folder)| (*prefix, *digits, *folder))
}

/// An id as a prefix and a number, with how many digits the number is written.
fn numbered(id: &str) -> Option<(&str, u64, usize)> {
    let prefix = id.trim_end_matches(|c: char| c.is_ascii_digit());
    let digits = &id[prefix.len()..];
    Some((prefix, digits.parse().ok()?, digits.len())).filter(|(prefix, ..)| !prefix.is_empty())
}

fn of_kind<'m>(model: &'m Model, kind: &str) -> impl Iterator<Item = &'m Id> {
    model.ids().filter(move |(_, place)| model.kind(*place) == kind).map(|(id, _)| id)
}

/// The next free id of a kind: the prefix that most of them have, and the number after the greatest.
///
/// Where most numbers are tens, so is the next. None of those that are `taken`, as things had them once or have
/// them on another branch.
pub(super) fn next_id(model: &Model, kind: &str, taken: &BTreeSet<String>) -> Id {
    let mut by_prefix: BTreeMap<&str, Vec<(u64, usize)>> = BTreeMap::new();
    for (prefix, number, digits) in of_kind(model, kind).filter_map(|id| numbered(id)) {
        by_prefix.entry(prefix).or_default().push((number, digits));
    }
    let most = by_prefix.iter().rev().max_by_key(|(_, numbers)| numbers.len());
    let (prefix, last, digits, step) = match most {
        Some((prefix, numbers)) => {
            let (last, digits) = numbers.iter().copied().max().unwrap_or((0, 3));
            let tens = numbers.iter().filter(|(number, _)| number % 10 == 0).count();
            let by_tens = numbers.len() > 1 && tens * 2 > numbers.len();
            (*prefix, if by_tens { last / 10 * 10 } else { last }, digits, if by_tens { 10 } else { 1 })
        }
        None => {
            let (prefix, digits, _) = start(kind);
            (prefix, 0, digits, 1)
        }
    };
    let mut number = last;
    loop {
        number = number.saturating_add(step);
        let id = format!("{prefix}{number:0digits$}");
        let is_free = || !taken.contains(&id) && !model.ids().any(|(own, _)| own.eq_ignore_ascii_case(&id));
        if number == u64::MAX || is_free() {
            return Id::new(&id);
        }
    }
}

/// Paths of the files of a kind; of those with the same prefix as `id`, if there are any.
fn paths<'a>(analysis: &'a Analysis, kind: &str, id: &Id) -> Vec<(&'a Id, &'a RepoPath)> {
    let model = &analysis.model;
    let all = model.ids().filter(|(_, place)| model.kind(*place) == kind);
    let all: Vec<_> = all.map(|(own, place)| (own, analysis.path(model.head(place).file))).collect();
    let prefix = numbered(id).map(|(prefix, ..)| prefix);
    let alike: Vec<_> = all.iter().copied().filter(|(own, _)| numbered(own).map(|(own, ..)| own) == prefix).collect();
    if alike.is_empty() { all } else { alike }
}

/// The folder that most files of a kind are in; of several, the first by name.
pub(super) fn folder(analysis: &Analysis, kind: &str, id: &Id) -> String {
    let mut count: BTreeMap<&str, usize> = BTreeMap::new();
    for (_, path) in paths(analysis, kind, id) {
        *count.entry(path.folder()).or_default() += 1;
    }
    let most = count.iter().rev().max_by_key(|(_, count)| **count);
    most.map_or_else(|| start(kind).2.to_string(), |(folder, _)| (*folder).to_string())
}

/// The file's name: the id, in small letters if that is how most of them are.
pub(super) fn file_name(analysis: &Analysis, kind: &str, id: &Id) -> String {
    let all = paths(analysis, kind, id);
    let small = all.iter().filter(|(own, path)| {
        let name = path.file_name();
        own.as_str() != own.to_lowercase() && name == format!("{}.md", own.to_lowercase())
    });
    if small.count() * 2 > all.len() { format!("{}.md", id.to_lowercase()) } else { format!("{id}.md") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::{Request, run};
    use crate::source::Memory;

    fn project(files: &[(&str, &str, &str)]) -> Analysis {
        let mut memory = Memory::new().file("slipmark.toml", "name = \"P\"\nevents = [\"go\"]\n");
        for (path, kind, id) in files {
            memory =
                memory.file(path, format!("+++\nkind = \"{kind}\"\nid = \"{id}\"\ntitle = \"T\"\n+++\nIt shall.\n"));
        }
        run(&memory, Request::on(jiff::civil::date(2026, 1, 2))).expect("a project")
    }

    #[test]
    fn ids_go_on_as_they_were() {
        let taken = |taken: &[&str]| taken.iter().map(|id| id.to_string()).collect::<BTreeSet<String>>();
        let next = |files: &[(&str, &str, &str)], kind| next_id(&project(files).model, kind, &taken(&[])).to_string();
        assert_eq!(next(&[], "test"), "TR-001");
        assert_eq!(next(&[("a.md", "test", "T9")], "test"), "T10");
        assert_eq!(next(&[("a.md", "test", "TR-009"), ("b.md", "slot", "tr-010")], "test"), "TR-011");
        let tens = ["A-010", "A-030", "A-035", "B-1"].map(|id| (id, "requirement", id));
        let tens = tens.map(|(_, kind, id)| (format!("{id}.md"), kind, id));
        let tens: Vec<(&str, &str, &str)> = tens.iter().map(|(path, kind, id)| (path.as_str(), *kind, *id)).collect();
        assert_eq!(next(&tens, "requirement"), "A-040");
        assert_eq!(next(&[("a.md", "decision", "choice")], "decision"), "D-001");
        let once = taken(&["TR-010", "TR-012"]);
        assert_eq!(next_id(&project(&[("a.md", "test", "TR-009")]).model, "test", &once).as_str(), "TR-011");
        assert_eq!(next_id(&project(&[("a.md", "test", "TR-011")]).model, "test", &once).as_str(), "TR-013");
    }

    #[test]
    fn files_go_where_their_like_are() {
        let files = [("x/tr-1.md", "test", "TR-1"), ("x/tr-2.md", "test", "TR-2"), ("y/in-1.md", "test", "IN-1")];
        let analysis = project(&files);
        let place = |id: &str| (folder(&analysis, "test", &Id::new(id)), file_name(&analysis, "test", &Id::new(id)));
        assert_eq!(place("TR-3"), ("x".into(), "tr-3.md".into()));
        assert_eq!(place("IN-2"), ("y".into(), "in-2.md".into()));
        assert_eq!(folder(&analysis, "waiver", &Id::new("W-001")), "departures");
        assert_eq!(file_name(&analysis, "waiver", &Id::new("W-001")), "W-001.md");
    }
}
