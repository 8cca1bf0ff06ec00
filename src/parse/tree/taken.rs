//! A tree taken over from the library's.

use std::ops::Range;

use toml::de::{DeTable, DeValue};

use super::{Array, Entry, Form, Key, Node, Place, Table, Value};

/// How deep tables and lists may nest. The library takes some thousands, by long keys in tables in tables, and whoever goes through
/// those needs a stack that not every thread has.
pub(super) const DEEPEST: usize = 160;

/// Takes a table over, and says where what nests too deep and is left out begins, if there is any.
pub(super) fn table(table: DeTable<'_>) -> (Table<'_>, Option<Range<usize>>) {
    let mut taking = Taking { depth: 0, too_deep: None };
    (taking.table(table), taking.too_deep)
}

struct Taking {
    depth: usize,
    too_deep: Option<Range<usize>>,
}

impl Taking {
    fn table<'t>(&mut self, table: DeTable<'t>) -> Table<'t> {
        let mut entries: Vec<Entry<'t>> = Vec::with_capacity(table.len());
        for (key, value) in table {
            let key = Key { place: Place::new(key.span()), text: key.into_inner() };
            let place = value.span();
            entries.extend(self.node(place, value.into_inner()).map(|node| Entry { key, node }));
        }
        // The library's order is one of its features, which another crate can change.
        entries.sort_by(|one, other| one.key.text.cmp(&other.key.text));
        Table { entries, form: Form::Headed }
    }

    fn node<'t>(&mut self, place: Range<usize>, value: DeValue<'t>) -> Option<Node<'t>> {
        if self.depth == DEEPEST {
            self.too_deep.get_or_insert(place);
            let_go(value);
            return None;
        }
        self.depth += 1;
        let value = self.value(value);
        self.depth -= 1;
        Some(Node { value, place: Place::new(place) })
    }

    fn value<'t>(&mut self, value: DeValue<'t>) -> Value<'t> {
        match value {
            DeValue::String(text) => Value::String(text),
            DeValue::Integer(number) => Value::Integer(number.as_str().to_string().into(), number.radix()),
            DeValue::Float(number) => Value::Float(number.as_str().to_string().into()),
            DeValue::Boolean(flag) => Value::Boolean(flag),
            DeValue::Datetime(date) => Value::Datetime(date),
            DeValue::Array(array) => {
                let nodes = array.into_iter().filter_map(|node| self.node(node.span(), node.into_inner()));
                Value::Array(Array { nodes: nodes.collect(), headed: false })
            }
            DeValue::Table(table) => Value::Table(self.table(table)),
        }
    }
}

/// Drops a value level by level: to drop it in one would take as deep a stack as to follow it.
fn let_go(value: DeValue<'_>) {
    let mut rest = vec![value];
    while let Some(value) = rest.pop() {
        match value {
            DeValue::Table(table) => rest.extend(table.into_iter().map(|(_, value)| value.into_inner())),
            DeValue::Array(array) => rest.extend(array.into_iter().map(|value| value.into_inner())),
            _ => {}
        }
    }
}
