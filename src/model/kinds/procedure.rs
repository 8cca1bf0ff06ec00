//! Procedures: how evidence is made, step by step, and what is written down on the way.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::diag::Finding;
use crate::parse::Reader;
use crate::quantity::{
    InstrumentUncertainty, Limits, QuantityError, Unit, parse_instrument_uncertainty, parse_quantity,
};
use crate::text::{Span, Spanned};

use super::shared::word_of;
use super::{Criterion, Entity, Expectation, Head, Raw, Requirement};
use crate::id::Id;
use crate::model::{Model, fed};

/// How a test, inspection or demonstration is carried out.
#[derive(Clone, Debug)]
pub struct Procedure {
    /// Id, title and place.
    pub head: Head,
    /// Its revision.
    pub revision: Option<Spanned<String>>,
    /// Draft or released.
    pub status: ProcedureStatus,
    /// What it is for.
    pub item: Option<Spanned<Id>>,
    /// Instruments that every run must name.
    pub instruments: Vec<Spanned<Id>>,
    /// Budgets of limited life of which every run says how much it used.
    pub uses: Vec<Spanned<String>>,
    /// Whether runs of earlier revisions count.
    pub earlier_runs_count: bool,
    /// Why they do or do not.
    pub reason: Option<String>,
    /// Accuracy that the run needs of an instrument: its expanded uncertainty must be no more than this.
    pub accuracy: Vec<(Spanned<String>, Accuracy)>,
    /// What must hold before a run begins: see [`names_a_thing`].
    pub prerequisites: Vec<Spanned<String>>,
    /// What can hurt, for the whole run.
    pub cautions: Vec<String>,
    /// The steps, in their order.
    pub steps: Vec<Step>,
    /// What is written down once for the whole run.
    pub fields: Vec<Field>,
}

impl Procedure {
    /// Everything that a run writes down: for the whole run first, then step by step.
    pub fn all_fields(&self) -> impl Iterator<Item = &Field> {
        self.fields.iter().chain(self.steps.iter().flat_map(|step| &step.fields))
    }

    /// The accuracy that it needs of an instrument, if it says so.
    pub fn needs_accuracy(&self, instrument: &Id) -> Option<&Accuracy> {
        self.accuracy.iter().find(|(name, _)| name.value == instrument.as_str()).map(|(_, accuracy)| accuracy)
    }
}

/// Whether a prerequisite names a procedure, an event or a requirement, whose state can be looked up. One of several
/// words is for people to check.
pub fn names_a_thing(prerequisite: &str) -> bool {
    !prerequisite.contains(char::is_whitespace)
}

/// The most that an instrument may be uncertain by.
#[derive(Clone, Debug)]
pub struct Accuracy {
    /// As written.
    pub text: Spanned<String>,
    /// What it comes to; none if it cannot be read, which is a fault.
    pub value: Option<InstrumentUncertainty>,
}

/// One step.
#[derive(Clone, Debug)]
pub struct Step {
    /// A short name.
    pub name: Option<String>,
    /// What is done.
    pub text: String,
    /// Whether nobody goes on before somebody has signed for it.
    pub hold: bool,
    /// What can hurt in this step.
    pub cautions: Vec<String>,
    /// What is written down.
    pub fields: Vec<Field>,
}

/// One thing that a run writes down.
#[derive(Clone, Debug)]
pub struct Field {
    /// Its name, as `slipmark fill` takes it.
    pub name: Spanned<String>,
    /// What it is, in words.
    pub text: Option<String>,
    /// The unit it is read in; none for a word, a count or a plain number.
    pub unit: Option<Spanned<String>>,
    /// The instrument that it is read from: one of those that the procedure asks for.
    pub instrument: Option<Spanned<Id>>,
    /// What it is for; nothing for what is noted and no more.
    pub feeds: Vec<Spanned<Feed>>,
    /// Between what the reading is expected; outside it something is amiss, which is not for the requirement to say.
    pub expected: Option<Expected>,
}

