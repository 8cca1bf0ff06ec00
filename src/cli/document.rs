//! Writes a document that a command makes: whole or not at all, and never over somebody else's file by mistake.

use std::io::{Read, Write};
use std::path::Path;

use super::CliError;

/// Writes the whole file or leaves what is there; only a file whose first bytes are `ours` is written over without being told to.
///
/// # Errors
/// If there is another file of that name, or the system refuses.
pub fn write(path: &Path, bytes: &[u8], force: bool, ours: fn(&[u8]) -> bool) -> Result<(), CliError> {
    if !force && path.symlink_metadata().is_ok() && !holds(path, ours) {
        return Err(CliError::refused(
            format!("{} exists, and is none that this command made", path.display()),
            "choose another name with -o, or write over it with --force",
        ));
    }
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let wrong = |error: &dyn std::fmt::Display| CliError::write(path, error);
    let mut builder = tempfile::Builder::new();
    builder.prefix(".slipmark-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // The usual mode of a document; the user's umask still takes away from it.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.tempfile_in(folder).map_err(|error| wrong(&error))?;
    file.write_all(bytes).and_then(|()| file.as_file().sync_all()).map_err(|error| wrong(&error))?;
    file.persist(path).map_err(|error| wrong(&error.error))?;
    Ok(())
}

fn holds(path: &Path, ours: fn(&[u8]) -> bool) -> bool {
    if !path.symlink_metadata().is_ok_and(|data| data.is_file()) {
        return false;
    }
    let mut start = Vec::new();
    let read = std::fs::File::open(path).and_then(|file| file.take(4096).read_to_end(&mut start));
    read.is_ok() && ours(&start)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::packet::is_packet;

    const PACKET: &[u8] = b"<!DOCTYPE html><meta name=\"generator\" content=\"slipmark packet 0\">";

    #[test]
    fn only_a_packet_is_written_over_without_force() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("p.html");
        write(&path, PACKET, false, is_packet).unwrap();
        write(&path, PACKET, false, is_packet).unwrap();
        std::fs::write(&path, "mine").unwrap();
        assert!(matches!(write(&path, PACKET, false, is_packet), Err(CliError::Refused { .. })));
        assert_eq!(std::fs::read(&path).unwrap(), b"mine");
        write(&path, PACKET, true, is_packet).unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), PACKET);
        assert_eq!(folder.path().read_dir().unwrap().count(), 1, "nothing is left beside it");
    }

    #[test]
    fn a_folder_is_never_written_over() {
        let folder = tempfile::tempdir().unwrap();
        assert!(write(folder.path(), PACKET, false, is_packet).is_err());
        assert!(write(folder.path(), PACKET, true, is_packet).is_err());
        assert!(folder.path().is_dir());
    }

    #[cfg(unix)]
    #[test]
    fn a_link_to_a_packet_is_not_a_packet() {
        let folder = tempfile::tempdir().unwrap();
        let real = folder.path().join("real.html");
        write(&real, PACKET, false, is_packet).unwrap();
        let link = folder.path().join("link.html");
        std::os::unix::fs::symlink(&real, &link).unwrap();
        assert!(matches!(write(&link, PACKET, false, is_packet), Err(CliError::Refused { .. })));
    }
}
