//! What a record lacks to be signed, all of it at once.

use crate::cli::Project;
use crate::diag::{Class, Finding, Place};
use crate::model::kinds::requirement::show_limits;
use crate::model::kinds::{
    Criterion, Method, On, PlanEntry, Record, RecordStatus, Requirement, RequirementStatus, Verifies,
};
use crate::model::{Id, SerialId};
use crate::state::accounted::is_accounted_for;
use crate::state::fits::{fitting, matches_entry};
use crate::state::judge::{Verdict, judge};
use crate::state::life::touched;
use crate::state::scope::{Target, targets};
use crate::state::standing::lines_up;
use crate::state::{AttachmentState, FETCH, Facts, pointer_words};

/// One thing that is missing or wrong.
pub(in crate::cli::commands) struct Lack {
    /// What.
    pub what: String,
    /// What to type.
    pub help: String,
}

fn lack(what: impl Into<String>, help: impl Into<String>) -> Lack {
    Lack { what: what.into(), help: help.into() }
}

/// Everything that keeps a record from being signed.
pub(in crate::cli::commands) fn of(project: &Project, at: usize) -> Vec<Lack> {
    let facts = project.analysis.facts();
    let record = &project.analysis.model.records[at];
    let mut lacks = faults(project, record);
    if record.date.is_none() && !has_fault(project, record, &["wrong-type", "no-such-date"]) {
        lacks.push(lack("it does not say when it was made", format!("date = {}", project.analysis.request.today)));
    }
    subject(&facts, record, &mut lacks);
    revisions(&facts, record, &mut lacks);
    procedure(&facts, record, &mut lacks);
    instruments(&facts, record, &mut lacks);
    uses(&facts, record, &mut lacks);
    if record.verifies.is_empty() {
        lacks.push(lack("it verifies nothing", "add [verifies.ID] with a result for each criterion of requirement ID"));
    }
    for verifies in &record.verifies {
        if let Some(requirement) = facts.model.requirement(&verifies.requirement.value) {
            shown(&facts, at, requirement, verifies, &mut lacks);
        }
    }
    attachments(project, at, &mut lacks);
    let mut seen: Vec<String> = Vec::new();
    lacks.retain(|one| {
        let new = !seen.contains(&one.what);
        seen.push(one.what.clone());
        new
    });
    lacks
}

fn in_file<'p>(project: &'p Project, record: &'p Record) -> impl Iterator<Item = &'p Finding> {
    let path = project.analysis.path(record.head.file);
    project.analysis.findings.of(Class::Fault).filter(move |finding| match &finding.place {
        Place::At(span) => span.file == record.head.file,
        Place::Path(own) => own == path,
        Place::Project => false,
    })
}

fn has_fault(project: &Project, record: &Record, codes: &[&str]) -> bool {
    in_file(project, record).any(|finding| codes.contains(&finding.code))
}

/// What is wrong with the file as such. A key that is missing is left to the parts below, which know what to type; that the
/// record was changed after it was signed is asked about when nothing else is wrong.
fn faults(project: &Project, record: &Record) -> Vec<Lack> {
    let own = in_file(project, record).filter(|finding| {
        let known = ["`date`", "`sha256`"].iter().any(|key| finding.message.contains(key));
        !(finding.code == "missing-key" && known) && finding.code != "changed-after-signing"
    });
    own.map(|finding| {
        let line = match finding.place {
            Place::At(span) => format!("line {}: ", project.analysis.sources.locate(span).line),
            _ => String::new(),
        };
        lack(format!("{line}{}", finding.message), finding.help.clone())
    })
    .collect()
}

