//! Loose objects are looked through before the library reads them.
//!
//! The library never ends on one that is cut off in the middle (libgit2 #7342, in every version up to 1.9.7), and writes past
//! its memory for one that is longer than it says (libgit2 #7177). A disk that was full, or a hostile repository, has such
//! objects; packed ones carry checks of their own.

use std::fs::File;
use std::io::{self, BufRead, BufReader, Read};

use flate2::bufread::ZlibDecoder;

use super::{GitError, Oid, Repo};

/// `commit`, a space, the digits of a size and a zero byte: more than this is no header.
const LONGEST_HEADER: u64 = 32;

impl Repo {
    /// Refuses an object that stands by itself in the object store and is not whole.
    ///
    /// # Errors
    /// [`GitError::Malformed`]. An object that is not there, or is packed, is no matter of this.
    pub(super) fn whole(&self, oid: Oid) -> Result<(), GitError> {
        let hex = oid.to_string();
        let Some((folder, name)) = hex.split_at_checked(2) else { return Ok(()) };
        let Ok(file) = File::open(self.objects.join(folder).join(name)) else { return Ok(()) };
        let broken = |detail: String| GitError::Malformed { oid, detail };
        match missing(BufReader::new(file)) {
            Ok(None) => Ok(()),
            Ok(Some(what)) => Err(broken(what)),
            Err(error) => Err(broken(format!("it cannot be unpacked: {error}"))),
        }
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
