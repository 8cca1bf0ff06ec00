//! What was learnt as bytes, to be kept between runs.
//!
//! Every id stands once in a list at the front, and so do every path and every word: everything else names them by their position.

use std::hash::Hash;
use std::sync::Arc;

use foldhash::{HashMap, HashMapExt};

use crate::git::{FileChange, FileMode, KnownCommit, Oid};
use crate::history::glance::Glance;
use crate::history::leaf::Leaf;
use crate::kept::{Taker, Writer};
use crate::text::RepoPath;

use super::fronts::Front;

/// Two trees, and the files in which they differ.
pub(in crate::history) type Pair = ((Oid, Oid), Arc<[FileChange]>);

/// What was learnt.
#[derive(Debug, Default, PartialEq)]
pub(in crate::history) struct Facts {
    pub(in crate::history) commits: Vec<(Oid, KnownCommit)>,
    pub(in crate::history) differences: Vec<Pair>,
    pub(in crate::history) fronts: HashMap<Oid, Front>,
}

const MODES: [FileMode; 4] = [FileMode::File, FileMode::Executable, FileMode::Symlink, FileMode::Submodule];

/// What the number in front of a file means, a bit each.
mod bit {
    pub(super) const GLANCE: usize = 1;
    pub(super) const ID: usize = 2;
    pub(super) const SEAL: usize = 4;
    pub(super) const NAMES: usize = 8;
    pub(super) const LEAF: usize = 16;
    /// The leaf's id is the one of the glance.
    pub(super) const SAME: usize = 32;
    pub(super) const LEAF_ID: usize = 64;
}

/// What stands once, by position.
struct Table<K> {
    all: Vec<K>,
    at: HashMap<K, usize>,
}

impl<K: Clone + Eq + Hash> Table<K> {
    fn new() -> Table<K> {
        Table { all: Vec::new(), at: HashMap::new() }
    }

    fn place(&mut self, key: &K) -> usize {
        if let Some(at) = self.at.get(key) {
            return *at;
        }
        self.at.insert(key.clone(), self.all.len());
        self.all.push(key.clone());
        self.all.len() - 1
    }
}

/// As bytes.
pub(in crate::history) fn write(facts: &Facts) -> Vec<u8> {
    let (mut ids, mut paths, mut words) = (Table::new(), Table::new(), Table::new());
    let mut body = Writer::default();
    body.number(facts.commits.len());
    for (oid, commit) in &facts.commits {
        put_commit(&mut body, &mut ids, *oid, commit);
    }
    body.number(facts.differences.len());
    for ((old, new), changes) in &facts.differences {
        body.number(ids.place(old));
        body.number(ids.place(new));
        body.number(changes.len());
        for change in changes.iter() {
            put_change(&mut body, (&mut ids, &mut paths), change);
        }
    }
    let mut fronts: Vec<(&Oid, &Front)> = facts.fronts.iter().collect();
    fronts.sort_unstable_by_key(|(oid, _)| **oid);
    body.number(fronts.len());
    for (oid, front) in fronts {
        body.number(ids.place(oid));
        put_front(&mut body, &mut words, front);
    }
    let mut out = Writer::default();
    out.number(ids.all.len());
    ids.all.iter().for_each(|oid| out.bytes(oid.as_bytes()));
    out.number(paths.all.len());
    paths.all.iter().for_each(|path: &RepoPath| out.text(path.as_str()));
    out.number(words.all.len());
    words.all.iter().for_each(|word: &Arc<str>| out.text(word));
    out.bytes(&body.finish());
    out.finish()
}

fn put_commit(body: &mut Writer, ids: &mut Table<Oid>, oid: Oid, commit: &KnownCommit) {
    body.number(ids.place(&oid));
    body.number(ids.place(&commit.top));
    match commit.folder {
        None => body.number(0),
        Some(None) => body.number(1),
        Some(Some(tree)) => {
            body.number(2);
            body.number(ids.place(&tree));
        }
    }
    body.number(commit.parents.len());
    commit.parents.iter().for_each(|parent| body.number(ids.place(parent)));
}