/// A requirement on hardware needs a piece or an item.
fn subject(facts: &Facts<'_>, record: &Record, lacks: &mut Vec<Lack>) {
    if !record.serials.is_empty() || record.item.is_some() {
        return;
    }
    for verifies in &record.verifies {
        let Some(requirement) = facts.model.requirement(&verifies.requirement.value) else { continue };
        let Some(item) = items(facts, requirement).into_iter().next() else { continue };
        let entry = requirement.plan.iter().find(|entry| entry.method == Some(record.method));
        let of_design = entry.is_some_and(|entry| entry.on == On::Design);
        let piece = facts.model.item(item).and_then(|item| item.serials.first());
        let help = match piece {
            Some(piece) if !of_design => {
                format!("serial = \"{item}/{}\", or the piece that it was", piece.number.value)
            }
            _ => format!("item = \"{item}\""),
        };
        lacks.push(lack(
            format!("it names no piece and no item, and {} applies to {item}", requirement.head.id.value),
            help,
        ));
    }
}

fn items<'m>(facts: &Facts<'m>, requirement: &'m Requirement) -> Vec<&'m Id> {
    let each = targets(facts, requirement).into_iter().filter_map(|target| match target {
        Target::Item(at) => Some(&facts.model.items[at].head.id.value),
        _ => None,
    });
    each.collect()
}

fn revisions(facts: &Facts<'_>, record: &Record, lacks: &mut Vec<Lack>) {
    let current = |item: &Id, piece: Option<&SerialId>| {
        let piece = piece.and_then(|serial| facts.model.serial(serial)).and_then(|(_, piece)| piece.revision.clone());
        piece.or_else(|| facts.model.item(item)?.revision.clone()).map(|revision| revision.value)
    };
    let pieces = record.serials.iter().map(|serial| (&serial.value.item, Some(&serial.value)));
    let subjects: Vec<(&Id, Option<&SerialId>)> =
        pieces.chain(record.item.iter().map(|item| (&item.value, None))).collect();
    for (item, piece) in &subjects {
        let stated = record.revision.is_some() || record.revisions.contains_key(*item);
        let Some(revision) = current(item, *piece).filter(|_| !stated) else { continue };
        let help = match subjects.len() {
            1 => format!("revision = \"{revision}\", if that is what it was"),
            _ => format!("add {item} = \"{revision}\" to revision = {{ … }}, if that is what it was"),
        };
        lacks.push(lack(format!("it does not say which revision of {item} it saw"), help));
    }
}

fn procedure(facts: &Facts<'_>, record: &Record, lacks: &mut Vec<Lack>) {
    let Some(procedure) = record.procedure.as_ref().and_then(|id| facts.model.procedure(&id.value)) else { return };
    if let (Some(revision), None) = (&procedure.revision, &record.procedure_revision) {
        let what = format!("it does not say which revision of {} was run", procedure.head.id.value);
        lacks.push(lack(what, format!("procedure_revision = \"{}\", if that is what was run", revision.value)));
    }
}

fn instruments(facts: &Facts<'_>, record: &Record, lacks: &mut Vec<Lack>) {
    let procedure = record.procedure.as_ref().and_then(|id| facts.model.procedure(&id.value));
    let required = procedure.map(|procedure| procedure.instruments.as_slice()).unwrap_or_default();
    let missing: Vec<&str> =
        required.iter().filter(|own| !record.names_instrument(&own.value)).map(|own| own.value.as_str()).collect();
    if let (false, Some(procedure)) = (missing.is_empty(), procedure) {
        let what = format!("{} requires {}, which it does not name", procedure.head.id.value, missing.join(", "));
        lacks.push(lack(what, format!("add \"{}\" to instruments", missing.join("\", \""))));
    } else if record.method == Method::Test && record.instruments.is_empty() && record.no_instrument.is_none() {
        lacks.push(lack("it names no instrument", "instruments = [\"…\"], or no_instrument = \"why none was needed\""));
    }
}

