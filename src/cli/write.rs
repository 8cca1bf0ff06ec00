//! The only place that writes files of a project: each whole or not at all, all of them or none as far as can be.

use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

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
    pub after: Vec<u8>,
}

/// A change made ready beside its file.
struct Ready<'c> {
    change: &'c Change,
    full: PathBuf,
    /// The new text, in the same folder under another name.
    new: NamedTempFile,
}

/// Writes all changes. A change that changes nothing is not written.
///
/// # Errors
/// If a file is not what was read, is a symlink, lies outside the project, exists already, or cannot be written. Then
/// nothing is written; only if the system fails between two files can the first have been, and the message says so.
pub fn write_all(root: &Path, changes: &[Change]) -> Result<(), CliError> {
    let real = changes.iter().filter(|change| change.before.as_ref() != Some(&change.after));
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

/// Looks at everything that could go wrong, and writes the new text beside the file.
fn prepare<'c>(root: &Path, change: &'c Change) -> Result<Ready<'c>, CliError> {
    let full = root.join(change.path.as_str());
    let folder = folder_inside(root, &change.path)?;
    let mut builder = tempfile::Builder::new();
    builder.prefix(".slipmark-").suffix(".part");
    match &change.before {
        Some(before) => {
            unchanged(&full, before)?;
            let permissions = fs::metadata(&full).map_err(|error| CliError::write(&full, error))?.permissions();
            let new = written(&mut builder, &folder, &full, &change.after)?;
            new.as_file().set_permissions(permissions).map_err(|error| CliError::write(&full, error))?;
            Ok(Ready { change, full, new })
        }
        None => {
            if full.symlink_metadata().is_ok() {
                return Err(CliError::refused(
                    format!("{} exists already", change.path),
                    "give another id or another folder; nothing was written",
                ));
            }
            new_file_permissions(&mut builder);
            let new = written(&mut builder, &folder, &full, &change.after)?;
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

fn written(
    builder: &mut tempfile::Builder<'_, '_>,
    folder: &Path,
    full: &Path,
    bytes: &[u8],
) -> Result<NamedTempFile, CliError> {
    let failed = |error: std::io::Error| CliError::write(full, error);
    let mut new = builder.tempfile_in(folder).map_err(failed)?;
    new.write_all(bytes).map_err(failed)?;
    new.as_file().sync_all().map_err(failed)?;
    Ok(new)
}

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

fn undo(change: &Change, full: &Path) -> bool {
    match &change.before {
        Some(before) => fs::write(full, before).is_ok(),
        None => fs::remove_file(full).is_ok(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn change(path: &str, before: Option<&str>, after: &str) -> Change {
        Change { path: RepoPath::new(path), before: before.map(Into::into), after: after.into() }
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
