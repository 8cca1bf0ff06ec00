//! The SHA-256 that a packet carries of itself.
//!
//! The hash is of every byte of the file, its own 64 digits taken as zeros. A page has it in a comment behind its end, a workbook in the
//! comment of the archive that it is.

use sha2::{Digest, Sha256};

use crate::analysis::hex;

/// What stands before the digits.
const LABEL: &str = "SHA-256 of this file, with zeros for these digits: ";

/// How many digits there are.
const DIGITS: usize = 64;

/// How near to the end of the file it stands, in bytes.
const NEAR_END: usize = 512;

/// Puts the hash of an archive into its comment.
pub(in crate::report) fn into_archive(zip: &mut Vec<u8>) {
    let comment = format!("slipmark packet\n{LABEL}{}\n", "0".repeat(DIGITS));
    // The archive ends with a record of 22 bytes, the last two of which say how long the comment behind it is (APPNOTE.TXT 4.3.16).
    let length = u16::try_from(comment.len()).unwrap_or(0).to_le_bytes();
    if let Some(end) = zip.last_chunk_mut::<2>() {
        *end = length;
    }
    zip.extend_from_slice(comment.as_bytes());
    stamp(zip);
}

/// Writes the hash over the zeros.
fn stamp(bytes: &mut [u8]) {
    if let Some(place) = digits(bytes) {
        let hash = hash(bytes, place.clone());
        bytes[place].copy_from_slice(hash.as_bytes());
    }
}

/// Whether the end of a file holds such a hash.
pub(in crate::report) fn is_stamped(end: &[u8]) -> bool {
    digits(end).is_some()
}

/// Where the digits stand.
fn digits(bytes: &[u8]) -> Option<std::ops::Range<usize>> {
    let from = bytes.len().saturating_sub(NEAR_END);
    let label = memchr::memmem::rfind(bytes.get(from..)?, LABEL.as_bytes())?;
    let start = from + label + LABEL.len();
    let all = bytes.get(start..start + DIGITS)?;
    all.iter().all(u8::is_ascii_hexdigit).then_some(start..start + DIGITS)
}

/// The hash of everything, with zeros at one place.
fn hash(bytes: &[u8], zeros: std::ops::Range<usize>) -> String {
    let mut sum = Sha256::new();
    sum.update(&bytes[..zeros.start]);
    sum.update("0".repeat(zeros.len()));
    sum.update(&bytes[zeros.end..]);
    hex(&sum.finalize())
}
