//! The only place that writes files of a project: each whole or not at all, all of them or none as far as can be.
//!
//! A new text is first written under another name, and then moved to its own. The other name lies in a folder of git's
//! own: what a killed run leaves there is neither read by this program nor shown by `git status`, and is cleared away by
//! a later run. A killed run can leave an empty folder, and of several files the first ones alone.

use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;

use sha2::{Digest, Sha256};
use tempfile::NamedTempFile;

use crate::git::Repo;
use crate::source::in_pieces;
use crate::text::RepoPath;

use super::CliError;

/// One file to write.
#[derive(Clone, Debug)]
pub struct Change {
    /// Where, in the project.
    pub path: RepoPath,
    /// What was read there; none for a file that must not exist yet.
    pub before: Option<Vec<u8>>,
    /// What is to stand there.
    pub after: After,
}

/// What is to stand in a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum After {
    /// These bytes.
    Bytes(Vec<u8>),
    /// What another file holds, which is copied in pieces.
    CopyOf {
        /// That file.
        from: PathBuf,
        /// The SHA-256 that it had when it was looked at.
        sha256: [u8; 32],
    },
}

impl Change {
    /// Whether what is to stand there stands there already.
    pub fn is_nothing(&self) -> bool {
        matches!((&self.before, &self.after), (Some(before), After::Bytes(after)) if before == after)
    }
}

/// A change made ready to be moved to its place.
struct Ready<'c> {
    change: &'c Change,
    full: PathBuf,
    /// The new text under another name.
    new: NamedTempFile,
}

/// Where a repository is made until it is moved to its place: a folder of this name in the one that it is for. A run that
/// was cut off leaves it there, and the next one begins it anew.
pub const UNFINISHED: &str = ".slipmark.part";

/// Takes away what a run that was cut off has left in a folder, and names the place where to begin.
///
/// # Errors
/// If it cannot be taken away.
pub fn begin_anew(folder: &Path) -> std::io::Result<PathBuf> {
    let place = folder.join(UNFINISHED);
    match fs::remove_dir_all(&place) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => Err(error),
        _ => Ok(place),
    }
}

/// Where texts stand until they are moved to their place, in git's own folder.
const STAGING: &str = "slipmark";
/// What is left over there for this long belongs to no run that is still at work.
const LEFT_OVER: Duration = Duration::from_secs(60 * 60);

/// A whole text under another name, on disk, to be moved into `folder`.
///
/// It stands in git's own folder, if there is one on the same file system, else in `folder` itself.
///
/// # Errors
/// What the system says.
pub fn staged(folder: &Path, text: &[u8]) -> std::io::Result<NamedTempFile> {
    staged_by(folder, |new| new.write_all(text))
}

/// The same for what a change is to put there.
fn staged_after(folder: &Path, after: &After) -> std::io::Result<NamedTempFile> {
    match after {
        After::Bytes(bytes) => staged(folder, bytes),
        After::CopyOf { from, sha256 } => staged_by(folder, |new| copy(from, new, *sha256)),
    }
}

/// Copies a file in pieces, as long as it is what it was.
fn copy(from: &Path, to: &mut NamedTempFile, sha256: [u8; 32]) -> std::io::Result<()> {
    let mut digest = Sha256::new();
    let mut written = Ok(());
    in_pieces(&mut File::open(from)?, &mut |piece| {
        digest.update(piece);
        if written.is_ok() {
            written = to.write_all(piece);
        }
    })?;
    written?;
    match <[u8; 32]>::from(digest.finalize()) == sha256 {
        true => Ok(()),
        false => Err(std::io::Error::other(format!("{} was changed by somebody else meanwhile", from.display()))),
    }
}

fn staged_by(
    folder: &Path,
    write: impl FnOnce(&mut NamedTempFile) -> std::io::Result<()>,
) -> std::io::Result<NamedTempFile> {
    let staging = staging(folder);
    let mut builder = tempfile::Builder::new();
    builder.prefix(".slipmark-").suffix(".part");
    new_file_permissions(&mut builder);
    let mut new = builder.tempfile_in(staging.as_deref().unwrap_or(folder))?;
    write(&mut new)?;
    new.as_file().sync_all()?;
    Ok(new)
}

/// The folder in git's own, made if need be and cleared of what killed runs left; none where nothing could be moved from
/// there into `folder`.
fn staging(folder: &Path) -> Option<PathBuf> {
    let git = Repo::discover(folder).ok()?.git_dir().to_owned();
    if !same_file_system(&git, folder) {
        return None;
    }
    let staging = git.join(STAGING);
    match fs::create_dir(&staging) {
        Err(error) if error.kind() != std::io::ErrorKind::AlreadyExists => return None,
        _ if !staging.symlink_metadata().is_ok_and(|data| data.is_dir()) => return None,
        _ => {}
    }
    for entry in staging.read_dir().ok()?.flatten() {
        let old = entry.metadata().and_then(|data| data.modified()).ok().and_then(|time| time.elapsed().ok());
        let own = entry.file_name().to_str().is_some_and(|name| name.starts_with(".slipmark-"));
        if own && old.is_some_and(|age| age > LEFT_OVER) {
            // If it cannot be removed it does no harm.
            let _ = fs::remove_file(entry.path());
        }
    }
    Some(staging)
}

