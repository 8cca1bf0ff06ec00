//! `slipmark changes`.

use clap::{Args, ValueEnum};
use jiff::civil::Date;

use crate::cli::args::Common;
use crate::cli::document::{self, Output};
use crate::cli::{CliError, ExitStatus, Project, Ui, answered};
use crate::diag::catalogue;
use crate::git::{GitError, Oid};
use crate::history::{self, Changes, Range, RangeError};
use crate::report::view::ChangesView;
use crate::report::{changelog, json, style, tables, text, view};

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
    /// List what only moved, and looks, too; JSON and CSV always do
    #[arg(long)]
    pub all: bool,
    /// Name the authors of commits, as .mailmap spells them
    #[arg(long)]
    pub who: bool,
    /// How it is written: text, json, markdown, csv or html; Markdown and HTML by decision, to attach to a review
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub format: Format,
    /// Where it goes.
    #[command(flatten)]
    pub to: Output,
}

const EXAMPLES: &str = "\
Examples:
  slipmark changes                    # since the last review
  slipmark changes PDR..TRR-1
  slipmark changes HEAD~3             # the last three commits, and what is not committed
  slipmark changes --since D-001      # what came with a decision
  slipmark changes PDR..TRR-1 --format html -o ../trr-1.html    # for the review board";

/// How the changes are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For a terminal.
    #[default]
    Text,
    /// For programs.
    Json,
    /// A document, by decision.
    Markdown,
    /// For spreadsheets.
    Csv,
    /// A page, by decision.
    Html,
}

/// Prints the changes.
///
/// # Errors
/// If there is no project, or the range names no commit.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    // A file that is written, and names that stand in a file of the whole repository, are no part of what an answer hangs on.
    if arguments.to.output.is_some() || arguments.who {
        return answer(arguments, common, Project::open(common)?, ui);
    }
    answered::once(&("changes", arguments), common, ui, Project::open, |project, ui| {
        answer(arguments, common, project, ui)
    })
}

fn answer(arguments: &Arguments, common: &Common, project: &Project, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let mut view = view(project, arguments.range.as_deref(), arguments.since.as_deref(), common)?;
    if arguments.who {
        name_authors(project, &mut view)?;
    }
    let all = arguments.all;
    let bytes = match arguments.format {
        Format::Text if arguments.to.output.is_none() => {
            ui.text(&text::changes::render(&view, ui.width(), all));
            return Ok(ExitStatus::Done);
        }
        Format::Text => style::render(&text::changes::render(&view, ui.width(), all), false).into_bytes(),
        Format::Json => json::render(&view)?.into_bytes(),
        Format::Markdown => changelog::markdown(&view, all).into_bytes(),
        Format::Csv => tables::csv(&tables::changes(&view))?,
        Format::Html => changelog::html(&view, all, &project.analysis.templates)?.into_bytes(),
    };
    document::put(&arguments.to, &bytes, DOCUMENT, ui)?;
    Ok(ExitStatus::Done)
}

const DOCUMENT: document::Sort = document::Sort { name: "list of changes", ours: changelog::is_changelog };

fn name_authors(project: &Project, view: &mut ChangesView) -> Result<(), CliError> {
    let oids: Vec<Oid> = view.commits().into_iter().filter_map(Oid::from_hex).collect();
    let names = project.repo.authors(&oids)?;
    view.name_authors(&oids.iter().map(Oid::to_string).zip(names).collect());
    Ok(())
}

/// What changed, ready to be shown.
///
/// # Errors
/// As [`run`].
pub fn view(
    project: &Project,
    asked: Option<&str>,
    since: Option<&str>,
    common: &Common,
) -> Result<ChangesView, CliError> {
    let changes = compare(project, range((asked, since), common, project)?)?;
    Ok(view::changes(&project.analysis.model.config.name, &changes))
}

/// Compares the two points of a range.
///
/// # Errors
/// If neither holds the project, or git cannot answer.
pub(super) fn compare(project: &Project, range: Range) -> Result<Changes, CliError> {
    let (repo, prefix, request) = (&project.repo, &project.prefix, project.analysis.request);
    let read;
    let now = match range.to {
        Some(oid) if !is_at_hand(project, oid) => {
            read = history::project_at(repo, prefix, oid, request)?;
            read.as_ref()
        }
        _ => Some(&project.analysis),
    };
    let (from, to) = (range.from_name.clone(), range.to_name.clone());
    project.looking_back(|| history::changes(repo, prefix, range, now, request))?.ok_or_else(|| {
        let message = format!("neither {from} nor {to} holds this project");
        CliError::refused(message, "name commits that hold its slipmark.toml at this place")
    })
}

/// Whether what was read when the project was opened is what a commit holds.
fn is_at_hand(project: &Project, oid: Oid) -> bool {
    // What a sparse checkout leaves out, or git ignores, is no difference to git.
    let whole = || !project.analysis.findings.iter().any(|finding| catalogue::hides(finding.code));
    project.commit == Some(oid) && (project.past || (project.holds_a_commit() && whole()))
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
    let today = project.analysis.request.today;
    if let Some(day) = asked.1.and_then(|since| since.parse::<Date>().ok()).filter(|day| *day > today) {
        return Err(CliError::refused(
            format!("{day} is still to come: today is {today}"),
            "name a day that has passed, or a commit, tag or decision",
        ));
    }
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
