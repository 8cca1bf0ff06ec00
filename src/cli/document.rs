//! Writes a document that a command makes: whole or not at all, and never over somebody else's file by mistake.

use std::io::{ErrorKind, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use clap::Args;

use crate::text::shell_word;

use super::{CliError, Ui, staged};

/// Where a document goes.
#[derive(Args, Clone, Debug, Default)]
pub struct Output {
    /// Where to write it [default: the standard output]
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Write over a file that this command did not write
    #[arg(long)]
    pub force: bool,
}

impl Output {
    /// The file that was named; none for none and for `-`, which are the standard output.
    pub fn file(&self) -> Option<&Path> {
        self.output.as_deref().filter(|path| path.as_os_str() != "-")
    }
}

/// How many bytes of each end of a file are looked at.
const ENDS: u64 = 4096;

/// A sort of document.
#[derive(Clone, Copy)]
pub struct Sort {
    /// What it is called.
    pub name: &'static str,
    /// Whether a file is one that may be written over, told by its first bytes and, of a longer one, its last ones behind them.
    pub ours: fn(&[u8]) -> bool,
}

/// Writes the whole file or leaves what is there; only a file that looks as `what` does is written over without being
/// told to.
///
/// # Errors
/// If there is another file of that name, or the system refuses.
pub fn write(path: &Path, bytes: &[u8], force: bool, what: Sort) -> Result<(), CliError> {
    if !force && path.symlink_metadata().is_ok() && !holds(path, what.ours) {
        return Err(CliError::refused(
            format!("{} exists and is no {}", path.display(), what.name),
            "choose another name with -o, or write over it with --force",
        ));
    }
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    if folder.metadata().is_err_and(|error| error.kind() == ErrorKind::NotFound) {
        return Err(CliError::refused(
            format!("cannot write {}: there is no folder {}", path.display(), folder.display()),
            format!("make it: mkdir -p {}; or choose another place", shell_word(folder)),
        ));
    }
    let wrong = |error: &dyn std::fmt::Display| CliError::write(path, error);
    let file = staged(folder, bytes).map_err(|error| wrong(&error))?;
    file.persist(path).map_err(|error| wrong(&error.error))?;
    Ok(())
}

/// Puts a document where it was asked for: into a file, which is then named, or on the standard output for none and for `-`.
///
/// # Errors
/// As [`write()`].
pub fn put(to: &Output, bytes: &[u8], what: Sort, ui: &mut Ui) -> Result<(), CliError> {
    match to.file() {
        None => ui.bytes(bytes),
        Some(path) => {
            write(path, bytes, to.force, what)?;
            ui.text(&format!("{}\n", path.display()));
        }
    }
    Ok(())
}

fn holds(path: &Path, ours: fn(&[u8]) -> bool) -> bool {
    if !path.symlink_metadata().is_ok_and(|data| data.is_file()) {
        return false;
    }
    let ends = || -> std::io::Result<Vec<u8>> {
        let mut file = std::fs::File::open(path)?;
        let mut ends = Vec::new();
        file.by_ref().take(ENDS).read_to_end(&mut ends)?;
        let length = file.metadata()?.len();
        file.seek(SeekFrom::Start(length.saturating_sub(ENDS).max(ENDS)))?;
        file.take(ENDS).read_to_end(&mut ends)?;
        Ok(ends)
    };
    ends().is_ok_and(|ends| ours(&ends))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::packet::is_packet;

    const SORT: Sort = Sort { name: "packet", ours: is_packet };

    const PACKET: &[u8] = b"<!DOCTYPE html><meta name=\"generator\" content=\"slipmark packet 0\">";

    #[test]
    fn only_a_packet_is_written_over_without_force() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("p.html");
        write(&path, PACKET, false, SORT).unwrap();
        write(&path, PACKET, false, SORT).unwrap();
        std::fs::write(&path, "mine").unwrap();
        assert!(matches!(write(&path, PACKET, false, SORT), Err(CliError::Refused { .. })));
        assert_eq!(std::fs::read(&path).unwrap(), b"mine");
        write(&path, PACKET, true, SORT).unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), PACKET);
        assert_eq!(folder.path().read_dir().unwrap().count(), 1, "nothing is left beside it");
    }

    #[test]
    fn a_folder_is_never_written_over() {
        let folder = tempfile::tempdir().unwrap();
        assert!(write(folder.path(), PACKET, false, SORT).is_err());
        assert!(write(folder.path(), PACKET, true, SORT).is_err());
        assert!(folder.path().is_dir());
    }

    #[cfg(unix)]
    #[test]
    fn a_link_to_a_packet_is_not_a_packet() {
        let folder = tempfile::tempdir().unwrap();
        let real = folder.path().join("real.html");
        write(&real, PACKET, false, SORT).unwrap();
        let link = folder.path().join("link.html");
        std::os::unix::fs::symlink(&real, &link).unwrap();
        assert!(matches!(write(&link, PACKET, false, SORT), Err(CliError::Refused { .. })));
    }
}
