//! Prerequisites of procedures that nobody has run.

use std::collections::BTreeSet;

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::SerialId;
use crate::model::kinds::{Method, On, Procedure, Record, RequirementStatus};
use crate::state::Facts;
use crate::state::run::Run;
use crate::state::scope::{Target, targets};
use crate::state::standing::{Standing, item_dropped};
use crate::text::Spanned;

use super::prerequisites::{is_judged, runs_of};

/// The check.
pub const CHECK: Check = Check { name: "not_run", codes: &["prerequisite-not-run"], run };

/// How many runs are named before the rest is counted.
const NAMED: usize = 3;

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    for procedure in &facts.model.procedures {
        for first in &procedure.prerequisites {
            if let Some(prerequisite) = facts.model.procedure(&first.value) {
                findings.extend(not_run(facts, procedure, first, prerequisite));
            }
        }
    }
}

/// A run that should not have begun, and the first of its pieces of which it is the newest one.
type Begun<'m> = (&'m Record, &'m SerialId);

/// That a procedure was run on pieces on which its prerequisite was not. One finding for all of them: often nobody writes down the
/// runs of that prerequisite at all.
fn not_run(
    facts: &Facts<'_>,
    procedure: &Procedure,
    first: &Spanned<String>,
    prerequisite: &Procedure,
) -> Option<Finding> {
    if prerequisite.item.as_ref().is_some_and(|item| item_dropped(facts, &item.value)) {
        return None;
    }
    let own = runs_of(facts, &procedure.head.id.value, Standing::Signed);
    let theirs = runs_of(facts, &first.value, Standing::Signed);
    let begun: Vec<Begun<'_>> = own
        .iter()
        .filter(|record| rests_on(facts, record, procedure) && !is_judged(facts, record, procedure, &first.value))
        .filter_map(|record| {
            Some((*record, record.serials.iter().find(|it| is_newest(facts, record, &it.value, &own))?))
        })
        .map(|(record, piece)| (record, &piece.value))
        .filter(|(record, _)| lacks(facts, record, prerequisite, &theirs))
        .collect();
    let (record, piece) = *begun.first()?;
    let day = record.date.as_ref()?;
    let (id, first_id) = (&procedure.head.id.value, &first.value);
    let what = match begun.len() {
        1 => format!("{} is a run of {id} on {piece} of {}", record.head.id.value, day.text),
        _ => format!("{id} was run on {}", pieces(&begun)),
    };
    let never = if theirs.is_empty() { "at all" } else { "there" };
    let text = format!("{what}, and its prerequisite {first_id} has no signed run {never}");
    let finding =
        Finding::at("prerequisite-not-run", day.span, text).help(help(facts, procedure, prerequisite, record));
    let others = begun.iter().skip(1).take(NAMED - 1).filter_map(|(other, _)| other.date.as_ref());
    let finding = others.fold(finding, |finding, other| finding.also(other.span, "this run too"));
    Some(finding.also(first.span, "asked for here"))
}

/// Whether something in force rests on a run of the procedure as it is now: an earlier revision may not have asked for what comes first.
fn rests_on(facts: &Facts<'_>, record: &Record, procedure: &Procedure) -> bool {
    let revision = |of: &Option<Spanned<String>>| of.as_ref().map(|own| own.value.clone());
    let mut shown = record.verifies.iter().filter_map(|own| facts.model.requirement(&own.requirement.value));
    revision(&record.procedure_revision) == revision(&procedure.revision)
        && shown.any(|requirement| requirement.status != RequirementStatus::Withdrawn)
}

/// Whether a run is the newest on a piece that may still be used.
fn is_newest(facts: &Facts<'_>, record: &Record, piece: &SerialId, own: &[&Record]) -> bool {
    let later = |other: &&Record| match (&record.date, &other.date) {
        (Some(made), Some(date)) => made.before(date),
        _ => false,
    };
    let is_there = |other: &&&Record| other.serials.iter().any(|serial| serial.value == *piece);
    !facts.graph.scrapped.contains(piece)
        && !item_dropped(facts, &piece.item)
        && !own.iter().filter(is_there).any(later)
}

