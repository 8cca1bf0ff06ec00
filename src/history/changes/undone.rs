//! The evidence that stood at the earlier point and does not stand now, each under the change that undid it.
//!
//! Both points are judged by the one derivation that all rows come from, and on the same day: what only lapsed between them was undone
//! by no change. A mark that slipped is told with its requirement, and not here.

use std::collections::{BTreeMap, BTreeSet};

use crate::analysis::Analysis;
use crate::analysis::beside::{Known, fresh, known, pairs, replaced};
use crate::history::versions::ChangeKind;
use crate::model::Id;
use crate::source::PROJECT_FILE;
use crate::state::{Reason, Row, State};

use super::told::Change;

/// A reason for which rows do not stand any more.
#[derive(Clone, Debug)]
pub struct Undone {
    /// The state that it makes.
    pub state: State,
    /// The evidence, if the reason is about some.
    pub record: Option<String>,
    /// Its code.
    pub code: &'static str,
    /// What was found.
    pub text: String,
    /// What to do next.
    pub help: String,
    /// The rows.
    pub rows: Vec<UndoneRow>,
}

/// A row that does not stand any more.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UndoneRow {
    /// The requirement.
    pub requirement: String,
    /// On what.
    pub subject: String,
}

/// A row of now, with why it does not stand any more.
pub(in crate::history) struct Lost<'r> {
    pub(in crate::history) row: &'r Row,
    pub(in crate::history) requirement: &'r str,
    /// Each reason, with the change that is behind it, by position.
    pub(in crate::history) reasons: Vec<(&'r Reason, Option<usize>)>,
}

/// Rows of the earlier point, by what stands in for their requirements now.
pub(in crate::history) fn before(then: &Analysis, now: &Analysis) -> Vec<Known> {
    known(&then.model, then.rows(None), &replaced(&now.model))
}

/// The rows of now that stood at the earlier point and do not any more, or whose evidence did.
pub(in crate::history) fn lost<'r>(before: Vec<Known>, rows: &'r [Known], list: &[Change]) -> Vec<Lost<'r>> {
    let behind = Behind::of(list);
    let mut found: Vec<Lost<'r>> = Vec::new();
    for (then, now) in pairs(before, rows) {
        let (Some(then), Some(now)) = (then, now) else { continue };
        let reasons = not_before(&then.row, &now.row).into_iter().filter(|reason| !behind.slipped(now, reason));
        let reasons: Vec<_> = reasons.map(|reason| (reason, behind.change(&then.row, now, reason))).collect();
        if !reasons.is_empty() {
            found.push(Lost { row: &now.row, requirement: &now.requirement, reasons });
        }
    }
    follow_children(&mut found, &behind);
    found
}

/// Why a row does not stand any more; of one that was open, why the evidence that it rested on is void now and was not.
fn not_before<'r>(then: &Row, now: &'r Row) -> Vec<&'r Reason> {
    if then.state.is_open() || !now.state.is_open() {
        return voided(then, now);
    }
    let new = fresh(then, now);
    // A waiver does not cover any more what it did.
    if new.is_empty() { now.reasons().collect() } else { new }
}

fn voided<'r>(then: &Row, now: &'r Row) -> Vec<&'r Reason> {
    let mut found = Vec::new();
    for criterion in &now.criteria {
        let Some(before) = then.criteria.iter().find(|own| own.name == criterion.name) else { continue };
        let Some(record) = &before.record else { continue };
        let is_void = |reason: &&Reason| reason.state == State::Void && reason.record.as_ref() == Some(record);
        // What had lapsed may have been undone by a change all the same.
        if before.reasons.iter().filter(is_void).any(|reason| reason.code != "lapsed") {
            continue;
        }
        let lapsed = before.reasons.iter().filter(is_void).count() > 0;
        found.extend(criterion.reasons.iter().filter(is_void).filter(|reason| !lapsed || reason.code != "lapsed"));
    }
    found
}

/// What of a row's parent falls with it is told where the row is.
fn follow_children(found: &mut [Lost<'_>], behind: &Behind<'_>) {
    let mut because: BTreeMap<String, usize> = behind.slipping.clone();
    loop {
        for lost in found.iter() {
            if let Some(at) = lost.reasons.iter().find_map(|(_, at)| *at) {
                because.entry(lost.requirement.to_string()).or_insert(at);
            }
        }
        let mut moved = false;
        let open = found.iter_mut().flat_map(|lost| &mut lost.reasons).filter(|(_, at)| at.is_none());
        for (reason, at) in open.filter(|(reason, _)| reason.code == "child-open") {
            *at = reason.because_of.as_ref().and_then(|child| because.get(child.as_str()).copied());
            moved |= at.is_some();
        }
        if !moved {
            return;
        }
    }
}

/// The changes, as what reasons are laid to.
struct Behind<'c> {
    list: &'c [Change],
    by_id: BTreeMap<&'c str, Vec<usize>>,
    /// Requirements whose own change slipped evidence.
    slipping: BTreeMap<String, usize>,
    /// Evidence that slipped: requirement and record.
    slipped: BTreeSet<(&'c str, &'c str)>,
}

