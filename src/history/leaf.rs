//! Whose file it is, also of one that cannot be read.

use std::sync::Arc;

use foldhash::{HashSet, HashSetExt};

use crate::analysis::Analysis;
use crate::diag::{Class, Findings, Place};
use crate::git::{Oid, Repo};
use crate::model::{Id, load};
use crate::parse::tree::Value;
use crate::parse::{Document, Parsed, document};
use crate::text::FileId;

use super::blobs::text_of;
use super::then::why_unreadable;

/// As much of a file as attribution needs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Leaf {
    /// The id of the thing in it.
    pub(super) id: Option<Arc<str>>,
    /// Why not all of it could be read.
    pub(super) trouble: Option<String>,
}

impl Leaf {
    pub(super) fn read(repo: &Repo, oid: Oid) -> Leaf {
        match text_of(repo, oid) {
            Ok(text) => Leaf::of(&text),
            Err(why) => Leaf { id: None, trouble: Some(why) },
        }
    }

    /// Of a text. The front matter alone says what is asked here, unless something is wrong with it.
    pub(super) fn of(text: &str) -> Leaf {
        if let Some(plain) = Plain::of(text) {
            return Leaf { id: Some(plain.id().into()), trouble: None };
        }
        let (entity, findings) = load::load_one(FileId(0), text);
        let trouble = why_unreadable(entity.is_none(), &findings);
        Leaf { id: entity.map(|entity| entity.head().id.value.as_str().into()), trouble }
    }

    /// Those of the wanted files of a project that was read, as far as nothing is wrong with them, by their blobs.
    pub(super) fn all_of(analysis: &Analysis, wanted: impl Fn(Oid) -> bool) -> impl Iterator<Item = (Oid, Leaf)> {
        let mut at_fault = HashSet::new();
        for finding in analysis.findings.of(Class::Fault) {
            if let Place::At(span) = &finding.place {
                at_fault.insert(span.file);
            }
        }
        analysis.model.ids().filter_map(move |(id, place)| {
            let file = analysis.model.head(place).file;
            let blob = analysis.snapshot.files.get(file.0 as usize)?.blob.filter(|blob| wanted(*blob))?;
            (!at_fault.contains(&file)).then(|| (blob, Leaf { id: Some(id.as_str().into()), trouble: None }))
        })
    }

    /// The id of the thing in the file, or which it seems to have if it cannot be read.
    pub(super) fn likely_id(self, text: &str) -> Option<Arc<str>> {
        self.id.or_else(|| self.trouble.and_then(|_| legible_id(text)).map(Into::into))
    }
}

/// A file of which nothing is amiss, as far as its front matter alone tells: the thing in it can be read.
pub(super) struct Plain<'t>(Document<'t>);

impl<'t> Plain<'t> {
    /// None of a file that must be read in full to say so.
    pub(super) fn of(text: &'t str) -> Option<Plain<'t>> {
        let mut findings = Findings::new();
        let Parsed::Document(document) = document(FileId(0), text, &mut findings) else { return None };
        let plain = Plain(document);
        let known = Id::is_valid(plain.id()) && load::is_kind(plain.kind());
        (known && findings.iter().next().is_none()).then_some(plain)
    }

    /// The id.
    pub(super) fn id(&self) -> &str {
        self.word("id").unwrap_or_default()
    }

    /// The kind.
    pub(super) fn kind(&self) -> &str {
        self.word("kind").unwrap_or_default()
    }

    /// What a key holds, if that is one text.
    pub(super) fn word(&self, key: &str) -> Option<&str> {
        match &self.0.table.get(key)?.1.value {
            Value::String(text) => Some(text),
            _ => None,
        }
    }

    /// Whether a key is there, whatever it holds.
    pub(super) fn has(&self, key: &str) -> bool {
        self.0.table.get(key).is_some()
    }
}

/// The id that a file seems to have that cannot be read: what its first line with one says.
pub(super) fn legible_id(text: &str) -> Option<&str> {
    let value = text.lines().find_map(|line| line.split_once('=').filter(|(key, _)| key.trim() == "id"))?.1;
    value.trim_start().strip_prefix('"')?.split_once('"').map(|(id, _)| id)
}
