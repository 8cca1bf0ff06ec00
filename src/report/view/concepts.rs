//! The options of a slot side by side, against everything that is asked of them.

use std::collections::BTreeSet;

use serde::Serialize;

use crate::analysis::Analysis;
use crate::model::kinds::{Decision, DecisionStatus, Item, ItemStatus};
use crate::model::{Id, Model, Ref};
use crate::state::accounted::is_accounted_for;
use crate::state::standing::{Standing, failures, standing};
use crate::state::{Facts, Row, State, Subject};

use super::row::state as as_word;
use super::{Heading, ReasonView, RowView};

/// The options of a slot against the requirements.
#[derive(Clone, Debug, Serialize)]
pub struct ConceptsView {
    /// Where it came from.
    #[serde(flatten)]
    pub heading: Heading,
    /// The slot.
    pub slot: String,
    /// Its title.
    pub title: String,
    /// Everything that could fill it: the current option, then candidates, then what was dropped.
    pub options: Vec<OptionView>,
    /// What is asked of them, by requirement.
    pub asked: Vec<AskedView>,
    /// Requirements that a decision about the slot added: nobody had asked for them before.
    pub discovered: Vec<DiscoveredView>,
}

/// One option.
#[derive(Clone, Debug, Serialize)]
pub struct OptionView {
    /// Its id.
    pub id: String,
    /// Its title.
    pub title: String,
    /// current, candidate or dropped.
    pub status: &'static str,
    /// Its revision.
    pub revision: Option<String>,
    /// What decided about it.
    pub decisions: Vec<ChoiceView>,
    /// What signed evidence on it fails or failed.
    pub failed: Vec<FailedView>,
    /// What is still to be shown on it; empty for a dropped one.
    pub to_show: Vec<ToShowView>,
}

/// A decision about an option.
#[derive(Clone, Debug, Serialize)]
pub struct ChoiceView {
    /// selects or drops.
    pub verb: &'static str,
    /// The decision.
    pub id: String,
    /// Its title.
    pub title: String,
    /// Its date as written.
    pub date: Option<String>,
    /// Whether it is in force.
    pub accepted: bool,
}

/// A result on an option that does not meet a requirement, or did not when it was signed.
#[derive(Clone, Debug, Serialize)]
pub struct FailedView {
    /// The requirement.
    pub requirement: String,
    /// Its title.
    pub title: String,
    /// The criterion.
    pub criterion: String,
    /// What is expected today; none if the requirement has no such criterion any more.
    pub limit: Option<String>,
    /// The result as written.
    pub result: Option<String>,
    /// The record.
    pub record: String,
    /// Whether a closed nonconformance accounts for it.
    pub accounted: bool,
}

/// A row that is open on an option.
#[derive(Clone, Debug, Serialize)]
pub struct ToShowView {
    /// The requirement.
    pub requirement: String,
    /// Its title.
    pub title: String,
    /// Its method, stage and procedure in words.
    pub how: String,
    /// The event before which it is due.
    pub before: Option<String>,
    /// On what.
    pub subject: String,
    /// Its state.
    #[serde(serialize_with = "as_word")]
    pub state: State,
    /// What to do next.
    pub help: String,
}

/// A requirement that applies to at least one option.
#[derive(Clone, Debug, Serialize)]
pub struct AskedView {
    /// The requirement.
    pub requirement: String,
    /// Its title.
    pub title: String,
    /// Whether people depend on it.
    pub safety: bool,
    /// The decisions that added it.
    pub added_by: Vec<String>,
    /// Its criteria.
    pub criteria: Vec<ComparedView>,
}

/// One criterion on every option.
#[derive(Clone, Debug, Serialize)]
pub struct ComparedView {
    /// Its name.
    pub name: String,
    /// What is expected.
    pub limit: String,
    /// Conditions under which it holds, each with its limits.
    pub conditions: Vec<String>,
    /// One for each option, in their order.
    pub cells: Vec<CellView>,
}

/// One criterion on one option.
#[derive(Clone, Debug, Serialize)]
pub struct CellView {
    /// The option.
    pub option: String,
    /// One for each plan entry and piece; none where it is not asked of the option.
    pub shown: Vec<ShownView>,
}

/// What shows a criterion on an option, by one entry of the plan.
#[derive(Clone, Debug, Serialize)]
pub struct ShownView {
    /// Its method.
    pub method: Option<&'static str>,
    /// Its stage.
    pub stage: Option<&'static str>,
    /// Its procedure.
    pub procedure: Option<String>,
    /// On what.
    pub subject: String,
    /// The state that it has, or for an option that is not current would have if that were chosen.
    #[serde(serialize_with = "as_word")]
    pub state: State,
    /// The result as written.
    pub result: Option<String>,
    /// The distance to the limit, in words.
    pub margin: Option<String>,
    /// The same in SI: positive inside.
    pub margin_si: Option<f64>,
    /// The expanded uncertainty of the result in SI.
    pub expanded_si: Option<f64>,
    /// Whether the result is a bound, so that the margin is at least this.
    pub at_least: bool,
    /// The record.
    pub record: Option<String>,
    /// Where the record says that its values are from.
    pub source: Vec<String>,
    /// Every reason against it.
    pub reasons: Vec<ReasonView>,
}

