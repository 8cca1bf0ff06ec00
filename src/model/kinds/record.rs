//! Records: the evidence.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::diag::Finding;
use crate::parse::{Amount, Moment, Reader, Scalar, Value, nearest};
use crate::text::{Span, Spanned};

use super::calculation::{Calculation, Correlation, Input, ReductionText, correlation, input, reduction};
use super::shared::{Method, STAGES, Stage};
use super::{Entity, Head, Raw};
use crate::id::{Id, SerialId};

/// Evidence: an analysis, test, inspection or demonstration.
#[derive(Clone, Debug)]
pub struct Record {
    /// Id, title and place.
    pub head: Head,
    /// How it was made.
    pub method: Method,
    /// When; none if the file does not say, which is a fault.
    pub date: Option<Spanned<Moment>>,
    /// On which pieces.
    pub serials: Vec<Spanned<SerialId>>,
    /// On which item, where it is about the design.
    pub item: Option<Spanned<Id>>,
    /// The revision as tested.
    pub revision: Option<Spanned<String>>,
    /// The revisions as tested, by item.
    pub revisions: BTreeMap<Id, Spanned<String>>,
    /// When in the product's life.
    pub stage: Option<Stage>,
    /// By which procedure.
    pub procedure: Option<Spanned<Id>>,
    /// In which revision.
    pub procedure_revision: Option<Spanned<String>>,
    /// Who did it.
    pub performed_by: Option<Spanned<String>>,
    /// Who watched.
    pub witnessed_by: Vec<Spanned<String>>,
    /// Who stands by it.
    pub signed_by: Option<Spanned<String>>,
    /// With what.
    pub instruments: Vec<Spanned<Id>>,
    /// Why none was needed.
    pub no_instrument: Option<String>,
    /// Conditions by name, as written.
    pub conditions: Vec<(Spanned<String>, Spanned<Scalar>)>,
    /// What was read and noted by name, and is held against nothing, as written.
    pub readings: Vec<(Spanned<String>, Spanned<Scalar>)>,
    /// What it used of the limited life of the pieces: an amount by the name of each budget.
    pub uses: Vec<(Spanned<String>, Spanned<Amount>)>,
    /// Draft, signed or withdrawn.
    pub status: Spanned<RecordStatus>,
    /// Why it was withdrawn.
    pub reason: Option<String>,
    /// Who withdrew it.
    pub withdrawn_by: Option<String>,
    /// When.
    pub withdrawn: Option<Spanned<Moment>>,
    /// What `sign` wrote over it.
    pub seal: Option<Spanned<String>>,
    /// The seal of what it says now.
    pub seal_now: String,
    /// What it was signed with before, and why it was signed again.
    pub signed_again: Vec<SignedAgain>,
    /// Departures from the procedure.
    pub deviations: Vec<Deviation>,
    /// Things still to do.
    pub actions: Vec<Action>,
    /// What it shows, by requirement, in the order of the ids.
    pub verifies: Vec<Verifies>,
    /// Files beside it.
    pub data: Vec<Attachment>,
    /// What a calculation starts from.
    pub inputs: Vec<Input>,
    /// How they go together.
    pub correlations: Vec<Correlation>,
    /// The calculation in the body.
    pub calculation: Option<Box<Calculation>>,
}

impl Record {
    /// The instruments that what it says rests on: those of the run, and those that its own inputs and data were read with.
    pub fn read_with(&self) -> Vec<&str> {
        let mut all: Vec<&str> = self.instruments.iter().map(|own| own.value.as_str()).collect();
        let inputs = self.inputs.iter().filter(|input| input.from.is_none());
        all.extend(inputs.filter_map(|input| Some(input.instrument.as_ref()?.value.as_str())));
        let results =
            self.verifies.iter().flat_map(|own| own.result.iter().chain(own.results.iter().map(|(_, it)| it)));
        all.extend(results.filter_map(|result| match &result.value {
            ResultText::Reduction(own) => Some(own.get("instrument")?.value.as_str()),
            _ => None,
        }));
        let mut seen = std::collections::BTreeSet::new();
        all.retain(|own| seen.insert(*own));
        all
    }

