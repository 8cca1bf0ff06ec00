//! Whether a record could close an open row as things are.

use super::applies::{Subject as On, is_departed};
use super::scope::choices;
use super::{EntryRef, Facts, Row, Subject};
use crate::model::Id;

/// Whether a record that meets everything would close an open row by itself: newer evidence lifts every reason, what it is read
/// with is calibrated, and no open nonconformance would make it void on all that it could be made on.
///
/// It is told from the reasons, so that it can be said of every row. What the order of records tells by supposing them is the same,
/// but for limits that no result could meet.
pub fn is_closable(facts: &Facts<'_>, row: &Row) -> bool {
    let open = row.criteria.iter().filter(|criterion| criterion.state.is_open());
    open.flat_map(|criterion| &criterion.reasons).all(|reason| reason.newer_evidence_lifts())
        && is_free(facts, row)
        && can_be_read(facts, row)
}

/// Whether every instrument that the planned procedure asks for has a calibration in force today.
fn can_be_read(facts: &Facts<'_>, row: &Row) -> bool {
    let EntryRef::Plan(entry) = row.entry else { return true };
    let planned = facts.model.requirements[row.requirement].plan.get(entry);
    let procedure = planned.and_then(|entry| facts.model.procedure(&entry.procedure.as_ref()?.value));
    let asked = procedure.iter().flat_map(|procedure| &procedure.instruments);
    let instrument = |id: &Id| facts.model.instruments.get(id);
    asked.filter_map(|id| instrument(&id.value)).all(|own| own.calibrated_on(facts.today))
}

/// Whether there is something to make the record on that no open nonconformance for the requirement is against.
fn is_free(facts: &Facts<'_>, row: &Row) -> bool {
    let requirement = facts.model.requirements[row.requirement].head.id.as_str();
    let free = |on: On<'_>| !is_departed(facts, requirement, &on);
    match &row.subject {
        Subject::Project => free(On { serials: Vec::new(), item: None }),
        Subject::Serial(piece) => free(On { serials: vec![piece], item: None }),
        Subject::Item(id) => {
            let pieces =
                facts.model.item(id).map(|item| choices(facts, item, row.stage, row.event)).unwrap_or_default();
            match pieces.is_empty() {
                true => free(On { serials: Vec::new(), item: Some(id) }),
                false => pieces.iter().any(|piece| free(On { serials: vec![piece], item: None })),
            }
        }
    }
}
