//! Items and their pieces: what is on the stand, in which revision, and what was done to it.

use serde::Serialize;

use super::html::{Html, markdown};
use super::links::{Link, Linker, Scheme, anchor};
use crate::analysis::Analysis;
use crate::model::Id;
use crate::model::kinds::{AppliesTo, Item, KeepsEvidence, Serial};
use crate::text::Spanned;

/// An item.
#[derive(Debug, Serialize)]
pub(in crate::report) struct ItemPart {
    anchor: String,
    id: String,
    title: String,
    status: String,
    assembly: Option<Link>,
    fills: Option<Link>,
    revision: Option<String>,
    revisions: Vec<RevisionLine>,
    tags: Vec<String>,
    hazards: Vec<String>,
    serials: Vec<SerialLine>,
    requirements: Vec<Link>,
    records: Vec<Link>,
    notes: Html,
    file: Link,
}

#[derive(Debug, Serialize)]
struct RevisionLine {
    revision: String,
    date: Option<String>,
    keeps_all: bool,
    keeps: Vec<Link>,
    reason: Option<String>,
}

/// One piece.
#[derive(Debug, Serialize)]
pub(in crate::report) struct SerialLine {
    anchor: String,
    number: String,
    /// Where it has a page of its own.
    page: Option<String>,
    purpose: &'static str,
    scrapped: bool,
    revision: Option<String>,
    built: Option<String>,
    contains: Vec<Link>,
    reworked: Vec<ReworkLine>,
    records: Vec<Link>,
    at_event: bool,
}

#[derive(Debug, Serialize)]
struct ReworkLine {
    date: Option<String>,
    reason: Option<String>,
    all: bool,
    affects: Vec<Link>,
}

/// A slot.
#[derive(Debug, Serialize)]
pub(in crate::report) struct SlotPart {
    anchor: String,
    id: String,
    title: String,
    assembly: Option<Link>,
    options: Vec<(Link, &'static str)>,
    notes: Html,
    file: Link,
}

/// Every item, by id.
pub(in crate::report) fn items(analysis: &Analysis, linker: &Linker, event: usize) -> Vec<ItemPart> {
    (0..analysis.model.items.len()).map(|at| item(analysis, linker, at, event)).collect()
}

/// Every slot, by id.
pub(in crate::report) fn slots(analysis: &Analysis, linker: &Linker) -> Vec<SlotPart> {
    (0..analysis.model.slots.len()).map(|at| slot(analysis, linker, at)).collect()
}

/// One slot.
pub(in crate::report) fn slot(analysis: &Analysis, linker: &Linker, at: usize) -> SlotPart {
    let it = &analysis.model.slots[at];
    let id = &it.head.id.value;
    let options = analysis.model.items.iter().filter(|item| names(&item.fills).any(|slot| slot == id));
    SlotPart {
        anchor: anchor("slot", id),
        id: id.to_string(),
        title: it.head.title.clone(),
        assembly: it.assembly.as_ref().map(|above| linker.link(&above.value)),
        options: options.map(|item| (linker.link(&item.head.id.value), item.status.word())).collect(),
        notes: notes(analysis, linker, &it.head),
        file: linker.whole(analysis, it.head.file),
    }
}

fn names(id: &Option<Spanned<Id>>) -> impl Iterator<Item = &Id> {
    id.iter().map(|id| &id.value)
}

fn notes(analysis: &Analysis, linker: &Linker, head: &crate::model::kinds::Head) -> Html {
    markdown(analysis.sources.slice(head.body).trim(), analysis.path(head.file), linker)
}

/// One item, with its pieces.
pub(in crate::report) fn item(analysis: &Analysis, linker: &Linker, at: usize, event: usize) -> ItemPart {
    let (it, dropped) = (&analysis.model.items[at], analysis.graph.dropped[at]);
    let id = &it.head.id.value;
    let own = it.status.word();
    let records = analysis.model.records.iter().filter(|record| names(&record.item).any(|item| item == id));
    ItemPart {
        anchor: anchor("item", id),
        id: id.to_string(),
        title: it.head.title.clone(),
        status: if dropped && own != "dropped" { "in something dropped".into() } else { own.into() },
        assembly: it.assembly.as_ref().map(|above| linker.link(&above.value)),
        fills: it.fills.as_ref().map(|slot| linker.link(&slot.value)),
        revision: it.revision.as_ref().map(|text| text.value.clone()),
        revisions: it.revisions.iter().map(|own| revision(linker, own)).collect(),
        tags: it.tags.iter().map(|tag| tag.value.clone()).collect(),
        hazards: it.hazards.iter().map(|hazard| hazard.value.clone()).collect(),
        serials: it.serials.iter().map(|piece| serial(analysis, linker, it, piece, event)).collect(),
        requirements: linker.links(applying(analysis, it)),
        records: linker.links(records.map(|record| &record.head.id.value)),
        notes: notes(analysis, linker, &it.head),
        file: linker.whole(analysis, it.head.file),
    }
}

/// Requirements that apply to an item: by name, by its slot if it is the current option, or by tag.
fn applying<'a>(analysis: &'a Analysis, it: &Item) -> Vec<&'a Id> {
    let current = it.status == crate::model::kinds::ItemStatus::Current;
    let applies = |applies_to: &AppliesTo| match applies_to {
        AppliesTo::Project => false,
        AppliesTo::Named(ids) => ids
            .iter()
            .any(|id| id.value == it.head.id.value || (current && names(&it.fills).any(|slot| *slot == id.value))),
        AppliesTo::Tag(_) => crate::graph::tagged(&analysis.model, applies_to).contains(&&it.head.id.value),
    };
    let all = analysis.model.requirements.iter().filter(|own| applies(&own.applies_to));
    all.map(|own| &own.head.id.value).collect()
}

