//! The list of checks.

use super::{Check, rules};

/// Every check, by the name of its file.
pub const CHECKS: &[Check] = &[rules::results::CHECK];
