//! Reads the text of a table.
use super::{Table, TableError};

pub(super) fn read(bytes: &[u8]) -> Result<Table, Vec<TableError>> {
    let _ = bytes;
    Err(vec![TableError { line: 1, column: 1, message: String::new(), help: String::new() }])
}
