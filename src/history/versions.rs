//! Two versions of one thing, whatever its kind: what kind of change lies between them.

use crate::model::kinds::{Requirement, RequirementStatus};
use crate::parse::plain_spaces;
use crate::quantity::Quantity;

use super::compare::calendar::{Calendar, first};
use super::compare::criteria::{self, CriterionChange};
use super::compare::{Difference, plan, requirement};
use super::keys::{self, Flat, KeyChange, Told};

/// What happened to a thing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ChangeKind {
    /// It was not there.
    Added,
    /// It says other things; a requirement: other words, limits, reach or parents.
    Revised,
    /// Only how it will be shown.
    Plan,
    /// Out of force by its status.
    Withdrawn,
    /// Its file is gone.
    Removed,
    /// Only its file is elsewhere.
    Moved,
    /// Nothing that evidence or plans hang from: title, rationale, owner, wrapping.
    Cosmetic,
}

impl ChangeKind {
    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            ChangeKind::Added => "added",
            ChangeKind::Revised => "revised",
            ChangeKind::Plan => "plan",
            ChangeKind::Withdrawn => "withdrawn",
            ChangeKind::Removed => "removed",
            ChangeKind::Moved => "moved",
            ChangeKind::Cosmetic => "cosmetic",
        }
    }
}

/// What differs between two versions of a thing.
#[derive(Clone, Debug)]
pub struct Between {
    /// What happened.
    pub kind: ChangeKind,
    /// The statement then and now, as written, if it says something else.
    pub statement: Option<(Option<String>, Option<String>)>,
    /// Criteria that differ.
    pub criteria: Vec<CriterionChange>,
    /// How status, reach, safety and parents differ, in words.
    pub reach: Vec<String>,
    /// How the plan differs, in words.
    pub plan: Vec<String>,
    /// Other keys that differ.
    pub keys: Vec<KeyChange>,
    /// The rationale then and now, if it says something else.
    pub rationale: Option<(Option<String>, Option<String>)>,
    /// The text below the front matter then and now, where it says something else and nothing above tells how.
    pub body: Option<(String, String)>,
    /// Whether evidence was looked at again and nothing else happened.
    pub only_reaffirmed: bool,
}

impl Between {
    /// That texts say something else, for whoever does not show how.
    pub fn reworded(&self) -> impl Iterator<Item = String> {
        let rationale = self.rationale.as_ref().map(|_| "rationale reworded".to_string());
        rationale.into_iter().chain(self.body.as_ref().map(|_| "text reworded".to_string()))
    }
}

/// One version of a thing.
#[derive(Clone, Copy)]
pub(super) struct Version<'a> {
    pub(super) kind: &'a str,
    pub(super) path: &'a str,
    pub(super) content: Content<'a>,
}

/// What a version says.
#[derive(Clone, Copy)]
pub(super) enum Content<'a> {
    /// A Markdown file; for a requirement with its limits worked out.
    File { text: &'a str, requirement: Option<&'a Requirement> },
    /// A part of a settings file.
    Settings(&'a Flat),
}

/// The projects that the two versions belong to.
#[derive(Clone, Copy)]
pub(super) struct Context<'c> {
    pub(super) calendar: Calendar<'c>,
    pub(super) ambient: Option<&'c Quantity>,
}

/// What lies between two versions; none: nothing.
pub(super) fn compare(then: Option<Version<'_>>, now: Option<Version<'_>>, context: Context<'_>) -> Option<Between> {
    match (then, now) {
        (None, None) => None,
        (None, Some(now)) => Some(whole(now, ChangeKind::Added, context)),
        (Some(then), None) => Some(whole(then, ChangeKind::Removed, context)),
        (Some(then), Some(now)) => both(then, now, context),
    }
}

fn empty(kind: ChangeKind) -> Between {
    Between {
        kind,
        statement: None,
        criteria: Vec::new(),
        reach: Vec::new(),
        plan: Vec::new(),
        keys: Vec::new(),
        rationale: None,
        body: None,
        only_reaffirmed: false,
    }
}

/// The keys of a thing that came or went which say what it grants, limits or does; a record's stand in its file.
fn telling(kind: &str) -> &'static [&'static str] {
    match kind {
        "decision" => &["selects", "drops", "adds", "revises", "withdraws"],
        "item" => &["fills", "revision", "life"],
        "procedure" => &["revision"],
        "nonconformance" => &["against", "requirements", "status", "disposition"],
        "waiver" => &[
            "requirement",
            "serials",
            "item",
            "status",
            "accepts",
            "without_evidence",
            "before",
            "expires",
            "conditions",
        ],
        "event" => &["event", "outcome", "serials", "uses"],
        "parameter" => &["value"],
        "instrument" => &["range", "uncertainty"],
        _ => &[],
    }
}

