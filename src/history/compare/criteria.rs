//! Criteria: tightened, relaxed, restated, changed, added, removed.

use std::cmp::Ordering;

use crate::model::kinds::requirement::{show_sample, show_trials};
use crate::model::kinds::{Condition, Criterion, Expectation, Limit, LimitValue, Requirement, Share};
use crate::quantity::{Kind, Quantity, Rational, names};

use super::Difference;

/// Which way a criterion moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Direction {
    /// Harder to meet.
    Tightened,
    /// Easier to meet.
    Relaxed,
    /// The same, written otherwise: 25.4 mm as 1 in.
    Restated,
    /// Neither harder nor easier, or it cannot be told.
    Changed,
    /// Was not there.
    Added,
    /// Is not there any more.
    Removed,
}

impl Direction {
    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            Direction::Tightened => "tightened",
            Direction::Relaxed => "relaxed",
            Direction::Restated => "restated",
            Direction::Changed => "changed",
            Direction::Added => "added",
            Direction::Removed => "removed",
        }
    }
}

/// How one criterion differs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CriterionChange {
    /// Its name.
    pub name: String,
    /// Which way.
    pub direction: Direction,
    /// What it expected, in words.
    pub from: Option<String>,
    /// What it expects.
    pub to: Option<String>,
    /// What it was called, if it has another name now.
    pub was: Option<String>,
    /// How each of its sides moved, where both points have it.
    pub sides: Vec<SideChange>,
    /// The requirement that it came from or went to, if another one lost or gained the very same.
    pub elsewhere: Option<String>,
}

/// How one side of a criterion differs: a limit, a share, what is accepted, a condition.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SideChange {
    /// min, max, covers, confidence, reliability, count, expect, or `at` with the name of a condition.
    pub side: String,
    /// Which way.
    pub direction: Direction,
    /// What it was; none: it was not there.
    pub from: Option<String>,
    /// What it is; none: it is not there.
    pub to: Option<String>,
}

impl CriterionChange {
    fn new(name: &str, direction: Direction) -> CriterionChange {
        let name = name.to_string();
        CriterionChange { name, direction, from: None, to: None, was: None, sides: Vec::new(), elsewhere: None }
    }
}

/// Every criterion that differs, by name.
pub(in crate::history) fn changes(
    then: &Requirement,
    now: &Requirement,
    ambient: Option<&Quantity>,
) -> Vec<CriterionChange> {
    let mut found = Vec::new();
    for (old, new) in pairs(then, now) {
        let direction = match (old, new) {
            (Some(old), Some(new)) => match direction(old, new, ambient) {
                Some(direction) => direction,
                None if old.name != new.name => Direction::Changed,
                None => continue,
            },
            (Some(_), None) => Direction::Removed,
            (None, _) => Direction::Added,
        };
        let name = new.or(old).map_or("", |criterion| &criterion.name);
        let mut change = CriterionChange::new(name, direction);
        (change.from, change.to) = (old.map(show), new.map(show));
        if let (Some(old), Some(new)) = (old, new) {
            change.was = (old.name != new.name).then(|| old.name.clone());
            change.sides = sides(old, new, ambient);
        }
        found.push(change);
    }
    found
}

/// Says of criteria that left one requirement and came to another, unchanged and under the same name, where they are from
/// and where they went.
pub(in crate::history) fn trace(mut all: Vec<(&str, &mut Vec<CriterionChange>)>) {
    let mut ways: Vec<(usize, usize, usize, usize)> = Vec::new();
    for (a, (_, list)) in all.iter().enumerate() {
        for (i, gone) in list.iter().enumerate().filter(|(_, it)| it.direction == Direction::Removed) {
            // What is called `value` or `met` has no name of its own that could tell it apart.
            let named = label(&gone.name) == gone.name;
            let came =
                |it: &CriterionChange| it.direction == Direction::Added && it.name == gone.name && it.to == gone.from;
            let to = all
                .iter()
                .enumerate()
                .filter(|(b, _)| named && *b != a)
                .find_map(|(b, (_, list))| Some((b, list.iter().position(came)?)));
            ways.extend(to.map(|(b, j)| (a, i, b, j)));
        }
    }
    for (a, i, b, j) in ways {
        let (from, to) = (all[a].0.to_string(), all[b].0.to_string());
        all[a].1[i].elsewhere = Some(to);
        all[b].1[j].elsewhere = Some(from);
    }
}