impl Field {
    /// The unit of its readings: its own, or none at all where it feeds a limit in numbers. No answer for words and counts.
    pub fn read_in(&self, model: &Model) -> Option<Arc<Unit>> {
        match &self.unit {
            Some(unit) => Unit::parse(&unit.value).ok(),
            None => self.limits(model).next().map(|_| Arc::new(Unit::none())),
        }
    }

    /// The criteria with limits in numbers that it feeds.
    pub fn limits<'m>(&'m self, model: &'m Model) -> impl Iterator<Item = (&'m Requirement, &'m Criterion)> {
        let fed = self.feeds.iter().filter_map(|feed| match &feed.value {
            Feed::Criterion(name) => fed(model, name),
            Feed::Condition(_) => None,
        });
        fed.filter(|(_, criterion)| matches!(criterion.expects, Expectation::Limits { .. }))
    }
}

/// What a field is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Feed {
    /// A criterion, written `ACT-010.torque_margin`, or a requirement that has only one, `ACT-010`.
    Criterion(String),
    /// A condition of the record, written `conditions.body`.
    Condition(String),
}

impl Feed {
    fn parse(text: &str) -> Feed {
        match text.strip_prefix("conditions.") {
            Some(name) => Feed::Condition(name.to_string()),
            None => Feed::Criterion(text.to_string()),
        }
    }

    /// As written.
    pub fn show(&self) -> String {
        match self {
            Feed::Condition(name) => format!("conditions.{name}"),
            Feed::Criterion(name) => name.clone(),
        }
    }
}

/// The range in which a reading is expected.
#[derive(Clone, Debug)]
pub struct Expected {
    /// The least, as written.
    pub min: Option<String>,
    /// The most, as written.
    pub max: Option<String>,
    /// What they come to; none if one cannot be read, which is a fault.
    pub limits: Option<Limits>,
}

impl Expected {
    /// In words.
    pub fn show(&self) -> String {
        match (&self.min, &self.max) {
            (Some(min), Some(max)) => format!("{min} to {max}"),
            (Some(min), None) => format!("at least {min}"),
            (None, Some(max)) => format!("at most {max}"),
            (None, None) => String::new(),
        }
    }
}

/// Whether a procedure may be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProcedureStatus {
    /// Being written.
    Draft,
    /// Released for use.
    Released,
}

const STATUSES: &[(&str, ProcedureStatus)] =
    &[("draft", ProcedureStatus::Draft), ("released", ProcedureStatus::Released)];

impl ProcedureStatus {
    /// The word in files.
    pub fn word(self) -> &'static str {
        word_of(STATUSES, self)
    }
}

/// Reads a procedure.
pub fn read(raw: Raw<'_>) -> Entity {
    let Raw { reader, head, .. } = raw;
    if !reader.has("revision") {
        reader.missing("revision");
    }
    let earlier = reader.choice("earlier_runs", &[("count", true), ("do not count", false)]);
    let reason = reader.text("reason").map(|text| text.value);
    if let (Some(Spanned { value: true, span }), None) = (&earlier, &reason) {
        reader.report(
            crate::diag::Finding::at(
                "earlier-runs-without-reason",
                *span,
                "earlier runs are said to count, without a reason",
            )
            .help("add reason = \"…\": what changed, and why runs of the earlier revision are still good"),
        );
    }
    let procedure = Procedure {
        revision: reader.scalar("revision").map(|text| Spanned::new(text.value.text().to_string(), text.span)),
        status: reader.choice("status", STATUSES).map_or(ProcedureStatus::Draft, |word| word.value),
        item: reader.id("item"),
        instruments: reader.ids("instruments"),
        uses: reader.list("uses"),
        earlier_runs_count: earlier.is_some_and(|word| word.value) && reason.is_some(),
        reason,
        accuracy: accuracies(&reader),
        prerequisites: reader.list("prerequisites"),
        cautions: texts(&reader, "cautions"),
        steps: reader.tables("steps", "[[steps]]").into_iter().map(step).collect(),
        fields: fields(&reader, "[[fields]]"),
        head,
    };
    named_once(&reader, &procedure);
    reader.finish(&[]);
    Entity::Procedure(Box::new(procedure))
}

