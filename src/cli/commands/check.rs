//! `slipmark check`.

use clap::Args;

use crate::cli::args::{Common, Format};
use crate::cli::{CliError, ExitStatus, Project, Ui};
use crate::report::view::{self, CheckView};
use crate::report::{json, tables, text};

/// What is wrong with the files: faults, gaps, orphans and wording.
///
/// Faults always fail. Gaps fail with --gaps, warnings with --strict. Notes on wording never fail and are only counted
/// unless --notes is given.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Gaps fail too
    #[arg(long)]
    pub gaps: bool,
    /// Warnings fail too
    #[arg(long)]
    pub strict: bool,
    /// List the notes on wording
    #[arg(long)]
    pub notes: bool,
    /// How the findings are written
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Prints the findings.
///
/// # Errors
/// If there is no project.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let project = Project::open_with_wording(common)?;
    let view = view::check(&project.analysis, &project.guard);
    let status = if fails(arguments, &view) { ExitStatus::Open } else { ExitStatus::Done };
    match arguments.format {
        Format::Text => ui.text(&text::findings::render(&view, arguments.notes, ui.width())),
        Format::Json => ui.bytes(json::render(&view)?.as_bytes()),
        Format::Markdown => ui.bytes(tables::markdown(&[tables::findings(&view.findings)]).as_bytes()),
        Format::Csv => ui.bytes(&tables::csv(&tables::findings(&view.findings))?),
    }
    Ok(status)
}

fn fails(arguments: &Arguments, view: &CheckView) -> bool {
    let any = |class: &str| view.counts.get(class).is_some_and(|count| *count > 0);
    any("fault") || (arguments.gaps && any("gap")) || (arguments.strict && any("warning"))
}
