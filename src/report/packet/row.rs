//! A row as the packet shows it: in the open list, in the matrix, and in its requirement's part.

use serde::Serialize;

use super::html::Html;
use super::links::{Link, Linker, anchor};
use crate::analysis::Analysis;
use crate::model::kinds::Stage;
use crate::report::view::{ReasonView, RowView, to_do};
use crate::state::{EntryRef, State};

/// One row.
#[derive(Clone, Debug, Serialize)]
pub(in crate::report) struct RowPart {
    /// Its place in the matrix, from 1.
    pub(in crate::report) number: usize,
    /// Its name in the requirement's part, and the ways there and to its line in the matrix.
    anchor: String,
    href: String,
    in_matrix: String,
    pub(in crate::report) state: &'static str,
    pub(in crate::report) open: bool,
    pub(in crate::report) safety: bool,
    pub(in crate::report) requirement: Link,
    title: String,
    owner: Option<String>,
    subject: Link,
    method: Option<&'static str>,
    stage: Option<&'static str>,
    /// The procedure, and its revision now.
    procedure: Option<Link>,
    procedure_revision: Option<String>,
    pub(in crate::report) before: Option<String>,
    on: Option<&'static str>,
    /// What must come first on the same piece, and how long a result holds.
    after: Vec<Link>,
    again_after: Vec<Link>,
    valid_for: Option<String>,
    facility: Option<String>,
    by: Option<String>,
    pub(in crate::report) by_children: bool,
    /// Whether each piece must show it when it is accepted.
    acceptance: &'static str,
    pub(in crate::report) records: Vec<Link>,
    criteria: Vec<CriterionPart>,
    reasons: Vec<ReasonPart>,
    covers: Option<&'static str>,
    waiver: Option<Link>,
    compliance: Compliance,
    closeout: &'static str,
}

/// One criterion of a row.
#[derive(Clone, Debug, Serialize)]
struct CriterionPart {
    name: String,
    state: &'static str,
    record: Option<Link>,
    result: Option<String>,
    limit: String,
    margin: Option<String>,
}

/// One reason.
#[derive(Clone, Debug, Serialize)]
struct ReasonPart {
    code: &'static str,
    text: Html,
    help: Html,
    /// What to do about it and about those that stand right above without any.
    step: Option<Html>,
}

/// The reasons of a row; of those about which the same is to be done, which stand together, the last says it.
fn reason_parts(linker: &Linker, reasons: &[ReasonView]) -> Vec<ReasonPart> {
    let mut parts = Vec::with_capacity(reasons.len());
    for own in to_do(reasons) {
        parts.extend(own.reasons.iter().map(|reason| ReasonPart {
            code: reason.code,
            text: linker.text(&reason.text),
            help: linker.text(&reason.help),
            step: None,
        }));
        if let Some(last) = parts.last_mut() {
            last.step = Some(linker.text(&own.help));
        }
    }
    parts
}

/// Whether the requirement is met, as far as evidence that applies shows it; apart from whether the row is closed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub(in crate::report) enum Compliance {
    /// Every criterion is met.
    #[serde(rename = "yes")]
    Yes,
    /// A criterion is not met, whether waived or not.
    #[serde(rename = "no")]
    No,
    /// Some criteria are met, and the others are not shown.
    #[serde(rename = "partial")]
    Partial,
    /// No criterion is shown to be met.
    #[serde(rename = "not shown")]
    NotShown,
}

impl Compliance {
    /// From the states of a row's criteria; a waived one counts as what the waiver covers.
    fn of(states: impl Iterator<Item = State>) -> Compliance {
        let states: Vec<State> = states.collect();
        let met = states.iter().filter(|state| **state == State::Closed).count();
        if states.contains(&State::NotMet) {
            Compliance::No
        } else if met > 0 && met == states.len() {
            Compliance::Yes
        } else if met > 0 {
            Compliance::Partial
        } else {
            Compliance::NotShown
        }
    }
}

