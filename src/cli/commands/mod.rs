//! The commands: one file each.

mod aftermath;
mod before;
mod calc;
mod changes;
mod check;
mod concepts;
mod demo;
mod explain;
mod fill;
mod history;
mod impact;
mod init;
mod mark;
mod matrix;
mod new;
mod packet;
mod run_of;
mod sheet;
mod show;
mod sign;
mod templates;
mod to_commit;
mod trend;
mod verify;
mod view;
pub mod working;

use clap::Subcommand;

use crate::report::style::{NAME, OFF, QUIET, STRONG};

use super::args::{Arguments, Common};
use super::{CliError, ExitStatus, Ui};

/// Every command; the comment of its arguments is its help.
#[derive(Debug, Subcommand)]
#[allow(missing_docs, reason = "a comment here would take the place of the help")]
pub enum Command {
    Before(before::Arguments),
    Check(check::Arguments),
    Show(show::Arguments),
    New(new::Arguments),
    Sheet(sheet::Arguments),
    Fill(fill::Arguments),
    Sign(sign::Arguments),
    Mark(mark::Arguments),
    Matrix(matrix::Arguments),
    Changes(changes::Arguments),
    History(history::Arguments),
    Trend(trend::Arguments),
    Packet(packet::Arguments),
    View(view::Arguments),
    Concepts(concepts::Arguments),
    Impact(impact::Arguments),
    Init(init::Arguments),
    Demo(demo::Arguments),
    Calc(calc::Arguments),
    Explain(explain::Arguments),
    Templates(templates::Arguments),
}

/// Runs a command.
///
/// # Errors
/// If no answer can be made.
pub fn run(arguments: Arguments, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let common = &arguments.common;
    match &arguments.command {
        None => before::run(&before::Arguments::default(), common, ui),
        Some(Command::Before(own)) => before::run(own, common, ui),
        Some(Command::Check(own)) => check::run(own, common, ui),
        Some(Command::Show(own)) => show::run(own, common, ui),
        Some(Command::New(own)) => new::run(own, common, ui),
        Some(Command::Sheet(own)) => sheet::run(own, common, ui),
        Some(Command::Fill(own)) => fill::run(own, common, ui),
        Some(Command::Sign(own)) => sign::run(own, common, ui),
        Some(Command::Mark(own)) => mark::run(own, common, ui),
        Some(Command::Init(own)) => no_project("init", common).and_then(|()| init::run(own, ui)),
        Some(Command::Demo(own)) => no_project("demo", common).and_then(|()| demo::run(own, ui)),
        Some(Command::Calc(own)) => calc::run(own, common, ui),
        Some(Command::Explain(own)) => explain::run(own, ui),
        Some(Command::Templates(own)) => templates::run(own, ui),
        Some(Command::Matrix(own)) => matrix::run(own, common, ui),
        Some(Command::Changes(own)) => changes::run(own, common, ui),
        Some(Command::History(own)) => history::run(own, common, ui),
        Some(Command::Trend(own)) => trend::run(own, common, ui),
        Some(Command::Concepts(own)) => concepts::run(own, common, ui),
        Some(Command::Impact(own)) => impact::run(own, common, ui),
        Some(Command::Packet(own)) => packet::run(own, common, ui),
        Some(Command::View(own)) => view::run(own, common, ui),
    }
}

/// Commands that lead on from here, each with why.
fn to_try_next(commands: &[(String, &str)]) -> String {
    let mut text = format!("\n{STRONG}To try next{OFF}\n");
    for (command, why) in commands {
        text.push_str(&format!("  {NAME}{command}{OFF}\n"));
        if !why.is_empty() {
            text.push_str(&format!("      {QUIET}{why}{OFF}\n"));
        }
    }
    text
}

/// A command that makes a project is told where by its own argument; anything else would end up in the wrong place.
fn no_project(command: &str, common: &Common) -> Result<(), CliError> {
    if common.project.is_some() {
        let help = format!("name the folder itself: slipmark {command} DIR");
        return Err(CliError::refused(format!("{command} takes no --project"), help));
    }
    if common.at.is_some() {
        return Err(CliError::refused(format!("{command} takes no --at"), format!("type: slipmark {command} DIR")));
    }
    Ok(())
}
