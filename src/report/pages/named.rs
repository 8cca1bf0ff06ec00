//! What names what: for each thing, everything in the project that refers to it, and in what sense.

use std::collections::BTreeSet;

use foldhash::{HashMap, HashSet, HashSetExt};
use memchr::memmem::Finder;
use rayon::prelude::*;

use super::address::{Homes, Thing};
use crate::analysis::Analysis;
use crate::model::kinds::procedure::names_a_thing;
use crate::model::kinds::{
    AppliesTo, Decision, Feed, HeldEvent, Item, KeepsEvidence, Nonconformance, NonconformanceStatus, Procedure, Record,
    Relief, Requirement, Slot, Waiver,
};
use crate::model::{Id, Ref, fed};
use crate::report::packet::registers::effects;
use crate::text::Spanned;

/// One thing that refers to another: its name, and what it says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Naming {
    pub(super) by: String,
    pub(super) how: String,
}

/// For each name, who refers to it, in the order of the project's lists.
#[derive(Debug, Default)]
pub(super) struct Named(HashMap<String, Vec<Naming>>);

/// What one thing refers to: a name, and in what sense.
type Refers = Vec<(String, &'static str)>;

/// Of a procedure that a plan names, and that a record was made by.
pub(super) const SHOWN_BY: &str = "is to be shown by it";
pub(super) const MADE_BY: &str = "was made by it";
/// In the text below the front matter.
const IN_TEXT: &str = "in its text";

impl Named {
    /// Follows every reference of the project, and every id in a text.
    pub(super) fn of(analysis: &Analysis, homes: &Homes) -> Named {
        let follow = |thing: &Thing| followed(analysis, thing, homes);
        let all: Vec<(String, Refers)> = homes.things.par_iter().with_min_len(64).map(follow).collect();
        let mut named = Named::default();
        for (by, refers) in all {
            for (name, how) in refers.into_iter().filter(|(name, _)| *name != by && homes.holds(name)) {
                add(named.0.entry(name).or_default(), &by, how);
            }
        }
        named
    }

    /// Who refers to one name, as [`Named::of`] and [`Named::to`] say it: only what could hold the name is followed.
    pub(super) fn to_one(analysis: &Analysis, homes: &Homes, name: &str) -> Vec<Naming> {
        if !homes.holds(name) {
            return Vec::new();
        }
        let finder = Finder::new(name);
        let follow = |thing: &Thing| {
            let (by, mut refers) = followed(analysis, thing, homes);
            refers.retain(|(own, _)| own == name && *own != by);
            (by, refers)
        };
        let things = homes.things.par_iter().with_min_len(256).filter(|thing| could_name(analysis, thing, &finder));
        let all: Vec<(String, Refers)> = things.map(follow).collect();
        let mut namings = Vec::new();
        for (by, refers) in all {
            refers.into_iter().for_each(|(_, how)| add(&mut namings, &by, how));
        }
        namings
    }

    /// Who refers to a name.
    pub(super) fn to(&self, name: &str) -> &[Naming] {
        self.0.get(name).map(Vec::as_slice).unwrap_or_default()
    }
}

/// What a thing is called, and what it refers to.
fn followed(analysis: &Analysis, thing: &Thing, homes: &Homes) -> (String, Refers) {
    match thing {
        Thing::Of(place) => {
            let mut refers = Refers::new();
            refer(analysis, *place, &mut refers);
            refers.extend(mentioned(analysis, *place, homes).into_iter().map(|name| (name, IN_TEXT)));
            (thing.name(analysis), refers)
        }
        Thing::Serial(item, at) => serial(analysis, *item, *at),
        Thing::Instrument(id) => instrument(analysis, id),
    }
}

/// Whether the file of a thing could hold a name: as it is, or spelt with escapes.
fn could_name(analysis: &Analysis, thing: &Thing, name: &Finder<'_>) -> bool {
    let model = &analysis.model;
    let file = match thing {
        // It may write down what the only criterion of a requirement asks, and is one of few.
        Thing::Of(Ref::Procedure(_)) | Thing::Instrument(_) => return true,
        Thing::Of(place) => model.head(*place).file,
        Thing::Serial(item, _) => model.items[*item].head.file,
    };
    let text = analysis.sources.file(file).text.as_bytes();
    name.find(text).is_some() || memchr::memchr(b'\\', text).is_some()
}

/// Adds that something refers to a name, unless that was said.
fn add(list: &mut Vec<Naming>, by: &str, how: &str) {
    match list.last_mut().filter(|last| last.by == by) {
        // That its text names it, too, says nothing more.
        Some(_) if how == IN_TEXT => {}
        Some(last) if last.how.split(", ").any(|own| own == how) => {}
        Some(last) => last.how = format!("{}, {how}", last.how),
        None => list.push(Naming { by: by.to_string(), how: how.to_string() }),
    }
}

/// The names that a thing refers to, each once, its text left out.
pub(super) fn refers(analysis: &Analysis, thing: &Thing) -> Vec<String> {
    let mut out = Refers::new();
    match thing {
        Thing::Of(place) => refer(analysis, *place, &mut out),
        Thing::Serial(item, at) => out = serial(analysis, *item, *at).1,
        Thing::Instrument(id) => out = instrument(analysis, id).1,
    }
    let mut seen = HashSet::new();
    out.into_iter().map(|(name, _)| name).filter(|name| seen.insert(name.clone())).collect()
}

fn refer(analysis: &Analysis, place: Ref, out: &mut Refers) {
    let model = &analysis.model;
    match place {
        Ref::Requirement(at) => requirement(&model.requirements[at], out),
        Ref::Record(at) => record(analysis, &model.records[at], out),
        Ref::Item(at) => item(&model.items[at], out),
        Ref::Slot(at) => slot(&model.slots[at], out),
        Ref::Procedure(at) => procedure(analysis, &model.procedures[at], out),
        Ref::Decision(at) => decision(&model.decisions[at], out),
        Ref::Nonconformance(at) => nonconformance(&model.nonconformances[at], out),
        Ref::Waiver(at) => waiver(&model.waivers[at], out),
        Ref::Held(at) => held(&model.held[at], out),
    }
}

fn all<'i, T: ToString + 'i>(out: &mut Refers, how: &'static str, ids: impl IntoIterator<Item = &'i Spanned<T>>) {
    out.extend(ids.into_iter().map(|id| (id.value.to_string(), how)));
}

fn requirement(it: &Requirement, out: &mut Refers) {
    all(out, "has it as a parent", &it.parents);
    if let AppliesTo::Named(ids) = &it.applies_to {
        all(out, "applies to it", ids);
    }
    for plan in &it.plan {
        all(out, SHOWN_BY, &plan.procedure);
        all(out, "is to be shown after it", plan.after.iter().chain(&plan.again_after));
    }
    all(out, "replaces it", &it.replaces);
    if let Some(own) = &it.by_children {
        all(out, "counts on it", &own.list);
    }
}

fn record(analysis: &Analysis, it: &Record, out: &mut Refers) {
    all(out, "is evidence for it", it.verifies.iter().map(|own| &own.requirement));
    all(out, "was made on it", &it.serials);
    all(out, "was made on it", &it.item);
    all(out, MADE_BY, &it.procedure);
    out.extend(it.read_with().into_iter().map(|id| (id.to_string(), "was read with it")));
    let from = it.inputs.iter().filter_map(|input| input.record(&analysis.model));
    out.extend(from.map(|id| (id.to_string(), "rests on it")));
}

fn item(it: &Item, out: &mut Refers) {
    all(out, "sits in it", &it.assembly);
    all(out, "fills it", &it.fills);
    for own in &it.revisions {
        if let KeepsEvidence::Only(ids) = &own.keeps_evidence {
            all(out, "keeps its evidence", ids);
        }
    }
}

fn slot(it: &Slot, out: &mut Refers) {
    all(out, "sits in it", &it.assembly);
}

fn serial(analysis: &Analysis, item: usize, at: usize) -> (String, Refers) {
    let piece = &analysis.model.items[item].serials[at];
    let mut out = Refers::new();
    all(&mut out, "contains it", piece.contains.iter().filter(|own| own.is_in()).map(|own| &own.serial));
    all(&mut out, "contained it", piece.contains.iter().filter(|own| !own.is_in()).map(|own| &own.serial));
    all(
        &mut out,
        "was reworked, which undoes evidence of it",
        piece.reworked.iter().flat_map(|own| own.affects.iter().flatten()),
    );
    (super::address::serial(analysis, item, at).to_string(), out)
}

fn instrument(analysis: &Analysis, id: &Id) -> (String, Refers) {
    let own = analysis.model.instruments.get(id);
    let mut out = Refers::new();
    for calibration in own.iter().flat_map(|own| &own.calibrations) {
        if let KeepsEvidence::Only(ids) = &calibration.keeps_evidence {
            all(&mut out, "was recalled, and keeps its evidence", ids);
        }
    }
    (id.to_string(), out)
}

fn procedure(analysis: &Analysis, it: &Procedure, out: &mut Refers) {
    all(out, "is for it", &it.item);
    all(out, "reads with it", &it.instruments);
    all(out, "comes after it", it.prerequisites.iter().filter(|own| names_a_thing(&own.value)));
    for feed in it.all_fields().flat_map(|field| &field.feeds) {
        if let Feed::Criterion(name) = &feed.value
            && let Some((requirement, _)) = fed(&analysis.model, name)
        {
            out.push((requirement.head.id.value.to_string(), "writes down what it asks for"));
        }
    }
}

fn decision(it: &Decision, out: &mut Refers) {
    for (how, ids) in effects(it) {
        let how = match how {
            "selects" => "selects it",
            "drops" => "drops it",
            "adds" => "adds it",
            "revises" => "revises it",
            "withdraws" => "withdraws it",
            _ => "keeps it",
        };
        all(out, how, ids);
    }
}

fn nonconformance(it: &Nonconformance, out: &mut Refers) {
    // Whoever looks at a piece wants to know which of them still stand against it.
    let against = match it.status {
        NonconformanceStatus::Closed => "was against it, and is closed",
        NonconformanceStatus::Open | NonconformanceStatus::Dispositioned => "is against it, and is not closed",
    };
    all(out, against, &it.against);
    all(out, "is about it", it.requirements.iter().flatten());
    all(out, "was found by it", &it.found_by);
}

fn waiver(it: &Waiver, out: &mut Refers) {
    all(out, "is relief from it", &it.requirement);
    all(out, "is for it", &it.serials);
    all(out, "is for it", &it.item);
    for (_, relief) in &it.accepts {
        if let Relief::Records(ids) = relief {
            all(out, "accepts what it shows", ids);
        }
    }
}

fn held(it: &HeldEvent, out: &mut Refers) {
    all(out, "was held with it", &it.serials);
    all(out, "was held by it", &it.procedure);
}

/// The names in the text of a thing, each once.
fn mentioned(analysis: &Analysis, place: Ref, homes: &Homes) -> BTreeSet<String> {
    let head = analysis.model.head(place);
    let text = analysis.sources.slice(head.body);
    let words = text.split(|c: char| !(c.is_alphanumeric() || matches!(c, '.' | '_' | '-' | '/')));
    let telling = |word: &&str| word.len() > 2 && word.contains(|c: char| c.is_ascii_uppercase() || c.is_ascii_digit());
    let mut found = BTreeSet::new();
    for word in words.filter(telling) {
        let word = word.trim_end_matches(['.', '-', '_', '/']);
        let item = word.split('/').next().unwrap_or(word);
        // As in the text itself, a piece that does not exist leads to its item.
        found.extend([word, item].into_iter().find(|name| homes.holds(name)).map(str::to_string));
    }
    found
}
