//! Findings for a terminal.

use crate::report::style::{BAD, NAME, OFF, QUIET, STRONG, WARN};
use crate::report::view::FindingView;

use super::wrap;

/// One finding: place, class and code, what was found, what to type next.
pub fn one(finding: &FindingView, width: usize) -> String {
    let colour = match finding.class {
        "fault" => BAD,
        "gap" | "warning" => WARN,
        _ => QUIET,
    };
    let message = wrap(&finding.message, width, 2, 2);
    let help = wrap(&finding.help, width, 6, 6);
    format!(
        "{STRONG}{}{OFF}: {colour}{}{OFF} {QUIET}[{}]{OFF}\n  {message}\n  {NAME}do{OFF}: {help}\n",
        finding.place(),
        finding.class,
        finding.code
    )
}
