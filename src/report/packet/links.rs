//! Names of places in the page, and links to them from wherever an id is written.

use std::collections::BTreeMap;

use serde::Serialize;

use super::html::{Html, escape};
use crate::analysis::Analysis;
use crate::model::{Ref, SerialId};
use crate::text::{FileId, RepoPath};

/// Words, and where they lead to if anywhere.
#[derive(Clone, Debug, Serialize)]
pub(super) struct Link {
    pub(super) text: String,
    pub(super) href: Option<String>,
}

/// Where each thing stands in the page.
#[derive(Debug, Default)]
pub(in crate::report) struct Linker {
    names: BTreeMap<String, String>,
    files: BTreeMap<RepoPath, String>,
    bodies: BTreeMap<RepoPath, String>,
}

impl Linker {
    /// Gives every thing of the project and every file of it a place.
    pub(super) fn of(analysis: &Analysis) -> Linker {
        let mut linker = Linker::default();
        let model = &analysis.model;
        for (id, place) in model.ids() {
            let target = format!("#{}", anchor(prefix(place), id));
            linker.bodies.insert(analysis.path(model.head(place).file).clone(), target.clone());
            linker.names.insert(id.to_string(), target);
        }
        for item in &model.items {
            for piece in &item.serials {
                let serial = SerialId { item: item.head.id.value.clone(), number: piece.number.value.clone() };
                linker.names.insert(serial.to_string(), format!("#{}", anchor("serial", &serial.to_string())));
            }
        }
        for id in model.instruments.keys() {
            linker.names.entry(id.to_string()).or_insert_with(|| format!("#{}", anchor("instrument", id)));
        }
        for (at, (path, ..)) in super::manifest::files(analysis).into_iter().enumerate() {
            linker.files.insert(path.clone(), format!("#file-{}", at + 1));
        }
        linker
    }

    /// A link to what a name names; plain words if it names nothing.
    pub(super) fn link(&self, name: impl ToString) -> Link {
        let text = name.to_string();
        let href = self.names.get(&text).cloned();
        Link { text, href }
    }

    /// Links to several.
    pub(super) fn links<T: ToString>(&self, names: impl IntoIterator<Item = T>) -> Vec<Link> {
        names.into_iter().map(|name| self.link(name)).collect()
    }

    /// A link to a file's line in the manifest, with other words.
    pub(super) fn file(&self, path: &RepoPath, text: impl Into<String>) -> Link {
        Link { text: text.into(), href: self.files.get(path).cloned() }
    }

    /// A whole file, leading to the manifest.
    pub(super) fn whole(&self, analysis: &Analysis, file: FileId) -> Link {
        let path = analysis.path(file);
        self.file(path, path.to_string())
    }

    /// Where a link in a body may lead: to the web or a mailbox, to a thing of the project, or nowhere.
    pub(super) fn target(&self, from: &RepoPath, written: &str) -> Option<String> {
        let lower = written.to_ascii_lowercase();
        if ["https://", "http://", "mailto:"].iter().any(|scheme| lower.starts_with(scheme)) {
            return Some(written.to_string());
        }
        let path = from.beside(written.split(['#', '?']).next().unwrap_or(""))?;
        self.bodies.get(&path).or_else(|| self.files.get(&path)).cloned()
    }

    /// A plain text as HTML, with each id in it leading to what it names.
    pub(super) fn text(&self, text: &str) -> Html {
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
            if let Some(target) = self.names.get(name).filter(|_| telling) {
                out.push_str("<a href=\"");
                escape(out, target);
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
pub(super) fn prefix(place: Ref) -> &'static str {
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
pub(super) fn anchor(prefix: &str, name: &str) -> String {
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
        let mut linker = Linker::default();
        for name in ["ACT-010", "MOV", "MOV/SN02"] {
            linker.names.insert(name.into(), format!("#x-{name}"));
        }
        linker
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
