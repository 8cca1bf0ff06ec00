//! One commit's facts.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::Offset;

use super::{GitError, Oid, Repo};

/// What a commit says about itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CommitInfo {
    /// Its id.
    pub oid: Oid,
    /// Its parents, first parent first; those cut off by a shallow clone are left out.
    pub parents: Vec<Oid>,
    /// Whether it has parents that a shallow clone has cut off, so that what it changed cannot be told.
    pub cut_off: bool,
    /// The first paragraph of the message on one line.
    pub summary: String,
    /// The first paragraph after that which gives a reason, on one line: no trailers, and nothing that git wrote.
    pub reason: Option<String>,
    /// The whole message.
    pub message: String,
    /// `Key: value` lines at the end of the message, in their order.
    pub trailers: Vec<(String, String)>,
    /// When it was written, by the author's clock; a time outside years -9999 to 9999 is the nearest one inside.
    pub author_time: Timestamp,
    /// The author's offset from UTC in seconds, east positive.
    pub author_offset: i32,
    /// The civil date where and when it was written.
    pub author_date: Date,
    /// The civil date where and when it was made as it is: a commit that was written on another base has been made anew since, with
    /// all that stood there by then.
    pub made_on: Date,
    /// The author's name.
    pub author_name: String,
    /// The author's address.
    pub author_email: String,
}

impl CommitInfo {
    /// Values of all trailers with this key, compared without regard to case.
    pub fn trailer<'a>(&'a self, key: &'a str) -> impl Iterator<Item = &'a str> {
        self.trailers.iter().filter(move |(name, _)| name.eq_ignore_ascii_case(key)).map(|(_, value)| value.as_str())
    }
}

impl Repo {
    /// Reads a commit.
    ///
    /// # Errors
    /// If there is no such commit or it cannot be read.
    pub fn commit(&self, oid: Oid) -> Result<CommitInfo, GitError> {
        let parents = self.parents(oid)?;
        // Its parents may be known from an earlier run.
        self.whole(oid)?;
        self.with(|repo| {
            let commit = repo.find_commit(oid.0).map_err(|error| self.not_read("commit", oid, &error))?;
            let latin = commit.message_encoding().ok().flatten().is_some_and(is_latin_1);
            let text = |bytes: &[u8]| decode(bytes, latin);
            let message = text(commit.message_bytes());
            let author = commit.author();
            let (author_time, author_offset, author_date) = when(author.when());
            let (_, _, made_on) = when(commit.committer().when());
            Ok(CommitInfo {
                oid,
                cut_off: named_parents(commit.raw_header_bytes()) > parents.len(),
                parents,
                summary: summary(&message),
                reason: reason(&message),
                trailers: trailers(&message),
                message,
                author_time,
                author_offset,
                author_date,
                made_on,
                author_name: text(author.name_bytes()),
                author_email: text(author.email_bytes()),
            })
        })
    }
}

/// How many parents a commit names, whether they are here or not.
fn named_parents(header: &[u8]) -> usize {
    header.split(|byte| *byte == b'\n').filter(|line| line.starts_with(b"parent ")).count()
}

fn is_latin_1(encoding: &str) -> bool {
    ["iso-8859-1", "iso8859-1", "latin1", "latin-1"].iter().any(|name| encoding.eq_ignore_ascii_case(name))
}

fn decode(bytes: &[u8], latin: bool) -> String {
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) if latin => bytes.iter().map(|byte| char::from(*byte)).collect(),
        Err(_) => String::from_utf8_lossy(bytes).into_owned(),
    }
}

fn summary(message: &str) -> String {
    let lines = message.lines().map(str::trim);
    lines.skip_while(|line| line.is_empty()).take_while(|line| !line.is_empty()).collect::<Vec<_>>().join(" ")
}

/// What git itself writes into messages, and lines that only say who passed a commit on.
const BY_ROTE: &[&str] = &[
    "#",
    "Conflicts:",
    "(cherry picked from ",
    "This reverts commit ",
    "Signed-off-by:",
    "Co-authored-by:",
    "Reviewed-by:",
    "Acked-by:",
    "Change-Id:",
];

