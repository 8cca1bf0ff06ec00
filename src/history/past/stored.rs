//! The ledger as bytes, to be kept between runs.

use foldhash::{HashMap, HashMapExt};

use crate::git::Oid;
use crate::kept::{Taker, Writer};
use crate::model::Id;
use crate::text::RepoPath;

use super::events::{Event, Happened};
use super::ledger::{Ledger, Node};
use super::things::{Sort, Standing, Thing};

const STANDINGS: [Standing; 5] =
    [Standing::Draft, Standing::Withdrawn, Standing::Unsettled, Standing::Guarded, Standing::Failed];
const HAPPENED: [Happened; 3] = [Happened::Left, Happened::Came, Happened::Loosened];

/// As bytes.
pub(super) fn write(ledger: &Ledger) -> Vec<u8> {
    let mut out = Writer::default();
    let mut folders: Vec<&str> = ledger.places.iter().map(|(_, folder)| folder.as_str()).collect();
    folders.sort_unstable();
    folders.dedup();
    out.number(folders.len());
    folders.iter().for_each(|folder| out.text(folder));
    out.number(ledger.nodes.len());
    for (at, ((oid, folder), node)) in ledger.places.iter().zip(&ledger.nodes).enumerate() {
        out.bytes(oid.as_bytes());
        out.number(folders.binary_search(&folder.as_str()).unwrap_or_default());
        out.number(node.parents.len());
        node.parents.iter().for_each(|parent| out.number(at - parent));
        out.number(node.nested.len());
        node.nested.iter().for_each(|nested| out.text(nested));
        out.number(node.twins.len());
        node.twins.iter().for_each(|twin| out.text(twin));
        out.number(node.events.len());
        node.events.iter().for_each(|event| put_event(&mut out, event));
    }
    let mut carried: Vec<(&Oid, &Thing)> = ledger.carried.iter().collect();
    carried.sort_unstable_by_key(|(oid, _)| **oid);
    out.number(carried.len());
    for (oid, thing) in carried {
        out.bytes(oid.as_bytes());
        put_thing(&mut out, thing);
    }
    out.finish()
}

fn put_event(out: &mut Writer, event: &Event) {
    out.number(HAPPENED.iter().position(|own| *own == event.happened).unwrap_or_default());
    out.number(event.parent);
    out.text(event.path.as_str());
    put_thing(out, &event.thing);
}

fn put_thing(out: &mut Writer, thing: &Thing) {
    out.text(&thing.id);
    out.number(thing.sort.0);
    out.number(STANDINGS.iter().position(|own| *own == thing.standing).unwrap_or_default());
    out.number(thing.replaces.len());
    thing.replaces.iter().for_each(|id| out.text(id));
}

/// From bytes; none if they are anything else.
pub(super) fn read(bytes: &[u8]) -> Option<Ledger> {
    let mut from = Taker::new(bytes);
    let folders: Option<Vec<&str>> = (0..from.count()?).map(|_| from.text()).collect();
    let folders = folders?;
    let count = from.count()?;
    let mut places = Vec::with_capacity(count);
    let mut nodes = Vec::with_capacity(count);
    for at in 0..count {
        let oid = take_oid(&mut from)?;
        places.push((oid, folders.get(from.number()?)?.to_string()));
        let parents: Option<Vec<usize>> = (0..from.count()?)
            .map(|_| from.number().filter(|back| *back > 0).and_then(|back| at.checked_sub(back)))
            .collect();
        let nested: Option<Vec<String>> = (0..from.count()?).map(|_| from.text().map(str::to_string)).collect();
        let twins: Option<Vec<String>> = (0..from.count()?).map(|_| from.text().map(str::to_string)).collect();
        let events: Option<Vec<Event>> = (0..from.count()?).map(|_| take_event(&mut from)).collect();
        nodes.push(Node { parents: parents?, nested: nested?, twins: twins?, events: events? });
    }
    let mut carried = HashMap::new();
    for _ in 0..from.count()? {
        carried.insert(take_oid(&mut from)?, take_thing(&mut from)?);
    }
    from.is_done().then(|| Ledger::new(places, nodes, carried))
}

fn take_oid(from: &mut Taker<'_>) -> Option<Oid> {
    Oid::from_bytes(from.bytes(20)?)
}

fn take_event(from: &mut Taker<'_>) -> Option<Event> {
    let happened = *HAPPENED.get(from.number()?)?;
    let parent = from.number()?;
    let path = RepoPath::new(from.text()?);
    Some(Event { happened, parent, path, thing: take_thing(from)? })
}

fn take_thing(from: &mut Taker<'_>) -> Option<Thing> {
    let id = Id::new(from.text()?);
    let sort = Sort::numbered(from.number()?)?;
    let standing = *STANDINGS.get(from.number()?)?;
    let replaces: Option<Vec<Id>> = (0..from.count()?).map(|_| from.text().map(Id::new)).collect();
    Some(Thing { id, sort, standing, replaces: replaces? })
}