/// Keys of a procedure, for complaints about keys that slid into a table below.
const KEYS: &[&str] = &[
    "revision",
    "status",
    "item",
    "instruments",
    "accuracy",
    "uses",
    "earlier_runs",
    "reason",
    "prerequisites",
    "cautions",
];

fn texts(reader: &Reader<'_>, key: &'static str) -> Vec<String> {
    reader.list(key).into_iter().map(|text| text.value).collect()
}

fn accuracies(reader: &Reader<'_>) -> Vec<(Spanned<String>, Accuracy)> {
    let read = |(name, text): (Spanned<String>, Spanned<String>)| {
        let value = quantity(reader, &text, parse_instrument_uncertainty(&text.value, None));
        (name, Accuracy { text, value })
    };
    reader.named_texts("accuracy").into_iter().map(read).collect()
}

fn quantity<T>(reader: &Reader<'_>, text: &Spanned<String>, read: Result<T, QuantityError>) -> Option<T> {
    let report = |error: QuantityError| {
        let what = format!("`{}` is no quantity: {}", text.value, error.message);
        reader.report(Finding::at("bad-quantity", text.span, what).help(error.help));
    };
    read.map_err(report).ok()
}

fn step(reader: Reader<'_>) -> Step {
    let step = Step {
        name: reader.text("name").map(|text| text.value),
        text: reader.required_text("text").map(|text| text.value).unwrap_or_default(),
        hold: reader.flag("hold").is_some_and(|flag| flag.value),
        cautions: texts(&reader, "cautions"),
        fields: fields(&reader, "[[steps.fields]]"),
    };
    reader.finish(KEYS);
    step
}

fn fields(reader: &Reader<'_>, name: &'static str) -> Vec<Field> {
    reader.tables("fields", name).into_iter().filter_map(field).collect()
}

fn field(reader: Reader<'_>) -> Option<Field> {
    let name = reader.required_text("name");
    if let Some(name) = name.as_ref().filter(|name| !Id::is_valid(&name.value)) {
        reader.report(
            Finding::at("bad-id", name.span, format!("\"{}\" cannot be the name of a field", name.value))
                .help("start with a letter, and use only letters, digits, `.`, `_` and `-`"),
        );
    }
    let unit = reader.text("unit");
    if let Some(unit) = &unit {
        let read = parse_quantity(&format!("1 {}", unit.value));
        quantity(&reader, unit, read);
    }
    let feeds = reader.list("feeds").into_iter().map(|text| Spanned::new(Feed::parse(&text.value), text.span));
    let (text, feeds) = (reader.text("text").map(|text| text.value), feeds.collect());
    let (instrument, expected) = (reader.id("instrument"), expected(&reader));
    reader.finish(KEYS);
    Some(Field { name: name?, text, unit, instrument, feeds, expected })
}

fn expected(reader: &Reader<'_>) -> Option<Expected> {
    let table = reader.table("expected", "expected range")?;
    let ends = ["min", "max"].map(|key| {
        let text = table.scalar(key).map(|text| Spanned::new(text.value.text().to_string(), text.span));
        let value = text.as_ref().map(|text| quantity(&table, text, parse_quantity(&text.value)));
        (text.map(|text| text.value), value)
    });
    let [(min, low), (max, high)] = ends;
    if min.is_none() && max.is_none() && !table.has("min") && !table.has("max") {
        table.missing("min");
    }
    table.finish(&[]);
    let limits = match (low, high) {
        (Some(None), _) | (_, Some(None)) | (None, None) => None,
        (low, high) => Some(Limits::new(low.flatten(), high.flatten())),
    };
    Some(Expected { min, max, limits })
}

/// Two fields of one name could not be told apart when they are filled in.
fn named_once(reader: &Reader<'_>, procedure: &Procedure) {
    let mut seen: BTreeMap<&str, Span> = BTreeMap::new();
    for field in procedure.all_fields() {
        if let Some(first) = seen.get(field.name.value.as_str()) {
            let what = format!("two fields have the name `{}`", field.name.value);
            reader.report(
                Finding::at("field-twice", field.name.span, what)
                    .also(*first, "first here")
                    .help("give one of them another name: results are filled in by it"),
            );
        } else {
            seen.insert(&field.name.value, field.name.span);
        }
    }
}
