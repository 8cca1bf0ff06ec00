//! `history` for a terminal.

use crate::report::style::{BAD, GOOD, NAME, OFF, QUIET, STRONG, WARN, columns};
use crate::report::view::{EventStateView, HistoryView, RevisionSlipped, RevisionView, RevisionsView};

use super::before::colour;
use super::changes::{self, direction, reworded, short};
use super::wrap;

/// Columns before the details of a revision.
const INDENT: usize = 5;

/// How one thing came to read as it does, oldest first.
pub fn render(view: &HistoryView, width: usize) -> String {
    let mut text = String::new();
    thing(&mut text, &view.thing, width);
    if let Some(states) = &view.states {
        text.push_str(&format!("\n{}\n", wrap(&format!("state now: {}", in_words(states)), width, 0, 2)));
    }
    if let Some(change) = &view.uncommitted {
        text.push_str(&format!("\n{WARN}Not committed yet:{OFF}\n{}", changes::one(change, width)));
    }
    text
}

fn thing(text: &mut String, thing: &RevisionsView, width: usize) {
    let safety = if thing.safety { "[safety] " } else { "" };
    let lead = format!("{STRONG}{}{OFF} {safety}", thing.id);
    let title = format!("{} ({})", thing.title, thing.kind);
    text.push_str(&format!("{lead}{}\n", wrap(&title, width, columns(&lead), 2)));
    if !thing.replaced_by.is_empty() {
        text.push_str(&format!("{}\n", wrap(&format!("replaced by {}", thing.replaced_by.join(", ")), width, 0, 2)));
    }
    for it in &thing.revisions {
        text.push('\n');
        revision(text, it, width);
    }
    for earlier in &thing.replaces {
        text.push_str(&format!("\n{QUIET}{} replaces:{OFF}\n", thing.id));
        self::thing(text, earlier, width);
    }
}

fn revision(text: &mut String, revision: &RevisionView, width: usize) {
    let lead = format!("{:>3}. {STRONG}{}{OFF} {} ", revision.number, revision.change, revision.date);
    let summary = format!("{} {QUIET}({}){OFF}", revision.summary, short(&revision.oid));
    text.push_str(&format!("{lead}{}\n", wrap(&summary, width, columns(&lead), INDENT)));
    let mut line = |words: &str| {
        text.push_str(&format!("{}{}\n", " ".repeat(INDENT), wrap(words, width, INDENT, INDENT + 2)));
    };
    if let Some(statement) = &revision.reworded {
        line(&reworded(statement));
    }
    revision.criteria.iter().for_each(|criterion| line(&direction(criterion)));
    revision.details.iter().for_each(|words| line(words));
    if !revision.decisions.is_empty() {
        line(&format!("{NAME}decided{OFF}: {}", revision.decisions.join(", ")));
    }
    if let Some(edited) = &revision.edited {
        line(&match &edited.reason {
            Some(reason) => {
                format!("{WARN}changed after it was signed{OFF} with {}; signed again by {reason}", edited.seal)
            }
            None => format!("{BAD}changed after it was signed{OFF} with {}, and it does not say why", edited.seal),
        });
    }
    if let Some(mark) = &revision.mark {
        line(&format!("{QUIET}mark {mark}{OFF}"));
    }
    for evidence in &revision.evidence {
        let by = evidence.by.as_ref().map(|by| format!(" by {by}")).unwrap_or_default();
        let date = evidence.date.as_ref().map(|date| format!(" {date}")).unwrap_or_default();
        line(&format!("evidence: {STRONG}{}{OFF} {}{date}{by}", evidence.record, evidence.how));
    }
    if let Some(RevisionSlipped { records, judged_against }) = &revision.slipped {
        let records = records.join(", ");
        line(&format!("{WARN}slipped{OFF}: {records}, judged against the text of revision {judged_against}"));
    }
    if let Some(states) = &revision.states {
        line(&format!("state then: {}", in_words(states)));
    }
}

/// `slipped before cold-flow, closed before cold-shock`.
fn in_words(states: &[EventStateView]) -> String {
    let one = |it: &EventStateView| {
        let mark = if it.state.is_open() { colour(it.state) } else { GOOD };
        format!("{mark}{}{OFF} before {}", it.state.word(), it.before)
    };
    match states {
        [] => "nothing was asked".into(),
        states => states.iter().map(one).collect::<Vec<_>>().join(", "),
    }
}
