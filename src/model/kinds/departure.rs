//! Departures: nonconformances and waivers.

use crate::diag::Finding;
use crate::parse::{Moment, Reader, Value};
use crate::text::{Span, Spanned};

use super::requirement::{Limit, LimitValue, comes_to, show_limits};
use super::shared::word_of;
use super::{Entity, Head, Raw};
use crate::id::{Id, SerialId};

/// A departure found on hardware.
#[derive(Clone, Debug)]
pub struct Nonconformance {
    /// Id, title and place.
    pub head: Head,
    /// When it was found.
    pub date: Option<Spanned<Moment>>,
    /// What it is against: pieces (`MOV/SN02`), items, or `project`.
    pub against: Vec<Spanned<String>>,
    /// The requirements it concerns; none: all.
    pub requirements: Option<Vec<Spanned<Id>>>,
    /// The records that found it.
    pub found_by: Vec<Spanned<Id>>,
    /// Open, dispositioned or closed.
    pub status: NonconformanceStatus,
    /// What was done about it.
    pub disposition: Option<Spanned<Disposition>>,
    /// When it was closed.
    pub closed: Option<Spanned<Moment>>,
    /// By whom.
    pub closed_by: Option<String>,
    /// Whether no evidence is voided by it.
    pub voids_nothing: Option<Span>,
    /// Why.
    pub reason: Option<String>,
    /// Before which event it must be closed.
    pub before: Option<Spanned<String>>,
}

/// How far a nonconformance has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NonconformanceStatus {
    /// Found.
    Open,
    /// Decided upon.
    Dispositioned,
    /// Done with.
    Closed,
}

const STATUSES: &[(&str, NonconformanceStatus)] = &[
    ("open", NonconformanceStatus::Open),
    ("dispositioned", NonconformanceStatus::Dispositioned),
    ("closed", NonconformanceStatus::Closed),
];

impl NonconformanceStatus {
    /// The word in files.
    pub fn word(self) -> &'static str {
        word_of(STATUSES, self)
    }
}

/// What is done about a nonconformance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Disposition {
    /// Accepted for its use as it is.
    UseAsIs,
    /// Brought back to conformity.
    Rework,
    /// Made usable, still not conforming.
    Repair,
    /// Given up.
    Scrap,
    /// Sent back to the supplier.
    Return,
}

const DISPOSITIONS: &[(&str, Disposition)] = &[
    ("use-as-is", Disposition::UseAsIs),
    ("rework", Disposition::Rework),
    ("repair", Disposition::Repair),
    ("scrap", Disposition::Scrap),
    ("return", Disposition::Return),
];

impl Disposition {
    /// The word in files.
    pub fn word(self) -> &'static str {
        word_of(DISPOSITIONS, self)
    }
}

/// An approved, limited permission to depart.
#[derive(Clone, Debug)]
pub struct Waiver {
    /// Id, title and place.
    pub head: Head,
    /// The requirement departed from.
    pub requirement: Option<Spanned<Id>>,
    /// Its mark when the waiver was written.
    pub mark: Option<Spanned<String>>,
    /// The pieces it covers.
    pub serials: Vec<Spanned<SerialId>>,
    /// The item it covers.
    pub item: Option<Spanned<Id>>,
    /// What it accepts, by criterion.
    pub accepts: Vec<(Spanned<String>, Relief)>,
    /// The last event before which it holds.
    pub before: Option<Spanned<String>>,
    /// The last day on which it holds.
    pub expires: Option<Spanned<Moment>>,
    /// Draft, approved or withdrawn.
    pub status: WaiverStatus,
    /// Who approved it.
    pub approved_by: Option<String>,
    /// When.
    pub approved: Option<Spanned<Moment>>,
    /// Under which conditions, in words.
    pub conditions: Option<String>,
    /// Why.
    pub reason: Option<String>,
    /// Why it covers requirements that no evidence shows.
    pub without_evidence: Option<String>,
}

/// Whether a waiver is in force.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WaiverStatus {
    /// Being written.
    Draft,
    /// In force.
    Approved,
    /// No longer.
    Withdrawn,
}

const WAIVER_STATUSES: &[(&str, WaiverStatus)] =
    &[("draft", WaiverStatus::Draft), ("approved", WaiverStatus::Approved), ("withdrawn", WaiverStatus::Withdrawn)];

impl WaiverStatus {
    /// The word in files.
    pub fn word(self) -> &'static str {
        word_of(WAIVER_STATUSES, self)
    }
}

/// What a waiver accepts for one criterion.
#[derive(Clone, Debug)]
pub enum Relief {
    /// A wider limit.
    Limits {
        /// The least.
        min: Option<Limit>,
        /// The most.
        max: Option<Limit>,
    },
    /// These records, whatever they show.
    Records(Vec<Spanned<Id>>),
}

