//! Names of places in the page, and links to them from wherever an id is written.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Serialize;

use super::html::{Html, escape};
use crate::analysis::Analysis;
use crate::model::Ref;
use crate::text::{FileId, RepoPath};

/// Words, and where they lead to if anywhere.
#[derive(Clone, Debug, Serialize)]
pub(in crate::report) struct Link {
    pub(in crate::report) text: String,
    pub(in crate::report) href: Option<String>,
}

/// How what is made is laid out, and so how one place of it leads to another.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Scheme {
    /// One page in which everything has a name.
    #[default]
    OnePage,
    /// A folder of pages that lead to each other from wherever they lie.
    Folder,
    /// Addresses that a program answers.
    Live,
}

/// How many rows one page of the matrix holds, where it has several.
pub(in crate::report) const MATRIX_ROWS: usize = 100;
/// The same for files.
pub(in crate::report) const FILE_LINES: usize = 1000;

impl Scheme {
    /// The address of a page by its key, such as `requirement/MOV-003`; one page is all there is.
    pub(in crate::report) fn address(self, key: &str) -> String {
        match self {
            Scheme::OnePage => String::new(),
            Scheme::Folder => format!("{key}.html"),
            Scheme::Live if key == FRONT => String::new(),
            Scheme::Live => key.to_string(),
        }
    }

    /// The place of one of many lines that are spread over pages, from 1.
    fn line(self, key: &str, each: usize, number: usize, anchor: &str) -> String {
        match self {
            Scheme::OnePage => format!("#{anchor}"),
            _ => format!("{}#{anchor}", self.address(&leaf(key, number.saturating_sub(1) / each))),
        }
    }
}

/// The key of the page to begin with.
pub(in crate::report) const FRONT: &str = "index";

/// The key of one of the pages that share what one of them could not hold, from 0.
pub(in crate::report) fn leaf(key: &str, at: usize) -> String {
    if at == 0 { key.to_string() } else { format!("{key}/{}", at + 1) }
}

/// Where each thing stands.
#[derive(Debug, Default)]
pub(in crate::report) struct Places {
    /// By what it is called.
    pub(in crate::report) names: BTreeMap<String, String>,
    /// Files, as lines of the manifest.
    pub(in crate::report) files: BTreeMap<RepoPath, String>,
    /// What stands in a file.
    pub(in crate::report) bodies: BTreeMap<RepoPath, String>,
}

impl Places {
    /// Gives every file of the project its line in the manifest.
    pub(in crate::report) fn add_files(&mut self, analysis: &Analysis, scheme: Scheme) {
        for (path, number) in super::manifest::files(analysis).into_iter().map(|(path, ..)| path).zip(1..) {
            let place = scheme.line("files", FILE_LINES, number, &format!("file-{number}"));
            self.files.insert(path.clone(), place);
        }
    }
}

/// Where the parts begin that the templates lead to.
#[derive(Debug, Serialize)]
pub(in crate::report) struct Sections {
    open: String,
    faults: String,
    less_asked: String,
    matrix: String,
    requirements: String,
    records: String,
    decisions: String,
    nonconformances: String,
    waivers: String,
    procedures: String,
    held: String,
    hardware: String,
    slots: String,
    instruments: String,
    changes: String,
    manifest: String,
}

/// Links to whatever is named, from one place.
#[derive(Clone, Debug, Default)]
pub(in crate::report) struct Linker {
    scheme: Scheme,
    /// How the way from here to all others starts.
    up: &'static str,
    places: Arc<Places>,
}

impl Linker {
    /// Gives every thing of the project and every file of it a place in one page.
    pub(in crate::report) fn of(analysis: &Analysis) -> Linker {
        let mut places = Places::default();
        let model = &analysis.model;
        for (id, place) in model.ids() {
            let target = format!("#{}", anchor(prefix(place), id));
            places.bodies.insert(analysis.path(model.head(place).file).clone(), target.clone());
            places.names.insert(id.to_string(), target);
        }
        for item in &model.items {
            for piece in &item.serials {
                let serial = item.serial_id(piece);
                places.names.insert(serial.to_string(), format!("#{}", anchor("serial", &serial.to_string())));
            }
        }
        for id in model.instruments.keys() {
            places.names.entry(id.to_string()).or_insert_with(|| format!("#{}", anchor("instrument", id)));
        }
        places.add_files(analysis, Scheme::OnePage);
        Linker::new(Scheme::OnePage, Arc::new(places), "")
    }

