//! `slipmark before`.

use clap::Args;

use crate::analysis::Analysis;
use crate::cli::args::{Common, Format};
use crate::cli::{CliError, ExitStatus, Project, Ui};
use crate::history::Guard;
use crate::report::view::{self, BeforeView, VerdictWord};
use crate::report::{json, tables, text};

/// What is open before an event, worst first, with the reason and what closes it.
///
/// Counts every row due before the event or an earlier one, every open nonconformance due, every gap of what is due,
/// and every fault in the project. Exit code 0 only if nothing is open.
#[derive(Args, Debug, Default)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// The event [default: the first that has something open]
    pub event: Option<String>,
    /// How the answer is written: text, json, markdown or csv
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub format: Format,
    /// Also list the rows that are closed
    #[arg(long)]
    pub all: bool,
}

const EXAMPLES: &str = "\
Examples:
  slipmark before hot-fire
  slipmark before hot-fire --all               # closed and waived rows too
  slipmark before leak-check --at TRR-1        # as it was at the review
  slipmark before hot-fire --today 2026-09-01  # will anything have lapsed?
  slipmark before hot-fire --format json";

/// Answers for the event that was named; else for the first that has something open, or if none has, for the last.
///
/// # Errors
/// If there is no project, no such event, or no event at all.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let project = Project::open(common)?;
    let open_only = arguments.format == Format::Text && !arguments.all;
    let make = if open_only { view::before_open } else { view::before };
    let view = match &arguments.event {
        Some(name) => make(&project.analysis, &project.guard, project.event(name)?),
        None => next(project, make)?,
    };
    show(&view, arguments.format, arguments.all, ui)
}

type Make = fn(&Analysis, &Guard, usize) -> BeforeView;

fn next(project: &Project, make: Make) -> Result<BeforeView, CliError> {
    let events = project.analysis.model.config.events.len();
    let mut views = (0..events).map(|event| make(&project.analysis, &project.guard, event)).peekable();
    while let Some(view) = views.next() {
        if view.verdict != VerdictWord::NothingOpen || views.peek().is_none() {
            return Ok(view);
        }
    }
    Err(project.no_events())
}

fn show(view: &BeforeView, format: Format, all: bool, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let status = if view.verdict == VerdictWord::NothingOpen { ExitStatus::Done } else { ExitStatus::Open };
    match format {
        Format::Text => ui.text(&text::before::render(view, all, ui.width())),
        Format::Json => ui.bytes(json::render(view)?.as_bytes()),
        Format::Markdown => ui.bytes(tables::markdown(&tables::before(view)).as_bytes()),
        Format::Csv => ui.bytes(&tables::csv(&tables::rows(&view.rows))?),
    }
    Ok(status)
}
