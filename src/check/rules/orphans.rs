//! What hangs from nothing.

use std::collections::BTreeSet;

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings, Place};
use crate::model::kinds::{Record, RequirementStatus};
use crate::text::RepoPath;

/// The check.
pub const CHECK: Check = Check { name: "orphans", codes: &["orphan-attachment", "orphan-requirement"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    for requirement in &subject.facts.model.requirements {
        if requirement.status != RequirementStatus::Withdrawn
            && requirement.parents.is_empty()
            && requirement.source.is_none()
        {
            let id = &requirement.head.id;
            let text = format!("{} has neither a parent nor a source", id.value);
            findings.push(Finding::at("orphan-requirement", id.span, text));
        }
    }
    attachments(subject, findings);
}

/// What people attach. Other files (scripts, drawings, settings) have their own reasons to lie there.
const ENDS: &[&str] = &[".csv", ".png", ".jpg", ".jpeg", ".pdf"];

fn attachments(subject: &Subject<'_>, findings: &mut Findings) {
    let others = subject.snapshot.others.iter().map(|file| &file.path);
    let attachable: Vec<&RepoPath> = others.filter(|path| is_attachable(path.file_name())).collect();
    if attachable.is_empty() {
        return;
    }
    let records = &subject.facts.model.records;
    let path = |record: &Record| &subject.sources.file(record.head.file).path;
    let folders: BTreeSet<&str> = records.iter().map(|record| path(record).folder()).collect();
    let named = records.iter().flat_map(|record| {
        let own = path(record);
        record.data.iter().filter_map(move |attachment| own.beside(&attachment.file.value))
    });
    let named: BTreeSet<RepoPath> = named.collect();
    let unnamed = attachable.into_iter().filter(|path| folders.contains(path.folder()) && !named.contains(*path));
    let unnamed: Vec<&RepoPath> = unnamed.collect();
    if unnamed.is_empty() {
        return;
    }
    // A picture that the text of a file beside it shows belongs to that file.
    let shown = shown_beside(subject, &unnamed.iter().map(|path| path.folder()).collect());
    for path in unnamed {
        if !shown.contains(&(path.folder(), path.file_name())) {
            let text = format!("{path} lies among the records and none names it");
            findings.push(Finding::new("orphan-attachment", Place::Path(path.clone()), text));
        }
    }
}

fn is_attachable(name: &str) -> bool {
    ENDS.iter().any(|end| {
        name.len() > end.len() && name.as_bytes()[name.len() - end.len()..].eq_ignore_ascii_case(end.as_bytes())
    })
}

/// Names of files that a Markdown file in their folder mentions, with that folder. One pass over the texts of these folders,
/// whatever the number of files; a name with a space in it is taken from the link that it must stand in.
fn shown_beside<'s>(subject: &Subject<'s>, folders: &BTreeSet<&str>) -> BTreeSet<(&'s str, &'s str)> {
    let mut shown = BTreeSet::new();
    let beside = |path: &RepoPath| path.is_markdown() && folders.contains(path.folder());
    for (_, file) in subject.sources.files().filter(|(_, file)| beside(&file.path)) {
        let loose = file.text.split(|c: char| c.is_whitespace() || "()[]<>\"'`/|,;:!".contains(c));
        let links = file.text.split(['(', ')', '<', '>', '"']);
        let names = loose.chain(links).map(|word| word.trim().trim_end_matches('.'));
        shown.extend(names.filter(|name| is_attachable(name)).map(|name| (file.path.folder(), name)));
    }
    shown
}
