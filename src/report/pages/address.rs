//! Which pages there are, and what each is called.
//!
//! A page's name hangs from the id of the thing alone, so that a link written down today leads to the same thing next
//! year. Names are safe on every file system: letters without accents, digits, `.`, `_`, `-`, `+` and `~`; two ids that
//! differ only in case have names that differ in more.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::Arc;

use foldhash::{HashMap, HashSet, HashSetExt};
use sha2::{Digest, Sha256};

use crate::analysis::{Analysis, hex};
use crate::model::{Id, Ref, SerialId};
use crate::report::packet::Scheme;
use crate::report::packet::files;
use crate::report::packet::links::{FRONT, Places, leaf};

/// A sort of thing: the first part of its pages' addresses, and the words for many of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Sort {
    pub(super) key: &'static str,
    pub(super) many: &'static str,
}

/// Every sort, in the order in which they are listed.
pub(super) const SORTS: &[Sort] = &[
    Sort { key: "requirement", many: "Requirements" },
    Sort { key: "record", many: "Records" },
    Sort { key: "procedure", many: "Procedures" },
    Sort { key: "decision", many: "Decisions" },
    Sort { key: "nonconformance", many: "Nonconformances" },
    Sort { key: "waiver", many: "Waivers" },
    Sort { key: "item", many: "Items" },
    Sort { key: "slot", many: "Slots" },
    Sort { key: "serial", many: "Serials" },
    Sort { key: "instrument", many: "Instruments" },
    Sort { key: "event", many: "Held events" },
];

/// Something that has a page of its own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Thing {
    /// What a file is about.
    Of(Ref),
    /// A piece of an item, by the positions of both.
    Serial(usize, usize),
    /// An instrument.
    Instrument(Id),
}

impl Thing {
    /// The position of its sort in [`SORTS`].
    pub(super) fn sort(&self) -> usize {
        match self {
            Thing::Of(Ref::Requirement(_)) => 0,
            Thing::Of(Ref::Record(_)) => 1,
            Thing::Of(Ref::Procedure(_)) => 2,
            Thing::Of(Ref::Decision(_)) => 3,
            Thing::Of(Ref::Nonconformance(_)) => 4,
            Thing::Of(Ref::Waiver(_)) => 5,
            Thing::Of(Ref::Item(_)) => 6,
            Thing::Of(Ref::Slot(_)) => 7,
            Thing::Serial(..) => 8,
            Thing::Instrument(_) => 9,
            Thing::Of(Ref::Held(_)) => 10,
        }
    }

    /// What it is called.
    pub(super) fn name(&self, analysis: &Analysis) -> String {
        match self {
            Thing::Of(place) => analysis.model.head(*place).id.value.to_string(),
            Thing::Serial(item, at) => serial(analysis, *item, *at).to_string(),
            Thing::Instrument(id) => id.to_string(),
        }
    }
}

/// The name of a piece.
pub(super) fn serial(analysis: &Analysis, item: usize, at: usize) -> SerialId {
    let it = &analysis.model.items[item];
    it.serial_id(&it.serials[at])
}

/// A page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Leaf {
    /// What is open, and where that leads over more pages, the rest of it.
    Front(usize),
    /// The matrix.
    Matrix(usize),
    /// Everything, by sort.
    All,
    /// Everything of one sort.
    Sort(usize, usize),
    /// One thing, by its position among all.
    Thing(usize),
    /// Parameters, roles, limited life.
    Settings,
    /// What changed.
    Changes,
    /// The manifest.
    Files(usize),
    /// The search.
    Search,
    /// What is no page: the style, the script of the search, and what it searches.
    Asset(Asset),
}

/// A file that pages load, or that belongs to a folder of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Asset {
    Style,
    Script,
    Words,
    /// What a folder was made from.
    Claims,
}

/// The names of the files that pages load.
pub(super) const STYLE: &str = "pages.css";
pub(super) const SCRIPT: &str = "search.js";
pub(super) const WORDS: &str = "words.js";

/// What says of a folder of pages what it was made from.
pub const CLAIMS: &str = "made-from.json";

