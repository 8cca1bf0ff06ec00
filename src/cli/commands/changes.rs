//! `slipmark changes`.

use clap::Args;

use crate::analysis::Analysis;
use crate::cli::args::{Common, Format};
use crate::cli::{CliError, ExitStatus, Project, Ui};
use crate::git::{GitError, Oid};
use crate::history::{self, Changes, Range, RangeError};
use crate::report::view::ChangesView;
use crate::report::{json, tables, text, view};

/// What changed between two points in history: tightened or relaxed, why, and what evidence it undid.
///
/// Without a range: from the last annotated tag to the work tree.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// A..B, or A for everything since A [default: since the last annotated tag]
    pub range: Option<String>,
    /// Everything since a commit, tag, date or decision
    #[arg(long, value_name = "WHEN", conflicts_with = "range")]
    pub since: Option<String>,
    /// How the list is written: text, json, markdown or csv
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub format: Format,
}

const EXAMPLES: &str = "\
Examples:
  slipmark changes                    # since the last review
  slipmark changes PDR..TRR-1
  slipmark changes HEAD~3             # the last three commits, and what is not committed
  slipmark changes --since D-001      # what came with a decision";

/// Prints the changes.
///
/// # Errors
/// If there is no project, or the range names no commit.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let view = view(arguments.range.as_deref(), arguments.since.as_deref(), common)?;
    match arguments.format {
        Format::Text => ui.text(&text::changes::render(&view, ui.width())),
        Format::Json => ui.bytes(json::render(&view)?.as_bytes()),
        Format::Markdown => ui.bytes(tables::markdown(&[tables::changes(&view)]).as_bytes()),
        Format::Csv => ui.bytes(&tables::csv(&tables::changes(&view))?),
    }
    Ok(ExitStatus::Done)
}

/// What changed, ready to be shown.
///
/// # Errors
/// As [`run`].
pub fn view(asked: Option<&str>, since: Option<&str>, common: &Common) -> Result<ChangesView, CliError> {
    let project = Project::open(common)?;
    let changes = compare(project, range((asked, since), common, project)?)?;
    Ok(view::changes(&project.analysis.model.config.name, &changes))
}

/// Compares the two points of a range.
///
/// # Errors
/// If neither holds the project, or git cannot answer.
pub(super) fn compare(project: &Project, range: Range) -> Result<Changes, CliError> {
    let then = range.from.map(|oid| at(project, oid)).transpose()?.flatten();
    let read;
    let now = match range.to {
        Some(oid) if !(project.past && project.commit == Some(oid)) => {
            read = at(project, oid)?;
            read.as_ref()
        }
        _ => Some(&project.analysis),
    };
    if range.from.is_some() && then.is_none() && now.is_none() {
        let message = format!("neither {} nor {} holds this project", range.from_name, range.to_name);
        return Err(CliError::refused(message, "name commits that hold its slipmark.toml at this place"));
    }
    Ok(history::changes(&project.repo, &project.prefix, range, then.as_ref(), now)?)
}

fn at(project: &Project, oid: Oid) -> Result<Option<Analysis>, CliError> {
    Ok(history::project_at(&project.repo, &project.prefix, oid, project.analysis.request)?)
}

/// The two points that are asked about: a range, a start, or neither.
///
/// # Errors
/// If a name means no commit, or there is no tag to look back to.
pub(super) fn range(
    asked: (Option<&str>, Option<&str>),
    common: &Common,
    project: &Project,
) -> Result<Range, CliError> {
    let end = match (&common.at, project.commit) {
        (Some(name), Some(oid)) => Some((oid, name.as_str())),
        _ => None,
    };
    let model = &project.analysis.model;
    history::range(&project.repo, &project.prefix, asked, end, model).map_err(|error| match (error, asked.1) {
        (RangeError::Git(GitError::UnknownRevision { .. }), Some(since)) => {
            let tags = project.repo.annotated_tags().unwrap_or_default();
            let known = tags.iter().map(|(name, _)| name.as_str());
            let known = known.chain(model.decisions.iter().map(|decision| decision.head.id.value.as_str()));
            CliError::unknown("no commit, tag, date or decision is called", since, known)
        }
        (RangeError::Git(error), _) => error.into(),
        (error, _) => CliError::refused(error.to_string(), error.help()),
    })
}
