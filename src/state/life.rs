//! Limited life: how much of each budget a piece has used, and what the events to come will use of it.
//!
//! Whatever its standing, a record or a held event was seen by the hardware: drafts and withdrawn ones count. What is not
//! said, or cannot be read, is never taken for nothing: it makes the answer unknown, and unknown counts as open. Where days
//! leave it open whether a piece was there, it was.
//!
//! The question is always about an event: what was used so far, what each earlier event will use that is not done with the
//! piece, and what this one will, whether it was held before or not. An event that was given up on the way is not done.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;

use crate::config::Event;
use crate::model::kinds::{Budget, Counted, HeldEvent, Item, Record, Serial, SerialUse};
use crate::model::{Id, Model, SerialId};
use crate::parse::{Amount, Moment};
use crate::quantity::{Quantity, Rational};
use crate::text::{Span, Spanned};

use super::Facts;
use super::held;

/// One budget of one piece, and all that was used of it since it last began anew.
#[derive(Clone, Debug)]
pub struct Life<'m> {
    /// The piece.
    pub piece: SerialId,
    /// The same as its item lists it.
    pub serial: &'m Serial,
    /// The budget.
    pub budget: &'m Budget,
    /// The day on which it last began anew, if it ever did.
    pub reset: Option<&'m Spanned<Moment>>,
    /// What was used since, oldest first; nothing for a budget that is counted by age.
    pub uses: Vec<Use<'m>>,
}

/// Something that used up a part of a life, or will.
#[derive(Clone, Debug)]
pub struct Use<'m> {
    /// What it was, or will be.
    pub by: By<'m>,
    /// When, as far as that is known.
    pub date: Option<&'m Moment>,
    /// Where it says how much, or should.
    pub span: Span,
    /// How much.
    pub spent: Spent<'m>,
}

/// What used it.
#[derive(Clone, Copy, Debug)]
pub enum By<'m> {
    /// What was done with the piece before the first record.
    Earlier,
    /// A record.
    Record(&'m Record),
    /// A held event.
    Held(&'m HeldEvent),
    /// An event that is still to be held.
    Event(&'m Event),
}

impl By<'_> {
    /// Its id or name.
    pub fn name(&self) -> &str {
        match self {
            By::Earlier => "what came before the records",
            By::Record(record) => &record.head.id.value,
            By::Held(held) => &held.head.id.value,
            By::Event(event) => &event.name.value,
        }
    }
}

/// How much was used.
#[derive(Clone, Debug)]
pub enum Spent<'m> {
    /// This much at most, in coherent SI units on the scale of the limit.
    Known(&'m Amount, Rational),
    /// It cannot be told.
    Unknown(Unknown),
}

/// Why it cannot be told how much was used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unknown {
    /// It does not say, and should.
    NotSaid,
    /// What it says cannot be held against the limit; a fault says why.
    NotReadable,
    /// It does not say which pieces were there.
    NoPieces,
}

/// Whether a life lasts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outlook {
    /// On the limit or below.
    Lasts,
    /// It cannot be told.
    Unknown,
    /// Over the limit, by what is known alone.
    Exceeded,
}

/// How a life stands before an event that the piece is for.
#[derive(Clone, Debug)]
pub struct Forecast<'m> {
    /// The event, by position.
    pub event: usize,
    /// What the events up to it will use.
    pub planned: Vec<Use<'m>>,
    /// The later of today and its date.
    pub deadline: Date,
    /// Whether it lasts.
    pub outlook: Outlook,
}

/// A life that does not last, or of which that cannot be told.
#[derive(Clone, Debug)]
pub struct Shortage<'l, 'm> {
    /// The life.
    pub life: &'l Life<'m>,
    /// The events before which it is open, by position.
    pub events: Vec<usize>,
    /// How it stands before the first of them that is not done, or else the last.
    pub forecast: Forecast<'m>,
}

/// The lives of all pieces.
pub struct Lives<'m> {
    facts: Facts<'m>,
    all: Vec<Life<'m>>,
    /// For each event, the pieces that it uses.
    pieces: Vec<BTreeSet<SerialId>>,
}

impl Budget {
    /// An amount on the scale of this budget, in coherent SI units, as text.
    pub fn show(&self, value: &Rational) -> String {
        match self.limit() {
            Some(limit) => Quantity::computed(value.clone(), limit.unit.clone(), limit.exact).show(),
            None => "an amount that cannot be told".to_string(),
        }
    }
}

