//! What is kept between runs: answers about commits, which never change, so that the next run need not work them out again.
//!
//! In: a name and bytes. Out: the same bytes in a later run of the same build, or nothing. It lies in the git directory (of a
//! linked work tree: the one that all of them share), in `slipmark-kept/` and there in a folder for each build, so that no build
//! reads what another worked out. Nothing rests on it: it can be deleted at any time; what is damaged or cannot be read is
//! as if it were not there; where it cannot be written, nothing is kept. Each file is written whole or not at all and says by its own
//! hash whether it is whole, so that two runs at once do no harm: the later one wins.
//!
//! It stays small: one build keeps [`MOST_BYTES`] at most, and the folders of [`MOST_BUILDS`] builds stay.
//!
//! To keep something more: a name of its own, and everything that it depends on in the name or in the bytes.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use sha2::{Digest, Sha256};

use crate::git::Repo;

/// The folder in the git directory.
const FOLDER: &str = "slipmark-kept";
/// What every file starts with.
const MAGIC: &[u8] = b"slipmark kept 1\n";
/// The hash behind that.
const HASH: usize = 32;
/// What is kept by one build; when it is more, all but the newest is thrown away.
pub const MOST_BYTES: u64 = 64 << 20;
/// How many builds' folders stay.
pub const MOST_BUILDS: usize = 3;
/// What a file that is not finished is called.
const UNFINISHED: &str = "unfinished-";

/// Bytes by name.
type Memory = BTreeMap<String, Vec<u8>>;

/// A place where answers are kept, or none.
#[derive(Clone, Debug, Default)]
pub struct Kept {
    folder: Option<PathBuf>,
    /// What was written by a process that leaves the disk alone.
    memory: Option<Arc<Mutex<Memory>>>,
}

impl Kept {
    /// Keeps nothing and remembers nothing.
    pub fn nothing() -> Kept {
        Kept::default()
    }

    /// In the git directory of a repository, for this build of the program.
    pub fn beside(repo: &Repo) -> Kept {
        Kept { folder: build().map(|build| repo.common_dir().join(FOLDER).join(build)), memory: None }
    }

    /// The same for a process that runs on and writes nothing: what it works out is kept in its memory.
    #[must_use]
    pub fn in_memory(self) -> Kept {
        Kept { memory: Some(Arc::default()), ..self }
    }

    /// Whether nothing is kept here: then there is no need to put together what would be.
    pub fn is_nothing(&self) -> bool {
        self.folder.is_none() && self.memory.is_none()
    }

    /// What was kept under a name; none if nothing was, or it is not as it was written.
    pub fn read(&self, name: &str) -> Option<Vec<u8>> {
        if let Some(memory) = &self.memory
            && let Some(bytes) = memory.lock().unwrap_or_else(PoisonError::into_inner).get(name)
        {
            return Some(bytes.clone());
        }
        let path = self.folder.as_ref().filter(|folder| is_ours(folder))?.join(name);
        // To open a pipe would be to wait for whoever writes into it.
        let length = path.symlink_metadata().ok().filter(|data| data.is_file() && data.len() <= MOST_BYTES)?.len();
        let file = File::open(path).ok()?;
        let mut bytes = Vec::with_capacity(usize::try_from(length).ok()?);
        file.take(MOST_BYTES).read_to_end(&mut bytes).ok()?;
        let (hash, content) = bytes.strip_prefix(MAGIC)?.split_at_checked(HASH)?;
        let whole = hash == &Sha256::digest(content)[..];
        bytes.drain(..MAGIC.len() + HASH);
        whole.then_some(bytes)
    }

    /// Keeps bytes under a name (letters, digits and `-`), in the place of what was there. Whether it could is nobody's
    /// business: the next run works it out again.
    pub fn write(&self, name: &str, bytes: &[u8]) {
        if let Some(memory) = &self.memory {
            return remember(&mut memory.lock().unwrap_or_else(PoisonError::into_inner), name, bytes);
        }
        let Some(folder) = &self.folder else { return };
        if bytes.len() as u64 > MOST_BYTES / 2 {
            return;
        }
        // What stands in the way: a disk that is full or read-only, a folder of somebody else.
        let _ = put(folder, name, bytes);
    }
}

/// Keeps bytes in memory, and throws everything else away when it has become too much.
fn remember(memory: &mut Memory, name: &str, bytes: &[u8]) {
    let others = memory.iter().filter(|(own, _)| *own != name).map(|(_, bytes)| bytes.len() as u64).sum::<u64>();
    if others + bytes.len() as u64 > MOST_BYTES {
        memory.clear();
    }
    memory.insert(name.to_string(), bytes.to_vec());
}

/// Writes the file, and throws away what has become too much.
fn put(folder: &Path, name: &str, bytes: &[u8]) -> std::io::Result<()> {
    if !folder.is_dir() {
        let above = folder.parent().map(|above| above.symlink_metadata());
        if above.is_some_and(|above| above.is_ok_and(|data| !data.is_dir())) {
            return Ok(());
        }
        fs::create_dir_all(folder)?;
        forget_builds(folder);
    }
    if !is_ours(folder) {
        return Ok(());
    }
    let mut file = tempfile::Builder::new().prefix(UNFINISHED).tempfile_in(folder)?;
    file.write_all(MAGIC)?;
    file.write_all(&Sha256::digest(bytes))?;
    file.write_all(bytes)?;
    let path = folder.join(name);
    file.persist(&path).map_err(|error| error.error)?;
    forget_too_much(folder, &path);
    Ok(())
}

