//! Where a name on the command line goes in a record.

use crate::edit::{Place, Step, path};
use crate::model::kinds::{Budget, Condition, Counted, Criterion, Feed, Field, Record, Requirement};
use crate::model::{Model, fed};
use crate::parse::nearest;
use crate::state::Facts;
use crate::state::life::touched;

/// One place in the record.
#[derive(Clone, Copy, Debug)]
pub(super) enum Destination<'m> {
    /// A result.
    Result {
        /// Of this requirement.
        requirement: &'m Requirement,
        /// For this criterion.
        criterion: &'m Criterion,
        /// Whether the record writes it as its only `result`.
        short: bool,
    },
    /// A condition, by name.
    Condition(&'m str),
    /// A reading that is noted only, by name.
    Reading(&'m str),
    /// What it used of a limited life.
    Use(&'m Budget),
}

/// Keys that stand above conditions and readings.
const ABOVE: &[&str] = &[
    "uses",
    "readings",
    "conditions",
    "actions",
    "deviations",
    "no_instrument",
    "instruments",
    "witnessed_by",
    "performed_by",
    "stage",
    "procedure_revision",
    "procedure",
    "revision",
    "serial",
    "item",
    "date",
    "title",
];

impl Destination<'_> {
    /// The keys of the place.
    pub fn path(&self) -> Vec<Step> {
        match self {
            Destination::Result { requirement, short: true, .. } => {
                path(&["verifies", &requirement.head.id.value, "result"])
            }
            Destination::Result { requirement, criterion, .. } => {
                path(&["verifies", &requirement.head.id.value, "results", &criterion.name])
            }
            Destination::Condition(name) => path(&["conditions", name]),
            Destination::Reading(name) => path(&["readings", name]),
            Destination::Use(budget) => path(&["uses", &budget.name.value]),
        }
    }

    /// Where a new line for it goes.
    pub fn place(&self) -> Place<'static> {
        match self {
            Destination::Result { .. } => Place::Last,
            Destination::Condition(_) | Destination::Reading(_) | Destination::Use(_) => Place::After(ABOVE),
        }
    }

    /// The place in words.
    pub fn show(&self) -> String {
        match self {
            Destination::Result { requirement, criterion, .. } => {
                format!("{}.{}", requirement.head.id.value, criterion.name)
            }
            Destination::Condition(name) => format!("conditions.{name}"),
            Destination::Reading(name) => format!("readings.{name}"),
            Destination::Use(budget) => format!("uses.{}", budget.name.value),
        }
    }
}

/// Every name that a record can be filled in by.
pub(super) struct Names<'m> {
    model: &'m Model,
    record: &'m Record,
    fields: Vec<&'m Field>,
    /// The requirements that the record is for.
    shown: Vec<&'m Requirement>,
    /// The limited lives of its pieces that use wears.
    lives: Vec<&'m Budget>,
}

type Found<'m> = (Option<&'m Field>, Vec<Destination<'m>>);

