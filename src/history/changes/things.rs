//! What changed of things, each compared with itself at the other point.

use std::collections::BTreeSet;

use rayon::prelude::*;

use crate::git::{CommitInfo, GitError};
use crate::history::blobs::Blobs;
use crate::history::commits::{Touched, parameter, trailers};
use crate::history::compare::calendar::Calendar;
use crate::history::compare::{criteria, requirement};
use crate::history::ends::{Compared, Earlier, Ends};
use crate::history::less;
use crate::history::unread::Unread;
use crate::history::vanished::{replaced_by, withdrawn_by};
use crate::history::versions::{ChangeKind, Context};
use crate::model::kinds::{Criterion, DecisionStatus, Limit, Requirement};
use crate::model::{Id, Model};
use crate::quantity;

use super::told::{Change, CommitRef, DecidedBy, MovedParameter};
use super::uncommitted::Uncommitted;

/// Both points, and what lies between them.
pub(super) struct Things<'a> {
    pub(super) ends: &'a Ends<'a>,
    pub(super) touched: &'a Touched,
    pub(super) uncommitted: Uncommitted,
    pub(super) unread: &'a Unread,
}

impl<'a> Things<'a> {
    /// Every thing that changed: requirements first, each kind by id.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn list(&self, blobs: &mut Blobs<'_>) -> Result<Vec<Change>, GitError> {
        let (old, new) = self.ends.configs();
        let context = Context {
            calendar: Calendar { then: &old, now: &new },
            ambient: new.ambient.as_ref().or(old.ambient.as_ref()),
        };
        let ids: Vec<&Id> = self.ends.ids().into_iter().collect();
        let all = |id: &&'a Id| {
            let id: &'a Id = id;
            let compared = Compared::all(self.ends, id, context).into_iter();
            let told = compared.filter_map(move |own| {
                let (order, then) = (own.order, own.then.and_then(|it| it.requirement));
                let change = self.one(id, own)?;
                Some((id, order, then, change, self.slipped_since(id, then)))
            });
            told.collect::<Vec<_>>()
        };
        let found: Vec<_> = ids.par_iter().flat_map_iter(all).collect();
        let mut list: Vec<(usize, Change)> = Vec::with_capacity(found.len());
        for (id, order, then, mut change, slipped) in found {
            change.evidence = match slipped {
                Some(slipped) => slipped,
                None => self.slipped(id, then, blobs)?,
            };
            list.push((order, change));
        }
        list.extend(self.settings(context).into_iter().map(|change| (usize::MAX, change)));
        list.sort_by(|(a, one), (b, other)| (a, &one.id).cmp(&(b, &other.id)));
        let mut list: Vec<Change> = list.into_iter().map(|(_, change)| change).collect();
        criteria::trace(list.iter_mut().map(|change| (&*change.id, &mut change.between.criteria)).collect());
        Ok(list)
    }

    /// What happened to a thing, without the evidence; none if what it was or is cannot be told.
    fn one(&self, id: &Id, compared: Compared<'_>) -> Option<Change> {
        let Compared { then, now, between, .. } = compared;
        let hidden = match (then, now) {
            (Some(then), None) => self.unread.may_be_now(id, then.path),
            (None, Some(now)) => self.unread.may_have_been(id, now.path),
            _ => false,
        };
        let shown = now.or(then).filter(|_| !hidden)?;
        let requirements = (then.and_then(|it| it.requirement), now.and_then(|it| it.requirement));
        let shown_requirement = requirements.1.or(requirements.0);
        let mut names = vec![id.to_string()];
        let parameters: Vec<String> = shown_requirement.map(resting_on).unwrap_or_default();
        names.extend(parameters.iter().map(|name| parameter(name)));
        let commits = self.touched.of(&names, between.kind == ChangeKind::Moved);
        Some(Change {
            id: id.to_string(),
            kind: shown.kind.to_string(),
            title: shown.title.to_string(),
            safety: [requirements.0, requirements.1].into_iter().flatten().any(|it| it.safety),
            applies_to: shown_requirement.map(|it| requirement::target(&it.applies_to)),
            path_from: then.map(|it| it.path.to_string()),
            path_to: now.map(|it| it.path.to_string()),
            decisions: self.decisions(id, &commits),
            uncommitted: names.iter().any(|name| self.uncommitted.has(name)),
            commits: commits.into_iter().map(CommitRef::of).collect(),
            accounted: if now.is_none() { self.accounted(id) } else { None },
            parameters: if between.criteria.is_empty() || then.is_none() {
                Vec::new()
            } else {
                self.moved(&parameters)
            },
            evidence: Vec::new(),
            undone: Vec::new(),
            between,
        })
    }

    /// Those of some parameters that come to something else.
    fn moved(&self, names: &[String]) -> Vec<MovedParameter> {
        let moved = names.iter().filter_map(|name| {
            let (from, to) = self.ends.parameters(name);
            let text = |it: Option<&crate::config::Parameter>| it.map(|it| it.text.value.clone());
            let (from, to) = (text(from), text(to));
            (from != to).then(|| MovedParameter { name: name.clone(), from, to })
        });
        moved.collect()
    }

    /// Decisions that the commits name, or that were made or changed in between and name the thing.
    pub(super) fn decisions(&self, id: &Id, commits: &[&CommitInfo]) -> Vec<String> {
        let mut found: BTreeSet<String> = commits.iter().flat_map(|commit| trailers(commit)).collect();
        for model in self.models() {
            let made = model.decisions.iter().filter(|decision| {
                decision.status == DecisionStatus::Accepted
                    && less::names(decision, id)
                    && self.is_new(&decision.head.id.value)
            });
            found.extend(made.map(|decision| decision.head.id.value.to_string()));
        }
        found.remove(id.as_str());
        found.into_iter().collect()
    }

    /// The later point's model, then what the earlier one had otherwise.
    fn models(&self) -> impl Iterator<Item = &'a Model> {
        let then = match &self.ends.then {
            Earlier::Nothing => None,
            Earlier::Part(then) => Some(&then.part),
            Earlier::Whole(whole) => Some(&whole.then.model),
        };
        self.ends.now.map(|now| &now.model).into_iter().chain(then)
    }

    /// Whether a decision was made or changed in between, or is not committed yet.
    fn is_new(&self, decision: &Id) -> bool {
        let came_or_went = match (self.ends.before(decision), self.ends.after(decision)) {
            (None, Some(now)) => !self.unread.may_have_been(decision, now.path),
            (Some(then), None) => !self.unread.may_be_now(decision, then.path),
            _ => false,
        };
        self.touched.has(decision) || came_or_went
    }

    /// The decisions that changes name.
    pub(super) fn decided(&self, list: &[Change]) -> Vec<DecidedBy> {
        let ids: BTreeSet<&String> = list.iter().flat_map(|change| &change.decisions).collect();
        let one = |id: &String| {
            let told = self.ends.after(id).or_else(|| self.ends.before(id)).filter(|it| it.kind == "decision");
            let decision =
                self.models().find_map(|model| model.decisions.iter().find(|it| it.head.id.value.as_str() == id));
            DecidedBy {
                id: id.clone(),
                title: told.map(|it| it.title.to_string()),
                date: decision.and_then(|it| it.date.as_ref()).map(|date| date.text.clone()),
                body: told.map(|it| it.body().to_string()).unwrap_or_default(),
            }
        };
        ids.into_iter().map(one).collect()
    }

    fn accounted(&self, id: &Id) -> Option<String> {
        let model: &Model = &self.ends.now?.model;
        let list = |ids: Vec<&Id>| ids.iter().map(|id| id.as_str()).collect::<Vec<_>>().join(", ");
        let (replaced, withdrawn): (Vec<&Id>, Vec<&Id>) =
            (replaced_by(model, id).collect(), withdrawn_by(model, id).collect());
        match (replaced.is_empty(), withdrawn.is_empty()) {
            (false, _) => Some(format!("replaced by {}", list(replaced))),
            (true, false) => Some(format!("withdrawn by {}", list(withdrawn))),
            (true, true) => None,
        }
    }
}

/// The parameters that a requirement's limits use.
pub(super) fn resting_on(requirement: &Requirement) -> Vec<String> {
    let texts = |limit: &Limit| {
        let tolerance = limit.tolerance.as_ref().map(|(text, _)| text.value.clone());
        [Some(limit.text.value.clone()), tolerance]
    };
    let limits = requirement.criteria.iter().flat_map(Criterion::limits).flat_map(texts).flatten();
    let names: BTreeSet<String> = limits.flat_map(|text| quantity::names(&text)).collect();
    names.into_iter().collect()
}
