//! Pages that list: the matrix, everything, one sort of thing, parameters and roles, changes, files.

use minijinja::context;
use minijinja::value::Serde;
use serde::Serialize;

use super::Set;
use super::address::{LISTED, SORTS, Thing, counts, listed};
use super::engine::{Framed, Place, framed, framed_saying};
use super::prepared::standing;
use crate::report::ReportError;
use crate::report::finished::of_rows;
use crate::report::packet::links::{FILE_LINES, Link, Linker, MATRIX_ROWS, leaf};
use crate::report::packet::past::ChangesPart;
use crate::report::packet::requirement::{self, RequirementPart};
use crate::report::packet::row::RowPart;
use crate::report::packet::{Manifest, life, manifest, registers};

/// The pages that share a long list.
#[derive(Debug, Serialize)]
pub(super) struct Leaves {
    /// How many there are.
    count: usize,
    /// Which this is, from 1.
    here: usize,
    previous: Option<String>,
    next: Option<String>,
    /// Each page's first and last line, and the way there.
    all: Vec<Link>,
    /// The first and the last line of this page, and how many there are.
    from: usize,
    to: usize,
    lines: usize,
}

/// The pages of a list of so many lines, so many on each; `at` is this one.
pub(super) fn leaves(
    linker: &Linker,
    key: impl Fn(usize) -> String,
    (lines, each): (usize, usize),
    at: usize,
) -> Leaves {
    let count = lines.div_ceil(each).max(1);
    let to = |at: usize| linker.page(&key(at));
    let last = |at: usize| ((at + 1) * each).min(lines);
    let words = |at: usize| format!("{}\u{2013}{}", at * each + 1, last(at));
    Leaves {
        count,
        here: at + 1,
        previous: at.checked_sub(1).map(to),
        next: (at + 1 < count).then(|| to(at + 1)),
        all: (0..count).map(|at| Link { text: words(at), href: Some(to(at)) }).collect(),
        from: (at * each + 1).min(lines),
        to: last(at),
        lines,
    }
}

/// One thing in a list.
#[derive(Debug, Serialize)]
struct Line {
    link: Link,
    title: String,
    safety: bool,
    state: Option<&'static str>,
    note: String,
}

/// One sort of thing.
#[derive(Debug, Serialize)]
struct SortPart {
    key: &'static str,
    many: &'static str,
    count: usize,
    href: String,
    lines: Vec<Line>,
}

/// Up to how many things of a sort stand in the list of everything; of more there is only the list of their own.
const IN_ALL: usize = 300;

