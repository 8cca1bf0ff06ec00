//! What every source does with its paths, so that the same files give the same snapshot.

use std::collections::BTreeSet;

use super::{
    Content, INSTRUMENTS_FILE, Limits, Origin, OtherFile, PARAMETERS_FILE, PROJECT_FILE, PassedOver, ProjectFile,
    Snapshot, SourceProblem,
};
use crate::git::Oid;
use crate::text::{RepoPath, same_but_for_case};

/// Whether the text of this file is read: Markdown anywhere, settings at the top of the project.
pub(crate) fn is_read(path: &RepoPath) -> bool {
    path.is_markdown() || is_settings(path)
}

/// Whether this is one of the settings files, which count at the top of the project only.
pub(crate) fn is_settings(path: &RepoPath) -> bool {
    [PROJECT_FILE, PARAMETERS_FILE, INSTRUMENTS_FILE].contains(&path.as_str())
}

/// How much of a file is looked at to tell whether it is one of the project's under another name.
pub(super) const BEGINNING: usize = 4096;

/// Names that an editor or a system makes of a Markdown file, or that a person may take for one.
const NEARLY: [&str; 8] = ["markdown", "mdown", "mdwn", "mkd", "mkdn", "mdx", "text", "txt"];

/// Whether a file of this name may be one of the project's that was saved under a name that is not read: `NC-005.md.txt`,
/// `NC-005.markdown`, `NC-005`.
fn may_be_misnamed(path: &RepoPath) -> bool {
    // `NC-005.md.` and `NC-005.md ` too; but `NC-005.md~` and `.orig` are what editors and merges keep beside the file itself.
    let name = path.file_name().trim_end_matches(|c: char| c == '.' || is_blank(c));
    match name.rsplit_once('.') {
        Some((_, ending)) if name == path.file_name() => NEARLY.iter().any(|known| ending.eq_ignore_ascii_case(known)),
        Some((_, ending)) => ending.eq_ignore_ascii_case("md"),
        None => !is_read(path),
    }
}

/// What is wrong with where a file stands or what it is called, if it is one of the project's; `begins` answers for its beginning.
pub(super) fn misplaced(path: &RepoPath, begins: impl FnOnce(fn(&[u8]) -> bool) -> bool) -> Option<SourceProblem> {
    if may_be_misnamed(path) {
        return begins(is_ours).then(|| SourceProblem::Misnamed { path: path.clone() });
    }
    let below = !path.folder().is_empty() && path.file_name().eq_ignore_ascii_case(INSTRUMENTS_FILE);
    (below && begins(lists_calibrations)).then(|| SourceProblem::InstrumentsElsewhere { path: path.clone() })
}

/// Whether a file that begins so lists calibrations as ours does: another program's `instruments.toml` is none of this.
fn lists_calibrations(beginning: &[u8]) -> bool {
    plain(beginning).lines().any(|line| {
        let line = line.trim();
        (line.starts_with("[[") && line.ends_with(".calibrations]]")) || line.starts_with("calibrations")
    })
}

/// Whether a file that begins so is one of the project's, whatever it is called: a line `+++` and a `kind` below it.
fn is_ours(beginning: &[u8]) -> bool {
    let text = plain(beginning.get(..BEGINNING).unwrap_or(beginning));
    let Some(rest) = text.strip_prefix("+++") else { return false };
    rest.lines().take_while(|line| line.trim_end() != "+++").any(|line| {
        let key = line.trim_start().trim_start_matches(['"', '\'']);
        key.strip_prefix("kind").is_some_and(|rest| rest.trim_start_matches(['"', '\'', ' ', '\t']).starts_with('='))
    })
}

/// Whether a file begins with `+++`, behind nothing that can be seen.
pub(super) fn is_fenced(beginning: &[u8]) -> bool {
    plain(beginning).starts_with("+++")
}

/// The text without what shows as nothing before it, and without the zero bytes of a text in UTF-16.
fn plain(beginning: &[u8]) -> String {
    let kept: Vec<u8> = beginning.iter().copied().filter(|byte| *byte != 0).collect();
    let text = String::from_utf8_lossy(&kept);
    text.trim_start_matches(|c: char| is_blank(c) || c == '\u{fffd}').to_owned()
}

/// White space, and what shows as nothing.
fn is_blank(character: char) -> bool {
    character.is_whitespace() || matches!(character, '\u{feff}' | '\u{200b}'..='\u{200f}' | '\u{2060}')
}

/// Whether a symlink with this target must not be: its files would be read twice or not at all.
pub(super) fn is_symlinked_markdown(link: &RepoPath, target: &str) -> bool {
    link.is_markdown() || RepoPath::new(target).is_markdown()
}

/// What is said of a settings file that is a symlink.
pub(super) fn symlinked_settings() -> Content {
    Content::Unreadable { reason: "it is a symlink, which is not followed".into() }
}

/// Folders whose files belong to somebody else: nested projects and submodules.
#[derive(Debug, Default)]
pub(super) struct Foreign(BTreeSet<String>);

