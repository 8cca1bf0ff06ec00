//! The collector of findings.

use std::collections::BTreeMap;

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
        for finding in findings {
            self.push(finding);
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
        let key = |finding: &Finding| -> (String, u32, u32) {
            match &finding.place {
                Place::At(Span { file, start, end }) => (sources.file(*file).path.to_string(), *start, *end),
                Place::Path(path) => (path.to_string(), 0, 0),
                Place::Project => (String::new(), 0, 0),
            }
        };
        self.list.sort_by_cached_key(|finding| (key(finding), finding.code, finding.message.clone()));
    }
}

impl IntoIterator for Findings {
    type Item = Finding;
    type IntoIter = std::vec::IntoIter<Finding>;
    fn into_iter(self) -> Self::IntoIter {
        self.list.into_iter()
    }
}
