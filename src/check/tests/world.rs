//! The project of a case, and what only a disk could do to it.

use std::collections::BTreeMap;

use jiff::civil::{Date, date};
use sha2::{Digest, Sha256};

use crate::analysis::{self, Request, hex};
use crate::diag::Switch;
use crate::git::Oid;
use crate::git::fixture::Fixture;
use crate::source::{Content, Limits, Memory, ReadError, Snapshot, Source, SourceError, SourceProblem};
use crate::text::RepoPath;

/// A project in memory, the day, and troubles that memory alone cannot have.
#[derive(Clone, Debug)]
pub(super) struct World {
    files: BTreeMap<String, String>,
    today: Date,
    limits: Limits,
    problems: Vec<SourceProblem>,
    unreadable: Vec<String>,
    not_utf8: Vec<String>,
}

impl Default for World {
    fn default() -> Self {
        World {
            files: BTreeMap::new(),
            today: date(2026, 6, 1),
            limits: Limits::default(),
            problems: Vec::new(),
            unreadable: Vec::new(),
            not_utf8: Vec::new(),
        }
    }
}

impl World {
    /// Adds or replaces a file.
    pub(super) fn put(&mut self, path: &str, text: &str) {
        self.files.insert(path.to_string(), text.to_string());
    }

    /// Applies hunks: lines with a space or `-` must be in the file just once, and become those with a space or `+`.
    pub(super) fn change(&mut self, path: &str, diff: &str) -> Result<(), String> {
        let text = self.files.get_mut(path).ok_or_else(|| format!("there is no {path} to change"))?;
        for hunk in diff.split("@@\n") {
            let side = |mark: char| -> String {
                let lines = hunk.lines().filter(|line| line.is_empty() || line.starts_with([' ', mark]));
                lines.map(|line| format!("{}\n", line.get(1..).unwrap_or(""))).collect()
            };
            let (old, new) = (side('-'), side('+'));
            if old.is_empty() || text.matches(&old).count() != 1 {
                return Err(format!("these lines are not just once in {path}:\n{old}"));
            }
            *text = text.replacen(&old, &new, 1);
        }
        Ok(())
    }

    /// Gives a requirement another statement, and says on which line that stands.
    pub(super) fn say(&mut self, path: &str, statement: &str) -> usize {
        let text = self.files.get_mut(path).unwrap();
        let start = text.rfind("+++\n").unwrap() + 4;
        let end = start + text[start..].find("\n\n").unwrap();
        text.replace_range(start..end, statement);
        text[..start].lines().count() + 1
    }

    /// One line of a `world` block.
    pub(super) fn set(&mut self, line: &str) {
        let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
        let path = RepoPath::new(rest);
        match word {
            "today" => self.today = rest.parse().unwrap(),
            "without" => drop(self.files.remove(rest)),
            "unreadable" => self.unreadable.push(rest.to_string()),
            "not-utf8" => self.not_utf8.push(rest.to_string()),
            "text-bytes" => self.limits.text_bytes = rest.parse().unwrap(),
            "files" => self.limits.files = rest.parse().unwrap(),
            "ignored-project-file" => self.problems.push(SourceProblem::IgnoredProjectFile { path }),
            "not-named-md" => self.problems.push(SourceProblem::Misnamed { path }),
            "instruments-elsewhere" => self.problems.push(SourceProblem::InstrumentsElsewhere { path }),
            "too-many-ignored" => self.problems.push(SourceProblem::TooManyIgnored { path, looked_at: 20_000 }),
            "sparse-missing" => self.problems.push(SourceProblem::SparseMissing { path }),
            "symlinked-folder" => self.problems.push(SourceProblem::SymlinkedFolder { path }),
            "symlinked-markdown" => self.problems.push(SourceProblem::SymlinkedMarkdown { path }),
            "submodule" => self.problems.push(SourceProblem::Submodule { path }),
            "nested-repository" => self.problems.push(SourceProblem::NestedRepository { path }),
            "path-not-utf8" => self.problems.push(SourceProblem::PathNotUtf8 { path }),
            "too-deep" => self.problems.push(SourceProblem::TooDeep { path, limit: 64 }),
            "unreadable-folder" => {
                self.problems.push(SourceProblem::UnreadableFolder { path, reason: "permission denied".into() });
            }
            _ => panic!("a world knows no `{line}`"),
        }
    }

    /// Writes every file to disk.
    pub(super) fn write(&self, to: &Fixture) {
        for (path, text) in &self.files {
            to.write(path, text);
        }
    }

    /// What is asked.
    pub(super) fn request(&self, switch: Switch) -> Request {
        Request { today: self.today, wording: true, switch }
    }

    /// With `{sha256:PATH}`, `{mark:ID}` and `{seal:ID}` filled in, by loading the project first.
    pub(super) fn filled(&self) -> World {
        let hashes =
            self.files.iter().map(|(path, text)| (format!("{{sha256:{path}}}"), hex(&Sha256::digest(text.as_bytes()))));
        let hashed = self.replace(&hashes.collect::<Vec<_>>());
        let load = |world: &World| analysis::run(world, world.request(Switch::default())).unwrap().model;
        let marks = load(&hashed)
            .requirements
            .into_iter()
            .map(|it| (format!("{{mark:{}}}", it.head.id.value), it.mark.clone()));
        let marked = hashed.replace(&marks.collect::<Vec<_>>());
        let seals =
            load(&marked).records.into_iter().map(|it| (format!("{{seal:{}}}", it.head.id.value), it.seal_now.clone()));
        marked.replace(&seals.collect::<Vec<_>>())
    }

    fn replace(&self, pairs: &[(String, String)]) -> World {
        let mut world = self.clone();
        for text in world.files.values_mut() {
            for (from, to) in pairs {
                *text = text.replace(from, to);
            }
        }
        world
    }

    fn memory(&self) -> Memory {
        self.files.iter().fold(Memory::new(), |memory, (path, text)| {
            let mut bytes = text.as_bytes().to_vec();
            if self.not_utf8.contains(path) {
                bytes.push(0xff);
            }
            memory.file(path, bytes)
        })
    }
}

/// Memory, with the bounds of the case, and with the problems that a disk would have reported.
impl Source for World {
    fn project_file(&self, limits: &Limits) -> Result<Content, SourceError> {
        self.memory().project_file(limits)
    }

    fn snapshot(&self, limits: &Limits) -> Result<Snapshot, SourceError> {
        let limits = Limits { nested_allowed: limits.nested_allowed.clone(), ..self.limits.clone() };
        let mut snapshot = self.memory().snapshot(&limits)?;
        snapshot.problems.extend(self.problems.iter().cloned());
        for file in
            snapshot.files.iter_mut().filter(|file| self.unreadable.iter().any(|path| path == file.path.as_str()))
        {
            file.content = Content::Unreadable { reason: "permission denied".into() };
        }
        Ok(snapshot)
    }

    fn read(&self, path: &RepoPath) -> Result<Vec<u8>, ReadError> {
        self.memory().read(path)
    }

    fn pieces(&self, path: &RepoPath, take: &mut dyn FnMut(&[u8])) -> Result<(), ReadError> {
        self.memory().pieces(path, take)
    }

    fn blob_id(&self, path: &RepoPath) -> Option<Oid> {
        self.memory().blob_id(path)
    }
}
