//! `slipmark sheet`.

use std::path::Path;

use clap::{Args, ValueEnum};

use super::run_of;
use crate::cli::args::Common;
use crate::cli::document::{self, Output};
use crate::cli::{CliError, ExitStatus, Project, Ui};
use crate::report::{json, sheet, text, view};

/// The blank data sheet of a procedure, to be printed and filled in on the stand.
///
/// Cautions first; then what must hold before, and how it stands today on this piece; the instruments with the day on which
/// their calibration is due; the steps with boxes and hold points; every field with its unit and what the requirements ask
/// of it today; their marks as of this print; lines to sign on. A piece stands for itself and what it contains.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// The procedure
    pub procedure: String,
    /// The piece under test [default: none, for what is asked of the project as a whole]
    #[arg(long, value_name = "ITEM/NUMBER")]
    pub serial: Option<String>,
    /// The stage of the run, where the plan has several [default: by the use of the piece]
    #[arg(long, value_name = "STAGE")]
    pub stage: Option<String>,
    /// How it is written: text, json, markdown or html [default: by the name after -o, else text]
    #[arg(long, value_enum, hide_possible_values = true)]
    pub format: Option<Format>,
    /// Where it goes.
    #[command(flatten)]
    pub to: Output,
}

const EXAMPLES: &str = "\
Examples:
  slipmark sheet TP-03 --serial MOV/SN02                   # on the terminal
  slipmark sheet TP-03 --serial MOV/SN02 -o sheet.html     # to print
  slipmark sheet TP-03 --serial MOV/SN01 --stage qualification";

const SHEET: document::Sort = document::Sort { name: "data sheet", ours: sheet::is_sheet };

/// How a sheet is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For a terminal or a printer.
    Text,
    /// For programs.
    Json,
    /// For documents.
    Markdown,
    /// To print.
    Html,
}

/// Prints or writes the sheet.
///
/// # Errors
/// If a name is unknown, nothing is asked of the piece by this procedure, or the file cannot or must not be written.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let project = Project::open(common)?;
    let run = run_of::find(project, &arguments.procedure, arguments.serial.as_deref(), arguments.stage.as_deref())?;
    let view = view::sheet(&project.analysis, &run);
    let path = arguments.to.file();
    let by_name = |path: &Path| match path.extension().and_then(|end| end.to_str()) {
        Some("html" | "htm") => Format::Html,
        Some("md") => Format::Markdown,
        Some("json") => Format::Json,
        _ => Format::Text,
    };
    let format = arguments.format.or(path.map(by_name)).unwrap_or(Format::Text);
    project.tell_faults(ui)?;
    let made = match format {
        Format::Text => text::sheet::render(&view, ui.width()),
        Format::Json => json::render(&view)?,
        Format::Markdown => sheet::markdown(&view),
        Format::Html => sheet::html(&view, &project.analysis.templates)?,
    };
    match path {
        None if format == Format::Text => ui.text(&made),
        None => ui.bytes(made.as_bytes()),
        Some(path) => {
            let made = if format == Format::Text { crate::report::style::render(&made, false) } else { made };
            document::write(path, made.as_bytes(), arguments.to.force, SHEET)?;
            ui.text(&format!("{}\n", path.display()));
            if !project.past && path.canonicalize().is_ok_and(|path| path.starts_with(&project.root)) {
                ui.aside("the sheet lies inside the project, where it counts as a file not committed: let git ignore it, or write it elsewhere with -o");
            }
        }
    }
    Ok(ExitStatus::Done)
}
