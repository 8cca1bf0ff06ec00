//! Open rows put together by what somebody looks for: a procedure, a piece, an item, a person, an event.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::id::SerialId;

use super::{BeforeView, RowView};

/// By what open rows are put together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GroupBy {
    /// The procedure, or else the method.
    Procedure,
    /// The piece.
    Serial,
    /// The item, its pieces with it.
    Item,
    /// Who answers for the requirement.
    Owner,
    /// The event before which it is due.
    Event,
}

impl GroupBy {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            GroupBy::Procedure => "procedure",
            GroupBy::Serial => "serial",
            GroupBy::Item => "item",
            GroupBy::Owner => "owner",
            GroupBy::Event => "event",
        }
    }
}

/// Open rows that belong together.
#[derive(Clone, Debug, Serialize)]
pub struct GroupView {
    /// The procedure, piece, item, owner or event; what is said where there is none.
    pub name: String,
    /// Where the rows stand in the list of rows, from 0.
    pub rows: Vec<usize>,
}

impl BeforeView {
    /// Puts the open rows that are listed together.
    pub fn group(&mut self, by: GroupBy) {
        let mut groups: BTreeMap<(usize, String), Vec<usize>> = BTreeMap::new();
        for (at, row) in self.rows.iter().enumerate().filter(|(_, row)| row.state.is_open()) {
            groups.entry(name(row, by)).or_default().push(at);
        }
        self.by = Some(by.word());
        self.groups = groups.into_iter().map(|((_, name), rows)| GroupView { name, rows }).collect();
    }
}

/// The name of a row's group, after its place among the groups: events as they happen, the nameless last.
pub(in crate::report) fn name(row: &RowView, by: GroupBy) -> (usize, String) {
    let named = |name: Option<String>, none: &str| match name {
        Some(name) => (0, name),
        None => (usize::MAX, none.to_string()),
    };
    match by {
        GroupBy::Procedure => named(row.procedure.clone(), &format!("no procedure: {}", row.how())),
        GroupBy::Serial => named(SerialId::parse(&row.subject).map(|serial| serial.to_string()), "no piece"),
        GroupBy::Item => match SerialId::parse(&row.subject) {
            Some(serial) => (0, serial.item.to_string()),
            None => (0, row.subject.clone()),
        },
        GroupBy::Owner => named(row.owner.clone(), "no owner"),
        GroupBy::Event => (row.event, row.before.clone().unwrap_or_default()),
    }
}
