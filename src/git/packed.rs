//! Objects out of packs.
//!
//! The library lets one thread at a time into its packs, and looks an object up as if nobody had read its neighbours. Whoever looks
//! back asks for tens of thousands, each packed as a difference to one that was read just before.
//!
//! This only ever spares a question. Whatever is not as usual (an index of another version, an object that is damaged, a large one) is
//! not read here, and the library is asked, which says what is wrong.
//! Sources: gitformat-pack(5), "pack-*.pack files have the following format", "Deltified representation", "pack-*.idx files".

mod bases;

use std::cell::RefCell;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

use flate2::{Crc, Decompress, FlushDecompress, Status};

use super::Oid;
use bases::Bases;

/// Indexes of more bytes than this are left to the library.
const LARGEST_INDEX: u64 = 64 << 20;
/// And so are objects of more bytes than this.
const LARGEST: u64 = 16 << 20;
/// As much of an entry as is read at first: all of most.
const LOOK: usize = 1 << 10;
/// What stands in front of what is packed, at most: a size, and what it is a difference to.
const LONGEST_HEADER: usize = 10 + 20;
/// Differences to differences, no further than git makes them.
const DEEPEST: usize = 4096;

/// What an object is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sort {
    Commit,
    Tree,
    Blob,
    Tag,
}

/// An object, unpacked.
#[derive(Clone, Debug)]
pub(super) struct Object {
    pub(super) sort: Sort,
    pub(super) bytes: Arc<[u8]>,
}

/// The packs of a repository.
pub(super) struct Packed {
    objects: PathBuf,
    packs: OnceLock<Vec<Pack>>,
}

impl Packed {
    pub(super) fn new(objects: PathBuf) -> Packed {
        Packed { objects, packs: OnceLock::new() }
    }

    /// An object of at most so many bytes; none if it is not to be had here.
    pub(super) fn read(&self, oid: Oid, most: u64) -> Option<Object> {
        let packs = self.packs.get_or_init(|| packs(&self.objects).unwrap_or_default());
        packs.iter().find_map(|pack| pack.named(oid, most.min(LARGEST)))
    }
}

/// All packs that can be opened.
fn packs(objects: &Path) -> Option<Vec<Pack>> {
    let entries = fs::read_dir(objects.join("pack")).ok()?;
    let indexes = entries.filter_map(|entry| Some(entry.ok()?.path()));
    let indexes = indexes.filter(|path| path.extension().is_some_and(|end| end == "idx"));
    Some(indexes.filter_map(|path| Pack::open(&path)).collect())
}

struct Pack {
    /// The index as it stands on disk.
    index: Vec<u8>,
    /// How many objects there are.
    count: usize,
    pack: File,
    bases: Bases,
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
        let mut own = Pack { index: fs::read(index).ok()?, count: 0, pack, bases: Bases::default() };
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

    /// The object of an id.
    fn named(&self, oid: Oid, most: u64) -> Option<Object> {
        let place = self.find(oid)?;
        let crc = self.number(IDS + 20 * self.count + 4 * place)?;
        self.read((self.offset(place)?, crc), most)
    }