    /// Whether it was made with this instrument.
    pub fn names_instrument(&self, id: &Id) -> bool {
        self.instruments.iter().any(|own| own.value == *id)
    }
}

/// Whether somebody stands by a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RecordStatus {
    /// Not yet.
    Draft,
    /// Yes.
    Signed,
    /// No longer.
    Withdrawn,
}

const STATUSES: &[(&str, RecordStatus)] =
    &[("draft", RecordStatus::Draft), ("signed", RecordStatus::Signed), ("withdrawn", RecordStatus::Withdrawn)];

impl RecordStatus {
    /// The word in files.
    pub fn word(self) -> &'static str {
        super::shared::word_of(STATUSES, self)
    }
}

/// Why a record was signed again after it had been changed.
#[derive(Clone, Debug)]
pub struct SignedAgain {
    /// The seals that it stands in for.
    pub seals: Vec<Spanned<String>>,
    /// When.
    pub date: Option<Spanned<Moment>>,
    /// By whom.
    pub by: Option<String>,
    /// Why.
    pub reason: Option<String>,
}

impl SignedAgain {
    /// Whether it says why this seal is not the record's any more: by whom and for what reason.
    pub fn stands_for(&self, seal: &str) -> bool {
        self.reason.is_some() && self.by.is_some() && self.seals.iter().any(|own| own.value == seal)
    }
}

/// A departure from the procedure.
#[derive(Clone, Debug)]
pub struct Deviation {
    /// What was done otherwise.
    pub text: String,
    /// Who accepted it.
    pub accepted_by: Option<String>,
}

/// Work that the run left behind.
#[derive(Clone, Debug)]
pub struct Action {
    /// What is to be done.
    pub text: String,
    /// When it was done.
    pub closed: Option<Spanned<Moment>>,
}

/// What a record shows of one requirement.
#[derive(Clone, Debug)]
pub struct Verifies {
    /// The requirement.
    pub requirement: Spanned<Id>,
    /// The mark of the requirement that it was judged against.
    pub mark: Option<Spanned<String>>,
    /// The only criterion's result.
    pub result: Option<Spanned<ResultText>>,
    /// Results by criterion, in the order of the names.
    pub results: Vec<(Spanned<String>, Spanned<ResultText>)>,
    /// What `sign` wrote: each criterion as it was judged then.
    pub outcomes: Vec<(Spanned<String>, Spanned<String>)>,
    /// What `sign` wrote: each computed result as it came out then.
    pub computed: Vec<(Spanned<String>, Spanned<String>)>,
    /// Criteria that this record does not judge, with the reason.
    pub not_judged: Vec<(Spanned<String>, Spanned<String>)>,
    /// Later looks at reworded requirements.
    pub reaffirmed: Vec<Reaffirmation>,
}

impl Verifies {
    /// The result for a criterion; `only` is the name of the requirement's only criterion, if it has just one.
    pub fn result_for(&self, criterion: &str, only: Option<&str>) -> Option<&Spanned<ResultText>> {
        let named = self.results.iter().find(|(name, _)| name.value == criterion).map(|(_, result)| result);
        named.or_else(|| self.result.as_ref().filter(|_| only == Some(criterion)))
    }

    /// Names of the criteria that it judges or leaves out; `?` for a bare result where nobody can say of what.
    pub fn criteria_told<'a>(&'a self, only: Option<&'a str>) -> Vec<&'a str> {
        let judged = self.results.iter().map(|(name, _)| name.value.as_str());
        let left_out = self.not_judged.iter().map(|(name, _)| name.value.as_str());
        let bare = self.result.as_ref().map(|_| only.unwrap_or("?"));
        judged.chain(left_out).chain(bare).collect()
    }

    /// Why the record does not judge a criterion, if it says so.
    pub fn not_judged_because(&self, criterion: &str) -> Option<&str> {
        self.not_judged.iter().find(|(name, _)| name.value == criterion).map(|(_, reason)| reason.value.as_str())
    }

    /// What `sign` wrote for a criterion.
    pub fn outcome(&self, criterion: &str) -> Option<&str> {
        self.outcomes.iter().find(|(name, _)| name.value == criterion).map(|(_, outcome)| outcome.value.as_str())
    }