/// Whether a prerequisite was run on nothing that a run may mean: its pieces, what they are or were in, what is or was in them, their
/// items, the project. What was only ever run on other things may be about those, and what the plan asks of one piece or of the design
/// need not be shown on this one.
fn lacks(facts: &Facts<'_>, record: &Record, prerequisite: &Procedure, theirs: &[&Record]) -> bool {
    let family = family(facts, record);
    let same_item = |item: &str| family.iter().any(|piece| *piece.item == *item);
    let meant = |other: &Record| match (other.serials.is_empty(), &other.item) {
        (false, _) => other.serials.iter().any(|serial| family.contains(&serial.value)),
        (true, Some(item)) => same_item(&item.value),
        (true, None) => true,
    };
    let elsewhere = theirs.iter().flat_map(|other| &other.serials).any(|serial| same_item(&serial.value.item));
    let of_one = || {
        let asked: Vec<On> = asked_of(facts, prerequisite, &same_item);
        !asked.is_empty() && !asked.contains(&On::Each)
    };
    !theirs.iter().any(|other| meant(other)) && (theirs.is_empty() || (elsewhere && !of_one()))
}

/// Of how many pieces plan entries in force ask for a procedure, where they are about some items.
fn asked_of(facts: &Facts<'_>, procedure: &Procedure, is_about: &impl Fn(&str) -> bool) -> Vec<On> {
    let in_force = facts.model.requirements.iter().filter(|it| it.status != RequirementStatus::Withdrawn);
    let about = in_force.filter(|requirement| {
        targets(facts, requirement).iter().any(|target| match target {
            Target::Item(at) => is_about(&facts.model.items[*at].head.id.value),
            _ => false,
        })
    });
    let entries = about.flat_map(|requirement| &requirement.plan);
    let own = entries.filter(|entry| entry.procedure.as_ref().is_some_and(|id| id.value == procedure.head.id.value));
    own.map(|entry| entry.on).collect()
}

/// The pieces of a record, all that ever was in them, and all that they ever were in.
fn family(facts: &Facts<'_>, record: &Record) -> BTreeSet<SerialId> {
    let own: BTreeSet<&SerialId> = record.serials.iter().map(|serial| &serial.value).collect();
    let ever = |outer: &SerialId| facts.graph.inside_that_day(facts.model, outer, None);
    let inside = own.iter().flat_map(|piece| ever(piece));
    let around = facts.graph.contained.keys().filter(|outer| ever(outer).iter().any(|inner| own.contains(inner)));
    inside.chain(around.cloned()).chain(own.iter().map(|piece| (*piece).clone())).collect()
}

/// The first pieces by name, and how many more.
fn pieces(begun: &[Begun<'_>]) -> String {
    let all: BTreeSet<String> = begun.iter().map(|(_, piece)| piece.to_string()).collect();
    let named: Vec<&str> = all.iter().take(NAMED).map(String::as_str).collect();
    match all.len().saturating_sub(NAMED) {
        0 => named.join(", "),
        more => format!("{} and {more} more", named.join(", ")),
    }
}

/// What to type: the run that is a draft, else the one that is to be written down.
fn help(facts: &Facts<'_>, procedure: &Procedure, prerequisite: &Procedure, record: &Record) -> String {
    let (id, first) = (&procedure.head.id.value, &prerequisite.head.id.value);
    let family = family(facts, record);
    let drafts = runs_of(facts, first, Standing::Draft);
    let draft = drafts.iter().find(|other| other.serials.iter().any(|serial| family.contains(&serial.value)));
    let write = match draft {
        Some(draft) => {
            let draft = &draft.head.id.value;
            format!("if {draft} is that run, complete it: slipmark sign {draft} --by ROLE")
        }
        None => {
            format!(
                "if {first} was run before, write that down: {} --date YYYY-MM-DD",
                new(facts, prerequisite, record, &family)
            )
        }
    };
    format!("{write}; else run {first}, then {id} again, or take {first} out of its `prerequisites`")
}

/// The command that makes a record of a procedure, on the piece of which the plan asks it, if of any.
fn new(facts: &Facts<'_>, procedure: &Procedure, record: &Record, family: &BTreeSet<SerialId>) -> String {
    let id = &procedure.head.id.value;
    let own = record.serials.iter().map(|serial| &serial.value);
    let asked = own.clone().chain(family).find_map(|piece| {
        let run = Run::of(facts, procedure, Some(piece), None);
        Some((run.wanted.first()?.entry.method?, piece))
    });
    match (asked, own.clone().next()) {
        (Some((method, piece)), _) => format!("slipmark new {} --from {id} --serial {piece}", method.word()),
        (None, Some(piece)) => format!("slipmark new {} --procedure {id} --serial {piece}", Method::Test.word()),
        (None, None) => format!("slipmark new {} --procedure {id}", Method::Test.word()),
    }
}
