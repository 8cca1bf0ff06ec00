//! `slipmark demo`.

use std::path::{Path, PathBuf};

use clap::Args;
use jiff::civil::Date;

use super::{before, changes, packet, to_try_next};
use crate::cli::args::{Common, NoProject};
use crate::cli::{CliError, ExitStatus, Project, UNFINISHED, Ui, begin_anew};
use crate::example::{self, ExampleError};
use crate::report::style::{NAME, OFF, QUIET, STRONG};
use crate::report::text;
use crate::text::shell_word;

/// Make the example project as a git repository with its whole history, and look around in it.
///
/// Shows what is open before the hot fire and what changed since the design review, writes the packet beside the
/// project, and says what to try next. Everything in it is invented. Run again over an untouched result, it shows the
/// same; over anything else it writes nothing.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Where to make it
    #[arg(default_value = "slipmark-demo", value_name = "DIR")]
    pub folder: PathBuf,
    /// It makes one.
    #[command(flatten)]
    pub none: NoProject,
}

const EXAMPLES: &str = "\
Examples:
  slipmark demo                       # in ./slipmark-demo
  slipmark demo ../example";

/// The event that the example is asked about.
const EVENT: &str = "hot-fire";
/// What it is asked about the past.
const RANGE: &str = "PDR..HEAD";
/// How many of the changes are shown: enough to see each sort, and the end of the answer before on the same screen.
const CHANGES: usize = 2;

/// Builds the example unless it is there, and answers three questions on it.
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
    let common = Common { project: Some(folder.clone()), at: None, today: Some(last_day(folder)?), no_cache: true };
    let inside = format!("--project {}", shell_word(folder));

    typed(&format!("before {EVENT} {inside}"), ui);
    before::run(&before::Arguments { event: Some(EVENT.into()), ..before::Arguments::default() }, &common, ui)?;

    typed(&format!("changes {RANGE} {inside}"), ui);
    first_changes(&common, ui)?;

    let file = beside(folder);
    typed(&format!("packet {EVENT} -o {} {inside}", shell_word(&file)), ui);
    let asked = packet::Arguments { output: Some(file), ..packet::Arguments::about(EVENT) };
    if let Err(error) = packet::run(&asked, &common, ui) {
        // The example is there all the same; a file of somebody else's where the packet would go is left alone.
        ui.aside(&format!("no packet: {error}"));
    }
    ui.text(&next(folder));
    // The example has open rows on purpose: showing them is what was asked for.
    Ok(ExitStatus::Done)
}

/// Shows a command as it would be typed.
fn typed(command: &str, ui: &mut Ui) {
    ui.text(&format!("\n{QUIET}${OFF} {NAME}slipmark {command}{OFF}\n\n"));
}

/// The beginning of what `changes` answers: requirements, which come first.
fn first_changes(common: &Common, ui: &mut Ui) -> Result<(), CliError> {
    let view = changes::view(Project::open(common)?, Some(RANGE), None, common)?;
    let more = view.changes.len().saturating_sub(CHANGES);
    ui.text(&text::changes::beginning(&view, ui.width(), CHANGES));
    if more > 0 {
        ui.text(&format!("\n{QUIET}… and {more} more: the command itself lists them all{OFF}\n"));
    }
    Ok(())
}

/// Where the packet goes: beside the example, which stays as it was committed.
fn beside(folder: &Path) -> PathBuf {
    let full = folder.canonicalize().unwrap_or_else(|_| folder.to_path_buf());
    let name = full.file_name().map_or_else(|| "slipmark-demo".into(), |name| name.to_string_lossy().into_owned());
    match folder.parent().filter(|_| folder.file_name().is_some()) {
        Some(parent) => parent.join(format!("{name}-packet.html")),
        None => full.with_file_name(format!("{name}-packet.html")),
    }
}

fn next(folder: &Path) -> String {
    let commands = [
        (format!("cd {}", shell_word(folder)), ""),
        ("slipmark before leak-check --at TRR-1".into(), "the quiet report: all that was due then is closed"),
        ("slipmark matrix".into(), "every requirement with its results and margins"),
        ("slipmark history ACT-010".into(), "how one requirement came to read as it does"),
        ("slipmark show ACT-010".into(), "one requirement: what it says and where it stands"),
        (
            "slipmark mark TR-006 --by \"responsible engineer\" --because \"margin looked at\"".into(),
            "the limit moved; does the evidence still stand?",
        ),
        ("slipmark sign TR-010 --by \"test conductor\" --witness \"pad chief\"".into(), "stand by a draft"),
        ("slipmark new demonstration --for ACT-060 --serial ACT-W/SN02".into(), "a record to fill in"),
    ];
    to_try_next(&commands)
}

/// Builds the example; false if it is there already, exactly as it would be built.
///
/// It is built in a folder of its own inside, and moved out piece by piece, git's folder last: whatever is there without
/// that one is of a run that was cut off, and is finished.
fn make(folder: &Path) -> Result<bool, CliError> {
    let failed = |error: std::io::Error| CliError::write(folder, error);
    std::fs::create_dir_all(folder).map_err(|error| match folder.symlink_metadata() {
        Ok(_) => occupied(folder),
        Err(_) => failed(error),
    })?;
    let whole = folder.join(GIT).symlink_metadata().is_ok();
    if whole || !only_pieces(folder).map_err(failed)? {
        let new = tempfile::tempdir().map_err(failed)?;
        let fresh = new.path().join("demo");
        example::build(&fresh).map_err(|error| wrong(folder, &error))?;
        return if whole && is_untouched(folder, &fresh) { Ok(false) } else { Err(occupied(folder)) };
    }
    let building = begin_anew(folder).map_err(failed)?;
    example::build(&building).map_err(|error| wrong(folder, &error))?;
    move_out(folder, &building).map_err(failed)?;
    Ok(true)
}

/// Git's folder.
const GIT: &str = ".git";

/// Whether a folder holds nothing but what a run that was cut off can have left: every file is the example's.
fn only_pieces(folder: &Path) -> std::io::Result<bool> {
    let mut folders = vec![folder.to_path_buf()];
    while let Some(inside) = folders.pop() {
        for entry in inside.read_dir()? {
            let (path, kind) = entry.and_then(|entry| Ok((entry.path(), entry.file_type()?)))?;
            let name = path.strip_prefix(folder).ok().and_then(Path::to_str).unwrap_or_default();
            let within = |file: &str| file.strip_prefix(name).is_some_and(|rest| rest.starts_with('/'));
            let own = match kind.is_dir() {
                true => name == UNFINISHED || example::newest().iter().any(|(file, _)| within(file)),
                false => {
                    let asked = example::newest().iter().find(|(file, _)| *file == name);
                    kind.is_file() && asked.is_some_and(|(_, text)| std::fs::read(&path).is_ok_and(|it| it == *text))
                }
            };
            if !own {
                return Ok(false);
            }
            if kind.is_dir() && name != UNFINISHED {
                folders.push(path);
            }
        }
    }
    Ok(true)
}

/// Moves what was built to where it belongs, over what is the same.
fn move_out(folder: &Path, building: &Path) -> std::io::Result<()> {
    let mut names: Vec<_> =
        building.read_dir()?.map(|entry| entry.map(|entry| entry.file_name())).collect::<Result<_, _>>()?;
    names.sort_by_key(|name| name == GIT);
    for name in names {
        let place = folder.join(&name);
        if place.is_dir() {
            std::fs::remove_dir_all(&place)?;
        }
        std::fs::rename(building.join(&name), &place)?;
    }
    std::fs::remove_dir(building)
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
    Ok(repo.commit(head)?.made_on)
}
