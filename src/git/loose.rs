//! Loose objects are looked through before the library reads them.
//!
//! The library never ends on one that is cut off in the middle (libgit2 #7342, in every version up to 1.9.7), and writes past
//! its memory for one that is longer than it says (libgit2 #7177). A disk that was full, or a hostile repository, has such
//! objects; packed ones carry checks of their own.

use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use flate2::bufread::ZlibDecoder;
use foldhash::HashSet;

use super::{GitError, Oid, Repo};

/// `commit`, a space, the digits of a size and a zero byte: more than this is no header.
const LONGEST_HEADER: u64 = 32;

/// Object stores that a repository borrows from borrow from others in turn, no further than git follows them.
const DEEPEST: usize = 5;
/// And so many of them, where they name each other.
const MOST: usize = 64;

/// The objects that stand by themselves, in a repository's own object store and in those that it borrows from.
pub(super) struct Loose(Vec<Store>);

/// One object store, each folder of it listed once: to ask the disk for every object of a long history, nearly all of which are
/// packed, takes longer than to read many of them.
struct Store {
    objects: PathBuf,
    /// By the first byte of an id, the ids that are there; none where the disk must be asked.
    folders: Box<[OnceLock<Option<HashSet<Oid>>>]>,
}

impl Loose {
    pub(super) fn new(objects: PathBuf) -> Loose {
        let mut all = vec![objects];
        let mut last = 0..1;
        for _ in 0..DEEPEST {
            let lent: Vec<PathBuf> =
                all[last].iter().flat_map(|objects| borrowed(objects)).take(MOST - all.len()).collect();
            last = all.len()..all.len() + lent.len();
            all.extend(lent);
        }
        Loose(all.into_iter().map(Store::new).collect())
    }

    /// The files of an object that stands by itself.
    fn find(&self, oid: Oid) -> impl Iterator<Item = File> {
        self.0.iter().filter_map(move |store| store.find(oid))
    }
}

impl Store {
    fn new(objects: PathBuf) -> Store {
        Store { objects, folders: (0..=u8::MAX).map(|_| OnceLock::new()).collect() }
    }

    fn find(&self, oid: Oid) -> Option<File> {
        let first = *oid.as_bytes().first()?;
        let folder = || self.objects.join(format!("{first:02x}"));
        match self.folders.get(usize::from(first))?.get_or_init(|| listed(&folder())) {
            Some(names) if !names.contains(&oid) => None,
            _ => File::open(folder().join(oid.to_string().get(2..)?)).ok(),
        }
    }
}

/// The object stores that one borrows from: a line each, from the store itself where it is no whole path (gitrepository-layout(5)).
fn borrowed(objects: &Path) -> Vec<PathBuf> {
    let listed = fs::read_to_string(objects.join("info").join("alternates")).unwrap_or_default();
    let named = listed.lines().filter(|line| !line.is_empty() && !line.starts_with('#'));
    named.map(|line| objects.join(line)).collect()
}

/// The objects in a folder of them; none if it cannot be told.
fn listed(folder: &Path) -> Option<HashSet<Oid>> {
    let first = folder.file_name()?.to_str()?;
    let entries = match fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Some(HashSet::default()),
        Err(_) => return None,
    };
    let mut names = HashSet::default();
    for entry in entries {
        let name = entry.ok()?.file_name();
        names.extend(name.to_str().and_then(|rest| Oid::from_hex(&format!("{first}{rest}"))));
    }
    Some(names)
}

impl Repo {
    /// Refuses an object that stands by itself in the object store and is not whole; whether it stands by itself.
    ///
    /// # Errors
    /// [`GitError::Malformed`]. An object that is not there, or is packed, is no matter of this.
    pub(super) fn whole(&self, oid: Oid) -> Result<bool, GitError> {
        let broken = |detail: String| Err(GitError::Malformed { oid, detail });
        let mut found = false;
        for file in self.known.loose.find(oid) {
            found = true;
            match missing(BufReader::new(file)) {
                Ok(None) => {}
                Ok(Some(what)) => return broken(what),
                Err(error) => return broken(format!("it cannot be unpacked: {error}")),
            }
        }
        Ok(found)
    }
}

/// What is wrong with a packed object's length.
fn missing(file: impl BufRead) -> io::Result<Option<String>> {
    let mut unpacked = BufReader::new(ZlibDecoder::new(file));
    let mut header = Vec::new();
    (&mut unpacked).take(LONGEST_HEADER).read_until(0, &mut header)?;
    let text = header.strip_suffix(&[0]).and_then(|header| std::str::from_utf8(header).ok());
    let said = text.and_then(|header| header.split_once(' ')).and_then(|(_, size)| size.parse::<u64>().ok());
    let Some(said) = said else { return Ok(Some("it does not say what it is".into())) };
    let found = io::copy(&mut unpacked.take(said.saturating_add(1)), &mut io::sink())?;
    Ok((found != said)
        .then(|| format!("it says that it has {said} bytes, and has {}", if found > said { "more" } else { "fewer" })))
}
