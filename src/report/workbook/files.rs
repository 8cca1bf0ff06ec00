//! The sheet of files: every file that the packet rests on, with its hashes.

use crate::report::packet::Manifest;

use super::FILES;
use super::grid::{Cell, Sheet, columns};

/// Every file of the project, in the order of the manifest.
pub(super) fn files(manifest: &Manifest) -> Sheet {
    let about = format!(
        "Every file of the project; SHA-256 of the list, as lines of SHA-256, two spaces and path: {}",
        manifest.digest
    );
    let heads = columns([("file", 60), ("SHA-256", 66), ("git blob id", 42), ("tracked", 9), ("trouble", 40)]);
    let mut sheet = Sheet::new(FILES, about, (1, 3), heads);
    sheet.lines = manifest
        .files
        .iter()
        .map(|file| {
            vec![
                Cell::text(&file.path),
                Cell::maybe(file.sha256.as_deref()),
                Cell::maybe(file.blob.as_deref()),
                Cell::yes(file.tracked),
                Cell::maybe(file.trouble.as_deref()),
            ]
        })
        .collect();
    sheet
}
