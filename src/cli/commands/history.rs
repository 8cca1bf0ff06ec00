//! `slipmark history`.

use std::collections::BTreeMap;

use clap::{Args, ValueEnum};

use crate::analysis::Request;
use crate::cli::answered::{self, Glance};
use crate::cli::args::Common;
use crate::cli::document::{self, Output};
use crate::cli::project::tell_faults;
use crate::cli::{CliError, ExitStatus, Project, Ui};
use crate::git::{Oid, Repo};
use crate::history::{self, Change, Range, Revisions, WORK_TREE, held_ids, revisions};
use crate::kept::Kept;
use crate::model::SerialId;
use crate::report::view::{EventStateView, HistoryView};
use crate::report::{json, pictures, style, tables, text, view};
use crate::source::{Origin, PROJECT_FILE};
use crate::text::RepoPath;

/// How one thing came to read as it does: its revisions, counted from history.
///
/// Takes the id of anything that has a file of its own, or ever had.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// The id
    pub id: String,
    /// Also say where a requirement stood at each revision, and where it stands now: the whole project is judged for each
    #[arg(long)]
    pub states: bool,
    /// How the revisions are written: text, json, markdown, csv or svg
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub format: Format,
    /// Where it goes.
    #[command(flatten)]
    pub to: Output,
}

const EXAMPLES: &str = "\
Examples:
  slipmark history ACT-010
  slipmark history ACT-010 --states   # and where it stood then
  slipmark history TR-006             # a record: what was changed after it was signed
  slipmark history ACT-010 --at TRR-1
  slipmark history ACT-010 --format svg -o ../act-010.svg";

/// How the revisions are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For a terminal.
    #[default]
    Text,
    /// For programs.
    Json,
    /// For documents.
    Markdown,
    /// For spreadsheets.
    Csv,
    /// A picture.
    Svg,
}

/// Prints the revisions.
///
/// # Errors
/// If there is no project, nothing ever had the id, or the file cannot or must not be written.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    // A file that is written is no part of what an answer hangs on.
    if arguments.to.output.is_some() {
        return answer(arguments, Project::open(common)?, ui);
    }
    answered::once_from(
        &("history", arguments),
        common,
        ui,
        |repo, prefix, kept| ahead(arguments, repo, prefix, kept),
        |glance, told, ui| from(arguments, glance, told?, ui),
        Project::open,
        |project, ui| answer(arguments, project, ui),
    )
}

/// What commits alone tell, while the files are looked at; none if that is not enough.
fn ahead(arguments: &Arguments, repo: &Repo, prefix: &str, kept: &Kept) -> Option<(Oid, Revisions)> {
    history::take_up(repo, prefix, kept);
    // Where it stands takes the whole project.
    let end = repo.head().ok().flatten().filter(|_| !arguments.states)?;
    // A whole folder that was moved and not committed is known by its files.
    repo.tree_file(end, prefix, &RepoPath::new(PROJECT_FILE)).ok()??;
    Some((end, revisions(repo, prefix, &arguments.id, end).ok()??))
}

/// Answers from that and from files that are as they were; none if that is not enough.
fn from(arguments: &Arguments, glance: &Glance, (end, told): (Oid, Revisions), ui: &mut Ui) -> Option<ExitStatus> {
    let Glance { repo, prefix, kept, present } = glance;
    history::keep(repo, prefix, Some(end), kept);
    let mut view = view::history(&told, None);
    view.add_evidence(&present.carried);
    let shown = shown(arguments, &view, ui.width()).ok()?;
    tell_faults(present.faults, ui);
    put(&arguments.to, shown, ui).ok()?;
    Some(ExitStatus::Done)
}

fn answer(arguments: &Arguments, project: &Project, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let (repo, prefix, id) = (&project.repo, &project.prefix, arguments.id.as_str());
    let told = match project.commit {
        Some(end) => project.looking_back(|| revisions(repo, prefix, id, end))?,
        None => None,
    };
    let uncommitted = uncommitted(project)?.into_iter().find(|change| change.id == id);
    let mut view = match (&told, &uncommitted) {
        (Some(told), _) => view::history(told, uncommitted.as_ref()),
        (None, Some(change)) => view::history_to_be(change),
        (None, None) => return Err(unknown(project, id)?),
    };
    view.add_evidence(project.carried());
    if arguments.states {
        let then = states(project, &view)?;
        view.add_states(&then, view::event_states(&project.analysis, id));
    }
    project.tell_faults_of_files(ui);
    put(&arguments.to, shown(arguments, &view, ui.width())?, ui)?;
    Ok(ExitStatus::Done)
}

