//! Who performed and who watched a record: what safety asks of every project, and what the project's roles ask.
//!
//! None of this acts on failures: a run that nobody watched fails a requirement all the same.

use crate::config::{Role, is_same_person};
use crate::model::Id;
use crate::model::kinds::{Method, PlanEntry, Record, Requirement};
use crate::source::PROJECT_FILE;
use crate::text::{Spanned, shell_word};

use super::scope::event_of;
use super::{Facts, Reason};

/// The project's rules that are for an entry of a requirement. Where the entry says no stage or no procedure, those of the
/// record count, if there is one.
pub fn rules<'f>(
    facts: &Facts<'f>,
    requirement: &Requirement,
    entry: &PlanEntry,
    record: Option<&Record>,
) -> Vec<&'f Role> {
    let config = &facts.model.config;
    if config.roles.is_empty() {
        return Vec::new();
    }
    let due = event_of(facts, requirement, Some(entry));
    let stage = entry.stage.or(record.and_then(|record| record.stage));
    let procedure = entry.procedure.as_ref().or(record.and_then(|record| record.procedure.as_ref()));
    let fits = |role: &&Role| {
        role.method.is_none_or(|method| entry.method == Some(method))
            && role.stage.is_none_or(|own| stage == Some(own))
            && role.procedure.as_ref().is_none_or(|own| procedure.is_some_and(|id| id.value == own.value))
            && role.before.as_ref().is_none_or(|name| config.event_index(&name.value).is_none_or(|event| due <= event))
            && (!role.safety || requirement.safety)
    };
    config.roles.iter().filter(fits).collect()
}

/// Who must perform and who must watch what an entry asks for, in words.
pub fn asked(facts: &Facts<'_>, requirement: &Requirement, entry: &PlanEntry) -> Vec<String> {
    let mut asked = Vec::new();
    for role in rules(facts, requirement, entry, None) {
        asked.extend(role.performed_by.as_ref().map(|people| format!("performed by {}", any_of(people))));
        asked.extend(role.witnessed_by.as_ref().map(|people| format!("witnessed by {}", any_of(people))));
    }
    if requirement.safety && !matches!(entry.method, None | Some(Method::Analysis)) {
        asked.push("witnessed by another than performs it".to_string());
    }
    asked
}

/// What is amiss with the people of a record that decides for an entry.
pub(super) fn amiss(facts: &Facts<'_>, requirement: &Requirement, entry: &PlanEntry, record: &Record) -> Vec<Reason> {
    let mut reasons = Vec::new();
    let rules = rules(facts, requirement, entry, Some(record));
    if requirement.safety {
        let wanted = rules.iter().find_map(|role| role.witnessed_by.as_deref());
        let help = |text| Reason::new("not-witnessed", text).help(witness_help(record, wanted));
        reasons.extend(unwatched(record).map(help));
    }
    for role in rules {
        reasons.extend(not_performed_by(role, record));
        reasons.extend(not_witnessed_by(role, record));
    }
    reasons
}

/// Why nobody but the performer stands for a record that people depend on, if so. An analysis can be looked at again by
/// anybody at any time; it need not name a witness, but one that it names must be another.
pub fn unwatched(record: &Record) -> Option<String> {
    let performer = record.performed_by.as_ref();
    let watched = record.witnessed_by.iter();
    let mut others = watched.filter(|who| performer.is_some_and(|by| !is_same_person(&by.value, &who.value)));
    let by = performer.map_or("", |by| by.value.as_str());
    match (performer, others.next()) {
        (_, Some(_)) => None,
        _ if record.method == Method::Analysis && (performer.is_none() || record.witnessed_by.is_empty()) => None,
        (None, _) => Some("it does not say who performed it, and people depend on the requirement".into()),
        (Some(_), None) if record.witnessed_by.is_empty() => {
            Some("nobody witnessed it, and people depend on the requirement".into())
        }
        (Some(_), None) => Some(format!("{by} performed it and is the only witness; people depend on the requirement")),
    }
}

/// That somebody else performed a record than a rule asks for.
fn not_performed_by(role: &Role, record: &Record) -> Option<Reason> {
    let people = role.performed_by.as_ref()?;
    let by = record.performed_by.as_ref().map(|by| by.value.as_str());
    if by.is_some_and(|by| is_among(people, by)) {
        return None;
    }
    let text = format!("performed by {}; {}", by.unwrap_or("nobody named"), asks(role, people));
    let id = &record.head.id.value;
    Some(Reason::new("role-missing", text).because_of(&Id::new(PROJECT_FILE)).help(format!(
        "repeat it; if performed_by is wrong, correct it, then: slipmark sign {id} --by ROLE --because \"…\""
    )))
}

/// That none of those watched whom a rule asks for.
fn not_witnessed_by(role: &Role, record: &Record) -> Option<Reason> {
    let people = role.witnessed_by.as_ref()?;
    if record.witnessed_by.iter().any(|who| is_among(people, &who.value)) {
        return None;
    }
    let by: Vec<&str> = record.witnessed_by.iter().map(|who| who.value.as_str()).collect();
    let by = if by.is_empty() { "nobody".to_string() } else { by.join(", ") };
    let text = format!("witnessed by {by}; {}", asks(role, people));
    Some(Reason::new("role-missing", text).because_of(&Id::new(PROJECT_FILE)).help(witness_help(record, Some(people))))
}

fn is_among(people: &[Spanned<String>], who: &str) -> bool {
    people.iter().any(|own| is_same_person(&own.value, who))
}

fn asks(role: &Role, people: &[Spanned<String>]) -> String {
    let what = role.filters();
    let what = if what.is_empty() { String::new() } else { format!(" for {what}") };
    format!("slipmark.toml asks for {}{what}", any_of(people))
}

/// Names of which one is enough: `pad chief or safety lead`.
pub fn any_of(people: &[Spanned<String>]) -> String {
    let names: Vec<&str> = people.iter().map(|who| who.value.as_str()).collect();
    match names.as_slice() {
        [rest @ .., before, last] if !rest.is_empty() => format!("{}, {before} or {last}", rest.join(", ")),
        _ => names.join(" or "),
    }
}

/// What to type, with whom a rule asks for. A witness is under the seal: naming one is signing again.
fn witness_help(record: &Record, wanted: Option<&[Spanned<String>]>) -> String {
    let id = &record.head.id.value;
    let signer = record.signed_by.as_ref().map_or("ROLE".into(), |own| shell_word(own.value.as_ref()));
    let sign = |role: &str| format!("slipmark sign {id} --by {signer} --witness {role}");
    let Some(people) = wanted else {
        return format!("if somebody else watched: {}; if nobody did, repeat it", sign("ROLE"));
    };
    let each: Vec<String> = people.iter().map(|who| sign(&shell_word(who.value.as_ref()))).collect();
    format!("if {} watched: {}; if not, repeat it", any_of(people), each.join(" or "))
}
