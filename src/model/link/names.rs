//! Reports every name that does not resolve, or names the wrong kind of thing.

use std::collections::BTreeMap;

use rayon::prelude::*;

use crate::diag::{Finding, Findings};

use crate::quantity::parse_quantity;
use crate::text::{RepoPath, Span, Spanned, did_you_mean};

use super::super::kinds::Criterion;
use super::super::kinds::procedure::names_a_thing;
use super::super::kinds::requirement::show_limits;
use super::super::kinds::{
    AppliesTo, Decision, Feed, Field, HeldEvent, Item, Limit, Nonconformance, PlanEntry, Procedure, Record, Relief,
    Requirement, RequirementStatus, Verifies, Waiver,
};
use super::super::{Id, Model, SerialId, fed};

const RECORDS: &[&str] = &["analysis", "test", "inspection", "demonstration"];

/// Files that nothing could be read from, by their names without an ending, which are mostly the ids that they hold.
pub(super) type Hidden = BTreeMap<String, RepoPath>;

/// Checks every reference in the model.
pub(super) fn check(model: &Model, hidden: &Hidden, findings: &mut Findings) {
    let requirements = side_by_side(model, hidden, &model.requirements, |names, it| names.requirement(it));
    let records = side_by_side(model, hidden, &model.records, |names, it| names.record(it));
    let mut names = Names { model, hidden, findings };
    names.config();
    requirements.into_iter().chain(records).for_each(|found| names.findings.extend(found));
    model.items.iter().for_each(|it| names.item(it));
    for slot in &model.slots {
        names.all(slot.assembly.iter(), &["item", "slot"]);
    }
    for procedure in &model.procedures {
        names.all(procedure.item.iter(), &["item", "slot"]);
        names.instruments(&procedure.instruments);
        names.run(procedure);
    }
    model.decisions.iter().for_each(|it| names.decision(it));
    model.nonconformances.iter().for_each(|it| names.nonconformance(it));
    model.waivers.iter().for_each(|it| names.waiver(it));
    model.held.iter().for_each(|it| names.held(it));
}

/// Checks the many, a part of them on each processor.
fn side_by_side<'m, T: Sync>(
    model: &'m Model,
    hidden: &'m Hidden,
    all: &'m [T],
    check: impl Fn(&mut Names<'m, '_>, &'m T) + Sync,
) -> Vec<Findings> {
    let part = |part: &'m [T]| {
        let mut findings = Findings::new();
        let mut names = Names { model, hidden, findings: &mut findings };
        part.iter().for_each(|it| check(&mut names, it));
        findings
    };
    all.par_chunks(256).map(part).collect()
}

struct Names<'m, 'f> {
    model: &'m Model,
    hidden: &'m Hidden,
    findings: &'f mut Findings,
}

