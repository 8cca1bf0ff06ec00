//! Photos that records attach, in the page itself as far as they are small enough.
//!
//! What is a photo its first bytes say, not its name: PNG or JPEG. Nothing else is shown, an SVG least of all: it can hold
//! what runs. A photo that is not as it was signed for is not shown either.

use serde::Serialize;

use super::html::Html;
use super::page::base64;
use crate::analysis::Analysis;
use crate::source::Source;
use crate::text::RepoPath;

/// The most bytes of one photo.
const LARGEST: u64 = 1 << 20;
/// The most bytes of all of them.
const MOST: u64 = 32 << 20;
/// The most pixels of one: a small file can stand for more than a browser has room for.
const PIXELS: u64 = 50_000_000;

/// A photo beside a record.
#[derive(Debug, Serialize)]
pub(in crate::report) struct Photo {
    /// The photo itself; none if it is not shown.
    src: Option<Html>,
    /// Its name as words.
    alt: String,
    /// Width and height in pixels.
    width: u64,
    height: u64,
    /// Why it is not shown.
    why: Option<String>,
}

/// Puts photos into a page until it holds enough.
pub(in crate::report) struct Album<'a> {
    analysis: &'a Analysis,
    source: &'a dyn Source,
    room: u64,
}

impl<'a> Album<'a> {
    pub(in crate::report) fn new(analysis: &'a Analysis, source: &'a dyn Source) -> Album<'a> {
        Album { analysis, source, room: MOST }
    }

    /// The photo at a path; none if there is none.
    pub(in crate::report) fn photo(&mut self, path: &RepoPath) -> Option<Photo> {
        let bytes = self.analysis.snapshot.other(path)?.size?;
        let not_shown = |why: String| Photo { src: None, alt: words(path), width: 0, height: 0, why: Some(why) };
        if bytes > LARGEST {
            let size = (bytes / 1024).to_string();
            return is_called_photo(path).then(|| not_shown(format!("not shown here: it has {size} KiB")));
        }
        let content = self.source.read(path).ok()?;
        let (kind, width, height) = kind(&content)?;
        if width.saturating_mul(height) > PIXELS {
            return Some(not_shown(format!("not shown here: it is {width} by {height} pixels")));
        }
        if bytes > self.room {
            return Some(not_shown("not shown here: the page holds as many photos as it can".to_string()));
        }
        self.room -= bytes;
        let src = Html::trusted(format!("data:image/{kind};base64,{}", base64(&content)));
        Some(Photo { src: Some(src), alt: words(path), width, height, why: None })
    }
}

/// A file's name as words: `seat-after_test.png` is `seat after test`.
fn words(path: &RepoPath) -> String {
    let name = path.file_name();
    let stem = name.rsplit_once('.').map_or(name, |(stem, _)| stem);
    stem.replace(['-', '_'], " ")
}

fn is_called_photo(path: &RepoPath) -> bool {
    let name = path.file_name().to_lowercase();
    [".png", ".jpg", ".jpeg"].iter().any(|end| name.ends_with(end))
}

/// What sort of photo some bytes are, with its width and height in pixels.
fn kind(bytes: &[u8]) -> Option<(&'static str, u64, u64)> {
    let known = png(bytes).map(|size| ("png", size)).or_else(|| jpeg(bytes).map(|size| ("jpeg", size)));
    let (kind, (width, height)) = known?;
    (width > 0 && height > 0).then_some((kind, width, height))
}

/// How a PNG starts: PNG specification (W3C, third edition), 5.2; then the header chunk, 11.2.2.
const PNG: &[u8] = b"\x89PNG\r\n\x1a\n";

fn png(bytes: &[u8]) -> Option<(u64, u64)> {
    let header = bytes.strip_prefix(PNG)?.strip_prefix(&[0, 0, 0, 13])?.strip_prefix(b"IHDR")?;
    Some((number(header.get(..4)?), number(header.get(4..8)?)))
}

/// The size in the frame header: ITU-T T.81, B.1.1.3 (markers) and B.2.2 (frame header).
fn jpeg(bytes: &[u8]) -> Option<(u64, u64)> {
    let mut rest = bytes.strip_prefix(&[0xff, 0xd8])?;
    loop {
        let (marker, after) = match rest {
            [0xff, 0xff, ..] => {
                rest = rest.get(1..)?;
                continue;
            }
            [0xff, marker, after @ ..] => (*marker, after),
            _ => return None,
        };
        let length = usize::try_from(number(after.get(..2)?)).ok()?;
        let segment = after.get(2..length)?;
        match marker {
            0xc4 | 0xc8 | 0xcc => {}
            0xc0..=0xcf => return Some((number(segment.get(3..5)?), number(segment.get(1..3)?))),
            // The picture itself, or its end: no frame came before it.
            0xd8..=0xda => return None,
            _ => {}
        }
        rest = after.get(length..)?;
    }
}

/// A whole number, the greatest byte first.
fn number(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0, |sum, byte| (sum << 8) | u64::from(*byte))
}

#[cfg(test)]
pub(in crate::report) mod tests {
    use super::*;

    /// One red pixel: the chunks of the PNG specification, with their check sums.
    pub(in crate::report) const DOT: &[u8] = &[
        0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, 0, 0, 0, 13, b'I', b'H', b'D', b'R', 0, 0, 0, 1, 0, 0, 0, 1, 8,
        2, 0, 0, 0, 0x90, 0x77, 0x53, 0xde, 0, 0, 0, 12, b'I', b'D', b'A', b'T', 0x78, 0x9c, 0x63, 0xf8, 0xcf, 0xc0, 0,
        0, 3, 1, 1, 0, 0xc9, 0xfe, 0x92, 0xef, 0, 0, 0, 0, b'I', b'E', b'N', b'D', 0xae, 0x42, 0x60, 0x82,
    ];

    /// A JPEG up to its frame header: an application segment, then a frame of 3 by 2 pixels.
    const FRAME: &[u8] = &[
        0xff, 0xd8, 0xff, 0xe0, 0, 4, 1, 2, 0xff, 0xff, 0xc4, 0, 3, 9, 0xff, 0xc2, 0, 11, 8, 0, 2, 0, 3, 1, 1, 0x11, 0,
    ];

    #[test]
    fn photos_are_told_by_their_bytes_with_their_size() {
        assert_eq!(kind(DOT), Some(("png", 1, 1)));
        assert_eq!(kind(FRAME), Some(("jpeg", 3, 2)));
        let svg = b"<svg xmlns=\"http://www.w3.org/2000/svg\"><script>alert(1)</script></svg>";
        for other in [
            svg.as_slice(),
            b"",
            b"GIF89a\x01\0\x01\0",
            &[0xff, 0xd8, 0xff, 0xda, 0, 2],
            &[0xff, 0xd8, 0xff, 0xe0, 0, 0],
        ] {
            assert_eq!(kind(other), None, "{other:?}");
        }
        for cut in 0..24 {
            assert_eq!(kind(&DOT[..cut]), None, "{cut}");
        }
        for cut in 0..22 {
            assert_eq!(kind(&FRAME[..cut]), None, "{cut}");
        }
    }

    #[test]
    fn a_name_becomes_words() {
        assert_eq!(words(&RepoPath::new("records/seat-after_test.png")), "seat after test");
        assert_eq!(words(&RepoPath::new("photo")), "photo");
    }
}
