//! The command line: arguments, terminal, environment, exit codes. The only module that knows any of them.
//!
//! In: the arguments. Out: bytes on the two streams and an [`ExitStatus`]. One file for each command under
//! [`commands`]: an argument struct, whose comments are the help, and a `run`. To add a command: a file there, and its
//! variant in [`commands::Command`].

mod answered;
pub mod args;
pub mod commands;
pub mod document;
mod error;
mod exit;
pub mod folder;
mod present;
mod project;
mod tip;
pub mod ui;
mod waiting;
mod write;

use commands::Command;

pub use error::CliError;
pub use exit::ExitStatus;
pub use project::{Again, Project};
pub use ui::Ui;
pub use write::{After, Change, UNFINISHED, begin_anew, staged, write_all};

/// Runs the program with these arguments, the first of which is its name.
pub fn run(arguments: impl IntoIterator<Item = std::ffi::OsString>) -> ExitStatus {
    let mut ui = Ui::new();
    let arguments = match args::Arguments::read(arguments, ui.width()) {
        Ok(arguments) => arguments,
        Err(error) => {
            let wrong = error.use_stderr();
            ui.clap_message(&error, wrong);
            let status = if wrong { ExitStatus::Failed } else { ExitStatus::Done };
            return ended(Ok(status), &mut ui);
        }
    };
    ui.wait();
    let result = match arguments.command {
        None | Some(Command::Before(_) | Command::Check(_) | Command::Matrix(_) | Command::Packet(_)) => {
            in_pool(|| commands::run(arguments, &mut ui))
        }
        _ => commands::run(arguments, &mut ui),
    };
    ended(result, &mut ui)
}

/// Runs what puts a large answer together on one of the threads that files are read on: there is room in its memory then, while that
/// of another thread would have to be fetched, page by page.
fn in_pool<R: Send>(work: impl FnOnce() -> R + Send) -> R {
    // As deep as that of a first thread.
    match rayon::ThreadPoolBuilder::new().stack_size(8 << 20).build_global() {
        Ok(()) => rayon::scope(|_| work()),
        // The system has no threads to give, or somebody else made the pool.
        Err(_) => work(),
    }
}

/// Says what went wrong, if anything did. An answer that could not be written is none.
fn ended(result: Result<ExitStatus, CliError>, ui: &mut Ui) -> ExitStatus {
    match result.and_then(|status| ui.all_written().map(|()| status)) {
        Ok(status) => status,
        Err(error) => {
            ui.error(&error);
            ExitStatus::Failed
        }
    }
}
