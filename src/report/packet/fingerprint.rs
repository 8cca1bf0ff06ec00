//! What a packet carries of itself, by which it can be told later whether it still says what it said.
//!
//! Behind a page, in an HTML comment, in a workbook, in the comment of the archive that it is, and behind a PDF, in comments, stand three lines: the words
//! `slipmark packet`; a JSON object ([`Claims`]) of what the packet was made from, the SHA-256 of every file of the project and of every
//! part of the packet; and the SHA-256 of the whole file, its own 64 digits taken as zeros. So every byte is covered by the last, and the
//! others tell what was altered. A page's parts are what stands before its first `<section class="part"`, and what from each of these to
//! the next; a workbook's are the entries of the archive, unpacked; a PDF is one part.
//!
//! A hash that stands in the file itself shows accidents, and nothing about somebody who works it out anew: whoever checks a packet makes
//! it again from its commit and compares the parts.

use std::io::Read;
use std::ops::Range;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::manifest::Manifest;
use super::{Dated, Since};
use crate::analysis::hex;
use crate::report::ReportError;
use crate::report::view::BeforeView;

/// The first of the lines.
const START: &str = "slipmark packet\n";

/// What stands before them in a page.
const COMMENT_START: &str = "\n<!--\n";

/// What stands before the digits of the last one.
const LABEL: &str = "SHA-256 of this file, with zeros for these digits: ";

/// How many digits there are.
const DIGITS: usize = 64;

/// How near to the end of the file they stand, in bytes.
const NEAR_END: usize = 512;

/// What the comment of an archive may hold (APPNOTE.TXT 4.4.12), less what the other lines take up.
const COMMENT: usize = 65_535 - 1_024;

/// A PDF begins with it (ISO 32000-1:2008, 7.5.2).
pub(in crate::report) const PDF: &[u8] = b"%PDF-";

/// A part of a page begins with it.
const PART: &[u8] = b"<section class=\"part";

// More is in no workbook of ours: the rest of an archive is not looked at.
const ENTRIES: usize = 1_000;
const UNPACKED: u64 = 1 << 30;

/// What a packet says that it was made from.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Claims {
    /// The program's version.
    pub slipmark: String,
    /// The event.
    pub event: String,
    /// The commit.
    pub commit: Option<String>,
    /// Whether every file was as that commit holds it.
    pub clean: bool,
    /// The day on which was asked.
    pub today: String,
    /// The date that was given by SOURCE_DATE_EPOCH.
    pub epoch: Option<String>,
    /// The base for what changed.
    pub since: Option<String>,
    /// The SHA-256 of the list of files, as the manifest has it.
    pub list: String,
    /// SHA-256 and path of every file; none in a workbook that has no room for so many.
    pub files: Option<Vec<(Option<String>, String)>>,
    /// Of a PDF, the size of its paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paper: Option<String>,
    /// Name and SHA-256 of every part of the packet.
    pub parts: Vec<(String, String)>,
}

impl Claims {
    /// What a packet is made from.
    pub(in crate::report) fn of(before: &BeforeView, dated: &Dated, since: &Since, manifest: &Manifest) -> Claims {
        Claims {
            slipmark: before.heading.slipmark.to_string(),
            event: before.event.clone(),
            commit: before.heading.commit.clone(),
            clean: before.heading.clean,
            today: before.heading.today.clone(),
            epoch: dated.date.clone().filter(|_| dated.from == super::EPOCH),
            since: match since {
                Since::Changes(view) => Some(view.from_name.clone()),
                Since::Nothing(_) => None,
            },
            list: manifest.digest.clone(),
            files: Some(manifest.hashes()),
            paper: None,
            parts: Vec::new(),
        }
    }

    /// On one line, with nothing in it that could end a comment or act on anything.
    pub(in crate::report) fn line(&self) -> Result<String, ReportError> {
        let json = serde_json::to_string(self).map_err(|error| ReportError::new(error.to_string()))?;
        let mut line = String::with_capacity(json.len());
        for character in json.chars() {
            if character.is_ascii_graphic() && !matches!(character, '-' | '<' | '>') || character == ' ' {
                line.push(character);
            } else {
                // Outside of strings JSON has none of these here.
                let mut units = [0; 2];
                character.encode_utf16(&mut units).iter().for_each(|unit| line.push_str(&format!("\\u{unit:04x}")));
            }
        }
        Ok(line)
    }

