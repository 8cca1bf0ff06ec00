//! Items of the product tree, their pieces, and the slots that competing concepts could fill.

use crate::config::KeepsEvidence;
use crate::diag::Finding;
use crate::parse::{Amount, Moment, Reader, Scalar};
use crate::quantity::Quantity;
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
    /// What its pieces have a limited life in, in the order of the names.
    pub life: Vec<Budget>,
    /// Its pieces, in the order of the file.
    pub serials: Vec<Serial>,
}

impl Item {
    /// The budget of this name.
    pub fn budget(&self, name: &str) -> Option<&Budget> {
        self.life.iter().find(|budget| budget.name.value == name)
    }

    /// How one of its pieces is named.
    pub fn serial_id(&self, piece: &Serial) -> SerialId {
        SerialId { item: self.head.id.value.clone(), number: piece.number.value.clone() }
    }
}

/// A limited life: so much of something, and no more.
#[derive(Clone, Debug)]
pub struct Budget {
    /// Its name.
    pub name: Spanned<String>,
    /// How much there is; none if the file does not say, which is a fault.
    pub limit: Option<Spanned<Amount>>,
    /// What wears it.
    pub counted: Counted,
    /// A note for people.
    pub note: Option<String>,
}

impl Budget {
    /// How much there is; none if that is not known, which is a fault.
    pub fn limit(&self) -> Option<&Quantity> {
        self.limit.as_ref().and_then(|limit| limit.value.value.as_ref())
    }

    /// Where to point for how much there is.
    pub fn span(&self) -> Span {
        self.limit.as_ref().map_or(self.name.span, |limit| limit.span)
    }
}

/// What wears a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counted {
    /// What is done with it.
    Use,
    /// Time alone.
    Age,
}

const COUNTED: &[(&str, Counted)] = &[("use", Counted::Use), ("age", Counted::Age)];

impl Counted {
    /// The word in files.
    pub fn word(self) -> &'static str {
        word_of(COUNTED, self)
    }
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

/// Whether a revision comes before another: by number, or by letters of one length. What cannot be told does not.
pub fn is_earlier_revision(new: &str, old: &str) -> bool {
    match (new.trim().parse::<u64>(), old.trim().parse::<u64>()) {
        (Ok(new), Ok(old)) => new < old,
        // Letters may have come before numbers, or after them.
        (Ok(_), Err(_)) | (Err(_), Ok(_)) => false,
        (Err(_), Err(_)) => new.len() == old.len() && new.to_uppercase() < old.to_uppercase(),
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
    /// What was used of its limited life before the first record: an amount by the name of each budget.
    pub used: Vec<(Spanned<String>, Spanned<Amount>)>,
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

    /// Whether it may have been inside at some time of a day: one that was put in or taken out on that day may.
    pub fn may_have_been_in(&self, day: Option<&Moment>) -> bool {
        let after = |change: &Spanned<Moment>| day.is_some_and(|day| day.on_a_day_before(change));
        let before = |change: &Spanned<Moment>| day.is_some_and(|day| change.on_a_day_before(day));
        !self.from.as_ref().is_some_and(after) && !self.to.as_ref().is_some_and(before)
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
    /// Budgets of limited life that begin anew with it.
    pub resets: Vec<Spanned<String>>,
}

/// A place in the tree that competing concepts could fill.
#[derive(Clone, Debug)]
pub struct Slot {
    /// Id, title and place.
    pub head: Head,
    /// The next higher item or slot.
    pub assembly: Option<Spanned<Id>>,
}

/// The hazards for which cautions are known.
pub const HAZARDS: &[&str] = &["oxygen", "pressure", "cryogenic", "stored-energy", "remote-operation"];

const KEYS: &[&str] = &["assembly", "fills", "status", "revision", "tags", "hazards", "life", "serials"];

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
        life: reader.named_tables("life", "[life.…] table").into_iter().map(budget).collect(),
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

fn budget((name, table): (Spanned<String>, Reader<'_>)) -> Budget {
    if !table.has("limit") {
        table.missing("limit");
    }
    let counted = table.choice("counted", COUNTED).map_or(Counted::Use, |word| word.value);
    let mut budget =
        Budget { limit: table.amount("limit"), counted, note: table.text("note").map(|text| text.value), name };
    if let Some((limit, why)) = budget.limit.as_mut().and_then(|limit| unfit(limit, counted).map(|why| (limit, why))) {
        let what = format!("`{}` cannot be the limit of {}: {}", limit.value.text, budget.name.value, why.0);
        table.report(Finding::at("bad-quantity", limit.span, what).help(why.1));
        limit.value.value = None;
    }
    table.finish(KEYS);
    budget
}

/// Why an amount is no limit of a life, and what to write.
fn unfit(limit: &Spanned<Amount>, counted: Counted) -> Option<(&'static str, &'static str)> {
    let value = limit.value.value.as_ref()?;
    if value.uncertainty.is_some() {
        return Some(("it states a spread, and a limit is one value", "write the limit alone"));
    }
    let is_time = value.dimension.to_string() == "s^1";
    (counted == Counted::Age && !is_time)
        .then_some(("it is no length of time, and this life is counted by age", "write limit = \"1095 d\""))
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
        used: Vec::new(),
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
        used: table.amounts("used"),
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
        affects: Some(table.ids("affects")).filter(|_| table.has("affects")),
        resets: table.list("resets"),
    };
    if !table.has("date") {
        table.missing("date");
    }
    table.finish(&[]);
    rework
}
