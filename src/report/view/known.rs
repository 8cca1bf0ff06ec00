//! What is known of pieces and should be before they are used: open nonconformances against them, and their limited life.

use serde::Serialize;

use crate::analysis::Analysis;
use crate::model::kinds::Procedure;
use crate::model::{Id, SerialId};
use crate::state::applies::{Subject, open_against};
use crate::state::standing::nonconformance_due;

use super::{LifeView, lives};

/// An open nonconformance, or a limited life.
#[derive(Clone, Debug, Serialize)]
pub struct KnownView {
    /// The id, or the piece and the name of its budget.
    pub name: String,
    /// Title and what it is against; or `limited life`.
    pub what: String,
    /// How it stands today.
    pub today: String,
    /// Whether it is as it should be: a life that lasts.
    pub holds: bool,
}

/// The open nonconformances against pieces, what is in them or their items; without a piece against an item, or the project.
pub(super) fn nonconformances(analysis: &Analysis, pieces: &[SerialId], item: Option<&Id>) -> Vec<KnownView> {
    let subject = Subject { serials: pieces.iter().collect(), item };
    let model = &analysis.model;
    let open = open_against(&analysis.facts(), &subject).into_iter().map(|(at, lacks)| {
        let it = &model.nonconformances[at];
        let against: Vec<&str> = it.against.iter().map(|target| target.value.as_str()).collect();
        let due = model.config.events.get(nonconformance_due(model, it)).map(|event| &event.name.value);
        let due = due.map(|event| format!("; due before {event}")).unwrap_or_default();
        KnownView {
            name: it.head.id.value.to_string(),
            what: format!("{}; against {}", it.head.title, against.join(", ")),
            today: format!("{lacks}{due}"),
            holds: false,
        }
    });
    open.collect()
}

/// The limited lives of pieces that are wanted.
pub(super) fn limited(
    analysis: &Analysis,
    pieces: &[SerialId],
    wanted: impl Fn(&LifeView) -> bool,
) -> impl Iterator<Item = KnownView> {
    let own = lives(analysis, |piece| pieces.contains(piece)).into_iter();
    let wanted: Vec<LifeView> = own.filter(wanted).collect();
    wanted.into_iter().map(|life| KnownView {
        name: format!("{} {}", life.piece, life.name),
        what: "limited life".into(),
        holds: life.outlook == "lasts" && !life.is_spent,
        today: life.text,
    })
}

/// Whether a run of a procedure says what it uses of a life.
pub(super) fn is_used(procedure: &Procedure, life: &LifeView) -> bool {
    procedure.uses.iter().any(|name| name.value == life.name)
}
