//! The commands: one file each.

mod before;
mod check;
mod matrix;
mod packet;

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
    /// Requirement by requirement: method, piece, result, margin, state
    Matrix(matrix::Arguments),
    /// The document for the review board
    Packet(packet::Arguments),
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
        Some(Command::Matrix(own)) => matrix::run(own, common, ui),
        Some(Command::Packet(own)) => packet::run(own, common, ui),
    }
}
