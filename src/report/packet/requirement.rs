//! A part per requirement: what it says and when it is met side by side, then how that is shown, then what touched it.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::html::{Html, markdown};
use super::links::{Link, Linker, anchor};
use super::past::{HistoryPart, Past};
use super::row::RowPart;
use crate::analysis::Analysis;
use crate::model::kinds::requirement::{comes_to, show_limits};
use crate::model::kinds::{AppliesTo, Criterion, Requirement, RequirementStatus};
use crate::parse::Moment;
use crate::report::pictures;
use crate::report::view::{self, RowView, RowsOf};
use crate::state::State;
use crate::text::Span;

/// Requirements of a packet that each have a picture, at most.
const PICTURES: usize = 200;

/// A requirement.
#[derive(Debug, Serialize)]
pub(in crate::report) struct RequirementPart {
    anchor: String,
    href: String,
    id: String,
    title: String,
    safety: bool,
    status: &'static str,
    withdrawn_because: Option<String>,
    owner: Option<String>,
    applies_to: Vec<Link>,
    tag: Option<String>,
    parents: Vec<Link>,
    children: Vec<Link>,
    /// For one that is verified by its children: how each stands.
    child_states: Vec<ChildLine>,
    replaces: Vec<Link>,
    source: Option<Html>,
    /// The file, and the line at which the statement starts.
    document: Link,
    paragraph: usize,
    mark: String,
    pub(in crate::report) statement: Html,
    more: Html,
    criteria: Vec<CriterionLine>,
    sufficiency: Option<Sufficiency>,
    pub(in crate::report) rows: Vec<RowPart>,
    evidence: Vec<EvidenceLine>,
    named_by: Vec<Named>,
    history: HistoryPart,
    /// What it hangs together with.
    pub(super) picture: Option<Html>,
}

/// A criterion as it is asked.
#[derive(Debug, Serialize)]
struct CriterionLine {
    name: String,
    note: Option<String>,
    limit: String,
    /// What it comes to, where it is written with parameters.
    comes_to: Option<String>,
    conditions: Vec<(String, String)>,
}

/// The statement that the children suffice.
#[derive(Debug, Serialize)]
struct Sufficiency {
    list: Vec<Link>,
    judged_by: Option<String>,
    date: Option<String>,
}

/// A child, and the worst state of its rows due; none if it has no row.
#[derive(Debug, Serialize)]
struct ChildLine {
    link: Link,
    title: String,
    state: Option<&'static str>,
}

/// A record that names the requirement, whether it decides anything or not.
#[derive(Debug, Serialize)]
struct EvidenceLine {
    record: Link,
    title: String,
    method: &'static str,
    date: Option<String>,
    on: Vec<Link>,
    status: &'static str,
    results: Vec<(String, String)>,
    decides: bool,
}

/// Something that names the requirement, and in what sense.
#[derive(Debug, Serialize)]
struct Named {
    link: Link,
    title: String,
    date: String,
    how: String,
}

/// Every requirement, with the rows that are due.
pub(in crate::report) fn parts(
    analysis: &Analysis,
    linker: &Linker,
    rows: &[&RowView],
    past: &Past,
) -> Vec<RequirementPart> {
    let worst = worst_states(rows.iter().copied());
    let mut numbered = rows.iter().zip(1..).peekable();
    let requirements = analysis.model.requirements.iter().enumerate();
    let parts = requirements.map(|(at, requirement)| {
        let mut own = Vec::new();
        while let Some((row, number)) = numbered.next_if(|(row, _)| row.requirement == requirement.head.id.as_str()) {
            own.push(RowPart::of(analysis, linker, row, number));
        }
        match own.is_empty() {
            true => part(analysis, linker, at, own, true),
            false => whole(analysis, linker, at, own, &worst, past),
        }
    });
    let mut parts: Vec<RequirementPart> = parts.collect();
    draw(analysis, &mut parts, rows);
    parts
}