    /// From a place so many folders down.
    pub(in crate::report) fn new(scheme: Scheme, places: Arc<Places>, key: &str) -> Linker {
        let up = match (scheme, key.contains('/')) {
            // Every event has a folder of pages, whatever it is called.
            (Scheme::Live, false) => "./",
            (Scheme::Live, true) => "../",
            (Scheme::Folder, true) => "../",
            _ => "",
        };
        Linker { scheme, up, places }
    }

    /// How everything is laid out.
    pub(in crate::report) fn scheme(&self) -> Scheme {
        self.scheme
    }

    /// The way from here to a place.
    pub(in crate::report) fn way(&self, place: &str) -> String {
        format!("{}{place}", self.up)
    }

    /// The way from here to a page by its key.
    pub(in crate::report) fn page(&self, key: &str) -> String {
        self.way(&self.scheme.address(key))
    }

    /// The way to a place in the part of a requirement.
    pub(in crate::report) fn inside(&self, requirement: &str, anchor: &str) -> String {
        match (self.scheme, self.places.names.get(requirement)) {
            (Scheme::Folder | Scheme::Live, Some(page)) => self.way(&format!("{page}#{anchor}")),
            _ => format!("#{anchor}"),
        }
    }

    /// The way to a row of the matrix, by its number.
    pub(in crate::report) fn in_matrix(&self, number: usize) -> String {
        self.way(&self.scheme.line("matrix", MATRIX_ROWS, number, &format!("m{number}")))
    }

    /// The ways to the parts.
    pub(in crate::report) fn sections(&self) -> Sections {
        let to = |one: &str, key: &str, within: &str| match self.scheme {
            Scheme::OnePage => format!("#{one}"),
            _ => format!("{}{within}", self.page(key)),
        };
        Sections {
            open: to("open", FRONT, "#open"),
            faults: to("faults", FRONT, "#faults"),
            less_asked: to("less-asked", FRONT, "#less-asked"),
            matrix: to("matrix", "matrix", ""),
            requirements: to("requirements", "requirement", ""),
            records: to("records", "record", ""),
            decisions: to("decisions", "decision", ""),
            nonconformances: to("departures", "nonconformance", ""),
            waivers: to("departures", "waiver", ""),
            procedures: to("procedures", "procedure", ""),
            held: to("procedures", "event", ""),
            hardware: to("hardware", "item", ""),
            slots: to("hardware", "slot", ""),
            instruments: to("procedures", "instrument", ""),
            changes: to("changes", "changes", ""),
            manifest: to("manifest", "files", ""),
        }
    }

    /// A link to what a name names; plain words if it names nothing.
    pub(in crate::report) fn link(&self, name: impl ToString) -> Link {
        let text = name.to_string();
        let href = self.places.names.get(&text).map(|place| self.way(place));
        Link { text, href }
    }

    /// Links to several.
    pub(in crate::report) fn links<T: ToString>(&self, names: impl IntoIterator<Item = T>) -> Vec<Link> {
        names.into_iter().map(|name| self.link(name)).collect()
    }

    /// A link to a file's line in the manifest, with other words.
    pub(in crate::report) fn file(&self, path: &RepoPath, text: impl Into<String>) -> Link {
        Link { text: text.into(), href: self.places.files.get(path).map(|place| self.way(place)) }
    }

    /// A whole file, leading to the manifest.
    pub(in crate::report) fn whole(&self, analysis: &Analysis, file: FileId) -> Link {
        let path = analysis.path(file);
        self.file(path, path.to_string())
    }

    /// Where a link in a body may lead: to the web or a mailbox, to a thing of the project, or nowhere; and whether it
    /// leads out.
    pub(in crate::report) fn target(&self, from: &RepoPath, written: &str) -> Option<(String, bool)> {
        let lower = written.to_ascii_lowercase();
        if ["https://", "http://", "mailto:"].iter().any(|scheme| lower.starts_with(scheme)) {
            return Some((written.to_string(), true));
        }
        let path = from.beside(written.split(['#', '?']).next().unwrap_or(""))?;
        let place = self.places.bodies.get(&path).or_else(|| self.places.files.get(&path))?;
        Some((self.way(place), false))
    }

