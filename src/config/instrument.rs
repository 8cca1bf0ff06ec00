//! `instruments.toml`: what is measured with, how well, and when that was last looked at.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::diag::{Finding, Findings};
use crate::id::Id;
use crate::parse::{Moment, Reader};
use crate::quantity::{self, Capability, InstrumentUncertainty, Limits, QuantityError, Width};
use crate::text::{FileId, Span, Spanned};

use super::KeepsEvidence;
use super::tables::each;

/// A measuring instrument.
#[derive(Clone, Debug)]
pub struct Instrument {
    /// Its id and where it is written.
    pub id: Spanned<Id>,
    /// What it is.
    pub what: Option<String>,
    /// Between what it reads, as written.
    pub range: Option<Spanned<String>>,
    /// The least step that it shows, as written.
    pub resolution: Option<Spanned<String>>,
    /// By how much a reading may be off, as written: of several, the greatest holds.
    pub uncertainty: Vec<Spanned<String>>,
    /// What these come to.
    pub capability: Capability,
    /// What of them is stated in words that cannot be calculated with.
    pub in_words: Vec<InWords>,
    /// Its calibrations, in the order of the file.
    pub calibrations: Vec<Calibration>,
}

/// A text that may stand where a number is meant, and from which nothing follows.
#[derive(Clone, Debug)]
pub struct InWords {
    /// The key.
    pub key: &'static str,
    /// Where.
    pub span: Span,
    /// Why it is not read.
    pub why: String,
    /// What to type.
    pub help: String,
}

/// One calibration.
#[derive(Clone, Debug)]
pub struct Calibration {
    /// Where it is written.
    pub span: Span,
    /// When.
    pub on: Option<Spanned<Moment>>,
    /// Until when it holds.
    pub due: Option<Spanned<Moment>>,
    /// How the instrument was found, before anything was done to it.
    pub as_found: Option<Spanned<AsFound>>,
    /// Which evidence stands although it was found out of tolerance.
    pub keeps_evidence: KeepsEvidence,
    /// Why.
    pub reason: Option<String>,
    /// The certificate.
    pub certificate: Option<String>,
    /// A note for people.
    pub note: Option<String>,
}

/// How an instrument was found at a calibration.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AsFound {
    /// It still read as it should.
    InTolerance,
    /// It did not: what it was used for since the calibration before is in doubt.
    OutOfTolerance,
}

const FOUND: &[(&str, AsFound)] =
    &[("in tolerance", AsFound::InTolerance), ("out of tolerance", AsFound::OutOfTolerance)];

impl AsFound {
    /// The word in files.
    pub fn word(self) -> &'static str {
        FOUND.iter().find(|(_, found)| *found == self).map_or("", |(word, _)| word)
    }
}

impl Calibration {
    /// Whether it found the instrument out of tolerance.
    pub fn is_recall(&self) -> bool {
        self.as_found.as_ref().is_some_and(|found| found.value == AsFound::OutOfTolerance)
    }
}

impl Instrument {
    /// Whether a calibration covers this day: the newest one before it, not yet due again; of several made on one day,
    /// the one that is due first.
    pub fn calibrated_on(&self, day: Date) -> bool {
        let usable = self.calibrations.iter().filter_map(|one| Some((one.on.as_ref()?.date, one.due.as_ref()?.date)));
        let newest = usable.filter(|(on, _)| *on <= day).max_by_key(|(on, due)| (*on, std::cmp::Reverse(*due)));
        newest.is_some_and(|(_, due)| due >= day)
    }

    /// The calibrations that put a record in doubt: they found the instrument out of tolerance on the day on which it was made
    /// or later, the one before them is not of a later day, and they do not keep it. One without a date is in doubt by each.
    pub fn recalls<'a>(&'a self, record: &'a Id, made: Option<&'a Moment>) -> impl Iterator<Item = &'a Calibration> {
        self.calibrations.iter().filter(move |own| {
            let after = matches!((&own.on, made), (Some(on), Some(made)) if on.on_a_day_before(made));
            let before = matches!((self.before(own), made), (Some(good), Some(made)) if made.on_a_day_before(good));
            own.is_recall() && !after && !before && !own.keeps_evidence.keeps("", record)
        })
    }

    /// The newest calibration of an earlier day than another.
    pub fn before(&self, calibration: &Calibration) -> Option<&Moment> {
        let on = calibration.on.as_ref()?;
        let earlier = self.calibrations.iter().filter_map(|one| one.on.as_ref()).filter(|own| own.date < on.date);
        earlier.map(|own| &own.value).max_by_key(|own| own.date)
    }

    /// The stated uncertainty in one line; none if none is stated.
    pub fn stated_uncertainty(&self) -> Option<String> {
        let texts: Vec<&str> = self.uncertainty.iter().map(|own| own.value.as_str()).collect();
        match texts.as_slice() {
            [] => None,
            [only] => Some((*only).to_string()),
            several => Some(format!("{}, whichever is more", several.join(" or "))),
        }
    }
}

