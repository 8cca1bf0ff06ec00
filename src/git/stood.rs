//! Folders that stood elsewhere in some commits.
//!
//! A project is asked for by the folder that it has now. Where that was moved, whoever found out from where says so once, and from
//! then on every question about those commits is answered from the folder of those days. Nothing here finds that out: it takes
//! knowing what a project is.

use std::borrow::Cow;
use std::sync::atomic::Ordering;
use std::sync::{Arc, PoisonError};

use foldhash::HashMap;

use super::{Oid, Repo};

impl Repo {
    /// The top of the repository itself, whatever project stands there now: a folder that never stood elsewhere.
    pub const TOP: &str = "/";

    /// From now on what is asked of these commits under `folder` is answered from the folder that is named with each.
    pub fn stood_in(&self, folder: &str, commits: HashMap<Oid, Arc<str>>) {
        let mut stood = self.known.stood.write().unwrap_or_else(PoisonError::into_inner);
        stood.entry(folder.to_string()).or_default().extend(commits);
        self.known.any_stood.store(true, Ordering::Release);
    }

    /// Where what is in `folder` now stood in a commit: there, unless it was said otherwise.
    pub fn folder_in<'f>(&self, commit: Oid, folder: &'f str) -> Cow<'f, str> {
        if !self.known.any_stood.load(Ordering::Acquire) {
            return Cow::Borrowed(folder);
        }
        let stood = self.known.stood.read().unwrap_or_else(PoisonError::into_inner);
        match stood.get(folder).and_then(|commits| commits.get(&commit)) {
            Some(then) => Cow::Owned(then.to_string()),
            None => Cow::Borrowed(folder),
        }
    }
}
