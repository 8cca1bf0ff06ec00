//! Registers: decisions, nonconformances, waivers, procedures, instruments, parameters, held events.

use serde::Serialize;

use super::html::{Html, markdown};
use super::links::{Link, Linker, anchor};
use super::steps::StepsPart;
use crate::analysis::Analysis;
use crate::config::Role;
use crate::model::Id;
use crate::model::kinds::{Decision, Head, HeldEvent, Relief};
use crate::report::view::{calibrated, touched};
use crate::state::people::any_of;
use crate::state::standing::{is_moot, why_not_closed};
use crate::text::Spanned;

/// What every entry of a register has.
#[derive(Debug, Serialize)]
pub(in crate::report) struct Entry {
    anchor: String,
    id: String,
    title: String,
    status: String,
    /// What is said about it, in order: a word, and text or links.
    facts: Vec<Fact>,
    notes: Html,
    file: Link,
}

/// One fact.
#[derive(Debug, Serialize)]
struct Fact {
    word: &'static str,
    text: Option<String>,
    links: Vec<Link>,
}

/// A procedure with what it says to do.
#[derive(Debug, Serialize)]
struct ProcedureEntry {
    #[serde(flatten)]
    entry: Entry,
    steps: StepsPart,
}

/// All registers.
#[derive(Debug, Serialize)]
pub(in crate::report) struct Registers {
    decisions: Vec<Entry>,
    nonconformances: Vec<Entry>,
    waivers: Vec<Entry>,
    procedures: Vec<ProcedureEntry>,
    instruments: Vec<InstrumentLine>,
    parameters: Vec<ParameterLine>,
    held: Vec<Entry>,
    roles: Vec<RoleLine>,
}

/// Who must do and who must watch what.
#[derive(Debug, Serialize)]
pub(in crate::report) struct RoleLine {
    what: String,
    performed_by: Option<String>,
    witnessed_by: Option<String>,
}

#[derive(Debug, Serialize)]
pub(in crate::report) struct InstrumentLine {
    anchor: String,
    id: String,
    what: Option<String>,
    range: Option<String>,
    resolution: Option<String>,
    uncertainty: Option<String>,
    /// Each in words, and whether it found the instrument out of tolerance.
    calibrations: Vec<(String, bool)>,
    /// Each record that was made with it, and why it does not stand if it does not.
    records: Vec<(Link, Option<String>)>,
}

#[derive(Debug, Serialize)]
pub(in crate::report) struct ParameterLine {
    name: String,
    value: String,
    source: Option<String>,
    note: Option<String>,
}

/// Gathers the facts of one entry; those without content are left out.
struct Facts<'a> {
    linker: &'a Linker,
    list: Vec<Fact>,
}

impl Facts<'_> {
    fn text(&mut self, word: &'static str, text: Option<&str>) {
        if let Some(text) = text {
            self.list.push(Fact { word, text: Some(text.to_string()), links: Vec::new() });
        }
    }

    fn links<T: ToString>(&mut self, word: &'static str, names: impl IntoIterator<Item = T>) {
        let links = self.linker.links(names);
        if !links.is_empty() {
            self.list.push(Fact { word, text: None, links });
        }
    }
}

impl Registers {
    /// From the project.
    pub(in crate::report) fn of(analysis: &Analysis, linker: &Linker) -> Registers {
        let model = &analysis.model;
        Registers {
            decisions: model.decisions.iter().map(|it| decision(analysis, linker, it)).collect(),
            nonconformances: (0..model.nonconformances.len()).map(|at| nonconformance(analysis, linker, at)).collect(),
            waivers: (0..model.waivers.len()).map(|at| waiver(analysis, linker, at)).collect(),
            procedures: (0..model.procedures.len())
                .map(|at| ProcedureEntry {
                    entry: procedure(analysis, linker, at),
                    steps: StepsPart::of(&model.procedures[at], linker),
                })
                .collect(),
            instruments: instruments(analysis, linker),
            parameters: parameters(analysis),
            held: model.held.iter().map(|it| held(analysis, linker, it)).collect(),
            roles: model.config.roles.iter().map(role).collect(),
        }
    }
}

