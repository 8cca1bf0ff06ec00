//! The project as pages that lead to each other: a folder of files, or what a local page answers.
//!
//! In: what a packet is made from, an event, a scheme of addresses. Out: a [`Set`] of pages, each made when it is asked for. The
//! parts of a page are those of the packet (`report::packet`), laid out by the templates under `templates/packet` and
//! `templates/pages`; nothing runs but the search, and nothing is loaded from anywhere else.
//!
//! What takes long is worked out once, in [`Prepared`], which holds no borrow: whoever answers for a project for a while keeps
//! it beside the project, and puts a [`Set`] together for each page for nothing.

mod address;
mod engine;
mod front;
mod lists;
pub mod live;
mod more;
mod named;
mod prepared;
mod rows;
mod search;
mod thing;
mod what_if;

#[cfg(test)]
mod tests;

use std::sync::Arc;

use self::address::{Asset, Leaf, Thing};
use super::ReportError;
use super::packet::{Claims, Made, Scheme, draft, sentence};
use crate::model::Ref;

pub use self::address::{CLAIMS, Homes};
pub use self::more::{Compared, Point};
pub use self::prepared::{Ahead, Prepared};
pub use self::what_if::{Asked, WhatIf};

/// What a page is, as HTTP calls it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Media {
    /// A page.
    Html,
    /// A style.
    Css,
    /// A script.
    Script,
    /// Data.
    Json,
}

impl Media {
    /// The name of the type.
    pub fn name(self) -> &'static str {
        match self {
            Media::Html => "text/html; charset=utf-8",
            Media::Css => "text/css; charset=utf-8",
            Media::Script => "text/javascript; charset=utf-8",
            Media::Json => "application/json",
        }
    }
}

/// One page, or one of the few files that pages load.
#[derive(Clone, Debug)]
pub struct Page {
    /// Where it stands: below the folder, or behind the first `/`.
    pub address: String,
    /// What it is about.
    pub title: String,
    /// What it is.
    pub media: Media,
    /// The whole of it.
    pub text: String,
}

/// All pages of a project.
#[derive(Clone)]
pub struct Set<'a> {
    from: Made<'a>,
    prepared: Arc<Prepared>,
    what_if: Option<Arc<WhatIf>>,
}

impl<'a> Set<'a> {
    /// The pages about an event, by position.
    ///
    /// # Errors
    /// If a template is at fault.
    pub fn of(from: Made<'a>, event: usize, scheme: Scheme) -> Result<Set<'a>, ReportError> {
        let homes = Arc::new(Homes::of(from.analysis, scheme));
        let set = Set::with(from, Arc::new(Prepared::of(from, event, homes)?));
        set.share();
        Ok(set)
    }

    /// Works out what pages share and what is itself spread over threads, before pages are made beside each other: a thread that
    /// began it for a page and waits for its share of the work is handed another page meanwhile, which would wait for that thread.
    fn share(&self) {
        self.prepared.everyone(self.from.analysis);
        self.manifest();
    }

    /// The same from what was worked out before, from the same project.
    pub fn with(from: Made<'a>, prepared: Arc<Prepared>) -> Set<'a> {
        Set { from, prepared, what_if: None }
    }

    /// The same, where the page of a record shows what other values would come to.
    pub fn supposing(self, what_if: Option<WhatIf>) -> Set<'a> {
        Set { what_if: what_if.map(Arc::new), ..self }
    }

    /// The position of the record that has its page at an address.
    pub fn record_at(&self, address: &str) -> Option<usize> {
        match self.thing_at(address)? {
            Thing::Of(Ref::Record(at)) => Some(*at),
            _ => None,
        }
    }

    /// The id of the requirement that has its page at an address.
    pub fn requirement_at(&self, address: &str) -> Option<&'a str> {
        match self.thing_at(address)? {
            Thing::Of(Ref::Requirement(at)) => Some(self.from.analysis.model.requirements[*at].head.id.as_str()),
            _ => None,
        }
    }

    fn thing_at(&self, address: &str) -> Option<&Thing> {
        match self.prepared.addresses.find(address)? {
            Leaf::Thing(at) => self.prepared.homes.things.get(at),
            _ => None,
        }
    }

    /// The address of every page, in their order; each is there once, whatever case means.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.prepared.addresses.all()
    }

    /// The address of the page about what has this id or name; none if nothing has.
    pub fn address_of(&self, name: &str) -> Option<&str> {
        self.prepared.homes.places.names.get(name).map(String::as_str)
    }

    /// The verdict in a sentence.
    pub fn verdict(&self) -> String {
        sentence(&self.prepared.before)
    }

    /// Why the pages are a draft, if they are.
    pub fn draft(&self) -> Option<String> {
        draft(&self.prepared.before)
    }

    /// The page at an address, made now; none if there is none.
    pub fn page(&self, address: &str) -> Option<Result<Page, ReportError>> {
        let leaf = self.prepared.addresses.find(address)?;
        let made = self.make(address, leaf);
        Some(made.map(|(title, media, text)| Page { address: address.to_string(), title, media, text }))
    }

    /// What the pages are made from; what each of them holds, the list beside them says.
    fn claims(&self) -> Result<String, ReportError> {
        let Made { dated, past, .. } = self.from;
        let claims = Claims::of(&self.prepared.before, dated, &past.since, self.manifest());
        Ok(format!("{}\n", claims.line()?))
    }

    fn make(&self, address: &str, leaf: Leaf) -> Result<(String, Media, String), ReportError> {
        let html = |made: (String, String)| (made.0, Media::Html, made.1);
        match leaf {
            Leaf::Front(at) => self.front(address, at).map(html),
            Leaf::Matrix(at) => self.matrix(address, at).map(html),
            Leaf::All => self.all(address).map(html),
            Leaf::Sort(sort, at) => self.sort(address, sort, at).map(html),
            Leaf::Thing(at) => self.thing(address, at).map(html),
            Leaf::Settings => self.settings(address).map(html),
            Leaf::Changes => self.changes(address).map(html),
            Leaf::Files(at) => self.files(address, at).map(html),
            Leaf::Search => self.search(address, None).map(html),
            Leaf::Asset(Asset::Style) => Ok(("style".into(), Media::Css, engine::style(&self.prepared)?)),
            Leaf::Asset(Asset::Script) => Ok(("search".into(), Media::Script, search::SCRIPT.into())),
            Leaf::Asset(Asset::Claims) => Ok(("what this was made from".into(), Media::Json, self.claims()?)),
            Leaf::Asset(Asset::Words) => Ok(("words".into(), Media::Script, self.words())),
        }
    }
}

/// Whether a file that starts with these bytes is one of these pages.
pub fn is_page(start: &[u8]) -> bool {
    String::from_utf8_lossy(&start[..start.len().min(2000)]).contains(engine::GENERATOR)
}

/// The page to begin with, in a folder.
pub const FIRST: &str = "index.html";
