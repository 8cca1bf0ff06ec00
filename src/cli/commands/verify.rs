//! `slipmark packet --verify`: whether a packet still says what it said, whether its commit says so, and what has moved since.
//!
//! A packet is whatever [`Kind`] there is of it. To add one: a variant, how it is told ([`Kind::of`]), and how it is made again ([`again`]).

use std::collections::BTreeMap;
use std::io::Read;
use std::path::Path;

use super::packet::{Base, Format, Paper, make, page_of, set_of};
use sha2::{Digest, Sha256};

use crate::analysis::hex;
use crate::cli::args::Common;
use crate::cli::folder::{self, CONTENTS};
use crate::cli::{CliError, ExitStatus, Project, Ui};
use crate::report::packet::{self, Claims, Dated, EPOCH, Looked, differing};
use crate::report::view::{AgainMadeView, FilesView, MadeFromView, VerifyView};
use crate::report::{json, pages, text};

/// A larger file is no packet of ours.
const LARGEST: u64 = 1 << 30;

/// What a packet is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    /// One file, written so.
    File(Format),
    /// A folder of pages.
    Pages,
}

impl Kind {
    /// Of a file that is a packet.
    fn of(bytes: &[u8]) -> Kind {
        Kind::File(match () {
            () if bytes.starts_with(b"PK") => Format::Xlsx,
            () if packet::is_pdf(bytes) => Format::Pdf,
            () => Format::Html,
        })
    }

    fn word(self) -> &'static str {
        match self {
            Kind::Pages => "pages",
            Kind::File(Format::Xlsx) => "workbook",
            Kind::File(Format::Pdf) => "pdf",
            Kind::File(_) => "page",
        }
    }
}

/// A packet as it was found.
struct Found {
    kind: Kind,
    looked: Looked,
    /// SHA-256 of each of its files: they may lie among those of the project, and are none of them.
    own: Vec<String>,
}

/// Says whether a packet is as it was made and the files are as it says.
///
/// # Errors
/// If it cannot be read or is no packet, or there is no project.
pub(super) fn run(path: &Path, format: Option<Format>, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let found = if path.is_dir() { pages_in(path)? } else { file(path)? };
    let mut view = VerifyView {
        slipmark: env!("CARGO_PKG_VERSION"),
        path: path.display().to_string(),
        sort: found.kind.word(),
        matches: false,
        made_from: found.looked.claims.as_ref().map(made_from),
        altered: found.looked.altered.clone(),
        made_again: None,
        files: None,
    };
    if let Some(claims) = &found.looked.claims {
        let now = Project::open(common)?;
        view.made_again = Some(made_again(now, claims, &found, common));
        view.files = Some(moved(now, claims, &found.own, common));
    }
    view.matches = view.altered.is_empty()
        && view.made_again.as_ref().is_some_and(|again| again.outcome == "same")
        && view.files.as_ref().is_some_and(|files| files.same);
    let status = if view.matches { ExitStatus::Done } else { ExitStatus::Open };
    match format {
        Some(Format::Json) => ui.bytes(json::render(&view)?.as_bytes()),
        _ => ui.text(&text::verify::render(&view)),
    }
    Ok(status)
}

fn made_from(claims: &Claims) -> MadeFromView {
    MadeFromView {
        event: claims.event.clone(),
        commit: claims.commit.clone(),
        clean: claims.clean,
        today: claims.today.clone(),
        slipmark: claims.slipmark.clone(),
    }
}

/// Looks at a packet that is one file.
fn file(path: &Path) -> Result<Found, CliError> {
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
    Ok(Found { kind: Kind::of(&bytes), looked, own: vec![hex(&Sha256::digest(&bytes))] })
}

fn read(path: &Path) -> Result<Vec<u8>, CliError> {
    let wrong = |why: &dyn std::fmt::Display| {
        CliError::refused(format!("cannot read {}: {why}", path.display()), "name a file that slipmark packet wrote")
    };
    // To open a pipe is to wait for whoever writes to it.
    if !path.metadata().map_err(|error| wrong(&error))?.is_file() {
        return Err(wrong(&"it is no plain file"));
    }
    let file = std::fs::File::open(path).map_err(|error| wrong(&error))?;
    let mut bytes = Vec::new();
    file.take(LARGEST + 1).read_to_end(&mut bytes).map_err(|error| wrong(&error))?;
    if bytes.len() as u64 > LARGEST {
        return Err(wrong(&"it has more than 1 GiB, as no packet has"));
    }
    Ok(bytes)
}

/// Looks at a folder of pages: each file beside the hash that the list has of it.
fn pages_in(path: &Path) -> Result<Found, CliError> {
    let wrong = |why: &dyn std::fmt::Display| {
        let help = "name a folder that slipmark packet --site wrote";
        CliError::refused(format!("cannot read {}: {why}", path.display()), help)
    };
    // Before every file below a folder is read that is anything else.
    let has = |name: &str| path.join(name).symlink_metadata().is_ok();
    if !has(CONTENTS) || !(has(pages::FIRST) || has(pages::CLAIMS)) {
        return Err(wrong(&"it is no folder of slipmark's pages"));
    }
    let held = folder::held(path, LARGEST).map_err(|error| wrong(&error))?;
    let mut parts = held.files;
    let list = parts.iter().position(|(name, _)| name == CONTENTS).map(|at| parts.remove(at));
    let mut altered = differing(&held.listed, &parts, ("is gone", "was put in", "was altered"));
    let claims = std::fs::read(path.join(pages::CLAIMS)).ok().and_then(|bytes| serde_json::from_slice(&bytes).ok());
    if claims.is_none() {
        altered.push(format!("{}: what the pages were made from cannot be read", pages::CLAIMS));
    }
    let own = parts.iter().map(|(_, hash)| hash.clone()).chain(list.iter().map(|(_, hash)| hash.clone())).collect();
    parts.extend(list);
    Ok(Found { kind: Kind::Pages, looked: Looked { claims, altered, parts }, own })
}