    /// A plain text as HTML, with each id in it leading to what it names.
    pub(in crate::report) fn text(&self, text: &str) -> Html {
        let mut out = String::with_capacity(text.len() + 64);
        let mut rest = text;
        while !rest.is_empty() {
            let mut start = rest.find(char::is_alphanumeric).unwrap_or(rest.len());
            if rest[start..].starts_with(is_part) && rest[..start].ends_with("--") {
                start -= "--".len();
            }
            escape(&mut out, &rest[..start]);
            rest = &rest[start..];
            // A whole run of letters and digits is looked at once, so that no id is found inside a longer word.
            let end = rest.find(|c: char| !is_part(c)).unwrap_or(rest.len());
            self.word(&mut out, &rest[..end]);
            rest = &rest[end..];
        }
        Html::trusted(out)
    }

    fn word(&self, out: &mut String, word: &str) {
        // A date, an id or an option is not torn at its hyphens.
        let whole = word.contains('-') && word.chars().count() < super::page::LONGEST;
        if whole {
            out.push_str("<span class=\"i\">");
        }
        self.linked(out, word);
        if whole {
            out.push_str("</span>");
        }
    }

    fn linked(&self, out: &mut String, word: &str) {
        let name = word.trim_end_matches(['.', '-', '_', '/']);
        let item = name.split('/').next().unwrap_or(name);
        for name in [name, item] {
            let telling = name.len() > 2 && name.contains(|c: char| c.is_ascii_uppercase() || c.is_ascii_digit());
            if let Some(target) = self.places.names.get(name).filter(|_| telling) {
                out.push_str("<a href=\"");
                escape(out, &self.way(target));
                out.push_str("\">");
                escape(out, name);
                out.push_str("</a>");
                escape(out, &word[name.len()..]);
                return;
            }
        }
        escape(out, word);
    }
}

fn is_part(character: char) -> bool {
    character.is_alphanumeric() || matches!(character, '.' | '_' | '-' | '/')
}

/// The first part of a place's name.
pub(in crate::report) fn prefix(place: Ref) -> &'static str {
    match place {
        Ref::Requirement(_) => "req",
        Ref::Record(_) => "rec",
        Ref::Item(_) => "item",
        Ref::Slot(_) => "slot",
        Ref::Procedure(_) => "proc",
        Ref::Decision(_) => "dec",
        Ref::Nonconformance(_) => "nc",
        Ref::Waiver(_) => "waiver",
        Ref::Held(_) => "held",
    }
}

/// A place's name: what an id may hold stays, so that the link can be typed; the rest is spelt out.
pub(in crate::report) fn anchor(prefix: &str, name: &str) -> String {
    use std::fmt::Write;
    let mut anchor = format!("{prefix}-");
    for character in name.chars() {
        match character {
            '/' => anchor.push(':'),
            c if c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-') => anchor.push(c),
            other => {
                let _ = write!(anchor, "~{:x}~", u32::from(other));
            }
        }
    }
    anchor
}

#[cfg(test)]
mod tests {
    use super::*;

    fn linker() -> Linker {
        let mut places = Places::default();
        for name in ["ACT-010", "MOV", "MOV/SN02"] {
            places.names.insert(name.into(), format!("#x-{name}"));
        }
        Linker::new(Scheme::OnePage, Arc::new(places), "")
    }

    #[test]
    fn ids_in_a_sentence_lead_somewhere_and_longer_words_do_not() {
        let html = linker().text("ACT-010's limit; ACT-0101, xMOV & MOV/SN02. MOV/SN09");
        let expected = "<span class=\"i\"><a href=\"#x-ACT-010\">ACT-010</a></span>&#39;s limit; \
                        <span class=\"i\">ACT-0101</span>, xMOV &amp; <a href=\"#x-MOV/SN02\">MOV/SN02</a>. \
                        <a href=\"#x-MOV\">MOV</a>/SN09";
        assert_eq!(html.as_str(), expected);
        assert_eq!(linker().text("a -- b --by x").as_str(), "a -- b <span class=\"i\">--by</span> x");
    }

    #[test]
    fn a_place_cannot_leave_its_attribute() {
        assert_eq!(anchor("req", "A\" onclick=x"), "req-A~22~~20~onclick~3d~x");
        assert_eq!(anchor("serial", "MOV/SN02"), "serial-MOV:SN02");
    }
}
