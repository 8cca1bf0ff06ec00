//! Templates of the project that take the place of none, or that cannot be used.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings, Place};
use crate::source::PROJECT_FILE;
use crate::templates::{our, ours};
use crate::text::{RepoPath, nearest};

/// The check.
pub const CHECK: Check = Check { name: "templates", codes: &["template-broken", "unknown-template"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let templates = subject.templates;
    let named = subject.facts.model.config.templates.as_ref();
    if let (Some(why), Some(named)) = (templates.no_folder(), named) {
        let help = format!(
            "name a folder below the one of {PROJECT_FILE}, or take `templates` out; slipmark templates --write DIR fills one"
        );
        findings.push(Finding::at("unknown-template", named.span, why.to_string()).help(help));
    }
    for path in templates.unknown() {
        findings.push(
            Finding::new(
                "unknown-template",
                Place::Path(path.clone()),
                format!("{path} takes the place of no template"),
            )
            .help(meant(path)),
        );
    }
    for wrong in templates.wrong() {
        let at = wrong.at.map_or(String::new(), |at| format!("line {}, column {}: ", at.line, at.column));
        let text = format!("no page can be set with it: {at}{}", wrong.message);
        findings.push(Finding::new("template-broken", Place::Path(wrong.path), text).help(wrong.help));
    }
}

/// What was probably meant.
fn meant(path: &RepoPath) -> String {
    // Below which folder names begin is known where one fits; else the last two parts of the path are compared.
    let parts: Vec<&str> = path.as_str().split('/').collect();
    let tails = (1..=2.min(parts.len())).rev().map(|count| parts[parts.len() - count..].join("/"));
    let known = || ours().iter().filter(|own| own.may_be_replaced()).map(|own| own.name);
    let tails: Vec<String> = tails.collect();
    if let Some(fixed) = tails.iter().find_map(|tail| our(tail)).filter(|own| !own.may_be_replaced()) {
        return format!("take it away: {} stays slipmark's own", fixed.name);
    }
    let near = tails.iter().find_map(|tail| nearest(tail, known()));
    let list = "`slipmark templates` lists the names";
    near.map_or_else(|| format!("take it away or rename it; {list}"), |near| format!("did you mean {near}? {list}"))
}
