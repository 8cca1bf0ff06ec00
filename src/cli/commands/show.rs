//! `slipmark show`.

use clap::{Args, ValueEnum};

use crate::analysis::Analysis;
use crate::cli::args::Common;
use crate::cli::{CliError, ExitStatus, Project, Ui};
use crate::report::{json, pictures, text, view};

/// One thing: what it says, what hangs from it, where it stands.
///
/// Takes any id, a piece (MOV/SN02), an event, a parameter or an instrument.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// The id or name
    pub id: String,
    /// How it is written: text, json or markdown; a requirement also as svg, with what it hangs together with
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub format: Format,
}

/// How one thing is written.
#[derive(Clone, Copy, Debug, Default, ValueEnum)]
pub enum Format {
    /// For a terminal.
    #[default]
    Text,
    /// For programs.
    Json,
    /// For documents.
    Markdown,
    /// A picture of what a requirement hangs from, and of what hangs from it.
    Svg,
}

const EXAMPLES: &str = "\
Examples:
  slipmark show ACT-010               # a requirement: criteria, plan, evidence
  slipmark show TR-006                # a record: what it decides
  slipmark show MOV/SN02              # a piece
  slipmark show hot-fire              # an event
  slipmark show ACT-010 --format svg > ../act-010.svg";

/// Shows it.
///
/// # Errors
/// If there is no project, or nothing in it has the id.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let project = Project::open(common)?;
    let Some(mut shown) = view::show(&project.analysis, &arguments.id) else {
        let names = view::names(&project.analysis);
        return Err(project.unknown("nothing has the id", &arguments.id, names.iter().map(String::as_str)));
    };
    view::tell_edits(&mut shown, &project.account()?.edited);
    project.tell_faults(ui)?;
    match arguments.format {
        Format::Text => ui.text(&text::show::render(&shown, ui.width())),
        Format::Json => ui.bytes(json::render(&shown)?.as_bytes()),
        Format::Markdown => ui.bytes(text::show::markdown(&shown).as_bytes()),
        Format::Svg => ui.bytes(picture(&project.analysis, &arguments.id)?.as_bytes()),
    }
    Ok(ExitStatus::Done)
}

fn picture(analysis: &Analysis, id: &str) -> Result<String, CliError> {
    let rows = view::matrix(analysis).rows;
    let Some(traced) = view::trace(analysis, id, &view::RowsOf::of(&rows)) else {
        return Err(CliError::refused(
            format!("{id} is no requirement, and only of those there is a picture"),
            format!("slipmark show {id}"),
        ));
    };
    pictures::trace(&traced, "trace").ok_or_else(|| {
        let message = format!("nothing hangs together with {id}, so there is nothing to draw");
        CliError::refused(message, format!("slipmark show {id}"))
    })
}