    /// The position of an object in the index.
    fn find(&self, oid: Oid) -> Option<usize> {
        let own = oid.as_bytes();
        let first = *own.first()?;
        let mut low = first.checked_sub(1).map_or(Some(0), |before| self.up_to(before))?;
        let mut high = self.up_to(first)?.min(self.count);
        while low < high {
            let middle = low + (high - low) / 2;
            if self.id(middle)? < own {
                low = middle + 1;
            } else {
                high = middle;
            }
        }
        (self.id(low)? == own).then_some(low)
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

    /// The object whose entry begins there and has this check sum: an index that is damaged would lead to another object.
    fn read(&self, (at, crc): (u64, u32), most: u64) -> Option<Object> {
        // Differences on the way to what all of them rest on, with their check sums.
        let mut differences: Vec<(u64, u32, Vec<u8>)> = Vec::new();
        let mut from = at;
        let mut object = loop {
            let known = self.bases.get(from);
            if let Some((known, own)) = known {
                if from == at && own != crc {
                    return None;
                }
                break known;
            }
            let entry = self.entry(from, if from == at { most } else { LARGEST })?;
            if from == at && entry.crc != crc {
                return None;
            }
            match entry.made {
                Made::Whole(sort) => {
                    let object = Object { sort, bytes: entry.bytes.into() };
                    self.bases.put(from, &object, entry.crc, from == at);
                    break object;
                }
                Made::From(base) => {
                    if from == at && size_made(&entry.bytes)? > most {
                        return None;
                    }
                    differences.push((from, entry.crc, entry.bytes));
                    from = base;
                }
            }
            if differences.len() > DEEPEST {
                return None;
            }
        };
        while let Some((from, crc, difference)) = differences.pop() {
            object = Object { sort: object.sort, bytes: applied(&object.bytes, &difference)? };
            self.bases.put(from, &object, crc, false);
        }
        (object.bytes.len() as u64 <= most).then_some(object)
    }

    /// An entry, unpacked; none of one that unpacks to more bytes than that.
    fn entry(&self, at: u64, most: u64) -> Option<Entry> {
        let mut look = [0; LOOK];
        let length = read_at(&self.pack, &mut look, at)?;
        let look = look.get(..length)?;
        let (header, begins) = Header::of(look)?;
        let size = usize::try_from(header.size).ok().filter(|_| header.size <= most)?;
        let made = match header.packed {
            Packing::Whole(sort) => Made::Whole(sort),
            Packing::Behind(distance) => Made::From(at.checked_sub(distance).filter(|_| distance > 0)?),
            Packing::Named(oid) => Made::From(self.offset(self.find(oid)?)?),
        };
        // What does not get smaller gets but little larger.
        let most = begins + size + size / 1000 + 64;
        let mut large = Vec::new();
        let packed = if length < LOOK || most <= LOOK {
            look
        } else {
            large.resize(most, 0);
            let length = read_at(&self.pack, &mut large, at)?;
            large.get(..length)?
        };
        let (bytes, length) = unpacked(packed.get(begins..)?, size)?;
        let mut crc = Crc::new();
        crc.update(packed.get(..begins + length)?);
        Some(Entry { made, bytes, crc: crc.sum() })
    }
}

/// One object as it stands in a pack, unpacked.
struct Entry {
    made: Made,
    /// Itself, or how it differs.
    bytes: Vec<u8>,
    /// The check sum of the entry as it is packed.
    crc: u32,
}

/// What an entry makes.
enum Made {
    Whole(Sort),
    /// A difference to the entry that begins there.
    From(u64),
}

/// What stands at the start of an entry.
#[derive(Debug, PartialEq, Eq)]
struct Header {
    packed: Packing,
    /// Of what is unpacked.
    size: u64,
}

/// How an object is packed.
#[derive(Debug, PartialEq, Eq)]
enum Packing {
    Whole(Sort),
    /// As a difference to the one that begins so many bytes before it.
    Behind(u64),
    /// As a difference to the one with this id.
    Named(Oid),
}

impl Header {
    /// With where the packed bytes begin.
    fn of(entry: &[u8]) -> Option<(Header, usize)> {
        let (first, mut rest) = entry.get(..entry.len().min(LONGEST_HEADER))?.split_first()?;
        let mut size = u64::from(first & 0x0f);
        let (mut more, mut shift) = (first & 0x80 != 0, 4);
        while more {
            let byte = take(&mut rest)?;
            size |= u64::from(byte & 0x7f).checked_shl(shift).filter(|_| shift <= 56)?;
            (more, shift) = (byte & 0x80 != 0, shift + 7);
        }
        let packed = match (first >> 4) & 0x07 {
            1 => Packing::Whole(Sort::Commit),
            2 => Packing::Whole(Sort::Tree),
            3 => Packing::Whole(Sort::Blob),
            4 => Packing::Whole(Sort::Tag),
            6 => Packing::Behind(distance(&mut rest)?),
            7 => {
                let (id, after) = rest.split_at_checked(20)?;
                rest = after;
                Packing::Named(Oid::from_bytes(id)?)
            }
            _ => return None,
        };
        Some((Header { packed, size }, entry.len().min(LONGEST_HEADER) - rest.len()))
    }
}

fn take(from: &mut &[u8]) -> Option<u8> {
    let (byte, rest) = from.split_first()?;
    *from = rest;
    Some(*byte)
}

/// How far back an entry begins: seven bits a byte, the highest first, and one more for each further byte.
fn distance(from: &mut &[u8]) -> Option<u64> {
    let mut byte = take(from)?;
    let mut distance = u64::from(byte & 0x7f);
    while byte & 0x80 != 0 {
        byte = take(from)?;
        distance = distance.checked_add(1).filter(|distance| distance.leading_zeros() > 7)? << 7;
        distance |= u64::from(byte & 0x7f);
    }
    Some(distance)
}

/// A number in seven bits a byte, the lowest first.
fn number(from: &mut &[u8]) -> Option<u64> {
    let mut number = 0;
    for shift in (0..=56).step_by(7) {
        let byte = take(from)?;
        number |= u64::from(byte & 0x7f) << shift;
        if byte & 0x80 == 0 {
            return Some(number);
        }
    }
    None
}

/// How many bytes a difference makes.
fn size_made(mut difference: &[u8]) -> Option<u64> {
    number(&mut difference)?;
    number(&mut difference)
}

/// What a difference makes of what it is a difference to.
fn applied(base: &[u8], difference: &[u8]) -> Option<Arc<[u8]>> {
    let mut rest = difference;
    let (old, new) = (number(&mut rest)?, number(&mut rest)?);
    if old != base.len() as u64 || new > LARGEST {
        return None;
    }
    let new = usize::try_from(new).ok()?;
    let mut made = Vec::with_capacity(new);
    while let Some(said) = take(&mut rest) {
        let piece = if said & 0x80 == 0 {
            // So many bytes that follow; none of them is kept for later use.
            let (piece, after) = rest.split_at_checked(usize::from(said)).filter(|_| said > 0)?;
            rest = after;
            piece
        } else {
            let mut number = |bits: std::ops::Range<u8>| {
                let first = bits.start;
                let mut number = 0;
                for bit in bits.filter(|bit| said & (1 << bit) != 0) {
                    number |= usize::from(take(&mut rest)?) << (8 * (bit - first));
                }
                Some(number)
            };
            let (start, length) = (number(0..4)?, number(4..7)?);
            base.get(start..start.checked_add(if length == 0 { 1 << 16 } else { length })?)?
        };
        if made.len() + piece.len() > new {
            return None;
        }
        made.extend_from_slice(piece);
    }
    (made.len() == new).then(|| made.into())
}

/// So many bytes, unpacked, and how many they were.
fn unpacked(packed: &[u8], size: usize) -> Option<(Vec<u8>, usize)> {
    thread_local! {
        /// To make one anew takes longer than to unpack a small object.
        static UNPACK: RefCell<Decompress> = RefCell::new(Decompress::new(true));
    }
    UNPACK.with_borrow_mut(|unpack| {
        unpack.reset(true);
        // One more, so that it can be seen where there is more.
        let mut bytes = vec![0; size + 1];
        let status = unpack.decompress(packed, &mut bytes, FlushDecompress::Finish).ok()?;
        bytes.truncate(size);
        let length = usize::try_from(unpack.total_in()).ok()?;
        (status == Status::StreamEnd && unpack.total_out() == size as u64).then_some((bytes, length))
    })
}

#[cfg(unix)]
fn read_at(file: &File, into: &mut [u8], at: u64) -> Option<usize> {
    whole(into, |rest, read| std::os::unix::fs::FileExt::read_at(file, rest, at + read))
}

#[cfg(windows)]
fn read_at(file: &File, into: &mut [u8], at: u64) -> Option<usize> {
    whole(into, |rest, read| std::os::windows::fs::FileExt::seek_read(file, rest, at + read))
}

#[cfg(not(any(unix, windows)))]
fn read_at(_: &File, _: &mut [u8], _: u64) -> Option<usize> {
    None
}

/// Reads until there is no more room, or the file ends; a system may hand out less at a time.
#[cfg(any(unix, windows))]
fn whole(into: &mut [u8], mut read: impl FnMut(&mut [u8], u64) -> std::io::Result<usize>) -> Option<usize> {
    let mut length = 0;
    while length < into.len() {
        match read(into.get_mut(length..)?, length as u64) {
            Ok(0) => break,
            Ok(more) => length += more,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
            Err(_) => return None,
        }
    }
    Some(length)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::git::fixture::Fixture;

    /// A repository with long chains of differences.
    fn fixture() -> Fixture {
        let fixture = Fixture::new();
        let lines: Vec<String> = (0..900).map(|n| format!("line {n} of a text that is long enough\n")).collect();
        for number in 0..12 {
            let mut lines = lines.clone();
            lines[number * 70] = format!("changed in {number}\n");
            fixture.write("long.md", lines.concat()).write("short.md", "x".repeat(number + 1));
            fixture.write(&format!("many/{number}.md"), lines[number..2 * number].concat());
            fixture.commit("One more");
        }
        fixture.git(&["tag", "-a", "T-1", "-m", "Reviewed"]);
        fixture
    }

    fn packed(fixture: &Fixture) -> Packed {
        Packed::new(fixture.path().join(".git/objects"))
    }

    /// Id, type, size and what it is a difference to of every object.
    fn listed(fixture: &Fixture) -> Vec<(Oid, String, usize, bool)> {
        let format = "--batch-check=%(objectname) %(objecttype) %(objectsize) %(deltabase)";
        let listed = fixture.git(&["cat-file", "--batch-all-objects", format]);
        let of = |line: &str| {
            let words: Vec<&str> = line.split(' ').collect();
            let is_difference = words[3].bytes().any(|byte| byte != b'0');
            (Oid::from_hex(words[0]).unwrap(), words[1].to_string(), words[2].parse().unwrap(), is_difference)
        };
        listed.lines().map(of).collect()
    }

    fn sort_of(word: &str) -> Sort {
        match word {
            "commit" => Sort::Commit,
            "tree" => Sort::Tree,
            "blob" => Sort::Blob,
            _ => Sort::Tag,
        }
    }

    /// Whether the bytes are those that the object is named by.
    fn is_itself(oid: Oid, object: &Object) -> bool {
        let sort = match object.sort {
            Sort::Commit => git2::ObjectType::Commit,
            Sort::Tree => git2::ObjectType::Tree,
            Sort::Blob => git2::ObjectType::Blob,
            Sort::Tag => git2::ObjectType::Tag,
        };
        git2::Oid::hash_object(sort, &object.bytes).ok() == Some(oid.0)
    }

    #[test]
    fn every_packed_object_is_what_git_says() {
        let fixture = fixture();
        let head = Oid::from_hex(fixture.git(&["rev-parse", "HEAD"]).trim()).unwrap();
        assert!(packed(&fixture).read(head, LARGEST).is_none(), "nothing is packed yet");
        for by_name in [false, true] {
            let named = if by_name { ["-c", "repack.useDeltaBaseOffset=false"] } else { ["-c", "gc.auto=0"] };
            fixture.git(&[&named[..], &["repack", "-adfq", "--depth=50", "--window=50"]].concat());
            let own = packed(&fixture);
            let objects = listed(&fixture);
            for (oid, sort, size, _) in objects.iter().chain(objects.iter().rev()) {
                let fewer = (*size as u64).checked_sub(1);
                assert!(fewer.is_none_or(|fewer| own.read(*oid, fewer).is_none()), "{oid} has more bytes");
                let object = own.read(*oid, *size as u64).unwrap();
                assert!(is_itself(*oid, &object), "{oid}");
                assert_eq!((format!("{:?}", object.sort).to_lowercase(), object.bytes.len()), (sort.clone(), *size));
            }
            assert!(objects.len() > 50 && objects.iter().filter(|object| object.3).count() > 15);
            assert!(own.read(Oid::from_hex(&"0".repeat(40)).unwrap(), LARGEST).is_none());
        }
    }

    #[test]
    fn of_a_damaged_pack_what_is_read_is_right_or_nothing() {
        let fixture = fixture();
        fixture.git(&["repack", "-adfq", "--depth=50", "--window=50"]);
        let objects = listed(&fixture);
        let folder = fixture.path().join(".git/objects/pack");
        let pack = std::fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path());
        let pack = pack.into_iter().find(|path| path.extension().is_some_and(|end| end == "pack")).unwrap();
        let index = pack.with_extension("idx");
        let whole = [&pack, &index].map(|path| std::fs::read(path).unwrap());
        let mut told = [0, 0];
        for (which, path) in [&pack, &index].into_iter().enumerate() {
            std::fs::remove_file(path).unwrap();
            for at in (12..whole[which].len()).step_by(23) {
                let mut bytes = whole[which].clone();
                bytes[at] ^= 1 << (at % 8);
                std::fs::write(path, bytes).unwrap();
                let own = packed(&fixture);
                for (oid, sort, ..) in &objects {
                    let object = own.read(*oid, LARGEST);
                    // The header of a base may say another sort: whoever asks for one is told.
                    let is_right = |object: &Object| object.sort != sort_of(sort) || is_itself(*oid, object);
                    assert!(object.as_ref().is_none_or(is_right), "byte {at} of {}: {oid}", path.display());
                    told[usize::from(object.is_some())] += 1;
                }
            }
            std::fs::write(path, &whole[which]).unwrap();
        }
        assert!(told[0] > 0 && told[1] > told[0], "{told:?}");
    }

