//! Whether a packet still holds.

use serde::Serialize;

/// The answer of `packet --verify`.
#[derive(Clone, Debug, Serialize)]
pub struct VerifyView {
    /// The program's version.
    pub slipmark: &'static str,
    /// What was looked at, as it was named.
    pub path: String,
    /// page, workbook or pages; what it is.
    pub sort: &'static str,
    /// Whether all holds: what is altered, made again and moved.
    pub matches: bool,
    /// What it says that it was made from; none if that cannot be read any more.
    pub made_from: Option<MadeFromView>,
    /// What was altered since it was written, in words.
    pub altered: Vec<String>,
    /// What came of making it again; none if it does not say what it was made from.
    pub made_again: Option<AgainMadeView>,
    /// The files that it was made of beside those of now; none likewise.
    pub files: Option<FilesView>,
}

/// What a packet says that it was made from.
#[derive(Clone, Debug, Serialize)]
pub struct MadeFromView {
    /// The event.
    pub event: String,
    /// The commit.
    pub commit: Option<String>,
    /// Whether every file was as that commit holds it.
    pub clean: bool,
    /// The day on which was asked.
    pub today: String,
    /// The version of the program that made it.
    pub slipmark: String,
}

/// What came of making a packet again.
#[derive(Clone, Debug, Serialize)]
pub struct AgainMadeView {
    /// same, other or not-made.
    pub outcome: &'static str,
    /// From what; none if it could not be made.
    pub from: Option<String>,
    /// How it differs, part by part, in words.
    pub differences: Vec<String>,
    /// Why it could not be made.
    pub why: Option<String>,
}

/// The files that a packet was made of, beside others.
#[derive(Clone, Debug, Serialize)]
pub struct FilesView {
    /// Of when the others are: now, or a commit as it was named.
    pub at: String,
    /// How many there are.
    pub count: usize,
    /// Whether they are those that the packet was made of.
    pub same: bool,
    /// Whether it is known which those were: else the lists are empty, and say nothing.
    pub named: bool,
    /// Those that hold something else.
    pub changed: Vec<String>,
    /// Those that were not there.
    pub added: Vec<String>,
    /// Those that are gone.
    pub removed: Vec<String>,
}
