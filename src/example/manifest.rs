//! From `history.toml` and the embedded texts to the commits in order.

use serde::Deserialize;

use super::ExampleError;
use super::files::{EARLIER, NEWEST};

const HISTORY: &str = include_str!("history.toml");

/// One commit of the example: what it says, who made it when, and what it writes and removes.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Step {
    /// The whole message: subject, empty line, body, trailers.
    pub message: String,
    /// A role, as author and committer.
    pub author_name: String,
    /// An address in a domain that is reserved for examples.
    pub author_email: String,
    /// Date, time and offset in RFC 3339, for author and committer alike.
    pub date: String,
    /// Name and message of the annotated tag on this commit.
    pub tag: Option<(String, String)>,
    /// Path from the top of the repository and the whole new bytes of each file that is added or changed, by path.
    pub writes: Vec<(&'static str, &'static [u8])>,
    /// Paths of the files that go.
    pub removes: Vec<&'static str>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct History {
    commit: Vec<Listed>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Listed {
    message: String,
    author: String,
    email: String,
    date: String,
    tag: Option<ListedTag>,
    #[serde(default, rename = "final")]
    newest: Vec<String>,
    #[serde(default)]
    earlier: Vec<String>,
    #[serde(default)]
    removes: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ListedTag {
    name: String,
    message: String,
}

/// The commits of the example, oldest first.
///
/// # Errors
/// [`ExampleError`] if the embedded list and the embedded texts do not fit together; a test holds them to it.
pub fn steps() -> Result<Vec<Step>, ExampleError> {
    let history: History = toml::from_str(HISTORY)?;
    history.commit.into_iter().zip(1..).map(|(listed, number)| step(listed, number)).collect()
}

fn step(listed: Listed, number: usize) -> Result<Step, ExampleError> {
    let mut writes = Vec::new();
    for path in &listed.newest {
        writes.push(find(NEWEST, path).ok_or_else(|| not_embedded(number, path))?);
    }
    for path in &listed.earlier {
        let (stored, bytes) =
            find(EARLIER, &format!("{number:02}/{path}")).ok_or_else(|| not_embedded(number, path))?;
        writes.push((after_number(stored), bytes));
    }
    writes.sort_unstable_by_key(|(path, _)| *path);
    let removes = listed
        .removes
        .iter()
        .map(|path| known_path(path).ok_or_else(|| not_embedded(number, path)))
        .collect::<Result<Vec<_>, _>>()?;
    Ok(Step {
        message: listed.message,
        author_name: listed.author,
        author_email: listed.email,
        date: listed.date,
        tag: listed.tag.map(|tag| (tag.name, tag.message)),
        writes,
        removes,
    })
}

fn find(files: &'static [(&'static str, &'static [u8])], name: &str) -> Option<(&'static str, &'static [u8])> {
    files.iter().find(|(stored, _)| *stored == name).copied()
}

/// A path that goes was written once, so one of the two lists holds it.
fn known_path(path: &str) -> Option<&'static str> {
    let newest = NEWEST.iter().map(|(stored, _)| *stored);
    let earlier = EARLIER.iter().map(|(stored, _)| after_number(stored));
    newest.chain(earlier).find(|stored| *stored == path)
}

fn after_number(stored: &'static str) -> &'static str {
    stored.split_once('/').map_or(stored, |(_, path)| path)
}

fn not_embedded(number: usize, path: &str) -> ExampleError {
    ExampleError::NotEmbedded { number, path: path.to_owned() }
}
