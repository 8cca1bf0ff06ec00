//! Unpacked objects that others may be packed as differences to.

use std::sync::{Mutex, PoisonError};

use foldhash::HashMap;

use super::{Object, Sort};

/// So many bytes of them are remembered, of each pack.
const MOST_BYTES: usize = 32 << 20;
/// Parts with a lock each, so that threads seldom wait for each other.
const PARTS: usize = 16;
/// One of more bytes is not remembered.
const LARGEST: usize = MOST_BYTES / PARTS / 8;

/// By where their entries begin.
#[derive(Default)]
pub(super) struct Bases([Mutex<Part>; PARTS]);

#[derive(Default)]
struct Part {
    held: HashMap<u64, (Object, u32)>,
    bytes: usize,
}

impl Bases {
    /// One with the check sum of its entry.
    pub(super) fn get(&self, at: u64) -> Option<(Object, u32)> {
        let part = self.part(at)?.lock().unwrap_or_else(PoisonError::into_inner);
        part.held.get(&at).cloned()
    }

    /// Remembers one. `alone`: it was asked for itself and is no difference; of these only folders have others that hang from them as
    /// a rule.
    pub(super) fn put(&self, at: u64, object: &Object, crc: u32, alone: bool) {
        if (alone && object.sort != Sort::Tree) || object.bytes.len() > LARGEST {
            return;
        }
        let Some(part) = self.part(at) else { return };
        let mut part = part.lock().unwrap_or_else(PoisonError::into_inner);
        if part.bytes + object.bytes.len() > MOST_BYTES / PARTS {
            *part = Part::default();
        }
        part.bytes += object.bytes.len();
        part.held.insert(at, (object.clone(), crc));
    }

    fn part(&self, at: u64) -> Option<&Mutex<Part>> {
        self.0.get((at % PARTS as u64) as usize)
    }
}