/// Whether a file can be moved from one folder to the other in one step.
#[cfg(unix)]
fn same_file_system(one: &Path, other: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let device = |path: &Path| path.metadata().ok().map(|data| data.dev());
    device(one).is_some() && device(one) == device(other)
}

/// Elsewhere it cannot be told beforehand.
#[cfg(not(unix))]
fn same_file_system(_one: &Path, _other: &Path) -> bool {
    false
}

/// Writes all changes. A change that changes nothing is not written.
///
/// # Errors
/// If a file is not what was read, is a symlink, lies outside the project, exists already, or cannot be written. Then
/// nothing is written; only if the system fails between two files can the first have been, and the message says so.
pub fn write_all(root: &Path, changes: &[Change]) -> Result<(), CliError> {
    let real = changes.iter().filter(|change| !change.is_nothing());
    let ready: Vec<Ready<'_>> = real.map(|change| prepare(root, change)).collect::<Result<_, _>>()?;
    let mut done: Vec<(&Change, PathBuf)> = Vec::new();
    for one in ready {
        let (change, full) = (one.change, one.full.clone());
        if let Err(error) = put_in_place(one) {
            let undone = done.iter().rev().all(|(change, full)| undo(change, full));
            let reason = match undone {
                true => format!("{error}; nothing was written"),
                false => format!("{error}; files before it were written: see git status"),
            };
            return Err(CliError::write(&full, reason));
        }
        done.push((change, full));
    }
    Ok(())
}

/// Looks at everything that could go wrong, and writes the new text under another name.
fn prepare<'c>(root: &Path, change: &'c Change) -> Result<Ready<'c>, CliError> {
    let full = root.join(change.path.as_str());
    let folder = folder_inside(root, &change.path)?;
    let failed = |error: std::io::Error| CliError::write(&full, error);
    match &change.before {
        Some(before) => {
            unchanged(&full, before)?;
            let permissions = fs::metadata(&full).map_err(failed)?.permissions();
            let new = staged_after(&folder, &change.after).map_err(failed)?;
            new.as_file().set_permissions(permissions).map_err(failed)?;
            Ok(Ready { change, full, new })
        }
        None => {
            if full.symlink_metadata().is_ok() {
                return Err(CliError::refused(
                    format!("{} exists already", change.path),
                    "give another id or another folder; nothing was written",
                ));
            }
            let new = staged_after(&folder, &change.after).map_err(failed)?;
            Ok(Ready { change, full, new })
        }
    }
}

/// A new file is made as any other program would make it; the system takes away what the user's mask says.
#[cfg(unix)]
fn new_file_permissions(builder: &mut tempfile::Builder<'_, '_>) {
    use std::os::unix::fs::PermissionsExt;
    builder.permissions(fs::Permissions::from_mode(0o666));
}

#[cfg(not(unix))]
fn new_file_permissions(_builder: &mut tempfile::Builder<'_, '_>) {}

/// The folder of a path, made if need be, with no symlink on the way to it.
fn folder_inside(root: &Path, path: &RepoPath) -> Result<PathBuf, CliError> {
    let mut folder = root.to_path_buf();
    for name in path.folder().split('/').filter(|name| !name.is_empty()) {
        folder.push(name);
        match folder.symlink_metadata() {
            Ok(metadata) if metadata.is_dir() && name != ".." && name != ".git" => {}
            Ok(_) => {
                return Err(CliError::refused(
                    format!("{} is no plain folder of the project", folder.display()),
                    "name a folder inside the project that is no symlink; nothing was written",
                ));
            }
            Err(_) => fs::create_dir(&folder).map_err(|error| CliError::write(&folder, error))?,
        }
    }
    Ok(folder)
}

/// Refuses if the file is no longer what was read, or is no plain file.
fn unchanged(full: &Path, before: &[u8]) -> Result<(), CliError> {
    let plain = full.symlink_metadata().map_err(|error| CliError::write(full, error))?.is_file();
    if !plain {
        return Err(CliError::write(full, "it is a symlink or no file; nothing was written"));
    }
    let now = fs::read(full).map_err(|error| CliError::write(full, error))?;
    if now != before {
        let help = "run the command again; nothing was written";
        return Err(CliError::refused(format!("{} was changed by somebody else meanwhile", full.display()), help));
    }
    Ok(())
}