/// Every thing of a project with the address of its page: the same before every event.
#[derive(Debug)]
pub struct Homes {
    pub(super) scheme: Scheme,
    /// By sort and id.
    pub(super) things: Vec<Thing>,
    /// Of each thing.
    addresses: Vec<String>,
    by_address: HashMap<String, usize>,
    pub(super) places: Arc<Places>,
    ground: Ground,
}

/// A hash of all that addresses hang on: which things and files there are, and in which order.
type Ground = [u8; 32];

impl Homes {
    /// The addresses of an earlier reading, if nothing came or went since.
    pub fn again(analysis: &Analysis, scheme: Scheme, last: Option<&Arc<Homes>>) -> Arc<Homes> {
        let ground = ground(analysis);
        let same = last.filter(|last| last.ground == ground && last.scheme == scheme);
        same.map_or_else(|| Arc::new(Homes { ground, ..Homes::of(analysis, scheme) }), Arc::clone)
    }

    /// Gives every thing its address, and everything that can be named its place.
    pub fn of(analysis: &Analysis, scheme: Scheme) -> Homes {
        let things = things(analysis);
        let mut places = Places::default();
        let mut addresses = Vec::with_capacity(things.len());
        let mut taken = HashSet::new();
        for thing in &things {
            let name = thing.name(analysis);
            let key = format!("{}/{}", SORTS[thing.sort()].key, file_name(&name, thing.sort(), &mut taken));
            let address = scheme.address(&key);
            if let Thing::Of(place) = thing {
                places.bodies.insert(analysis.path(analysis.model.head(*place).file).clone(), address.clone());
            }
            places.names.entry(name).or_insert_with(|| address.clone());
            addresses.push(address);
        }
        places.add_files(analysis, scheme);
        let by_address = addresses.iter().cloned().zip(0..).collect();
        Homes { scheme, things, addresses, by_address, places: Arc::new(places), ground: Ground::default() }
    }

    /// Whether something is called so.
    pub(super) fn holds(&self, name: &str) -> bool {
        self.places.names.contains_key(name)
    }
}

/// What addresses hang on.
fn ground(analysis: &Analysis) -> Ground {
    let model = &analysis.model;
    let mut hash = Sha256::new();
    let mut add = |text: &str| {
        hash.update(text.len().to_le_bytes());
        hash.update(text.as_bytes());
    };
    // Each list after its length, so that nothing of one can be taken for a part of another.
    add(&model.ids().count().to_string());
    for (id, place) in model.ids() {
        add(id);
        add(model.kind(place));
        add(analysis.path(model.head(place).file).as_str());
    }
    for item in &model.items {
        add(&item.serials.len().to_string());
        item.serials.iter().for_each(|piece| add(&piece.number.value));
    }
    add(&model.instruments.len().to_string());
    model.instruments.keys().for_each(|id| add(id));
    for (path, ..) in files(analysis) {
        add(path.as_str());
    }
    hash.finalize().into()
}

/// All pages, in their order, and by address.
#[derive(Debug)]
pub(super) struct Addresses {
    /// Pages that are about no one thing.
    leaves: Vec<(String, Leaf)>,
    /// So many of them come before the things.
    first: usize,
    by_address: HashMap<String, Leaf>,
    homes: Arc<Homes>,
}

/// How many pages what has no fixed number of them takes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Leaves {
    pub(super) front: usize,
    pub(super) matrix: usize,
    pub(super) files: usize,
}

/// How many things are listed on a page.
pub(super) const LISTED: usize = 500;

/// Every thing of the project, by sort and id.
fn things(analysis: &Analysis) -> Vec<Thing> {
    let model = &analysis.model;
    let mut all: Vec<Thing> = model.ids().map(|(_, place)| Thing::Of(place)).collect();
    for (item, it) in model.items.iter().enumerate() {
        let mut seen = HashSet::new();
        let pieces = it.serials.iter().enumerate().filter(|(_, piece)| seen.insert(&piece.number.value));
        all.extend(pieces.map(|(at, _)| Thing::Serial(item, at)));
    }
    all.extend(model.instruments.keys().cloned().map(Thing::Instrument));
    all.sort_by_key(Thing::sort);
    all
}

