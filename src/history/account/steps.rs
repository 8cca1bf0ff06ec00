//! How a procedure is carried out has not changed under the revision that its runs name.
//!
//! A record names the revision that it ran. Whoever changes the steps and not the revision makes it say that it ran what nobody ran;
//! only history can tell, by the commit that signed the record.

use std::collections::btree_map::{BTreeMap, Entry};

use crate::diag::Finding;
use crate::git::{GitError, Oid};
use crate::model::kinds::{Entity, Procedure, Record, RecordStatus};
use crate::parse::plain_spaces;
use crate::text::Spanned;

use super::book::{Book, show};

/// Looks at every procedure whose file was touched after it came.
pub(super) fn check(book: &mut Book<'_>) -> Result<(), GitError> {
    let now = book.now;
    for procedure in &now.model.procedures {
        if !book.is_untouched(&procedure.head) {
            one(book, procedure)?;
        }
    }
    Ok(())
}

fn one(book: &mut Book<'_>, procedure: &Procedure) -> Result<(), GitError> {
    let now = book.now;
    let id = &procedure.head.id.value;
    let Some(revision) = &procedure.revision else { return Ok(()) };
    let text = &now.sources.file(procedure.head.file).text;
    let words = words(procedure, text);
    // Whether a commit held it as it reads now; many runs may have been signed in one.
    let mut as_now: BTreeMap<Oid, bool> = BTreeMap::new();
    let mut others: Vec<(&Record, usize)> = Vec::new();
    for record in now.graph.runs.get(id).into_iter().flatten().map(|at| &*now.model.records[*at]) {
        let stated = record.procedure_revision.as_ref().is_some_and(|own| own.value == revision.value);
        if record.status.value != RecordStatus::Signed || !stated {
            continue;
        }
        let Some(signed) = signed_in(book, record)? else { continue };
        let oid = book.trail.commits[signed].oid;
        let same = match as_now.entry(oid) {
            Entry::Occupied(known) => *known.get(),
            Entry::Vacant(unknown) => *unknown.insert(reads_so(book, procedure, &words, oid)?),
        };
        if !same {
            others.push((record, signed));
        }
    }
    let Some((first, more)) = others.split_first() else { return Ok(()) };
    let finding = finding(book, (procedure, revision), *first, more.len())?;
    book.account.findings.push(finding);
    Ok(())
}

/// That a procedure was changed since a record was signed, and since so many more.
fn finding(
    book: &Book<'_>,
    (procedure, revision): (&Procedure, &Spanned<String>),
    (record, signed): (&Record, usize),
    more: usize,
) -> Result<Finding, GitError> {
    let id = &procedure.head.id.value;
    let commit = show(&book.commit(signed)?);
    let more = if more > 0 { format!(", and {more} more") } else { String::new() };
    let message = format!(
        "{id} is carried out otherwise than when {} was signed ({commit}){more}, and is at revision {} still",
        record.head.id.value, revision.value
    );
    let help = format!(
        "read slipmark history {id}; then give {id} its next revision, with earlier_runs = \"count\" and a reason, or \"do not count\"; or \
         take the change back"
    );
    let finding = Finding::at("steps-changed-after-run", revision.span, message);
    Ok(finding.also(record.head.id.span, "ran it as it was").help(help))
}

/// The first commit, by position, that held a record signed; none: it is not committed so yet.
fn signed_in(book: &mut Book<'_>, record: &Record) -> Result<Option<usize>, GitError> {
    let versions = book.versions(&record.head.id.value, record.head.file)?;
    let is_signed = |entity: &Entity| matches!(entity, Entity::Record(it) if it.status.value == RecordStatus::Signed);
    let first =
        versions.iter().find(|own| own.new.as_ref().is_some_and(|it| it.file.entity.as_ref().is_some_and(is_signed)));
    Ok(first.map(|version| version.commit))
}

/// Whether a commit that held a procedure at the revision of now had these words for how it is carried out. Of another revision, or
/// none, nothing is said: the record was signed before the revision that it names was written down.
fn reads_so(book: &mut Book<'_>, now: &Procedure, words: &[String], commit: Oid) -> Result<bool, GitError> {
    let Some(placed) = book.at(&now.head.id.value, now.head.file, commit)? else { return Ok(true) };
    let Some(Entity::Procedure(then)) = &placed.file.entity else { return Ok(true) };
    let revision = |it: &Procedure| it.revision.as_ref().map(|own| own.value.clone());
    Ok(revision(then) != revision(now) || self::words(then, &placed.file.text) == words)
}

/// What says how a procedure is carried out: what must hold before, the steps, and what is expected of the readings. Where it has no
/// steps, its text. Cautions, titles and how readings are called do not change what was done.
fn words(procedure: &Procedure, text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut say = |text: &str| words.push(plain_spaces(text).into_owned());
    for prerequisite in &procedure.prerequisites {
        say(&prerequisite.value);
    }
    for step in &procedure.steps {
        say(if step.hold { "hold" } else { "" });
        say(&step.text);
    }
    for expected in procedure.all_fields().filter_map(|field| field.expected.as_ref()) {
        say(&expected.show());
    }
    if procedure.steps.is_empty() {
        let body = &procedure.head.body;
        say(text.get(body.start as usize..body.end as usize).unwrap_or_default());
    }
    words
}