impl<'m> Life<'m> {
    /// All that is known to have been used.
    pub fn used(&self) -> Rational {
        total(&self.uses)
    }

    /// The limit in coherent SI units.
    pub fn limit(&self) -> Option<&'m Rational> {
        self.budget.limit().map(|limit| &limit.value)
    }

    /// When a life that is counted by age began.
    pub fn start(&self) -> Option<&'m Spanned<Moment>> {
        self.reset.or(self.serial.built.as_ref())
    }

    /// The last day of a life that is counted by age; none if it has no known start or end, or ends after the calendar.
    pub fn last_day(&self) -> Option<Date> {
        let seconds = i64::try_from(self.limit()?.floor()).ok()?;
        self.start()?.day_after(seconds)
    }

    /// Whether it lasts to a day, with these events still to come.
    fn outlook(&self, planned: &[Use<'_>], deadline: Date) -> Outlook {
        let Some(limit) = self.limit() else { return Outlook::Unknown };
        if self.budget.counted == Counted::Age {
            return match (self.start(), self.last_day()) {
                (None, _) => Outlook::Unknown,
                (_, Some(last)) if last < deadline => Outlook::Exceeded,
                _ => Outlook::Lasts,
            };
        }
        if self.used() + total(planned) > *limit {
            return Outlook::Exceeded;
        }
        match self.uses.iter().chain(planned).any(Use::is_unknown) {
            true => Outlook::Unknown,
            false => Outlook::Lasts,
        }
    }
}

/// All that is known of some uses together.
pub fn total(uses: &[Use<'_>]) -> Rational {
    uses.iter().fold(Rational::zero(), |sum, one| match &one.spent {
        Spent::Known(_, most) => sum + most.clone(),
        Spent::Unknown(_) => sum,
    })
}

impl Use<'_> {
    /// Whether it cannot be told how much it is.
    pub fn is_unknown(&self) -> bool {
        matches!(self.spent, Spent::Unknown(_))
    }
}

/// How much an amount uses of a budget.
fn spent<'m>(amount: &'m Amount, budget: &Budget) -> Spent<'m> {
    match budget.limit().map(|limit| amount.most(limit)) {
        Some(Ok(most)) => Spent::Known(amount, most),
        Some(Err(_)) | None => Spent::Unknown(Unknown::NotReadable),
    }
}

/// Whether anything in a project has a limited life.
pub fn is_kept(model: &Model) -> bool {
    model.items.iter().any(|item| !item.life.is_empty())
}

/// A record or a held event, with what it says that it used.
struct Run<'m> {
    by: By<'m>,
    id: &'m Spanned<Id>,
    date: Option<&'m Moment>,
    uses: &'m [(Spanned<String>, Spanned<Amount>)],
}

