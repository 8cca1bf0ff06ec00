//! Requirements, their criteria and their plan.

use std::sync::Arc;

use crate::diag::Finding;
use crate::parse::{Moment, Reader, Scalar};
use crate::quantity::{Quantity, Rational, parse_share};
use crate::text::{Span, Spanned};

use super::shared::{METHODS, Method, STAGES, Stage};
use super::{Entity, Head, Raw};
use crate::id::Id;

/// One thing that must hold, with its criteria and its verification plan.
#[derive(Clone, Debug)]
pub struct Requirement {
    /// Id, title and place.
    pub head: Head,
    /// The requirements it comes from.
    pub parents: Vec<Spanned<Id>>,
    /// The marks of parents that it was last held against, by id.
    pub parent_marks: Vec<(Spanned<String>, Spanned<String>)>,
    /// Where it comes from outside the project.
    pub source: Option<String>,
    /// What must meet it.
    pub applies_to: AppliesTo,
    /// Whether people depend on it.
    pub safety: bool,
    /// Who answers for it.
    pub owner: Option<String>,
    /// Active, draft or withdrawn.
    pub status: RequirementStatus,
    /// Why it was withdrawn.
    pub reason: Option<String>,
    /// The event before which its entries are due unless they say otherwise.
    pub before: Option<Spanned<String>>,
    /// Ids that it stands in for.
    pub replaces: Vec<Spanned<Id>>,
    /// What is measured, in the order of the names; never empty.
    pub criteria: Vec<Criterion>,
    /// How it will be shown.
    pub plan: Vec<PlanEntry>,
    /// Where `verified_by = "children"` stands, if it does.
    pub by_children_at: Option<Span>,
    /// The statement that its children suffice.
    pub by_children: Option<ByChildren>,
    /// The statement as written.
    pub statement: Spanned<String>,
    /// The statement as plain text.
    pub plain: String,
    /// The text under `## Rationale`.
    pub rationale: Option<String>,
    /// Whether the front matter holds `[criteria]` or the short form at all.
    pub criteria_written: bool,
    /// The mark of what it says now; filled in when the project is put together.
    pub mark: String,
}

/// Whether a requirement is in force.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RequirementStatus {
    /// In force.
    Active,
    /// Not yet agreed: counts as open.
    Draft,
    /// No longer asked for.
    Withdrawn,
}

const STATUSES: &[(&str, RequirementStatus)] = &[
    ("active", RequirementStatus::Active),
    ("draft", RequirementStatus::Draft),
    ("withdrawn", RequirementStatus::Withdrawn),
];

impl Requirement {
    /// The name of the criterion, if there is just one: what `result` without a name is about.
    pub fn only_criterion(&self) -> Option<&str> {
        match self.criteria.as_slice() {
            [only] => Some(&only.name),
            _ => None,
        }
    }
}

impl RequirementStatus {
    /// The word in files.
    pub fn word(self) -> &'static str {
        super::shared::word_of(STATUSES, self)
    }
}

/// What a requirement applies to.
#[derive(Clone, Debug, PartialEq)]
pub enum AppliesTo {
    /// The project as a whole.
    Project,
    /// These items or slots.
    Named(Vec<Spanned<Id>>),
    /// Every current item with this tag.
    Tag(Spanned<String>),
}

/// One measurable thing.
#[derive(Clone, Debug)]
pub struct Criterion {
    /// Its name.
    pub name: String,
    /// Where it is written; the fence for one that is implied.
    pub span: Span,
    /// A note for people.
    pub text: Option<String>,
    /// What is expected.
    pub expects: Expectation,
    /// Under which conditions, in the order of their names.
    pub at: Vec<Condition>,
}

/// What a criterion expects.
#[derive(Clone, Debug)]
pub enum Expectation {
    /// A quantity within limits.
    Limits {
        /// The least.
        min: Option<Limit>,
        /// The most.
        max: Option<Limit>,
    },
    /// One of these words.
    Words(Vec<String>),
    /// A whole number, at least this.
    Count(u64),
    /// A reliability, shown by trials each of which succeeds or fails.
    Trials {
        /// The share of all trials that would succeed, at least.
        reliability: Share,
        /// How sure the trials must make it.
        confidence: Share,
    },
    /// A limit, or two, that most of what is made lies inside, shown by a sample of it.
    Sample {
        /// The least.
        min: Option<Limit>,
        /// The most.
        max: Option<Limit>,
        /// The share of what is made that lies inside.
        covers: Share,
        /// How sure the sample must make it.
        confidence: Share,
    },
}