/// One requirement with all that there is to say of it; `worst` is the worst state of each requirement's rows due.
pub(in crate::report) fn whole(
    analysis: &Analysis,
    linker: &Linker,
    at: usize,
    rows: Vec<RowPart>,
    worst: &BTreeMap<String, State>,
    past: &Past,
) -> RequirementPart {
    let mut part = part(analysis, linker, at, rows, false);
    if let Some(history) = past.histories.get(&part.id) {
        part.history = HistoryPart::of(linker, history);
    }
    if part.rows.iter().any(|row| row.by_children) {
        let line = |child: &Link| ChildLine {
            link: child.clone(),
            title: analysis.model.requirement(&child.text).map(|it| it.head.title.clone()).unwrap_or_default(),
            state: worst.get(&child.text).map(|state| state.word()),
        };
        part.child_states = part.children.iter().map(line).collect();
    }
    part
}

/// Draws what each requirement that is due hangs together with; of very many none, since the page would be pictures for the most part.
fn draw(analysis: &Analysis, parts: &mut [RequirementPart], rows: &[&RowView]) {
    let rows = RowsOf::of(rows.iter().copied());
    if parts.iter().filter(|part| part.is_due()).count() > PICTURES {
        return;
    }
    parts.iter_mut().filter(|part| part.is_due()).for_each(|part| part.draw(analysis, &rows));
}

/// One requirement in a few words, with some of its rows.
pub(in crate::report) fn brief(analysis: &Analysis, linker: &Linker, at: usize, rows: Vec<RowPart>) -> RequirementPart {
    part(analysis, linker, at, rows, true)
}

/// The worst state of the rows of each requirement.
pub(in crate::report) fn worst_states<'v>(rows: impl Iterator<Item = &'v RowView>) -> BTreeMap<String, State> {
    let mut worst: BTreeMap<String, State> = BTreeMap::new();
    for row in rows {
        match worst.get_mut(&row.requirement) {
            Some(own) => *own = (*own).min(row.state),
            None => {
                worst.insert(row.requirement.clone(), row.state);
            }
        }
    }
    worst
}

impl RequirementPart {
    /// Whether it has a part of its own; else it is only listed.
    pub(in crate::report) fn is_due(&self) -> bool {
        !self.rows.is_empty()
    }

    /// Draws what it hangs together with.
    pub(in crate::report) fn draw(&mut self, analysis: &Analysis, rows: &RowsOf<'_>) {
        let view = view::trace(analysis, &self.id, rows);
        self.picture = view.and_then(|view| pictures::trace(&view, &anchor("trace", &self.id))).map(Html::trusted);
    }

    /// Who is told to name it, by id.
    pub(in crate::report) fn shown_to_name_it(&self) -> BTreeSet<String> {
        let evidence = self.evidence.iter().map(|own| own.record.text.clone());
        evidence.chain(self.named_by.iter().map(|own| own.link.text.clone())).collect()
    }
}

fn part(analysis: &Analysis, linker: &Linker, at: usize, rows: Vec<RowPart>, brief: bool) -> RequirementPart {
    let it = &analysis.model.requirements[at];
    let id = it.head.id.value.to_string();
    let path = analysis.path(it.head.file);
    let text = &analysis.sources.file(it.head.file).text;
    let rest = it.statement.span.end as usize..it.head.body.end as usize;
    let more = if brief { "" } else { text.get(rest).unwrap_or("").trim() };
    let (applies_to, tag) = match &it.applies_to {
        AppliesTo::Project => (Vec::new(), None),
        AppliesTo::Named(ids) => (linker.links(ids.iter().map(|id| &id.value)), None),
        AppliesTo::Tag(tag) => {
            let items = crate::graph::tagged(&analysis.model, &it.applies_to);
            (linker.links(items), Some(tag.value.clone()))
        }
    };
    let children = &analysis.graph.children[at];
    RequirementPart {
        href: linker.link(&id).href.unwrap_or_default(),
        anchor: anchor("req", &id),
        title: it.head.title.clone(),
        safety: it.safety,
        status: it.status.word(),
        withdrawn_because: it.reason.clone().filter(|_| it.status == RequirementStatus::Withdrawn),
        owner: it.owner.clone(),
        applies_to,
        tag,
        parents: linker.links(it.parents.iter().map(|id| &id.value)),
        children: linker.links(children.iter().map(|at| &analysis.model.requirements[*at].head.id.value)),
        replaces: linker.links(it.replaces.iter().map(|id| &id.value)),
        source: it.source.as_deref().map(|source| linker.text(source)),
        document: linker.whole(analysis, it.head.file),
        paragraph: analysis.sources.locate(Span::new(it.head.file, it.statement.span.range())).line,
        mark: it.mark.clone(),
        statement: markdown(&it.statement.value, path, linker),
        more: markdown(more, path, linker),
        criteria: it.criteria.iter().map(criterion).collect(),
        sufficiency: it.by_children.as_ref().map(|own| Sufficiency {
            list: linker.links(own.list.iter().map(|id| &id.value)),
            judged_by: own.judged_by.clone(),
            date: own.date.as_ref().map(|date| date.value.text.clone()),
        }),
        child_states: Vec::new(),
        evidence: if brief { Vec::new() } else { evidence(analysis, linker, at, &rows) },
        named_by: if brief { Vec::new() } else { named_by(analysis, linker, it) },
        history: HistoryPart::default(),
        picture: None,
        rows,
        id,
    }
}