impl<'m> Lives<'m> {
    /// Adds up the lives of all pieces.
    pub fn of(facts: &Facts<'m>) -> Lives<'m> {
        let mut lives = Lives { facts: *facts, all: Vec::new(), pieces: Vec::new() };
        if !is_kept(facts.model) {
            return lives;
        }
        lives.all = facts.model.items.iter().flat_map(begun).collect();
        lives.pieces = facts.model.config.events.iter().map(|event| pieces_of(facts, event)).collect();
        lives.add_records();
        lives.add_held();
        for life in &mut lives.all {
            life.uses.sort_by_key(|one| one.date.map(Moment::in_lists));
        }
        lives
    }

    /// The life of every piece in each of its budgets, by item, piece and name.
    pub fn all(&self) -> &[Life<'m>] {
        &self.all
    }

    fn add_records(&mut self) {
        let model = self.facts.model;
        for record in &model.records {
            let procedure = record.procedure.as_ref().and_then(|id| model.procedure(&id.value));
            let owed = procedure.map_or(&[][..], |procedure| &procedure.uses);
            if record.uses.is_empty() && owed.is_empty() {
                continue;
            }
            let run =
                Run { by: By::Record(record), id: &record.head.id, date: record.date.as_deref(), uses: &record.uses };
            let owes = |budget: &str| owed.iter().any(|name| name.value == budget).then_some(Unknown::NotSaid);
            let touched = touched(&self.facts, record);
            self.spend(|piece| touched.contains(piece), &run, owes);
        }
    }

    fn add_held(&mut self) {
        let (model, graph) = (self.facts.model, self.facts.graph);
        for (held, with) in model.held.iter().zip(&graph.held_with) {
            let at = held.event.as_ref().and_then(|name| model.config.event_index(&name.value));
            let uses_none = |budget: &str| {
                let planned = at.and_then(|at| model.config.events[at].uses_of(budget));
                planned.is_some_and(|amount| amount.value.is_zero())
            };
            let run = Run { by: By::Held(held), id: &held.head.id, date: held.date.as_deref(), uses: &held.uses };
            if held.serials.is_empty() {
                // It may have been any piece.
                let says = |budget: &str| held.uses.iter().any(|(name, _)| name.value == budget);
                let owes = |budget: &str| (says(budget) || !uses_none(budget)).then_some(Unknown::NoPieces);
                self.spend(|_| true, &Run { uses: &[], ..run }, owes);
            } else {
                let there = |piece: &SerialId| with.touched.contains(piece);
                self.spend(there, &run, |budget| (!uses_none(budget)).then_some(Unknown::NotSaid));
            }
        }
    }

    /// Adds what a run used to every life of a piece that was there and has not begun anew since. Where the run does not
    /// say, `owes` says why it cannot be told, if it should have said.
    fn spend(&mut self, was_there: impl Fn(&SerialId) -> bool, run: &Run<'m>, owes: impl Fn(&str) -> Option<Unknown>) {
        for life in self.all.iter_mut().filter(|life| was_there(&life.piece)) {
            let before_reset =
                matches!((run.date, life.reset), (Some(made), Some(reset)) if made.on_a_day_before(reset));
            if life.budget.counted == Counted::Age || before_reset {
                continue;
            }
            let name = &life.budget.name.value;
            let said = run.uses.iter().find(|(own, _)| own.value == *name).map(|(_, amount)| amount);
            let found = match said {
                Some(amount) => Some((amount.span, spent(&amount.value, life.budget))),
                None => owes(name).map(|why| (run.id.span, Spent::Unknown(why))),
            };
            life.uses.extend(found.map(|(span, spent)| Use { by: run.by, date: run.date, span, spent }));
        }
    }

    /// Whether an event, by position, uses a piece.
    pub fn is_at(&self, event: usize, piece: &SerialId) -> bool {
        self.pieces.get(event).is_some_and(|pieces| pieces.contains(piece))
    }

    /// Whether an event, by position, was held to its end with a piece.
    pub fn is_done(&self, event: usize, piece: &SerialId) -> bool {
        held::is_done(&self.facts, &self.facts.model.config.events[event].name.value, piece)
    }

    /// What one holding of an event, by position, will use of a life; none: it is not for that piece, or the life is counted by age.
    pub fn one_holding(&self, life: &Life<'m>, event: usize) -> Option<Use<'m>> {
        let counted = life.budget.counted == Counted::Use && self.is_at(event, &life.piece);
        counted.then(|| planned(&self.facts.model.config.events[event], life.budget))
    }

    /// How a life stands before an event, by position, that is asked about.
    pub fn forecast(&self, life: &Life<'m>, event: usize) -> Forecast<'m> {
        let events = &self.facts.model.config.events;
        let to_come =
            (0..=event).filter(|at| self.is_at(*at, &life.piece) && (*at == event || !self.is_done(*at, &life.piece)));
        let planned: Vec<Use<'m>> = match life.budget.counted {
            Counted::Use => to_come.map(|at| planned(&events[at], life.budget)).collect(),
            Counted::Age => Vec::new(),
        };
        let today = self.facts.today;
        let deadline = events[event].date.as_ref().map_or(today, |date| date.date.max(today));
        Forecast { event, outlook: life.outlook(&planned, deadline), planned, deadline }
    }

    /// Whether a life has lasted to today, whatever is to come.
    pub fn so_far(&self, life: &Life<'m>) -> Outlook {
        life.outlook(&[], self.facts.today)
    }

    /// Every life that does not last, or of which that cannot be told, with the events before which that is open.
    pub fn shortages(&self) -> Vec<Shortage<'_, 'm>> {
        self.all.iter().flat_map(|life| self.shortages_of(life)).collect()
    }

    fn shortages_of<'l>(&self, life: &'l Life<'m>) -> Vec<Shortage<'l, 'm>> {
        let at = (0..self.pieces.len()).filter(|event| self.is_at(*event, &life.piece));
        let own: Vec<(bool, Forecast<'m>)> =
            at.map(|event| (self.is_done(event, &life.piece), self.forecast(life, event))).collect();
        // An event that is done asks nothing more, unless it is the one asked about: then it is held again.
        let worst = |asked: usize| {
            let concerned = own.iter().filter(|(done, it)| it.event == asked || (it.event < asked && !done));
            concerned.map(|(_, it)| it.outlook).max().unwrap_or(Outlook::Lasts)
        };
        let mut found = Vec::new();
        for outlook in [Outlook::Exceeded, Outlook::Unknown] {
            let events: Vec<usize> = (0..self.pieces.len()).filter(|event| worst(*event) == outlook).collect();
            let mut such = own.iter().filter(|(_, it)| it.outlook == outlook && events.contains(&it.event));
            let told = such.clone().find(|(done, _)| !done).or(such.next_back());
            if let Some((_, forecast)) = told {
                found.push(Shortage { life, events, forecast: forecast.clone() });
            }
        }
        found
    }
}

/// The lives of an item's pieces, before anything was done with them but what the file says of the time before.
fn begun(item: &Item) -> impl Iterator<Item = Life<'_>> {
    item.serials.iter().flat_map(move |serial| {
        let piece = item.serial_id(serial);
        item.life.iter().map(move |budget| {
            let reset = newest_reset(serial, &budget.name.value);
            let earlier = serial.used.iter().find(|(name, _)| name.value == budget.name.value);
            let earlier = earlier.filter(|_| reset.is_none() && budget.counted == Counted::Use);
            let uses = earlier.map(|(_, amount)| Use {
                by: By::Earlier,
                date: None,
                span: amount.span,
                spent: spent(&amount.value, budget),
            });
            Life { piece: piece.clone(), serial, budget, reset, uses: uses.into_iter().collect() }
        })
    })
}

/// The newest day on which a budget of a piece began anew; a rework without a day renews nothing.
fn newest_reset<'m>(serial: &'m Serial, budget: &str) -> Option<&'m Spanned<Moment>> {
    let resets = serial.reworked.iter().filter(|rework| rework.resets.iter().any(|name| name.value == budget));
    resets.filter_map(|rework| rework.date.as_ref()).max_by_key(|date| date.in_lists())
}