/// An answer as it is written.
enum Shown {
    Text(String),
    Bytes(Vec<u8>),
}

fn shown(arguments: &Arguments, view: &HistoryView, width: usize) -> Result<Shown, CliError> {
    Ok(Shown::Bytes(match arguments.format {
        Format::Text if arguments.to.output.is_none() => return Ok(Shown::Text(text::history::render(view, width))),
        Format::Text => style::render(&text::history::render(view, width), false).into_bytes(),
        Format::Json => json::render(view)?.into_bytes(),
        Format::Markdown => tables::markdown(&[tables::history(view)]).into_bytes(),
        Format::Csv => tables::csv(&tables::history(view))?,
        Format::Svg => picture(view)?.into_bytes(),
    }))
}

fn put(to: &Output, shown: Shown, ui: &mut Ui) -> Result<(), CliError> {
    match shown {
        Shown::Text(text) => ui.text(&text),
        Shown::Bytes(bytes) => document::put(to, &bytes, PICTURE, ui)?,
    }
    Ok(())
}

const PICTURE: document::Sort = document::Sort { name: "history", ours: is_ours };

/// Whether a file starts as a picture of this command does.
fn is_ours(start: &[u8]) -> bool {
    let start = String::from_utf8_lossy(start);
    start.starts_with("<svg ") && start.contains("aria-labelledby=\"timeline-title timeline-words\"")
}

fn picture(view: &HistoryView) -> Result<String, CliError> {
    pictures::timeline(view, "timeline").ok_or_else(|| {
        let message = format!("no commit holds {} yet, so there is nothing to draw", view.thing.id);
        CliError::refused(message, "git add --all && git commit")
    })
}

/// Where a requirement stood at each commit of its history, as `--at` would have said there.
fn states(project: &Project, view: &HistoryView) -> Result<BTreeMap<String, Vec<EventStateView>>, CliError> {
    let mut states = BTreeMap::new();
    for revision in &view.thing.revisions {
        let oid = project.repo.resolve(&revision.oid)?;
        let today = project.repo.commit(oid)?.made_on;
        let request = Request { today, ..project.analysis.request };
        let then = history::project_at(&project.repo, &project.prefix, oid, request)?;
        let stood = then.map(|then| view::event_states(&then, &view.thing.id)).unwrap_or_default();
        states.insert(revision.oid.clone(), stood);
    }
    Ok(states)
}

/// What the work tree holds otherwise than the commit that is checked out.
///
/// # Errors
/// If git cannot answer.
pub(super) fn uncommitted(project: &Project) -> Result<Vec<Change>, CliError> {
    match project.analysis.origin {
        Origin::WorkTree { uncommitted, head } if uncommitted > 0 || head.is_none() => {}
        _ => return Ok(Vec::new()),
    }
    let (repo, prefix, now) = (&project.repo, &project.prefix, &project.analysis);
    let (from, from_name) = (project.commit, "HEAD".into());
    let range = Range { from, from_name, from_before: false, to: None, to_name: WORK_TREE.into() };
    Ok(history::differences(repo, prefix, range, now)?)
}

/// That something has no file of its own, and so no revisions, and what tells of it.
fn within(project: &Project, id: &str) -> Option<CliError> {
    let shown = view::show(&project.analysis, id)?;
    let path = shown.path?;
    let what = match shown.kind {
        "serial" => "a piece",
        "event" => "an event",
        "parameter" => "a parameter",
        "instrument" => "an instrument",
        _ => return None,
    };
    let message = format!("`{id}` is {what} in {path}: it has no file, and no revisions, of its own");
    let since = project.repo.annotated_tags().is_ok_and(|tags| !tags.is_empty());
    let changes = if since { "slipmark changes" } else { "slipmark changes --since DATE" };
    let past = match SerialId::parse(id) {
        Some(piece) => format!("how its item came to read as it does: slipmark history {}", piece.item),
        None => format!("what changed of it, among all else: {changes}"),
    };
    Some(CliError::refused(message, format!("slipmark show {id}; {past}")))
}

fn unknown(project: &Project, id: &str) -> Result<CliError, CliError> {
    if let Some(said) = within(project, id) {
        return Ok(said);
    }
    let mut ids = match project.commit {
        Some(end) => held_ids(&project.repo, &project.prefix, end)?,
        None => Default::default(),
    };
    ids.extend(project.analysis.model.ids().map(|(id, _)| id.to_string()));
    Ok(project.unknown("nothing has or had the id", id, ids.iter().map(String::as_str)))
}