/// Whether the folder and the one above it are folders and no links: somebody could have put a link there that leads to other
/// files.
fn is_ours(folder: &Path) -> bool {
    let real = |path: &Path| path.symlink_metadata().is_ok_and(|data| data.is_dir());
    real(folder) && folder.parent().is_some_and(real)
}

/// The files of a folder that could be ours, with their sizes.
fn files(folder: &Path) -> Vec<(PathBuf, u64)> {
    let entries = folder.read_dir().into_iter().flatten().flatten();
    let plain = entries.filter_map(|entry| {
        let data = entry.path().symlink_metadata().ok()?;
        data.is_file().then(|| (entry.path(), data.len()))
    });
    plain.collect()
}

fn forget_too_much(folder: &Path, newest: &Path) {
    let all = files(folder);
    if all.iter().map(|(_, bytes)| bytes).sum::<u64>() <= MOST_BYTES {
        return;
    }
    for (path, _) in all.iter().filter(|(path, _)| path != newest) {
        let _ = fs::remove_file(path);
    }
}

/// Removes the folders of builds that were made longest ago, once there are too many.
fn forget_builds(own: &Path) {
    let Some(above) = own.parent() else { return };
    let made = |path: &Path| path.symlink_metadata().and_then(|data| data.modified()).ok();
    let entries = above.read_dir().into_iter().flatten().flatten().map(|entry| entry.path());
    let mut others: Vec<PathBuf> = entries.filter(|path| path != own && is_ours(path)).collect();
    others.sort_by_key(|path| std::cmp::Reverse(made(path)));
    for old in others.iter().skip(MOST_BUILDS - 1) {
        for (path, _) in files(old) {
            let _ = fs::remove_file(path);
        }
        // Not if something is in it that is not ours.
        let _ = fs::remove_dir(old);
    }
}

/// What tells this build from all others: the version, and the program's own size and date, since somebody who changes the
/// program builds it many times under one version.
fn build() -> Option<String> {
    let program = std::env::current_exe().and_then(|path| path.metadata()).ok()?;
    let date = program.modified().ok()?.duration_since(std::time::UNIX_EPOCH).ok()?;
    let digest = Sha256::digest(format!("{} {}", program.len(), date.as_nanos()));
    Some(format!("{}-{}", env!("CARGO_PKG_VERSION"), hex(&digest[..4])))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// A name for what is kept about something, of any length: `what-` and a hash.
pub fn name(what: &str, about: &[&str]) -> String {
    let mut digest = Sha256::new();
    for part in about {
        digest.update((part.len() as u64).to_le_bytes());
        digest.update(part);
    }
    format!("{what}-{}", hex(&digest.finalize()[..16]))
}

/// Puts numbers, texts and ids one after the other.
#[derive(Debug, Default)]
pub struct Writer(Vec<u8>);

impl Writer {
    /// A number.
    pub fn number(&mut self, number: usize) {
        // Seven bits a byte, the lowest first.
        let mut rest = number as u64;
        while rest >= 0x80 {
            self.0.push((rest as u8) | 0x80);
            rest >>= 7;
        }
        self.0.push(rest as u8);
    }

    /// A text.
    pub fn text(&mut self, text: &str) {
        self.number(text.len());
        self.0.extend_from_slice(text.as_bytes());
    }

    /// Bytes whose number is known.
    pub fn bytes(&mut self, bytes: &[u8]) {
        self.0.extend_from_slice(bytes);
    }

    /// All of it.
    pub fn finish(self) -> Vec<u8> {
        self.0
    }
}

/// Takes apart what a [`Writer`] put together; everything is none where it does not fit.
#[derive(Debug)]
pub struct Taker<'b>(&'b [u8]);

impl<'b> Taker<'b> {
    /// From the start.
    pub fn new(bytes: &'b [u8]) -> Taker<'b> {
        Taker(bytes)
    }

    /// A number.
    pub fn number(&mut self) -> Option<usize> {
        let mut number = 0u64;
        for shift in (0..64).step_by(7) {
            let (byte, rest) = self.0.split_first()?;
            self.0 = rest;
            number |= u64::from(byte & 0x7f) << shift;
            if byte & 0x80 == 0 {
                return usize::try_from(number).ok();
            }
        }
        None
    }

    /// A number of things that follow; none if there cannot be so many, so that room can be made for them.
    pub fn count(&mut self) -> Option<usize> {
        self.number().filter(|count| *count <= self.0.len())
    }

    /// A text.
    pub fn text(&mut self) -> Option<&'b str> {
        let length = self.number()?;
        std::str::from_utf8(self.bytes(length)?).ok()
    }

