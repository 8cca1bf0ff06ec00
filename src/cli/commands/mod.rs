//! The commands: one file each.

mod aftermath;
mod before;
mod changes;
mod check;
mod concepts;
mod demo;
mod explain;
mod history;
mod init;
mod mark;
mod matrix;
mod new;
mod packet;
mod show;
mod sign;

use clap::Subcommand;

use super::args::Arguments;
use super::{CliError, ExitStatus, Ui};

/// Every command.
#[derive(Debug, Subcommand)]
#[command(subcommand_help_heading = "Commands")]
pub enum Command {
    /// What is open before an event, worst first, and what closes it
    Before(before::Arguments),
    /// Faults, gaps, orphans and wording
    Check(check::Arguments),
    /// One thing: what it says, what hangs from it, where it stands
    Show(show::Arguments),
    /// A new file of any kind, filled in as far as is known
    New(new::Arguments),
    /// Stand by a record: complete it, write marks, outcome and seal
    Sign(sign::Arguments),
    /// The requirement was reworded, I looked, this evidence still stands
    Mark(mark::Arguments),
    /// Requirement by requirement: method, piece, result, margin, state
    Matrix(matrix::Arguments),
    /// What changed between two commits, and what evidence it undid
    Changes(changes::Arguments),
    /// How one requirement came to read like this
    History(history::Arguments),
    /// The document for the review board
    Packet(packet::Arguments),
    /// The options of a slot side by side, against everything that is asked of them
    Concepts(concepts::Arguments),
    /// A new project here
    Init(init::Arguments),
    /// The example project, as a repository to look around in
    Demo(demo::Arguments),
    /// What a code, state or word means
    Explain(explain::Arguments),
}

/// Runs a command.
///
/// # Errors
/// If no answer can be made.
pub fn run(arguments: Arguments, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let common = &arguments.common;
    match &arguments.command {
        None => before::next(common, ui),
        Some(Command::Before(own)) => before::run(own, common, ui),
        Some(Command::Check(own)) => check::run(own, common, ui),
        Some(Command::Show(own)) => show::run(own, common, ui),
        Some(Command::New(own)) => new::run(own, common, ui),
        Some(Command::Sign(own)) => sign::run(own, common, ui),
        Some(Command::Mark(own)) => mark::run(own, common, ui),
        Some(Command::Init(own)) => init::run(own, ui),
        Some(Command::Demo(own)) => demo::run(own, ui),
        Some(Command::Explain(own)) => explain::run(own, ui),
        Some(Command::Matrix(own)) => matrix::run(own, common, ui),
        Some(Command::Changes(own)) => changes::run(own, common, ui),
        Some(Command::History(own)) => history::run(own, common, ui),
        Some(Command::Concepts(own)) => concepts::run(own, common, ui),
        Some(Command::Packet(own)) => packet::run(own, common, ui),
    }
}
