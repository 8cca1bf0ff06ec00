//! Templates filled, and the frame put round them.

use std::sync::OnceLock;

use minijinja::Environment;
use minijinja::context;
use minijinja::value::{Serde, Value};
use serde::Serialize;

use super::address::STYLE as STYLE_FILE;
use super::prepared::Prepared;
use crate::report::ReportError;
use crate::report::packet::links::{FRONT, Linker};
use crate::report::packet::page::{self, PARTS, breakable, visible, wrong};
use crate::report::packet::{Scheme, draft, running, short};

/// The templates of pages beside the packet's parts. Only what names end in `.html` is escaped.
const TEMPLATES: &[(&str, &str)] = &[
    ("pages/frame.html", include_str!("../../../templates/pages/frame.html")),
    ("pages/front.html", include_str!("../../../templates/pages/front.html")),
    ("pages/matrix.html", include_str!("../../../templates/pages/matrix.html")),
    ("pages/all.html", include_str!("../../../templates/pages/all.html")),
    ("pages/thing.html", include_str!("../../../templates/pages/thing.html")),
    ("pages/rows.html", include_str!("../../../templates/pages/rows.html")),
    ("pages/steps.html", include_str!("../../../templates/pages/steps.html")),
    ("pages/serial.html", include_str!("../../../templates/pages/serial.html")),
    ("pages/instrument.html", include_str!("../../../templates/pages/instrument.html")),
    ("pages/leaves.html", include_str!("../../../templates/pages/leaves.html")),
    ("pages/settings.html", include_str!("../../../templates/pages/settings.html")),
    ("pages/changes.html", include_str!("../../../templates/pages/changes.html")),
    ("pages/files.html", include_str!("../../../templates/pages/files.html")),
    ("live/head.html", include_str!("../../../templates/live/head.html")),
    ("live/plain.html", include_str!("../../../templates/live/plain.html")),
    ("live/events.html", include_str!("../../../templates/live/events.html")),
    ("live/rows.html", include_str!("../../../templates/live/rows.html")),
    ("live/between.html", include_str!("../../../templates/live/between.html")),
    ("live/revisions.html", include_str!("../../../templates/live/revisions.html")),
    ("live/keys.html", include_str!("../../../templates/live/keys.html")),
    ("live/what_if.html", include_str!("../../../templates/live/what_if.html")),
    ("live/failed.html", include_str!("../../../templates/live/failed.html")),
    ("pages/search.html", include_str!("../../../templates/pages/search.html")),
];

/// The style of pages: the packet's, and what only pages have.
const STYLE: &str = include_str!("../../../templates/pages/pages.css");

/// What every page has near its start.
pub(super) const GENERATOR: &str = "<meta name=\"generator\" content=\"slipmark pages";

/// An engine that knows every template, made once: reading them all takes longer than most pages do.
///
/// # Errors
/// If a template is at fault.
pub(super) fn environment() -> Result<&'static Environment<'static>, ReportError> {
    static ENGINE: OnceLock<Environment<'static>> = OnceLock::new();
    match ENGINE.get() {
        Some(engine) => Ok(engine),
        None => Ok(ENGINE.get_or_init({
            let engine = engine()?;
            || engine
        })),
    }
}

fn engine() -> Result<Environment<'static>, ReportError> {
    let mut environment = page::environment()?;
    environment.add_filter("encoded", crate::text::encoded);
    for (name, text) in PARTS.iter().chain(TEMPLATES) {
        environment.add_template(name, text).map_err(|error| wrong(&error))?;
    }
    Ok(environment)
}

/// The one style of all pages.
pub(super) fn style(prepared: &Prepared) -> String {
    // The words for the foot of printed pages are spelt out, so that they cannot end their string.
    let packet = page::STYLE.replace("\"RUNNING\"", &page::css_string(&running(&prepared.before)));
    format!("{packet}{STYLE}")
}

