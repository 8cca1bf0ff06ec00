//! The sheet of pieces: every serial, in which revision, what is in it, what was done to it, and what is left of its life.

use crate::analysis::Analysis;
use crate::model::SerialId;
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
    for (at, item) in analysis.model.items.iter().enumerate() {
        for piece in &item.serials {
            let id = SerialId { item: item.head.id.value.clone(), number: piece.number.value.clone() };
            sheet.call(id.to_string());
            let dropped = analysis.graph.dropped.get(at).copied().unwrap_or(false);
            sheet.lines.push(line(analysis, item, dropped, piece, (&id, event)));
        }
    }
    sheet
}

fn line(analysis: &Analysis, item: &Item, dropped: bool, it: &Serial, (id, event): (&SerialId, usize)) -> Vec<Cell> {
    let model = &analysis.model;
    let at_event = model.config.events.get(event).is_some_and(|own| own.serials.iter().any(|own| own.value == *id));
    let on = model.records.iter().filter(|record| record.serials.iter().any(|own| own.value == *id));
    let records: Vec<String> = on.map(|record| record.head.id.value.to_string()).collect();
    let inside = it.contains.iter().filter(|own| own.is_in()).map(|own| own.serial.value.to_string());
    let last = it.reworked.iter().filter_map(|own| own.date.as_ref()).max_by_key(|date| date.in_lists());
    let life = lives(analysis, |piece| piece == id).into_iter().map(|life| format!("{}: {}", life.name, life.text));
    let status = if dropped { "dropped" } else { item.status.word() };
    vec![
        Cell::text(id.to_string()),
        Cell::text(&item.head.title),
        Cell::text(status),
        Cell::text(it.purpose.word()),
        Cell::maybe(it.revision.as_ref().or(item.revision.as_ref()).map(|text| text.value.as_str())),
        Cell::day(it.built.as_ref()),
        Cell::yes(it.scrapped),
        Cell::yes(at_event),
        Cell::text(inside.collect::<Vec<_>>().join("\n")),
        Cell::text(it.reworked.iter().map(rework).collect::<Vec<_>>().join("\n")),
        Cell::day(last),
        Cell::text(life.collect::<Vec<_>>().join("\n")),
        Cell::text(records.join("\n")),
        Cell::Link("rows".into(), MATRIX, subject_place(&id.to_string())),
    ]
}

fn rework(it: &Rework) -> String {
    let date = it.date.as_ref().map_or("no date", |date| date.text.as_str());
    format!("{date}: {}", it.reason.as_deref().unwrap_or("no reason given"))
}
