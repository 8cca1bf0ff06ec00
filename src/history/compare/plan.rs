//! Plan entries: added, removed, moved, narrowed.

use std::cmp::Ordering;

use crate::model::kinds::{On, PlanEntry, Requirement, Stage};
use crate::quantity::parse_quantity;
use crate::text::Spanned;

use super::Difference;
use super::calendar::{Calendar, Shift, first};

/// How the plan differs.
pub(in crate::history) fn differences(
    then: &Requirement,
    now: &Requirement,
    calendar: Calendar<'_>,
) -> Vec<Difference> {
    let mut found = Vec::new();
    for (old, new) in pairs(&then.plan, &now.plan) {
        match (old, new) {
            (Some(old), Some(new)) => {
                let name = name(new);
                let mut say = |less: bool, text: String| {
                    found.push(Difference { text: format!("{name}: {text}"), less });
                };
                how(old, new, &mut say);
                due(&due_of(old, then, calendar.then), &due_of(new, now, calendar.now), calendar, &mut say);
                extent(old, new, now, &mut say);
                sequence(old, new, calendar, &mut say);
                life(old, new, &mut say);
                who(old, new, &mut say);
            }
            (Some(old), None) => {
                let event = due_of(old, then, calendar.then);
                found.push(Difference::less(format!("{} before {event} is no longer planned", name(old))));
            }
            (None, Some(new)) => {
                let event = due_of(new, now, calendar.now);
                found.push(Difference::other(format!("{} before {event} is planned", name(new))));
            }
            (None, None) => {}
        }
    }
    found.extend(without_entries(then, now, calendar));
    found
}

type Say<'s> = dyn FnMut(bool, String) + 's;

/// An entry in a few words.
pub(in crate::history) fn name(entry: &PlanEntry) -> String {
    let method = entry.method.map_or("entry without method", |method| method.word());
    let stage = entry.stage.map(|stage| format!("{} ", stage.word())).unwrap_or_default();
    let procedure = entry.procedure.as_ref().map(|id| format!(" {}", id.value)).unwrap_or_default();
    format!("{stage}{method}{procedure}")
}

/// The event before which an entry is due.
fn due_of(entry: &PlanEntry, requirement: &Requirement, config: &crate::config::Config) -> String {
    let named = entry.before.as_ref().or(requirement.before.as_ref());
    named.map_or_else(|| first(config).to_string(), |event| event.value.clone())
}

/// Which entry of then is which of now: the same in all, then in ever fewer respects, at last in their order.
fn pairs<'a>(then: &'a [PlanEntry], now: &'a [PlanEntry]) -> Vec<(Option<&'a PlanEntry>, Option<&'a PlanEntry>)> {
    let likeness: [fn(&PlanEntry, &PlanEntry) -> bool; 6] = [
        |a, b| whole(a) == whole(b),
        |a, b| a.method == b.method && a.stage == b.stage && procedure(a) == procedure(b),
        |a, b| a.method == b.method && procedure(a) == procedure(b),
        |a, b| a.method == b.method && a.stage == b.stage,
        |a, b| a.method == b.method,
        |_, _| true,
    ];
    let mut partner: Vec<Option<usize>> = vec![None; then.len()];
    let mut taken = vec![false; now.len()];
    for alike in likeness {
        for (old, partner) in then.iter().zip(&mut partner).filter(|(_, partner)| partner.is_none()) {
            let new = now.iter().enumerate().find(|(place, new)| !taken[*place] && alike(old, new));
            if let Some((place, _)) = new {
                *partner = Some(place);
                taken[place] = true;
            }
        }
    }
    let mut found: Vec<_> =
        then.iter().zip(&partner).map(|(old, place)| (Some(old), place.map(|at| &now[at]))).collect();
    found.extend(now.iter().zip(&taken).filter(|(_, taken)| !**taken).map(|(new, _)| (None, Some(new))));
    found
}