/// How each side of a criterion moved.
fn sides(old: &Criterion, new: &Criterion, ambient: Option<&Quantity>) -> Vec<SideChange> {
    let mut found = Vec::new();
    let mut say = |side: &str, way: Move, from: Option<String>, to: Option<String>| {
        let direction = match way {
            Move::Same => return,
            Move::Restated => Direction::Restated,
            Move::Tightened => Direction::Tightened,
            Move::Relaxed => Direction::Relaxed,
            Move::Other => Direction::Changed,
        };
        found.push(SideChange { side: side.to_string(), direction, from, to });
    };
    let (before, after) = (old.expects.ends(), new.expects.ends());
    let value = |limit: Option<&Limit>| limit.map(end);
    match (&old.expects, &new.expects) {
        (Expectation::Words(old), Expectation::Words(new)) => {
            let gone: Vec<&str> = old.iter().filter(|word| !new.contains(word)).map(String::as_str).collect();
            let come: Vec<&str> = new.iter().filter(|word| !old.contains(word)).map(String::as_str).collect();
            if !gone.is_empty() {
                say("expect", Move::Tightened, Some(gone.join(" or ")), None);
            }
            if !come.is_empty() {
                say("expect", Move::Relaxed, None, Some(come.join(" or ")));
            }
        }
        (Expectation::Count(a), Expectation::Count(b)) => {
            let way = expectation(&old.expects, &new.expects, ambient).first().copied().unwrap_or(Move::Same);
            say("count", way, Some(a.to_string()), Some(b.to_string()));
        }
        (a, b) if std::mem::discriminant(a) == std::mem::discriminant(b) => {
            say("min", bound(before.0, after.0, true, ambient), value(before.0), value(after.0));
            say("max", bound(before.1, after.1, false, ambient), value(before.1), value(after.1));
            let shares = |expects: &'_ Expectation| match expects {
                Expectation::Trials { reliability, confidence } => {
                    vec![("reliability", reliability.clone()), ("confidence", confidence.clone())]
                }
                Expectation::Sample { covers, confidence, .. } => {
                    vec![("covers", covers.clone()), ("confidence", confidence.clone())]
                }
                _ => Vec::new(),
            };
            for ((name, a), (_, b)) in shares(a).into_iter().zip(shares(b)) {
                say(name, share(&a, &b), Some(a.text.clone()), Some(b.text.clone()));
            }
        }
        _ => {}
    }
    for (old, new) in condition_pairs(old, new) {
        let way = match (old, new) {
            (Some(old), Some(new)) => match join(&bounds(old.into(), new.into(), ambient)) {
                None => Move::Same,
                Some(Direction::Restated) => Move::Restated,
                Some(_) => Move::Other,
            },
            _ => Move::Other,
        };
        let words = |it: Option<&Condition>| it.map(|it| limits(it.min.as_ref(), it.max.as_ref()));
        let name = new.or(old).map_or("", |it| &it.name);
        say(&format!("at {name}"), way, words(old), words(new));
    }
    found
}

/// One end of what is permitted, as written; where it is worked out, what it comes to.
fn end(limit: &Limit) -> String {
    let written = limit.tolerance.is_none() && names(&limit.text.value).is_empty();
    let value = (!written).then(|| limit.quantity().map(|quantity| quantity.show())).flatten();
    value.unwrap_or_else(|| limit.text.value.clone())
}

/// Every criterion of a requirement that came or went as a whole.
pub(in crate::history) fn whole(requirement: &Requirement, added: bool) -> Vec<CriterionChange> {
    let direction = if added { Direction::Added } else { Direction::Removed };
    let one = |criterion: &Criterion| {
        let shown = Some(show(criterion));
        let (from, to) = if added { (None, shown) } else { (shown, None) };
        CriterionChange { from, to, ..CriterionChange::new(&criterion.name, direction) }
    };
    requirement.criteria.iter().map(one).collect()
}

/// Every way in which the criteria ask less.
pub(in crate::history) fn less(then: &Requirement, now: &Requirement, ambient: Option<&Quantity>) -> Vec<Difference> {
    let mut found = Vec::new();
    for (old, new) in pairs(then, now) {
        match (old, new) {
            // What was shown by a bare "pass" is measured now, or named; unless it may be anything besides.
            (Some(old), None) if !then.criteria_written && now.criteria_written => {
                let wider = now.criteria.iter().filter(|own| is_wider(&old.expects, &own.expects));
                found.extend(wider.flat_map(|own| less_of_one(old, own, ambient)));
            }
            (Some(old), None) => {
                found.push(Difference::less(format!("{}: no longer asked (was {})", label(&old.name), show(old))));
            }
            (Some(old), Some(new)) => found.extend(less_of_one(old, new, ambient)),
            (None, _) => {}
        }
    }
    found
}

