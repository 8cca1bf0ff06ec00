//! Whether evidence that was judged against another text would still meet the one of now.

use crate::model::kinds::{Criterion, Record, Requirement, Verifies};

use super::Facts;
use super::fits::fitting;
use super::judge::{Judgement, Verdict};

/// What a record says of one criterion, held against what is asked now, whatever its mark.
pub struct Still<'m> {
    /// The criterion.
    pub criterion: &'m Criterion,
    /// The judgement under the project's rule.
    pub judgement: Judgement,
}

/// How evidence would fare, the worst last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fares {
    /// It would meet what is asked now.
    Met,
    /// It is too near to the limit to say.
    Inconclusive,
    /// There is no result, it was not taken at the conditions asked, or it cannot be judged.
    CannotTell,
    /// It would not.
    NotMet,
}

impl Fares {
    /// The words.
    pub fn word(self) -> &'static str {
        match self {
            Fares::Met => "met",
            Fares::Inconclusive => "inconclusive",
            Fares::CannotTell => "cannot tell",
            Fares::NotMet => "not met",
        }
    }
}

impl Still<'_> {
    /// Whether it keeps the record from being marked anew. What was no better when it was signed does not: the state
    /// stays inconclusive, whatever the mark.
    pub fn hinders(&self, verifies: &Verifies) -> bool {
        match self.fares() {
            Fares::Met => false,
            Fares::Inconclusive => verifies.outcome(&self.criterion.name) != Some("inconclusive"),
            Fares::CannotTell | Fares::NotMet => true,
        }
    }

    /// How it would fare.
    pub fn fares(&self) -> Fares {
        match self.judgement.verdict {
            Verdict::NotMet => Fares::NotMet,
            _ if !self.judgement.conditions.is_empty() => Fares::CannotTell,
            Verdict::Met => Fares::Met,
            Verdict::Inconclusive(_) => Fares::Inconclusive,
            Verdict::Missing
            | Verdict::Unsettled
            | Verdict::CannotTell(_)
            | Verdict::Moved { .. }
            | Verdict::NotKept => Fares::CannotTell,
        }
    }
}

/// What a record says of a requirement, for the criteria that it is asked for: those of the entries that it counts for, or
/// else all; without those that it says it leaves out.
///
/// `record` and `which` are the positions of the record and of the requirement in it.
pub fn still<'m>(facts: &Facts<'m>, requirement: &'m Requirement, record: usize, which: usize) -> Vec<Still<'m>> {
    let own: &Record = &facts.model.records[record];
    let verifies = &own.verifies[which];
    let entries = fitting(facts, requirement, own);
    let wanted = |criterion: &Criterion| {
        let asked = entries.is_empty() || entries.iter().any(|at| requirement.plan[*at].asks_for(&criterion.name));
        asked && verifies.not_judged_because(&criterion.name).is_none()
    };
    let judgements = facts.judgements.get(record, which);
    let all = requirement.criteria.iter().zip(judgements).filter(|(criterion, _)| wanted(criterion));
    all.map(|(criterion, judgement)| Still { criterion, judgement: judgement.clone() }).collect()
}

/// How a record would fare as a whole: as its worst criterion does.
pub fn fares(all: &[Still<'_>]) -> Fares {
    all.iter().map(Still::fares).max().unwrap_or(Fares::CannotTell)
}