/// What the run must say that it used of the limited life of its pieces.
fn uses(facts: &Facts<'_>, record: &Record, lacks: &mut Vec<Lack>) {
    let Some(procedure) = record.procedure.as_ref().and_then(|id| facts.model.procedure(&id.value)) else { return };
    let said = |name: &str| record.uses.iter().any(|(own, _)| own.value == name);
    for name in procedure.uses.iter().map(|name| &name.value).filter(|name| !said(name)) {
        let mut pieces = touched(facts, record).into_iter();
        let whose = pieces.find(|piece| facts.model.item(&piece.item).is_some_and(|item| item.budget(name).is_some()));
        if let Some(piece) = whose {
            let what = format!("it does not say how much of the {name} of {piece} it used");
            lacks.push(lack(what, format!("slipmark fill {} uses.{name}=…; 0 if it used none", record.head.id.value)));
        }
    }
}

/// What it shows of one requirement.
fn shown(facts: &Facts<'_>, at: usize, requirement: &Requirement, verifies: &Verifies, lacks: &mut Vec<Lack>) {
    let record = &facts.model.records[at];
    let id = &requirement.head.id.value;
    if requirement.status == RequirementStatus::Withdrawn {
        lacks.push(lack(format!("{id} is withdrawn"), format!("remove [verifies.{id}]")));
        return;
    }
    let entries = fitting(facts, requirement, record);
    let about_nothing = record.serials.is_empty() && record.item.is_none() && !items(facts, requirement).is_empty();
    let none_like_it = !requirement.plan.iter().any(|entry| matches_entry(record, entry));
    if entries.is_empty() && (none_like_it || !about_nothing) {
        lacks.push(no_entry(facts, requirement, record));
    }
    if verifies.mark.is_some() && !lines_up(&requirement.mark, verifies) {
        let what = format!("its mark is not that of {id} as it reads now");
        let record = &record.head.id.value;
        lacks.push(lack(what, format!("slipmark mark {record} --by ROLE --because \"…\" shows what changed")));
    }
    for criterion in &requirement.criteria {
        let asked = entries.is_empty() || entries.iter().any(|at| requirement.plan[*at].asks_for(&criterion.name));
        result(facts, at, requirement, criterion, verifies, asked, lacks);
    }
}

fn result(
    facts: &Facts<'_>,
    at: usize,
    requirement: &Requirement,
    criterion: &Criterion,
    verifies: &Verifies,
    asked: bool,
    lacks: &mut Vec<Lack>,
) {
    let (id, name, record) = (&requirement.head.id.value, &criterion.name, &facts.model.records[at]);
    if verifies.not_judged_because(name).is_some() {
        return;
    }
    let verdict = judge(facts, requirement, criterion, verifies).verdict;
    let settled = || is_accounted_for(facts, at, id, |_| true);
    if verifies.outcome(name) == Some("not met") && !matches!(verdict, Verdict::NotMet) && !settled() {
        let what =
            format!("{name} of {id} was not met when it was signed, and no closed nonconformance accounts for that");
        let record = &record.head.id.value;
        lacks.push(lack(what, format!("restore it with git, or slipmark new nonconformance --found-by {record}")));
    }
    match verdict {
        // What it comes to now is written down by the signature.
        Verdict::Moved { .. } | Verdict::NotKept => {}
        Verdict::Met | Verdict::NotMet | Verdict::Inconclusive(_) => {}
        Verdict::Missing if !asked => return,
        Verdict::Missing => lacks.push(lack(
            format!("no result for {name} of {id} ({})", criterion.show()),
            format!("under [verifies.{id}]: results.{name} = \"…\", or not_judged.{name} = \"reason\""),
        )),
        Verdict::Unsettled => {
            lacks.push(lack(format!("the limit of {name} is not settled in {id}"), format!("settle it in {id}")));
        }
        // What is the file's fault is listed with its line already; but not of what is void because it came to something else.
        Verdict::CannotTell(trouble)
            if trouble.fault.is_some() && !signed_anew(record, verifies, criterion, requirement) => {}
        Verdict::CannotTell(trouble) => lacks.push(lack(format!("{name} of {id}: {}", trouble.message), trouble.help)),
    }
    for condition in &criterion.at {
        if !record.conditions.iter().any(|(own, _)| own.value == condition.name) {
            let limits = show_limits(condition.min.as_ref(), condition.max.as_ref());
            let what = format!("condition {} is not recorded; {name} of {id} asks for {limits}", condition.name);
            lacks.push(lack(what, format!("conditions.{} = \"…\", above the first [table]", condition.name)));
        }
    }
}

