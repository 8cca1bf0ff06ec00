//! Files that several records attach.

use std::collections::BTreeMap;

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::{Attachment, Record};
use crate::text::RepoPath;

/// The check.
pub const CHECK: Check = Check { name: "attachments", codes: &["attachment-shared"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let mut by_path: BTreeMap<RepoPath, Vec<(&Record, &Attachment)>> = BTreeMap::new();
    for record in &subject.facts.model.records {
        let path = &subject.sources.file(record.head.file).path;
        for attachment in &record.data {
            let Some(file) = path.beside(&attachment.file.value) else { continue };
            let sharing = by_path.entry(file).or_default();
            if !sharing.iter().any(|(own, _)| own.head.id.value == record.head.id.value) {
                sharing.push((record, attachment));
            }
        }
    }
    for (path, sharing) in &by_path {
        findings.extend(shared(path, sharing));
    }
}

/// That records share a file, at the last of them.
fn shared(path: &RepoPath, sharing: &[(&Record, &Attachment)]) -> Option<Finding> {
    let ((last, attachment), others) = sharing.split_last()?;
    let names: Vec<&str> = others.iter().map(|(record, _)| record.head.id.as_str()).collect();
    let (and, first) = (last.head.id.as_str(), others.first()?);
    let hash = |attachment: &Attachment| attachment.sha256.as_ref().map(|hash| hash.value.to_lowercase());
    let text = match sharing.iter().all(|(_, own)| hash(own) == hash(first.1)) {
        true => format!("{} and {and} attach the same {path}", names.join(", ")),
        false => format!("{} and {and} attach {path} with different hashes", names.join(", ")),
    };
    let finding = Finding::at("attachment-shared", attachment.file.span, text);
    Some(others.iter().fold(finding, |finding, (_, own)| finding.also(own.file.span, "attached here too")))
}