/// A share between 0 and 1, as written and exactly.
#[derive(Clone, Debug)]
pub struct Share {
    /// As written: `95 %`.
    pub text: String,
    /// What it is.
    pub value: Rational,
}

impl Expectation {
    /// The limits in numbers, of a single value or of a sample.
    pub fn ends(&self) -> (Option<&Limit>, Option<&Limit>) {
        match self {
            Expectation::Limits { min, max } | Expectation::Sample { min, max, .. } => (min.as_ref(), max.as_ref()),
            Expectation::Words(_) | Expectation::Count(_) | Expectation::Trials { .. } => (None, None),
        }
    }
}

/// A condition under which a criterion holds.
#[derive(Clone, Debug)]
pub struct Condition {
    /// Its name, as records write it under `conditions`.
    pub name: String,
    /// The least.
    pub min: Option<Limit>,
    /// The most.
    pub max: Option<Limit>,
}

/// A limit as written, and what it comes to.
#[derive(Clone, Debug)]
pub struct Limit {
    /// As written.
    pub text: Spanned<String>,
    /// For `equals` with a `tolerance`: the tolerance, and whether this is the lower end.
    pub tolerance: Option<(Spanned<String>, bool)>,
    /// What it comes to; filled in when the parameters are known.
    pub value: LimitValue,
}

/// What a limit comes to.
#[derive(Clone, Debug)]
pub enum LimitValue {
    /// Not worked out yet.
    Pending,
    /// A quantity.
    Known(Arc<Quantity>),
    /// TBD and the like.
    Placeholder,
    /// It cannot be worked out; a finding says why.
    Failed,
}

impl Limit {
    /// The quantity, if it is known.
    pub fn quantity(&self) -> Option<&Arc<Quantity>> {
        match &self.value {
            LimitValue::Known(quantity) => Some(quantity),
            _ => None,
        }
    }
}

impl Criterion {
    /// Every limit of the criterion and of its conditions.
    pub fn limits_mut(&mut self) -> impl Iterator<Item = &mut Limit> {
        let own = match &mut self.expects {
            Expectation::Limits { min, max } | Expectation::Sample { min, max, .. } => [min.as_mut(), max.as_mut()],
            _ => [None, None],
        };
        let conditions = self.at.iter_mut().flat_map(|condition| [condition.min.as_mut(), condition.max.as_mut()]);
        own.into_iter().chain(conditions).flatten()
    }

    /// Every limit of the criterion and of its conditions.
    pub fn limits(&self) -> impl Iterator<Item = &Limit> {
        let own = self.expects.ends();
        let conditions = self.at.iter().flat_map(|condition| [condition.min.as_ref(), condition.max.as_ref()]);
        [own.0, own.1].into_iter().chain(conditions).flatten()
    }

    /// The expectation in words: `at least 0.5`, `4 mm to 5 mm`, `pass`.
    pub fn show(&self) -> String {
        match &self.expects {
            Expectation::Limits { min, max } => show_limits(min.as_ref(), max.as_ref()),
            Expectation::Words(words) => words.join(" or "),
            Expectation::Count(count) => format!("at least {count}"),
            Expectation::Trials { reliability, confidence } => show_trials(reliability, confidence),
            Expectation::Sample { min, max, covers, confidence } => {
                show_sample(&show_limits(min.as_ref(), max.as_ref()), covers, confidence)
            }
        }
    }
}

/// A reliability in words.
pub fn show_trials(reliability: &Share, confidence: &Share) -> String {
    format!("reliability {} at {} confidence", reliability.text, confidence.text)
}

/// What a sample must show, in words; the limit already is.
pub fn show_sample(limit: &str, covers: &Share, confidence: &Share) -> String {
    format!("{limit} for {} at {} confidence", covers.text, confidence.text)
}

/// Limits in words.
pub fn show_limits(min: Option<&Limit>, max: Option<&Limit>) -> String {
    match (min, max) {
        (Some(Limit { text, tolerance: Some((tolerance, _)), .. }), _) => {
            format!("{} ± {}", text.value, tolerance.value)
        }
        (Some(min), Some(max)) => format!("{} to {}", min.text.value, max.text.value),
        (Some(min), None) => format!("at least {}", min.text.value),
        (None, Some(max)) => format!("at most {}", max.text.value),
        (None, None) => "no limit".to_string(),
    }
}

/// What limits come to, if that is not what is written.
pub fn comes_to(min: Option<&Limit>, max: Option<&Limit>) -> Option<String> {
    let value = |limit: Option<&Limit>| {
        let limit = limit?;
        let shown = limit.quantity()?.show();
        (limit.tolerance.is_none() && shown != limit.text.value).then_some(shown)
    };
    let shown: Vec<String> = [value(min), value(max)].into_iter().flatten().collect();
    (!shown.is_empty()).then(|| shown.join(" to "))
}