fn procedure(entry: &PlanEntry) -> Option<&str> {
    entry.procedure.as_ref().map(|id| id.value.as_str())
}

/// An entry without its place in the file.
fn whole(entry: &PlanEntry) -> impl PartialEq + '_ {
    let text = |text: &'_ Option<crate::text::Spanned<String>>| text.as_ref().map(|text| text.value.clone());
    let list = |list: &[crate::text::Spanned<String>]| list.iter().map(|name| name.value.clone()).collect::<Vec<_>>();
    (
        (entry.method, entry.stage, procedure(entry), text(&entry.before), entry.on),
        (entry.criteria.as_deref().map(list), text(&entry.valid_for)),
        (list(&entry.after), list(&entry.again_after)),
        (&entry.facility, &entry.by),
    )
}

fn how(old: &PlanEntry, new: &PlanEntry, say: &mut Say<'_>) {
    if old.method != new.method {
        let word = |entry: &PlanEntry| entry.method.map_or("no method", |method| method.word());
        say(true, format!("shown by {} instead of {}", word(new), word(old)));
    }
    match (old.stage, new.stage) {
        (None, None) => {}
        // On fewer pieces, and on those in qualification use too, unless the entry says otherwise.
        (None, Some(stage)) => say(stage != Stage::Acceptance, format!("for {} now", stage.word())),
        (Some(stage), None) => say(true, format!("no longer for {}: evidence of any stage counts", stage.word())),
        (Some(old), Some(new)) if old == new => {}
        (Some(old), Some(new)) => say(true, format!("for {} instead of {}", new.word(), old.word())),
    }
    match (procedure(old), procedure(new)) {
        (None, None) => {}
        (None, Some(new)) => say(false, format!("by {new} now")),
        (Some(old), None) => say(true, format!("no longer by {old}: any procedure counts")),
        (Some(old), Some(new)) if old == new => {}
        (Some(old), Some(new)) => say(true, format!("by {new} instead of {old}")),
    }
}

fn due(old: &str, new: &str, calendar: Calendar<'_>, say: &mut Say<'_>) {
    match calendar.shift(old, new) {
        Shift::Same => {}
        Shift::Earlier => say(false, format!("due before {new} instead of {old}, which is earlier")),
        Shift::Later => say(true, format!("due before {new} instead of {old}, which is later")),
        Shift::Unknown => say(true, format!("due before {new} instead of {old}; which comes first cannot be told")),
    }
}

fn extent(old: &PlanEntry, new: &PlanEntry, now: &Requirement, say: &mut Say<'_>) {
    let reach = |on: On| match on {
        On::Each => 2,
        On::One => 1,
        On::Design => 0,
    };
    if old.on != new.on {
        let words = format!("on {} instead of {}", reads(new.on), reads(old.on));
        say(reach(new.on) < reach(old.on), words);
    }
    for criterion in &now.criteria {
        let name = &criterion.name;
        match (old.asks_for(name), new.asks_for(name)) {
            (true, false) => say(true, format!("no longer asks for {name}")),
            (false, true) => say(false, format!("asks for {name} too")),
            _ => {}
        }
    }
}

fn reads(on: On) -> &'static str {
    match on {
        On::Each => "each piece",
        On::One => "one piece",
        On::Design => "the design",
    }
}

/// What it must come after, and after which events it must be shown again.
fn sequence(old: &PlanEntry, new: &PlanEntry, calendar: Calendar<'_>, say: &mut Say<'_>) {
    let (lost, gained) = names_between(&old.after, &new.after, calendar);
    lost.iter().for_each(|name| say(true, format!("need no longer come after {name}")));
    gained.iter().for_each(|name| say(false, format!("must come after {name}")));
    let (lost, gained) = names_between(&old.again_after, &new.again_after, calendar);
    lost.iter().for_each(|name| say(true, format!("need no longer be shown again after {name}")));
    gained.iter().for_each(|name| say(false, format!("must be shown again after {name}")));
}

