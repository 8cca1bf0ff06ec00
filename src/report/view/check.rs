//! What is wrong with the files.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::analysis::Analysis;
use crate::config::Level;
use crate::diag::{Class, Finding};
use crate::history::Guard;

use super::{FindingView, Heading};

/// Every finding, in the order of places.
#[derive(Clone, Debug, Serialize)]
pub struct CheckView {
    /// Where it came from.
    #[serde(flatten)]
    pub heading: Heading,
    /// How many of each class, as shown.
    pub counts: BTreeMap<&'static str, usize>,
    /// The findings.
    pub findings: Vec<FindingView>,
}

/// Gathers the findings and applies the project's levels: the one place where they act.
pub fn check(analysis: &Analysis, guard: &Guard) -> CheckView {
    let mut findings: Vec<FindingView> = analysis
        .findings
        .iter()
        .chain(&guard.findings)
        .filter_map(|finding| Some(FindingView::of(finding, &analysis.sources).shown_as(class(analysis, finding)?)))
        .collect();
    findings.sort_by(|a, b| {
        let key = |view: &FindingView| (view.path.clone(), view.line, view.column, view.code);
        key(a).cmp(&key(b))
    });
    let mut counts: BTreeMap<&'static str, usize> =
        [Class::Fault, Class::Gap, Class::Warning, Class::Note].iter().map(|class| (class.word(), 0)).collect();
    for finding in &findings {
        *counts.entry(finding.class).or_default() += 1;
    }
    CheckView { heading: Heading::of(analysis), counts, findings }
}

/// The class that a finding is shown with; none if the project turned it off.
fn class(analysis: &Analysis, finding: &Finding) -> Option<Class> {
    let class = finding.class();
    if matches!(class, Class::Fault | Class::Gap) {
        return Some(class);
    }
    match analysis.model.config.levels.get(finding.code) {
        None => Some(class),
        Some((Level::Warning, _)) => Some(Class::Warning),
        Some((Level::Note, _)) => Some(Class::Note),
        Some((Level::Off, _)) => None,
    }
}
