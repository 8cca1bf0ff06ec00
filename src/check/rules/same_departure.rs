//! One departure on several pieces.

use std::collections::{BTreeMap, BTreeSet};

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::SerialId;
use crate::model::kinds::{Head, Nonconformance};
use crate::parse::plain_spaces;

/// The check.
pub const CHECK: Check = Check { name: "same_departure", codes: &["same-departure"], run };

/// What nonconformances on one item have in common if they are about the same departure.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Sort {
    /// A requirement that they concern.
    Requirement(String),
    /// The title of those that name no requirement.
    Title(String),
}

/// The nonconformances of one sort on one item.
#[derive(Default)]
struct Group<'m> {
    heads: Vec<&'m Head>,
    pieces: BTreeSet<SerialId>,
    /// Whether one is against the item as a whole: somebody has seen that it is not the pieces.
    whole: bool,
}

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let mut groups: BTreeMap<(String, Sort), Group<'_>> = BTreeMap::new();
    for it in &subject.facts.model.nonconformances {
        for (target, sort) in it.against.iter().flat_map(|target| sorts(it).into_iter().map(move |sort| (target, sort)))
        {
            match SerialId::parse(&target.value) {
                Some(piece) => groups.entry((piece.item.to_string(), sort)).or_default().add(&it.head, piece),
                None => groups.entry((target.value.clone(), sort)).or_default().whole = true,
            }
        }
    }
    let mut told: BTreeSet<Vec<&str>> = BTreeSet::new();
    for ((item, sort), group) in &groups {
        let ids: Vec<&str> = group.heads.iter().map(|head| head.id.as_str()).collect();
        if ids.len() > 1 && group.pieces.len() > 1 && !group.whole && told.insert(ids) {
            findings.extend(finding(item, sort, group));
        }
    }
}

fn sorts(it: &Nonconformance) -> Vec<Sort> {
    match &it.requirements {
        Some(ids) => ids.iter().map(|id| Sort::Requirement(id.value.to_string())).collect(),
        None => vec![Sort::Title(plain_spaces(&it.head.title).to_lowercase())],
    }
}

impl<'m> Group<'m> {
    fn add(&mut self, head: &'m Head, piece: SerialId) {
        if !self.heads.iter().any(|own| own.id.value == head.id.value) {
            self.heads.push(head);
        }
        self.pieces.insert(piece);
    }
}

fn finding(item: &str, sort: &Sort, group: &Group<'_>) -> Option<Finding> {
    let (last, others) = group.heads.split_last()?;
    let ids: Vec<&str> = group.heads.iter().map(|head| head.id.as_str()).collect();
    let pieces: Vec<String> = group.pieces.iter().map(ToString::to_string).collect();
    let (what, concerns) = match sort {
        Sort::Requirement(id) => (format!("from {id}"), format!(" and requirements = [\"{id}\"]")),
        Sort::Title(_) => ("under one title".to_string(), " and the same title".to_string()),
    };
    let text = format!("{} are departures {what} of several pieces: {}", ids.join(", "), pieces.join(", "));
    let finding = Finding::at("same-departure", last.id.span, text).help(format!(
        "look for the common cause; if there is one, write a nonconformance with against = \"{item}\"{concerns}"
    ));
    Some(others.iter().fold(finding, |finding, head| finding.also(head.id.span, "this one too")))
}
