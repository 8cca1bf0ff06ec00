//! `slipmark concepts`.

use clap::{Args, ValueEnum};

use crate::cli::args::Common;
use crate::cli::document::{self, Output};
use crate::cli::{CliError, ExitStatus, Project, Ui};
use crate::report::{concepts, json, tables, text, view};

/// The options of a slot side by side, against everything that is asked of them.
///
/// For each requirement and option: result, limit, margin, state and source; what was dropped, by which decision and for
/// what; what a choice brought up; what is still to be shown. Evidence on an option that is not current is judged as if it
/// were, and counts for nothing else.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// The slot
    pub slot: String,
    /// How it is written: text, json, markdown, csv or html
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub format: Format,
    /// Where it goes.
    #[command(flatten)]
    pub to: Output,
}

const EXAMPLES: &str = "\
Examples:
  slipmark concepts MOV-ACT
  slipmark concepts MOV-ACT --format html -o ../actuators.html  # with a picture of the margins
  slipmark concepts MOV-ACT --at PDR --format csv               # as it was at the review";

/// How the comparison is written.
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
    /// A page with a picture of the margins.
    Html,
}

/// Shows the comparison.
///
/// # Errors
/// If there is no project or no such slot, or the file cannot or must not be written.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let project = Project::open(common)?;
    let Some(view) = view::concepts(&project.analysis, &arguments.slot) else {
        let slots = view::slots(&project.analysis);
        return Err(CliError::unknown("no slot has the id", &arguments.slot, slots.iter().map(String::as_str)));
    };
    let bytes = match arguments.format {
        Format::Text if arguments.to.output.is_none() => {
            ui.text(&text::concepts::render(&view, ui.width()));
            return Ok(ExitStatus::Done);
        }
        Format::Text => crate::report::style::render(&text::concepts::render(&view, ui.width()), false).into_bytes(),
        Format::Json => json::render(&view)?.into_bytes(),
        Format::Markdown => tables::markdown(&tables::concepts(&view)).into_bytes(),
        Format::Csv => tables::csv(&tables::compared(&view))?,
        Format::Html => concepts::html(&view, &project.analysis.templates)?.into_bytes(),
    };
    document::put(&arguments.to, &bytes, PAGE, ui)?;
    Ok(ExitStatus::Done)
}

const PAGE: document::Sort = document::Sort { name: "page of options", ours: is_ours };

/// Whether a file starts as a page of this command does.
fn is_ours(start: &[u8]) -> bool {
    String::from_utf8_lossy(start).contains("<meta name=\"generator\" content=\"slipmark concepts")
}
