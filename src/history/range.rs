//! Which two points in history are compared.

use jiff::civil::Date;

use crate::git::{GitError, Oid, Repo};
use crate::model::kinds::Entity;
use crate::model::{Id, Model, Ref};
use crate::text::shell_word;

use super::blobs::Blobs;
use super::folder::look_back;

/// Two points in history.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Range {
    /// The earlier commit; none: before the first one.
    pub from: Option<Oid>,
    /// How it was named.
    pub from_name: String,
    /// Whether the earlier commit is the last one before what was named, which is a day or a decision and no commit.
    pub from_before: bool,
    /// The later commit; none: the work tree.
    pub to: Option<Oid>,
    /// How it was named.
    pub to_name: String,
}

/// Why a range cannot be told.
#[derive(Clone, Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RangeError {
    /// Git does not know a name, or cannot answer.
    #[error(transparent)]
    Git(#[from] GitError),
    /// Nothing to look back to.
    #[error("there is no annotated tag to look back to")]
    NoTag {
        /// The nearest tag that is not annotated.
        light: Option<String>,
    },
    /// Three dots.
    #[error("`{0}` has three dots; a range has two")]
    ThreeDots(String),
    /// A day or a decision where only a commit can stand.
    #[error("`{name}` is a {what}, and a range takes commits and tags")]
    NoCommit {
        /// What was named.
        name: String,
        /// What it is.
        what: &'static str,
        /// What to type.
        help: String,
    },
}

impl RangeError {
    /// What to type.
    pub fn help(&self) -> String {
        match self {
            RangeError::Git(error) => error.help(),
            RangeError::NoTag { light: Some(tag) } => {
                let tag = shell_word(tag.as_ref());
                format!(
                    "slipmark changes {tag} looks back to that tag, which is not annotated; if it marks a review: git tag -a -f -m \"…\" {tag} {tag}"
                )
            }
            RangeError::NoTag { light: None } => {
                "name a commit: slipmark changes HEAD~3; a review is marked with: git tag -a PDR -m \"…\"".into()
            }
            RangeError::ThreeDots(_) => "write A..B".into(),
            RangeError::NoCommit { help, .. } => help.clone(),
        }
    }
}

/// The name of the work tree.
pub const WORK_TREE: &str = "the work tree";

/// Works out a range.
///
/// `asked` is `A..B`, or `A` for everything since A; `since` a commit, tag, date or decision; neither: since the last
/// annotated tag. `end` is the commit that the project is read at, none for the work tree.
///
/// # Errors
/// If a name means no commit, or there is no tag to look back to.
pub fn range(
    repo: &Repo,
    prefix: &str,
    (asked, since): (Option<&str>, Option<&str>),
    end: Option<(Oid, &str)>,
    now: &Model,
) -> Result<Range, RangeError> {
    let (to, to_name) = end.map_or((None, WORK_TREE.to_string()), |(oid, name)| (Some(oid), name.to_string()));
    let head = match to {
        Some(oid) => Some(oid),
        None => repo.head()?,
    };
    if let Some(asked) = asked {
        return match asked.split_once("..") {
            Some((_, to)) if to.starts_with('.') => Err(RangeError::ThreeDots(asked.to_string())),
            Some((from, to)) => {
                let name = |text: &str| if text.trim().is_empty() { "HEAD".to_string() } else { text.to_string() };
                let (from, to) = (name(from), name(to));
                are_commits(repo, &from, &to, now)?;
                Ok(Range {
                    from: Some(repo.resolve(&from)?),
                    to: Some(repo.resolve(&to)?),
                    from_name: from,
                    from_before: false,
                    to_name: to,
                })
            }
            None => {
                are_commits(repo, asked, "HEAD", now)?;
                let from = Some(repo.resolve(asked)?);
                Ok(Range { from, from_name: asked.to_string(), from_before: false, to, to_name })
            }
        };
    }
    let head = head.ok_or(GitError::NoCommits)?;
    let ((from, from_before), from_name) = match since {
        Some(since) => (start(repo, prefix, since, head, now)?, since.to_string()),
        None => {
            let no_tag = || RangeError::NoTag { light: repo.last_light_tag(head) };
            let (name, oid) = repo.last_annotated_tag(head)?.ok_or_else(no_tag)?;
            ((Some(oid), false), name)
        }
    };
    Ok(Range { from, from_name, from_before, to, to_name })
}

/// Refuses a day or a decision as an end of a range, and says how to ask for it.
fn are_commits(repo: &Repo, from: &str, to: &str, now: &Model) -> Result<(), RangeError> {
    let sort = |name: &str| match (repo.resolve(name), now.find(name)) {
        (Ok(_), _) => None,
        (_, Some(Ref::Decision(_))) => Some("decision"),
        _ => name.parse::<Date>().is_ok().then_some("day"),
    };
    let commits_of = |name: &str, what| match what {
        "decision" => format!("slipmark history {name} lists its commits"),
        _ => format!("git log --until={name} lists the commits up to it"),
    };
    let (name, what, help) = match (sort(from), sort(to)) {
        (None, None) => return Ok(()),
        (Some(what), None) if to == "HEAD" => (from, what, format!("slipmark changes --since {from}")),
        (Some(what), None) => (from, what, format!("slipmark changes --since {from} --at {to}")),
        (Some(what), Some(end)) => (
            from,
            what,
            format!("slipmark changes --since {from}; to end earlier, --at COMMIT: {}", commits_of(to, end)),
        ),
        (None, Some(end)) => (to, end, format!("name a commit: {}", commits_of(to, end))),
    };
    Err(RangeError::NoCommit { name: name.to_string(), what, help })
}

/// The commit that a date, commit, tag or decision means as a start, and whether that is the one before it; none: before the first one.
fn start(repo: &Repo, prefix: &str, since: &str, head: Oid, now: &Model) -> Result<(Option<Oid>, bool), GitError> {
    if let Ok(day) = since.parse::<Date>() {
        return Ok((before_day(repo, day, head)?, true));
    }
    match repo.resolve(since) {
        Err(GitError::UnknownRevision { name, near }) => {
            let unknown = GitError::UnknownRevision { name, near };
            let is_decision = matches!(now.find(since), Some(Ref::Decision(_)) | None) && Id::is_valid(since);
            if !is_decision {
                return Err(unknown);
            }
            Ok((before_decision(repo, prefix, since, head)?.ok_or(unknown)?, true))
        }
        other => Ok((Some(other?), false)),
    }
}

/// The newest commit on the main line that was made before this day.
fn before_day(repo: &Repo, day: Date, head: Oid) -> Result<Option<Oid>, GitError> {
    for oid in repo.walk(head, None, true)? {
        if repo.commit(oid)?.made_on < day {
            return Ok(Some(oid));
        }
    }
    Ok(None)
}

/// The parent of the commit that added a decision; none: no commit did.
fn before_decision(repo: &Repo, prefix: &str, id: &str, head: Oid) -> Result<Option<Option<Oid>>, GitError> {
    look_back(repo, prefix, Some(head))?;
    let mut blobs = Blobs::new(repo, prefix);
    for oid in repo.walk(head, None, false)?.into_iter().rev() {
        let commit = repo.commit(oid)?;
        let changes = blobs.done(&commit)?.changes;
        let things = blobs.things(&changes, |text| text.contains(id));
        let added = things.get(id).and_then(|(_, new)| new.as_ref());
        if added.is_some_and(|placed| matches!(placed.file.entity, Some(Entity::Decision(_)))) {
            return Ok(Some(commit.parents.first().copied()));
        }
    }
    Ok(None)
}