/// Reads `instruments.toml`.
pub fn instruments(file: FileId, text: &str, findings: &mut Findings) -> BTreeMap<Id, Instrument> {
    each(file, text, "instrument", findings, |name, table| {
        let id = Spanned::new(Id::new(&name.value), name.span);
        let mut instrument = Instrument {
            what: table.text("what").map(|text| text.value),
            range: as_text(table, "range"),
            resolution: as_text(table, "resolution"),
            uncertainty: uncertainties(table),
            capability: Capability::default(),
            in_words: Vec::new(),
            calibrations: table.tables("calibrations", "calibration").into_iter().map(calibration).collect(),
            id: id.clone(),
        };
        instrument.capability = Capability {
            range: range(&instrument.range, &mut instrument.in_words),
            resolution: resolution(table, instrument.resolution.as_ref()),
            uncertainty: Vec::new(),
        };
        instrument.capability.uncertainty = parts(&mut instrument);
        (id.value, instrument)
    })
}

fn as_text(table: &Reader<'_>, key: &'static str) -> Option<Spanned<String>> {
    table.scalar(key).map(|own| Spanned::new(own.value.text().to_string(), own.span))
}

/// One uncertainty, a number or a text, or a list of texts.
fn uncertainties(table: &Reader<'_>) -> Vec<Spanned<String>> {
    match table.holds_list("uncertainty") {
        true => table.some_list("uncertainty"),
        false => as_text(table, "uncertainty").into_iter().collect(),
    }
}

fn range(text: &Option<Spanned<String>>, in_words: &mut Vec<InWords>) -> Option<Limits> {
    let text = text.as_ref()?;
    read("range", text, quantity::parse_range(&text.value), in_words)
}

fn resolution(table: &Reader<'_>, text: Option<&Spanned<String>>) -> Option<Width> {
    let text = text?;
    let report = |error: QuantityError| {
        let what = format!("`{}` is no resolution: {}", text.value, error.message);
        table.report(Finding::at("bad-quantity", text.span, what).help(error.help));
    };
    quantity::parse_resolution(&text.value).map_err(report).ok()
}

/// The parts of the stated uncertainty; none at all if one of them is in words, since it might be the greatest.
fn parts(instrument: &mut Instrument) -> Vec<InstrumentUncertainty> {
    let range = instrument.capability.range.as_ref();
    let one = |text: &Spanned<String>| {
        let part = quantity::parse_instrument_uncertainty(&text.value, range);
        read("uncertainty", text, part, &mut instrument.in_words)
    };
    instrument.uncertainty.iter().map(one).collect::<Option<Vec<_>>>().unwrap_or_default()
}

fn read<T>(
    key: &'static str,
    text: &Spanned<String>,
    read: Result<T, QuantityError>,
    in_words: &mut Vec<InWords>,
) -> Option<T> {
    let note =
        |error: QuantityError| in_words.push(InWords { key, span: text.span, why: error.message, help: error.help });
    read.map_err(note).ok()
}

fn calibration(table: Reader<'_>) -> Calibration {
    let keeps_evidence = KeepsEvidence::read(&table);
    let reason = table.text("reason").map(|text| text.value);
    if table.has("keeps_evidence") && reason.is_none() {
        table.missing("reason");
    }
    let calibration = Calibration {
        span: table.span(),
        on: table.date("on"),
        due: table.date("due"),
        as_found: table.choice("as_found", FOUND),
        keeps_evidence: if reason.is_some() { keeps_evidence } else { KeepsEvidence::NONE },
        reason,
        certificate: table.text("certificate").map(|text| text.value),
        note: table.text("note").map(|text| text.value),
    };
    for key in ["on", "due"] {
        if !table.has(key) {
            table.missing(key);
        }
    }
    table.finish(&[]);
    calibration
}
