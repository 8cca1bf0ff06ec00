//! How large a packed object is.
//!
//! The library tells it by way of every object that this one is packed as a difference to, which takes longer than to read it. The
//! size that reading will take room for stands in the object's own entry: in its header, or at the start of the difference.
//!
//! This only ever spares a question. Where anything is not as usual (other object stores, an index over several packs, an object that
//! stands by itself too, one that is listed twice), nothing is told, and the library is asked.
//! Sources: gitformat-pack(5), "pack-*.pack files have the following format", "Deltified representation", "pack-*.idx files".

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use flate2::{Decompress, FlushDecompress};

use super::Oid;

/// Indexes of more bytes than this are left to the library.
const LARGEST_INDEX: u64 = 64 << 20;
/// As much of an entry as is looked at: its header, what it is a difference to, and how the difference begins.
const LOOK: usize = 96;

/// The packs of a repository.
pub(super) struct Packed {
    objects: PathBuf,
    packs: OnceLock<Vec<Pack>>,
}

impl Packed {
    pub(super) fn new(objects: PathBuf) -> Packed {
        Packed { objects, packs: OnceLock::new() }
    }

    /// The size of an object; none if it is not told here. Of one that lies in several packs the greatest.
    pub(super) fn size(&self, oid: Oid) -> Option<u64> {
        let packs = self.packs.get_or_init(|| packs(&self.objects).unwrap_or_default());
        let mut largest = None;
        for pack in packs {
            match pack.find(oid) {
                Found::No => {}
                Found::At(at) => largest = largest.max(Some(pack.size(at)?)),
                Found::Doubtful => return None,
            }
        }
        largest
    }
}

/// All packs, if the library will look for objects in these and nowhere else.
fn packs(objects: &Path) -> Option<Vec<Pack>> {
    let folder = objects.join("pack");
    if objects.join("info").join("alternates").exists() || folder.join("multi-pack-index").exists() {
        return None;
    }
    let mut packs = Vec::new();
    for entry in fs::read_dir(&folder).ok()? {
        let path = entry.ok()?.path();
        if path.extension().is_some_and(|end| end == "idx") {
            packs.push(Pack::open(&path)?);
        }
    }
    Some(packs)
}

struct Pack {
    /// The index as it stands on disk.
    index: Vec<u8>,
    /// How many objects there are.
    count: usize,
    pack: File,
}

/// Where an object is.
enum Found {
    No,
    At(u64),
    /// Not to be told.
    Doubtful,
}

/// Magic number and version in front of an index.
const VERSION_2: &[u8] = b"\xfftOc\0\0\0\x02";
/// Behind that for each first byte how many objects have an id up to it; then the ids.
const IDS: usize = VERSION_2.len() + 256 * 4;

impl Pack {
    fn open(index: &Path) -> Option<Pack> {
        let pack = File::open(index.with_extension("pack")).ok()?;
        if index.metadata().ok()?.len() > LARGEST_INDEX {
            return None;
        }
        let mut own = Pack { index: fs::read(index).ok()?, count: 0, pack };
        own.count = own.up_to(255)?;
        let least = own.count.checked_mul(20 + 4 + 4)?.checked_add(IDS)?;
        (own.index.starts_with(VERSION_2) && own.index.len() >= least).then_some(own)
    }

    /// How many objects have an id whose first byte is this or a lesser one.
    fn up_to(&self, first: u8) -> Option<usize> {
        usize::try_from(self.number(VERSION_2.len() + 4 * usize::from(first))?).ok()
    }

    fn number(&self, at: usize) -> Option<u32> {
        Some(u32::from_be_bytes(*self.index.get(at..)?.first_chunk()?))
    }

    fn id(&self, at: usize) -> Option<&[u8]> {
        self.index.get(IDS + 20 * at..IDS + 20 * (at + 1)).filter(|_| at < self.count)
    }

    fn find(&self, oid: Oid) -> Found {
        let own = oid.as_bytes();
        let first = own.first().copied().unwrap_or_default();
        let from = first.checked_sub(1).map_or(Some(0), |before| self.up_to(before));
        let (Some(mut low), Some(end)) = (from, self.up_to(first)) else { return Found::Doubtful };
        let mut high = end.min(self.count);
        while low < high {
            let middle = low + (high - low) / 2;
            match self.id(middle) {
                Some(id) if id < own => low = middle + 1,
                Some(_) => high = middle,
                None => return Found::Doubtful,
            }
        }
        if self.id(low) != Some(own) {
            return Found::No;
        }
        if self.id(low + 1) == Some(own) {
            return Found::Doubtful;
        }
        self.offset(low).map_or(Found::Doubtful, Found::At)
    }

    /// Where the entry of the object at a position begins.
    fn offset(&self, at: usize) -> Option<u64> {
        let small = IDS + (20 + 4) * self.count;
        let offset = self.number(small + 4 * at)?;
        if offset >> 31 == 0 {
            return Some(u64::from(offset));
        }
        let place = usize::try_from(offset & 0x7fff_ffff).ok()?;
        let large = small + 4 * self.count + place.checked_mul(8)?;
        Some(u64::from_be_bytes(*self.index.get(large..)?.first_chunk()?))
    }

