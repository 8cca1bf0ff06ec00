//! `slipmark check`.

use clap::Args;

use crate::cli::args::Common;
use crate::cli::{CliError, ExitStatus, Project, Ui};
use crate::diag::Class;
use crate::report::text::findings;
use crate::report::view::FindingView;

/// What is wrong with the files: faults, gaps, orphans and wording.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Gaps fail too
    #[arg(long)]
    pub gaps: bool,
    /// Warnings fail too
    #[arg(long)]
    pub strict: bool,
}

/// Prints the findings.
///
/// # Errors
/// If there is no project.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let project = Project::open(common)?;
    let all = project.analysis.findings.iter().chain(&project.guard.findings);
    let mut fails = false;
    for finding in all {
        fails |= match finding.class() {
            Class::Fault => true,
            Class::Gap => arguments.gaps,
            Class::Warning => arguments.strict,
            Class::Note => false,
        };
        ui.text(&findings::one(&FindingView::of(finding, &project.analysis.sources), ui.width()));
    }
    Ok(if fails { ExitStatus::Open } else { ExitStatus::Done })
}