impl Relief {
    /// Its limits.
    pub fn limits(&self) -> Vec<&Limit> {
        match self {
            Relief::Limits { min, max } => min.iter().chain(max).collect(),
            Relief::Records(_) => Vec::new(),
        }
    }

    /// It in words, as written: `at most 5.0 kg`, `as in TR-1`.
    pub fn show(&self) -> String {
        match self {
            Relief::Limits { min, max } => show_limits(min.as_ref(), max.as_ref()),
            Relief::Records(ids) => {
                format!("as in {}", ids.iter().map(|id| id.as_str()).collect::<Vec<_>>().join(", "))
            }
        }
    }

    /// What its limits come to, if that is not what is written.
    pub fn comes_to(&self) -> Option<String> {
        match self {
            Relief::Limits { min, max } => comes_to(min.as_ref(), max.as_ref()),
            Relief::Records(_) => None,
        }
    }

    /// Both: `at most 1.25 * allowed = 5.0 kg`.
    pub fn show_whole(&self) -> String {
        let comes_to = self.comes_to().map(|value| format!(" = {value}")).unwrap_or_default();
        format!("{}{comes_to}", self.show())
    }
}

const KEYS: &[&str] =
    &["requirement", "mark", "serials", "item", "before", "expires", "status", "approved_by", "approved", "reason"];

/// Reads a nonconformance.
pub fn read_nonconformance(raw: Raw<'_>) -> Entity {
    let Raw { reader, head, .. } = raw;
    for key in ["date", "against"] {
        if !reader.has(key) {
            reader.missing(key);
        }
    }
    let voids = reader.choice("voids", &[("nothing", ())]).map(|word| word.span);
    let reason = reader.text("reason").map(|text| text.value);
    if let (Some(span), None) = (voids, &reason) {
        reader.report(
            Finding::at("voids-without-reason", span, "this says that no evidence is voided, without a reason")
                .help("add reason = \"…\": why earlier evidence still stands"),
        );
    }
    let nonconformance = Nonconformance {
        date: reader.date("date"),
        against: reader.some_list("against"),
        requirements: Some(reader.ids("requirements")).filter(|_| reader.has("requirements")),
        found_by: reader.ids("found_by"),
        status: reader.choice("status", STATUSES).map_or(NonconformanceStatus::Open, |word| word.value),
        disposition: reader.choice("disposition", DISPOSITIONS),
        closed: reader.date("closed"),
        closed_by: reader.text("closed_by").map(|text| text.value),
        voids_nothing: voids.filter(|_| reason.is_some()),
        reason,
        before: reader.text("before"),
        head,
    };
    reader.finish(&[]);
    Entity::Nonconformance(Box::new(nonconformance))
}

/// Reads a waiver.
pub fn read_waiver(raw: Raw<'_>) -> Entity {
    let Raw { reader, head, .. } = raw;
    for key in ["requirement", "mark"] {
        if !reader.has(key) {
            reader.missing(key);
        }
    }
    let waiver = Waiver {
        requirement: reader.id("requirement"),
        mark: reader.text("mark"),
        serials: reader.serials("serials"),
        item: reader.id("item"),
        accepts: reader.named("accepts", relief),
        before: reader.text("before"),
        expires: reader.date("expires"),
        status: reader.choice("status", WAIVER_STATUSES).map_or(WaiverStatus::Draft, |word| word.value),
        approved_by: reader.text("approved_by").map(|text| text.value),
        approved: reader.date("approved"),
        conditions: reader.text("conditions").map(|text| text.value),
        reason: reader.text("reason").map(|text| text.value),
        without_evidence: reader.text("without_evidence").map(|text| text.value),
        head,
    };
    reader.finish(&[]);
    Entity::Waiver(Box::new(waiver))
}

fn relief<'r>(outer: &Reader<'r>, name: &str, value: Value<'r>) -> Option<Relief> {
    if !value.is_table() {
        let records = outer.value_strings(name, value);
        return Some(Relief::Records(
            records.into_iter().map(|text| Spanned::new(Id::new(&text.value), text.span)).collect(),
        ));
    }
    let table = outer.value_table(name, value, "relief")?;
    let limit = |key| {
        let text = table.scalar(key)?;
        let text = Spanned::new(text.value.text().to_string(), text.span);
        Some(Limit { text, tolerance: None, value: LimitValue::Pending })
    };
    let relief = Relief::Limits { min: limit("min"), max: limit("max") };
    table.finish(KEYS);
    Some(relief)
}
