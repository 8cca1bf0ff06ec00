//! `slipmark check`.

use clap::{Args, ValueEnum};

use crate::cli::args::Common;
use crate::cli::{CliError, ExitStatus, Project, Ui, answered};
use crate::diag::Class;
use crate::report::text::findings;
use crate::report::view::CheckView;
use crate::report::{json, junit, sarif, tables};

/// What is wrong with the files: faults, gaps, orphans and wording.
///
/// Exit code 1 if there is a fault; with --gaps also for a gap, with --strict also for a warning; never for a note. What
/// a code means: slipmark explain CODE. How loud a warning or a note is: [levels] in slipmark.toml.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Gaps fail too
    #[arg(long)]
    pub gaps: bool,
    /// Warnings fail too
    #[arg(long)]
    pub strict: bool,
    /// List the notes on wording too
    #[arg(long)]
    pub notes: bool,
    /// How the findings are written: text, json, markdown, csv, sarif or junit
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub format: Format,
}

const EXAMPLES: &str = "\
Examples:
  slipmark check
  slipmark check --gaps               # before a commit
  slipmark check --strict --notes     # everything there is to say
  slipmark check --format sarif > check.sarif   # beside the lines, in a review
  slipmark check --gaps --format junit > check.xml   # among the test reports
  slipmark explain no-plan-entry      # what a code means";

/// How findings are written.
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
    /// For programs that show findings beside the lines: SARIF 2.1.0.
    Sarif,
    /// For programs that show test reports: JUnit XML.
    Junit,
}

/// Prints the findings.
///
/// # Errors
/// If there is no project.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    answered::once(&("check", arguments), common, ui, Project::open_with_wording, |project, ui| {
        answer(arguments, project, ui)
    })
}

fn answer(arguments: &Arguments, project: &Project, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let all = project.analysis.findings.iter().chain(&project.guard()?.findings);
    let view = CheckView::of(all, &project.analysis.sources, &project.analysis.model.config, arguments.notes);
    let status = status(&view, arguments);
    match arguments.format {
        Format::Text => ui.text(&findings::check(&view, ui.width())),
        Format::Json => ui.bytes(json::render(&view)?.as_bytes()),
        Format::Markdown => ui.bytes(tables::markdown(&[tables::findings(&view.findings)]).as_bytes()),
        Format::Csv => ui.bytes(&tables::csv(&tables::findings(&view.findings))?),
        Format::Sarif => ui.bytes(sarif::render(&view, &project.prefix)?.as_bytes()),
        Format::Junit => ui.bytes(junit::render(&view, |class| fails(class, arguments)).as_bytes()),
    }
    Ok(status)
}

/// Decided from the counts, before anything is printed.
fn status(view: &CheckView, arguments: &Arguments) -> ExitStatus {
    let failed = Class::ALL.iter().any(|class| fails(*class, arguments) && view.count(*class) > 0);
    if failed { ExitStatus::Open } else { ExitStatus::Done }
}

/// Whether a finding of this class fails the run.
fn fails(class: Class, arguments: &Arguments) -> bool {
    match class {
        Class::Fault => true,
        Class::Gap => arguments.gaps,
        Class::Warning => arguments.strict,
        Class::Note => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::{self, Request};
    use crate::source::Memory;

    fn view(levels: &str, requirement: &str) -> CheckView {
        let files = Memory::new()
            .file("slipmark.toml", format!("name = \"x\"\nevents = [\"hot-fire\"]\n{levels}"))
            .file("a.md", format!("+++\nkind = \"requirement\"\nid = \"A-1\"\ntitle = \"x\"\n{requirement}+++\nThe stand shall hold.\n"));
        let request = Request { wording: true, ..Request::on(jiff::civil::date(2026, 6, 1)) };
        let analysis = analysis::run(&files, request).unwrap();
        CheckView::of(analysis.findings.iter(), &analysis.sources, &analysis.model.config, false)
    }

    fn exit(view: &CheckView, gaps: bool, strict: bool) -> ExitStatus {
        status(view, &Arguments { gaps, strict, notes: false, format: Format::Text })
    }

    #[test]
    fn what_fails_depends_on_the_class_that_is_shown() {
        let planned = "verify = [{ method = \"analysis\" }]\n";
        // One warning: neither parent nor source.
        let warned = view("", planned);
        assert_eq!((warned.count(Class::Warning), warned.count(Class::Gap), warned.count(Class::Fault)), (1, 0, 0));
        assert_eq!(exit(&warned, true, false), ExitStatus::Done);
        assert_eq!(exit(&warned, false, true), ExitStatus::Open);
        for level in ["off", "note"] {
            let quiet = view(&format!("[levels]\norphan-requirement = \"{level}\"\n"), planned);
            assert_eq!(exit(&quiet, true, true), ExitStatus::Done);
        }
        let gap = view("", "source = \"x\"\n");
        assert_eq!(exit(&gap, false, true), ExitStatus::Done);
        assert_eq!(exit(&gap, true, false), ExitStatus::Open);
        // A gap stays one whatever is written, and trying is a fault.
        let lowered = view("[levels]\nno-plan-entry = \"off\"\n", "source = \"x\"\n");
        assert_eq!((lowered.count(Class::Gap), lowered.count(Class::Fault)), (1, 1));
        assert_eq!(exit(&lowered, false, false), ExitStatus::Open);
    }

    #[test]
    fn notes_are_counted_and_not_listed_unless_asked_for() {
        let quiet = view("", "source = \"x\"\nverify = [{ method = \"analysis\" }]\n");
        assert!(quiet.count(Class::Note) > 0 && quiet.findings.is_empty());
        let text = findings::check(&quiet, 80);
        assert!(text.contains("No faults, no gaps, no warnings.") && text.contains("--notes lists them"), "{text}");
        let raised =
            view("[levels]\nno-rationale = \"warning\"\n", "source = \"x\"\nverify = [{ method = \"analysis\" }]\n");
        assert_eq!(raised.count(Class::Warning), 1);
    }
}
