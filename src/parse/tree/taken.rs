//! A tree taken over from the library's.

use toml::de::{DeTable, DeValue};

use super::{Array, Entry, Form, Key, Node, Place, Table, Value};

impl<'t> From<DeTable<'t>> for Table<'t> {
    fn from(table: DeTable<'t>) -> Table<'t> {
        let entries = table.into_iter().map(|(key, value)| Entry {
            key: Key { place: Place::new(key.span()), text: key.into_inner() },
            node: Node { place: Place::new(value.span()), value: value.into_inner().into() },
        });
        let mut entries: Vec<Entry<'t>> = entries.collect();
        // The library's order is one of its features, which another crate can change.
        entries.sort_by(|one, other| one.key.text.cmp(&other.key.text));
        Table { entries, form: Form::Headed }
    }
}

impl<'t> From<DeValue<'t>> for Value<'t> {
    fn from(value: DeValue<'t>) -> Value<'t> {
        match value {
            DeValue::String(text) => Value::String(text),
            DeValue::Integer(number) => Value::Integer(number.as_str().to_string().into(), number.radix()),
            DeValue::Float(number) => Value::Float(number.as_str().to_string().into()),
            DeValue::Boolean(flag) => Value::Boolean(flag),
            DeValue::Datetime(date) => Value::Datetime(date),
            DeValue::Array(array) => {
                let nodes = array.into_iter();
                let nodes = nodes
                    .map(|node| Node { place: Place::new(node.span()), value: node.into_inner().into() })
                    .collect();
                Value::Array(Array { nodes, headed: false })
            }
            DeValue::Table(table) => Value::Table(table.into()),
        }
    }
}
