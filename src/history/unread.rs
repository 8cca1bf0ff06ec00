//! Files that one of the two points of a comparison holds unreadable, and what they may hide.

use std::collections::{BTreeMap, BTreeSet};

use crate::analysis::Analysis;
use crate::diag::{Class, Finding, Place, catalogue};
use crate::text::{FileId, RepoPath};

use super::changes::CommitRef;
use super::commits::UnreadableFile;
use super::ends::{Earlier, Ends, Whole};
use super::leaf::legible_id;
use super::then::Then;

/// Files that the two points themselves hold unreadable: what they said is neither new nor gone.
pub(super) struct Unread {
    then: Vec<Hiding>,
    now: Vec<Hiding>,
}

/// A file that cannot be read, and the id of the thing that it seems to hold.
struct Hiding {
    file: UnreadableFile,
    id: Option<String>,
}

impl Hiding {
    /// Whether a thing that stands at a path at the other point may stand in this file.
    fn may_hold(&self, id: &str, path: &str) -> bool {
        let inside = |rest: &str| rest.is_empty() || rest.starts_with('/');
        self.id.as_deref() == Some(id) || path.strip_prefix(&self.file.path).is_some_and(inside)
    }
}

impl Unread {
    pub(super) fn of(ends: &Ends<'_>, from: Option<CommitRef>, to: Option<CommitRef>) -> Unread {
        let now: Vec<Hiding> = ends.now.map(|now| hiding(now, to)).unwrap_or_default();
        let then = match &ends.then {
            Earlier::Nothing => Vec::new(),
            Earlier::Whole(whole) => {
                let mut then = hiding(whole.then, from);
                then.retain(|it| !is_told_later(whole, &it.file, &now));
                then
            }
            Earlier::Part(then) => hiding_then(then, &now, ends.now, from),
        };
        Unread { then, now }
    }

    /// Whether a thing that stands at a path at the later point may be there at the earlier one, in a file that cannot be read.
    pub(super) fn may_have_been(&self, id: &str, path: &str) -> bool {
        self.then.iter().any(|it| it.may_hold(id, path))
    }

    /// The same of one that stands at a path at the earlier point.
    pub(super) fn may_be_now(&self, id: &str, path: &str) -> bool {
        self.now.iter().any(|it| it.may_hold(id, path))
    }

    /// Those of the start, those that commits in between left, and those of the end that no commit is known to have left.
    pub(super) fn listed(&self, between: Vec<UnreadableFile>) -> Vec<UnreadableFile> {
        let known: BTreeSet<String> = between.iter().map(|file| file.path.clone()).collect();
        let files = |list: &'_ [Hiding]| list.iter().map(|it| it.file.clone()).collect::<Vec<_>>();
        let mut list = files(&self.then);
        list.extend(between);
        list.extend(files(&self.now).into_iter().filter(|file| !known.contains(&file.path)));
        list
    }
}

/// What the earlier point holds unreadable: what is not as it is now, and what is and only stood elsewhere.
fn hiding_then(then: &Then<'_>, later: &[Hiding], now: Option<&Analysis>, commit: Option<CommitRef>) -> Vec<Hiding> {
    let one = |path: &RepoPath, why: &str, id: Option<&str>| Hiding {
        file: UnreadableFile { commit: commit.clone(), path: path.to_string(), why: why.to_string() },
        id: id.map(str::to_string),
    };
    let own =
        then.unreadable.iter().map(|(path, why)| one(path, why, then.text_at(path.as_str()).and_then(legible_id)));
    let moved = then.moved.iter().filter_map(|(path, file)| {
        let present = now?.path(*file);
        let it = later.iter().find(|it| it.file.path == present.as_str())?;
        Some(one(path, &it.file.why, it.id.as_deref()))
    });
    own.chain(moved).collect()
}

/// Whether a file of the earlier point is as it was at the later one, where it is told.
fn is_told_later(whole: &Whole<'_>, file: &UnreadableFile, later: &[Hiding]) -> bool {
    match whole.then.snapshot.position(&file.path) {
        Some(at) => whole.stayed(FileId(at as u32)),
        // What is no file that is read, as a symlink.
        None => later.iter().any(|it| (&it.file.path, &it.file.why) == (&file.path, &file.why)),
    }
}

/// Each file of an analysis that could not be read in full, with the first reason: what is wrong with it as a file comes first.
fn hiding(analysis: &Analysis, commit: Option<CommitRef>) -> Vec<Hiding> {
    let model = &analysis.model;
    let held: BTreeSet<FileId> = model.ids().map(|(_, place)| model.head(place).file).collect();
    let mut files: BTreeMap<String, Hiding> = BTreeMap::new();
    let mut add = |path: &RepoPath, text: Option<&str>, finding: &Finding| {
        let own = finding.message.strip_prefix(path.as_str()).filter(|rest| rest.starts_with(' '));
        let why = own.map_or_else(|| finding.message.clone(), |rest| format!("it{rest}"));
        let file = UnreadableFile { commit: commit.clone(), path: path.to_string(), why };
        let id = text.and_then(legible_id).map(str::to_string);
        files.entry(path.to_string()).or_insert(Hiding { file, id });
    };
    for finding in analysis.findings.iter().filter(|finding| hides(finding.code)) {
        if let Place::Path(path) = &finding.place {
            add(path, None, finding);
        }
    }
    for finding in analysis.findings.of(Class::Fault) {
        let Place::At(span) = &finding.place else { continue };
        let file = analysis.sources.file(span.file);
        let is_thing = file.path.is_markdown() && !held.contains(&span.file);
        if hides(finding.code) || (is_thing && !NAMED_TWICE.contains(&finding.code)) {
            add(&file.path, Some(&file.text), finding);
        }
    }
    files.into_values().collect()
}

/// What is wrong with a thing that is read, and is not found by its id because another one has it.
const NAMED_TWICE: &[&str] = &["duplicate-id", "id-case-clash"];

/// Whether a finding says that something of its file is not read. Two names that clash in case are both read; of what lacks a key or
/// a kind that there is, it is told by whether there is a thing.
fn hides(code: &str) -> bool {
    catalogue::is_unread(code) && code != "case-clash"
}