impl<'c> Behind<'c> {
    fn of(list: &'c [Change]) -> Behind<'c> {
        let mut behind = Behind { list, by_id: BTreeMap::new(), slipping: BTreeMap::new(), slipped: BTreeSet::new() };
        for (at, change) in list.iter().enumerate() {
            behind.slipped.extend(change.evidence.iter().map(|own| (change.id.as_str(), own.record.as_str())));
            if !change.evidence.is_empty() {
                behind.slipping.insert(change.id.clone(), at);
            }
            // What only moved, or looks, undoes nothing.
            let small = matches!(change.between.kind, ChangeKind::Moved | ChangeKind::Cosmetic);
            if !small && !change.between.only_reaffirmed {
                behind.by_id.entry(&change.id).or_default().push(at);
            }
        }
        behind
    }

    /// Whether a reason is told as a mark that slipped.
    fn slipped(&self, now: &Known, reason: &Reason) -> bool {
        let record = reason.record.as_ref().map(Id::as_str);
        reason.state == State::Slipped && record.is_some_and(|it| self.slipped.contains(&(&*now.requirement, it)))
    }

    /// The change behind a reason: of the thing that it names; else of the evidence it is about, of that which stood before, of the
    /// waiver that covered it, of the requirement's plan or reach, or of what the project file says of all.
    fn change(&self, then: &Row, now: &Known, reason: &Reason) -> Option<usize> {
        let records = then.criteria.iter().filter_map(|own| own.record.as_ref());
        let named = reason.because_of.as_ref().filter(|_| reason.code != "child-open");
        let own = named.and_then(|id| self.of_sort(id, Sort::of(reason.code)));
        let things = reason.record.iter().chain(records).chain(&then.waiver);
        own.or_else(|| things.into_iter().find_map(|id| self.of_sort(id, Sort::Thing)))
            .or_else(|| self.asked(&now.requirement))
            .or_else(|| {
                DEPENDS_ON_SETTINGS.contains(&reason.code).then(|| self.of_sort(PROJECT_FILE, Sort::Project))?
            })
            .filter(|_| reason.code != "child-open")
    }

    fn of_sort(&self, id: &str, sort: Sort) -> Option<usize> {
        let all = self.by_id.get(id)?;
        all.iter().copied().find(|at| sort.has(&self.list[*at].kind))
    }

    /// The change of a requirement, if it asks for something else or in another way.
    fn asked(&self, requirement: &str) -> Option<usize> {
        let at = self.of_sort(requirement, Sort::Thing)?;
        let it = &self.list[at].between;
        let same = it.statement.is_none() && it.criteria.is_empty() && it.reach.is_empty() && it.plan.is_empty();
        (!same || it.kind == ChangeKind::Added).then_some(at)
    }
}

/// Reasons that may come from what the project file says: its rule of decision, the dates of its events.
const DEPENDS_ON_SETTINGS: &[&str] =
    &["lapsed", "straddles-limit", "no-uncertainty", "on-the-limit", "too-few-trials", "role-missing"];

/// Of what sort the thing is that a reason names: names of settings may be those of things.
#[derive(Clone, Copy)]
enum Sort {
    Any,
    Thing,
    Instrument,
    Project,
}

impl Sort {
    fn of(code: &str) -> Sort {
        match code {
            "instrument-recalled" | "instrument-not-calibrated" => Sort::Instrument,
            "role-missing" => Sort::Project,
            // What something rests on may be void because of any of them.
            "rests-on-void" => Sort::Any,
            _ => Sort::Thing,
        }
    }

    fn has(self, kind: &str) -> bool {
        match self {
            Sort::Any => true,
            Sort::Thing => !matches!(kind, "instrument" | "parameter" | "project"),
            Sort::Instrument => kind == "instrument",
            Sort::Project => kind == "project",
        }
    }
}

/// The order in which reasons are told: by change and state; evidence first, and what has none, such as a parent whose child is open,
/// after it; then by code and text.
type Place<'r> = (Option<usize>, State, bool, Option<&'r Id>, &'r str, &'r str);

/// What was lost, by reason: under each change, and what no one change is behind.
pub(super) fn tell(lost: &[Lost<'_>], list: &mut [Change]) -> Vec<Undone> {
    let mut told: BTreeMap<Place<'_>, Undone> = BTreeMap::new();
    for own in lost {
        let row = UndoneRow { requirement: own.requirement.to_string(), subject: own.row.subject.to_string() };
        for (reason, at) in &own.reasons {
            let record = reason.record.as_ref();
            let key = (*at, reason.state, record.is_none(), record, reason.code, reason.text.as_str());
            let undone = told.entry(key).or_insert_with(|| Undone::of(reason));
            if !undone.rows.contains(&row) {
                undone.rows.push(row.clone());
            }
        }
    }
    let mut rest = Vec::new();
    for ((at, ..), undone) in told {
        match at {
            Some(at) => list[at].undone.push(undone),
            None => rest.push(undone),
        }
    }
    rest
}

impl Undone {
    fn of(reason: &Reason) -> Undone {
        Undone {
            state: reason.state,
            record: reason.record.as_ref().map(Id::to_string),
            code: reason.code,
            text: reason.text.clone(),
            help: reason.help.clone(),
            rows: Vec::new(),
        }
    }
}
