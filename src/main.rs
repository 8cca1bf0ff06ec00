//! The program: arguments in, an exit code out.

use std::process::ExitCode;

/// Tens of thousands of small files make millions of short texts on several threads at once; the system's allocator spends
/// a third of the run on them.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    slipmark::cli::run(std::env::args_os()).into()
}