    /// What `sign` wrote of a computed result.
    pub fn computed_then(&self, criterion: &str) -> Option<&Spanned<String>> {
        self.computed.iter().find(|(name, _)| name.value == criterion).map(|(_, value)| value)
    }

    /// Every mark that the evidence carries for the requirement: the first, and each re-affirmed one.
    pub fn marks(&self) -> impl Iterator<Item = &str> {
        let reaffirmed = self.reaffirmed.iter().filter_map(|again| again.mark.as_ref());
        self.mark.iter().chain(reaffirmed).map(|mark| mark.value.as_str())
    }
}

/// A result as written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ResultText {
    /// A number, quantity, bound or word.
    Written(Scalar),
    /// What a line of the record's calculation comes to: its name.
    Calculation(String),
    /// What attached data come to.
    Reduction(Box<ReductionText>),
    /// Every reading of a sample.
    Readings(Vec<Spanned<Scalar>>),
    /// A sample of which mean and standard deviation were worked out elsewhere.
    Summary {
        /// The mean.
        mean: Spanned<Scalar>,
        /// The standard deviation.
        deviation: Spanned<Scalar>,
        /// How many readings.
        count: u64,
    },
}

impl ResultText {
    /// Whether the program works it out, so that it can come to something else one day.
    pub fn is_computed(&self) -> bool {
        matches!(self, ResultText::Calculation(_) | ResultText::Reduction(_))
    }

    /// For display.
    pub fn show(&self) -> String {
        match self {
            ResultText::Written(scalar) => scalar.text().to_string(),
            ResultText::Calculation(name) => format!("calculation `{name}`"),
            ResultText::Reduction(reduction) => reduction.show(),
            ResultText::Readings(readings) => {
                let (first, rest) = readings.split_at(readings.len().min(SHOWN));
                let texts: Vec<&str> = first.iter().map(|own| own.value.text()).collect();
                let more = if rest.is_empty() { String::new() } else { format!("; and {} more", rest.len()) };
                format!("sample {}{more}", texts.join("; "))
            }
            ResultText::Summary { mean, deviation, count } => {
                format!("mean {}, s {}, n {count}", mean.value.text(), deviation.value.text())
            }
        }
    }
}

/// How many readings of a sample are shown where it is named.
const SHOWN: usize = 5;

/// A dated, named statement that evidence still stands though the requirement was reworded.
#[derive(Clone, Debug)]
pub struct Reaffirmation {
    /// The requirement's mark then.
    pub mark: Option<Spanned<String>>,
    /// When.
    pub date: Option<Spanned<Moment>>,
    /// By whom.
    pub by: Option<String>,
    /// Why.
    pub reason: Option<String>,
}

/// A file beside the record.
#[derive(Clone, Debug)]
pub struct Attachment {
    /// Its path, relative to the record.
    pub file: Spanned<String>,
    /// The SHA-256 of its bytes, in hex.
    pub sha256: Option<Spanned<String>>,
}

/// Reads an analysis.
pub fn read_analysis(raw: Raw<'_>) -> Entity {
    read(raw, Method::Analysis)
}

/// Reads a test.
pub fn read_test(raw: Raw<'_>) -> Entity {
    read(raw, Method::Test)
}

/// Reads an inspection.
pub fn read_inspection(raw: Raw<'_>) -> Entity {
    read(raw, Method::Inspection)
}

/// Reads a demonstration.
pub fn read_demonstration(raw: Raw<'_>) -> Entity {
    read(raw, Method::Demonstration)
}

/// Keys of a record, for complaints about keys that slid into a table below.
const KEYS: &[&str] = &[
    "date",
    "serial",
    "item",
    "revision",
    "stage",
    "procedure",
    "procedure_revision",
    "performed_by",
    "witnessed_by",
    "signed_by",
    "instruments",
    "no_instrument",
    "status",
    "reason",
    "seal",
    "signed_again",
    "deviations",
    "actions",
    "correlations",
];

