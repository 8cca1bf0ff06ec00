//! Requirements: gone, withdrawn, relaxed, shown later or on less.

use crate::history::compare::{Difference, criteria, plan, requirement};
use crate::history::past::Family;
use crate::history::vanished::withdrawn_by;
use crate::model::kinds::{Requirement, RequirementStatus};

use super::List;

/// Compares every requirement that differs.
pub(super) fn compare(list: &mut List<'_, '_>) {
    let then = list.then;
    for old in then.part.requirements.iter().filter(|it| it.status != RequirementStatus::Withdrawn) {
        let id = &old.head.id.value;
        match list.now.requirement(id) {
            None => gone(list, old),
            Some(new) if new.status == RequirementStatus::Withdrawn => {
                let by: Vec<&str> = withdrawn_by(list.now, id).map(|id| id.as_str()).collect();
                let by = if by.is_empty() { "by no decision".to_string() } else { format!("by {}", by.join(", ")) };
                list.say(id, format!("withdrawn, {by}"));
            }
            Some(new) => {
                let less = of_one(list, old, new);
                list.say_less(id, less);
            }
        }
    }
}

fn of_one(list: &List<'_, '_>, old: &Requirement, new: &Requirement) -> Vec<Difference> {
    let mut less = requirement::reach(old, new);
    less.extend(criteria::less(old, new, list.now.config.ambient.as_ref()));
    less.extend(plan::differences(old, new, list.calendar()));
    less
}

fn gone(list: &mut List<'_, '_>, old: &Requirement) {
    let id = &old.head.id.value;
    let why = list.why_gone(id, Family::Requirement);
    let draft = if old.status == RequirementStatus::Draft { "the draft is gone" } else { "gone" };
    list.say(id, format!("{draft}: {why}"));
}