/// What may run and be loaded, which is nothing but the style; where something is searched, the search and its words.
fn policy(scheme: Scheme, searches: bool) -> &'static str {
    match (scheme, searches) {
        (Scheme::Live, _) => {
            "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; img-src 'self' data:; base-uri 'none'; form-action 'self'"
        }
        (_, true) => {
            "default-src 'none'; style-src 'self'; script-src 'self'; img-src data:; base-uri 'none'; form-action 'self'"
        }
        (_, false) => "default-src 'none'; style-src 'self'; img-src data:; base-uri 'none'; form-action 'none'",
    }
}

/// A page's place in the line of links at its top.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Place {
    Open,
    Matrix,
    All,
    Changes,
    Search,
    /// Of live pages only.
    Rows,
    Between,
    Keys,
    /// Somewhere below all of them.
    Elsewhere,
}

/// The line of links at the top: words, key, place, and the letter that leads there on live pages.
const NAV: &[(&str, &str, Place, &str)] = &[
    ("Open", FRONT, Place::Open, "o"),
    ("Matrix", "matrix", Place::Matrix, "m"),
    ("All", "all", Place::All, ""),
    ("Changes", "changes", Place::Changes, ""),
    ("Search", "search", Place::Search, "/"),
];

/// What live pages have beside that.
const LIVE: &[(&str, &str, Place, &str)] = &[
    ("Rows", "rows", Place::Rows, "r"),
    ("Compare", "between", Place::Between, "c"),
    ("Keys", "keys", Place::Keys, "?"),
];

/// A link of that line.
#[derive(Debug, Serialize)]
struct Nav {
    words: &'static str,
    href: String,
    here: bool,
    letter: &'static str,
}

/// What stands in a frame.
pub(super) struct Framed<'a> {
    /// What the page is about.
    pub(super) title: &'a str,
    pub(super) place: Place,
    /// The template of its main part.
    pub(super) template: &'a str,
    /// What that takes.
    pub(super) view: Value,
    /// Scripts that it loads.
    pub(super) scripts: &'a [&'a str],
}

/// Fills the template of a page and puts the frame round it.
///
/// # Errors
/// If a template is at fault.
pub(super) fn framed(prepared: &Prepared, linker: &Linker, own: Framed<'_>) -> Result<String, ReportError> {
    let fill = |name: &str, view: Value| -> Result<String, ReportError> {
        let template = prepared.environment.get_template(name).map_err(|error| wrong(&error))?;
        template.render(view).map_err(|error| wrong(&error))
    };
    let main = fill(
        own.template,
        context! { places => Serde(&linker.sections()), defer => crate::report::cautions::DEFER, ..own.view },
    )?;
    let more = if prepared.scheme == Scheme::Live { LIVE } else { &[] };
    let nav = NAV.iter().chain(more).map(|(words, key, place, letter)| {
        let letter = if more.is_empty() { "" } else { letter };
        Nav { words, href: linker.page(key), here: *place == own.place, letter }
    });
    let nav: Vec<Nav> = nav.collect();
    let before = &prepared.before;
    let scripts: Vec<String> = own.scripts.iter().map(|name| linker.way(name)).collect();
    let frame = context! {
        title => own.title,
        policy => policy(prepared.scheme, !scripts.is_empty()),
        style => linker.way(STYLE_FILE),
        scripts,
        nav => Serde(&nav),
        front => linker.page(FRONT),
        files => linker.page("files"),
        project => &before.heading.project,
        event => &before.event,
        commit => before.heading.commit.as_ref().map(|commit| short(commit)),
        today => &before.heading.today,
        version => before.heading.slipmark,
        draft => draft(before),
        defer => crate::report::cautions::DEFER,
        live => prepared.scheme == Scheme::Live,
        marks => main.contains("href=\"#m-"),
        main => Value::from_safe_string(main),
    };
    Ok(breakable(&visible(&fill("pages/frame.html", frame)?)))
}
