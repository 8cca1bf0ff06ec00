//! A waiver that accepts more than was approved, because a parameter moved.
//!
//! The mark of a waiver is that of its requirement: it does not see what the waiver itself accepts. What that came to when it
//! was approved is looked up where it rests on a parameter.

use crate::diag::Finding;
use crate::git::GitError;
use crate::history::keys::Told;
use crate::history::less::widened;
use crate::history::trail::Version;
use crate::model::kinds::{Entity, Relief, Waiver, WaiverStatus};
use crate::model::link;
use crate::quantity;
use crate::state::standing::is_approved;

use super::book::{Book, show};

/// Looks at every approved waiver whose limits use a parameter.
pub(super) fn check(book: &mut Book<'_>) -> Result<(), GitError> {
    let now = book.now;
    let lines_up = |it: &Waiver| {
        let requirement = it.requirement.as_ref().and_then(|id| now.model.requirement(&id.value));
        requirement.is_some_and(|own| it.mark.as_ref().is_some_and(|mark| mark.value == own.mark))
    };
    let asked = now.model.waivers.iter().filter(|it| is_approved(&now.facts(), it) && rests_on_names(it));
    asked.filter(|it| lines_up(it)).try_for_each(|it| one(book, it))
}

fn rests_on_names(waiver: &Waiver) -> bool {
    let limits = waiver.accepts.iter().flat_map(|(_, relief)| relief.limits());
    limits.into_iter().any(|limit| !quantity::names(&limit.text.value).is_empty())
}

fn one(book: &mut Book<'_>, waiver: &Waiver) -> Result<(), GitError> {
    let id = &waiver.head.id.value;
    let text = &book.now.sources.file(waiver.head.file).text;
    let versions = book.versions(id, waiver.head.file)?;
    let held = versions.last().and_then(|version| version.new.as_ref());
    // Looked at now, and not committed yet.
    if held.is_none_or(|held| is_look(&held.file.text, text)) {
        return Ok(());
    }
    let Some(approved) = versions.iter().rev().find(|version| approves(version)) else { return Ok(()) };
    let commit = book.trail.commits[approved.commit].oid;
    let mut then = waiver.clone();
    link::resolve_reliefs(
        std::slice::from_mut(&mut then),
        &*book.blobs.parameters(Some(commit))?,
        &mut Default::default(),
    );
    let ambient = book.now.model.config.ambient.as_ref();
    let sides = then.accepts.iter().zip(&waiver.accepts);
    let Some(((name, was), (_, is))) = sides.into_iter().find(|((_, was), (_, is))| widened(was, is, ambient)) else {
        return Ok(());
    };
    let since = show(&book.commit(approved.commit)?);
    let finding = finding(waiver, &name.value, (was, is), &since);
    book.account.findings.push(finding);
    Ok(())
}

/// Whether a commit approved what the waiver accepts, or somebody looked at that again.
fn approves(version: &Version) -> bool {
    let Some(new) = &version.new else { return false };
    let is_approved =
        |entity: &Option<Entity>| matches!(entity, Some(Entity::Waiver(it)) if it.status == WaiverStatus::Approved);
    is_approved(&new.file.entity) && version.old.as_ref().is_none_or(|old| is_look(&old.file.text, &new.file.text))
}

/// Whether two versions differ in what is accepted, or in who accepted it, when and why. A title, an end or a note is no look at it.
fn is_look(old: &str, new: &str) -> bool {
    const LOOKED: &[&str] =
        &["requirement", "mark", "accepts", "status", "approved_by", "approved", "conditions", "reason"];
    !Told::of(new).since(&Told::of(old), |key| LOOKED.contains(&key)).is_empty()
}

fn finding(waiver: &Waiver, criterion: &str, (was, is): (&Relief, &Relief), since: &str) -> Finding {
    let id = &waiver.head.id.value;
    let comes_to = |relief: &Relief| relief.comes_to().unwrap_or_else(|| "nothing".to_string());
    let text = format!(
        "{id} accepts {criterion} {}, which comes to {}; when it was approved ({since}) it came to {}",
        is.show(),
        comes_to(is),
        comes_to(was)
    );
    let help = "if so much is accepted, approve it anew, with the day in `approved`; else write under `accepts` what was approved";
    let span = is.limits().first().map_or(waiver.head.id.span, |limit| limit.text.span);
    Finding::at("relief-moved", span, text).help(help)
}