/// Whether words accept all that others did, and more.
fn is_wider(old: &Expectation, new: &Expectation) -> bool {
    matches!((old, new), (Expectation::Words(old), Expectation::Words(new)) if words(old, new) == Move::Relaxed)
}

type Pair<'a> = (Option<&'a Criterion>, Option<&'a Criterion>);

/// Criteria by name; of those left over, two that expect the same are one that was renamed.
fn pairs<'a>(then: &'a Requirement, now: &'a Requirement) -> Vec<Pair<'a>> {
    let by_name = |list: &'a [Criterion], name: &str| list.iter().find(|criterion| criterion.name == name);
    let mut arrived: Vec<&Criterion> =
        now.criteria.iter().filter(|criterion| by_name(&then.criteria, &criterion.name).is_none()).collect();
    let mut found: Vec<Pair<'a>> = Vec::new();
    for old in &then.criteria {
        let new = by_name(&now.criteria, &old.name).or_else(|| {
            let at = arrived.iter().position(|new| direction(old, new, None).is_none())?;
            Some(arrived.remove(at))
        });
        found.push((Some(old), new));
    }
    found.extend(arrived.into_iter().map(|new| (None, Some(new))));
    found.sort_by_key(|(old, new)| old.or(*new).map(|criterion| criterion.name.clone()));
    found
}

/// Which way one criterion moved; none: it is written the same, too.
fn direction(old: &Criterion, new: &Criterion, ambient: Option<&Quantity>) -> Option<Direction> {
    let mut moves = expectation(&old.expects, &new.expects, ambient);
    for (old, new) in condition_pairs(old, new) {
        moves.push(match (old, new) {
            (Some(old), Some(new)) => match join(&bounds(old.into(), new.into(), ambient)) {
                None => Move::Same,
                Some(Direction::Restated) => Move::Restated,
                Some(_) => Move::Other,
            },
            _ => Move::Other,
        });
    }
    join(&moves)
}

/// Which way one bound moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Move {
    Same,
    Restated,
    Tightened,
    Relaxed,
    Other,
}

fn join(moves: &[Move]) -> Option<Direction> {
    let any = |wanted| moves.contains(&wanted);
    match (any(Move::Tightened), any(Move::Relaxed)) {
        _ if any(Move::Other) => Some(Direction::Changed),
        (true, true) => Some(Direction::Changed),
        (true, false) => Some(Direction::Tightened),
        (false, true) => Some(Direction::Relaxed),
        (false, false) => any(Move::Restated).then_some(Direction::Restated),
    }
}

/// A lower and an upper limit.
#[derive(Clone, Copy)]
struct Bounds<'a> {
    min: Option<&'a Limit>,
    max: Option<&'a Limit>,
}

impl<'a> From<&'a Condition> for Bounds<'a> {
    fn from(condition: &'a Condition) -> Bounds<'a> {
        Bounds { min: condition.min.as_ref(), max: condition.max.as_ref() }
    }
}

fn expectation(old: &Expectation, new: &Expectation, ambient: Option<&Quantity>) -> Vec<Move> {
    match (old, new) {
        (Expectation::Limits { min, max }, Expectation::Limits { min: new_min, max: new_max }) => bounds(
            Bounds { min: min.as_ref(), max: max.as_ref() },
            Bounds { min: new_min.as_ref(), max: new_max.as_ref() },
            ambient,
        ),
        (Expectation::Words(old), Expectation::Words(new)) => vec![words(old, new)],
        (Expectation::Count(old), Expectation::Count(new)) => vec![match new.cmp(old) {
            Ordering::Less => Move::Relaxed,
            Ordering::Equal => Move::Same,
            Ordering::Greater => Move::Tightened,
        }],
        (
            Expectation::Trials { reliability: a, confidence: c },
            Expectation::Trials { reliability: b, confidence: d },
        ) => {
            vec![share(a, b), share(c, d)]
        }
        (
            Expectation::Sample { covers: a, confidence: c, .. },
            Expectation::Sample { covers: b, confidence: d, .. },
        ) => {
            let ends = |(min, max)| Bounds { min, max };
            let mut moves = bounds(ends(old.ends()), ends(new.ends()), ambient);
            moves.extend([share(a, b), share(c, d)]);
            moves
        }
        _ => vec![Move::Other],
    }
}

fn share(old: &Share, new: &Share) -> Move {
    match new.value.cmp(&old.value) {
        Ordering::Less => Move::Relaxed,
        Ordering::Greater => Move::Tightened,
        Ordering::Equal if old.text == new.text => Move::Same,
        Ordering::Equal => Move::Restated,
    }
}

