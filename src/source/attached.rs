//! Holding a file against the SHA-256 that was signed for.
//!
//! The hash is of the bytes as git stores them. What lies in the work tree may be something else: git can be told to
//! write CRLF where it stores LF, and a clone without Git LFS has a pointer of a few lines where a large file should be.
//! So a text counts as unchanged whichever of the two ends its lines have, here as in a commit; and a pointer in a commit
//! stands for what it names, in the work tree for a file that is missing.
//!
//! A file is read in pieces, however large it is, and a second time only if the first look does not settle it.

use sha2::{Digest, Sha256};

use super::{ReadError, Source};
use crate::text::RepoPath;

/// How many bytes are looked at to tell whether a file is text, as git does: a NUL byte among them says no.
const LOOKED_AT: usize = 8000;
/// A pointer of Git LFS has fewer bytes than this.
const LONGEST_POINTER: usize = 1024;
/// Its first line: <https://github.com/git-lfs/git-lfs/blob/main/docs/spec.md> (from memory).
const POINTER: &str = "version https://git-lfs.github.com/spec/v1";

/// Hands on the bytes of a file in pieces, as often as it is asked to.
pub type Pieces<'p, E> = &'p dyn Fn(&mut dyn FnMut(&[u8])) -> Result<(), E>;

/// What became of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Held {
    /// It is what was signed for.
    Unchanged,
    /// It has another hash, this one, as git stores it.
    Altered([u8; 32]),
    /// It is not there, but a pointer of Git LFS to a file of so many bytes.
    Pointer(u64),
}

/// Holds a file against a hash in hex, of whatever case; none is the hash of nothing.
///
/// # Errors
/// As [`Source::pieces`].
pub fn hold(source: &dyn Source, path: &RepoPath, signed_for: Option<&str>) -> Result<Held, ReadError> {
    let signed_for = signed_for.and_then(from_hex);
    let is_it = |digest: [u8; 32]| signed_for == Some(digest);
    let settled = |digest: [u8; 32]| if is_it(digest) { Held::Unchanged } else { Held::Altered(digest) };
    let pieces: Pieces<'_, ReadError> = &|take| source.pieces(path, take);
    let look = Look::at(pieces)?;
    if let Some(pointer) = look.pointer() {
        return Ok(if source.is_stored() { settled(pointer.oid) } else { Held::Pointer(pointer.bytes) });
    }
    if is_it(look.digest) || !look.is_text() || !look.has_lines {
        return Ok(settled(look.digest));
    }
    let ends = LineEnds::of(pieces)?;
    if is_it(ends.lf) || is_it(ends.crlf) {
        return Ok(Held::Unchanged);
    }
    let converted = ends.lf != look.digest && source.stores_lf(path);
    Ok(Held::Altered(if converted { ends.lf } else { look.digest }))
}

/// Two hashes of a file that git has yet to store at a path: as git will store it, and as it is.
///
/// # Errors
/// As `pieces`.
pub fn hash_to_be<E>(source: &dyn Source, path: &RepoPath, pieces: Pieces<'_, E>) -> Result<([u8; 32], [u8; 32]), E> {
    let look = Look::at(pieces)?;
    let converted = look.is_text() && look.has_lines && source.stores_lf(path);
    let stored = if converted { LineEnds::of(pieces)?.lf } else { look.digest };
    Ok((stored, look.digest))
}

fn from_hex(text: &str) -> Option<[u8; 32]> {
    let text = text.trim();
    let mut bytes = [0; 32];
    if text.len() != 64 || !text.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return None;
    }
    for (at, byte) in bytes.iter_mut().enumerate() {
        *byte = u8::from_str_radix(text.get(2 * at..2 * at + 2)?, 16).ok()?;
    }
    Some(bytes)
}

/// What one pass over a file tells.
struct Look {
    digest: [u8; 32],
    start: Vec<u8>,
    size: u64,
    has_lines: bool,
}

/// What a pointer of Git LFS says.
struct Pointer {
    oid: [u8; 32],
    bytes: u64,
}

