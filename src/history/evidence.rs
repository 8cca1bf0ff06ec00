//! What changes did to evidence: what slipped, whether it would still meet what is asked, and what must be shown again.
//!
//! By the judgements and rows that everything else comes from; nothing is decided here.

use std::collections::{BTreeMap, BTreeSet};

use crate::analysis::Analysis;
use crate::analysis::again::{Again, shown_again};
use crate::analysis::beside::Known;
use crate::model::kinds::RecordStatus;
use crate::model::{Id, Ref};
use crate::state::standing::lines_up;
use crate::state::stands::{Fares, fares, still};
use crate::state::{Reason, Row, State};

use super::changes::{Change, Lost};

/// A signed record whose mark lined up with a requirement and does not any more.
#[derive(Clone, Debug)]
pub struct Evidence {
    /// The record.
    pub record: String,
    /// What it is about: its pieces, its item, or none for the project.
    pub subjects: Vec<String>,
    /// The procedure that it was made by.
    pub procedure: Option<String>,
    /// How it would fare as a whole.
    pub fares: Fares,
    /// Its results against what is asked now.
    pub criteria: Vec<StillOf>,
}

/// One result against what is asked now.
#[derive(Clone, Debug)]
pub struct StillOf {
    /// The criterion.
    pub name: String,
    /// How it would fare.
    pub fares: Fares,
    /// The result as written.
    pub result: Option<String>,
    /// What is asked now.
    pub limit: String,
    /// The distance to the limit.
    pub margin: Option<String>,
    /// Why conditions are not shown to have held.
    pub conditions: Vec<String>,
}

/// What must be done again, by what would show it.
#[derive(Clone, Debug)]
pub struct Redo {
    /// The procedure, or the kind of record.
    pub how: String,
    /// What is in the way of running it, if something is.
    pub note: Option<String>,
    /// What is open because evidence was undone.
    pub rows: Vec<RedoRow>,
}

/// A row that is open because evidence was undone.
#[derive(Clone, Debug)]
pub struct RedoRow {
    /// The requirement.
    pub requirement: String,
    /// On what.
    pub subject: String,
    /// The evidence that slipped.
    pub records: Vec<String>,
    /// How the evidence that slipped would fare; where it would be met and nothing else is wrong, it has to be looked at, and need not
    /// be made anew.
    pub fares: Option<Fares>,
    /// What else does not stand: why, in words.
    pub undone: Vec<String>,
    /// The things whose changes are behind it, where that is known.
    pub because_of: Vec<String>,
}

/// The signed records that verify a requirement, and whose mark does not line up: positions of record and requirement in it.
pub(super) fn out_of_line(now: &Analysis, id: &Id) -> Vec<(usize, usize)> {
    let Some(Ref::Requirement(at)) = now.model.find(id) else { return Vec::new() };
    let mark = &now.model.requirements[at].mark;
    let evidence = now.graph.evidence[at].iter().copied();
    let out = evidence.filter(|(record, which)| {
        let own = &now.model.records[*record];
        own.status.value == RecordStatus::Signed && !lines_up(mark, &own.verifies[*which])
    });
    out.collect()
}

/// What a record that slipped says against what is asked now.
pub(super) fn evidence(now: &Analysis, id: &Id, (record, which): (usize, usize)) -> Option<Evidence> {
    let Some(Ref::Requirement(at)) = now.model.find(id) else { return None };
    let own = &now.model.records[record];
    let all = still(&now.facts(), &now.model.requirements[at], record, which);
    let pieces = own.serials.iter().map(|serial| serial.value.to_string());
    let subjects: Vec<String> = pieces.chain(own.item.iter().map(|item| item.value.to_string())).collect();
    let criteria = all.iter().map(|it| StillOf {
        name: it.criterion.name.clone(),
        fares: it.fares(),
        result: it.judgement.result.clone(),
        limit: it.criterion.show(),
        margin: it.judgement.margin.as_ref().map(|margin| margin.show()),
        conditions: it.judgement.conditions.clone(),
    });
    Some(Evidence {
        record: own.head.id.value.to_string(),
        subjects,
        procedure: own.procedure.as_ref().map(|id| id.value.to_string()),
        fares: fares(&all),
        criteria: criteria.collect(),
    })
}

