//! Exit codes.

use std::process::ExitCode;

/// How a run ended. Decided from data before anything is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ExitStatus {
    /// 0: done; for `before`, nothing is open; for `check`, nothing at the failing level.
    Done,
    /// 1: an answer was made, and something is open or wrong.
    Open,
    /// 2: no answer could be made.
    Failed,
}

impl From<ExitStatus> for ExitCode {
    fn from(status: ExitStatus) -> ExitCode {
        match status {
            ExitStatus::Done => ExitCode::from(0),
            ExitStatus::Open => ExitCode::from(1),
            ExitStatus::Failed => ExitCode::from(2),
        }
    }
}