    fn lines(&self) -> Result<String, ReportError> {
        Ok(format!("{START}{}\n{LABEL}{}\n", self.line()?, "0".repeat(DIGITS)))
    }
}

/// A page with what it carries of itself.
pub(super) fn onto_page(page: String, claims: Claims) -> Result<Vec<u8>, ReportError> {
    let claims = Claims { parts: parts_of_page(page.as_bytes()), ..claims };
    let mut bytes = format!("{page}{COMMENT_START}{}-->\n", claims.lines()?).into_bytes();
    stamp(&mut bytes);
    Ok(bytes)
}

/// An archive with what it carries of itself.
pub(in crate::report) fn onto_archive(mut zip: Vec<u8>, claims: Claims) -> Result<Vec<u8>, ReportError> {
    let mut claims = Claims { parts: parts(&zip), ..claims };
    let mut comment = claims.lines()?;
    if comment.len() > COMMENT {
        claims.files = None;
        comment = claims.lines()?;
    }
    let length = u16::try_from(comment.len()).map_err(|_| ReportError::new("the workbook has too many parts"))?;
    // The archive ends with a record of 22 bytes, the last two of which say how long the comment behind it is (APPNOTE.TXT 4.3.16).
    if let Some(end) = zip.last_chunk_mut::<2>() {
        *end = length.to_le_bytes();
    }
    zip.extend_from_slice(comment.as_bytes());
    stamp(&mut zip);
    Ok(zip)
}

/// A PDF with what it carries of itself, in comments behind its end. Behind them the last words of a PDF stand once more, by which
/// readers find its beginning (ISO 32000-1:2008, 7.5.5).
#[cfg(feature = "pdf")]
pub(super) fn onto_pdf(mut pdf: Vec<u8>, claims: Claims) -> Result<Vec<u8>, ReportError> {
    let last = memchr::memmem::rfind(&pdf, b"startxref").and_then(|at| pdf.get(at..)).unwrap_or_default().to_vec();
    if !pdf.ends_with(b"\n") {
        pdf.push(b'\n');
    }
    let claims = Claims { parts: parts(&pdf), ..claims };
    for line in claims.lines()?.lines() {
        pdf.extend_from_slice(format!("%{line}\n").as_bytes());
    }
    pdf.extend_from_slice(&last);
    stamp(&mut pdf);
    Ok(pdf)
}

/// Writes the hash over the zeros.
fn stamp(bytes: &mut [u8]) {
    if let Some(place) = digits(bytes) {
        let hash = whole(bytes, place.clone());
        bytes[place].copy_from_slice(hash.as_bytes());
    }
}

/// Whether the end of a file holds such a hash.
pub(in crate::report) fn is_stamped(end: &[u8]) -> bool {
    digits(end).is_some()
}

/// Where the digits stand.
fn digits(bytes: &[u8]) -> Option<Range<usize>> {
    let from = bytes.len().saturating_sub(NEAR_END);
    let label = memchr::memmem::rfind(bytes.get(from..)?, LABEL.as_bytes())?;
    let start = from + label + LABEL.len();
    let all = bytes.get(start..start + DIGITS)?;
    all.iter().all(u8::is_ascii_hexdigit).then_some(start..start + DIGITS)
}

/// The hash of everything, with zeros at one place.
fn whole(bytes: &[u8], zeros: Range<usize>) -> String {
    let mut sum = Sha256::new();
    sum.update(&bytes[..zeros.start]);
    sum.update("0".repeat(zeros.len()));
    sum.update(&bytes[zeros.end..]);
    hex(&sum.finalize())
}

/// Where what a packet carries of itself begins.
fn trailer(bytes: &[u8]) -> Option<usize> {
    memchr::memmem::rfind(bytes, START.as_bytes())
}

/// Name and SHA-256 of every part; none of an archive that cannot be opened.
fn parts(bytes: &[u8]) -> Vec<(String, String)> {
    if bytes.starts_with(PDF) {
        let end = trailer(bytes).map_or(bytes.len(), |at| at.saturating_sub(1));
        vec![("document".into(), hex(&Sha256::digest(&bytes[..end])))]
    } else if bytes.starts_with(b"<") {
        let end = trailer(bytes).map_or(bytes.len(), |at| at.saturating_sub(COMMENT_START.len()));
        parts_of_page(&bytes[..end])
    } else {
        parts_of_archive(bytes, UNPACKED).unwrap_or_default()
    }
}