fn revision(linker: &Linker, it: &crate::model::kinds::Revision) -> RevisionLine {
    let (keeps_all, keeps) = match &it.keeps_evidence {
        KeepsEvidence::All => (true, Vec::new()),
        KeepsEvidence::Only(ids) => (false, linker.links(ids.iter().map(|id| &id.value))),
    };
    RevisionLine {
        revision: it.revision.value.clone(),
        date: it.date.as_ref().map(|date| date.text.clone()),
        keeps_all,
        keeps,
        reason: it.reason.clone(),
    }
}

/// One piece.
pub(in crate::report) fn serial(
    analysis: &Analysis,
    linker: &Linker,
    item: &Item,
    it: &Serial,
    event: usize,
) -> SerialLine {
    let id = item.serial_id(it);
    let on = analysis.model.records.iter().filter(|record| record.serials.iter().any(|own| own.value == id));
    let rework = |own: &crate::model::kinds::Rework| ReworkLine {
        date: own.date.as_ref().map(|date| date.text.clone()),
        reason: own.reason.clone(),
        all: own.affects.is_none(),
        affects: linker.links(own.affects.iter().flatten().map(|id| &id.value)),
    };
    SerialLine {
        anchor: anchor("serial", &id.to_string()),
        number: it.number.value.to_string(),
        page: linker.link(&id).href.filter(|_| linker.scheme() != Scheme::OnePage),
        purpose: it.purpose.word(),
        scrapped: it.scrapped,
        revision: it.revision.as_ref().or(item.revision.as_ref()).map(|text| text.value.clone()),
        built: it.built.as_ref().map(|date| date.text.clone()),
        contains: linker
            .links(it.contains.iter().filter(|inner| inner.is_in()).map(|inner| inner.serial.value.to_string())),
        reworked: it.reworked.iter().map(rework).collect(),
        records: linker.links(on.map(|record| &record.head.id.value)),
        at_event: analysis.model.config.events[event].serials.iter().any(|own| own.value == id),
    }
}
