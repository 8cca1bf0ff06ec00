//! What a requirement said when it had a certain mark.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::config::{self, Parameter};
use crate::diag::Findings;
use crate::git::{CommitInfo, GitError, Oid, Repo};
use crate::model::kinds::{Entity, Requirement};
use crate::model::{link, load, mark};
use crate::source::PARAMETERS_FILE;
use crate::text::FileId;

use super::folder::look_back;

/// An earlier text, and the commit that brought it.
#[derive(Debug)]
pub struct Recalled {
    /// The requirement as it was. Its spans point into no text that is at hand.
    pub requirement: Requirement,
    /// The commit.
    pub commit: CommitInfo,
}

/// Texts larger than this are no requirement.
const LARGEST: u64 = 1 << 20;

/// Looks through the history before and at `from` for a text of the requirement `id` that makes `wanted`.
///
/// Limits may rest on parameters, so each text is tried with every state of the parameters that history holds. Of
/// several commits the oldest is taken: the one that brought the text.
///
/// # Errors
/// If git cannot answer.
pub fn recall(
    repo: &Repo,
    prefix: &str,
    from: Option<Oid>,
    id: &str,
    wanted: &str,
) -> Result<Option<Recalled>, GitError> {
    let Some(from) = from else { return Ok(None) };
    look_back(repo, prefix, Some(from))?;
    let held = held(repo, prefix, from, id)?;
    for (oid, requirement) in held.texts {
        for parameters in &held.parameters {
            let mut requirement = Requirement::clone(&requirement);
            link::resolve_limits(&mut requirement, parameters, &mut Findings::new());
            requirement.mark = mark::mark(&requirement);
            if requirement.mark == wanted {
                return Ok(Some(Recalled { requirement, commit: repo.commit(oid)? }));
            }
        }
    }
    Ok(None)
}

/// What history holds of one requirement.
struct Held {
    /// Its texts, oldest first, each with the commit that brought it.
    texts: Vec<(Oid, Arc<Requirement>)>,
    /// The states of the parameters; the first is that there are none.
    parameters: Vec<BTreeMap<String, Parameter>>,
}

fn held(repo: &Repo, prefix: &str, from: Oid, id: &str) -> Result<Held, GitError> {
    let mut held = Held { texts: Vec::new(), parameters: vec![BTreeMap::new()] };
    let mut seen: BTreeSet<Oid> = BTreeSet::new();
    let mut commits = repo.walk(from, None, false)?;
    commits.reverse();
    for oid in commits {
        let parent = repo.commit(oid)?.parents.first().copied();
        for change in repo.changed_files(parent, oid, prefix)? {
            let settings = change.path.as_str() == PARAMETERS_FILE;
            let Some(blob) = change.new_blob().filter(|_| settings || change.path.is_markdown()) else { continue };
            if !seen.insert(blob) {
                continue;
            }
            // What cannot be read is no text that a mark was made of.
            let Some(text) = repo.blob_at_most(blob, LARGEST).ok().and_then(|bytes| String::from_utf8(bytes).ok())
            else {
                continue;
            };
            if settings {
                held.parameters.push(config::parameters(FileId(0), &text, &mut Findings::new()));
            } else if text.contains(id)
                && let (Some(Entity::Requirement(requirement)), _) = load::load_one(FileId(0), &text)
                && requirement.head.id.as_str() == id
            {
                held.texts.push((oid, requirement));
            }
        }
    }
    Ok(held)
}
