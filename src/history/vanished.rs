//! Nothing leaves silently: ids that were held must still be there, or be accounted for.

use crate::analysis::Analysis;
use crate::diag::{Class, Finding, Place};
use crate::model::kinds::{Decision, DecisionStatus, RecordStatus, RequirementStatus};
use crate::model::{Id, Model, Ref};
use crate::text::RepoPath;

use super::then::Then;

/// A thing that must not leave silently.
pub(super) struct Held {
    /// Its id.
    pub(super) id: Id,
    /// What it was, in words.
    pub(super) what: &'static str,
    /// Where it stands in the model that held it.
    pub(super) place: Ref,
}

/// Whether a requirement, record, nonconformance, waiver or held event must not leave silently, and what it was.
pub(super) fn held(model: &Model, place: Ref) -> Option<&'static str> {
    match place {
        Ref::Requirement(at) if model.requirements[at].status == RequirementStatus::Active => {
            Some("an active requirement")
        }
        Ref::Record(at) if model.records[at].status.value == RecordStatus::Signed => {
            Some(signed(model.records[at].method.word()))
        }
        Ref::Nonconformance(_) => Some("a nonconformance"),
        Ref::Waiver(_) => Some("a waiver"),
        Ref::Held(_) => Some("a held event"),
        _ => None,
    }
}

fn signed(method: &str) -> &'static str {
    match method {
        "analysis" => "a signed analysis",
        "test" => "a signed test",
        "inspection" => "a signed inspection",
        _ => "a signed demonstration",
    }
}

/// What a commit held, and what is neither there now nor accounted for.
pub(super) fn vanished(then: &Then<'_>) -> Vec<Held> {
    let gone = then.part.ids().filter_map(|(id, place)| {
        let what = held(&then.part, place)?;
        let accounted = is_there(then.now, id, place) || accounted_for(then.now, id);
        (!accounted).then(|| Held { id: id.clone(), what, place })
    });
    gone.collect()
}

/// Whether the id still names a thing of that sort; a record that became an item is a record that is gone.
pub(super) fn is_there(now: &Model, id: &Id, then: Ref) -> bool {
    now.find(id).is_some_and(|place| std::mem::discriminant(&place) == std::mem::discriminant(&then))
}

fn accounted_for(now: &Model, id: &Id) -> bool {
    replaced_by(now, id).next().is_some() || withdrawn_by(now, id).next().is_some()
}

/// The requirements that stand in for this id.
pub(super) fn replaced_by<'m>(now: &'m Model, id: &'m Id) -> impl Iterator<Item = &'m Id> {
    let names = |ids: &[crate::text::Spanned<Id>]| ids.iter().any(|named| named.value == *id);
    now.requirements.iter().filter(move |it| it.head.id.value != *id && names(&it.replaces)).map(|it| &it.head.id.value)
}

/// The accepted decisions that withdraw this id.
pub(super) fn withdrawn_by<'m>(now: &'m Model, id: &'m Id) -> impl Iterator<Item = &'m Id> {
    let names = move |decision: &&Decision| {
        decision.status == DecisionStatus::Accepted && decision.withdraws.iter().any(|named| named.value == *id)
    };
    now.decisions.iter().filter(names).map(|decision| &decision.head.id.value)
}

/// Whether a file is there and nothing could be read from it.
fn is_unread(now: &Analysis, path: &RepoPath) -> bool {
    let Some((file, _)) = now.sources.files().find(|(_, file)| file.path == *path) else { return false };
    let empty = !now.model.ids().any(|(_, place)| now.model.head(place).file == file);
    let at_fault = |finding: &Finding| match &finding.place {
        Place::At(span) => span.file == file,
        Place::Path(own) => own == path,
        Place::Project => false,
    };
    empty && now.findings.of(Class::Fault).any(at_fault)
}

/// The fault.
pub(super) fn finding(then: &Then<'_>, held: &Held, name: &str, prefix: &str, now: &Analysis) -> Finding {
    let id = &held.id;
    let path = then.path(then.part.head(held.place).file);
    if let Some(path) = path.filter(|path| is_unread(now, path)) {
        // Whoever brought the old file back would lose what stands in this one.
        let message = format!("{id} was {} at {name}, and {path}, where it stood, cannot be read", held.what);
        return Finding::new("vanished", Place::Project, message)
            .help(format!("mend {path}; it has a fault of its own"));
    }
    let back = path.map_or_else(String::new, |path| match then.prefix == prefix {
        true => format!("bring it back: git checkout {name} -- {path}; or "),
        false => {
            let old = if then.prefix.is_empty() { path.to_string() } else { format!("{}/{path}", then.prefix) };
            format!("bring it back: git show {name}:{old} > {path}; or ")
        }
    });
    let otherwise = match held.place {
        Ref::Requirement(_) => format!(
            "set its status to \"withdrawn\" with a reason, or name {id} in the `replaces` of the requirement that \
             stands in for it"
        ),
        _ => format!("name {id} in the `withdraws` of a decision that says why"),
    };
    let message = match then.now.find(id) {
        Some(place) => {
            format!("{id} was {} at {name}, and now names another thing: {}", held.what, then.now.kind(place))
        }
        None => format!("{id} was {} at {name}, and is gone", held.what),
    };
    Finding::new("vanished", Place::Project, message).help(format!("{back}{otherwise}"))
}