    #[test]
    fn what_is_damaged_is_no_header_and_no_difference() {
        assert_eq!(Header::of(&[]), None);
        assert_eq!(Header::of(&[0xb5, 0x80]), None, "cut off in the size");
        let blob = Header { packed: Packing::Whole(Sort::Blob), size: 0x15 };
        assert_eq!(Header::of(&[0xb5, 0x01, 9]), Some((blob, 2)));
        assert_eq!(Header::of(&[0x65, 0x81]), None, "cut off in the distance");
        let behind = Header { packed: Packing::Behind(0x0101), size: 5 };
        assert_eq!(Header::of(&[0x65, 0x81, 0x01]), Some((behind, 3)));
        assert_eq!(Header::of(&[0x75, 1, 2, 3]), None, "cut off in the id");
        assert_eq!(Header::of(&[&[0xbf][..], &[0xff; 20]].concat()), None, "more than any file has");
        assert_eq!(Header::of(&[&[0x65][..], &[0xff; 20]].concat()), None, "further back than any file goes");
        let base = b"a line";
        assert_eq!(applied(base, &[6, 5, 0x90, 2, 3, b'x', b'y', b'z']).as_deref(), Some(&b"a xyz"[..]));
        for wrong in [
            &[5, 1, 0x90, 1][..],
            &[6, 9, 0x90, 2],
            &[6, 1, 0x90, 2],
            &[6, 2, 0x91, 6, 2],
            &[6, 1, 0],
            &[6, 3, 3, b'x'],
            &[6, 2, 0x91],
            &[],
        ] {
            assert_eq!(applied(base, wrong), None, "{wrong:?}");
        }
    }
}