impl Addresses {
    /// Gives every page its address.
    pub(super) fn of(homes: Arc<Homes>, leaves: Leaves) -> Addresses {
        let scheme = homes.scheme;
        let page = |key: &str| scheme.address(key);
        let mut all: Vec<(String, Leaf)> = Vec::new();
        all.extend((0..leaves.front).map(|at| (page(&front(at)), Leaf::Front(at))));
        all.extend((0..leaves.matrix).map(|at| (page(&leaf("matrix", at)), Leaf::Matrix(at))));
        all.push((page("all"), Leaf::All));
        for (sort, own) in SORTS.iter().enumerate() {
            let count = homes.things.iter().filter(|thing| thing.sort() == sort).count();
            let pages = count.div_ceil(LISTED).max(1);
            all.extend((0..pages).map(|at| (page(&listed(own.key, at)), Leaf::Sort(sort, at))));
        }
        let first = all.len();
        all.extend([(page("settings"), Leaf::Settings), (page("changes"), Leaf::Changes)]);
        all.extend((0..leaves.files).map(|at| (page(&leaf("files", at)), Leaf::Files(at))));
        all.push((page("search"), Leaf::Search));
        all.push((STYLE.to_string(), Leaf::Asset(Asset::Style)));
        // Live pages are asked what they find.
        if scheme != Scheme::Live {
            let search = [(SCRIPT, Asset::Script), (WORDS, Asset::Words)];
            all.extend(search.map(|(name, asset)| (name.to_string(), Leaf::Asset(asset))));
        }
        if scheme == Scheme::Folder {
            all.push((CLAIMS.to_string(), Leaf::Asset(Asset::Claims)));
        }
        Addresses { by_address: all.iter().cloned().collect(), leaves: all, first, homes }
    }

    /// Every address, in their order.
    pub(super) fn all(&self) -> impl Iterator<Item = &str> {
        let (before, after) = self.leaves.split_at(self.first);
        let before = before.iter().map(|(address, _)| address.as_str());
        let things = self.homes.addresses.iter().map(String::as_str);
        before.chain(things).chain(after.iter().map(|(address, _)| address.as_str()))
    }

    /// The page at an address.
    pub(super) fn find(&self, address: &str) -> Option<Leaf> {
        let thing = || self.homes.by_address.get(address).map(|at| Leaf::Thing(*at));
        self.by_address.get(address).copied().or_else(thing)
    }
}

/// The key of a page of what is open.
pub(super) fn front(at: usize) -> String {
    if at == 0 { FRONT.to_string() } else { leaf("open", at) }
}

/// The key of a page that lists a sort: its further pages must not meet what the sort holds.
pub(super) fn listed(key: &str, at: usize) -> String {
    if at == 0 { key.to_string() } else { leaf(&format!("all-{key}"), at) }
}

/// The longest name of a file before its ending, in characters.
const LONGEST: usize = 80;

/// Names that some systems keep for devices, whatever follows the first dot. Source: Microsoft, "Naming Files, Paths, and
/// Namespaces".
const DEVICES: &[&str] = &["con", "prn", "aux", "nul", "com", "lpt"];

/// A name for a file or an address, that nothing else of its sort has, whatever case means on that system.
fn file_name(name: &str, sort: usize, taken: &mut HashSet<(usize, String)>) -> String {
    let plain = safe(name);
    let folded = |name: &str| (sort, name.to_ascii_lowercase());
    if plain.len() <= LONGEST && taken.insert(folded(&plain)) {
        return plain;
    }
    let hash = hex(&Sha256::digest(name));
    let start: String = plain.chars().take(LONGEST - 20).collect();
    // One more digit until it is free: ids that agree in all of them are one id.
    let mut names = (8..=hash.len()).map(|digits| format!("{start}~{}", hash.get(..digits).unwrap_or(&hash)));
    let free = names.find(|name| taken.insert(folded(name)));
    free.unwrap_or_else(|| format!("{start}~{hash}"))
}

