//! Completes the text of a record: marks, outcomes, hashes, names, status and seal.

use super::Arguments;
use crate::cli::{CliError, Project};
use crate::diag::Class;
use crate::edit::{self, EditError, Place, Step, Toml, path};
use crate::model::kinds::{Entity, Record, RecordStatus};
use crate::model::load::load_one;
use crate::state::AttachmentState;
use crate::state::judge::{Verdict, judge};

/// Keys that say who and what, in the order in which a record has them; new ones go after them.
const ABOVE: &[&str] =
    &["stage", "procedure_revision", "procedure", "revision", "serial", "item", "date", "title", "id"];

/// The seals that a new one stands in for, and why.
pub(super) struct Again {
    pub(super) seals: Vec<String>,
    pub(super) reason: String,
}

/// The whole text of the record, signed.
///
/// # Errors
/// If its front matter cannot be edited safely.
pub(super) fn signed(
    project: &Project,
    at: usize,
    arguments: &Arguments,
    again: Option<Again>,
) -> Result<String, CliError> {
    let record = &project.analysis.model.records[at];
    let file = project.analysis.sources.file(record.head.file);
    let refused = |error: EditError| {
        CliError::refused(format!("{}: {error}", file.path), format!("type this yourself: {}", error.type_this))
    };
    let mut text = evidence(project, record, file.text.to_string()).map_err(refused)?;
    text = hashes(project, at, text).map_err(refused)?;
    text = names(record, arguments, text).map_err(refused)?;
    if let Some(again) = again {
        text = signed_again(project, arguments, again, &text).map_err(refused)?;
    }
    text = edit::put(&text, &path(&["status"]), &Toml::text("signed"), Place::After(BEFORE_STATUS)).map_err(refused)?;
    let seal = seal_of(record, &text)?;
    text = edit::put(&text, &path(&["seal"]), &Toml::text(seal.clone()), Place::After(&["status"])).map_err(refused)?;
    // What was written must be what was sealed.
    if seal_of(record, &text)? != seal {
        return Err(CliError::Output(format!("the seal of {} would not hold", record.head.id.value)));
    }
    Ok(text)
}

const BEFORE_STATUS: &[&str] = &[
    "conditions",
    "actions",
    "deviations",
    "no_instrument",
    "instruments",
    "signed_by",
    "witnessed_by",
    "performed_by",
];

/// Missing marks, and what each criterion with a result was judged to be.
fn evidence(project: &Project, record: &Record, mut text: String) -> Result<String, EditError> {
    let facts = project.analysis.facts();
    for own in &record.verifies {
        let id = own.requirement.value.as_str();
        let Some(requirement) = facts.model.requirement(id) else { continue };
        if own.mark.is_none() {
            text = edit::put(&text, &path(&["verifies", id, "mark"]), &Toml::text(&requirement.mark), Place::First)?;
        }
        for criterion in &requirement.criteria {
            if own.not_judged_because(&criterion.name).is_some() {
                continue;
            }
            let outcome = match judge(&facts, requirement, criterion, own).verdict {
                Verdict::Met => "met",
                Verdict::NotMet => "not met",
                Verdict::Inconclusive(_) => "inconclusive",
                Verdict::CannotTell(_) | Verdict::Missing | Verdict::Unsettled => continue,
                // Only what is judged as signed is either.
                Verdict::Moved { .. } | Verdict::NotKept => continue,
            };
            let at = path(&["verifies", id, "outcome", &criterion.name]);
            text = edit::put(&text, &at, &Toml::text(outcome), Place::Last)?;
            let only = requirement.only_criterion();
            let computed = own.result_for(&criterion.name, only).and_then(|result| facts.computed.at(result.span));
            if let Some(Ok(quantity)) = computed {
                let at = path(&["verifies", id, "computed", &criterion.name]);
                text = edit::put(&text, &at, &Toml::text(quantity.in_full()), Place::Last)?;
            }
        }
    }
    used(project, record, text)
}

