//! Templates filled, and the frame put round them.

use std::sync::{Arc, OnceLock};

use minijinja::Environment;
use minijinja::context;
use minijinja::value::{Serde, Value};
use serde::Serialize;

use super::address::STYLE as STYLE_FILE;
use super::live::SEEN;
use super::prepared::Prepared;
use crate::report::ReportError;
use crate::report::cautions::DEFER;
use crate::report::finished::{self, Finished, Must};
use crate::report::packet::links::{FRONT, Linker};
use crate::report::packet::page::{self, breakable, visible};
use crate::report::packet::{Scheme, draft, running, sentence, short};
use crate::report::view::BeforeView;
use crate::templates::{Templates, ours};

/// The style that pages have beside the packet's.
const STYLE: &str = "pages/pages.css";

/// What every page has near its start.
pub(super) const GENERATOR: &str = "<meta name=\"generator\" content=\"slipmark pages";

/// What pages are made of: every template of theirs, and their styles.
fn roots() -> Vec<&'static str> {
    let of_pages = |name: &&'static str| name.starts_with("pages/") || name.starts_with("live/");
    ours().iter().map(|own| own.name).filter(of_pages).chain([page::STYLE]).collect()
}

/// An engine that knows every template of pages. That of the program's own is made once: reading them all takes longer than most pages do.
///
/// # Errors
/// If one of the project's own cannot be used.
pub(super) fn environment(templates: &Templates) -> Result<Arc<Environment<'static>>, ReportError> {
    static OURS: OnceLock<Arc<Environment<'static>>> = OnceLock::new();
    let roots = roots();
    let are_ours = templates.own_of(&roots).is_empty();
    if let Some(engine) = OURS.get().filter(|_| are_ours) {
        return Ok(Arc::clone(engine));
    }
    let engine = Arc::new(page::environment(templates, &roots)?);
    Ok(if are_ours { Arc::clone(OURS.get_or_init(|| engine)) } else { engine })
}

/// The one style of all pages.
///
/// # Errors
/// If the project's own cannot be used.
pub(super) fn style(prepared: &Prepared) -> Result<String, ReportError> {
    let templates = &prepared.templates;
    // The words for the foot of printed pages are spelt out, so that they cannot end their string.
    let packet = templates.style(page::STYLE)?.replace("\"RUNNING\"", &page::css_string(&running(&prepared.before)));
    Ok(format!("{}{packet}{}", finished::guard(templates, &roots()), templates.style(STYLE)?))
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
    framed_saying(prepared, linker, own, Vec::new)
}

/// The same for a page that must say more than what every page says, whatever templates it is set with.
///
/// # Errors
/// If a template is at fault, or the page does not say it.
pub(super) fn framed_saying(
    prepared: &Prepared,
    linker: &Linker,
    own: Framed<'_>,
    more: impl FnOnce() -> Vec<Must>,
) -> Result<String, ReportError> {
    let templates = &prepared.templates;
    let fill = |name: &str, view: Value| -> Result<String, ReportError> {
        let template = prepared.environment.get_template(name).map_err(|error| templates.located(&error))?;
        Ok(template.render(view).map_err(|error| templates.located(&error))?)
    };
    let main = fill(own.template, context! { places => Serde(&linker.sections()), defer => DEFER, ..own.view })?;
    let live = if prepared.homes.scheme == Scheme::Live { LIVE } else { &[] };
    let nav = NAV.iter().chain(live).map(|(words, key, place, letter)| {
        let letter = if live.is_empty() { "" } else { letter };
        Nav { words, href: linker.page(key), here: *place == own.place, letter }
    });
    let nav: Vec<Nav> = nav.collect();
    let before = &prepared.before;
    let scripts: Vec<String> = own.scripts.iter().map(|name| linker.way(name)).collect();
    let policy = policy(prepared.homes.scheme, !scripts.is_empty());
    let frame = context! {
        title => own.title,
        policy => Value::from_safe_string(policy.into()),
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
        defer => DEFER,
        live => prepared.homes.scheme == Scheme::Live,
        marks => main.contains("href=\"#m-"),
        main => Value::from_safe_string(main),
    };
    looked_at(prepared, fill("pages/frame.html", frame)?, policy, more)
}

/// Looks at a finished page once more, whatever templates set it.
fn looked_at(
    prepared: &Prepared,
    page: String,
    policy: &str,
    more: impl FnOnce() -> Vec<Must>,
) -> Result<String, ReportError> {
    let before = &prepared.before;
    let words = format!("{} {DEFER}", sentence(before));
    let set = Finished { templates: &prepared.templates, roots: &roots(), policy, words: &words };
    let page = set.look(page, || [must(before), more()].concat())?;
    if prepared.homes.scheme == Scheme::Live && !page.contains(SEEN) {
        let message = "a live page includes \"live/head.html\" in its head, by which it follows the files";
        return Err(set.fault(message, "</head>"));
    }
    Ok(breakable(&visible(&page)))
}

/// What every page must say.
fn must(before: &BeforeView) -> Vec<Must> {
    [Some(DEFER.to_string()), draft(before)].into_iter().flatten().map(Must::Say).collect()
}
