//! Decisions and signatures held to account: what was decided must have been done, and what was signed must stand.
//!
//! In: a repository and the project as it is. Out: findings. Only what decisions, signed records, safety limits and parents
//! name is looked up in the past, and only where the present leaves a doubt.
//!
//! To add one: a file here that asks the [`Book`], its code in the catalogue, a case in the tests of history and one in those
//! of the checks.

mod book;
mod decided;
mod dropped;
mod parents;
mod relaxed;
mod relieved;
mod signed;
mod steps;
mod taken_back;

use crate::analysis::Analysis;
use crate::diag::Finding;
use crate::git::{GitError, Oid, Repo};

use book::Book;

pub use signed::Edited;

/// What does not agree with what was decided or signed.
#[derive(Clone, Debug, Default)]
pub struct Account {
    /// In the order of the parts, each by id.
    pub findings: Vec<Finding>,
    /// Records that were signed once with another seal, without a reason.
    pub replaced: Vec<Replaced>,
    /// Records that differ from what was signed first, accounted for or not.
    pub edited: Vec<Edited>,
    /// What was written down after the last review and is no more.
    pub taken_back: Vec<TakenBack>,
}

/// What a commit after the last review had written down, and the present has not.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TakenBack {
    /// The nonconformance, held event, piece or instrument.
    pub id: String,
    /// What is taken back, in a few words.
    pub what: String,
    /// The first commit that held it.
    pub since: String,
}

/// A record that was signed with another seal than it carries, and that gives no reason for it, or lost a failure by it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Replaced {
    /// The record.
    pub id: String,
    /// The seals that history holds of it and that it does not account for, oldest first.
    pub seals: Vec<String>,
    /// A failure that was signed for, and that to sign again would undo.
    pub lost: Option<LostFailure>,
}

/// A failure that was signed for and is told nowhere any more.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LostFailure {
    /// What was signed, and that it is lost.
    pub text: String,
    /// What to do about it.
    pub help: String,
}

/// Holds the project to what history up to `from` says was decided and signed.
///
/// # Errors
/// If git cannot answer.
pub fn account(repo: &Repo, prefix: &str, from: Option<Oid>, now: &Analysis) -> Result<Account, GitError> {
    let Some(head) = from else { return Ok(Account::default()) };
    let mut book = Book::open(repo, prefix, head, now)?;
    relaxed::check(&mut book)?;
    decided::check(&mut book)?;
    dropped::check(&mut book)?;
    relieved::check(&mut book)?;
    parents::check(&mut book)?;
    signed::check(&mut book)?;
    steps::check(&mut book)?;
    taken_back::check(&mut book)?;
    let mut account = book.account;
    account.findings.retain(|finding| !now.request.switch.is_off(finding.code));
    Ok(account)
}
