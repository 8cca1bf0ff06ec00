//! Procedures: instruments that every run must name, and whether earlier runs count.

use super::List;

/// Compares every procedure that differs.
pub(super) fn compare(list: &mut List<'_, '_>) {
    let then = list.then;
    for old in &then.part.procedures {
        let id = &old.head.id.value;
        let Some(new) = list.now.procedure(id) else {
            list.say(id, "the procedure is gone");
            continue;
        };
        for instrument in &old.instruments {
            if new.instruments.iter().all(|other| other.value != instrument.value) {
                list.say(id, format!("no longer asks for instrument {}", instrument.value));
            }
        }
        for name in old.uses.iter().filter(|name| new.uses.iter().all(|other| other.value != name.value)) {
            list.say(id, format!("its runs need no longer say how much {} they use", name.value));
        }
        if new.earlier_runs_count && !old.earlier_runs_count {
            list.say(id, "earlier runs count now");
        }
        let revision = |it: &crate::model::kinds::Procedure| it.revision.as_ref().map(|text| text.value.clone());
        // A revision written back makes runs of that revision count again.
        if let (Some(was), None) = (revision(old), revision(new)) {
            list.say(id, format!("has no revision any more (was {was})"));
        }
        if old.status != new.status && new.status == crate::model::kinds::ProcedureStatus::Draft {
            list.say(id, format!("{} instead of {}", new.status.word(), old.status.word()));
        }
    }
}