impl Look {
    fn at<E>(pieces: Pieces<'_, E>) -> Result<Look, E> {
        let mut digest = Sha256::new();
        let mut look = Look { digest: [0; 32], start: Vec::new(), size: 0, has_lines: false };
        pieces(&mut |piece| {
            digest.update(piece);
            look.size += piece.len() as u64;
            look.has_lines |= piece.contains(&b'\n');
            let room = LOOKED_AT.saturating_sub(look.start.len());
            look.start.extend(piece.iter().take(room));
        })?;
        look.digest = digest.finalize().into();
        Ok(look)
    }

    fn is_text(&self) -> bool {
        !self.start.contains(&0)
    }

    fn pointer(&self) -> Option<Pointer> {
        if self.size >= LONGEST_POINTER as u64 {
            return None;
        }
        let mut lines = std::str::from_utf8(&self.start).ok()?.lines();
        if lines.next() != Some(POINTER) {
            return None;
        }
        let (mut oid, mut bytes) = (None, None);
        for line in lines {
            match line.split_once(' ') {
                Some(("oid", named)) => oid = named.strip_prefix("sha256:").and_then(from_hex),
                Some(("size", number)) => bytes = number.parse().ok(),
                _ => {}
            }
        }
        Some(Pointer { oid: oid?, bytes: bytes? })
    }
}

/// The hashes of a text with either end for all of its lines.
struct LineEnds {
    lf: [u8; 32],
    crlf: [u8; 32],
}

impl LineEnds {
    fn of<E>(pieces: Pieces<'_, E>) -> Result<LineEnds, E> {
        let mut ends = BothEnds::new();
        pieces(&mut |piece| ends.add(piece))?;
        Ok(ends.finish())
    }
}

/// The same in the making.
struct BothEnds {
    lf: Sha256,
    crlf: Sha256,
    /// A carriage return at the end of the last piece, of which it is not known yet whether a line ends there.
    cr: bool,
}

impl BothEnds {
    fn new() -> BothEnds {
        BothEnds { lf: Sha256::new(), crlf: Sha256::new(), cr: false }
    }

    fn add(&mut self, piece: &[u8]) {
        let (mut lf, mut crlf) = (Vec::with_capacity(piece.len() + 1), Vec::with_capacity(piece.len() * 2 + 1));
        for byte in piece {
            if *byte == b'\n' {
                lf.push(b'\n');
                crlf.extend(b"\r\n");
                self.cr = false;
                continue;
            }
            if std::mem::replace(&mut self.cr, *byte == b'\r') {
                lf.push(b'\r');
                crlf.push(b'\r');
            }
            if !self.cr {
                lf.push(*byte);
                crlf.push(*byte);
            }
        }
        self.lf.update(lf);
        self.crlf.update(crlf);
    }