/// A requirement that a decision about the slot added.
#[derive(Clone, Debug, Serialize)]
pub struct DiscoveredView {
    /// The requirement.
    pub requirement: String,
    /// Its title; empty if it is not there.
    pub title: String,
    /// The decision.
    pub decision: String,
    /// What the decision drops.
    pub drops: Vec<String>,
}

/// The comparison for a slot, by id; none if no slot has the id.
pub fn concepts(analysis: &Analysis, slot: &str) -> Option<ConceptsView> {
    let model = &analysis.model;
    let it = model.slot(slot)?;
    let mut options: Vec<(usize, &Item)> = model
        .items
        .iter()
        .enumerate()
        .filter(|(_, item)| item.fills.as_ref().is_some_and(|own| own.value == it.head.id.value))
        .collect();
    options.sort_by_key(|(_, item)| match item.status {
        ItemStatus::Current => 0,
        ItemStatus::Candidate => 1,
        ItemStatus::Dropped => 2,
    });
    let judged: Vec<Judged<'_>> = options.into_iter().map(|(at, item)| Judged::of(analysis, at, item)).collect();
    let asked: BTreeSet<usize> = judged.iter().flat_map(|own| own.rows.iter().map(|row| row.requirement)).collect();
    Some(ConceptsView {
        heading: Heading::of(analysis),
        slot: it.head.id.value.to_string(),
        title: it.head.title.clone(),
        asked: asked.into_iter().map(|at| asked_of(model, at, &judged)).collect(),
        discovered: discovered(model, &judged),
        options: judged.into_iter().map(|own| own.option).collect(),
    })
}

/// The ids of all slots.
pub fn slots(analysis: &Analysis) -> Vec<String> {
    analysis.model.slots.iter().map(|slot| slot.head.id.value.to_string()).collect()
}

/// An option with the rows that it has, or would have if it were chosen.
struct Judged<'a> {
    item: &'a Item,
    option: OptionView,
    rows: Vec<Row>,
}

impl<'a> Judged<'a> {
    fn of(analysis: &'a Analysis, at: usize, item: &'a Item) -> Judged<'a> {
        let id = &item.head.id.value;
        let about = |row: &Row| match &row.subject {
            Subject::Item(own) => own == id,
            Subject::Serial(serial) => serial.item == *id,
            Subject::Project => false,
        };
        let (rows, failed) = if item.status == ItemStatus::Current {
            (analysis.rows(None), failed(&analysis.facts(), id))
        } else {
            let supposed = analysis.with_option(at);
            (supposed.rows(None), failed(&supposed.facts(), id))
        };
        let rows: Vec<Row> = rows.into_iter().filter(about).collect();
        let dropped = item.status == ItemStatus::Dropped;
        let option = OptionView {
            id: id.to_string(),
            title: item.head.title.clone(),
            status: item.status.word(),
            revision: item.revision.as_ref().map(|revision| revision.value.clone()),
            decisions: choices(&analysis.model, id),
            failed,
            to_show: if dropped { Vec::new() } else { to_show(&analysis.model, &rows) },
        };
        Judged { item, option, rows }
    }
}

/// The decisions that select or drop an option.
fn choices(model: &Model, option: &Id) -> Vec<ChoiceView> {
    let choice = |decision: &Decision, verb| ChoiceView {
        verb,
        id: decision.head.id.value.to_string(),
        title: decision.head.title.clone(),
        date: decision.date.as_ref().map(|date| date.text.clone()),
        accepted: decision.status == DecisionStatus::Accepted,
    };
    let each = model.decisions.iter().flat_map(|decision| {
        [("selects", &decision.selects), ("drops", &decision.drops)]
            .into_iter()
            .filter(|(_, ids)| ids.iter().any(|own| own.value == *option))
            .map(move |(verb, _)| choice(decision, verb))
    });
    each.collect()
}

/// What signed evidence on an option fails, by the same rule by which a failure stands.
fn failed(facts: &Facts<'_>, option: &Id) -> Vec<FailedView> {
    let mut all = Vec::new();
    for (requirement, evidence) in facts.model.requirements.iter().zip(0..) {
        for (record_at, which) in &facts.graph.evidence[evidence] {
            let record = &facts.model.records[*record_at];
            let here = record.item.as_ref().is_some_and(|own| own.value == *option)
                || record.serials.iter().any(|own| own.value.item == *option);
            if !here || standing(facts, *record_at) != Standing::Signed {
                continue;
            }
            for name in failures(facts, evidence, *record_at, *which) {
                let only = requirement.only_criterion();
                let criterion = requirement.criteria.iter().find(|own| own.name == name);
                all.push(FailedView {
                    requirement: requirement.head.id.value.to_string(),
                    title: requirement.head.title.clone(),
                    criterion: name.to_string(),
                    limit: criterion.map(|own| own.show()),
                    result: record.verifies[*which].result_for(name, only).map(|result| facts.computed.shown(result)),
                    record: record.head.id.value.to_string(),
                    accounted: is_accounted_for(facts, *record_at, &requirement.head.id.value, |own| {
                        own.item == *option
                    }),
                });
            }
        }
    }
    all
}