fn read(raw: Raw<'_>, method: Method) -> Entity {
    let Raw { reader, head, body, body_at, seal, .. } = raw;
    if !reader.has("date") {
        reader.missing("date");
    }
    let (revision, revisions) = revision(&reader);
    let fence = head.fence;
    let record = Record {
        method,
        date: reader.date("date"),
        serials: reader.serials("serial"),
        item: reader.id("item"),
        revision,
        revisions,
        stage: reader.choice("stage", STAGES).map(|word| word.value),
        procedure: reader.id("procedure"),
        procedure_revision: reader.scalar("procedure_revision").map(as_text),
        performed_by: reader.text("performed_by"),
        witnessed_by: reader.list("witnessed_by"),
        signed_by: reader.text("signed_by"),
        instruments: reader.ids("instruments"),
        no_instrument: reader.text("no_instrument").map(|text| text.value),
        conditions: reader.named("conditions", |outer, name, value| outer.value_scalar(name, value)),
        readings: reader.named("readings", |outer, name, value| outer.value_scalar(name, value)),
        uses: reader.amounts("uses"),
        status: reader.choice("status", STATUSES).unwrap_or(Spanned::new(RecordStatus::Draft, fence)),
        reason: reader.text("reason").map(|text| text.value),
        withdrawn_by: reader.text("withdrawn_by").map(|text| text.value),
        withdrawn: reader.date("withdrawn"),
        seal: reader.text("seal"),
        seal_now: seal,
        signed_again: reader.tables("signed_again", "[[signed_again]] table").into_iter().map(signed_again).collect(),
        deviations: reader.tables("deviations", "deviation").into_iter().map(deviation).collect(),
        actions: reader.tables("actions", "action").into_iter().map(action).collect(),
        verifies: reader.named_tables("verifies", "[verifies.…] table").into_iter().map(verifies).collect(),
        data: reader.tables("data", "[[data]]").into_iter().map(attachment).collect(),
        inputs: reader.named_tables("inputs", "[inputs.…] table").into_iter().map(|own| input(own, KEYS)).collect(),
        correlations: reader
            .tables("correlations", "[[correlations]] table")
            .into_iter()
            .map(|own| correlation(own, KEYS))
            .collect(),
        calculation: Calculation::of(&body.calculations, fence.file, body_at),
        head,
    };
    reader.finish(&[]);
    Entity::Record(Arc::new(record))
}

fn as_text(written: Spanned<Scalar>) -> Spanned<String> {
    Spanned::new(written.value.text().to_string(), written.span)
}

/// The revision as tested: one for the subject, or a table by item.
fn revision(reader: &Reader<'_>) -> (Option<Spanned<String>>, BTreeMap<Id, Spanned<String>>) {
    if !reader.holds_table("revision") {
        return (reader.scalar("revision").map(as_text), BTreeMap::new());
    }
    let by_item = reader.named("revision", |outer, name, value| outer.value_scalar(name, value).map(as_text));
    (None, by_item.into_iter().map(|(item, revision)| (Id::new(&item.value), revision)).collect())
}

fn signed_again(table: Reader<'_>) -> SignedAgain {
    let again = SignedAgain {
        seals: table.list("seals"),
        date: table.date("date"),
        by: table.required_text("by").map(|text| text.value),
        reason: table.required_text("reason").map(|text| text.value),
    };
    for key in ["seals", "date"] {
        if !table.has(key) {
            table.missing(key);
        }
    }
    table.finish(KEYS);
    again
}

fn deviation(table: Reader<'_>) -> Deviation {
    let deviation = Deviation {
        text: table.required_text("text").map(|text| text.value).unwrap_or_default(),
        accepted_by: table.text("accepted_by").map(|text| text.value),
    };
    table.finish(KEYS);
    deviation
}

fn action(table: Reader<'_>) -> Action {
    let action = Action {
        text: table.required_text("text").map(|text| text.value).unwrap_or_default(),
        closed: table.date("closed"),
    };
    table.finish(KEYS);
    action
}

