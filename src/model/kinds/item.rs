//! Items of the product tree, their pieces, and the slots that competing concepts could fill.

use crate::config::KeepsEvidence;
use crate::parse::{Moment, Reader, Scalar};
use crate::text::{Span, Spanned};

use super::shared::word_of;
use super::{Entity, Head, Raw};
use crate::id::{Id, SerialId};

/// A product-tree node.
#[derive(Clone, Debug)]
pub struct Item {
    /// Id, title and place.
    pub head: Head,
    /// The next higher item or slot.
    pub assembly: Option<Spanned<Id>>,
    /// The slot that it could fill.
    pub fills: Option<Spanned<Id>>,
    /// Candidate, current or dropped.
    pub status: ItemStatus,
    /// The revision that is built now.
    pub revision: Option<Spanned<String>>,
    /// How it came there, oldest first.
    pub revisions: Vec<Revision>,
    /// Words that requirements can apply to.
    pub tags: Vec<Spanned<String>>,
    /// What can hurt: oxygen, pressure, cryogenic, stored-energy, …
    pub hazards: Vec<Spanned<String>>,
    /// Its pieces, in the order of the file.
    pub serials: Vec<Serial>,
}

/// Whether an item is meant to be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ItemStatus {
    /// An option that has not been chosen.
    Candidate,
    /// In the design.
    Current,
    /// Given up.
    Dropped,
}

const STATUSES: &[(&str, ItemStatus)] =
    &[("candidate", ItemStatus::Candidate), ("current", ItemStatus::Current), ("dropped", ItemStatus::Dropped)];

impl ItemStatus {
    /// The word in files.
    pub fn word(self) -> &'static str {
        word_of(STATUSES, self)
    }
}

/// A step in an item's life.
#[derive(Clone, Debug)]
pub struct Revision {
    /// Its name.
    pub revision: Spanned<String>,
    /// When.
    pub date: Option<Spanned<Moment>>,
    /// Which earlier evidence still stands.
    pub keeps_evidence: KeepsEvidence,
    /// Why.
    pub reason: Option<String>,
}

/// One serial-numbered piece.
#[derive(Clone, Debug)]
pub struct Serial {
    /// Its number.
    pub number: Spanned<Id>,
    /// What it is for.
    pub purpose: SerialUse,
    /// Whether it is scrapped.
    pub scrapped: bool,
    /// Its revision, where it differs from the item's.
    pub revision: Option<Spanned<String>>,
    /// When it was built.
    pub built: Option<Spanned<Moment>>,
    /// The pieces in it, and those that were.
    pub contains: Vec<Content>,
    /// What was done to it.
    pub reworked: Vec<Rework>,
}

/// A piece that is, or was, in another one.
#[derive(Clone, Debug)]
pub struct Content {
    /// Where it is written.
    pub span: Span,
    /// The piece.
    pub serial: Spanned<SerialId>,
    /// The day on which it was put in; none: it was there from the start.
    pub from: Option<Spanned<Moment>>,
    /// The day on which it was taken out; none: it is still there.
    pub to: Option<Spanned<Moment>>,
    /// Which evidence of what contains it its coming and going leave standing.
    pub keeps_evidence: KeepsEvidence,
    /// Why.
    pub reason: Option<String>,
}

impl Content {
    /// Whether it is there now.
    pub fn is_in(&self) -> bool {
        self.to.is_none()
    }

    /// Whether evidence of a day was made with it inside: a change on that day counts as one after it, and one whose order
    /// cannot be told does too.
    pub fn was_in(&self, made: Option<&Moment>) -> bool {
        let before = |change: &Spanned<Moment>| made.is_some_and(|made| change.on_a_day_before(made));
        self.from.as_ref().is_none_or(before) && !self.to.as_ref().is_some_and(before)
    }
}

/// What a piece is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SerialUse {
    /// To be operated.
    Service,
    /// To show that the design is good.
    Qualification,
    /// On the shelf.
    Spare,
}

const USES: &[(&str, SerialUse)] =
    &[("service", SerialUse::Service), ("qualification", SerialUse::Qualification), ("spare", SerialUse::Spare)];

impl SerialUse {
    /// The word in files.
    pub fn word(self) -> &'static str {
        word_of(USES, self)
    }
}

/// Work on a piece after it was built.
#[derive(Clone, Debug)]
pub struct Rework {
    /// Where it is written.
    pub span: Span,
    /// When; none if the file does not say, which is a fault.
    pub date: Option<Spanned<Moment>>,
    /// Why.
    pub reason: Option<String>,
    /// Requirements whose evidence it undoes; none: all.
    pub affects: Option<Vec<Spanned<Id>>>,
}

