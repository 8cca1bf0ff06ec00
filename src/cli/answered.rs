//! Answers that were given before: asked again with nothing changed, the same answer comes back without reading a file.
//!
//! An answer is kept with all that it hangs on: the build and the question, every word of it; how wide the terminal is and whether it
//! shows colours; the day; git's own state ([`Repo::signs`]); and the signs by which the system tells that a file was changed
//! ([`Seen`]). Any of it otherwise, and the question is answered anew. Nothing is kept where looking could miss a change: a file
//! written in the last seconds, a symlink, a nested project, a file that git ignores and a record attaches. `--no-cache` neither
//! keeps nor uses any.

use std::path::PathBuf;
use std::sync::Arc;

use sha2::{Digest, Sha256};

use crate::git::Repo;
use crate::kept::{Kept, Taker, Writer, name};
use crate::source::{Seen, WorkTree};

use super::args::Common;
use super::present::Present;
use super::project::clock;
use super::ui::Said;
use super::{CliError, ExitStatus, Project, Ui};

/// Answers the question, which is the command with its arguments as they were understood: from what was kept, or by `answer` about
/// the project that `open` reads.
///
/// # Errors
/// Those of `open` and `answer`; no error is kept.
pub fn once(
    question: &dyn std::fmt::Debug,
    common: &Common,
    ui: &mut Ui,
    open: impl FnOnce(&Common) -> Result<&'static Project, CliError>,
    answer: impl FnOnce(&'static Project, &mut Ui) -> Result<ExitStatus, CliError>,
) -> Result<ExitStatus, CliError> {
    once_from(question, common, ui, |_, _, _| (), |_, (), _| None, open, answer)
}

/// The same where `glance` may do: it answers from what an earlier run saw in the very same files, or says nothing at all. What it
/// needs in any case, `ahead` does while it is looked whether they are the same.
///
/// # Errors
/// As [`once`].
pub fn once_from<T: Send>(
    question: &dyn std::fmt::Debug,
    common: &Common,
    ui: &mut Ui,
    ahead: impl FnOnce(&Repo, &str, &Kept) -> T + Send,
    glance: impl FnOnce(&'static Glance, T, &mut Ui) -> Option<ExitStatus>,
    open: impl FnOnce(&Common) -> Result<&'static Project, CliError>,
    answer: impl FnOnce(&'static Project, &mut Ui) -> Result<ExitStatus, CliError>,
) -> Result<ExitStatus, CliError> {
    let Some(asked) = Asked::of(question, common, ui) else { return answer(open(common)?, ui) };
    if let Some(status) = asked.again(ui) {
        return Ok(status);
    }
    ui.listen();
    if let Some((seen, own, found)) = asked.glance(ahead)
        && let Some(status) = glance(own, found, ui)
    {
        asked.keep(status, &seen, &ui.heard());
        return Ok(status);
    }
    let project = open(common)?;
    let status = answer(project, ui)?;
    if let Some(seen) = project.seen().filter(|seen| seen.is_settled(asked.begun)) {
        let hash = asked.hash(&seen);
        asked.keep(status, &hash, &ui.heard());
        asked.keep_present(&hash, project);
    }
    Ok(status)
}

/// What can be answered from without reading the project's files.
pub struct Glance {
    /// The repository.
    pub repo: Arc<Repo>,
    /// The project's folder, from the top of the work tree.
    pub prefix: String,
    /// Where what is known of commits is kept.
    pub kept: Kept,
    /// What the files come to.
    pub present: Present,
}

/// A question, with everything that its answer hangs on but the files.
struct Asked {
    tree: WorkTree,
    kept: Kept,
    name: String,
    /// What the files come to, whatever is asked, has a name of its own.
    present: String,
    signs: [u8; 32],
    /// When it was asked, in seconds since 1970.
    begun: u64,
}

impl Asked {
    /// None if its answer is not to be kept: it is about a commit, or not here.
    fn of(question: &dyn std::fmt::Debug, common: &Common, ui: &Ui) -> Option<Asked> {
        if common.no_cache || common.at.is_some() {
            return None;
        }
        let begun = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).ok()?.as_secs();
        let start = common.project.clone().unwrap_or_else(|| PathBuf::from("."));
        let tree = WorkTree::find(&start).ok()?;
        let repo: &Repo = tree.repo();
        let today = common.today.unwrap_or_else(clock);
        let words = [format!("{question:?}"), format!("{common:?}"), today.to_string(), ui.manner()];
        let folder = tree.root().to_string_lossy();
        let mut about: Vec<&str> = words.iter().map(String::as_str).collect();
        about.push(&folder);
        let present = name("present", &[&words[1], &words[2], &folder]);
        let (kept, signs) = (common.kept(repo), repo.signs()?);
        Some(Asked { kept, name: name("answer", &about), present, signs, begun, tree })
    }

    /// Says again what was said, if all is as it was then.
    fn again(&self, ui: &mut Ui) -> Option<ExitStatus> {
        let bytes = self.kept.read(&self.name)?;
        let mut taker = Taker::new(&bytes);
        let hash = taker.bytes(32)?;
        let status = ExitStatus::of_answer(taker.number()?)?;
        let mut parts = Vec::new();
        while !taker.is_done() {
            let to_error = taker.number()? == 1;
            let length = taker.count()?;
            parts.push((to_error, taker.bytes(length)?));
        }
        if hash != self.hash(&self.tree.seen()?) {
            return None;
        }
        for (to_error, bytes) in parts {
            ui.repeat(to_error, bytes);
        }
        Some(status)
    }

    /// What an earlier run saw in the files, with the hash of their signs; none if they are not as they were then. Like a project it
    /// lives until the process ends.
    fn glance<T: Send>(
        &self,
        ahead: impl FnOnce(&Repo, &str, &Kept) -> T + Send,
    ) -> Option<([u8; 32], &'static Glance, T)> {
        let bytes = self.kept.read(&self.present)?;
        let mut taker = Taker::new(&bytes);
        let hash = taker.bytes(32)?;
        let (repo, prefix) = (self.tree.repo().clone(), self.tree.prefix().to_string());
        let (seen, found) = rayon::join(|| self.tree.seen(), || ahead(&repo, &prefix, &self.kept));
        let seen = self.hash(&seen?);
        if hash != seen {
            return None;
        }
        let present = Present::read(&mut taker)?;
        Some((seen, Box::leak(Box::new(Glance { repo, prefix, kept: self.kept.clone(), present })), found))
    }

    fn keep(&self, status: ExitStatus, seen: &[u8; 32], said: &[Said]) {
        let Some(number) = status.as_answer() else { return };
        let mut writer = Writer::default();
        writer.bytes(seen);
        writer.number(number);
        for part in said {
            writer.number(usize::from(part.to_error));
            writer.number(part.bytes.len());
            writer.bytes(&part.bytes);
        }
        self.kept.write(&self.name, &writer.finish());
    }

    fn keep_present(&self, seen: &[u8; 32], project: &Project) {
        if let Some(present) = Present::of(project) {
            let mut writer = Writer::default();
            writer.bytes(seen);
            present.write(&mut writer);
            self.kept.write(&self.present, &writer.finish());
        }
    }

    fn hash(&self, seen: &Seen) -> [u8; 32] {
        Sha256::new().chain_update(self.signs).chain_update(seen.hash).finalize().into()
    }
}