fn verifies((requirement, table): (Spanned<String>, Reader<'_>)) -> Verifies {
    let verifies = Verifies {
        requirement: Spanned::new(Id::new(&requirement.value), requirement.span),
        mark: table.text("mark"),
        result: table.with("result", result),
        results: table.named("results", result),
        outcomes: outcomes(&table),
        computed: table.named_texts("computed"),
        not_judged: table.named_texts("not_judged"),
        reaffirmed: table.tables("reaffirmed", "[[…reaffirmed]] table").into_iter().map(reaffirmation).collect(),
    };
    table.finish(KEYS);
    verifies
}

/// What each criterion was judged to be. Another word would be taken for no failure, and says none.
fn outcomes(table: &Reader<'_>) -> Vec<(Spanned<String>, Spanned<String>)> {
    let outcomes = table.named_texts("outcome");
    for (name, outcome) in outcomes.iter().filter(|(_, outcome)| !OUTCOMES.contains(&outcome.value.as_str())) {
        let text = format!("the outcome of `{}` cannot be \"{}\"", name.value, outcome.value);
        let help = match nearest(&outcome.value, OUTCOMES.iter().copied()) {
            Some(word) => format!("did you mean \"{word}\"? it takes one of: {}", OUTCOMES.join(", ")),
            None => format!("write one of: {}; slipmark sign writes it by itself", OUTCOMES.join(", ")),
        };
        table.report(Finding::at("unknown-word", outcome.span, text).help(help));
    }
    outcomes
}

/// What a criterion can have been judged to be when the record was signed.
const OUTCOMES: &[&str] = &["met", "not met", "inconclusive"];

fn result<'r>(outer: &Reader<'r>, name: &str, value: Value<'r>) -> Option<Spanned<ResultText>> {
    if !value.is_table() {
        let scalar = outer.value_scalar(name, value)?;
        return Some(Spanned::new(ResultText::Written(scalar.value), scalar.span));
    }
    let table = outer.value_table(name, value, "result")?;
    let span = table.span();
    if table.has("sample") || table.has("mean") {
        let made = sample(&table, span, name);
        table.finish(&[]);
        return made.map(|made| Spanned::new(made, span));
    }
    let made = match (table.text("calc"), table.text("data")) {
        (Some(calc), None) => Some(ResultText::Calculation(calc.value)),
        (None, Some(data)) => Some(ResultText::Reduction(Box::new(reduction(&table, data)))),
        _ => {
            table.report(
                Finding::at(
                    "bad-result",
                    span,
                    format!("the result `{name}` is neither a calculation nor a reduction of data nor a sample"),
                )
                .help("write { calc = \"…\" }, { data = \"FILE.csv\", column = \"…\", reduce = \"…\" } or { sample = [\"…\"] }"),
            );
            None
        }
    };
    table.finish(&[]);
    made.map(|made| Spanned::new(made, span))
}

fn sample(table: &Reader<'_>, span: Span, name: &str) -> Option<ResultText> {
    if table.has("sample") && !["mean", "sd", "n"].iter().any(|key| table.has(key)) {
        return Some(ResultText::Readings(table.scalars("sample")));
    }
    let (mean, deviation, count) = (table.scalar("mean"), table.scalar("sd"), table.count("n"));
    let (Some(mean), Some(deviation), Some(count), false) = (mean, deviation, count, table.has("sample")) else {
        let _ = table.scalars("sample");
        table.report(
            Finding::at(
                "bad-result",
                span,
                format!("the sample `{name}` is neither all of its readings nor mean, sd and n"),
            )
            .help("write { sample = [\"…\", \"…\"] } or { mean = \"…\", sd = \"…\", n = 10 }"),
        );
        return None;
    };
    Some(ResultText::Summary { mean, deviation, count: count.value })
}

fn reaffirmation(table: Reader<'_>) -> Reaffirmation {
    let again = Reaffirmation {
        mark: table.required_text("mark"),
        date: table.date("date"),
        by: table.required_text("by").map(|text| text.value),
        reason: table.required_text("reason").map(|text| text.value),
    };
    if !table.has("date") {
        table.missing("date");
    }
    table.finish(KEYS);
    again
}

fn attachment(table: Reader<'_>) -> Attachment {
    let span = table.span();
    let attachment = Attachment {
        file: table.required_text("file").unwrap_or(Spanned::new(String::new(), span)),
        sha256: table.required_text("sha256"),
    };
    table.finish(KEYS);
    attachment
}
