//! Writes a folder of files that a command makes: all of it or nothing as far as can be, and never over what is somebody
//! else's by mistake.
//!
//! The files are made in a folder beside, which is then moved into place; an earlier folder of the same sort is moved aside
//! first, and taken away last. In each stands a list of its files with their hashes: only what stands in the list as
//! it says is ours, and only that is ever taken away. A run that was killed leaves a folder beside with a name that
//! says whose it is; the next one puts back what it moved aside, or takes away what it left.

use std::collections::BTreeMap;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use rayon::prelude::*;
use sha2::{Digest, Sha256};

use crate::analysis::hex;

use super::{CliError, staged};

/// The list of what is in the folder: SHA-256, two spaces, path; as `sha256sum --check` reads it.
pub const CONTENTS: &str = "contents.txt";

/// A sort of folder.
#[derive(Clone, Copy)]
pub struct Sort {
    /// What it is called.
    pub name: &'static str,
    /// The file that every such folder has, and whether it is one that we made, told by its first bytes.
    pub first: (&'static str, fn(&[u8]) -> bool),
}

/// Makes the bytes of one file.
pub type Make<'a> = &'a (dyn Fn(&str) -> Result<Vec<u8>, CliError> + Sync);

/// What stands where the folder is to be.
enum Found {
    /// Nothing.
    Nothing,
    /// A folder that holds what its list says, and nothing else.
    Ours,
    /// Something else: what it is.
    Other(String),
}

/// Writes a folder with these files, whose paths are below it and have at most one folder of their own.
///
/// # Errors
/// If there is something else of that name and it was not said to write into it, if a file cannot be made, or if the
/// system refuses. Then what was there is there.
pub fn write(folder: &Path, files: &[&str], make: Make<'_>, force: bool, what: Sort) -> Result<(), CliError> {
    let beside = Beside::of(folder)?;
    beside.mend(folder).map_err(|error| CliError::write(folder, error))?;
    match look(folder, what).map_err(|error| CliError::write(folder, error))? {
        Found::Other(held) if !force => Err(CliError::refused(
            format!("{} is no {} alone: {held}", folder.display(), what.name),
            "name another folder, or write into this one with --force, which leaves what is not slipmark's",
        )),
        Found::Other(_) => into(folder, files, make),
        found => {
            let written = fill(&beside.new, files, make);
            let placed = written.and_then(|()| place(folder, &beside, matches!(found, Found::Ours)));
            if placed.is_err() {
                // What is left of it does no harm, and the next run takes it away.
                let _ = fs::remove_dir_all(&beside.new);
            }
            placed
        }
    }
}

/// The two names beside a folder.
struct Beside {
    /// Where the new one is made.
    new: PathBuf,
    /// Where the earlier one goes.
    old: PathBuf,
}

impl Beside {
    fn of(folder: &Path) -> Result<Beside, CliError> {
        let Some(name) = folder.file_name().and_then(|name| name.to_str()) else {
            return Err(CliError::refused(
                format!("{} has no name of its own", folder.display()),
                "name a folder that is to be made, such as ../site",
            ));
        };
        let beside = |end: &str| folder.with_file_name(format!(".slipmark-{name}.{end}"));
        Ok(Beside { new: beside("part"), old: beside("old") })
    }

