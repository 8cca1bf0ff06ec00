//! `slipmark packet --verify`: whether a packet still says what it said, whether its commit says so, and what has moved since.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::io::Read;
use std::path::Path;

use super::packet::{Base, Format, Paper, make};
use sha2::{Digest, Sha256};

use crate::analysis::hex;
use crate::cli::args::Common;
use crate::cli::{CliError, ExitStatus, Project, Ui};
use crate::report::packet::{self, Claims, Dated, EPOCH, Looked, differing};
use crate::report::style::{BAD, GOOD, OFF};

/// A larger file is no packet of ours.
const LARGEST: u64 = 1 << 30;

/// How many names of files are listed of each sort.
const LISTED: usize = 100;

/// Says whether a packet is as it was made and the files are as it says.
///
/// # Errors
/// If the file cannot be read or is no packet, or there is no project.
pub(super) fn run(path: &Path, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let bytes = read(path)?;
    let looked = packet::look(&bytes).ok_or_else(|| {
        if bytes.starts_with(b"PK") {
            return CliError::refused(
                format!("{} carries nothing to check it by", path.display()),
                "name a workbook as slipmark packet wrote it: another program that saves it leaves the hashes out",
            );
        }
        CliError::refused(format!("{} is no packet", path.display()), "name a file that slipmark packet wrote")
    })?;
    let mut said = Said::default();
    said.about(path, looked.claims.as_ref());
    said.altered(&looked.altered);
    if let Some(claims) = &looked.claims {
        let now = Project::open(common)?;
        let format = match () {
            () if bytes.starts_with(b"PK") => Format::Xlsx,
            () if packet::is_pdf(&bytes) => Format::Pdf,
            () => Format::Html,
        };
        said.made_again(made_again(now, claims, &looked, (format, common)));
        let own = hex(&Sha256::digest(&bytes));
        said.moved(now, claims, &own, common);
    }
    said.verdict();
    ui.text(&said.text);
    Ok(if said.matches { ExitStatus::Done } else { ExitStatus::Open })
}

fn read(path: &Path) -> Result<Vec<u8>, CliError> {
    let wrong = |why: &dyn std::fmt::Display| {
        CliError::refused(format!("cannot read {}: {why}", path.display()), "name a file that slipmark packet wrote")
    };
    let file = std::fs::File::open(path).map_err(|error| wrong(&error))?;
    let mut bytes = Vec::new();
    file.take(LARGEST + 1).read_to_end(&mut bytes).map_err(|error| wrong(&error))?;
    if bytes.len() as u64 > LARGEST {
        return Err(wrong(&"it has more than 1 GiB, as no packet has"));
    }
    Ok(bytes)
}

/// What comes of making a packet again.
enum Again {
    /// It is the same.
    Same(String),
    /// It is not, in these parts.
    Other(String, Vec<String>),
    /// It could not be made.
    No(String),
}

/// Makes the packet again from its commit, or where it was made of files that are not committed, or not as git has them, from the files
/// of now; and compares each part.
fn made_again(now: &Project, claims: &Claims, looked: &Looked, (format, common): (Format, &Common)) -> Again {
    if claims.slipmark != env!("CARGO_PKG_VERSION") {
        return Again::No(format!(
            "only the program that made it can make it again, which was slipmark {}",
            one_line(&claims.slipmark)
        ));
    }
    let Ok(today) = claims.today.parse() else { return Again::No("it names no day on which was asked".into()) };
    let common = Common { today: Some(today), ..common.clone() };
    let mut last = Again::No("the files that it was made of are not committed, and not here any more".into());
    if let Some(commit) = claims.commit.as_ref().filter(|_| claims.clean) {
        let from = short(commit).to_string();
        last = match once(&Common { at: Some(commit.clone()), ..common.clone() }, claims, looked, format) {
            Ok(differences) if differences.is_empty() => return Again::Same(format!("commit {from}")),
            Ok(differences) => Again::Other(format!("commit {from}"), differences),
            Err(error) => Again::No(format!("it cannot be made from commit {from}: {error}")),
        };
    }
    // Only files that are those of the packet say anything about it.
    let are_its = now.commit.map(|oid| oid.to_string()) == claims.commit
        && packet::hashes(&now.analysis, &*now.source).1 == claims.list;
    if are_its && !now.past {
        return match once(&common, claims, looked, format) {
            Ok(differences) if differences.is_empty() => Again::Same("the files of now".into()),
            Ok(differences) => Again::Other("the files of now".into(), differences),
            Err(error) => Again::No(format!("it cannot be made from the files of now: {error}")),
        };
    }
    last
}

/// Makes it once, and says how it differs.
fn once(common: &Common, claims: &Claims, looked: &Looked, format: Format) -> Result<Vec<String>, CliError> {
    let project = Project::open(common)?;
    let event = project.event(&claims.event)?;
    let base = claims.since.as_deref().map_or(Base::Nothing, Base::Named);
    let dated = claims.epoch.clone().map(|date| Dated { date: Some(date), from: EPOCH, subject: None });
    let paper = if claims.paper.as_deref() == Some("letter") { Paper::Letter } else { Paper::A4 };
    let made = make(project, common, (event, format, paper), base, Some(dated))?;
    let Some(again) = packet::look(&made.bytes) else { return Ok(vec!["the whole of it".into()]) };
    let mut differences =
        differing(&again.parts, &looked.parts, ("is not in it", "does not belong in it", "says something else"));
    if differences.is_empty() && again.claims.as_ref() != looked.claims.as_ref() {
        differences.push("what it says of itself at its end says something else".into());
    }
    Ok(differences)
}