fn reason(message: &str) -> Option<String> {
    let trailers = trailers(message);
    let is_trailer = |line: &str| {
        line.split_once(':')
            .is_some_and(|(key, _)| trailers.iter().any(|(own, _)| own.eq_ignore_ascii_case(key.trim())))
    };
    let lines: Vec<&str> = message.lines().map(str::trim).skip_while(|line| line.is_empty()).collect();
    let paragraphs = lines.split(|line| line.is_empty()).skip(1).filter(|paragraph| !paragraph.is_empty());
    let worth = |paragraph: &[&str]| {
        let by_rote = |line: &str| BY_ROTE.iter().any(|start| line.starts_with(start)) || is_trailer(line);
        // Below "Conflicts:" stand the names of files.
        let told = paragraph.iter().take_while(|line| !line.starts_with("Conflicts:"));
        let told: Vec<&str> = told.copied().filter(|line| !by_rote(line)).collect();
        (!told.is_empty()).then(|| told.join(" "))
    };
    paragraphs.into_iter().find_map(worth)
}

fn trailers(message: &str) -> Vec<(String, String)> {
    match git2::message_trailers_strs(message) {
        Ok(found) => found.iter().map(|(key, value)| (key.trim().to_owned(), value.trim().to_owned())).collect(),
        // A NUL in the message, which git itself never writes.
        Err(_) => Vec::new(),
    }
}

/// A hostile commit can claim any 64-bit second and any offset; clamping keeps it readable without believing it.
fn when(time: git2::Time) -> (Timestamp, i32, Date) {
    let clamped = if time.seconds() < 0 { Timestamp::MIN } else { Timestamp::MAX };
    let instant = Timestamp::from_second(time.seconds()).unwrap_or(clamped);
    let offset = Offset::from_seconds(time.offset_minutes().saturating_mul(60)).unwrap_or(Offset::UTC);
    (instant, offset.seconds(), offset.to_datetime(instant).date())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_time_has_a_date() {
        let (instant, offset, date) = when(git2::Time::new(1_773_446_400, 14 * 60));
        assert_eq!((instant.as_second(), offset), (1_773_446_400, 50_400));
        // 2026-03-14T00:00:00Z is already 14:00 on the same day in Kiritimati.
        assert_eq!(date.to_string(), "2026-03-14");
        assert_eq!(when(git2::Time::new(1_773_446_400, -60)).2.to_string(), "2026-03-13");
        for seconds in [i64::MIN, -1, 0, i64::MAX] {
            for minutes in [i32::MIN, -1_560, 0, 1_560, i32::MAX] {
                when(git2::Time::new(seconds, minutes));
            }
        }
    }

    #[test]
    fn summary_is_the_first_paragraph() {
        assert_eq!(summary("\n\nTighten the\nlimit \n\nBecause.\n"), "Tighten the limit");
        assert_eq!(summary(""), "");
    }

    #[test]
    fn the_reason_is_what_a_person_wrote_below_the_summary() {
        let said = |text: &str| reason(text);
        assert_eq!(said("Tighten\n\nTR-006 met the\nold limit.\n\nMore.\n"), Some("TR-006 met the old limit.".into()));
        assert_eq!(said("Tighten\n\nDecision: D-002\nSigned-off-by: A <a@example.org>\n"), None);
        assert_eq!(said("Tighten\n\nIt was too low.\n\nDecision: D-002\n"), Some("It was too low.".into()));
        let merge = "Merge branch 'b'\n\nConflicts:\n\treqs/R-1.md\n\nBoth limits were wrong.\n";
        assert_eq!(said(merge), Some("Both limits were wrong.".into()));
        let merge = "Merge branch 'b'\n\n# Conflicts:\n#\treqs/R-1.md\n";
        assert_eq!(said(merge), None);
        let revert = "Revert \"Tighten\"\n\nThis reverts commit 0123456789.\nThe stand needs it.\n";
        assert_eq!(said(revert), Some("The stand needs it.".into()));
        assert_eq!(said("Decision: D-1"), None);
        assert_eq!(said(""), None);
    }

    #[test]
    fn old_encodings_are_read() {
        assert_eq!(decode(b"caf\xe9", true), "café");
        assert_eq!(decode(b"caf\xe9", false), "caf\u{fffd}");
    }
}
