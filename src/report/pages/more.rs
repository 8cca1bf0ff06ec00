//! Pages that need somebody who answers: changes between any two commits, a requirement as it read before, the keys.

use minijinja::context;
use minijinja::value::Serde;
use serde::Serialize;

use super::Set;
use super::engine::{Framed, Place, framed};
use crate::report::ReportError;
use crate::report::packet::Since;
use crate::report::packet::past::ChangesPart;
use crate::text::encoded;

/// A point in history that a form offers.
#[derive(Clone, Debug, Serialize)]
pub struct Point {
    /// A tag or a commit, as it may be asked for.
    pub name: String,
    /// What it is.
    pub words: String,
}

/// What somebody asked to have compared.
#[derive(Debug)]
pub struct Compared<'c> {
    /// From and to, as they were typed; no end is the files as they are now.
    pub ends: (&'c str, &'c str),
    /// What came of it; none if nothing was asked yet.
    pub found: Option<Result<Since, String>>,
}

impl Set<'_> {
    /// Changes between two points, and the form that asks for them.
    ///
    /// # Errors
    /// If a template is at fault.
    pub fn between(&self, points: &[Point], asked: &Compared<'_>) -> Result<String, ReportError> {
        let linker = self.prepared.linker("between");
        let (from, to) = asked.ends;
        let to_words = if to.is_empty() { "the files as they are now" } else { to };
        let (changes, wrong) = match &asked.found {
            None => (None, None),
            Some(Ok(since)) => (Some(ChangesPart::of(&linker, since, to_words, true)), None),
            Some(Err(why)) => (None, Some(why)),
        };
        let title = match &changes {
            Some(_) => format!("Changes from {from} to {to_words}"),
            None => "Changes between two points".to_string(),
        };
        let view = context! { title => &title, from, to, wrong, points => Serde(points), changes => Serde(&changes) };
        framed(
            &self.prepared,
            &linker,
            Framed { title: &title, place: Place::Between, template: "live/between.html", view, scripts: &[] },
        )
    }

    /// A requirement as it read, revision by revision; `at` is the commit of one of them. None if there is no such requirement.
    pub fn revisions(&self, address: &str, at: Option<&str>) -> Option<Result<String, ReportError>> {
        let id = self.requirement_at(&format!("requirement/{address}"))?;
        let history = self.from.past.histories.get(id);
        let all = history.map_or(&[][..], |history| &history.thing.revisions[..]);
        let here = at.and_then(|at| all.iter().position(|own| own.oid == at));
        if at.is_some() && here.is_none() {
            return None;
        }
        let linker = self.prepared.linker("revisions/x");
        let title = format!("{id}: as it read");
        let link = |at: usize| all.get(at).map(|own| format!("?at={}", encoded(&own.oid)));
        let view = context! {
            title => &title,
            id,
            now => linker.page(&format!("requirement/{address}")),
            revisions => Serde(here.and_then(|at| all.get(at..=at)).unwrap_or(all)),
            one => here.is_some(),
            previous => here.and_then(|at| at.checked_sub(1)).and_then(link),
            next => here.and_then(|at| link(at + 1)),
        };
        Some(framed(
            &self.prepared,
            &linker,
            Framed { title: &title, place: Place::Elsewhere, template: "live/revisions.html", view, scripts: &[] },
        ))
    }

    /// What keys do.
    ///
    /// # Errors
    /// If a template is at fault.
    pub fn keys(&self) -> Result<String, ReportError> {
        let linker = self.prepared.linker("keys");
        let view = context! { title => "Keys" };
        framed(
            &self.prepared,
            &linker,
            Framed { title: "Keys", place: Place::Keys, template: "live/keys.html", view, scripts: &[] },
        )
    }
}