fn put_change(body: &mut Writer, (ids, paths): (&mut Table<Oid>, &mut Table<RepoPath>), change: &FileChange) {
    let mode = |side: Option<(FileMode, Oid)>| {
        side.and_then(|(mode, _)| MODES.iter().position(|own| *own == mode)).map_or(0, |at| at + 1)
    };
    body.number(paths.place(&change.path));
    body.number(usize::from(change.utf8) + 2 * mode(change.old) + 2 * SIDES * mode(change.new));
    for (_, oid) in [change.old, change.new].into_iter().flatten() {
        body.number(ids.place(&oid));
    }
}

/// What a side of a change can be.
const SIDES: usize = MODES.len() + 1;

fn put_front(body: &mut Writer, words: &mut Table<Arc<str>>, front: &Front) {
    let flag = |bit: usize, set: bool| if set { bit } else { 0 };
    let (id, seal) = match &front.glance {
        Some(glance) => (glance.id.as_ref(), glance.seal.as_ref()),
        None => (None, None),
    };
    let leaf = front.leaf.as_ref().and_then(|leaf| leaf.id.as_ref());
    let same = leaf.is_some() && leaf == id;
    body.number(
        flag(bit::GLANCE, front.glance.is_some())
            + flag(bit::ID, id.is_some())
            + flag(bit::SEAL, seal.is_some())
            + flag(bit::NAMES, front.glance.as_ref().is_some_and(|glance| glance.names))
            + flag(bit::LEAF, front.leaf.is_some())
            + flag(bit::SAME, same)
            + flag(bit::LEAF_ID, leaf.is_some() && !same),
    );
    for word in [id, seal, leaf.filter(|_| !same)].into_iter().flatten() {
        body.number(words.place(word));
    }
}

/// From bytes; none if they are anything else.
pub(in crate::history) fn read(bytes: &[u8]) -> Option<Facts> {
    let mut from = Taker::new(bytes);
    let ids: Option<Vec<Oid>> = (0..from.count()?).map(|_| Oid::from_bytes(from.bytes(20)?)).collect();
    let ids = Ids(ids?);
    let paths: Option<Vec<RepoPath>> = (0..from.count()?).map(|_| from.text().map(RepoPath::new)).collect();
    let paths = paths?;
    let words: Option<Vec<Arc<str>>> = (0..from.count()?).map(|_| from.text().map(Arc::from)).collect();
    let words = words?;
    let commits: Option<Vec<(Oid, KnownCommit)>> = (0..from.count()?).map(|_| take_commit(&mut from, &ids)).collect();
    let count = from.count()?;
    let mut differences = Vec::with_capacity(count);
    for _ in 0..count {
        let trees = (ids.take(&mut from)?, ids.take(&mut from)?);
        let changes: Option<Arc<[FileChange]>> =
            (0..from.count()?).map(|_| take_change(&mut from, &ids, &paths)).collect();
        differences.push((trees, changes?));
    }
    let count = from.count()?;
    let mut fronts = HashMap::with_capacity(count);
    for _ in 0..count {
        fronts.insert(ids.take(&mut from)?, take_front(&mut from, &words)?);
    }
    from.is_done().then_some(Facts { commits: commits?, differences, fronts })
}

/// The list of ids.
struct Ids(Vec<Oid>);

impl Ids {
    fn take(&self, from: &mut Taker<'_>) -> Option<Oid> {
        self.0.get(from.number()?).copied()
    }
}

fn take_commit(from: &mut Taker<'_>, ids: &Ids) -> Option<(Oid, KnownCommit)> {
    let (oid, top) = (ids.take(from)?, ids.take(from)?);
    let folder = match from.number()? {
        0 => None,
        1 => Some(None),
        2 => Some(Some(ids.take(from)?)),
        _ => return None,
    };
    let parents: Option<Vec<Oid>> = (0..from.count()?).map(|_| ids.take(from)).collect();
    Some((oid, KnownCommit { parents: parents?, top, folder }))
}