/// What each input from another record was.
fn used(project: &Project, record: &Record, mut text: String) -> Result<String, EditError> {
    let analysis = &project.analysis;
    let at = analysis.model.records.iter().position(|own| own.head.id.value == record.head.id.value);
    let Some(values) = at.and_then(|at| analysis.computed.of_record(at)) else { return Ok(text) };
    for input in record.inputs.iter().filter(|input| input.from.is_some()) {
        let Some(value) = values.inputs.iter().find(|own| own.name == input.name.value) else { continue };
        let at = path(&["inputs", &input.name.value, "used"]);
        text = edit::put(&text, &at, &Toml::text(value.quantity.in_full()), Place::Last)?;
    }
    Ok(text)
}

/// A file that was signed for and is another one now.
pub(super) struct Altered<'p> {
    pub(super) file: &'p str,
    pub(super) was: &'p str,
    pub(super) is: &'p str,
}

/// The files of a signed record that are not those that were signed for: signing again takes them as they are.
pub(super) fn altered(project: &Project, at: usize) -> Vec<Altered<'_>> {
    let record = &project.analysis.model.records[at];
    if record.status.value != RecordStatus::Signed {
        return Vec::new();
    }
    let files = record.data.iter().zip(&project.analysis.attachments[at]);
    let altered = files.filter_map(|(attachment, state)| match (&attachment.sha256, state) {
        (Some(was), AttachmentState::Altered(is)) => {
            Some(Altered { file: &attachment.file.value, was: &was.value, is })
        }
        _ => None,
    });
    altered.collect()
}

/// The hash of each attachment that has none yet, or was signed for with another one.
fn hashes(project: &Project, at: usize, mut text: String) -> Result<String, EditError> {
    let record = &project.analysis.model.records[at];
    let again = record.status.value == RecordStatus::Signed;
    for (index, (attachment, state)) in record.data.iter().zip(&project.analysis.attachments[at]).enumerate() {
        if let AttachmentState::Altered(hash) = state
            && (again || attachment.sha256.is_none())
        {
            let at = [Step::Key("data".into()), Step::Index(index), Step::Key("sha256".into())];
            text = edit::put(&text, &at, &Toml::text(hash), Place::Last)?;
        }
    }
    Ok(text)
}

/// What the seal stands in for, with who signs again, and why.
fn signed_again(project: &Project, arguments: &Arguments, again: Again, text: &str) -> Result<String, EditError> {
    let entries = [
        ("seals", Toml::Texts(again.seals)),
        ("date", Toml::Bare(project.analysis.request.today.to_string())),
        ("by", Toml::text(&arguments.by)),
        ("reason", Toml::text(again.reason)),
    ];
    edit::append_table(text, &path(&["signed_again"]), &entries)
}

/// Who did it, who watched, who signs.
fn names(record: &Record, arguments: &Arguments, mut text: String) -> Result<String, EditError> {
    if record.performed_by.is_none() {
        text = edit::put(&text, &path(&["performed_by"]), &Toml::text(&arguments.by), Place::After(ABOVE))?;
    }
    for (at, role) in arguments.witness.iter().enumerate() {
        if !arguments.witness[..at].contains(role) && !record.witnessed_by.iter().any(|own| own.value == *role) {
            text = edit::add_to_list(&text, &path(&["witnessed_by"]), role, Place::After(&["performed_by"]))?;
        }
    }
    let place = Place::After(&["witnessed_by", "performed_by"]);
    edit::put(&text, &path(&["signed_by"]), &Toml::text(&arguments.by), place)
}

/// The seal that the program will compute when it reads this text.
fn seal_of(record: &Record, text: &str) -> Result<String, CliError> {
    let (entity, findings) = load_one(record.head.file, text);
    match entity {
        Some(Entity::Record(read)) if findings.of(Class::Fault).next().is_none() => Ok(read.seal_now.clone()),
        _ => Err(CliError::Output(format!("{} could not be read back after signing", record.head.id.value))),
    }
}