/// On how many pieces an entry must be shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum On {
    /// On each piece in scope.
    Each,
    /// On one piece, all criteria on the same.
    One,
    /// On the design: the item or any piece of it.
    Design,
}

const ON: &[(&str, On)] = &[("each", On::Each), ("one", On::One), ("design", On::Design)];

impl On {
    /// The word in files.
    pub fn word(self) -> &'static str {
        super::shared::word_of(ON, self)
    }
}

/// One `verify` of a requirement.
#[derive(Clone, Debug)]
pub struct PlanEntry {
    /// Where it is written.
    pub span: Span,
    /// How; none if the file does not say, which is a fault.
    pub method: Option<Method>,
    /// When in the product's life.
    pub stage: Option<Stage>,
    /// By which procedure.
    pub procedure: Option<Spanned<Id>>,
    /// Before which event.
    pub before: Option<Spanned<String>>,
    /// On how many pieces.
    pub on: On,
    /// Which criteria; none: all.
    pub criteria: Option<Vec<Spanned<String>>>,
    /// Procedures or events that must come first on the same piece.
    pub after: Vec<Spanned<String>>,
    /// Events after each holding of which it must be shown again.
    pub again_after: Vec<Spanned<String>>,
    /// How long the evidence stands.
    pub valid_for: Option<Spanned<String>>,
    /// Where it is done.
    pub facility: Option<String>,
    /// Who does it.
    pub by: Option<String>,
}

impl PlanEntry {
    /// Whether the entry asks for this criterion.
    pub fn asks_for(&self, criterion: &str) -> bool {
        self.criteria.as_ref().is_none_or(|names| names.iter().any(|name| name.value == criterion))
    }
}

/// The statement that a requirement's children suffice.
#[derive(Clone, Debug)]
pub struct ByChildren {
    /// Where it is written.
    pub span: Span,
    /// The mark of the parent when it was judged.
    pub mark: Option<Spanned<String>>,
    /// The children then.
    pub list: Vec<Spanned<Id>>,
    /// Who judged it.
    pub judged_by: Option<String>,
    /// When.
    pub date: Option<Spanned<Moment>>,
}

const KEYS: &[&str] = &[
    "parents",
    "parent_marks",
    "source",
    "applies_to",
    "safety",
    "owner",
    "status",
    "reason",
    "before",
    "replaces",
    "verify",
    "verified_by",
];

/// Reads a requirement.
pub fn read(raw: Raw<'_>) -> Entity {
    let Raw { reader, head, body, text, body_at, .. } = raw;
    let verified_by = reader.choice("verified_by", &[("children", ())]);
    let (criteria, criteria_written) = criteria(&reader, head.fence);
    let by_children = reader.table("by_children", "[by_children]").map(by_children);
    let at = Span::new(head.id.span.file, body_at + body.statement.start..body_at + body.statement.end);
    let requirement = Requirement {
        parents: reader.ids("parents"),
        parent_marks: reader.named_texts("parent_marks"),
        source: reader.text("source").map(|text| text.value),
        applies_to: applies_to(&reader),
        safety: reader.flag("safety").is_some_and(|flag| flag.value),
        owner: reader.text("owner").map(|text| text.value),
        status: reader.choice("status", STATUSES).map_or(RequirementStatus::Active, |status| status.value),
        reason: reader.text("reason").map(|text| text.value),
        before: reader.text("before"),
        replaces: reader.ids("replaces"),
        criteria,
        criteria_written,
        plan: reader.tables("verify", "[[verify]]").into_iter().map(entry).collect(),
        by_children_at: verified_by.map(|word| word.span),
        by_children,
        statement: Spanned::new(text[body.statement.clone()].to_string(), at),
        rationale: body.section(text, "Rationale").map(str::to_string),
        plain: body.plain,
        mark: String::new(),
        head,
    };
    reader.finish(&[]);
    Entity::Requirement(Arc::new(requirement))
}

fn applies_to(reader: &Reader<'_>) -> AppliesTo {
    if reader.holds_table("applies_to") {
        let Some(table) = reader.table("applies_to", "applies_to table") else { return AppliesTo::Project };
        let tag = table.required_text("tag");
        table.finish(KEYS);
        return tag.map_or(AppliesTo::Named(Vec::new()), AppliesTo::Tag);
    }
    let named = reader.some_ids("applies_to");
    if reader.has("applies_to") { AppliesTo::Named(named) } else { AppliesTo::Project }
}