    fn finish(mut self) -> LineEnds {
        if self.cr {
            self.lf.update(b"\r");
            self.crlf.update(b"\r");
        }
        LineEnds { lf: self.lf.finalize().into(), crlf: self.crlf.finalize().into() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::git::Oid;
    use crate::git::fixture::Fixture;
    use crate::source::{Content, Limits, Memory, Revision, Snapshot, SourceError, WorkTree};

    const PROJECT: &str = "name = \"P\"\nevents = [\"go\"]\n";

    fn hex(digest: [u8; 32]) -> String {
        digest.iter().map(|byte| format!("{byte:02x}")).collect()
    }

    fn sha256(bytes: impl AsRef<[u8]>) -> String {
        hex(Sha256::digest(bytes).into())
    }

    fn held(source: &dyn Source, path: &str, signed_for: &str) -> Held {
        hold(source, &RepoPath::new(path), Some(signed_for)).expect("it is there")
    }

    #[test]
    fn the_ends_of_lines_make_no_difference_to_a_text_and_every_other_byte_does() {
        let texts = ["a,b\n1,2\n", "a,b\r\n1,2\r\n"];
        let alike = |one: &[u8], other: &[u8]| {
            held(&Memory::new().file("d.csv", one), "d.csv", &sha256(other)) == Held::Unchanged
        };
        for (one, other) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
            assert!(alike(texts[one].as_bytes(), texts[other].as_bytes()), "{one} {other}");
        }
        // Lines that end in both ways are stored with LF.
        assert!(alike(b"a,b\r\n1,2\n", texts[0].as_bytes()) && alike(b"a,b\r\n1,2\n", texts[1].as_bytes()));
        for other in
            ["a,b\n1,3\n", "a,b\n1,2", "a,b\n\n1,2\n", "a,b\r1,2\n", "a,b\r\r\n1,2\n", "a,b\n1,2\n\r", "a,b1,2\n", ""]
        {
            assert!(texts.iter().all(|text| !alike(other.as_bytes(), text.as_bytes())), "{other:?}");
            assert!(alike(other.as_bytes(), other.as_bytes()), "{other:?}");
        }
        // What is no text is not read by lines.
        assert!(alike(b"\0\r\n", b"\0\r\n") && !alike(b"\0\r\n", b"\0\n") && !alike(b"\0\n", b"\0\r\n"));
        let upper = sha256("x").to_uppercase();
        assert_eq!(held(&Memory::new().file("d", "x"), "d", &upper), Held::Unchanged);
    }

    /// Pieces of every size: a line may end between any two.
    #[test]
    fn it_does_not_matter_where_a_file_is_cut() {
        let text = b"a\r\nb\r\r\nc\rd\n\r\n\r";
        let (lf, crlf) = (b"a\nb\r\nc\rd\n\n\r", b"a\r\nb\r\r\nc\rd\r\n\r\n\r");
        for size in 1..=text.len() {
            let mut ends = BothEnds::new();
            text.chunks(size).for_each(|piece| ends.add(piece));
            let ends = ends.finish();
            assert_eq!((hex(ends.lf), hex(ends.crlf)), (sha256(lf), sha256(crlf)), "{size}");
        }
    }

    /// The hash is that of what git stores, and holds in a work tree with other line endings as in the commit.
    #[test]
    fn what_git_converts_is_hashed_as_git_stores_it() {
        let fixture = Fixture::new();
        fixture.write("p/slipmark.toml", PROJECT).write(".gitattributes", "*.csv text eol=crlf\n*.raw -text\n");
        fixture.write("p/d.csv", "a\r\n1\r\n").write("p/d.raw", "a\r\n1\r\n").write("p/d.txt", "a\r\n1\r\n");
        let commit = fixture.commit("one");
        let tree = WorkTree::open(&fixture.path().join("p")).expect("a project");
        let stored = Revision::open(tree.repo().clone(), commit, "p").expect("a project");
        let (lf, crlf) = (sha256("a\n1\n"), sha256("a\r\n1\r\n"));
        // git hash-object has the last word on what is stored.
        let blob = |path: &str| fixture.git(&["rev-parse", &format!("HEAD:p/{path}")]).trim().to_string();
        let id = |bytes: &str| crate::git::blob_id(bytes.as_bytes()).expect("an id").to_string();
        assert_eq!((blob("d.csv"), blob("d.raw"), blob("d.txt")), (id("a\n1\n"), id("a\r\n1\r\n"), id("a\r\n1\r\n")));
        for (path, as_stored) in [("d.csv", &lf), ("d.raw", &crlf), ("d.txt", &crlf)] {
            let at = RepoPath::new(path);
            for source in [&tree as &dyn Source, &stored] {
                assert_eq!(held(source, path, as_stored), Held::Unchanged, "{path}");
                let found = match hold(source, &at, None) {
                    Ok(Held::Altered(hash)) => hex(hash),
                    other => panic!("{path}: {other:?}"),
                };
                assert_eq!(&found, as_stored, "{path}");
                assert_eq!(
                    source.blob_id(&at).is_some_and(|own| own.to_string() == blob(path)),
                    source.is_stored() || path != "d.csv"
                );
            }
            let pieces: Pieces<'_, ReadError> = &|take| {
                take(b"a\r");
                take(b"\n1\r\n");
                Ok(())
            };
            let (to_be, is) = hash_to_be(&tree, &at, pieces).expect("it is there");
            assert_eq!((&hex(to_be), &hex(is)), (as_stored, &crlf), "{path}");
        }
        // The setting alone: what is stored with CRLF stays so, what is new does not.
        fixture.git(&["config", "core.autocrlf", "true"]);
        let tree = WorkTree::open(&fixture.path().join("p")).expect("a project");
        assert!(!tree.stores_lf(&RepoPath::new("d.txt")) && tree.stores_lf(&RepoPath::new("new.txt")));
        assert!(!tree.stores_lf(&RepoPath::new("d.raw")) && tree.stores_lf(&RepoPath::new("d.csv")));
    }