impl<'m> Names<'m, '_> {
    fn unknown<'w>(&mut self, span: Span, what: String, found: &str, near: impl Iterator<Item = &'w str>, usual: &str) {
        let help = did_you_mean(found, near).unwrap_or_else(|| usual.to_string());
        self.findings.push(Finding::at("unknown-name", span, what).help(help));
    }

    /// One id that must name one of these kinds.
    fn one(&mut self, id: &Spanned<Id>, kinds: &[&str]) {
        let wanted = || if kinds == RECORDS { "record".to_string() } else { kinds.join(" or ") };
        match self.model.find(&id.value) {
            None if self.hidden.contains_key(id.value.as_str()) => {
                let what = format!("no {} that could be read has the id `{}`", wanted(), id.value);
                let help = format!("mend {} first", self.hidden[id.value.as_str()]);
                self.findings.push(Finding::at("unknown-name", id.span, what).help(help));
            }
            None => {
                let model = self.model;
                let near =
                    model.ids().filter(|(_, place)| kinds.contains(&model.kind(*place))).map(|(id, _)| id.as_str());
                let usual = match kinds {
                    [kind] if Id::is_valid(id.value.as_str()) => {
                        format!("create it: slipmark new {kind} {}; or correct the id", id.value)
                    }
                    _ => "create it, or correct the id".into(),
                };
                let what = format!("no {} has the id `{}`", wanted(), id.value);
                let help = match did_you_mean(id.value.as_str(), near) {
                    // What is planned is often written later.
                    Some(near) if kinds == ["procedure"] && Id::is_valid(id.value.as_str()) => {
                        format!("{near} If it is a new one: slipmark new procedure {}", id.value)
                    }
                    Some(near) => near,
                    None => usual,
                };
                self.findings.push(Finding::at("unknown-name", id.span, what).help(help));
            }
            Some(place) if !kinds.contains(&self.model.kind(place)) => {
                let found = self.model.kind(place);
                self.findings.push(
                    Finding::at("wrong-kind", id.span, format!("`{}` is a {found}, not a {}", id.value, wanted()))
                        .also(self.model.head(place).id.span, "defined here")
                        .help(format!("name a {} here", wanted())),
                );
            }
            Some(_) => {}
        }
    }

    fn all<'i>(&mut self, ids: impl IntoIterator<Item = &'i Spanned<Id>>, kinds: &[&str]) {
        for id in ids {
            self.one(id, kinds);
        }
    }

    fn event(&mut self, name: Option<&Spanned<String>>) {
        let Some(name) = name else { return };
        if self.model.config.event_index(&name.value).is_none() {
            let model = self.model;
            let near = model.config.events.iter().map(|event| event.name.value.as_str());
            let usual = "use one of the events in slipmark.toml, or add it there";
            self.unknown(name.span, format!("no event is called `{}`", name.value), &name.value, near, usual);
        }
    }

    fn serial(&mut self, serial: &Spanned<SerialId>) {
        let Some(item) = self.model.item(&serial.item) else {
            return self.one(&Spanned::new(serial.item.clone(), serial.span), &["item"]);
        };
        if !item.serials.iter().any(|piece| piece.number.value == serial.number) {
            let near = item.serials.iter().map(|piece| piece.number.value.as_str());
            let what = format!("item `{}` has no serial `{}`", serial.item, serial.number);
            self.unknown(serial.span, what, &serial.number, near, "add it to the item's serials, or correct it");
        }
    }

    fn instruments(&mut self, ids: &[Spanned<Id>]) {
        for id in ids {
            if !self.model.instruments.contains_key(&id.value) {
                let model = self.model;
                let near = model.instruments.keys().map(Id::as_str);
                let usual =
                    format!("add [{0}], and [[{0}.calibrations]] with on and due, to instruments.toml", id.value);
                self.unknown(id.span, format!("no instrument has the id `{}`", id.value), &id.value, near, &usual);
            }
        }
    }

    fn config(&mut self) {
        let model = self.model;
        for event in &model.config.events {
            event.serials.iter().for_each(|serial| self.serial(serial));
        }
        for role in &model.config.roles {
            self.event(role.before.as_ref());
            self.all(role.procedure.iter(), &["procedure"]);
        }
        for calibration in model.instruments.values().flat_map(|instrument| &instrument.calibrations) {
            self.all(calibration.keeps_evidence.ids(), RECORDS);
        }
    }

    fn requirement(&mut self, requirement: &'m Requirement) {
        self.all(&requirement.parents, &["requirement"]);
        if let AppliesTo::Named(ids) = &requirement.applies_to {
            self.all(ids, &["item", "slot"]);
        }
        self.event(requirement.before.as_ref());
        for entry in &requirement.plan {
            self.entry(requirement, entry);
        }
        if let Some(statement) = &requirement.by_children {
            self.all(&statement.list, &["requirement"]);
        }
    }

    fn entry(&mut self, requirement: &Requirement, entry: &PlanEntry) {
        self.all(entry.procedure.iter(), &["procedure"]);
        self.event(entry.before.as_ref());
        for name in entry.criteria.iter().flatten() {
            self.criterion(requirement, name);
        }
        entry.again_after.iter().for_each(|name| self.event(Some(name)));
        for name in &entry.after {
            let is_event = self.model.config.event_index(&name.value).is_some();
            if !is_event && self.model.procedure(&name.value).is_none() {
                let model = self.model;
                let events = model.config.events.iter().map(|event| event.name.value.as_str());
                let near = events.chain(model.procedures.iter().map(|procedure| procedure.head.id.value.as_str()));
                let usual = "name a procedure or an event";
                self.unknown(
                    name.span,
                    format!("`{}` is neither a procedure nor an event", name.value),
                    &name.value,
                    near,
                    usual,
                );
            }
        }
        if let Some(text) = &entry.valid_for {
            let fits = parse_quantity(&text.value).is_ok_and(|quantity| quantity.dimension.to_string() == "s^1");
            if !fits {
                self.findings.push(
                    Finding::at("bad-quantity", text.span, format!("`{}` is no length of time", text.value))
                        .help("write valid_for = \"30 d\""),
                );
            }
        }
    }

    fn criterion(&mut self, requirement: &Requirement, name: &Spanned<String>) {
        if !requirement.criteria.iter().any(|criterion| criterion.name == name.value) {
            let near = requirement.criteria.iter().map(|criterion| criterion.name.as_str());
            let known: Vec<&str> = near.clone().collect();
            let usual = format!("its criteria are: {}", known.join(", "));
            let what = format!("requirement `{}` has no criterion `{}`", requirement.head.id.value, name.value);
            self.unknown(name.span, what, &name.value, near, &usual);
        }
    }

    fn record(&mut self, record: &'m Record) {
        record.serials.iter().for_each(|serial| self.serial(serial));
        self.all(record.item.iter(), &["item"]);
        if let (Some(item), Some(_)) = (&record.item, record.serials.first()) {
            self.findings.push(
                Finding::at("serial-and-item", item.span, "this record names both serials and an item")
                    .help("keep `serial` for evidence from pieces, `item` for evidence about the design"),
            );
        }
        self.all(record.procedure.iter(), &["procedure"]);
        self.instruments(&record.instruments);
        for verifies in &record.verifies {
            self.verifies(verifies);
        }
        for input in &record.inputs {
            if let (Some(from), Some(id)) = (&input.from, input.record(self.model)) {
                self.one(&Spanned::new(Id::new(id), from.span), RECORDS);
            }
            self.instruments(input.instrument.as_slice());
        }
    }

    /// What a run needs, and what its fields are for.
    fn run(&mut self, procedure: &Procedure) {
        for (name, _) in &procedure.accuracy {
            self.required(procedure, name);
        }
        for prerequisite in procedure.prerequisites.iter().filter(|it| names_a_thing(&it.value)) {
            self.prerequisite(prerequisite);
        }
        for field in procedure.all_fields() {
            for feed in &field.feeds {
                match &feed.value {
                    Feed::Criterion(name) => self.feeds(field, &Spanned::new(name.clone(), feed.span)),
                    Feed::Condition(name) => self.feeds_condition(procedure, field, name),
                }
            }
            if let Some(instrument) = &field.instrument {
                self.required(procedure, &Spanned::new(instrument.value.to_string(), instrument.span));
                self.instrument_unit(field, instrument);
            }
        }
    }

    /// An instrument must be one that every run names.
    fn required(&mut self, procedure: &Procedure, name: &Spanned<String>) {
        let required = procedure.instruments.iter().map(|id| id.value.as_str());
        if !required.clone().any(|id| id == name.value) {
            let what = format!("{} does not ask for an instrument `{}`", procedure.head.id.value, name.value);
            let usual = "add it to `instruments`, or remove this line";
            self.unknown(name.span, what, &name.value, required, usual);
        }
    }

    /// What an instrument states must go with the readings of its field.
    fn instrument_unit(&mut self, field: &Field, id: &Spanned<Id>) {
        let Some(instrument) = self.model.instruments.get(&id.value) else { return };
        let Some(unit) = field.read_in(self.model) else { return };
        if let Err(error) = instrument.capability.fits(&unit, self.model.config.ambient.as_ref()) {
            let shown = if unit.symbol.is_empty() { "a plain number" } else { &unit.symbol };
            let what =
                format!("`{}` is read in {shown}, and not from {}: {}", field.name.value, id.value, error.message);
            self.findings.push(
                Finding::at("units-do-not-match", id.span, what)
                    .also(instrument.id.span, "the instrument")
                    .help(error.help),
            );
        }
    }

    fn prerequisite(&mut self, name: &Spanned<String>) {
        let model = self.model;
        let known = |place| matches!(model.kind(place), "procedure" | "requirement");
        if model.config.event_index(&name.value).is_some() || model.find(&name.value).is_some_and(known) {
            return;
        }
        let events = model.config.events.iter().map(|event| event.name.value.as_str());
        let ids = model.ids().filter(|(_, place)| known(*place)).map(|(id, _)| id.as_str());
        let what = format!("`{}` is no procedure, event or requirement", name.value);
        let usual = "name one; what people are to check is written in several words";
        self.unknown(name.span, what, &name.value, events.chain(ids), usual);
    }

    /// A field must feed a criterion that exists, in a unit that can be held against it.
    fn feeds(&mut self, field: &Field, feed: &Spanned<String>) {
        let model = self.model;
        if let Some((requirement, criterion)) = fed(model, &feed.value) {
            return self.field_unit(field, requirement, criterion);
        }
        let at_a_dot = feed.value.match_indices('.').map(|(at, _)| (&feed.value[..at], &feed.value[at + 1..]));
        let found = at_a_dot.filter_map(|(id, name)| Some((model.requirement(id)?, name))).next_back();
        let usual = "write \"REQUIREMENT.CRITERION\", or \"conditions.NAME\"";
        match (found, model.requirement(&feed.value)) {
            (Some((requirement, name)), _) => self.criterion(requirement, &Spanned::new(name.to_string(), feed.span)),
            (None, Some(several)) => {
                let own: Vec<&str> = several.criteria.iter().map(|own| own.name.as_str()).collect();
                let what = format!("`{}` has several criteria", feed.value);
                let help = format!("add which: {}", own.join(", "));
                self.findings.push(Finding::at("which-criterion", feed.span, what).help(help));
            }
            (None, None) => {
                let wanted = feed.value.split('.').next().unwrap_or(&feed.value);
                let near = model.requirements.iter().map(|it| it.head.id.value.as_str());
                let what = format!("`{}` feeds `{}`, which does not exist", field.name.value, feed.value);
                self.unknown(feed.span, what, wanted, near, usual);
            }
        }
    }

    fn field_unit(&mut self, field: &Field, requirement: &Requirement, criterion: &Criterion) {
        let asked = format!("{} of {} is {}", criterion.name, requirement.head.id.value, criterion.show());
        self.read_in(field, criterion.expects.ends(), (criterion.span, &asked));
    }

    /// A field that feeds a condition is read in a unit that can be held against it, wherever the procedure is planned.
    fn feeds_condition(&mut self, procedure: &Procedure, field: &Field, name: &str) {
        let own = |entry: &PlanEntry| entry.procedure.as_ref().is_some_and(|id| id.value == procedure.head.id.value);
        let model = self.model;
        for requirement in model.requirements.iter().filter(|it| it.plan.iter().any(own)) {
            for criterion in &requirement.criteria {
                for condition in criterion.at.iter().filter(|condition| condition.name == name) {
                    let limits = (condition.min.as_ref(), condition.max.as_ref());
                    let asked = format!(
                        "the condition {name} of {} is {}",
                        requirement.head.id.value,
                        show_limits(limits.0, limits.1)
                    );
                    self.read_in(field, limits, (criterion.span, &asked));
                }
            }
        }
    }

    /// Reports a field that is read in another sort of unit than the limits that it is for.
    fn read_in(&mut self, field: &Field, limits: (Option<&Limit>, Option<&Limit>), (span, asked): (Span, &str)) {
        let (min, max) = limits;
        let Some(limit) = min.into_iter().chain(max).find_map(|limit| limit.quantity()) else { return };
        let (unit, read_at) = match &field.unit {
            Some(unit) => (unit.value.as_str(), unit.span),
            None => ("", field.name.span),
        };
        let Ok(one) = parse_quantity(format!("1 {unit}").trim()) else { return };
        if let Err(error) = one.compare(limit, self.model.config.ambient.as_ref()) {
            let what = format!(
                "`{}` is read in {}, and {asked}: {}",
                field.name.value,
                if unit.is_empty() { "a plain number" } else { unit },
                error.message
            );
            self.findings.push(
                Finding::at("units-do-not-match", read_at, what)
                    .also(span, "asked here")
                    .help(format!("write unit = \"{}\"", limit.unit.symbol)),
            );
        }
    }

    fn verifies(&mut self, verifies: &Verifies) {
        self.one(&verifies.requirement, &["requirement"]);
        let Some(requirement) = self.model.requirement(&verifies.requirement.value) else { return };
        if requirement.status == RequirementStatus::Withdrawn {
            return;
        }
        // Once the requirement has moved, its criteria may have too; that is said by the mark, not here.
        if verifies.mark.is_none() || verifies.marks().any(|mark| mark == requirement.mark) {
            let named = verifies.results.iter().map(|(name, _)| name);
            for name in named.chain(verifies.not_judged.iter().map(|(name, _)| name)) {
                self.criterion(requirement, name);
            }
            if let (Some(result), true) = (&verifies.result, requirement.criteria.len() > 1) {
                self.findings.push(
                    Finding::at(
                        "which-criterion",
                        result.span,
                        format!("`{}` has several criteria", requirement.head.id.value),
                    )
                    .help("write results.NAME = … for each of them"),
                );
            }
        }
    }

    fn item(&mut self, item: &'m Item) {
        self.all(item.assembly.iter(), &["item", "slot"]);
        self.all(item.fills.iter(), &["slot"]);
        for piece in &item.serials {
            piece.contains.iter().for_each(|inner| self.serial(&inner.serial));
            let affected = piece.reworked.iter().filter_map(|rework| rework.affects.as_ref());
            affected.for_each(|ids| self.all(ids, &["requirement"]));
        }
    }

    fn decision(&mut self, decision: &'m Decision) {
        self.all(decision.selects.iter().chain(&decision.drops), &["item"]);
        self.all(decision.adds.iter().chain(&decision.revises).chain(&decision.keeps), &["requirement"]);
    }

    fn nonconformance(&mut self, nonconformance: &'m Nonconformance) {
        for target in nonconformance.against.iter().filter(|target| target.value != "project") {
            match SerialId::parse(&target.value) {
                Some(serial) => self.serial(&Spanned::new(serial, target.span)),
                None => self.one(&Spanned::new(Id::new(&target.value), target.span), &["item"]),
            }
        }
        self.all(nonconformance.requirements.iter().flatten(), &["requirement"]);
        self.all(&nonconformance.found_by, RECORDS);
        self.event(nonconformance.before.as_ref());
    }

    fn held(&mut self, held: &'m HeldEvent) {
        self.event(held.event.as_ref());
        held.serials.iter().for_each(|serial| self.serial(serial));
        self.all(held.procedure.iter(), &["procedure"]);
    }

    fn waiver(&mut self, waiver: &'m Waiver) {
        self.all(waiver.requirement.iter(), &["requirement"]);
        waiver.serials.iter().for_each(|serial| self.serial(serial));
        self.all(waiver.item.iter(), &["item"]);
        self.event(waiver.before.as_ref());
        let requirement = waiver.requirement.as_ref().and_then(|id| self.model.requirement(&id.value));
        for (name, relief) in &waiver.accepts {
            let lines_up = requirement.filter(|it| waiver.mark.as_ref().is_none_or(|mark| mark.value == it.mark));
            if let Some(requirement) = lines_up {
                self.criterion(requirement, name);
            }
            if let Relief::Records(ids) = relief {
                self.all(ids, RECORDS);
            }
        }
    }
}
