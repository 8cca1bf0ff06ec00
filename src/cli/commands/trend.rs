//! `slipmark trend`.

use clap::{Args, ValueEnum};

use crate::cli::args::Common;
use crate::cli::document::{self, Output};
use crate::cli::{CliError, ExitStatus, Project, Ui, answered};
use crate::history::{Asked, Pace, Progress, trend};
use crate::report::view::TrendView;
use crate::report::{json, pictures, style, tables, text, trend as page, view};

/// Are we converging? How the rows due before an event stood, commit by commit.
///
/// Each commit along the first parents is read and judged as if it were asked about with --at, on its own day. Tags, decisions, and
/// where more or fewer rows are due are marked; a commit that cannot be read says so. What is not committed is not in it.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// The event [default: the first that has something open]
    pub event: Option<String>,
    /// Which commits: every commit, or the last of each day or week [default: evenly, 60 at most]
    #[arg(long, value_enum, value_name = "WHAT", hide_possible_values = true)]
    pub by: Option<By>,
    /// How it is written: text, json, markdown, csv, svg or html
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub format: Format,
    /// Where it goes.
    #[command(flatten)]
    pub to: Output,
}

const EXAMPLES: &str = "\
Examples:
  slipmark trend                                        # towards the next event
  slipmark trend hot-fire --by week
  slipmark trend hot-fire --format svg -o ../trend.svg  # for the slides
  slipmark trend hot-fire --by commit --format csv > trend.csv";

/// Which commits are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum By {
    /// Every one.
    Commit,
    /// The last of each day.
    Day,
    /// The last of each week.
    Week,
}

/// How the trend is written.
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
    /// A page with the picture.
    Html,
}

/// Shows the trend.
///
/// # Errors
/// If there is no project, no commit or no such event, or the file cannot or must not be written.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    if arguments.to.output.is_some() {
        return answer(arguments, common, Project::open(common)?, ui);
    }
    answered::once(&("trend", arguments), common, ui, Project::open, |project, ui| {
        answer(arguments, common, project, ui)
    })
}

fn answer(arguments: &Arguments, common: &Common, project: &Project, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let event = match &arguments.event {
        Some(name) => project.event(name)?,
        None => super::before::next_event(project)?,
    };
    let view = made(project, event, (arguments.by, common), ui.progress())?;
    project.tell_faults(ui)?;
    let bytes = match arguments.format {
        Format::Text if arguments.to.output.is_none() => {
            ui.text(&text::trend::render(&view, ui.width()));
            return Ok(ExitStatus::Done);
        }
        Format::Text => style::render(&text::trend::render(&view, ui.width()), false).into_bytes(),
        Format::Json => json::render(&view)?.into_bytes(),
        Format::Markdown => tables::markdown(&[tables::trend(&view)]).into_bytes(),
        Format::Csv => tables::csv(&tables::trend(&view))?,
        Format::Svg => pictures::trend(&view).into_bytes(),
        Format::Html => page::html(&view, &project.analysis.templates)?.into_bytes(),
    };
    document::put(&arguments.to, &bytes, PICTURE, ui)?;
    Ok(ExitStatus::Done)
}

fn made(
    project: &Project,
    event: usize,
    (by, common): (Option<By>, &Common),
    progress: &Progress,
) -> Result<TrendView, CliError> {
    let pace = match by {
        None => Pace::Evenly,
        Some(By::Commit) => Pace::Commit,
        Some(By::Day) => Pace::Day,
        Some(By::Week) => Pace::Week,
    };
    let Some(end) = project.commit else {
        return Err(CliError::refused("nothing is committed yet, so there is no trend", "git add --all && git commit"));
    };
    let name = project.analysis.model.config.events[event].name.value.as_str();
    let asked = Asked { event: name, pace, today: common.today, progress };
    let trend = trend(&project.repo, &project.prefix, end, asked, &common.kept(&project.repo))?;
    Ok(view::trend(&project.analysis, name, &trend, pace))
}

const PICTURE: document::Sort = document::Sort { name: "trend", ours: is_ours };

/// Whether a file starts as a picture or a page of this command does.
fn is_ours(start: &[u8]) -> bool {
    let start = String::from_utf8_lossy(start);
    start.contains("<meta name=\"generator\" content=\"slipmark trend")
        || start.starts_with("<svg ") && start.contains("aria-labelledby=\"trend-title trend-words\"")
}