/// What is told.
struct Said {
    text: String,
    matches: bool,
}

impl Default for Said {
    fn default() -> Said {
        Said { text: String::new(), matches: true }
    }
}

impl Said {
    fn line(&mut self, line: &str) {
        let _ = writeln!(self.text, "{line}");
    }

    fn wrong(&mut self, line: &str) {
        self.matches = false;
        self.line(&format!("{BAD}{line}{OFF}"));
    }

    fn about(&mut self, path: &Path, claims: Option<&Claims>) {
        let Some(claims) = claims else { return self.line(&path.display().to_string()) };
        let commit = claims
            .commit
            .as_deref()
            .map_or("files that no commit holds".to_string(), |it| format!("commit {}", short(it)));
        let draft = if claims.clean || claims.commit.is_none() { "" } else { " and files not committed" };
        self.line(&format!(
            "{}\nbefore {}, made of {commit}{draft}, asked on {}",
            path.display(),
            one_line(&claims.event),
            one_line(&claims.today)
        ));
    }

    fn altered(&mut self, altered: &[String]) {
        if altered.is_empty() {
            self.line("every part of it has the hash that it had when it was written");
            return;
        }
        self.wrong("it was altered since it was written:");
        self.list("", altered.iter().map(|what| one_line(what)));
    }

    fn made_again(&mut self, again: Again) {
        match again {
            Again::Same(from) => self.line(&format!("made again from {from}, it is the same")),
            Again::Other(from, parts) => {
                self.wrong(&format!("made again from {from}, it is another:"));
                self.list("", parts.iter().map(|what| one_line(what)));
            }
            Again::No(why) => self.wrong(&format!("it could not be made again: {why}")),
        }
    }

    /// The files of the packet beside those of now; the packet itself, which may lie among them, is not one of them.
    fn moved(&mut self, now: &Project, claims: &Claims, own: &str, common: &Common) {
        let (files, list) = packet::hashes(&now.analysis, &*now.source);
        let at = common.at.as_deref().map_or("now".to_string(), one_line);
        if list == claims.list {
            return self.line(&format!("the {} files of {at} are those that it was made of", files.len()));
        }
        let Some(then) = claims.files.clone().or_else(|| committed(claims, common)) else {
            return self.wrong(&format!(
                "the files of {at} are others; it does not carry the names of those that it was made of"
            ));
        };
        let then: BTreeMap<String, Option<String>> = then.into_iter().map(|(hash, path)| (path, hash)).collect();
        let files: BTreeMap<String, Option<String>> = files
            .into_iter()
            .filter(|(hash, _)| hash.as_deref() != Some(own))
            .map(|(hash, path)| (path, hash))
            .collect();
        if then == files && files.values().all(Option::is_some) {
            return self.line(&format!("the {} files of {at} are those that it was made of", files.len()));
        }
        self.wrong(&format!("since then the files have changed; beside those of {at}:"));
        let changed =
            then.iter().filter(|(path, hash)| files.get(*path).is_some_and(|own| own != *hash || hash.is_none()));
        self.list("changed  ", changed.map(|(path, _)| one_line(path)));
        self.list("added    ", files.keys().filter(|path| !then.contains_key(*path)).map(|path| one_line(path)));
        self.list("removed  ", then.keys().filter(|path| !files.contains_key(*path)).map(|path| one_line(path)));
        if let Some(commit) = claims.commit.as_deref().filter(|_| claims.clean) {
            self.line(&format!("what that changed: slipmark changes {}", short(&one_line(commit))));
        }
    }

    fn list(&mut self, what: &str, lines: impl Iterator<Item = String>) {
        let mut lines = lines.peekable();
        for line in lines.by_ref().take(LISTED) {
            self.line(&format!("  {what}{line}"));
        }
        if lines.peek().is_some() {
            self.line(&format!("  {what}and {} more", lines.count()));
        }
    }

    fn verdict(&mut self) {
        match self.matches {
            true => self.line(&format!("{GOOD}the packet matches{OFF}")),
            false => self.line(&format!("{BAD}the packet does not match{OFF}")),
        }
    }
}

/// The files of the commit that a packet names, where it does not carry their names.
fn committed(claims: &Claims, common: &Common) -> Option<Vec<(Option<String>, String)>> {
    let commit = claims.commit.clone().filter(|_| claims.clean)?;
    let then = Project::open(&Common { at: Some(commit), ..common.clone() }).ok()?;
    let (files, list) = packet::hashes(&then.analysis, &*then.source);
    (list == claims.list).then_some(files)
}

/// A text that cannot end its line.
fn one_line(text: &str) -> String {
    text.replace(['\n', '\r'], " ")
}

fn short(commit: &str) -> &str {
    commit.get(..10).unwrap_or(commit)
}