/// The names that a list lost, and those that it gained; an event that was merely renamed is neither.
fn names_between<'n>(
    old: &'n [Spanned<String>],
    new: &'n [Spanned<String>],
    calendar: Calendar<'_>,
) -> (Vec<&'n str>, Vec<&'n str>) {
    let same = |old: &str, new: &str| old == new || calendar.name_now(old) == Some(new);
    let lost = old.iter().filter(|old| !new.iter().any(|new| same(&old.value, &new.value)));
    let gained = new.iter().filter(|new| !old.iter().any(|old| same(&old.value, &new.value)));
    (lost.map(|name| name.value.as_str()).collect(), gained.map(|name| name.value.as_str()).collect())
}

fn life(old: &PlanEntry, new: &PlanEntry, say: &mut Say<'_>) {
    let text = |entry: &PlanEntry| entry.valid_for.as_ref().map(|text| text.value.clone());
    match (text(old), text(new)) {
        (None, None) => {}
        (None, Some(new)) => say(false, format!("valid for {new} only")),
        (Some(old), None) => say(true, format!("no longer lapses (was valid for {old})")),
        (Some(old), Some(new)) if old == new => {}
        (Some(old), Some(new)) => {
            let order = match (parse_quantity(&old), parse_quantity(&new)) {
                (Ok(old), Ok(new)) => old.compare(&new, None).ok(),
                _ => None,
            };
            match order {
                Some(Ordering::Equal) => {}
                Some(Ordering::Greater) => say(false, format!("valid for {new} instead of {old}")),
                _ => say(true, format!("valid for {new} instead of {old}")),
            }
        }
    }
}

fn who(old: &PlanEntry, new: &PlanEntry, say: &mut Say<'_>) {
    for (word, old, new) in [("facility", &old.facility, &new.facility), ("by", &old.by, &new.by)] {
        if old != new {
            let text = |text: &Option<String>| text.clone().unwrap_or_else(|| "nothing".into());
            say(false, format!("{word}: {} instead of {}", text(new), text(old)));
        }
    }
}

/// Requirements without entries are due too: by their children, or as lacking a plan.
fn without_entries(then: &Requirement, now: &Requirement, calendar: Calendar<'_>) -> Vec<Difference> {
    let mut found = Vec::new();
    match (then.by_children_at.is_some(), now.by_children_at.is_some()) {
        (false, true) => found.push(Difference::less("verified by its children instead of its own plan")),
        (true, false) => found.push(Difference::other("no longer verified by its children")),
        (true, true) => found.extend(sufficiency(then, now)),
        (false, false) => {}
    }
    if then.plan.is_empty() && now.plan.is_empty() {
        let event = |requirement: &Requirement, config| {
            requirement.before.as_ref().map_or_else(|| first(config).to_string(), |event| event.value.clone())
        };
        let (old, new) = (event(then, calendar.then), event(now, calendar.now));
        due(&old, &new, calendar, &mut |less, text| found.push(Difference { text, less }));
    }
    found
}

fn sufficiency(then: &Requirement, now: &Requirement) -> Vec<Difference> {
    let list = |requirement: &Requirement| {
        let statement = requirement.by_children.as_ref();
        statement.map(|it| it.list.iter().map(|id| id.value.clone()).collect::<Vec<_>>()).unwrap_or_default()
    };
    let (old, new) = (list(then), list(now));
    let mut found = Vec::new();
    // Without any list the row is open, whatever it was.
    for id in old.iter().filter(|id| !new.is_empty() && !new.contains(id)) {
        found.push(Difference::less(format!("its sufficiency statement no longer lists {id}")));
    }
    let more: Vec<&str> = new.iter().filter(|id| !old.contains(id)).map(|id| id.as_str()).collect();
    if !more.is_empty() {
        found.push(Difference::other(format!("its sufficiency statement now lists {}", more.join(", "))));
    }
    found
}