impl RowPart {
    /// From a row's view.
    pub(in crate::report) fn of(analysis: &Analysis, linker: &Linker, row: &RowView, number: usize) -> RowPart {
        let criteria = row.criteria.iter().map(|own| CriterionPart {
            name: own.name.clone(),
            state: own.state.word(),
            record: own.record.as_ref().map(|id| linker.link(id)),
            result: own.result.clone(),
            limit: own.limit.clone(),
            margin: own.margin.show(),
        });
        let plan = match row.entry {
            EntryRef::Plan(index) => {
                analysis.model.requirement(&row.requirement).and_then(|requirement| requirement.plan.get(index))
            }
            _ => None,
        };
        let procedure = row.procedure.as_deref().and_then(|id| analysis.model.procedure(id));
        RowPart {
            number,
            href: linker.inside(&row.requirement, &row_anchor(row)),
            in_matrix: linker.in_matrix(number),
            anchor: row_anchor(row),
            state: row.state.word(),
            open: row.state.is_open(),
            safety: row.safety,
            requirement: linker.link(&row.requirement),
            title: row.title.clone(),
            owner: row.owner.clone(),
            subject: linker.link(&row.subject),
            method: row.method,
            stage: row.stage,
            procedure: row.procedure.as_ref().map(|id| linker.link(id)),
            procedure_revision: procedure.and_then(|it| it.revision.as_ref()).map(|text| text.value.clone()),
            before: row.before.clone(),
            on: row.on,
            after: linker.links(plan.iter().flat_map(|plan| &plan.after).map(|name| &name.value)),
            again_after: linker.links(plan.iter().flat_map(|plan| &plan.again_after).map(|name| &name.value)),
            valid_for: plan.and_then(|plan| plan.valid_for.as_ref()).map(|text| text.value.clone()),
            facility: row.facility.clone(),
            by: row.by.clone(),
            by_children: row.entry == EntryRef::Children,
            acceptance: if row.stage == Some(Stage::Acceptance.word()) { "yes" } else { "no" },
            records: linker.links(&row.records),
            criteria: criteria.collect(),
            reasons: reason_parts(linker, &row.reasons),
            covers: row.covers.map(State::word),
            waiver: row.waiver.as_ref().map(|id| linker.link(id)),
            compliance: Compliance::of(row.criteria.iter().map(|own| own.covers.unwrap_or(own.state))),
            closeout: match row.state {
                State::Waived => "waived",
                state if state.is_open() => "open",
                _ => "closed",
            },
        }
    }

    /// The row's place, as a link.
    pub(in crate::report) fn link(&self) -> Link {
        Link { text: self.number.to_string(), href: Some(self.href.clone()) }
    }

    /// The same with the subject's name as its words.
    pub(in crate::report) fn subject_link(&self) -> Link {
        Link { text: self.subject.text.clone(), ..self.link() }
    }

    /// Whether this is the part of that row.
    pub(in crate::report) fn is(&self, row: &RowView) -> bool {
        self.anchor == row_anchor(row)
    }
}

/// Requirement, entry and subject name a row.
pub(in crate::report) fn row_anchor(row: &RowView) -> String {
    let entry = match row.entry {
        EntryRef::Plan(index) => index.to_string(),
        EntryRef::Children => "children".into(),
        EntryRef::None => "none".into(),
    };
    format!("{}~{entry}~{}", anchor("row", &row.requirement), anchor("on", &row.subject))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn compliance_is_never_claimed_without_evidence() {
        let of = |states: &[State]| Compliance::of(states.iter().copied());
        assert_eq!(of(&[State::Closed, State::Closed]), Compliance::Yes);
        assert_eq!(of(&[State::Closed, State::NotMet]), Compliance::No);
        assert_eq!(of(&[State::Closed, State::Slipped]), Compliance::Partial);
        for state in [State::Void, State::Slipped, State::Inconclusive, State::Unsigned, State::NoEvidence] {
            assert_eq!(of(&[state]), Compliance::NotShown);
        }
        assert_eq!(of(&[]), Compliance::NotShown);
    }
}
