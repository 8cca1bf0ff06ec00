//! The collector of findings.

use std::collections::BTreeMap;

use rayon::prelude::*;

use crate::text::{SourceMap, Span};

use super::{Class, Finding, Place, Switch};

/// Findings as they come in, put into order before they are shown.
#[derive(Clone, Debug, Default)]
pub struct Findings {
    list: Vec<Finding>,
    switch: Switch,
}

impl Findings {
    /// An empty collector.
    pub fn new() -> Self {
        Findings::default()
    }

    /// A collector that obeys a test switch.
    pub fn with(switch: Switch) -> Self {
        Findings { list: Vec::new(), switch }
    }

    /// Adds one.
    pub fn push(&mut self, finding: Finding) {
        if !self.switch.is_off(finding.code) {
            self.list.push(finding);
        }
    }

    /// Adds several.
    pub fn extend(&mut self, findings: impl IntoIterator<Item = Finding>) {
        let findings = findings.into_iter();
        self.list.reserve(findings.size_hint().0);
        for finding in findings {
            self.push(finding);
        }
    }

    /// Takes over what was found side by side, with room for all of it at once: there may be tens of thousands.
    pub fn append_all(&mut self, parts: Vec<Findings>) {
        self.list.reserve(parts.iter().map(|part| part.list.len()).sum());
        parts.into_iter().for_each(|part| self.append(part));
    }

    /// The same of many short lists.
    pub fn extend_from_lists(&mut self, lists: Vec<Vec<Finding>>) {
        self.list.reserve(lists.iter().map(Vec::len).sum());
        lists.into_iter().for_each(|list| self.extend(list));
    }

    /// Takes over all that another collector has, room and all where this one has none.
    pub fn append(&mut self, mut other: Findings) {
        other.list.retain(|finding| !self.switch.is_off(finding.code));
        match self.list.capacity() {
            0 => self.list = other.list,
            _ => self.list.append(&mut other.list),
        }
    }

    /// All of them.
    pub fn iter(&self) -> std::slice::Iter<'_, Finding> {
        self.list.iter()
    }

    /// Those of one class.
    pub fn of(&self, class: Class) -> impl Iterator<Item = &Finding> {
        self.list.iter().filter(move |finding| finding.class() == class)
    }

    /// How many of each class.
    pub fn counts(&self) -> BTreeMap<Class, usize> {
        let mut counts = BTreeMap::new();
        for finding in &self.list {
            *counts.entry(finding.class()).or_default() += 1;
        }
        counts
    }

    /// Puts them into the order in which they are shown: path, place, code.
    pub fn sort(&mut self, sources: &SourceMap) {
        fn key<'f>(finding: &'f Finding, sources: &'f SourceMap) -> (&'f str, u32, u32, &'static str, &'f str) {
            let (path, start, end) = match &finding.place {
                Place::At(Span { file, start, end }) => (sources.file(*file).path.as_str(), *start, *end),
                Place::Path(path) => (path.as_str(), 0, 0),
                Place::Project => ("", 0, 0),
            };
            (path, start, end, finding.code, &finding.message)
        }
        self.list.par_sort_by(|a, b| key(a, sources).cmp(&key(b, sources)));
    }
}

impl IntoIterator for Findings {
    type Item = Finding;
    type IntoIter = std::vec::IntoIter<Finding>;
    fn into_iter(self) -> Self::IntoIter {
        self.list.into_iter()
    }
}
