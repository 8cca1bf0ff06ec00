//! `slipmark init`.

use std::path::{Path, PathBuf};

use clap::Args;

use super::to_try_next;
use crate::cli::args::NoProject;
use crate::cli::{After, Change, CliError, ExitStatus, Ui, begin_anew, write_all};
use crate::edit::Toml;
use crate::git::{GitError, Repo};
use crate::report::style::{NAME, OFF};
use crate::source::{PROJECT_FILE, WorkTree};
use crate::text::{RepoPath, shell_word};

/// Start a project: the project file, one requirement, one item and one procedure, to be replaced by your own.
///
/// Where there is no git repository yet, one is made: marks, history and changes live in it.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Where
    #[arg(default_value = ".", value_name = "DIR")]
    pub folder: PathBuf,
    /// The project's name [default: the folder's]
    #[arg(long)]
    pub name: Option<String>,
    /// It makes one.
    #[command(flatten)]
    pub none: NoProject,
}

const EXAMPLES: &str = "\
Examples:
  slipmark init                       # here
  slipmark init stand-7 --name \"Stand 7\"";

/// Writes the first files.
///
/// # Errors
/// If there is a project already, or the folder cannot be written.
pub fn run(arguments: &Arguments, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let folder = &arguments.folder;
    std::fs::create_dir_all(folder).map_err(|error| CliError::write(folder, error))?;
    let root = folder.canonicalize().map_err(|error| CliError::write(folder, error))?;
    if root.join(PROJECT_FILE).symlink_metadata().is_ok() {
        return Err(CliError::refused(
            format!("there is a project already: {}", shown(folder, PROJECT_FILE)),
            "slipmark before EVENT shows what is open in it; slipmark new writes further files",
        ));
    }
    let around = WorkTree::find(&root).ok();
    let name = arguments.name.clone().or_else(|| Some(root.file_name()?.to_str()?.to_string()));
    if name.as_ref().is_some_and(|name| name.trim().is_empty()) {
        return Err(CliError::refused("the project's name is empty", "say what it is: --name \"Stand 7\""));
    }
    let files = files(&name.unwrap_or_else(|| "New project".into()));
    let changes: Vec<Change> = files
        .into_iter()
        .map(|(path, text)| {
            // What a run that was cut off has written is left as it is, and the rest is added to it.
            let there = std::fs::read(root.join(path)).is_ok_and(|there| there == text.as_bytes());
            let text = text.into_bytes();
            Change { path: RepoPath::new(path), before: there.then(|| text.clone()), after: After::Bytes(text) }
        })
        .collect();
    let in_the_way =
        |change: &&Change| change.before.is_none() && root.join(change.path.as_str()).symlink_metadata().is_ok();
    if let Some(there) = changes.iter().find(in_the_way) {
        return Err(CliError::refused(
            format!("{} exists already", shown(folder, there.path.as_str())),
            "name another folder: slipmark init DIR; nothing was written",
        ));
    }
    // A folder that git refuses to work in is better known before anything is written.
    let made = repository(&root)?;
    write_all(&root, &changes)?;
    if made {
        ui.text(&format!("made a git repository in {}\n", folder.display()));
    }
    for change in &changes {
        ui.text(&format!("written: {}\n", shown(folder, change.path.as_str())));
    }
    ui.text(&next(folder));
    if let Some(around) = around {
        let inside = root.strip_prefix(around.root()).unwrap_or(&root).display().to_string();
        ui.aside(&format!(
            "this folder lies in another project\n  {NAME}do{OFF}: add {} to `projects` in {}",
            Toml::text(inside).written(),
            around.root().join(PROJECT_FILE).display()
        ));
    }
    Ok(ExitStatus::Done)
}

/// A path as it is named from the current folder.
fn shown(folder: &Path, path: &str) -> String {
    if folder == Path::new(".") { path.to_string() } else { folder.join(path).display().to_string() }
}