/// A place in the tree that competing concepts could fill.
#[derive(Clone, Debug)]
pub struct Slot {
    /// Id, title and place.
    pub head: Head,
    /// The next higher item or slot.
    pub assembly: Option<Spanned<Id>>,
}

const KEYS: &[&str] = &["assembly", "fills", "status", "revision", "tags", "hazards", "serials"];

/// Reads a slot.
pub fn read_slot(raw: Raw<'_>) -> Entity {
    let Raw { reader, head, .. } = raw;
    let slot = Slot { assembly: reader.id("assembly"), head };
    reader.finish(&[]);
    Entity::Slot(Box::new(slot))
}

/// Reads an item.
pub fn read(raw: Raw<'_>) -> Entity {
    let Raw { reader, head, .. } = raw;
    let fills = reader.id("fills");
    let usual = if fills.is_some() { ItemStatus::Candidate } else { ItemStatus::Current };
    let item = Item {
        assembly: reader.id("assembly"),
        status: reader.choice("status", STATUSES).map_or(usual, |word| word.value),
        fills,
        revision: reader.scalar("revision").map(as_text),
        revisions: reader.tables("revisions", "[[revisions]]").into_iter().map(revision).collect(),
        tags: reader.list("tags"),
        hazards: reader.list("hazards"),
        serials: all_serials(&reader),
        head,
    };
    reader.finish(&[]);
    Entity::Item(Box::new(item))
}

fn as_text(written: Spanned<Scalar>) -> Spanned<String> {
    Spanned::new(written.value.text().to_string(), written.span)
}

fn revision(table: Reader<'_>) -> Revision {
    let span = table.span();
    let revision = Revision {
        revision: table.scalar("revision").map_or(Spanned::new(String::new(), span), as_text),
        date: table.date("date"),
        keeps_evidence: KeepsEvidence::read(&table),
        reason: table.text("reason").map(|text| text.value),
    };
    for key in ["revision", "date"] {
        if !table.has(key) {
            table.missing(key);
        }
    }
    table.finish(KEYS);
    revision
}

fn all_serials(reader: &Reader<'_>) -> Vec<Serial> {
    if reader.holds_tables("serials") {
        return reader.tables("serials", "[[serials]]").into_iter().map(serial).collect();
    }
    let plain = |number: Spanned<String>| Serial {
        number: Spanned::new(Id::new(&number.value), number.span),
        purpose: SerialUse::Service,
        scrapped: false,
        revision: None,
        built: None,
        contains: Vec::new(),
        reworked: Vec::new(),
    };
    reader.list("serials").into_iter().map(plain).collect()
}

fn serial(table: Reader<'_>) -> Serial {
    let span = table.span();
    let number = table.required_text("number").unwrap_or(Spanned::new(String::new(), span));
    let serial = Serial {
        number: Spanned::new(Id::new(&number.value), number.span),
        purpose: table.choice("use", USES).map_or(SerialUse::Service, |word| word.value),
        scrapped: table.choice("status", &[("in use", false), ("scrapped", true)]).is_some_and(|word| word.value),
        revision: table.scalar("revision").map(as_text),
        built: table.date("built"),
        contains: contents(&table),
        reworked: table.tables("reworked", "[[serials.reworked]]").into_iter().map(rework).collect(),
    };
    table.finish(KEYS);
    serial
}

/// The plain list, of what is there from the start, or a table for each piece with its days.
fn contents(serial: &Reader<'_>) -> Vec<Content> {
    if serial.holds_tables("contains") {
        return serial.tables("contains", "[[serials.contains]]").into_iter().flat_map(content).collect();
    }
    let always = |serial: Spanned<SerialId>| Content {
        span: serial.span,
        serial,
        from: None,
        to: None,
        keeps_evidence: KeepsEvidence::NONE,
        reason: None,
    };
    serial.serials("contains").into_iter().map(always).collect()
}

fn content(table: Reader<'_>) -> Option<Content> {
    let serial = table.serial("serial");
    if !table.has("serial") {
        table.missing("serial");
    }
    let (from, to) = (table.date("from"), table.date("to"));
    let keeps_evidence = KeepsEvidence::read(&table);
    let reason = table.text("reason").map(|text| text.value);
    let span = table.span();
    table.finish(KEYS);
    Some(Content { span, serial: serial?, from, to, keeps_evidence, reason })
}

fn rework(table: Reader<'_>) -> Rework {
    let rework = Rework {
        span: table.span(),
        date: table.date("date"),
        reason: table.required_text("reason").map(|text| text.value),
        affects: table.has("affects").then(|| table.ids("affects")),
    };
    if !table.has("date") {
        table.missing("date");
    }
    table.finish(&[]);
    rework
}
