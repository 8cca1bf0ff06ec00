//! Nonconformances and waivers that do not do what they seem to do.

use std::collections::BTreeSet;

use crate::check::{self, Check};
use crate::diag::{Finding, Findings};
use crate::model::kinds::requirement::show_limits;
use crate::model::kinds::{
    NonconformanceStatus, Relief, Requirement, RequirementStatus, SerialUse, Waiver, WaiverStatus,
};
use crate::model::{Ref, SerialId};
use crate::state::relief::{has_end, reaches_row, scope_of};
use crate::state::standing::{is_approved, is_moot, item_dropped, why_not_closed};
use crate::state::{Facts, Subject, of_requirement};
use crate::text::Spanned;

/// The check.
pub const CHECK: Check = Check {
    name: "departures",
    codes: &["closed-in-name-only", "waiver-covers-nothing", "waiver-incomplete", "waiver-slipped"],
    run,
};

fn run(subject: &check::Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    for it in facts.model.nonconformances.iter().filter(|it| it.status == NonconformanceStatus::Closed) {
        let id = &it.head.id;
        if let (Some(why), false) = (why_not_closed(facts, it, None), is_moot(facts, it)) {
            let text = format!("{} is set to closed and counts as open: {why}", id.value);
            findings.push(Finding::at("closed-in-name-only", id.span, text));
        }
    }
    for it in facts.model.waivers.iter().filter(|it| it.status == WaiverStatus::Approved) {
        let id = &it.head.id;
        let missing = [
            ("approved_by", it.approved_by.is_none()),
            ("approved", it.approved.is_none()),
            ("before or expires", !has_end(it)),
        ];
        let missing: Vec<&str> = missing.into_iter().filter_map(|(key, missing)| missing.then_some(key)).collect();
        if !missing.is_empty() {
            let text = format!("{} is set to approved and has no {}", id.value, missing.join(" and no "));
            findings.push(Finding::at("waiver-incomplete", id.span, text));
        }
        let requirement = it.requirement.as_ref().and_then(|id| facts.model.requirement(&id.value));
        let (Some(requirement), Some(mark)) = (requirement, &it.mark) else { continue };
        if requirement.status != RequirementStatus::Withdrawn && mark.value != requirement.mark {
            let own = &requirement.head.id;
            let text = format!("{} was written for another text of {} and covers nothing now", id.value, own.value);
            findings.push(Finding::at("waiver-slipped", mark.span, text).also(own.span, "its mark has moved").help(
                format!(
                    "read both texts; if it still holds, set mark = \"{}\" and approve it again, else withdraw it",
                    requirement.mark
                ),
            ));
        } else if requirement.status != RequirementStatus::Withdrawn && is_approved(facts, it) && has_end(it) {
            findings.extend(out_of_scope(facts, it, requirement));
            findings.extend(it.accepts.iter().filter_map(|own| cannot_accept(facts, it, requirement, own)));
        }
    }
}

/// A waiver for something that its requirement, which is open, is not shown on.
fn out_of_scope(facts: &Facts<'_>, it: &Waiver, requirement: &Requirement) -> Option<Finding> {
    let id = &requirement.head.id.value;
    let Some(Ref::Requirement(at)) = facts.model.find(id) else { return None };
    let rows = of_requirement(facts, at);
    let reached = rows.iter().any(|row| reaches_row(facts, it, row));
    let expired = it.expires.as_ref().is_some_and(|expires| expires.date < facts.today);
    if requirement.by_children_at.is_some() || reached || expired || is_out_of_use(facts, it) {
        return None;
    }
    let open: BTreeSet<String> =
        rows.iter().filter(|row| row.state.is_open()).map(|row| row.subject.to_string()).collect();
    let on = open.into_iter().collect::<Vec<_>>().join(", ");
    let (own, span) = (&it.head.id.value, it.serials.first().map_or(it.head.id.span, |serial| serial.span));
    let text = format!("{own} is for {}, and {id} is open on {on}: it covers nothing", scope_of(it));
    let help = match rows.iter().find(|row| row.state.is_open())?.subject.clone() {
        Subject::Project => "leave out serials and item, if it is accepted there; else withdraw it".to_string(),
        Subject::Item(item) => {
            format!("write item = \"{item}\" in place of serials, if it is accepted there; else withdraw it")
        }
        Subject::Serial(piece) => format!("write serials = [\"{piece}\"], if it is accepted there; else withdraw it"),
    };
    Some(Finding::at("waiver-covers-nothing", span, text).help(help))
}

/// Whether all that a waiver names has been scrapped, dropped or laid up: what it was for is no matter any more.
fn is_out_of_use(facts: &Facts<'_>, it: &Waiver) -> bool {
    let out = |piece: &SerialId| {
        let known = facts.model.serial(piece);
        item_dropped(facts, &piece.item)
            || known.is_some_and(|(_, own)| own.scrapped || own.purpose == SerialUse::Spare)
    };
    match &it.item {
        Some(item) => item_dropped(facts, &item.value),
        None => !it.serials.is_empty() && it.serials.iter().all(|piece| out(&piece.value)),
    }
}

/// What a waiver accepts, where no result could be held against it.
fn cannot_accept(
    facts: &Facts<'_>,
    it: &Waiver,
    requirement: &Requirement,
    (name, relief): &(Spanned<String>, Relief),
) -> Option<Finding> {
    let (Relief::Limits { min, max }, id) = (relief, &requirement.head.id.value) else { return None };
    let criterion = requirement.criteria.iter().find(|own| own.name == name.value)?;
    let (own_min, own_max) = criterion.expects.ends();
    let own = own_min.or(own_max)?.quantity()?;
    let limits = [min, max].into_iter().flatten();
    let wrong = limits.filter_map(|limit| {
        let error = limit.quantity()?.compare(own, facts.model.config.ambient.as_ref()).err()?;
        let text = format!(
            "{} accepts {} for {} of {id}, which asks for {}: {}; it covers nothing",
            it.head.id.value,
            show_limits(min.as_ref(), max.as_ref()),
            name.value,
            criterion.show(),
            error.message
        );
        let help = format!("write what is accepted in {}, as the limit is", own.unit.symbol);
        Some(Finding::at("waiver-covers-nothing", limit.text.span, text).help(help))
    });
    wrong.into_iter().next()
}