impl Set<'_> {
    /// A page of the matrix.
    pub(super) fn matrix(&self, address: &str, at: usize) -> Result<(String, String), ReportError> {
        let prepared = &*self.prepared;
        let linker = prepared.linker(address);
        let count = prepared.row_count();
        let (from, to) = (at * MATRIX_ROWS, ((at + 1) * MATRIX_ROWS).min(count));
        let due = prepared.before.rows.len();
        let title = format!("Verification matrix before {}", prepared.before.event);
        let view = context! {
            title => &title,
            event => &prepared.before.event,
            parts => Serde(&self.asked(&linker, from..to.min(due))),
            later => Serde(&self.asked(&linker, from.max(due)..to)),
            leaves => Serde(&leaves(&linker, |at| leaf("matrix", at), (count, MATRIX_ROWS), at)),
        };
        let own = Framed { title: &title, place: Place::Matrix, template: "pages/matrix.html", view, scripts: &[] };
        let must = || vec![of_rows((from..to).map(|at| prepared.row(at)))];
        let page = framed_saying(prepared, &linker, own, must)?;
        Ok((title, page))
    }

    /// The requirements of some rows that follow each other, each with those of them that are its own.
    fn asked(&self, linker: &Linker, rows: std::ops::Range<usize>) -> Vec<RequirementPart> {
        let analysis = self.from.analysis;
        let mut parts: Vec<(&str, Vec<RowPart>)> = Vec::new();
        for at in rows {
            let row = self.prepared.row(at);
            let part = RowPart::of(analysis, linker, row, at + 1);
            match parts.last_mut().filter(|(id, _)| *id == row.requirement) {
                Some((_, own)) => own.push(part),
                None => parts.push((&row.requirement, vec![part])),
            }
        }
        let at = |id: &str| crate::graph::TraceGraph::requirement_at(&analysis.model, id);
        let parts = parts.into_iter().filter_map(|(id, rows)| Some((at(id)?, rows)));
        parts.map(|(at, rows)| requirement::brief(analysis, linker, at, rows)).collect()
    }

    /// Everything, by sort.
    pub(super) fn all(&self, address: &str) -> Result<(String, String), ReportError> {
        let prepared = &*self.prepared;
        let linker = prepared.linker(address);
        let counts = counts(&prepared.homes.things);
        let part = |(sort, own): (usize, &super::address::Sort)| {
            let count = counts.get(&sort).copied().unwrap_or(0);
            let things = prepared.homes.things.iter().filter(|thing| count <= IN_ALL && thing.sort() == sort);
            SortPart {
                key: own.key,
                many: own.many,
                count,
                href: linker.page(own.key),
                lines: things.map(|thing| self.line(&linker, thing)).collect(),
            }
        };
        let sorts: Vec<SortPart> = SORTS.iter().enumerate().map(part).filter(|part| part.count > 0).collect();
        let title = "Everything";
        let view = context! {
            title,
            sorts => Serde(&sorts),
            settings => linker.page("settings"),
            files => linker.page("files"),
            file_count => crate::report::packet::files(self.from.analysis).len(),
        };
        let own = Framed { title, place: Place::All, template: "pages/all.html", view, scripts: &[] };
        Ok((title.to_string(), framed(prepared, &linker, own)?))
    }

    /// A page of everything of one sort.
    pub(super) fn sort(&self, address: &str, sort: usize, at: usize) -> Result<(String, String), ReportError> {
        let prepared = &*self.prepared;
        let linker = prepared.linker(address);
        let own = SORTS[sort];
        let things: Vec<&Thing> = prepared.homes.things.iter().filter(|thing| thing.sort() == sort).collect();
        let lines = things.iter().skip(at * LISTED).take(LISTED).map(|thing| self.line(&linker, thing)).collect();
        let sorts = [SortPart { key: own.key, many: own.many, count: things.len(), href: String::new(), lines }];
        let title = own.many;
        let view = context! {
            title,
            sorts => Serde(&sorts),
            leaves => Serde(&leaves(&linker, |at| listed(own.key, at), (things.len(), LISTED), at)),
        };
        let own = Framed { title, place: Place::All, template: "pages/all.html", view, scripts: &[] };
        Ok((title.to_string(), framed(prepared, &linker, own)?))
    }

    fn line(&self, linker: &Linker, thing: &Thing) -> Line {
        let analysis = self.from.analysis;
        let name = thing.name(analysis);
        let (state, note) = standing(analysis, &self.prepared, thing);
        let title = match thing {
            Thing::Instrument(id) => {
                analysis.model.instruments.get(id).and_then(|own| own.what.clone()).unwrap_or_default()
            }
            _ => self.prepared.title(analysis, &name).unwrap_or_default(),
        };
        let safety = analysis.model.requirement(&name).is_some_and(|own| own.safety);
        Line { link: linker.link(name), title, safety, state, note }
    }

    /// Parameters, roles, limited life.
    pub(super) fn settings(&self, address: &str) -> Result<(String, String), ReportError> {
        let prepared = &*self.prepared;
        let linker = prepared.linker(address);
        let analysis = self.from.analysis;
        let title = "Parameters, roles, limited life";
        let roles: Vec<registers::RoleLine> = analysis.model.config.roles.iter().map(registers::role).collect();
        let view = context! {
            title,
            parameters => Serde(&registers::parameters(analysis)),
            roles => Serde(&roles),
            lives => Serde(&life::parts(analysis, &linker, |_| true)),
            rule => crate::report::packet::rule(analysis),
        };
        let own = Framed { title, place: Place::All, template: "pages/settings.html", view, scripts: &[] };
        Ok((title.to_string(), framed(prepared, &linker, own)?))
    }

    /// What changed.
    pub(super) fn changes(&self, address: &str) -> Result<(String, String), ReportError> {
        let linker = self.prepared.linker(address);
        let changes = ChangesPart::of(&linker, &self.from.past.since, "the files of these pages", false);
        let title = match changes.base() {
            "" => "Changes".to_string(),
            base => format!("Changes since {base}"),
        };
        let view = context! { title => &title, changes => Serde(&changes) };
        let own = Framed { title: &title, place: Place::Changes, template: "pages/changes.html", view, scripts: &[] };
        let page = framed(&self.prepared, &linker, own)?;
        Ok((title, page))
    }

    /// A page of the manifest.
    pub(super) fn files(&self, address: &str, at: usize) -> Result<(String, String), ReportError> {
        let linker = self.prepared.linker(address);
        let manifest = self.manifest();
        let title = "Files";
        let lines: Vec<_> = manifest.files.iter().skip(at * FILE_LINES).take(FILE_LINES).collect();
        let view = context! {
            title,
            digest => &manifest.digest,
            files => Serde(&lines),
            passed_over => Serde(&manifest.passed_over()),
            leaves => Serde(&leaves(&linker, |at| leaf("files", at), (manifest.files.len(), FILE_LINES), at)),
        };
        let own = Framed { title, place: Place::Elsewhere, template: "pages/files.html", view, scripts: &[] };
        Ok((title.to_string(), framed(&self.prepared, &linker, own)?))
    }

    pub(super) fn manifest(&self) -> &Manifest {
        self.prepared.manifest.get_or_init(|| manifest(self.from.analysis, self.from.source))
    }
}
