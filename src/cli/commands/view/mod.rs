//! `slipmark view`.

mod answer;
mod between;
mod live;
mod sign;
mod told;
mod watching;
mod what_if;

use std::sync::Arc;

use clap::Args;

use crate::cli::args::Common;
use crate::cli::{CliError, ExitStatus, Ui};
use crate::report::style::{NAME, OFF};
use crate::serve::Server;

use live::Live;

/// The project as pages in a browser, on this machine, that follow the files.
///
/// The pages are those of a review, and besides rows by state, method or owner, changes between any two commits, and every
/// requirement as it read before. They are made anew when a file or the repository changes. Nobody else can read them over a
/// network; whoever can log in to this machine can. Nothing is written. It runs until it is stopped (Ctrl-C).
#[derive(Args, Debug)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// The port to listen on [default: any that is free]
    #[arg(long, value_name = "N", default_value_t = 0, hide_default_value = true)]
    pub port: u16,
    /// Show it in the browser
    #[arg(long)]
    pub open: bool,
}

const EXAMPLES: &str = "\
Examples:
  slipmark view --open
  slipmark view --port 4000      # always at the same address
  slipmark view --at TRR-1       # as it was at the review";

/// Listens until it is stopped.
///
/// # Errors
/// If there is no project, or the port cannot be had.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let (live, news) = Live::start(common)?;
    let server = Server::bind(arguments.port).map_err(|error| {
        let help = "leave out --port to take any that is free";
        CliError::refused(format!("cannot listen on port {}: {error}", arguments.port), help)
    })?;
    let address = format!("http://{}/", server.address());
    ui.text(&format!("{NAME}{address}{OFF}\n"));
    ui.aside("only this machine can read it; Ctrl-C stops it");
    if arguments.open && !is_shown(&address) {
        ui.aside("no browser could be started here; open the address yourself");
    }
    server.run(Arc::new(live), news);
    Ok(ExitStatus::Done)
}

/// Has the system show an address; whether it could be asked to.
fn is_shown(address: &str) -> bool {
    let (program, before): (&str, &[&str]) = match std::env::consts::OS {
        "macos" => ("open", &[]),
        "windows" => ("cmd", &["/C", "start", ""]),
        _ => ("xdg-open", &[]),
    };
    let mut command = std::process::Command::new(program);
    command.args(before).arg(address).stdin(std::process::Stdio::null());
    command.stdout(std::process::Stdio::null()).stderr(std::process::Stdio::null()).spawn().is_ok()
}