/// What is open because evidence slipped, or was undone otherwise, by what would show it again.
pub(super) fn redo(
    now: &Analysis,
    rows: &[Known],
    slipped: &BTreeMap<&str, Vec<&Evidence>>,
    (lost, list): (&[Lost<'_>], &[Change]),
) -> Vec<Redo> {
    if slipped.is_empty() && lost.is_empty() {
        return Vec::new();
    }
    let rows: Vec<&Row> = rows.iter().map(|known| &known.row).collect();
    let mut found: BTreeMap<usize, RedoRow> = BTreeMap::new();
    for (at, row) in rows.iter().enumerate().filter(|(_, row)| row.state.is_open()) {
        let requirement = &now.model.requirements[row.requirement].head.id.value;
        let own = slipped.get(requirement.as_str()).and_then(|evidence| of_row(row, requirement, evidence));
        found.extend(own.map(|own| (at, own)));
    }
    let place = |row: &Row| rows.iter().position(|own| std::ptr::eq(*own, row));
    for own in lost.iter().filter(|own| own.row.state.is_open() && own.must_be_shown_again()) {
        let Some(at) = place(own.row) else { continue };
        let row = found.entry(at).or_insert_with(|| own.to_redo());
        (row.undone, row.because_of) = (own.in_words(), own.because_of(list, &row.because_of));
    }
    let again = shown_again(&now.model, found.keys().map(|at| rows[*at]));
    let one = |again: Again<'_>| {
        let rows = again.rows.iter().filter_map(|row| found.get(&place(row)?).cloned()).collect();
        Redo { how: again.how, note: again.note, rows }
    };
    again.into_iter().map(one).collect()
}

impl Lost<'_> {
    /// The reasons that new evidence would answer: a signature is no run, and a child is told for itself.
    fn answered_by_evidence(&self) -> impl Iterator<Item = &(&Reason, Option<usize>)> {
        let state = |state| matches!(state, State::NotMet | State::Void | State::Inconclusive | State::NoEvidence);
        self.reasons.iter().filter(move |(reason, _)| state(reason.state) && !reason.code.starts_with("child"))
    }

    fn must_be_shown_again(&self) -> bool {
        self.answered_by_evidence().next().is_some()
    }

    fn to_redo(&self) -> RedoRow {
        RedoRow {
            requirement: self.requirement.to_string(),
            subject: self.row.subject.to_string(),
            records: Vec::new(),
            fares: None,
            undone: Vec::new(),
            because_of: Vec::new(),
        }
    }

    /// Each reason once.
    fn in_words(&self) -> Vec<String> {
        let mut words: Vec<String> = Vec::new();
        for (reason, _) in self.answered_by_evidence() {
            let record = reason.record.as_ref().map(Id::as_str);
            let lead = record.map(|record| format!("{record} is ")).unwrap_or_default();
            // What is said of a record begins with it.
            let text = record.and_then(|record| reason.text.strip_prefix(record)?.strip_prefix(": "));
            let said = format!("{lead}{}: {}", reason.state.word(), text.unwrap_or(&reason.text));
            if !words.contains(&said) {
                words.push(said);
            }
        }
        words
    }

    fn because_of(&self, list: &[Change], too: &[String]) -> Vec<String> {
        let own = self.answered_by_evidence().filter_map(|(_, at)| Some(list[(*at)?].id.clone()));
        own.chain(too.iter().cloned()).collect::<BTreeSet<String>>().into_iter().collect()
    }
}

fn of_row(row: &Row, requirement: &Id, evidence: &[&Evidence]) -> Option<RedoRow> {
    let mut records: BTreeSet<String> = BTreeSet::new();
    let mut worst = Fares::Met;
    for criterion in &row.criteria {
        let slipped = criterion.reasons.iter().filter(|reason| reason.code == "mark-slipped");
        for record in slipped.filter_map(|reason| reason.record.as_ref()) {
            let Some(own) = evidence.iter().find(|own| own.record == record.as_str()) else { continue };
            let fares = own.criteria.iter().find(|it| it.name == criterion.name).map_or(own.fares, |it| it.fares);
            worst = worst.max(fares);
            records.insert(own.record.clone());
        }
    }
    let row = RedoRow {
        requirement: requirement.to_string(),
        subject: row.subject.to_string(),
        records: records.into_iter().collect(),
        fares: Some(worst),
        undone: Vec::new(),
        because_of: vec![requirement.to_string()],
    };
    (!row.records.is_empty()).then_some(row)
}