/// Whether a computed result is signed for once more.
fn signed_anew(record: &Record, verifies: &Verifies, criterion: &Criterion, requirement: &Requirement) -> bool {
    let only = requirement.only_criterion();
    let computed = verifies.result_for(&criterion.name, only).is_some_and(|result| result.value.is_computed());
    computed && record.status.value != crate::model::kinds::RecordStatus::Draft
}

/// That a record counts for no entry, with what the entries ask for.
fn no_entry(facts: &Facts<'_>, requirement: &Requirement, record: &Record) -> Lack {
    let id = &requirement.head.id.value;
    let own = words(
        record.method.word(),
        record.stage.map(|stage| stage.word()),
        record.procedure.as_ref().map(|id| &*id.value),
    );
    let what = format!("it counts for no entry of {id}: it is {own}");
    let items: Vec<&str> = items(facts, requirement).into_iter().map(|item| item.as_str()).collect();
    let on = if items.is_empty() { "the project".to_string() } else { items.join(", ") };
    let entries: Vec<String> = requirement.plan.iter().map(|entry| asks(entry, &on)).collect();
    let help = match entries.is_empty() {
        true => format!("add a [[verify]] entry to {id}, or remove [verifies.{id}]"),
        false => format!(
            "{id} asks for {}; set stage, procedure and subject to fit, or remove [verifies.{id}]",
            entries.join("; or ")
        ),
    };
    lack(what, help)
}

fn words(method: &str, stage: Option<&str>, procedure: Option<&str>) -> String {
    let article = if method.starts_with(['a', 'i']) { "an" } else { "a" };
    let mut text = format!("{article} {method}");
    text.push_str(&stage.map_or(", no stage".into(), |stage| format!(", {stage}")));
    text.push_str(&procedure.map_or(", no procedure".into(), |procedure| format!(", {procedure}")));
    text
}

fn asks(entry: &PlanEntry, on: &str) -> String {
    let mut parts = vec![entry.method.map_or("a record", Method::word).to_string()];
    parts.extend(entry.stage.map(|stage| stage.word().to_string()));
    parts.extend(entry.procedure.as_ref().map(|procedure| procedure.value.to_string()));
    parts.push(match entry.on {
        On::Design => format!("on {on}"),
        _ if on == "the project" => "on the project".into(),
        _ => format!("on a piece of {on}"),
    });
    parts.join(", ")
}

fn attachments(project: &Project, at: usize, lacks: &mut Vec<Lack>) {
    let record = &project.analysis.model.records[at];
    for (attachment, state) in record.data.iter().zip(&project.analysis.attachments[at]) {
        let file = &attachment.file.value;
        match state {
            AttachmentState::Missing(why) => {
                lacks.push(lack(format!("{file}: {why}"), "put the file beside the record, or remove its [[data]]"));
            }
            AttachmentState::Pointer(bytes) => {
                lacks.push(lack(format!("{file}: {}", pointer_words(*bytes)), FETCH));
            }
            // Of a signed record that is asked about when nothing else is wrong.
            AttachmentState::Altered(now)
                if attachment.sha256.is_some() && record.status.value != RecordStatus::Signed =>
            {
                lacks.push(lack(
                    format!("{file} is not the file that sha256 was written for"),
                    format!("restore the file, or if this is the right one: sha256 = \"{now}\""),
                ))
            }
            AttachmentState::Altered(_) | AttachmentState::Unchanged => {}
        }
    }
}
