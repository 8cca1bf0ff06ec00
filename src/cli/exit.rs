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

impl ExitStatus {
    /// A number for an answer that was made.
    pub(super) fn as_answer(self) -> Option<usize> {
        match self {
            ExitStatus::Done => Some(0),
            ExitStatus::Open => Some(1),
            ExitStatus::Failed => None,
        }
    }

    /// The answer's status by that number.
    pub(super) fn of_answer(number: usize) -> Option<ExitStatus> {
        [ExitStatus::Done, ExitStatus::Open].get(number).copied()
    }
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
