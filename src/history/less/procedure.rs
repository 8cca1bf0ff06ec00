//! Procedures: instruments that every run must name, what is read from them, and whether earlier runs count.

use crate::model::Id;
use crate::model::kinds::{Feed, Procedure, is_earlier_revision};

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
        for (feed, instrument) in read_from(old) {
            if !read_from(new).any(|other| other == (feed, instrument)) {
                list.say(id, format!("{} is no longer read from {instrument}", feed.show()));
            }
        }
        if new.earlier_runs_count && !old.earlier_runs_count {
            list.say(id, "earlier runs count now");
        }
        let revision = |it: &Procedure| it.revision.as_ref().map(|text| text.value.clone());
        // A revision written back makes runs of that revision count again.
        if let (Some(was), None) = (revision(old), revision(new)) {
            list.say(id, format!("has no revision any more (was {was})"));
        }
        if let (Some(was), Some(is)) = (revision(old), revision(new))
            && is_earlier_revision(&is, &was)
        {
            list.say(id, format!("revision {is} instead of {was}, which is earlier: runs of it count again"));
        }
        if old.status != new.status && new.status == crate::model::kinds::ProcedureStatus::Draft {
            list.say(id, format!("{} instead of {}", new.status.word(), old.status.word()));
        }
    }
}

/// What is read from which instrument, by what it is for: fields may be renamed.
fn read_from(procedure: &Procedure) -> impl Iterator<Item = (&Feed, &Id)> {
    procedure.all_fields().flat_map(|field| {
        let instrument = field.instrument.as_ref().map(|id| &id.value);
        instrument.into_iter().flat_map(|id| field.feeds.iter().map(move |feed| (&feed.value, id)))
    })
}