fn entry(reader: Reader<'_>) -> PlanEntry {
    let method = reader.choice("method", METHODS).map(|word| word.value);
    if !reader.has("method") {
        reader.missing("method");
    }
    let stage = reader.choice("stage", STAGES).map(|word| word.value);
    let usual = match (method, stage) {
        (Some(Method::Analysis), _) => On::Design,
        (_, Some(Stage::Qualification | Stage::Development)) => On::One,
        _ => On::Each,
    };
    let entry = PlanEntry {
        span: reader.span(),
        method,
        stage,
        procedure: reader.id("procedure"),
        before: reader.text("before"),
        on: reader.choice("on", ON).map_or(usual, |word| word.value),
        criteria: Some(reader.some_list("criteria")).filter(|_| reader.has("criteria")),
        after: reader.list("after"),
        again_after: reader.list("again_after"),
        valid_for: reader.text("valid_for"),
        facility: reader.text("facility").map(|text| text.value),
        by: reader.text("by").map(|text| text.value),
    };
    reader.finish(KEYS);
    entry
}

fn by_children(reader: Reader<'_>) -> ByChildren {
    let statement = ByChildren {
        span: reader.span(),
        mark: reader.required_text("mark"),
        list: reader.ids("list"),
        judged_by: reader.required_text("judged_by").map(|text| text.value),
        date: reader.date("date"),
    };
    for key in ["list", "date"] {
        if !reader.has(key) {
            reader.missing(key);
        }
    }
    reader.finish(KEYS);
    statement
}

const SHORT_FORM: &[&str] =
    &["text", "min", "max", "equals", "tolerance", "expect", "count", "reliability", "covers", "confidence", "at"];

fn criteria(reader: &Reader<'_>, fence: Span) -> (Vec<Criterion>, bool) {
    let named = reader.named_tables("criteria", "criterion");
    let short = SHORT_FORM.iter().any(|key| reader.has(key));
    if short && reader.has("criteria") {
        let key = SHORT_FORM.iter().find(|key| reader.has(key)).copied().unwrap_or("min");
        let span = reader.key_span(key).unwrap_or(fence);
        reader.report(
            Finding::at(
                "criterion-twice",
                span,
                format!("`{key}` stands at the top, and there are [criteria.…] as well"),
            )
            .help(format!("move `{key}` into one of the [criteria.NAME] tables")),
        );
    }
    let mut criteria = Vec::with_capacity(named.len().max(1));
    for (name, table) in named {
        let criterion = criterion(&table, name.value, name.span);
        table.finish(KEYS);
        criteria.push(criterion);
    }
    if short {
        let span = SHORT_FORM.iter().find_map(|key| reader.key_span(key)).unwrap_or(fence);
        let criterion = criterion(reader, "value".to_string(), span);
        if criteria.is_empty() {
            criteria.push(criterion);
        }
    }
    let written = !criteria.is_empty();
    if !written {
        let expects = Expectation::Words(vec!["pass".to_string()]);
        criteria.push(Criterion { name: "met".to_string(), span: fence, text: None, expects, at: Vec::new() });
    }
    criteria.sort_by(|a, b| a.name.cmp(&b.name));
    (criteria, written)
}

fn criterion(table: &Reader<'_>, name: String, span: Span) -> Criterion {
    let text = table.text("text").map(|text| text.value);
    let (min, max) = (limit(table, "min"), limit(table, "max"));
    let equals = equals(table);
    let words = table.list("expect");
    let count = table.count("count");
    let statistical = Statistical::read(table, span, &name);
    let at = table.named("at", |outer, name, value| {
        let inner = outer.value_table(name, value, "condition")?;
        let condition = Condition { name: name.to_string(), min: limit(&inner, "min"), max: limit(&inner, "max") };
        if condition.min.is_none() && condition.max.is_none() {
            inner.report(Finding::at(
                "condition-without-limit",
                inner.span(),
                format!("condition `{name}` has neither min nor max"),
            ));
        }
        inner.finish(&[]);
        Some(condition)
    });
    let limits = min.is_some() || max.is_some();
    let given = [limits, equals.is_some(), table.has("expect"), count.is_some(), table.has("reliability")];
    let shapes = given.iter().filter(|given| **given).count();
    if shapes != 1 {
        let what = if shapes == 0 { "expects nothing" } else { "expects two things at once" };
        table.report(Finding::at("criterion-shape", span, format!("criterion `{name}` {what}")).help(
            "give it exactly one of: min and/or max; equals with tolerance; expect; count; reliability with confidence",
        ));
    } else if table.has("covers") && !limits && equals.is_none() {
        let message = format!("criterion `{name}` says what share it covers, and has no limit in numbers");
        table.report(Finding::at("criterion-shape", span, message).help("give it min, max or both, beside `covers`"));
    }
    let expects = if let Some(Statistical::Trials { reliability, confidence }) = statistical {
        Expectation::Trials { reliability, confidence }
    } else if let Some(Statistical::Sample { covers, confidence }) = statistical {
        let (min, max) = equals.map_or((min, max), |(low, high)| (Some(low), Some(high)));
        Expectation::Sample { min, max, covers, confidence }
    } else if let Some((low, high)) = equals {
        Expectation::Limits { min: Some(low), max: Some(high) }
    } else if limits || shapes == 0 || table.has("reliability") {
        // A reliability that cannot be read leaves nothing to judge against.
        Expectation::Limits { min, max }
    } else if let Some(count) = count {
        Expectation::Count(count.value)
    } else {
        Expectation::Words(words.into_iter().map(|word| crate::parse::plain_text(&word.value)).collect())
    };
    Criterion { name, span, text, expects, at: at.into_iter().map(|(_, condition)| condition).collect() }
}