impl<'m> Names<'m> {
    /// Those of one record.
    pub fn of(facts: &Facts<'m>, record: &'m Record) -> Names<'m> {
        let model = facts.model;
        let procedure = record.procedure.as_ref().and_then(|id| model.procedure(&id.value));
        let shown = record.verifies.iter().filter_map(|own| model.requirement(&own.requirement.value)).collect();
        let items = touched(facts, record).into_iter().filter_map(|piece| model.item(&piece.item));
        let lives = items.flat_map(|item| &item.life).filter(|budget| budget.counted == Counted::Use).collect();
        let fields = procedure.into_iter().flat_map(|own| own.all_fields()).collect();
        Names { model, record, fields, shown, lives }
    }

    fn result(&self, requirement: &'m Requirement, criterion: &'m Criterion) -> Destination<'m> {
        let own = self.record.verifies.iter().find(|own| own.requirement.value == requirement.head.id.value);
        Destination::Result { requirement, criterion, short: own.is_some_and(|own| own.result.is_some()) }
    }

    /// The place or places of a name: a field first, then a condition, then a criterion.
    ///
    /// # Errors
    /// If nothing has the name, or several criteria have.
    pub fn find(&self, name: &str) -> Result<Found<'m>, (String, String)> {
        if let Some(field) = self.fields.iter().find(|field| field.name.value == name) {
            return Ok((Some(field), self.of_field(field)));
        }
        let bare = name.strip_prefix("conditions.").unwrap_or(name);
        if let Some(condition) = self.conditions().find(|condition| condition.name == bare) {
            return Ok((
                self.feeder(&Feed::Condition(bare.to_string())),
                vec![Destination::Condition(&condition.name)],
            ));
        }
        if let Some(noted) = name.strip_prefix("readings.")
            && let Some((own, _)) = self.record.readings.iter().find(|(own, _)| own.value == noted)
        {
            return Ok((None, vec![Destination::Reading(&own.value)]));
        }
        if let Some(budget) =
            name.strip_prefix("uses.").and_then(|own| self.lives.iter().find(|it| it.name.value == own))
        {
            return Ok((None, vec![Destination::Use(budget)]));
        }
        let mut fits: Vec<(&Requirement, &Criterion)> =
            fed(self.model, name).into_iter().filter(|(requirement, _)| self.is_shown(requirement)).collect();
        if fits.is_empty() {
            let all = self.shown.iter().flat_map(|it| it.criteria.iter().map(move |criterion| (*it, criterion)));
            fits = all.filter(|(_, criterion)| criterion.name == name).collect();
        }
        match fits.as_slice() {
            [(requirement, criterion)] => {
                let id = format!("{}.{}", requirement.head.id.value, criterion.name);
                Ok((self.feeder(&Feed::Criterion(id)), vec![self.result(requirement, criterion)]))
            }
            [] => Err(self.unknown(name)),
            several => {
                let names: Vec<String> =
                    several.iter().map(|(it, own)| format!("{}.{}", it.head.id.value, own.name)).collect();
                Err((format!("`{name}` could be {}", names.join(" or ")), "write the whole name".to_string()))
            }
        }
    }

    /// Where a field goes: to every criterion and condition that it feeds and this record is for; else it is noted.
    fn of_field(&self, field: &'m Field) -> Vec<Destination<'m>> {
        let mut found = Vec::new();
        for feed in &field.feeds {
            match &feed.value {
                Feed::Criterion(name) => {
                    let own = fed(self.model, name).filter(|(requirement, _)| self.is_shown(requirement));
                    found.extend(own.map(|(requirement, criterion)| self.result(requirement, criterion)));
                }
                Feed::Condition(name) => {
                    let asked = self.conditions().any(|condition| condition.name == *name);
                    found.extend(asked.then_some(Destination::Condition(name.as_str())));
                }
            }
        }
        if found.is_empty() {
            found.push(Destination::Reading(&field.name.value));
        }
        found
    }

    /// The field that feeds something, for its unit and its range.
    fn feeder(&self, wanted: &Feed) -> Option<&'m Field> {
        self.fields.iter().copied().find(|field| field.feeds.iter().any(|feed| feed.value == *wanted))
    }

    fn is_shown(&self, requirement: &Requirement) -> bool {
        self.shown.iter().any(|own| own.head.id.value == requirement.head.id.value)
    }

    fn conditions(&self) -> impl Iterator<Item = &'m Condition> {
        self.shown.iter().flat_map(|it| it.criteria.iter()).flat_map(|criterion| &criterion.at)
    }

    fn unknown(&self, name: &str) -> (String, String) {
        let known = self.known();
        let help = match nearest(name, known.iter().map(String::as_str)) {
            Some(meant) => format!("did you mean `{meant}`?"),
            None => self.taken(),
        };
        (format!("{} has nothing called `{name}`", self.record.head.id.value), help)
    }

    /// What to type where a name is needed.
    pub(super) fn taken(&self) -> String {
        match self.known().as_slice() {
            [] => "add [verifies.ID] to the record first".into(),
            known => format!("it takes: {}", known.join(", ")),
        }
    }

    /// All names that a value may be given for.
    fn known(&self) -> Vec<String> {
        let mut known: Vec<String> = self.fields.iter().map(|field| field.name.value.clone()).collect();
        known.extend(self.conditions().map(|condition| condition.name.clone()));
        for requirement in &self.shown {
            known.extend(requirement.criteria.iter().map(|own| own.name.clone()));
            known.extend(requirement.criteria.iter().map(|own| format!("{}.{}", requirement.head.id.value, own.name)));
        }
        known.extend(self.lives.iter().map(|budget| format!("uses.{}", budget.name.value)));
        known.sort();
        known.dedup();
        known
    }
}