/// A name without anything that a file system, a shell or an address could take for something else.
fn safe(name: &str) -> String {
    let mut out = String::with_capacity(name.len());
    for (at, character) in name.chars().enumerate() {
        match character {
            '/' => out.push('+'),
            '.' | '-' if at == 0 => {
                let _ = write!(out, "~{:x}~", u32::from(character));
            }
            c if c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-') => out.push(c),
            other => {
                let _ = write!(out, "~{:x}~", u32::from(other));
            }
        }
    }
    let stem = out.split('.').next().unwrap_or("").to_ascii_lowercase();
    let device = DEVICES.iter().any(|device| {
        stem.strip_prefix(device)
            .is_some_and(|rest| rest.is_empty() || (rest.len() == 1 && rest.as_bytes()[0].is_ascii_digit()))
    });
    if device || out.is_empty() { format!("~{out}") } else { out }
}

/// How often each first part of an address is used, for the list of sorts.
pub(super) fn counts(things: &[Thing]) -> BTreeMap<usize, usize> {
    let mut counts = BTreeMap::new();
    for thing in things {
        *counts.entry(thing.sort()).or_insert(0) += 1;
    }
    counts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_piece_without_a_number_that_changes_sides_is_noticed() {
        let of = |first: &str, second: &str| {
            let item =
                |id: &str, number: &str| format!("+++\nkind = \"item\"\nid = \"{id}\"\ntitle = \"x\"\n{number}+++\n");
            let files = crate::source::Memory::new()
                .file("slipmark.toml", "events = [\"e\"]\n")
                .file("a.md", item("A", first))
                .file("b.md", item("B", second));
            let on = crate::analysis::Request::on(jiff::civil::date(2026, 6, 16));
            ground(&crate::analysis::run(&files, on).unwrap())
        };
        let piece = "[[serials]]\nnumber = \"\"\nuse = \"acceptance\"\n";
        assert_ne!(of(piece, ""), of("", piece));
        assert_eq!(of(piece, ""), of(piece, ""));
    }

    fn names(ids: &[&str]) -> Vec<String> {
        let mut taken = HashSet::new();
        ids.iter().map(|id| file_name(id, 0, &mut taken)).collect()
    }

    #[test]
    fn an_id_is_its_own_name_and_a_piece_nearly() {
        assert_eq!(names(&["MOV-003", "CF4001.2.1", "MOV/SN02"]), ["MOV-003", "CF4001.2.1", "MOV+SN02"]);
    }

    #[test]
    fn ids_that_differ_only_in_case_do_not_share_a_file() {
        let names = names(&["MOV-1", "mov-1", "Mov-1"]);
        assert_eq!(names[0], "MOV-1");
        let folded: HashSet<String> = names.iter().map(|name| name.to_lowercase()).collect();
        assert_eq!(folded.len(), 3, "{names:?}");
    }

    #[test]
    fn nothing_leads_out_of_its_folder_or_means_something_to_a_system() {
        for (id, expected) in [
            ("../../etc", "~2e~.+..+etc"),
            ("con", "~con"),
            ("COM1.x", "~COM1.x"),
            ("console", "console"),
            ("a\"><b>", "a~22~~3e~~3c~b~3e~"),
            ("-rf", "~2d~rf"),
            ("é", "~e9~"),
            ("a\\b:c", "a~5c~b~3a~c"),
            ("", "~"),
        ] {
            assert_eq!(names(&[id]), [expected]);
        }
    }

    #[test]
    fn long_ids_are_cut_and_stay_apart() {
        let (one, two) = ("x".repeat(300), format!("{}y", "x".repeat(299)));
        let names = names(&[&one, &two]);
        assert!(names.iter().all(|name| name.len() <= LONGEST) && names[0] != names[1], "{names:?}");
    }

    #[test]
    fn a_name_does_not_hang_from_other_names() {
        assert_eq!(names(&["B", "A"])[1], names(&["A"])[0]);
    }
}