    /// So many bytes.
    pub fn bytes(&mut self, length: usize) -> Option<&'b [u8]> {
        let (bytes, rest) = self.0.split_at_checked(length)?;
        self.0 = rest;
        Some(bytes)
    }

    /// Whether nothing is left.
    pub fn is_done(&self) -> bool {
        self.0.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(folder: &Path) -> Kept {
        Kept { folder: Some(folder.join(FOLDER).join("0.0.0-00000000")), memory: None }
    }

    #[test]
    fn what_is_kept_comes_back_and_what_is_damaged_does_not() {
        let folder = tempfile::tempdir().unwrap();
        let kept = at(folder.path());
        assert_eq!(kept.read("a"), None);
        kept.write("a", b"one");
        kept.write("a", b"another");
        assert_eq!(kept.read("a").as_deref(), Some(&b"another"[..]));
        let path = kept.folder.as_ref().unwrap().join("a");
        let whole = fs::read(&path).unwrap();
        for at in 0..whole.len() {
            let mut bytes = whole.clone();
            bytes[at] ^= 1;
            fs::write(&path, &bytes).unwrap();
            assert_eq!(kept.read("a"), None, "byte {at}");
            fs::write(&path, &whole[..at]).unwrap();
            assert_eq!(kept.read("a"), None, "cut off at {at}");
        }
        assert_eq!(files(kept.folder.as_ref().unwrap()).len(), 1, "nothing unfinished is left");
    }

    #[test]
    fn what_cannot_be_written_is_no_error() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join(FOLDER), "a file").unwrap();
        let kept = at(folder.path());
        kept.write("a", b"one");
        assert_eq!(kept.read("a"), None);
        Kept::nothing().write("a", b"one");
        assert_eq!(Kept::nothing().read("a"), None);
    }

    #[cfg(unix)]
    #[test]
    fn a_link_leads_nowhere() {
        let folder = tempfile::tempdir().unwrap();
        let elsewhere = tempfile::tempdir().unwrap();
        std::os::unix::fs::symlink(elsewhere.path(), folder.path().join(FOLDER)).unwrap();
        fs::create_dir(elsewhere.path().join("0.0.0-00000000")).unwrap();
        let kept = at(folder.path());
        kept.write("a", b"one");
        assert_eq!(kept.read("a"), None);
        assert_eq!(files(&elsewhere.path().join("0.0.0-00000000")).len(), 0);
    }

    #[cfg(unix)]
    #[test]
    fn a_pipe_is_not_waited_for() {
        let folder = tempfile::tempdir().unwrap();
        let kept = at(folder.path());
        kept.write("a", b"one");
        let path = kept.folder.as_ref().unwrap().join("a");
        fs::remove_file(&path).unwrap();
        assert!(std::process::Command::new("mkfifo").arg(&path).status().unwrap().success());
        assert_eq!(kept.read("a"), None);
    }

    #[test]
    fn old_builds_are_forgotten() {
        let folder = tempfile::tempdir().unwrap();
        for number in 0..6 {
            let own = folder.path().join(FOLDER).join(format!("0.0.{number}-00000000"));
            Kept { folder: Some(own), memory: None }.write("a", b"one");
        }
        assert_eq!(folder.path().join(FOLDER).read_dir().unwrap().count(), MOST_BUILDS);
        let newest = folder.path().join(FOLDER).join("0.0.5-00000000");
        assert_eq!(Kept { folder: Some(newest), memory: None }.read("a").as_deref(), Some(&b"one"[..]));
    }

    #[test]
    fn parts_come_apart_as_they_were_put_together() {
        let mut writer = Writer::default();
        let numbers = [0, 1, 127, 128, 300, usize::MAX];
        numbers.iter().for_each(|number| writer.number(*number));
        writer.text("né");
        writer.bytes(&[1, 2, 3]);
        let bytes = writer.finish();
        let mut taker = Taker::new(&bytes);
        assert!(numbers.iter().all(|number| taker.number() == Some(*number)));
        assert_eq!((taker.text(), taker.bytes(3)), (Some("né"), Some(&[1, 2, 3][..])));
        assert!(taker.is_done() && taker.number().is_none());
        assert_eq!(Taker::new(&[0xff; 12]).number(), None);
        assert_eq!(Taker::new(&[0xff, 0x01, 0]).count(), None);
    }

    #[test]
    fn names_tell_what_they_are_about_apart() {
        assert_ne!(name("x", &["a", "bc"]), name("x", &["ab", "c"]));
        assert!(name("trend", &["é\n"]).chars().all(|c| c.is_ascii_alphanumeric() || c == '-'));
    }

    #[test]
    fn what_is_kept_in_memory_is_not_on_the_disk() {
        let folder = tempfile::tempdir().unwrap();
        let disk = at(folder.path());
        disk.write("a", b"one");
        let kept = disk.clone().in_memory();
        assert_eq!(kept.read("a").as_deref(), Some(&b"one"[..]));
        kept.write("a", b"two");
        kept.clone().write("b", b"three");
        assert_eq!((kept.read("a"), kept.read("b")), (Some(b"two".to_vec()), Some(b"three".to_vec())));
        assert_eq!((disk.read("a"), disk.read("b")), (Some(b"one".to_vec()), None));
    }
}
