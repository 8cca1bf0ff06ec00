//! What the ancestors of a commit held, and how it left them.
//!
//! In: a commit. Out: [`Left`], of every thing that an ancestor held and that must not leave silently, whether and how it is
//! gone. Each commit is compared with each of its parents, opening only folders that differ, and of each only what came, went or
//! stands otherwise is written down: the [`Ledger`]. That depends on nothing but the commits, so it is kept between runs and
//! extended by the commits that are new; what is told is worked out anew each time, from the same ledger, kept or not.
//!
//! How a thing left decides. One that was withdrawn, with its reason, before its file went accounts for itself. Of a
//! merge, either line may have done so. One that was made a draft first does not.
//!
//! A file that could not be read holds what it held before, until it can be read again; one that never could be, what can be
//! made out of it. What cannot be made out was never held under an id.

mod events;
mod ledger;
mod left;
mod steps;
mod stored;
mod things;

pub(super) use left::{Gone, Left};
pub(super) use things::{Family, Standing, held, standing};

use std::sync::Arc;

use crate::git::{GitError, Oid, Repo};
use crate::kept::{self, Kept};

use super::folder::{Copies, look_back};
use ledger::Ledger;

/// What the ancestors of a commit held that left them, of the project that stands in `prefix`, wherever it stood then.
///
/// # Errors
/// If git cannot answer about the commits themselves. A folder or file that git does not have is counted.
pub(super) fn left(repo: &Repo, prefix: &str, from: Oid, kept: &Kept) -> Result<Left, GitError> {
    look_back(repo, prefix, Some(from))?;
    let folder = &repo.folder_in(from, prefix);
    // What lies behind a cut is not in the ledger, and may be fetched.
    let kept = if repo.is_cut_off() { &Kept::nothing() } else { kept };
    let copies: Arc<Copies> = repo.aside();
    let name = kept::name("held", &[prefix, &copies.of(prefix)]);
    let mut ledger = kept.read(&name).and_then(|bytes| stored::read(&bytes)).unwrap_or_default();
    let known = ledger.has(from, folder);
    if !known {
        ledger = Ledger::extended(ledger, repo, from, prefix)?;
    }
    let left = Left::of(&ledger, from, folder);
    // What git does not have now it may have later.
    if !known && ledger.untold == 0 {
        ledger.forget_others(from, folder);
        kept.write(&name, &stored::write(&ledger));
    }
    Ok(left)
}
