//! What evidence stands in spite of what happened.

use crate::id::Id;
use crate::parse::Reader;
use crate::text::Spanned;

/// Which earlier evidence a change, or an instrument that was found out of tolerance, leaves standing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum KeepsEvidence {
    /// All of it.
    All,
    /// That for these requirements, or these records.
    Only(Vec<Spanned<Id>>),
}

impl KeepsEvidence {
    /// None of it.
    pub const NONE: KeepsEvidence = KeepsEvidence::Only(Vec::new());

    /// Reads the key `keeps_evidence`: "all" or ids; without the key nothing is kept.
    pub fn read(table: &Reader<'_>) -> KeepsEvidence {
        let keeps = table.list("keeps_evidence");
        match keeps.as_slice() {
            [only] if only.value == "all" => KeepsEvidence::All,
            _ => KeepsEvidence::Only(
                keeps.into_iter().map(|text| Spanned::new(Id::new(&text.value), text.span)).collect(),
            ),
        }
    }

    /// Whether evidence from this record for this requirement stands.
    pub fn keeps(&self, requirement: &str, record: &str) -> bool {
        self == &KeepsEvidence::All || self.ids().iter().any(|id| id.as_str() == requirement || id.as_str() == record)
    }

    /// The ids that it names.
    pub fn ids(&self) -> &[Spanned<Id>] {
        match self {
            KeepsEvidence::All => &[],
            KeepsEvidence::Only(ids) => ids,
        }
    }
}