/// What one holding of an event will use of a budget.
fn planned<'m>(event: &'m Event, budget: &Budget) -> Use<'m> {
    let (span, spent) = match event.uses_of(&budget.name.value) {
        Some(amount) => (amount.span, spent(&amount.value, budget)),
        None => (event.name.span, Spent::Unknown(Unknown::NotSaid)),
    };
    Use { by: By::Event(event), date: event.date.as_deref(), span, spent }
}

/// The pieces of a record, and whatever may have been in them on its day.
pub fn touched(facts: &Facts<'_>, record: &Record) -> BTreeSet<SerialId> {
    let mut touched = BTreeSet::new();
    for serial in record.serials.iter().map(|serial| &serial.value) {
        touched.extend(facts.graph.inside_that_day(facts.model, serial, record.date.as_deref()));
        touched.insert(serial.clone());
    }
    touched
}

/// The pieces that an event uses, and all that is in them now: those that it names, else every one that is in service.
pub fn pieces_of(facts: &Facts<'_>, event: &Event) -> BTreeSet<SerialId> {
    let named: Vec<SerialId> = match event.serials.is_empty() {
        false => event.serials.iter().map(|serial| serial.value.clone()).collect(),
        true => in_service(facts),
    };
    let inside = named.iter().flat_map(|piece| facts.graph.inside(piece)).cloned();
    inside.chain(named.iter().cloned()).collect()
}

/// The pieces in service, not scrapped and of no item that was dropped.
pub fn in_service(facts: &Facts<'_>) -> Vec<SerialId> {
    let items = facts.model.items.iter().zip(&facts.graph.dropped).filter(|(_, dropped)| !**dropped);
    let pieces = items.flat_map(|(item, _)| {
        let service = item.serials.iter().filter(|piece| piece.purpose == SerialUse::Service);
        service.map(|piece| item.serial_id(piece))
    });
    pieces.filter(|piece| !facts.graph.scrapped.contains(piece)).collect()
}

/// What every budget of a name that is counted by use has for a limit, by item.
pub fn budgets<'m>(model: &'m Model, name: &str) -> BTreeMap<&'m Id, &'m Budget> {
    let own = model.items.iter().filter_map(|item| Some((&item.head.id.value, item.budget(name)?)));
    own.filter(|(_, budget)| budget.counted == Counted::Use).collect()
}

#[cfg(test)]
mod tests;