fn parts_of_page(page: &[u8]) -> Vec<(String, String)> {
    let starts = memchr::memmem::find_iter(page, PART);
    let cuts: Vec<usize> = std::iter::once(0).chain(starts).chain([page.len()]).collect();
    let part = |(at, cut): (usize, &[usize])| {
        let own = &page[cut[0]..cut[1]];
        let id = own
            .get(..200)
            .unwrap_or(own)
            .split(|byte| *byte == b'"')
            .skip_while(|word| !word.ends_with(b" id="))
            .nth(1);
        let name = match (at, id) {
            (0, _) => "cover".to_string(),
            (_, Some(id)) => String::from_utf8_lossy(id).into_owned(),
            (at, None) => format!("part {at}"),
        };
        (name, hex(&Sha256::digest(own)))
    };
    cuts.windows(2).enumerate().map(part).collect()
}

/// `left` is how many bytes may be unpacked in all.
fn parts_of_archive(bytes: &[u8], mut left: u64) -> Option<Vec<(String, String)>> {
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(bytes)).ok()?;
    let mut parts = Vec::new();
    for at in 0..archive.len().min(ENTRIES) {
        let mut name = format!("entry {at}");
        let mut hash = || -> Option<String> {
            let entry = archive.by_index(at).ok()?;
            name = entry.name().ok()?.into_owned();
            let mut sum = Sha256::new();
            let mut entry = entry.take(left);
            let mut piece = vec![0; 1 << 16];
            loop {
                let read = entry.read(&mut piece).ok()?;
                if read == 0 {
                    break;
                }
                sum.update(&piece[..read]);
                left -= read as u64;
            }
            (left > 0).then(|| hex(&sum.finalize()))
        };
        let hash = hash().unwrap_or_else(|| "cannot be unpacked".into());
        parts.push((crate::report::workbook::part_name(&name), hash));
    }
    Some(parts)
}

/// What can be told of a packet from itself.
#[derive(Clone, Debug)]
pub struct Looked {
    /// What it says that it was made from; none if that cannot be read any more.
    pub claims: Option<Claims>,
    /// What is not as it was when the packet was written, in words; nothing if all is.
    pub altered: Vec<String>,
    /// Name and SHA-256 of every part as it is.
    pub parts: Vec<(String, String)>,
}

/// Looks at a packet; none if it is none.
pub fn look(bytes: &[u8]) -> Option<Looked> {
    let begins = super::is_packet(bytes) || bytes.starts_with(b"PK") || bytes.starts_with(PDF);
    let parts = parts(bytes);
    let mut altered = Vec::new();
    let (claims, hash) = match (trailer(bytes), digits(bytes)) {
        (None, None) if !super::is_packet(bytes) => return None,
        (start, digits) => (start.and_then(|start| claims(bytes, start)), digits),
    };
    let is_whole = hash.is_some_and(|place| whole(bytes, place.clone()).as_bytes() == &bytes[place]);
    match &claims {
        None => altered.push("the hashes at its end: they are cut off or damaged".into()),
        Some(claims) => altered = differing(&claims.parts, &parts, ("is gone", "was put in", "was altered")),
    }
    if altered.is_empty() && !(is_whole && begins) {
        altered.push("what it says of itself at its end, or what lies between its parts".into());
    }
    Some(Looked { claims, altered, parts })
}

fn claims(bytes: &[u8], start: usize) -> Option<Claims> {
    let line = bytes.get(start + START.len()..)?.split(|byte| *byte == b'\n').next()?;
    serde_json::from_slice(line.strip_prefix(b"%").unwrap_or(line)).ok()
}

/// How the parts of two packets differ, in words for what only the first has, only the second has, and what differs.
pub fn differing(
    first: &[(String, String)],
    second: &[(String, String)],
    (gone, new, other): (&str, &str, &str),
) -> Vec<String> {
    let mut words = Vec::new();
    for (name, hash) in first {
        match second.iter().find(|(own, _)| own == name) {
            None => words.push(format!("{name} {gone}")),
            Some((_, own)) if own != hash => words.push(format!("{name} {other}")),
            Some(_) => {}
        }
    }
    let only = second.iter().filter(|(name, _)| first.iter().all(|(own, _)| own != name));
    words.extend(only.map(|(name, _)| format!("{name} {new}")));
    let twice = second.iter().enumerate().find(|(at, (name, _))| second[..*at].iter().any(|(own, _)| own == name));
    words.extend(twice.map(|(_, (name, _))| format!("{name} {new}")));
    words
}

#[cfg(test)]
mod tests;
