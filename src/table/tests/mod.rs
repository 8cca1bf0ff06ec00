//! Tables as people and loggers write them, and what is made of them.

mod conditions;
mod curves;
mod hostile;
mod reading;
mod reducing;

use super::*;

/// A table that reads.
fn table(text: &str) -> Table {
    Table::read(text.as_bytes()).unwrap_or_else(|errors| panic!("{errors:#?}"))
}

/// The errors of a text, as `line:column message / help`.
fn errors(text: &[u8]) -> Vec<String> {
    let errors = Table::read(text).expect_err("it does not read");
    errors.into_iter().map(|e| format!("{}:{} {} / {}", e.line, e.column, e.message, e.help)).collect()
}

/// A reduction of a column.
fn of(column: &str, reduce: Reduce) -> Reduction {
    Reduction { column: Some(column.to_owned()), ..Reduction::new(reduce) }
}
