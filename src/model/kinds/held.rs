//! Held events: that a point of the campaign was reached, when, and with which pieces.

use crate::parse::{Amount, Moment};
use crate::text::Spanned;

use super::shared::word_of;
use super::{Entity, Head, Raw};
use crate::id::{Id, SerialId};

/// One holding of an event.
#[derive(Clone, Debug)]
pub struct HeldEvent {
    /// Id, title and place.
    pub head: Head,
    /// The event of `slipmark.toml` that was held; none if the file does not say, which is a fault.
    pub event: Option<Spanned<String>>,
    /// When; none if the file does not say, which is a fault.
    pub date: Option<Spanned<Moment>>,
    /// The pieces that were there.
    pub serials: Vec<Spanned<SerialId>>,
    /// By which procedure.
    pub procedure: Option<Spanned<Id>>,
    /// How it ended; none if the file does not say, or not in a word that is known, which is a fault.
    pub outcome: Option<Spanned<Outcome>>,
    /// What it used of the limited life of the pieces: an amount by the name of each budget.
    pub uses: Vec<(Spanned<String>, Spanned<Amount>)>,
    /// A note for people.
    pub note: Option<String>,
}

/// How a held event ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// All of it was done: what must come after it may.
    Completed,
    /// It was given up on the way; what was done up to then was done to the hardware all the same.
    Aborted,
}

const OUTCOMES: &[(&str, Outcome)] = &[("completed", Outcome::Completed), ("aborted", Outcome::Aborted)];

impl Outcome {
    /// The word in files.
    pub fn word(self) -> &'static str {
        word_of(OUTCOMES, self)
    }
}

impl HeldEvent {
    /// Whether it is one of this event.
    pub fn is_of(&self, event: &str) -> bool {
        self.event.as_ref().is_some_and(|own| own.value == event)
    }

    /// Whether it was completed; one that does not say how it ended was not.
    pub fn is_completed(&self) -> bool {
        self.outcome.as_ref().is_some_and(|outcome| outcome.value == Outcome::Completed)
    }

    /// Whether it was certainly held before a moment; one without a date was not.
    pub fn is_before(&self, moment: &Moment) -> bool {
        self.date.as_ref().is_some_and(|date| date.value.before(moment))
    }

    /// The word for how it ended.
    pub fn outcome_word(&self) -> &'static str {
        self.outcome.as_ref().map_or("outcome not stated", |outcome| outcome.value.word())
    }
}

/// Reads a held event.
pub fn read(raw: Raw<'_>) -> Entity {
    let Raw { reader, head, .. } = raw;
    for key in ["date", "outcome"] {
        if !reader.has(key) {
            reader.missing(key);
        }
    }
    let held = HeldEvent {
        event: reader.required_text("event"),
        date: reader.date("date"),
        serials: reader.serials("serials"),
        procedure: reader.id("procedure"),
        outcome: reader.choice("outcome", OUTCOMES),
        uses: reader.amounts("uses"),
        note: reader.text("note").map(|text| text.value),
        head,
    };
    reader.finish(&[]);
    Entity::Held(Box::new(held))
}