    /// The size of the object whose entry begins there.
    fn size(&self, at: u64) -> Option<u64> {
        let mut entry = [0; LOOK];
        let length = read_at(&self.pack, &mut entry, at)?;
        size_of_entry(entry.get(..length)?)
    }
}

#[cfg(unix)]
fn read_at(file: &File, into: &mut [u8], at: u64) -> Option<usize> {
    std::os::unix::fs::FileExt::read_at(file, into, at).ok()
}

#[cfg(windows)]
fn read_at(file: &File, into: &mut [u8], at: u64) -> Option<usize> {
    std::os::windows::fs::FileExt::seek_read(file, into, at).ok()
}

#[cfg(not(any(unix, windows)))]
fn read_at(_: &File, _: &mut [u8], _: u64) -> Option<usize> {
    None
}

/// The size that an entry states, from its first bytes.
fn size_of_entry(entry: &[u8]) -> Option<u64> {
    let (first, mut rest) = entry.split_first()?;
    let mut size = u64::from(first & 0x0f);
    let (mut more, mut shift) = (first & 0x80 != 0, 4);
    while more {
        let (byte, after) = rest.split_first()?;
        size |= u64::from(byte & 0x7f).checked_shl(shift).filter(|_| shift <= 56)?;
        (more, shift, rest) = (byte & 0x80 != 0, shift + 7, after);
    }
    match (first >> 4) & 0x07 {
        1..=4 => Some(size),
        // To one that stands so many bytes before this, and to one with this id.
        6 => size_of_difference(rest.get(rest.iter().position(|byte| byte & 0x80 == 0)? + 1..)?),
        7 => size_of_difference(rest.get(20..)?),
        _ => None,
    }
}

/// What a packed difference makes: the second of the two numbers that it begins with.
fn size_of_difference(packed: &[u8]) -> Option<u64> {
    let mut start = [0; 20];
    let mut unpack = Decompress::new(true);
    unpack.decompress(packed, &mut start, FlushDecompress::None).ok()?;
    let mut rest = start.get(..usize::try_from(unpack.total_out()).ok()?)?;
    number(&mut rest)?;
    number(&mut rest)
}

/// A number in seven bits a byte, the lowest first.
fn number(from: &mut &[u8]) -> Option<u64> {
    let mut number = 0;
    for shift in (0..=56).step_by(7) {
        let (byte, rest) = from.split_first()?;
        *from = rest;
        number |= u64::from(byte & 0x7f) << shift;
        if byte & 0x80 == 0 {
            return Some(number);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::git::fixture::Fixture;

    #[test]
    fn every_packed_object_is_as_large_as_git_says() {
        let fixture = Fixture::new();
        let lines: Vec<String> = (0..900).map(|n| format!("line {n} of a text that is long enough\n")).collect();
        for number in 0..12 {
            let mut lines = lines.clone();
            lines[number * 70] = format!("changed in {number}\n");
            fixture.write("long.md", lines.concat()).write("short.md", "x".repeat(number));
            fixture.commit("One more");
        }
        let packed = |fixture: &Fixture| Packed::new(fixture.path().join(".git/objects"));
        let head = Oid::from_hex(fixture.git(&["rev-parse", "HEAD"]).trim()).unwrap();
        assert_eq!(packed(&fixture).size(head), None, "nothing is packed yet");
        fixture.git(&["gc", "--quiet", "--aggressive"]);
        let own = packed(&fixture);
        let listed =
            fixture.git(&["cat-file", "--batch-all-objects", "--batch-check=%(objectname) %(objectsize) %(deltabase)"]);
        let (mut count, mut differences) = (0, 0);
        for line in listed.lines() {
            let mut words = line.split(' ');
            let (id, size, base) = (words.next().unwrap(), words.next().unwrap(), words.next().unwrap());
            assert_eq!(own.size(Oid::from_hex(id).unwrap()), size.parse().ok(), "{line}");
            count += 1;
            differences += usize::from(base.bytes().any(|byte| byte != b'0'));
        }
        assert!(count > 40 && differences > 10, "{count}, {differences}");
        assert_eq!(own.size(Oid::from_hex(&"0".repeat(40)).unwrap()), None);

        fixture.write(".git/objects/info/alternates", "/nowhere/objects\n");
        assert_eq!(packed(&fixture).size(head), None, "another store may have another");
    }

    #[test]
    fn what_is_damaged_tells_nothing() {
        assert_eq!(size_of_entry(&[]), None);
        assert_eq!(size_of_entry(&[0xb5, 0x80]), None, "cut off in the size");
        assert_eq!(size_of_entry(&[0xb5, 0x01]), Some(0x15));
        assert_eq!(size_of_entry(&[0x65, 0x01, 9, 9, 9]), None, "no difference");
        assert_eq!(size_of_entry(&[&[0xbf][..], &[0xff; 20]].concat()), None, "more than any file has");
    }
}