/// A thing that came or went.
fn whole(version: Version<'_>, kind: ChangeKind, context: Context<'_>) -> Between {
    let mut difference = empty(kind);
    let requirement = match version.content {
        Content::File { requirement: Some(requirement), .. } => requirement,
        Content::File { text, requirement: None } => {
            difference.keys = keys::of_whole(&Told::of(text).flat(), telling(version.kind));
            return difference;
        }
        Content::Settings(flat) => {
            difference.keys = keys::of_whole(flat, telling(version.kind));
            return difference;
        }
    };
    let added = kind == ChangeKind::Added;
    let one = |text: String| if added { (None, Some(text)) } else { (Some(text), None) };
    difference.statement = Some(one(requirement.statement.value.clone()));
    if requirement.criteria_written {
        difference.criteria = criteria::whole(requirement, added);
    }
    let config = if added { context.calendar.now } else { context.calendar.then };
    difference.plan = requirement
        .plan
        .iter()
        .map(|entry| {
            let event = entry.before.as_ref().or(requirement.before.as_ref());
            let event = event.map_or_else(|| first(config).to_string(), |event| event.value.clone());
            format!("{} before {event}", plan::name(entry))
        })
        .collect();
    if requirement.status != RequirementStatus::Active {
        difference.reach.push(format!("{} from the start", requirement.status.word()));
    }
    difference
}

fn both(then: Version<'_>, now: Version<'_>, context: Context<'_>) -> Option<Between> {
    let moved = then.path != now.path;
    match (then.content, now.content) {
        (Content::Settings(old), Content::Settings(new)) => {
            let keys = keys::differences(old, new);
            (!keys.is_empty()).then(|| Between { keys, ..empty(ChangeKind::Revised) })
        }
        (
            Content::File { text: old, requirement: Some(before) },
            Content::File { text: new, requirement: Some(after) },
        ) => {
            if old == new && before.mark == after.mark {
                return moved.then(|| empty(ChangeKind::Moved));
            }
            requirements((old, before), (new, after), moved, context)
        }
        (Content::File { text: old, .. }, Content::File { text: new, .. }) => {
            if old == new {
                return moved.then(|| empty(ChangeKind::Moved));
            }
            others(old, new, then.kind != now.kind, moved)
        }
        _ => Some(empty(ChangeKind::Revised)),
    }
}

type Written<'a> = (&'a str, &'a Requirement);

/// Keys that have a comparison of their own.
const COMPARED: &[&str] = &[
    "criteria",
    "min",
    "max",
    "equals",
    "tolerance",
    "expect",
    "count",
    "at",
    "verify",
    "verified_by",
    "by_children",
    "before",
    "applies_to",
    "safety",
    "status",
    "parents",
    "replaces",
];

fn requirements(then: Written<'_>, now: Written<'_>, moved: bool, context: Context<'_>) -> Option<Between> {
    let ((old_text, old), (new_text, new)) = (then, now);
    let (before, after) = (Told::of(old_text), Told::of(new_text));
    let all = after.since(&before, |key| key == "by_children" || !COMPARED.contains(&key));
    let words = |differences: Vec<Difference>| differences.into_iter().map(|it| it.text).collect::<Vec<_>>();
    let mut difference = empty(ChangeKind::Cosmetic);
    if old.plain != new.plain {
        difference.statement = Some((Some(old.statement.value.clone()), Some(new.statement.value.clone())));
    }
    difference.criteria = criteria::changes(old, new, context.ambient);
    difference.reach = words(requirement::reach(old, new));
    difference.reach.extend(words(requirement::origin(old, new)));
    difference.plan = words(plan::differences(old, new, context.calendar));
    if difference.plan.is_empty() && all.iter().any(|key| key.top() == "by_children") {
        difference.plan.push("its sufficiency statement was judged anew".into());
    }
    difference.keys = all.into_iter().filter(|key| !COMPARED.contains(&key.top())).collect();
    if old.rationale.as_deref().map(plain_spaces) != new.rationale.as_deref().map(plain_spaces) {
        difference.rationale = Some((old.rationale.clone(), new.rationale.clone()));
    } else if difference.statement.is_none() {
        difference.body = after.bodies_since(&before);
    }
    let withdrawn = |it: &Requirement| it.status == RequirementStatus::Withdrawn;
    difference.kind = if withdrawn(new) && !withdrawn(old) {
        ChangeKind::Withdrawn
    } else if difference.statement.is_some() || !difference.criteria.is_empty() || !difference.reach.is_empty() {
        ChangeKind::Revised
    } else if !difference.plan.is_empty() {
        ChangeKind::Plan
    } else if moved {
        ChangeKind::Moved
    } else {
        ChangeKind::Cosmetic
    };
    Some(difference)
}

fn others(old: &str, new: &str, other_kind: bool, moved: bool) -> Option<Between> {
    let (old, new) = (Told::of(old), Told::of(new));
    let (found, body) = (new.since(&old, |_| true), new.bodies_since(&old));
    let reaffirmation = |key: &KeyChange| key.key.starts_with("verifies.") && key.key.contains(".reaffirmed");
    let only_reaffirmed = !found.is_empty() && found.iter().all(reaffirmation) && body.is_none();
    let substance = found.iter().any(|key| key.top() != "title") || other_kind;
    let withdrawn = |told: &Told<'_>| told.text("status") == Some("withdrawn");
    let kind = if withdrawn(&new) && !withdrawn(&old) {
        ChangeKind::Withdrawn
    } else if substance || body.is_some() {
        ChangeKind::Revised
    } else if moved {
        ChangeKind::Moved
    } else {
        ChangeKind::Cosmetic
    };
    Some(Between { keys: found, body, only_reaffirmed, ..empty(kind) })
}
