//! What a procedure's fields leave out, and what they are for that nobody asks.

use std::collections::BTreeSet;

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::requirement::show_limits;
use crate::model::kinds::{Criterion, Feed, Field, PlanEntry, Procedure, Requirement, RequirementStatus};
use crate::model::{Model, fed};

/// The check.
pub const CHECK: Check = Check { name: "fields", codes: &["criterion-not-recorded", "field-feeds-nothing"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let model = subject.facts.model;
    for procedure in &model.procedures {
        // A procedure without fields says nothing of what is written down, and so leaves nothing out.
        if procedure.all_fields().next().is_none() {
            continue;
        }
        let asked = asked(model, procedure);
        not_recorded(model, procedure, &asked, findings);
        for field in procedure.all_fields() {
            feeds_nothing(model, procedure, field, &asked, findings);
        }
    }
}

/// A criterion that a plan entry wants from a procedure.
pub(super) struct Asked<'m> {
    pub(super) requirement: &'m Requirement,
    pub(super) entry: &'m PlanEntry,
    pub(super) criterion: &'m Criterion,
}

/// Everything that plan entries in force want from a procedure.
pub(super) fn asked<'m>(model: &'m Model, procedure: &Procedure) -> Vec<Asked<'m>> {
    let mut asked = Vec::new();
    let in_force = model.requirements.iter().filter(|it| it.status != RequirementStatus::Withdrawn);
    for requirement in in_force {
        let planned =
            |entry: &&PlanEntry| entry.procedure.as_ref().is_some_and(|id| id.value == procedure.head.id.value);
        for entry in requirement.plan.iter().filter(planned) {
            let own = requirement.criteria.iter().filter(|criterion| entry.asks_for(&criterion.name));
            asked.extend(own.map(|criterion| Asked { requirement, entry, criterion }));
        }
    }
    asked
}

/// Whether a field is for a criterion or a condition.
fn is_for(model: &Model, field: &Field, one: &Asked<'_>, condition: Option<&str>) -> bool {
    field.feeds.iter().any(|feed| match (&feed.value, condition) {
        (Feed::Criterion(name), None) => fed(model, name).is_some_and(|(requirement, criterion)| {
            requirement.head.id.value == one.requirement.head.id.value && criterion.name == one.criterion.name
        }),
        (Feed::Condition(name), Some(condition)) => name == condition,
        _ => false,
    })
}

fn not_recorded(model: &Model, procedure: &Procedure, asked: &[Asked<'_>], findings: &mut Findings) {
    let mut said: BTreeSet<String> = BTreeSet::new();
    let mut say = |text: String, one: &Asked<'_>, help: String| {
        if said.insert(text.clone()) {
            let span = one.entry.procedure.as_ref().map_or(one.entry.span, |id| id.span);
            findings.push(
                Finding::at("criterion-not-recorded", span, text)
                    .also(procedure.head.id.span, "its fields are listed here")
                    .help(help),
            );
        }
    };
    let id = &procedure.head.id.value;
    for one in asked {
        let (requirement, name) = (&one.requirement.head.id.value, &one.criterion.name);
        if !procedure.all_fields().any(|field| is_for(model, field, one, None)) {
            let text = format!("no field of {id} feeds {name} of {requirement}, which is planned by it");
            say(text, one, format!("add to {id}: [[fields]] with name and feeds = \"{requirement}.{name}\""));
        }
        for condition in &one.criterion.at {
            if !procedure.all_fields().any(|field| is_for(model, field, one, Some(&condition.name))) {
                let (own, limits) = (&condition.name, show_limits(condition.min.as_ref(), condition.max.as_ref()));
                let text = format!("no field of {id} notes {own}, and {requirement} holds only for {limits}");
                say(text, one, format!("add to {id}: [[fields]] with name and feeds = \"conditions.{own}\""));
            }
        }
    }
}

fn feeds_nothing(model: &Model, procedure: &Procedure, field: &Field, asked: &[Asked<'_>], findings: &mut Findings) {
    for feed in &field.feeds {
        let id = &procedure.head.id.value;
        let (wanted, help) = match &feed.value {
            Feed::Criterion(name) => {
                let Some((requirement, criterion)) = fed(model, name) else { continue };
                let named = |one: &Asked<'_>| {
                    one.requirement.head.id.value == requirement.head.id.value && one.criterion.name == criterion.name
                };
                if asked.iter().any(named) {
                    continue;
                }
                let id_of = &requirement.head.id.value;
                let text = format!("{} of {id_of}, which no plan entry in force wants from {id}", criterion.name);
                (text, format!("add a [[verify]] entry with procedure = \"{id}\" to {id_of}, or remove this"))
            }
            Feed::Condition(name) => {
                if asked.iter().any(|one| one.criterion.at.iter().any(|condition| condition.name == *name)) {
                    continue;
                }
                let text = format!("the condition {name}, which nothing that is planned by {id} asks for");
                (text, "correct the name, or remove `feeds`: the field is noted all the same".to_string())
            }
        };
        let text = format!("field `{}` feeds {wanted}", field.name.value);
        findings.push(Finding::at("field-feeds-nothing", feed.span, text).help(help));
    }
}