/// Makes a repository where there is none; whether it did.
fn repository(root: &Path) -> Result<bool, CliError> {
    match Repo::discover(root) {
        Ok(_) => Ok(false),
        Err(GitError::NotARepository { .. }) => {
            make_repository(root)?;
            Ok(true)
        }
        Err(other) => Err(other.into()),
    }
}

/// Made in a folder of its own and moved out: a run that is cut off leaves no half of a repository in its place.
fn make_repository(root: &Path) -> Result<(), CliError> {
    let failed = |error: std::io::Error| CliError::write(root, error);
    let building = begin_anew(root).map_err(failed)?;
    git2::Repository::init(&building).map_err(|error| CliError::write(root, error.message()))?;
    std::fs::rename(building.join(".git"), root.join(".git")).map_err(failed)?;
    std::fs::remove_dir(&building).map_err(failed)
}

fn next(folder: &Path) -> String {
    let mut commands = vec![
        ("slipmark before leak-check".to_string(), "what is open, and what closes it"),
        ("slipmark new test --for R-001".into(), "the record of a run; write into it what was found, and with what"),
        ("slipmark sign TR-001 --by \"your role\"".into(), "stand by it"),
        ("git add --all && git commit -m \"Start\"".into(), "from here on, what changes can be told"),
        ("slipmark before leak-check".into(), "now nothing is open"),
        ("slipmark new item --title \"…\"".into(), "then your own: an item, a procedure, a requirement"),
    ];
    if folder != Path::new(".") {
        commands.insert(0, (format!("cd {}", shell_word(folder)), ""));
    }
    to_try_next(&commands)
}

fn files(name: &str) -> Vec<(&'static str, String)> {
    let project = format!("name = {}\n{}", Toml::text(name).written(), PROJECT);
    // The project file is the last: as long as it is not there, the command can be run again.
    vec![
        ("items/VALVE.md", ITEM.to_string()),
        ("procedures/TP-01.md", PROCEDURE.to_string()),
        ("requirements/R-001.md", REQUIREMENT.to_string()),
        (PROJECT_FILE, project),
    ]
}

const PROJECT: &str = r#"
# What things must be closed before, in the order in which it happens.
# When one was held, a file says so: slipmark new event --for leak-check --outcome completed
events = ["leak-check", "first-run"]

# The absolute pressure that gauge readings are relative to.
# ambient = "101.3 kPa abs"

[conformity]
# guarded: a result is met only if it is inside its limit by its whole uncertainty. Else: simple, probability.
rule = "guarded"

# Who must perform or witness what; also by stage, before = "EVENT", safety = true.
# [[roles]]
# method = "test"
# witnessed_by = ["safety lead"]

# How loud a warning or a note is: warning, note, off.
# [levels]
"#;

const ITEM: &str = r#"+++
kind = "item"
id = "VALVE"
title = "Main valve"
# revision = "A"              # once it has one, records say which they saw
# hazards = ["pressure"]      # also oxygen, cryogenic, stored-energy, …

[[serials]]
number = "SN01"               # one for each piece; it is written VALVE/SN01
use = "service"               # or qualification, spare
+++
What is tested, and will be used. An example: put your own in its place.
"#;

const PROCEDURE: &str = r#"+++
kind = "procedure"
id = "TP-01"
title = "Leak check"
revision = "1"
status = "released"           # or draft
item = "VALVE"
+++
How a test is carried out. An example: put your own in its place.

## Steps

1. Close the outlet. Raise the inlet to the pressure of the day with dry nitrogen.
2. Read the flow meter for five minutes. Take the highest reading.
3. Vent.
"#;

const REQUIREMENT: &str = r#"+++
kind = "requirement"
id = "R-001"
title = "External leakage"
source = "an example: put your own in its place"
applies_to = "VALVE"

[criteria.leakage]
max = "10 mL/min"

[[verify]]
method = "test"               # or analysis, inspection, demonstration
stage = "acceptance"          # on each piece in service; or qualification, development
procedure = "TP-01"
before = "leak-check"
+++
The valve shall leak at most 10 mL/min of nitrogen to the outside.

## Rationale

The first paragraph is what evidence is judged against. Everything from the first heading on is free text.
"#;