/// The open rows: analyses first, since they can be made before there is hardware.
fn to_show(model: &Model, rows: &[Row]) -> Vec<ToShowView> {
    let mut open: Vec<&Row> = rows.iter().filter(|row| row.state.is_open()).collect();
    open.sort_by_key(|row| (row.event, row.method, row.requirement));
    let one = |row: &Row| {
        let view = RowView::of(model, row);
        ToShowView {
            how: view.how(),
            help: view.reasons.first().map(|reason| reason.help.clone()).unwrap_or_default(),
            requirement: view.requirement,
            title: view.title,
            before: view.before,
            subject: view.subject,
            state: view.state,
        }
    };
    open.into_iter().map(one).collect()
}

fn asked_of(model: &Model, at: usize, judged: &[Judged<'_>]) -> AskedView {
    let requirement = &model.requirements[at];
    let id = &requirement.head.id.value;
    let mut names: Vec<&str> = requirement.criteria.iter().map(|criterion| criterion.name.as_str()).collect();
    let by_children = judged.iter().flat_map(|own| &own.rows).any(|row| row.requirement == at && row.method.is_none());
    if by_children && requirement.by_children_at.is_some() {
        names.push("children");
    }
    let adds = |decision: &&Decision| decision.adds.iter().any(|own| own.value == *id);
    AskedView {
        requirement: id.to_string(),
        title: requirement.head.title.clone(),
        safety: requirement.safety,
        added_by: model.decisions.iter().filter(adds).map(|decision| decision.head.id.value.to_string()).collect(),
        criteria: names.into_iter().map(|name| compared(model, at, name, judged)).collect(),
    }
}

fn compared(model: &Model, at: usize, name: &str, judged: &[Judged<'_>]) -> ComparedView {
    let criterion = model.requirements[at].criteria.iter().find(|own| own.name == name);
    let condition = |own: &crate::model::kinds::Condition| {
        let limits = crate::model::kinds::requirement::show_limits(own.min.as_ref(), own.max.as_ref());
        format!("{} {limits}", own.name)
    };
    let cell = |own: &Judged<'_>| CellView {
        option: own.option.id.clone(),
        shown: own.rows.iter().filter(|row| row.requirement == at).flat_map(|row| shown(model, row, name)).collect(),
    };
    ComparedView {
        name: name.to_string(),
        limit: criterion.map_or_else(|| "each child closed".to_string(), |own| own.show()),
        conditions: criterion.map(|own| own.at.iter().map(condition).collect()).unwrap_or_default(),
        cells: judged.iter().map(cell).collect(),
    }
}

/// What a row says of a criterion; none if its entry does not ask for that.
fn shown(model: &Model, row: &Row, name: &str) -> Option<ShownView> {
    let own = row.criteria.iter().find(|own| own.name == name)?;
    let margin = own.margin.as_deref();
    let record = own.record.as_ref().and_then(|id| model.record(id));
    let inputs = record.into_iter().flat_map(|record| &record.inputs);
    let mut source: Vec<String> = inputs
        .filter_map(|input| input.source.as_ref().or(input.from.as_ref()).map(|from| from.value.clone()))
        .collect();
    source.dedup();
    Some(ShownView {
        method: row.method.map(crate::model::kinds::Method::word),
        stage: row.stage.map(crate::model::kinds::Stage::word),
        procedure: row.procedure.as_ref().map(Id::to_string),
        subject: row.subject.to_string(),
        state: own.state,
        result: own.result.clone(),
        margin: margin.map(|margin| margin.show()),
        margin_si: margin.and_then(|margin| margin.value.to_f64()),
        expanded_si: margin.and_then(|margin| margin.expanded.as_ref()?.to_f64()),
        at_least: margin.is_some_and(|margin| margin.at_least),
        record: own.record.as_ref().map(Id::to_string),
        source,
        reasons: own.reasons.iter().map(ReasonView::of).collect(),
    })
}

/// What the decisions about the options add.
fn discovered(model: &Model, judged: &[Judged<'_>]) -> Vec<DiscoveredView> {
    let here = |ids: &[crate::text::Spanned<Id>]| {
        ids.iter().any(|id| judged.iter().any(|own| own.item.head.id.value == id.value))
    };
    let about = model.decisions.iter().filter(|decision| {
        decision.status == DecisionStatus::Accepted && (here(&decision.selects) || here(&decision.drops))
    });
    let each = about.flat_map(|decision| {
        decision.adds.iter().map(move |added| DiscoveredView {
            requirement: added.value.to_string(),
            title: match model.find(&added.value) {
                Some(place @ Ref::Requirement(_)) => model.head(place).title.clone(),
                _ => String::new(),
            },
            decision: decision.head.id.value.to_string(),
            drops: decision.drops.iter().map(|id| id.value.to_string()).collect(),
        })
    });
    each.collect()
}
