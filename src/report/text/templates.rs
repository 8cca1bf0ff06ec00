//! The list of templates for a terminal.

use crate::report::style::{NAME, OFF, QUIET, columns};
use crate::report::view::TemplatesView;

use super::{pad, wrap};

/// Columns for a name.
const NAMES: usize = 30;

/// Every name with what it lays out, and the names that it uses.
pub fn all(view: &TemplatesView, width: usize) -> String {
    let mut text = String::new();
    for own in &view.templates {
        let lead = format!("{NAME}{}{OFF} ", pad(own.name, NAMES - 1));
        text.push_str(&format!("{lead}{}\n", wrap(own.about, width, columns(&lead), NAMES)));
        if !own.uses.is_empty() {
            let uses = format!("uses: {}", own.uses.join(", "));
            text.push_str(&format!("{}{QUIET}{}{OFF}\n", " ".repeat(NAMES), wrap(&uses, width, NAMES, NAMES)));
        }
    }
    let more =
        "slipmark templates NAME prints one, --write DIR copies it; slipmark explain templates says how one is used.";
    text.push_str(&format!("\n{}\n", wrap(more, width, 0, 0)));
    text
}
