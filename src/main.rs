//! The program: arguments in, an exit code out.

use std::process::ExitCode;

fn main() -> ExitCode {
    slipmark::cli::run(std::env::args_os()).into()
}
