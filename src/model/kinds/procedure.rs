//! Procedures: how evidence is made.

use crate::text::Spanned;

use super::shared::word_of;
use super::{Entity, Head, Raw};
use crate::id::Id;

/// How a test, inspection or demonstration is carried out.
#[derive(Clone, Debug)]
pub struct Procedure {
    /// Id, title and place.
    pub head: Head,
    /// Its revision.
    pub revision: Option<Spanned<String>>,
    /// Draft or released.
    pub status: ProcedureStatus,
    /// What it is for.
    pub item: Option<Spanned<Id>>,
    /// Instruments that every run must name.
    pub instruments: Vec<Spanned<Id>>,
    /// Whether runs of earlier revisions count.
    pub earlier_runs_count: bool,
    /// Why they do or do not.
    pub reason: Option<String>,
}

/// Whether a procedure may be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProcedureStatus {
    /// Being written.
    Draft,
    /// Released for use.
    Released,
}

const STATUSES: &[(&str, ProcedureStatus)] =
    &[("draft", ProcedureStatus::Draft), ("released", ProcedureStatus::Released)];

impl ProcedureStatus {
    /// The word in files.
    pub fn word(self) -> &'static str {
        word_of(STATUSES, self)
    }
}

/// Reads a procedure.
pub fn read(raw: Raw<'_>) -> Entity {
    let Raw { reader, head, .. } = raw;
    if !reader.has("revision") {
        reader.missing("revision");
    }
    let earlier = reader.choice("earlier_runs", &[("count", true), ("do not count", false)]);
    let reason = reader.text("reason").map(|text| text.value);
    if let (Some(Spanned { value: true, span }), None) = (&earlier, &reason) {
        reader.report(
            crate::diag::Finding::at(
                "earlier-runs-without-reason",
                *span,
                "earlier runs are said to count, without a reason",
            )
            .help("add reason = \"…\": what changed, and why runs of the earlier revision are still good"),
        );
    }
    let procedure = Procedure {
        revision: reader.scalar("revision").map(|text| Spanned::new(text.value.text().to_string(), text.span)),
        status: reader.choice("status", STATUSES).map_or(ProcedureStatus::Draft, |word| word.value),
        item: reader.id("item"),
        instruments: reader.ids("instruments"),
        earlier_runs_count: earlier.is_some_and(|word| word.value) && reason.is_some(),
        reason,
        head,
    };
    reader.finish(&[]);
    Entity::Procedure(Box::new(procedure))
}
