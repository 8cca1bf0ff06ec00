//! Who must do and who must watch what.

use crate::config::{Role, is_same_person};
use crate::history::compare::calendar::{Calendar, Shift};
use crate::source::PROJECT_FILE;
use crate::state::people::any_of;
use crate::text::Spanned;

use super::List;

/// The names of a rule, for one of the two things that it can ask.
type Names = fn(&Role) -> Option<&Vec<Spanned<String>>>;

const ASKED: [(&str, Names); 2] =
    [("performed", |role| role.performed_by.as_ref()), ("witnessed", |role| role.witnessed_by.as_ref())];

/// Compares the roles of the project file. What a rule asked is still asked if one that reaches as far accepts no others.
pub(super) fn compare(list: &mut List<'_, '_>) {
    let then = list.then;
    for old in &then.part.config.roles {
        for (verb, names) in ASKED {
            let Some(people) = names(old) else { continue };
            let calendar = list.calendar();
            let as_wide = list.now.config.roles.iter().filter(|new| reaches_as_far(calendar, old, new));
            let wide: Vec<&Vec<Spanned<String>>> = as_wide.filter_map(names).collect();
            let others = wide.iter().map(|new| added(people, new)).min_by_key(Vec::len);
            let what = match old.filters() {
                filters if filters.is_empty() => "everything".to_string(),
                filters => filters,
            };
            match others {
                None => {
                    let text = format!("no longer asks that {what} is {verb} by {}", any_of(people));
                    list.say(PROJECT_FILE, text);
                }
                Some(others) if others.is_empty() => {}
                Some(others) => {
                    list.say(PROJECT_FILE, format!("{what} may be {verb} by {}, too", others.join(", ")));
                }
            }
        }
    }
}

/// The names that were not among those of before.
fn added<'n>(old: &[Spanned<String>], new: &'n [Spanned<String>]) -> Vec<&'n str> {
    let is_new = |who: &&Spanned<String>| !old.iter().any(|own| is_same_person(&own.value, &who.value));
    new.iter().filter(is_new).map(|who| who.value.as_str()).collect()
}

/// Whether all that a rule was for is among what another is for.
fn reaches_as_far(calendar: Calendar<'_>, old: &Role, new: &Role) -> bool {
    let before = match (&old.before, &new.before) {
        (_, None) => true,
        (Some(was), Some(is)) => matches!(calendar.shift(&was.value, &is.value), Shift::Same | Shift::Later),
        (None, Some(_)) => false,
    };
    before
        && new.method.is_none_or(|method| old.method == Some(method))
        && new.stage.is_none_or(|stage| old.stage == Some(stage))
        && new.procedure.as_ref().is_none_or(|id| old.procedure.as_ref().is_some_and(|own| own.value == id.value))
        && (old.safety || !new.safety)
}