/// What one line about roles asks.
pub(in crate::report) fn role(it: &Role) -> RoleLine {
    RoleLine {
        what: Some(it.filters()).filter(|filters| !filters.is_empty()).unwrap_or_else(|| "everything".into()),
        performed_by: it.performed_by.as_deref().map(any_of),
        witnessed_by: it.witnessed_by.as_deref().map(any_of),
    }
}

/// What a decision does, in words, and to what.
pub(in crate::report) fn effects(it: &Decision) -> [(&'static str, &[Spanned<Id>]); 6] {
    [
        ("selects", &it.selects),
        ("drops", &it.drops),
        ("adds", &it.adds),
        ("revises", &it.revises),
        ("withdraws", &it.withdraws),
        ("keeps", &it.keeps),
    ]
}

fn entry(
    analysis: &Analysis,
    linker: &Linker,
    head: &Head,
    prefix: &str,
    status: impl Into<String>,
    facts: impl FnOnce(&mut Facts<'_>),
) -> Entry {
    let mut gathered = Facts { linker, list: Vec::new() };
    facts(&mut gathered);
    Entry {
        anchor: anchor(prefix, &head.id.value),
        id: head.id.value.to_string(),
        title: head.title.clone(),
        status: status.into(),
        facts: gathered.list,
        notes: markdown(analysis.sources.slice(head.body).trim(), analysis.path(head.file), linker),
        file: linker.whole(analysis, head.file),
    }
}

fn names(ids: &[Spanned<Id>]) -> impl Iterator<Item = &Id> {
    ids.iter().map(|id| &id.value)
}

/// One decision.
pub(in crate::report) fn decision(analysis: &Analysis, linker: &Linker, it: &Decision) -> Entry {
    entry(analysis, linker, &it.head, "dec", it.status.word(), |facts| {
        facts.text("date", it.date.as_ref().map(|date| date.text.as_str()));
        for (word, ids) in effects(it) {
            facts.links(word, names(ids));
        }
    })
}

/// One nonconformance.
pub(in crate::report) fn nonconformance(analysis: &Analysis, linker: &Linker, at: usize) -> Entry {
    let it = &analysis.model.nonconformances[at];
    let facts = analysis.facts();
    let lacks = why_not_closed(&facts, it, None);
    let status = match (&lacks, is_moot(&facts, it)) {
        (None, _) => "closed",
        (Some(_), true) => "does not count: all that it is against is scrapped or dropped",
        (Some(_), false) => "open",
    };
    entry(analysis, linker, &it.head, "nc", status, |facts| {
        facts.text("lacks", lacks.as_deref());
        facts.text("found", it.date.as_ref().map(|date| date.text.as_str()));
        facts.links("against", it.against.iter().map(|target| &target.value));
        facts.links("requirements", it.requirements.iter().flatten().map(|id| &id.value));
        if it.requirements.is_none() {
            facts.text("requirements", Some("all"));
        }
        facts.links("found by", names(&it.found_by));
        facts.text("disposition", it.disposition.as_ref().map(|word| word.value.word()));
        facts.text("closed", it.closed.as_ref().map(|date| date.text.as_str()));
        facts.text("closed by", it.closed_by.as_deref());
        facts.text("voids", it.voids_nothing.map(|_| "nothing"));
        facts.text("reason", it.reason.as_deref());
        facts.text("before", it.before.as_ref().map(|event| event.value.as_str()));
    })
}

/// One waiver.
pub(in crate::report) fn waiver(analysis: &Analysis, linker: &Linker, at: usize) -> Entry {
    let it = &analysis.model.waivers[at];
    let now = it.requirement.as_ref().and_then(|id| analysis.model.requirement(&id.value)).map(|own| &own.mark);
    let mark = it.mark.as_ref().map(|mark| {
        let lines_up = now == Some(&mark.value);
        format!("{}{}", mark.value, if lines_up { ", lines up" } else { ", does not line up" })
    });
    entry(analysis, linker, &it.head, "waiver", it.status.word(), |facts| {
        facts.links("requirement", it.requirement.iter().map(|id| &id.value));
        facts.text("mark", mark.as_deref());
        facts.links("serials", it.serials.iter().map(|serial| serial.value.to_string()));
        facts.links("item", it.item.iter().map(|id| &id.value));
        for (name, relief) in &it.accepts {
            match relief {
                Relief::Limits { .. } => {
                    facts.text("accepts", Some(&format!("{}: {}", name.value, relief.show_whole())));
                }
                Relief::Records(ids) => facts.links("accepts", names(ids)),
            }
        }
        facts.text("without evidence", it.without_evidence.as_deref());
        facts.text("up to", it.before.as_ref().map(|event| event.value.as_str()));
        facts.text("expires", it.expires.as_ref().map(|date| date.text.as_str()));
        facts.text("approved by", it.approved_by.as_deref());
        facts.text("approved", it.approved.as_ref().map(|date| date.text.as_str()));
        facts.text("conditions", it.conditions.as_deref());
        facts.text("reason", it.reason.as_deref());
    })
}

/// One procedure.
pub(in crate::report) fn procedure(analysis: &Analysis, linker: &Linker, at: usize) -> Entry {
    let model = &analysis.model;
    let it = &model.procedures[at];
    let id = &it.head.id.value;
    let runs = model.records.iter().filter(|record| record.procedure.as_ref().is_some_and(|own| own.value == *id));
    let planned = model.requirements.iter().filter(|requirement| {
        requirement.plan.iter().any(|entry| entry.procedure.as_ref().is_some_and(|own| own.value == *id))
    });
    entry(analysis, linker, &it.head, "proc", it.status.word(), |facts| {
        facts.text("revision", it.revision.as_ref().map(|text| text.value.as_str()));
        facts.links("item", it.item.iter().map(|id| &id.value));
        facts.links("instruments", names(&it.instruments));
        for name in &it.uses {
            facts.text("uses", Some(&name.value));
        }
        facts.text("earlier runs", Some(if it.earlier_runs_count { "count" } else { "do not count" }));
        facts.text("reason", it.reason.as_deref());
        facts.links("planned for", planned.map(|requirement| &requirement.head.id.value));
        facts.links("runs", runs.map(|record| &record.head.id.value));
    })
}

/// One held event.
pub(in crate::report) fn held(analysis: &Analysis, linker: &Linker, it: &HeldEvent) -> Entry {
    entry(analysis, linker, &it.head, "held", it.outcome_word(), |facts| {
        facts.text("event", it.event.as_ref().map(|event| event.value.as_str()));
        facts.text("date", it.date.as_ref().map(|date| date.text.as_str()));
        facts.links("pieces", it.serials.iter().map(|serial| serial.value.to_string()));
        facts.links("procedure", it.procedure.iter().map(|id| &id.value));
        for (name, amount) in &it.uses {
            facts.text("uses", Some(&format!("{} {}", name.value, amount.value.text)));
        }
        facts.text("note", it.note.as_deref());
    })
}

fn instruments(analysis: &Analysis, linker: &Linker) -> Vec<InstrumentLine> {
    analysis.model.instruments.keys().filter_map(|id| instrument(analysis, linker, id)).collect()
}

/// One instrument; none if there is none of that name.
pub(in crate::report) fn instrument(analysis: &Analysis, linker: &Linker, id: &Id) -> Option<InstrumentLine> {
    let it = analysis.model.instruments.get(id)?;
    let records = touched(analysis, it).map(|own| (linker.link(&own.record.head.id.value), own.why_not));
    Some(InstrumentLine {
        anchor: anchor("instrument", id),
        id: id.to_string(),
        what: it.what.clone(),
        range: it.range.as_ref().map(|range| range.value.clone()),
        resolution: it.resolution.as_ref().map(|steps| steps.value.clone()),
        uncertainty: it.stated_uncertainty(),
        calibrations: it.calibrations.iter().map(|own| (calibrated(own), own.is_recall())).collect(),
        records: records.collect(),
    })
}

/// Every parameter.
pub(in crate::report) fn parameters(analysis: &Analysis) -> Vec<ParameterLine> {
    let line = |(name, it): (&String, &crate::config::Parameter)| ParameterLine {
        name: name.clone(),
        value: it.text.value.clone(),
        source: it.source.clone(),
        note: it.note.clone(),
    };
    analysis.model.parameters.iter().map(line).collect()
}
