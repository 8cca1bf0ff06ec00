//! The sheet of pieces: every serial, in which revision, what is in it, what was done to it, and what is left of its life.

use std::collections::{BTreeMap, BTreeSet};

use crate::analysis::Analysis;
use crate::model::kinds::{Item, Rework, Serial};
use crate::report::view::lives;

use super::grid::{Cell, Sheet, columns};
use super::rows::subject_place;
use super::{MATRIX, SERIALS};

/// Every piece, by item and in the order of its file.
pub(super) fn serials(analysis: &Analysis, event: usize) -> Sheet {
    let columns = columns([
        ("serial", 20),
        ("item", 30),
        ("item status", 14),
        ("use", 14),
        ("revision", 12),
        ("built", 12),
        ("scrapped", 10),
        ("at the event", 10),
        ("contains", 24),
        ("reworked", 40),
        ("last rework", 12),
        ("life", 50),
        ("records", 24),
        ("rows", 10),
    ]);
    let mut sheet = Sheet::new(SERIALS, "Every piece: revision, contents, rework, life and records", (1, 13), columns);
    let known = Known::of(analysis, event);
    for (at, item) in analysis.model.items.iter().enumerate() {
        for piece in &item.serials {
            let id = item.serial_id(piece);
            sheet.call(id.to_string());
            let dropped = analysis.graph.dropped.get(at).copied().unwrap_or(false);
            sheet.lines.push(line(&known, item, dropped, piece, &id.to_string()));
        }
    }
    sheet
}

/// What is known of pieces elsewhere than in their items, by piece.
struct Known {
    records: BTreeMap<String, Vec<String>>,
    lives: BTreeMap<String, Vec<String>>,
    at_event: BTreeSet<String>,
}

impl Known {
    fn of(analysis: &Analysis, event: usize) -> Known {
        let mut known = Known { records: BTreeMap::new(), lives: BTreeMap::new(), at_event: BTreeSet::new() };
        for record in &analysis.model.records {
            for serial in &record.serials {
                known.records.entry(serial.value.to_string()).or_default().push(record.head.id.value.to_string());
            }
        }
        for life in lives(analysis, |_| true) {
            known.lives.entry(life.piece).or_default().push(format!("{}: {}", life.name, life.text));
        }
        let event = analysis.model.config.events.get(event);
        known.at_event.extend(event.iter().flat_map(|own| &own.serials).map(|own| own.value.to_string()));
        known
    }
}

fn line(known: &Known, item: &Item, dropped: bool, it: &Serial, id: &str) -> Vec<Cell> {
    let listed = |list: Option<&Vec<String>>| list.map_or(Cell::Nothing, |list| Cell::text(list.join("\n")));
    let inside = it.contains.iter().filter(|own| own.is_in()).map(|own| own.serial.value.to_string());
    let last = it.reworked.iter().filter_map(|own| own.date.as_ref()).max_by_key(|date| date.in_lists());
    let status = if dropped { "dropped" } else { item.status.word() };
    vec![
        Cell::text(id),
        Cell::text(&item.head.title),
        Cell::text(status),
        Cell::text(it.purpose.word()),
        Cell::maybe(it.revision.as_ref().or(item.revision.as_ref()).map(|text| text.value.as_str())),
        Cell::day(it.built.as_ref()),
        Cell::yes(it.scrapped),
        Cell::yes(known.at_event.contains(id)),
        Cell::text(inside.collect::<Vec<_>>().join("\n")),
        Cell::text(it.reworked.iter().map(rework).collect::<Vec<_>>().join("\n")),
        Cell::day(last),
        listed(known.lives.get(id)),
        listed(known.records.get(id)),
        Cell::Link("rows".into(), MATRIX, subject_place(id)),
    ]
}

fn rework(it: &Rework) -> String {
    let date = it.date.as_ref().map_or("no date", |date| date.text.as_str());
    format!("{date}: {}", it.reason.as_deref().unwrap_or("no reason given"))
}
