//! `slipmark matrix`.

use clap::Args;

use crate::cli::args::{Common, Format};
use crate::cli::{CliError, ExitStatus, Project, Ui, answered};
use crate::report::view::{self, MatrixView};
use crate::report::{json, tables, text};

/// The verification matrix: requirement by requirement, how it is shown, on what, with what result, margin and state.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// How the matrix is written: text, json, markdown or csv
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub format: Format,
}

const EXAMPLES: &str = "\
Examples:
  slipmark matrix
  slipmark matrix --at TRR-1
  slipmark matrix --format csv > matrix.csv";

/// Prints the matrix.
///
/// # Errors
/// If there is no project.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    answered::once(&("matrix", arguments), common, ui, Project::open_with_history, |project, ui| {
        answer(arguments, project, ui)
    })
}

fn answer(arguments: &Arguments, project: &Project, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    project.tell_faults(ui)?;
    // It is as large as the project, and like that lives until the process ends.
    let whole = || -> &MatrixView { Box::leak(Box::new(view::matrix(&project.analysis))) };
    match arguments.format {
        Format::Text => ui.texts(&text::matrix::render(&project.analysis, ui.width())),
        Format::Json => ui.bytes(json::render(whole())?.as_bytes()),
        Format::Markdown => ui.bytes(tables::markdown(&[tables::rows(&whole().rows)]).as_bytes()),
        Format::Csv => ui.bytes(&tables::csv(&tables::rows(&whole().rows))?),
    }
    Ok(ExitStatus::Done)
}