    fn pointer(content: &[u8]) -> String {
        format!("{POINTER}\noid sha256:{}\nsize {}\n", sha256(content), content.len())
    }

    #[test]
    fn a_pointer_stands_for_the_file_in_a_commit_and_for_nothing_in_the_work_tree() {
        let video = b"\0 a long recording";
        let fixture = Fixture::new();
        fixture.write("slipmark.toml", PROJECT).write("v.mp4", pointer(video));
        let commit = fixture.commit("one");
        let tree = WorkTree::open(&fixture.path()).expect("a project");
        let stored = Revision::open(tree.repo().clone(), commit, "").expect("a project");
        let pointed = Held::Pointer(video.len() as u64);
        for signed_for in [sha256(video), sha256(pointer(video))] {
            assert_eq!(held(&tree, "v.mp4", &signed_for), pointed, "that the pointer was signed for makes it no file");
        }
        assert_eq!(held(&stored, "v.mp4", &sha256(video)), Held::Unchanged);
        let other = Held::Altered(Sha256::digest(video).into());
        assert_eq!(held(&stored, "v.mp4", &sha256(b"another")), other);
        assert_eq!(held(&stored, "v.mp4", &sha256(pointer(video))), other);
        fixture.write("v.mp4", video);
        assert_eq!(held(&tree, "v.mp4", &sha256(video)), Held::Unchanged);
        for other in [
            format!("{}\n", pointer(video).replace("oid", "odd")),
            pointer(video).replace("v1", "v9"),
            pointer(video) + &" ".repeat(1024),
        ] {
            let memory = Memory::new().file("v.mp4", &other);
            assert_eq!(held(&memory, "v.mp4", &sha256(&other)), Held::Unchanged, "{other}");
        }
    }

    /// A large file of a commit is read from the work tree where it is the same, and from git where it is not.
    #[test]
    fn a_large_file_of_a_commit_is_its_blob_wherever_it_is_read_from() {
        let fixture = Fixture::new();
        let large = vec![7; (16 << 20) + 1];
        fixture.write("p/slipmark.toml", PROJECT).write("p/d/l.bin", &large);
        let commit = fixture.commit("one");
        let tree = WorkTree::open(&fixture.path().join("p")).expect("a project");
        let stored = Revision::open(tree.repo().clone(), commit, "p").expect("a project");
        let unchanged = || held(&stored, "d/l.bin", &sha256(&large)) == Held::Unchanged;
        assert!(unchanged());
        let mut other = large.clone();
        other[5] = 8;
        fixture.write("p/d/l.bin", &other);
        assert!(unchanged() && held(&tree, "d/l.bin", &sha256(&large)) != Held::Unchanged);
        fixture.git(&["gc", "--quiet"]);
        assert!(unchanged());
        std::fs::remove_file(fixture.path().join("p/d/l.bin")).expect("it is removed");
        assert!(unchanged());
    }

    /// Hands on 300 pieces and fails when it is asked for all of them at once.
    struct Large;

    impl Source for Large {
        fn project_file(&self, _: &Limits) -> Result<Content, SourceError> {
            unreachable!("nobody asks")
        }

        fn snapshot(&self, _: &Limits) -> Result<Snapshot, SourceError> {
            unreachable!("nobody asks")
        }

        fn read(&self, _: &RepoPath) -> Result<Vec<u8>, ReadError> {
            panic!("a large file is not read whole")
        }

        fn pieces(&self, _: &RepoPath, take: &mut dyn FnMut(&[u8])) -> Result<(), ReadError> {
            (0..300).for_each(|_| take(b"a\r\n"));
            Ok(())
        }

        fn blob_id(&self, _: &RepoPath) -> Option<Oid> {
            None
        }
    }

    #[test]
    fn a_large_file_is_read_in_pieces() {
        assert_eq!(held(&Large, "l.csv", &sha256("a\r\n".repeat(300))), Held::Unchanged);
        assert_eq!(held(&Large, "l.csv", &sha256("a\n".repeat(300))), Held::Unchanged);
        assert!(matches!(held(&Large, "l.csv", &sha256("")), Held::Altered(_)));
    }
}
