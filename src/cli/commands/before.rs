//! `slipmark before`.

use clap::Args;

use crate::cli::args::{Common, Format};
use crate::cli::{CliError, ExitStatus, Project, Ui};
use crate::report::view::{self, BeforeView, VerdictWord};
use crate::report::{json, tables, text};

/// What is open before an event, worst first, with the reason and what closes it.
///
/// Counts every row due before the event or an earlier one, every open nonconformance due, every gap of what is due,
/// and every fault in the project. Exit code 0 only if nothing is open.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The event
    pub event: String,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
    /// Also list the rows that are closed
    #[arg(long)]
    pub all: bool,
}

/// Answers for the event that was named.
///
/// # Errors
/// If there is no project, or no such event.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let project = Project::open(common)?;
    let event = project.event(&arguments.event)?;
    let open_only = arguments.format == Format::Text && !arguments.all;
    let make = if open_only { view::before_open } else { view::before };
    let view = make(&project.analysis, &project.guard, event);
    show(&view, arguments.format, arguments.all, ui)
}

/// Answers for the first event that has something open, or else for the last.
///
/// # Errors
/// If there is no project, or it has no events.
pub fn next(common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let project = Project::open(common)?;
    let events = project.analysis.model.config.events.len();
    let views = (0..events).map(|event| view::before_open(&project.analysis, &project.guard, event));
    let mut last = None;
    for view in views {
        let open = view.verdict != VerdictWord::NothingOpen;
        last = Some(view);
        if open {
            break;
        }
    }
    match last {
        Some(view) => show(&view, Format::Text, false, ui),
        None => Err(CliError::refused("the project names no event", "add events = [\"hot-fire\"] to slipmark.toml")),
    }
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
