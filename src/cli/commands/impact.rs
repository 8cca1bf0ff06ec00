//! `slipmark impact`.

use clap::Args;

use crate::analysis::Analysis;
use crate::cli::args::{Common, Format};
use crate::cli::{CliError, ExitStatus, Project, Ui};
use crate::model::Ref;
use crate::report::{json, tables, text, view};

/// What would fall if something changed, before anyone changes it.
///
/// Takes a requirement, parameter, item, piece (MOV/SN02), procedure, instrument, record, waiver, event or held event. Makes the
/// change in memory and compares the rows: which would be open again, before which events, and what would show them again.
#[derive(Args, Debug)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// The id or name
    pub id: String,
    /// The new revision of an item or a procedure; for an item, prints the table of what evidence it keeps
    #[arg(long, value_name = "NAME")]
    pub revision: Option<String>,
    /// How the answer is written: text, json, markdown or csv
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub format: Format,
}

const EXAMPLES: &str = "\
Examples:
  slipmark impact ACT-010               # if it were reworded, or withdrawn
  slipmark impact ACT-W --revision C    # a new revision, with the table to fill in
  slipmark impact MOV/SN02              # if it were reworked, or scrapped
  slipmark impact TC-04                 # if it were found out of tolerance today
  slipmark impact hot-fire              # if it were held today: what is used up";

/// Looks at the changes.
///
/// # Errors
/// If there is no project, nothing has the id, or no evidence can hang from what has it.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let project = Project::open(common)?;
    let (analysis, id) = (&project.analysis, arguments.id.as_str());
    let revision = arguments.revision.as_deref();
    refuse(analysis, id, revision)?;
    let Some(view) = view::impact(analysis, project.guard()?, id, revision) else {
        let names = view::names(analysis);
        return match names.iter().any(|name| name == id) {
            false => Err(CliError::unknown("nothing has the id", id, names.iter().map(String::as_str))),
            true => {
                let help = format!("read slipmark show {id}; for the options of a slot: slipmark concepts SLOT");
                Err(CliError::refused(format!("no evidence hangs from {id} itself"), help))
            }
        };
    };
    match arguments.format {
        Format::Text => ui.text(&text::impact::render(&view, ui.width())),
        Format::Json => ui.bytes(json::render(&view)?.as_bytes()),
        Format::Markdown => ui.bytes(tables::markdown(&[tables::impact(&view)]).as_bytes()),
        Format::Csv => ui.bytes(&tables::csv(&tables::impact(&view))?),
    }
    Ok(ExitStatus::Done)
}

/// Refuses a revision where there can be none, or that is no change.
fn refuse(analysis: &Analysis, id: &str, revision: Option<&str>) -> Result<(), CliError> {
    let Some(revision) = revision else { return Ok(()) };
    let model = &analysis.model;
    let current = match model.find(id) {
        Some(Ref::Item(at)) => model.items[at].revision.as_ref(),
        Some(Ref::Procedure(at)) => model.procedures[at].revision.as_ref(),
        // Said by the name itself, if nothing has it.
        None if !view::names(analysis).iter().any(|name| name == id) => return Ok(()),
        _ => {
            let help = format!("leave out --revision: slipmark impact {id}");
            return Err(CliError::refused(format!("{id} is neither an item nor a procedure"), help));
        }
    };
    if current.is_some_and(|current| current.value == revision) {
        let help = format!("name another, or leave it out: slipmark impact {id}");
        return Err(CliError::refused(format!("{id} is at revision {revision} already"), help));
    }
    Ok(())
}
