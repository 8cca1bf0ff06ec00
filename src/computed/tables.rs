//! The attached tables that calculations and reductions use.

use std::sync::Arc;

use foldhash::{HashMap, HashMapExt};
use rayon::prelude::*;

use crate::model::Model;
use crate::model::kinds::{Record, ResultText};
use crate::table::Table;
use crate::text::FileId;

/// The tables of a project, by the file of the record and the name that it has there.
#[derive(Clone, Debug, Default)]
pub struct Tables(HashMap<(FileId, String), Read>);

/// A table, or why it cannot be used: what was found, and what to type.
pub type Read = Result<Arc<Table>, (String, String)>;

impl Tables {
    /// Reads every table that is [`wanted`]; `read` gives the bytes of a file beside the record that stands in another.
    pub fn read(
        wanted: Vec<(FileId, String)>,
        read: impl Fn(FileId, &str) -> Result<Vec<u8>, String> + Sync,
    ) -> Tables {
        let one = |(file, name): (FileId, String)| {
            let table = read(file, &name).map_err(|why| (format!("{name}: {why}"), "attach the file".to_string()));
            let table = table.and_then(|bytes| table_of(&name, &bytes));
            ((file, name), table)
        };
        Tables(wanted.into_par_iter().map(one).collect::<Vec<_>>().into_iter().collect())
    }

    /// The table that a record names.
    pub fn get(&self, record: &Record, name: &str) -> Read {
        if let Some(read) = self.0.get(&(record.head.file, name.to_string())) {
            return read.clone();
        }
        let near = crate::parse::nearest(name, record.data.iter().map(|own| own.file.value.as_str()));
        let help = match near {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => format!("add it, so that a change of it shows: [[data]] with file = \"{name}\""),
        };
        Err((format!("\"{name}\" is not among the data of {}", record.head.id.value), help))
    }
}

fn table_of(name: &str, bytes: &[u8]) -> Read {
    Table::read(bytes).map(Arc::new).map_err(|errors| {
        let more = errors.len().saturating_sub(1);
        let more = if more == 0 { String::new() } else { format!(" (and {more} more)") };
        match errors.into_iter().next() {
            Some(first) => {
                (format!("{name}, line {}, column {}: {}{more}", first.line, first.column, first.message), first.help)
            }
            None => (format!("{name} cannot be read"), "correct the file".to_string()),
        }
    })
}

/// The attached files that have to be read: those that a reduction names, and those whose names stand in a calculation.
pub fn wanted(model: &Model) -> Vec<(FileId, String)> {
    let mut wanted = HashMap::new();
    for record in &model.records {
        for attachment in &record.data {
            let name = &attachment.file.value;
            let used = record.calculation.as_ref().is_some_and(|own| own.text.contains(name.as_str()));
            if used || reduces(record, name) {
                wanted.insert((record.head.file, name.clone()), ());
            }
        }
    }
    wanted.into_keys().collect()
}

fn reduces(record: &Record, name: &str) -> bool {
    let results = record.verifies.iter().flat_map(|own| own.result.iter().chain(own.results.iter().map(|(_, it)| it)));
    results.into_iter().any(|result| matches!(&result.value, ResultText::Reduction(own) if own.file.value == name))
}