/// What a criterion asks of trials or of a sample.
enum Statistical {
    Trials { reliability: Share, confidence: Share },
    Sample { covers: Share, confidence: Share },
}

impl Statistical {
    fn read(table: &Reader<'_>, span: Span, name: &str) -> Option<Self> {
        let shape = |message: String, help: &str| {
            table.report(Finding::at("criterion-shape", span, message).help(help));
        };
        let (reliability, covers) = (share(table, "reliability"), share(table, "covers"));
        let confidence = share(table, "confidence");
        if table.has("confidence") && !table.has("reliability") && !table.has("covers") {
            shape(
                format!("criterion `{name}` asks for a confidence, and not in what"),
                "add reliability, or covers beside its limit",
            );
        } else if !table.has("confidence") && (table.has("reliability") || table.has("covers")) {
            shape(format!("criterion `{name}` does not say at which confidence"), "add confidence = \"95 %\"");
        }
        match (reliability, covers, confidence?) {
            (Some(reliability), None, confidence) => Some(Self::Trials { reliability, confidence }),
            (None, Some(covers), confidence) => Some(Self::Sample { covers, confidence }),
            _ => None,
        }
    }
}

/// A share between 0 and 1; a confidence is a half at least: with less, a coin would do.
fn share(table: &Reader<'_>, key: &'static str) -> Option<Share> {
    let written = table.scalar(key)?;
    let value = parse_share(written.value.text());
    let least = if key == "confidence" { Rational::new(1.into(), 2.into()) } else { Rational::zero() };
    let proper = |value: &Rational| value.is_positive() && *value >= least && *value < Rational::one();
    let Some(value) = value.filter(proper) else {
        let range = if key == "confidence" { "50 % and 100 %" } else { "0 and 100 %" };
        table.report(
            Finding::at("bad-share", written.span, format!("`{key}` is no share between {range}"))
                .help(format!("write {key} = \"95 %\"")),
        );
        return None;
    };
    Some(Share { text: written.value.text().to_string(), value })
}

fn limit(table: &Reader<'_>, key: &'static str) -> Option<Limit> {
    let written = table.scalar(key)?;
    Some(Limit { text: text_of(written), tolerance: None, value: LimitValue::Pending })
}

fn equals(table: &Reader<'_>) -> Option<(Limit, Limit)> {
    let equals = table.scalar("equals").map(text_of);
    let tolerance = table.scalar("tolerance").map(text_of);
    let (equals, tolerance) = match (equals, tolerance) {
        (Some(equals), Some(tolerance)) => (equals, tolerance),
        (Some(equals), None) => {
            table.report(
                Finding::at("criterion-shape", equals.span, "`equals` has no `tolerance`")
                    .help("add tolerance = \"…\""),
            );
            return None;
        }
        (None, Some(tolerance)) => {
            table.report(
                Finding::at("criterion-shape", tolerance.span, "`tolerance` has no `equals`")
                    .help("add equals = \"…\""),
            );
            return None;
        }
        (None, None) => return None,
    };
    let end =
        |low| Limit { text: equals.clone(), tolerance: Some((tolerance.clone(), low)), value: LimitValue::Pending };
    Some((end(true), end(false)))
}

fn text_of(written: Spanned<Scalar>) -> Spanned<String> {
    Spanned::new(written.value.text().to_string(), written.span)
}