fn bounds(old: Bounds<'_>, new: Bounds<'_>, ambient: Option<&Quantity>) -> Vec<Move> {
    vec![bound(old.min, new.min, true, ambient), bound(old.max, new.max, false, ambient)]
}

fn words(old: &[String], new: &[String]) -> Move {
    let more = new.iter().any(|word| !old.contains(word));
    let fewer = old.iter().any(|word| !new.contains(word));
    match (more, fewer) {
        (true, true) => Move::Other,
        (true, false) => Move::Relaxed,
        (false, true) => Move::Tightened,
        (false, false) => Move::Same,
    }
}

fn bound(old: Option<&Limit>, new: Option<&Limit>, lower: bool, ambient: Option<&Quantity>) -> Move {
    let (old, new) = match (old, new) {
        (None, None) => return Move::Same,
        (None, Some(_)) => return Move::Tightened,
        (Some(_), None) => return Move::Relaxed,
        (Some(old), Some(new)) => (old, new),
    };
    let text = |limit: &Limit| {
        let tolerance = limit.tolerance.as_ref().map(|(text, _)| text.value.clone());
        (limit.text.value.clone(), tolerance)
    };
    let as_written = text(old) == text(new);
    match (&old.value, &new.value) {
        (LimitValue::Known(a), LimitValue::Known(b)) if a.canonical() == b.canonical() => {
            if as_written {
                Move::Same
            } else {
                Move::Restated
            }
        }
        (LimitValue::Known(a), LimitValue::Known(b)) => match a.compare(b, ambient) {
            Ok(Ordering::Equal) | Err(_) => Move::Other,
            Ok(Ordering::Less) => {
                if lower {
                    Move::Tightened
                } else {
                    Move::Relaxed
                }
            }
            Ok(Ordering::Greater) => {
                if lower {
                    Move::Relaxed
                } else {
                    Move::Tightened
                }
            }
        },
        (LimitValue::Known(_), _) | (_, LimitValue::Known(_)) => Move::Other,
        _ if as_written => Move::Same,
        _ => Move::Other,
    }
}

fn condition_pairs<'a>(old: &'a Criterion, new: &'a Criterion) -> Vec<(Option<&'a Condition>, Option<&'a Condition>)> {
    let find = |list: &'a [Condition], name: &str| list.iter().find(|condition| condition.name == name);
    let mut pairs: Vec<_> = old.at.iter().map(|one| (Some(one), find(&new.at, &one.name))).collect();
    pairs.extend(new.at.iter().filter(|one| find(&old.at, &one.name).is_none()).map(|one| (None, Some(one))));
    pairs
}

/// Every way in which one criterion asks less.
fn less_of_one(old: &Criterion, new: &Criterion, ambient: Option<&Quantity>) -> Vec<Difference> {
    let mut found = Vec::new();
    let name = label(&old.name);
    let (was, is) = (expected(&old.expects), expected(&new.expects));
    let mut say = |text: String| found.push(Difference::less(text));
    match (&old.expects, &new.expects) {
        (Expectation::Limits { min, max }, Expectation::Limits { min: new_min, max: new_max }) => {
            let moves = [
                (bound(min.as_ref(), new_min.as_ref(), true, ambient), min, new_min),
                (bound(max.as_ref(), new_max.as_ref(), false, ambient), max, new_max),
            ];
            if moves.iter().any(|(moved, ..)| *moved == Move::Relaxed) {
                say(format!("{name}: relaxed from {was} to {is}"));
            } else if moves
                .iter()
                .any(|(moved, old, new)| *moved == Move::Other && may_ask_less(old.as_ref(), new.as_ref()))
            {
                say(format!("{name}: changed from {was} to {is}, which cannot be compared"));
            }
        }
        (Expectation::Words(a), Expectation::Words(b)) => match words(a, b) {
            Move::Relaxed => say(format!("{name}: {is} is accepted, not only {was}")),
            Move::Other => say(format!("{name}: {is} is accepted instead of {was}")),
            _ => {}
        },
        (Expectation::Count(a), Expectation::Count(b)) if b < a => say(format!("{name}: relaxed from {was} to {is}")),
        (Expectation::Count(_), Expectation::Count(_)) => {}
        (Expectation::Limits { min: Some(least), max: None }, Expectation::Count(count))
            if asks_as_much(*count, least) => {}
        (Expectation::Trials { .. }, Expectation::Trials { .. })
        | (Expectation::Sample { .. }, Expectation::Sample { .. }) => {
            let moves = expectation(&old.expects, &new.expects, ambient);
            let (before, after) = (old.expects.ends(), new.expects.ends());
            if moves.contains(&Move::Relaxed) {
                say(format!("{name}: relaxed from {was} to {is}"));
            } else if moves.contains(&Move::Other)
                && (may_ask_less(before.0, after.0) || may_ask_less(before.1, after.1))
            {
                say(format!("{name}: changed from {was} to {is}, which cannot be compared"));
            }
        }
        // A number in place of "pass" asks more.
        (Expectation::Words(words), _) if words.as_slice() == ["pass"] => {}
        _ => say(format!("{name}: changed from {was} to {is}")),
    }
    for (before, after) in condition_pairs(old, new) {
        match (before, after) {
            (Some(before), None) => say(format!("{name}: no longer asked at {}", condition(before))),
            (None, Some(after)) => say(format!("{name}: asked only at {} now", condition(after))),
            (Some(before), Some(after)) => {
                if !matches!(join(&bounds(before.into(), after.into(), ambient)), None | Some(Direction::Restated)) {
                    say(format!("{name}: asked at {} instead of {}", condition(after), condition(before)));
                }
            }
            (None, None) => {}
        }
    }
    found
}