/// Makes the packet again from its commit, or where it was made of files that are not committed, or not as git has them, from the files
/// of now; and compares each part.
fn made_again(now: &Project, claims: &Claims, found: &Found, common: &Common) -> AgainMadeView {
    let no = |why: String| AgainMadeView { outcome: "not-made", from: None, differences: Vec::new(), why: Some(why) };
    if claims.slipmark != env!("CARGO_PKG_VERSION") {
        let own = &claims.slipmark;
        return no(format!("only the program that made it can make it again, which was slipmark {own}"));
    }
    let Ok(today) = claims.today.parse() else { return no("it names no day on which was asked".into()) };
    let common = Common { today: Some(today), ..common.clone() };
    let from = |from: String, common: &Common| match once(common, claims, found) {
        Ok(differences) => {
            let outcome = if differences.is_empty() { "same" } else { "other" };
            AgainMadeView { outcome, from: Some(from), differences, why: None }
        }
        Err(error) => no(format!("it cannot be made from {from}: {error}")),
    };
    let mut last = no("the files that it was made of are not committed, and not here any more".into());
    if let Some(commit) = claims.commit.as_ref().filter(|_| claims.clean) {
        let name = format!("commit {}", commit.get(..10).unwrap_or(commit));
        last = from(name, &Common { at: Some(commit.clone()), ..common.clone() });
        if last.outcome == "same" {
            return last;
        }
    }
    // Only files that are those of the packet say anything about it.
    let are_its = now.commit.map(|oid| oid.to_string()) == claims.commit
        && packet::hashes(&now.analysis, &*now.source).1 == claims.list;
    if are_its && !now.past { from("the files of now".into(), &common) } else { last }
}

/// Makes it once, and says how it differs.
fn once(common: &Common, claims: &Claims, found: &Found) -> Result<Vec<String>, CliError> {
    let looked = &found.looked;
    let Some(again) = again(common, claims, found.kind)? else { return Ok(vec!["the whole of it".into()]) };
    let mut differences =
        differing(&again.parts, &looked.parts, ("is not in it", "does not belong in it", "says something else"));
    if differences.is_empty() && again.claims.as_ref() != looked.claims.as_ref() {
        differences.push("what it says of itself at its end says something else".into());
    }
    Ok(differences)
}

/// What there is to be told of a packet that is made from the same.
fn again(common: &Common, claims: &Claims, kind: Kind) -> Result<Option<Looked>, CliError> {
    let project = Project::open(common)?;
    let event = project.event(&claims.event)?;
    let base = claims.since.as_deref().map_or(Base::Nothing, Base::Named);
    let dated = claims.epoch.clone().map(|date| Dated { date: Some(date), from: EPOCH, subject: None });
    match kind {
        Kind::File(format) => {
            let paper = if claims.paper.as_deref() == Some("letter") { Paper::Letter } else { Paper::A4 };
            let made = make(project, common, (event, format, paper), base, Some(dated))?;
            Ok(packet::look(&made.bytes))
        }
        Kind::Pages => set_of(project, common, event, base, Some(dated), |set| {
            let names: Vec<&str> = set.names().collect();
            let parts = folder::parts(&names, &|address| page_of(set, address))?;
            let claims = set.page(pages::CLAIMS).transpose()?.and_then(|page| serde_json::from_str(&page.text).ok());
            Ok(Some(Looked { claims, altered: Vec::new(), parts }))
        }),
    }
}

/// The files of the packet beside those of now; the packet itself, which may lie among them, is not one of them.
fn moved(now: &Project, claims: &Claims, own: &[String], common: &Common) -> FilesView {
    let (files, list) = packet::hashes(&now.analysis, &*now.source);
    let at = common.at.clone().unwrap_or_else(|| "now".to_string());
    let none = Vec::new;
    let view =
        FilesView { at, count: files.len(), same: true, named: true, changed: none(), added: none(), removed: none() };
    if list == claims.list {
        return view;
    }
    let Some(then) = claims.files.clone().or_else(|| committed(claims, common)) else {
        return FilesView { same: false, named: false, ..view };
    };
    let then: BTreeMap<String, Option<String>> = then.into_iter().map(|(hash, path)| (path, hash)).collect();
    let is_own = |hash: &Option<String>| hash.as_ref().is_some_and(|hash| own.contains(hash));
    let others = files.into_iter().filter(|(hash, _)| !is_own(hash));
    let files: BTreeMap<String, Option<String>> = others.map(|(hash, path)| (path, hash)).collect();
    if then == files && files.values().all(Option::is_some) {
        return view;
    }
    let changed = then.iter().filter(|(path, hash)| files.get(*path).is_some_and(|own| own != *hash || hash.is_none()));
    FilesView {
        same: false,
        changed: changed.map(|(path, _)| path.clone()).collect(),
        added: files.keys().filter(|path| !then.contains_key(*path)).cloned().collect(),
        removed: then.keys().filter(|path| !files.contains_key(*path)).cloned().collect(),
        ..view
    }
}

/// The files of the commit that a packet names, where it does not carry their names.
fn committed(claims: &Claims, common: &Common) -> Option<Vec<(Option<String>, String)>> {
    let commit = claims.commit.clone().filter(|_| claims.clean)?;
    let then = Project::open(&Common { at: Some(commit), ..common.clone() }).ok()?;
    let (files, list) = packet::hashes(&then.analysis, &*then.source);
    (list == claims.list).then_some(files)
}