fn criterion(criterion: &Criterion) -> CriterionLine {
    let condition =
        |own: &crate::model::kinds::Condition| (own.name.clone(), show_limits(own.min.as_ref(), own.max.as_ref()));
    let (min, max) = criterion.expects.ends();
    CriterionLine {
        name: criterion.name.clone(),
        note: criterion.text.clone(),
        limit: criterion.show(),
        comes_to: comes_to(min, max),
        conditions: criterion.at.iter().map(condition).collect(),
    }
}

/// Every record that names the requirement, newest first.
fn evidence(analysis: &Analysis, linker: &Linker, at: usize, rows: &[RowPart]) -> Vec<EvidenceLine> {
    let decides: Vec<&str> = rows.iter().flat_map(|row| &row.records).map(|link| link.text.as_str()).collect();
    let mut named = analysis.graph.evidence[at].clone();
    let date = |record: usize| analysis.model.records[record].date.as_ref().map(|date| date.in_lists());
    named.sort_by_key(|(record, _)| (std::cmp::Reverse(date(*record)), *record));
    let line = |(record, which): (usize, usize)| {
        let record = &analysis.model.records[record];
        let verifies = &record.verifies[which];
        let only = verifies.result.iter().map(|result| (String::new(), analysis.computed.shown(result)));
        let results =
            verifies.results.iter().map(|(name, result)| (name.value.clone(), analysis.computed.shown(result)));
        EvidenceLine {
            record: linker.link(&record.head.id.value),
            title: record.head.title.clone(),
            method: record.method.word(),
            date: record.date.as_ref().map(|date| date.text.clone()),
            on: super::record::subjects(record, linker),
            status: record.status.value.word(),
            results: only.chain(results).collect(),
            decides: decides.contains(&record.head.id.as_str()),
        }
    };
    named.into_iter().map(line).collect()
}

/// Decisions, nonconformances and waivers that name the requirement, newest first.
fn named_by(analysis: &Analysis, linker: &Linker, it: &Requirement) -> Vec<Named> {
    let model = &analysis.model;
    let id = &it.head.id.value;
    let day = |date: Option<&Moment>| date.map_or_else(|| "undated".to_string(), |date| date.text.clone());
    let mut named: Vec<Named> = Vec::new();
    for decision in &model.decisions {
        for (how, ids) in super::registers::effects(decision) {
            if ids.iter().any(|own| own.value == *id) {
                let date = day(decision.date.as_ref().map(|date| &date.value));
                let link = linker.link(&decision.head.id.value);
                let how = format!("{how} it");
                named.push(Named { link, title: decision.head.title.clone(), date, how });
            }
        }
    }
    for own in &model.nonconformances {
        let concerned = own.requirements.iter().flatten().any(|named| named.value == *id);
        if concerned {
            let date = day(own.date.as_ref().map(|date| &date.value));
            let how = format!("found against it; {}", own.status.word());
            let link = linker.link(&own.head.id.value);
            named.push(Named { link, title: own.head.title.clone(), date, how });
        }
    }
    for own in model.waivers.iter().filter(|own| own.requirement.as_ref().is_some_and(|named| named.value == *id)) {
        let date = day(own.approved.as_ref().map(|date| &date.value));
        let how = format!("relief from it; {}", own.status.word());
        named.push(Named { link: linker.link(&own.head.id.value), title: own.head.title.clone(), date, how });
    }
    named.sort_by(|a, b| (&b.date, &a.link.text).cmp(&(&a.date, &b.link.text)));
    named
}