fn put_in_place(ready: Ready<'_>) -> std::io::Result<()> {
    let folder = ready.full.parent().map(Path::to_path_buf);
    match ready.change.before {
        Some(_) => ready.new.persist(&ready.full).map_err(|error| error.error)?,
        None => ready.new.persist_noclobber(&ready.full).map_err(|error| error.error)?,
    };
    // The name is on disk when the folder is; not every system lets a folder be opened for that.
    if let Some(folder) = folder.and_then(|folder| File::open(folder).ok()) {
        let _ = folder.sync_all();
    }
    Ok(())
}

/// Puts back what stood there, whole or not at all as well.
fn undo(change: &Change, full: &Path) -> bool {
    let Some(before) = &change.before else { return fs::remove_file(full).is_ok() };
    let (Some(folder), Ok(now)) = (full.parent(), fs::metadata(full)) else { return false };
    staged(folder, before)
        .and_then(|old| old.as_file().set_permissions(now.permissions()).map(|()| old))
        .is_ok_and(|old| old.persist(full).is_ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn change(path: &str, before: Option<&str>, after: &str) -> Change {
        Change { path: RepoPath::new(path), before: before.map(Into::into), after: After::Bytes(after.into()) }
    }

    fn names(folder: &Path) -> Vec<String> {
        let entries = folder.read_dir().expect("a folder").flatten();
        let mut names: Vec<String> =
            entries.map(|entry| entry.file_name().to_str().expect("a name").to_string()).collect();
        names.sort();
        names
    }

    #[test]
    fn one_file_that_moved_on_stops_all() {
        let dir = tempfile::tempdir().expect("a folder");
        fs::write(dir.path().join("a.md"), "one").expect("a file");
        fs::write(dir.path().join("b.md"), "moved on").expect("a file");
        let both = [change("a.md", Some("one"), "two"), change("b.md", Some("one"), "two")];
        assert!(write_all(dir.path(), &both).is_err());
        assert_eq!(fs::read_to_string(dir.path().join("a.md")).expect("a file"), "one");
        assert_eq!(names(dir.path()), ["a.md", "b.md"]);
    }

    #[test]
    fn new_files_make_their_folders_and_overwrite_nothing() {
        let dir = tempfile::tempdir().expect("a folder");
        let new = [change("x/y/a.md", None, "one")];
        write_all(dir.path(), &new).expect("written");
        assert_eq!(fs::read_to_string(dir.path().join("x/y/a.md")).expect("a file"), "one");
        assert!(write_all(dir.path(), &new).is_err());
        assert!(write_all(dir.path(), &[change("../a.md", None, "one")]).is_err());
        assert_eq!(names(&dir.path().join("x/y")), ["a.md"]);
    }

    #[test]
    fn a_copy_is_of_what_was_looked_at_or_not_made() {
        let dir = tempfile::tempdir().expect("a folder");
        let from = dir.path().join("from.bin");
        let large = vec![7; 200_000];
        fs::write(&from, &large).expect("a file");
        let sha256: [u8; 32] = Sha256::digest(&large).into();
        let copy = |path: &str| Change {
            path: RepoPath::new(path),
            before: None,
            after: After::CopyOf { from: from.clone(), sha256 },
        };
        write_all(dir.path(), &[copy("x/a.bin")]).expect("written");
        assert!(fs::read(dir.path().join("x/a.bin")).expect("a file") == large);
        fs::write(&from, "changed").expect("a file");
        let refused = write_all(dir.path(), &[copy("b.bin"), change("c.md", None, "one")]);
        assert!(refused.is_err_and(|error| error.to_string().contains("changed by somebody else")));
        assert_eq!(names(dir.path()), ["from.bin", "x"]);
    }

    #[cfg(unix)]
    #[test]
    fn symlinks_are_not_followed_and_permissions_stay() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let dir = tempfile::tempdir().expect("a folder");
        let outside = tempfile::tempdir().expect("a folder");
        fs::write(outside.path().join("a.md"), "one").expect("a file");
        symlink(outside.path().join("a.md"), dir.path().join("a.md")).expect("a link");
        symlink(outside.path(), dir.path().join("out")).expect("a link");
        assert!(write_all(dir.path(), &[change("a.md", Some("one"), "two")]).is_err());
        assert!(write_all(dir.path(), &[change("out/a.md", Some("one"), "two")]).is_err());
        assert!(write_all(dir.path(), &[change("out/b.md", None, "two")]).is_err());
        assert_eq!(names(outside.path()), ["a.md"]);
        let own = dir.path().join("b.md");
        fs::write(&own, "one").expect("a file");
        fs::set_permissions(&own, fs::Permissions::from_mode(0o640)).expect("permissions");
        write_all(dir.path(), &[change("b.md", Some("one"), "two")]).expect("written");
        assert_eq!(fs::metadata(&own).expect("a file").permissions().mode() & 0o777, 0o640);
    }
}