/// Whether a count asks for as many as a plain number without a unit did.
fn asks_as_much(count: u64, least: &Limit) -> bool {
    least.quantity().is_some_and(|least| {
        let plain = least.dimension.is_none() && least.kind == Kind::Plain;
        plain && Rational::from_integer(count.into()) >= least.value
    })
}

/// What a criterion is called; one without a name of its own is the limit.
pub(in crate::history) fn label(name: &str) -> &str {
    if name == "value" || name == "met" { "limit" } else { name }
}

/// Whether a change that has no direction can ask less: a limit that became TBD stays open whatever is shown.
fn may_ask_less(old: Option<&Limit>, new: Option<&Limit>) -> bool {
    match (old.map(|limit| &limit.value), new.map(|limit| &limit.value)) {
        (Some(LimitValue::Placeholder), _) => false,
        (_, Some(LimitValue::Known(_))) => true,
        _ => false,
    }
}

/// A criterion in words: expectation and conditions.
pub(in crate::history) fn show(criterion: &Criterion) -> String {
    let conditions: Vec<String> = criterion.at.iter().map(condition).collect();
    let expected = expected(&criterion.expects);
    if conditions.is_empty() { expected } else { format!("{expected} with {}", conditions.join(" and ")) }
}

fn condition(condition: &Condition) -> String {
    format!("{} {}", condition.name, limits(condition.min.as_ref(), condition.max.as_ref()))
}

fn expected(expects: &Expectation) -> String {
    match expects {
        Expectation::Limits { min, max } => limits(min.as_ref(), max.as_ref()),
        Expectation::Words(words) => words.join(" or "),
        Expectation::Count(count) => format!("at least {count}"),
        Expectation::Trials { reliability, confidence } => show_trials(reliability, confidence),
        Expectation::Sample { min, max, covers, confidence } => {
            show_sample(&limits(min.as_ref(), max.as_ref()), covers, confidence)
        }
    }
}

/// Limits in words, with what expressions come to.
fn limits(min: Option<&Limit>, max: Option<&Limit>) -> String {
    match (min, max) {
        (Some(Limit { text, tolerance: Some((tolerance, _)), .. }), Some(_)) => {
            let ends = [min, max].into_iter().flatten().filter_map(|limit| computed(limit, true));
            let ends: Vec<String> = ends.collect();
            let plain = names(&text.value).is_empty() && names(&tolerance.value).is_empty();
            let ends = if plain || ends.len() < 2 { String::new() } else { format!(" ({})", ends.join(" to ")) };
            format!("{} ± {}{ends}", text.value, tolerance.value)
        }
        (Some(min), Some(max)) => format!("{} to {}", limit(min), limit(max)),
        (Some(min), None) => format!("at least {}", limit(min)),
        (None, Some(max)) => format!("at most {}", limit(max)),
        (None, None) => "no limit".to_string(),
    }
}

fn limit(limit: &Limit) -> String {
    match computed(limit, false) {
        Some(value) => format!("{} ({value})", limit.text.value),
        None => limit.text.value.clone(),
    }
}

/// What a limit comes to, where the text does not say so itself.
fn computed(limit: &Limit, always: bool) -> Option<String> {
    let quantity = limit.quantity()?;
    (always || !names(&limit.text.value).is_empty()).then(|| quantity.show())
}
