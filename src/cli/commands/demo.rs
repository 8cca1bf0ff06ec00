//! `slipmark demo`.

use std::path::{Path, PathBuf};

use clap::Args;
use jiff::civil::Date;

use super::before;
use crate::cli::args::{Common, Format};
use crate::cli::{CliError, ExitStatus, Ui};
use crate::example::{self, ExampleError};
use crate::report::style::{NAME, OFF, QUIET, STRONG};

/// Make the example project as a git repository with its whole history, and look around in it.
///
/// Everything in it is invented. Run again over an untouched result, it shows the same; over anything else it writes
/// nothing.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Where to make it
    #[arg(default_value = "slipmark-demo", value_name = "DIR")]
    pub folder: PathBuf,
}

/// The event that the example is asked about.
const EVENT: &str = "hot-fire";

/// Builds the example unless it is there, and answers one question on it.
///
/// # Errors
/// If the folder holds something else, or cannot be written.
pub fn run(arguments: &Arguments, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let folder = &arguments.folder;
    let shown = folder.display().to_string();
    let built = make(folder)?;
    let what = if built { "made" } else { "there already, and untouched" };
    let commits = example::steps().map_err(|error| wrong(folder, &error))?.len();
    ui.text(&format!(
        "{STRONG}Marram Point{OFF}, an invented project: {shown} ({what}; {commits} commits, tags PDR and TRR-1)\n"
    ));
    let common = Common { project: Some(folder.clone()), at: None, today: Some(last_day(folder)?) };
    ui.text(&format!("\n{QUIET}${OFF} {NAME}slipmark before {EVENT}{OFF}\n\n"));
    before::run(&before::Arguments { event: EVENT.into(), format: Format::Text, all: false }, &common, ui)?;
    ui.text(&next(&shown));
    // The example has open rows on purpose: showing them is what was asked for.
    Ok(ExitStatus::Done)
}

fn next(shown: &str) -> String {
    let commands = [
        (format!("cd {shown}"), ""),
        ("slipmark before leak-check --at TRR-1".into(), "the quiet report: all that was due then is closed"),
        ("slipmark matrix".into(), "every requirement with its results and margins"),
        ("slipmark show ACT-010".into(), "one requirement: what it says and where it stands"),
        (
            "slipmark mark TR-006 --because \"margin looked at\"".into(),
            "the limit moved; does the evidence still stand?",
        ),
        ("slipmark sign TR-010 --by \"test conductor\" --witness \"pad chief\"".into(), "stand by a draft"),
        ("slipmark new demonstration --for ACT-060 --serial ACT-W/SN02".into(), "a record to fill in"),
    ];
    let mut text = format!("\n{STRONG}To try next{OFF}\n");
    for (command, why) in commands {
        text.push_str(&format!("  {NAME}{command}{OFF}\n"));
        if !why.is_empty() {
            text.push_str(&format!("      {QUIET}{why}{OFF}\n"));
        }
    }
    text
}

/// Builds the example; false if it is there already, exactly as it would be built.
fn make(folder: &Path) -> Result<bool, CliError> {
    let occupied = match folder.symlink_metadata() {
        Err(_) => false,
        Ok(metadata) if !metadata.is_dir() => return Err(occupied(folder)),
        Ok(_) => folder.read_dir().map_err(|error| CliError::write(folder, error))?.next().is_some(),
    };
    // Built beside its place and then renamed: a run that is cut off leaves no half of it behind.
    let parent = folder.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let beside = if occupied { std::env::temp_dir() } else { parent.to_path_buf() };
    if !occupied {
        std::fs::create_dir_all(&beside).map_err(|error| CliError::write(&beside, error))?;
    }
    let new = tempfile::Builder::new().prefix(".slipmark-").tempdir_in(&beside);
    let new = new.map_err(|error| CliError::write(folder, error))?;
    let fresh = new.path().join("demo");
    example::build(&fresh).map_err(|error| wrong(folder, &error))?;
    if occupied {
        return if is_untouched(folder, &fresh) { Ok(false) } else { Err(self::occupied(folder)) };
    }
    // An empty folder may be there; some systems do not rename over it.
    let _ = std::fs::remove_dir(folder);
    std::fs::rename(&fresh, folder).map_err(|error| CliError::write(folder, error))?;
    Ok(true)
}

fn occupied(folder: &Path) -> CliError {
    CliError::refused(
        format!("{} holds something else than an untouched example; nothing was written", folder.display()),
        "name another folder: slipmark demo DIR",
    )
}

fn wrong(folder: &Path, error: &ExampleError) -> CliError {
    CliError::write(folder, error)
}

/// Whether a folder is the example as it was built: the same commit checked out, and nothing changed, added or ignored.
fn is_untouched(folder: &Path, fresh: &Path) -> bool {
    let (Ok(there), Ok(new)) = (git2::Repository::open(folder), git2::Repository::open(fresh)) else { return false };
    let head = |repo: &git2::Repository| repo.head().ok().and_then(|head| head.target());
    let mut options = git2::StatusOptions::new();
    options.include_untracked(true).include_ignored(true);
    let clean = there.statuses(Some(&mut options)).is_ok_and(|statuses| statuses.is_empty());
    head(&there).is_some() && head(&there) == head(&new) && clean
}

/// The day of the newest commit, so that what the example shows does not depend on the clock.
fn last_day(folder: &Path) -> Result<Date, CliError> {
    let repo = crate::git::Repo::discover(folder)?;
    let head = repo.head()?.ok_or_else(|| occupied(folder))?;
    Ok(repo.commit(head)?.author_date)
}
