//! Decisions against the product tree as it stands.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::Id;
use crate::model::kinds::{Decision, DecisionStatus, Item, ItemStatus};
use crate::text::{Span, Spanned};

/// The check.
pub const CHECK: Check = Check { name: "decisions", codes: &["decision-not-carried-out"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let accepted: Vec<&Decision> =
        subject.facts.model.decisions.iter().filter(|it| it.status == DecisionStatus::Accepted).collect();
    for item in &subject.facts.model.items {
        let Some((decision, decided, span)) = newest(&accepted, item) else { continue };
        if item.status == decided {
            continue;
        }
        let (id, word) = (&item.head.id, decided.word());
        let text =
            format!("{} is {}, and {} decided that it is {word}", id.value, item.status.word(), decision.head.id.value);
        findings.push(
            Finding::at("decision-not-carried-out", id.span, text)
                .also(span, "decided here")
                .help(format!("set status = \"{word}\", or write the decision that changed it")),
        );
    }
}

/// The newest decision about an item, what it makes of it, and where; none if two of the same date differ.
fn newest<'d>(decisions: &[&'d Decision], item: &Item) -> Option<(&'d Decision, ItemStatus, Span)> {
    let names = |list: &[Spanned<Id>]| list.iter().find(|id| id.value == item.head.id.value).map(|id| id.span);
    let about = decisions.iter().filter_map(|decision| {
        let date = decision.date.as_ref()?.value.date;
        let dropped = names(&decision.drops).map(|span| (ItemStatus::Dropped, span));
        let (status, span) = dropped.or(names(&decision.selects).map(|span| (ItemStatus::Current, span)))?;
        Some((date, *decision, status, span))
    });
    let about: Vec<_> = about.collect();
    let last = about.iter().map(|(date, ..)| *date).max()?;
    let mut latest = about.into_iter().filter(|(date, ..)| *date == last);
    let (_, decision, status, span) = latest.next()?;
    latest.all(|(_, _, other, _)| other == status).then_some((decision, status, span))
}