impl Foreign {
    /// Whether there is none.
    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Adds a folder.
    pub(super) fn add(&mut self, folder: &str) {
        self.0.insert(folder.to_owned());
    }

    /// Whether `path` is such a folder or inside one.
    pub(super) fn holds(&self, path: &str) -> bool {
        !self.0.is_empty()
            && (self.0.contains(path) || path.match_indices('/').any(|(at, _)| self.0.contains(&path[..at])))
    }

    /// The nested projects among sorted paths, each outermost one with its problem if it is not meant to be there.
    pub(super) fn find<'a>(
        paths: impl Iterator<Item = &'a RepoPath>,
        limits: &Limits,
        problems: &mut Vec<SourceProblem>,
    ) -> Foreign {
        let mut folders: Vec<&str> = paths
            .filter(|path| path.file_name() == PROJECT_FILE)
            .map(RepoPath::folder)
            .filter(|f| !f.is_empty())
            .collect();
        // Outer folders first.
        folders.sort_unstable();
        let mut foreign = Foreign::default();
        for folder in folders {
            if !foreign.holds(folder) {
                foreign.add(folder);
                if !limits.allows_nested(folder) {
                    problems.push(SourceProblem::NestedProject { path: RepoPath::new(folder) });
                }
            }
        }
        foreign
    }
}

/// One path of a source and what is known of it.
#[derive(Debug)]
pub(super) struct Listed {
    pub(super) path: RepoPath,
    pub(super) body: Body,
    pub(super) blob: Option<Oid>,
    pub(super) tracked: bool,
}

/// What a path is.
#[derive(Debug)]
pub(super) enum Body {
    /// A Markdown or settings file.
    Read(Content),
    /// Another file, with its size in bytes where known.
    Other(Option<u64>),
    /// Neither.
    PassedOver(&'static str),
}

/// Makes the snapshot: sorts, and reports paths that differ only in case.
pub(super) fn assemble(origin: Origin, mut listed: Vec<Listed>, mut problems: Vec<SourceProblem>) -> Snapshot {
    if !listed.is_sorted_by(|a, b| a.path <= b.path) {
        listed.sort_by(|a, b| a.path.cmp(&b.path));
    }
    case_clashes(&listed, &mut problems);
    problems.sort_by(|a, b| a.path().cmp(b.path()).then_with(|| a.cmp(b)));
    problems.dedup();
    let (mut others, mut passed_over) = (Vec::new(), Vec::new());
    // Made in the place of the list that goes: nearly all are of this kind.
    let files = listed.into_iter().filter_map(|Listed { path, body, blob, tracked }| match body {
        Body::Read(content) => Some(ProjectFile { path, content, blob, tracked }),
        Body::Other(size) => {
            others.push(OtherFile { path, size, blob, tracked });
            None
        }
        Body::PassedOver(what) => {
            passed_over.push(PassedOver { path, what });
            None
        }
    });
    let files = files.collect();
    Snapshot { origin, files, others, passed_over, problems, seen: None }
}

fn case_clashes(listed: &[Listed], problems: &mut Vec<SourceProblem>) {
    for same in same_but_for_case(listed, |file| file.path.as_str()) {
        let path = |at: usize| listed[at].path.clone();
        problems.extend(same[1..].iter().map(|at| SourceProblem::CaseClash { path: path(*at), other: path(same[0]) }));
    }
}

/// Where a symlink in `folder` leads, by its text alone; `None` if out of the top or absolute.
pub(super) fn link_target(folder: &str, target: &str) -> Option<String> {
    if target.is_empty() || target.starts_with('/') || target.contains(['\\', '\0']) {
        return None;
    }
    let mut parts: Vec<&str> = folder.split('/').filter(|part| !part.is_empty()).collect();
    for part in target.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop()?;
            }
            ".git" => return None,
            name => parts.push(name),
        }
    }
    Some(parts.join("/"))
}

/// Whether a path names something inside the project by itself.
pub(super) fn is_inside(path: &RepoPath) -> bool {
    !path.as_str().contains(['\\', '\0'])
        && path.as_str().split('/').all(|part| !part.is_empty() && part != "." && part != ".." && part != ".git")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn links_by_their_text() {
        assert_eq!(link_target("a/b", "../c.csv").as_deref(), Some("a/c.csv"));
        assert_eq!(link_target("a", "..").as_deref(), Some(""));
        assert_eq!(link_target("a", "../.."), None);
        assert_eq!(link_target("", "/etc/passwd"), None);
        assert_eq!(link_target("a", "../.git/config"), None);
    }

    #[test]
    fn foreign_folders_hold_what_is_in_them() {
        let mut foreign = Foreign::default();
        foreign.add("a/b");
        assert!(foreign.holds("a/b") && foreign.holds("a/b/c.md"));
        assert!(!foreign.holds("a/bc.md") && !foreign.holds("a"));
    }

    #[test]
    fn paths_inside() {
        for path in ["", "../a", "a//b", "/etc", ".git/config", "a/../../b", "a/./b"] {
            assert!(!is_inside(&RepoPath::new(path)), "{path}");
        }
        assert!(is_inside(&RepoPath::new("a/b.csv")));
    }
}