fn take_change(from: &mut Taker<'_>, ids: &Ids, paths: &[RepoPath]) -> Option<FileChange> {
    let path = paths.get(from.number()?)?.clone();
    let number = from.number()?;
    let (utf8, sides) = (number % 2 == 1, number / 2);
    let mut side = |mode: usize| match mode.checked_sub(1) {
        None => Some(None),
        Some(at) => Some(Some((*MODES.get(at)?, ids.take(from)?))),
    };
    let (old, new) = (side(sides % SIDES)?, side(sides / SIDES)?);
    Some(FileChange { path, utf8, old, new })
}

fn take_front(from: &mut Taker<'_>, words: &[Arc<str>]) -> Option<Front> {
    let bits = from.number()?;
    let has = |bit: usize| bits & bit != 0;
    let mut word = |wanted: bool| match wanted {
        true => from.number().and_then(|at| words.get(at)).map(|word| Some(word.clone())),
        false => Some(None),
    };
    let (id, seal, leaf) = (word(has(bit::ID))?, word(has(bit::SEAL))?, word(has(bit::LEAF_ID))?);
    let leaf = if has(bit::SAME) { id.clone() } else { leaf };
    let leaf = has(bit::LEAF).then_some(Leaf { id: leaf, trouble: None });
    let glance = has(bit::GLANCE).then(|| Glance { id, seal, names: has(bit::NAMES) });
    Some(Front { glance, leaf })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn oid(number: u8) -> Oid {
        Oid::from_bytes(&[number; 20]).unwrap()
    }

    fn facts() -> Facts {
        let side = |mode, number| Some((mode, oid(number)));
        let change = |path: &str, utf8, old, new| FileChange { path: RepoPath::new(path), utf8, old, new };
        let changes = [
            change("a.md", true, None, side(FileMode::File, 9)),
            change("b\u{fffd}.md", false, side(FileMode::Symlink, 8), side(FileMode::Submodule, 7)),
            change("a.md", true, side(FileMode::Executable, 6), None),
        ];
        let glance = |id: Option<&str>, seal: Option<&str>, names| {
            Some(Glance { id: id.map(Into::into), seal: seal.map(Into::into), names })
        };
        let leaf = |id: Option<&str>| Some(Leaf { id: id.map(Into::into), trouble: None });
        let fronts = [
            Front { glance: glance(Some("R-1"), None, true), leaf: leaf(Some("R-1")) },
            Front { glance: glance(Some("T-1"), Some("s1-a"), false), leaf: None },
            Front { glance: glance(None, None, false), leaf: leaf(None) },
            Front { glance: glance(Some("x"), None, false), leaf: leaf(Some("y")) },
            Front { glance: None, leaf: leaf(Some("z")) },
        ];
        let commit = |parents: &[u8], top, folder| KnownCommit {
            parents: parents.iter().map(|number| oid(*number)).collect(),
            top: oid(top),
            folder,
        };
        Facts {
            commits: vec![
                (oid(1), commit(&[], 2, Some(Some(oid(3))))),
                (oid(4), commit(&[1, 5], 2, Some(None))),
                (oid(5), commit(&[1], 6, None)),
            ],
            differences: vec![((oid(2), oid(3)), changes.into()), ((oid(3), oid(2)), [].into())],
            fronts: fronts.into_iter().enumerate().map(|(at, front)| (oid(at as u8), front)).collect(),
        }
    }

    #[test]
    fn facts_come_back_as_they_were() {
        let facts = facts();
        assert_eq!(read(&write(&facts)), Some(facts));
    }

    #[test]
    fn what_is_cut_off_is_nothing_and_what_is_altered_is_no_panic() {
        let whole = write(&facts());
        for at in 0..whole.len() {
            assert_eq!(read(&whole[..at]), None, "cut off at {at}");
            for bit in 0..8 {
                let mut other = whole.clone();
                other[at] ^= 1 << bit;
                // Whatever it is taken for: a checksum keeps it from being met.
                let _ = read(&other);
            }
        }
    }
}