    /// Puts right what a run that was cut off has left.
    fn mend(&self, folder: &Path) -> std::io::Result<()> {
        if is_folder(&self.new) {
            fs::remove_dir_all(&self.new)?;
        }
        if is_folder(&self.old) {
            match folder.symlink_metadata().is_ok() {
                true => take_away(&self.old)?,
                false => fs::rename(&self.old, folder)?,
            }
        }
        Ok(())
    }
}

fn is_folder(path: &Path) -> bool {
    path.symlink_metadata().is_ok_and(|data| data.is_dir())
}

/// Makes every file in a new folder.
fn fill(folder: &Path, files: &[&str], make: Make<'_>) -> Result<(), CliError> {
    let wrong = |path: &Path, error: std::io::Error| CliError::write(path, error);
    fs::create_dir(folder).map_err(|error| wrong(folder, error))?;
    make_folders(folder, files)?;
    let one = |path: &&str| -> Result<String, CliError> {
        let bytes = make(path)?;
        let full = folder.join(path);
        fs::write(&full, &bytes).map_err(|error| wrong(&full, error))?;
        Ok(line(&bytes, path))
    };
    let lines: Vec<String> = files.par_iter().map(one).collect::<Result<_, _>>()?;
    let contents = folder.join(CONTENTS);
    fs::write(&contents, lines.concat()).map_err(|error| wrong(&contents, error))
}

/// What there is of files that are not written: name and SHA-256 of each, and of their list.
///
/// # Errors
/// If a file cannot be made.
pub fn parts(files: &[&str], make: Make<'_>) -> Result<Vec<(String, String)>, CliError> {
    let one = |path: &&str| Ok((path.to_string(), hex(&Sha256::digest(make(path)?))));
    let mut parts: Vec<(String, String)> = files.par_iter().map(one).collect::<Result<_, CliError>>()?;
    let list: String = parts.iter().map(|(path, hash)| format!("{hash}  {path}\n")).collect();
    parts.push((CONTENTS.to_string(), hex(&Sha256::digest(list))));
    Ok(parts)
}

/// What a folder holds, and what its list says of it.
#[derive(Debug)]
pub struct Held {
    /// Path and SHA-256 of every file, the list among them.
    pub files: Vec<(String, String)>,
    /// The same as it is listed.
    pub listed: Vec<(String, String)>,
}

/// Looks at a folder; of a file with more than `most` bytes, and of a link, it is only told that it is one.
///
/// # Errors
/// If it cannot be read.
pub fn held(folder: &Path, most: u64) -> std::io::Result<Held> {
    let one = |(full, data): &(PathBuf, fs::Metadata)| -> std::io::Result<(String, String)> {
        let path = full.strip_prefix(folder).unwrap_or(full).to_string_lossy().replace('\\', "/");
        let hash = match data {
            data if !data.is_file() => "no file".to_string(),
            data if data.len() > most => "too large".to_string(),
            _ => hex(&Sha256::digest(fs::read(full)?)),
        };
        Ok((path, hash))
    };
    let all: Vec<(PathBuf, fs::Metadata)> = walk(folder)?.into_iter().filter(|(_, data)| !data.is_dir()).collect();
    let files = all.par_iter().map(one).collect::<std::io::Result<_>>()?;
    Ok(Held { files, listed: listed(folder).into_iter().collect() })
}

fn line(bytes: &[u8], path: &str) -> String {
    format!("{}  {path}\n", hex(&Sha256::digest(bytes)))
}

fn make_folders(folder: &Path, files: &[&str]) -> Result<(), CliError> {
    let mut below: Vec<&str> = files.iter().filter_map(|path| path.rsplit_once('/')).map(|(own, _)| own).collect();
    below.sort_unstable();
    below.dedup();
    for own in below {
        let own = folder.join(own);
        fs::create_dir_all(&own).map_err(|error| CliError::write(&own, error))?;
    }
    Ok(())
}

/// Moves the new folder to its place, and the earlier one out of the way and then away.
fn place(folder: &Path, beside: &Beside, earlier: bool) -> Result<(), CliError> {
    let wrong = |error: std::io::Error| CliError::write(folder, error);
    if earlier {
        fs::rename(folder, &beside.old).map_err(wrong)?;
    }
    if let Err(error) = fs::rename(&beside.new, folder) {
        if earlier {
            fs::rename(&beside.old, folder).map_err(wrong)?;
        }
        return Err(wrong(error));
    }
    if earlier {
        take_away(&beside.old).map_err(|error| CliError::write(&beside.old, error))?;
    }
    Ok(())
}

/// Takes away what a folder's own list names, and folders that are empty then. Whatever else came into it stays.
fn take_away(folder: &Path) -> std::io::Result<()> {
    for (path, _) in listed(folder) {
        let _ = fs::remove_file(folder.join(path));
    }
    let _ = fs::remove_file(folder.join(CONTENTS));
    // What is in a folder comes behind it.
    for (path, _) in walk(folder)?.iter().rev().filter(|(_, data)| data.is_dir()) {
        let _ = fs::remove_dir(path);
    }
    match folder.symlink_metadata() {
        Ok(_) => Err(std::io::Error::other("something came into it meanwhile, and was left there")),
        Err(_) => Ok(()),
    }
}

/// Writes into a folder that holds other things, file by file.
fn into(folder: &Path, files: &[&str], make: Make<'_>) -> Result<(), CliError> {
    if !is_folder(folder) {
        return Err(CliError::refused(
            format!("{} is no folder", folder.display()),
            "name a folder; a link to one is not followed",
        ));
    }
    let gone: Vec<String> = listed(folder).into_keys().filter(|path| !files.contains(&path.as_str())).collect();
    make_folders(folder, files)?;
    let put = |path: &str, bytes: &[u8]| -> Result<(), CliError> {
        let full = folder.join(path);
        let own = full.parent().unwrap_or(folder);
        let wrong = |error: &dyn std::fmt::Display| CliError::write(&full, error);
        let file = staged(own, bytes).map_err(|error| wrong(&error))?;
        file.persist(&full).map_err(|error| wrong(&error.error))?;
        Ok(())
    };
    let mut lines = String::new();
    for path in files {
        let bytes = make(path)?;
        put(path, &bytes)?;
        lines.push_str(&line(&bytes, path));
    }
    for path in gone {
        let _ = fs::remove_file(folder.join(path));
    }
    put(CONTENTS, lines.as_bytes())
}

/// What a folder's list says: each path with its hash. A path that would lead out of the folder is none.
fn listed(folder: &Path) -> BTreeMap<String, String> {
    let text = fs::read_to_string(folder.join(CONTENTS)).unwrap_or_default();
    let lines = text.lines().filter_map(|line| line.split_once("  "));
    let inside = |path: &&str| Path::new(path).components().all(|part| matches!(part, std::path::Component::Normal(_)));
    lines.filter(|(_, path)| inside(path)).map(|(hash, path)| (path.to_string(), hash.to_string())).collect()
}

/// A folder and everything below it, by name; no link is followed.
fn walk(folder: &Path) -> std::io::Result<Vec<(PathBuf, fs::Metadata)>> {
    let mut found = vec![(folder.to_path_buf(), folder.symlink_metadata()?)];
    let mut at = 0;
    while at < found.len() {
        let (path, data) = &found[at];
        if data.is_dir() {
            let mut inside: Vec<PathBuf> =
                path.read_dir()?.map(|own| Ok(own?.path())).collect::<std::io::Result<_>>()?;
            inside.sort();
            for own in inside {
                let data = own.symlink_metadata()?;
                found.push((own, data));
            }
        }
        at += 1;
    }
    Ok(found)
}

/// Looks at what is there already.
fn look(folder: &Path, what: Sort) -> std::io::Result<Found> {
    let data = match folder.symlink_metadata() {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Found::Nothing),
        data => data?,
    };
    if !data.is_dir() {
        return Ok(Found::Other("it is a file or a link".into()));
    }
    let listed = listed(folder);
    let (first, is_ours) = what.first;
    for (full, data) in walk(folder)?.into_iter().filter(|(_, data)| !data.is_dir()) {
        let path = full.strip_prefix(folder).ok().and_then(Path::to_str).unwrap_or("?").replace('\\', "/");
        if path == CONTENTS && data.is_file() {
            continue;
        }
        let Some(hash) = listed.get(&path).filter(|_| data.is_file()) else {
            return Ok(Found::Other(format!("{path} is not one of its files")));
        };
        let bytes = fs::read(&full)?;
        if hex(&Sha256::digest(&bytes)) != *hash {
            return Ok(Found::Other(format!("{path} was changed since")));
        }
        if path == first && !is_ours(&bytes) {
            return Ok(Found::Other(format!("{path} was not made by slipmark")));
        }
    }
    match listed.is_empty() || listed.contains_key(first) {
        true => Ok(Found::Ours),
        false => Ok(Found::Other(format!("{CONTENTS} does not list {first}"))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SORT: Sort = Sort { name: "folder of pages", first: ("index.html", |bytes| bytes.starts_with(b"ours")) };

    fn made(path: &str) -> Result<Vec<u8>, CliError> {
        Ok(format!("ours: {path}").into_bytes())
    }

    fn write_to(folder: &Path, files: &[&str], force: bool) -> Result<(), CliError> {
        write(folder, files, &made, force, SORT)
    }

    fn held(folder: &Path) -> Vec<String> {
        let all = walk(folder).unwrap().into_iter().filter(|(_, data)| data.is_file());
        let mut names: Vec<String> =
            all.map(|(path, _)| path.strip_prefix(folder).unwrap().display().to_string()).collect();
        names.sort();
        names
    }

    #[test]
    fn a_folder_of_ours_is_made_anew_and_nothing_is_left_beside() {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("site");
        write_to(&folder, &["index.html", "a/b.html", "a/c.html"], false).unwrap();
        write_to(&folder, &["index.html", "a/c.html"], false).unwrap();
        assert_eq!(held(&folder), ["a/c.html", "contents.txt", "index.html"]);
        assert_eq!(dir.path().read_dir().unwrap().count(), 1, "nothing is left beside it");
        let list = fs::read_to_string(folder.join(CONTENTS)).unwrap();
        assert!(list.starts_with(&hex(&Sha256::digest(b"ours: index.html"))), "{list}");
    }

    #[test]
    fn what_is_not_ours_is_refused_and_with_force_left_alone() {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("site");
        write_to(&folder, &["index.html", "a/b.html"], false).unwrap();
        fs::write(folder.join("a/mine.txt"), "mine").unwrap();
        let refused = write_to(&folder, &["index.html"], false).unwrap_err().to_string();
        assert!(refused.contains("a/mine.txt is not one of its files"), "{refused}");
        assert_eq!(held(&folder), ["a/b.html", "a/mine.txt", "contents.txt", "index.html"]);
        write_to(&folder, &["index.html", "d.html"], true).unwrap();
        assert_eq!(held(&folder), ["a/mine.txt", "contents.txt", "d.html", "index.html"]);
        assert_eq!(fs::read(folder.join("a/mine.txt")).unwrap(), b"mine");
    }

    #[test]
    fn a_file_that_was_changed_is_not_ours_any_more() {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("site");
        write_to(&folder, &["index.html"], false).unwrap();
        fs::write(folder.join("index.html"), "ours, and edited").unwrap();
        assert!(write_to(&folder, &["index.html"], false).is_err());
        assert_eq!(fs::read(folder.join("index.html")).unwrap(), b"ours, and edited");
    }

    #[test]
    fn a_list_that_claims_somebody_elses_files_does_not_make_them_ours() {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("site");
        fs::create_dir(&folder).unwrap();
        fs::write(dir.path().join("outside"), "outside").unwrap();
        fs::write(folder.join("index.html"), "theirs").unwrap();
        let list = [line(b"theirs", "index.html"), line(b"outside", "../outside")].concat();
        fs::write(folder.join(CONTENTS), list).unwrap();
        assert!(write_to(&folder, &["index.html"], false).is_err());
        write_to(&folder, &["index.html"], true).unwrap();
        assert_eq!(fs::read(dir.path().join("outside")).unwrap(), b"outside");
    }

    #[test]
    fn a_file_that_cannot_be_made_leaves_what_was_there() {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("site");
        write_to(&folder, &["index.html"], false).unwrap();
        let fails = |path: &str| match path {
            "b.html" => Err(CliError::refused("no", "no")),
            _ => Ok(b"new".to_vec()),
        };
        assert!(write(&folder, &["index.html", "b.html"], &fails, false, SORT).is_err());
        assert_eq!(fs::read(folder.join("index.html")).unwrap(), b"ours: index.html");
        assert_eq!(dir.path().read_dir().unwrap().count(), 1);
    }

    #[test]
    fn what_a_killed_run_moved_aside_comes_back() {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("site");
        write_to(&folder, &["index.html", "a.html"], false).unwrap();
        let beside = Beside::of(&folder).unwrap();
        fs::rename(&folder, &beside.old).unwrap();
        fs::create_dir(&beside.new).unwrap();
        beside.mend(&folder).unwrap();
        assert_eq!(held(&folder), ["a.html", "contents.txt", "index.html"]);
        assert_eq!(dir.path().read_dir().unwrap().count(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn a_link_is_not_followed() {
        let dir = tempfile::tempdir().unwrap();
        let real = dir.path().join("real");
        write_to(&real, &["index.html"], false).unwrap();
        let link = dir.path().join("link");
        std::os::unix::fs::symlink(&real, &link).unwrap();
        assert!(write_to(&link, &["index.html"], false).is_err());
        assert!(write_to(&link, &["index.html"], true).is_err());
    }
}
