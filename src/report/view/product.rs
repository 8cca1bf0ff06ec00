//! The product tree with where its parts stand: items in items, options in slots, pieces of items.

use std::collections::{BTreeMap, BTreeSet};

use crate::analysis::Analysis;
use crate::model::kinds::Serial;
use crate::model::{Id, Ref, SerialId};
use crate::state::State;

use super::RowView;

/// The most parts; a figure of more cannot be read.
const PARTS: usize = 60;

/// The product tree as an outline.
#[derive(Clone, Debug)]
pub struct ProductView {
    /// Its parts, each before what is in it.
    pub parts: Vec<PartView>,
    /// How many parts are left out.
    pub more: usize,
}

/// A line of the outline.
#[derive(Clone, Debug)]
pub struct PartView {
    /// How many parts it is in.
    pub depth: usize,
    /// project, item, slot or serial.
    pub kind: &'static str,
    /// Its id, or the number of a piece.
    pub name: String,
    /// Its title; of a piece what it is for, and what is in it.
    pub about: String,
    /// Whether nothing is asked of it any more: dropped, in something dropped, or scrapped.
    pub gone: bool,
    /// Rows due about it, and the open ones.
    pub due: usize,
    /// The open ones of these.
    pub open: usize,
    /// The worst state of these.
    pub worst: Option<State>,
}

/// Rows by what they are about: how many, how many open, the worst state.
type Stands<'v> = BTreeMap<&'v str, (usize, usize, State)>;

/// The product tree, with where some rows stand; `event` is the position of the one whose pieces are on the stand.
pub fn product(analysis: &Analysis, rows: &[RowView], event: usize) -> ProductView {
    let mut stands: Stands<'_> = BTreeMap::new();
    for row in rows {
        let own = stands.entry(row.subject.as_str()).or_insert((0, 0, row.state));
        *own = (own.0 + 1, own.1 + usize::from(row.state.is_open()), own.2.min(row.state));
    }
    let mut growing =
        Growing { analysis, stands, event, inside: inside(analysis), seen: BTreeSet::new(), parts: Vec::new() };
    growing.project();
    growing.grow();
    let more = growing.parts.len().saturating_sub(PARTS);
    growing.parts.truncate(PARTS);
    ProductView { parts: growing.parts, more }
}

/// What is in each item and slot, by id; what is in nothing that there is stands under nothing.
fn inside(analysis: &Analysis) -> BTreeMap<Option<&Id>, Vec<&Id>> {
    let model = &analysis.model;
    let known = |id: &&Id| matches!(model.find(id.as_str()), Some(Ref::Item(_) | Ref::Slot(_)));
    let mut inside: BTreeMap<Option<&Id>, Vec<&Id>> = BTreeMap::new();
    for slot in &model.slots {
        let above = slot.assembly.as_ref().map(|id| &id.value).filter(known);
        inside.entry(above).or_default().push(&slot.head.id.value);
    }
    for item in &model.items {
        let above = item.fills.as_ref().or(item.assembly.as_ref()).map(|id| &id.value).filter(known);
        inside.entry(above).or_default().push(&item.head.id.value);
    }
    inside
}

/// A tree while it grows.
struct Growing<'a> {
    analysis: &'a Analysis,
    stands: Stands<'a>,
    event: usize,
    inside: BTreeMap<Option<&'a Id>, Vec<&'a Id>>,
    seen: BTreeSet<&'a Id>,
    parts: Vec<PartView>,
}

impl<'a> Growing<'a> {
    /// What is asked of the project as a whole.
    fn project(&mut self) {
        if self.stands.contains_key("project") {
            let about = "as a whole".to_string();
            self.push((0, "project"), "project".into(), (about, false), "project");
        }
    }

    fn push(
        &mut self,
        (depth, kind): (usize, &'static str),
        name: String,
        (about, gone): (String, bool),
        subject: &str,
    ) {
        let stands = self.stands.get(subject).copied();
        let (due, open) = stands.map_or((0, 0), |(due, open, _)| (due, open));
        let worst = stands.map(|(_, _, worst)| worst);
        self.parts.push(PartView { depth, kind, name, about, gone, due, open, worst });
    }

    /// Everything that is in nothing, with what is in it; then what only circles lead to.
    fn grow(&mut self) {
        let mut waiting: Vec<(usize, &'a Id)> = Vec::new();
        let tops = self.inside.get(&None).cloned().unwrap_or_default();
        let all = self.inside.values().flatten().copied().collect::<Vec<_>>();
        for top in tops.into_iter().chain(all) {
            waiting.push((0, top));
            while let Some((depth, id)) = waiting.pop() {
                if self.seen.insert(id) {
                    self.part(depth, id);
                    let below = self.inside.get(&Some(id)).into_iter().flatten().rev();
                    waiting.extend(below.map(|own| (depth + 1, *own)));
                }
            }
        }
    }

    fn part(&mut self, depth: usize, id: &'a Id) {
        let model = &self.analysis.model;
        let at = match model.find(id.as_str()) {
            Some(Ref::Item(at)) => at,
            Some(Ref::Slot(at)) => {
                let title = model.slots[at].head.title.clone();
                return self.push((depth, "slot"), id.to_string(), (title, false), id.as_str());
            }
            _ => return,
        };
        let item = &model.items[at];
        let gone = self.analysis.graph.dropped[at];
        let status = if item.fills.is_some() || gone { format!(", {}", item.status.word()) } else { String::new() };
        self.push((depth, "item"), id.to_string(), (format!("{}{status}", item.head.title), gone), id.as_str());
        for piece in &item.serials {
            let serial = SerialId { item: id.clone(), number: piece.number.value.clone() };
            let scrapped = self.analysis.graph.scrapped.contains(&serial);
            let about = self.about(piece, &serial, scrapped);
            let name = piece.number.value.to_string();
            self.push((depth + 1, "serial"), name, (about, gone || scrapped), &serial.to_string());
        }
    }

    fn about(&self, piece: &Serial, serial: &SerialId, scrapped: bool) -> String {
        let mut words = vec![piece.purpose.word().to_string()];
        let there = &self.analysis.model.config.events[self.event].serials;
        if there.iter().any(|own| own.value == *serial) {
            words.push("on the stand".into());
        }
        if scrapped {
            words.push("scrapped".into());
        }
        let inner: Vec<String> =
            piece.contains.iter().filter(|own| own.is_in()).map(|own| own.serial.value.to_string()).collect();
        if !inner.is_empty() {
            words.push(format!("holds {}", inner.join(", ")));
        }
        words.join(", ")
    }
}
