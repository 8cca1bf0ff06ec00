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

    /// What it keeps, in words.
    pub fn says(&self) -> String {
        let ids: Vec<&str> = self.ids().iter().map(|id| id.as_str()).collect();
        match self {
            KeepsEvidence::All => "keeps all earlier evidence".to_string(),
            KeepsEvidence::Only(ids) if ids.is_empty() => "keeps no earlier evidence".to_string(),
            KeepsEvidence::Only(_) => format!("keeps evidence of {}", ids.join(", ")),
        }
    }

    /// Whether it keeps what the other does not.
    pub fn keeps_more_than(&self, other: &KeepsEvidence) -> bool {
        match (other, self) {
            (KeepsEvidence::All, _) => false,
            (KeepsEvidence::Only(_), KeepsEvidence::All) => true,
            (KeepsEvidence::Only(old), KeepsEvidence::Only(new)) => {
                new.iter().any(|id| old.iter().all(|other| other.value != id.value))
            }
        }
    }

    /// The ids that it names.
    pub fn ids(&self) -> &[Spanned<Id>] {
        match self {
            KeepsEvidence::All => &[],
            KeepsEvidence::Only(ids) => ids,
        }
    }
}
