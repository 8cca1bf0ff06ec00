//! Checks: what the stages before have not said already.
//!
//! In: [`Subject`]: facts, texts, the list of files. Out: findings. A check does no I/O, never prints and never knows
//! about levels; states never depend on it.
//!
//! To add one: a file in `rules/` with a `pub const CHECK`, a line in `registry`, the codes in the
//! [catalogue](crate::diag::catalogue), and a case in `tests/checks`. Tests fail if one is forgotten.

mod registry;
mod rules;
pub mod wording;

#[cfg(test)]
#[expect(clippy::disallowed_methods, reason = "the cases are files of this repository")]
mod tests;

use rayon::prelude::*;

use crate::diag::{Due, Findings};
use crate::model::kinds::{PlanEntry, Requirement};
use crate::source::Snapshot;
use crate::state::Facts;
use crate::state::scope::event_of;
use crate::templates::Templates;
use crate::text::SourceMap;

/// What a check may look at.
#[derive(Clone, Copy)]
pub struct Subject<'a> {
    /// The project and what follows from it.
    pub facts: Facts<'a>,
    /// The texts.
    pub sources: &'a SourceMap,
    /// The files.
    pub snapshot: &'a Snapshot,
    /// What pages are set with.
    pub templates: &'a Templates,
    /// Whether the wording of statements is looked at, which takes longer than all the rest.
    pub wording: bool,
}

/// One check: the codes it can raise, and how.
pub struct Check {
    /// The name of its file.
    pub name: &'static str,
    /// The codes.
    pub codes: &'static [&'static str],
    /// Raises them.
    pub run: fn(&Subject<'_>, &mut Findings),
}

/// Runs every check, side by side; what they find stands in the order of the registry.
pub fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let one = |check: &Check| {
        let mut found = Findings::with(subject.facts.switch);
        (check.run)(subject, &mut found);
        found
    };
    let found: Vec<Findings> = registry::CHECKS.par_iter().with_max_len(1).map(one).collect();
    findings.append_all(found);
}

/// When what an entry, or a requirement as a whole, lacks must be there.
fn due(facts: &Facts<'_>, requirement: &Requirement, entry: Option<&PlanEntry>) -> Due {
    Due::Before(event_of(facts, requirement, entry))
}

/// When the first of a requirement's entries is due.
pub(crate) fn earliest(facts: &Facts<'_>, requirement: &Requirement) -> Due {
    let entries = requirement.plan.iter().map(|entry| due(facts, requirement, Some(entry)));
    entries.min().unwrap_or_else(|| due(facts, requirement, None))
}
